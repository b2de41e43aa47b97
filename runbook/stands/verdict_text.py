"""Verdicts on stands and panels as text."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from math import ceil, floor
from typing import Final

from runbook.model.day import Place
from runbook.model.kit import Bag, Cloth
from runbook.model.units import KG_PER_POUND, Units, figure, force, length, mass
from runbook.stands.statics import STOP_FACTOR, Rig, bag_spot, bags_on_far_legs, far_leg_bags
from runbook.stands.verdict import PanelFault, PanelVerdict, Verdict, is_stable, judge
from runbook.stands.wind import force_n, limit_text, rail_sail


def at_least_text(kilograms: float, units: Units = "metric") -> str:
    """Return a mass that is needed, rounded up to a tenth."""
    return _rounded_text(kilograms - 1e-7, units, ceil)


def _rounded_text(kilograms: float, units: Units, rounded: Callable[[float], int]) -> str:
    unit_kg = 1.0 if units == "metric" else KG_PER_POUND
    return mass(max(0, rounded(kilograms / unit_kg * 10)) / 10 * unit_kg, units)


def bags_needed_text(verdict: Verdict, units: Units = "metric") -> str:
    """Return the mass that must hang on it in total: ``3.1 kg``, ``0.1 to 2.3 kg`` or ``none enough``."""
    needed, most = verdict.bags_needed_kg, verdict.bags_most_kg
    if needed is None:
        return "none enough"
    least = at_least_text(needed, units)
    return least if most is None else f"{figure(least)} to {_rounded_text(most + 1e-7, units, floor)}"


def bag_names(bags: Sequence[Bag], units: Units = "metric") -> str:
    """Return bags by name: ``B1 (7 kg) and B2 (5 kg)``."""
    *others, last = (f"{bag.id} ({mass(bag.mass_kg, units)})" for bag in bags)
    return f"{', '.join(others)} and {last}" if others else last


def push_text(rig: Rig, place: Place, bagged: Rig | None = None, units: Units = "metric") -> str:
    """Return which push tips a stand, and which one with the bags of ``bagged``."""
    push, text = judge(rig, place).push_n, "falls by itself"
    if push > 0:
        has_box = rig.modifier is not None and not rig.modifier.is_nothing
        where = rig.sail.part if rig.sail else "modifier" if has_box else "head" if rig.head else "top"
        text = f"a push of {force(push, units)} at the {where} tips it"
    if bagged is None or bagged == rig:
        return text
    then = judge(bagged, place).push_n
    added = tuple(bag for bag in bagged.bags if bag not in rig.bags) or bagged.bags
    return f"{text}; with {bag_names(added, units)} {force(then, units) if then > 0 else 'it still falls by itself'}"


def turn_text(legs: int, leg_under_load: bool, bags_at: str) -> str:
    """Return how the legs must be turned for the figures to hold; empty where any turn does."""
    if leg_under_load:
        return "one leg under the load"
    if bags_at != "far legs":
        return ""
    return "one leg straight away from the load" if legs % 2 else "an edge toward the load"


def rig_turn_text(rig: Rig) -> str:
    """Return the same for a stand with its load."""
    return turn_text(rig.stand.legs, rig.leg_under_load, rig.bags_at)


def bag_place_text(rig: Rig) -> str:
    """Return where its bags hang: at the column, or on which legs with which bag on each."""
    if not bags_on_far_legs(rig):
        return "at the column"
    legs = far_leg_bags(rig)
    if len(legs) == 1:
        return "on the leg straight away from the load"
    names = [", ".join(bag.id for bag in bags) for bags in legs if bags]
    if len(names) == 1:
        return "on one of the two legs away from the load"
    where = f"{names[0]} on one and {names[1]} on the other" if names else "half on each"
    return f"on the two legs away from the load, {where}"


def hanging_text(rig: Rig) -> str:
    """Return where to hang its bags, and why there."""
    if not bags_on_far_legs(rig):
        return "hang at the column, off the floor (only a hanging bag counts): holds against a push from any side"
    turn = f"off the floor, legs turned with {rig_turn_text(rig)}"
    return f"hang {bag_place_text(rig)}, {turn}: strongest against the load, weaker against a push from behind"


def balance_text(rig: Rig, verdict: Verdict, units: Units = "metric") -> str:
    """Return the balance of a boom, its counterweight and the one it needs; empty for other stands."""
    needed = verdict.counterweight_needed_kg
    if needed is None:
        return ""
    at = length(rig.stand.arm_back_m or 0.0, units)
    if not rig.counterweight_on:
        return f"counterweight off, needs {mass(needed, units)} at {at}"
    hung = rig.stand.counterweight_kg
    if "balance" not in verdict.faults:
        return f"balanced: counterweight {mass(hung, units)} at {at}"
    drops = f"the {'load' if hung < needed else 'weight'} side drops"
    return f"counterweight {mass(hung, units)}, needs {mass(needed, units)} at {at}: {drops}"


def lean_text(verdict: Verdict | PanelVerdict, place: Place) -> str:
    """Return the lean that tips it against the one required."""
    lean = verdict.lean_deg or 0.0
    return "falls by itself" if lean <= 0 else f"tips at {lean:.1f}° of lean, {place.tilt_limit_deg:g}° required"


def factor_text(verdict: Verdict, required: float) -> str:
    """Return the factor of standing over tipping moments against the one required."""
    return f"safety factor {verdict.factor or 0.0:.2f} against tipping, {required:g} required"


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
        at_most = _rounded_text(most + 1e-7, units, floor)
        return f"bags {mass(verdict.bags_kg, units)}, at most {at_most} {where}: hang at the column"
    if bag_spot(rig).y and not is_stable(verdict):
        return "its bags pull to one side: hang half on each far leg, or all at the column"
    return ""


_PANEL_FAULTS: Final[Mapping[PanelFault, str]] = {"mass": "mass unknown", "feet": "feet unknown"}


def pull_texts(cloth: Cloth, gust_ms: float, units: Units = "metric") -> tuple[str, str]:
    """Return what a gust pulls with at a cloth that hangs from the building, and what to do about it."""
    sail = rail_sail(cloth)
    pull = force(force_n(gust_ms, 2 * sail.area_m2, sail.drag), units)
    return f"the pull at its rail is {pull}", "check its fixing, or take it down"


def panel_state(panel: PanelVerdict) -> str:
    """Return ``ok``, what holds it, or what is wrong in a word or two."""
    held = f"on {panel.held_by}" if panel.on_stand else f"held by {panel.held_by}, no stand"
    wrong = f"NOT OK: {', '.join(_PANEL_FAULTS.get(fault, fault) for fault in panel.faults)}"
    return ", ".join(filter(None, (held if panel.held_by else "", "" if panel.ok else wrong))) or "ok"


def panel_limit_text(panel: PanelVerdict, units: Units = "metric") -> str:
    """Return the gust limit of a panel, or why it has none."""
    if panel.held_by is not None:
        return ""
    if panel.wind is None:
        return "no wind limit: feet or mass unknown" if panel.faults else "lies on the floor"
    return f"gust limit {limit_text(panel.wind.limit, units)}"
