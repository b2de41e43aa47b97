"""What the stands and panels cannot bear, or should not, before anyone is on the clock."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace

from runbook.model.day import Plan
from runbook.model.problems import Level, Problem
from runbook.model.setup import Light, Setup
from runbook.model.units import figure, force, mass, speed
from runbook.stands.lifting import lift_problems, reach_of
from runbook.stands.mains import battery_problems, circuit_problems, flash_problems, mains_problems
from runbook.stands.remedy import BagPlan, plan_bags, stable_arrangement
from runbook.stands.rig import Rig, rig_of
from runbook.stands.stability import WARN_FACTOR
from runbook.stands.verdict import PanelVerdict, Verdict, is_stable, judge, judge_panels
from runbook.stands.verdict_text import (
    at_least_text,
    bag_names,
    bag_place_text,
    balance_remedy,
    panel_remedy,
    tip_remedy,
    turn_text,
)
from runbook.stands.wind import WindLimits, beaufort, gust_of, limit_text, wind_source_text

# A lean that differs by less is shown the same.
_SHOWN_DEG = 0.1


def audit_stands(plan: Plan) -> tuple[Problem, ...]:
    """Every problem of stands, panels, bags, wind, lifts, mains and flashes.

    In the day's order; then what concerns the whole day. Raises KeyError when a setup names a
    thing that the kit lacks.
    """
    problems: list[Problem] = []
    for setup in plan.order:
        rigs: dict[str, tuple[Light, Rig]] = {}
        for light in setup.lights:
            rig = rig_of(plan.kit, light)
            if rig.stand.is_boom and not (rig.stand.arm_m and rig.stand.arm_back_m):
                problems.append(_no_arm(setup, rig))
            else:
                rigs[rig.stand.id] = light, rig
        bags = _bag_plan(plan, setup, {stand: rig for stand, (_, rig) in rigs.items()})
        for light, rig in rigs.values():
            problems += _of_stand(plan, setup, light, rig, bags)
        problems += _bags(plan, setup, bags)
        for panel in judge_panels(plan, setup):
            problems += _of_panel(plan, setup, panel)
        problems += mains_problems(plan, setup)
        problems += flash_problems(setup)
    return (*problems, *_unknown_panels(plan), *lift_problems(plan), *circuit_problems(plan), *battery_problems(plan))


def _no_arm(setup: Setup, rig: Rig) -> Problem:
    return Problem(
        "stop",
        "boom-without-arm",
        setup.id,
        rig.stand.id,
        "a boom's balance cannot be worked out without its arm",
        "measure arm_m (pivot to head) and arm_back_m (pivot to counterweight) for the kit",
    )


def _bag_plan(plan: Plan, setup: Setup, rigs: Mapping[str, Rig]) -> BagPlan:
    """Which bags of the kit, those on panels aside, go on which stand of a setup."""
    taken = {bag for placed in setup.panels for bag in placed.bags}
    taken |= {bag.id for rig in rigs.values() for bag in rig.bags}
    free = [bag for bag in plan.kit.bags if bag.id not in taken]
    return plan_bags(rigs, free, plan.day.place)


def _of_stand(plan: Plan, setup: Setup, light: Light, rig: Rig, bags: BagPlan) -> Iterator[Problem]:
    verdict = judge(rig, plan.day.place)
    yield from _upright(plan, setup, rig, verdict, bags)
    yield from _turned(plan, setup, light, rig)
    yield from _loaded(plan, setup, verdict)
    yield from _balanced(plan, setup, rig, verdict)
    yield from _in_wind(plan, setup, verdict.stand, verdict.wind)
    yield from _in_reach(plan, setup, rig)


def _upright(plan: Plan, setup: Setup, rig: Rig, verdict: Verdict, bags: BagPlan) -> Iterator[Problem]:
    if is_stable(verdict):
        return
    place, units, stand = plan.day.place, plan.day.units, verdict.stand
    hung = bags.rigs.get(stand) if stand not in bags.lacks_kg else None
    do = tip_remedy(rig, place, hung, units)
    if "lean" in verdict.faults:
        what = (
            f"tips at a lean of {verdict.lean_deg:.1f} deg, {place.tilt_limit_deg:g} required; "
            f"a push of {force(verdict.push_n, units)} at the load is enough"
            if verdict.lean_deg > 0
            else "it falls by itself"
        )
        yield Problem("stop", "stand-tips", setup.id, stand, what, do)
        return
    stops = "factor" in verdict.faults
    yield Problem(
        "stop" if stops else "warn",
        "stand-tips" if stops else "stand-barely-stands",
        setup.id,
        stand,
        f"what holds it is {verdict.factor or 0.0:.2f} times what tips it, {WARN_FACTOR} required",
        do,
    )


def _turned(plan: Plan, setup: Setup, light: Light, rig: Rig) -> Iterator[Problem]:
    """Bags at the far legs whose figures hold for another turn than the checklist's."""
    if light.bags_at != "far legs" or not light.bags or light.leg_under_load:
        return
    place = plan.day.place
    planned, turned = judge(rig, place), judge(rig._replace(leg_under_load=True), place)
    if turned.lean_deg > planned.lean_deg - _SHOWN_DEG:
        return
    turn = turn_text(rig.stand.legs, rig.leg_under_load, rig.bags_at)
    do = f"turn it with {turn}, as the steps say"
    other = stable_arrangement(rig._replace(leg_under_load=True), place)
    if other is not None:
        do += f"; or write leg_under_load = true and hang its bags {bag_place_text(other)}"
    yield Problem(
        "note" if is_stable(turned) else "warn",
        "far-legs-turn",
        setup.id,
        rig.stand.id,
        f"{planned.lean_deg:.1f} deg of lean with {turn}; turned with one leg under the load its "
        f"bags hang to one side, and it takes {turned.lean_deg:.1f}",
        do,
    )


def _loaded(plan: Plan, setup: Setup, verdict: Verdict) -> Iterator[Problem]:
    if "load" not in verdict.faults:
        return
    units, load, most = plan.day.units, verdict.load_kg, verdict.load_max_kg
    yield Problem(
        "stop",
        "stand-overloaded",
        setup.id,
        verdict.stand,
        f"carries {mass(load, units, '.1f')} of {mass(most, units, 'g')} allowed",
        f"take {at_least_text(load - most, units)} off it, or use a heavier stand",
    )


def _balanced(plan: Plan, setup: Setup, rig: Rig, verdict: Verdict) -> Iterator[Problem]:
    needed, units = verdict.counterweight_needed_kg, plan.day.units
    if needed is None or "balance" not in verdict.faults:
        return
    given = rig.stand.counterweight_kg
    small = given < needed
    yield Problem(
        "stop" if small else "warn",
        "counterweight-small" if small else "counterweight-large",
        setup.id,
        verdict.stand,
        f"counterweight {mass(given, units, 'g')}, needs {mass(needed, units, '.1f')}",
        balance_remedy(rig, plan.day.place, units),
    )


def _in_wind(plan: Plan, setup: Setup, item: str, limits: WindLimits) -> Iterator[Problem]:
    gust, units = gust_of(plan.day.place), plan.day.units
    if gust <= limits.watch:
        return
    what = (
        f"{wind_source_text(plan.day.place)} of {speed(gust, units)} ({beaufort(gust).name}); its limit is "
        f"{figure(limit_text(limits.limit, units))}, it tips at {limit_text(limits.tips, units)}"
    )
    level: Level = "note"
    code, do = "wind-watch", "past 60 % of its limit: name somebody to watch the wind"
    if gust > limits.limit:
        level, code, do = "stop", "wind-past-limit", "take it down, lower it, or tie it"
    elif gust > limits.act:
        level, code, do = "warn", "wind-act", "past 80 % of its limit: a person on it, or lower it"
    yield Problem(level, code, setup.id, item, what, do)


def _of_panel(plan: Plan, setup: Setup, panel: PanelVerdict) -> Iterator[Problem]:
    units = plan.day.units
    if "lean" in panel.faults:
        what = f"tips at a lean of {panel.lean_deg or 0.0:.1f} deg, {plan.day.place.tilt_limit_deg:g} required"
        only_lean = replace(panel, faults=("lean",))
        yield Problem("stop", "panel-tips", setup.id, panel.panel, what, panel_remedy(only_lean, units))
    if panel.wind is not None:
        yield from _in_wind(plan, setup, panel.panel, panel.wind)


def _unknown_panels(plan: Plan) -> Iterator[Problem]:
    """Panels that the day uses and whose feet or mass the kit does not give: one warning each."""
    seen: set[str] = set()
    for setup in plan.order:
        for panel in judge_panels(plan, setup):
            if panel.panel in seen or not {"feet", "mass"} & set(panel.faults):
                continue
            seen.add(panel.panel)
            missing = " and ".join(
                name for fault, name in (("feet", "feet"), ("mass", "mass")) if fault in panel.faults
            )
            blown = ""
            if panel.gust_ms > 0:
                blown = (
                    f"; {speed(panel.gust_ms, plan.day.units)} push it with {force(panel.wind_push_n, plan.day.units)}"
                )
            yield Problem(
                "warn",
                "panel-feet-unknown",
                None,
                panel.panel,
                f"its {missing} unknown: nothing says that it stands by itself{blown}",
                panel_remedy(panel, plan.day.units),
            )


def _in_reach(plan: Plan, setup: Setup, rig: Rig) -> Iterator[Problem]:
    reach = reach_of(rig.stand, rig.height_m, plan.day.place.reach_m, plan.day.units)
    if reach.how == "use a step":
        yield Problem(
            "warn",
            "over-reach",
            setup.id,
            rig.stand.id,
            reach.why,
            "bring a step or platform, or take a stand that comes down further",
        )


def _bags(plan: Plan, setup: Setup, bags: BagPlan) -> Iterator[Problem]:
    """The bags shared over the stands of a setup: too few of them, or wanted on other stands."""
    units = plan.day.units
    shares = ", ".join(f"{bag_names(rig.bags, units)} to {stand}" for stand, rig in bags.rigs.items() if rig.bags)
    if bags.lacks_kg:
        short = at_least_text(sum(bags.lacks_kg.values()), units)
        lacks = ", ".join(f"{at_least_text(kg, units)} on {stand}" for stand, kg in bags.lacks_kg.items())
        best = "at best" if bags.least else "in the best sharing found"
        yield Problem(
            "stop",
            "bags-too-few",
            setup.id,
            None,
            f"the bags at hand leave {short} missing {best}: {lacks}" + (f", with {shares}" if shares else ""),
            f"bring {short} more in bags, or lower or lighten a stand",
        )
    elif bags.anew:
        yield Problem(
            "note",
            "bags-shared-anew",
            setup.id,
            None,
            "the free bags are too few, those on the other stands are enough",
            f"hang {shares}",
        )
