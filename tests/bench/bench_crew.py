"""How long made-up changeovers take to schedule, and how many schedules are proven the fastest.

By hand: ``python -m tests.bench.bench_crew``. Not collected by pytest.
"""

from __future__ import annotations

import random
import time

from runbook.changeover.schedule import share
from runbook.changeover.tasks import Task


def made_up(steps: int, people: int, rng: random.Random) -> list[Task]:
    """Return chains as heads are rigged: lengths on a 5 s grid, some steps for two, a last test."""
    tasks: list[Task] = []
    ends: list[int] = []
    while len(tasks) < steps - 1:
        last: tuple[int, ...] = ()
        thing = str(len(tasks))
        for _ in range(min(rng.randint(4, 9), steps - 1 - len(tasks))):
            n = len(tasks) + 1
            after = last
            if tasks and rng.random() < 0.1:
                after = (*last, rng.choice(tasks).n)
            hands = 2 if people > 1 and rng.random() < 0.12 else 1
            after = tuple(sorted(set(after)))
            tasks.append(Task(n, 5 * rng.randint(1, 18), hands, after, thing=thing))
            last = (n,)
        ends += last
    return [*tasks, Task(steps, 30, 1, tuple(ends), thing="set")]


def main() -> None:
    """Print one line for each number of steps and people."""
    cases = 15
    for steps in (10, 15, 20, 30, 40, 60):
        for people in (2, 3, 4):
            proven, worst, spent = 0, 0.0, []
            for seed in range(cases):
                tasks = made_up(steps, people, random.Random(seed))
                begin = time.perf_counter()
                done = share(tasks, people)
                spent.append(time.perf_counter() - begin)
                proven += done.proven
                worst = max(worst, done.total_s / done.bound_s - 1)
            spent.sort()
            print(
                f"{steps} steps, {people} people: {proven} of {cases} proven, at most {worst:.1%} "
                f"over the bound, median {spent[cases // 2] * 1e3:.1f} ms, worst {spent[-1]:.3f} s"
            )


if __name__ == "__main__":
    main()
