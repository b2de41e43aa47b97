"""What really stands on the set at this moment, judged: the figures, and the words to act on.

Before load-in, and while nothing stands yet, it is the plan of the setup that comes.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

from runbook.change.floor import Floor
from runbook.change.steady import Moment, at_moment, rigs_at
from runbook.change.telling import why_in_hands
from runbook.plan.day import Place
from runbook.plan.kit import Bag, Kit
from runbook.plan.tuples import NamedTuple
from runbook.plan.units import Units
from runbook.session.day_now import DayNow
from runbook.session.standing import figures_of, panel_figures_of, panel_state_of, state_of
from runbook.session.state import goal_of, setup_asked
from runbook.stand.bagshare import share_bags
from runbook.stand.judge import Verdict, better_hung, judge
from runbook.stand.panel import PanelVerdict, is_blown, judge_panel, soonest_over
from runbook.stand.panel_words import panel_words
from runbook.stand.rig import BagsAt, Rig
from runbook.stand.stability import fewest_bags
from runbook.stand.wind import gust_of
from runbook.stand.words import (
    at_least,
    balance_words,
    gust_words,
    hang_words,
    lack_words,
    push_words,
    wind_words,
)

# Effort enough for bags that people have; a screen is not to wait for the rest.
_EFFORT: Final = 20_000


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
    """One panel in the wind: its verdict, and what to say of it."""

    verdict: PanelVerdict
    words: tuple[str, ...]

    @property
    def name(self) -> str:
        """Its label."""
        return self.verdict.panel

    @property
    def state(self) -> str:
        """``ok``, ``hold it``, or what is wrong, in a word or two."""
        return panel_state_of(self.verdict)

    @property
    def worry(self) -> int:
        """As a stand's: what goes over, then what is to be held, then the rest."""
        return {"goes over": 0, "may go over": 1}.get(self.verdict.fate, 2)

    @property
    def fine(self) -> bool:
        """Whether nobody has to hold it or take it down."""
        return self.worry == 2

    def figures(self, units: Units) -> tuple[str, ...]:
        """What a table says of it, its name first."""
        return panel_figures_of(self.verdict, units)


class StandsNow(NamedTuple):
    """All stands, worst first, under a title; ``wind`` is what the wind asks for, line by line.

    ``panels`` are there when there is a wind to mind, the first to go over at the head.
    """

    title: str
    stands: tuple[Standing, ...]
    panels: tuple[PanelStanding, ...]
    wind: tuple[str, ...]

    @property
    def rows(self) -> tuple[Standing | PanelStanding, ...]:
        """Stands and panels, worst first; of those that are not right the panels lead: past that
        gust they go over for certain, where a stand's limit has something in hand."""
        both: list[Standing | PanelStanding] = [*self.panels, *self.stands]
        return tuple(sorted(both, key=lambda each: each.worry))


def stands_now(session: DayNow) -> StandsNow:
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
    free = [bag.mass_kg for bag in kit.bags if bag.id not in floor.bags]
    # what hangs stays where it hangs; what is to be hung goes where the bags at hand hold it
    to_hang = {
        stand: rig if rig.bags else better_hung(rig, place, free) for stand, rig in rigs.items()
    }
    wanted = {
        stand: verdicts[stand] if rig is rigs[stand] else judge(rig, place)
        for stand, rig in to_hang.items()
    }
    more = _bags_for(kit, floor, goal, to_hang, wanted)
    found = []
    for stand, rig in to_hang.items():
        held = stand in floor.in_hands
        lacks = lack_words(rigs[stand], verdicts[stand], place, units)
        words = _words(rig, wanted[stand], place, more.get(stand, ()), units)
        words = (lacks, *words) if lacks else words
        if held:
            words = (
                f"in hands: {why_in_hands(stand, floor, goal, kit, place, units=units)}",
                *words,
            )
        found.append(Standing(verdicts[stand], held, words))
    found.sort(key=lambda each: (each.worry, each.verdict.lean_deg))
    panels = panels_in_wind(kit, floor, place)
    return StandsNow(
        f"{'stands and panels' if panels else 'stands'}{title}",
        tuple(found),
        tuple(PanelStanding(each, panel_words(each, units)) for each in panels),
        _wind(session, place, verdicts, panels),
    )


def panels_in_wind(kit: Kit, floor: Floor, place: Place) -> tuple[PanelVerdict, ...]:
    """The panels that stand in a wind, the first to go over at the head."""
    if not is_blown(place):
        return ()
    bags = {panel: floor.bags_on("panel", panel) for panel in floor.panels}
    return soonest_over(
        tuple(
            judge_panel(
                kit.panel[panel],
                at.height_m,
                sum(kit.bag[bag].mass_kg for bag in bags[panel]),
                place,
            )
            for panel, at in floor.panels.items()
        )
    )


def _floors(session: DayNow) -> tuple[Floor, Floor, str]:
    """What stands, what it is to become, and which of the two is told, in words."""
    truth, plan = session.truth, session.plan
    floor = truth.real_floor
    if floor.stands or truth.wrapping:
        return floor, session.view.goal, ", as they stand now"
    coming = truth.at_work if session.setup is not None else session.next_setup
    planned = goal_of(plan, truth, coming)
    return planned, planned, f", as planned for {coming}" if coming else ""


def places_planned(session: DayNow) -> dict[str, BagsAt]:
    """Where the bags of each stand are to hang: as the setup at work has it, else the next."""
    truth, plan = session.truth, session.plan
    asked = [
        setup_asked(plan, truth, name)
        for name in (session.next_setup, truth.at_work)
        if name in plan.setups
    ]
    return {light.stand: light.bags_at for setup in asked for light in setup.lights}


def worst_rig(kit: Kit, place: Place, stand: str, moment: Moment, planned: BagsAt) -> Rig:
    """The stand at that moment; with bags in two places the worse of the two, and with none yet
    as it is planned, once it carries what has a far side."""
    rigs = rigs_at(kit, stand, moment)
    if not moment.bags and moment.head is not None:
        rigs = tuple(rig._replace(bags_at=planned) for rig in rigs)
    return min(rigs, key=lambda rig: judge(rig, place).lean_deg)


def _bags_for(
    kit: Kit,
    floor: Floor,
    goal: Floor,
    rigs: Mapping[str, Rig],
    verdicts: Mapping[str, Verdict],
) -> dict[str, tuple[Bag, ...]]:
    """Bags to hang now: those the plan has for a stand, else free ones shared for the least want.

    A stand that has none and lacks none is shown what the first free bag would do.
    """
    free = {bag.id: bag for bag in kit.bags if bag.id not in floor.bags}
    more: dict[str, tuple[Bag, ...]] = {}
    short: dict[str, float] = {}
    for stand, rig in rigs.items():
        needed = verdicts[stand].bags_needed_kg
        lacks = 0.0 if needed is None else needed - verdicts[stand].bags_kg
        planned = sorted(goal.bags_on("stand", stand) & free.keys()) if goal is not floor else []
        if lacks > 0 and planned:
            more[stand] = tuple(free.pop(bag) for bag in planned)
        elif lacks > 0:
            short[stand] = lacks
        elif not rig.bags and needed is not None:
            short[stand] = 0.0
    at_hand = list(free.values())
    if len(wanting := {stand: kg for stand, kg in short.items() if kg > 0}) == 1:
        ((stand, kg),) = wanting.items()
        fewest = fewest_bags(kg, [bag.mass_kg for bag in at_hand])
        given = [fewest if fewest is not None else tuple(range(len(at_hand)))]
    else:
        given = list(
            share_bags([*wanting.values()], [bag.mass_kg for bag in at_hand], _EFFORT).given
        )
    more |= {
        stand: tuple(at_hand[n] for n in mine) for stand, mine in zip(wanting, given, strict=True)
    }
    if at_hand:
        more |= {stand: (at_hand[0],) for stand, kg in short.items() if kg == 0}
    return more


def _words(
    rig: Rig, verdict: Verdict, place: Place, more: tuple[Bag, ...], units: Units
) -> tuple[str, ...]:
    """What to say of a stand: what tips it, what to hang where, a boom's balance."""
    needed, most = verdict.bags_needed_kg, verdict.bags_most_kg
    short = needed is not None and needed > verdict.bags_kg
    held = verdict.bags_kg + sum(bag.mass_kg for bag in more)
    if more and not rig.bags and most is not None and held > most:
        # shared over several stands they came out too heavy for the far legs
        rig = rig._replace(bags_at="column")
        needed = judge(rig, place).bags_needed_kg
    said = [push_words(rig, place, more, units)]
    if short and more:
        names = ", ".join(bag.id for bag in more)
        said.append(f"{names}: {hang_words(rig)}")
    if needed is not None and needed > held + 0.005:
        want = at_least(needed - held, units)
        said.append(f"the free bags leave {want} wanting: lower it or lighten it")
    said.append(balance_words(rig, verdict, units))
    return tuple(each for each in said if each)


def _wind(
    session: DayNow,
    place: Place,
    verdicts: Mapping[str, Verdict],
    panels: tuple[PanelVerdict, ...],
) -> tuple[str, ...]:
    gust, units = gust_of(place), session.plan.day.units
    if gust <= 0:
        return ()
    entered = session.truth.wind
    said = ", as planned" if entered is None or place.indoors else f", entered {entered.at:%H:%M}"
    limits = {stand: verdict.wind for stand, verdict in verdicts.items()}
    asks = wind_words(limits, gust, units, panels) or ("nothing needs lowering",)
    return (f"gusts {gust_words(gust, units)}{said}", *asks)
