"""The day around the light: hours, crew, looks, place, and the order of the setups."""

import datetime as dt
from functools import cached_property
from typing import Annotated, Final, Literal

from runbook.plan.bounds import Id, Key, NotNegative, Positive, Within
from runbook.plan.kit import Kit
from runbook.plan.setup import Setup
from runbook.plan.tuples import NamedTuple

# Nearer to the face than this, over the floor, a boom's head counts as above people. Our own
# figure (common practice, no source): an arm's length and a step.
OVERHEAD_M: Final = 1.5


class Rate(NamedTuple):
    """What the day costs, and what an hour over it costs."""

    day: NotNegative
    overtime_per_hour: NotNegative = 0.0
    overtime_step_min: Positive = 30.0
    currency: str = "EUR"


class Crew(NamedTuple):
    """One person who works on the set."""

    id: Id
    name: str = ""


class Look(NamedTuple):
    """Hair, make-up and wardrobe. One talent is prepared or on set, never both at once."""

    id: Id
    name: str = ""
    prep_min: NotNegative = 0.0
    talent: Id | None = None
    call: dt.time | None = None

    @property
    def sitter(self) -> str:
        """Who sits for it: its talent, or ``look ID`` where it names none."""
        return self.talent or f"look {self.id}"


class Break(NamedTuple):
    """A stop in the day, inside its window."""

    id: Id
    minutes: Positive
    earliest: dt.time
    latest: dt.time
    name: str = ""


class Place(NamedTuple):
    """Where the day happens. Wind in m/s, light in lux, what a person reaches and carries in m.

    ``fan_ms`` is what a fan blows at the stands with, indoors or out.
    ``circuit_a`` and ``mains_v`` are the breaker and the voltage the mains heads share.
    """

    indoors: bool = True
    ambient_lux: NotNegative = 0.0
    wind_ms: NotNegative = 0.0
    gust_ms: NotNegative | None = None
    fan_ms: NotNegative = 0.0
    tilt_limit_deg: Annotated[float, Within(gt=0, lt=90)] = 10.0
    reach_m: Positive = 1.9
    carry_m: Positive = 2.5
    travel_by_air: bool = False
    circuit_a: Positive | None = None
    mains_v: Positive = 230.0


class _Day(NamedTuple):
    name: str
    date: dt.date
    call: dt.time
    wrap: dt.time
    order: tuple[Id, ...] = ()
    units: Literal["metric", "imperial"] = "metric"
    load_in_min: NotNegative = 0.0
    wrap_min: NotNegative = 0.0
    rate: Rate | None = None
    crew: tuple[Crew, ...] = ()
    looks: Annotated[tuple[Look, ...], Key("look")] = ()
    breaks: Annotated[tuple[Break, ...], Key("break")] = ()
    place: Place = Place()


class Day(_Day):
    """One shoot day. ``order`` names the setups as they are to be shot."""

    @cached_property
    def look(self) -> dict[str, Look]:
        return {look.id: look for look in self.looks}


class _Plan(NamedTuple):
    day: Day
    kit: Kit
    setups: dict[str, Setup]


class Plan(_Plan):
    """A day, its kit, and every setup its folder holds, checked and ready to use."""

    @cached_property
    def order(self) -> tuple[Setup, ...]:
        """The setups as they are to be shot."""
        return tuple(self.setups[setup_id] for setup_id in self.day.order)
