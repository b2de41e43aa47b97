"""What a verdict means, in words one person can say to another."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

from runbook.plan.day import Place
from runbook.plan.kit import Bag
from runbook.plan.units import KG_PER_POUND, Units, figure, force, length, mass, speed
from runbook.stand.judge import Verdict, judge
from runbook.stand.panel import PanelVerdict
from runbook.stand.panel_words import asks_of_panels
from runbook.stand.rig import Rig, far_feet
from runbook.stand.stability import rounded_down_kg, rounded_up_kg
from runbook.stand.wind import WindLimits, beaufort, lower_first

_NUMBERS: Final = ("no", "one", "two", "three", "four", "five", "six")


def counted(bags: tuple[Bag, ...], units: Units = "metric") -> str:
    """``one 7 kg bag``, ``two 7 kg bags``, or ``three bags, 19 kg``."""
    masses = {bag.mass_kg for bag in bags}
    number = _NUMBERS[len(bags)] if len(bags) < len(_NUMBERS) else str(len(bags))
    ending = "" if len(bags) == 1 else "s"
    if len(masses) == 1:
        return f"{number} {mass(bags[0].mass_kg, units)} bag{ending}"
    return f"{number} bag{ending}, {mass(sum(bag.mass_kg for bag in bags), units)}"


def push_words(rig: Rig, place: Place, more: tuple[Bag, ...] = (), units: Units = "metric") -> str:
    """What push tips it, and what it would be with ``more`` bags hung in the same place."""
    now = judge(rig, place)
    if now.push_n <= 0:
        said = "it falls by itself"
    else:
        said = f"a push of {force(now.push_n, units)} at the {_load(rig)} tips it"
    if not more:
        return said
    then = judge(rig._replace(bags=rig.bags + more), place)
    verb = "makes" if len(more) == 1 else "make"
    if then.push_n <= 0:
        return f"{said}; {counted(more, units)} at the {_spot(rig)} cannot hold it there"
    unit = force(then.push_n, units).split()[0]
    return f"{said}; {counted(more, units)} {verb} it {unit}"


def _load(rig: Rig) -> str:
    if rig.modifier is not None and not rig.modifier.is_nothing:
        return "modifier"
    return "top" if rig.head is None else "head"


def _spot(rig: Rig) -> str:
    return "column" if rig.bags_at == "column" else "far legs"


def hang_words(rig: Rig) -> str:
    """Where its bags hang, and why there."""
    if rig.bags_at == "column":
        where = "at the column, off the floor"
        why = "only what hangs counts, and there it holds against a push from any side"
    elif far_feet(rig) == 2:
        where = "shared by the two legs away from the load, half on each, off the floor"
        why = "out there they pull hardest against the load, but do less for a push the other way"
        if rig.leg_under_load:
            why = "out there they pull hardest against the load; on the leg under it, hardly at all"
    else:
        where = "on the leg away from the load, turned straight away from it, off the floor"
        why = "out there it pulls hardest against the load, but does less for a push the other way"
    return f"hang it {where}: {why}"


def balance_words(rig: Rig, verdict: Verdict, units: Units = "metric") -> str:
    """A boom's balance: what balances it, and what hangs there; empty for a stand without an arm.

    What is left over acts on the stand, so it is in its lean and factor too.
    """
    needed = verdict.counterweight_needed_kg
    if needed is None:
        return ""
    at = length(rig.stand.arm_back_m or 0.0, units)
    balance = f"{mass(needed, units)} at {at} behind the pivot balances it"
    if not rig.counterweight_on:
        return f"its counterweight is off; {balance}"
    given = rig.stand.counterweight_kg
    if abs(given - needed) < _BALANCED_KG:
        return f"it balances: {mass(given, units)} at {at} behind the pivot"
    side = "head" if given < needed else "weight"
    return f"{mass(given, units)} hangs there and the {side} side goes down; {balance}"


# Nearer to balance than a scale on a set tells apart.
_BALANCED_KG: Final = 0.05


def at_least(kilograms: float, units: Units = "metric") -> str:
    """A mass that is needed, to a tenth of what it is said in, never under it."""
    return mass(rounded_up_kg(kilograms, _UNIT_KG[units]), units)


def at_most(kilograms: float, units: Units = "metric") -> str:
    """A mass not to be passed, to a tenth of what it is said in, never over it."""
    return mass(rounded_down_kg(kilograms, _UNIT_KG[units]), units)


def wanted_words(verdict: Verdict, units: Units = "metric") -> str:
    """What must hang on it in all: ``3.1 kg``, ``0.1 to 2.3 kg`` or ``none enough``."""
    needed, most = verdict.bags_needed_kg, verdict.bags_most_kg
    if needed is None:
        return "none enough"
    if most is None:
        return at_least(needed, units)
    return f"{figure(at_least(needed, units))} to {at_most(most, units)}"


_UNIT_KG: Final[Mapping[Units, float]] = {"metric": 1.0, "imperial": KG_PER_POUND}


def lack_words(rig: Rig, verdict: Verdict, place: Place, units: Units = "metric") -> str:
    """What it lacks to be let go of, in one breath; empty when nothing."""
    parts = []
    if "lean" in verdict.faults:
        parts.append(_lean(verdict, place))
    if "factor" in verdict.faults:
        parts.append(f"what holds it is {verdict.factor or 0:.2f} times what tips it")
    if verdict.bags_needed_kg is None:
        parts.append(f"no bag at the {_spot(rig)} is enough: lower it, or turn a leg to the load")
    elif verdict.bags_needed_kg > verdict.bags_kg + 0.005:
        parts.append(f"needs {wanted_words(verdict, units)} at the {_spot(rig)}")
    elif verdict.bags_most_kg is not None and verdict.bags_kg > verdict.bags_most_kg:
        most = at_most(verdict.bags_most_kg, units)
        parts.append(f"no more than {most} helps at the {_spot(rig)}: hang it at the column")
    if "load" in verdict.faults:
        most = mass(verdict.load_max_kg, units)
        parts.append(f"carries {mass(verdict.load_kg, units)}, made for {most}")
    if "wind" in verdict.faults:
        parts.append(f"stands gusts of {speed(verdict.wind_limit_ms, units)} at the most")
    return "; ".join(parts)


def _lean(verdict: Verdict, place: Place) -> str:
    if verdict.lean_deg <= 0:
        return "falls by itself"
    return f"tips at {verdict.lean_deg:.1f}° of lean, {place.tilt_limit_deg:g}° wanted"


def gust_words(gust_ms: float, units: Units = "metric") -> str:
    """``6.0 m/s, force 4, moderate breeze``."""
    step = beaufort(gust_ms)
    return f"{speed(gust_ms, units)}, force {step.number}, {step.name}"


def wind_words(
    limits: Mapping[str, WindLimits],
    gust_ms: float,
    units: Units = "metric",
    panels: tuple[PanelVerdict, ...] = (),
) -> tuple[str, ...]:
    """What a gust asks for, what to bring down first at the head; empty when it asks nothing.

    A panel that goes over for certain comes down before a stand that is past its limit, which has
    something in hand. Past its limit a stand comes down, past 80 % of it a person is on it, past
    60 % it is watched; then come the panels that may go over.
    """
    panels_first, panels_then = asks_of_panels(panels, units)
    said: list[str] = [*panels_first]
    for stand in lower_first({name: each.limit for name, each in limits.items()}):
        of = limits[stand]
        what = f"{stand} (limit {speed(of.limit, units)})"
        if gust_ms > of.limit:
            said.append(f"{what} down {'now' if said else 'first, now'}")
        elif gust_ms > of.act:
            said.append(f"{what} a person on it, or down")
        elif gust_ms > of.watch:
            said.append(f"{what} watched")
    return (*said, *panels_then)
