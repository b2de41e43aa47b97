"""What a setup's light will do: each head's reading, the whole, panels, ambient, camera and pattern.

All readings in stops, ``log2 N²``. The pattern's names are the trade's; US Army SS0510 (1994),
p. 1-20, and US Navy NAVEDTRA 14209 define them without angles (seen), and trade texts disagree
about the angles. The bands here are this program's own convention: no standard gives any.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from math import log2
from typing import Final, Literal

from runbook.light.battery import recycle_s
from runbook.light.exposure import ambient_stops
from runbook.light.falloff import Beam, view_share
from runbook.light.lit_head import LitHead, cut_panels, head_ask, light_head, sources_as_asked
from runbook.light.optics import (
    DepthOfField,
    Picture,
    blur_circle_mm,
    depth_of_field,
    in_frame,
    in_front_of_lens,
    picture,
    rectangle_outline,
    round_outline,
    shadow_edge_m,
    size_deg,
)
from runbook.light.power import DialSetting
from runbook.light.scene import (
    FaceDirection,
    Plane,
    Scene,
    aim_point,
    cosine_between,
    degrees_of,
    direction_from_face,
    distance,
    facing_bearing_deg,
    off_axis_cosine,
    plane,
    scene,
)
from runbook.light.solve import Solution, solve
from runbook.light.stops import DARK, METER_LEAST, add_light, f_number, stops_of
from runbook.model.day import Plan
from runbook.model.geometry import Point
from runbook.model.kit import Kit, Measured
from runbook.model.nominal_values import aperture_stops
from runbook.model.power import Power
from runbook.model.setup import Role, Setup

Pattern = Literal["butterfly", "loop", "Rembrandt", "split", "rim", "top light", "under light", "none"]

_TURNED_UP_TO: Final[tuple[tuple[float, Pattern], ...]] = (
    (15.0, "butterfly"),
    (35.0, "loop"),
    (60.0, "Rembrandt"),
    (105.0, "split"),
)
_TOP_ABOVE_DEG: Final = 70.0
_SLACK_DEG: Final = 1e-6  # a light put at a band's very edge stays inside it


def pattern(seen: FaceDirection) -> Pattern:
    """The pattern of a light seen from the face; its height rules before its turn."""
    if seen.above_deg > _TOP_ABOVE_DEG + _SLACK_DEG:
        return "top light"
    if seen.above_deg < -_SLACK_DEG:
        return "under light"
    for most, name in _TURNED_UP_TO:
        if seen.turned_deg <= most + _SLACK_DEG:
            return name
    return "rim"


def _f_number(stops: float | None) -> float | None:
    return None if stops is None else f_number(stops)


@dataclass(frozen=True, slots=True)
class HeadLight:
    """One head. Readings in stops at the face, the meter turned to it; None where no light comes.

    ``over_stops`` is against the working aperture, plus is brighter; ``under_key_stops`` is plus
    when the key is brighter. ``at_aim_stops`` is the reading where the beam is aimed, at the
    background say. ``size_deg`` is how large it looks from the face, ``off_axis_deg`` how far its
    axis passes by. ``asked_stops`` is what the meter should show, so far under the key counted from
    the key as asked; ``dial`` is the power for it. ``shadow_edge_m`` is a gobo's on the background.
    ``measured`` is the meter's own row the reading is carried from, None for one from the guide
    number.
    """

    head: str
    role: Role
    power: Power
    reads_stops: float | None
    over_stops: float | None
    under_key_stops: float | None
    at_aim_stops: float | None
    off_axis_deg: float
    size_deg: float
    flare: bool
    in_frame: bool
    recycle_s: float | None
    asked_stops: float | None
    dial: DialSetting | None
    shadow_edge_m: float | None
    measured: Measured | None

    @property
    def reads_f(self) -> float | None:
        return _f_number(self.reads_stops)

    @property
    def asked_f(self) -> float | None:
        """What the meter should show; None where nothing is asked, or the head is off."""
        return _f_number(self.asked_stops) if self.power.fires else None


@dataclass(frozen=True, slots=True)
class PanelLight:
    """One panel: what it sends to the face, as a head's reading; None where no light comes."""

    panel: str
    reads_stops: float | None
    over_stops: float | None
    under_key_stops: float | None
    in_frame: bool

    @property
    def reads_f(self) -> float | None:
        return _f_number(self.reads_stops)


@dataclass(frozen=True, slots=True)
class KeyLight:
    """The head taken for the key, and what it gives the face at the power it is set to.

    ``panel`` is the panel it lights the face by; None where its own beam does.
    """

    head: str
    panel: str | None
    reads_stops: float | None


@dataclass(frozen=True, slots=True)
class Prediction:
    """A setup's light. Stops are ``log2 N²``; None where there is nothing to say.

    ``whole_stops`` is flash alone, the dome turned to the camera; ``whole_as_asked_stops`` the same
    once every head that fires is set to its ``dial``. ``background_over_stops`` is the key's
    falloff by distance from face to background, no more; ``background_lit_stops`` is what a flat
    meter on the background, turned to the camera, shows of all heads.
    """

    id: str
    aperture_stops: float
    ambient_stops: float | None
    whole_stops: float | None
    whole_as_asked_stops: float | None
    key: KeyLight | None
    pattern: Pattern
    depth_of_field: DepthOfField
    background_over_stops: float | None
    background_lit_stops: float | None
    heads: tuple[HeadLight, ...]
    panels: tuple[PanelLight, ...]

    @property
    def aperture_f(self) -> float:
        """The exact working aperture."""
        return f_number(self.aperture_stops)

    @property
    def ambient_under_stops(self) -> float | None:
        """How far the room's own light is under the working aperture."""
        return None if self.ambient_stops is None else self.aperture_stops - self.ambient_stops

    @property
    def whole_f(self) -> float | None:
        return _f_number(self.whole_stops)

    @property
    def whole_over_stops(self) -> float | None:
        return None if self.whole_stops is None else self.whole_stops - self.aperture_stops

    @property
    def whole_as_asked_over_stops(self) -> float | None:
        """The same once every head that fires is set to its dial."""
        stops = self.whole_as_asked_stops
        return None if stops is None else stops - self.aperture_stops

    @property
    def depth_of_field_m(self) -> float:
        """Metres from near to far; infinite from the hyperfocal distance on."""
        return self.depth_of_field.depth_m


# of a stop, our own: two sources closer than a meter and a dial agree draw against each other
_CLEARLY: Final = 1 / 3


@dataclass(frozen=True, slots=True)
class _Shot:
    """A setup with its kit, where everything is, what its heads give and which of them is the key."""

    kit: Kit
    setup: Setup
    where: Scene
    view: Picture
    lit: Sequence[LitHead]
    solution: Solution

    @property
    def key(self) -> LitHead | None:
        """The head taken for the key."""
        return None if self.solution.key is None else self.lit[self.solution.key]

    def over(self, stops: float | None) -> float | None:
        """Return a reading against the working aperture."""
        return None if stops is None else stops - aperture_stops(self.setup.exposure.f)

    def under_key(self, stops: float | None) -> float | None:
        """Return how far a reading is under the key at the power it is set to."""
        return None if stops is None or self.key is None else self.key.as_key - stops


def predict(plan: Plan, setup: Setup, measured: Sequence[Measured] = ()) -> Prediction:
    """Return everything about a setup's light.

    ``measured`` are readings of the day, in the form of the kit's rows; where one fits a head as
    it is used, it beats the kit's rows and the guide number. Raises ValueError when a place is not
    real or a head is aimed at something that is not there.
    """
    kit, where, exposure, view = plan.kit, scene(setup), setup.exposure, setup.view
    cuts = cut_panels(kit, setup, where)
    lit = [light_head(kit, where, light, iso=exposure.iso, cuts=cuts, measured=measured) for light in setup.lights]
    portrait = view.orientation == "portrait"
    camera = picture(where.lens, where.face, kit.lens[view.lens].focal_mm, kit.camera.sensor_mm, portrait)
    shot = _Shot(kit, setup, where, camera, lit, solve([head_ask(kit, one) for one in lit]))
    panels = tuple(_panel(shot, name, cuts[name].surface) for name in where.panels)
    sources = [(one.reads, one.beam.origin) for one in lit]
    sources += [(DARK if one.reads_stops is None else one.reads_stops, where.panels[one.panel]) for one in panels]
    key = shot.key
    return Prediction(
        id=setup.id,
        aperture_stops=aperture_stops(exposure.f),
        ambient_stops=_known(ambient_stops(plan.day.place.ambient_lux, exposure.shutter, exposure.iso)),
        whole_stops=_known(_whole(where, sources)),
        whole_as_asked_stops=_known(_whole(where, sources_as_asked(where, lit, shot.solution))),
        key=None if key is None else KeyLight(key.light.head, key.key_panel, _known(key.as_key)),
        pattern=_pattern(shot, sources),
        depth_of_field=depth_of_field(
            kit.lens[view.lens].focal_mm,
            f_number(aperture_stops(exposure.f)),
            view.distance_m,
            blur_circle_mm(kit.camera.sensor_mm),
        ),
        background_over_stops=_background_falloff(where, key),
        background_lit_stops=_background_lit(where, [one.beam for one in lit]),
        heads=tuple(_head(shot, n) for n in range(len(lit))),
        panels=panels,
    )


def _known(stops: float) -> float | None:
    return None if stops == DARK else stops


def _whole(where: Scene, sources: Iterable[tuple[float, Point]]) -> float:
    """Return all sources with the dome turned to the camera."""
    return add_light(_to_camera(where, reads, point) for reads, point in sources)


def _to_camera(where: Scene, reads: float, point: Point) -> float:
    """Return one source with the dome turned to the camera: it counts with ``(1 + cos β) / 2``."""
    return reads + stops_of((1 + cosine_between(where.face, point, where.lens)) / 2)


def _pattern(shot: _Shot, sources: Sequence[tuple[float, Point]]) -> Pattern:
    """Return what the brightest source draws, counted as the camera sees the face lit.

    ``sources`` are the heads, then the panels. None where that is a panel or what spills past a
    head's field angle, and where the next is nearly as bright.
    """
    face = shot.where.face
    bright = [_to_camera(shot.where, reads, point) for reads, point in sources]
    most = max(bright, default=DARK)
    near = [n for n, stops in enumerate(bright) if stops > most - _CLEARLY]
    if len(near) != 1 or near[0] >= len(shot.lit):
        return "none"
    one = shot.lit[near[0]]
    if one.reads < METER_LEAST or not one.beam.holds(face):
        return "none"
    return pattern(direction_from_face(face, one.beam.origin, facing_bearing_deg(shot.setup, shot.where)))


def _panel(shot: _Shot, name: str, surface: Plane) -> PanelLight:
    panel = shot.kit.panel[name]
    reads = _known(add_light(one.bounced[name] for one in shot.lit))
    shown = in_frame(shot.view, rectangle_outline(surface, panel.width_m, panel.height_m))
    return PanelLight(name, reads, shot.over(reads), shot.under_key(reads), shown)


def _head(shot: _Shot, n: int) -> HeadLight:
    one, where = shot.lit[n], shot.where
    light, beam, reads, fires = one.light, one.beam, _known(one.reads), one.light.power.fires
    return HeadLight(
        head=light.head,
        role=light.role,
        power=light.power,
        reads_stops=reads,
        over_stops=shot.over(reads),
        under_key_stops=shot.under_key(reads),
        at_aim_stops=_known(beam.reading(aim_point(where, light))),
        off_axis_deg=degrees_of(off_axis_cosine(beam.origin, beam.axis, where.face)),
        size_deg=size_deg(beam.source.largest_m, light.distance_m),
        flare=fires and in_front_of_lens(shot.view, beam.origin) and beam.holds(where.lens),
        in_frame=in_frame(shot.view, _outline(beam)),
        recycle_s=recycle_s(shot.kit.head[light.head], light.power) if fires else None,
        asked_stops=shot.solution.asked[n],
        dial=shot.solution.dials[n],
        shadow_edge_m=_shadow_edge(shot.kit, where, one),
        measured=one.row,
    )


def _outline(beam: Beam) -> tuple[Point, ...]:
    source, front = beam.source, plane(beam.origin, beam.axis)
    if source.shape == "round":
        return round_outline(front, source.width_m / 2)
    return rectangle_outline(front, source.width_m, source.height_m)


def _background_falloff(where: Scene, key: LitHead | None) -> float | None:
    """Return the key's falloff from the face to the background: the ratio of its view shares, no more.

    A key that lights the face off a panel has no such ratio.
    """
    if where.background is None or key is None or key.key_panel is not None:
        return None
    behind, face = (
        view_share(key.beam.source, distance(key.beam.origin, point)) for point in (where.background, where.face)
    )
    return log2(behind / face)


def _background_lit(where: Scene, beams: Sequence[Beam]) -> float | None:
    """Return all heads on the background straight behind the face, a flat meter turned to the camera."""
    point = where.background
    if point is None:
        return None
    to_camera = Point(point.x, point.y + 1, point.z)
    return _known(
        add_light(beam.reading(point) + stops_of(cosine_between(point, beam.origin, to_camera)) for beam in beams)
    )


def _shadow_edge(kit: Kit, where: Scene, one: LitHead) -> float | None:
    """Return the width of a gobo's shadow edge where its beam's axis meets the background."""
    gobos = [kit.accessory[name] for name in one.light.accessories if kit.accessory[name].kind == "gobo"]
    distances = [gobo.distance_m for gobo in gobos if gobo.distance_m is not None]
    beam = one.beam
    # the axis never meets the wall when the beam runs level with it or to the camera
    if not distances or where.background is None or beam.axis.y >= 0:
        return None
    gobo_m, wall_m = distances[-1], (where.background.y - beam.origin.y) / beam.axis.y
    return shadow_edge_m(beam.source.largest_m, gobo_m, wall_m - gobo_m) if wall_m > gobo_m else None
