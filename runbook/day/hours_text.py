"""The day's clock in words, for the hours screen and the command."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, datetime
from typing import TYPE_CHECKING, Final

from runbook.model.day import Day
from runbook.model.units import minutes_text

if TYPE_CHECKING:  # what checks a day uses these words too, and needs no forecast
    from runbook.clock.forecast import Gain
    from runbook.clock.timetable import DayClock
    from runbook.day.hours import Hours, Row

_STATES: Final = {"done": "done", "now": "NOW", "to come": ""}
_THREATENS: Final = 0.02  # a smaller chance of overtime is not worth a word
_ENOUGH: Final = 50  # with fewer timings the forecast is mostly estimates


def _difference_text(minutes: int, more: str, less: str) -> str:
    if minutes == 0:
        return "on time"
    return f"{minutes_text(abs(minutes))} {more if minutes > 0 else less}"


def late_text(seconds: float) -> str:
    """Return ``12 min late``, ``5 min early``, ``on time``."""
    return _difference_text(round(seconds / 60), "late", "early")


def ending_text(end: datetime, wrap: datetime) -> str:
    """Return ``ends about 17:20, 40 min to spare``, or how long over."""
    late = round((end.astimezone(UTC) - wrap.astimezone(UTC)).total_seconds() / 60)
    return f"ends about {end:%H:%M}, {_difference_text(late, 'over', 'to spare')}"


def money_text(day: Day, amount: float) -> str:
    """Return ``160 EUR``, in the day's currency."""
    return f"{amount:.0f} {day.rate.currency if day.rate else ''}".rstrip()


def finish_text(hours: Hours) -> str:
    """Return when the day ends and how sure that is."""
    finish, short = hours.finish, hours.clock.short
    if hours.struck:
        packed = f"; packed about {short(finish.p50)}" if hours.packing_s else ""
        return f"everything was struck at {short(finish.p50 - hours.packing_s)}{packed}"
    return f"ends about {short(finish.p50)}; 90 % by {short(finish.p90)}, 10 % by {short(finish.p10)}"


def wrap_text(hours: Hours) -> str:
    """Return the end against the wrap, and against the plan."""
    over = _difference_text(round((hours.finish.p50 - hours.wrap_s) / 60), "over", "to spare")
    text = f"wrap {hours.clock.short(hours.wrap_s)}: {over}; planned end {hours.clock.short(hours.plan_finish_s)}"
    return f"{text}: {late_text(hours.finish.p50 - hours.plan_finish_s)}" if hours.begun else text


def overtime_text(hours: Hours) -> str:
    """Return how likely overtime is, and its mean cost."""
    day = hours.moment.plan.day
    chance = round(100 * hours.over_chance)
    if hours.struck:
        text = "overtime" if chance else "no overtime"
    else:
        text = "overtime: certain" if chance == 100 else f"overtime: {chance or 'under 1'} % likely"
    if day.rate is None:
        return f"{text}; day.toml gives no [rate], so no cost"
    if chance or hours.expected_cost >= 1:
        text += f", {money_text(day, hours.expected_cost)}{'' if hours.struck else ' expected'}"
    return text


def basis_text(hours: Hours) -> str:
    """Return how many timings the forecast is based on."""
    timings = hours.timings
    if not timings.count:
        return "based on estimates; a rehearsal makes it better: runbook open --rehearse"
    journals = f"{timings.journals} journal{'' if timings.journals == 1 else 's'}"
    mostly = "" if timings.count >= _ENOUGH else "; still mostly estimates"
    return f"based on {timings.count} timed steps from {journals}{mostly}"


def hours_lines(hours: Hours) -> list[str]:
    """Return the day's end in words: when, against the wrap, overtime, what saves time, and what that is based on."""
    return [finish_text(hours), wrap_text(hours), overtime_text(hours), *gain_lines(hours), basis_text(hours)]


def gain_lines(hours: Hours, most: int = 3) -> Iterator[str]:
    """Yield what saves time: setups to drop where overtime threatens, and another order of those left."""
    threatens = hours.over_chance >= _THREATENS
    for saving in hours.savings[: most if threatens else 0]:
        if round(saving.gain.wins_s / 60) > 0:
            yield f"without {saving.id}: {_gain_text(hours, saving.gain)}"
    if hours.sooner is not None:
        yield f"another order {_gain_text(hours, hours.sooner.gain)}:"
        yield "  " + ", ".join(hours.sooner.order)


def _gain_text(hours: Hours, gain: Gain) -> str:
    text = f"saves {minutes_text(round(gain.wins_s / 60))}"
    if round(gain.wins_cost):
        text += f" and {money_text(hours.moment.plan.day, gain.wins_cost)}"
    if hours.over_chance >= _THREATENS:
        text += f", overtime then {round(100 * gain.over_chance)} %"
    return text


def row_cells(row: Row, clock: DayClock) -> tuple[str, ...]:
    """Return a setup of the day: id, state, planned, real or expected, changing, shooting, how late."""
    planned = f"{clock.short(row.plan.start_s)}-{clock.short(row.plan.end_s)}" if row.plan else "-"
    real = f"{clock.short(row.times.start_s)}-{clock.short(row.times.end_s)}"
    late = late_text(row.late_s) if row.plan else "again"
    return (
        row.times.id,
        _STATES[row.state],
        planned,
        real,
        f"{row.times.changeover_s / 60:.0f} min",
        f"{row.times.shoot_s / 60:.0f} min",
        "" if real == planned and row.state == "to come" else late,
    )
