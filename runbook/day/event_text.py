"""Journal entries and changed values, in words."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any, Final

from runbook.changeover.checklist import CHECKS, GATES
from runbook.journal import events
from runbook.journal.events import Entry, live
from runbook.model.nominal_values import aperture_mark
from runbook.model.units import Units, length
from runbook.stands.verdict_text import gust_text

JOURNAL: Final = "journal"  # the stage of what is checked after entries were lost
HANDOVER: Final = "handover"  # the stage of what the next shooter repeats
_STAND: Final = "{stand}"  # stands for whatever a gate is on, in its id and its words
_CHECK_TEXT: Final[dict[str, str]] = {each.id: each.text for each in CHECKS} | {
    gate.id: gate.text for gate in GATES if not gate.id.endswith(_STAND)
}
_STAND_CHECKS: Final[dict[str, str]] = {
    gate.id.removesuffix(_STAND): gate.text for gate in GATES if gate.id.endswith(_STAND)
}
_PLACES: Final = {"face": "the face", "background": "the background"}


@dataclass(frozen=True, slots=True)
class LogLine:
    """An entry, its text, and whether it was undone."""

    entry: Entry
    text: str
    undone: bool


def reading_text(stops: float) -> str:
    """``f/5.6 +0.3``: the way an incident meter shows a reading."""
    mark, over = aperture_mark(stops)
    tenths = round(over * 10)
    if tenths == 10:
        mark, tenths = aperture_mark(round(stops))[0], 0
    return f"f/{mark}" if tenths == 0 else f"f/{mark} {'+' if tenths > 0 else '-'}0.{abs(tenths)}"


def meter_place_text(where: str) -> str:
    """Return where a meter is held, in words; a panel by its label."""
    return _PLACES.get(where, where)


def reading_place_text(data: events.Reading, verb: str = "") -> str:
    """``B read f/5.6 at the background``; without the place where it is the face."""
    at = "" if data.where == "face" else f" at {meter_place_text(data.where)}"
    return f"{data.head or 'all heads'}{verb} {reading_text(data.stops)}{at}"


def check_text(check: str) -> str:
    """Return the text of a check by its id, without the plan: without a bag's weight and place."""
    if check in _CHECK_TEXT:
        return _CHECK_TEXT[check]
    # clear-up-S1 is the clearing of S1 as it goes up, not that of a stand called up-S1
    fits = [start for start in _STAND_CHECKS if check.startswith(start) and check != start]
    if not fits:
        return check
    start = max(fits, key=len)
    said = _STAND_CHECKS[start].format(stand=check.removeprefix(start), kg="", where="")
    return said.rstrip(" :")


def _checked(data: events.CheckTicked) -> str:
    if data.stage == JOURNAL:
        return f"checked what stands, after entries were lost: {data.answer}"
    if data.stage == HANDOVER:
        return f"repeated: {data.answer or _line_text(data.check)}"
    return f"checked: {check_text(data.check)}"


def _line_text(line: str) -> str:
    """Return a line of the handover whose text was not kept, from its id."""
    topic = line.removeprefix(f"{HANDOVER}-")
    check = check_text(topic.removeprefix("open-"))
    return f"open: {check}" if topic.startswith("open-") else topic.replace("-", " ")


def _skipped(data: events.Skipped) -> str:
    if data.what != "check":
        what = f"skipped: {(data.step or {}).get('text') or data.id}"
    elif data.stage == HANDOVER:
        what = f"not repeated: {_line_text(str(data.id))}"
    else:
        what = f"set aside: {check_text(str(data.id))}"
    return f"{what}, because: {data.reason}"


def _counted(data: events.Counted) -> str:
    said = f"counted home: {len(data.home)} {data.of}" if data.home else f"counted: {data.of}"
    return f"{said}; MISSING {', '.join(data.missing)}" if data.missing else said


def break_text(data: events.BreakBegun) -> str:
    """``break: meal``, or ``break: unplanned, 20 min, because: fire alarm``."""
    length = "" if data.minutes is None else f", {data.minutes:g} min"
    reason = f", because: {data.reason}" if data.reason else ""
    return f"break: {data.id}{length}{reason}"


def rescue_text(data: events.Rescued) -> str:
    """``57 entries read, 3 lost, later ones may be missing; the damaged file is old.runlog``."""
    if data.whole:
        return f"all {data.kept} entries written again from memory; {data.file} is kept"
    lost = f"{len(data.lost)} lost, " if data.lost else ""
    read = f"{data.kept} {'entry' if data.kept == 1 else 'entries'} read"
    return f"{read}, {lost}later ones may be missing; the damaged file is {data.file}"


_TEXTS: Final[dict[type, Callable[[Any], str]]] = {
    events.DayOpened: lambda data: f"opened: {data.day}",
    events.SetupBegun: lambda data: f"begun: {data.setup or 'the wrap'}",
    events.StepTicked: lambda data: f"done: {data.step.get('text') or data.step.get('verb')}",
    events.CheckTicked: _checked,
    events.Skipped: _skipped,
    events.Reading: lambda data: f"read: {reading_place_text(data)}",
    events.Frames: lambda data: f"frames: {data.added:+d} on {data.setup}",
    events.Note: lambda data: f"note: {data.text}",
    events.SetupShot: lambda data: f"shot: {data.setup}",
    events.BreakBegun: break_text,
    events.TalentLate: lambda data: f"late: {data.talent}, expected at {data.due}",
    events.BatteryChanged: lambda data: f"battery changed: {data.head}",
    events.BreakEnded: lambda data: f"break over: {data.id}",
    events.HandedOver: lambda data: f"handed over to {data.to}",
    events.Resumed: lambda data: f"taken over from {data.giver}",
    events.Counted: _counted,
    events.Rescued: lambda data: f"rescued: {rescue_text(data)}",
}


def change_text(data: events.Changed, units: Units = "metric") -> str:
    """``A height 2.1 m to 2.4 m``."""
    before, now = (value_text(data.key, each, units) for each in (data.before, data.now))
    return f"{data.item or data.of} {key_label(data.key)} {before} to {now}"


def event_text(entry: Entry, units: Units = "metric") -> str:
    """Return an entry in words, by itself."""
    if isinstance(entry.data, events.Undone):
        return f"undone: entry {entry.data.entry}"
    if isinstance(entry.data, events.Changed):
        return f"changed: {change_text(entry.data, units)}"
    if isinstance(entry.data, events.Wind):
        return f"wind: gusts {gust_text(entry.data.gust_ms, units)}"
    text = _TEXTS.get(type(entry.data))
    return text(entry.data) if text else entry.kind


def log_lines(entries: Sequence[Entry], units: Units = "metric") -> tuple[LogLine, ...]:
    """Return every entry in words, with what was undone, and those undone marked."""
    by_number = {entry.n: entry for entry in entries}
    counts = {entry.n for entry in live(entries)}
    return tuple(
        LogLine(
            entry,
            _undoing_text(entry, by_number, units),
            entry.n not in counts and not isinstance(entry.data, events.Undone),
        )
        for entry in entries
    )


def _undoing_text(entry: Entry, by_number: dict[int, Entry], units: Units) -> str:
    if not isinstance(entry.data, events.Undone):
        return event_text(entry, units)
    back, taken = True, by_number.get(entry.data.entry)
    while taken is not None and isinstance(taken.data, events.Undone):
        back, taken = not back, by_number.get(taken.data.entry)
    if taken is None:
        return event_text(entry)
    return f"{'undone' if back else 'brought back'}: entry {taken.n}, {event_text(taken, units)}"


def key_label(key: str) -> str:
    """Return a setup's key in words: ``height``, ``angle``."""
    return key.removesuffix("_m").removesuffix("_deg").replace("_", " ")


def value_text(key: str, value: Any, units: Units = "metric") -> str:
    """Return a value of a key in words: ``2.1 m``, ``40°``, ``1/8``, ``grid + gel``."""
    if isinstance(value, tuple | list):
        return " + ".join(map(str, value)) or "nothing"
    if value is None:
        return "nothing"
    if isinstance(value, bool):
        return "yes" if value else "no"
    if not isinstance(value, int | float):
        return str(value)
    if key.endswith("_m"):
        return length(value, units)
    return f"{value:g}°" if key.endswith("_deg") else f"{value:g}"
