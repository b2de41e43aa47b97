"""What every audit finds wrong with a day, together."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from runbook.changeover.audit import audit_changes
from runbook.day.day_audit import audit_day
from runbook.day.planned_day import Changes
from runbook.files.lint import audit, mark_meant, worst_first
from runbook.light.audit import audit_light
from runbook.model.day import Plan
from runbook.model.kit import Measured
from runbook.model.problems import Problem
from runbook.stands.audit import audit_stands


def problems_of(plan: Plan, measured: Sequence[Measured] = ()) -> tuple[Problem, ...]:
    """What every audit finds, worst first. ``measured`` are the day's meter readings so far."""
    of_plan = (*audit(plan), *audit_light(plan, measured), *audit_stands(plan))
    changes = Changes(plan)
    steps = (each.change.steps for each in changes.all)
    found = (*of_plan, *audit_changes(plan, steps), *audit_day(plan, changes))
    return worst_first(mark_meant(plan, found))


def warnings_of(problems: Iterable[Problem], setup_id: str | None) -> tuple[Problem, ...]:
    """What stops or warns of a setup, then of the whole day; worst first, as they come."""
    bad = [problem for problem in problems if problem.level in ("stop", "warn")]
    own = [problem for problem in bad if problem.setup is not None and problem.setup == setup_id]
    return (*own, *(problem for problem in bad if problem.setup is None))
