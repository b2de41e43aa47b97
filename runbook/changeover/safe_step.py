"""What must not be done on a floor as it really stands, and which stand to hold there.

The steps of a changeover keep every stand safe or held as long as all of them are done. Where one
was skipped, the next are held against the same rules once more, on the floor as it is.
"""

from __future__ import annotations

from typing import Final, NamedTuple

from runbook.changeover.diff import worked_up_to_m
from runbook.changeover.floor import Floor
from runbook.changeover.hands import hands_of, hold_reason, own_stand
from runbook.changeover.stand_sequence import must_be_held, off_balance
from runbook.changeover.steps import CannotBeDone, Step, apply
from runbook.model.day import Place
from runbook.model.kit import Kit
from runbook.model.units import Units, length

_BY_HAND: Final = frozenset({"fit", "free"})


class Ground(NamedTuple):
    """The floor as it stands, the floor that is wanted, and what both are judged with.

    ``not_lowered`` are stands that were to come down and did not, as that step was skipped.
    """

    floor: Floor
    goal: Floor
    kit: Kit
    place: Place
    units: Units = "metric"
    not_lowered: frozenset[str] = frozenset()


def why_not_now(step: Step, ground: Ground) -> str:
    """Why a step must not be done on this floor, and what to do first; empty where it may be."""
    floor, kit = ground.floor, ground.kit
    head = next((head for head in _heads_of(step, floor) if floor.heads[head].armed), None)
    if step.verb in _BY_HAND and head is not None:
        return f"{head} can fire: switch it off first"
    stands = {at.stand for head in _heads_of(step, floor) if (at := floor.heads[head]).stand}
    own = own_stand(step, floor)
    if own is not None:
        stands.add(own)
    for stand in sorted(str(each) for each in stands if each in floor.stands):
        loaded = floor.head_on(stand) is not None or step.key[:2] == ("fit", "head")
        why = _too_high(step, stand, ground) if loaded else ""
        if why:
            return why
    if own is None or own not in floor.stands:
        return ""
    if step.verb == "raise" and off_balance(own, floor, kit):
        return f"{own} has its head on without its counterweight: fit the counterweight first"
    if step.verb == "unbag" or step.key[:2] == ("free", "counterweight"):
        return _let_down(step, own, ground)
    return ""


def with_hold(step: Step, ground: Ground) -> Step:
    """The step with hands on its stand after it, wherever that must be held then.

    A step that was to be the last of a hold keeps it; one that nobody had to hold begins one.
    """
    floor = ground.floor
    own = own_stand(step, floor)
    if own is None:
        return step
    if step.held not in (None, own):  # a skip left its head on another stand than planned
        step = step._replace(grip=None, held=None)
    if step.grip == "take":
        return step
    held = own in floor.in_hands and step.grip is None
    if held or step.verb == "strike" or not _left_unsafe(step, own, ground):
        return step
    taken = step._replace(grip="take", held=own)
    hands, why = hands_of(taken, floor, ground.goal, ground.kit, ground.place, units=ground.units)
    return taken._replace(hands=hands, why_hands=why) if hands > step.hands else taken


def _heads_of(step: Step, floor: Floor) -> set[str]:
    """The heads on a floor that a step fits or frees something on."""
    heads: set[str | None] = set()
    match step.kind:
        case "head":
            heads = {step.item}
        case "modifier":
            heads = {step.on}
        case "accessory":
            on = step.to[1]
            heads = {on if step.to[0] == "head" else floor.modifiers.get(on)}
        case "cloth":
            heads = set(str(step.on or "").split()) | set(step.to or ())
        case "counterweight":
            heads = {floor.head_on(step.item)}
    return {head for head in heads if head is not None and head in floor.heads}


def _too_high(step: Step, stand: str, ground: Ground) -> str:
    """Why a loaded stand is too high for a step; empty where it is not."""
    kit, place, units = ground.kit.stand[stand], ground.place, ground.units
    height = ground.floor.stands[stand].height_m
    reach = worked_up_to_m(kit.height_min_m, place)
    most = reach
    if step.key[:2] == ("move", "stand") and not kit.is_boom:
        most = max(place.carry_m, reach)
    elif step.verb not in _BY_HAND and step.key[:2] != ("move", "stand"):
        return ""
    if height <= most:
        return ""
    at, limit = length(height, units), length(most, units)
    return f"{stand} is at {at}, the limit for this step is {limit}: lower {stand} first"


def _let_down(step: Step, stand: str, ground: Ground) -> str:
    """Why what holds a stand up must not come off it now; empty where it may."""
    floor, place, units = ground.floor, ground.place, ground.units
    reach = worked_up_to_m(ground.kit.stand[stand].height_min_m, place)
    height = floor.stands[stand].height_m
    if stand in ground.not_lowered and floor.head_on(stand) is not None and height > reach:
        at, limit = length(height, units), length(reach, units)
        return f"{stand} is at {at} with its head on, reach is {limit}: lower {stand} first"
    held = stand in floor.in_hands or step.grip == "take"
    if held or not _left_unsafe(step, stand, ground):
        return ""
    after = apply(floor, step)
    why = hold_reason(stand, after, ground.goal, ground.kit, place, units=units)
    return f"nobody holds {stand}, and after this step {why}: lower it or take its load off first"


def _left_unsafe(step: Step, stand: str, ground: Ground) -> bool:
    """Whether a stand must be held after a step on it."""
    try:
        after = apply(ground.floor, step)
    except CannotBeDone:
        return False
    floor, goal, kit, place = ground.floor, ground.goal, ground.kit, ground.place
    return must_be_held(stand, after, goal, kit, place, before=floor)
