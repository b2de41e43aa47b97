"""Stands and panels, judged: as plain data, as rows of a table, as they stand now, and the alarms.

Before load-in, and while nothing stands yet, the stands are those planned for the next setup.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Any, Final

from runbook.changeover.floor import Floor, PanelSpot
from runbook.changeover.hands import hold_reason
from runbook.changeover.stand_sequence import at_moment, must_be_held, off_balance, rigs_at
from runbook.day.day_view import DayView
from runbook.day.state import target_floor, target_setup
from runbook.model.day import Place, Plan
from runbook.model.kit import Kit
from runbook.model.setup import Setup
from runbook.model.units import Units, force, mass
from runbook.stands import verdict_text
from runbook.stands.remedy import BagPlan, panel_lines, panel_remedy, plan_bags
from runbook.stands.statics import Rig
from runbook.stands.verdict import (
    PanelVerdict,
    Verdict,
    is_stable,
    judge,
    judge_panel,
    judge_panels,
    judge_setup,
    panels_to_show,
)
from runbook.stands.verdict_text import bags_needed_text
from runbook.stands.wind import gust_of, gust_text, limit_text, wind_actions

_STAND_KEYS: Final = (
    "stand", "head", "carries", "lean_deg", "push_n", "factor", "bags_kg", "bags_needed_kg", "bags_most_kg", "load_kg",
    "load_max_kg", "counterweight_needed_kg", "wind_limit_ms", "ok",
)  # fmt: skip
_PANEL_KEYS: Final = (
    "panel", "height_m", "open_deg", "lean_deg", "push_n", "bags_kg", "bags_needed_kg", "wind_push_n", "held_by", "ok",
)  # fmt: skip
STAND_COLUMNS: Final = ("stand", "carries", "lean", "push", "factor", "bags", "gust limit", "load", "")


# -- verdicts as data and as text ------------------------------------------------------------------


def stand_facts(plan: Plan, setups: tuple[Setup, ...]) -> dict[str, Any]:
    """Return verdicts on every stand and panel of some setups as plain data."""
    return {
        "setups": [
            {
                "id": setup.id,
                "stands": [_facts(verdict, _STAND_KEYS) for verdict in judge_setup(plan, setup)],
                "panels": [
                    _facts(panel, _PANEL_KEYS)
                    | {"ok": None if panel.held_by and panel.ok else panel.ok}
                    | {"wind_limit_ms": panel.wind.limit if panel.wind else None}
                    for panel in judge_panels(plan, setup)
                ],
            }
            for setup in setups
        ]
    }


def _facts(verdict: Verdict | PanelVerdict, keys: tuple[str, ...]) -> dict[str, Any]:
    return {key: getattr(verdict, key) for key in keys} | {"faults": list(verdict.faults)}


def worst_first(verdicts: tuple[Verdict, ...]) -> tuple[Verdict, ...]:
    """Return stands in the order to look at them: those not ok, then by least lean."""
    return tuple(sorted(verdicts, key=lambda verdict: (verdict.ok, verdict.lean_deg)))


def verdict_row(verdict: Verdict | PanelVerdict, units: Units) -> tuple[str, ...]:
    """Return a stand or a panel in the columns of ``STAND_COLUMNS`` except the last."""
    bags = mass(verdict.bags_kg, units)
    if isinstance(verdict, Verdict):
        name, load_name, factor = verdict.stand, verdict.carries or "-", verdict.factor
        load = f"{mass(verdict.load_kg, units)} of {mass(verdict.load_max_kg, units)}"
        if verdict.bags_needed_kg is None or verdict.bags_needed_kg > verdict.bags_kg:
            bags += f" of {bags_needed_text(verdict, units)}"
    else:
        name, load_name, factor, load = verdict.panel, "-", None, mass(verdict.mass_kg, units)
    return (
        name,
        load_name,
        "-" if verdict.lean_deg is None else f"{verdict.lean_deg:.1f}°",
        "-" if verdict.push_n is None else force(verdict.push_n, units),
        "-" if factor is None else f"{factor:.1f}",
        bags,
        "-" if verdict.wind is None else limit_text(verdict.wind.limit, units),
        load,
    )


def stand_state(verdict: Verdict) -> str:
    """Return ``ok``, or what is wrong in a word or two."""
    return "ok" if verdict.ok else "NOT OK: " + ", ".join(verdict.faults)


def counterweight_text(verdict: Verdict, units: Units) -> str:
    """Return the counterweight of a boom, to follow its state; empty for another stand."""
    needed = verdict.counterweight_needed_kg
    if needed is None:
        return ""
    text = "needs counterweight" if "balance" in verdict.faults else "balanced by"
    return f", {text} {mass(needed, units)}"


# -- as they stand now -----------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class StandLine:
    """A stand or a panel: its verdict, its state in a word or two, and what to know of it."""

    verdict: Verdict | PanelVerdict
    state: str
    words: tuple[str, ...]
    in_hands: bool = False

    @property
    def name(self) -> str:
        """Its label."""
        return self.verdict.stand if isinstance(self.verdict, Verdict) else self.verdict.panel


@dataclass(frozen=True, slots=True)
class StandsView:
    """Stands, and panels in a wind or where not ok, worst first; and what the wind requires, line by line."""

    title: str
    rows: tuple[StandLine, ...]
    wind: tuple[str, ...]


def stands_view(view: DayView) -> StandsView:
    """Return what stands, judged in the wind there is now."""
    state, plan, place, units = view.state, view.plan, view.place, view.plan.day.units
    floor, goal, title = state.real_floor, view.goal, ", as they stand now"
    if not floor.stands and not state.wrapping:
        coming = state.at_work if view.setup is not None else view.next_setup
        floor = goal = target_floor(plan, state, coming)
        title = f", as planned for {coming}" if coming else ""
    rigs = _rigs(view, floor)
    bagged, bags = _with_bags(plan.kit, floor, goal, rigs, place)
    lines = []
    for stand, rig in rigs.items():
        verdict, in_hands = judge(rig, place), stand in floor.in_hands
        words = _words(rig, verdict, bagged.get(stand), bags, place, units)
        if in_hands:
            words = (f"in hands: {hold_reason(stand, floor, goal, plan.kit, place, units=units)}", *words)
        lines.append(StandLine(verdict, "in hands" if in_hands else stand_state(verdict), words, in_hands))
    lines.sort(key=lambda line: line.verdict.lean_deg or 0.0)
    panels = _panels(plan.kit, floor, place)
    lines[:0] = [StandLine(panel, verdict_text.panel_state(panel), panel_lines(panel, units)) for panel in panels]
    return StandsView(
        f"{'stands and panels' if panels else 'stands'}{title}",
        tuple(sorted(lines, key=lambda line: 1 if line.in_hands else 2 * line.verdict.ok)),
        _wind_lines(view, floor, lines),
    )


def _rigs(view: DayView, floor: Floor) -> dict[str, Rig]:
    """Return the stands of a floor; with bags in two places the less stable of the two.

    With a head and no bags yet, its bags are taken to hang where the setup at work, else the next, plans them.
    """
    plan, state, rigs = view.plan, view.state, {}
    setups = [target_setup(plan, state, name) for name in (view.next_setup, state.at_work) if name in plan.setups]
    bags_at = {light.stand: light.bags_at for setup in setups for light in setup.lights}
    for stand in floor.stands:
        if (moment := at_moment(floor, stand)) is None:
            continue
        ways = rigs_at(plan.kit, stand, moment)
        if not moment.bags and moment.head is not None:
            ways = tuple(replace(rig, bags_at=bags_at.get(stand, "column")) for rig in ways)
        rigs[stand] = min(ways, key=lambda rig: judge(rig, view.place).lean_deg)
    return rigs


def _panels(kit: Kit, floor: Floor, place: Place) -> tuple[PanelVerdict, ...]:
    """Return the panels that stand in a wind or are not ok, those to take down first at the front."""
    bags_kg = {
        panel: sum(kit.bag[bag].mass_kg for bag in floor.bags_on("panel", panel) if bag in kit.bag)
        for panel in floor.panels
    }
    verdicts = (
        judge_panel(kit.panel[panel], at.height_m, bags_kg[panel], place, at.open_deg, at.by or None)
        for panel, at in floor.panels.items()
        if isinstance(at, PanelSpot)
    )
    return panels_to_show(tuple(verdicts), place)


def _with_bags(
    kit: Kit, floor: Floor, goal: Floor, rigs: Mapping[str, Rig], place: Place
) -> tuple[dict[str, Rig], BagPlan]:
    """Return the stands that tip with the bags to hang now, planned ones first, and how other free bags are shared."""
    free = {bag.id: bag for bag in kit.bags if bag.id not in floor.bags}
    bagged: dict[str, Rig] = {}
    for stand, rig in rigs.items():
        planned = sorted(goal.bags_on("stand", stand) & free.keys())
        if planned and not is_stable(judge(rig, place)):
            bagged[stand] = replace(rig, bags=(*rig.bags, *map(free.pop, planned)))
    bags = plan_bags({**rigs, **bagged}, [*free.values()], place)
    return bagged if bags.again else {**bagged, **bags.rigs}, bags


def _words(  # noqa: PLR0917
    rig: Rig, verdict: Verdict, bagged: Rig | None, bags: BagPlan, place: Place, units: Units
) -> tuple[str, ...]:
    """Return what is wrong with a stand, what tips it, what to hang where, and a boom's balance."""
    stand = verdict.stand
    words = [verdict_text.faults_text(rig, verdict, place, units), verdict_text.push_text(rig, place, bagged, units)]
    if bagged is not None:
        added = [bag.id for bag in bagged.bags if bag not in rig.bags] or [bag.id for bag in bagged.bags]
        words.append(f"{', '.join(added)}: {verdict_text.hanging_text(bagged)}")
    if stand in bags.lacks_kg:
        missing = verdict_text.at_least_text(bags.lacks_kg[stand], units)
        words.append(f"{missing} missing after the free bags: lower it or lighten it")
    elif bags.again and stand in bags.rigs:
        shared = ", ".join(bag.id for bag in bags.rigs[stand].bags) or "no bag"
        words.append(f"redistribute the bags: {shared} {verdict_text.bag_place_text(bags.rigs[stand])}")
    words.append(verdict_text.balance_text(rig, verdict, units))
    return tuple(filter(None, words))


def _wind_lines(view: DayView, floor: Floor, lines: list[StandLine]) -> tuple[str, ...]:
    """Return the gusts there are and what they require of stands, panels and cloths; empty without a wind."""
    gust, units, entry = gust_of(view.place), view.plan.day.units, view.state.wind
    if gust <= 0:
        return ()
    source = "as planned" if entry is None or view.place.indoors else f"entered {entry.at:%H:%M}"
    limits = {line.name: line.verdict.wind for line in lines if line.verdict.wind is not None}
    actions = [*wind_actions(limits, gust, units)]
    for cloth in (cloth for cloth, hung in floor.hung.items() if not hung.held_by):
        pull, do = verdict_text.pull_texts(view.plan.kit.cloth[cloth], gust, units)
        actions.append(f"{cloth}: {do} ({pull})")
    return (f"gusts {gust_text(gust, units)}, {source}", *(actions or ["nothing needs lowering"]))


# -- alarms ----------------------------------------------------------------------------------------


@lru_cache(maxsize=1)  # a screen asks for those of one view several times
def alarms(view: DayView) -> tuple[str, ...]:
    """Return what is dangerous now, in a few words each, stands first.

    Steps done in their order leave no alarm: these come from a step left out, or done elsewhere.
    """
    return (*_stand_alarms(view), *_panel_alarms(view), *_head_alarms(view))


def _stand_alarms(view: DayView) -> Iterator[str]:
    """Yield stands that must be held by the rule of the steps, and are not.

    Only a stand taken in hand in the changeover at work counts as held: nobody holds one for a whole setup.
    """
    floor, kit, goal, steps_left = view.state.real_floor, view.plan.kit, view.goal, view.pending.left
    taken = {stand for done in view.state.done if done.step.grip == "take" for stand in done.step.hands_on}
    held = floor.in_hands & taken if steps_left else frozenset()
    bags_coming = {step.item for step in steps_left if step.verb == "bag"}
    for stand, rig in _rigs(view, floor).items():
        missing = sorted(goal.bags_on("stand", stand) - floor.bags.keys() - bags_coming)
        # with every bag on that no step is about to hang, it may be as high as it is
        before = None if missing else floor
        if stand in held or not must_be_held(stand, floor, goal, kit, view.place, before=before):
            continue
        verdict = judge(rig, view.place)
        if off_balance(stand, floor, kit):
            yield f"{stand} WITHOUT ITS COUNTERWEIGHT: hold it, fit the counterweight"
        elif not verdict.ok:
            yield f"{stand} NOT SAFE: {verdict_text.faults_text(rig, verdict, view.place, view.plan.day.units)}"
        else:
            yield f"{stand} UP WITHOUT {', '.join(missing)}"


def _panel_alarms(view: DayView) -> Iterator[str]:
    """Yield panels that tip, or that are past their limit in the wind there is."""
    for verdict in _panels(view.plan.kit, view.state.real_floor, view.place):
        if {"lean", "wind"} & set(verdict.faults):
            yield f"{verdict.panel} NOT SAFE: {panel_remedy(verdict, view.plan.day.units)}"


def _head_alarms(view: DayView) -> Iterator[str]:
    """Yield heads that fire and are not in the setup at work."""
    setup = None if view.state.wrapping else view.target
    if setup is None:
        return
    coming_off = {step.item for step in view.pending.left if step.verb in ("disarm", "free")}
    for head, at in view.state.real_floor.heads.items():
        if at.armed and head not in setup.light and head not in coming_off:
            where = f", on {at.stand}" if at.stand else ""
            yield f"{head} SWITCHED ON{where}, not in this setup"
