"""Wind on a modifier: what it pushes with, the gust that tips a stand, when to act.

Speeds in m/s, areas in m2, forces in N. F = 0.613 v2 Cd A: 0.613 is half the density of standard
air, as ASCE 7 26.10 has it. The drag figures are for flat plates and hollow cups; cloth that
billows is neither, so the results are optimistic for it.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Mapping
from dataclasses import dataclass
from math import cos, pi, radians, sin, sqrt
from typing import Final

from runbook.model.day import Place
from runbook.model.kit import Cloth, Modifier, Panel
from runbook.model.panels import BEHIND_M
from runbook.model.units import Units, speed
from runbook.stands.statics import WARN_FACTOR, Rig, Sail

HALF_AIR: Final = 0.613
# A square plate has 1.17 and a cup facing the wind 1.42 (Aeronautical Engineer's Data Book, p. 95).
PLATE: Final = 1.2
CUP: Final = 1.42
LONG_PANEL: Final = 2.0
# A panel three times as high as it is wide, or the other way, is long to the wind (our own line).
_LONG: Final = 3.0
# What a bare head shows the wind (0.16 x 0.31 m), and how thick a column or an arm is: our own.
HEAD_AREA_M2: Final = 0.05
COLUMN_M: Final = 0.03
# What a metre of a cloth's rail weighs, as the kit does not say: an aluminium tube of 48 mm with walls of 3 mm has
# 1.15 kg (2700 kg/m3), the lighter tubes of a background kit 0.4 to 0.7; our own figure.
RAIL_KG_M: Final = 1.0
# Past a gale (Beaufort 8 begins at 17.2 m/s) there is no work with lights: no higher limit is shown.
SHOWN_MS: Final = 20.0
# A 3 s gust over a 10 min mean, open inland country (WMO/TD-No. 1555, made for tropical cyclones).
GUST_OVER_MEAN: Final = 1.66
# Shares of a limit's speed at which to watch and to act (see ``limits_of``).
WATCH: Final = 0.6
ACT: Final = 0.8

# Where each step of the Beaufort scale ends and the next begins, and the names of all thirteen.
_BEAUFORT_ENDS: Final = (0.3, 1.6, 3.4, 5.5, 8.0, 10.8, 13.9, 17.2, 20.8, 24.5, 28.5, 32.7)
BEAUFORT_NAMES: Final = (
    "calm", "light air", "light breeze", "gentle breeze", "moderate breeze", "fresh breeze", "strong breeze",
    "near gale", "gale", "strong gale", "storm", "violent storm", "hurricane",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class WindLimits:
    """Gust speeds in m/s: what tips it; the limit with a factor of 1.5; when to watch, when to act."""

    tips: float
    limit: float
    watch: float
    act: float


def force_n(speed_ms: float, area_m2: float, drag: float = PLATE) -> float:
    """Return the push of the wind on an area."""
    return HALF_AIR * speed_ms * speed_ms * drag * area_m2


def area_m2(modifier: Modifier | None) -> float:
    """Return the area a modifier shows the wind, never less than a bare head shows."""
    if modifier is None or modifier.shape == "bare":
        return HEAD_AREA_M2
    share = pi / 4 if modifier.shape == "round" else 1.0
    return max(HEAD_AREA_M2, share * modifier.width_m * modifier.height_m)


def panel_sail(panel: Panel, open_deg: float | None) -> Sail:
    """Return a panel as a stand carries it, with the area that it shows the wind from the worst side, and its drag.

    Two wings show most of both along the middle of the angle between them, or across it; their hollow is a cup.
    They are held at their hinge, and their mass is half a wing further along the middle of that angle.
    """
    short, long = sorted((panel.width_m, panel.height_m))
    area, drag, out_m = panel.width_m * panel.height_m, LONG_PANEL if long >= _LONG * short else PLATE, BEHIND_M
    if open_deg is not None:
        half = radians(open_deg / 2)
        area, drag = 2 * area * max(sin(half), cos(half)), max(drag, CUP)
        out_m += panel.width_m / 2 * cos(half)
    return Sail(panel.id, panel.mass_kg, out_m, area, drag)


def rail_sail(cloth: Cloth) -> Sail:
    """Return the end of a hung cloth's rail as a stand carries it: half of cloth and rail, and half of the sail.

    A cloth whose hem is free pulls with all of its wind at its rail, and billows into a cup.
    """
    wide, high = cloth.width_m or 0.0, cloth.height_m or 0.0
    long = max(wide, high) >= _LONG * min(wide, high)
    return Sail(
        cloth.id, (cloth.mass_kg + RAIL_KG_M * wide) / 2, 0.0, wide * high / 2, LONG_PANEL if long else CUP, "rail"
    )


def drag_area_m2(rig: Rig) -> float:
    """Return drag times area of a whole stand, as if all of it were at the height of the load.

    The column is a sail of that height whose middle is half-way up; a boom's arm is all up there.
    A modifier that catches the wind in its hollow has the drag of a cup.
    """
    stand, modifier, sail = rig.stand, rig.modifier, rig.sail
    arm_m = (stand.arm_m or 0.0) + (stand.arm_back_m or 0.0) if stand.is_boom else 0.0
    drag = CUP if modifier is not None and modifier.cup else PLATE
    load = drag * area_m2(modifier) if sail is None else sail.drag * sail.area_m2
    return load + PLATE * COLUMN_M * (rig.height_m / 2 + arm_m)


def tipping_gust(push: float, area: float, drag: float = PLATE) -> float:
    """Return the gust in m/s whose push on the area reaches ``push`` N; 0 when it falls by itself."""
    return sqrt(max(0.0, push) / (HALF_AIR * drag * area))


def limits_of(tips: float, factor: float = WARN_FACTOR) -> WindLimits:
    """Return the speeds to mind, from the gust that tips.

    Load goes with speed squared, so a factor on load is its root on speed. Watching at 60 % and
    acting at 80 % follow an event guide's wind plan (Cardiff Council, Bute Park, 2020), which says
    them of load; taken of speed, as here, they come earlier.
    """
    limit = tips / sqrt(factor)
    return WindLimits(tips, limit, WATCH * limit, ACT * limit)


def gust_of(place: Place) -> float:
    """Return the gust to plan for: as given; else the steady wind, outdoors with its usual gusts.

    A fan, and indoors a draught, blows as it is set. A plan does not say at which stand a fan
    points, so it counts at each.
    """
    gust = place.wind_ms if place.indoors else place.wind_ms * GUST_OVER_MEAN
    return max(place.wind_ms, place.fan_ms, gust if place.gust_ms is None else place.gust_ms)


def wind_source_text(place: Place) -> str:
    """Return what makes that gust: ``fan``, ``draught`` or ``gusts``."""
    if place.fan_ms > 0 and place.fan_ms >= gust_of(place):
        return "fan"
    return "draught" if place.indoors else "gusts"


def beaufort(speed_ms: float) -> int:
    """Return the Beaufort step of a speed in m/s."""
    return bisect_right(_BEAUFORT_ENDS, speed_ms)


def top_of_force(number: int) -> float:
    """Return the upper end of a Beaufort step in m/s; of a hurricane, which has none, its lower one."""
    return _BEAUFORT_ENDS[-1] if number >= len(_BEAUFORT_ENDS) else round(_BEAUFORT_ENDS[number] - 0.1, 1)


def gust_text(gust_ms: float, units: Units = "metric") -> str:
    """Return a gust with its Beaufort step: ``6.0 m/s, force 4, moderate breeze``."""
    step = beaufort(gust_ms)
    return f"{speed(gust_ms, units)}, force {step}, {BEAUFORT_NAMES[step]}"


def limit_text(limit_ms: float, units: Units = "metric") -> str:
    """Return a limit for gusts as text: ``4.7 m/s``, or ``over 20 m/s``."""
    return f"over {speed(SHOWN_MS, units, '.0f')}" if limit_ms > SHOWN_MS else speed(limit_ms, units)


def wind_actions(limits: Mapping[str, WindLimits], gust_ms: float, units: Units = "metric") -> tuple[str, ...]:
    """Return what a gust asks for stands and panels, lowest limit first; empty when it asks nothing.

    Past its limit a thing comes down, past 80 % of it a person is on it, past 60 % it is watched.
    """
    actions: list[str] = []
    for name, of in sorted(limits.items(), key=lambda item: (item[1].limit, item[0])):
        action = "name a person to watch it"
        if gust_ms > of.limit:
            action = f"take it down {'now' if actions else 'first, now'}"
        elif gust_ms > of.act:
            action = "put a person on it, or take it down"
        if gust_ms > of.watch:
            actions.append(f"{name} (limit {limit_text(of.limit, units)}): {action}")
    return tuple(actions)
