"""What would end the day sooner: against every setup and pair tried by hand, and calls against days called earlier."""

import datetime as dt
from itertools import combinations

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from runbook.clock.forecast import forecasts, gain_of
from runbook.clock.timetable import median_run
from runbook.day.changeovers import Changeovers
from runbook.day.hours import hours_of, with_help
from runbook.day.order_proposal import SEED
from runbook.day.remaining_day import day_from_now
from runbook.day.remedies import CREW, EVERYONE, Drop, Remedies, remedies_of
from runbook.model.day import Plan
from tests.day.days import SetClock, begun, demo, make_ready, short
from tests.day.plans import with_day

H = 3600.0
DRAWS = 40
CHANGES = Changeovers(demo())


def day_of(names: tuple[str, ...], wrap: dt.time, **more: object) -> Plan:
    return with_day(short(*names), wrap=wrap, **more)


def remedies(plan: Plan, over_s: float | None = 1800.0) -> Remedies:
    return remedies_of(begun(plan).moment, Changeovers(plan), DRAWS, over_s)


def by_hand(plan: Plan, size: int) -> list[Drop]:
    """Every group of so many setups left out of the plan, with the least loss first."""

    def loss(group: tuple[str, ...]) -> tuple[int, float]:
        setups = [plan.setups[name] for name in group]
        return sum(setup.frames for setup in setups), sum(60 * setup.shoot_min for setup in setups)

    order = plan.day.order
    groups = [*combinations(order, size)]
    if size > 1:
        groups.sort(key=loss)
    plans = [plan, *(day_of(tuple(n for n in order if n not in group), plan.day.wrap) for group in groups)]
    now, *then = forecasts([day_from_now(begun(one).moment, CHANGES) for one in plans], SEED, DRAWS)
    return [Drop(group, *loss(group), gain_of(now, one)) for group, one in zip(groups, then, strict=True)]


# pairs that lose as much as another are tried in one order, so that their draws are the same
TIED = ["keeper-window", "seamstress-veil", "seamstress-thread", "keeper-lamp", "widow-letter"]


@settings(max_examples=5, deadline=None)
@example(TIED, 5, 0.5)
@given(st.permutations(demo().day.order), st.integers(2, 5), st.floats(0.2, 1.0))
def test_the_setups_to_drop_are_those_that_trying_all_of_them_finds(names: list[str], count: int, share: float) -> None:
    order = tuple(names[:count])
    end_s = median_run(day_from_now(begun(day_of(order, dt.time(18))).moment, CHANGES)).finish_s
    plan = day_of(order, (dt.datetime.min + dt.timedelta(seconds=round(8 * H + share * (end_s - 8 * H)))).time())
    found, singles, pairs = remedies(plan), by_hand(plan, 1), by_hand(plan, 2)
    assert sorted(found.singles, key=str) == sorted(singles, key=str)
    enough = [drop for drop in singles if drop.gain.in_time]
    assert [drop.gain.in_time for drop in found.singles[: len(enough)]] == [True] * len(enough)
    losses = [(drop.frames, drop.shoot_s) for drop in found.singles[: len(enough)]]
    assert losses == sorted(losses)
    enough_pairs = [drop for drop in pairs if drop.gain.in_time][:3]
    if enough:
        assert found.pairs == ()
    elif enough_pairs:
        assert [*found.pairs] == enough_pairs
    else:
        most = max((drop.gain.wins_s for drop in pairs), default=0.0)
        assert [drop.gain.wins_s for drop in found.pairs] == ([most] if most >= 60 else [])


def test_a_pair_of_many_saves_as_much_as_any() -> None:
    found = remedies(day_of(demo().day.order, dt.time(9)), 5 * H)
    assert len(demo().day.order) == 9  # 36 pairs: not all are forecast
    assert not any(drop.gain.in_time for drop in (*found.singles, *found.pairs))
    (pair,) = found.pairs
    assert pair.gain.wins_s >= 0.9 * max(drop.gain.wins_s for drop in by_hand(demo(), 2))


def test_a_talent_waited_for_is_called_earlier_and_the_crew_where_that_is_what_helps() -> None:
    plan = day_of(("keeper-window", "widow-letter"), dt.time(9, 20), breaks=())
    (call, *others) = remedies(plan, 600.0).calls
    assert (call.who, call.look, call.call_s) == ("T1", "keeper", 8 * H - 40 * 60)  # waits 36 min: at 5 past, 20 past
    assert call.gain.helps and [other.who for other in others] == [EVERYONE]
    (crew,) = remedies(with_day(plan, looks=()), 600.0).calls
    assert (crew.who, crew.earlier_s) == (CREW, 900.0)
    assert crew.gain.wins_s == pytest.approx(900.0)


def test_nobody_is_called_before_now_and_the_crew_not_once_the_day_has_begun() -> None:
    plan = day_of(("keeper-window", "widow-letter"), dt.time(9, 20), breaks=())
    clock = SetClock(7, 50)
    ahead = remedies_of(begun(plan, clock).moment, CHANGES, DRAWS, 3600.0)
    assert [(call.who, call.earlier_s) for call in ahead.calls] == [("T1", 600.0)]
    session = begun(plan, SetClock(8))
    make_ready(session, "keeper-window")
    assert remedies_of(session.moment, CHANGES, DRAWS, 3600.0).calls == ()


def test_a_day_in_time_needs_no_pair_and_no_call() -> None:
    in_time = begun(day_of(("keeper-window", "widow-letter"), dt.time(18)))
    hours = with_help(hours_of(in_time.moment, in_time.changes, draws=50), in_time.changes, draws=20)
    assert hours.helped and len(hours.remedies.singles) == 2
    assert (hours.remedies.pairs, hours.remedies.calls) == ((), ())
