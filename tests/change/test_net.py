"""Jobs that wait for each other: the chains before and behind each, worked out by hand."""

from __future__ import annotations

import random

from runbook.change.net import Job, Net

# 0 and 1 go on side by side; 2 follows 0's end and 1's beginning by one; 3 follows 2
NET = Net(
    [
        Job(3, (1,)),
        Job(5, (2,)),
        Job(4, (1,), ((0, 3), (1, 1))),
        Job(2, (2,), ((2, 4),)),
    ],
    (2,),
)


def test_the_longest_chains_before_and_behind_each_job() -> None:
    assert NET.head == [0, 0, 3, 7]
    assert NET.tail == [9, 7, 6, 2]
    assert NET.behind == [6, 2, 2, 0]
    assert NET.partway == [[], [(2, 1)], [], []]


def test_what_takes_every_hand_goes_on_alone() -> None:
    assert NET.alone == {1, 3}
    # of a chain, the most that can go on without them: 0 and then 2
    assert NET.apart == [7, 4, 4, 0]


def test_every_job_stands_behind_what_it_follows_whatever_the_order_given() -> None:
    chance = random.Random(4)
    for _ in range(50):
        place = list(range(4))
        chance.shuffle(place)
        jobs = [Job(0, ())] * 4
        for index, job in enumerate(NET.jobs):
            after = tuple((place[p], lag) for p, lag in job.after)
            jobs[place[index]] = job._replace(after=after)
        shuffled = Net(jobs, (2,))
        at = {index: n for n, index in enumerate(shuffled.order)}
        assert all(at[p] < at[i] for i, job in enumerate(jobs) for p, _ in job.after)
        assert [shuffled.head[place[i]] for i in range(4)] == NET.head


def test_backwards_the_chains_change_places() -> None:
    late = Net([*NET.jobs[:2], NET.jobs[2]._replace(after=((0, 3), (1, 5))), NET.jobs[3]], (2,))
    back = late.backwards()
    assert back is not None
    assert back.head == late.behind
    assert back.behind == late.head
    # what may be over while that goes on which it follows would begin before it may, backwards
    assert Net([Job(5, (1,)), Job(2, (1,), ((0, 1),))], (2,)).backwards() is None


def test_starts_turned_end_where_the_others_began() -> None:
    starts = [0, 0, 3, 7]
    assert NET.end(starts) == 9
    assert NET.turned(starts) == [6, 4, 2, 0]
    assert NET.turned(NET.turned(starts)) == starts
