"""The set from above as a drawing in metres: outlines and labels, for a screen or a sheet.

What stands and stays is drawn plain. What changes is drawn twice: as it stands (``from``) and as
it is wanted (``to``), with an arrow where it moves.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from itertools import chain
from typing import Any, Final, Literal, NamedTuple

from runbook.changeover.floor import EMPTY, Floor, floor_of
from runbook.drawing.floor_shapes import (
    FloorPoint,
    Ghost,
    Outline,
    arrow,
    background_outlines,
    camera_outlines,
    head_outlines,
    head_shape,
    lens_place,
    panel_outlines,
    stand_base,
    stand_column,
    stand_outlines,
    subject_outlines,
)
from runbook.model.day import Plan
from runbook.model.kit import Kit
from runbook.model.setup import Light, Setup
from runbook.model.units import Units, length

# Beams, picture and legs may run out of the drawing; everything else must be in it.
_LOOSE: Final = frozenset({"beam", "picture", "stand", "cloth"})
# who gets a place first when labels crowd
_FIRST: Final[dict[Kind, int]] = {"head": 0, "panel": 1, "camera": 2, "stand": 3, "background": 4, "subject": 5}


class Label(NamedTuple):
    """A name at a point: what is written there, the shortest form that will do, and its rank
    (0 gets its place first)."""

    text: str
    short: str
    at: FloorPoint
    rank: int
    ghost: Ghost = ""


class Extent(NamedTuple):
    """The part of the floor that a drawing must show, in metres."""

    left: float
    far: float
    right: float
    near: float

    @property
    def wide_m(self) -> float:
        return self.right - self.left

    @property
    def deep_m(self) -> float:
        return self.near - self.far


class FloorPlan(NamedTuple):
    """A floor to draw; ``moves`` says what becomes of each thing on it."""

    outlines: tuple[Outline, ...]
    labels: tuple[Label, ...]
    extent: Extent
    moves: tuple[Move, ...]

    @property
    def said(self) -> str:
        """What moves, comes and goes; empty when nothing does."""
        return moves_text(self.moves)


def floor_plan(plan: Plan, setup: Setup | None, now: Floor | None = None) -> FloorPlan:
    """A setup's floor, and with ``now`` how it comes about from what stands.

    ``setup`` None is the empty floor of the wrap. Raises ValueError when a place is not real.
    """
    goal = floor_of(setup, plan.kit) if setup is not None else EMPTY
    return floor_plan_between(plan.kit, goal if now is None else now, goal)


def floor_plan_between(kit: Kit, now: Floor, goal: Floor) -> FloorPlan:
    """What stands, and what becomes of it on the way to another floor."""
    found = floor_moves(now, goal)
    outlines: list[Outline] = []
    labels: list[Label] = []
    for move in found:
        outlines += _lines(kit, now, goal, move)
        for floor, ghost in _labelled(move.how, now, goal):
            labels += _labels(kit, floor, move, ghost)
    return FloorPlan(tuple(outlines), tuple(labels), _extent(outlines), found)


def _lines(kit: Kit, now: Floor, goal: Floor, move: Move) -> Iterator[Outline]:
    """A thing's outlines: plain where both floors have them, else as ghosts."""
    before = () if move.how in ("comes", "stays") else tuple(_outlines(kit, now, move))
    after = () if move.how == "goes" else tuple(_outlines(kit, goal, move))
    stays = move.how in ("stays", "up", "down")
    yield from (line._replace(ghost="from") for line in before if _leaves(line, move, after))
    yield from (line if stays or line in before else line._replace(ghost="to") for line in after)
    if move.how == "moves" and not move.with_head:
        yield from arrow(_middle(kit, now, move), _middle(kit, goal, move))


def _leaves(line: Outline, move: Move, after: tuple[Outline, ...]) -> bool:
    """Whether a line is drawn as what stands and leaves: without light, which is drawn where it
    will shine, and of a subject who turns only the arrow."""
    hidden = {"beam", "picture", "cloth", *(("subject",) if move.how == "turns" else ())}
    return move.how not in ("up", "down") and line not in after and line.role not in hidden


def _labelled(how: How, now: Floor, goal: Floor) -> tuple[tuple[Floor, Ghost], ...]:
    """As which of the two floors a thing is named, and as what."""
    match how:
        case "goes":
            return ((now, "from"),)
        case "moves":
            return ((now, "from"), (goal, "to"))
        case "comes" | "turns" | "changes":
            return ((goal, "to"),)
    return ((goal, ""),)


def _outlines(kit: Kit, floor: Floor, move: Move) -> Iterator[Outline]:
    match move.kind:
        case "head":
            return head_outlines(floor, kit, move.item)
        case "stand":
            return stand_outlines(floor, kit, move.item)
        case "panel":
            return panel_outlines(floor, kit, move.item)
        case "camera":
            return camera_outlines(floor, kit)
        case "subject":
            return subject_outlines(floor)
    return background_outlines(floor, kit)


def _middle(kit: Kit, floor: Floor, move: Move) -> FloorPoint:
    """The point that names a thing and where its arrow begins or ends."""
    match move.kind:
        case "head":
            return stand_column(floor, kit, str(floor.heads[move.item].stand))
        case "stand":
            return stand_base(floor, kit, move.item)
        case "panel":
            spot = floor.panels[move.item]
            return FloorPoint(spot.x, spot.y)
        case "camera":
            lens = lens_place(floor) or FloorPoint(0.0, 0.0)
            return FloorPoint(lens.x, lens.y + 0.2)
        case "background":
            behind = floor.subject.background_m if floor.subject else None
            return FloorPoint(0.0, -(behind or 0.0))
    return FloorPoint(0.0, 0.0)


def _labels(kit: Kit, floor: Floor, move: Move, ghost: Ghost) -> Iterator[Label]:
    """What a thing is called on the drawing; what changes says how."""
    name = move.item
    match move.kind:
        case "subject":
            return
        case "stand":
            # its head names the spot, but a boom's base stands elsewhere
            if floor.head_on(name) is not None and not kit.stand[name].is_boom:
                return
        case "camera":
            name = f"{kit.lens[floor.lens].focal_mm:g} mm" if floor.lens else "camera"
    text = name
    if move.kind == "head" and ghost != "from":
        power = floor.heads[name].power
        text = name if power is None else f"{name} {power}"
    elif move.kind == "camera" and ghost == "from":
        text = "camera"
    word = "" if move.with_head else _word(move.how, ghost)
    short = name
    if word:
        text, short = f"{text} {word}", f"{name} {word}"
    yield Label(text, short, _middle(kit, floor, move), _FIRST[move.kind], ghost)
    if move.kind == "head" and ghost != "from":
        yield from _cloth_labels(kit, floor, move.item)


def _word(how: How, ghost: Ghost) -> str:
    """What a label says of its thing's change; where it moves to, the arrow says it."""
    return "" if how == "stays" or (how, ghost) == ("moves", "to") else how


def _cloth_labels(kit: Kit, floor: Floor, head: str) -> Iterator[Label]:
    """Each cloth's name once, at the first of the beams it hangs in."""
    for cloth, beams in floor.cloths.items():
        if head == min(beams):
            lines = head_outlines(floor, kit, head)
            hung = next((line.points for line in lines if line.role == "cloth"), None)
            if hung is not None:
                yield Label(cloth, cloth, hung[0], 3)


def _extent(outlines: Iterable[Outline]) -> Extent:
    """What must be seen: every thing, and a square of two metres round the face at the least."""
    tight = [line.points for line in outlines if line.role not in _LOOSE]
    points = [FloorPoint(-1.0, -1.0), FloorPoint(1.0, 1.0), *chain.from_iterable(tight)]
    xs, ys = [point.x for point in points], [point.y for point in points]
    return Extent(min(xs), min(ys), max(xs), max(ys))


Kind = Literal["head", "stand", "panel", "camera", "subject", "background"]
How = Literal["stays", "comes", "goes", "moves", "turns", "up", "down", "changes"]

# how it is said of one thing and of several
_SAID: Final[dict[How, tuple[str, str]]] = {
    "moves": ("moves", "move"),
    "turns": ("turns", "turn"),
    "comes": ("comes", "come"),
    "goes": ("goes", "go"),
    "up": ("up", "up"),
    "down": ("down", "down"),
    "changes": ("changes", "change"),
}


class FloorThing(NamedTuple):
    """A thing on the floor as one of the two floors has it: what may be different about it."""

    at: tuple[float, float]
    bearing: int | None
    height_m: float
    fitted: Any = None


class Move(NamedTuple):
    """A thing, and what becomes of it; ``with_head`` tells of a stand that only goes along."""

    kind: Kind
    item: str
    how: How
    with_head: bool = False


def _head(floor: Floor, head: str) -> FloorThing | None:
    shape = head_shape(floor, head)
    if shape is None or shape.at.stand is None:
        return None
    bearing = shape.at.aim.bearing_deg if shape.at.aim else None
    cloths = frozenset(name for name, beams in floor.cloths.items() if head in beams)
    height = floor.stands[shape.at.stand].height_m
    fitted = (shape.modifier, frozenset(shape.accessories), cloths)
    return FloorThing(shape.front, bearing, height, fitted)


def floor_things(floor: Floor) -> dict[tuple[Kind, str], FloorThing]:
    """Everything that can be seen from above, by kind and name."""
    found: dict[tuple[Kind, str], FloorThing] = {}
    for stand, stands_at in floor.stands.items():
        found["stand", stand] = FloorThing((stands_at.spot.x, stands_at.spot.y), None, 0.0)
    for head in floor.heads:
        there = _head(floor, head)
        if there is not None:
            found["head", head] = there
    for panel, spot in floor.panels.items():
        found["panel", panel] = FloorThing((spot.x, spot.y), spot.bearing_deg, spot.height_m)
    if floor.view is not None:
        view = floor.view
        fitted = (floor.lens, view.orientation)
        found["camera", "camera"] = FloorThing((0.0, view.distance_m), None, view.height_m, fitted)
    if floor.subject is not None:
        facing, behind = floor.subject.facing_deg, floor.subject.background_m
        found["subject", "subject"] = FloorThing((0.0, 0.0), facing, floor.subject.face_height_m)
        if behind is not None:
            found["background", "background"] = FloorThing((0.0, behind), None, 0.0)
    return found


def change_of(now: FloorThing | None, goal: FloorThing | None) -> How:
    """What becomes of a thing, the greatest difference first."""
    if now is None or goal is None:
        return "goes" if goal is None else "comes"
    if now.at != goal.at:
        return "moves"
    if now.bearing != goal.bearing:
        return "turns"
    if now.height_m != goal.height_m:
        return "up" if goal.height_m > now.height_m else "down"
    return "stays" if now.fitted == goal.fitted else "changes"


def floor_moves(now: Floor, goal: Floor) -> tuple[Move, ...]:
    """Everything on either floor, and what becomes of it."""
    before, after = floor_things(now), floor_things(goal)
    found = {key: change_of(before.get(key), after.get(key)) for key in {**after, **before}}

    def along(kind: Kind, item: str, becomes: How) -> bool:
        floor = now if becomes == "goes" else goal
        head = floor.head_on(item) if kind == "stand" else None
        return head is not None and found.get(("head", head)) == becomes

    return tuple(Move(kind, item, becomes, along(kind, item, becomes)) for (kind, item), becomes in found.items())


def moves_text(found: Iterable[Move]) -> str:
    """``S3 moves, D comes, flat-1 goes``; a stand that only goes along with its head is not said.

    Empty when everything stays.
    """
    found = tuple(found)
    kinds = {move.how for move in found}
    for whole in ("comes", "goes"):
        if kinds == {whole}:
            return f"everything {whole}"
    said = []
    for becomes, (one, several) in _SAID.items():
        names = [move.item for move in found if move.how == becomes and not move.with_head]
        if names:
            said.append(f"{_listed(names)} {one if len(names) == 1 else several}")
    return ", ".join(said)


def _listed(names: list[str]) -> str:
    *most, last = names
    return f"{', '.join(most)} and {last}" if most else last


class HeadRow(NamedTuple):
    """A head as a crew reads it: power, place, height, stand, and what it wears and looks at."""

    head: str
    power: str
    role: str
    side: str
    angle: str
    distance: str
    height: str
    stand: str
    fitted: str


class FloorRows(NamedTuple):
    """A floor's heads, its panels by name and place, and the camera's place and settings."""

    heads: tuple[HeadRow, ...]
    panels: tuple[tuple[str, str], ...]
    camera_place: str
    camera_set: str


def floor_rows(plan: Plan, setup: Setup) -> FloorRows:
    """Everything a setup puts on the floor."""
    units, view, shot = plan.day.units, setup.view, setup.exposure
    lens = plan.kit.lens[view.lens]
    away, high = length(view.distance_m, units), length(view.height_m, units)
    return FloorRows(
        tuple(_head_row(setup, light, units) for light in setup.lights),
        tuple(
            (place.panel, f"{place.side} {place.angle_deg:g}°, {length(place.distance_m, units)}")
            for place in setup.panels
        ),
        f"{lens.focal_mm:g} mm, {away}, {high} up",
        f"f/{shot.f:g}, {shot.shutter}, ISO {shot.iso:g}, {view.orientation}",
    )


def _head_row(setup: Setup, light: Light, units: Units) -> HeadRow:
    fitted = " + ".join((light.modifier, *light.accessories, *light.through))
    if light.aim in setup.panel:
        fitted += f", at {light.aim}"
    elif light.aim != "face":
        fitted += f", at the {light.aim}"
    return HeadRow(
        light.head,
        str(light.power),
        light.role,
        light.side,
        f"{light.angle_deg:g}°",
        length(light.distance_m, units),
        length(light.height_m, units),
        light.stand,
        fitted,
    )
