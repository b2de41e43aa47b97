"""The heads of a setup as they light the face, the background and the whole, at full power.

Readings are in stops (``log2 N²``); one at the face has the meter turned to the head.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from math import dist, log2
from typing import Final

from runbook.light.beam import Beam, field_spread_deg, full_power_stops, measured_row, source_of, view_share
from runbook.light.scene import Scene, Surface, beam_axis, cosine_between, scene, surfaces_of
from runbook.light.stops import DARK, add_light, stops_of
from runbook.model.geometry import Point
from runbook.model.kit import Kit, Measured
from runbook.model.nominal_values import aperture_stops
from runbook.model.power import Dial, Power
from runbook.model.setup import Light, Setup

_SLACK: Final = 1e-9
_TO_CAMERA: Final = Point(0.0, 1.0, 0.0)  # how a meter on the background faces


@dataclass(frozen=True, slots=True)
class DialSetting:
    """The power nearest to what is asked, and how much brighter (plus) it then reads, in stops.

    Out of range the power is the end of the dial, and ``left_over_stops`` is by how much it misses.
    """

    power: Power
    left_over_stops: float
    in_range: bool


@dataclass(frozen=True, slots=True)
class LitHead:
    """A light, its dial, and its beam at full power with what it gives then, in stops.

    ``at_full`` is its reading at the face, ``scattered`` what comes of that out of each hung cloth, and ``comes_from``
    where most of it does. ``bounced`` is what each panel and cloth reflects to the face of it. ``whole`` and
    ``background`` are what it adds, all of that included, to the dome turned to the camera and to a meter flat on the
    background. ``row`` is the meter's own row that it is carried from.
    """

    light: Light
    dial: Dial
    beam: Beam
    row: Measured | None
    comes_from: Point
    at_full: float = DARK
    bounced: Mapping[str, float] = field(default_factory=dict)
    scattered: Mapping[str, float] = field(default_factory=dict)
    whole: float = DARK
    background: float = DARK

    def at_power(self, at_full: float) -> float:
        """Return something that its full power gives as it is at the power it is set to."""
        below = self.light.power.below_full
        return DARK if below is None else at_full - float(below)

    @property
    def reads(self) -> float:
        """Its reading at the face at the power it is set to."""
        return self.at_power(self.at_full)

    @property
    def asked(self) -> float | None:
        """The reading asked of it."""
        f = self.light.aim_reading_f
        return None if f is None else aperture_stops(f)

    @property
    def key_panel(self) -> str | None:
        """The panel by which it lights the face: the one it is aimed at, where more comes off that than directly.

        What is asked of the head itself is asked of its own beam.
        """
        aim = self.light.aim
        return aim if self.asked is None and self.bounced.get(aim, DARK) > self.at_full else None

    @property
    def as_key(self) -> float:
        """What it gives the face as a key at full power, directly or off the panel it is aimed at."""
        return self.at_full if self.key_panel is None else self.bounced[self.key_panel]

    @property
    def as_asked(self) -> float:
        """What it gives as a key once its own reading is dialled; as it is set without one."""
        dial = self.dial_for(self.asked)
        return self.at_power(self.as_key) if self.asked is None or dial is None else self.asked + dial.left_over_stops

    @property
    def follows(self) -> bool:
        """Whether all that is asked of it counts from the key."""
        return self.asked is None and self.light.under_key_stops is not None

    def dial_for(self, asked: float | None) -> DialSetting | None:
        """Return the click for a reading; None where nothing is asked or none of its light arrives."""
        if asked is None or self.at_full == DARK:
            return None
        power = self.dial.nearest(self.at_full - asked)
        assert power.below_full is not None
        left_over = self.at_full - asked - float(power.below_full)
        return DialSetting(power, left_over, abs(left_over) <= float(self.dial.step) / 2 + _SLACK)


def light_heads(kit: Kit, setup: Setup, where: Scene, measured: Sequence[Measured] = ()) -> tuple[LitHead, ...]:
    """Return the heads of a setup; ``measured`` are readings that beat the kit's rows."""
    from runbook.light.bounce import Meter, light_at

    heads = []
    for light in setup.lights:
        row = measured_row(kit, light, measured)
        beam = _beam(kit, light, where, full_power_stops(kit, light, setup.exposure.iso, row))
        heads.append(LitHead(light, kit.head[light.head].dial, beam, row, beam.origin))
    if not heads:
        return ()
    meters = [Meter(where.face)] + ([] if where.background is None else [Meter(where.background, _TO_CAMERA)])
    surfaces = surfaces_of(kit, setup)
    at_face, *at_wall = light_at([head.beam for head in heads], surfaces, *meters).tolist()
    walls = at_wall[0] if at_wall else [[0.0]] * len(heads)
    return tuple(_lit(where, surfaces, *each) for each in zip(heads, at_face, walls, strict=True))


def _beam(kit: Kit, light: Light, where: Scene, stops: float) -> Beam:
    spread_deg = field_spread_deg(kit, light.modifier, light.accessories)
    axis = beam_axis(where, light)
    return Beam(where.heads[light.head], axis, source_of(kit, light), stops, spread_deg, by_hand=light.through)


def _lit(
    where: Scene, surfaces: Sequence[Surface], head: LitHead, at_face: Sequence[float], at_wall: Sequence[float]
) -> LitHead:
    """Return a head with its light at face and background: straight, then off each surface."""
    straight, *sent = map(stops_of, at_face)
    origin = head.beam.origin
    bounced = dict.fromkeys((surface.of for surface in surfaces), DARK)
    scattered, places = {}, {straight: origin}
    whole = [to_camera(where, straight, origin)]
    for surface, stops in zip(surfaces, sent, strict=True):
        if surface.two_sided and not surface.plane.on_one_side(origin, where.face):
            scattered[surface.of] = stops
            places[stops] = surface.nearest_to(origin, where.face)
        else:
            bounced[surface.of] = add_light((bounced[surface.of], stops))
        whole.append(to_camera(where, stops, surface.plane.middle))
    head = replace(
        head,
        at_full=add_light((straight, *scattered.values())),
        scattered=scattered,
        comes_from=places[max(straight, *scattered.values())] if scattered else origin,
    )
    if not head.light.power.fires:
        return replace(head, bounced=dict.fromkeys(bounced, DARK))
    return replace(head, bounced=bounced, whole=add_light(whole), background=stops_of(sum(at_wall)))


def off_axis_stops(kit: Kit, setup: Setup, light: Light) -> float | None:
    """Return what a head reads at the face over what it would on its beam's axis, with nothing in the way.

    None outside its field angle, and where the face does not see it.
    """
    where = scene(setup)
    beam = _beam(kit, light, where, 0.0)
    reads = reading_alone(beam, surfaces_of(kit, setup), where.face)
    on_axis = log2(view_share(beam.source, dist(beam.origin, where.face)))
    return reads - on_axis if reads != DARK and beam.holds(where.face) else None


def reading_alone(beam: Beam, surfaces: Sequence[Surface], point: Point) -> float:
    """Return what a meter at a point shows of a head, in stops: its beam, and what hung cloths scatter of it."""
    from runbook.light.bounce import Meter, light_at

    scattering = [replace(surface, reflectance=0.0) for surface in surfaces]
    return stops_of(float(light_at([beam], scattering, Meter(point)).sum()))


def seen_shares(beams: Sequence[Beam], surfaces: Sequence[Surface], point: Point) -> list[float]:
    """Return the share of each head's front that a point sees."""
    from runbook.light.shade import Shade

    return [float(share) for share in Shade(surfaces).seen_shares(beams, point)[:, 0]]


def to_camera(where: Scene, stops: float, point: Point) -> float:
    """Return a source with the dome turned to the camera: it counts with ``(1 + cos β) / 2``."""
    return stops + stops_of((1 + cosine_between(where.face, point, where.lens)) / 2)
