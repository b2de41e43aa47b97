"""What stands on a floor in words and figures, for beside its drawing."""

from __future__ import annotations

from typing import NamedTuple

from runbook.model.day import Plan
from runbook.model.setup import Light, Setup
from runbook.model.units import Units, length


class HeadRow(NamedTuple):
    """A head as a crew reads it: power, place, height, stand, and what it wears and looks at."""

    head: str
    power: str
    role: str
    side: str
    angle: str
    distance: str
    height: str
    stand: str
    fitted: str


class FloorRows(NamedTuple):
    """A floor's heads, its panels by name and place, and the camera's place and settings."""

    heads: tuple[HeadRow, ...]
    panels: tuple[tuple[str, str], ...]
    camera_place: str
    camera_set: str


def floor_rows(plan: Plan, setup: Setup) -> FloorRows:
    """Everything a setup puts on the floor."""
    units, view, shot = plan.day.units, setup.view, setup.exposure
    lens = plan.kit.lens[view.lens]
    away, high = length(view.distance_m, units), length(view.height_m, units)
    return FloorRows(
        tuple(_head(setup, light, units) for light in setup.lights),
        tuple(
            (place.panel, f"{place.side} {place.angle_deg:g}°, {length(place.distance_m, units)}")
            for place in setup.panels
        ),
        f"{lens.focal_mm:g} mm, {away}, {high} up",
        f"f/{shot.f:g}, {shot.shutter}, ISO {shot.iso:g}, {view.orientation}",
    )


def _head(setup: Setup, light: Light, units: Units) -> HeadRow:
    fitted = " + ".join((light.modifier, *light.accessories, *light.through))
    if light.aim in setup.panel:
        fitted += f", at {light.aim}"
    elif light.aim != "face":
        fitted += f", at the {light.aim}"
    return HeadRow(
        light.head,
        str(light.power),
        light.role,
        light.side,
        f"{light.angle_deg:g}°",
        length(light.distance_m, units),
        length(light.height_m, units),
        light.stand,
        fitted,
    )
