"""The set from above as a drawing in metres, what changes on it, and the same in figures.

What stands and stays is drawn plain. What changes is drawn twice: as it stands (``from``) and as
it is wanted (``to``), with an arrow where it moves.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, replace
from itertools import chain
from typing import Any, Final, Literal

from runbook.changeover.floor import EMPTY, Floor, PanelOn, PanelSpot, feather_text, floor_of
from runbook.drawing import floor_shapes as shapes
from runbook.drawing.floor_shapes import FloorPoint, Ghost, Outline, head_shape
from runbook.drawing.label_layout import Box, Label
from runbook.model.day import Plan
from runbook.model.kit import Kit
from runbook.model.setup import Light, Setup
from runbook.model.units import length

Kind = Literal["head", "stand", "panel", "cloth", "camera", "subject", "background"]
How = Literal["stays", "arrives", "leaves", "moves", "turns", "up", "down", "changes"]

_HOW_IN_ORDER: Final[tuple[How, ...]] = ("moves", "turns", "arrives", "leaves", "up", "down", "changes")
# these may run out of the drawing; everything else must be in it
_LOOSE: Final = frozenset({"beam", "picture", "stand", "cloth"})


@dataclass(frozen=True, slots=True)
class _Kind:
    """What a kind of thing looks like, the point that names it, and which labels are placed first."""

    outlines: Callable[[Floor, Kit, str], Iterator[Outline]]
    anchor: Callable[[Floor, Kit, str], FloorPoint]
    rank: int


_KINDS: Final[dict[Kind, _Kind]] = {
    "head": _Kind(
        shapes.head_outlines, lambda floor, kit, head: shapes.stand_column(floor, kit, str(floor.heads[head].stand)), 0
    ),
    "stand": _Kind(shapes.stand_outlines, shapes.stand_base, 3),
    "panel": _Kind(shapes.panel_outlines, lambda floor, _, panel: shapes.panel_place(floor, panel), 1),
    "cloth": _Kind(
        shapes.cloth_outlines, lambda floor, _, cloth: FloorPoint(floor.hung[cloth].x, floor.hung[cloth].y), 2
    ),
    "camera": _Kind(shapes.camera_outlines, lambda floor, *_: shapes.camera_place(floor), 2),
    "subject": _Kind(shapes.subject_outlines, lambda *_: shapes.FACE, 5),
    "background": _Kind(shapes.background_outlines, lambda floor, *_: shapes.background_place(floor), 4),
}


# -- what changes --------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Move:
    """A thing and what becomes of it; ``with_load`` marks a stand that only follows what it carries."""

    kind: Kind
    item: str
    how: How
    with_load: bool = False


@dataclass(frozen=True, slots=True)
class _Thing:
    """What may differ about a thing between two floors."""

    at: tuple[float, float]
    bearing: int | None
    height_m: float
    fitted: Any = None


def _things(floor: Floor) -> dict[tuple[Kind, str], _Thing]:
    """Return everything that can be seen from above, by kind and name."""
    things: dict[tuple[Kind, str], _Thing] = {}
    for stand, at in floor.stands.items():
        things["stand", stand] = _Thing((at.spot.x, at.spot.y), None, 0.0)
    for head in floor.heads:
        shape = head_shape(floor, head)
        if shape is not None and shape.at.stand is not None:
            bearing = shape.at.aim.bearing_deg if shape.at.aim else None
            cloths = frozenset(name for name, beams in floor.cloths.items() if head in beams)
            fitted = (shape.modifier, frozenset(shape.accessories), cloths)
            things["head", head] = _Thing(shape.front, bearing, floor.stands[shape.at.stand].height_m, fitted)
    for panel, there in floor.panels.items():
        spot, held = floor.panel_spot(panel), there.stand if isinstance(there, PanelOn) else there.by
        things["panel", panel] = _Thing(
            (spot.x, spot.y), spot.bearing_deg, spot.height_m, (spot.tilt_deg, spot.open_deg, held)
        )
    for cloth, hung in floor.hung.items():
        things["cloth", cloth] = _Thing((hung.x, hung.y), hung.bearing_deg, hung.rail_m, hung.held_by)
    if (view := floor.view) is not None:
        things["camera", "camera"] = _Thing((0.0, view.distance_m), None, view.height_m, (floor.lens, view.orientation))
    if (subject := floor.subject) is not None:
        things["subject", "subject"] = _Thing((0.0, 0.0), subject.facing_deg, subject.face_height_m)
        if subject.background_m is not None:
            things["background", "background"] = _Thing((0.0, subject.background_m), None, 0.0)
    return things


def _change(now: _Thing | None, goal: _Thing | None) -> How:
    """Return what becomes of a thing, the greatest difference first."""
    if now is None or goal is None:
        return "leaves" if goal is None else "arrives"
    if now.at != goal.at:
        return "moves"
    if now.bearing != goal.bearing:
        return "turns"
    if now.height_m != goal.height_m:
        return "up" if goal.height_m > now.height_m else "down"
    return "stays" if now.fitted == goal.fitted else "changes"


def floor_moves(now: Floor, goal: Floor) -> tuple[Move, ...]:
    """Return everything on either floor, and what becomes of it."""
    before, after = _things(now), _things(goal)
    changes = {key: _change(before.get(key), after.get(key)) for key in {**after, **before}}

    def follows_load(kind: Kind, item: str, how: How) -> bool:
        load = (now if how == "leaves" else goal).load_on(item) if kind == "stand" else None
        carried: tuple[Kind, str] | None = ("cloth", load[1]) if load and load[0] == "rail" else load
        return carried is not None and changes.get(carried) == how

    return tuple(Move(kind, item, how, follows_load(kind, item, how)) for (kind, item), how in changes.items())


def moves_text(moves: Iterable[Move]) -> str:
    """``S3 moves, D arrives, flat-1 leaves``, without stands that follow their load; empty for none."""
    moves = tuple(moves)
    kinds = {move.how for move in moves}
    if kinds in ({"arrives"}, {"leaves"}):
        return f"everything {kinds.pop()}"
    parts = []
    for how in _HOW_IN_ORDER:
        names = [move.item for move in moves if move.how == how and not move.with_load]
        if names:
            *most, last = names
            parts.append(f"{', '.join(most)} and {last} {how.removesuffix('s')}" if most else f"{last} {how}")
    return ", ".join(parts)


# -- the drawing ---------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class FloorPlan:
    """A floor to draw, in metres; ``moves`` is what becomes of each thing on it.

    ``extent`` is the part of the floor to show; the tone of a label is the ghost that it names.
    """

    outlines: tuple[Outline, ...]
    labels: tuple[Label, ...]
    extent: Box
    moves: tuple[Move, ...]

    @property
    def moves_text(self) -> str:
        """What moves, arrives and leaves; empty when nothing does."""
        return moves_text(self.moves)


def floor_plan(plan: Plan, setup: Setup | None, now: Floor | None = None) -> FloorPlan:
    """Return a setup's floor, and with ``now`` how it comes about from what stands.

    ``setup`` None is the empty floor of the wrap. Raises ValueError when a place is not real.
    """
    goal = floor_of(setup, plan.kit) if setup is not None else EMPTY
    return floor_plan_between(plan.kit, goal if now is None else now, goal)


def floor_plan_between(kit: Kit, now: Floor, goal: Floor) -> FloorPlan:
    """Return what stands, and what becomes of it on the way to another floor."""
    moves = floor_moves(now, goal)
    outlines = tuple(replace(line, item=move.item) for move in moves for line in _move_outlines(kit, now, goal, move))
    labels = [label for move in moves for label in _move_labels(kit, now, goal, move)]
    # every thing is in the drawing, and at least two metres square round the face
    tight = (line.points for line in outlines if line.role not in _LOOSE)
    points = [FloorPoint(-1.0, -1.0), FloorPoint(1.0, 1.0), *chain.from_iterable(tight)]
    xs, ys = zip(*points, strict=True)
    return FloorPlan(outlines, tuple(labels), Box(min(xs), min(ys), max(xs) - min(xs), max(ys) - min(ys)), moves)


def _move_outlines(kit: Kit, now: Floor, goal: Floor, move: Move) -> Iterator[Outline]:
    """Yield a thing's outlines: plain where both floors have them, else as ghosts."""
    before = () if move.how in ("arrives", "stays") else tuple(_outlines(kit, now, move))
    after = () if move.how == "leaves" else tuple(_outlines(kit, goal, move))
    plain = move.how in ("stays", "up", "down")
    if not plain:
        # light is drawn only where it will shine; of a subject who turns only the arrow changes
        hidden = {"beam", "picture", "cloth", *(("subject",) if move.how == "turns" else ())}
        yield from (replace(line, ghost="from") for line in before if line not in after and line.role not in hidden)
    yield from (line if plain or line in before else replace(line, ghost="to") for line in after)
    if move.how == "moves" and not move.with_load:
        yield from shapes.arrow(_anchor(kit, now, move), _anchor(kit, goal, move))


def _outlines(kit: Kit, floor: Floor, move: Move) -> Iterator[Outline]:
    return _KINDS[move.kind].outlines(floor, kit, move.item)


def _anchor(kit: Kit, floor: Floor, move: Move) -> FloorPoint:
    """Return the point that names a thing, where its arrow starts or ends."""
    return _KINDS[move.kind].anchor(floor, kit, move.item)


def _move_labels(kit: Kit, now: Floor, goal: Floor, move: Move) -> Iterator[Label]:
    """Yield a thing's labels, on the floor it leaves and on the one it is wanted on."""
    if move.how in ("leaves", "moves"):
        yield from _labels(kit, now, move, "from")
    if move.how != "leaves":
        yield from _labels(kit, goal, move, "" if move.how in ("stays", "up", "down") else "to")


def _labels(kit: Kit, floor: Floor, move: Move, ghost: Ghost) -> Iterator[Label]:
    text = short = move.item
    match move.kind:
        case "subject":
            return
        case "stand":
            # its load names the spot, but a boom's base stands elsewhere
            if floor.load_on(move.item) is not None and not kit.stand[move.item].is_boom:
                return
        case "panel" if isinstance(at := floor.panels[move.item], PanelSpot) and at.by:
            text = f"{move.item}, {at.by} holds it"
        case "camera":
            short = f"{kit.lens[floor.lens].focal_mm:g} mm" if floor.lens else "camera"
            text = "camera" if ghost == "from" else short
        case "head" if ghost != "from":
            power = floor.heads[move.item].power
            text = short if power is None else f"{short} {power}"
    # where a thing moves to, the arrow says it
    if not (move.with_load or move.how == "stays" or (move.how, ghost) == ("moves", "to")):
        text, short = f"{text} {move.how}", f"{short} {move.how}"
    yield Label((text, short), *_anchor(kit, floor, move), _KINDS[move.kind].rank, ghost, move.item)
    if move.kind == "head" and ghost != "from":
        yield from _cloth_labels(kit, floor, move.item)


def _cloth_labels(kit: Kit, floor: Floor, head: str) -> Iterator[Label]:
    """Yield each cloth's name once, at the first of the beams it hangs in."""
    for cloth in (name for name, beams in floor.cloths.items() if head == min(beams)):
        points = next((line.points for line in shapes.head_outlines(floor, kit, head) if line.role == "cloth"), None)
        if points is not None:
            yield Label((cloth,), *points[0], _KINDS["stand"].rank, item=cloth)


# -- in words ------------------------------------------------------------------------------------


def camera_place_text(plan: Plan, setup: Setup) -> str:
    """Return ``85 mm, 2.5 m away, 1.5 m up``."""
    view, units = setup.view, plan.day.units
    away, high = length(view.distance_m, units), length(view.height_m, units)
    return f"{plan.kit.lens[view.lens].focal_mm:g} mm, {away} away, {high} up"


def on_head_text(light: Light) -> str:
    """Return what a head shines through: ``octa-90 + grid-octa``."""
    return " + ".join((light.modifier, *light.accessories, *light.through))


def fitted_text(setup: Setup, light: Light) -> str:
    """Return what a head shines through, and where it is aimed, if not at the face."""
    fitted = on_head_text(light)
    if feather := feather_text(light):
        fitted += f", feathered {feather}"
    if light.aim != "face":
        fitted += f", at {'' if light.aim in setup.panel else 'the '}{light.aim}"
    return fitted
