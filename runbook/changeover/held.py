"""Why a stand must be held at one moment of a changeover, in words."""

from __future__ import annotations

from collections.abc import Iterable

from runbook.changeover.steady import Moment, rigs_at
from runbook.model.day import Place
from runbook.model.kit import Kit
from runbook.model.units import Units, figure, mass, speed
from runbook.stands.verdict import Verdict, judge


def worst_at(kit: Kit, place: Place, stand: str, now: Moment) -> Verdict:
    """The verdict on a stand at one moment; with bags in two places, the worse of the two."""
    verdicts = (judge(rig, place) for rig in rigs_at(kit, stand, now))
    return min(verdicts, key=lambda each: (each.ok, each.lean_deg))


def why_held(
    kit: Kit,
    place: Place,
    stand: str,
    now: Moment,
    *,
    wanted: Iterable[str] = (),
    box: str | None = None,
    units: Units = "metric",
) -> str:
    """Why nobody may let go of a stand now; ``wanted`` are the bags it is to have, ``box`` the
    modifier.

    ``S1 stands only 8.7 degrees of lean until B1 is on``.
    """
    if kit.stand[stand].is_boom and now.head is not None and not now.weight_on:
        return f"{stand} has its head on without its counterweight"
    missing = sorted(set(wanted) - {bag for bag, _ in now.bags})
    if not missing and box is not None and now.modifier != box:
        missing = [box]
    until = ""
    if missing:
        until = f" until {' and '.join(missing)} {'is' if len(missing) == 1 else 'are'} on"
    return f"{stand} {_lacks(worst_at(kit, place, stand, now), units)}{until}"


def _lacks(verdict: Verdict, units: Units) -> str:
    """What the sums hold against a stand, as what it does; else that it is high for its bags."""
    match verdict.faults:
        case ("lean", *_) if verdict.lean_deg <= 0:
            return "falls by itself"
        case ("lean", *_):
            return f"stands only {verdict.lean_deg:.1f} degrees of lean"
        case ("factor", *_):
            return f"is held by only {verdict.factor or 0:.2f} times what tips it"
        case ("load", *_):
            most = figure(mass(verdict.load_max_kg, units, "g"))
            return f"carries {mass(verdict.load_kg, units, '.1f')} and is made for {most}"
        case ("wind", *_):
            return f"stands gusts of {speed(verdict.wind_limit_ms, units)} at the most"
    high = "is above reach without all its bags"
    return "is out of balance" if verdict.faults else high
