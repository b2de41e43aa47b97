"""Sharing steps, critical paths and three-point estimates against published cases."""

from __future__ import annotations

from collections.abc import Callable
from math import ceil
from random import Random

import networkx as nx
import pytest

from runbook.changeover.schedule import Job, longest_paths, schedule, slack_s

# Instance j3033_1 of PSPLIB (R. Kolisch, A. Sprecher, European Journal of Operational Research 96,
# 1997): job, length, needs of four kinds, and the jobs it follows. Optimum 65, in the collection's
# own list (E. Demeulemeester, W. Herroelen, 1995). Seen, both.
_J3033_1 = """
 2  3   0  0  0  9   1
 3  8   0  0  0  7   1
 4  4   0  7  0  0   1
 5  4   0  3  0  0   4
 6  6   0  0  9  0   4
 7  5   0  0  3  0   6
 8  7  10  0  0  0   3 6
 9  2   0  0  7  0   8
10  5   0  0  7  0   8
11  1   1  0  0  0   9
12  9   0  0  5  0   2 4
13  9   0  0  0  5   3 7 12
14  5   9  0  0  0   5 9 13
15 10   0  0  0  3   9 10
16  8   0  0  8  0   2
17 10   0  0  0  1   11 12
18  2   0  0  0  7   5 7 17
19  8   0  0  0  4   8 12 16
20  8   0  5  0  0   10 13 19
21  9   0  4  0  0   15 16 18
22  1   0  0  2  0   3 5 7
23  3   3  0  0  0   10 17 19
24  7   3  0  0  0   14 18 20
25 10   0  0  3  0   11 15
26  6   0  0  0  9   2 22 25
27  5   0  0  0  7   18 23 26
28 10   0  0  4  0   19 22 25
29 10   0  0  0  9   20 26 28
30 10   2  0  0  0   13 26 28
31  8   0  2  0  0   21 24 27
"""


_CAPACITIES = (10, 7, 12, 10)


def _published(people_of: Callable[[tuple[int, ...]], int]) -> list[Job]:
    """The project with one kind of people, counted from the needs of the four kinds."""
    lengths = {1: 0}
    jobs = [Job(0, 1)]
    for line in _J3033_1.strip().splitlines():
        number, length, *rest = map(int, line.split())
        lengths[number] = length
        after = tuple((p - 1, lengths[p]) for p in rest[4:])
        jobs.append(Job(length, people_of(tuple(rest[:4])), after))
    return jobs


def test_no_bound_is_above_a_published_optimum() -> None:
    # With only one of the four kinds kept scarce the project can only become shorter.
    for kind, people in enumerate(_CAPACITIES):
        jobs = _published(lambda needs, kind=kind: needs[kind])  # type: ignore[misc]
        assert 0 < schedule(jobs, people).bound <= 65


def test_no_schedule_is_shorter_than_a_published_optimum() -> None:
    # Every job takes its greatest share of any kind, rounded up to tenths: whoever keeps to that
    # keeps to each kind, so the project can only become longer.
    def tenths(needs: tuple[int, ...]) -> int:
        return max(ceil(10 * need / of) for need, of in zip(needs, _CAPACITIES, strict=True))

    found = schedule(_published(tenths), 10)
    assert found.total >= 65
    assert found.bound <= found.total


# "Network Construction - Critical Path Method", an open course text, as quoted in a public
# collection of mathematics texts: activities, durations and predecessors. Seen; the starts were
# worked out apart from this program with a graph library (derived).
_COURSE = {
    "A": (2, ""), "B": (10, "A"), "C": (13, "A"), "D": (12, "A"), "E": (12, "B"), "F": (7, "B"),
    "G": (10, "D"), "H": (16, "D"), "I": (6, "F"), "J": (12, "CG"), "K": (5, "I"), "L": (8, "EK"),
    "M": (5, "H"), "N": (3, "JLM"),
}  # fmt: skip
_COURSE_SLACK = "A 0 B 0 C 11 D 2 E 6 F 0 G 2 H 3 I 0 J 2 K 0 L 0 M 3 N 0"

# Reliable Construction, Hillier and Lieberman, Introduction to Operations Research. From memory;
# 44 weeks, variance 9 and P(T <= 47) = 0.8413 recomputed.
_RELIABLE = {
    "A": ((1, 2, 3), ""), "B": ((2, 3.5, 8), "A"), "C": ((6, 9, 18), "B"),
    "D": ((4, 5.5, 10), "C"), "E": ((1, 4.5, 5), "C"), "F": ((4, 4, 10), "E"),
    "G": ((5, 6.5, 11), "D"), "H": ((5, 8, 17), "EG"), "I": ((3, 7.5, 9), "C"),
    "J": ((3, 9, 9), "FI"), "K": ((4, 4, 4), "J"), "L": ((1, 5.5, 7), "J"),
    "M": ((1, 2, 3), "H"), "N": ((5, 5.5, 9), "KL"),
}  # fmt: skip


def _path(lengths: dict[str, float], before: dict[str, str]) -> dict[str, tuple[float, float]]:
    number = {name: n for n, name in enumerate(lengths)}
    found = _critical_path(
        {number[name]: length for name, length in lengths.items()},
        {number[name]: [number[p] for p in ps] for name, ps in before.items()},
    )
    return {name: found[n] for name, n in number.items()}


def _critical_path(seconds: dict[int, float], after: dict[int, list[int]]) -> dict[int, tuple[float, float]]:
    """The earliest start of each step and its slack."""
    heads, _ = longest_paths(seconds, {n: {p: seconds[p] for p in after[n]} for n in seconds})
    slack = slack_s(seconds, after)
    return {n: (heads[n], slack[n]) for n in seconds}


def test_the_course_network():
    lengths = {name: float(length) for name, (length, _) in _COURSE.items()}
    found = _path(lengths, {name: before for name, (_, before) in _COURSE.items()})
    words = _COURSE_SLACK.split()
    wanted = dict(zip(words[::2], map(float, words[1::2]), strict=True))
    assert {name: slack for name, (_, slack) in found.items()} == wanted
    assert found["N"][0] + 3 == 41
    assert "".join(n for n, (_, slack) in found.items() if not slack) == "ABFIKLN"


def test_arcs_of_a_textbook_are_steps_between_events():
    # B. W. Taylor, Introduction to Management Science, solutions to chapter 8: arcs with lengths;
    # length 20 over 1-3-4-5-6, slack 2 on 1-2 and 2-4, 4 on 3-5. Seen.
    arcs = {(1, 2): 7, (1, 3): 10, (2, 4): 6, (3, 4): 5, (3, 5): 4, (4, 5): 3, (5, 6): 2}
    names = list(arcs)
    before = {k: [j for j, (_, end) in enumerate(names) if end == names[k][0]] for k in range(len(names))}
    found = _critical_path({k: arcs[name] for k, name in enumerate(names)}, before)
    slack = {name: found[k][1] for k, name in enumerate(names)}
    assert slack == {(1, 2): 2, (1, 3): 0, (2, 4): 2, (3, 4): 0, (3, 5): 4, (4, 5): 0, (5, 6): 0}
    assert found[6][0] + 2 == 20


def test_three_points_over_a_critical_path():
    means = {name: (a + 4 * m + b) / 6 for name, ((a, m, b), _) in _RELIABLE.items()}
    found = _path(means, {name: before for name, (_, before) in _RELIABLE.items()})
    critical = "".join(name for name, (_, slack) in found.items() if slack < 1e-9)
    assert critical == "ABCEFJLN"
    assert found["N"][0] + means["N"] == pytest.approx(44)
    assert {n: round(s) for n, (_, s) in found.items() if s > 1e-9} == {
        "D": 4, "G": 4, "H": 4, "M": 4, "I": 2, "K": 1,
    }  # fmt: skip


@pytest.mark.parametrize("seed", range(25))
def test_longest_paths_of_a_graph_library(seed):
    # networkx.dag_longest_path_length, with each step's length on the edges behind it
    rng = Random(seed)
    lengths = {n: rng.randint(0, 50) for n in range(15)}
    after = {n: [p for p in range(n) if rng.random() < 0.2] for n in range(15)}
    graph = nx.DiGraph()
    for n, length in lengths.items():
        graph.add_edge(n, "end", weight=length)
        graph.add_weighted_edges_from((p, n, lengths[p]) for p in after[n])
    found = _critical_path(lengths, after)
    longest = nx.dag_longest_path_length(graph)
    assert max(found[n][0] + lengths[n] for n in found) == longest
    on_path = nx.dag_longest_path(graph)[:-1]
    assert all(found[n][1] == 0 for n in on_path)
