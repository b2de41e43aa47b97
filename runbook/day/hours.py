"""The day's clock: whether the day ends in time, what would help, and the day as planned and as it goes.

Times of day are seconds from the midnight of the shoot day; past the next midnight they go on.
"""

from __future__ import annotations

from dataclasses import asdict, dataclass, replace
from functools import partial
from typing import Any, Final, Literal

from runbook.clock.forecast import Forecast, Gain, Spread, forecast
from runbook.clock.timetable import DayClock, DayToCome, day_clock, median_run, run_ending_at
from runbook.day.changeovers import Changeovers, Timings
from runbook.day.day_rows import BreakTime, DayRows, Row, breaks_of_day, rows_as_planned, rows_from_now
from runbook.day.order_proposal import SEED, SoonerOrder, sooner_order
from runbook.day.planned_day import day_as_planned, overtime_of
from runbook.day.remaining_day import DayMoment, day_from_now
from runbook.day.remedies import NO_REMEDIES, Drop, Remedies, remedies_of
from runbook.model.progress import Tell, silent

DRAWS: Final = 2_000
_OFTEN_OVER: Final = 0.5
_MAYBE_OVER: Final = 0.2  # more overtime than on two days in ten is not called in time


@dataclass(frozen=True, slots=True)
class Hours:
    """The day's clock at a moment: its rows, and the forecast of its end, based on ``timings``.

    Until anything differs from the plan the rows are as planned, and end ``margin_s`` before the middle of the
    forecast. Later they are the day that ends at the middle. ``over_chance`` and ``expected_cost`` are of overtime.
    ``helped`` says whether ``remedies`` and ``sooner`` were worked out.
    """

    moment: DayMoment
    timings: Timings
    clock: DayClock
    day: DayRows
    breaks: tuple[BreakTime, ...]
    now_s: float
    wrap_s: float
    plan_finish_s: float
    finish: Spread
    over_chance: float
    expected_cost: float
    remedies: Remedies = NO_REMEDIES
    sooner: SoonerOrder | None = None
    helped: bool = False

    @property
    def rows(self) -> tuple[Row, ...]:
        """The setups of the day."""
        return self.day.setups

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

    @property
    def margin_s(self) -> float:
        """What the day is likely to take longer than its rows."""
        return self.finish.p50 - self.day.end_s

    @property
    def over_s(self) -> float:
        """How long after the wrap the day ends, at the middle of the forecast; below zero, to spare."""
        return self.finish.p50 - self.wrap_s

    @property
    def in_time(self) -> Literal["yes", "maybe", "no"]:
        """Whether the day ends by its wrap: ``yes`` on at least eight days in ten, ``no`` on fewer than half."""
        if self.over_chance >= _OFTEN_OVER:
            return "no"
        return "maybe" if self.over_chance > _MAYBE_OVER else "yes"


def hours_of(moment: DayMoment, changes: Changeovers, *, draws: int = DRAWS, tell: Tell = silent) -> Hours:
    """Return the day's clock at a moment.

    ``tell`` is called with what is being worked on, again and again; what it raises stops the work.
    """
    day = moment.plan.day
    for n, change in enumerate(changes.all, 1):
        tell(f"changeover {n} of {len(day.order) + 1}", n, len(day.order) + 1)
        _ = change.schedule  # one by one, so that the work can be stopped between them
    clock = day_clock(day, moment.now)
    planned = day_as_planned(moment.plan, changes, None, clock)
    run = median_run(planned)
    plan = rows_as_planned(moment.plan, clock, run)
    tell("the rest of the day")
    to_come = day_from_now(moment, changes)
    expected = forecast(to_come, SEED, draws, partial(tell, "the forecast"))
    if moment.state.wrapping and not moment.left and moment.state.times.spans:
        expected = _struck(moment, clock, expected)
    rows = plan
    if moment.state.begun or not _same(to_come, planned):
        rows = rows_from_now(moment, clock, to_come, run_ending_at(to_come, expected.finish_s.p50))
    return Hours(
        moment,
        changes.timings,
        clock,
        rows.with_plan(plan),
        breaks_of_day(moment, clock, rows),
        to_come.now_s,
        clock.seconds_of(day.wrap),
        run.finish_s,
        expected.finish_s,
        expected.over_chance,
        expected.expected_cost,
    )


def with_help(hours: Hours, changes: Changeovers, *, draws: int = DRAWS // 4, tell: Tell = silent) -> Hours:
    """Return the day's clock with what would bring it in: setups to drop, calls to make earlier, another order."""
    late = hours.in_time != "yes" and not hours.struck
    remedies = remedies_of(hours.moment, changes, draws, max(hours.over_s, 0.0) if late else None, tell)
    return replace(hours, remedies=remedies, sooner=sooner_order(hours.moment, changes, draws, tell), helped=True)


def _same(to_come: DayToCome, planned: DayToCome) -> bool:
    """Return whether what is left of a day is the whole day as planned."""
    return replace(to_come, beliefs=planned.beliefs) == planned


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


def hours_data(hours: Hours) -> dict[str, Any]:
    """Return the day's clock as plain data, times of day as ``HH:MM:SS``."""
    exact, day = hours.clock.exact, hours.day
    return {
        "verdict": hours.in_time,
        "wrap": exact(hours.wrap_s),
        "over_s": round(hours.over_s, 1),
        "breaks": [
            {
                "id": pause.id,
                "start": None if pause.start_s is None else exact(pause.start_s),
                "end": None if pause.end_s is None else exact(pause.end_s),
                **{key: getattr(pause, key) for key in ("in_window", "missed", "interrupts")},
            }
            for pause in hours.breaks
        ],
        "start": exact(day.start_s),
        "load_in_s": round(day.seconds("load-in"), 1),
        "setups": [
            {
                "id": row.id,
                "state": row.state,
                "start": exact(row.start_s),
                "changeover_s": round(row.seconds("change"), 1),
                "wait_s": round(row.seconds("wait"), 1),
                "break_s": round(row.seconds("break"), 1),
                "shoot_start": exact(row.shoot_at_s),
                "shoot_s": round(row.seconds("shoot"), 1),
                "end": exact(row.end_s),
                "late_s": round(row.late_s, 1),
            }
            for row in hours.rows
        ],
        "strike_s": round(day.seconds("strike"), 1),
        "packing_s": round(day.seconds("pack"), 1),
        "wait_s": round(day.seconds("wait"), 1),
        "break_s": round(day.seconds("break"), 1),
        "margin_s": round(hours.margin_s, 1),
        "planned_finish": exact(hours.plan_finish_s),
        "finish": {name: exact(value) for name, value in asdict(hours.finish).items()},
        "overtime": {"chance": hours.over_chance, "expected_cost": round(hours.expected_cost, 2)},
        **_help_data(hours),
        "timings": hours.timings.count,
        "journals": hours.timings.journals,
    }


def _help_data(hours: Hours) -> dict[str, Any]:
    def gain_data(gain: Gain) -> dict[str, Any]:
        return {
            "wins_s": round(gain.wins_s),
            "wins_cost": round(gain.wins_cost, 2),
            "overtime_chance": gain.over_chance,
            "finish": hours.clock.exact(gain.finish_s),
            "in_time": gain.in_time,
        }

    def drop_data(drop: Drop) -> dict[str, Any]:
        return {"frames_lost": drop.frames, "shoot_s_lost": round(drop.shoot_s, 1), **gain_data(drop.gain)}

    remedies = hours.remedies
    return {
        "savings": [{"without": drop.setups[0], **drop_data(drop)} for drop in remedies.singles],
        "pairs": [{"without": list(drop.setups), **drop_data(drop)} for drop in remedies.pairs],
        "calls": [
            {
                "who": call.who,
                "look": call.look,
                "call": hours.clock.exact(call.call_s),
                "earlier_s": round(call.earlier_s),
                **gain_data(call.gain),
            }
            for call in remedies.calls
        ],
        "sooner": hours.sooner and {"order": list(hours.sooner.whole), **gain_data(hours.sooner.gain)},
    }
