"""What is believed of each kind of work, from timings of it where there are any.

A kind is a verb, what it is done to, and how many people do it together: ``fit head``,
``raise boom by two``.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final, NamedTuple

from runbook.changeover.durations import default_seconds
from runbook.changeover.steps import Step
from runbook.changeover.telling import seconds_of
from runbook.clock.estimates import DAY_SPREAD, Belief, estimate, learned, planned_s
from runbook.model.kit import Kit

SHOOTING: Final = "shooting"
# What a photographer's own minutes for a setup, or an artist's for a look, are off by: s.d. of ln.
PLANNED_SPREAD: Final = 0.25
# From one time to the next: the estimate, worth one timing, is as unsure again, and both together
# have the 80 % interval of PLANNED_SPREAD.
_SPREAD: Final = 0.187


class Known(NamedTuple):
    """Timings in seconds by kind; of shooting, in shares of what was planned.

    ``days`` is how many journals they come from, ``day_sd`` how days differ in pace.
    """

    timings: Mapping[str, tuple[float, ...]] = {}
    days: int = 0
    day_sd: float = DAY_SPREAD

    @property
    def stands_on(self) -> int:
        """How many timings of steps there are."""
        return sum(len(each) for kind, each in self.timings.items() if kind != SHOOTING)

    def belief(self, kind: str, usual_s: float) -> Belief:
        """What is believed of a kind of step whose estimate is so many seconds."""
        return learned(estimate(usual_s), self.timings.get(kind, ()))

    @property
    def shooting(self) -> Belief:
        """What is believed of shooting against what was planned for it: around 1."""
        return learned(estimate(1.0, spread=_SPREAD), self.timings.get(SHOOTING, ()))

    @property
    def preparing(self) -> Belief:
        """What is believed of a look's preparation against what was planned for it."""
        return estimate(1.0, spread=_SPREAD)

    def seconds(self, step: Step, kit: Kit) -> float:
        """The seconds to plan a step with: on a 5 s grid where it was timed, else the estimate."""
        usual = seconds_of(step, kit)
        kind = kind_of(step, kit)
        return planned_s(self.belief(kind, usual).median_s) if kind in self.timings else usual

    def with_timings(self, more: Mapping[str, tuple[float, ...]]) -> Known:
        """These and more timings."""
        kinds = self.timings.keys() | more.keys()
        both = {kind: (*self.timings.get(kind, ()), *more.get(kind, ())) for kind in kinds}
        return self._replace(timings=both)


NOTHING: Final = Known()


def kind_of(step: Step, kit: Kit) -> str:
    """The kind of work a step is, as timings are kept."""
    what = "boom" if step.kind == "stand" and kit.stand[step.item].is_boom else step.kind
    by = {1: "", 2: " by two", 3: " by three"}.get(step.hands, f" by {step.hands}")
    return f"{step.verb} {what}{by}"


def usual_s(kind: str) -> float:
    """The estimate of a kind. Raises KeyError for a kind this program does not know."""
    verb, what, *_ = kind.split()
    return default_seconds(verb, what)
