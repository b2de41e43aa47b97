"""What a whole setup will do: each head's reading, the whole, panels, ambient and the camera."""

from __future__ import annotations

from collections.abc import Sequence
from math import log2
from typing import Final

from runbook.light.battery import recycle_s
from runbook.light.beam import Beam
from runbook.light.bounce import panel_reading, panelled
from runbook.light.exposure import (
    ambient_stops,
    field_spread_deg,
    full_power_stops,
    measured_row,
    source_of,
)
from runbook.light.falloff import field_exponent, view_share
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
from runbook.light.pattern import Pattern, pattern
from runbook.light.power import to_dial
from runbook.light.prediction import HeadLight, PanelLight, Prediction
from runbook.light.space import (
    Scene,
    aim_point,
    cosine_between,
    degrees_of,
    distance,
    facing_bearing_deg,
    off_axis_cosine,
    panel_plane,
    plane,
    scene,
    seen_from_face,
    towards,
)
from runbook.light.stops import DARK, METER_LEAST, add_light, f_number, stops_of
from runbook.plan.day import Plan
from runbook.plan.kit import Kit, Measured
from runbook.plan.marks import aperture_stops
from runbook.plan.setup import Light, Setup
from runbook.plan.space import Point
from runbook.plan.tuples import NamedTuple

# of a stop, our own: two sources closer than a meter and a dial agree draw against each other
_CLEARLY: Final = 1 / 3


class _Set(NamedTuple):
    """A setup with the kit it uses, where everything is, and the camera's view of it."""

    kit: Kit
    setup: Setup
    where: Scene
    view: Picture


class _Lit(NamedTuple):
    """A light worked out as far as the others are not needed."""

    light: Light
    beam: Beam
    at_full: float
    reads: float
    row: Measured | None


def predict(plan: Plan, setup: Setup, measured: Sequence[Measured] = ()) -> Prediction:
    """Everything about a setup's light.

    ``measured`` are readings of the day, in the form of the kit's rows; where one fits a head as
    it is used, it beats the kit's rows and the guide number. Raises ValueError when a place is not
    real or a head is aimed at something that is not there.
    """
    where = scene(setup)
    on = _Set(plan.kit, setup, where, _picture(plan.kit, setup, where))
    lit = [_lit(on, light, measured) for light in setup.lights]
    key = _key(lit)
    beams = [one.beam for one in lit]
    panels = tuple(_panel(on, name, beams, key) for name in where.panels)
    sources = [(one.reads, one.beam.origin) for one in lit]
    sources += [
        (DARK if one.reads_stops is None else one.reads_stops, where.panels[one.panel])
        for one in panels
    ]
    shot = setup.exposure
    return Prediction(
        id=setup.id,
        aperture_stops=aperture_stops(shot.f),
        ambient_stops=_known(
            ambient_stops(plan.day.place.ambient_lux, shot.shutter, shot.iso),
        ),
        whole_stops=_known(_whole(where, sources)),
        key=None if key is None else key.light.head,
        pattern=_pattern(on, lit, sources),
        depth_of_field=_depth_of_field(on),
        background_over_stops=_behind(where, key),
        background_lit_stops=_background_lit(where, beams),
        heads=tuple(_head(on, one, key) for one in lit),
        panels=panels,
    )


def _known(stops: float) -> float | None:
    return None if stops == DARK else stops


def _lit(on: _Set, light: Light, measured: Sequence[Measured]) -> _Lit:
    kit, where = on.kit, on.where
    row = measured_row(kit, light, measured)
    full = full_power_stops(kit, light, on.setup.exposure.iso, row)
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
    beam = at_full._replace(stops=DARK if below is None else full - float(below))
    return _Lit(light, beam, at_full.reading(where.face), beam.reading(where.face), row)


def _key(lit: Sequence[_Lit]) -> _Lit | None:
    """The first light whose role is key; without one, the brightest.

    A light that no meter at the face would show is neither: a key aimed at a panel, say.
    """
    burning = [one for one in lit if one.reads >= METER_LEAST]
    keys = [one for one in burning if one.light.role == "key"]
    return keys[0] if keys else max(burning, key=lambda one: one.reads, default=None)


def _whole(where: Scene, sources: Sequence[tuple[float, Point]]) -> float:
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


def _pattern(on: _Set, lit: Sequence[_Lit], sources: Sequence[tuple[float, Point]]) -> Pattern:
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
    return pattern(seen_from_face(face, one.beam.origin, facing_bearing_deg(on.setup, on.where)))


def _depth_of_field(on: _Set) -> DepthOfField:
    """With the focus on the face."""
    lens, view = on.kit.lens[on.setup.view.lens], on.setup.view
    f = f_number(aperture_stops(on.setup.exposure.f))
    blur_mm = blur_circle_mm(on.kit.camera.sensor_mm)
    return depth_of_field(lens.focal_mm, f, view.distance_m, blur_mm)


def _panel(on: _Set, name: str, beams: Sequence[Beam], key: _Lit | None) -> PanelLight:
    panel, surface = on.kit.panel[name], panel_plane(on.where, on.setup.panel[name])
    cut = panelled(surface, panel.width_m, panel.height_m, on.where.face)
    reads = panel_reading(cut, panel.reflectance, beams)
    shown = in_frame(on.view, rectangle_outline(surface, panel.width_m, panel.height_m))
    if reads == DARK:
        return PanelLight(name, None, None, None, shown)
    over = reads - aperture_stops(on.setup.exposure.f)
    return PanelLight(name, reads, over, None if key is None else key.reads - reads, shown)


def _head(on: _Set, one: _Lit, key: _Lit | None) -> HeadLight:
    kit, where = on.kit, on.where
    light, beam, reads = one.light, one.beam, _known(one.reads)
    head = kit.head[light.head]
    asked = _asked(light, key)
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
        asked_stops=asked,
        dial=None
        if asked is None or one.at_full == DARK
        else to_dial(head.dial, one.at_full, asked),
        shadow_edge_m=_shadow_edge(kit, where, one),
        measured=one.row,
    )


def _asked(light: Light, key: _Lit | None) -> float | None:
    """What the meter should show: the reading asked for, else so far under the key as it is set."""
    if light.aim_reading_f is not None:
        return aperture_stops(light.aim_reading_f)
    if light.under_key_stops is None or key is None or key.light is light:
        return None
    return key.reads - light.under_key_stops


def _outline(beam: Beam) -> tuple[Point, ...]:
    source, front = beam.source, plane(beam.origin, beam.axis)
    if source.shape == "round":
        return round_outline(front, source.width_m / 2)
    return rectangle_outline(front, source.width_m, source.height_m)


def _behind(where: Scene, key: _Lit | None) -> float | None:
    """The key's falloff from the face to the background: the ratio of its view shares, no more."""
    if where.background is None or key is None:
        return None
    at, source = key.beam.origin, key.beam.source

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
        add_light(
            beam.reading(point) + stops_of(cosine_between(point, beam.origin, to_camera))
            for beam in beams
        )
    )


def _shadow_edge(kit: Kit, where: Scene, one: _Lit) -> float | None:
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
