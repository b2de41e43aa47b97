"""Stands, heads and plans for the tests, plain and random."""

import datetime as dt
from collections.abc import Callable
from dataclasses import replace
from typing import Any

from hypothesis import strategies as st

from runbook.model.day import Crew, Day, Place, Plan
from runbook.model.kit import Accessory, Bag, Head, Kit, Lens, Modifier, Panel, Stand
from runbook.model.power import FULL
from runbook.model.setup import Exposure, Light, Setup, Subject, View
from runbook.stands.statics import Rig
from runbook.stands.wind import panel_sail

PLACE = Place()


def builder(made: Callable[..., Any], **defaults: Any) -> Callable[..., Any]:
    """A function that makes something with these values, unless others are given."""
    return lambda **more: made(**(defaults | more))


HEAD = builder(
    Head, id="A", energy_ws=200, guide_number_m=52.0, power_min="1/128", power_step="1/3", recycle_full_s=1.8,
    recycle_min_s=0.1,
)  # fmt: skip
BOX = builder(Modifier, id="octa", shape="round", width_m=0.9, height_m=0.9)
STAND: dict[str, Any] = {
    "id": "S1", "foot_radius_m": 0.52, "mass_kg": 3.1, "load_max_kg": 9.0, "height_min_m": 1.05, "height_max_m": 2.8,
}  # fmt: skip
BOOM: dict[str, Any] = {
    "id": "boom", "kind": "boom", "foot_radius_m": 0.65, "mass_kg": 8.5, "load_max_kg": 20.0, "arm_m": 1.6,
    "arm_back_m": 0.8, "arm_mass_kg": 1.6, "counterweight_kg": 6.0,
}  # fmt: skip
LIGHT = builder(
    Light, head="A", role="key", stand="S1", power=FULL, side="left", angle_deg=45.0, distance_m=1.4, height_m=2.0,
    modifier="octa",
)  # fmt: skip
SETUP = builder(Setup, id="one", exposure=Exposure(4.0, "1/160"), view=View("85", 2.6, 1.5), subject=Subject(1.25))


def a_head(mass_kg: float = 2.0, **more: Any) -> Head:
    return HEAD(mass_kg=mass_kg, **more)  # type: ignore[no-any-return]


def a_box(mass_kg: float = 1.3, depth_m: float = 0.45, **more: Any) -> Modifier:
    return BOX(mass_kg=mass_kg, depth_m=depth_m, **more)  # type: ignore[no-any-return]


def a_stand(**more: Any) -> Stand:
    return Stand(**(STAND | more))


def a_boom(**more: Any) -> Stand:
    return a_stand(**(BOOM | more))


def bags(*masses: float) -> tuple[Bag, ...]:
    return tuple(Bag(id=f"B{n}", mass_kg=mass) for n, mass in enumerate(masses, 1))


def a_light(**more: Any) -> Light:
    return LIGHT(**more)  # type: ignore[no-any-return]


def a_setup(*lights: Light, **more: Any) -> Setup:
    return SETUP(lights=lights, **more)  # type: ignore[no-any-return]


def a_plan(*setups: Setup, kit: Kit, place: Place = PLACE, crew: tuple[Crew, ...] = (Crew("one"),)) -> Plan:
    order = tuple(setup.id for setup in setups)
    date, call, wrap = dt.date(2026, 12, 4), dt.time(8), dt.time(18)
    day = Day(name="a day", date=date, call=call, wrap=wrap, order=order, place=place, crew=crew)
    return Plan(day=day, kit=kit, setups={setup.id: setup for setup in setups})


def a_kit(**more: Any) -> Kit:
    values = {
        "heads": (a_head(),), "modifiers": (a_box(),),
        "accessories": (Accessory("grid", "grid", ("octa",), mass_kg=0.4),), "stands": (a_stand(), a_boom()),
        "bags": bags(7.0, 7.0), "lenses": (Lens("85", 85, 1.8, 16.0),),
    }  # fmt: skip
    return Kit(**(values | more))  # type: ignore[arg-type]


def numbers(low: float, high: float) -> st.SearchStrategy[float]:
    return st.floats(low, high, allow_nan=False).map(lambda number: round(number, 4))


LEGS = st.integers(3, 6)
PLAIN_STANDS = st.builds(a_stand, legs=LEGS, foot_radius_m=numbers(0.3, 0.8), mass_kg=numbers(1.0, 12.0))
BOOMS = st.builds(
    a_boom, legs=LEGS, foot_radius_m=numbers(0.4, 0.9), arm_mass_kg=numbers(0.0, 4.0),
    counterweight_kg=numbers(0.0, 12.0),
)  # fmt: skip
_WITH_A_HEAD = st.builds(
    Rig, PLAIN_STANDS | BOOMS, numbers(0.6, 3.2), st.builds(a_head, numbers(0.5, 8.0)),
    st.builds(a_box, numbers(0.0, 4.0), numbers(0.0, 1.2)), st.just(()),
    st.lists(numbers(1.0, 12.0), max_size=3).map(lambda masses: bags(*masses)), st.sampled_from(["column", "far legs"]),
    st.booleans(),
)  # fmt: skip


def _with_a_panel(rig: Rig, panel: Panel, open_deg: float | None) -> Rig:
    """The same stand with a panel instead of its head; of two wings where an angle is given."""
    return replace(rig, head=None, modifier=None, sail=panel_sail(panel, open_deg))


RIGS = _WITH_A_HEAD | st.builds(
    _with_a_panel,
    _WITH_A_HEAD,
    st.builds(
        lambda width, height, mass: Panel("R1", width, height, 0.8, mass_kg=mass),
        numbers(0.3, 2.0), numbers(0.3, 2.4), numbers(0.3, 8.0),
    ),
    st.sampled_from([None, None, 60.0, 90.0]),
)  # fmt: skip
