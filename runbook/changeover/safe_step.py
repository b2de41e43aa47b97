"""What must not be done on a floor as it really stands, and which stand to hold there.

The steps of a changeover keep every stand safe or held as long as all of them are done. Where one
was skipped, the next are held against the same rules once more, on the floor as it is.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Final

from runbook.changeover.diff import worked_up_to_m
from runbook.changeover.floor import Floor
from runbook.changeover.hands import hands_of, heads_of, hold_reason, own_stand
from runbook.changeover.stand_sequence import must_be_held, off_balance
from runbook.changeover.steps import CannotBeDone, Step, apply
from runbook.model.day import Place
from runbook.model.kit import Kit
from runbook.model.units import Units, length

_BY_HAND: Final = frozenset({"fit", "free"})
_ON_A_RAIL: Final = frozenset({("place", "cloth"), ("strike", "cloth")})
_ON_A_STAND: Final = frozenset({("fit", "head"), ("fit", "panel"), ("fit", "rail")})


@dataclass(frozen=True, slots=True)
class Ground:
    """The floor as it stands, the floor that is wanted, and what both are judged with.

    ``not_lowered`` are stands that were to come down and did not, as that step was skipped.
    """

    floor: Floor
    goal: Floor
    kit: Kit
    place: Place
    units: Units = "metric"
    not_lowered: frozenset[str] = frozenset()

    def reach_m(self, stand: str) -> float:
        """Return the height up to which a stand is worked on."""
        return worked_up_to_m(self.kit.stand[stand].height_min_m, self.place)

    def too_high(self, stand: str, most_m: float, what: str) -> str:
        """Return that a stand is over a height, and what to do first; empty where it is not."""
        height_m = self.floor.stands[stand].height_m
        if height_m <= most_m:
            return ""
        at, limit = length(height_m, self.units), length(most_m, self.units)
        return f"{stand} is at {at}{what} {limit}: lower {stand} first"

    def unsafe_after(self, step: Step, stand: str) -> Floor | None:
        """Return the floor after a step where a stand must be held then; else None."""
        try:
            after = apply(self.floor, step)
        except CannotBeDone:
            return None
        held = must_be_held(stand, after, self.goal, self.kit, self.place, before=self.floor)
        return after if held else None


def why_not_now(step: Step, ground: Ground) -> str:
    """Return why a step must not be done on this floor, and what to do first; empty where it may be."""
    floor = ground.floor
    heads = heads_of(step, floor)
    if step.verb in _BY_HAND and (armed := next((head for head in heads if floor.heads[head].armed), None)):
        return f"{armed} can fire: switch it off first"
    own = own_stand(step, floor)
    stands = {floor.heads[head].stand for head in heads} | {own}
    if step.key[:2] in _ON_A_RAIL:
        stands |= set(str(step.on or "").split())
    for stand in sorted(name for name in stands if name in floor.stands and name is not None):
        if why := _too_high(step, stand, ground):
            return why
    if own is None or own not in floor.stands:
        return ""
    if step.verb == "raise" and off_balance(own, floor, ground.kit):
        return f"{own} has its load on without its counterweight: fit the counterweight first"
    if step.verb == "unbag" or step.key[:2] == ("free", "counterweight"):
        return _why_not_taken_off(step, own, ground)
    return ""


def with_hold(step: Step, ground: Ground) -> Step:
    """Return the step with hands on its stand after it, wherever that must be held then.

    A step that was to be the last of a hold keeps it; one that nobody had to hold begins one.
    """
    floor = ground.floor
    if step.moves_rail:
        ends = {end for end in str(step.on).split() if ground.unsafe_after(step, end)}
        return replace(step, grip="take", held=" ".join(sorted(ends))) if ends - step.hands_on else step
    own = own_stand(step, floor)
    if own is None:
        return step
    if step.held not in (None, own):  # a skip left its head on another stand than planned
        step = replace(step, grip=None, held=None)
    held_on = step.grip == "take" or (own in floor.in_hands and step.grip is None)
    if held_on or step.verb == "strike" or ground.unsafe_after(step, own) is None:
        return step
    taken = replace(step, grip="take", held=own)
    hands, why = hands_of(taken, floor, ground.goal, ground.kit, ground.place, units=ground.units)
    return replace(taken, hands=hands, why_hands=why) if hands > step.hands else taken


def _too_high(step: Step, stand: str, ground: Ground) -> str:
    """Return why a stand is too high for a step; empty where it is not.

    A boom comes down before it moves, with its load on or without; any other stand where it is loaded.
    """
    loaded = ground.floor.load_on(stand) is not None or step.key[:2] in _ON_A_STAND
    by_hand = step.verb in _BY_HAND or step.key[:2] in {("aim", "panel"), *_ON_A_RAIL}
    moves, boom, most_m = step.key[:2] == ("move", "stand"), ground.kit.stand[stand].is_boom, ground.reach_m(stand)
    if step.kind in ("rail", "cloth"):  # a rail is level: it comes down as far as both its stands do
        rail = step.on if step.kind == "rail" else step.item
        ends = (*ground.goal.stands.items(), *ground.floor.stands.items())
        level = {name for name, at in ends if at.rail == rail}
        if step.key[:2] == ("free", "rail"):  # its other end may be off already
            level = {*ground.kit.stand}
        most_m = max([most_m, *(ground.kit.stand[name].height_min_m for name in level)])
    if moves and not boom:
        most_m = max(ground.place.carry_m, most_m)
    counts = (loaded or boom) if moves else loaded and by_hand
    return ground.too_high(stand, most_m, ", the limit for this step is") if counts else ""


def _why_not_taken_off(step: Step, stand: str, ground: Ground) -> str:
    """Return why what holds a stand up must not come off it now; empty where it may."""
    floor = ground.floor
    if stand in ground.not_lowered and floor.load_on(stand) is not None:
        why = ground.too_high(stand, ground.reach_m(stand), " with its load on, reach is")
        if why:
            return why
    if stand in floor.in_hands or step.grip == "take":
        return ""
    after = ground.unsafe_after(step, stand)
    if after is None:
        return ""
    why = hold_reason(stand, after, ground.goal, ground.kit, ground.place, units=ground.units)
    return f"nobody holds {stand}, and after this step {why}: lower it or take its load off first"
