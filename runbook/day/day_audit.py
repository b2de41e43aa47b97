"""The audits of a day: its hands and hours, and every audit of the program together."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace

from runbook.changeover.audit import audit_changes
from runbook.clock.timetable import Planned, median_day
from runbook.day.head_swaps import HeadSwap, head_swaps
from runbook.day.hours_text import minutes_text
from runbook.day.planned_day import Changeovers, day_as_planned, seconds_of_day
from runbook.files.lint import audit, mark_meant, worst_first
from runbook.light.audit import audit_light
from runbook.model.day import Plan
from runbook.model.kit import Measured
from runbook.model.problems import Level, Problem
from runbook.stands.audit import audit_stands
from runbook.stands.lifting import people_over_crew

_WAIT_MIN = 5  # shorter waits for a look are nobody's problem
_LONG_WAIT_MIN = 60
_LESS_S = 60.0  # what a way out must win at the least
_MOST_TRIED = 3
_NUMBER = {1: "one", 2: "two", 3: "three", 4: "four"}


def audit_day(plan: Plan, changes: Changeovers | None = None) -> tuple[Problem, ...]:
    """Every problem of the day's hands and hours, in the day's order."""
    changes = changes or Changeovers(plan)
    slots, finish = median_day(day_as_planned(plan, changes))
    return (
        *_hands(plan, changes),
        *_looks(plan, changes, slots),
        *_breaks(plan, slots),
        *_finish(plan, finish),
        *(_trade(found) for found in head_swaps(plan)),
    )


def _hands(plan: Plan, changes: Changeovers) -> Iterator[Problem]:
    """Yield a warning for each changeover with a step for more people than the crew is.

    Lifts that ``lift_problems`` warns of for the whole day are not repeated here.
    """
    crew = len(plan.day.crew)
    order = plan.day.order
    warned_of = people_over_crew(plan)
    for start, goal in zip((None, *order), (*order, None), strict=True):
        steps = changes.between(start, goal).change.steps
        # what is held meanwhile is the changeovers' own audit
        lacking = [
            step for step in steps if step.held is None and step.hands > max(crew, 1, warned_of.get(step.item, 0))
        ]
        if not lacking:
            continue
        worst = max(lacking, key=lambda step: step.hands)
        people = _NUMBER.get(worst.hands, str(worst.hands))
        what = f"{people} people needed, the crew is {_NUMBER.get(crew, crew) if crew else 'nobody'}"
        what += f": {worst.text} ({worst.why_hands})"
        if len(lacking) > 1:
            what += f", and {len(lacking) - 1} more steps"
        do = "get help for it, or light it without"
        yield Problem("warn", "too-few-hands", goal or start, worst.item, what, do)


def _looks(plan: Plan, changes: Changeovers, slots: Sequence[Planned]) -> Iterator[Problem]:
    for slot in slots:
        look = plan.setups[slot.id].look
        wait_s = _wait_s(plan, slot)
        minutes = round(wait_s / 60)
        if look is None or look not in plan.day.look or minutes < _WAIT_MIN:
            continue
        prep = plan.day.look[look].prep_min
        what = f"the look takes {minutes_text(round(prep))}, so the lit set waits {minutes_text(minutes)}"
        level: Level = "warn" if minutes > _LONG_WAIT_MIN else "note"
        do = _way_out(plan, changes, slot, wait_s)
        yield Problem(level, "look-late", slot.id, look, what, do)


def _way_out(plan: Plan, changes: Changeovers, slot: Planned, wait_s: float) -> str:
    """Return what ends the wait for a look: a way out is named only if the plan then waits less."""
    setup = plan.setups[slot.id]
    look = plan.day.look[setup.look or ""]
    call_s = seconds_of_day(look.call or plan.day.call)
    # to the minute, and early enough
    earlier = dt.time(*divmod(max(int((call_s - wait_s) // 60), 0), 60))
    called = replace(look, call=earlier)
    looks = tuple(called if each.id == look.id else each for each in plan.day.looks)
    turned = replace(plan, day=replace(plan.day, looks=looks))
    if _wait_then_s(turned, changes, slot.id) <= wait_s - _LESS_S:
        return f"call the talent at {earlier:%H:%M}: call in [[look]] {look.id}; or shoot another look first"
    talent = look.talent or "the talent"
    why = f"{talent} is on set until then, so no earlier call helps"
    for order in _orders_between(plan, slot.id, look.talent):
        if _wait_then_s(plan, changes, slot.id, order) <= wait_s - _LESS_S:
            return f"{why}: shoot {order[order.index(slot.id) - 1]} before it"
    return f"{why}: plan the wait, or a break in it"


def _orders_between(plan: Plan, setup_id: str, talent: str | None) -> Iterator[tuple[str, ...]]:
    """Yield orders with a later setup of somebody else moved to just before this one."""
    order = plan.day.order
    at = order.index(setup_id)
    for other in order[at + 1 : at + 1 + _MOST_TRIED]:
        look = plan.day.look.get(plan.setups[other].look or "")
        passed = order[at : order.index(other)]
        if (look is None or look.talent != talent) and not any(other in plan.setups[each].before for each in passed):
            yield (*order[:at], other, *(each for each in order[at:] if each != other))


def _wait_then_s(plan: Plan, changes: Changeovers, setup_id: str, order: Sequence[str] | None = None) -> float:
    """Return how long the lit set of a setup would wait for its look, in seconds."""
    slots, _ = median_day(day_as_planned(plan, changes, order))
    return _wait_s(plan, next(slot for slot in slots if slot.id == setup_id))


def _wait_s(plan: Plan, slot: Planned) -> float:
    """Return how long the lit set of a setup waits for its look, breaks left out, in seconds."""
    return slot.shoot_at_s - slot.start_s - slot.changeover_s - _paused(plan, slot)


def _paused(plan: Plan, slot: Planned) -> float:
    """The breaks that may lie between a setup's changeover and its shooting, in seconds."""
    return sum(
        60 * each.minutes
        for each in plan.day.breaks
        if seconds_of_day(each.earliest) <= slot.shoot_at_s and slot.start_s < seconds_of_day(each.latest)
    )


def _breaks(plan: Plan, slots: Sequence[Planned]) -> Iterator[Problem]:
    """A break for which no work ends inside its window breaks one off."""
    for each in plan.day.breaks:
        earliest, latest = seconds_of_day(each.earliest), seconds_of_day(each.latest)
        ends = [at for slot in slots for at in (slot.start_s + slot.changeover_s, slot.end_s)]
        cut = next((slot for slot in slots if slot.start_s < latest < slot.end_s), None)
        if cut is None or any(earliest <= at <= latest for at in ends):
            continue
        what = f"by the plan it breaks off {cut.id}: nothing ends between {each.earliest:%H:%M}"
        what += f" and {each.latest:%H:%M}"
        do = "widen its window, or change the order"
        yield Problem("note", "break-cuts-in", cut.id, each.id, what, do)


def _finish(plan: Plan, finish: float) -> Iterator[Problem]:
    over = round((finish - seconds_of_day(plan.day.wrap)) / 60)
    if over <= 0:
        return
    what = f"by the plan the day ends {minutes_text(over)} after its wrap"
    do = "take a setup out, or call earlier; runbook hours says what each would win"
    yield Problem("warn", "day-too-long", None, None, what, do)


def _trade(found: HeadSwap) -> Problem:
    said = ", ".join(f"{head} as {light.role} at {power}" for light, head, power in found.heads)
    what = f"trading like heads saves {found.saves_s:.0f} s of changing: {said}"
    do = "change the heads there, and meter them: like heads are seldom quite alike"
    return Problem("note", "trade-heads", found.setup, found.heads[0][1], what, do)


def problems_of(plan: Plan, measured: Sequence[Measured] = ()) -> tuple[Problem, ...]:
    """What every audit finds, worst first. ``measured`` are the day's meter readings so far."""
    of_plan = (*audit(plan), *audit_light(plan, measured), *audit_stands(plan))
    changes = Changeovers(plan)
    steps = (each.change.steps for each in changes.all)
    found = (*of_plan, *audit_changes(plan, steps), *audit_day(plan, changes))
    return worst_first(mark_meant(plan, found))


def warnings_of(problems: Iterable[Problem], setup_id: str | None) -> tuple[Problem, ...]:
    """What stops or warns of a setup, then of the whole day; worst first, as they come."""
    bad = [problem for problem in problems if problem.level in ("stop", "warn")]
    own = [problem for problem in bad if problem.setup is not None and problem.setup == setup_id]
    return (*own, *(problem for problem in bad if problem.setup is None))
