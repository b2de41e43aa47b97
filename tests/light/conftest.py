"""A small studio to build plans from."""

from fractions import Fraction
from typing import Any

import pytest

from runbook.model.day import Place, Plan
from runbook.model.kit import Accessory, Cloth, Head, Kit, Lens, Modifier, Panel
from runbook.model.power import OFF, Power
from runbook.model.setup import Background, HungCloth, Light, PanelPlace, Setup, View
from tests.stands.rigs import a_head, a_light, a_plan, a_setup

KIT: dict[str, Any] = {
    "modifiers": (
        Modifier("octa-90", "round", 0.9, 0.9, depth_m=0.45, loss_stops=2.0, loss_at_m=2.0, spread_deg=150),
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
    "cloths": (Cloth("voile", 1.0, width_m=2.0, height_m=2.0, scatter=0.6, reflectance=0.3),),
    "lenses": (Lens("85", 85.0, 1.8, 16.0), Lens("35", 35.0, 1.4, 16.0)),
}
FLAT: dict[str, Any] = {"panel": "flat-1", "side": "right", "angle_deg": 80.0, "distance_m": 0.8, "height_m": 1.2}


HUNG: dict[str, Any] = {"cloth": "voile", "side": "left", "angle_deg": 45.0, "distance_m": 0.7, "hem_m": 0.3}


class Studio:
    """Builders with plain defaults: a 200 Ws head, an octabox, a white flat, an 85 mm lens."""

    def head(self, head_id: str = "A", **more: Any) -> Head:
        return a_head(id=head_id, **({"flashes_full": 450.0, "spare_batteries": 1} | more))

    def kit(self, **more: Any) -> Kit:
        return Kit(**({"heads": tuple(self.head(name) for name in "ABCD")} | KIT | more))

    def power(self, below: int | str | None = 3) -> Power:
        return OFF if below is None else Power(Fraction(below))

    def light(self, head: str = "A", below: int | str | None = 3, **more: Any) -> Light:
        return a_light(head=head, power=self.power(below), **({"height_m": 1.75, "modifier": "octa-90"} | more))

    def place(self, **more: Any) -> PanelPlace:
        return PanelPlace(**(FLAT | more))

    def hang(self, **more: Any) -> HungCloth:
        return HungCloth(**(HUNG | more))

    def setup(self, *lights: Light, setup_id: str = "one", **more: Any) -> Setup:
        given = {
            "frames": 120, "shoot_min": 25.0, "view": View("85", 2.6, 1.5, "portrait"), "background": Background(2.0),
        }  # fmt: skip
        return a_setup(*lights, id=setup_id, **(given | more))

    def plan(self, *setups: Setup, kit: Kit | None = None, lux: float = 60.0) -> Plan:
        return a_plan(*setups, kit=kit or self.kit(), place=Place(ambient_lux=lux))


@pytest.fixture(scope="session")
def studio() -> Studio:
    return Studio()
