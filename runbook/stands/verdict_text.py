"""Verdicts on stands and panels, and their remedies, as text."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Final

from runbook.model.day import Place
from runbook.model.kit import Bag
from runbook.model.units import KG_PER_POUND, Units, figure, force, length, mass, speed
from runbook.stands.remedy import balanced, counterweight_slide_m, stable_arrangement, stable_height_m
from runbook.stands.rig import Rig, arm_loads, bag_spot, bags_on_far_legs, far_leg_bags, turning_kgm
from runbook.stands.stability import STOP_FACTOR, rounded_down_kg, rounded_up_kg
from runbook.stands.verdict import PanelFault, PanelVerdict, Verdict, is_stable, judge
from runbook.stands.wind import WindLimits, beaufort, limit_text

_UNIT_KG: Final[Mapping[Units, float]] = {"metric": 1.0, "imperial": KG_PER_POUND}


def at_least_text(kilograms: float, units: Units = "metric") -> str:
    """Return a mass that is needed, rounded up to a tenth."""
    return mass(rounded_up_kg(kilograms, _UNIT_KG[units]), units)


def bags_needed_text(verdict: Verdict, units: Units = "metric") -> str:
    """Return the mass that must hang on it in total: ``3.1 kg``, ``0.1 to 2.3 kg`` or ``none enough``."""
    needed, most = verdict.bags_needed_kg, verdict.bags_most_kg
    if needed is None:
        return "none enough"
    if most is None:
        return at_least_text(needed, units)
    return f"{figure(at_least_text(needed, units))} to {_at_most_text(most, units)}"


def _at_most_text(kilograms: float, units: Units) -> str:
    return mass(rounded_down_kg(kilograms, _UNIT_KG[units]), units)


def bag_names(bags: Sequence[Bag], units: Units = "metric") -> str:
    """Return bags by name: ``B1 (7 kg) and B2 (5 kg)``."""
    names = [f"{bag.id} ({mass(bag.mass_kg, units)})" for bag in bags]
    return " and ".join((", ".join(names[:-1]), names[-1]) if len(names) > 1 else names)


def push_text(rig: Rig, place: Place, bagged: Rig | None = None, units: Units = "metric") -> str:
    """Return which push tips a stand, and which one with the bags of ``bagged``."""
    push = judge(rig, place).push_n
    if push <= 0:
        text = "falls by itself"
    else:
        has_box = rig.modifier is not None and not rig.modifier.is_nothing
        text = (
            f"a push of {force(push, units)} at the {'modifier' if has_box else 'head' if rig.head else 'top'} tips it"
        )
    if bagged is None or bagged == rig:
        return text
    added = tuple(bag for bag in bagged.bags if bag not in rig.bags) or bagged.bags
    then = judge(bagged, place).push_n
    names = bag_names(added, units)
    return f"{text}; with {names} {force(then, units) if then > 0 else 'it still falls by itself'}"


def bag_place_text(rig: Rig) -> str:
    """Return where its bags hang: at the column, or on which legs with which bag on each."""
    if not bags_on_far_legs(rig):
        return "at the column"
    return far_legs_text(rig.stand.legs, rig.leg_under_load, far_leg_bags(rig))


def turn_text(legs: int, leg_under_load: bool, bags_at: str) -> str:
    """Return how the legs must be turned for the figures to hold; empty where any turn does."""
    if leg_under_load:
        return "one leg under the load"
    if bags_at != "far legs":
        return ""
    return "one leg straight away from the load" if legs % 2 else "an edge toward the load"


def far_legs_text(legs: int, leg_under_load: bool, hung: tuple[tuple[Bag, ...], ...] | None = None) -> str:
    """Return which legs the bags at the far legs hang on; with ``hung``, which bag on which."""
    if leg_under_load == (legs % 2 == 0):
        return "on the leg straight away from the load"
    names = [", ".join(bag.id for bag in bags) for bags in hung or () if bags]
    if len(names) == 2:
        return f"on the two legs away from the load, {names[0]} on one and {names[1]} on the other"
    if len(names) == 1:
        return "on one of the two legs away from the load"
    return "on the two legs away from the load, half on each"


def hanging_text(rig: Rig) -> str:
    """Return where to hang its bags, and why there."""
    if not bags_on_far_legs(rig):
        return "hang at the column, off the floor (only a hanging bag counts): holds against a push from any side"
    turn = turn_text(rig.stand.legs, rig.leg_under_load, rig.bags_at)
    return (
        f"hang {bag_place_text(rig)}, off the floor, legs turned with {turn}: "
        "strongest against the load, weaker against a push from behind"
    )


def balance_text(rig: Rig, verdict: Verdict, units: Units = "metric") -> str:
    """Return the balance of a boom, its counterweight and the one it needs; empty for other stands."""
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
    """Return how to balance a boom, held against the load, the lean and the wind it would then have."""
    if turning_kgm(arm_loads(rig)) < 0:
        return "shorten the back of the arm: it is heavier than the head side"
    other, slide_m = balanced(rig), counterweight_slide_m(rig)
    slide = ""
    if slide_m is not None:
        slide = f"slide the {mass(rig.stand.counterweight_kg, units)} in to {length(slide_m, units, '.2f')}"
    would = judge(other, place)
    if "load" in would.faults:
        if slide and "load" not in judge(rig, place).faults:
            return slide
        load, most = mass(would.load_kg, units, ".1f"), mass(would.load_max_kg, units)
        return f"use a heavier stand or a shorter arm: balanced, it would carry {load} of {most} allowed"
    needed = mass(other.stand.counterweight_kg, units, ".1f")
    do = f"hang {needed} at {length(rig.stand.arm_back_m or 0.0, units, 'g')}"
    if not is_stable(would):
        if would.bags_needed_kg is None:
            return "use a wider stand or a shorter arm: balanced, it would still tip"
        do += f" and {bags_needed_text(would, units)} of bags {bag_place_text(other)}"
    if "wind" in would.faults:
        do += f"; it then takes gusts to {limit_text(would.wind_limit_ms, units)}"
    return f"{do}, or {slide}" if slide else do


def tip_remedy(rig: Rig, place: Place, bagged: Rig | None, units: Units = "metric") -> str:
    """Return how to make a stand stand that tips; ``bagged`` is the same with the bags it is to have."""
    verdict, ways = judge(rig, place), []
    if "balance" in verdict.faults and _is_sound(judge(balanced(rig), place)):
        ways.append("balance the boom first")
    elif bagged is not None:
        needed = bags_needed_text(judge(bagged, place), units)
        ways.append(f"hang {bag_names(bagged.bags, units)} {bag_place_text(bagged)} ({needed} needed)")
    elif (other := stable_arrangement(rig, place)) is not None:
        turn = turn_text(other.stand.legs, other.leg_under_load, other.bags_at)
        where = [f"hang its bags {bag_place_text(other)}"] if other.bags_at != rig.bags_at else []
        turned = [f"turn it with {turn}"] if other.leg_under_load != rig.leg_under_load else []
        ways.append(" and ".join((*where, *turned)))
    low = stable_height_m(rig, place)
    if low is not None:
        ways.append(f"lower it to {length(low, units, '.2f')}")
    if ways:
        return ", or ".join(ways)
    if verdict.bags_needed_kg is None or verdict.bags_needed_kg <= verdict.bags_kg:
        return "no bag and no height holds it: lighten it, or use a wider stand"
    return f"bring bags: it needs {bags_needed_text(verdict, units)} in total {bag_place_text(rig)}"


def _is_sound(verdict: Verdict) -> bool:
    return is_stable(verdict) and "load" not in verdict.faults


def lean_text(verdict: Verdict | PanelVerdict, place: Place) -> str:
    """Return the lean that tips it against the one required."""
    lean = verdict.lean_deg or 0.0
    return "falls by itself" if lean <= 0 else f"tips at {lean:.1f}° of lean, {place.tilt_limit_deg:g}° required"


def factor_text(verdict: Verdict, required: float) -> str:
    """Return the factor of standing over tipping moments against the one required."""
    return f"what holds it is {verdict.factor or 0.0:.2f} times what tips it, {required:g} required"


def load_text(verdict: Verdict, units: Units = "metric") -> str:
    """Return the load against the one allowed."""
    return f"carries {mass(verdict.load_kg, units, '.1f')} of {mass(verdict.load_max_kg, units, 'g')} allowed"


def faults_text(rig: Rig, verdict: Verdict, place: Place, units: Units = "metric") -> str:
    """Return everything that is wrong with a stand, in one line; empty when nothing is."""
    texts = {
        "lean": lean_text(verdict, place),
        "factor": factor_text(verdict, STOP_FACTOR),
        "bags": _bag_fault_text(rig, verdict, units),
        "load": load_text(verdict, units),
        "balance": "out of balance: hold the arm",
        "wind": f"gust limit {limit_text(verdict.wind_limit_ms, units)}",
    }
    return "; ".join(text for fault, text in texts.items() if text and fault in ("bags", *verdict.faults))


def _bag_fault_text(rig: Rig, verdict: Verdict, units: Units) -> str:
    """Return what is wrong with its bags: too few, too heavy, on one leg of two, or of no use there."""
    needed, most = verdict.bags_needed_kg, verdict.bags_most_kg
    where = "at the column" if rig.bags_at == "column" else "at the far legs"
    if needed is None:
        return f"no bag {where} is enough: lower it, or turn a leg to the load"
    if needed > verdict.bags_kg + 0.005:
        return f"bags {mass(verdict.bags_kg, units)}, {bags_needed_text(verdict, units)} needed {where}"
    if most is not None and verdict.bags_kg > most:
        return f"bags {mass(verdict.bags_kg, units)}, at most {_at_most_text(most, units)} {where}: hang at the column"
    if bag_spot(rig).y and not is_stable(verdict):
        return "its bags pull to one side: hang half on each far leg, or all at the column"
    return ""


def gust_text(gust_ms: float, units: Units = "metric") -> str:
    """Return a gust with its Beaufort step: ``6.0 m/s, force 4, moderate breeze``."""
    step = beaufort(gust_ms)
    return f"{speed(gust_ms, units)}, force {step.number}, {step.name}"


def wind_actions(limits: Mapping[str, WindLimits], gust_ms: float, units: Units = "metric") -> tuple[str, ...]:
    """Return what a gust asks for stands and panels, lowest limit first; empty when it asks nothing.

    Past its limit a thing comes down, past 80 % of it a person is on it, past 60 % it is watched.
    """
    actions: list[str] = []
    for name, of in sorted(limits.items(), key=lambda item: (item[1].limit, item[0])):
        text = f"{name} (limit {limit_text(of.limit, units)}):"
        if gust_ms > of.limit:
            actions.append(f"{text} take it down {'now' if actions else 'first, now'}")
        elif gust_ms > of.act:
            actions.append(f"{text} put a person on it, or take it down")
        elif gust_ms > of.watch:
            actions.append(f"{text} watch it")
    return tuple(actions)


_PANEL_FAULTS: Final[Mapping[PanelFault, str]] = {
    "mass": "mass unknown",
    "feet": "feet unknown",
    "lean": "lean",
    "wind": "wind",
}
_PANEL_KEYS: Final[Mapping[PanelFault, str]] = {"mass": "mass_kg", "feet": "foot_radius_m"}


def panel_state(panel: PanelVerdict) -> str:
    """Return ``ok``, or what is wrong in a word or two."""
    return "ok" if panel.ok else f"NOT OK: {', '.join(_PANEL_FAULTS[fault] for fault in panel.faults)}"


def panel_limit_text(panel: PanelVerdict, units: Units = "metric") -> str:
    """Return the gust limit of a panel, or why it has none."""
    if panel.wind is None:
        return "no wind limit: feet or mass unknown" if panel.faults else "lies on the floor"
    return f"gust limit {limit_text(panel.wind.limit, units)}"


def panel_remedy(panel: PanelVerdict, units: Units = "metric") -> str:
    """Return what to do about a panel that is not ok; empty for one that is."""
    missing = [_PANEL_KEYS[fault] for fault in panel.faults if fault in _PANEL_KEYS]
    if missing:
        return f"put a person on it or tie it; measure {' and '.join(missing)} for the kit"
    if "wind" in panel.faults:
        return "take it down, or tie it"
    if "lean" not in panel.faults:
        return ""
    if panel.bags_needed_kg is None:
        return "lower it, or put it on wider feet"
    return f"hang {at_least_text(panel.bags_needed_kg, units)} in total on its feet, or lower it"


def panel_lines(panel: PanelVerdict, units: Units = "metric") -> tuple[str, ...]:
    """Return everything to know about a panel as it stands, a line for each thing."""
    pushed = ""
    if panel.gust_ms > 0:
        at = length(panel.height_m, units)
        pushed = f"gusts of {speed(panel.gust_ms, units)} push it with {force(panel.wind_push_n, units)} at {at}"
    tips = f"tips at {panel.lean_deg:.1f}° of lean" if panel.lean_deg is not None else ""
    return tuple(line for line in (panel_remedy(panel, units), tips, pushed, panel_limit_text(panel, units)) if line)
