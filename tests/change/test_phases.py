"""Parting a changeover into before, inside and after the stopped time."""

from __future__ import annotations

import pytest

from runbook.change.crew import share
from runbook.change.phases import of_phase, phases
from runbook.change.unbroken import Task

# A worked changeover in the manner of Shingo (A Revolution in Manufacturing, 1985; the numbers are
# our own): a key is re-rigged, a rim and a background head come on, two heads go. b: can be done
# before; w: its putting away can wait.
_ROWS = """
 1 kill key          10 1 -
 2 lower key         20 1 1
 3 strike octa       45 2 2
 4 mount dish        40 1 3
 5 raise key         20 1 4
 6 power key         10 1 5
 7 bag key           15 1 5
 8 fetch rim         60 1 -     b
 9 strip and grid    75 1 8     b
10 cable and raise   40 1 9     b
11 roll rim to mark  25 1 10
12 bag rim           15 1 11
13 power rim         10 1 11
14 fetch ground      60 1 -     b
15 reflector and gel 45 1 14    b
16 roll to mark      25 1 15
17 bag ground        15 1 16
18 power ground      10 1 16
19 kill fill         10 1 -
20 fill off set      30 1 19
21 put fill away     90 1 20    w
22 kill old rim      10 1 -
23 old rim off set   30 1 22
24 put rim away      90 1 23    w
25 test and meter    45 2 6,7,12,13,17,18,20,23
"""


def _worked(people: int) -> tuple[list[Task], set[int]]:
    tasks, can_wait = [], set()
    for row in _ROWS.strip().splitlines():
        mark = row[-1] if row[-1] in "bw" else ""
        n, *_, seconds, hands, after = row.removesuffix(mark).split()
        follows = tuple(int(word) for word in after.split(",") if word != "-")
        with_hands = min(int(hands), people)
        tasks.append(Task(int(n), int(seconds), with_hands, follows, None, mark == "b"))
        if mark == "w":
            can_wait.add(int(n))
    return tasks, can_wait


@pytest.mark.parametrize(
    ("people", "all_inside", "put_away_later", "ahead", "both"),
    [(1, 845, 665, 565, 385), (2, 470, 380, 330, 240), (3, 315, 270, 220, 195),
     (4, 260, 260, 195, 195)],
)  # fmt: skip
def test_stopped_time_of_the_worked_changeover(people, all_inside, put_away_later, ahead, both):
    # All 16 are proved optima, worked out apart from this program (derived).
    tasks, can_wait = _worked(people)
    unready = [task._replace(ahead=False) for task in tasks]

    def stopped(some: list[Task], later: set[int]) -> float:
        found = share(of_phase(some, phases(some, later).inside), people)
        assert found.proven
        return found.total_s

    assert stopped(unready, set()) == all_inside
    assert stopped(unready, can_wait) == put_away_later
    assert stopped(tasks, set()) == ahead
    assert stopped(tasks, can_wait) == both


def test_a_step_goes_before_only_with_all_it_follows():
    tasks = [Task(1, 10), Task(2, 10, after=(1,), ahead=True), Task(3, 5, ahead=True)]
    assert phases(tasks).before == {3}


def test_a_step_waits_only_with_all_that_follows_it():
    tasks = [Task(1, 10), Task(2, 10, after=(1,)), Task(3, 10, after=(2,))]
    assert phases(tasks, {1, 3}).after == {3}
    assert phases(tasks, {2, 3}).after == {2, 3}


def test_a_hold_stays_together():
    tasks = [Task(1, 5, hold="S1", ahead=True), Task(2, 5, after=(1,), hold="S1")]
    assert phases(tasks).inside == {1, 2}
    assert phases(tasks, {2}).inside == {1, 2}


def test_the_phases_are_all_of_the_steps():
    tasks, can_wait = _worked(2)
    parts = phases(tasks, can_wait)
    assert sorted([*parts.before, *parts.inside, *parts.after]) == [task.n for task in tasks]
