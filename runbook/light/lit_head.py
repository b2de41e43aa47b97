"""One head of a setup as it lights the face, directly and off each panel."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

from runbook.light.bounce import PanelPatches, bounce_stops, cut_panel
from runbook.light.exposure import field_spread_deg, full_power_stops, measured_row, source_of
from runbook.light.falloff import Beam, field_exponent
from runbook.light.scene import Scene, aim_point, panel_plane, towards
from runbook.light.solve import HeadAsk, Solution
from runbook.light.stops import DARK
from runbook.model.geometry import Point
from runbook.model.kit import Kit, Measured
from runbook.model.nominal_values import aperture_stops
from runbook.model.setup import Light, Setup


@dataclass(frozen=True, slots=True)
class LitHead:
    """A light worked out as far as the others are not needed.

    ``at_full`` is its reading at the face at full power, ``bounced`` what each panel of the set
    sends on of it at the power it is set to.
    """

    light: Light
    beam: Beam
    at_full: float
    reads: float
    row: Measured | None
    bounced: Mapping[str, float]

    @property
    def asked(self) -> float | None:
        """The reading asked of it, in stops."""
        f = self.light.aim_reading_f
        return None if f is None else aperture_stops(f)

    @property
    def key_panel(self) -> str | None:
        """The panel that a head lights the face by: it is aimed there, and more comes back off it
        than reaches the face directly. What is asked of the head itself is asked of its own beam.
        """
        aim = self.light.aim
        by_panel = self.asked is None and self.bounced.get(aim, DARK) > self.reads
        return aim if by_panel else None

    @property
    def as_key(self) -> float:
        """What it gives the face as a key, directly or off the panel it is aimed at."""
        return self.reads if self.key_panel is None else self.bounced[self.key_panel]


def cut_panels(kit: Kit, setup: Setup, where: Scene) -> dict[str, PanelPatches]:
    """Return the panels of a setup cut into patches, once for all heads."""
    cuts = {}
    for name in where.panels:
        panel, surface = kit.panel[name], panel_plane(where, setup.panel[name])
        cuts[name] = cut_panel(surface, panel.width_m, panel.height_m, where.face)
    return cuts


def light_head(
    kit: Kit,
    where: Scene,
    light: Light,
    *,
    iso: float,
    cuts: Mapping[str, PanelPatches],
    measured: Sequence[Measured] = (),
) -> LitHead:
    """Return what one head gives at this ISO; ``measured`` are readings that beat the kit's rows."""
    row = measured_row(kit, light, measured)
    full = full_power_stops(kit, light, iso, row)
    spread = field_spread_deg(kit, light)
    origin = where.heads[light.head]
    below = light.power.below_full
    at_full = Beam(
        origin=origin,
        axis=towards(origin, aim_point(where, light)),
        source=source_of(kit, light),
        stops=full,
        exponent=field_exponent(spread),
        spread_deg=spread,
    )
    beam = replace(at_full, stops=DARK if below is None else full - float(below))
    return LitHead(
        light,
        beam,
        at_full.reading(where.face),
        beam.reading(where.face),
        row,
        {name: bounce_stops(cut, kit.panel[name].reflectance, beam) for name, cut in cuts.items()},
    )


def head_ask(kit: Kit, one: LitHead) -> HeadAsk:
    """Return what is asked of a head, for the powers to be solved."""
    light = one.light
    return HeadAsk(
        role=light.role,
        dial=kit.head[light.head].dial,
        fires=light.power.fires,
        at_full=one.at_full,
        as_key=one.as_key,
        wanted=one.asked,
        under_key=light.under_key_stops,
    )


def sources_as_asked(where: Scene, lit: Sequence[LitHead], solution: Solution) -> Iterator[tuple[float, Point]]:
    """Yield the sources as they are once every head that fires is set as asked."""
    for one, dial in zip(lit, solution.dials, strict=True):
        below = one.light.power.below_full
        if below is None:
            continue
        dialled = below if dial is None else dial.power.below_full
        assert dialled is not None  # a dial has no "off" to be nearest
        more = float(below - dialled)
        yield one.reads + more, one.beam.origin
        for name, stops in one.bounced.items():
            yield stops + more, where.panels[name]
