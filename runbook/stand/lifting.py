"""Lifting: how many people a lift needs.

The crew's rule is the HSE lifting and lowering filter (L23, INDG143) with its team fractions; the
revised NIOSH lifting equation (DHHS (NIOSH) 94-110, 1994) stands beside it for a closer look at a
lift that repeats. Both are filters for care, no limits. Masses in kg, heights of the hands in m;
the equation's own lengths in cm.
"""

from __future__ import annotations

from functools import lru_cache
from typing import Final, Literal

from runbook.plan.tuples import NamedTuple
from runbook.plan.units import Units, mass

Who = Literal["women", "men"]
Grip = Literal["good", "fair", "poor"]

# Hands from below mid lower leg up to above the shoulder. The close column as L23 is quoted;
# the arms-out column from memory.
_ZONE_TOPS_M: Final = (0.25, 0.75, 1.05, 1.40)
_FILTER_KG: Final[dict[tuple[Who, bool], tuple[float, ...]]] = {
    ("men", False): (10, 20, 25, 20, 10),
    ("men", True): (5, 10, 15, 10, 5),
    ("women", False): (7, 13, 16, 13, 7),
    ("women", True): (3, 7, 10, 7, 3),
}
# Share of what its members could lift alone that a team can (L23, para. 120); more than four
# people on one thing are unlikely to work together, and four are given no share of their own.
_TEAM: Final = (1.0, 2 / 3, 1 / 2, 1 / 2)
# Hands on a case, a folded stand or a panel take hold above the ankle.
_GRIP_M: Final = 0.30
_HELD_M: Final = 1.00
_BAG_GRIP_M: Final = 0.10
# Where hands end when a load is fitted onto a stand at its lowest; our own figure.
WORK_M: Final = 1.40
# What one person raises with its section of a stand by hand (DIN 56950-3, seen in a summary only).
RAISED_KG: Final = 15.0
_BAGGED: Final = {"bag", "unbag"}
_RAISED: Final = {"raise", "lower"}
_CARRIED: Final = {"place", "strike", "move", "fit", "free"}


class Hands(NamedTuple):
    """How many people a step takes, and why in words that can be read out."""

    people: int
    why: str


def filter_kg(low_m: float, high_m: float, *, arms_out: bool = False, who: Who = "women") -> float:
    """What one person may lift between two heights of the hands without a closer look.

    The least figure of all zones the hands pass through. The lower column is the default: a plan
    does not know who will be nearest.
    """
    figures = _FILTER_KG[who, arms_out]
    low, high = min(low_m, high_m), max(low_m, high_m)
    first = sum(low >= top for top in _ZONE_TOPS_M)
    last = sum(high > top for top in _ZONE_TOPS_M)
    return min(figures[first : max(first, last) + 1])


def team_kg(each_kg: tuple[float, ...]) -> float:
    """What a team may lift, from what its members may lift alone. Raises ValueError over four."""
    if not 1 <= len(each_kg) <= len(_TEAM):
        raise ValueError("a team lift is for one to four people; use wheels, or make it lighter")
    return _TEAM[len(each_kg) - 1] * sum(each_kg)


def people_for(
    kg: float, low_m: float, high_m: float, *, arms_out: bool = False, who: Who = "women"
) -> int | None:
    """The fewest people for a lift; None when even four are too few."""
    each = filter_kg(low_m, high_m, arms_out=arms_out, who=who)
    for people in range(1, len(_TEAM) + 1):
        if kg <= team_kg((each,) * people) + 1e-9:
            return people
    return None


@lru_cache(maxsize=512)  # a day lifts the same few things over and over
def hands_for(
    verb: str,
    kg: float,
    *,
    low_m: float | None = None,
    high_m: float = _HELD_M,
    boom: bool = False,
    units: Units = "metric",
) -> Hands:
    """How many people a step takes that moves ``kg`` with the hands between two heights.

    ``verb`` is the step's. A boom takes two whenever its arm or its weight moves: one holds the
    arm, one works the lock. A lift over the filter takes as many as the team fractions ask; a
    section that goes up or down with over 15 kg on it takes two. Bags are taken from the floor, all
    else from above the ankle, unless ``low_m`` says otherwise.
    """
    low = low_m if low_m is not None else _BAG_GRIP_M if verb in _BAGGED else _GRIP_M
    people = people_for(kg, low, high_m)
    if boom and verb in _CARRIED | _RAISED:
        return Hands(max(2, people or len(_TEAM)), "a boom: one holds the arm, one works the lock")
    load = mass(kg, units, ".1f")
    if verb in _RAISED and kg > RAISED_KG:
        most = mass(RAISED_KG, units, "g")
        return Hands(2, f"{load} is over the {most} one person raises by hand: better wind it up")
    if verb not in _CARRIED | _BAGGED:
        return Hands(1, "nothing heavy is lifted")
    alone = mass(filter_kg(low, high_m), units, "g")
    if people == 1:
        return Hands(1, f"{load} is within the {alone} one person lifts there")
    if people is None:
        return Hands(len(_TEAM), f"{load} is more than four lift safely: use wheels")
    return Hands(people, f"{load} is over the {alone} one person lifts there")


class Terms(NamedTuple):
    """The equation's constants in one system of units; metric and US forms differ by up to 3 %."""

    most: float
    reach: float
    reach_limit: float
    knuckles: float
    per_height: float
    highest: float
    travel: float
    travel_limit: float


# cm and kg; inches and pounds
METRIC: Final = Terms(23, 25, 63, 75, 0.003, 175, 4.5, 175)
US: Final = Terms(51, 10, 25, 30, 0.0075, 70, 1.8, 70)


class Lift(NamedTuple):
    """A lift for the NIOSH equation: lengths in cm (or inches), twist in degrees, hours at it.

    ``across`` is hands to ankles, ``low`` and ``high`` where the hands begin and end.
    """

    across: float
    low: float
    high: float
    twist_deg: float = 0.0
    per_minute: float = 0.2
    hours: float = 1.0
    grip: Grip = "good"


class Recommended(NamedTuple):
    """The recommended weight limit at either end of a lift, in kg (or pounds)."""

    origin: float
    destination: float

    @property
    def least(self) -> float:
        """The one to use where the load is set down with care, as a head on a spigot is."""
        return min(self)


_RATES: Final = (0.2, 0.5, *(float(n) for n in range(1, 16)))
# Table 5 of the manual: hands start under the knuckles' height, for up to 1, 2 and 8 hours; from
# there up some more rows at the end are not nothing.
_OFTEN: Final = {
    1: (1.00, 0.97, 0.94, 0.91, 0.88, 0.84, 0.80, 0.75, 0.70, 0.60, 0.52, 0.45, 0.41, 0.37),
    2: (0.95, 0.92, 0.88, 0.84, 0.79, 0.72, 0.60, 0.50, 0.42, 0.35, 0.30, 0.26),
    8: (0.85, 0.81, 0.75, 0.65, 0.55, 0.45, 0.35, 0.27, 0.22, 0.18),
}
_OFTEN_HIGH: Final = {1: (0.34, 0.31, 0.28), 2: (0.23, 0.21), 8: (0.15, 0.13)}
_GRIPS: Final[dict[Grip, tuple[float, float]]] = {
    "good": (1.0, 1.0),
    "fair": (0.95, 1.0),
    "poor": (0.90, 0.90),
}


def _often(per_minute: float, hours: float, high_start: bool) -> float:
    span = next((limit for limit in (1, 2, 8) if hours <= limit), None)
    if span is None or per_minute > _RATES[-1]:
        return 0.0
    known = _OFTEN[span] + (_OFTEN_HIGH[span] if high_start else ())
    row = known + (0.0,) * (len(_RATES) - len(known))
    rate = max(per_minute, _RATES[0])
    upper = next(n for n, at in enumerate(_RATES) if at >= rate)
    if upper == 0:
        return row[0]
    share = (rate - _RATES[upper - 1]) / (_RATES[upper] - _RATES[upper - 1])
    return row[upper - 1] + share * (row[upper] - row[upper - 1])


def recommended(lift: Lift, terms: Terms = METRIC) -> Recommended:
    """The revised NIOSH lifting equation at both ends of a lift.

    RWL = 23 kg HM VM DM AM FM CM. Not for one hand, a ladder, a carry, or a load that shifts: a
    loose sandbag is outside it.
    """
    reach = 0.0 if lift.across > terms.reach_limit else min(1.0, terms.reach / lift.across)
    twist = 0.0 if lift.twist_deg > 135 else 1 - 0.0032 * lift.twist_deg
    way = abs(lift.high - lift.low)
    travel = min(1.0, 0.82 + terms.travel / way) if way else 1.0
    if way > terms.travel_limit:
        travel = 0.0
    often = _often(lift.per_minute, lift.hours, lift.low >= terms.knuckles)
    common = terms.most * reach * twist * travel * often

    def at(height: float) -> float:
        off = abs(height - terms.knuckles)
        up = 0.0 if height > terms.highest else 1 - terms.per_height * off
        return common * up * _GRIPS[lift.grip][height >= terms.knuckles]

    return Recommended(at(lift.low), at(lift.high))
