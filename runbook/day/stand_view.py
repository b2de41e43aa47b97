"""The stands and panels on the set now, judged, and the alarms: what is dangerous as it stands.

Before load-in, and while nothing stands yet, the stands are those planned for the next setup.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from typing import Final

from runbook.changeover.floor import Floor
from runbook.changeover.hands import hold_reason
from runbook.changeover.stand_sequence import Moment, at_moment, must_be_held, off_balance, rigs_at
from runbook.day.day_view import DayView
from runbook.day.stand_facts import panel_row, stand_row, stand_state
from runbook.day.state import target_floor, target_setup
from runbook.model.day import Place
from runbook.model.kit import Kit
from runbook.model.units import Units, mass
from runbook.stands.remedy import BagPlan, plan_bags
from runbook.stands.rig import BagsAt, Rig
from runbook.stands.verdict import PanelVerdict, Verdict, is_stable, judge, judge_panel, panels_to_show
from runbook.stands.verdict_text import (
    at_least_text,
    bag_place_text,
    bags_needed_text,
    balance_text,
    faults_text,
    gust_text,
    hanging_text,
    panel_lines,
    panel_remedy,
    panel_state,
    push_text,
    wind_actions,
)
from runbook.stands.wind import gust_of


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

    @property
    def worry(self) -> int:
        """The order to look at it: what is not ok, then what is held, then the rest."""
        if self.in_hands:
            return 1
        return 2 if self.verdict.ok else 0

    @property
    def fine(self) -> bool:
        """Whether nobody needs to do anything about it."""
        return self.worry == 2

    def figures(self, units: Units) -> tuple[str, ...]:
        """Its row of a table, its name first."""
        verdict = self.verdict
        return stand_row(verdict, units) if isinstance(verdict, Verdict) else panel_row(verdict, units)


@dataclass(frozen=True, slots=True)
class StandsView:
    """All stands and panels, worst first, under a title, and what the wind requires, line by line.

    ``panels`` are there when there is a wind, or when they are not ok.
    """

    title: str
    stands: tuple[StandLine, ...]
    panels: tuple[StandLine, ...]
    wind: tuple[str, ...]

    @property
    def rows(self) -> tuple[StandLine, ...]:
        """Stands and panels, worst first; panels before stands of the same urgency."""
        return tuple(sorted((*self.panels, *self.stands), key=lambda line: line.worry))


def stands_view(session: DayView) -> StandsView:
    """What stands, judged in the wind there is now."""
    state, plan, place = session.state, session.plan, session.place
    kit, units = plan.kit, plan.day.units
    floor, goal, title = state.real_floor, session.goal, ", as they stand now"
    if not floor.stands and not state.wrapping:
        coming = state.at_work if session.setup is not None else session.next_setup
        floor = goal = target_floor(plan, state, coming)
        title = f", as planned for {coming}" if coming else ""
    bag_places = planned_bag_places(session)
    rigs = {
        stand: worst_rig(kit, place, stand, moment, bag_places.get(stand, "column"))
        for stand in floor.stands
        if (moment := at_moment(floor, stand, 0))
    }
    verdicts = {stand: judge(rig, place) for stand, rig in rigs.items()}
    hung, bags = _bags_for(kit, floor, goal, rigs, place)
    lines = []
    for stand, verdict in verdicts.items():
        words = _words(rigs[stand], verdict, hung.get(stand), bags, place, units)
        in_hands = stand in floor.in_hands
        if in_hands:
            words = (f"in hands: {hold_reason(stand, floor, goal, kit, place, units=units)}", *words)
        lines.append(StandLine(verdict, "in hands" if in_hands else stand_state(verdict), words, in_hands))
    lines.sort(key=lambda line: (line.worry, line.verdict.lean_deg or 0.0))
    panels = panels_to_list(kit, floor, place)
    return StandsView(
        f"{'stands and panels' if panels else 'stands'}{title}",
        tuple(lines),
        tuple(StandLine(panel, panel_state(panel), panel_lines(panel, units)) for panel in panels),
        _wind_lines(session, verdicts, panels),
    )


def panels_to_list(kit: Kit, floor: Floor, place: Place) -> tuple[PanelVerdict, ...]:
    """The panels that stand in a wind or are not ok, those to take down first at the front."""

    def bags_kg(panel: str) -> float:
        return sum(kit.bag[bag].mass_kg for bag in floor.bags_on("panel", panel) if bag in kit.bag)

    verdicts = (judge_panel(kit.panel[panel], at.height_m, bags_kg(panel), place) for panel, at in floor.panels.items())
    return panels_to_show(tuple(verdicts), place)


def planned_bag_places(session: DayView) -> dict[str, BagsAt]:
    """Where the bags of each stand are to hang: by the setup at work, else by the next."""
    state, plan = session.state, session.plan
    setups = [target_setup(plan, state, name) for name in (session.next_setup, state.at_work) if name in plan.setups]
    return {light.stand: light.bags_at for setup in setups for light in setup.lights}


def worst_rig(kit: Kit, place: Place, stand: str, moment: Moment, planned: BagsAt) -> Rig:
    """The stand at a moment, with bags in two places the less stable of the two.

    With a head and no bags yet, its bags are taken to hang where they are planned.
    """
    rigs = rigs_at(kit, stand, moment)
    if not moment.bags and moment.head is not None:
        rigs = tuple(replace(rig, bags_at=planned) for rig in rigs)
    return min(rigs, key=lambda rig: judge(rig, place).lean_deg)


def _bags_for(
    kit: Kit, floor: Floor, goal: Floor, rigs: Mapping[str, Rig], place: Place
) -> tuple[dict[str, Rig], BagPlan]:
    """The stands with the bags to hang now, and how free bags are shared.

    A stand gets its planned bags, else free ones. One that has none and needs none is shown what
    the first free bag would do.
    """
    free = {bag.id: bag for bag in kit.bags if bag.id not in floor.bags}
    hung: dict[str, Rig] = {}
    for stand, rig in rigs.items():
        planned = sorted(goal.bags_on("stand", stand) & free.keys()) if goal is not floor else []
        if planned and not is_stable(judge(rig, place)):
            hung[stand] = replace(rig, bags=rig.bags + tuple(free.pop(bag) for bag in planned))
    bags = plan_bags({stand: hung.get(stand, rig) for stand, rig in rigs.items()}, [*free.values()], place)
    if not bags.anew:
        hung |= bags.rigs
    used = {bag.id for rig in hung.values() for bag in rig.bags}
    first = next((bag for bag in free.values() if bag.id not in used), None)
    if first is not None:
        hung |= {
            stand: replace(rig, bags=(first,))
            for stand, rig in rigs.items()
            if stand not in hung and not rig.bags and judge(rig, place).bags_needed_kg is not None
        }
    return hung, bags


def _words(  # noqa: PLR0917
    rig: Rig, verdict: Verdict, hung: Rig | None, bags: BagPlan, place: Place, units: Units
) -> tuple[str, ...]:
    """What is wrong with a stand, what tips it, what to hang where, and a boom's balance."""
    stand = verdict.stand
    words = [faults_text(rig, verdict, place, units), push_text(rig, place, hung, units)]
    if hung is not None and not is_stable(verdict):
        added = [bag.id for bag in hung.bags if bag not in rig.bags] or [bag.id for bag in hung.bags]
        words.append(f"{', '.join(added)}: {hanging_text(hung)}")
    if stand in bags.lacks_kg:
        missing = at_least_text(bags.lacks_kg[stand], units)
        words.append(f"{missing} missing after the free bags: lower it or lighten it")
    elif bags.anew and stand in bags.rigs:
        shared = ", ".join(bag.id for bag in bags.rigs[stand].bags) or "no bag"
        words.append(f"redistribute the bags: {shared} {bag_place_text(bags.rigs[stand])}")
    words.append(balance_text(rig, verdict, units))
    return tuple(filter(None, words))


def _wind_lines(session: DayView, verdicts: Mapping[str, Verdict], panels: tuple[PanelVerdict, ...]) -> tuple[str, ...]:
    """The gusts there are and what they require of stands and panels; empty without a wind."""
    gust, units = gust_of(session.place), session.plan.day.units
    if gust <= 0:
        return ()
    entry = session.state.wind
    source = "as planned" if entry is None or session.place.indoors else f"entered {entry.at:%H:%M}"
    limits = {stand: verdict.wind for stand, verdict in verdicts.items()}
    limits |= {panel.panel: panel.wind for panel in panels if panel.wind is not None}
    actions = wind_actions(limits, gust, units) or ("nothing needs lowering",)
    return (f"gusts {gust_text(gust, units)}, {source}", *actions)


# -- alarms --------------------------------------------------------------------------------------

_FAULT_ALARMS: Final[Mapping[str, str]] = {
    "factor": "close to tipping",
    "load": "overloaded",
    "balance": "out of balance, hold the arm",
    "wind": "too much wind",
}


def alarms(session: DayView) -> tuple[str, ...]:
    """What is dangerous now, in a few words each, stands first.

    Steps done in their order leave no alarm: these come from a step left out, or done elsewhere.
    """
    return (*_stand_alarms(session), *_panel_alarms(session), *_head_alarms(session))


def _stand_alarms(session: DayView) -> Iterator[str]:
    """Stands that must be held by the rule of the steps, and are not.

    Only a stand taken in hand in the changeover at work counts as held: nobody holds one for a whole setup.
    """
    floor, plan, goal = session.state.real_floor, session.plan, session.goal
    steps_left = session.pending.left
    taken = {done.step.held for done in session.state.done if done.step.grip == "take"}
    held = floor.in_hands & taken if steps_left else frozenset()
    bags_coming = {step.item for step in steps_left if step.verb == "bag"}
    bag_places = planned_bag_places(session)
    for stand in floor.stands:
        moment = at_moment(floor, stand, 0)
        missing = sorted(goal.bags_on("stand", stand) - floor.bags.keys() - bags_coming)
        # with every bag on that no step is about to hang, it may be as high as it is
        before = None if missing else floor
        if moment is None or stand in held:
            continue
        if not must_be_held(stand, floor, goal, plan.kit, session.place, before=before):
            continue
        rig = worst_rig(plan.kit, session.place, stand, moment, bag_places.get(stand, "column"))
        verdict = judge(rig, session.place)
        if off_balance(stand, floor, plan.kit):
            yield f"{stand} WITHOUT ITS COUNTERWEIGHT: hold it, fit the counterweight"
        elif not verdict.ok:
            yield f"{stand} NOT SAFE: {_fault_text(verdict, plan.day.units)}"
        else:
            yield f"{stand} UP WITHOUT {', '.join(missing)}"


def _fault_text(verdict: Verdict, units: Units) -> str:
    needed = verdict.bags_needed_kg
    if "lean" not in verdict.faults:
        return _FAULT_ALARMS[verdict.faults[0]]
    if needed is not None and needed > verdict.bags_kg:
        return f"bags {mass(verdict.bags_kg, units)}, {bags_needed_text(verdict, units)} needed"
    return f"tips at {max(verdict.lean_deg, 0.0):.0f}° of lean"


def _panel_alarms(session: DayView) -> Iterator[str]:
    """Panels that tip, or that are past their limit in the wind there is."""
    for verdict in panels_to_list(session.plan.kit, session.state.real_floor, session.place):
        if {"lean", "wind"} & set(verdict.faults):
            yield f"{verdict.panel} NOT SAFE: {panel_remedy(verdict, session.plan.day.units)}"


def _head_alarms(session: DayView) -> Iterator[str]:
    """Heads that fire and are not in the setup at work."""
    setup, state = session.target, session.state
    if setup is None or state.wrapping:
        return
    coming_off = {step.item for step in session.pending.left if step.verb in ("disarm", "free")}
    for head, at in state.real_floor.heads.items():
        if at.armed and head not in setup.light and head not in coming_off:
            where = f" on {at.stand}" if at.stand else ""
            yield f"{head} ARMED{where}, not in this setup"
