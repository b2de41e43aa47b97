"""Sharing steps over the crew."""

from __future__ import annotations

from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from runbook.change.crew import Share, TooFewHands, followed, share, waited_for
from runbook.change.critical import critical_path
from runbook.change.unbroken import Task, moments


def _check(tasks: list[Task], found: Share, people: int) -> None:
    by_n = {task.n: task for task in tasks}
    start = {done.n: done.start_s for done in found.work}
    end = {n: start[n] + by_n[n].seconds for n in by_n}
    assert sorted(start) == sorted(by_n)
    assert found.total_s == pytest.approx(max(end.values(), default=0))
    for done in found.work:
        assert len(set(done.crew)) == len(done.crew)
        # a hold and what is done within it can take more than there are
        enough = max(each.people for each in moments(tasks)) <= people
        assert len(done.crew) == by_n[done.n].hands or not enough
        assert set(done.crew) <= set(range(people))
        assert all(end[n] <= start[done.n] + 1e-6 for n in by_n[done.n].after)
    for person in range(people):
        mine = sorted((start[w.n], end[w.n]) for w in found.work if person in w.crew)
        mine = [(begin, done) for begin, done in mine if begin < done]
        assert all(a[1] <= b[0] + 1e-6 for a, b in pairwise(mine))


@st.composite
def _changeovers(draw: st.DrawFn) -> list[Task]:
    tasks = []
    for n in range(1, draw(st.integers(1, 12)) + 1):
        after = draw(st.sets(st.integers(1, n - 1), max_size=2)) if n > 1 else set()
        seconds = draw(st.sampled_from([0, 5, 10, 15, 20.5, 30]))
        hold = draw(st.sampled_from([None, None, None, "S1", "S2"]))
        hands = draw(st.sampled_from([1, 1, 2]))
        tasks.append(Task(n, seconds, hands, tuple(sorted(after)), hold))
    return tasks


@settings(max_examples=50, deadline=None)
@given(_changeovers(), st.integers(2, 6))
def test_every_share_can_be_done(tasks, people):
    found = share(tasks, people, nodes=300)
    _check(tasks, found, people)
    assert found.bound_s <= found.total_s + 1e-9


@settings(max_examples=50, deadline=None)
@given(_changeovers(), st.integers(2, 4))
def test_a_hold_is_unbroken_and_in_the_same_hands(tasks, people):
    found = share(tasks, people, nodes=300)
    seconds = {task.n: task.seconds for task in tasks}
    by_n = {done.n: done for done in found.work}
    for hold in ("S1", "S2"):
        held = sorted(
            (by_n[task.n] for task in tasks if task.hold == hold), key=lambda done: done.start_s
        )
        if not held:
            continue
        if max(each.people for each in moments(tasks)) > people:
            continue
        (lead, *_) = set.intersection(*(set(done.crew) for done in held))
        begin, end = held[0].start_s, max(done.start_s + seconds[done.n] for done in held)
        mine = {done.n for done in held}
        else_busy = [
            done.n
            for done in found.work
            if lead in done.crew and begin <= done.start_s < end and done.n not in mine
        ]
        assert sum(seconds[n] for n in else_busy) == 0


def test_a_plain_hold_goes_step_by_step():
    tasks = [
        Task(1, 10, hold="S1"),
        Task(2, 20, after=(1,), hold="S1"),
        Task(3, 10, after=(2,), hold="S1"),
        Task(4, 15),
        Task(5, 15, after=(1,)),
    ]
    found = share(tasks, 2)
    start = {done.n: done.start_s for done in found.work}
    crew = {done.n: done.crew for done in found.work}
    assert (start[2], start[3]) == (start[1] + 10, start[2] + 20)
    assert crew[1] == crew[2] == crew[3]
    assert found.total_s == 40


def test_what_must_come_within_a_hold_is_done_in_it_by_somebody_else():
    tasks = [Task(1, 10, hold="S1"), Task(2, 5, after=(1,)), Task(3, 10, after=(2,), hold="S1")]
    found = share(tasks, 3)
    assert [(done.n, done.crew, done.start_s) for done in found.work] == [
        (1, (0,), 0),
        (2, (1,), 10),
        (3, (0,), 15),
    ]


def test_one_alone_does_what_two_should_do():
    tasks = [Task(1, 10, hold="S1"), Task(2, 5, after=(1,)), Task(3, 10, after=(2,), hold="S1")]
    assert [done.crew for done in share(tasks, 1).work] == [(0,)] * 3


def test_two_people_halve_what_can_be_halved():
    found = share([Task(n, 30) for n in range(1, 5)], 2)
    assert found.total_s == 60
    assert found.proven
    assert found.gap == 0


def test_one_person_keeps_to_the_order_given():
    tasks = [Task(1, 10), Task(2, 20), Task(3, 5, after=(1,))]
    assert [done.n for done in share(tasks, 1).work] == [1, 2, 3]


def test_whoever_was_there_stays_there():
    tasks = [Task(1, 10), Task(2, 10), Task(3, 10, after=(2,)), Task(4, 10, after=(1,))]
    crew = {done.n: done.crew for done in share(tasks, 2).work}
    assert crew[3] == crew[2]
    assert crew[4] == crew[1]


def test_too_few_hands_names_the_steps():
    with pytest.raises(TooFewHands, match="step 2, 3 needs 3 people and 2 people are here") as told:
        share([Task(1, 5), Task(2, 5, hands=3), Task(3, 5, hands=3)], 2)
    assert told.value.steps == (2, 3)


@pytest.mark.parametrize(
    ("tasks", "wrong"),
    [
        ([Task(1, 5, after=(2,)), Task(2, 5, after=(1,))], "steps 1, 2 wait for each other"),
        ([Task(1, 5, after=(1,))], "steps 1 wait"),
        ([Task(1, 5, after=(9,))], "step 1 comes after step 9, which is not there"),
        ([Task(1, 5), Task(1, 5)], "same number"),
        ([Task(1, -5)], "0 s or more"),
    ],
)
def test_what_is_wrong_is_said(tasks, wrong):
    with pytest.raises(ValueError, match=wrong):
        share(tasks, 2)


@pytest.mark.parametrize("people", [0, 7])
def test_a_crew_is_one_to_six(people):
    with pytest.raises(ValueError, match="1 to 6"):
        share([Task(1, 5)], people)


def test_steps_that_take_no_time_cost_none():
    tasks = [Task(1, 0), Task(2, 10, after=(1,)), Task(3, 0, after=(2,)), Task(4, 10, after=(3,))]
    assert share(tasks, 2).total_s == 20


@settings(max_examples=60, deadline=None)
@given(_changeovers(), st.integers(2, 4))
def test_steps_waited_for_make_the_whole_late(tasks, people):
    found = share(tasks, people, nodes=300)
    follows = followed(tasks, found.work)
    seconds = {task.n: task.seconds for task in tasks}
    waited = waited_for(tasks, found.work)

    def total(lengths: dict[int, float]) -> float:
        path = critical_path(lengths, follows)
        return max(path[n].earliest_s + lengths[n] for n in path)

    for task in tasks:
        later = total(seconds | {task.n: task.seconds + 1}) - total(seconds)
        assert later == pytest.approx(1) if task.n in waited else later < 1


def test_the_longest_chain_is_waited_for():
    tasks = [Task(1, 60), Task(2, 10), Task(3, 10, after=(1, 2))]
    assert waited_for(tasks, share(tasks, 2).work) == {1, 3}


def test_a_typical_changeover_is_proven_at_once():
    # four heads: lower, strike, fit, raise, power; a bag for two of them; a test at the end
    tasks: list[Task] = []
    for head in range(3):
        first = 5 * head + 1
        for k, seconds in enumerate((20, 45, 40, 20, 10)):
            after = (first + k - 1,) if k else ()
            tasks.append(Task(first + k, seconds + 5 * head, 1, after))
    tasks.append(Task(16, 45, 1, (5, 10, 15)))
    found = share(tasks, 2, nodes=5_000)
    assert found.proven
