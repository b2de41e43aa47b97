"""The record of a day on paper: times planned and real, the light as shot, what must be seen to."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import datetime

from runbook.day.day_record import BatteryUse, DayRecord, SetupTimes
from runbook.reports.day_page import CARE
from runbook.reports.parts import Boxes, Group, Heading, Page, Pairs, Part, Table, Text


def record_page(record: DayRecord) -> Page:
    """The day as it was, as one page."""
    return Page(f"{record.name}, {record.date}: the record", list(_parts(record)))


def _parts(record: DayRecord) -> Iterator[Part]:
    yield Heading(f"{record.name}: the record", 1)
    yield Pairs(
        [
            ("date", record.date),
            ("planned", f"{record.call} to {record.wrap}"),
            ("journal", f"{_clock(record.began)} to {_clock(record.ended)}"),
            *(("break" if n == 0 else "", said) for n, said in enumerate(record.breaks)),
            *(("hands" if n == 0 else "", said) for n, said in enumerate(record.hands)),
        ]
    )
    yield CARE
    yield Heading("Times")
    yield Table(
        ("setup", "", "began", "over", "change", "planned", "shooting", "planned", "frames",
         "planned"),
        [_times(each) for each in record.setups],
    )  # fmt: skip
    yield from _home(record)
    yield from _told("Near misses", record.near_misses, "None was noted.")
    yield from _told("Skipped and set aside", record.set_aside, "Nothing was.")
    not_shot = [each.text for each in record.not_shot]
    yield from _told("Not shot", not_shot, "Every setup was shot.")
    yield Heading("Not as planned")
    if record.differences:
        yield Table(("setup", "as shot"), record.differences)
    elif not any(each.state == "shot" for each in record.setups):
        yield Text("None was called shot.")
    elif not_shot:
        yield Text("What was shot was shot as planned.")
    else:
        yield Text("Every setup was shot as planned.")
    if record.readings:
        yield Heading("Readings")
        yield Table(("setup", "head", "read", "by the sums"), record.readings, 2)
    if record.winds:
        yield from _told("Wind", record.winds, "")
    yield from _told("Notes", record.notes, "None.")


def _clock(at: datetime | None) -> str:
    return "" if at is None else f"{at:%H:%M}"


def _minutes(seconds: float | None) -> str:
    return "" if seconds is None else f"{seconds / 60:.0f} min"


def _times(each: SetupTimes) -> tuple[str, ...]:
    shoots = each.shoot_planned_s or each.shoot_s
    return (
        each.id,
        each.state,
        _clock(each.began),
        _clock(each.ended),
        _minutes(each.change_s),
        _minutes(each.change_planned_s),
        _minutes(each.shoot_s) if shoots else "",
        _minutes(each.shoot_planned_s) if shoots else "",
        f"{each.frames}" if shoots else "",
        f"{each.frames_planned}" if shoots else "",
    )


def _told(title: str, lines: Sequence[str], none: str) -> Iterator[Part]:
    yield Heading(title)
    for line in lines or (none,):
        yield Text(line)


def _spent_text(battery: BatteryUse) -> str:
    flashes = f"about {battery.spent:.0f} full flashes spent"
    if not battery.changed:
        return f"{flashes}, {battery.of:g} a charge"
    times = "once" if battery.changed == 1 else f"{battery.changed} times"
    return f"{flashes} since the last change, {battery.of:g} a charge; changed {times}"


def _home(record: DayRecord) -> Iterator[Part]:
    yield Heading("Counted home")
    if record.missing:
        for kind, item in record.missing:
            yield Text(f"MISSING: {kind} {item}", "warn")
    elif not record.uncounted:
        yield Text("Everything in the kit was counted home.")
    if record.uncounted:
        yield Text(f"{record.uncounted} things were not counted.", "warn")
    charge = [each for each in record.batteries if each.charge]
    yield Heading("To charge", 3)
    if charge:
        lines = [(each.head, _spent_text(each)) for each in charge]
        yield Boxes([Group("", lines)])
    else:
        yield Text("No head was fired, as far as the journal knows.")
