"""Start times with the least total, against every order of small cases."""

from __future__ import annotations

from itertools import permutations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from runbook.change.makespan import schedule
from runbook.change.net import Job


def _check(jobs: list[Job], hands: tuple[int, ...], starts: tuple[int, ...]) -> None:
    """Every job waits for what it follows, and never are more hands at work than there are."""
    for job, start in zip(jobs, starts, strict=True):
        assert all(starts[p] + lag <= start for p, lag in job.after)
    for moment in starts:
        for kind, most in enumerate(hands):
            at_work = sum(
                job.needs[kind]
                for job, start in zip(jobs, starts, strict=True)
                if start <= moment < start + job.length
            )
            assert at_work <= most


def _least(jobs: list[Job], hands: tuple[int, ...]) -> int:
    """The best of placing the jobs one by one in every order, each as early as it goes."""
    horizon = sum(job.length for job in jobs)
    best = horizon
    for order in permutations(range(len(jobs))):
        starts: dict[int, int] = {}
        used = [[0] * len(hands) for _ in range(2 * horizon + 1)]
        for index in order:
            job = jobs[index]
            if any(p not in starts for p, _ in job.after):
                break
            start = max((starts[p] + lag for p, lag in job.after), default=0)
            while any(
                used[t][k] + need > hands[k]
                for t in range(start, start + job.length)
                for k, need in enumerate(job.needs)
            ):
                start += 1
            for t in range(start, start + job.length):
                for k, need in enumerate(job.needs):
                    used[t][k] += need
            starts[index] = start
        else:
            best = min(best, max(starts[i] + job.length for i, job in enumerate(jobs)))
    return best


@st.composite
def _problems(draw: st.DrawFn) -> tuple[list[Job], tuple[int, ...]]:
    hands = tuple(draw(st.lists(st.integers(1, 4), min_size=1, max_size=2)))
    jobs: list[Job] = []
    for index in range(draw(st.integers(1, 5))):
        length = draw(st.integers(0, 6))
        needs = tuple(draw(st.integers(0, most)) for most in hands)
        after = []
        for earlier in range(index):
            if draw(st.integers(0, 2)) == 0:
                whole = jobs[earlier].length
                after.append((earlier, draw(st.sampled_from([whole, whole, whole // 2, 0]))))
        jobs.append(Job(length, needs, tuple(after)))
    return jobs, hands


@settings(max_examples=60, deadline=None)
@given(_problems())
def test_the_least_total_of_small_cases(problem):
    jobs, hands = problem
    found = schedule(jobs, hands)
    _check(jobs, hands, found.starts)
    assert found.proven
    assert found.total == found.bound == _least(jobs, hands)


@settings(max_examples=60, deadline=None)
@given(_problems(), st.integers(0, 3))
def test_a_search_cut_short_still_plans_and_never_claims_too_much(problem, nodes):
    jobs, hands = problem
    found = schedule(jobs, hands, nodes=nodes)
    _check(jobs, hands, found.starts)
    assert found.bound <= _least(jobs, hands) <= found.total


def test_waiting_can_be_better_than_working():
    # Job 3 could start at once or at 1, but then the two-handed job 2 and the long job 4 behind it
    # come late: whoever never waits needs 15 (derived by hand).
    jobs = [
        Job(2, (1,)),
        Job(1, (1,)),
        Job(4, (2,), ((0, 2),)),
        Job(5, (1,)),
        Job(6, (1,), ((2, 4),)),
    ]
    found = schedule(jobs, (2,))
    assert found.total == 12
    assert found.starts[3] >= 6


def test_a_stopped_search_gives_its_best():
    jobs = [Job(7 + i % 5, (1 + i % 2,), ((i - 3, 7 + (i - 3) % 5),) if i > 4 else ()) for i in
            range(24)]  # fmt: skip
    found = schedule(jobs, (3,), should_stop=lambda: True)
    _check(jobs, (3,), found.starts)
    assert found.bound <= found.total


def test_the_same_jobs_give_the_same_plan():
    jobs = [Job(3 + i * 7 % 5, (1,), ((i - 2, 1),) if i > 3 else ()) for i in range(12)]
    assert schedule(jobs, (3,)) == schedule(jobs, (3,))


@pytest.mark.parametrize("length", [0, 5])
def test_one_job(length):
    assert schedule([Job(length, (1,))], (1,)).total == length


def test_nothing_to_do():
    assert schedule([], (2,)).total == 0
