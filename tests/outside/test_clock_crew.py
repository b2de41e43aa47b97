"""Schedules, critical paths and three-point estimates against published cases."""

from collections.abc import Callable
from math import ceil
from random import Random

import networkx as nx
import pytest

from runbook.changeover.schedule import Job, longest_paths, schedule, slack_s
from tests.outside.published import instance

CAPACITIES = (10, 7, 12, 10)


def project(people_of: Callable[[list[int]], int]) -> list[Job]:
    """The published project with one kind of people, counted from the needs of the four kinds."""
    rows = instance("j3033_1")
    lengths = {1: 0} | {job: length for job, length, *_ in rows}
    jobs = [Job(length, people_of(rest[:4]), tuple((p - 1, lengths[p]) for p in rest[4:])) for _, length, *rest in rows]
    return [Job(0, 1), *jobs]


@pytest.mark.parametrize("kind", range(4))
def test_no_bound_is_above_a_published_optimum(kind: int) -> None:
    # With only one of the four kinds kept scarce the project can only become shorter.
    assert 0 < schedule(project(lambda needs: needs[kind]), CAPACITIES[kind]).bound <= 65


def test_no_schedule_is_shorter_than_a_published_optimum() -> None:
    # Every job takes its greatest share of any kind, rounded up to tenths: a schedule that keeps to that
    # keeps to each kind, so the project can only become longer.
    tenths = project(lambda needs: max(ceil(10 * need / of) for need, of in zip(needs, CAPACITIES, strict=True)))
    result = schedule(tenths, 10)
    assert result.total >= 65
    assert result.bound <= result.total


def critical_path(lengths: dict[str, float], before: dict[str, str]) -> tuple[float, dict[str, float]]:
    """The length of a network and the slack of each activity."""
    number = {name: n for n, name in enumerate(lengths)}
    seconds = {number[name]: length for name, length in lengths.items()}
    after = {number[name]: [number[p] for p in names] for name, names in before.items()}
    starts, _ = longest_paths(seconds, {n: {p: seconds[p] for p in after[n]} for n in seconds})
    slack = slack_s(seconds, after)
    return max(starts[n] + seconds[n] for n in seconds), {name: slack[n] for name, n in number.items()}


def mean(optimistic: float, likely: float, pessimistic: float) -> float:
    return (optimistic + 4 * likely + pessimistic) / 6


# "Network Construction - Critical Path Method", an open course text, as quoted in a public
# collection of mathematics texts: durations and predecessors. Seen; the slacks were worked out apart
# from this program with a graph library (derived).
COURSE = {
    "A": (2, ""), "B": (10, "A"), "C": (13, "A"), "D": (12, "A"), "E": (12, "B"), "F": (7, "B"), "G": (10, "D"),
    "H": (16, "D"), "I": (6, "F"), "J": (12, "CG"), "K": (5, "I"), "L": (8, "EK"), "M": (5, "H"), "N": (3, "JLM"),
}  # fmt: skip
# B. W. Taylor, Introduction to Management Science, solutions to chapter 8: the arcs 1-2, 1-3, 2-4, 3-4,
# 3-5, 4-5, 5-6; length 20 over 1-3-4-5-6, slack 2 on 1-2 and 2-4, 4 on 3-5. Seen.
ARCS = {"A": (7, ""), "B": (10, ""), "C": (6, "A"), "D": (5, "B"), "E": (4, "B"), "F": (3, "CD"), "G": (2, "EF")}
# Reliable Construction, Hillier and Lieberman, Introduction to Operations Research: three points. From
# memory; 44 weeks recomputed.
RELIABLE = {
    "A": (mean(1, 2, 3), ""), "B": (mean(2, 3.5, 8), "A"), "C": (mean(6, 9, 18), "B"), "D": (mean(4, 5.5, 10), "C"),
    "E": (mean(1, 4.5, 5), "C"), "F": (mean(4, 4, 10), "E"), "G": (mean(5, 6.5, 11), "D"), "H": (mean(5, 8, 17), "EG"),
    "I": (mean(3, 7.5, 9), "C"), "J": (mean(3, 9, 9), "FI"), "K": (mean(4, 4, 4), "J"), "L": (mean(1, 5.5, 7), "J"),
    "M": (mean(1, 2, 3), "H"), "N": (mean(5, 5.5, 9), "KL"),
}  # fmt: skip


@pytest.mark.parametrize(
    ("network", "total", "slack"),
    [
        (COURSE, 41, {"C": 11, "D": 2, "E": 6, "G": 2, "H": 3, "J": 2, "M": 3}),
        (ARCS, 20, {"A": 2, "C": 2, "E": 4}),
        (RELIABLE, 44, {"D": 4, "G": 4, "H": 4, "M": 4, "I": 2, "K": 1}),
    ],
    ids=["course", "arcs", "reliable"],
)
def test_published_networks(network: dict[str, tuple[float, str]], total: float, slack: dict[str, float]) -> None:
    lengths = {name: length for name, (length, _) in network.items()}
    length, slacks = critical_path(lengths, {name: before for name, (_, before) in network.items()})
    assert length == pytest.approx(total)
    # the rest is critical
    assert slacks == pytest.approx(
        {name: slack.get(name, 0) for name in network}, abs=0.5 if network is RELIABLE else 0
    )


@pytest.mark.parametrize("seed", range(25))
def test_longest_paths_of_a_graph_library(seed: int) -> None:
    # networkx.dag_longest_path_length, with each step's length on the edges behind it
    rng, names = Random(seed), "abcdefghijklmno"
    lengths: dict[str, float] = {name: rng.randint(0, 50) for name in names}
    before = {name: "".join(p for p in names[:n] if rng.random() < 0.2) for n, name in enumerate(names)}
    graph = nx.DiGraph()
    for name in names:
        graph.add_edge(name, "end", weight=lengths[name])
        graph.add_weighted_edges_from((p, name, lengths[p]) for p in before[name])
    length, slack = critical_path(lengths, before)
    assert length == nx.dag_longest_path_length(graph)
    assert all(slack[name] == 0 for name in nx.dag_longest_path(graph)[:-1])
