"""How long stands take to judge, and bags to share. By hand: python -m tests.bench.bench_stand"""

from __future__ import annotations

import random
from dataclasses import replace
from fractions import Fraction
from time import perf_counter

from runbook.change.audit import audit_changes
from runbook.plan.day import Crew, Place, Plan
from runbook.plan.kit import Kit
from runbook.plan.power import Power
from runbook.plan.setup import Setup
from runbook.stand.audit import audit_stands
from runbook.stand.bagshare import share_bags
from runbook.stand.judge import judge
from runbook.stand.rig import Rig
from tests.stand.rigs import a_boom, a_box, a_head, a_light, a_plan, a_setup, a_stand, bags

STANDS, SETUPS = 8, 40


def a_big_day(crew: int) -> Plan:
    """Forty setups of eight stands, one a boom: places, heights and stands change by turns."""
    chance = random.Random(3)
    numbers = range(STANDS)
    stands = [a_boom(id="T0"), *(a_stand(id=f"T{n}", load_max_kg=20.0) for n in numbers[1:])]
    kit = Kit(
        heads=tuple(replace(a_head(), id=f"H{n}") for n in numbers),
        modifiers=tuple(a_box(1.0 + 0.2 * n)._replace(id=f"M{n}") for n in numbers),
        stands=tuple(stands),
        bags=bags(*(7.0,) * STANDS),
    )

    def drawn(name: str) -> Setup:
        on = list(numbers)
        if chance.random() < 0.4:
            chance.shuffle(on)
        return a_setup(
            *(
                a_light(
                    head=f"H{n}",
                    stand=f"T{on[n]}",
                    modifier=f"M{n}",
                    power=Power(Fraction(chance.choice([2, 3, 4]))),
                    angle_deg=chance.choice([20.0, 60.0, 100.0]),
                    distance_m=2.0,
                    height_m=chance.choice([1.6, 1.9, 2.2, 2.6]),
                    bags=(f"B{on[n] + 1}",),
                    bags_at=chance.choice(["column", "far legs"]),
                    leg_under_load=chance.random() < 0.5,
                )
                for n in numbers
            ),
            id=name,
        )

    setups = [drawn(f"s{n}") for n in range(SETUPS)]
    return a_plan(*setups, kit=kit, crew=tuple(Crew(f"c{n}") for n in range(crew)))


def a_whole_day() -> None:
    for crew in (1, 2):
        plan = a_big_day(crew)
        for name, audit in (("setups", audit_stands), ("every step", audit_changes)):
            times = []
            for _ in range(5):
                start = perf_counter()
                found = len(audit(plan))
                times.append(perf_counter() - start)
            print(
                f"{SETUPS} setups x {STANDS} stands, {name}, crew {crew}: "
                f"best {min(times) * 1e3:.0f} ms, worst {max(times) * 1e3:.0f} ms, {found} found"
            )


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
        for ratio in (0.5, 0.9, 0.98, 1.0, 1.01, 1.1, 1.5):
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
    a_whole_day()
    sharing()
