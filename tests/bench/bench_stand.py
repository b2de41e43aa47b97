"""How long stands take to judge, and bags to share. By hand: python -m tests.bench.bench_stand"""

from __future__ import annotations

import random
from dataclasses import replace
from fractions import Fraction
from time import perf_counter, process_time

from runbook.changeover.audit import audit_changes
from runbook.model.day import Crew, Place, Plan
from runbook.model.kit import Kit
from runbook.model.power import Power
from runbook.model.setup import Setup
from runbook.stands.audit import audit_stands
from runbook.stands.remedy import share_bags
from runbook.stands.statics import Rig
from runbook.stands.verdict import judge
from tests.stands.rigs import a_boom, a_box, a_head, a_light, a_plan, a_setup, a_stand, bags

STANDS, SETUPS = 8, 40


def a_big_day(crew: int) -> Plan:
    """Forty setups of eight stands, one a boom: places, heights and stands change by turns."""
    chance = random.Random(3)
    numbers = range(STANDS)
    stands = [a_boom(id="T0"), *(a_stand(id=f"T{n}", load_max_kg=20.0) for n in numbers[1:])]
    kit = Kit(
        heads=tuple(replace(a_head(), id=f"H{n}") for n in numbers),
        modifiers=tuple(replace(a_box(1.0 + 0.2 * n), id=f"M{n}") for n in numbers),
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
        for state in (low, replace(low, bags=seven), replace(low, bags=seven, height_m=2.4))
    ]
    place = Place()
    start = perf_counter()
    for rig in rigs:
        judge(rig, place)
    took = perf_counter() - start
    print(f"{len(rigs)} moments judged in {took * 1e3:.0f} ms, {took / len(rigs) * 1e6:.0f} us each")


def sharing() -> None:
    chance = random.Random(7)
    makes = {
        "2 kinds": lambda: chance.choice([4.5, 7.0]),
        "3 kinds": lambda: chance.choice([4.5, 7.0, 9.0]),
        "5 kinds": lambda: chance.choice([4.5, 6.8, 7.0, 9.0, 11.3]),
        "whole kg": lambda: float(chance.randint(3, 12)),
        "all different": lambda: chance.randint(30, 120) / 10,
        "light and heavy": lambda: chance.randint(5, 200) / 10,
    }
    for name, make in makes.items():
        for stands in (3, 5, 7, 10):
            draws = [
                ([make() for _ in range(20)], chance.choice([0.5, 0.9, 0.98, 1.0, 1.02, 1.1, 1.5])) for _ in range(50)
            ]
            shared(f"20 bags, {name}, {stands} stands", draws, stands, chance)
    for low, high, alike in ((30, 120, False), (5, 200, False), (30, 120, True)):
        draws = [
            ([bag / 10 for bag in chance.sample(range(low, high + 1), 20)], chance.uniform(0.97, 1.03))
            for _ in range(1000)
        ]
        masses = f"{low / 10:g}-{high / 10:g} kg"
        needs = "10 stands alike" if alike else "10 stands"
        shared(f"20 different bags of {masses} within 3 %, {needs}", draws, 10, chance, alike)


def shared(
    name: str, draws: list[tuple[list[float], float]], stands: int, chance: random.Random, alike: bool = False
) -> None:
    took = []
    proven = 0
    for masses, ratio in draws:
        shares = [1.0 if alike else chance.random() + 0.1 for _ in range(stands)]
        needs = [share / sum(shares) * sum(masses) * ratio for share in shares]
        start = process_time()
        proven += share_bags(needs, masses).least
        took.append(1e3 * (process_time() - start))
    took.sort()
    print(
        f"{name}: median {took[len(took) // 2]:.1f} ms, 99 in 100 within "
        f"{took[len(took) * 99 // 100 - 1]:.0f}, worst {took[-1]:.0f}, least {proven}/{len(draws)}"
    )


if __name__ == "__main__":
    judging()
    a_whole_day()
    sharing()
