"""The day's clock: the day as planned, as it goes, and when it will end, with what that costs.

Times of day are seconds from the midnight of the shoot day; past the next midnight they go on.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from functools import partial
from typing import Any, Final, NamedTuple

from runbook.clock.forecast import Forecast, Saving, SetupTimes, Spread, forecast, savings
from runbook.clock.order import never
from runbook.clock.timetable import DayToCome, Planned, median_day
from runbook.day.order_proposal import SoonerOrder
from runbook.day.planned_day import Changeovers, check_stop, day_as_planned, overtime_of
from runbook.day.remaining_day import Moment, day_from_now
from runbook.day.timeline import DayClock, Span, Timeline, day_clock

DRAWS: Final = 2_000
_SEED: Final = 1  # the same day gives the same forecast
Tell = Callable[[str], None]


class Row(NamedTuple):
    """A setup of the day, or one done twice: as planned in the morning, and as it is or will be.

    ``state`` is ``done``, ``now`` or ``to come``. ``end`` is real once it is done, else the middle
    of the forecast with its spread in ``ends``.
    """

    id: str
    state: str
    plan_start_s: float | None
    plan_end_s: float | None
    start_s: float
    changeover_s: float
    shoot_at_s: float
    shoot_s: float
    end_s: float
    ends: Spread | None = None

    @property
    def late_s(self) -> float:
        """How much later than planned it ends; below zero, earlier."""
        return 0.0 if self.plan_end_s is None else self.end_s - self.plan_end_s


class Hours(NamedTuple):
    """The day's clock. ``struck`` once nothing is left; then ``finish`` is when all is packed.

    ``packing_s`` are the seconds that packing takes after the strike.

    ``over_chance`` and ``expected_cost`` are of overtime; ``timings`` says on how many timings of
    steps it stands, ``days`` from how many journals.
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


# --- all of it


def hours_of(
    moment: Moment,
    changes: Changeovers,
    *,
    draws: int = DRAWS,
    ways_back: bool = False,
    should_stop: Callable[[], bool] = never,
    tell: Tell = lambda _: None,
) -> Hours:
    """The day's clock at a moment; ``ways_back`` also works out what dropping setups would win.

    ``tell`` hears what is being worked on. Raises Stopped when ``should_stop`` says so.
    """
    plan, order = moment.plan, moment.plan.day.order
    for n, (start, goal) in enumerate(zip((None, *order), (*order, None), strict=True), 1):
        check_stop(should_stop)
        tell(f"changeover {n} of {len(order) + 1}")
        changes.between(start, goal)
    slots, plan_finish = median_day(day_as_planned(plan, changes, None, day_clock(plan.day, moment.now).seconds_of))
    tell("what is left of the day")
    to_come = day_from_now(moment, changes, bridges=ways_back)
    tell("the day, some thousand times")
    found = forecast(to_come, _SEED, draws, partial(check_stop, should_stop))
    won: tuple[Saving, ...] = ()
    if ways_back and to_come.setups:
        tell("what dropping a setup would win")
        each = max(draws // 4, 1)
        won = savings(to_come, _SEED, each, partial(check_stop, should_stop))
    return _told(moment, slots, plan_finish, to_come, found)._replace(savings=won)


def _told(moment: Moment, slots: Sequence[Planned], plan_finish: float, to_come: DayToCome, found: Forecast) -> Hours:
    plan, state = moment.plan, moment.state
    real = moment.state.times
    clock = day_clock(plan.day, moment.now)
    morning = {slot.id: slot for slot in slots}
    later = {each.id: each for each in found.setups}
    rows = []
    if not state.begun:  # what is planned is all there is to tell, setup by setup
        rows = [_row_planned(slot, later.pop(slot.id)) for slot in slots]
    for span in real.spans:
        if span.setup is not None and not (span.setup in later and span is real.last(span.setup)):
            rows.append(_real_row(span, real, morning, clock, moment))
    at_work = real.last(state.at_work)
    for each in later.values():
        row = _row_to_come(each, morning.get(each.id))
        if each.id == state.at_work and at_work is not None:
            row = _row_now(row, at_work, clock)
        rows.append(row)
    struck = state.wrapping and not moment.left
    finish = found.finish_s
    if struck and real.spans:
        last = real.spans[-1]
        ended = clock.seconds(last.changed or last.begun)
        ended += 60 * plan.day.wrap_min
        finish = Spread(ended, ended, ended)
        overtime = overtime_of(plan.day, clock.seconds_of)
        late = ended > overtime.wrap_s
        found = found._replace(over_chance=float(late), expected_cost=overtime.cost(ended))
    return Hours(
        clock,
        tuple(rows),
        to_come.now_s,
        clock.seconds_of(plan.day.call),
        clock.seconds_of(plan.day.wrap),
        plan_finish,
        finish,
        found.over_chance,
        found.expected_cost,
        moment.known.stands_on,
        moment.known.days,
        len(moment.entries),
        state.begun,
        struck,
        60 * plan.day.wrap_min,
    )


def _real_row(span: Span, real: Timeline, morning: Mapping[str, Planned], clock: DayClock, moment: Moment) -> Row:
    at = real.spans.index(span)
    following = real.spans[at + 1].begun if at + 1 < len(real.spans) else moment.now
    end = span.shot or following
    changed = min(span.changed or span.begun, end)

    seconds = clock.seconds
    slot = morning.get(str(span.setup))
    return Row(
        str(span.setup),
        "done",
        slot.start_s if slot else None,
        slot.end_s if slot else None,
        seconds(span.begun),
        span.changing_s,
        seconds(changed),
        seconds(end) - seconds(changed),
        seconds(end),
    )


def _row_to_come(each: SetupTimes, slot: Planned | None) -> Row:
    start, end = each.start_s.p50, each.end_s.p50
    change_s, shoot_s = each.changeover_s.p50, each.shoot_s.p50
    return Row(
        each.id,
        "to come",
        slot.start_s if slot else None,
        slot.end_s if slot else None,
        start,
        change_s,
        max(end - shoot_s, start + change_s),
        shoot_s,
        end,
        each.end_s,
    )


def _row_planned(slot: Planned, each: SetupTimes) -> Row:
    return Row(
        slot.id,
        "to come",
        slot.start_s,
        slot.end_s,
        slot.start_s,
        slot.changeover_s,
        slot.shoot_at_s,
        slot.shoot_s,
        slot.end_s,
        each.end_s,
    )


def _row_now(row: Row, span: Span, clock: DayClock) -> Row:
    """The setup at work began when it really did."""
    begun = clock.seconds(span.begun)
    changed = row.shoot_at_s
    if span.changed is not None and row.changeover_s == 0:
        changed = clock.seconds(span.changed)
    return row._replace(
        state="now",
        start_s=begun,
        changeover_s=span.changing_s if row.changeover_s == 0 else changed - begun,
        shoot_at_s=changed,
        shoot_s=max(row.end_s - changed, 0.0),
    )


# --- for a program


def hours_data(hours: Hours) -> dict[str, Any]:
    """The day's clock as plain data, times of day as ``HH:MM:SS``."""
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
        "finish": {name: exact(value) for name, value in hours.finish._asdict().items()},
        "overtime": {"chance": hours.over_chance, "expected_cost": round(hours.expected_cost, 2)},
        "savings": [{"without": each.id, **_wins(each)} for each in hours.savings],
        "sooner": hours.sooner and {"order": list(hours.sooner.whole), **_wins(hours.sooner)},
        "timings": hours.timings,
        "journals": hours.days,
    }


def _wins(found: Saving | SoonerOrder) -> dict[str, Any]:
    return {"wins_s": round(found.wins_s), "wins_cost": round(found.wins_cost, 2), "overtime_chance": found.over_chance}
