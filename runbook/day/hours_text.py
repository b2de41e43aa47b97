"""The day's clock in words, for the hours screen and the command."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING, Final

from runbook.model.day import Day
from runbook.model.units import count_text, minutes_text

if TYPE_CHECKING:  # what checks a day uses these words too, and needs no forecast
    from runbook.clock.forecast import Gain
    from runbook.day.day_rows import BreakTime, Kind, Row
    from runbook.day.hours import Hours
    from runbook.day.remedies import Call

_ENOUGH: Final = 50  # with fewer timings the forecast is mostly estimates
_DROPS, _CALLS = 3, 2  # so many are shown
_FEW_DROPS, _FEW_CALLS = 2, 1  # where there is little room
_FEW: Final = 0.05  # so few days are counted in a hundred
_HALF_A_MINUTE: Final = timedelta(seconds=30)
REMEDY_HEADING: Final = ("what helps", "saves", "then", "in time", "lost")
ROW_HEADING: Final = ("row", "state", "planned", "start", "break", "change", "wait", "shoot", "end", "against plan")
_COLUMNS: Final[tuple[tuple[Kind, ...], ...]] = (
    ("break",),
    ("load-in", "change", "strike", "pack"),
    ("wait",),
    ("shoot",),
)


def _difference_text(minutes: int, more: str, less: str) -> str:
    if minutes == 0:
        return "on time"
    return f"{minutes_text(abs(minutes))} {more if minutes > 0 else less}"


def late_text(seconds: float) -> str:
    """Return ``12 min late``, ``5 min early``, ``on time``."""
    return _difference_text(round(seconds / 60), "late", "early")


def over_text(seconds: float) -> str:
    """Return ``41 min over``, ``35 min to spare``, ``on time``."""
    return _difference_text(round(seconds / 60), "over", "to spare")


def ending_text(end: datetime, wrap: datetime) -> str:
    """Return ``ends about 17:20, 40 min to spare``, or how long over."""
    late_s = (end.astimezone(UTC) - wrap.astimezone(UTC)).total_seconds()
    return f"ends about {end + _HALF_A_MINUTE:%H:%M}, {over_text(late_s)}"


def money_text(day: Day, amount: float) -> str:
    """Return ``160 EUR``, in the day's currency."""
    return f"{amount:.0f} {day.rate.currency if day.rate else ''}".rstrip()


def share_text(share: float, days: str = "") -> str:
    """Return a share of days as ``8 in 10``; nearly all as ``99 in 100``: no forecast is certain."""
    if _FEW <= share <= 1 - _FEW:
        return f"{min(max(round(10 * share), 1), 9)}{days} in 10"
    return f"{min(round(100 * share), 99)}{days} in 100"


def days_text(share: float) -> str:
    """Return a share of days as ``8 days in 10``."""
    return share_text(share, " days").replace("1 days", "1 day")


def answer_text(hours: Hours) -> str:
    """Return whether the day ends in time, by how much, how sure that is, and what running over costs."""
    wrap, over = hours.clock.short(hours.wrap_s), over_text(hours.over_s)
    if hours.struck:
        packed = f", packed about {hours.clock.short(hours.finish.p50)}" if hours.packing_s else ""
        cost = f", {money_text(hours.moment.plan.day, hours.expected_cost)}" if hours.expected_cost else ""
        struck = hours.clock.short(hours.finish.p50 - hours.packing_s)
        return f"{'NOT ' if hours.in_time == 'no' else ''}BY {wrap}: struck at {struck}{packed}, {over}{cost}"
    cost = f", {money_text(hours.moment.plan.day, hours.expected_cost)} expected" if hours.expected_cost >= 1 else ""
    in_time = days_text(1 - hours.over_chance)
    match hours.in_time:
        case "yes":
            return f"BY {wrap}: about {over} ({in_time})"
        case "maybe":
            return f"MAYBE BY {wrap}: about {over}{cost} ({in_time})"
        case "no":
            return f"NOT BY {wrap}: about {over}{cost} ({days_text(hours.over_chance)})"


def finish_text(hours: Hours) -> str:
    """Return when the day ends and how sure that is, and when as planned."""
    finish, short = hours.finish, hours.clock.short
    planned = f"planned end {short(hours.plan_finish_s)}"
    if hours.begun:
        planned += f": {late_text(hours.finish.p50 - hours.plan_finish_s)}"
    if hours.struck:
        return planned
    return f"ends about {short(finish.p50)} (90 % by {short(finish.p90)}, 10 % by {short(finish.p10)}); {planned}"


def break_text(hours: Hours, pause: BreakTime) -> str:
    """Return when a break is taken, and whether that is in its window."""
    short = hours.clock.short
    window = f"{short(pause.earliest_s)}-{short(pause.latest_s)}"
    if pause.missed:
        return f"{pause.name} MISSED: not taken by {short(pause.latest_s)}"
    if pause.start_s is None or pause.end_s is None:
        return f"{pause.name}: none, the day ends before it is due ({window})"
    times = f"{short(pause.start_s)}-{short(pause.end_s)}"
    if not pause.in_window:
        return f"{pause.name} {times}: NOT IN ITS WINDOW {window}"
    if pause.interrupts is None:
        return f"{pause.name} {times}: in its window {window}"
    setup = hours.moment.plan.setups.get(pause.interrupts)
    meant = ", as intended" if setup and "break-cuts-in" in setup.meant else ""
    return f"{pause.name} {times}: in its window {window}, but it interrupts {pause.interrupts}{meant}"


def basis_text(hours: Hours) -> str:
    """Return how many timings the forecast is based on."""
    timings = hours.timings
    if not timings.count:
        return "based on estimates; a rehearsal makes it better: runbook open --rehearse"
    journals = count_text(timings.journals, "journal")
    mostly = "" if timings.count >= _ENOUGH else "; still mostly estimates"
    return f"based on {timings.count} timed steps from {journals}{mostly}"


def hours_lines(hours: Hours) -> list[str]:
    """Return the day's end in words: the answer, the breaks, when it ends, and what that is based on."""
    rate = () if hours.moment.plan.day.rate else ("no [rate] in day.toml: the cost of overtime is not known",)
    breaks = (break_text(hours, pause) for pause in hours.breaks)
    return [answer_text(hours), *breaks, finish_text(hours), basis_text(hours), *rate]


# --- what helps


def remedy_cells(hours: Hours, *, few: bool = False) -> Iterator[tuple[str, ...]]:
    """Yield what would help, a row of ``REMEDY_HEADING`` each: drops and calls where the day is late, another order.

    Only the ``few`` best of them where there is little room.
    """
    drops, calls = (_FEW_DROPS, _FEW_CALLS) if few else (_DROPS, _CALLS)
    remedies = hours.remedies
    if hours.in_time != "yes":
        singles = [drop for drop in remedies.singles if drop.gain.helps]
        in_time = [drop for drop in singles if drop.gain.in_time]
        for drop in [*(in_time or singles[:1]), *remedies.pairs][:drops]:
            lost = f"{drop.frames} frames, {minutes_text(round(drop.shoot_s / 60))}"
            yield (f"drop {' and '.join(drop.setups)}", *_gain_cells(hours, drop.gain), lost)
        for call in sorted(remedies.calls, key=lambda call: -call.gain.wins_s)[:calls]:
            yield (_call_text(hours, call, few=few), *_gain_cells(hours, call.gain), "")
    if hours.sooner is not None:
        yield ("shoot in another order", *_gain_cells(hours, hours.sooner.gain), "")


def order_text(hours: Hours) -> str:
    """Return the other order that ends the day sooner; empty where none is known."""
    return f"another order: {', '.join(hours.sooner.order)}" if hours.sooner else ""


def _call_text(hours: Hours, call: Call, *, few: bool) -> str:
    who = f"{call.who} ({call.look})" if call.look and not few else call.who
    planned = "" if few else f", not {hours.clock.short(call.call_s + call.earlier_s)}"
    return f"call {who} at {hours.clock.short(call.call_s)}{planned}"


def _gain_cells(hours: Hours, gain: Gain) -> tuple[str, str, str]:
    over = over_text(gain.finish_s - hours.wrap_s)
    return minutes_text(round(gain.wins_s / 60)), over, share_text(1 - gain.over_chance)


# --- the rows of the day


def row_cells(hours: Hours, row: Row) -> tuple[str, ...]:
    """Return a row of the day, a cell for each of ``ROW_HEADING``."""
    short = hours.clock.short
    planned = f"{short(row.plan.start_s)}-{short(row.plan.end_s)}" if row.plan else "-"
    late = "" if not hours.begun else late_text(row.late_s) if row.plan else "not planned"
    minutes = (str(row.minutes(*kinds) or "") for kinds in _COLUMNS)
    return (row.id, row.state, planned, short(row.start_s), *minutes, short(row.end_s), late)


def total_cells(hours: Hours) -> Iterator[tuple[str, ...]]:
    """Yield the sum of the rows, and the end with the delays that are likely where the rows are as planned."""
    day, short = hours.day, hours.clock.short
    minutes = [day.minutes(*kinds) for kinds in _COLUMNS]
    start = short(day.start_s)
    yield ("total", minutes_text(sum(minutes)), "", start, *map(str, minutes), short(day.end_s), "")
    if round(hours.margin_s / 60) > 0:
        yield ("with likely delays", "", "", "", "", "", "", "", short(hours.finish.p50), late_text(hours.margin_s))


def table_rows(hours: Hours) -> list[tuple[str, ...]]:
    """Return every row of the day, and its sums, as cells."""
    return [*(row_cells(hours, row) for row in hours.day.all), *total_cells(hours)]
