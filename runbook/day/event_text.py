"""Journal entries and changed values, in words."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from itertools import groupby
from typing import Any, Final

from runbook.changeover.checklist import CHECKS, GATES
from runbook.day.frames import frame_text
from runbook.journal import events
from runbook.journal.events import Entry, live
from runbook.light.stops import meter_text
from runbook.model.units import Units, length
from runbook.stands.wind import gust_text

JOURNAL: Final = "journal"  # the stage of what is checked after entries were lost
HANDOVER: Final = "handover"  # the stage of what the next shooter repeats
_CHECKS: Final[dict[str, str]] = {each.id: each.text for each in CHECKS} | {each.id: each.text for each in GATES}
_PLACES: Final = {"face": "the face", "background": "the background"}


@dataclass(frozen=True, slots=True)
class LogLine:
    """An entry, its text, and whether it was undone."""

    entry: Entry
    text: str
    undone: bool


def meter_place_text(where: str) -> str:
    """Return where a meter is held, in words; a panel by its label."""
    return _PLACES.get(where, where)


def reading_place_text(data: events.Reading, verb: str = "") -> str:
    """``B read f/5.6 at the background``; without the place where it is the face."""
    at = "" if data.where == "face" else f" at {meter_place_text(data.where)}"
    return f"{data.head or 'all heads'}{verb} {meter_text(data.stops)}{at}"


def check_text(check: str) -> str:
    """Return the text of a check by its id, without the plan: without a bag's weight and place."""
    if check in _CHECKS:
        return _CHECKS[check]
    # clear-up-S1 is the clearing of S1 as it goes up, not that of a stand called up-S1
    starts = {gate.removesuffix("{stand}"): text for gate, text in _CHECKS.items() if gate.endswith("{stand}")}
    fits = [start for start in starts if check.startswith(start) and check != start]
    if not fits:
        return check
    start = max(fits, key=len)
    return starts[start].format(stand=check.removeprefix(start), kg="", where="").rstrip(" :")


def _checked(data: events.CheckTicked) -> str:
    if data.stage == JOURNAL:
        return f"checked the set after entries were lost: {data.answer}"
    if data.stage == HANDOVER:
        return f"confirmed: {data.answer or _line_text(data.check)}"
    return f"checked: {check_text(data.check)}"


def _line_text(line: str) -> str:
    """Return a line of the handover whose text was not kept, from its id."""
    topic = line.removeprefix(f"{HANDOVER}-")
    check = topic.removeprefix("open-")
    return topic.replace("-", " ") if check == topic else f"open: {check_text(check)}"


def _skipped(data: events.Skipped) -> str:
    if data.what != "check":
        what = f"skipped: {(data.step or {}).get('text') or data.id}"
    elif data.stage == HANDOVER:
        what = f"not confirmed: {_line_text(str(data.id))}"
    else:
        what = f"set aside: {check_text(str(data.id))}"
    return f"{what}, because: {data.reason}"


def _counted(data: events.Counted) -> str:
    home = f"all home: {len(data.home)} {data.of}" if data.home else f"counted: {data.of}"
    return f"{home}; MISSING {', '.join(data.missing)}" if data.missing else home


def _break(data: events.BreakBegun) -> str:
    """``break: meal``, or ``break: unplanned, 20 min, because: fire alarm``."""
    minutes = "" if data.minutes is None else f", {data.minutes:g} min"
    return f"break: {data.id}{minutes}" + (f", because: {data.reason}" if data.reason else "")


def rescue_text(data: events.Rescued) -> str:
    """``57 entries read, 3 lost, later ones may be missing; the damaged file is old.runlog``."""
    if data.whole:
        return f"all {data.kept} entries written again from memory; {data.file} is kept"
    lost = f"{len(data.lost)} lost, " if data.lost else ""
    read = f"{data.kept} {'entry' if data.kept == 1 else 'entries'} read"
    return f"{read}, {lost}later ones may be missing; the damaged file is {data.file}"


def change_text(data: events.Changed, units: Units = "metric") -> str:
    """``A height 2.1 m to 2.4 m``."""
    before, now = (value_text(data.key, each, units) for each in (data.before, data.now))
    return f"{data.item or data.of} {key_label(data.key)} {before} to {now}"


def clock_text(ahead_s: float | None) -> str:
    """``3600 s ahead``, ``12 s behind``."""
    if ahead_s is None:
        return "from the frames' arrival"
    return f"{abs(ahead_s):.0f} s {'behind' if ahead_s < 0 else 'ahead'}" if round(ahead_s) else "right"


def compared_text(data: events.Compared) -> str:
    """``by camera, grey card: entry 12 about 0.7 stops over entry 10``; what clips and is left out is named."""
    side = "over" if data.stops > 0 else "under"
    clipped = f", without the {100 * data.clipped:.0f} % that clip" if data.clipped >= 0.005 else ""
    of = "ambient light" if data.of == "ambient" else data.of
    return f"by camera, {of}: entry {data.second} about {abs(data.stops):.1f} stops {side} entry {data.first}{clipped}"


_TEXTS: Final[dict[type, Callable[[Any, Units], str]]] = {
    events.DayOpened: lambda data, _: f"opened: {data.day}",
    events.SetupBegun: lambda data, _: f"begun: {data.setup or 'the wrap'}",
    events.StepTicked: lambda data, _: f"done: {data.step.get('text') or data.step.get('verb')}",
    events.CheckTicked: lambda data, _: _checked(data),
    events.Skipped: lambda data, _: _skipped(data),
    events.Undone: lambda data, _: f"undone: entry {data.entry}",
    events.Changed: lambda data, units: f"changed: {change_text(data, units)}",
    events.Reading: lambda data, _: f"read: {reading_place_text(data)}",
    events.Frames: lambda data, _: f"frames: {data.added:+d} on {data.setup}",
    events.Frame: lambda data, _: f"frame: {frame_text(data)}",
    events.FrameFile: lambda data, _: f"frame: {data.name}, of entry {data.frame}",
    events.FramesPlaced: lambda data, _: f"frames moved to {data.setup or 'no setup'}: {len(data.frames)}",
    events.CameraClock: lambda data, _: f"clock of {data.camera or 'the camera'}: {clock_text(data.ahead_s)}",
    events.FramesChecked: lambda data, _: f"frames of {data.setup} checked, up to entry {data.frame}",
    events.Selected: lambda data, _: f"select of {data.setup}: {f'entry {data.frame}' if data.frame else 'none'}",
    events.Compared: lambda data, _: compared_text(data),
    events.Note: lambda data, _: f"note: {data.text}",
    events.Wind: lambda data, units: f"wind: gusts {gust_text(data.gust_ms, units)}",
    events.SetupShot: lambda data, _: f"shot: {data.setup}",
    events.Left: lambda _, __: "left",
    events.HandedOver: lambda data, _: f"handed over to {data.to}",
    events.Resumed: lambda data, _: f"taken over from {data.giver}",
    events.BreakBegun: lambda data, _: _break(data),
    events.BreakEnded: lambda data, _: f"break over: {data.id}",
    events.TalentLate: lambda data, _: f"late: {data.talent}, expected at {data.due}",
    events.BatteryChanged: lambda data, _: f"battery changed: {data.head}",
    events.Counted: lambda data, _: _counted(data),
    events.Rescued: lambda data, _: f"rescued: {rescue_text(data)}",
}


def event_text(entry: Entry, units: Units = "metric") -> str:
    """Return an entry in words, by itself."""
    return _TEXTS[type(entry.data)](entry.data, units)


def log_lines(entries: Sequence[Entry], units: Units = "metric") -> tuple[LogLine, ...]:
    """Return every entry in words, with what was undone, and those undone marked."""
    by_number = {entry.n: entry for entry in entries}
    counts = {entry.n for entry in live(entries)}

    def text(entry: Entry) -> str:
        target: Entry | None = entry
        undone = False
        while target is not None and isinstance(target.data, events.Undone):
            undone, target = not undone, by_number.get(target.data.entry)
        if target is None or target is entry:
            return event_text(entry, units)
        return f"{'undone' if undone else 'redone'}: entry {target.n}, {event_text(target, units)}"

    def line(together: list[Entry]) -> LogLine:
        entry = together[0]
        frames = [each.data.name for each in together if isinstance(each.data, events.Frame)]
        words = text(entry) if len(frames) < 2 else f"frames: {len(frames)}, {frames[0]} to {frames[-1]}"
        return LogLine(entry, words, entry.n not in counts and not isinstance(entry.data, events.Undone))

    return tuple(map(line, _frames_together(entries)))


def _frames_together(entries: Sequence[Entry]) -> Iterator[list[Entry]]:
    """Yield the entries one by one, but frames in a row together: one by one they would hide everything else."""
    for are_frames, group in groupby(entries, lambda entry: isinstance(entry.data, events.Frame | events.FrameFile)):
        if are_frames:
            yield [*group]
        else:
            yield from ([entry] for entry in group)


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
