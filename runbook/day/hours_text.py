"""The day's clock in words, for the hours screen and the command."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, datetime

from runbook.clock.forecast import Saving
from runbook.day.hours import Hours, Row
from runbook.day.order_proposal import SoonerOrder
from runbook.day.timeline import DayClock
from runbook.model.day import Day

_STATES = {"done": "done", "now": "NOW", "to come": ""}
_THREATENS = 0.02  # a smaller chance of overtime is not worth a word


def late_text(seconds: float) -> str:
    """``12 min late``, ``5 min early``, ``on time``."""
    minutes = round(seconds / 60)
    if minutes == 0:
        return "on time"
    return f"{minutes_text(abs(minutes))} {'late' if minutes > 0 else 'early'}"


def money_text(day: Day, amount: float) -> str:
    """``160 EUR``, in the day's currency."""
    return f"{amount:.0f} {day.rate.currency if day.rate else ''}".rstrip()


def finish_text(hours: Hours) -> str:
    """When the day ends and how sure that is."""
    finish = hours.finish
    if hours.struck:
        struck = f"everything was struck at {hours.clock.short(finish.p50 - hours.packing_s)}"
        packed = f"; packed about {hours.clock.short(finish.p50)}" if hours.packing_s else ""
        return struck + packed
    p10, p50, p90 = (hours.clock.short(seconds) for seconds in finish)
    return f"ends about {p50}; 90 % by {p90}, 10 % by {p10}"


def wrap_text(hours: Hours) -> str:
    """The end against the wrap, and against the plan."""
    late = round((hours.finish.p50 - hours.wrap_s) / 60)
    wrap = f"wrap {hours.clock.short(hours.wrap_s)}: "
    wrap += f"{minutes_text(abs(late))} {'over' if late > 0 else 'to spare'}" if late else "on time"
    wrap += f"; planned end {hours.clock.short(hours.plan_finish_s)}"
    return f"{wrap}: {late_text(hours.finish.p50 - hours.plan_finish_s)}" if hours.begun else wrap


def overtime_text(day: Day, hours: Hours) -> str:
    """How likely overtime is, and what it costs on average."""
    chance = round(100 * hours.over_chance)
    if hours.struck:
        said = "overtime" if chance else "no overtime"
    else:
        likely = "certain" if chance == 100 else f"{chance} % likely"
        said = f"overtime: {likely}" if chance else "overtime: under 1 % likely"
    if day.rate is None:
        return f"{said}; day.toml gives no [rate], so no cost"
    if chance or hours.expected_cost >= 1:
        said += f", {money_text(day, hours.expected_cost)}"
        said += "" if hours.struck else " expected"
    return said


def basis_text(hours: Hours) -> str:
    """On how many timings the forecast stands."""
    if not hours.timings:
        return "based on estimates; a rehearsal makes it better: runbook open --rehearse"
    some = "" if hours.timings >= 50 else "; still mostly estimates"
    journals = f"{hours.days} journal{'' if hours.days == 1 else 's'}"
    return f"based on {hours.timings} timed steps from {journals}{some}"


def savings_lines(day: Day, hours: Hours, most: int = 3) -> Iterator[str]:
    """What would win time back, where overtime threatens: the setups whose dropping wins most."""
    if hours.over_chance < _THREATENS:
        return
    for each in hours.savings[:most]:
        if round(each.wins_s / 60) > 0:
            yield f"without {each.id}: {_won_said(day, hours, each)}"


def sooner_lines(day: Day, hours: Hours) -> Iterator[str]:
    """What another order of what is left would win, where it would."""
    found = hours.sooner
    if found is not None:
        yield f"another order {_won_said(day, hours, found)}:"
        yield "  " + ", ".join(found.order)


def _won_said(day: Day, hours: Hours, found: Saving | SoonerOrder) -> str:
    said = f"saves {minutes_text(round(found.wins_s / 60))}"
    if round(found.wins_cost):
        said += f" and {money_text(day, found.wins_cost)}"
    if hours.over_chance >= _THREATENS:
        said += f", overtime then {round(100 * found.over_chance)} %"
    return said


def row_cells(row: Row, clock: DayClock) -> tuple[str, ...]:
    """A setup of the day: id, state, planned, real or to come, changing, shooting, how late."""
    planned = "-"
    if row.plan_start_s is not None and row.plan_end_s is not None:
        planned = f"{clock.short(row.plan_start_s)}-{clock.short(row.plan_end_s)}"
    real = f"{clock.short(row.start_s)}-{clock.short(row.end_s)}"
    late = late_text(row.late_s) if row.plan_end_s is not None else "again"
    late = "" if real == planned and row.state == "to come" else late
    return (
        row.id,
        _STATES[row.state],
        planned,
        real,
        f"{row.changeover_s / 60:.0f} min",
        f"{row.shoot_s / 60:.0f} min",
        late,
    )


def ending_text(end: datetime, wrap: datetime) -> str:
    """``ends about 17:20, 40 min to spare``, or how long over."""
    late = round((end.astimezone(UTC) - wrap.astimezone(UTC)).total_seconds() / 60)
    against = f"{minutes_text(abs(late))} {'over' if late > 0 else 'to spare'}"
    return f"ends about {end:%H:%M}, {against if late else 'on time'}"


def minutes_text(minutes: int) -> str:
    """``40 min``, ``2 h``, ``3 h 18``."""
    hours, rest = divmod(minutes, 60)
    if hours == 0:
        return f"{rest} min"
    return f"{hours} h {rest:02}" if rest else f"{hours} h"
