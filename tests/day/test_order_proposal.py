"""The order of the demo day with the least changing, and what it does to the day's end."""

from collections.abc import Iterable
from dataclasses import replace
from itertools import pairwise, permutations
from typing import Any

import pytest

from runbook.clock.timetable import median_run
from runbook.day.changeovers import Changeover, Changeovers
from runbook.day.order_proposal import CannotOrder, OrderRequest, Proposal, best_order, proposal_data, sooner_order
from runbook.day.planned_day import day_as_planned
from runbook.day.remaining_day import day_from_now
from runbook.model.day import Plan
from runbook.model.progress import Stopped
from tests.day.days import SetClock, begun, demo, make_ready, short

FOUR = short("keeper-window", "widow-letter", "captain-deck", "seamstress-veil")
TWO_LOOKS = short("keeper-window", "keeper-lamp", "widow-letter", "widow-answer")


BADLY = short("keeper-window", "widow-letter", "keeper-lamp", "widow-answer")  # the look changes with every setup


@pytest.fixture(scope="module")
def changes() -> Changeovers:
    """The changeovers of the demo day, whatever the order."""
    return Changeovers(demo())


def changing(changes: Changeovers, order: Iterable[str], start: str | None = None) -> float:
    return sum(changes.between(a, b).total_s for a, b in pairwise((start, *order, None)))


def best(plan: Plan, changes: Changeovers | None = None, **request: Any) -> Proposal:
    return best_order(begun(plan).moment, changes or Changeovers(plan), OrderRequest(**request))


def with_setups(plan: Plan, **changed: dict[str, Any]) -> Plan:
    """The plan with some of its setups changed, by their ids with underscores."""
    setups = {(name := key.replace("_", "-")): replace(plan.setups[name], **more) for key, more in changed.items()}
    return replace(plan, setups=plan.setups | setups)


def with_before(plan: Plan, **before: tuple[str, ...]) -> Plan:
    return with_setups(plan, **{name: {"before": later} for name, later in before.items()})


def test_no_order_of_a_small_day_has_less_changing(changes: Changeovers) -> None:
    proposal = best(FOUR, changes)
    least = min(changing(changes, order) for order in permutations(FOUR.day.order))
    assert proposal.bound_s <= proposal.changing_s == changing(changes, proposal.order) == least
    assert proposal.given_changing_s == changing(changes, FOUR.day.order)


@pytest.mark.parametrize("apart", [False, True])
def test_an_order_is_proven_only_if_no_share_of_its_changeovers_could_be_shorter(apart: bool) -> None:
    class Bounded(Changeovers):
        """Changeovers of which one, never part of the best order, has or lacks a proof."""

        less_s = 0.0

        def between(self, start: str | None, goal: str | None, *without: object) -> Changeover:
            change = super().between(start, goal, *without)  # type: ignore[arg-type]
            less_s = self.less_s if (start, goal) == ("widow-letter", "captain-deck") else 0.0
            change.__dict__["schedule"] = replace(change.schedule, bound_s=change.total_s - less_s)
            return change

    changes = Bounded(FOUR)
    sure = best(FOUR, changes, apart=apart)
    assert sure.proven
    for less_s in (5.0, 10_000.0):
        changes.less_s = less_s
        unsure = best(FOUR, changes, apart=apart)
        assert unsure.order == sure.order
        assert proposal_data(unsure)["proven"] == (unsure.changing_s <= proposal_data(unsure)["least_possible_s"])
    assert not unsure.proven


def test_looks_stay_together_where_they_are_together(changes: Changeovers) -> None:
    together = best(TWO_LOOKS, changes)
    looks = [demo().setups[name].look for name in together.order]
    assert looks[0] == looks[1] and looks[2] == looks[3]
    assert (together.together, together.kept) == (True, ("keeper", "widow"))
    apart = best(TWO_LOOKS, changes, apart=True)
    assert not apart.together
    assert apart.changing_s == min(changing(changes, order) for order in permutations(TWO_LOOKS.day.order))
    plan = short("keeper-window", "widow-letter", "captain-deck", "keeper-lamp")
    x, y = {"look": "x"}, {"look": "y"}
    plan = with_setups(plan, keeper_window=x, widow_letter=y, captain_deck=y, keeper_lamp=x)
    one_split = best(plan, Changeovers(plan))
    assert (one_split.together, one_split.kept) == (False, ("y",))
    assert abs(one_split.order.index("widow-letter") - one_split.order.index("captain-deck")) == 1


def test_a_look_at_work_goes_on_first_unless_an_end_is_asked_for() -> None:
    plan = short("keeper-window", "captain-deck", "keeper-lamp", "widow-letter")
    plan = with_setups(plan, captain_deck={"look": "keeper"})
    session = begun(plan)
    session.begin("keeper-window")
    moment, changes = session.moment, Changeovers(plan)
    assert set(best_order(moment, changes).order[:2]) == {"captain-deck", "keeper-lamp"}
    assert best_order(moment, changes, OrderRequest(first="widow-letter")).order[0] == "widow-letter"
    assert best_order(moment, changes, OrderRequest(last="keeper-lamp")).order[-1] == "keeper-lamp"


WINDOW_BEFORE_DECK = with_before(FOUR, keeper_window=("captain-deck",))
CONTRARY = with_before(FOUR, keeper_window=("widow-letter",), widow_letter=("keeper-window",))


@pytest.mark.parametrize(("plan", "request_", "names"), [
    (CONTRARY, {}, "keeper-window, widow"),
    (WINDOW_BEFORE_DECK, {"first": "captain-deck"}, "keeper-window, captain-deck"),
    (WINDOW_BEFORE_DECK, {"last": "keeper-window"}, "keeper-window, captain-deck"),
    (FOUR, {"first": "lamp"}, "lamp is not among the setups left: keeper-window, "),
    (FOUR, {"first": "widow-letter", "last": "widow-letter"}, "no order keeps every rule: .*widow-letter"),
    (TWO_LOOKS, {"first": "keeper-window", "last": "keeper-lamp"}, "keeper-window, keeper-lamp, widow"),
    (short(), {"last": "widow-letter"}, "none is left"),
])  # fmt: skip
def test_rules_that_contradict_each_other_are_named_and_give_no_sooner_order(plan, request_, names, changes):
    with pytest.raises(CannotOrder, match=names):
        best(plan, changes, **request_)
    assert request_ or sooner_order(begun(plan).moment, changes, draws=10) is None


@pytest.mark.parametrize("soonest", [False, True])
def test_a_setup_asked_for_comes_first_or_last(soonest: bool, changes: Changeovers) -> None:
    for name in FOUR.day.order:
        first, last = (best(FOUR, changes, soonest=soonest, **{end: name}) for end in ("first", "last"))
        assert (first.order[0], last.order[-1]) == (name, name)
        orders = [order for order in permutations(FOUR.day.order) if order[0] == name]
        assert soonest or first.changing_s == min(changing(changes, order) for order in orders)


def test_the_soonest_end_of_a_small_day_is_found(changes: Changeovers) -> None:
    ends = {o: median_run(day_as_planned(FOUR, changes, o)).finish_s for o in permutations(FOUR.day.order)}
    soonest, least = best(FOUR, changes, soonest=True), best(FOUR, changes)
    assert soonest.finish_s == ends[soonest.order] == min(ends.values())
    assert soonest.given_finish_s == ends[FOUR.day.order]
    assert least.finish_s == ends[least.order]


def test_setups_shot_or_at_work_are_settled(changes: Changeovers) -> None:
    session = begun(FOUR)
    make_ready(session, "captain-deck")
    session.mark_shot()
    session.begin("widow-letter")
    proposal = best_order(session.moment, changes)
    assert proposal.settled == ("widow-letter", "captain-deck")
    assert set(proposal.order) == {"keeper-window", "seamstress-veil"}
    assert proposal.whole == (*proposal.settled, *proposal.order)
    totals = [changing(changes, order, "widow-letter") for order in permutations(proposal.order)]
    assert proposal.changing_s == totals[0] == min(totals)


def test_a_sooner_order_names_what_it_saves(changes: Changeovers) -> None:
    moment = begun(BADLY).moment
    sooner = sooner_order(moment, changes, draws=400)
    assert sooner.order == best_order(moment, changes, OrderRequest(soonest=True)).order
    assert 0 < sooner.gain.wins_s < 7200
    assert sorted(sooner.whole) == sorted(BADLY.day.order)
    assert sooner_order(begun(short("keeper-window")).moment, changes, draws=10) is None


@pytest.mark.parametrize(("what", "count"), [("changeovers from setup 2 of 4", 3), ("what that order saves", 5)])
def test_it_stops_when_what_it_calls_raises(what: str, count: int, changes: Changeovers) -> None:
    heard: list[str] = []

    def tell(text: str, *_: int) -> None:
        heard.append(text)
        if heard.count(what) == count:
            raise Stopped

    with pytest.raises(Stopped):
        sooner_order(begun(BADLY).moment, changes, 100, tell)
    assert heard.count(what) == count


@pytest.mark.parametrize(("minutes", "shot"), [(0, False), (420, False), (60, True)])
def test_the_end_of_an_order_is_that_of_the_day_simulated_in_it(minutes: int, shot: bool, changes: Changeovers) -> None:
    clock = SetClock()
    session = begun(clock=clock)
    if shot:
        make_ready(session, "captain-deck")
        session.mark_shot()
        session.begin("keeper-window")
    clock.move(minutes)
    proposal = best_order(session.moment, changes, OrderRequest(soonest=True))
    ends = [
        median_run(day_from_now(replace(session.moment, waiting=order), changes)).finish_s
        for order in (proposal.given, proposal.order)
    ]
    assert [proposal.given_finish_s, proposal.finish_s] == pytest.approx(ends, abs=1)
    assert ends[1] <= ends[0]
