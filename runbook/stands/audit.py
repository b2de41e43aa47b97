"""Findings on stands and panels, before anyone is on the clock."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace

from runbook.model.day import Plan
from runbook.model.problems import Level, Problem
from runbook.model.setup import Setup
from runbook.model.units import figure, force, mass, speed
from runbook.stands.flash_rate import flash_problems
from runbook.stands.lifting import lift_problems, reach_problems
from runbook.stands.mains import battery_problems, circuit_problems, mains_problems
from runbook.stands.remedy import BagPlan, plan_bags, stable_arrangement
from runbook.stands.rig import Rig, rig_of
from runbook.stands.stability import WARN_FACTOR
from runbook.stands.verdict import PanelVerdict, Verdict, is_stable, judge, judge_panels
from runbook.stands.verdict_text import (
    at_least_text,
    bag_names,
    bag_place_text,
    balance_remedy,
    factor_text,
    lean_text,
    load_text,
    panel_remedy,
    tip_remedy,
    turn_text,
)
from runbook.stands.wind import WindLimits, beaufort, gust_of, limit_text, wind_source_text

# A lean that differs by less is shown the same.
_SHOWN_DEG = 0.1


def audit_stands(plan: Plan) -> tuple[Problem, ...]:
    """Return every problem of stands, panels, bags, wind, lifts, mains and flashes.

    In the day's order; then what concerns the whole day. Raises KeyError when a setup names a
    thing that the kit lacks.
    """
    problems: list[Problem] = []
    for setup in plan.order:
        rigs: dict[str, Rig] = {}
        for rig in (rig_of(plan.kit, light) for light in setup.lights):
            if rig.stand.is_boom and not (rig.stand.arm_m and rig.stand.arm_back_m):
                problems.append(_no_arm(setup, rig))
            else:
                rigs[rig.stand.id] = rig
        bags = _bag_plan(plan, setup, rigs)
        for rig in rigs.values():
            problems += _stand_problems(plan, setup, rig, bags)
        problems += _bag_problems(plan, setup, bags)
        for panel in judge_panels(plan, setup):
            problems += _panel_problems(plan, setup, panel)
        problems += mains_problems(plan, setup)
        problems += flash_problems(setup)
    return (*problems, *_unknown_panels(plan), *lift_problems(plan), *circuit_problems(plan), *battery_problems(plan))


def _no_arm(setup: Setup, rig: Rig) -> Problem:
    what = "balance unknown: the kit has no arm lengths for this boom"
    do = "measure arm_m (pivot to head) and arm_back_m (pivot to counterweight) for the kit"
    return Problem("stop", "boom-without-arm", setup.id, rig.stand.id, what, do)


def _bag_plan(plan: Plan, setup: Setup, rigs: Mapping[str, Rig]) -> BagPlan:
    """Return which bags of the kit, those on panels aside, go on which stand of a setup."""
    taken = {bag for placed in setup.panels for bag in placed.bags}
    taken |= {bag.id for rig in rigs.values() for bag in rig.bags}
    return plan_bags(rigs, [bag for bag in plan.kit.bags if bag.id not in taken], plan.day.place)


def _stand_problems(plan: Plan, setup: Setup, rig: Rig, bags: BagPlan) -> Iterator[Problem]:
    verdict = judge(rig, plan.day.place)
    if not is_stable(verdict):
        yield _tipping(plan, setup, rig, verdict, bags)
    yield from _turned(plan, setup, rig, verdict)
    yield from _loads(plan, setup, rig, verdict)
    yield from _wind_problems(plan, setup, verdict.stand, verdict.wind)
    yield from reach_problems(plan, setup, rig)


def _tipping(plan: Plan, setup: Setup, rig: Rig, verdict: Verdict, bags: BagPlan) -> Problem:
    place, units, stand = plan.day.place, plan.day.units, verdict.stand
    bagged = bags.rigs.get(stand) if stand not in bags.lacks_kg else None
    do = tip_remedy(rig, place, bagged, units)
    level: Level = "stop"
    code, what = "stand-tips", factor_text(verdict, WARN_FACTOR)
    if "lean" in verdict.faults:
        what = lean_text(verdict, place)
        if verdict.lean_deg > 0:
            what += f"; a push of {force(verdict.push_n, units)} at the load is enough"
    elif "factor" not in verdict.faults:
        level, code = "warn", "stand-barely-stands"
    return Problem(level, code, setup.id, stand, what, do)


def _turned(plan: Plan, setup: Setup, rig: Rig, verdict: Verdict) -> Iterator[Problem]:
    """Bags at the far legs whose figures hold for another turn than the checklist's."""
    if rig.bags_at != "far legs" or not rig.bags or rig.leg_under_load:
        return
    place, other = plan.day.place, replace(rig, leg_under_load=True)
    turned = judge(other, place)
    if turned.lean_deg > verdict.lean_deg - _SHOWN_DEG:
        return
    turn = turn_text(rig.stand.legs, rig.leg_under_load, rig.bags_at)
    do = f"turn it with {turn}, as the steps say"
    if (stable := stable_arrangement(other, place)) is not None:
        do += f"; or write leg_under_load = true and hang its bags {bag_place_text(stable)}"
    what = f"tips at {verdict.lean_deg:.1f}° with {turn}, but at {turned.lean_deg:.1f}° with one leg under the load"
    yield Problem("note" if is_stable(turned) else "warn", "far-legs-turn", setup.id, rig.stand.id, what, do)


def _loads(plan: Plan, setup: Setup, rig: Rig, verdict: Verdict) -> Iterator[Problem]:
    units, stand = plan.day.units, verdict.stand
    if "load" in verdict.faults:
        over = at_least_text(verdict.load_kg - verdict.load_max_kg, units)
        do = f"take {over} off it, or use a heavier stand"
        yield Problem("stop", "stand-overloaded", setup.id, stand, load_text(verdict, units), do)
    needed, given = verdict.counterweight_needed_kg, rig.stand.counterweight_kg
    if needed is not None and "balance" in verdict.faults:
        small = given < needed
        level: Level = "stop" if small else "warn"
        code = "counterweight-small" if small else "counterweight-large"
        what = f"counterweight {mass(given, units, 'g')}, needs {mass(needed, units, '.1f')}"
        yield Problem(level, code, setup.id, stand, what, balance_remedy(rig, plan.day.place, units))


def _wind_problems(plan: Plan, setup: Setup, item: str, limits: WindLimits) -> Iterator[Problem]:
    gust, units = gust_of(plan.day.place), plan.day.units
    if gust <= limits.watch:
        return
    level: Level = "note"
    code, do = "wind-watch", "above 60 % of its limit: name a person to watch the wind"
    if gust > limits.limit:
        level, code, do = "stop", "wind-past-limit", "take it down, lower it, or tie it"
    elif gust > limits.act:
        level, code, do = "warn", "wind-act", "above 80 % of its limit: put a person on it, or lower it"
    what = (
        f"{wind_source_text(plan.day.place)} of {speed(gust, units)} ({beaufort(gust).name}); limit "
        f"{figure(limit_text(limits.limit, units))}, tips at {limit_text(limits.tips, units)}"
    )
    yield Problem(level, code, setup.id, item, what, do)


def _panel_problems(plan: Plan, setup: Setup, panel: PanelVerdict) -> Iterator[Problem]:
    if "lean" in panel.faults:
        do = panel_remedy(replace(panel, faults=("lean",)), plan.day.units)
        yield Problem("stop", "panel-tips", setup.id, panel.panel, lean_text(panel, plan.day.place), do)
    if panel.wind is not None:
        yield from _wind_problems(plan, setup, panel.panel, panel.wind)


def _unknown_panels(plan: Plan) -> Iterator[Problem]:
    """Yield one warning for each panel the day uses whose feet or mass the kit does not give."""
    units = plan.day.units
    seen: set[str] = set()
    for panel in (panel for setup in plan.order for panel in judge_panels(plan, setup)):
        missing = [fault for fault in ("feet", "mass") if fault in panel.faults]
        if panel.panel in seen or not missing:
            continue
        seen.add(panel.panel)
        what = f"{' and '.join(missing)} unknown: it may not stand by itself"
        if panel.gust_ms > 0:
            what += f"; a wind of {speed(panel.gust_ms, units)} pushes it with {force(panel.wind_push_n, units)}"
        yield Problem("warn", "panel-feet-unknown", None, panel.panel, what, panel_remedy(panel, units))


def _bag_problems(plan: Plan, setup: Setup, bags: BagPlan) -> Iterator[Problem]:
    """The bags shared over the stands of a setup: too few of them, or wanted on other stands."""
    units = plan.day.units
    shares = ", ".join(f"{bag_names(rig.bags, units)} to {stand}" for stand, rig in bags.rigs.items() if rig.bags)
    if bags.lacks_kg:
        short = at_least_text(sum(bags.lacks_kg.values()), units)
        lacks = ", ".join(f"{at_least_text(kg, units)} on {stand}" for stand, kg in bags.lacks_kg.items())
        what = f"bags in the kit are {short} short: {lacks}" + (f", with {shares}" if shares else "")
        if not bags.least:
            what += " (the best sharing tried)"
        do = f"bring {short} more in bags, or lower or lighten a stand"
        yield Problem("stop", "bags-too-few", setup.id, None, what, do)
    elif bags.anew:
        what = "the free bags are not enough; with those on other stands they are"
        yield Problem("note", "bags-shared-anew", setup.id, None, what, f"hang {shares}")
