"""What is predicted of a setup, as plain values. All readings in stops, ``log2 N²``."""

from __future__ import annotations

from typing import NamedTuple

from runbook.light.optics import DepthOfField
from runbook.light.pattern import Pattern
from runbook.light.power import ToDial
from runbook.light.stops import f_number
from runbook.model.kit import Measured
from runbook.model.power import Power
from runbook.model.setup import Role


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
    dial: ToDial | None
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
