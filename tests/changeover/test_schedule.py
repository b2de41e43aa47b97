"""Sharing steps over the crew."""

from collections.abc import Sequence
from itertools import pairwise, permutations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from runbook.changeover.schedule import Job, Share, critical_steps, longest_paths, predecessors, schedule, share
from runbook.changeover.tasks import Task, demands


@st.composite
def _changeovers(draw: st.DrawFn) -> list[Task]:
    tasks = []
    for n in range(1, draw(st.integers(1, 12)) + 1):
        after = draw(st.sets(st.integers(1, n - 1), max_size=2)) if n > 1 else set()
        seconds = draw(st.sampled_from([0, 5, 10, 15, 20.5, 30]))
        hold = draw(st.sampled_from([None, None, None, "S1", "S2"]))
        tasks.append(Task(n, seconds, draw(st.sampled_from([1, 1, 2])), tuple(sorted(after)), hold))
    return tasks


def _busy(shared: Share, tasks: Sequence[Task], person: int) -> list[tuple[float, float, int]]:
    """Start, end and number of what a person does and that takes time."""
    seconds = {task.n: task.seconds for task in tasks}
    rows = [(work.start_s, work.start_s + seconds[work.n], work.n) for work in shared.work if person in work.crew]
    return sorted(row for row in rows if row[0] < row[1])


@settings(max_examples=60, deadline=None)
@given(_changeovers(), st.integers(2, 6), st.booleans())
def test_every_share_can_be_done(tasks: list[Task], people: int, only_total: bool) -> None:
    shared = share(tasks, people, only_total=only_total)
    by_n = {task.n: task for task in tasks}
    start = {work.n: work.start_s for work in shared.work}
    end = {n: start[n] + by_n[n].seconds for n in by_n}
    assert start.keys() == by_n.keys()
    assert shared.total_s == pytest.approx(max(end.values(), default=0))
    assert shared.bound_s <= shared.total_s + 1e-9
    # a hold and what is done within it can take more than there are
    enough = max(demand.people for demand in demands(tasks)) <= people
    for work in shared.work:
        assert len(set(work.crew)) == len(work.crew)
        assert len(work.crew) == by_n[work.n].hands or not enough
        assert set(work.crew) <= set(range(people))
        assert all(end[n] <= start[work.n] + 1e-6 for n in by_n[work.n].after)
    for person in range(people):
        assert all(one[1] <= other[0] + 1e-6 for one, other in pairwise(_busy(shared, tasks, person)))


def check_holds(tasks: Sequence[Task], people: int) -> None:
    """Fail unless somebody does all the steps of each hold and nothing else meanwhile, where there are enough."""
    shared = share(tasks, people)
    if max((demand.people for demand in demands(tasks)), default=0) > people:
        return
    by_n = {work.n: work for work in shared.work}
    for hold in {task.hold for task in tasks} - {None}:
        held = {task.n: task.seconds for task in tasks if task.hold == hold}
        since, until = min(by_n[n].start_s for n in held), max(by_n[n].start_s + held[n] for n in held)
        # a hold that takes no time binds nobody
        assert since == until or any(
            all(n in held for start, end, n in _busy(shared, tasks, holder) if start < until and since < end)
            for holder in set.intersection(*(set(by_n[n].crew) for n in held))
        )


@settings(max_examples=50, deadline=None)
@given(_changeovers(), st.integers(2, 4))
def test_a_hold_is_unbroken_and_in_the_same_hands(tasks: list[Task], people: int) -> None:
    check_holds(tasks, people)


HELD = [Task(1, 10, hold="S1"), Task(2, 5, after=(1,)), Task(3, 10, after=(2,), hold="S1")]
FREE = [Task(1, 0), Task(2, 10, after=(1,)), Task(3, 0, after=(2,)), Task(4, 10, after=(3,))]


@pytest.mark.parametrize(("tasks", "people", "crews", "total_s"), [
    (HELD, 3, [(0,), (1,), (0,)], 25),  # what must come within a hold is done by somebody else
    (HELD, 1, [(0,), (0,), (0,)], 25),  # one alone does what two should do
    ([Task(n, 30) for n in range(1, 5)], 2, None, 60),
    ([Task(1, 5, hands=3)], 2, [(0, 1)], 5),  # more people than there are: all of them
    (FREE, 2, None, 20),  # what takes no time costs none
    ([Task(1, 10), Task(2, 20), Task(3, 5, after=(1,))], 1, [(0,), (0,), (0,)], 35),
])  # fmt: skip
def test_who_does_what_and_how_long_it_takes(tasks, people, crews, total_s):
    shared = share(tasks, people)
    assert (shared.total_s, shared.proven) == (total_s, True)
    assert people > 1 or [work.n for work in shared.work] == [task.n for task in tasks]  # in the order given
    assert crews is None or [work.crew for work in sorted(shared.work, key=lambda work: work.n)] == crews


@pytest.mark.parametrize("after", [(1,), (2,), (9,)])
def test_a_step_that_waits_for_itself_a_later_one_or_none_is_refused(after: tuple[int, ...]) -> None:
    with pytest.raises(ValueError, match="waits for"):
        share([Task(1, 5, after=after), Task(2, 5)], 2)


@pytest.mark.parametrize("people", [0, 7])
def test_a_crew_is_one_to_six(people: int) -> None:
    with pytest.raises(ValueError, match="1 to 6"):
        share([Task(1, 5)], people)


@settings(max_examples=60, deadline=None)
@given(_changeovers(), st.integers(2, 4))
def test_a_delay_of_a_critical_step_delays_the_whole_and_of_no_other(tasks: list[Task], people: int) -> None:
    work = share(tasks, people).work
    follows, critical = predecessors(tasks, work), critical_steps(tasks, work)

    def total(late: int | None = None) -> float:
        lengths = {task.n: task.seconds + (task.n == late) for task in tasks}
        heads, _ = longest_paths(lengths, {n: {p: lengths[p] for p in follows[n]} for n in lengths})
        return max(heads[n] + lengths[n] for n in lengths)

    for task in tasks:
        later = total(task.n) - total()
        assert later == pytest.approx(1) if task.n in critical else later < 1


def _heads(count: int) -> list[Task]:
    """Heads that are lowered, stripped, fitted, raised and set, and a test at the end."""
    tasks: list[Task] = []
    for head in range(count):
        first = 5 * head + 1
        for k, seconds in enumerate((20, 45, 40, 20, 10)):
            after = (first + k - 1,) if k else ()
            tasks.append(Task(first + k, seconds + 5 * head, 1, after, thing="ABCDEF"[head]))
    ends = tuple(5 * head + 5 for head in range(count))
    return [*tasks, Task(5 * count + 1, 45, 1, ends, thing="set")]


@pytest.mark.parametrize(("heads", "people"), [(2, 2), (4, 2), (3, 3), (6, 3)])
def test_people_stay_with_one_thing_where_that_costs_no_time(heads: int, people: int) -> None:
    shared = share(_heads(heads), people)
    things = {task.n: task.thing for task in _heads(heads)}
    walks: dict[int, list[str]] = {}
    for work in shared.work:
        for person in work.crew:
            walk = walks.setdefault(person, [""])
            walk += [things[work.n]] if walk[-1] != things[work.n] else []
    # one person takes up each head and nobody comes back to it
    assert sum(len(walk) - 1 for walk in walks.values()) == heads + 1
    assert shared.proven


# --- jobs against every order of small cases


def _least(jobs: list[Job], people: int) -> int:
    """The best of placing the jobs one by one in every order, each as early as it goes."""
    horizon = sum(job.length for job in jobs)
    best = horizon
    for order in permutations(range(len(jobs))):
        starts: dict[int, int] = {}
        used = [0] * (2 * horizon + 1)
        for index in order:
            job = jobs[index]
            if any(p not in starts for p, _ in job.after):
                break
            start = max((starts[p] + lag for p, lag in job.after), default=0)
            while any(used[t] + job.people > people for t in range(start, start + job.length)):
                start += 1
            for t in range(start, start + job.length):
                used[t] += job.people
            starts[index] = start
        else:
            best = min(best, max(starts[i] + job.length for i, job in enumerate(jobs)))
    return best


@st.composite
def _problems(draw: st.DrawFn) -> tuple[list[Job], int]:
    people = draw(st.integers(2, 4))
    jobs: list[Job] = []
    for index in range(draw(st.integers(1, 5))):
        after = []
        for earlier in range(index):
            if draw(st.integers(0, 2)) == 0:
                whole = jobs[earlier].length
                after.append((earlier, draw(st.sampled_from([whole, whole, whole // 2, 0]))))
        jobs.append(Job(draw(st.integers(0, 6)), draw(st.integers(1, people)), tuple(after)))
    return jobs, people


@settings(max_examples=80, deadline=None)
@given(_problems())
def test_no_total_is_below_the_least_and_no_bound_above_it(problem: tuple[list[Job], int]) -> None:
    jobs, people = problem
    plan = schedule(jobs, people)
    rows = list(zip(jobs, plan.starts, plan.crews, strict=True))
    for job, start, crew in rows:
        assert all(plan.starts[p] + lag <= start for p, lag in job.after)
        assert crew.bit_count() == job.people
        assert crew < 1 << people
    for one, other in permutations(((job, start, crew) for job, start, crew in rows if job.length), 2):
        assert not one[2] & other[2] or one[1] + one[0].length <= other[1] or other[1] + other[0].length <= one[1]
    assert plan.bound <= _least(jobs, people) <= plan.total


def test_waiting_can_be_better_than_working() -> None:
    # Job 3 could start at once or at 1, but then the two-handed job 2 and the long job 4 behind it
    # come late: whoever never waits needs 15 (derived by hand).
    jobs = [Job(2, 1), Job(1, 1), Job(4, 2, ((0, 2),)), Job(5, 1), Job(6, 1, ((2, 4),))]
    plan = schedule(jobs, 2)
    assert plan.total == 12
    assert plan.starts[3] >= 6
    assert schedule(jobs, 2) == plan  # the same jobs give the same schedule


def test_who_must_and_who_cannot_do_a_step() -> None:
    crew = ("photo", "first")
    # first puts a panel down before all else; what is done ahead is photo's; first takes it last, and photo tests
    tasks = [
        Task(1, 20, busy=frozenset({"first"})), Task(2, 10), Task(3, 5, by="first"), Task(4, 30, hands=2, after=(2,)),
        Task(5, 10, after=(1, 2, 3, 4), by="first"), Task(6, 10, after=(5,), busy=frozenset({"first"})),
    ]  # fmt: skip
    work = {done.n: done for done in share(tasks, 2, crew).work}
    assert [work[n].crew for n in (1, 3, 4, 5, 6)] == [(0,), (1,), (0, 1), (1,), (0,)]
    assert work[3].start_s == 0
    # where everybody's hands are full, somebody does it all the same
    assert share([Task(1, 5, busy=frozenset(crew))], 2, crew).work[0].crew == (0,)
    # with one free of two, one does what two should do
    assert share([Task(1, 5, hands=2, busy=frozenset({"photo"}))], 2, crew).work[0].crew == (1,)
