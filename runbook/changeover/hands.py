"""How many people a step needs, and why: what is lifted, and which stands must be held meanwhile."""

from __future__ import annotations

from collections.abc import Iterable

from runbook.changeover.floor import Floor
from runbook.changeover.stand_sequence import Moment, at_moment, worst_at
from runbook.changeover.steps import Step, apply
from runbook.model.day import Place
from runbook.model.kit import Accessory, Bag, Kit, Modifier, Panel, Stand
from runbook.model.units import Units, mass, speed
from runbook.stands.lifting import WORK_M, hands_for
from runbook.stands.verdict import Verdict

_NOT_ALONE = frozenset({"fit", "free", "raise", "lower"})
_HELD = _NOT_ALONE | {"bag", "unbag", "move"}
# what moves neither a stand nor a load, and needs nobody's help
_LIGHT = frozenset({"aim", "power", "arm", "disarm", "lens", "view", "expose", "turn", "test"})


def hands_of(
    step: Step, before: Floor, goal: Floor, kit: Kit, place: Place, *, units: Units = "metric"
) -> tuple[int, str]:
    """How many people a step needs on this floor, and why where it is more than one.

    From the sums: a stand that would not stand by itself is held by one while another works on it;
    a boom takes two; a lift over the handling filter takes as many as the filter asks.
    """
    if step.verb in _LIGHT:
        return 1, ""
    stand = stand_of(step, before)
    # what only snaps onto a balanced boom's head moves neither arm nor weight
    boom = stand is not None and step.kind != "accessory" and kit.stand[stand].is_boom
    lifted = hands_for(
        step.verb,
        _lifted_kg(step, before, kit),
        low_m=_grip_m(step, kit),
        high_m=_high_m(stand, step, before),
        boom=boom,
        units=units,
    )
    if lifted.people > 1:
        return lifted.people, lifted.why
    held = held_on(step, before, kit, place)
    if held is not None:
        why = hold_reason(str(own_stand(step, before)), held, goal, kit, place, units=units)
        return 2, f"{why}: one person holds it"
    return 1, ""


def held_on(step: Step, before: Floor, kit: Kit, place: Place) -> Floor | None:
    """The floor on which somebody else holds the stand of a step while it is done; else None.

    That is the floor before the step, or the one after it where the step itself is what takes the
    stand out of safety.
    """
    stand = own_stand(step, before)
    if stand is None or step.verb not in _HELD:
        return None
    if stand in before.in_hands and step.verb in _NOT_ALONE:
        return before
    held = stand in before.in_hands or (step.grip == "take" and step.held == stand)
    if not held:
        return None
    for floor in (before, apply(before, step)):
        moment = at_moment(floor, stand, 0)
        if moment is not None and not worst_at(kit, place, stand, moment).ok:
            return floor
    return None


def hold_reason(stand: str, now: Floor, goal: Floor, kit: Kit, place: Place, *, units: Units = "metric") -> str:
    """Why a stand of this floor is in hands, on the way to another."""
    moment = at_moment(now, stand, 0)
    if moment is None:
        return f"{stand} is on its way"
    box = goal.modifier_on(goal.head_on(stand))
    wanted = goal.bags_on("stand", stand)
    return hold_reason_at(kit, place, stand, moment, wanted=wanted, box=box, units=units)


def hold_reason_at(
    kit: Kit,
    place: Place,
    stand: str,
    now: Moment,
    *,
    wanted: Iterable[str] = (),
    box: str | None = None,
    units: Units = "metric",
) -> str:
    """Return why a stand must be held now: ``S1 tips at 8.7° (limit 10°) until B1 is on``.

    ``wanted`` are the bags it is to have, ``box`` the modifier.
    """
    if kit.stand[stand].is_boom and now.head is not None and not now.weight_on:
        return f"{stand} has its head on without its counterweight"
    missing = sorted(set(wanted) - {bag for bag, _ in now.bags})
    if not missing and box is not None and now.modifier != box:
        missing = [box]
    until = ""
    if missing:
        until = f" until {' and '.join(missing)} {'is' if len(missing) == 1 else 'are'} on"
    return f"{stand} {_fault_text(worst_at(kit, place, stand, now), place, units)}{until}"


def _fault_text(verdict: Verdict, place: Place, units: Units) -> str:
    """Return what is wrong with a stand; where nothing is, that it is high and lacks bags."""
    match verdict.faults:
        case ("lean", *_) if verdict.lean_deg <= 0:
            return "falls over by itself"
        case ("lean", *_):
            return f"tips at {verdict.lean_deg:.1f}° (limit {place.tilt_limit_deg:g}°)"
        case ("factor", *_):
            return f"has a safety factor of only {verdict.factor or 0:.2f} against tipping"
        case ("load", *_):
            return f"carries {mass(verdict.load_kg, units, '.1f')} of {mass(verdict.load_max_kg, units, 'g')} allowed"
        case ("wind", *_):
            return f"stands only in gusts up to {speed(verdict.wind_limit_ms, units)}"
    return "is out of balance" if verdict.faults else "is above reach without all its bags"


def own_stand(step: Step, before: Floor) -> str | None:
    """The stand whose own steps this one belongs to: the one its bag hangs on, or it is done on."""
    if step.kind == "bag":
        return step.on if step.to[0] == "stand" else None
    return stand_of(step, before)


def stand_of(step: Step, before: Floor) -> str | None:
    """The stand a step is done on."""
    if step.kind in ("stand", "counterweight"):
        return step.item
    head = {"head": step.item, "modifier": step.on}.get(step.kind)
    if step.kind == "accessory":
        head = step.on if step.to.kind == "head" else before.modifiers.get(str(step.on))
    if step.kind == "head" and step.verb in ("fit", "free"):
        return step.on
    at = before.heads.get(head or "")
    return at.stand if at and step.verb in ("fit", "free") else None


def _high_m(stand: str | None, step: Step, before: Floor) -> float:
    """How high the hands go: a stand that does not come down is worked on where it stands."""
    if step.verb not in ("fit", "free"):
        return 1.0
    at = before.stands.get(stand or "")
    return max(WORK_M, at.height_m) if at else WORK_M


def _grip_m(step: Step, kit: Kit) -> float | None:
    """How high hands take hold of what is carried; None where the kit does not say."""
    thing: Bag | Panel | Stand | None = None
    match step.kind:
        case "bag":
            thing = kit.bag.get(step.item)
        case "panel":
            thing = kit.panel.get(step.item)
        case "stand":
            thing = kit.stand.get(step.item)
    return None if thing is None else thing.grip_m


def _lifted_kg(step: Step, before: Floor, kit: Kit) -> float:
    """What the hands lift: the thing itself, and what rides on it.

    What goes on wheels is pushed over, not lifted (common practice, no source).
    """
    item, kg = step.item, 0.0
    match step.kind:
        case "head":
            kg = _head_kg(item, before, kit)
        case "stand" if step.verb in ("raise", "lower"):
            head = before.head_on(item)
            kg = _head_kg(head, before, kit) if head else 0.0
        case "stand":
            kg = _stand_kg(step, before, kit)
        case "counterweight":
            kg = kit.stand[item].counterweight_kg
        case "modifier":
            kg = _modifier_kg(item, before, kit)
        case "accessory":
            kg = _mass_kg(kit.accessory.get(item))
        case "bag":
            kg = _mass_kg(kit.bag.get(item))
        case "panel":
            kg = _mass_kg(kit.panel.get(item))
    return kg


def _stand_kg(step: Step, before: Floor, kit: Kit) -> float:
    stand, head = kit.stand[step.item], before.head_on(step.item)
    if step.verb == "move" and stand.kind == "roller":
        return 0.0
    return stand.mass_kg + stand.arm_mass_kg + (_head_kg(head, before, kit) if head else 0.0)


def _head_kg(head: str, floor: Floor, kit: Kit) -> float:
    boxes = [box for box, on in floor.modifiers.items() if on == head]
    small = _small_kg("head", head, floor, kit)
    return kit.head[head].mass_kg + small + sum(_modifier_kg(box, floor, kit) for box in boxes)


def _modifier_kg(box: str, floor: Floor, kit: Kit) -> float:
    return _mass_kg(kit.modifier.get(box)) + _small_kg("modifier", box, floor, kit)


def _small_kg(kind: str, carrier: str, floor: Floor, kit: Kit) -> float:
    return sum(_mass_kg(kit.accessory.get(item)) for item in floor.fitted_on(kind, carrier))


def _mass_kg(thing: Accessory | Bag | Modifier | Panel | None) -> float:
    """The mass of a thing; none of one that stands on the set and is in the kit no more."""
    return thing.mass_kg if thing else 0.0
