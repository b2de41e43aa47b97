"""A small studio to draw from above."""

import datetime as dt
from fractions import Fraction
from typing import Any

from runbook.day.actions import Session
from runbook.journal.journal import Journal
from runbook.model.day import Crew, Day, Plan
from runbook.model.kit import Accessory, Cloth, Head, Kit, Lens, Modifier, Panel, Stand
from runbook.model.power import OFF, Power
from runbook.model.setup import Background, Exposure, Light, PanelPlace, Setup, Subject, View


def kit() -> Kit:
    head = {
        "energy_ws": 200.0,
        "guide_number_m": 52.0,
        "power_min": "1/128",
        "power_step": "1/3",
        "mass_kg": 2.0,
        "recycle_full_s": 1.8,
        "recycle_min_s": 0.1,
    }
    stand = {"foot_radius_m": 0.5, "mass_kg": 3.0, "load_max_kg": 20.0, "height_min_m": 0.5, "height_max_m": 3.0}
    boom = {"kind": "boom", "arm_m": 1.6, "arm_back_m": 0.8, "counterweight_kg": 6.0}
    return Kit(
        heads=tuple(Head(id=name, **head) for name in "ABCD"),
        modifiers=(
            Modifier("octa", "round", width_m=0.9, height_m=0.9, depth_m=0.45, spread_deg=150),
            Modifier("strip", "rectangle", width_m=0.3, height_m=1.2, depth_m=0.3, spread_deg=140),
            Modifier("globe", "round", width_m=0.3),
        ),
        accessories=(
            Accessory("grid", "grid", ("octa",), spread_deg=50),
            Accessory("gel", "gel", ("octa", "bare")),
            Accessory("gobo", "gobo", ("bare",), spread_deg=40, distance_m=0.6),
        ),
        stands=(*(Stand(name, **stand) for name in ("S1", "S2", "S3")), Stand("boom", **stand, **boom)),
        panels=(Panel("flat-1", 1.2, 2.4, 0.85), Panel("flag", 0.6, 0.9, 0.0)),
        cloths=(Cloth("voile", 1.0),),
        lenses=(Lens("85", 85.0, 1.8, 16.0), Lens("50", 50.0, 1.4, 16.0)),
    )


def light(head: str = "A", stand: str = "S1", below: int | None = 3, **more: Any) -> Light:
    given: dict[str, Any] = {
        "role": "key",
        "side": "left",
        "angle_deg": 45.0,
        "distance_m": 1.4,
        "height_m": 2.0,
        "modifier": "octa",
    }
    power = OFF if below is None else Power(Fraction(below))
    return Light(head=head, stand=stand, power=power, **(given | more))


def panel(name: str = "flat-1", **more: Any) -> PanelPlace:
    given: dict[str, Any] = {"side": "right", "angle_deg": 80.0, "distance_m": 1.0, "height_m": 1.2}
    return PanelPlace(panel=name, **(given | more))


def setup(*lights: Light, setup_id: str = "one", **more: Any) -> Setup:
    given: dict[str, Any] = {
        "title": f"Setup {setup_id}",
        "frames": 10,
        "exposure": Exposure(4.0, "1/160"),
        "view": View("85", 2.6, 1.5, "portrait"),
        "subject": Subject(1.25),
        "background": Background(2.0),
    }
    return Setup(id=setup_id, lights=lights, **(given | more))


def plan(*setups: Setup, units: str = "metric") -> Plan:
    day = Day(
        name="A day",
        date=dt.date(2026, 12, 4),
        call=dt.time(8),
        wrap=dt.time(18),
        order=tuple(one.id for one in setups),
        units=units,  # type: ignore[arg-type]
        crew=(Crew("photo"), Crew("first")),
    )
    return Plan(day=day, kit=kit(), setups={one.id: one for one in setups})


def noon() -> dt.datetime:
    return dt.datetime(2026, 12, 4, 12, 0, tzinfo=dt.UTC)


def session(*setups: Setup) -> Session:
    return Session(plan(*setups), Journal.in_memory(clock=noon, who="photo"), "photo", noon)


def three() -> tuple[Setup, Setup, Setup]:
    """Three setups: A alone; a flat and D come; A moves over, D stays, the flat goes."""
    rim = light("D", "S2", side="right", angle_deg=120.0, modifier="strip")
    one = setup(light(), setup_id="one")
    two = setup(light(), rim, setup_id="two", panels=(panel(),))
    return one, two, setup(light(side="right"), rim, setup_id="three")
