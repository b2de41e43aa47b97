"""One stand through a changeover: its own steps in order, and when somebody must hold it.

Every moment of the way is judged by the same sums as a finished setup. Where a stand would not
stand by itself, or the rules want hands on it, its steps say from when until when it is held.
"""

from __future__ import annotations

from typing import Final, NamedTuple

from runbook.changeover.diff import Key, Work, worked_up_to_m
from runbook.changeover.floor import Floor
from runbook.model.day import Place
from runbook.model.kit import Kit
from runbook.stands.rig import BagsAt, Rig
from runbook.stands.verdict import Verdict, judge

_BAG_PLACES: Final[tuple[BagsAt, ...]] = ("column", "far legs")


class Moment(NamedTuple):
    """A stand at one moment. ``spot`` counts its places: 0 is where it began."""

    spot: int
    height_m: float
    leg_under_load: bool
    head: str | None
    modifier: str | None
    accessories: frozenset[str]
    bags: frozenset[tuple[str, str]]
    weight_on: bool


def chain_of(work: Work, stand: str, *, old_bags_first: bool) -> list[Key]:
    """The steps on one stand in the order they are done.

    Down, off, away or over, bags, on, up. A stand that stays where it is gets its new bags before
    the old ones leave, unless ``old_bags_first`` (they wait for each other) or one bag is only hung
    elsewhere on it.
    """
    start, goal = work.start, work.goal
    gone, come = work.head_before.get(stand), work.head_after.get(stand)
    off = [("unbag", "bag", bag) for bag in sorted(start.bags_on("stand", stand))]
    on = [("bag", "bag", bag) for bag in sorted(goal.bags_on("stand", stand))]
    off, on = _there(work, off), _there(work, on)
    stays = stand in start.stands and stand in goal.stands and stand not in work.moved
    rehung = {key[2] for key in off} & {key[2] for key in on}
    new_first = stays and not rehung and not old_bags_first
    freed = [*_carried(start, gone, "free")]
    fitted = [*reversed(_carried(goal, come, "fit"))]
    chain: list[Key] = [
        ("lower", "stand", stand),
        ("free", "counterweight", stand),
        *freed,
        ("free", "head", gone or ""),
        *([] if new_first else off),
        ("strike", "stand", stand),
        ("place", "stand", stand),
        ("move", "stand", stand),
        *on,
        *(off if new_first else []),
        ("fit", "head", come or ""),
        *fitted,
        ("fit", "counterweight", stand),
        ("raise", "stand", stand),
    ]
    return _there(work, chain)


def _there(work: Work, keys: list[Key]) -> list[Key]:
    return [key for key in keys if key in work.steps]


def _carried(floor: Floor, head: str | None, verb: str) -> list[Key]:
    """What a head carries on a floor, outermost first."""
    if head is None:
        return []
    on = [modifier for modifier, at in floor.modifiers.items() if at == head]
    small = [item for box in on for item in floor.fitted_on("modifier", box)]
    small += floor.fitted_on("head", head)
    return [*((verb, "accessory", item) for item in reversed(small)), *((verb, "modifier", item) for item in on)]


def at_moment(floor: Floor, stand: str, spot: int) -> Moment | None:
    """A stand as it is on a floor; None where it is not on the set."""
    at = floor.stands.get(stand)
    if at is None:
        return None
    head = floor.head_on(stand)
    modifier = floor.modifier_on(head)
    carriers = {("modifier", modifier or ""), ("head", head or "")}
    return Moment(
        spot,
        at.height_m,
        at.spot.leg_under_load,
        head,
        modifier if head else None,
        frozenset(item for item, on in floor.accessories.items() if (on.kind, on.item) in carriers),
        frozenset((bag, floor.bags[bag].at) for bag in floor.bags_on("stand", stand)),
        at.weight_on,
    )


def grips(work: Work, stand: str, chain: list[Key]) -> list[bool]:
    """After each step of the chain: must somebody hold the stand?"""
    began = at_moment(work.start, stand, 0)
    moves = any((verb, "stand", stand) in chain for verb in ("move", "place")) or began is None
    ends = at_moment(work.goal, stand, 1 if moves else 0)
    now = began or Moment(1, 0.0, False, None, None, frozenset(), frozenset(), False)
    held = []
    for key in chain:
        now = _after(work, now, key)
        struck = key[0] == "strike"
        held.append(not struck and not may_be_let_go(work.kit, work.place, stand, now, began=began, ends=ends))
    return held


def _after(work: Work, now: Moment, key: Key) -> Moment:
    verb, kind, item = key
    to = work.steps[key].to
    match kind:
        case "stand" if verb == "place":
            return now._replace(spot=1, leg_under_load=to[0].leg_under_load, height_m=to[1])
        case "stand" if verb == "move":
            return now._replace(spot=1, leg_under_load=to.leg_under_load)
        case "stand":
            return now if verb == "strike" else now._replace(height_m=to)
        case "counterweight":
            return now._replace(weight_on=verb == "fit")
        case "bag":
            off = frozenset(bag for bag in now.bags if bag[0] != item)
            return now._replace(bags=off if verb == "unbag" else off | {(item, to.at)})
    return _refitted(work, now, verb, kind, item)


def _refitted(work: Work, now: Moment, verb: str, kind: str, item: str) -> Moment:
    """After a head, modifier or accessory came on or off, with what rides on it."""
    if kind == "accessory":
        small = now.accessories - {item} if verb == "free" else now.accessories | {item}
        return now._replace(accessories=small)
    if kind == "modifier":
        riding = _ride(work, "modifier", item)
        if verb == "free":
            return now._replace(modifier=None, accessories=now.accessories - riding)
        return now._replace(modifier=item, accessories=now.accessories | riding)
    if verb == "free":
        return now._replace(head=None, modifier=None, accessories=frozenset())
    modifier = _rides(work, item)
    small = _ride(work, "head", item)
    if modifier is not None:
        small |= _ride(work, "modifier", modifier)
    return now._replace(head=item, modifier=modifier, accessories=small)


def _rides(work: Work, head: str) -> str | None:
    """The modifier that stays on a head while the head itself changes stands."""
    before, after = work.start.modifiers, work.goal.modifiers
    return next((item for item, on in before.items() if on == head == after.get(item)), None)


def _ride(work: Work, kind: str, carrier: str) -> frozenset[str]:
    """The accessories that stay on a carrier while it goes from hand to hand."""
    before, after = work.start.accessories, work.goal.accessories
    on = work.start.fitted_on(kind, carrier)
    return frozenset(item for item in on if before[item] == after.get(item))


def may_be_let_go(
    kit: Kit, place: Place, stand: str, now: Moment, *, began: Moment | None, ends: Moment | None
) -> bool:
    """Whether a stand may be let go, by the rules and the sums: be it as planned, or as it was."""
    if kit.stand[stand].is_boom and now.head is not None and not now.weight_on:
        return False
    high = now.head is not None and now.height_m > worked_up_to_m(kit.stand[stand].height_min_m, place)
    if high and not _bagged(now, began, ends):
        return False
    return all(judge(rig, place).ok for rig in rigs_at(kit, stand, now))


def off_balance(stand: str, floor: Floor, kit: Kit) -> bool:
    """Whether a boom has its head on without its counterweight."""
    at = floor.stands[stand]
    return kit.stand[stand].is_boom and floor.head_on(stand) is not None and not at.weight_on


def must_be_held(stand: str, floor: Floor, goal: Floor, kit: Kit, place: Place, *, before: Floor | None) -> bool:
    """Whether somebody must hold a stand of this floor, on the way to the goal.

    ``before`` is a floor on which nobody had to: as high, and with the bags, as it was there, a
    load needs no more bags.
    """
    now = at_moment(floor, stand, 0)
    if now is None:
        return False
    began = None
    if before is not None and stand in before.stands:
        same_spot = before.stands[stand].spot == floor.stands[stand].spot
        began = at_moment(before, stand, 0 if same_spot else 1)
    return not may_be_let_go(kit, place, stand, now, began=began, ends=at_moment(goal, stand, 0))


def with_unsafe_held(floor: Floor, kit: Kit, place: Place) -> Floor:
    """The floor with every stand in hands that is not safe by itself, as a changeover finds it."""
    unsafe = {stand for stand in floor.stands if must_be_held(stand, floor, floor, kit, place, before=floor)}
    return floor._replace(in_hands=floor.in_hands | unsafe) if unsafe else floor


def _bagged(now: Moment, began: Moment | None, ends: Moment | None) -> bool:
    """Whether a high load has the bags it had, or is to have."""
    if ends is not None and now.bags >= ends.bags:
        return True
    return (
        began is not None
        and now.bags >= began.bags
        and now.height_m <= began.height_m
        and now._replace(height_m=0, bags=began.bags) == began._replace(height_m=0, weight_on=now.weight_on)
    )


def rigs_at(kit: Kit, stand: str, now: Moment) -> tuple[Rig, ...]:
    """A stand at one moment as the sums take it.

    Bags that hang in two places are judged as if all hung in each, so that gives two.
    """
    hung = sorted(now.bags)
    places: set[BagsAt] = {"far legs" if at == "far legs" else "column" for _, at in hung}
    head = kit.head[now.head] if now.head else None
    modifier = kit.modifier[now.modifier] if now.modifier else None
    small = tuple(kit.accessory[item] for item in sorted(now.accessories))
    bags = tuple(kit.bag[bag] for bag, _ in hung)
    return tuple(
        Rig(kit.stand[stand], now.height_m, head, modifier, small, bags, at, now.leg_under_load, now.weight_on)
        for at in _BAG_PLACES
        if at in places or (at == "column" and not places)
    )


def worst_at(kit: Kit, place: Place, stand: str, now: Moment) -> Verdict:
    """Return the verdict on a stand at one moment; with bags in two places, the worse of the two."""
    verdicts = (judge(rig, place) for rig in rigs_at(kit, stand, now))
    return min(verdicts, key=lambda verdict: (verdict.ok, verdict.lean_deg))
