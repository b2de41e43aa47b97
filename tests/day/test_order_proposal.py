"""The order of the demo day with the least changing, and what it does to the day's end."""

from __future__ import annotations

from dataclasses import replace
from itertools import permutations

import pytest

from runbook.clock.timetable import median_day
from runbook.day.order_proposal import CannotOrder, OrderRequest, best_order, proposal_data, sooner_order
from runbook.day.planned_day import Changeovers, PlannedChangeover, Stopped, day_as_planned
from runbook.day.remaining_day import day_from_now
from runbook.model.day import Plan
from tests.day.days import SetClock, begun, demo, make_ready, short


def changing(changes: Changeovers, order: tuple[str, ...]) -> float:
    pairs = zip((None, *order), (*order, None), strict=True)
    return sum(changes.between(start, goal).shares.total_s for start, goal in pairs)


def test_no_order_of_a_small_day_has_less() -> None:
    plan = short("keeper-window", "widow-letter", "captain-deck", "seamstress-veil")
    changes = Changeovers(plan)
    found = best_order(begun(plan).moment, changes)
    least = min(changing(changes, order) for order in permutations(plan.day.order))
    assert found.bound_s <= found.changing_s == changing(changes, found.order) == least
    assert found.given_changing_s == changing(changes, plan.day.order)


@pytest.mark.parametrize("apart", [False, True])
def test_an_order_is_proven_only_if_no_share_of_its_changeovers_could_be_shorter(apart: bool) -> None:
    class Bounded(Changeovers):
        """Changeovers of which one, never part of the best order, has or lacks a proof."""

        less_s = 0.0

        def between(self, start: str | None, goal: str | None, *without: object) -> PlannedChangeover:
            worked = super().between(start, goal, *without)  # type: ignore[arg-type]
            shares = worked.shares._replace(bound_s=worked.shares.total_s)
            if (start, goal) == ("widow-letter", "captain-deck"):
                shares = shares._replace(bound_s=shares.total_s - self.less_s)
            return replace(worked, shares=shares)

    plan = short("keeper-window", "widow-letter", "captain-deck", "seamstress-veil")
    changes, asked = Bounded(plan), OrderRequest(apart=apart)
    sure = best_order(begun(plan).moment, changes, asked)
    assert sure.proven
    unsure = {}
    for less_s in (5.0, 10_000.0):
        changes.less_s = less_s
        found = best_order(begun(plan).moment, changes, asked)
        assert found.order == sure.order
        unsure[less_s] = found.proven
        assert proposal_data(found)["proven"] == (found.changing_s <= proposal_data(found)["least_possible_s"])
    assert not unsure[10_000.0]


def test_the_looks_stay_together_where_they_are_together() -> None:
    together = short("keeper-window", "keeper-lamp", "widow-letter", "widow-answer")
    found = best_order(begun(together).moment, Changeovers(together))
    looks = [together.setups[name].look for name in found.order]
    assert found.together and looks[0] == looks[1] and looks[2] == looks[3]
    assert found.kept == ("keeper", "widow")
    apart = short("keeper-window", "widow-letter", "keeper-lamp", "widow-answer")
    found = best_order(begun(apart).moment, Changeovers(apart))
    assert not found.together and found.kept == ()


def test_one_look_that_is_split_lets_no_other_fall_apart() -> None:
    looks = {"keeper-window": "x", "widow-letter": "y", "captain-deck": "y", "keeper-lamp": "x"}
    plan = short(*looks)
    setups = {name: replace(plan.setups[name], look=look) for name, look in looks.items()}
    plan = replace(plan, setups=plan.setups | setups)
    changes = Changeovers(plan)
    found = best_order(begun(plan).moment, changes)
    assert (found.together, found.kept) == (False, ("y",))
    kept = [
        order for order in permutations(looks) if abs(order.index("widow-letter") - order.index("captain-deck")) == 1
    ]
    assert found.changing_s == min(changing(changes, order) for order in kept)


def test_a_look_at_work_goes_on_first() -> None:
    plan = short("keeper-window", "captain-deck", "keeper-lamp", "widow-letter")
    setups = {"captain-deck": replace(plan.setups["captain-deck"], look="keeper")}
    plan = replace(plan, setups=plan.setups | setups)
    session = begun(plan)
    session.begin("keeper-window")
    found = best_order(session.moment, Changeovers(plan))
    assert set(found.order[:2]) == {"captain-deck", "keeper-lamp"}
    first = best_order(session.moment, Changeovers(plan), OrderRequest(first="widow-letter"))
    assert first.order[0] == "widow-letter"


def before(plan: Plan, first: str, *later: str) -> Plan:
    setups = plan.setups | {first: replace(plan.setups[first], before=later)}
    return replace(plan, setups=setups)


def test_what_must_come_before_comes_before() -> None:
    free = short("keeper-window", "widow-letter", "captain-deck")
    last = best_order(begun(free).moment, Changeovers(free)).order[-1]
    others = [name for name in free.day.order if name != last]
    bound = before(free, last, *others)
    assert best_order(begun(bound).moment, Changeovers(bound)).order[0] == last
    circle = before(before(free, "keeper-window", "widow-letter"), "widow-letter", "keeper-window")
    with pytest.raises(CannotOrder, match="keeper-window, widow-letter would"):
        best_order(begun(circle).moment, Changeovers(circle))


def test_an_end_that_the_plan_does_not_allow_is_told_by_name() -> None:
    plan = before(short("keeper-window", "widow-letter", "captain-deck"), "keeper-window", "captain-deck")
    moment, changes = begun(plan).moment, Changeovers(plan)
    with pytest.raises(CannotOrder, match="captain-deck cannot be first: keeper-window must come"):
        best_order(moment, changes, OrderRequest(first="captain-deck"))
    with pytest.raises(CannotOrder, match="keeper-window cannot be last: it must come before capt"):
        best_order(moment, changes, OrderRequest(last="keeper-window"))
    assert best_order(moment, changes, OrderRequest(last="captain-deck")).order[-1] == "captain-deck"


def test_the_facts_and_the_end_of_the_day() -> None:
    found = best_order(begun().moment, Changeovers(demo()))
    told = proposal_data(found)
    assert told["proven"] is (told["changing_s"] <= told["least_possible_s"])
    assert told["least_possible_s"] <= told["changing_s"]
    assert told["changing_s"] <= told["given_order_changing_s"]
    assert sorted(told["order"]) == sorted(demo().day.order)
    assert 8 * 3600 < found.given_finish_s < 18 * 3600


def test_it_can_be_stopped() -> None:
    heard: list[str] = []
    with pytest.raises(Stopped):
        best_order(begun().moment, Changeovers(demo()), tell=heard.append, should_stop=lambda: len(heard) > 1)
    assert heard == ["changeovers from setup 1 of 9", "changeovers from setup 2 of 9"]


def end_as_planned(plan: Plan, changes: Changeovers, order: tuple[str, ...]) -> float:
    return median_day(day_as_planned(plan, changes, order))[1]


def test_the_soonest_end_of_a_small_day_is_found() -> None:
    plan = short("keeper-window", "widow-letter", "captain-deck", "seamstress-veil")
    changes = Changeovers(plan)
    moment = begun(plan).moment
    found = best_order(moment, changes, OrderRequest(soonest=True))
    ends = {order: end_as_planned(plan, changes, order) for order in permutations(plan.day.order)}
    assert found.finish_s == ends[found.order] == min(ends.values())
    assert found.given_finish_s == ends[plan.day.order]
    least = best_order(moment, changes)
    assert least.changing_s <= found.changing_s
    assert least.finish_s == ends[least.order] >= found.finish_s


def test_a_setup_asked_for_comes_first_or_last() -> None:
    plan = short("keeper-window", "widow-letter", "captain-deck", "seamstress-veil")
    moment, changes = begun(plan).moment, Changeovers(plan)
    for name in plan.day.order:
        for soonest in (False, True):
            first = best_order(moment, changes, OrderRequest(first=name, soonest=soonest))
            last = best_order(moment, changes, OrderRequest(last=name, soonest=soonest))
            assert (first.order[0], last.order[-1]) == (name, name)
    orders = [order for order in permutations(plan.day.order) if order[0] == "captain-deck"]
    found = best_order(moment, changes, OrderRequest(first="captain-deck"))
    assert found.changing_s == min(changing(changes, order) for order in orders)
    with pytest.raises(CannotOrder, match="lamp is not among the setups left: keeper-window, "):
        best_order(moment, changes, OrderRequest(first="lamp"))


def test_looks_come_apart_where_that_is_asked_and_helps() -> None:
    plan = short("keeper-window", "keeper-lamp", "widow-letter", "widow-answer")
    changes = Changeovers(plan)
    found = best_order(begun(plan).moment, changes, OrderRequest(apart=True))
    assert not found.together
    assert found.changing_s == min(changing(changes, order) for order in permutations(plan.day.order))


def test_what_is_shot_or_at_work_is_settled() -> None:
    plan = short("keeper-window", "widow-letter", "captain-deck", "seamstress-veil")
    session = begun(plan)
    make_ready(session, "captain-deck")
    session.mark_shot()
    session.begin("widow-letter")
    changes = Changeovers(plan)
    found = best_order(session.moment, changes)
    assert found.settled == ("widow-letter", "captain-deck")
    assert set(found.order) == {"keeper-window", "seamstress-veil"}
    assert found.whole == (*found.settled, *found.order)

    def left(order: tuple[str, ...]) -> float:
        pairs = zip(("widow-letter", *order), (*order, None), strict=True)
        return sum(changes.between(start, goal).shares.total_s for start, goal in pairs)

    assert found.changing_s == left(found.order) == min(map(left, permutations(found.order)))


def test_a_sooner_order_says_what_it_wins() -> None:
    order = demo().day.order
    session = begun(short(*order[::2], *order[1::2]))  # the look changes with every setup
    found = sooner_order(session.moment, session.changes, draws=400)
    assert found is not None
    planned_win = best_order(session.moment, session.changes, OrderRequest(soonest=True))
    assert found.order == planned_win.order
    assert 0 < found.wins_s < 7200
    assert sorted(found.whole) == sorted(demo().day.order)
    alone = begun(short("keeper-window"))
    assert sooner_order(alone.moment, alone.changes, draws=10) is None


def test_what_an_order_wins_can_be_stopped_between_two_draws() -> None:
    heard: list[str] = []
    asked: list[bool] = []

    def should_stop() -> bool:
        asked.append(heard[-1:] == ["what that order saves"])
        return sum(asked) > 5

    session = begun()
    with pytest.raises(Stopped):
        sooner_order(session.moment, session.changes, draws=100, should_stop=should_stop, tell=heard.append)
    assert sum(asked) == 6


def test_rules_that_contradict_each_other_leave_the_order_alone() -> None:
    free = short("keeper-window", "widow-letter")
    circle = before(before(free, "keeper-window", "widow-letter"), "widow-letter", "keeper-window")
    session = begun(circle)
    assert sooner_order(session.moment, session.changes, draws=10) is None


@pytest.mark.parametrize("minutes", [0, 60, 420])
@pytest.mark.parametrize("shot", [False, True])
def test_the_end_told_is_the_end_of_the_day_lived_through_in_that_order(minutes: int, shot: bool) -> None:
    clock = SetClock()
    session = begun(clock=clock)
    if shot:
        make_ready(session, "captain-deck")
        session.mark_shot()
        session.begin("keeper-window")
    clock.move(minutes)
    moment, changes = session.moment, session.changes
    found = best_order(moment, changes, OrderRequest(soonest=True))
    ends = [
        median_day(day_from_now(replace(moment, waiting=order), changes))[1] for order in (found.given, found.order)
    ]
    assert [found.given_finish_s, found.finish_s] == pytest.approx(ends, abs=1)
    assert ends[1] <= ends[0]


def test_one_setup_cannot_be_first_and_last() -> None:
    plan = short("keeper-window", "widow-letter")
    with pytest.raises(CannotOrder, match="widow-letter cannot be both first and last"):
        best_order(begun(plan).moment, Changeovers(plan), OrderRequest("widow-letter", "widow-letter"))
    alone = short("widow-letter")
    found = best_order(begun(alone).moment, Changeovers(alone), OrderRequest("widow-letter", "widow-letter"))
    assert found.order == ("widow-letter",)
    session = begun(alone)
    session.begin("widow-letter")
    with pytest.raises(CannotOrder, match="widow-letter is not among the setups left; none is"):
        best_order(session.moment, Changeovers(alone), OrderRequest(last="widow-letter"))


def test_both_ends_of_a_day_are_of_one_look_only_where_it_may_be_apart() -> None:
    plan = short("keeper-window", "keeper-lamp", "widow-letter")
    ends, moment = OrderRequest("keeper-window", "keeper-lamp"), begun(plan).moment
    with pytest.raises(CannotOrder, match="cannot be first and last: they are of the look keeper"):
        best_order(moment, Changeovers(plan), ends)
    found = best_order(moment, Changeovers(plan), replace(ends, apart=True))
    assert found.order == ("keeper-window", "widow-letter", "keeper-lamp")
    both = short("keeper-lamp", "keeper-window")
    assert best_order(begun(both).moment, Changeovers(both), ends).order == both.day.order[::-1]


def test_a_look_at_work_is_left_and_come_back_to_where_its_setup_is_asked_for_last() -> None:
    plan = short("keeper-window", "keeper-lamp", "widow-letter", "captain-deck")
    session = begun(plan)
    session.begin("keeper-window")
    assert best_order(session.moment, Changeovers(plan)).order[0] == "keeper-lamp"
    found = best_order(session.moment, Changeovers(plan), OrderRequest(last="keeper-lamp"))
    assert found.order[-1] == "keeper-lamp"
