"""A panel in the wind: from which gust it goes over, whatever it stands on.

A plan says how wide, high and heavy a panel is, and not what feet it has. So there is no limit as a
stand has one, but there is a bound. Wind pushes at the panel's middle and turns it over an edge on
the floor; what holds it is its mass and its bags, and they act no further from that edge than the
panel is wide (our own, and generous: their middle is further in). Past the gust that beats even
that lever it goes over. Speeds in m/s, forces in N, masses in kg, lengths in m.
"""

from __future__ import annotations

from math import inf
from typing import Final, Literal

from runbook.plan.day import Place, Plan
from runbook.plan.kit import Panel
from runbook.plan.setup import Setup
from runbook.plan.tuples import NamedTuple
from runbook.stand.stability import G
from runbook.stand.wind import LONG_PANEL, PLATE, WATCH, force_n, gust_of, tipping_gust

Fate = Literal["goes over", "may go over", "watch", "ok"]

# The wind felt on the face (Beaufort 2): below it nobody speaks of a panel.
FELT_MS: Final = 1.6
# A panel three times as high as it is wide, or the other way, is long to the wind (our own line).
_LONG: Final = 3.0


class PanelVerdict(NamedTuple):
    """What is known of one panel in the wind. A planning figure, never a clearance.

    ``push_n`` is the wind's push at ``height_m``, its middle. ``over_ms`` is the gust past which it
    goes over for certain: all that it weighs, bags too, at its whole width. ``likely_ms`` is the
    one that tips it where its weight is over the middle of feet as deep as it is wide. Both are
    inf where nothing turns it, lying on the floor, and None where the kit has no mass for it.
    """

    panel: str
    width_m: float
    height_m: float
    mass_kg: float
    bags_kg: float
    gust_ms: float
    push_n: float
    over_ms: float | None
    likely_ms: float | None

    @property
    def fate(self) -> Fate:
        """What the wind there is does with it; not known is as bad as ``may go over``."""
        if self.over_ms is None or self.likely_ms is None:
            return "may go over" if self.gust_ms >= FELT_MS else "ok"
        if self.gust_ms > self.over_ms:
            return "goes over"
        if self.gust_ms > self.likely_ms:
            return "may go over"
        return "watch" if self.gust_ms > WATCH * self.likely_ms else "ok"

    @property
    def ok(self) -> bool:
        """Whether it is not certain to go over."""
        return self.fate != "goes over"


def judge_panel(panel: Panel, height_m: float, bags_kg: float, place: Place) -> PanelVerdict:
    """Judge one panel, upright and square to the wind, its middle at that height."""
    gust = gust_of(place)
    area = panel.width_m * panel.height_m
    short, long = sorted((panel.width_m, panel.height_m))
    drag = LONG_PANEL if long >= _LONG * short else PLATE

    def tips(lever_m: float) -> float | None:
        if not panel.mass_kg:
            return None
        if not height_m:
            return inf
        holds = (panel.mass_kg + bags_kg) * G * lever_m
        return tipping_gust(holds / height_m, area, drag)

    return PanelVerdict(
        panel.id,
        panel.width_m,
        height_m,
        panel.mass_kg,
        bags_kg,
        gust,
        force_n(gust, area, drag),
        tips(panel.width_m),
        tips(panel.width_m / 2),
    )


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


def soonest_over(panels: tuple[PanelVerdict, ...]) -> tuple[PanelVerdict, ...]:
    """Panels by the gust that takes them, the first to go at the head; those not known before."""
    return tuple(sorted(panels, key=lambda each: (each.over_ms or 0.0, each.panel)))
