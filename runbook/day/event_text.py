"""What happened, in words."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any, Final, NamedTuple

from runbook.changeover.checklist import CHECKS, GATES
from runbook.journal import events as told
from runbook.journal.events import Entry, live
from runbook.model.nominal_values import aperture_mark
from runbook.model.units import Units, length
from runbook.stands.verdict_text import gust_text

JOURNAL: Final = "journal"  # the stage of what is checked after entries were lost
HANDOVER: Final = "handover"  # the stage of what the next shooter says back
_STAND: Final = "{stand}"  # stands for whatever a gate is on, in its id and its words
_CHECK_TEXT: Final[dict[str, str]] = {each.id: each.text for each in CHECKS} | {
    gate.id: gate.text for gate in GATES if not gate.id.endswith(_STAND)
}
_OF_THINGS: Final[dict[str, str]] = {
    gate.id.removesuffix(_STAND): gate.text for gate in GATES if gate.id.endswith(_STAND)
}
_PLACES: Final = {"face": "the face", "background": "the background"}


class LogLine(NamedTuple):
    """An entry, what happened in words, and whether it was undone."""

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
    """Where a meter is held, in words: a panel goes by its label."""
    return _PLACES.get(where, where)


def reading_place_text(data: told.Reading, verb: str = "") -> str:
    """``B read f/5.6 at the background``; the place is left unsaid where it is the face."""
    at = "" if data.where == "face" else f" at {meter_place_text(data.where)}"
    return f"{data.head or 'all heads'}{verb} {reading_text(data.stops)}{at}"


def check_text(check: str) -> str:
    """The words of a check by its id, as far as they can be had without the plan.

    The weight of a bag and where it hangs are the plan's: they stay out.
    """
    if check in _CHECK_TEXT:
        return _CHECK_TEXT[check]
    # clear-up-S1 is the clearing of S1 as it goes up, not that of a stand called up-S1
    fits = [start for start in _OF_THINGS if check.startswith(start) and check != start]
    if not fits:
        return check
    start = max(fits, key=len)
    said = _OF_THINGS[start].format(stand=check.removeprefix(start), kg="", where="")
    return said.rstrip(" :")


def _checked(data: told.CheckTicked) -> str:
    if data.stage == JOURNAL:
        return f"checked what stands, after entries were lost: {data.answer}"
    if data.stage == HANDOVER:
        return f"said back: {data.answer or _line_said(data.check)}"
    return f"checked: {check_text(data.check)}"


def _line_said(line: str) -> str:
    """A line of the handover whose text nobody kept, as well as its id tells what it was."""
    topic = line.removeprefix(f"{HANDOVER}-")
    check = check_text(topic.removeprefix("open-"))
    return f"open: {check}" if topic.startswith("open-") else topic.replace("-", " ")


def _skipped(data: told.Skipped) -> str:
    if data.what != "check":
        what = f"skipped: {(data.step or {}).get('text') or data.id}"
    elif data.stage == HANDOVER:
        what = f"passed over: {_line_said(str(data.id))}"
    else:
        what = f"set aside: {check_text(str(data.id))}"
    return f"{what}, because: {data.reason}"


def _counted(data: told.Counted) -> str:
    said = f"counted home: {len(data.home)} {data.of}" if data.home else f"counted: {data.of}"
    return f"{said}; MISSING {', '.join(data.missing)}" if data.missing else said


def break_text(data: told.BreakBegun) -> str:
    """``break: meal``, or ``break: unplanned, 20 min, because: fire alarm``."""
    length = "" if data.minutes is None else f", {data.minutes:g} min"
    reason = f", because: {data.reason}" if data.reason else ""
    return f"break: {data.id}{length}{reason}"


def rescue_text(data: told.Rescued) -> str:
    """``57 entries read, 3 lost, later ones may be missing; the damaged file is old.runlog``."""
    if data.whole:
        return f"all {data.kept} entries written again from memory; {data.file} is kept"
    lost = f"{len(data.lost)} lost, " if data.lost else ""
    read = f"{data.kept} {'entry' if data.kept == 1 else 'entries'} read"
    return f"{read}, {lost}later ones may be missing; the damaged file is {data.file}"


_SAID: Final[dict[type, Callable[[Any], str]]] = {
    told.DayOpened: lambda data: f"opened: {data.day}",
    told.SetupBegun: lambda data: f"begun: {data.setup or 'the wrap'}",
    told.StepTicked: lambda data: f"done: {data.step.get('text') or data.step.get('verb')}",
    told.CheckTicked: _checked,
    told.Skipped: _skipped,
    told.Reading: lambda data: f"read: {reading_place_text(data)}",
    told.Frames: lambda data: f"frames: {data.added:+d} on {data.setup}",
    told.Note: lambda data: f"note: {data.text}",
    told.SetupShot: lambda data: f"shot: {data.setup}",
    told.BreakBegun: break_text,
    told.TalentLate: lambda data: f"late: {data.talent}, expected at {data.due}",
    told.BatteryChanged: lambda data: f"battery changed: {data.head}",
    told.BreakEnded: lambda data: f"break over: {data.id}",
    told.HandedOver: lambda data: f"handed over to {data.to}",
    told.Resumed: lambda data: f"taken over from {data.giver}",
    told.Counted: _counted,
    told.Rescued: lambda data: f"rescued: {rescue_text(data)}",
}


def change_text(data: told.Changed, units: Units = "metric") -> str:
    """``A height 2.1 m to 2.4 m``."""
    before, now = (value_text(data.key, each, units) for each in (data.before, data.now))
    return f"{data.item or data.of} {key_label(data.key)} {before} to {now}"


def event_text(entry: Entry, units: Units = "metric") -> str:
    """An entry in words, by itself."""
    if isinstance(entry.data, told.Undone):
        return f"undone: entry {entry.data.entry}"
    if isinstance(entry.data, told.Changed):
        return f"changed: {change_text(entry.data, units)}"
    if isinstance(entry.data, told.Wind):
        return f"wind: gusts {gust_text(entry.data.gust_ms, units)}"
    say = _SAID.get(type(entry.data))
    return say(entry.data) if say else entry.kind


def log_lines(entries: Sequence[Entry], units: Units = "metric") -> tuple[LogLine, ...]:
    """Every entry in words, with what an undoing took back, and those undone marked."""
    by_number = {entry.n: entry for entry in entries}
    counts = {entry.n for entry in live(entries)}
    return tuple(
        LogLine(
            entry,
            _undoing_said(entry, by_number, units),
            entry.n not in counts and not isinstance(entry.data, told.Undone),
        )
        for entry in entries
    )


def _undoing_said(entry: Entry, by_number: dict[int, Entry], units: Units) -> str:
    if not isinstance(entry.data, told.Undone):
        return event_text(entry, units)
    back, taken = True, by_number.get(entry.data.entry)
    while taken is not None and isinstance(taken.data, told.Undone):
        back, taken = not back, by_number.get(taken.data.entry)
    if taken is None:
        return event_text(entry)
    return f"{'undone' if back else 'brought back'}: entry {taken.n}, {event_text(taken, units)}"


def key_label(key: str) -> str:
    """A key as a crew says it: ``height``, ``angle``."""
    return key.removesuffix("_m").removesuffix("_deg").replace("_", " ")


def value_text(key: str, value: Any, units: Units = "metric") -> str:
    """A value of a key: ``2.1 m``, ``40°``, ``1/8``, ``grid + gel``."""
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
