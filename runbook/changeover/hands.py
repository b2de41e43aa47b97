"""How many people a step needs, and why: what is lifted, and which stands must be held meanwhile."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Final

from runbook.changeover.floor import Carrier, ClothSpot, Floor, Hung
from runbook.changeover.stand_sequence import at_moment, unsafe, worst_at
from runbook.changeover.steps import Step, apply
from runbook.model.day import Place
from runbook.model.kit import Kit
from runbook.model.units import Units, mass, speed
from runbook.stands.lifting import WORK_M, hands_for, rail_hands

_RAISED: Final = frozenset({"raise", "lower"})
_NOT_ALONE: Final = frozenset({"fit", "free"}) | _RAISED
_HELD: Final = _NOT_ALONE | {"bag", "unbag", "move"}
# what moves neither a stand nor a load, and needs nobody's help
_LIGHT: Final = frozenset({"aim", "power", "arm", "disarm", "lens", "view", "expose", "turn", "test"})


def hands_of(
    step: Step, before: Floor, goal: Floor, kit: Kit, place: Place, *, units: Units = "metric"
) -> tuple[int, str]:
    """Return how many people a step needs on this floor, and why where it is more than one.

    A stand that would not stand by itself is held by one while another works on it; a boom takes
    two; a lift over the handling filter takes as many as the filter asks.
    """
    if step.verb in _LIGHT:
        return 1, ""
    stand = stand_of(step, before)
    # what only snaps onto a balanced boom's head moves neither arm nor weight
    boom = stand is not None and step.kind != "accessory" and kit.stand[stand].is_boom
    at = before.stands.get(stand or "") if step.verb in ("fit", "free") else None
    high_m = 1.0 if step.verb not in ("fit", "free") else max(WORK_M, at.height_m) if at else WORK_M
    grip_m = getattr(_of_kind(kit, step.kind).get(step.item), "grip_m", None)
    lift = hands_for(step.verb, _lifted_kg(step, before, kit), low_m=grip_m, high_m=high_m, boom=boom, units=units)
    rail = rail_hands(_rail_m(step, before), place, on_stands=step.kind == "rail" or step.verb in _RAISED, units=units)
    if step.kind == "rail" or (step.kind == "cloth" and step.verb not in _NOT_ALONE - _RAISED):
        lift = max(rail, lift, key=lambda hands: hands.people)
    held = held_on(step, before, kit, place)
    if lift.people > 1 and (held is None or step.kind != "rail"):
        return lift.people, lift.why
    if held is not None:
        why = hold_reason(str(own_stand(step, before)), held, goal, kit, place, units=units)
        return lift.people + 1, f"{why}; one person holds it"
    return 1, ""


def _rail_m(step: Step, before: Floor) -> float:
    """Return how high the rail of a cloth is as it is hung or taken down."""
    at = step.to if isinstance(step.to, ClothSpot) else before.hung.get(step.item)
    return at.rail_m if at else 0.0


def held_on(step: Step, before: Floor, kit: Kit, place: Place) -> Floor | None:
    """Return the floor on which somebody else holds the stand of a step while it is done; else None.

    That is the floor before the step, or the one after it where the step itself is what makes the
    stand unsafe.
    """
    stand = own_stand(step, before)
    if stand is None or step.verb not in _HELD:
        return None
    if stand in before.in_hands and step.verb in _NOT_ALONE:
        return before
    if stand not in before.in_hands and (step.grip, step.held) != ("take", stand):
        return None
    for floor in (before, apply(before, step)):
        moment = at_moment(floor, stand)
        if moment is not None and not worst_at(kit, place, stand, moment).ok:
            return floor
    return None


_FAULTS: Final = {
    "counterweight": "has its load on without its counterweight",
    "over": "falls over by itself{until}",
    "lean": "tips at {lean:.1f}° (limit {limit:g}°){until}",
    "factor": "has a safety factor of only {factor:.2f} against tipping{until}",
    "load": "carries {load} of {most} allowed{until}",
    "wind": "stands only in gusts up to {gust}{until}",
    "balance": "is out of balance{until}",
    "bags": "is above reach without all its bags{until}",
}


def hold_reason(stand: str, now: Floor, goal: Floor, kit: Kit, place: Place, *, units: Units = "metric") -> str:
    """Return why a stand of this floor is in hands: ``S1 tips at 8.7° (limit 10°) until B1 is on``."""
    moment = at_moment(now, stand)
    if moment is None:
        return f"{stand} is on its way"
    verdict, box = worst_at(kit, place, stand, moment), goal.modifier_on(goal.head_on(stand))
    missing = sorted(goal.bags_on("stand", stand) - now.bags_on("stand", stand))
    if not missing and box is not None and moment.modifier != box:
        missing = [box]
    fault = unsafe(stand, moment, kit, place) or "bags"
    text = _FAULTS["over" if fault == "lean" and verdict.lean_deg <= 0 else fault].format(
        lean=verdict.lean_deg,
        limit=place.tilt_limit_deg,
        factor=verdict.factor or 0.0,
        load=mass(verdict.load_kg, units, ".1f"),
        most=mass(verdict.load_max_kg, units, "g"),
        gust=speed(verdict.wind_limit_ms, units),
        until=f" until {' and '.join(missing)} {'is' if len(missing) == 1 else 'are'} on" if missing else "",
    )
    return f"{stand} {text}"


# --- what a step is done on, and what it lifts


def own_stand(step: Step, before: Floor) -> str | None:
    """Return the stand whose own steps this one belongs to: the one its bag hangs on, or it is done on."""
    if isinstance(step.to, Hung):
        return step.on if step.to.kind == "stand" else None
    return stand_of(step, before)


def stand_of(step: Step, before: Floor) -> str | None:
    """Return the stand a step is done on; turning a panel on its stand is work on it too."""
    if step.kind in ("stand", "counterweight", "rail"):
        return step.item
    if (step.verb not in ("fit", "free") and step.key[:2] != ("aim", "panel")) or step.kind == "cloth":
        return None
    if step.kind in ("head", "panel"):
        return step.on
    at = next((before.heads[head] for head in heads_of(step, before)), None)
    return at.stand if at else None


def heads_of(step: Step, floor: Floor) -> set[str]:
    """Return the heads on a floor that a step fits or frees something on."""
    heads: set[str | None] = set()
    match step.kind, step.to:
        case "head", _:
            heads = {step.item}
        case "modifier", _:
            heads = {step.on}
        case "accessory", Carrier("head", on):
            heads = {on}
        case "accessory", Carrier(_, on):
            heads = {floor.modifiers.get(on)}
        case "cloth", _ if step.verb in ("fit", "free"):
            heads = {*str(step.on or "").split()}
        case "counterweight", _:
            heads = {floor.head_on(step.item)}
    return {head for head in heads if head in floor.heads and head is not None}


def _of_kind(kit: Kit, kind: str) -> Mapping[str, Any]:
    """Return the things of a kind in the kit, by id; none for what has no mass of its own."""
    return getattr(kit, kind) if kind in ("head", "modifier", "accessory", "bag", "panel", "stand", "cloth") else {}


def _lifted_kg(step: Step, before: Floor, kit: Kit) -> float:
    """Return what the hands lift: the thing itself, and what rides on it.

    What goes on wheels is pushed over, not lifted (common practice, no source).
    """
    if step.kind == "counterweight":
        return kit.stand[step.item].counterweight_kg
    if step.kind != "stand":
        return _with_riders_kg(step.kind, step.item, before, kit)
    load = before.load_on(step.item)
    load_kg = _with_riders_kg(*load, before, kit) if load else 0.0
    if step.verb in ("raise", "lower"):
        return load_kg
    stand = kit.stand[step.item]
    on_wheels = step.verb == "move" and stand.kind == "roller"
    return 0.0 if on_wheels else stand.mass_kg + stand.arm_mass_kg + load_kg


def _with_riders_kg(kind: str, item: str, floor: Floor, kit: Kit) -> float:
    """Return the mass of a thing and what is on it; none of one that the kit has no more."""
    thing = _of_kind(kit, kind).get(item)
    riders = [("accessory", small) for small in floor.fitted_on(kind, item)]
    riders += [("modifier", box) for box, on in floor.modifiers.items() if kind == "head" and on == item]
    return (thing.mass_kg if thing else 0.0) + sum(_with_riders_kg(*rider, floor, kit) for rider in riders)
