"""What is dangerous as it stands now, in a few words each: the first thing anybody must see.

Steps in their order leave nothing like this behind. A step left out, or done elsewhere, can: a
stand that would not stand by itself with nobody holding it, a high load without its bag, a head
that fires and is in nobody's plan.
"""

from __future__ import annotations

from collections.abc import Iterator

from runbook.changeover.floor import Floor
from runbook.changeover.steady import at_moment, must_be_held, off_balance
from runbook.day.day_view import DayView
from runbook.day.standing_now import panels_in_wind, places_planned, worst_rig
from runbook.model.units import mass
from runbook.stands.verdict import Verdict, judge
from runbook.stands.verdict_text import bags_needed_text, panel_remedy


def alarms(session: DayView) -> tuple[str, ...]:
    """The alarms of this moment, stands first; nothing where all is as it should be."""
    return session.once("alarms", lambda: (*_stands(session), *_panels(session), *_armed(session)))


def _stands(session: DayView) -> Iterator[str]:
    """Stands that nobody holds and that somebody must hold, by the rule of the steps.

    Nobody holds a stand for a whole setup: where one stays in hands when all is set, it is told.
    """
    floor, plan, goal = session.state.real_floor, session.plan, session.view.goal
    held = floor.in_hands if session.view.now.left else frozenset()
    place, planned = session.place, places_planned(session)
    for stand in floor.stands:
        moment = at_moment(floor, stand, 0)
        missing = _bags_missing(session, floor, stand)
        # with every bag on that nobody is about to hang, it may be as high as it is
        before = None if missing else floor
        if moment is None or stand in held:
            continue
        if not must_be_held(stand, floor, goal, plan.kit, place, before=before):
            continue
        bags_at = planned.get(stand, "column")
        verdict = judge(worst_rig(plan.kit, place, stand, moment, bags_at), place)
        if off_balance(stand, floor, plan.kit):
            yield f"{stand} WITHOUT ITS COUNTERWEIGHT: hold it, fit the counterweight"
        elif not verdict.ok:
            yield f"{stand} NOT SAFE: {_why(session, verdict)}"
        else:
            yield f"{stand} UP WITHOUT {', '.join(missing)}"


def _panels(session: DayView) -> Iterator[str]:
    """Panels that tip, or that are past their limit in the wind there is."""
    floor = session.state.real_floor
    for verdict in panels_in_wind(session.plan.kit, floor, session.place):
        if {"lean", "wind"} & set(verdict.faults):
            yield f"{verdict.panel} NOT SAFE: {panel_remedy(verdict, session.plan.day.units)}"


def _bags_missing(session: DayView, floor: Floor, stand: str) -> list[str]:
    """The bags a stand is to have, of those that nobody is about to hang."""
    to_come = {step.item for step in session.view.now.left if step.verb == "bag"}
    return sorted(session.view.goal.bags_on("stand", stand) - floor.bags.keys() - to_come)


def _why(session: DayView, verdict: Verdict) -> str:
    units = session.plan.day.units
    needed = verdict.bags_needed_kg
    if "lean" in verdict.faults and needed is not None and needed > verdict.bags_kg:
        return f"bags {mass(verdict.bags_kg, units)}, {bags_needed_text(verdict, units)} wanted"
    if "lean" in verdict.faults:
        return f"{max(verdict.lean_deg, 0.0):.0f}° of lean tip it"
    said = {
        "factor": "too near to tipping",
        "load": "over its load",
        "balance": "out of balance, hold the arm",
        "wind": "too much wind",
    }
    return said[verdict.faults[0]]


def _armed(session: DayView) -> Iterator[str]:
    """Heads that fire and are not in the setup at work."""
    setup, state = session.asked, session.state
    if setup is None or state.wrapping:
        return
    coming_off = {step.item for step in session.view.now.left if step.verb in ("disarm", "free")}
    for head, at in state.real_floor.heads.items():
        if at.armed and head not in setup.light and head not in coming_off:
            where = f" on {at.stand}" if at.stand else ""
            yield f"{head} ARMED{where}, not in this setup"
