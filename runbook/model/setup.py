"""One lighting arrangement with its camera settings and subject, as a plain value.

The field names are the keys of a setup's file, after ``like`` and ``drop`` are worked in. Lengths
in m, angles in degrees.
"""

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass, field, replace
from fractions import Fraction
from functools import cached_property
from math import cos, hypot, radians, sin
from typing import Annotated, Any, Final, Literal

from pydantic import Field, PlainValidator, ValidationInfo
from pydantic_core import PydanticCustomError

from runbook.model.fields import Count, Flag, Id, NotNegative, Number, Positive, Stops, Text, about
from runbook.model.geometry import Point, Side, bearing_deg, stand_at
from runbook.model.kit import Cloth
from runbook.model.power import SOLVE, Dial, Power, stops_below

Angle = Annotated[Number, Field(ge=0, le=180)]


def _power(value: Any, info: ValidationInfo) -> Power:
    """Read a power on its head's dial, where the context has it by head; else as on a third-stop dial.

    ``solve`` is one left out, also where it would be inherited.
    """
    if isinstance(value, Power):
        return value
    if not isinstance(value, str):
        raise PydanticCustomError("power_type", "a power is written as a text")
    if value == str(SOLVE):
        return SOLVE
    dial = info.context.get(info.data.get("head")) if info.context else None
    return dial.read(value) if isinstance(dial, Dial) else stops_below(value, Fraction(1, 3))


Dialled = Annotated[Power, PlainValidator(_power)]
MERGE_KEYS: Final = {
    "like": "start from that setup; what is written here changes it",
    "drop": "heads, panels and hung cloths to take away from it",
}  # of a setup's file, and no part of its value
FeatherSide = Literal["camera", "background", "left", "right"]
Role = Literal["key", "fill", "rim", "hair", "background", "effect"]


# what a setup may say it means to be so: findings about the picture and the work, none about safety
Meant = Literal[
    "ambient-over", "ambient-shows", "asked-twice", "asks-conflict", "background-hidden", "background-over",
    "background-under",
    "break-cuts-in", "flare", "in-frame", "in-panel", "key-under-key", "light-misses-face", "look-late",
    "no-frames", "no-key", "no-light", "no-look", "no-time", "not-in-order", "on-camera", "panel-over",
    "panel-under", "reading-over", "reading-under", "recycle-slow", "same-spot", "too-close", "two-keys",
    "whole-over", "whole-under",
]  # fmt: skip


# the sides a beam can be feathered to, as directions over the floor
_SIDES: Final[dict[FeatherSide, tuple[float, float]]] = {
    "camera": (0.0, 1.0), "background": (0.0, -1.0), "left": (-1.0, 0.0), "right": (1.0, 0.0),
}  # fmt: skip
_STRAIGHT: Final = 0.01  # of a radian, and of a metre


def _or(words: Iterable[str]) -> str:
    return " or ".join(f'"{word}"' for word in words)


@dataclass(frozen=True, slots=True)
class Exposure:
    """Aperture as marked, shutter as marked (``"1/160"``), ISO."""

    f: Annotated[Positive, about("working aperture, as marked")]
    shutter: Annotated[Text, about('as marked, like "1/160"')]
    iso: Annotated[Positive, about("as set")] = 100.0
    whole_over_stops: Annotated[
        Stops | None, about("what a dome to the camera should show over the aperture, all heads together")
    ] = None


@dataclass(frozen=True, slots=True)
class View:
    """The camera's place: lens to face, and how high."""

    lens: Annotated[Id, about("the lens on the camera")]
    distance_m: Annotated[Positive, about("lens to face")]
    height_m: Annotated[Positive, about("of the lens")]
    orientation: Annotated[Literal["portrait", "landscape"], about("how the camera is held")] = "portrait"


@dataclass(frozen=True, slots=True)
class Subject:
    """The face: how high, and where it points off the camera, or the head it looks at."""

    face_height_m: Annotated[Positive, about("floor to face")]
    facing_side: Annotated[Side, about("to which side of the camera the face points")] = "left"
    facing_deg: Annotated[Angle, about("how far off the camera it points")] = 0.0
    looks_at: Annotated[Id | None, about("turns the face to that head instead")] = None


@dataclass(frozen=True, slots=True)
class Background:
    """How far the background is behind the face, how much light it sends back, and how bright it should be."""

    distance_m: Annotated[Positive, about("behind the face")]
    reflectance: Annotated[
        Number | None, about("share of the light it reflects; gives its level in the picture", gt=0, le=1)
    ] = None
    over_stops: Annotated[
        Stops | None, about("what a meter flat on it, facing the camera, should show over the aperture")
    ] = None


@dataclass(frozen=True, slots=True)
class Light:
    """One head at work: where it stands, through what, at what power."""

    head: Annotated[Id, about("which head")]
    role: Annotated[Role, about("what it is for")]
    stand: Annotated[Id, about("what holds it")]
    power: Annotated[
        Dialled,
        about("as dialled; `off` leaves it switched off; left out, or `solve`, it is calculated from the targets"),
    ] = field(default=SOLVE, kw_only=True)
    side: Annotated[Side, about("as the camera sees it")]
    angle_deg: Annotated[Angle, about("round the subject: 0 at the camera, 90 side-on, 180 behind")]
    distance_m: Annotated[Positive, about("face to the front of the modifier")]
    height_m: Annotated[Positive, about("floor to the middle of the modifier")]
    modifier: Annotated[Id, about("what is on the head")] = "bare"
    accessories: Annotated[tuple[Id, ...], about("what is on the modifier, in the order it goes on")] = ()
    aim_reading_f: Annotated[Positive | None, about("what the meter should show at the face, turned to the head")] = (
        None
    )
    under_key_stops: Annotated[Stops | None, about("instead: how far under the key it should read")] = None
    aim: Annotated[Text, about("face, background, or a panel")] = "face"
    feather_deg: Annotated[Number, about("how far the beam is turned off its aim, horizontally", ge=0, le=90)] = 0.0
    feather_to: Annotated[
        FeatherSide | None, about("the side of its aim on which the middle of the beam then passes")
    ] = None
    through: Annotated[
        tuple[Id, ...], about("cloths in its beam; one that also hangs in the set counts only here for this light")
    ] = ()
    bags: Annotated[tuple[Id, ...], about("bags on its stand")] = ()
    bags_at: Annotated[Literal["column", "far legs"], about("the far legs are those away from the load")] = "column"
    leg_under_load: Annotated[Flag, about("one leg points along the load")] = False

    def point(self, face_height_m: float) -> Point:
        """The middle of the modifier. Raises ValueError when the place is not real."""
        return stand_at(self.side, self.angle_deg, self.distance_m, self.height_m, face_height_m)

    def feather_turn_deg(self, start: Point, end: Point) -> float:
        """Degrees its beam turns off the bearing to what it is aimed at, plus towards a greater bearing.

        Raises ValueError where that side is not told apart, or none is given.
        """
        if self.feather_deg == 0:
            return 0.0
        if self.feather_to is None:
            raise ValueError(f"the side is missing; write {_or(_SIDES)}")
        bearing, level = radians(bearing_deg(start, end)), hypot(end.x - start.x, end.y - start.y)
        # how far a greater bearing moves the beam's middle to each side
        shares = {side: x * cos(bearing) - y * sin(bearing) for side, (x, y) in _SIDES.items()}
        if level < _STRAIGHT or abs(shares[self.feather_to]) < _STRAIGHT:
            fit = [side for side, share in shares.items() if abs(share) >= _STRAIGHT and level >= _STRAIGHT]
            what = f"its beam runs straight along that line, so it has no {self.feather_to} side"
            raise ValueError(f"{what}; {f'write {_or(fit)}' if fit else 'delete feather_deg: it points straight down'}")
        return self.feather_deg if shares[self.feather_to] > 0 else -self.feather_deg


@dataclass(frozen=True, slots=True)
class PanelPlace:
    """One panel at work; it looks at ``face_to``, or half-way between the face and the head it ``catches``."""

    panel: Annotated[Id, about("which panel")]
    side: Annotated[Side, about("as the camera sees it")]
    angle_deg: Annotated[Angle, about("round the subject: 0 at the camera, 90 side-on, 180 behind")]
    distance_m: Annotated[Positive, about("face to the middle of the panel")]
    height_m: Annotated[NotNegative, about("floor to the middle of the panel")]
    face_to: Annotated[Text, about("what its surface looks at: face, or a head")] = "face"
    catches: Annotated[Id | None, about("instead: turned and tilted half-way between this head and the face")] = None
    tilt_deg: Annotated[Number, about("tilt of its surface, plus is up; two wings stand upright", ge=-90, le=90)] = 0.0
    open_deg: Annotated[Angle | None, about("the angle between two wings; default 90")] = None
    role: Annotated[Role | None, about("what it is for; a panel may be the key")] = None
    aim_reading_f: Annotated[Positive | None, about("what the meter should show at the face, turned to it")] = None
    under_key_stops: Annotated[Stops | None, about("instead: how far under the key it should read")] = None
    held_by: Annotated[
        Id | None, about("the stand or the member of the crew that holds it; left out, it stands by itself")
    ] = None
    bags: Annotated[tuple[Id, ...], about("bags on its foot, or on the stand that holds it")] = ()

    def point(self, face_height_m: float) -> Point:
        """The middle of the panel, or its hinge. Raises ValueError when the place is not real."""
        return stand_at(self.side, self.angle_deg, self.distance_m, self.height_m, face_height_m)

    def with_head(self, new: Mapping[str, str]) -> "PanelPlace":
        """The same place with other heads, by id, instead of those it faces or catches."""
        catches = None if self.catches is None else new.get(self.catches, self.catches)
        return replace(self, face_to=new.get(self.face_to, self.face_to), catches=catches)

    def without_heads_but(self, lit: Collection[str]) -> "PanelPlace":
        """The same place facing the subject, where the head it faces or catches is not lit."""
        face_to = self.face_to if self.face_to in {"face", *lit} else "face"
        return replace(self, face_to=face_to, catches=self.catches if self.catches in lit else None)


@dataclass(frozen=True, slots=True)
class HungCloth:
    """One cloth that hangs in the set, upright, turned to ``face_to``."""

    cloth: Annotated[Id, about("which cloth")]
    side: Annotated[Side, about("as the camera sees it")]
    angle_deg: Annotated[Angle, about("round the subject: 0 at the camera, 90 side-on, 180 behind")]
    distance_m: Annotated[Positive, about("face to the middle of the cloth")]
    hem_m: Annotated[NotNegative, about("floor to its lower edge")]
    face_to: Annotated[Text, about("what it is turned to: face, or a head")] = "face"
    held_by: Annotated[tuple[Id, ...], about("the two stands that carry its rail; else the building does")] = ()
    bags: Annotated[tuple[Id, ...], about("bags on those stands: one on the first, one on the second, and so on")] = ()

    @property
    def bags_by_stand(self) -> tuple[tuple[Id, ...], ...]:
        """The bags on each of the two stands."""
        return self.bags[::2], self.bags[1::2]

    def rail_m(self, cloth: Cloth) -> float:
        """The height of its upper edge."""
        return self.hem_m + (cloth.height_m or 0.0)

    def point(self, cloth: Cloth, face_height_m: float) -> Point:
        """The middle of the cloth. Raises ValueError when the place is not real."""
        height_m = (self.hem_m + self.rail_m(cloth)) / 2
        return stand_at(self.side, self.angle_deg, self.distance_m, height_m, face_height_m)

    def with_head(self, new: Mapping[str, str]) -> "HungCloth":
        """The same place with other heads, by id, instead of the one it is turned to."""
        return replace(self, face_to=new.get(self.face_to, self.face_to))

    def without_heads_but(self, lit: Collection[str]) -> "HungCloth":
        """The same place turned to the subject, where the head it is turned to is not lit."""
        return self if self.face_to in {"face", *lit} else replace(self, face_to="face")


@dataclass(frozen=True)
class Setup:
    """One lighting setup. ``before`` names setups that must come later in the day.

    ``meant`` names the findings of a check that are intended.
    ``burst_per_s`` is the rate of a burst of frames with flash, where one is planned.
    """

    id: Id
    exposure: Annotated[Exposure, about("the camera's settings")]
    view: Annotated[View, about("the camera's place")]
    subject: Annotated[Subject, about("the face")]
    title: Annotated[Text, about("what the picture shows")] = ""
    look: Annotated[Id | None, about("the look it is shot in")] = None
    frames: Annotated[Count, about("how many to shoot")] = 0
    shoot_min: Annotated[NotNegative, about("how long the shooting takes")] = 0.0
    burst_per_s: Annotated[NotNegative, about("rate of a burst of frames with flash, where one is planned")] = 0.0
    before: Annotated[tuple[Id, ...], about("setups that must come later in the day than this one")] = ()
    meant: Annotated[tuple[Meant, ...], about("findings of `runbook check` that are intended, by their codes")] = ()
    background: Annotated[Background | None, about("leave it out if there is none")] = None
    lights: Annotated[tuple[Light, ...], about("a head at work", alias="light")] = ()
    panels: Annotated[tuple[PanelPlace, ...], about("a panel at work", alias="place_panel")] = ()
    hung_cloths: Annotated[tuple[HungCloth, ...], about("a cloth that hangs in the set", alias="hang")] = ()

    @property
    def bags(self) -> tuple[Id, ...]:
        """Every bag that hangs in it."""
        placed: tuple[Light | PanelPlace | HungCloth, ...] = (*self.lights, *self.panels, *self.hung_cloths)
        return tuple(bag for each in placed for bag in each.bags)

    @property
    def face(self) -> Point:
        """The middle of the face."""
        return Point(0.0, 0.0, self.subject.face_height_m)

    @property
    def facing_deg(self) -> float:
        """Where the face points over the floor: 0 at the camera, plus to camera-right."""
        subject = self.subject
        looked_at = self.light.get(subject.looks_at or "")
        if looked_at is not None:
            return bearing_deg(self.face, looked_at.point(self.face.z))
        return subject.facing_deg if subject.facing_side == "right" else -subject.facing_deg

    def aim_point(self, light: Light) -> Point | None:
        """What a light is aimed at: the face, the background behind it, or a panel's middle; None where it is not here.

        Raises ValueError when the place of that panel is not real.
        """
        if light.aim == "background" and self.background is not None:
            return Point(0.0, -self.background.distance_m, self.face.z)
        if light.aim in self.panel:
            return self.panel[light.aim].point(self.face.z)
        return self.face if light.aim == "face" else None

    @cached_property
    def light(self) -> dict[str, Light]:
        """The lights by head."""
        return {light.head: light for light in self.lights}

    @cached_property
    def panel(self) -> dict[str, PanelPlace]:
        """The placed panels by panel."""
        return {place.panel: place for place in self.panels}

    @cached_property
    def hung(self) -> dict[str, HungCloth]:
        """The hung cloths by cloth."""
        return {hung.cloth: hung for hung in self.hung_cloths}
