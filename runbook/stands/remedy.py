"""Remedies for a stand that tips: bags by name, a lower height, a counterweight.

Nothing is advised before it is judged: a remedy that breaks another limit is not one.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from runbook.model.day import Place
from runbook.model.kit import Bag
from runbook.stands.bags import share_bags
from runbook.stands.rig import Rig, arm_loads, bags_kg, balance_kg, counterweight_needed_kg, turning_kgm
from runbook.stands.verdict import is_stable, judge

# A mass missing that no scale on a set shows.
_SHOWN_KG = 0.05
# Heights are given to a centimetre.
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
    emptied = {stand: replace(rig, bags=()) for stand, rig in rigs.items()}
    hung = [bag for rig in rigs.values() for bag in rig.bags]
    anew = _shared(emptied, [*free, *hung], place)
    if sum(anew.lacks_kg.values()) >= sum(first.lacks_kg.values()) - _SHOWN_KG:
        return first
    changed = {
        stand: rig
        for stand, rig in anew.rigs.items()
        if set(rig.bags) != set(rigs[stand].bags) or rig.bags_at != rigs[stand].bags_at
    }
    return BagPlan(changed, anew.lacks_kg, anew.least, anew=True)


def _shared(rigs: Mapping[str, Rig], bags: Sequence[Bag], place: Place) -> BagPlan:
    """Return the bags shared over these stands, on top of what hangs there."""
    at_column: set[str] = set()
    while True:
        placed = {stand: replace(rig, bags_at="column") if stand in at_column else rig for stand, rig in rigs.items()}
        needs = {stand: judge(rig, place).bags_needed_kg for stand, rig in placed.items()}
        # no mass helps there: it is not the bags that are missing
        lacking = {stand: max(0.0, need - bags_kg(rigs[stand])) for stand, need in needs.items() if need is not None}
        sharing = share_bags(list(lacking.values()), [bag.mass_kg for bag in bags])
        bagged = {
            stand: replace(placed[stand], bags=(*placed[stand].bags, *(bags[n] for n in given)))
            for stand, given in zip(lacking, sharing.given, strict=True)
        }
        lacks = {stand: kg for stand, kg in zip(lacking, sharing.short_kg, strict=True) if kg > _SHOWN_KG}
        tips = {stand for stand, rig in (placed | bagged).items() if not is_stable(judge(rig, place))}
        fails = {stand for stand in tips - lacks.keys() if placed[stand].bags_at == "far legs"}
        if not fails:
            good = {stand: rig for stand, rig in bagged.items() if stand in lacks or stand not in tips}
            return BagPlan(good, lacks, sharing.least)
        at_column |= fails


def stable_arrangement(rig: Rig, place: Place) -> Rig | None:
    """Return the same stand with its bags elsewhere or its legs turned, where that makes it stand."""
    ways = (
        replace(rig, bags_at="column"),
        replace(rig, leg_under_load=True),
        replace(rig, bags_at="column", leg_under_load=True),
        replace(rig, bags_at="far legs", leg_under_load=True),
    )
    return next((way for way in ways if is_stable(judge(way, place))), None)


def stable_height_m(rig: Rig, place: Place) -> float | None:
    """Return the greatest height at which it stands with the bags it has; None where none is low enough."""

    def holds(height_m: float) -> bool:
        return is_stable(judge(replace(rig, height_m=height_m), place))

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
    """Return the same boom with the counterweight that balances it. Raises ValueError without an arm."""
    needed = counterweight_needed_kg(rig)
    if needed is None:
        return rig
    return replace(rig, stand=replace(rig.stand, counterweight_kg=needed), counterweight_on=needed > 0)


def counterweight_slide_m(rig: Rig) -> float | None:
    """Return where the counterweight of a boom balances it, in from its end; None where nowhere does.

    The load stays as it is and its offset goes, so no limit is nearer than before.
    """
    needed, hung = counterweight_needed_kg(rig), rig.stand.counterweight_kg
    if needed is None or hung <= needed or turning_kgm(arm_loads(rig)) <= 0:
        return None
    return balance_kg(arm_loads(rig), 1.0) / hung
