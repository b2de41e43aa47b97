"""The order of the demo day with the least changing, and what it does to the day's end."""

from __future__ import annotations

from dataclasses import replace
from itertools import permutations

import pytest

from runbook.clock.order import NoOrder
from runbook.plan.day import Plan
from runbook.session.ordering import best_order, facts
from runbook.session.planned_day import Changes, Stopped
from tests.session.days import demo, short


def changing(changes: Changes, order: tuple[str, ...]) -> float:
    pairs = zip((None, *order), (*order, None), strict=True)
    return sum(changes.between(start, goal).shares.total_s for start, goal in pairs)


def test_no_order_of_a_small_day_has_less() -> None:
    plan = short("keeper-window", "widow-letter", "captain-deck", "seamstress-veil")
    changes = Changes(plan)
    found = best_order(plan, changes)
    least = min(changing(changes, order) for order in permutations(plan.day.order))
    assert found.proven
    assert found.changing_s == changing(changes, found.order) == least
    assert found.given_changing_s == changing(changes, plan.day.order)


def test_the_looks_stay_together_where_they_are_together() -> None:
    together = short("keeper-window", "keeper-lamp", "widow-letter", "widow-answer")
    found = best_order(together, Changes(together))
    looks = [together.setups[name].look for name in found.order]
    assert found.together and looks[0] == looks[1] and looks[2] == looks[3]
    apart = short("keeper-window", "widow-letter", "keeper-lamp", "widow-answer")
    assert not best_order(apart, Changes(apart)).together


def before(plan: Plan, first: str, *later: str) -> Plan:
    setups = plan.setups | {first: replace(plan.setups[first], before=later)}
    return replace(plan, setups=setups)


def test_what_must_come_before_comes_before() -> None:
    free = short("keeper-window", "widow-letter", "captain-deck")
    last = best_order(free, Changes(free)).order[-1]
    others = [name for name in free.day.order if name != last]
    bound = before(free, last, *others)
    assert best_order(bound, Changes(bound)).order[0] == last
    circle = before(before(free, "keeper-window", "widow-letter"), "widow-letter", "keeper-window")
    with pytest.raises(NoOrder):
        best_order(circle, Changes(circle))


def test_the_facts_and_the_end_of_the_day() -> None:
    found = best_order(demo(), Changes(demo()))
    told = facts(demo(), found)
    assert told["proven"] is True
    assert told["changing_s"] <= told["given_order_changing_s"]
    assert sorted(told["order"]) == sorted(demo().day.order)
    assert 8 * 3600 < found.given_finish_s < 18 * 3600


def test_it_can_be_stopped() -> None:
    heard: list[str] = []
    with pytest.raises(Stopped):
        best_order(demo(), Changes(demo()), tell=heard.append, should_stop=lambda: len(heard) > 1)
    assert heard == ["changeovers from setup 1 of 9", "changeovers from setup 2 of 9"]
