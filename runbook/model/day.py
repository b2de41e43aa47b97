"""The day around the light: hours, crew, looks, place, and the order of the setups."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cached_property
from typing import Annotated, Final, Literal

from runbook.model.fields import Date, Flag, Id, Name, NotNegative, Number, Positive, Text, Time, about
from runbook.model.kit import Kit
from runbook.model.setup import Setup

# Nearer to the face than this, over the floor, a boom's head counts as above people. Our own
# figure (common practice, no source): an arm's length and a step.
OVERHEAD_M: Final = 1.5
Level = Literal["stop", "warn", "note", "meant"]


@dataclass(frozen=True, slots=True)
class Rate:
    """What the day costs, and what an hour over it costs."""

    day: Annotated[NotNegative, about("cost of the day")]
    overtime_per_hour: Annotated[NotNegative, about("cost of an hour past the wrap")] = 0.0
    overtime_step_min: Annotated[Positive, about("overtime is billed in blocks of this")] = 30.0
    currency: Annotated[Text, about("code or sign of the currency")] = "EUR"


@dataclass(frozen=True, slots=True)
class Crew:
    """One person who works on the set."""

    id: Annotated[Id, about("a short name")]
    name: Annotated[Text, about("name or job")] = ""


@dataclass(frozen=True, slots=True)
class Look:
    """Hair, make-up and wardrobe. One talent is prepared or on set, never both at once."""

    id: Annotated[Id, about("a short name")]
    name: Name = ""
    prep_min: Annotated[NotNegative, about("time in hair and make-up")] = 0.0
    talent: Annotated[Id | None, about("who wears it; nobody can be in the chair and on the set at once")] = None
    call: Annotated[Time | None, about("when that talent is called; default the day's call")] = None

    @property
    def sitter(self) -> str:
        """Who sits for it: its talent, or ``look ID`` where it names none."""
        return self.talent or f"look {self.id}"


@dataclass(frozen=True, slots=True)
class Break:
    """A stop in the day, inside its window."""

    id: Annotated[Id, about("a short name")]
    minutes: Annotated[Positive, about("length of the break")]
    earliest: Annotated[Time, about("when it may start")]
    latest: Annotated[Time, about("when it must have started")]
    name: Name = ""


@dataclass(frozen=True, slots=True)
class Place:
    """Where the day happens. Wind in m/s, light in lux, what a person reaches and carries in m.

    ``fan_ms`` is what a fan blows at the stands with, indoors or out.
    ``circuit_a`` and ``mains_v`` are the breaker and the voltage the mains heads share.
    """

    indoors: Annotated[Flag, about("false, so outdoors, adds the wind checks")] = True
    ambient_lux: Annotated[NotNegative, about("ambient light at the subject")] = 0.0
    wind_ms: Annotated[NotNegative, about("steady wind")] = 0.0
    gust_ms: Annotated[NotNegative | None, about("gusts, if known")] = None
    fan_ms: Annotated[NotNegative, about("wind of a fan at the stands, indoors too")] = 0.0
    tilt_limit_deg: Annotated[Number, about("how far a stand must be able to lean without tipping", gt=0, lt=90)] = 10.0
    reach_m: Annotated[Positive, about("how high a person reaches without a step")] = 1.9
    carry_m: Annotated[Positive, about("a load above this is lowered before the stand moves")] = 2.5
    travel_by_air: Annotated[Flag, about("adds the airline notes on batteries")] = False
    circuit_a: Annotated[Positive | None, about("the breaker that the mains heads share")] = None
    mains_v: Annotated[Positive, about("voltage of that circuit")] = 230.0


@dataclass(frozen=True)
class Day:
    """One shoot day. ``order`` names the setups as they are to be shot."""

    name: Annotated[Text, about("name of the day")]
    date: Annotated[Date, about("of the call and the wrap")]
    call: Annotated[Time, about("when everybody arrives")]
    wrap: Annotated[Time, about("when everybody has left")]
    order: Annotated[tuple[Id, ...], about("the setups in shooting order; at least one is required")] = ()
    units: Annotated[Literal["metric", "imperial"], about("what the screens show; the files stay metric")] = "metric"
    load_in_min: Annotated[NotNegative, about("unpacking, before the first setup goes up")] = 0.0
    wrap_min: Annotated[NotNegative, about("packing, after the strike")] = 0.0
    frames_folder: Annotated[Text | None, about("where the camera's pictures arrive; from the day's folder")] = None
    rate: Annotated[Rate | None, about("what the day costs")] = None
    crew: Annotated[tuple[Crew, ...], about("who works on the set")] = ()
    looks: Annotated[tuple[Look, ...], about("hair, make-up, wardrobe", alias="look")] = ()
    breaks: Annotated[tuple[Break, ...], about("stops in the day", alias="break")] = ()
    place: Annotated[Place, about("the room, or the open air")] = Place()

    @cached_property
    def look(self) -> dict[str, Look]:
        return {look.id: look for look in self.looks}


@dataclass(frozen=True)
class Plan:
    """A day, its kit, and every setup its folder holds, checked and ready to use.

    ``solved`` are the heads of each setup whose power its file leaves out: it is worked out from what is asked.
    """

    day: Day
    kit: Kit
    setups: dict[str, Setup]
    solved: Mapping[str, frozenset[str]] = field(default_factory=dict)

    @cached_property
    def order(self) -> tuple[Setup, ...]:
        """The setups as they are to be shot."""
        return tuple(self.setups[setup_id] for setup_id in self.day.order)


@dataclass(frozen=True, slots=True)
class Problem:
    """One thing that cannot be (stop), should not be (warn) or is worth knowing (note).

    One that its setup names under ``meant`` is intended (meant); a stop never is.
    ``setup`` and ``item`` say where; ``what`` is wrong and ``do`` is what would put it right.
    """

    level: Level
    code: str
    setup: str | None
    item: str | None
    what: str
    do: str
