"""What really stands on the set at this moment, judged: the figures, and the words to act on.

Before load-in, and while nothing stands yet, it is the plan of the setup that comes.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace
from typing import NamedTuple

from runbook.changeover.floor import Floor
from runbook.changeover.steady import Moment, at_moment, must_be_held, off_balance, rigs_at
from runbook.changeover.telling import why_in_hands
from runbook.day.day_view import DayView
from runbook.day.stand_facts import panel_row, panel_state_of, stand_row, stand_state
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
    push_text,
    wind_actions,
)
from runbook.stands.wind import gust_of


class StandLine(NamedTuple):
    """One stand: its verdict, whether somebody holds it, and what to say of it."""

    verdict: Verdict
    in_hands: bool
    words: tuple[str, ...]

    @property
    def state(self) -> str:
        """``ok``, ``in hands``, or what is wrong, in a word or two."""
        if self.in_hands:
            return "in hands"
        return stand_state(self.verdict)

    @property
    def worry(self) -> int:
        """What to look at first: what is not right, then what is held, then the rest."""
        if self.in_hands:
            return 1
        return 2 if self.verdict.ok else 0

    @property
    def name(self) -> str:
        """Its label."""
        return self.verdict.stand

    @property
    def fine(self) -> bool:
        """Whether it may be left as it is, and is."""
        return self.verdict.ok and not self.in_hands

    def figures(self, units: Units) -> tuple[str, ...]:
        """What a table says of it, its name first."""
        return stand_row(self.verdict, units)


class PanelLine(NamedTuple):
    """One panel: its verdict, and what to say of it."""

    verdict: PanelVerdict
    words: tuple[str, ...]

    @property
    def name(self) -> str:
        """Its label."""
        return self.verdict.panel

    @property
    def state(self) -> str:
        """``ok``, or what is wrong, in a word or two."""
        return panel_state_of(self.verdict)

    @property
    def worry(self) -> int:
        """As a stand's: what is not right, then the rest."""
        return 2 if self.verdict.ok else 0

    @property
    def fine(self) -> bool:
        """Whether it may be left as it is."""
        return self.verdict.ok

    def figures(self, units: Units) -> tuple[str, ...]:
        """What a table says of it, its name first."""
        return panel_row(self.verdict, units)


class StandsView(NamedTuple):
    """All stands, worst first, under a title; ``wind`` is what the wind asks for, line by line.

    ``panels`` are there when there is a wind to mind, or when they are not ok.
    """

    title: str
    stands: tuple[StandLine, ...]
    panels: tuple[PanelLine, ...]
    wind: tuple[str, ...]

    @property
    def rows(self) -> tuple[StandLine | PanelLine, ...]:
        """Stands and panels, worst first; of those that are not right the panels lead."""
        both: list[StandLine | PanelLine] = [*self.panels, *self.stands]
        return tuple(sorted(both, key=lambda each: each.worry))


def stands_view(session: DayView) -> StandsView:
    """What stands, judged in the wind there is now."""
    floor, goal, title = _floors(session)
    place, kit, units = session.place, session.plan.kit, session.plan.day.units
    moments = {stand: at_moment(floor, stand, 0) for stand in floor.stands}
    planned = planned_bag_places(session)
    rigs = {
        stand: worst_rig(kit, place, stand, moment, planned.get(stand, "column"))
        for stand, moment in moments.items()
        if moment
    }
    verdicts = {stand: judge(rig, place) for stand, rig in rigs.items()}
    hung, bags = _bags_for(kit, floor, goal, rigs, place)
    found = []
    for stand, rig in rigs.items():
        held = stand in floor.in_hands
        words = _words(rig, verdicts[stand], hung.get(stand), bags, place, units)
        lacks = faults_text(rig, verdicts[stand], place, units)
        words = (lacks, *words) if lacks else words
        if held:
            words = (f"in hands: {why_in_hands(stand, floor, goal, kit, place, units=units)}", *words)
        found.append(StandLine(verdicts[stand], held, words))
    found.sort(key=lambda each: (each.worry, each.verdict.lean_deg))
    panels = panels_to_list(kit, floor, place)
    return StandsView(
        f"{'stands and panels' if panels else 'stands'}{title}",
        tuple(found),
        tuple(PanelLine(each, panel_lines(each, units)) for each in panels),
        _wind(session, place, verdicts, panels),
    )


def panels_to_list(kit: Kit, floor: Floor, place: Place) -> tuple[PanelVerdict, ...]:
    """The panels that stand in a wind or are not ok, the first to come down at the head."""
    bags = {panel: floor.bags_on("panel", panel) for panel in floor.panels}
    panels = tuple(
        judge_panel(
            kit.panel[panel], at.height_m, sum(kit.bag[bag].mass_kg for bag in bags[panel] if bag in kit.bag), place
        )
        for panel, at in floor.panels.items()
    )
    return panels_to_show(panels, place)


def _floors(session: DayView) -> tuple[Floor, Floor, str]:
    """What stands, what it is to become, and which of the two is told, in words."""
    state, plan = session.state, session.plan
    floor = state.real_floor
    if floor.stands or state.wrapping:
        return floor, session.view.goal, ", as they stand now"
    coming = state.at_work if session.setup is not None else session.next_setup
    planned = target_floor(plan, state, coming)
    return planned, planned, f", as planned for {coming}" if coming else ""


def planned_bag_places(session: DayView) -> dict[str, BagsAt]:
    """Where the bags of each stand are to hang: as the setup at work has it, else the next."""
    state, plan = session.state, session.plan
    asked = [target_setup(plan, state, name) for name in (session.next_setup, state.at_work) if name in plan.setups]
    return {light.stand: light.bags_at for setup in asked for light in setup.lights}


def worst_rig(kit: Kit, place: Place, stand: str, moment: Moment, planned: BagsAt) -> Rig:
    """The stand at that moment; with bags in two places the worse of the two, and with none yet
    as it is planned, once it carries what has a far side."""
    rigs = rigs_at(kit, stand, moment)
    if not moment.bags and moment.head is not None:
        rigs = tuple(replace(rig, bags_at=planned) for rig in rigs)
    return min(rigs, key=lambda rig: judge(rig, place).lean_deg)


def _bags_for(
    kit: Kit, floor: Floor, goal: Floor, rigs: Mapping[str, Rig], place: Place
) -> tuple[dict[str, Rig], BagPlan]:
    """The stands as they are with the bags to hang now, and how free bags are shared.

    A stand gets the bags the plan has for it, else free ones. One that has none and lacks none is
    shown what the first free bag would do.
    """
    free = {bag.id: bag for bag in kit.bags if bag.id not in floor.bags}
    hung: dict[str, Rig] = {}
    for stand, rig in rigs.items():
        planned = sorted(goal.bags_on("stand", stand) & free.keys()) if goal is not floor else []
        if planned and not is_stable(judge(rig, place)):
            added = tuple(free.pop(bag) for bag in planned)
            hung[stand] = replace(rig, bags=rig.bags + added)
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
    """What to know of a stand: what tips it, what to hang where, a boom's balance."""
    stand = verdict.stand
    words = [push_text(rig, place, hung, units)]
    if hung is not None and not is_stable(verdict):
        added = [bag.id for bag in hung.bags if bag not in rig.bags]
        names = ", ".join(added or [bag.id for bag in hung.bags])
        words.append(f"{names}: {hanging_text(hung)}")
    if stand in bags.lacks_kg:
        short = at_least_text(bags.lacks_kg[stand], units)
        words.append(f"{short} missing after the free bags: lower it or lighten it")
    elif bags.anew and stand in bags.rigs:
        shared = ", ".join(bag.id for bag in bags.rigs[stand].bags) or "no bag"
        words.append(f"share the bags anew: {shared} {bag_place_text(bags.rigs[stand])}")
    words.append(balance_text(rig, verdict, units))
    return tuple(each for each in words if each)


def _wind(
    session: DayView, place: Place, verdicts: Mapping[str, Verdict], panels: tuple[PanelVerdict, ...]
) -> tuple[str, ...]:
    gust, units = gust_of(place), session.plan.day.units
    if gust <= 0:
        return ()
    entered = session.state.wind
    said = ", as planned" if entered is None or place.indoors else f", entered {entered.at:%H:%M}"
    limits = {stand: verdict.wind for stand, verdict in verdicts.items()}
    limits |= {panel.panel: panel.wind for panel in panels if panel.wind is not None}
    asks = wind_actions(limits, gust, units) or ("nothing needs lowering",)
    return (f"gusts {gust_text(gust, units)}{said}", *asks)


def alarms(session: DayView) -> tuple[str, ...]:
    """The alarms of this moment, stands first; nothing where all is as it should be."""
    return session.once("alarms", lambda: (*_stands(session), *_panels(session), *_armed(session)))


def _stands(session: DayView) -> Iterator[str]:
    """Stands that nobody holds and that somebody must hold, by the rule of the steps.

    Nobody holds a stand for a whole setup: only one taken in hand in the changeover at work counts as held.
    """
    floor, plan, goal = session.state.real_floor, session.plan, session.view.goal
    taken = {done.step.held for done in session.state.done if done.step.grip == "take"}
    held = floor.in_hands & taken if session.view.now.left else frozenset()
    place, planned = session.place, planned_bag_places(session)
    for stand in floor.stands:
        moment = at_moment(floor, stand, 0)
        missing = _bags_missing(session, floor, stand)
        # with every bag on that nobody is about to hang, it may be as high as it is
        before = None if missing else floor
        if moment is None or stand in held:
            continue
        if not must_be_held(stand, floor, goal, plan.kit, place, before=before):
            continue
        bags_at = planned.get(stand, "column")
        verdict = judge(worst_rig(plan.kit, place, stand, moment, bags_at), place)
        if off_balance(stand, floor, plan.kit):
            yield f"{stand} WITHOUT ITS COUNTERWEIGHT: hold it, fit the counterweight"
        elif not verdict.ok:
            yield f"{stand} NOT SAFE: {_why(session, verdict)}"
        else:
            yield f"{stand} UP WITHOUT {', '.join(missing)}"


def _panels(session: DayView) -> Iterator[str]:
    """Panels that tip, or that are past their limit in the wind there is."""
    floor = session.state.real_floor
    for verdict in panels_to_list(session.plan.kit, floor, session.place):
        if {"lean", "wind"} & set(verdict.faults):
            yield f"{verdict.panel} NOT SAFE: {panel_remedy(verdict, session.plan.day.units)}"


def _bags_missing(session: DayView, floor: Floor, stand: str) -> list[str]:
    """The bags a stand is to have, of those that nobody is about to hang."""
    to_come = {step.item for step in session.view.now.left if step.verb == "bag"}
    return sorted(session.view.goal.bags_on("stand", stand) - floor.bags.keys() - to_come)


def _why(session: DayView, verdict: Verdict) -> str:
    units = session.plan.day.units
    needed = verdict.bags_needed_kg
    if "lean" in verdict.faults and needed is not None and needed > verdict.bags_kg:
        return f"bags {mass(verdict.bags_kg, units)}, {bags_needed_text(verdict, units)} wanted"
    if "lean" in verdict.faults:
        return f"{max(verdict.lean_deg, 0.0):.0f}° of lean tip it"
    said = {
        "factor": "too near to tipping",
        "load": "over its load",
        "balance": "out of balance, hold the arm",
        "wind": "too much wind",
    }
    return said[verdict.faults[0]]


def _armed(session: DayView) -> Iterator[str]:
    """Heads that fire and are not in the setup at work."""
    setup, state = session.asked, session.state
    if setup is None or state.wrapping:
        return
    coming_off = {step.item for step in session.view.now.left if step.verb in ("disarm", "free")}
    for head, at in state.real_floor.heads.items():
        if at.armed and head not in setup.light and head not in coming_off:
            where = f" on {at.stand}" if at.stand else ""
            yield f"{head} ARMED{where}, not in this setup"
