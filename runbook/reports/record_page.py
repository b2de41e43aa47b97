"""The record of a day on paper: times planned and real, the light as shot, what needs attention."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from datetime import datetime

from runbook.day import day_record
from runbook.day.day_record import BatteryUse, SetupTimes, entry_lines, of_type
from runbook.day.frame_view import FramesView
from runbook.day.kit_list import kit_count
from runbook.day.reduce import state_after
from runbook.day.state import DayState
from runbook.journal import events
from runbook.journal.events import Entry, live
from runbook.model.day import Plan
from runbook.reports.document import CAUTION, Checklist, Heading, Page, Pairs, Part, Table, Text, Tick

_TIME_COLUMNS = (
    "setup", "", "began", "ended", "change", "planned", "shooting", "planned", "frames", "planned",
)  # fmt: skip


def record_page(plan: Plan, entries: Iterable[Entry], more: Sequence[Part] = ()) -> Page:
    """What the journal records of the day, compared with the plan, as one page; ``more`` comes last."""
    counted = live(entries)
    parts = _parts(plan, state_after(plan, counted), counted)
    return Page(f"{plan.day.name}, {plan.day.date}: the record", [*parts, *more])


def _parts(plan: Plan, state: DayState, entries: list[Entry]) -> Iterator[Part]:
    units, journal = plan.day.units, "no entries"
    if entries:
        journal = f"{entries[0].at:%H:%M} to {entries[-1].at:%H:%M}"
    handovers = of_type(entries, events.HandedOver, events.Resumed, events.Rescued)
    yield Heading(f"{plan.day.name}: the record", 1)
    yield Pairs([
        ("date", f"{plan.day.date}"),
        ("planned", f"{plan.day.call:%H:%M} to {plan.day.wrap:%H:%M}"),
        ("journal", journal),
        *(("breaks" if n == 0 else "", text) for n, text in enumerate(day_record.break_lines(entries))),
        *(("handovers" if n == 0 else "", text) for n, text in enumerate(entry_lines(handovers, units))),
    ])  # fmt: skip
    yield CAUTION
    yield Heading("Times")
    yield Table(_TIME_COLUMNS, [_times_row(times) for times in day_record.setup_times(plan, state, entries)])
    yield from _counted_home(plan, state, entries)
    yield from _section("Near misses", day_record.note_lines(entries, near_misses=True), "None noted.")
    yield from _section("Skipped and set aside", entry_lines(of_type(entries, events.Skipped), units), "Nothing.")
    not_shot = [setup.text for setup in day_record.not_shot(plan, state)]
    yield from _section("Not shot", not_shot, "Every setup was shot.")
    yield Heading("Not as planned")
    if differences := day_record.differences(plan, state):
        yield Table(("setup", "as shot"), differences)
    elif not state.shot:
        yield Text("No setup was marked as shot.")
    else:
        yield Text("All setups shot were as planned." if not_shot else "Every setup was shot as planned.")
    if readings := [*day_record.reading_rows(plan, state)]:
        yield Heading("Readings")
        yield Table(("setup", "head", "read", "predicted"), readings, 2)
    for title, kind in (("Light by camera", events.Compared), ("Wind", events.Wind)):
        if lines := entry_lines(of_type(entries, kind), units):
            yield from _section(title, lines, "")
    if differ := [*FramesView(state).differing()]:
        yield Heading("Frames not shot as set")
        yield Table(("setup", "frames"), differ)
    yield from _section("Notes", day_record.note_lines(entries, near_misses=False), "None.")


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
        return f"{flashes}, {battery.of:g} per charge"
    times = "once" if battery.changed == 1 else f"{battery.changed} times"
    return f"{flashes} since the last change, {battery.of:g} per charge; changed {times}"


def _counted_home(plan: Plan, state: DayState, entries: list[Entry]) -> Iterator[Part]:
    kit, batteries = kit_count(plan, entries), day_record.battery_use(plan, state, entries)
    yield Heading("Kit count")
    yield from (Text(f"MISSING: {kind} {item}", "warn") for kind, item in kit.missing)
    if kit.uncounted:
        yield Text(f"{len(kit.uncounted)} items were not counted.", "warn")
    elif not kit.missing:
        yield Text("The kit is complete.")
    charge = [Tick(battery.head, _battery_text(battery)) for battery in batteries if battery.charge]
    yield Heading("To charge", 3)
    yield Checklist("", charge) if charge else Text("None: the journal records no flashes.")
