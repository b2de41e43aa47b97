"""What a verdict means, in words one person can say to another."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Final

from runbook.model.day import Place
from runbook.model.kit import Bag
from runbook.model.units import KG_PER_POUND, Units, figure, force, length, mass, speed
from runbook.stands.remedy import balanced, counterweight_slide_m, stable_arrangement, stable_height_m
from runbook.stands.rig import Rig, arm_loads, bag_spot, bags_on_far_legs, far_leg_bags, turning_kgm
from runbook.stands.stability import rounded_down_kg, rounded_up_kg
from runbook.stands.verdict import PanelFault, PanelVerdict, Verdict, is_stable, judge
from runbook.stands.wind import WindLimits, beaufort, limit_text, lowest_limit_first

_NUMBERS: Final = ("no", "one", "two", "three", "four", "five", "six")


def bag_count_text(bags: tuple[Bag, ...], units: Units = "metric") -> str:
    """``one 7 kg bag``, ``two 7 kg bags``, or ``three bags, 19 kg``."""
    masses = {bag.mass_kg for bag in bags}
    number = _NUMBERS[len(bags)] if len(bags) < len(_NUMBERS) else str(len(bags))
    ending = "" if len(bags) == 1 else "s"
    if len(masses) == 1:
        return f"{number} {mass(bags[0].mass_kg, units)} bag{ending}"
    return f"{number} bag{ending}, {mass(sum(bag.mass_kg for bag in bags), units)}"


def push_text(rig: Rig, place: Place, hung: Rig | None = None, units: Units = "metric") -> str:
    """What push tips it, and what it would be with the bags of ``hung``."""
    push = judge(rig, place).push_n
    tips = "it falls by itself"
    if push > 0:
        tips = f"a push of {force(push, units)} at the {_load(rig)} tips it"
    if hung is None or hung == rig:
        return tips
    added = tuple(bag for bag in hung.bags if bag not in rig.bags) or hung.bags
    then = judge(hung, place).push_n
    if then <= 0:
        return f"{tips}; {bag_count_text(added, units)} at the {_spot(hung)} cannot hold it there"
    verb = "makes" if len(added) == 1 else "make"
    return f"{tips}; {bag_count_text(added, units)} {verb} it {force(then, units).split()[0]}"


def _load(rig: Rig) -> str:
    if rig.modifier is not None and not rig.modifier.is_nothing:
        return "modifier"
    return "top" if rig.head is None else "head"


def _spot(rig: Rig) -> str:
    return "column" if rig.bags_at == "column" else "far legs"


def bag_names(bags: Sequence[Bag], units: Units = "metric") -> str:
    """``B1 (7 kg) and B2 (5 kg)``."""
    names = [f"{bag.id} ({mass(bag.mass_kg, units)})" for bag in bags]
    return " and ".join((", ".join(names[:-1]), names[-1]) if len(names) > 1 else names)


def bag_place_text(rig: Rig) -> str:
    """Where its bags hang: which legs, each with its bags, and how the legs are turned."""
    if not bags_on_far_legs(rig):
        return "at the column"
    return far_legs_text(rig.stand.legs, rig.leg_under_load, far_leg_bags(rig))


def turn_text(legs: int, leg_under_load: bool, bags_at: str) -> str:
    """How the legs must be turned for the figures to hold; empty where any turn does."""
    if leg_under_load:
        return "one leg under the load"
    if bags_at != "far legs":
        return ""
    return "one leg straight away from the load" if legs % 2 else "an edge toward the load"


def far_legs_text(legs: int, leg_under_load: bool, hung: tuple[tuple[Bag, ...], ...] | None = None) -> str:
    """Which legs the bags at the far legs hang on; with ``hung``, which bag on which."""
    if leg_under_load == (legs % 2 == 0):
        return "on the leg straight away from the load"
    names = [", ".join(bag.id for bag in bags) for bags in hung or () if bags]
    if len(names) == 2:
        return f"on the two legs away from the load, {names[0]} on one and {names[1]} on the other"
    if len(names) == 1:
        return "on one of the two legs away from the load"
    return "on the two legs away from the load, half on each"


def hanging_text(rig: Rig) -> str:
    """Where its bags hang, off the floor, and why there."""
    what = "it" if len(rig.bags) < 2 else "them"
    why = "only what hangs counts, and there it holds against a push from any side"
    if bags_on_far_legs(rig):
        why = "there it holds most against the load, but less against a push from behind"
        turn = turn_text(rig.stand.legs, rig.leg_under_load, rig.bags_at)
        return f"hang {what} {bag_place_text(rig)}, off the floor, legs turned with {turn}: {why}"
    return f"hang {what} {bag_place_text(rig)}, off the floor: {why}"


def balance_text(rig: Rig, verdict: Verdict, units: Units = "metric") -> str:
    """The balance of a boom: what hangs there, what it needs; empty for a stand without an arm."""
    needed = verdict.counterweight_needed_kg
    if needed is None:
        return ""
    at = length(rig.stand.arm_back_m or 0.0, units)
    if not rig.counterweight_on:
        return f"counterweight off, needs {mass(needed, units)} at {at}"
    given = mass(rig.stand.counterweight_kg, units)
    if "balance" not in verdict.faults:
        return f"balanced: counterweight {given} at {at}"
    side = "head" if rig.stand.counterweight_kg < needed else "weight"
    return f"counterweight {given}, needs {mass(needed, units)} at {at}: the {side} side drops"


def balance_remedy(rig: Rig, place: Place, units: Units = "metric") -> str:
    """How to balance a boom, held against the load, the lean and the wind it would then have."""
    if turning_kgm(arm_loads(rig)) < 0:
        return "shorten the back of the arm: it is heavier than the head side"
    at, hung = counterweight_slide_m(rig), mass(rig.stand.counterweight_kg, units)
    other = balanced(rig)
    would = judge(other, place)
    if "load" in would.faults:
        load, most = mass(would.load_kg, units, ".1f"), mass(would.load_max_kg, units)
        if at is not None and rig.stand.load_max_kg >= judge(rig, place).load_kg:
            return f"slide the {hung} in to {length(at, units, '.2f')}"
        return f"use a heavier stand or a shorter arm: balanced, it would carry {load} of {most} allowed"
    needed = mass(other.stand.counterweight_kg, units, ".1f")
    do = f"hang {needed} at {length(rig.stand.arm_back_m or 0.0, units, 'g')}"
    if not is_stable(would):
        if would.bags_needed_kg is None:
            return "use a wider stand or a shorter arm: balanced, it would still tip"
        do += f" and {bags_needed_text(would, units)} of bags {bag_place_text(other)}"
    if "wind" in would.faults:
        do += f"; it then takes gusts to {limit_text(would.wind_limit_ms, units)}"
    if at is not None:
        do += f", or slide the {hung} in to {length(at, units, '.2f')}"
    return do


def tip_remedy(rig: Rig, place: Place, hung: Rig | None, units: Units = "metric") -> str:
    """How to make a stand stand that tips; ``hung`` is the same with the bags it is to have."""
    ways: list[str] = []
    if "balance" in judge(rig, place).faults and _would_do(judge(balanced(rig), place)):
        ways.append("balance the boom first")
    elif hung is not None:
        needed = bags_needed_text(judge(hung, place), units)
        ways.append(f"hang {bag_names(hung.bags, units)} {bag_place_text(hung)} ({needed} needed)")
    elif (other := stable_arrangement(rig, place)) is not None:
        turn = turn_text(other.stand.legs, other.leg_under_load, other.bags_at)
        where = [f"hang its bags {bag_place_text(other)}"] if other.bags_at != rig.bags_at else []
        turned = [f"turn {turn}"] if other.leg_under_load != rig.leg_under_load else []
        ways.append(" and ".join((*where, *turned)))
    low = stable_height_m(rig, place)
    if low is not None:
        ways.append(f"lower it to {length(low, units, '.2f')}")
    return ", or ".join(ways) or _more_or_wider(rig, place, units)


def _would_do(verdict: Verdict) -> bool:
    return is_stable(verdict) and "load" not in verdict.faults


def _more_or_wider(rig: Rig, place: Place, units: Units) -> str:
    """The remedy where no bag at hand and no height of the stand is one."""
    verdict = judge(rig, place)
    if verdict.bags_needed_kg is None or verdict.bags_needed_kg <= verdict.bags_kg:
        return "no bag and no height holds it: lighten it, or take a wider stand"
    return f"bring bags: it needs {bags_needed_text(verdict, units)} in total {bag_place_text(rig)}"


def at_least_text(kilograms: float, units: Units = "metric") -> str:
    """A mass that is needed, to a tenth of what it is said in, never under it."""
    return mass(rounded_up_kg(kilograms, _UNIT_KG[units]), units)


def at_most_text(kilograms: float, units: Units = "metric") -> str:
    """A mass not to be passed, to a tenth of what it is said in, never over it."""
    return mass(rounded_down_kg(kilograms, _UNIT_KG[units]), units)


def bags_needed_text(verdict: Verdict, units: Units = "metric") -> str:
    """What must hang on it in all: ``3.1 kg``, ``0.1 to 2.3 kg`` or ``none enough``."""
    needed, most = verdict.bags_needed_kg, verdict.bags_most_kg
    if needed is None:
        return "none enough"
    if most is None:
        return at_least_text(needed, units)
    return f"{figure(at_least_text(needed, units))} to {at_most_text(most, units)}"


_UNIT_KG: Final[Mapping[Units, float]] = {"metric": 1.0, "imperial": KG_PER_POUND}


def faults_text(rig: Rig, verdict: Verdict, place: Place, units: Units = "metric") -> str:
    """What it lacks to be let go of, in one breath; empty when nothing."""
    parts = []
    if "lean" in verdict.faults:
        parts.append(_lean(verdict, place))
    if "factor" in verdict.faults:
        parts.append(f"what holds it is {verdict.factor or 0:.2f} times what tips it")
    parts += _bags_lacking(rig, verdict, units)
    if "load" in verdict.faults:
        most = mass(verdict.load_max_kg, units)
        parts.append(f"carries {mass(verdict.load_kg, units)}, made for {most}")
    if "balance" in verdict.faults:
        parts.append("out of balance, not to be let go")
    if "wind" in verdict.faults:
        parts.append(f"gust limit {limit_text(verdict.wind_limit_ms, units)}")
    return "; ".join(parts)


def _bags_lacking(rig: Rig, verdict: Verdict, units: Units) -> list[str]:
    """What is wrong with its bags: too few, too heavy, on one leg of two, or of no use there."""
    needed, most, where = verdict.bags_needed_kg, verdict.bags_most_kg, _spot(rig)
    if needed is None:
        return [f"no bag at the {where} is enough: lower it, or turn a leg to the load"]
    if needed > verdict.bags_kg + 0.005:
        return [f"needs {bags_needed_text(verdict, units)} at the {where}"]
    if most is not None and verdict.bags_kg > most:
        heaviest = at_most_text(most, units)
        return [f"no more than {heaviest} helps at the {where}: hang it at the column"]
    if bag_spot(rig).y and not is_stable(verdict):
        return ["its bags pull to one side: hang half on each far leg, or all at the column"]
    return []


def _lean(verdict: Verdict, place: Place) -> str:
    if verdict.lean_deg <= 0:
        return "falls by itself"
    return f"tips at {verdict.lean_deg:.1f}° of lean, {place.tilt_limit_deg:g}° required"


def gust_text(gust_ms: float, units: Units = "metric") -> str:
    """``6.0 m/s, force 4, moderate breeze``."""
    step = beaufort(gust_ms)
    return f"{speed(gust_ms, units)}, force {step.number}, {step.name}"


def wind_actions(limits: Mapping[str, WindLimits], gust_ms: float, units: Units = "metric") -> tuple[str, ...]:
    """What a gust asks for stands and panels, lowest limit first; empty when it asks nothing.

    Past its limit a thing comes down, past 80 % of it a person is on it, past 60 % it is watched.
    """
    asks: list[str] = []
    for name in lowest_limit_first({name: each.limit for name, each in limits.items()}):
        of = limits[name]
        what = f"{name} (limit {limit_text(of.limit, units)})"
        if gust_ms > of.limit:
            asks.append(f"{what} down {'now' if asks else 'first, now'}")
        elif gust_ms > of.act:
            asks.append(f"{what} a person on it, or down")
        elif gust_ms > of.watch:
            asks.append(f"{what} watched")
    return tuple(asks)


_PANEL_FAULTS: Final[Mapping[PanelFault, str]] = {
    "mass": "mass unknown",
    "feet": "feet unknown",
    "lean": "lean",
    "wind": "wind",
}


def panel_state(panel: PanelVerdict) -> str:
    """``ok``, or what is wrong in a word or two."""
    if panel.ok:
        return "ok"
    return "NOT OK: " + ", ".join(_PANEL_FAULTS[fault] for fault in panel.faults)


def panel_limit_text(panel: PanelVerdict, units: Units = "metric") -> str:
    """The gust limit of a panel, or why it has none."""
    if panel.wind is None:
        return "no wind limit: feet or mass unknown" if panel.faults else "lies on the floor"
    return f"gust limit {limit_text(panel.wind.limit, units)}"


def panel_remedy(panel: PanelVerdict, units: Units = "metric") -> str:
    """What to do about a panel that is not to be left as it is; empty where it may be."""
    if "feet" in panel.faults or "mass" in panel.faults:
        missing = [_PANEL_KEYS[fault] for fault in panel.faults if fault in _PANEL_KEYS]
        return f"put a person on it or tie it; measure {' and '.join(missing)} for the kit"
    if "wind" in panel.faults:
        return "take it down, or tie it"
    if "lean" in panel.faults and panel.bags_needed_kg is not None:
        return f"hang {at_least_text(panel.bags_needed_kg, units)} in total on its feet, or lower it"
    return "lower it, or put it on wider feet" if "lean" in panel.faults else ""


_PANEL_KEYS: Final[Mapping[PanelFault, str]] = {"mass": "mass_kg", "feet": "foot_radius_m"}


def panel_lines(panel: PanelVerdict, units: Units = "metric") -> tuple[str, ...]:
    """Everything to know about a panel as it stands, a line for each thing."""
    pushed = ""
    if panel.gust_ms > 0:
        at = length(panel.height_m, units)
        pushed = f"gusts of {speed(panel.gust_ms, units)} push it with {force(panel.wind_push_n, units)}, {at} up"
    tips = f"tips at {panel.lean_deg:.1f}° of lean" if panel.lean_deg is not None else ""
    lines = (panel_remedy(panel, units), tips, pushed, panel_limit_text(panel, units))
    return tuple(line for line in lines if line)
