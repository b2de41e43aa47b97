"""The set from above as a drawing in metres: outlines and labels, for a screen or a sheet.

What stands and stays is drawn plain. What changes is drawn twice: as it stands (``from``) and as
it is wanted (``to``), with an arrow where it moves.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from itertools import chain
from typing import Final, NamedTuple

from runbook.changeover.floor import EMPTY, Floor, floor_of
from runbook.drawing.floormoves import How, Kind, Move, moves, moves_said
from runbook.drawing.floorshapes import (
    Ghost,
    Outline,
    Place,
    arrow,
    background_outlines,
    base,
    camera_outlines,
    column,
    head_outlines,
    lens_place,
    panel_outlines,
    stand_outlines,
    subject_outlines,
)
from runbook.model.day import Plan
from runbook.model.kit import Kit
from runbook.model.setup import Setup

# Beams, picture and legs may run out of the drawing; everything else must be in it.
_LOOSE: Final = frozenset({"beam", "picture", "stand", "cloth"})
# who gets a place first when labels crowd
_FIRST: Final[dict[Kind, int]] = {"head": 0, "panel": 1, "camera": 2, "stand": 3, "background": 4, "subject": 5}


class Label(NamedTuple):
    """A name at a point: what is written there, the shortest form that will do, and its rank
    (0 gets its place first)."""

    text: str
    short: str
    at: Place
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
        return moves_said(self.moves)


def floor_plan(plan: Plan, setup: Setup | None, now: Floor | None = None) -> FloorPlan:
    """A setup's floor, and with ``now`` how it comes about from what stands.

    ``setup`` None is the empty floor of the wrap. Raises ValueError when a place is not real.
    """
    goal = floor_of(setup, plan.kit) if setup is not None else EMPTY
    return plan_between(plan.kit, goal if now is None else now, goal)


def plan_between(kit: Kit, now: Floor, goal: Floor) -> FloorPlan:
    """What stands, and what becomes of it on the way to another floor."""
    found = moves(now, goal)
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


def _middle(kit: Kit, floor: Floor, move: Move) -> Place:
    """The point that names a thing and where its arrow begins or ends."""
    match move.kind:
        case "head":
            return column(floor, kit, str(floor.heads[move.item].stand))
        case "stand":
            return base(floor, kit, move.item)
        case "panel":
            spot = floor.panels[move.item]
            return Place(spot.x, spot.y)
        case "camera":
            lens = lens_place(floor) or Place(0.0, 0.0)
            return Place(lens.x, lens.y + 0.2)
        case "background":
            behind = floor.subject.background_m if floor.subject else None
            return Place(0.0, -(behind or 0.0))
    return Place(0.0, 0.0)


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
    points = [Place(-1.0, -1.0), Place(1.0, 1.0), *chain.from_iterable(tight)]
    xs, ys = [point.x for point in points], [point.y for point in points]
    return Extent(min(xs), min(ys), max(xs), max(ys))
