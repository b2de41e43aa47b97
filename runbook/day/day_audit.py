"""The audits of a day: its hands and hours, and every audit of the program together."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Iterator, Sequence
from typing import Final

from runbook.changeover.audit import audit_changes
from runbook.changeover.steps import Step
from runbook.clock.timetable import DayClock, Run, median_run
from runbook.day.changeovers import Changeovers
from runbook.day.planned_day import day_as_planned, with_call
from runbook.files.lint import audit, mark_meant, worst_first
from runbook.light.audit import audit_light
from runbook.model.day import Plan, Problem
from runbook.model.kit import Measured
from runbook.model.progress import Tell, silent
from runbook.model.units import minutes_text
from runbook.stands.audit import audit_stands
from runbook.stands.lifting import people_over_crew

_WAIT_MIN: Final = 5  # shorter waits for a look are no problem
_LONG_WAIT_MIN: Final = 60
_LESS_S: Final = 60.0  # what a remedy must save at the least


def problems_of(
    plan: Plan, measured: Sequence[Measured] = (), zone: dt.tzinfo = dt.UTC, tell: Tell = silent
) -> tuple[Problem, ...]:
    """Return the problems of every audit, worst first.

    ``measured`` are the day's meter readings so far; ``zone`` says whether the clocks change on the day. ``tell`` is
    called again and again; what it raises stops the work.
    """
    changes = Changeovers(plan)
    problems = (
        *audit(plan),
        *audit_light(plan, measured),
        *audit_stands(plan),
        *audit_changes(plan, _all_steps(changes, tell)),
        *audit_day(plan, changes, zone),
    )
    return worst_first(mark_meant(plan, problems))


def _all_steps(changes: Changeovers, tell: Tell) -> Iterator[tuple[Step, ...]]:
    for change in changes.all:
        tell("the changeovers")
        yield change.steps


def warnings_of(problems: Iterable[Problem], setup_id: str | None) -> tuple[Problem, ...]:
    """Return what stops or warns of a setup, then of the whole day; worst first, as they come."""
    bad = [problem for problem in problems if problem.level in ("stop", "warn")]
    own = [problem for problem in bad if problem.setup is not None and problem.setup == setup_id]
    return (*own, *(problem for problem in bad if problem.setup is None))


def audit_day(plan: Plan, changes: Changeovers | None = None, zone: dt.tzinfo = dt.UTC) -> tuple[Problem, ...]:
    """Return every problem of the day's crew and hours, in the day's order."""
    changes = changes or Changeovers(plan)
    clock = DayClock(dt.datetime.combine(plan.day.date, dt.time(), zone))
    run = median_run(day_as_planned(plan, changes, clock=clock))
    return (
        *_too_few_hands(plan, changes),
        *_late_looks(plan, changes, run, clock),
        *_breaks_that_cut_in(plan, run),
        *_too_long(plan, run.finish_s, clock),
    )


def _too_few_hands(plan: Plan, changes: Changeovers) -> Iterator[Problem]:
    """Yield a warning for each changeover with a step for more people than the crew is.

    Lifts that ``lift_problems`` warns of for the whole day are not repeated here, and what is held
    meanwhile is for the audit of the changeovers.
    """
    crew, warned_of = len(plan.day.crew), people_over_crew(plan)
    for change in changes.all:
        steps = [step for step in change.steps if step.held is None]
        lacking = [step for step in steps if step.hands > max(crew, 1, warned_of.get(step.item, 0))]
        if lacking:
            worst = max(lacking, key=lambda step: step.hands)
            more = f", and {len(lacking) - 1} more like it" if len(lacking) > 1 else ""
            what = f"{worst.hands} people needed, the crew has {crew}: {worst.text} ({worst.why_hands}){more}"
            do = "get help for it, or light it without"
            yield Problem("warn", "too-few-hands", change.goal or change.start, worst.item, what, do)


def _late_looks(plan: Plan, changes: Changeovers, run: Run, clock: DayClock) -> Iterator[Problem]:
    """Yield a problem for each setup that is lit before its look is ready, with what ends the wait."""
    for slot in run.slots:
        look, wait_s = plan.day.look.get(plan.setups[slot.id].look or ""), run.wait_s(slot)
        minutes = round(wait_s / 60)
        if look is None or minutes < _WAIT_MIN:
            continue
        call_s = clock.seconds_of(look.call or plan.day.call)
        earlier = clock.moment(60 * max((call_s - wait_s) // 60, 0)).time()
        then = median_run(day_as_planned(with_call(plan, look.id, earlier), changes, clock=clock))
        if min(then.wait_s(other) for other in then.slots if other.id == slot.id) <= wait_s - _LESS_S:
            do = f"call the talent at {earlier:%H:%M} (call in [[look]] {look.id}), or shoot another look first"
        else:
            do = f"{look.talent or 'the talent'} is on set until then: shoot another look first, or plan a break"
        prep = minutes_text(round(look.prep_min))
        what = f"the look takes {prep}, so the lit set waits {minutes_text(minutes)}"
        yield Problem("warn" if minutes > _LONG_WAIT_MIN else "note", "look-late", slot.id, look.id, what, do)


def _breaks_that_cut_in(plan: Plan, run: Run) -> Iterator[Problem]:
    """Yield a problem for each break that interrupts a setup because no work ends inside its window."""
    windows = {pause.id: f"{pause.earliest:%H:%M} and {pause.latest:%H:%M}" for pause in plan.day.breaks}
    for pause in run.pauses:
        for slot in run.slots:
            if slot.start_s < pause.start_s < slot.changed_s or slot.shoot_at_s < pause.start_s < slot.end_s:
                what = f"as planned it interrupts {slot.id}: nothing ends between {windows[pause.id]}"
                yield Problem("note", "break-cuts-in", slot.id, pause.id, what, "widen its window, or change the order")


def _too_long(plan: Plan, finish_s: float, clock: DayClock) -> Iterator[Problem]:
    over = round((finish_s - clock.seconds_of(plan.day.wrap)) / 60)
    if over > 0:
        what = f"as planned the day ends {minutes_text(over)} after its wrap"
        do = "drop a setup, or call earlier; runbook hours shows what each saves"
        yield Problem("warn", "day-too-long", None, None, what, do)
