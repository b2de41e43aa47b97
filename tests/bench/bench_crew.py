"""How well jobs that share scarce hands are scheduled, on published project-scheduling instances.

    python tests/bench/bench_crew.py FILE.sm ... [--optima j30opt.sm] [--nodes N] [--seconds S]

Reads PSPLIB single-mode files (Kolisch and Sprecher, EJOR 96, 1997). Without files it times made-up
changeovers. Not collected by pytest; the instances are not part of this project.
"""

from __future__ import annotations

import argparse
import random
import re
import sys
import time
from collections.abc import Callable
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from runbook.change.crew import share
from runbook.change.makespan import schedule
from runbook.change.net import Job
from runbook.change.unbroken import Task


def read_sm(text: str) -> tuple[list[Job], tuple[int, ...]]:
    """The jobs and the hands of a single-mode file."""

    def block(title: str) -> list[list[int]]:
        tail = text.split(title, 1)[1].split("\n", 1)[1]
        rows: list[list[int]] = []
        for line in tail.splitlines():
            if line.startswith("***"):
                break
            if re.fullmatch(r"[\d\s]+", line) and line.strip():
                rows.append([int(word) for word in line.split()])
        return rows

    follows = {row[0]: row[3:] for row in block("PRECEDENCE RELATIONS")}
    wants = {row[0]: (row[2], tuple(row[3:])) for row in block("REQUESTS/DURATIONS")}
    jobs = []
    for number in sorted(wants):
        length, needs = wants[number]
        earlier = [other for other, later in follows.items() if number in later]
        jobs.append(Job(length, needs, tuple((e - 1, wants[e][0]) for e in earlier)))
    return jobs, tuple(block("RESOURCEAVAILABILITIES")[0])


def within(seconds: float) -> Callable[[], bool]:
    end = time.perf_counter() + seconds
    return lambda: time.perf_counter() > end


def made_up(steps: int, people: int, rng: random.Random) -> list[Task]:
    """Chains as heads are rigged: random lengths on a 5 s grid, some steps for two, a last test."""
    tasks: list[Task] = []
    ends: list[int] = []
    while len(tasks) < steps - 1:
        last: tuple[int, ...] = ()
        for _ in range(min(rng.randint(4, 9), steps - 1 - len(tasks))):
            n = len(tasks) + 1
            after = last
            if tasks and rng.random() < 0.1:
                after = (*last, rng.choice(tasks).n)
            hands = 2 if people > 1 and rng.random() < 0.12 else 1
            tasks.append(Task(n, 5 * rng.randint(1, 18), hands, tuple(sorted(set(after)))))
            last = (n,)
        ends += last
    return [*tasks, Task(steps, 30, 1, tuple(ends))]


def main() -> None:
    words = argparse.ArgumentParser()
    words.add_argument("files", nargs="*", type=Path)
    words.add_argument("--optima", type=Path)
    words.add_argument("--nodes", type=int, default=200_000)
    words.add_argument("--seconds", type=float, default=5.0)
    given = words.parse_args()
    optima: dict[str, int] = {}
    if given.optima:
        for line in given.optima.read_text().splitlines():
            row = line.split()
            if len(row) >= 3 and row[0].isdigit() and row[1].isdigit():
                optima[f"j30{row[0]}_{row[1]}"] = int(row[2])
    for file in given.files:
        jobs, hands = read_sm(file.read_text())
        begin = time.perf_counter()
        found = schedule(jobs, hands, nodes=given.nodes, should_stop=within(given.seconds))
        spent = time.perf_counter() - begin
        state = "proven" if found.proven else f"bound {found.bound}"
        known = optima.get(file.stem, "?")
        print(f"{file.stem:10} {found.total:4} best known {known} {state} {spent:.3f} s")
    if not given.files:
        for steps in (10, 15, 20, 30, 40, 60):
            for people in (2, 3, 4):
                cases, proven, worst, spent = 15, 0, 0.0, []
                for seed in range(cases):
                    tasks = made_up(steps, people, random.Random(seed))
                    begin = time.perf_counter()
                    done = share(
                        tasks, people, nodes=given.nodes, should_stop=within(given.seconds)
                    )
                    spent.append(time.perf_counter() - begin)
                    proven += done.proven
                    worst = max(worst, done.gap)
                spent.sort()
                print(
                    f"{steps} steps, {people} people: proven {proven} of {cases}, worst gap "
                    f"{worst:.1%}, median {spent[cases // 2] * 1e3:.1f} ms, worst {spent[-1]:.2f} s"
                )


if __name__ == "__main__":
    main()
