"""Remedies for stands and panels that tip: bags by name, a lower height, a counterweight.

Nothing is advised before it is judged: a remedy that breaks another limit is not one.

Bags are shared so that the least mass is missing, in whole grams: a need is rounded up and a bag
down. Where the counts of equal bags allow few enough loads, every sharing is searched. Else the
heaviest bag goes where most is missing; then bags are moved and swapped while that helps.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import product
from math import ceil, floor, prod

from runbook.model.day import Place
from runbook.model.kit import Bag
from runbook.model.units import Units, force, length, mass, speed
from runbook.stands import verdict_text as texts
from runbook.stands.lifting import HELD_OUT_KG
from runbook.stands.statics import Rig, arm_loads, bags_kg, balance_kg, counterweight_needed_kg, turning_kgm
from runbook.stands.verdict import PanelVerdict, Verdict, is_stable, judge
from runbook.stands.wind import limit_text

# A mass missing that no scale on a set shows.
_SHOWN_KG = 0.05


@dataclass(frozen=True, slots=True)
class BagPlan:
    """The stands whose bags change, each with all the bags it is to have.

    ``lacks_kg`` are the stands that the bags at hand do not hold, and the mass missing on each;
    ``least`` is whether no other sharing leaves less missing. ``again`` is true where bags that
    hang on one stand are wanted on another.
    """

    rigs: Mapping[str, Rig]
    lacks_kg: Mapping[str, float]
    least: bool = True
    again: bool = False


def plan_bags(rigs: Mapping[str, Rig], free: Sequence[Bag], place: Place) -> BagPlan:
    """Return which bags to hang where, so that every stand holds with what is wanted in hand.

    First the free bags go to the stands that lack some; where those are too few, all bags are
    shared again. A stand that no bag at hand can hold at the far legs gets its bags at the column.
    """
    short = {stand: rig for stand, rig in rigs.items() if not is_stable(judge(rig, place))}
    first = _shared(short, free, place)
    if not first.lacks_kg:
        return first
    # a stand that no mass holds keeps its bags
    emptied = {stand: replace(rig, bags=()) for stand, rig in rigs.items() if _bags_help(rig, place)}
    again = _shared(emptied, [*free, *(bag for stand in emptied for bag in rigs[stand].bags)], place)
    if sum(again.lacks_kg.values()) >= sum(first.lacks_kg.values()) - _SHOWN_KG:
        return first

    def bags_of(rig: Rig) -> tuple[set[Bag], str]:
        return set(rig.bags), rig.bags_at

    changed = {stand: rig for stand, rig in again.rigs.items() if bags_of(rig) != bags_of(rigs[stand])}
    return replace(again, rigs=changed, again=True)


def _bags_help(rig: Rig, place: Place) -> bool:
    return any(judge(way, place).bags_needed_kg is not None for way in (rig, replace(rig, bags_at="column")))


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
        tips = {stand for stand, rig in (placed | bagged).items() if not is_stable(judge(rig, place))}
        short = dict(zip(lacking, sharing.short_kg, strict=True))
        lacks = {stand: kg for stand, kg in short.items() if kg > 0 and stand in tips}
        fails = {stand for stand in tips - lacks.keys() if placed[stand].bags_at == "far legs"}
        if not fails:
            return BagPlan(bagged, lacks, sharing.least)
        at_column |= fails


def stable_arrangement(rig: Rig, place: Place) -> Rig | None:
    """Return the same stand with its bags elsewhere or its legs turned, where that makes it stand.

    None for a stand that holds a panel: a setup's file has no key for either.
    """
    if rig.sail is not None:
        return None
    ways = (
        replace(rig, bags_at="column"),
        replace(rig, leg_under_load=True),
        replace(rig, bags_at="column", leg_under_load=True),
        replace(rig, bags_at="far legs", leg_under_load=True),
    )
    return next((way for way in ways if is_stable(judge(way, place))), None)


def stable_height_m(rig: Rig, place: Place) -> float | None:
    """Return the greatest height, in whole centimetres, at which it stands with the bags it has; None for none."""
    heights = range(ceil(rig.stand.height_min_m * 100 - 1e-6), floor(rig.height_m * 100 + 1e-6) + 1)
    # from the first of them on it tips
    first = bisect_left(heights, True, key=lambda cm: not is_stable(judge(replace(rig, height_m=cm / 100), place)))
    return heights[first - 1] / 100 if first else None


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


def balance_remedy(rig: Rig, place: Place, units: Units = "metric") -> str:
    """Return how to balance a boom, held against the load, the lean and the wind it would then have."""
    if turning_kgm(arm_loads(rig)) < 0:
        return "shorten the back of the arm: it is heavier than the head side"
    other, slide_m, hung = balanced(rig), counterweight_slide_m(rig), mass(rig.stand.counterweight_kg, units)
    would = judge(other, place)
    slide = "" if slide_m is None else f"slide the {hung} in to {length(slide_m, units, '.2f')}"
    if "load" in would.faults:
        if slide and "load" not in judge(rig, place).faults:
            return slide
        return f"use a heavier stand or a shorter arm: balanced, it {texts.load_text(would, units)}"
    if not is_stable(would) and would.bags_needed_kg is None:
        return "use a wider stand or a shorter arm: balanced, it would still tip"
    do = f"hang {mass(other.stand.counterweight_kg, units, '.1f')} at {length(rig.stand.arm_back_m or 0.0, units, 'g')}"
    if not is_stable(would):
        do += f" and {texts.bags_needed_text(would, units)} of bags {texts.bag_place_text(other)}"
    if "wind" in would.faults:
        do += f"; it then takes gusts to {limit_text(would.wind_limit_ms, units)}"
    return f"{do}, or {slide}" if slide else do


def tip_remedy(rig: Rig, place: Place, bagged: Rig | None, units: Units = "metric") -> str:
    """Return how to make a stand stand that tips; ``bagged`` is the same with the bags it is to have."""
    verdict, ways = judge(rig, place), []
    if "balance" in verdict.faults and _is_sound(judge(balanced(rig), place)):
        ways.append("balance the boom first")
    elif bagged is not None:
        needed = texts.bags_needed_text(judge(bagged, place), units)
        ways.append(f"hang {texts.bag_names(bagged.bags, units)} {texts.bag_place_text(bagged)} ({needed} needed)")
    elif (other := stable_arrangement(rig, place)) is not None:
        moved = f"hang its bags {texts.bag_place_text(other)}" if other.bags_at != rig.bags_at else ""
        turned = f"turn it with {texts.rig_turn_text(other)}" if other.leg_under_load != rig.leg_under_load else ""
        ways.append(" and ".join(filter(None, (moved, turned))))
    low = stable_height_m(rig, place)
    if low is not None:
        ways.append(f"lower it to {length(low, units, '.2f')}")
    if ways:
        return ", or ".join(ways)
    if verdict.bags_needed_kg is None or verdict.bags_needed_kg <= verdict.bags_kg:
        return "no bag and no height holds it: lighten it, or use a wider stand"
    return f"bring bags: it needs {texts.bags_needed_text(verdict, units)} in total {texts.bag_place_text(rig)}"


def _is_sound(verdict: Verdict) -> bool:
    return is_stable(verdict) and "load" not in verdict.faults


def panel_remedy(panel: PanelVerdict, units: Units = "metric") -> str:
    """Return what to do about a panel that is not ok; empty for one that is."""
    keys = {"mass": "mass_kg", "feet": "foot_radius_m"}
    missing = [key for fault, key in keys.items() if fault in panel.faults]
    opened = "" if panel.open_deg is None else "open it nearer to 90°, its lower edge on the floor"
    if missing:
        do = f"put a person on it or tie it; measure {' and '.join(missing)} for the kit"
        return f"{do}, or {opened}" if opened and "feet" in panel.faults else do
    if "wind" in panel.faults:
        return "take it down, or tie it"
    if "lean" not in panel.faults:
        return ""
    if panel.bags_needed_kg is None:
        return opened or "lower it, or put it on wider feet"
    return f"hang {texts.at_least_text(panel.bags_needed_kg, units)} in total on its feet, or lower it"


def panel_lines(panel: PanelVerdict, units: Units = "metric") -> tuple[str, ...]:
    """Return everything to know about a panel as it stands, a line for each thing."""
    pushed = ""
    if panel.gust_ms > 0:
        push, at = force(panel.wind_push_n, units), length(panel.height_m, units)
        pushed = f"gusts of {speed(panel.gust_ms, units)} push it with {push} at {at}"
    tips = f"tips at {panel.lean_deg:.1f}° of lean" if panel.lean_deg is not None else ""
    if panel.held_by is None:
        limit = texts.panel_limit_text(panel, units)
    else:
        heavy, most = mass(panel.mass_kg, units), mass(HELD_OUT_KG, units, "g")
        limit = f"{panel.held_by} holds {heavy}; one person holds {most} for long"
    lines = panel_remedy(panel, units), tips, pushed, limit
    return tuple(line for line in lines if line)


# -- sharing bags ----------------------------------------------------------------------------------

# How many (stand, bags left, load) triples are searched at most; beyond that the swaps decide.
_SEARCHED = 40_000
_NOWHERE = -1
# A sharing is judged by the grams missing, then the bags used, then the grams hung.
_Cost = tuple[int, int, int]


@dataclass(frozen=True, slots=True)
class Sharing:
    """For each stand the bags it gets, as indices into the list of bags, and what it still lacks.

    ``least`` is whether no other sharing leaves less missing in total.
    """

    given: tuple[tuple[int, ...], ...]
    short_kg: tuple[float, ...]
    least: bool


def share_bags(needs_kg: Sequence[float], bags_kg: Sequence[float]) -> Sharing:
    """Return the bags for each stand: least missing, then fewest bags, then lightest.

    A stand gains nothing from more than it needs, and no bag hangs needlessly.
    """
    needs = [max(0, ceil(need * 1000 - 1e-6)) for need in needs_kg]
    bags = [floor(bag * 1000 + 1e-6) for bag in bags_kg]
    counts = [bags.count(kind) for kind in set(bags)]
    exact = len(needs) * prod(count + 1 for count in counts) ** 2 <= _SEARCHED
    stands = _searched(needs, bags) if exact else _improved(needs, bags)
    given = tuple(tuple(n for n, at in enumerate(stands) if at == stand) for stand in range(len(needs)))
    missing = _cost(needs, bags, stands)[0]
    short = tuple(max(0.0, need - sum(bags_kg[n] for n in mine)) for need, mine in zip(needs_kg, given, strict=True))
    return Sharing(given, short, exact or missing <= max(0, sum(needs) - sum(bags)))


def _cost(needs: Sequence[int], bags: Sequence[int], stands: Sequence[int]) -> _Cost:
    """Return the cost of a sharing, given the stand of each bag."""
    lacks, hung = [*needs, 0], 0
    for bag, stand in zip(bags, stands, strict=True):
        lacks[stand] -= bag
        hung += bag if stand != _NOWHERE else 0
    return sum(lack for lack in lacks[:-1] if lack > 0), len(bags) - stands.count(_NOWHERE), hung


def _searched(needs: Sequence[int], bags: Sequence[int]) -> list[int]:
    """Return the stand of each bag in the best of all sharings, stand by stand over counts of equal bags."""
    kinds = sorted(set(bags), reverse=True)
    loads: dict[tuple[int, ...], tuple[_Cost, tuple[tuple[int, ...], ...]]] = {
        tuple(bags.count(kind) for kind in kinds): ((0, 0, 0), ())
    }
    for need in needs:
        longer: dict[tuple[int, ...], tuple[_Cost, tuple[tuple[int, ...], ...]]] = {}
        for left, ((missing, used, hung), before) in loads.items():
            for load in product(*(range(have + 1) for have in left)):
                mass = sum(kind * n for kind, n in zip(kinds, load, strict=True))
                lightest = min((kind for kind, n in zip(kinds, load, strict=True) if n), default=0)
                if lightest and mass - lightest >= need:
                    continue
                cost = (missing + max(0, need - mass), used + sum(load), hung + mass)
                rest = tuple(have - n for have, n in zip(left, load, strict=True))
                longer[rest] = min((cost, (*before, load)), longer.get(rest, (cost, (*before, load))))
        loads = longer
    _, best = min(loads.values())
    at = {kind: [stand for stand, load in enumerate(best) for _ in range(load[n])] for n, kind in enumerate(kinds)}
    return [at[bag].pop(0) if at[bag] else _NOWHERE for bag in bags]


def _improved(needs: Sequence[int], bags: Sequence[int]) -> list[int]:
    """Return the stand of each bag, moved and swapped for as long as that makes the sharing better."""
    lacks, stands = list(needs), [_NOWHERE] * len(bags)
    for n in sorted(range(len(bags)), key=lambda n: -bags[n]):
        if max(lacks) > 0:
            stands[n] = lacks.index(max(lacks))
            lacks[stands[n]] -= bags[n]
    least: _Cost | None = None
    while least is None or _cost(needs, bags, stands) < least:
        least = _cost(needs, bags, stands)
        better = (other for other in _neighbours(stands, len(needs)) if _cost(needs, bags, other) < least)
        stands = next(better, stands)
    return stands


def _neighbours(stands: list[int], count: int) -> Iterator[list[int]]:
    """Yield every sharing that differs by one bag moved or two bags swapped."""
    for n, here in enumerate(stands):
        yield from ([*stands[:n], there, *stands[n + 1 :]] for there in range(_NOWHERE, count) if there != here)
        for m in range(n):
            if stands[m] != here:
                yield [*stands[:m], here, *stands[m + 1 : n], stands[m], *stands[n + 1 :]]
