"""How long the light of a large day takes: run by hand, ``python tests/bench/bench_light.py``.

Forty setups of eight heads and four panels, no two alike; the bound is 1.5 s on one slow core.
"""

from __future__ import annotations

import datetime as dt
import random
import time
from fractions import Fraction

from runbook.light.prediction import predict
from runbook.model.day import Day, Place, Plan
from runbook.model.kit import Accessory, Head, Kit, Lens, Modifier, Panel
from runbook.model.power import Power
from runbook.model.setup import Background, Exposure, Light, PanelPlace, Setup, Subject, View

SETUPS, HEADS, PANELS, BOUND_S = 40, 8, 4, 1.5


def large_plan(seed: int = 1) -> Plan:
    dice = random.Random(seed)
    modifiers = (
        Modifier("octa", "round", width_m=0.9, height_m=0.9, loss_stops=2, loss_at_m=2, spread_deg=150),
        Modifier("strip", "rectangle", width_m=0.3, height_m=1.2, loss_stops=2, spread_deg=120),
        Modifier("box", "rectangle", width_m=0.6, height_m=0.9, loss_stops=2, spread_deg=140),
        Modifier("dish", "bare", spread_deg=65),
    )
    heads = tuple(
        Head(
            id=f"H{n}",
            energy_ws=200,
            guide_number_m=52,
            power_min="1/128",
            power_step="1/3",
            mass_kg=2,
            recycle_full_s=1.8,
            recycle_min_s=0.1,
            flashes_full=450,
        )
        for n in range(HEADS)
    )
    kit = Kit(
        heads=heads,
        modifiers=modifiers,
        accessories=(Accessory("grid", "grid", ("octa", "box", "dish"), loss_stops=0.7, spread_deg=20),),
        panels=tuple(Panel(f"P{n}", 1.2, 2.4, 0.85) for n in range(PANELS)),
        lenses=(Lens("85", 85, 1.8, 16),),
    )

    def light(n: int) -> Light:
        modifier = dice.choice(modifiers).id
        aim = "face" if n < 4 else dice.choice(("background", "P0", "P1"))
        return Light(
            head=f"H{n}",
            role="key" if n == 0 else "fill",
            stand=f"S{n}",
            power=Power(Fraction(dice.randint(0, 21), 3)),
            side=dice.choice(("left", "right")),
            angle_deg=dice.uniform(0, 180),
            distance_m=dice.uniform(0.9, 3),
            height_m=dice.uniform(0.6, 2.0),
            modifier=modifier,
            accessories=("grid",) if modifier != "strip" and dice.random() < 0.4 else (),
            aim_reading_f=5.6 if n == 0 else None,
            under_key_stops=2.0 if n else None,
            aim=aim,
        )

    def place(n: int) -> PanelPlace:
        return PanelPlace(
            f"P{n}",
            dice.choice(("left", "right")),
            dice.uniform(20, 160),
            dice.uniform(0.5, 1.5),
            1.2,
            dice.choice(("face", "H0")),
        )

    setups = {
        f"s{k}": Setup(
            id=f"s{k}",
            frames=100,
            shoot_min=20,
            exposure=Exposure(5.6, "1/160"),
            view=View("85", 2.6, 1.5),
            subject=Subject(1.25, looks_at="H0"),
            background=Background(2),
            lights=tuple(light(n) for n in range(HEADS)),
            panels=tuple(place(n) for n in range(PANELS)),
        )
        for k in range(SETUPS)
    }
    day = Day(
        name="large",
        date=dt.date(2026, 1, 1),
        call=dt.time(8),
        wrap=dt.time(18),
        order=tuple(setups),
        place=Place(ambient_lux=60),
    )
    return Plan(day=day, kit=kit, setups=setups)


def main() -> None:
    plan = large_plan()
    began = time.process_time()
    for setup in plan.order:
        predict(plan, setup)
    took = time.process_time() - began
    print(f"{SETUPS} setups x {HEADS} heads x {PANELS} panels: {took:.2f} s (bound {BOUND_S} s)")


if __name__ == "__main__":
    main()
