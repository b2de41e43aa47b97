"""What is different between the floor that stands and the floor that is wanted, thing by thing."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any, Final, Literal, NamedTuple

from runbook.changeover.floor import Floor
from runbook.drawing.floorshapes import head_shape

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


class Thing(NamedTuple):
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


def _head(floor: Floor, head: str) -> Thing | None:
    shape = head_shape(floor, head)
    if shape is None or shape.at.stand is None:
        return None
    bearing = shape.at.aim.bearing_deg if shape.at.aim else None
    cloths = frozenset(name for name, beams in floor.cloths.items() if head in beams)
    height = floor.stands[shape.at.stand].height_m
    fitted = (shape.modifier, frozenset(shape.accessories), cloths)
    return Thing(shape.front, bearing, height, fitted)


def things(floor: Floor) -> dict[tuple[Kind, str], Thing]:
    """Everything that can be seen from above, by kind and name."""
    found: dict[tuple[Kind, str], Thing] = {}
    for stand, stands_at in floor.stands.items():
        found["stand", stand] = Thing((stands_at.spot.x, stands_at.spot.y), None, 0.0)
    for head in floor.heads:
        there = _head(floor, head)
        if there is not None:
            found["head", head] = there
    for panel, spot in floor.panels.items():
        found["panel", panel] = Thing((spot.x, spot.y), spot.bearing_deg, spot.height_m)
    if floor.view is not None:
        view = floor.view
        fitted = (floor.lens, view.orientation)
        found["camera", "camera"] = Thing((0.0, view.distance_m), None, view.height_m, fitted)
    if floor.subject is not None:
        facing, behind = floor.subject.facing_deg, floor.subject.background_m
        found["subject", "subject"] = Thing((0.0, 0.0), facing, floor.subject.face_height_m)
        if behind is not None:
            found["background", "background"] = Thing((0.0, behind), None, 0.0)
    return found


def how(now: Thing | None, goal: Thing | None) -> How:
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


def moves(now: Floor, goal: Floor) -> tuple[Move, ...]:
    """Everything on either floor, and what becomes of it."""
    before, after = things(now), things(goal)
    found = {key: how(before.get(key), after.get(key)) for key in {**after, **before}}

    def along(kind: Kind, item: str, becomes: How) -> bool:
        floor = now if becomes == "goes" else goal
        head = floor.head_on(item) if kind == "stand" else None
        return head is not None and found.get(("head", head)) == becomes

    return tuple(Move(kind, item, becomes, along(kind, item, becomes)) for (kind, item), becomes in found.items())


def moves_said(found: Iterable[Move]) -> str:
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
