"""A small studio to draw from above: the builders of the light tests, with stands, and sessions on its plans."""

import datetime as dt
from dataclasses import replace
from typing import Any

from runbook.day.actions import Session
from runbook.journal.journal import Journal
from runbook.model.day import Crew, Place, Plan
from runbook.model.kit import Accessory, Kit, Lens, Modifier, Panel, Stand
from runbook.model.setup import Light, PanelPlace, Setup
from tests.light.conftest import Studio

STUDIO = Studio()


def kit() -> Kit:
    stand = {"foot_radius_m": 0.5, "mass_kg": 3.0, "load_max_kg": 20.0, "height_min_m": 0.5, "height_max_m": 3.0}
    boom = {"kind": "boom", "arm_m": 1.6, "arm_back_m": 0.8, "counterweight_kg": 6.0}
    return STUDIO.kit(
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
        stands=(*(Stand(name, **stand) for name in ("S1", "S2", "S3")), Stand("boom", **stand, **boom)),  # type: ignore[arg-type]
        panels=(Panel("flat-1", 1.2, 2.4, 0.85), Panel("flag", 0.6, 0.9, 0.0)),
        lenses=(Lens("85", 85.0, 1.8, 16.0), Lens("50", 50.0, 1.4, 16.0)),
    )


def light(head: str = "A", stand: str = "S1", below: int | None = 3, **more: Any) -> Light:
    return STUDIO.light(head, below, **({"stand": stand, "height_m": 2.0, "modifier": "octa"} | more))


def panel(name: str = "flat-1", **more: Any) -> PanelPlace:
    return STUDIO.place(**({"panel": name, "distance_m": 1.0} | more))


def setup(*lights: Light, setup_id: str = "one", **more: Any) -> Setup:
    return STUDIO.setup(*lights, setup_id=setup_id, **({"title": f"Setup {setup_id}"} | more))


def plan(*setups: Setup, units: str = "metric") -> Plan:
    made = STUDIO.plan(*setups, kit=kit())
    crew = (Crew("photo"), Crew("first"))
    return replace(made, day=replace(made.day, name="A day", units=units, crew=crew, place=Place()))  # type: ignore[arg-type]


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
