"""One lighting arrangement with its camera settings and subject, as a plain value.

The field names are the keys of a setup's file, after ``like`` and ``drop`` are worked in. Lengths
in m, angles in degrees.
"""

from fractions import Fraction
from functools import cached_property
from typing import Annotated, Literal

from runbook.plan.bounds import Count, Id, Key, NotNegative, Positive, Reads, Stops, Within
from runbook.plan.power import Power, stops_below
from runbook.plan.space import Point, Side, stand_at
from runbook.plan.tuples import NamedTuple

Angle = Annotated[float, Within(ge=0, le=180)]
# The dial that reads a power belongs to the head, so files are read with it; a bare text is taken
# as a third-stop dial's.
Dialled = Annotated[Power, Reads(Power, lambda text: stops_below(text, Fraction(1, 3)), "1/8")]
Role = Literal["key", "fill", "rim", "hair", "background", "effect"]


class Exposure(NamedTuple):
    """Aperture as marked, shutter as marked (``"1/160"``), ISO."""

    f: Positive
    shutter: str
    iso: Positive = 100.0


class View(NamedTuple):
    """The camera's place: lens to face, and how high."""

    lens: Id
    distance_m: Positive
    height_m: Positive
    orientation: Literal["portrait", "landscape"] = "portrait"


class Subject(NamedTuple):
    """The face: how high, and where it points off the camera, or the head it looks at."""

    face_height_m: Positive
    facing_side: Side = "left"
    facing_deg: Angle = 0.0
    looks_at: Id | None = None


class Background(NamedTuple):
    """How far the background is behind the face."""

    distance_m: Positive


class Light(NamedTuple):
    """One head at work: where it stands, through what, at what power."""

    head: Id
    role: Role
    stand: Id
    power: Dialled
    side: Side
    angle_deg: Angle
    distance_m: Positive
    height_m: Positive
    modifier: Id = "bare"
    accessories: tuple[Id, ...] = ()
    aim_reading_f: Positive | None = None
    under_key_stops: Stops | None = None
    aim: str = "face"
    through: tuple[Id, ...] = ()
    bags: tuple[Id, ...] = ()
    bags_at: Literal["column", "far legs"] = "column"
    leg_under_load: bool = False

    def point(self, face_height_m: float) -> Point:
        """The middle of the modifier. Raises ValueError when the place is not real."""
        return stand_at(self.side, self.angle_deg, self.distance_m, self.height_m, face_height_m)


class PanelPlace(NamedTuple):
    """One panel at work; ``face_to`` is what its surface looks at."""

    panel: Id
    side: Side
    angle_deg: Angle
    distance_m: Positive
    height_m: NotNegative
    face_to: str = "face"
    bags: tuple[Id, ...] = ()

    def point(self, face_height_m: float) -> Point:
        """The middle of the panel. Raises ValueError when the place is not real."""
        return stand_at(self.side, self.angle_deg, self.distance_m, self.height_m, face_height_m)


class _Setup(NamedTuple):
    id: Id
    exposure: Exposure
    view: View
    subject: Subject
    title: str = ""
    look: Id | None = None
    frames: Count = 0
    shoot_min: NotNegative = 0.0
    burst_per_s: NotNegative = 0.0
    before: tuple[Id, ...] = ()
    background: Background | None = None
    lights: Annotated[tuple[Light, ...], Key("light")] = ()
    panels: Annotated[tuple[PanelPlace, ...], Key("place_panel")] = ()


class Setup(_Setup):
    """One lighting setup. ``before`` names setups that must come later in the day.

    ``burst_per_s`` is the rate of a burst of frames with flash, where one is planned.
    """

    @cached_property
    def light(self) -> dict[str, Light]:
        """The lights by head."""
        return {light.head: light for light in self.lights}

    @cached_property
    def panel(self) -> dict[str, PanelPlace]:
        """The placed panels by panel."""
        return {place.panel: place for place in self.panels}
