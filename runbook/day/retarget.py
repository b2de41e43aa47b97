"""The floor after a target was changed on the spot: what stood as the old target follows the new one."""

from __future__ import annotations

from collections.abc import Container
from typing import Any, Final

from runbook.changeover.floor import Carrier, Floor
from runbook.day.state import StepKey

# what a skipped step leaves unchanged, by kind of thing
_LEFT: Final[dict[str, tuple[str, dict[str, tuple[str, ...]]]]] = {
    "stand": ("stands", {"spot": ("place", "move"), "height_m": ("place", "raise", "lower")}),
    "head": ("heads", {"power": ("power",)}),
}
_LEFT_SINGLE: Final = {
    "exposure": ("expose", "camera", "camera"),
    "view": ("view", "camera", "camera"),
    "lens": ("lens", "camera", "camera"),
    "subject": ("turn", "subject", "subject"),
}


def with_skipped_set(floor: Floor, before: Floor, after: Floor, skipped: Container[StepKey]) -> Floor:
    """Return the floor with the new target of things whose own step was skipped.

    No step sets those any more: the change describes how they are.
    """
    changed: dict[str, Any] = {}
    for kind, (table, fields) in _LEFT.items():
        now, old, new = getattr(floor, table), getattr(before, table), getattr(after, table)
        changed[table] = {
            item: at._replace(
                **{
                    field: getattr(new[item], field)
                    for field, verbs in fields.items()
                    if getattr(old[item], field) != getattr(new[item], field)
                    and any((verb, kind, item) in skipped for verb in verbs)
                }
            )
            if item in old and item in new
            else at
            for item, at in now.items()
        }
    for single, key in _LEFT_SINGLE.items():
        if getattr(before, single) != getattr(after, single) and key in skipped:
            changed[single] = getattr(after, single)
    return floor._replace(**changed)


def with_replacements(floor: Floor, before: Floor, after: Floor) -> Floor:
    """Return the floor with one thing in the place of another, as a change names them.

    Only where the old thing stands as the target had it and the new one is not on the floor:
    otherwise steps bring it.
    """
    for old, new in _renamed(before, after):
        floor = _with_head(floor, old, new)
    for head, at in after.heads.items():
        was = before.heads.get(head)
        if was is None:  # it took the place of another
            was = before.heads[next(old for old, new in _renamed(before, after) if new == head)]
        if at.stand != was.stand and at.stand is not None and was.stand is not None:
            floor = _with_stand(floor, before, after, head, (was.stand, at.stand))
        floor = _with_modifier(floor, before, after, head)
        floor = _with_accessories(floor, before, after, head)
        floor = _with_bags(floor, before, after, head)
    return floor


def _renamed(before: Floor, after: Floor) -> list[tuple[str, str]]:
    """Return the head that went and the one that came, where one took the place of another."""
    gone = [head for head in before.heads if head not in after.heads]
    come = [head for head in after.heads if head not in before.heads]
    return list(zip(gone, come, strict=False))


def _with_head(floor: Floor, old: str, new: str) -> Floor:
    if old not in floor.heads or new in floor.heads:
        return floor
    own = Carrier("head", old)
    return floor._replace(
        heads={new if head == old else head: at for head, at in floor.heads.items()},
        modifiers={key: new if on == old else on for key, on in floor.modifiers.items()},
        accessories={
            key: on._replace(item=new) if on._replace(under=()) == own else on for key, on in floor.accessories.items()
        },
        cloths={key: frozenset(new if head == old else head for head in beams) for key, beams in floor.cloths.items()},
    )


def _with_stand(floor: Floor, before: Floor, after: Floor, head: str, stands: tuple[str, str]) -> Floor:
    old, new = stands
    on = floor.heads.get(head)
    if on is None or on.stand != old or new in floor.stands:
        return floor
    at, was, to = floor.stands[old], before.stands[old], after.stands[new]
    place = to._replace(
        spot=to.spot if at.spot == was.spot else at.spot,
        height_m=to.height_m if at.height_m == was.height_m else at.height_m,
    )
    return floor._replace(
        stands={key: each for key, each in floor.stands.items() if key != old} | {new: place},
        heads=floor.heads | {head: on._replace(stand=new)},
        bags={
            bag: hung._replace(item=new) if (hung.kind, hung.item) == ("stand", old) else hung
            for bag, hung in floor.bags.items()
        },
        in_hands=frozenset(new if each == old else each for each in floor.in_hands),
    )


def _with_modifier(floor: Floor, before: Floor, after: Floor, head: str) -> Floor:
    """Return the floor with the other modifier on a head; the accessories of the first are on that."""
    old, new = before.modifier_on(head), after.modifier_on(head)
    old = floor.modifier_on(head) if head not in before.heads else old
    fitted = head in floor.heads and floor.modifier_on(head) == old
    if old == new or not fitted or new in floor.modifiers:
        return floor
    modifiers = {key: on for key, on in floor.modifiers.items() if key != old}
    carrier = Carrier("head", head)
    if new is not None:
        modifiers[new] = head
        carrier = Carrier("modifier", new)
    sat_on = Carrier("head", head) if old is None else Carrier("modifier", old)
    return floor._replace(
        modifiers=modifiers,
        accessories={
            key: carrier._replace(under=on.under) if on._replace(under=()) == sat_on else on
            for key, on in floor.accessories.items()
        },
    )


def _fitted(floor: Floor, head: str) -> tuple[str, ...]:
    """Return what is fitted in front of a head, on its modifier or on itself."""
    modifier = floor.modifier_on(head)
    on = ("head", head) if modifier is None else ("modifier", modifier)
    return floor.fitted_on(*on)


def _with_accessories(floor: Floor, before: Floor, after: Floor, head: str) -> Floor:
    old, new = _fitted(before, head), _fitted(after, head)
    come = [item for item in new if item not in old]
    if old == new or head not in floor.heads or _fitted(floor, head) != old:
        return floor
    if any(item in floor.accessories for item in come):
        return floor
    kept = {key: on for key, on in floor.accessories.items() if key not in old}
    return floor._replace(accessories=kept | {key: after.accessories[key] for key in new})


def _with_bags(floor: Floor, before: Floor, after: Floor, head: str) -> Floor:
    if head not in before.heads or head not in floor.heads:
        return floor
    was, stand = before.heads[head].stand or "", after.heads[head].stand or ""
    old, new = before.bags_on("stand", was), after.bags_on("stand", stand)
    hung = floor.bags_on("stand", floor.heads[head].stand or "")
    if old == new or hung != old or floor.heads[head].stand != stand:
        return floor
    if any(bag in floor.bags for bag in new - old):
        return floor
    kept = {bag: at for bag, at in floor.bags.items() if bag not in old}
    return floor._replace(bags=kept | {bag: after.bags[bag] for bag in new})


def with_new_targets(floor: Floor, before: Floor, after: Floor) -> Floor:
    """Return the floor with everything that equals the old target set to the new one."""
    changed: dict[str, Any] = {"stands": dict(floor.stands)}
    for stand in floor.stands.keys() & before.stands.keys() & after.stands.keys():
        at, old, new = floor.stands[stand], before.stands[stand], after.stands[stand]
        # a stand at its old spot and not up yet is at the new spot
        changed["stands"][stand] = at._replace(
            spot=new.spot if at.spot == old.spot else at.spot,
            height_m=new.height_m if at.height_m == old.height_m else at.height_m,
        )
    # a bag does not follow to a stand that is not on the floor
    here = {*floor.stands, *floor.panels}
    hung = {bag: at for bag, at in after.bags.items() if at.item in here}
    targets: dict[str, dict[str, Any]] = {
        "panels": dict(after.panels),
        "cloths": dict(after.cloths),
        "bags": dict(hung),
    }
    for table, target in targets.items():
        was = getattr(before, table)
        changed[table] = {
            key: target[key] if key in target and was.get(key) == value else value
            for key, value in getattr(floor, table).items()
        }
    changed["heads"] = {
        head: at._replace(
            power=after.heads[head].power if at.power == before.heads[head].power else at.power,
            aim=after.heads[head].aim if at.aim == before.heads[head].aim else at.aim,
            # a head dialled off no longer fires; what was off or in somebody's hands was not switched on
            armed=at.armed and after.heads[head].armed,
        )
        if head in before.heads and head in after.heads
        else at
        for head, at in floor.heads.items()
    }
    for single in ("lens", "exposure", "view", "subject"):
        if getattr(floor, single) == getattr(before, single):
            changed[single] = getattr(after, single)
    return floor._replace(**changed)
