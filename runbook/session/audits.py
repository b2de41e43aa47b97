"""What every audit finds wrong with a day, together."""

from __future__ import annotations

from collections.abc import Sequence

from runbook.change.audit import audit_changes
from runbook.light.audit import audit_light
from runbook.plan.audit import audit, worst_first
from runbook.plan.day import Plan
from runbook.plan.kit import Measured
from runbook.plan.problems import Problem
from runbook.session.day_audit import audit_day
from runbook.session.planned_day import Changes
from runbook.stand.audit import audit_stands


def problems_of(plan: Plan, measured: Sequence[Measured] = ()) -> tuple[Problem, ...]:
    """What every audit finds, worst first. ``measured`` are the day's meter readings so far."""
    of_plan = (*audit(plan), *audit_light(plan, measured), *audit_stands(plan))
    changes = Changes(plan)
    steps = (each.change.steps for each in changes.all)
    return worst_first((*of_plan, *audit_changes(plan, steps), *audit_day(plan, changes)))
