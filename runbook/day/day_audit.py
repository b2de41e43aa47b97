"""The audits of a day: its hands and hours, and every audit of the program together."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace
from itertools import pairwise
from typing import Final

from runbook.changeover.audit import audit_changes
from runbook.clock.timetable import Planned, median_day
from runbook.day.head_swaps import HeadSwap, head_swaps
from runbook.day.hours_text import minutes_text
from runbook.day.planned_day import Changeovers, day_as_planned
from runbook.day.timeline import DayClock
from runbook.files.lint import audit, mark_meant, worst_first
from runbook.light.audit import audit_light
from runbook.model.day import Plan
from runbook.model.kit import Measured
from runbook.model.problems import Level, Problem
from runbook.stands.audit import audit_stands
from runbook.stands.lifting import people_over_crew

_WAIT_MIN: Final = 5  # shorter waits for a look are no problem
_LONG_WAIT_MIN: Final = 60
_LESS_S: Final = 60.0  # what a remedy must save at the least
_MOST_TRIED: Final = 3
_NUMBERS: Final = {1: "one", 2: "two", 3: "three", 4: "four"}


def problems_of(plan: Plan, measured: Sequence[Measured] = (), zone: dt.tzinfo = dt.UTC) -> tuple[Problem, ...]:
    """Return the problems of every audit, worst first.

    ``measured`` are the day's meter readings so far; ``zone`` says whether the clocks change on the day.
    """
    changes = Changeovers(plan)
    problems = (
        *audit(plan),
        *audit_light(plan, measured),
        *audit_stands(plan),
        *audit_changes(plan, (planned.change.steps for planned in changes.all)),
        *audit_day(plan, changes, zone),
    )
    return worst_first(mark_meant(plan, problems))


def warnings_of(problems: Iterable[Problem], setup_id: str | None) -> tuple[Problem, ...]:
    """Return what stops or warns of a setup, then of the whole day; worst first, as they come."""
    bad = [problem for problem in problems if problem.level in ("stop", "warn")]
    own = [problem for problem in bad if problem.setup is not None and problem.setup == setup_id]
    return (*own, *(problem for problem in bad if problem.setup is None))


def audit_day(plan: Plan, changes: Changeovers | None = None, zone: dt.tzinfo = dt.UTC) -> tuple[Problem, ...]:
    """Return every problem of the day's crew and hours, in the day's order."""
    changes = changes or Changeovers(plan)
    clock = DayClock(dt.datetime.combine(plan.day.date, dt.time(), zone))
    slots, finish_s = median_day(day_as_planned(plan, changes, seconds_of=clock.seconds_of))
    return (
        *_too_few_hands(plan, changes),
        *_late_looks(plan, changes, slots, clock),
        *_breaks_that_cut_in(plan, slots, clock),
        *_too_long(plan, finish_s, clock),
        *map(_swap_problem, head_swaps(plan)),
    )


def _too_few_hands(plan: Plan, changes: Changeovers) -> Iterator[Problem]:
    """Yield a warning for each changeover with a step for more people than the crew is.

    Lifts that ``lift_problems`` warns of for the whole day are not repeated here.
    """
    crew = len(plan.day.crew)
    warned_of = people_over_crew(plan)
    for start, goal in pairwise((None, *plan.day.order, None)):
        steps = changes.between(start, goal).change.steps
        # what is held meanwhile is for the audit of the changeovers
        lacking = [
            step for step in steps if step.held is None and step.hands > max(crew, 1, warned_of.get(step.item, 0))
        ]
        if not lacking:
            continue
        worst = max(lacking, key=lambda step: step.hands)
        people = _NUMBERS.get(worst.hands, str(worst.hands))
        what = f"{people} people needed, the crew is {_NUMBERS.get(crew, crew) if crew else 'nobody'}"
        what += f": {worst.text} ({worst.why_hands})"
        if len(lacking) > 1:
            what += f", and {len(lacking) - 1} more steps"
        yield Problem("warn", "too-few-hands", goal or start, worst.item, what, "get help for it, or light it without")


def _late_looks(plan: Plan, changes: Changeovers, slots: Sequence[Planned], clock: DayClock) -> Iterator[Problem]:
    for slot in slots:
        look = plan.setups[slot.id].look
        wait_s = _wait_s(plan, slot, clock)
        minutes = round(wait_s / 60)
        if look is None or look not in plan.day.look or minutes < _WAIT_MIN:
            continue
        prep = minutes_text(round(plan.day.look[look].prep_min))
        what = f"the look takes {prep}, so the lit set waits {minutes_text(minutes)}"
        level: Level = "warn" if minutes > _LONG_WAIT_MIN else "note"
        yield Problem(level, "look-late", slot.id, look, what, _remedy(plan, changes, slot, wait_s, clock))


def _remedy(plan: Plan, changes: Changeovers, slot: Planned, wait_s: float, clock: DayClock) -> str:
    """Return what ends the wait for a look; a remedy is named only if the plan then waits less."""
    look = plan.day.look[plan.setups[slot.id].look or ""]
    call_s = clock.seconds_of(look.call or plan.day.call)
    earlier = clock.moment(60 * max((call_s - wait_s) // 60, 0)).time()
    looks = tuple(replace(other, call=earlier) if other.id == look.id else other for other in plan.day.looks)
    called = replace(plan, day=replace(plan.day, looks=looks))
    if _wait_then_s(called, changes, slot.id, clock) <= wait_s - _LESS_S:
        return f"call the talent at {earlier:%H:%M}: call in [[look]] {look.id}; or shoot another look first"
    why = f"{look.talent or 'the talent'} is on set until then, so no earlier call helps"
    for order in _orders_between(plan, slot.id, look.talent):
        if _wait_then_s(plan, changes, slot.id, clock, order) <= wait_s - _LESS_S:
            return f"{why}: shoot {order[order.index(slot.id) - 1]} before it"
    return f"{why}: plan the wait, or a break in it"


def _orders_between(plan: Plan, setup_id: str, talent: str | None) -> Iterator[tuple[str, ...]]:
    """Yield orders with a later setup of somebody else moved to just before this one."""
    order = plan.day.order
    at = order.index(setup_id)
    for other in order[at + 1 : at + 1 + _MOST_TRIED]:
        look = plan.day.look.get(plan.setups[other].look or "")
        passed = order[at : order.index(other)]
        if (look is None or look.talent != talent) and not any(other in plan.setups[name].before for name in passed):
            yield (*order[:at], other, *(name for name in order[at:] if name != other))


def _wait_then_s(
    plan: Plan, changes: Changeovers, setup_id: str, clock: DayClock, order: Sequence[str] | None = None
) -> float:
    """Return how long the lit set of a setup would wait for its look, in seconds."""
    slots, _ = median_day(day_as_planned(plan, changes, order, clock.seconds_of))
    return _wait_s(plan, next(slot for slot in slots if slot.id == setup_id), clock)


def _wait_s(plan: Plan, slot: Planned, clock: DayClock) -> float:
    """Return how long the lit set of a setup waits for its look in seconds, without breaks that may lie in between."""
    breaks_s = sum(
        60 * pause.minutes
        for pause in plan.day.breaks
        if clock.seconds_of(pause.earliest) <= slot.shoot_at_s and slot.start_s < clock.seconds_of(pause.latest)
    )
    return slot.shoot_at_s - slot.start_s - slot.changeover_s - breaks_s


def _breaks_that_cut_in(plan: Plan, slots: Sequence[Planned], clock: DayClock) -> Iterator[Problem]:
    """Yield a problem for each break that cuts into a setup because no work ends inside its window."""
    ends = [at for slot in slots for at in (slot.start_s + slot.changeover_s, slot.end_s)]
    for pause in plan.day.breaks:
        earliest, latest = clock.seconds_of(pause.earliest), clock.seconds_of(pause.latest)
        cut = next((slot for slot in slots if slot.start_s < latest < slot.end_s), None)
        if cut is None or any(earliest <= at <= latest for at in ends):
            continue
        window = f"{pause.earliest:%H:%M} and {pause.latest:%H:%M}"
        what = f"as planned it interrupts {cut.id}: nothing ends between {window}"
        yield Problem("note", "break-cuts-in", cut.id, pause.id, what, "widen its window, or change the order")


def _too_long(plan: Plan, finish_s: float, clock: DayClock) -> Iterator[Problem]:
    over = round((finish_s - clock.seconds_of(plan.day.wrap)) / 60)
    if over > 0:
        what = f"as planned the day ends {minutes_text(over)} after its wrap"
        do = "drop a setup, or call earlier; runbook hours shows what each saves"
        yield Problem("warn", "day-too-long", None, None, what, do)


def _swap_problem(swap: HeadSwap) -> Problem:
    heads = ", ".join(f"{head} as {light.role} at {power}" for light, head, power in swap.heads)
    what = f"swapping alike heads saves {swap.saves_s:.0f} s of changing: {heads}"
    do = "swap them in this setup and meter them: alike heads are seldom quite alike"
    return Problem("note", "trade-heads", swap.setup, swap.heads[0][1], what, do)
