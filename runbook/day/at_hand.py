"""The steps at hand: which can be done now, and what the others wait for."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Literal, NamedTuple

from runbook.changeover.checks import Check
from runbook.changeover.safe_step import Ground, why_not_now, with_hold
from runbook.changeover.steps import Step
from runbook.day.holds import Hold
from runbook.day.state import DayState, StepKey


class StepLine(NamedTuple):
    """A step of the changeover at hand and how it stands with it."""

    step: Step
    state: Literal["to do", "done", "skipped", "waits", "held"]
    note: str = ""


class AtHand(NamedTuple):
    """Steps still to do, in order, the checks that hold them, and those skipped, with reasons.

    ``ground`` is what they are done on; the steps are in order for it as long as none is skipped.
    """

    todo: tuple[Step, ...]
    holds: tuple[Hold, ...]
    skipped: Mapping[StepKey, str]
    ground: Ground | None = None

    @property
    def left(self) -> tuple[Step, ...]:
        """The steps neither done nor skipped."""
        return tuple(step for step in self.todo if step.key not in self.skipped)

    def is_left(self, step: Step) -> bool:
        """Whether a step is neither done nor skipped."""
        return any(each.key == step.key for each in self.left)

    def line(self, step: Step) -> StepLine:
        """How it stands with a step."""
        reason = self.skipped.get(step.key)
        if reason is not None:
            return StepLine(step, "skipped", reason)
        holding = self.open_holds(step)
        if holding:
            return StepLine(step, "held", holding[0].check.text)
        if self.waits_for(step):
            return StepLine(step, "waits")
        why = self.why_not_now(step)
        if why:
            return StepLine(step, "waits", why)
        return StepLine(self.with_hold(step), "to do")

    def why_not_now(self, step: Step) -> str:
        """Why a step that nothing else waits for must not be done on the floor as it stands."""
        if self.ground is None:
            return ""
        not_lowered = frozenset(
            step.item for step in self.todo if step.key[:2] == ("lower", "stand") and step.key in self.skipped
        )
        return why_not_now(step, self.ground._replace(not_lowered=not_lowered))

    def with_hold(self, step: Step) -> Step:
        """The step with the hold that the floor as it stands asks for."""
        return step if self.ground is None else with_hold(step, self.ground)

    def open_holds(self, step: Step) -> list[Hold]:
        """The open checks that hold a step back."""
        return [hold for hold in self.holds if hold.open and step.key in hold.steps]

    def waits_for(self, step: Step) -> list[Step]:
        """The steps that come first, in order; where one was skipped, those before it instead."""
        numbered = {other.n: other for other in self.todo}
        waiting: set[int] = set()
        ask = list(step.after)
        while ask:
            n = ask.pop()
            other = numbered.get(n)
            if other is None:  # done
                continue
            if other.key in self.skipped:
                ask += other.after
            else:
                waiting.add(n)
        return [numbered[n] for n in sorted(waiting)]

    def check_waits_for(self, check: Check) -> Step | None:
        """The step that must be done before a thing's own check can be true."""
        hold = next((hold for hold in self.holds if hold.check.id == check.id), None)
        if hold is None or not hold.of_thing:
            return None
        waiting = [self.waits_for(step) for step in self.left if step.key in hold.steps]
        return None if not waiting or [] in waiting else waiting[0][0]


def still_asked(todo: tuple[Step, ...], truth: DayState) -> tuple[Step, ...]:
    """The steps without those that only a skipped one would ask for once more.

    A thing that was not moved would else have its bags taken off and hung again for ever, and a set
    that is not as planned would be tested for ever.
    """
    if not any(step.key in truth.steps_skipped for step in todo):
        return todo
    done = {each.step.key for each in truth.done}
    asked = [step for step in todo if step.verb == "test" or step.key not in done]
    left = [step for step in asked if step.key not in truth.steps_skipped and step.verb != "test"]
    if truth.floor.tested and not left:
        asked = [step for step in asked if step.verb != "test"]
    return tuple(asked)
