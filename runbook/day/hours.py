"""The day's clock: the day as planned, as it goes, and when it will end, with what that costs.

Times of day are seconds from the midnight of the shoot day; past the next midnight they go on.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import asdict, dataclass, replace
from functools import partial
from typing import Any, Final, Literal

from runbook.clock.forecast import Forecast, Gain, Spread, forecast, forecasts, gain_of
from runbook.clock.timetable import DayClock, Slot, day_clock, median_day
from runbook.day.changeovers import Changeovers, Timings
from runbook.day.order_proposal import SEED, SoonerOrder
from runbook.day.planned_day import day_as_planned, overtime_of
from runbook.day.remaining_day import DayMoment, day_from_now
from runbook.day.timeline import Span
from runbook.model.progress import Tell, silent

DRAWS: Final = 2_000
RowState = Literal["done", "now", "to come"]


@dataclass(frozen=True, slots=True)
class Row:
    """A setup of the day, or one shot twice: its times as planned in the morning, and as they are or will be.

    The end is real once it is done, else the middle of the forecast.
    """

    state: RowState
    plan: Slot | None
    times: Slot

    @property
    def late_s(self) -> float:
        """How much later than planned it ends; below zero, earlier."""
        return 0.0 if self.plan is None else self.times.end_s - self.plan.end_s


@dataclass(frozen=True, slots=True)
class Saving:
    """What dropping one setup saves."""

    id: str
    gain: Gain


@dataclass(frozen=True, slots=True)
class Hours:
    """The day's clock at a moment: its setups, and the forecast of its end, based on ``timings``.

    ``over_chance`` and ``expected_cost`` are of overtime.
    """

    moment: DayMoment
    timings: Timings
    clock: DayClock
    rows: tuple[Row, ...]
    now_s: float
    call_s: float
    wrap_s: float
    plan_finish_s: float
    finish: Spread
    over_chance: float
    expected_cost: float
    savings: tuple[Saving, ...] = ()
    sooner: SoonerOrder | None = None

    @property
    def begun(self) -> bool:
        """Whether the day has begun."""
        return self.moment.state.begun

    @property
    def struck(self) -> bool:
        """Whether nothing is left to shoot or strike: then ``finish`` is when all is packed."""
        return self.moment.state.wrapping and not self.moment.left

    @property
    def packing_s(self) -> float:
        """The packing after the strike."""
        return 60 * self.moment.plan.day.wrap_min


def hours_of(
    moment: DayMoment, changes: Changeovers, *, draws: int = DRAWS, ways_back: bool = False, tell: Tell = silent
) -> Hours:
    """Return the day's clock at a moment; ``ways_back`` also works out what dropping each setup saves.

    ``tell`` is called with what is being worked on, again and again; what it raises stops the work.
    """
    day = moment.plan.day
    for n, change in enumerate(changes.all, 1):
        tell(f"changeover {n} of {len(day.order) + 1}")
        _ = change.schedule  # one by one, so that the work can be stopped between them
    clock = day_clock(day, moment.now)
    slots, plan_finish_s = median_day(day_as_planned(moment.plan, changes, None, clock))
    tell("the rest of the day")
    to_come = day_from_now(moment, changes)
    expected = forecast(to_come, SEED, draws, partial(tell, "the forecast"))
    savings = _savings(moment, changes, max(draws // 4, 1), tell) if ways_back else ()
    if moment.state.wrapping and not moment.left and moment.state.times.spans:
        expected = _struck(moment, clock, expected)
    return Hours(
        moment,
        changes.timings,
        clock,
        tuple(_rows(moment, clock, {slot.id: slot for slot in slots}, expected)),
        to_come.now_s,
        clock.seconds_of(day.call),
        clock.seconds_of(day.wrap),
        plan_finish_s,
        expected.finish_s,
        expected.over_chance,
        expected.expected_cost,
        savings,
    )


def _savings(moment: DayMoment, changes: Changeovers, draws: int, tell: Tell) -> tuple[Saving, ...]:
    """Return what dropping each setup not yet being shot saves, the most money, then time, first."""
    whole = day_from_now(moment, changes)
    names = [setup.id for setup in whole.setups if not setup.shot_s]
    days = [whole, *(day_from_now(moment.without(name), changes) for name in names)]
    now, *without = forecasts(days, SEED, draws, partial(tell, "what dropping a setup saves"))
    savings = [Saving(name, gain_of(now, then)) for name, then in zip(names, without, strict=True)]
    return tuple(sorted(savings, key=lambda saving: (-saving.gain.wins_cost, -saving.gain.wins_s, saving.id)))


def _struck(moment: DayMoment, clock: DayClock, expected: Forecast) -> Forecast:
    """Return the forecast of a day that is over, but for the packing."""
    day = moment.plan.day
    ended_s = clock.seconds(moment.state.times.spans[-1].ready) + 60 * day.wrap_min
    overtime = overtime_of(day, clock)
    return replace(
        expected,
        finish_s=Spread(ended_s, ended_s, ended_s),
        over_chance=float(ended_s > overtime.wrap_s),
        expected_cost=overtime.cost(ended_s),
    )


def _rows(moment: DayMoment, clock: DayClock, plan: Mapping[str, Slot], expected: Forecast) -> Iterator[Row]:
    """Yield the setups begun so far, then those to come; before the day begins, all as planned."""
    state, timeline = moment.state, moment.state.times
    later = {slot.id: slot for slot in expected.slots}
    if not state.begun:
        yield from (Row("to come", slot, slot) for slot in plan.values() if slot.id in later)
        return
    following = [*(span.begun for span in timeline.spans[1:]), moment.now]
    for span, next_begun in zip(timeline.spans, following, strict=False):
        if span.setup is not None and not (span.setup in later and span is timeline.last(span.setup)):
            end = span.shot or next_begun
            begun_s, ready_s, end_s = (clock.seconds(at) for at in (span.begun, min(span.ready, end), end))
            times = Slot(span.setup, begun_s, span.changing_s, ready_s, end_s - ready_s, end_s)
            yield Row("done", plan.get(span.setup), times)
    for slot in later.values():
        # what is left of it, as late as its end has it
        shoot_at_s = max(slot.end_s - slot.shoot_s, slot.start_s + slot.changeover_s)
        times = replace(slot, shoot_at_s=shoot_at_s)
        span_now = timeline.last(state.at_work) if slot.id == state.at_work else None
        if span_now is None:
            yield Row("to come", plan.get(slot.id), times)
        else:
            yield Row("now", plan.get(slot.id), _times_now(times, span_now, clock))


def _times_now(times: Slot, span: Span, clock: DayClock) -> Slot:
    """Return the times of the setup at work, with the real times of what is over of it."""
    begun_s, shoot_at_s, changing_s = clock.seconds(span.begun), times.shoot_at_s, span.changing_s
    if times.changeover_s:
        changing_s = shoot_at_s - begun_s
    elif span.changed is not None:
        shoot_at_s = clock.seconds(span.changed)
    shoot_s = max(times.end_s - shoot_at_s, 0.0)
    return Slot(times.id, begun_s, changing_s, shoot_at_s, shoot_s, times.end_s)


def hours_data(hours: Hours) -> dict[str, Any]:
    """Return the day's clock as plain data, times of day as ``HH:MM:SS``."""
    exact = hours.clock.exact
    return {
        "setups": [
            {
                "id": row.times.id,
                "state": row.state,
                "start": exact(row.times.start_s),
                "changeover_s": round(row.times.changeover_s, 1),
                "shoot_start": exact(row.times.shoot_at_s),
                "shoot_s": round(row.times.shoot_s, 1),
                "end": exact(row.times.end_s),
                "late_s": round(row.late_s, 1),
            }
            for row in hours.rows
        ],
        "planned_finish": exact(hours.plan_finish_s),
        "finish": {name: exact(value) for name, value in asdict(hours.finish).items()},
        "overtime": {"chance": hours.over_chance, "expected_cost": round(hours.expected_cost, 2)},
        "savings": [{"without": saving.id, **_gain_data(saving.gain)} for saving in hours.savings],
        "sooner": hours.sooner and {"order": list(hours.sooner.whole), **_gain_data(hours.sooner.gain)},
        "timings": hours.timings.count,
        "journals": hours.timings.journals,
    }


def _gain_data(gain: Gain) -> dict[str, Any]:
    return {"wins_s": round(gain.wins_s), "wins_cost": round(gain.wins_cost, 2), "overtime_chance": gain.over_chance}
