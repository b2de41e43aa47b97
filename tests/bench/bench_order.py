"""How well setups are ordered, on published instances of the sequential ordering problem.

    python tests/bench/bench_order.py FILE.sop FILE.atsp ...

Reads TSPLIB 95 files (Reinelt, ORSA Journal on Computing 3, 1991): SOP as they are, ATSP as a path
from node 1 back to node 1. Without files it times random days. Not collected by pytest; the
instances are not part of this project.
"""

from __future__ import annotations

import argparse
import random
import sys
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from runbook.clock.order import Costs, Rules, least_changing


def read_tsplib(text: str) -> tuple[Costs, list[tuple[int, int]]]:
    """Costs and pairs of a file, the first node (and in a SOP the last) left out as the ends."""
    head, _, tail = text.partition("EDGE_WEIGHT_SECTION")
    words = tail.split("EOF")[0].split()
    size = int(head.split("DIMENSION:")[1].split()[0])
    sop = "TYPE: SOP" in head
    numbers = [int(word) for word in (words[1:] if sop else words)]
    rows = [numbers[k * size : (k + 1) * size] for k in range(size)]
    inner = range(1, size - 1) if sop else range(1, size)
    stop = size - 1 if sop else 0
    between = [[0 if rows[i][j] < 0 else rows[i][j] for j in inner] for i in inner]
    pairs = [(j - 1, i - 1) for i in inner for j in inner if i != j and rows[i][j] < 0]
    costs = Costs([rows[0][j] for j in inner], between, [rows[i][stop] for i in inner])
    return costs, pairs


def random_day(count: int, rng: random.Random) -> tuple[Costs, list[tuple[int, int]]]:
    """Setups of six heads, each with a place and a modifier; costs by what has to change."""
    looks = [[(rng.randrange(5), rng.randrange(4)) for _ in range(6)] for _ in range(count)]

    def cost(a: list[tuple[int, int]], b: list[tuple[int, int]]) -> int:
        moves = sum(40 * (x[0] != y[0]) + 55 * (x[1] != y[1]) for x, y in zip(a, b, strict=True))
        return 20 + moves + 5 * (hash((*a, *b)) % 5)

    between = [[cost(a, b) for b in looks] for a in looks]
    ends = [100 + 5 * rng.randrange(20) for _ in looks]
    pairs = []
    for _ in range(count // 4):
        a, b = sorted(rng.sample(range(count), 2))
        pairs.append((a, b))
    return Costs(ends, between, ends[::-1]), pairs


def main() -> None:
    words = argparse.ArgumentParser()
    words.add_argument("files", nargs="*", type=Path)
    given = words.parse_args()
    cases = [(file.stem, *read_tsplib(file.read_text())) for file in given.files]
    if not cases:
        for count in (8, 12, 15, 20, 30, 40):
            for seed in range(3):
                day = random_day(count, random.Random(seed))
                cases.append((f"{count} setups, {seed}", *day))
                cases.append((f"{count} setups, {seed}, free", day[0], []))
    for name, costs, pairs in cases:
        begin = time.perf_counter()
        found = least_changing(costs, Rules(len(costs.start), pairs))
        spent = time.perf_counter() - begin
        state = "proven" if found.proven else f"bound {found.bound_s:g}"
        print(f"{name:22} {found.changing_s:g} {state} {spent:.3f} s")


if __name__ == "__main__":
    main()
