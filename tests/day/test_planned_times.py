"""Every step has its time by the clock, breaks counted."""

from dataclasses import replace
from datetime import UTC, time
from itertools import pairwise

from runbook.day.changeovers import Changeovers
from runbook.day.planned_times import planned_times
from tests.day.days import demo, short
from tests.day.plans import with_day


def test_steps_follow_each_other_through_the_day_up_to_its_end() -> None:
    times, changes = planned_times(Changeovers(demo()), UTC), [*Changeovers(demo()).all]
    ends = [times.step_s(start, change.total_s) for start, change in zip(times.change_starts_s, changes, strict=True)]
    assert all(end <= start for end, start in pairwise(sorted((*ends, *times.change_starts_s))))
    for slot, end in zip(times.run.slots, ends, strict=False):
        assert end <= slot.shoot_at_s
    assert ends[-1] + 60 * demo().day.wrap_min == times.run.finish_s


def test_a_break_that_cuts_into_a_changeover_delays_the_steps_after_it() -> None:
    plan = short("keeper-window", "keeper-lamp")
    (meal,) = plan.day.breaks
    early = replace(meal, earliest=time(9, 6), latest=time(9, 7))  # the lamp is changed to from 9:05 on
    times = planned_times(Changeovers(with_day(plan, breaks=(early,))), UTC)
    start_s = times.change_starts_s[1]
    assert [times.clock.short(times.step_s(start_s, s)) for s in (0, 60, 180)] == ["09:05", "09:06", "09:53"]
