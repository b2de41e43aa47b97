"""Findings on stands and panels, before anyone is on the clock.

A rule takes what it is about and yields problems; ``_STAND_RULES`` and ``_DAY_RULES`` list those
of a stand in its setup and of the day.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from math import cos, radians
from typing import Final

from runbook.model.day import Level, Plan, Problem
from runbook.model.panels import stance_of
from runbook.model.setup import Setup
from runbook.model.units import figure, force, length, mass, speed
from runbook.stands import electricity
from runbook.stands import verdict_text as texts
from runbook.stands.lifting import HELD_OUT_KG, HELD_OUT_MIN, lift_problems
from runbook.stands.remedy import BagPlan, balance_remedy, panel_remedy, plan_bags, stable_arrangement, tip_remedy
from runbook.stands.statics import WARN_FACTOR, G, Rig
from runbook.stands.verdict import PanelVerdict, Verdict, is_stable, judge, judge_panels, rigs_of
from runbook.stands.wind import BEAUFORT_NAMES, WindLimits, beaufort, gust_of, limit_text, wind_source_text

# A lean that differs by less is shown the same.
_SHOWN_DEG = 0.1


@dataclass(frozen=True, slots=True)
class _Case:
    """A stand in its setup, judged, and the bags that are to hang there."""

    plan: Plan
    setup: Setup
    rig: Rig
    verdict: Verdict
    bagged: Rig | None

    def problem(self, level: Level, code: str, what: str, do: str) -> Problem:
        """Return a problem of this stand."""
        return Problem(level, code, self.setup.id, self.verdict.stand, what, do)


def audit_stands(plan: Plan) -> tuple[Problem, ...]:
    """Return every problem of stands, panels, bags, wind, lifts, mains and flashes.

    In the day's order; then what concerns the whole day. Raises KeyError when a setup names a
    thing that the kit lacks.
    """
    problems: list[Problem] = []
    for setup in plan.order:
        rigs = rigs_of(plan.kit, setup)
        unknown = [stand for stand, rig in rigs.items() if rig.stand.is_boom and not has_arm(rig)]
        problems += [_no_arm(setup, rigs.pop(stand).stand.id) for stand in unknown]
        bags = plan_bags(rigs, [bag for bag in plan.kit.bags if bag.id not in setup.bags], plan.day.place)
        for stand, rig in rigs.items():
            bagged = bags.rigs.get(stand) if stand not in bags.lacks_kg else None
            case = _Case(plan, setup, rig, judge(rig, plan.day.place), bagged)
            for rule in _STAND_RULES:
                problems += rule(case)
        problems += _bag_problems(plan, setup, bags)
        for panel in judge_panels(plan, setup):
            problems += _panel_problems(plan, setup, panel)
        problems += _cloth_problems(plan, setup)
        problems += electricity.circuit_problems(plan, setup)
        problems += electricity.flash_problems(setup)
    for day_rule in _DAY_RULES:
        problems += day_rule(plan)
    return tuple(problems)


def has_arm(rig: Rig) -> bool:
    """Return whether the lengths of a boom's arm are known."""
    return bool(rig.stand.arm_m and rig.stand.arm_back_m)


def _no_arm(setup: Setup, stand: str) -> Problem:
    what = "balance unknown: the kit has no arm lengths for this boom"
    do = "measure arm_m (pivot to head) and arm_back_m (pivot to counterweight) for the kit"
    return Problem("stop", "boom-without-arm", setup.id, stand, what, do)


# -- one stand -----------------------------------------------------------------------------------


def _tipping(case: _Case) -> Iterator[Problem]:
    if is_stable(case.verdict):
        return
    verdict, place, units = case.verdict, case.plan.day.place, case.plan.day.units
    level: Level = "stop" if {"lean", "factor"} & set(verdict.faults) else "warn"
    what = texts.factor_text(verdict, WARN_FACTOR)
    if "lean" in verdict.faults:
        what = texts.lean_text(verdict, place)
        if verdict.lean_deg > 0:
            what += f"; a push of {force(verdict.push_n, units)} at the load is enough"
    code = "stand-tips" if level == "stop" else "stand-barely-stands"
    yield case.problem(level, code, what, tip_remedy(case.rig, place, case.bagged, units))


def _turned(case: _Case) -> Iterator[Problem]:
    """Bags at the far legs whose figures hold for another turn than the checklist's."""
    rig, place, lean = case.rig, case.plan.day.place, case.verdict.lean_deg
    if rig.bags_at != "far legs" or not rig.bags or rig.leg_under_load:
        return
    other = replace(rig, leg_under_load=True)
    turned = judge(other, place)
    if turned.lean_deg > lean - _SHOWN_DEG:
        return
    turn = texts.rig_turn_text(rig)
    do = f"turn it with {turn}, as the steps say"
    if (stable := stable_arrangement(other, place)) is not None:
        do += f"; or write leg_under_load = true and hang its bags {texts.bag_place_text(stable)}"
    what = f"tips at {lean:.1f}° with {turn}, but at {turned.lean_deg:.1f}° with one leg under the load"
    yield case.problem("note" if is_stable(turned) else "warn", "far-legs-turn", what, do)


def _overloaded(case: _Case) -> Iterator[Problem]:
    verdict, units = case.verdict, case.plan.day.units
    if "load" in verdict.faults:
        over = texts.at_least_text(verdict.load_kg - verdict.load_max_kg, units)
        do = f"take {over} off it, or use a heavier stand"
        yield case.problem("stop", "stand-overloaded", texts.load_text(verdict, units), do)


def _out_of_balance(case: _Case) -> Iterator[Problem]:
    needed, hung, units = case.verdict.counterweight_needed_kg, case.rig.stand.counterweight_kg, case.plan.day.units
    if needed is None or "balance" not in case.verdict.faults:
        return
    level: Level = "stop" if hung < needed else "warn"
    code = "counterweight-small" if hung < needed else "counterweight-large"
    what = f"counterweight {mass(hung, units, 'g')}, needs {mass(needed, units, '.1f')}"
    yield case.problem(level, code, what, balance_remedy(case.rig, case.plan.day.place, units))


def _stand_wind(case: _Case) -> Iterator[Problem]:
    yield from _wind_problems(case.plan, case.setup, case.verdict.stand, case.verdict.wind)


def _out_of_reach(case: _Case) -> Iterator[Problem]:
    """A stand that is used above reach and does not come down to it."""
    reach_m, lowest_m, units = case.plan.day.place.reach_m, case.rig.stand.height_min_m, case.plan.day.units
    if case.rig.height_m > reach_m and lowest_m > reach_m:
        lowest, over = (length(metres, units, ".2f") for metres in (lowest_m, lowest_m - reach_m))
        what = f"its lowest height, {lowest}, is {over} above reach"
        yield case.problem("warn", "over-reach", what, "use a step or platform, or a stand that comes down further")


_STAND_RULES: Final[tuple[Callable[[_Case], Iterator[Problem]], ...]] = (
    _tipping,
    _turned,
    _overloaded,
    _out_of_balance,
    _stand_wind,
    _out_of_reach,
)

# -- panels, wind and bags -----------------------------------------------------------------------


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
    source = f"{wind_source_text(plan.day.place)} of {speed(gust, units)} ({BEAUFORT_NAMES[beaufort(gust)]})"
    limit, tips = figure(limit_text(limits.limit, units)), limit_text(limits.tips, units)
    yield Problem(level, code, setup.id, item, f"{source}; limit {limit}, tips at {tips}", do)


def _panel_problems(plan: Plan, setup: Setup, panel: PanelVerdict) -> Iterator[Problem]:
    if "lean" in panel.faults:
        do = panel_remedy(replace(panel, faults=("lean",)), plan.day.units)
        yield Problem("stop", "panel-tips", setup.id, panel.panel, texts.lean_text(panel, plan.day.place), do)
    if panel.wind is not None:
        yield from _wind_problems(plan, setup, panel.panel, panel.wind)
    if panel.held_by and panel.held_by not in plan.kit.stand:
        yield from _held_out(plan, setup, panel)


def _held_out(plan: Plan, setup: Setup, panel: PanelVerdict) -> Iterator[Problem]:
    """Yield a warning for what one of the crew holds that is too heavy, or too hard in a gust, to hold for long."""
    units, most_n = plan.day.units, HELD_OUT_KG * G
    do = "have a stand hold it with bags on, or take a lighter one (the limit is common practice, no source)"
    if panel.mass_kg > HELD_OUT_KG:
        limit = mass(HELD_OUT_KG, units, "g")
        what = f"{panel.held_by} holds {mass(panel.mass_kg, units)}; one person holds {limit} for long"
        yield Problem("warn", "held-heavy", setup.id, panel.panel, what, do)
    place, reach_m = setup.panel[panel.panel], plan.day.place.reach_m
    stance = stance_of(plan.kit.panel[panel.panel], place, setup)
    edge_m = panel.height_m - plan.kit.panel[panel.panel].height_m / 2 * cos(radians(stance.tilt_deg))
    if edge_m > reach_m:
        edge, reach = length(edge_m, units, ".2f"), length(reach_m, units, "g")
        what = f"{panel.held_by} is to hold it by an edge at {edge}, reach is {reach}"
        yield Problem("warn", "held-over-reach", setup.id, panel.panel, what, "lower it, or have a stand hold it")
    if panel.wind_push_n > most_n:
        push, limit = force(panel.wind_push_n, units), force(most_n, units)
        what = f"{panel.held_by} holds it, and gusts push it with {push}; one person holds {limit} for long"
        yield Problem("warn", "held-in-wind", setup.id, panel.panel, what, do)


def _held_long(plan: Plan) -> Iterator[Problem]:
    """Yield a note for each of the crew who holds panels for more of the day's shooting than arms are good for."""
    held_min: dict[str, float] = {}
    for setup in plan.order:
        for name in {place.held_by for place in setup.panels if place.held_by} - plan.kit.stand.keys():
            held_min[name] = held_min.get(name, 0.0) + setup.shoot_min
    for name, minutes in held_min.items():
        if minutes > HELD_OUT_MIN:
            what = f"{name} holds panels for {minutes:g} min of shooting in total; {HELD_OUT_MIN} min is much"
            yield Problem(
                "note", "held-long", None, name, what, "have a stand hold them, or take turns (our own limit)"
            )


def _cloth_problems(plan: Plan, setup: Setup) -> Iterator[Problem]:
    """Yield what the wind pulls with at a cloth that hangs from the building: a plan does not say from what."""
    gust, units = gust_of(plan.day.place), plan.day.units
    for hung in (hung for hung in setup.hung_cloths if gust > 0 and not hung.held_by):
        pull, do = texts.pull_texts(plan.kit.cloth[hung.cloth], gust, units)
        what = f"{wind_source_text(plan.day.place)} of {speed(gust, units)}: {pull}"
        yield Problem("warn", "cloth-in-wind", setup.id, hung.cloth, what, do)


def _unknown_panels(plan: Plan) -> Iterator[Problem]:
    """Yield one warning for each panel the day uses whose feet or mass the kit does not give."""
    units = plan.day.units
    verdicts = (panel for setup in plan.order for panel in judge_panels(plan, setup))
    unknown = {panel.panel: panel for panel in verdicts if {"feet", "mass"} & set(panel.faults)}
    for panel in unknown.values():
        what = f"{' and '.join(sorted(panel.faults))} unknown: it may not stand by itself"
        if panel.gust_ms > 0:
            what += f"; a wind of {speed(panel.gust_ms, units)} pushes it with {force(panel.wind_push_n, units)}"
        yield Problem("warn", "panel-feet-unknown", None, panel.panel, what, panel_remedy(panel, units))


def _bag_problems(plan: Plan, setup: Setup, bags: BagPlan) -> Iterator[Problem]:
    """Yield that the bags of a setup are too few, or wanted on other stands."""
    units = plan.day.units
    shares = ", ".join(f"{texts.bag_names(rig.bags, units)} to {stand}" for stand, rig in bags.rigs.items() if rig.bags)
    if bags.lacks_kg:
        short = texts.at_least_text(sum(bags.lacks_kg.values()), units)
        lacks = ", ".join(f"{texts.at_least_text(kg, units)} on {stand}" for stand, kg in bags.lacks_kg.items())
        what = f"bags in the kit are {short} short: {lacks}" + (f", with {shares}" if shares else "")
        what += "" if bags.least else " (the best sharing tried)"
        do = f"bring {short} more in bags, or lower or lighten a stand"
        yield Problem("stop", "bags-too-few", setup.id, None, what, do)
    elif bags.again:
        what = "the free bags are not enough; with those on other stands they are"
        yield Problem("note", "bags-shared-anew", setup.id, None, what, f"hang {shares}")


_DAY_RULES: Final[tuple[Callable[[Plan], Iterator[Problem]], ...]] = (
    _unknown_panels,
    _held_long,
    lift_problems,
    electricity.unknown_circuit_problems,
    electricity.battery_problems,
)
