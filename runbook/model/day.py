"""The day around the light: hours, crew, looks, place, and the order of the setups."""

from dataclasses import dataclass
from functools import cached_property
from typing import Annotated, Final, Literal

from pydantic import Field

from runbook.model.fields import Date, Flag, Id, Name, NotNegative, Number, Positive, Text, Time
from runbook.model.kit import Kit
from runbook.model.setup import Setup

# Nearer to the face than this, over the floor, a boom's head counts as above people. Our own
# figure (common practice, no source): an arm's length and a step.
OVERHEAD_M: Final = 1.5


@dataclass(frozen=True, slots=True)
class Rate:
    """What the day costs, and what an hour over it costs."""

    day: Annotated[NotNegative, Field(description="for the day")]
    overtime_per_hour: Annotated[NotNegative, Field(description="past the wrap")] = 0.0
    overtime_step_min: Annotated[Positive, Field(description="overtime is counted in steps of this")] = 30.0
    currency: Annotated[Text, Field(description="how it is written")] = "EUR"


@dataclass(frozen=True, slots=True)
class Crew:
    """One person who works on the set."""

    id: Annotated[Id, Field(description="a short name")]
    name: Annotated[Text, Field(description="who that is")] = ""


@dataclass(frozen=True, slots=True)
class Look:
    """Hair, make-up and wardrobe. One talent is prepared or on set, never both at once."""

    id: Annotated[Id, Field(description="a short name")]
    name: Name = ""
    prep_min: Annotated[NotNegative, Field(description="in the chair")] = 0.0
    talent: Annotated[Id | None, Field(description="who wears it; nobody is in the chair and on the set at once")] = (
        None
    )
    call: Annotated[Time | None, Field(description="when that talent is called, the day's call if left out")] = None

    @property
    def sitter(self) -> str:
        """Who sits for it: its talent, or ``look ID`` where it names none."""
        return self.talent or f"look {self.id}"


@dataclass(frozen=True, slots=True)
class Break:
    """A stop in the day, inside its window."""

    id: Annotated[Id, Field(description="a short name")]
    minutes: Annotated[Positive, Field(description="how long")]
    earliest: Annotated[Time, Field(description="when it may start")]
    latest: Annotated[Time, Field(description="when it must have started")]
    name: Name = ""


@dataclass(frozen=True, slots=True)
class Place:
    """Where the day happens. Wind in m/s, light in lux, what a person reaches and carries in m.

    ``fan_ms`` is what a fan blows at the stands with, indoors or out.
    ``circuit_a`` and ``mains_v`` are the breaker and the voltage the mains heads share.
    """

    indoors: Annotated[Flag, Field(description="outdoors brings the wind checks")] = True
    ambient_lux: Annotated[NotNegative, Field(description="the room's own light at the subject")] = 0.0
    wind_ms: Annotated[NotNegative, Field(description="steady wind")] = 0.0
    gust_ms: Annotated[NotNegative | None, Field(description="gusts, if known")] = None
    fan_ms: Annotated[NotNegative, Field(description="what a fan blows at the stands with, indoors too")] = 0.0
    tilt_limit_deg: Annotated[
        Number, Field(gt=0, lt=90), Field(description="how far a stand must lean before it goes")
    ] = 10.0
    reach_m: Annotated[Positive, Field(description="what a standing person reaches without a step")] = 1.9
    carry_m: Annotated[Positive, Field(description="a higher load comes down before it moves")] = 2.5
    travel_by_air: Annotated[Flag, Field(description="brings the airline notes on batteries")] = False
    circuit_a: Annotated[Positive | None, Field(description="the breaker that the mains heads share")] = None
    mains_v: Annotated[Positive, Field(description="its voltage")] = 230.0


@dataclass(frozen=True)
class Day:
    """One shoot day. ``order`` names the setups as they are to be shot."""

    name: Annotated[Text, Field(description="of the day")]
    date: Annotated[Date, Field(description="of the call and the wrap")]
    call: Annotated[Time, Field(description="when people come")]
    wrap: Annotated[Time, Field(description="when they are to be gone")]
    order: Annotated[tuple[Id, ...], Field(description="the setups as they are to be shot; at least one")] = ()
    units: Annotated[
        Literal["metric", "imperial"], Field(description="what the screens show; the files stay metric")
    ] = "metric"
    load_in_min: Annotated[NotNegative, Field(description="unpacking, before the first setup goes up")] = 0.0
    wrap_min: Annotated[NotNegative, Field(description="packing, after the strike")] = 0.0
    rate: Annotated[Rate | None, Field(description="what the day costs")] = None
    crew: Annotated[tuple[Crew, ...], Field(description="who works on the set")] = ()
    looks: Annotated[tuple[Look, ...], Field(alias="look", description="hair, make-up, wardrobe")] = ()
    breaks: Annotated[tuple[Break, ...], Field(alias="break", description="stops in the day")] = ()
    place: Annotated[Place, Field(description="the room, or the open air")] = Place()

    @cached_property
    def look(self) -> dict[str, Look]:
        return {look.id: look for look in self.looks}


@dataclass(frozen=True)
class Plan:
    """A day, its kit, and every setup its folder holds, checked and ready to use."""

    day: Day
    kit: Kit
    setups: dict[str, Setup]

    @cached_property
    def order(self) -> tuple[Setup, ...]:
        """The setups as they are to be shot."""
        return tuple(self.setups[setup_id] for setup_id in self.day.order)
