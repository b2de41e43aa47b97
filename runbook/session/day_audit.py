"""What goes wrong with the hours and the hands of a day, before anyone is on the clock."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from runbook.clock.forecast import Planned, planned
from runbook.plan.day import Plan
from runbook.plan.problems import Level, Problem
from runbook.session.ending import span_said
from runbook.session.heads import Trade, trades
from runbook.session.planned_day import Changes, day_as_planned, seconds_of_day

_WAIT_MIN = 5  # shorter waits for a look are nobody's problem
_LONG_WAIT_MIN = 60
_NUMBER = {1: "one", 2: "two", 3: "three", 4: "four"}


def audit_day(plan: Plan, changes: Changes | None = None) -> tuple[Problem, ...]:
    """Every problem of the day's hands and hours, in the day's order."""
    changes = changes or Changes(plan)
    slots, finish = planned(day_as_planned(plan, changes))
    return (
        *_hands(plan, changes),
        *_looks(plan, slots),
        *_breaks(plan, slots),
        *_finish(plan, finish),
        *(_trade(found) for found in trades(plan)),
    )


def _hands(plan: Plan, changes: Changes) -> Iterator[Problem]:
    crew = len(plan.day.crew)
    order = plan.day.order
    for start, goal in zip((None, *order), (*order, None), strict=True):
        steps = changes.between(start, goal).change.steps
        # what is held meanwhile is the changeovers' own audit
        lacking = [step for step in steps if step.hands > max(crew, 1) and step.held is None]
        if not lacking:
            continue
        worst = max(lacking, key=lambda step: step.hands)
        people = _NUMBER.get(worst.hands, str(worst.hands))
        what = (
            f"{people} people needed, the crew is {_NUMBER.get(crew, crew) if crew else 'nobody'}"
        )
        what += f": {worst.text} ({worst.why_hands})"
        if len(lacking) > 1:
            what += f", and {len(lacking) - 1} more steps"
        do = "get help for it, or light it without"
        yield Problem("warn", "too-few-hands", goal or start, worst.item, what, do)


def _looks(plan: Plan, slots: Sequence[Planned]) -> Iterator[Problem]:
    for slot in slots:
        look = plan.setups[slot.id].look
        wait = slot.shoot_at_s - slot.start_s - slot.changeover_s - _paused(plan, slot)
        minutes = round(wait / 60)
        if look is None or look not in plan.day.look or minutes < _WAIT_MIN:
            continue
        prep = plan.day.look[look].prep_min
        what = f"the look takes {span_said(round(prep))}, so the lit set waits {span_said(minutes)}"
        do = f"call the talent {span_said(minutes)} earlier, or shoot another look first"
        level: Level = "warn" if minutes > _LONG_WAIT_MIN else "note"
        yield Problem(level, "look-late", slot.id, look, what, do)


def _paused(plan: Plan, slot: Planned) -> float:
    """The breaks that may lie between a setup's changeover and its shooting, in seconds."""
    return sum(
        60 * each.minutes
        for each in plan.day.breaks
        if seconds_of_day(each.earliest) <= slot.shoot_at_s
        and slot.start_s < seconds_of_day(each.latest)
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
    what = f"by the plan the day ends {span_said(over)} after its wrap"
    do = "take a setup out, or call earlier; runbook hours says what each would win"
    yield Problem("warn", "day-too-long", None, None, what, do)


def _trade(found: Trade) -> Problem:
    said = ", ".join(f"{head} as {light.role} at {power}" for light, head, power in found.heads)
    what = f"trading like heads saves {found.saves_s:.0f} s of changing: {said}"
    do = "change the heads there, and meter them: like heads are seldom quite alike"
    return Problem("note", "trade-heads", found.setup, found.heads[0][1], what, do)
