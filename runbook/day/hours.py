"""The day's clock: the day as planned, as it goes, and when it will end, with what that costs.

Times of day are seconds from the midnight of the shoot day; past the next midnight they go on.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import asdict, dataclass, replace
from functools import partial
from itertools import pairwise
from typing import Any, Final, Literal

from runbook.clock.forecast import Forecast, Saving, SetupTimes, Spread, forecast, savings
from runbook.clock.order import never
from runbook.clock.timetable import Planned, median_day
from runbook.day.order_proposal import SoonerOrder
from runbook.day.planned_day import Changeovers, check_stop, day_as_planned, overtime_of
from runbook.day.remaining_day import Moment, day_from_now
from runbook.day.timeline import DayClock, Span, day_clock

DRAWS: Final = 2_000
_SEED: Final = 1  # the same day gives the same forecast
Tell = Callable[[str], None]
RowState = Literal["done", "now", "to come"]


@dataclass(frozen=True, slots=True)
class Row:
    """A setup of the day, or one shot twice: as planned in the morning, and as it is or will be.

    ``end_s`` is real once it is done, else the middle of the forecast with its spread in ``ends``.
    """

    id: str
    state: RowState
    plan: Planned | None
    start_s: float
    changeover_s: float
    shoot_at_s: float
    shoot_s: float
    end_s: float
    ends: Spread | None = None

    @property
    def late_s(self) -> float:
        """How much later than planned it ends; below zero, earlier."""
        return 0.0 if self.plan is None else self.end_s - self.plan.end_s


@dataclass(frozen=True, slots=True)
class Hours:
    """The day's clock. ``struck`` once nothing is left; then ``finish`` is when all is packed.

    ``packing_s`` is the packing after the strike. ``over_chance`` and ``expected_cost`` are of overtime. ``timings`` is
    the number of timed steps behind the forecast, ``days`` the number of journals they come from.
    """

    clock: DayClock
    rows: tuple[Row, ...]
    now_s: float
    call_s: float
    wrap_s: float
    plan_finish_s: float
    finish: Spread
    over_chance: float
    expected_cost: float
    timings: int
    days: int
    entries: int
    begun: bool
    struck: bool
    packing_s: float = 0.0
    savings: tuple[Saving, ...] = ()
    sooner: SoonerOrder | None = None


def hours_of(
    moment: Moment,
    changes: Changeovers,
    *,
    draws: int = DRAWS,
    ways_back: bool = False,
    should_stop: Callable[[], bool] = never,
    tell: Tell = lambda _: None,
) -> Hours:
    """Return the day's clock at a moment; ``ways_back`` also works out what dropping each setup saves.

    ``tell`` is called with what is being worked on. Raises Stopped when ``should_stop`` returns true.
    """
    plan, stop = moment.plan, partial(check_stop, should_stop)
    stops = (None, *plan.day.order, None)
    for n, (start, goal) in enumerate(pairwise(stops), 1):
        stop()
        tell(f"changeover {n} of {len(stops) - 1}")
        changes.between(start, goal)
    clock = day_clock(plan.day, moment.now)
    slots, plan_finish_s = median_day(day_as_planned(plan, changes, None, clock.seconds_of))
    tell("the rest of the day")
    to_come = day_from_now(moment, changes, bridges=ways_back)
    tell("the forecast")
    expected = forecast(to_come, _SEED, draws, stop)
    saved: tuple[Saving, ...] = ()
    if ways_back and to_come.setups:
        tell("what dropping a setup saves")
        saved = savings(to_come, _SEED, max(draws // 4, 1), stop)
    struck = moment.state.wrapping and not moment.left
    if struck and moment.state.times.spans:
        expected = _struck(moment, clock, expected)
    return Hours(
        clock,
        tuple(_rows(moment, clock, {slot.id: slot for slot in slots}, expected)),
        to_come.now_s,
        clock.seconds_of(plan.day.call),
        clock.seconds_of(plan.day.wrap),
        plan_finish_s,
        expected.finish_s,
        expected.over_chance,
        expected.expected_cost,
        moment.timings.count,
        moment.timings.journals,
        len(moment.entries),
        moment.state.begun,
        struck,
        60 * plan.day.wrap_min,
        saved,
    )


def _struck(moment: Moment, clock: DayClock, expected: Forecast) -> Forecast:
    """Return the forecast of a day that is over, but for the packing."""
    day = moment.plan.day
    ended_s = clock.seconds(moment.state.times.spans[-1].ready) + 60 * day.wrap_min
    overtime = overtime_of(day, clock.seconds_of)
    return replace(
        expected,
        finish_s=Spread(ended_s, ended_s, ended_s),
        over_chance=float(ended_s > overtime.wrap_s),
        expected_cost=overtime.cost(ended_s),
    )


def _rows(moment: Moment, clock: DayClock, plan: Mapping[str, Planned], expected: Forecast) -> Iterator[Row]:
    """Yield the setups begun so far, then those to come; before the day begins, all as planned."""
    state, timeline = moment.state, moment.state.times
    later = {times.id: times for times in expected.setups}
    if not state.begun:
        yield from (_row_planned(slot, later.pop(slot.id).end_s) for slot in plan.values())
    following = [*(span.begun for span in timeline.spans[1:]), moment.now]
    for span, next_begun in zip(timeline.spans, following, strict=False):
        if span.setup is not None and not (span.setup in later and span is timeline.last(span.setup)):
            end = span.shot or next_begun
            begun_s, ready_s, end_s = (clock.seconds(at) for at in (span.begun, min(span.ready, end), end))
            yield Row(
                span.setup, "done", plan.get(span.setup), begun_s, span.changing_s, ready_s, end_s - ready_s, end_s
            )
    at_work = timeline.last(state.at_work)
    for times in later.values():
        row = _row_to_come(times, plan.get(times.id))
        yield _row_now(row, at_work, clock) if at_work and times.id == state.at_work else row


def _row_planned(slot: Planned, ends: Spread) -> Row:
    return Row(
        slot.id, "to come", slot, slot.start_s, slot.changeover_s, slot.shoot_at_s, slot.shoot_s, slot.end_s, ends
    )


def _row_to_come(times: SetupTimes, slot: Planned | None) -> Row:
    start_s, end_s = times.start_s.p50, times.end_s.p50
    change_s, shoot_s = times.changeover_s.p50, times.shoot_s.p50
    shoot_at_s = max(end_s - shoot_s, start_s + change_s)
    return Row(times.id, "to come", slot, start_s, change_s, shoot_at_s, shoot_s, end_s, times.end_s)


def _row_now(row: Row, span: Span, clock: DayClock) -> Row:
    """Return the row of the setup at work, with the real times of what is over of it."""
    begun_s, shoot_at_s = clock.seconds(span.begun), row.shoot_at_s
    if span.changed is not None and row.changeover_s == 0:
        shoot_at_s = clock.seconds(span.changed)
    return replace(
        row,
        state="now",
        start_s=begun_s,
        changeover_s=span.changing_s if row.changeover_s == 0 else shoot_at_s - begun_s,
        shoot_at_s=shoot_at_s,
        shoot_s=max(row.end_s - shoot_at_s, 0.0),
    )


def hours_data(hours: Hours) -> dict[str, Any]:
    """Return the day's clock as plain data, times of day as ``HH:MM:SS``."""
    exact = hours.clock.exact
    return {
        "setups": [
            {
                "id": row.id,
                "state": row.state,
                "start": exact(row.start_s),
                "changeover_s": round(row.changeover_s, 1),
                "shoot_start": exact(row.shoot_at_s),
                "shoot_s": round(row.shoot_s, 1),
                "end": exact(row.end_s),
                "late_s": round(row.late_s, 1),
            }
            for row in hours.rows
        ],
        "planned_finish": exact(hours.plan_finish_s),
        "finish": {name: exact(value) for name, value in asdict(hours.finish).items()},
        "overtime": {"chance": hours.over_chance, "expected_cost": round(hours.expected_cost, 2)},
        "savings": [{"without": saving.id, **_gain(saving)} for saving in hours.savings],
        "sooner": hours.sooner and {"order": list(hours.sooner.whole), **_gain(hours.sooner)},
        "timings": hours.timings,
        "journals": hours.days,
    }


def _gain(gain: Saving | SoonerOrder) -> dict[str, Any]:
    return {"wins_s": round(gain.wins_s), "wins_cost": round(gain.wins_cost, 2), "overtime_chance": gain.over_chance}
