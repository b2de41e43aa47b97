"""How long stands take to judge, and bags to share. By hand: python -m tests.bench.bench_stand"""

from __future__ import annotations

import random
from time import perf_counter

from runbook.plan.day import Place
from runbook.stand.bagshare import share_bags
from runbook.stand.judge import judge
from runbook.stand.rig import Rig
from tests.stand.rigs import a_boom, a_box, a_head, a_stand, bags


def judging() -> None:
    stands = [a_stand(foot_radius_m=0.4 + 0.04 * n) for n in range(7)] + [a_boom()]
    head, box = a_head(), a_box()
    seven = bags(7.0)
    rigs = [
        state
        for _ in range(40)
        for stand in stands
        for low in (Rig(stand, 1.2), Rig(stand, 1.2, head), Rig(stand, 1.2, head, box))
        for state in (low, low._replace(bags=seven), low._replace(bags=seven, height_m=2.4))
    ]
    place = Place()
    start = perf_counter()
    for rig in rigs:
        judge(rig, place)
    took = perf_counter() - start
    print(
        f"{len(rigs)} moments judged in {took * 1e3:.0f} ms, {took / len(rigs) * 1e6:.0f} us each"
    )


def sharing() -> None:
    chance = random.Random(7)
    makes = {
        "2 kinds": lambda: chance.choice([4.5, 7.0]),
        "3 kinds": lambda: chance.choice([4.5, 7.0, 9.0]),
        "5 kinds": lambda: chance.choice([4.5, 6.8, 7.0, 9.0, 11.3]),
        "whole kg": lambda: float(chance.randint(3, 12)),
        "all different": lambda: chance.randint(30, 120) / 10,
    }
    for name, make in makes.items():
        for ratio in (0.5, 0.9, 1.0, 1.1, 1.5):
            worst = whole = 0.0
            proven = 0
            for _ in range(10):
                masses = [make() for _ in range(20)]
                shares = [chance.random() + 0.1 for _ in range(10)]
                needs = [share / sum(shares) * sum(masses) * ratio for share in shares]
                start = perf_counter()
                proven += share_bags(needs, masses).proven
                took = perf_counter() - start
                whole += took
                worst = max(worst, took)
            print(
                f"{name:14} needs {ratio:3.1f} of bags: worst {worst * 1e3:4.0f} ms, "
                f"mean {whole * 100:4.0f} ms, proven {proven}/10"
            )


if __name__ == "__main__":
    judging()
    sharing()
