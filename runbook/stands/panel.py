"""A panel on its own feet: what lean and what gust it takes.

A panel is judged like a stand that carries only itself: its mass acts at its middle, its bags at
its foot, and it turns over the ends of its feet. What it stands on is in the kit as
``foot_radius_m``: how far its feet reach in front of it and behind, at the least. A panel whose
feet or mass nobody wrote down is never all right by itself. Speeds in m/s, forces in N, masses in
kg, lengths in m.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, Literal

from runbook.model.day import Place, Plan
from runbook.model.kit import Panel
from runbook.model.setup import Setup
from runbook.stands.rig import BAG_HEIGHT_M
from runbook.stands.stability import TINY, Base, Burden, Spot, bags_needed, lean_deg, push_n
from runbook.stands.wind import LONG_PANEL, PLATE, WindLimits, force_n, gust_of, limits_of, tipping_gust

PanelFault = Literal["mass", "feet", "lean", "wind"]

# A panel three times as high as it is wide, or the other way, is long to the wind (our own line).
_LONG: Final = 3.0


@dataclass(frozen=True, slots=True)
class PanelVerdict:
    """What is known of one panel's safety. A planning figure, never a clearance.

    ``wind_push_n`` is what the wind there is pushes with, at ``height_m``, its middle. ``lean_deg``
    and ``push_n`` are what tips it, ``bags_needed_kg`` the bags in total that meet the lean, and
    ``wind`` the limits for gusts: all None where feet or mass are not known, or where it lies on
    the floor and nothing tips it. ``bags_needed_kg`` is None too where no mass is enough.
    """

    panel: str
    height_m: float
    mass_kg: float
    bags_kg: float
    gust_ms: float
    wind_push_n: float
    lean_deg: float | None
    push_n: float | None
    bags_needed_kg: float | None
    wind: WindLimits | None
    faults: tuple[PanelFault, ...]

    @property
    def ok(self) -> bool:
        """Whether it may stand by itself as it is."""
        return not self.faults


def judge_panel(panel: Panel, height_m: float, bags_kg: float, place: Place) -> PanelVerdict:
    """Judge one panel, upright and square to the wind, its middle at that height."""
    gust, area = gust_of(place), panel.width_m * panel.height_m
    short, long = sorted((panel.width_m, panel.height_m))
    drag = LONG_PANEL if long >= _LONG * short else PLATE
    known = (panel.id, height_m, panel.mass_kg, bags_kg, gust, force_n(gust, area, drag))
    unknown: tuple[PanelFault, ...] = ()
    if height_m:
        unknown += () if panel.mass_kg else ("mass",)
        unknown += () if panel.foot_radius_m else ("feet",)
    feet_m = panel.foot_radius_m
    if unknown or not height_m or feet_m is None:
        return PanelVerdict(*known, None, None, None, None, unknown)
    whole = panel.mass_kg + bags_kg
    standing = panel.mass_kg * height_m
    lean = lean_deg(feet_m, (standing + bags_kg * BAG_HEIGHT_M) / whole)
    push = push_n(whole, feet_m, height_m)
    wind = limits_of(tipping_gust(push, area, drag))
    needed = bags_needed(
        Base(feet_m, 1.0, 1.0),
        Burden(panel.mass_kg, 0.0, standing, panel.mass_kg, ()),
        Spot(0.0, BAG_HEIGHT_M),
        place.tilt_limit_deg,
    )
    faults: tuple[PanelFault, ...] = ("lean",) if lean < place.tilt_limit_deg - TINY else ()
    if gust > wind.limit:
        faults += ("wind",)
    return PanelVerdict(*known, lean, push, needed.least_kg if needed else None, wind, faults)


def judge_panels(plan: Plan, setup: Setup) -> tuple[PanelVerdict, ...]:
    """Every panel of a setup as it is to stand, in the plan's wind.

    Raises KeyError when the kit lacks a thing.
    """
    return tuple(
        judge_panel(
            plan.kit.panel[placed.panel],
            placed.height_m,
            sum(plan.kit.bag[bag].mass_kg for bag in placed.bags),
            plan.day.place,
        )
        for placed in setup.panels
    )


def is_blown(place: Place) -> bool:
    """Whether there is a wind to mind, or may be: outdoors always."""
    return not place.indoors or gust_of(place) > 0


def panels_to_show(panels: tuple[PanelVerdict, ...], place: Place) -> tuple[PanelVerdict, ...]:
    """The panels to look at, worst first: all of them in a wind, else those that are not ok."""
    shown = panels if is_blown(place) else tuple(each for each in panels if not each.ok)
    return tuple(sorted(shown, key=lambda each: (each.wind.limit if each.wind else 0.0, each.panel)))
