"""What really stands on the set at this moment, judged: the figures, and the words to act on.

Before load-in, and while nothing stands yet, it is the plan of the setup that comes.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import NamedTuple

from runbook.changeover.floor import Floor
from runbook.changeover.steady import Moment, at_moment, rigs_at
from runbook.changeover.telling import why_in_hands
from runbook.day.day_view import DayView
from runbook.day.standing import figures_of, panel_figures_of, panel_state_of, state_of
from runbook.day.state import target_floor, target_setup
from runbook.model.day import Place
from runbook.model.kit import Kit
from runbook.model.units import Units
from runbook.stands.remedy import BagPlan, plan_bags
from runbook.stands.rig import BagsAt, Rig
from runbook.stands.verdict import PanelVerdict, Verdict, is_stable, judge, judge_panel, panels_to_show
from runbook.stands.verdict_text import (
    at_least_text,
    bag_place_text,
    balance_text,
    faults_text,
    gust_text,
    hanging_text,
    panel_lines,
    push_text,
    wind_actions,
)
from runbook.stands.wind import gust_of


class Standing(NamedTuple):
    """One stand: its verdict, whether somebody holds it, and what to say of it."""

    verdict: Verdict
    in_hands: bool
    words: tuple[str, ...]

    @property
    def state(self) -> str:
        """``ok``, ``in hands``, or what is wrong, in a word or two."""
        if self.in_hands:
            return "in hands"
        return state_of(self.verdict)

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
        return figures_of(self.verdict, units)


class PanelStanding(NamedTuple):
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
        return panel_figures_of(self.verdict, units)


class StandsNow(NamedTuple):
    """All stands, worst first, under a title; ``wind`` is what the wind asks for, line by line.

    ``panels`` are there when there is a wind to mind, or when they are not ok.
    """

    title: str
    stands: tuple[Standing, ...]
    panels: tuple[PanelStanding, ...]
    wind: tuple[str, ...]

    @property
    def rows(self) -> tuple[Standing | PanelStanding, ...]:
        """Stands and panels, worst first; of those that are not right the panels lead."""
        both: list[Standing | PanelStanding] = [*self.panels, *self.stands]
        return tuple(sorted(both, key=lambda each: each.worry))


def stands_now(session: DayView) -> StandsNow:
    """What stands, judged in the wind there is now."""
    floor, goal, title = _floors(session)
    place, kit, units = session.place, session.plan.kit, session.plan.day.units
    moments = {stand: at_moment(floor, stand, 0) for stand in floor.stands}
    planned = places_planned(session)
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
        found.append(Standing(verdicts[stand], held, words))
    found.sort(key=lambda each: (each.worry, each.verdict.lean_deg))
    panels = panels_in_wind(kit, floor, place)
    return StandsNow(
        f"{'stands and panels' if panels else 'stands'}{title}",
        tuple(found),
        tuple(PanelStanding(each, panel_lines(each, units)) for each in panels),
        _wind(session, place, verdicts, panels),
    )


def panels_in_wind(kit: Kit, floor: Floor, place: Place) -> tuple[PanelVerdict, ...]:
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


def places_planned(session: DayView) -> dict[str, BagsAt]:
    """Where the bags of each stand are to hang: as the setup at work has it, else the next."""
    state, plan = session.state, session.plan
    asked = [target_setup(plan, state, name) for name in (session.next_setup, state.at_work) if name in plan.setups]
    return {light.stand: light.bags_at for setup in asked for light in setup.lights}


def worst_rig(kit: Kit, place: Place, stand: str, moment: Moment, planned: BagsAt) -> Rig:
    """The stand at that moment; with bags in two places the worse of the two, and with none yet
    as it is planned, once it carries what has a far side."""
    rigs = rigs_at(kit, stand, moment)
    if not moment.bags and moment.head is not None:
        rigs = tuple(rig._replace(bags_at=planned) for rig in rigs)
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
            hung[stand] = rig._replace(bags=rig.bags + added)
    bags = plan_bags({stand: hung.get(stand, rig) for stand, rig in rigs.items()}, [*free.values()], place)
    if not bags.anew:
        hung |= bags.rigs
    used = {bag.id for rig in hung.values() for bag in rig.bags}
    first = next((bag for bag in free.values() if bag.id not in used), None)
    if first is not None:
        hung |= {
            stand: rig._replace(bags=(first,))
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
