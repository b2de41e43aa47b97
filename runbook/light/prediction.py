"""What a setup's light will do: each head's reading, the whole, panels, ambient, camera and pattern.

All readings in stops, ``log2 N²``. The pattern's names are the trade's; US Army SS0510 (1994),
p. 1-20, and US Navy NAVEDTRA 14209 define them without angles (seen), and trade texts disagree
about the angles. The bands here are this program's own convention: no standard gives any.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import dist, log2
from typing import Final, Literal

from runbook.light import optics
from runbook.light.battery import recycle_s
from runbook.light.beam import Beam, view_share
from runbook.light.heads import DialSetting, LitHead, reading_alone, seen_shares, to_camera
from runbook.light.scene import Scene, Surface, aim_point, direction_from_face, plane, scene, surfaces_of
from runbook.light.solve import Solution, heads_of, key_panel_of, reading_of, set_asks, solve
from runbook.light.stops import DARK, METER_LEAST, add_light, ambient_stops, f_number
from runbook.model.day import Plan
from runbook.model.geometry import Point
from runbook.model.kit import Kit, Measured
from runbook.model.nominal_values import aperture_stops
from runbook.model.panels import foot_line, stance_of
from runbook.model.power import SOLVE, Power
from runbook.model.setup import PanelPlace, Role, Setup

Pattern = Literal["butterfly", "loop", "Rembrandt", "split", "rim", "top light", "under light", "none"]

_TURNED_UP_TO: Final[dict[Pattern, float]] = {"butterfly": 15.0, "loop": 35.0, "Rembrandt": 60.0, "split": 105.0}
MID_GREY: Final = 0.18
_TOP_ABOVE_DEG: Final = 70.0
# of a head's front, our own: what a thick cloth or a panel hides is not in shot, nor does it flare
_SHOWS: Final = 0.05
_FIFTHS: Final = (-0.4, -0.2, 0.0, 0.2, 0.4)  # of a side, from its middle
_SLACK_DEG: Final = 1e-6  # a light put at a band's very edge stays inside it
# of a stop, our own: two sources closer than a meter and a dial agree draw against each other
_CLEARLY: Final = 1 / 3


def pattern(turned_deg: float, above_deg: float) -> Pattern:
    """Return the pattern of a light seen from the face; its height rules before its turn."""
    if above_deg > _TOP_ABOVE_DEG + _SLACK_DEG:
        return "top light"
    if above_deg < -_SLACK_DEG:
        return "under light"
    return next((name for name, most in _TURNED_UP_TO.items() if turned_deg <= most + _SLACK_DEG), "rim")


@dataclass(frozen=True, slots=True)
class _Reading:
    """A reading at the face, the meter turned to the source; None where no light comes.

    ``over_stops`` is against the working aperture, plus is brighter; ``under_key_stops`` is plus
    when the key is brighter.
    """

    reads_stops: float | None
    over_stops: float | None
    under_key_stops: float | None


@dataclass(frozen=True, slots=True)
class HeadLight(_Reading):
    """One head.

    ``at_aim_stops`` is the reading where the beam is aimed, at the background for example;
    ``size_deg`` how large it looks from the face; ``asked_stops`` what the meter should show, so
    far under the key counted from the key as asked; ``dial`` the power that makes everything asked
    of the setup come true once all are dialled. ``solved`` is for one whose power the plan leaves
    out. ``shadow_edge_m`` is a gobo's on the background. ``measured`` is the meter's own row the
    reading is carried from, None for one from the guide number.
    """

    head: str
    role: Role
    power: Power
    at_aim_stops: float | None
    size_deg: float
    flare: bool
    in_shot: optics.InShot | None
    recycle_s: float | None
    asked_stops: float | None
    dial: DialSetting | None
    solved: bool
    shadow_edge_m: float | None
    measured: Measured | None


@dataclass(frozen=True, slots=True)
class PanelLight(_Reading):
    """One panel: what it sends to the face."""

    panel: str
    role: Role | None
    size_deg: float
    in_shot: optics.InShot | None


@dataclass(frozen=True, slots=True)
class ClothLight:
    """One hung cloth: what it scatters and reflects to the face, None where it does not.

    ``in_shot`` is what of the picture it covers in front of the face: behind it a cloth is a background. ``veils`` is
    True where the picture is taken through it.
    """

    cloth: str
    scattered_stops: float | None
    reflected_stops: float | None
    size_deg: float
    in_shot: optics.InShot | None
    veils: bool

    @property
    def reads_stops(self) -> float | None:
        """What it scatters, else what it reflects."""
        return self.reflected_stops if self.scattered_stops is None else self.scattered_stops


@dataclass(frozen=True, slots=True)
class SetAsk:
    """What is asked of the ``background`` or the ``whole``: what it should read, and how much brighter (plus) it then
    reads when everything is dialled; None where none of the light reaches it.
    """

    of: str
    wanted_stops: float
    left_over_stops: float | None


@dataclass(frozen=True, slots=True)
class KeyLight:
    """What is taken for the key, and what it gives the face at the powers that are set.

    A ``head``, with the ``panel`` it lights the face by, None where its own beam does; or a panel alone.
    """

    head: str | None
    panel: str | None
    reads_stops: float | None


@dataclass(frozen=True, slots=True)
class Prediction:
    """A setup's light. Stops are ``log2 N²``; None where there is no light or no such thing.

    ``whole_stops`` is flash alone, the dome turned to the camera; ``whole_as_asked_stops`` the same
    once every head that fires is set to its ``dial``. ``background_over_stops`` is the key's
    falloff by distance from face to background alone; ``background_reads_stops`` what all flash reads
    there, the meter flat on it and facing the camera, and ``background_level_stops`` how far its
    level in the picture is over mid grey, where its reflectance is known and it is seen.
    ``background_hidden_by`` is the cloth that the camera sees instead.
    """

    id: str
    aperture_stops: float
    ambient_stops: float | None
    whole_stops: float | None
    whole_as_asked_stops: float | None
    key: KeyLight | None
    pattern: Pattern
    depth_of_field: optics.DepthOfField
    background_over_stops: float | None
    background_reads_stops: float | None
    background_level_stops: float | None
    asks: tuple[SetAsk, ...]
    heads: tuple[HeadLight, ...]
    panels: tuple[PanelLight, ...]
    cloths: tuple[ClothLight, ...] = ()
    background_hidden_by: str | None = None

    @property
    def ambient_under_stops(self) -> float | None:
        """How far the room's own light is under the working aperture."""
        return None if self.ambient_stops is None else self.aperture_stops - self.ambient_stops

    @property
    def whole_over_stops(self) -> float | None:
        return None if self.whole_stops is None else self.whole_stops - self.aperture_stops

    @property
    def background_against_f_stops(self) -> float | None:
        """What the meter on the background shows over the working aperture."""
        return None if self.background_reads_stops is None else self.background_reads_stops - self.aperture_stops

    @property
    def key_over_fill_stops(self) -> float | None:
        """How far the key is over all heads and panels that fill, in stops; None where there is no key or no fill.

        A panel without a role fills, where the key does not come off it.
        """
        fills = [head.reads_stops for head in self.heads if head.role == "fill"]
        fills += [
            panel.reads_stops
            for panel in self.panels
            if panel.role in (None, "fill") and (self.key is None or panel.panel != self.key.panel)
        ]
        fill = add_light(stops for stops in fills if stops is not None)
        if fill == DARK or self.key is None or self.key.reads_stops is None:
            return None
        return self.key.reads_stops - fill


@dataclass(frozen=True, slots=True)
class LitSetup:
    """A setup with its kit, and its light as predicted from these readings."""

    kit: Kit
    setup: Setup
    light: Prediction
    measured: tuple[Measured, ...] = ()


@dataclass(frozen=True, slots=True)
class _Shot:
    """A setup with its kit, where everything is, what its heads give and which of them is the key."""

    kit: Kit
    setup: Setup
    where: Scene
    view: optics.Picture
    lit: Sequence[LitHead]
    solution: Solution
    surfaces: Sequence[Surface]
    seen: Sequence[float]  # from the lens, of each head's front

    @property
    def key(self) -> LitHead | None:
        """The head taken for the key."""
        return None if self.solution.key is None else self.lit[self.solution.key]

    @property
    def key_stops(self) -> float | None:
        """What the key gives the face as it is set, a head or a panel."""
        if self.solution.key_panel is not None:
            return _known(self.panel_stops(self.solution.key_panel))
        return None if self.key is None else _known(self.key.at_power(self.key.as_key))

    def compared(self, stops: float) -> tuple[float | None, float | None, float | None]:
        """Return a reading, what it is over the working aperture, and under the key as it is set."""
        if stops == DARK:
            return None, None, None
        under_key = None if self.key_stops is None else self.key_stops - stops
        return stops, stops - aperture_stops(self.setup.exposure.f), under_key

    def panel_stops(self, panel: str) -> float:
        """Return what a panel or cloth reflects to the face from all heads."""
        return add_light(one.at_power(one.bounced[panel]) for one in self.lit)


def predict(plan: Plan, setup: Setup, measured: Sequence[Measured] = ()) -> Prediction:
    """Return everything about a setup's light.

    ``measured`` are readings of the day, in the form of the kit's rows; where one fits a head as
    it is used, it beats the kit's rows and the guide number. Raises ValueError when a place is not
    real or a head is aimed at something that is not there.
    """
    kit, where, exposure, view = plan.kit, scene(setup), setup.exposure, setup.view
    portrait, focal_mm = view.orientation == "portrait", kit.lens[view.lens].focal_mm
    left_out = plan.solved.get(setup.id, frozenset())
    camera = optics.picture(where.lens, where.face, focal_mm, kit.camera.sensor_mm, portrait)
    lit = heads_of(kit, setup, measured)
    solution = solve(lit, left_out, set_asks(setup, lit), key_panel_of(setup))
    lit = tuple(map(_set_power, lit, solution.powers))
    surfaces = surfaces_of(kit, setup)
    seen = seen_shares([one.beam for one in lit], surfaces, where.lens)
    shot = _Shot(kit, setup, where, camera, lit, solution, surfaces, seen)
    key, aperture, blur_mm = shot.key, aperture_stops(exposure.f), optics.blur_circle_mm(kit.camera.sensor_mm)
    whole, powers = [one.whole for one in lit], [one.light.power for one in lit]
    behind, hidden_by = reading_of([one.background for one in lit], powers), _hiding_background(shot)
    return Prediction(
        id=setup.id,
        aperture_stops=aperture,
        ambient_stops=_known(ambient_stops(plan.day.place.ambient_lux, exposure.shutter, exposure.iso)),
        whole_stops=_known(reading_of(whole, powers)),
        whole_as_asked_stops=_known(reading_of(whole, solution.powers)),
        key=_key(shot),
        pattern=_pattern(shot),
        depth_of_field=optics.depth_of_field(focal_mm, f_number(aperture), view.distance_m, blur_mm),
        background_over_stops=_background_falloff(where, key),
        background_reads_stops=_known(behind),
        background_level_stops=None if hidden_by else _level(setup, behind - aperture),
        asks=tuple(
            SetAsk(ask.of, ask.wanted, left) for ask, left in zip(solution.asks, solution.left_over, strict=True)
        ),
        heads=tuple(_head(shot, n, one.light.head in left_out) for n, one in enumerate(lit)),
        panels=tuple(_panel(shot, place) for place in setup.panels),
        cloths=tuple(_cloth(shot, surface) for surface in surfaces if surface.two_sided),
        background_hidden_by=hidden_by,
    )


def _key(shot: _Shot) -> KeyLight | None:
    if shot.solution.key_panel is not None:
        return KeyLight(None, shot.solution.key_panel, shot.key_stops)
    return None if shot.key is None else KeyLight(shot.key.light.head, shot.key.key_panel, shot.key_stops)


def _known(stops: float) -> float | None:
    return None if stops == DARK else stops


def _set_power(one: LitHead, power: Power) -> LitHead:
    """Return a head at the power worked out, where its own is left out."""
    return replace(one, light=replace(one.light, power=power)) if one.light.power == SOLVE else one


def _level(setup: Setup, over_stops: float) -> float | None:
    """Return the level of the background in the picture, in stops over mid grey."""
    if setup.background is None or setup.background.reflectance is None or over_stops == DARK:
        return None
    return over_stops + log2(setup.background.reflectance / MID_GREY)


def _pattern(shot: _Shot) -> Pattern:
    """Return what the brightest source draws, counted as the camera sees the face lit.

    None where that is light off a panel or cloth or what spills past a head's field angle, and where the next is
    nearly as bright. Where most of a head's light is scattered by a hung cloth, it draws from where it meets that; a
    panel whose role is key draws from where it stands.
    """
    face, facing = shot.where.face, shot.setup.facing_deg
    if shot.solution.key_panel is not None:
        return pattern(*direction_from_face(face, _at_face(shot, shot.solution.key_panel), facing))
    bright = [to_camera(shot.where, one.reads, one.comes_from) for one in shot.lit]
    others = shot.where.panels | {surface.of: surface.plane.middle for surface in shot.surfaces if surface.two_sided}
    bright += [to_camera(shot.where, shot.panel_stops(name), point) for name, point in others.items()]
    near = [n for n, stops in enumerate(bright) if stops > max(bright) - _CLEARLY]
    if len(near) != 1 or near[0] >= len(shot.lit):
        return "none"
    one = shot.lit[near[0]]
    if one.reads < METER_LEAST or (one.comes_from == one.beam.origin and not one.beam.holds(face)):
        return "none"
    return pattern(*direction_from_face(face, one.comes_from, facing))


def _at_face(shot: _Shot, panel: str) -> Point:
    """Return the middle of a panel, as far up or down as the face where it reaches there."""
    middle, face_m = shot.where.panels[panel], shot.where.face.z
    half = max(abs(one.plane.up.z) * one.height_m / 2 for one in shot.surfaces if one.of == panel)
    return middle._replace(z=max(middle.z - half, min(middle.z + half, face_m)))


def _panel(shot: _Shot, place: PanelPlace) -> PanelLight:
    mine = [surface for surface in shot.surfaces if surface.of == place.panel]
    one, _, other = foot_line(shot.kit.panel[place.panel], stance_of(shot.kit.panel[place.panel], place, shot.setup))
    largest_m = max(shot.kit.panel[place.panel].height_m, dist(one, other))
    return PanelLight(
        *shot.compared(shot.panel_stops(place.panel)),
        panel=place.panel,
        role=place.role,
        size_deg=optics.size_deg(largest_m, place.distance_m),
        in_shot=_in_shot(shot, mine, shot.where.background),
    )


def _cloth(shot: _Shot, surface: Surface) -> ClothLight:
    return ClothLight(
        cloth=surface.of,
        scattered_stops=_known(add_light(one.at_power(one.scattered.get(surface.of, DARK)) for one in shot.lit)),
        reflected_stops=_known(shot.panel_stops(surface.of)),
        size_deg=optics.size_deg(max(surface.width_m, surface.height_m), dist(surface.plane.middle, shot.where.face)),
        in_shot=_in_shot(shot, [surface], shot.where.face),
        veils=surface.crossed(shot.where.lens, shot.where.face),
    )


def _in_shot(shot: _Shot, mine: Sequence[Surface], behind: Point | None) -> optics.InShot | None:
    """Return how the surfaces of one thing cut into the picture, before what is behind it, where others show them."""

    def cuts(surfaces: Sequence[Surface]) -> optics.InShot | None:
        outlines = [optics.rectangle_outline(one.plane, one.width_m, one.height_m) for one in surfaces]
        return optics.in_shot(shot.view, outlines, behind)

    return cuts(mine) and cuts([one for one in mine if _shows(shot, one)])


def _shows(shot: _Shot, one: Surface) -> bool:
    """Return whether the lens sees a twenty-fifth of a surface or more, past others that hide it."""
    hiding = [other for other in shot.surfaces if other.of != one.of and other.passes < _SHOWS]
    points = (one.plane.at(across * one.width_m, up * one.height_m) for across in _FIFTHS for up in _FIFTHS)
    return any(not any(other.crossed(shot.where.lens, point) for other in hiding) for point in points)


def _hiding_background(shot: _Shot) -> str | None:
    """Return the cloth that the camera sees behind the face instead of the background."""
    behind = shot.where.background
    cloths = (surface for surface in shot.surfaces if surface.two_sided)
    return next((one.of for one in cloths if behind and one.crossed(shot.where.face, behind)), None)


def _head(shot: _Shot, n: int, solved: bool) -> HeadLight:
    one = shot.lit[n]
    light, beam, where, fires = one.light, one.beam, shot.where, one.light.power.fires
    shows = shot.seen[n] >= _SHOWS
    return HeadLight(
        *shot.compared(one.reads),
        head=light.head,
        role=light.role,
        power=light.power,
        at_aim_stops=_known(one.at_power(_at_aim(shot, one))),
        size_deg=optics.size_deg(beam.source.largest_m, light.distance_m),
        flare=fires and shows and optics.in_front_of_lens(shot.view, beam.origin) and beam.holds(where.lens),
        in_shot=optics.in_shot(shot.view, [_outline(beam)], where.background) if shows else None,
        recycle_s=recycle_s(shot.kit.head[light.head], light.power) if fires else None,
        asked_stops=shot.solution.asked[n],
        dial=shot.solution.dials[n],
        solved=solved,
        shadow_edge_m=_shadow_edge(shot.kit, where, one),
        measured=one.row,
    )


def _at_aim(shot: _Shot, one: LitHead) -> float:
    """Return the reading where a beam is aimed; the panel it is aimed at does not shade itself."""
    if one.light.aim == "face":
        return one.at_full
    others = [each for each in shot.surfaces if each.of != one.light.aim]
    return reading_alone(one.beam, others, aim_point(shot.where, one.light))


def _outline(beam: Beam) -> tuple[Point, ...]:
    source, front = beam.source, plane(beam.origin, beam.axis)
    if source.shape == "round":
        return optics.round_outline(front, source.width_m / 2)
    return optics.rectangle_outline(front, source.width_m, source.height_m)


def _background_falloff(where: Scene, key: LitHead | None) -> float | None:
    """Return the key's falloff from the face to the background: the ratio of its view shares.

    A key that lights the face off a panel has no such ratio.
    """
    if where.background is None or key is None or key.key_panel is not None:
        return None
    behind, face = (view_share(key.beam.source, dist(key.beam.origin, to)) for to in (where.background, where.face))
    return log2(behind / face)


def _shadow_edge(kit: Kit, where: Scene, one: LitHead) -> float | None:
    """Return the width of a gobo's shadow edge where its beam's axis meets the background."""
    accessories, beam = (kit.accessory[name] for name in one.light.accessories), one.beam
    gobos = [item.distance_m for item in accessories if item.kind == "gobo" and item.distance_m is not None]
    # the axis never meets the wall when the beam runs level with it or to the camera
    if not gobos or where.background is None or beam.axis.y >= 0:
        return None
    wall_m = (where.background.y - beam.origin.y) / beam.axis.y
    return optics.shadow_edge_m(beam.source.largest_m, gobos[-1], wall_m - gobos[-1]) if wall_m > gobos[-1] else None
