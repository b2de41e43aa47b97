"""A small studio to build plans from."""

from __future__ import annotations

import datetime as dt
from fractions import Fraction
from typing import Any

import pytest

from runbook.model.day import Day, Place, Plan
from runbook.model.kit import Accessory, Cloth, Head, Kit, Lens, Modifier, Panel
from runbook.model.power import OFF, Power
from runbook.model.setup import Background, Exposure, Light, PanelPlace, Setup, Subject, View


class Studio:
    """Builders with plain defaults: a 200 Ws head, an octabox, a white flat, an 85 mm lens."""

    def head(self, head_id: str = "A", **more: Any) -> Head:
        given = {
            "energy_ws": 200.0,
            "guide_number_m": 52.0,
            "power_min": "1/128",
            "power_step": "1/3",
            "mass_kg": 2.0,
            "recycle_full_s": 1.8,
            "recycle_min_s": 0.1,
            "flashes_full": 450.0,
            "spare_batteries": 1,
        }
        return Head(id=head_id, **(given | more))

    def kit(self, **more: Any) -> Kit:
        given: dict[str, Any] = {
            "heads": tuple(self.head(name) for name in "ABCD"),
            "modifiers": (
                Modifier(
                    "octa-90",
                    "round",
                    width_m=0.9,
                    height_m=0.9,
                    depth_m=0.45,
                    loss_stops=2.0,
                    loss_at_m=2.0,
                    spread_deg=150,
                ),
                Modifier("octa-150", "round", width_m=1.5, loss_stops=2.5, loss_at_m=2.0),
                Modifier("strip", "rectangle", width_m=0.3, height_m=1.2, loss_stops=2.0),
                Modifier("dish", "bare", width_m=0.2, height_m=0.2, spread_deg=70),
                Modifier("tube", "bare", spread_deg=360),
            ),
            "accessories": (
                Accessory("grid-octa", "grid", ("octa-90",), loss_stops=0.7, spread_deg=50),
                Accessory("gel", "gel", ("octa-90", "dish"), loss_stops=0.5),
                Accessory("slash", "gobo", ("dish",), loss_stops=0.2, distance_m=0.6),
            ),
            "panels": (Panel("flat-1", 1.2, 2.4, 0.85), Panel("flag", 1.2, 2.4, 0.0)),
            "cloths": (Cloth("voile", 1.0),),
            "lenses": (Lens("85", 85.0, 1.8, 16.0), Lens("35", 35.0, 1.4, 16.0)),
        }
        return Kit(**(given | more))

    def power(self, below: int | str | None = 3) -> Power:
        return OFF if below is None else Power(Fraction(below))

    def light(self, head: str = "A", below: int | str | None = 3, **more: Any) -> Light:
        given: dict[str, Any] = {
            "role": "key",
            "stand": "S1",
            "side": "left",
            "angle_deg": 45.0,
            "distance_m": 1.4,
            "height_m": 1.75,
            "modifier": "octa-90",
        }
        return Light(head=head, power=self.power(below), **(given | more))

    def place(self, **more: Any) -> PanelPlace:
        given: dict[str, Any] = {
            "panel": "flat-1",
            "side": "right",
            "angle_deg": 80.0,
            "distance_m": 0.8,
            "height_m": 1.2,
        }
        return PanelPlace(**(given | more))

    def setup(self, *lights: Light, setup_id: str = "one", **more: Any) -> Setup:
        given: dict[str, Any] = {
            "frames": 120,
            "shoot_min": 25.0,
            "exposure": Exposure(4.0, "1/160"),
            "view": View("85", 2.6, 1.5, "portrait"),
            "subject": Subject(1.25),
            "background": Background(2.0),
        }
        return Setup(id=setup_id, lights=lights, **(given | more))

    def plan(self, *setups: Setup, kit: Kit | None = None, lux: float = 60.0) -> Plan:
        day = Day(
            name="test",
            date=dt.date(2026, 12, 4),
            call=dt.time(8),
            wrap=dt.time(18),
            order=tuple(setup.id for setup in setups),
            place=Place(ambient_lux=lux),
        )
        return Plan(day=day, kit=kit or self.kit(), setups={one.id: one for one in setups})


@pytest.fixture(scope="session")
def studio() -> Studio:
    return Studio()
