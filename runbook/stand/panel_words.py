"""What the wind does to a panel, in words one person can say to another."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from itertools import groupby
from math import inf
from typing import Final

from runbook.plan.units import Units, force, length, mass, speed
from runbook.stand.panel import PanelVerdict, soonest_over

STATES: Final = {
    "goes over": "NOT OK: wind",
    "may go over": "hold it",
    "watch": "watch it",
    "ok": "ok",
}


def over_words(panel: PanelVerdict, units: Units = "metric") -> str:
    """From which gust it goes over, in a few words; the same figure everywhere it is said."""
    if panel.over_ms is None:
        return "its mass is not in the kit"
    if panel.over_ms == inf:
        return "it lies on the floor"
    return f"goes over for certain past {speed(panel.over_ms, units)}"


def pushed_words(panel: PanelVerdict, units: Units = "metric") -> str:
    """``10.0 m/s push it with 212 N, 21.6 kgf``."""
    newtons = f"{panel.push_n:.0f} N, " if units == "metric" else ""
    return f"{speed(panel.gust_ms, units)} push it with {newtons}{force(panel.push_n, units)}"


def feet_words(panel: PanelVerdict, units: Units = "metric") -> str:
    """What it may do sooner, since nobody told its feet; empty where there is nothing to say."""
    if panel.likely_ms is None or panel.likely_ms == inf:
        return ""
    return (
        f"its feet are not in the plan: over the middle of feet {length(panel.width_m, units)} "
        f"deep it goes past {speed(panel.likely_ms, units)}"
    )


def panel_words(panel: PanelVerdict, units: Units = "metric") -> tuple[str, ...]:
    """All there is to say of a panel in this wind, a line for each thing."""
    at = length(panel.height_m, units)
    said = [f"{pushed_words(panel, units)}, {at} up"] if panel.gust_ms > 0 else []
    if panel.over_ms is None:
        said.append(f"{over_words(panel, units)}: weigh it, and write mass_kg")
    elif panel.over_ms == inf:
        said.append(over_words(panel, units))
    else:
        held = mass(panel.mass_kg, units)
        if panel.bags_kg:
            held += f" and {mass(panel.bags_kg, units)} of bags"
        said.append(
            f"{over_words(panel, units)}, were its {held} a whole width, "
            f"{length(panel.width_m, units)}, from the edge it turns over"
        )
    do = {
        "goes over": "take it down first",
        "may go over": "a person on it, or take it down",
        "watch": "watch it",
        "ok": "",
    }
    return tuple(each for each in (do[panel.fate], *said, feet_words(panel, units)) if each)


def asks_of_panels(
    panels: Iterable[PanelVerdict], units: Units = "metric"
) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """What a wind asks for its panels: those to take down, then those to hold or to watch.

    Panels that are alike are named together, those that go over soonest at the head.
    """
    sorted_panels = soonest_over(tuple(panels))
    first = tuple(_asks(sorted_panels, {"goes over": "take down {n}, now"}, units))
    rest = {"may go over": "a person on it, or down", "watch": "watched"}
    return first, tuple(_asks(sorted_panels, rest, units))


def _asks(panels: tuple[PanelVerdict, ...], asked: dict[str, str], units: Units) -> Iterator[str]:
    n = 0
    for (said, fate), alike in groupby(panels, lambda each: (over_words(each, units), each.fate)):
        if fate in asked:
            names = ", ".join(each.panel for each in alike)
            yield f"{names} ({said}) {asked[fate].format(n='also' if n else 'first')}"
            n += 1
