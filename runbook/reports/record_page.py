"""The record of a day on paper: times planned and real, the light as shot, what needs attention."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import datetime

from runbook.day.day_record import BatteryUse, DayRecord, SetupTimes
from runbook.reports.day_page import CAUTION
from runbook.reports.document import Checklist, Heading, Page, Pairs, Part, Table, Text

_TIME_COLUMNS = (
    "setup", "", "began", "over", "change", "planned", "shooting", "planned", "frames", "planned",
)  # fmt: skip


def record_page(record: DayRecord) -> Page:
    """The day as it was, as one page."""
    return Page(f"{record.plan.day.name}, {record.plan.day.date.isoformat()}: the record", list(_parts(record)))


def _parts(record: DayRecord) -> Iterator[Part]:
    yield Heading(f"{record.plan.day.name}: the record", 1)
    yield Pairs([
        ("date", record.plan.day.date.isoformat()),
        ("planned", f"{record.plan.day.call:%H:%M} to {record.plan.day.wrap:%H:%M}"),
        ("journal", f"{_clock(record.began)} to {_clock(record.ended)}"),
        *(("breaks" if n == 0 else "", text) for n, text in enumerate(record.breaks)),
        *(("handovers" if n == 0 else "", text) for n, text in enumerate(record.handovers)),
    ])  # fmt: skip
    yield CAUTION
    yield Heading("Times")
    yield Table(_TIME_COLUMNS, [_times_row(times) for times in record.setups])
    yield from _counted_home(record)
    yield from _section("Near misses", record.near_misses, "None noted.")
    yield from _section("Skipped and set aside", record.set_aside, "Nothing.")
    not_shot = [setup.text for setup in record.not_shot]
    yield from _section("Not shot", not_shot, "Every setup was shot.")
    yield Heading("Not as planned")
    if record.differences:
        yield Table(("setup", "as shot"), record.differences)
    elif not any(times.state == "shot" for times in record.setups):
        yield Text("No setup was marked as shot.")
    else:
        yield Text("What was shot was shot as planned." if not_shot else "Every setup was shot as planned.")
    if record.readings:
        yield Heading("Readings")
        yield Table(("setup", "head", "read", "predicted"), record.readings, 2)
    if record.winds:
        yield from _section("Wind", record.winds, "")
    yield from _section("Notes", record.notes, "None.")


def _clock(at: datetime | None) -> str:
    return "" if at is None else f"{at:%H:%M}"


def _minutes(seconds: float | None) -> str:
    return "" if seconds is None else f"{seconds / 60:.0f} min"


def _times_row(times: SetupTimes) -> tuple[str, ...]:
    shooting = ("", "", "", "")
    if times.shoot_planned_s or times.shoot_s:
        minutes = _minutes(times.shoot_s), _minutes(times.shoot_planned_s)
        shooting = (*minutes, f"{times.frames}", f"{times.frames_planned}")
    clock = _clock(times.began), _clock(times.ended)
    return (times.id, times.state, *clock, _minutes(times.change_s), _minutes(times.change_planned_s), *shooting)


def _section(title: str, lines: Sequence[str], none: str) -> Iterator[Part]:
    yield Heading(title)
    yield from map(Text, lines or (none,))


def _battery_text(battery: BatteryUse) -> str:
    flashes = f"about {battery.spent:.0f} full flashes spent"
    if not battery.changed:
        return f"{flashes}, {battery.of:g} a charge"
    times = "once" if battery.changed == 1 else f"{battery.changed} times"
    return f"{flashes} since the last change, {battery.of:g} a charge; changed {times}"


def _counted_home(record: DayRecord) -> Iterator[Part]:
    yield Heading("Counted home")
    yield from (Text(f"MISSING: {kind} {item}", "warn") for kind, item in record.missing)
    if record.uncounted:
        yield Text(f"{record.uncounted} things were not counted.", "warn")
    elif not record.missing:
        yield Text("Everything in the kit was counted home.")
    charge = [(battery.head, _battery_text(battery)) for battery in record.batteries if battery.charge]
    yield Heading("To charge", 3)
    yield Checklist("", charge) if charge else Text("No head was fired, as far as the journal knows.")
