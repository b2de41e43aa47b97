"""The verdict on one stand at one moment, and on all stands of a setup.

A panel on its own feet: what lean and what gust it takes.

A panel is judged like a stand that carries only itself: its mass acts at its middle, its bags at
its foot, and it turns over the ends of its feet. What it stands on is in the kit as
``foot_radius_m``: how far its feet reach in front of it and behind, at the least. A panel whose
feet or mass nobody wrote down is never all right by itself. Speeds in m/s, forces in N, masses in
kg, lengths in m.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import inf
from typing import Final, Literal, NamedTuple

from runbook.model.day import Place, Plan
from runbook.model.kit import Panel
from runbook.model.setup import Setup
from runbook.stands.rig import (
    BAG_HEIGHT_M,
    Rig,
    bag_spot,
    bags_kg,
    base,
    burden_of,
    counterweight_needed_kg,
    even_spot,
    is_balanced,
    rig_of,
)
from runbook.stands.stability import (
    STOP_FACTOR,
    TINY,
    WARN_FACTOR,
    Base,
    Burden,
    Spot,
    bags_needed,
    base_margin_m,
    burden_factor,
    lean_deg,
    push_n,
)
from runbook.stands.wind import LONG_PANEL, PLATE, WindLimits, drag_area_m2, force_n, gust_of, limits_of, tipping_gust

Fault = Literal["lean", "factor", "load", "balance", "wind"]


class Verdict(NamedTuple):
    """What is known of one stand's safety. A planning figure, never a clearance.

    ``lean_deg`` and ``push_n`` are minus when it falls by itself; ``factor`` is None when nothing
    tips; ``bags_needed_kg`` is all that must hang there, what hangs already included and shared
    evenly over the far legs, and None when no mass there is enough; ``bags_most_kg`` is the most
    that helps there, None when more only helps or nothing does; ``counterweight_needed_kg`` is a
    boom's. ``faults`` says why not ``ok``; ``margin_m`` and ``centre_height_m`` are where the mass
    centre is.
    """

    stand: str
    head: str | None
    lean_deg: float
    push_n: float
    factor: float | None
    bags_kg: float
    bags_needed_kg: float | None
    bags_most_kg: float | None
    load_kg: float
    load_max_kg: float
    counterweight_needed_kg: float | None
    wind_limit_ms: float
    ok: bool
    faults: tuple[Fault, ...]
    margin_m: float
    centre_height_m: float
    wind: WindLimits


class _Figures(NamedTuple):
    """The sums that decide about one stand."""

    margin_m: float
    centre_m: float
    lean_deg: float
    push_n: float
    factor: float | None
    load_kg: float
    faults: tuple[Fault, ...]


def _figures(rig: Rig, place: Place, burden: Burden, spot: Spot) -> _Figures:
    feet, bags = base(rig), bags_kg(rig)
    whole = burden.whole_kg + bags
    aside = bags * spot.y / whole
    margin = base_margin_m(feet, (burden.turning + bags * spot.x) / whole, aside)
    centre = (burden.standing + bags * spot.z) / whole
    lean = lean_deg(margin, centre)
    push = push_n(whole, margin, rig.height_m)
    factor = burden_factor(feet, burden, bags, spot)
    load = burden.whole_kg - rig.stand.mass_kg
    gust = gust_of(place)
    faults: list[Fault] = []
    if lean < place.tilt_limit_deg - TINY:
        faults.append("lean")
    if factor is not None and factor < STOP_FACTOR - TINY:
        faults.append("factor")
    if load > rig.stand.load_max_kg + TINY:
        faults.append("load")
    if not is_balanced(rig):
        faults.append("balance")
    if gust > 0 and gust > _wind(rig, push).limit:
        faults.append("wind")
    return _Figures(margin, centre, lean, push, factor, load, tuple(faults))


def _wind(rig: Rig, push: float) -> WindLimits:
    arm_m = (rig.stand.arm_m or 0.0) + (rig.stand.arm_back_m or 0.0) if rig.stand.is_boom else 0.0
    return limits_of(tipping_gust(push, drag_area_m2(rig.modifier, rig.height_m, arm_m), 1.0))


def is_safe_alone(rig: Rig, place: Place) -> bool:
    """Whether a stand as it is at one moment may be let go of: ``judge(rig, place).ok``, sooner."""
    return not _figures(rig, place, burden_of(rig), bag_spot(rig)).faults


def judge(rig: Rig, place: Place) -> Verdict:
    """Judge one stand as it is at one moment. Raises ValueError for a boom without an arm."""
    stand, burden, spot = rig.stand, burden_of(rig), bag_spot(rig)
    found = _figures(rig, place, burden, spot)
    wind = _wind(rig, found.push_n)
    needed = bags_needed(base(rig), burden, even_spot(rig), place.tilt_limit_deg)
    return Verdict(
        stand.id,
        rig.head.id if rig.head else None,
        found.lean_deg,
        found.push_n,
        found.factor,
        bags_kg(rig),
        needed.least_kg if needed else None,
        needed.most_kg if needed and needed.most_kg < inf else None,
        found.load_kg,
        stand.load_max_kg,
        counterweight_needed_kg(rig),
        wind.limit,
        not found.faults,
        found.faults,
        found.margin_m,
        found.centre_m,
        wind,
    )


def is_stable(verdict: Verdict) -> bool:
    """Whether lean and factor hold with all that is wanted of them; loads and wind aside."""
    enough = verdict.factor is None or verdict.factor >= WARN_FACTOR - TINY
    return enough and not {"lean", "factor"} & set(verdict.faults)


def judge_setup(plan: Plan, setup: Setup) -> tuple[Verdict, ...]:
    """Every stand of a setup as it is to stand, in the order of its lights.

    Raises KeyError when the kit lacks a thing, ValueError for a boom without an arm.
    """
    return tuple(judge(rig_of(plan.kit, light), plan.day.place) for light in setup.lights)


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


def has_wind(place: Place) -> bool:
    """Whether there is a wind to mind, or may be: outdoors always."""
    return not place.indoors or gust_of(place) > 0


def panels_to_show(panels: tuple[PanelVerdict, ...], place: Place) -> tuple[PanelVerdict, ...]:
    """The panels to look at, worst first: all of them in a wind, else those that are not ok."""
    shown = panels if has_wind(place) else tuple(each for each in panels if not each.ok)
    return tuple(sorted(shown, key=lambda each: (each.wind.limit if each.wind else 0.0, each.panel)))
