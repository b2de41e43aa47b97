"""Stands, heads and plans for the tests, plain and random."""

from __future__ import annotations

import datetime as dt

from hypothesis import strategies as st

from runbook.model.day import Crew, Day, Place, Plan
from runbook.model.kit import Accessory, Bag, Head, Kit, Lens, Modifier, Stand
from runbook.model.power import FULL
from runbook.model.setup import Exposure, Light, Setup, Subject, View
from runbook.stands.statics import Rig

PLACE = Place()


def a_head(mass_kg: float = 2.0, **more: object) -> Head:
    return Head(
        id="A",
        energy_ws=200,
        guide_number_m=52.0,
        power_min="1/128",
        power_step="1/3",
        mass_kg=mass_kg,
        recycle_full_s=1.8,
        recycle_min_s=0.1,
        **more,  # type: ignore[arg-type]
    )


def a_box(mass_kg: float = 1.3, depth_m: float = 0.45, **more: object) -> Modifier:
    values: dict[str, object] = {"shape": "round", "width_m": 0.9, "height_m": 0.9} | more
    return Modifier(id="octa", mass_kg=mass_kg, depth_m=depth_m, **values)  # type: ignore[arg-type]


def a_stand(**more: object) -> Stand:
    values: dict[str, object] = {
        "id": "S1",
        "foot_radius_m": 0.52,
        "mass_kg": 3.1,
        "load_max_kg": 9.0,
        "height_min_m": 1.05,
        "height_max_m": 2.8,
    }
    return Stand(**(values | more))  # type: ignore[arg-type]


def a_boom(**more: object) -> Stand:
    values: dict[str, object] = {
        "id": "boom",
        "kind": "boom",
        "foot_radius_m": 0.65,
        "mass_kg": 8.5,
        "load_max_kg": 20.0,
        "arm_m": 1.6,
        "arm_back_m": 0.8,
        "arm_mass_kg": 1.6,
        "counterweight_kg": 6.0,
    }
    return a_stand(**(values | more))


def bags(*masses: float) -> tuple[Bag, ...]:
    return tuple(Bag(id=f"B{n}", mass_kg=mass) for n, mass in enumerate(masses, 1))


def a_plan(*setups: Setup, kit: Kit, place: Place = PLACE, crew: tuple[Crew, ...] = (Crew("one"),)) -> Plan:
    day = Day(
        name="a day",
        date=dt.date(2026, 12, 4),
        call=dt.time(8),
        wrap=dt.time(18),
        order=tuple(setup.id for setup in setups),
        place=place,
        crew=crew,
    )
    return Plan(day=day, kit=kit, setups={setup.id: setup for setup in setups})


def a_light(**more: object) -> Light:
    values: dict[str, object] = {
        "head": "A",
        "role": "key",
        "stand": "S1",
        "power": FULL,
        "side": "left",
        "angle_deg": 45.0,
        "distance_m": 1.4,
        "height_m": 2.0,
        "modifier": "octa",
    }
    return Light(**(values | more))  # type: ignore[arg-type]


def a_setup(*lights: Light, **more: object) -> Setup:
    values: dict[str, object] = {
        "id": "one",
        "exposure": Exposure(4.0, "1/160"),
        "view": View("85", 2.6, 1.5),
        "subject": Subject(1.25),
        "lights": lights,
    }
    return Setup(**(values | more))  # type: ignore[arg-type]


def a_kit(**more: object) -> Kit:
    values: dict[str, object] = {
        "heads": (a_head(),),
        "modifiers": (a_box(),),
        "accessories": (Accessory("grid", "grid", ("octa",), mass_kg=0.4),),
        "stands": (a_stand(), a_boom()),
        "bags": bags(7.0, 7.0),
        "lenses": (Lens("85", 85, 1.8, 16.0),),
    }
    return Kit(**(values | more))  # type: ignore[arg-type]


def _rig(  # noqa: PLR0917
    stand: Stand, height_m: float, head_kg: float, box: Modifier, masses: list[float], bags_at: str, leg: bool
) -> Rig:
    return Rig(
        stand,
        height_m,
        a_head(head_kg),
        box,
        (),
        bags(*masses),
        bags_at,  # type: ignore[arg-type]
        leg,
    )


def numbers(low: float, high: float) -> st.SearchStrategy[float]:
    return st.floats(low, high, allow_nan=False).map(lambda number: round(number, 4))


PLAIN_STANDS = st.builds(a_stand, legs=st.integers(3, 6), foot_radius_m=numbers(0.3, 0.8), mass_kg=numbers(1.0, 12.0))
BOOMS = st.builds(
    a_boom,
    legs=st.integers(3, 6),
    foot_radius_m=numbers(0.4, 0.9),
    arm_mass_kg=numbers(0.0, 4.0),
    counterweight_kg=numbers(0.0, 12.0),
)
BOXES = st.builds(a_box, numbers(0.0, 4.0), numbers(0.0, 1.2))
RIGS = st.builds(
    _rig,
    PLAIN_STANDS | BOOMS,
    numbers(0.6, 3.2),
    numbers(0.5, 8.0),
    BOXES,
    st.lists(numbers(1.0, 12.0), max_size=3),
    st.sampled_from(["column", "far legs"]),
    st.booleans(),
)
