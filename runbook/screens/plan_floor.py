"""The floor of a setup while it is planned: things are picked, turned, moved, and dragged with the mouse."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from math import dist, hypot
from typing import Any, ClassVar, Final

from textual import events
from textual.binding import BindingType
from textual.geometry import Offset
from textual.message import Message

from runbook.day.placing import farther, feathered, higher, label_of_part, parts_of, put_at, turned
from runbook.drawing.floor_drawing import FloorPlan
from runbook.drawing.label_layout import Box
from runbook.files.errors import Path
from runbook.model.setup import Setup
from runbook.screens.floor import FloorPane
from runbook.screens.keys import key

TURN_DEG: Final = 5.0
STEP_M: Final = 0.1
_NEAR_CELLS: Final = 2.0  # a click further from everything picks nothing
_AHEAD_M: Final = 0.05
_NOT_PICKED: Final = frozenset({"beam", "picture", "stand", "arm", "move"})
_WAYS: Final = {"left": (-1, 0), "right": (1, 0), "up": (0, -1), "down": (0, 1)}


class PlanFloor(FloorPane, can_focus=True):
    """A floor with one thing picked. Held, it is turned and moved with the keys."""

    BINDING_GROUP_TITLE = "The floor"
    BINDINGS: ClassVar[list[BindingType]] = [
        key("left", "way('left')", "turn", "turn what is held 5° round the subject, or pick the next thing that way"),
        key("right", "way('right')", "turn", "turn what is held 5° round the subject, or pick the next thing that way"),
        key("up", "way('up')", "nearer", "move what is held 0.1 m nearer, or pick the next thing that way"),
        key("down", "way('down')", "farther", "move what is held 0.1 m away, or pick the next thing that way"),
        key("pageup", "higher(1)", "raise", "raise it 0.1 m where it stands", shown="pgup"),
        key("pagedown", "higher(-1)", "lower", "lower it 0.1 m where it stands", shown="pgdn"),
        key("f", "feather(1)", "feather", "turn its beam 5° off its aim, to the camera"),
        key("F", "feather(-1)", "feather back", "turn its beam 5° off its aim, to the background"),
        key("space", "hold", "hold", "hold what is picked, to move it; or let it go"),
        key("tab", "next(1)", "next", "pick the next thing"),
        key("shift+tab", "next(-1)", "before", "pick the thing before"),
    ]

    @dataclass
    class Picked(Message):
        """Another thing is picked, or nothing."""

        part: Path | None

    @dataclass
    class Moved(Message):
        """A thing is to be moved: the values it then has, and what that is."""

        values: Mapping[Path, Any]
        what: str

    @dataclass
    class Refused(Message):
        """Why a thing cannot be moved so."""

        why: str

    def __init__(self) -> None:
        super().__init__()
        self.setup: Setup | None = None
        self.part: Path | None = None
        self.held = False
        self._grip: tuple[float, float] | None = None  # from where the mouse took a thing to its place
        self._drag_to: Offset | None = None

    def show_setup(self, setup: Setup | None, drawn: FloorPlan | None) -> None:
        """Show the floor of a setup; while something is held, the part of the floor to be seen only grows."""
        parts = parts_of(setup) if setup is not None else {}
        if self.part not in parts:
            self.part, self.held = None, False
        same = setup is not None and self.setup is not None and setup.id == self.setup.id
        if same and drawn is not None and self.drawn is not None and self.held:
            drawn = replace(drawn, extent=_around(self.drawn.extent, drawn.extent))
        self.setup = setup
        self.show(drawn, self.marks)

    @property
    def marks(self) -> frozenset[str]:
        """Return the label of what is picked."""
        return frozenset() if self.part is None else frozenset({label_of_part(self.part)})

    @property
    def parts(self) -> list[Path]:
        return [*parts_of(self.setup)] if self.setup is not None else []

    # -- picking -----------------------------------------------------------------------------

    def pick(self, part: Path | None, *, hold: bool = False) -> None:
        """Pick a thing, or nothing."""
        changed, self.held = part != self.part, hold and part is not None
        self.part = part
        if self.drawn is not None:
            self.show(self.drawn, self.marks)
        if changed:
            self.post_message(self.Picked(part))

    def action_next(self, by: int) -> None:
        """Pick the next thing, or the one before; what was held before, the next is too."""
        if parts := self.parts:
            at = parts.index(self.part) + by if self.part in parts else 0
            self.pick(parts[at % len(parts)], hold=self.held)

    def action_hold(self) -> None:
        """Hold what is picked, or let it go."""
        if self.part is None:
            self.action_next(1)
        self.pick(self.part, hold=not self.held)
        self.screen.refresh_bindings()

    def on_key(self, event: events.Key) -> None:
        """Pick what has this letter on its label, or the thing of this number, and hold it."""
        labels = {label_of_part(part): part for part in reversed(self.parts)}
        number = int(event.character) - 1 if event.character and event.character in "123456789" else -1
        part = labels.get(event.character or "")
        if part is None and 0 <= number < len(self.parts):
            part = self.parts[number]
        if part is not None:
            event.stop()
            event.prevent_default()
            self.pick(part, hold=True)

    def action_way(self, way: str) -> None:
        """Turn or move what is held; else pick the next thing that way."""
        if self.held and self.part is not None and self.setup is not None:
            x, y = _WAYS[way]
            if x:
                self._move(lambda setup, part: turned(setup, part, x * TURN_DEG))
            else:
                self._move(lambda setup, part: farther(setup, part, y * STEP_M))
        else:
            self._pick_towards(*_WAYS[way])

    def _pick_towards(self, x: int, y: int) -> None:
        places = self._places()
        if self.part not in places:
            self.action_next(1)
            return
        ahead = {}
        for part, place in places.items():
            dx, dy = _less(place, places[self.part])
            if dx * x + dy * y > _AHEAD_M:
                ahead[part] = dx * x + dy * y + 2 * abs(dx * y - dy * x)
        if ahead:
            self.pick(min(ahead, key=ahead.__getitem__))

    def _places(self) -> dict[Path | None, tuple[float, float]]:
        """Return the middle of everything on the floor."""
        return {
            part: (sum(x for x, _ in points) / len(points), sum(y for _, y in points) / len(points))
            for part in self.parts
            if (points := [point for line in self._lines(part) for point in line])
        }

    def _lines(self, part: Path) -> list[tuple[tuple[float, float], ...]]:
        label = label_of_part(part)
        lines = self.drawn.outlines if self.drawn is not None else ()
        return [line.points for line in lines if line.item == label and line.role not in _NOT_PICKED]

    # -- moving ------------------------------------------------------------------------------

    def _move(self, move: Any, what: str = "moved") -> None:
        if self.part is None or self.setup is None:
            self.post_message(self.Refused("pick a thing first: tab, its letter, or a click"))
            return
        try:
            values = move(self.setup, self.part)
        except ValueError as why:
            self.post_message(self.Refused(str(why)))
            return
        self.post_message(self.Moved(values, f"{label_of_part(self.part)} {what}"))

    def action_higher(self, by: int) -> None:
        """Raise or lower what is picked."""
        self._move(lambda setup, part: higher(setup, part, by * STEP_M))

    def action_feather(self, by: int) -> None:
        """Turn the beam of the light that is picked."""
        if self.part is None or self.part[0] != "light":
            self.post_message(self.Refused("only lights can be feathered: pick one"))
        else:
            self._move(lambda setup, part: feathered(setup, str(part[1]), by * TURN_DEG), "feathered")

    # -- the mouse ---------------------------------------------------------------------------

    def _world(self, event: events.MouseEvent) -> tuple[float, float]:
        assert self.canvas is not None
        offset = event.get_content_offset_capture(self)
        return self.canvas.world(offset.x + 0.5, offset.y + 0.5)

    def on_mouse_down(self, event: events.MouseDown) -> None:
        """Take the thing under the mouse."""
        self.focus()
        if self.canvas is None:
            return
        at = self._world(event)
        away = {part: _away(at, self._lines(part)) for part in self.parts}
        near = min(away, key=away.__getitem__, default=None)
        if near is None or away[near] > _NEAR_CELLS / self.canvas.cells_per_m:
            self.pick(None)
            return
        self.pick(near, hold=True)
        places = self._places()
        self._grip = _less(self._spot(near) or places[near], at)
        self.capture_mouse()

    def _spot(self, part: Path) -> tuple[float, float] | None:
        """Return the point of the floor that a part is placed at."""
        assert self.setup is not None
        value = parts_of(self.setup)[part]
        if part[0] in ("light", "place_panel"):
            return (value.point(self.setup.subject.face_height_m).x, value.point(self.setup.subject.face_height_m).y)
        return None

    def on_mouse_move(self, event: events.MouseMove) -> None:
        """Move what the mouse took along with it; of moves that come faster than they are shown the last counts."""
        if self._grip is not None and self.canvas is not None:
            if self._drag_to is None:
                self.call_later(self._drag)
            self._drag_to = event.get_content_offset_capture(self)

    def _drag(self) -> None:
        to, self._drag_to = self._drag_to, None
        if to is not None and self._grip is not None and self.canvas is not None:
            x, y = self.canvas.world(to.x + 0.5, to.y + 0.5)
            spot = (x + self._grip[0], y + self._grip[1])
            self._move(lambda setup, part: put_at(setup, part, *spot))

    def on_mouse_up(self) -> None:
        """Let the mouse go; the keys still hold what it moved."""
        self._drag()
        self._grip = None
        self.release_mouse()


def _around(one: Box, other: Box) -> Box:
    """Return the box around two boxes."""
    left, top = min(one.x, other.x), min(one.y, other.y)
    right, bottom = max(one.x + one.wide, other.x + other.wide), max(one.y + one.high, other.y + other.high)
    return Box(left, top, right - left, bottom - top)


def _less(one: tuple[float, float], other: tuple[float, float]) -> tuple[float, float]:
    return one[0] - other[0], one[1] - other[1]


def _away(at: tuple[float, float], lines: Iterable[tuple[tuple[float, float], ...]]) -> float:
    """Return how far a point is from the nearest of some lines, in m."""
    pairs = [(start, end) for line in lines for start, end in zip(line, line[1:] or line, strict=False)]
    return min((_from_line(at, start, end) for start, end in pairs), default=float("inf"))


def _from_line(at: tuple[float, float], start: tuple[float, float], end: tuple[float, float]) -> float:
    dx, dy = _less(end, start)
    square = hypot(dx, dy) ** 2
    share = 0.0 if not square else ((at[0] - start[0]) * dx + (at[1] - start[1]) * dy) / square
    share = min(max(share, 0.0), 1.0)
    return dist(at, (start[0] + dx * share, start[1] + dy * share))
