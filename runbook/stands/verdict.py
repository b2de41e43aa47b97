"""The verdict on one stand or panel at one moment, and on all of a setup.

A panel is judged like a stand that carries only itself: its mass acts at its middle, its bags at
its foot, and it turns over the ends of its feet. What it stands on is in the kit as
``foot_radius_m``: how far its feet reach in front of it and behind, at the least. An opened pair of
wings on the floor stands on the triangle of its two foot lines, as long as its hinge keeps the angle.
A panel whose base or mass is unknown is never all right by itself. Speeds in m/s, forces in N, masses
in kg, lengths in m.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import compress
from math import radians, sin
from typing import Final, Literal

from runbook.model.day import Place, Plan
from runbook.model.kit import Kit, Panel
from runbook.model.panels import open_deg_of
from runbook.model.setup import Setup
from runbook.stands import statics
from runbook.stands.lifting import HELD_OUT_KG
from runbook.stands.statics import TINY, Rig
from runbook.stands.wind import (
    WindLimits,
    drag_area_m2,
    force_n,
    gust_of,
    limits_of,
    panel_sail,
    rail_sail,
    tipping_gust,
)

Fault = Literal["lean", "factor", "load", "balance", "wind"]
PanelFault = Literal["mass", "feet", "lean", "wind"]

# A lower edge higher than this is not on the floor: the width of a finger.
_ON_THE_FLOOR_M: Final = 0.02


@dataclass(frozen=True, slots=True)
class Verdict:
    """What is known of one stand's safety. A planning figure, never a clearance.

    ``lean_deg`` and ``push_n`` are minus when it falls by itself; ``factor`` is None when nothing
    tips; ``bags_needed_kg`` is all that must hang there, what hangs already included and shared
    evenly over the far legs, and None when no mass there is enough; ``bags_most_kg`` is the most
    that helps there, None when more only helps or nothing does; ``counterweight_needed_kg`` is a
    boom's.
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
    wind: WindLimits
    faults: tuple[Fault, ...]
    sail: str | None = None

    @property
    def carries(self) -> str | None:
        """The head or the panel on it."""
        return self.head or self.sail

    @property
    def ok(self) -> bool:
        """Whether it may be let go of as it is."""
        return not self.faults

    @property
    def wind_limit_ms(self) -> float:
        """The gust to which it may stand."""
        return self.wind.limit


def judge(rig: Rig, place: Place) -> Verdict:
    """Judge one stand as it is at one moment. Raises ValueError for a boom without an arm."""
    stand, feet, burden = rig.stand, statics.base(rig), statics.burden_of(rig)
    spot, bags = statics.bag_spot(rig), statics.bags_kg(rig)
    whole = burden.whole_kg + bags
    margin = statics.base_margin_m(feet, (burden.turning + bags * spot.x) / whole, bags * spot.y / whole)
    lean = statics.lean_deg(margin, (burden.standing + bags * spot.z) / whole)
    push = statics.push_n(whole, margin, rig.height_m)
    wind = limits_of(tipping_gust(push, drag_area_m2(rig), 1.0))
    factor, load = statics.burden_factor(feet, burden, bags, spot), burden.whole_kg - stand.mass_kg
    least, most = statics.bags_needed(feet, burden, statics.even_spot(rig), place.tilt_limit_deg)
    fails: dict[Fault, bool] = {
        "lean": lean < place.tilt_limit_deg - TINY,
        "factor": factor is not None and factor < statics.STOP_FACTOR - TINY,
        "load": load > stand.load_max_kg + TINY,
        "balance": not statics.is_balanced(rig),
        "wind": gust_of(place) > wind.limit,
    }
    return Verdict(
        stand=stand.id,
        head=rig.head.id if rig.head else None,
        lean_deg=lean,
        push_n=push,
        factor=factor,
        bags_kg=bags,
        bags_needed_kg=least,
        bags_most_kg=most,
        load_kg=load,
        load_max_kg=stand.load_max_kg,
        counterweight_needed_kg=statics.counterweight_needed_kg(rig),
        wind=wind,
        faults=tuple(compress(fails, fails.values())),
        sail=rig.sail.item if rig.sail else None,
    )


def is_stable(verdict: Verdict) -> bool:
    """Return whether lean and factor hold with the margin wanted; load, balance and wind aside."""
    enough = verdict.factor is None or verdict.factor >= statics.WARN_FACTOR - TINY
    return enough and not {"lean", "factor"} & set(verdict.faults)


def rigs_of(kit: Kit, setup: Setup) -> dict[str, Rig]:
    """Return every stand of a setup, fitted as the setup wants it: those of lights, then those that hold panels.

    Raises KeyError when the kit lacks a thing.
    """
    rigs = {light.stand: statics.rig_of(kit, light) for light in setup.lights}
    for place in setup.panels:
        if place.held_by in kit.stand:
            panel, bags = kit.panel[place.panel], tuple(kit.bag[name] for name in place.bags)
            sail = panel_sail(panel, open_deg_of(panel, place))
            rigs[place.held_by] = Rig(kit.stand[place.held_by], place.height_m, bags=bags, sail=sail)
    for hung in setup.hung_cloths:
        cloth = kit.cloth[hung.cloth]
        for stand, names in zip(hung.held_by, hung.bags_by_stand, strict=False):
            bags = tuple(kit.bag[name] for name in names)
            rigs[stand] = Rig(kit.stand[stand], hung.rail_m(cloth), bags=bags, sail=rail_sail(cloth))
    return rigs


def judge_setup(plan: Plan, setup: Setup) -> tuple[Verdict, ...]:
    """Judge every stand of a setup as it is to stand, those of its lights first.

    Raises KeyError when the kit lacks a thing, ValueError for a boom without an arm.
    """
    return tuple(judge(rig, plan.day.place) for rig in rigs_of(plan.kit, setup).values())


@dataclass(frozen=True, slots=True)
class PanelVerdict:
    """What is known of one panel's safety. A planning figure, never a clearance.

    ``wind_push_n`` is what the wind there is pushes with, at ``height_m``, its middle. ``lean_deg``
    and ``push_n`` are what tips it, ``bags_needed_kg`` the bags in total that meet the lean, and
    ``wind`` the limits for gusts: all None where feet or mass are not known, or where it lies on
    the floor and nothing tips it. ``bags_needed_kg`` is None too where no mass is enough. ``open_deg``
    is the angle between two wings. ``held_by`` is the stand or the person that holds it: then it has no figures of
    its own. ``on_stand`` says that it is a stand, which has a verdict instead.
    """

    panel: str
    height_m: float
    mass_kg: float
    bags_kg: float
    gust_ms: float
    wind_push_n: float
    lean_deg: float | None = None
    push_n: float | None = None
    bags_needed_kg: float | None = None
    wind: WindLimits | None = None
    faults: tuple[PanelFault, ...] = ()
    open_deg: float | None = None
    held_by: str | None = None
    on_stand: bool = False

    @property
    def ok(self) -> bool:
        """Whether it may stand by itself as it is."""
        return not self.faults


def wings_base_m(panel: Panel, height_m: float, open_deg: float | None) -> float:
    """Return how far the mass centre of two wings is inside the triangle of their foot lines, at the least.

    0 for one wing, a closed or a flat pair, and wings whose lower edge is off the floor. The nearest edge is
    a foot line, ``width/4 · sin(open_deg)`` away: the centre is half a wing along the bisector.
    """
    if open_deg is None or height_m - panel.height_m / 2 > _ON_THE_FLOOR_M:
        return 0.0
    return max(0.0, panel.width_m / 4 * sin(radians(open_deg)))


def judge_panel(  # noqa: PLR0917
    panel: Panel,
    height_m: float,
    bags_kg: float,
    place: Place,
    open_deg: float | None = None,
    held_by: str | None = None,
) -> PanelVerdict:
    """Judge one panel, upright and square to the wind, its middle at that height; ``open_deg`` is of two wings.

    On the wings' own base a bag hangs on one of the lines it can turn over: there bags hold nothing. What somebody
    holds is judged only by the push of the wind.
    """
    gust, sail, feet_m = gust_of(place), panel_sail(panel, open_deg), panel.foot_radius_m or 0.0
    wings_m = wings_base_m(panel, height_m, open_deg)
    verdict = PanelVerdict(
        panel.id, height_m, panel.mass_kg, bags_kg, gust, force_n(gust, sail.area_m2, sail.drag), open_deg=open_deg
    )
    if held_by is not None:
        too_hard = verdict.wind_push_n > HELD_OUT_KG * statics.G
        return replace(verdict, bags_kg=0.0, held_by=held_by, faults=("wind",) if too_hard else ())
    if not height_m:
        return verdict
    if not panel.mass_kg or not max(feet_m, wings_m):
        unknown: dict[PanelFault, bool] = {"mass": not panel.mass_kg, "feet": not max(feet_m, wings_m)}
        return replace(verdict, faults=tuple(compress(unknown, unknown.values())))
    feet, spot = statics.Base(feet_m, 1.0, 1.0), statics.Spot(0.0, statics.BAG_HEIGHT_M)
    burden = statics.Burden(panel.mass_kg, 0.0, panel.mass_kg * height_m, panel.mass_kg, ())
    whole = panel.mass_kg + bags_kg
    margin_m = max(feet_m, wings_m * panel.mass_kg / whole)
    lean = statics.lean_deg(margin_m, (burden.standing + bags_kg * spot.z) / whole)
    push = statics.push_n(whole, margin_m, height_m)
    wind = limits_of(tipping_gust(push, sail.area_m2, sail.drag))
    needed: float | None = 0.0
    if statics.lean_deg(max(feet_m, wings_m), height_m) < place.tilt_limit_deg - TINY:
        needed, _ = statics.bags_needed(feet, burden, spot, place.tilt_limit_deg) if feet_m else (None, None)
    fails: dict[PanelFault, bool] = {"lean": lean < place.tilt_limit_deg - TINY, "wind": gust > wind.limit}
    return replace(
        verdict,
        lean_deg=lean,
        push_n=push,
        bags_needed_kg=needed,
        wind=wind,
        faults=tuple(compress(fails, fails.values())),
    )


def judge_panels(plan: Plan, setup: Setup) -> tuple[PanelVerdict, ...]:
    """Judge every panel of a setup as it is to stand, in the plan's wind.

    Raises KeyError when the kit lacks a thing.
    """
    kit, place = plan.kit, plan.day.place
    verdicts = (
        judge_panel(panel, at.height_m, bags_kg, place, open_deg_of(panel, at), at.held_by)
        for at in setup.panels
        if (panel := kit.panel[at.panel])
        for bags_kg in (sum(kit.bag[bag].mass_kg for bag in at.bags),)
    )
    return tuple(
        replace(panel, on_stand=True, faults=()) if panel.held_by in kit.stand else panel for panel in verdicts
    )


def has_wind(place: Place) -> bool:
    """Return whether there is or may be a wind: outdoors always."""
    return not place.indoors or gust_of(place) > 0


def panels_to_show(panels: tuple[PanelVerdict, ...], place: Place) -> tuple[PanelVerdict, ...]:
    """Return the panels to look at, worst first: those that are not ok or that a person holds, and in a wind all.

    Those on a stand are left out: the stand is there instead.
    """
    shown = [panel for panel in panels if not panel.on_stand and (has_wind(place) or panel.held_by or not panel.ok)]
    return tuple(sorted(shown, key=lambda panel: (panel.wind.limit if panel.wind else 0.0, panel.panel)))
