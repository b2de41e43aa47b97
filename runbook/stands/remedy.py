"""What makes a stand stand: bags by name, a lower height, a counterweight.

Nothing is advised before it is judged: a remedy that breaks another limit is not one.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from runbook.model.day import Place
from runbook.model.kit import Bag
from runbook.stands.bags import Sharing, share_bags
from runbook.stands.rig import Rig, arm_loads, bags_kg, balance_kg, counterweight_needed_kg, turning_kgm
from runbook.stands.verdict import is_stable, judge

# A mass missing that no scale on a set shows.
_SHOWN_KG = 0.05
# How far apart two heights are that are told apart here.
_HEIGHT_M = 0.01


@dataclass(frozen=True, slots=True)
class BagPlan:
    """The stands whose bags change, each with all the bags it is to have.

    ``lacks_kg`` are the stands that the bags at hand do not hold, and the mass missing on each;
    ``least`` is whether no other sharing leaves less missing. ``anew`` is true where bags that
    hang on one stand are wanted on another.
    """

    rigs: Mapping[str, Rig]
    lacks_kg: Mapping[str, float]
    least: bool = True
    anew: bool = False


def plan_bags(rigs: Mapping[str, Rig], free: Sequence[Bag], place: Place) -> BagPlan:
    """Return which bags to hang where, so that every stand holds with what is wanted in hand.

    First the free bags go to the stands that lack some; where those are too few, all bags are
    shared anew. A stand that no bag at hand can hold at the far legs gets its bags at the column.
    """
    short = {stand: rig for stand, rig in rigs.items() if not is_stable(judge(rig, place))}
    if not short:
        return BagPlan({}, {})
    first = _shared(short, free, place)
    if not first.lacks_kg:
        return first
    emptied = {stand: rig._replace(bags=()) for stand, rig in rigs.items()}
    hung = [bag for rig in rigs.values() for bag in rig.bags]
    every = _shared(emptied, [*free, *hung], place)
    if sum(every.lacks_kg.values()) >= sum(first.lacks_kg.values()) - _SHOWN_KG:
        return first
    changed = {
        stand: rig
        for stand, rig in every.rigs.items()
        if set(rig.bags) != set(rigs[stand].bags) or rig.bags_at != rigs[stand].bags_at
    }
    return BagPlan(changed, every.lacks_kg, every.least, anew=True)


def _shared(rigs: Mapping[str, Rig], bags: Sequence[Bag], place: Place) -> BagPlan:
    """The bags shared over these stands, on top of what hangs there."""
    at_column: set[str] = set()
    while True:
        placed = {stand: rig._replace(bags_at="column") if stand in at_column else rig for stand, rig in rigs.items()}
        needs = {stand: judge(rig, place).bags_needed_kg for stand, rig in placed.items()}
        # no mass helps there: it is not the bags that are missing
        wanted = {stand: max(0.0, need - bags_kg(rigs[stand])) for stand, need in needs.items() if need is not None}
        sharing = share_bags(list(wanted.values()), [bag.mass_kg for bag in bags])
        hung = _hung(placed, wanted, bags, sharing)
        lacks = {stand: kg for stand, kg in zip(wanted, sharing.short_kg, strict=True) if kg > _SHOWN_KG}
        fails = {
            stand
            for stand, rig in (placed | hung).items()
            if stand not in lacks and rig.bags_at == "far legs" and not is_stable(judge(rig, place))
        }
        if not fails:
            good = {stand: rig for stand, rig in hung.items() if is_stable(judge(rig, place))}
            return BagPlan(good | {s: hung[s] for s in lacks if s in hung}, lacks, sharing.least)
        at_column |= fails


def _hung(
    rigs: Mapping[str, Rig], wanted: Mapping[str, float], bags: Sequence[Bag], sharing: Sharing
) -> dict[str, Rig]:
    return {
        stand: rigs[stand]._replace(bags=rigs[stand].bags + tuple(bags[n] for n in mine))
        for stand, mine in zip(wanted, sharing.given, strict=True)
    }


def stable_arrangement(rig: Rig, place: Place) -> Rig | None:
    """The same stand with its own bags or its legs turned otherwise, where that makes it stand."""
    ways = (
        rig._replace(bags_at="column"),
        rig._replace(leg_under_load=True),
        rig._replace(bags_at="column", leg_under_load=True),
        rig._replace(bags_at="far legs", leg_under_load=True),
    )
    return next((way for way in ways if is_stable(judge(way, place))), None)


def stable_height_m(rig: Rig, place: Place) -> float | None:
    """The greatest height at which it stands with the bags it has; None where none is enough."""

    def holds(height_m: float) -> bool:
        return is_stable(judge(rig._replace(height_m=height_m), place))

    low, high = rig.stand.height_min_m, rig.height_m
    if low >= high or not holds(low):
        return None
    while high - low > _HEIGHT_M / 4:
        middle = (low + high) / 2
        low, high = (middle, high) if holds(middle) else (low, middle)
    # rounded down to what is shown
    shown = int(low / _HEIGHT_M) * _HEIGHT_M
    return shown if shown >= rig.stand.height_min_m and holds(shown) else None


def balanced(rig: Rig) -> Rig:
    """The same boom with the counterweight that balances it. Raises ValueError without an arm."""
    needed = counterweight_needed_kg(rig)
    if needed is None:
        return rig
    return rig._replace(stand=replace(rig.stand, counterweight_kg=needed), counterweight_on=needed > 0)


def counterweight_slide_m(rig: Rig) -> float | None:
    """Where the counterweight of a boom balances it, in from its end; None where nowhere does.

    The load stays as it is and its offset goes, so no limit is nearer than before.
    """
    needed, hung = counterweight_needed_kg(rig), rig.stand.counterweight_kg
    if needed is None or hung <= needed or turning_kgm(arm_loads(rig)) <= 0:
        return None
    return balance_kg(arm_loads(rig), 1.0) / hung
