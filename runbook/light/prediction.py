"""The pattern a key draws on a face, from where it stands relative to where the face points.

The names are the trade's; US Army SS0510 (1994), p. 1-20, and US Navy NAVEDTRA 14209 define them
without angles (seen), and trade texts disagree about the angles. The bands here are this
program's own convention: no standard gives any.

What is predicted of a setup, as plain values. All readings in stops, ``log2 N²``.

What a whole setup will do: each head's reading, the whole, panels, ambient and the camera.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from math import log2
from typing import Final, Literal, NamedTuple

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


class HeadLight(NamedTuple):
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
        return None if self.reads_stops is None else f_number(self.reads_stops)

    @property
    def asked_f(self) -> float | None:
        """What the meter should show; None where nothing is asked, or the head is off."""
        asked = self.asked_stops if self.power.fires else None
        return None if asked is None else f_number(asked)


class PanelLight(NamedTuple):
    """One panel: what it sends to the face, as a head's reading; None where no light comes."""

    panel: str
    reads_stops: float | None
    over_stops: float | None
    under_key_stops: float | None
    in_frame: bool

    @property
    def reads_f(self) -> float | None:
        return None if self.reads_stops is None else f_number(self.reads_stops)


class KeyLight(NamedTuple):
    """The head taken for the key, and what it gives the face at the power it is set to.

    ``panel`` is the panel it lights the face by; None where its own beam does.
    """

    head: str
    panel: str | None
    reads_stops: float | None


class Prediction(NamedTuple):
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
        return None if self.whole_stops is None else f_number(self.whole_stops)

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


class _Set(NamedTuple):
    """A setup with the kit it uses, where everything is, and the camera's view of it."""

    kit: Kit
    setup: Setup
    where: Scene
    view: Picture


class _Key(NamedTuple):
    """The light taken for the key, and what it gives the face at the power it is set to."""

    lit: LitHead
    reads: float


def predict(plan: Plan, setup: Setup, measured: Sequence[Measured] = ()) -> Prediction:
    """Everything about a setup's light.

    ``measured`` are readings of the day, in the form of the kit's rows; where one fits a head as
    it is used, it beats the kit's rows and the guide number. Raises ValueError when a place is not
    real or a head is aimed at something that is not there.
    """
    where = scene(setup)
    on = _Set(plan.kit, setup, where, _picture(plan.kit, setup, where))
    cuts = cut_panels(plan.kit, setup, where)
    iso = setup.exposure.iso
    lit = [light_head(plan.kit, where, light, iso=iso, cuts=cuts, measured=measured) for light in setup.lights]
    solution = solve([head_ask(plan.kit, one) for one in lit])
    key = None if solution.key is None else _Key(lit[solution.key], lit[solution.key].as_key)
    panels = tuple(_panel(on, name, cuts[name].surface, lit, key) for name in where.panels)
    sources = [(one.reads, one.beam.origin) for one in lit]
    sources += [(DARK if one.reads_stops is None else one.reads_stops, where.panels[one.panel]) for one in panels]
    shot = setup.exposure
    return Prediction(
        id=setup.id,
        aperture_stops=aperture_stops(shot.f),
        ambient_stops=_known(ambient_stops(plan.day.place.ambient_lux, shot.shutter, shot.iso)),
        whole_stops=_known(_whole(where, sources)),
        whole_as_asked_stops=_known(_whole(where, sources_as_asked(where, lit, solution))),
        key=_key_light(key),
        pattern=_pattern(on, lit, sources),
        depth_of_field=_depth_of_field(on),
        background_over_stops=_behind(where, key),
        background_lit_stops=_background_lit(where, [one.beam for one in lit]),
        heads=tuple(_head(on, one, key, solution, n) for n, one in enumerate(lit)),
        panels=panels,
    )


def _known(stops: float) -> float | None:
    return None if stops == DARK else stops


def _key_light(key: _Key | None) -> KeyLight | None:
    if key is None:
        return None
    return KeyLight(key.lit.light.head, key.lit.key_panel, _known(key.reads))


def _whole(where: Scene, sources: Iterable[tuple[float, Point]]) -> float:
    """All sources with the dome turned to the camera."""
    return add_light(_to_camera(where, reads, point) for reads, point in sources)


def _to_camera(where: Scene, reads: float, point: Point) -> float:
    """One source with the dome turned to the camera: it counts with ``(1 + cos β) / 2``."""
    return reads + stops_of((1 + cosine_between(where.face, point, where.lens)) / 2)


def _picture(kit: Kit, setup: Setup, where: Scene) -> Picture:
    return picture(
        where.lens,
        where.face,
        kit.lens[setup.view.lens].focal_mm,
        kit.camera.sensor_mm,
        setup.view.orientation == "portrait",
    )


def _pattern(on: _Set, lit: Sequence[LitHead], sources: Sequence[tuple[float, Point]]) -> Pattern:
    """What the brightest source draws, counted as the camera sees the face lit.

    ``sources`` are the heads, then the panels. None where that is a panel or what spills past a
    head's field angle, and where the next is nearly as bright.
    """
    face = on.where.face
    bright = [_to_camera(on.where, reads, point) for reads, point in sources]
    most = max(bright, default=DARK)
    near = [n for n, stops in enumerate(bright) if stops > most - _CLEARLY]
    if len(near) != 1 or near[0] >= len(lit):
        return "none"
    one = lit[near[0]]
    if one.reads < METER_LEAST or not one.beam.holds(face):
        return "none"
    return pattern(direction_from_face(face, one.beam.origin, facing_bearing_deg(on.setup, on.where)))


def _depth_of_field(on: _Set) -> DepthOfField:
    """With the focus on the face."""
    lens, view = on.kit.lens[on.setup.view.lens], on.setup.view
    f = f_number(aperture_stops(on.setup.exposure.f))
    blur_mm = blur_circle_mm(on.kit.camera.sensor_mm)
    return depth_of_field(lens.focal_mm, f, view.distance_m, blur_mm)


def _panel(on: _Set, name: str, surface: Plane, lit: Sequence[LitHead], key: _Key | None) -> PanelLight:
    panel = on.kit.panel[name]
    reads = add_light(one.bounced[name] for one in lit)
    shown = in_frame(on.view, rectangle_outline(surface, panel.width_m, panel.height_m))
    if reads == DARK:
        return PanelLight(name, None, None, None, shown)
    over = reads - aperture_stops(on.setup.exposure.f)
    return PanelLight(name, reads, over, None if key is None else key.reads - reads, shown)


def _head(on: _Set, one: LitHead, key: _Key | None, solution: Solution, n: int) -> HeadLight:
    kit, where = on.kit, on.where
    light, beam, reads = one.light, one.beam, _known(one.reads)
    head = kit.head[light.head]
    fires = light.power.fires
    return HeadLight(
        head=head.id,
        role=light.role,
        power=light.power,
        reads_stops=reads,
        over_stops=None if reads is None else reads - aperture_stops(on.setup.exposure.f),
        under_key_stops=None if reads is None or key is None else key.reads - reads,
        at_aim_stops=_known(beam.reading(aim_point(where, light))),
        off_axis_deg=degrees_of(off_axis_cosine(beam.origin, beam.axis, where.face)),
        size_deg=size_deg(beam.source.largest_m, light.distance_m),
        flare=fires and in_front_of_lens(on.view, beam.origin) and beam.holds(where.lens),
        in_frame=in_frame(on.view, _outline(beam)),
        recycle_s=recycle_s(head, light.power) if fires else None,
        asked_stops=solution.asked[n],
        dial=solution.dials[n],
        shadow_edge_m=_shadow_edge(kit, where, one),
        measured=one.row,
    )


def _outline(beam: Beam) -> tuple[Point, ...]:
    source, front = beam.source, plane(beam.origin, beam.axis)
    if source.shape == "round":
        return round_outline(front, source.width_m / 2)
    return rectangle_outline(front, source.width_m, source.height_m)


def _behind(where: Scene, key: _Key | None) -> float | None:
    """The key's falloff from the face to the background: the ratio of its view shares, no more.

    A key that lights the face off a panel has no such ratio.
    """
    if where.background is None or key is None or key.lit.key_panel is not None:
        return None
    at, source = key.lit.beam.origin, key.lit.beam.source

    def share(point: Point) -> float:
        return view_share(source, distance(at, point))

    return log2(share(where.background) / share(where.face))


def _background_lit(where: Scene, beams: Sequence[Beam]) -> float | None:
    """All heads on the background straight behind the face, a flat meter turned to the camera."""
    point = where.background
    if point is None:
        return None
    to_camera = Point(point.x, point.y + 1, point.z)
    return _known(
        add_light(beam.reading(point) + stops_of(cosine_between(point, beam.origin, to_camera)) for beam in beams)
    )


def _shadow_edge(kit: Kit, where: Scene, one: LitHead) -> float | None:
    """A gobo's shadow edge where its beam's axis meets the background."""
    distances = [
        accessory.distance_m
        for accessory in map(kit.accessory.__getitem__, one.light.accessories)
        if accessory.kind == "gobo" and accessory.distance_m is not None
    ]
    if not distances or where.background is None:
        return None
    beam, gobo = one.beam, distances[-1]
    # metres along the axis to the wall; never, when the beam runs level with it or to the camera
    to_wall = (where.background.y - beam.origin.y) / beam.axis.y if beam.axis.y < 0 else 0.0
    if to_wall <= gobo:
        return None
    return shadow_edge_m(beam.source.largest_m, gobo, to_wall - gobo)
