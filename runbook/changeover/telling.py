"""A changeover made ready to be told: words, hands and seconds on every step."""

from __future__ import annotations

from collections.abc import Callable

from runbook.changeover.changeover import changeover
from runbook.changeover.durations import default_seconds
from runbook.changeover.floor import Floor
from runbook.changeover.held import why_held, worst_at
from runbook.changeover.steady import at_moment, with_unsafe_held
from runbook.changeover.steps import Step, apply
from runbook.changeover.words import Scene, retape_said, text_of
from runbook.model.day import Place
from runbook.model.kit import Accessory, Bag, Kit, Modifier, Panel, Stand
from runbook.model.units import Units
from runbook.stands.lifting import WORK_M, hands_for

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
        why = why_in_hands(str(own_stand(step, before)), held, goal, kit, place, units=units)
        return 2, f"{why}: one holds it"
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


def why_in_hands(stand: str, now: Floor, goal: Floor, kit: Kit, place: Place, *, units: Units = "metric") -> str:
    """Why a stand of this floor is in hands, on the way to another."""
    moment = at_moment(now, stand, 0)
    if moment is None:
        return f"{stand} is on its way"
    box = goal.modifier_on(goal.head_on(stand))
    wanted = goal.bags_on("stand", stand)
    return why_held(kit, place, stand, moment, wanted=wanted, box=box, units=units)


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


def seconds_of(step: Step, kit: Kit) -> float:
    """The default duration of a step, in seconds."""
    kind = step.kind
    if kind == "stand" and kit.stand[step.item].is_boom:
        return default_seconds(step.verb, "boom")
    return default_seconds(step.verb, kind)


def told(
    start: Floor, goal: Floor, scene: Scene, place: Place, seconds: Callable[[Step, Kit], float] = seconds_of
) -> tuple[Step, ...]:
    """The changeover from one floor to another with its words, hands and seconds."""
    now = with_unsafe_held(start, scene.kit, place)
    said: list[Step] = []
    for bare in changeover(start, goal, scene.kit, place):
        hands, why = hands_of(bare, now, goal, scene.kit, place, units=scene.units)
        text = text_of(bare, now, scene) + retape_said(bare, start, goal, scene)
        takes_s = seconds(bare, scene.kit)
        said.append(bare._replace(text=text, hands=hands, why_hands=why, seconds=takes_s))
        now = apply(now, bare)
    return tuple(said)
