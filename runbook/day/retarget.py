"""The floor after a target was changed on the spot: what stood as the old target follows the new one."""

from __future__ import annotations

from collections.abc import Container
from dataclasses import dataclass, fields, replace
from typing import Any, Final

from runbook.changeover.floor import Carrier, Floor
from runbook.day.state import StepKey

# the steps that set a value: once one of them is skipped, a change says how the thing really is
_SET_BY: Final = {"spot": ("place", "move"), "height_m": ("place", "raise", "lower"), "power": ("power",)}
_SINGLES: Final = {
    "exposure": ("expose", "camera", "camera"),
    "view": ("view", "camera", "camera"),
    "lens": ("lens", "camera", "camera"),
    "subject": ("turn", "subject", "subject"),
}


@dataclass(frozen=True, slots=True)
class _Rig:
    """What a head is put up with: its stand, its modifier, the accessories on that, the bags on the stand."""

    stand: str | None
    modifier: str | None
    accessories: tuple[str, ...]
    bags: frozenset[str]


def floor_after_change(
    floor: Floor, before: Floor, after: Floor, skipped: Container[StepKey], *, replaced: bool = True
) -> Floor:
    """Return the floor once the target floor ``before`` has become ``after``.

    A value follows where it equals the old target or where its own step was skipped. With
    ``replaced``, one thing takes the place of another; without, steps bring it.
    """
    if replaced:
        floor, before = _with_replacements(floor, before, after)

    def follow(kind: str, item: str, now: Any, was: Any, to: Any) -> Any:
        changed = {}
        for name in (each.name for each in fields(now)):
            is_skipped = any((verb, kind, item) in skipped for verb in _SET_BY.get(name, ()))
            if getattr(was, name) != getattr(to, name) and (getattr(now, name) == getattr(was, name) or is_skipped):
                changed[name] = getattr(to, name)
        return replace(now, **changed)

    changed: dict[str, Any] = {}
    for kind, table in (("stand", "stands"), ("head", "heads")):
        was, to = getattr(before, table), getattr(after, table)
        changed[table] = {
            item: follow(kind, item, at, was[item], to[item]) if item in was and item in to else at
            for item, at in getattr(floor, table).items()
        }
    for head, at in floor.heads.items():
        # a head dialled off no longer fires; what was off or in somebody's hands was not switched on
        armed = at.armed and (head not in after.heads or head not in before.heads or after.heads[head].armed)
        changed["heads"][head] = replace(changed["heads"][head], stand=at.stand, armed=armed)
    # a bag does not follow to a stand that is not on the floor
    hung = {bag: at for bag, at in after.bags.items() if at.item in {*floor.stands, *floor.panels}}
    for table, to in (("panels", after.panels), ("cloths", after.cloths), ("bags", hung)):
        was = getattr(before, table)
        changed[table] = {
            item: to[item] if item in to and was.get(item) == at else at for item, at in getattr(floor, table).items()
        }
    for name, key in _SINGLES.items():
        now, old, new = (getattr(each, name) for each in (floor, before, after))
        if old != new and (now == old or key in skipped):
            changed[name] = new
    return replace(floor, **changed)


def _with_replacements(floor: Floor, before: Floor, after: Floor) -> tuple[Floor, Floor]:
    """Return the floor, and the old target, with one thing in the place of another, as a change names them.

    Only where the old thing stands as the target had it and the new one is not on the floor.
    """
    gone = [head for head in before.heads if head not in after.heads]
    come = [head for head in after.heads if head not in before.heads]
    for old, new in zip(gone, come, strict=False):
        if new not in floor.heads:
            floor, before = _renamed(floor, old, new), _renamed(before, old, new)
    for head in after.heads:
        if head not in before.heads or head not in floor.heads:
            continue
        was, to, now = (_rig(each, head) for each in (before, after, floor))
        follows: dict[str, Any] = {}
        for field in fields(_Rig):
            old, new, here = (getattr(rig, field.name) for rig in (was, to, now))
            if old != new and here == old and not _elsewhere(floor, field.name, old, new):
                follows[field.name] = new
        if to.stand != replace(now, **follows).stand:
            follows.pop("bags", None)
        floor = _with_rig(floor, head, replace(now, **follows), after)
        before = _with_rig(before, head, replace(was, **follows), after)
    return floor, before


def _elsewhere(floor: Floor, name: str, old: Any, new: Any) -> bool:
    """Return whether something that comes is on the floor already, at another thing."""
    if name in ("accessories", "bags"):
        return any(item in getattr(floor, name) for item in new if item not in old)
    return new in getattr(floor, f"{name}s")


def _renamed(floor: Floor, old: str, new: str) -> Floor:
    """Return the floor with another head in the place of one."""
    own = Carrier("head", old)
    return replace(
        floor,
        heads={new if head == old else head: at for head, at in floor.heads.items()},
        modifiers={key: new if on == old else on for key, on in floor.modifiers.items()},
        accessories={
            key: replace(on, item=new) if replace(on, under=()) == own else on for key, on in floor.accessories.items()
        },
        cloths={key: frozenset(new if head == old else head for head in beams) for key, beams in floor.cloths.items()},
    )


def _rig(floor: Floor, head: str) -> _Rig:
    stand, modifier = floor.heads[head].stand, floor.modifier_on(head)
    on = ("head", head) if modifier is None else ("modifier", modifier)
    return _Rig(stand, modifier, floor.fitted_on(*on), floor.bags_on("stand", stand or ""))


def _with_rig(floor: Floor, head: str, new: _Rig, after: Floor) -> Floor:
    """Return the floor with a head put up with other things; a bag hangs where ``after`` has it."""
    old = _rig(floor, head)
    if old == new:
        return floor
    stands = floor.stands
    if old.stand != new.stand and old.stand and new.stand:
        at = replace(stands[old.stand], weight_on=after.stands[new.stand].weight_on)
        stands = {key: each for key, each in stands.items() if key != old.stand} | {new.stand: at}
    on = Carrier("head", head) if new.modifier is None else Carrier("modifier", new.modifier)
    fitted = {item: replace(on, under=new.accessories[:n]) for n, item in enumerate(new.accessories)}
    hung = {bag: replace(floor.bags.get(bag) or after.bags[bag], item=new.stand or "") for bag in new.bags}
    return replace(
        floor,
        stands=stands,
        heads=floor.heads | {head: replace(floor.heads[head], stand=new.stand)},
        modifiers={item: at for item, at in floor.modifiers.items() if item != old.modifier}
        | ({} if new.modifier is None else {new.modifier: head}),
        accessories={item: at for item, at in floor.accessories.items() if item not in old.accessories} | fitted,
        bags={bag: at for bag, at in floor.bags.items() if bag not in old.bags} | hung,
        in_hands=frozenset(new.stand if each == old.stand and new.stand else each for each in floor.in_hands),
    )
