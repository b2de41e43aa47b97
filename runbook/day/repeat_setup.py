"""Repeating a setup of an earlier day: its files as shot, its light against now, its readings in the kit."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, Final

from runbook.day.actions import Refused, Session
from runbook.day.day_record import NOT_RECORDED, setups_worked_on
from runbook.day.event_text import meter_place_text
from runbook.day.light import anchor, flash_read, measured_text, measurement_text, meter_place, predicted_reading
from runbook.day.reduce import state_after
from runbook.day.state import DayState, missing_of_kit, setup_as_shot, setup_on_record, setups_without_snapshot
from runbook.files.errors import Unreadable, one_line
from runbook.files.validate import plain
from runbook.journal.events import Entry, Note, live
from runbook.light.prediction import predict
from runbook.light.stops import METER_LEAST, f_number, meter_text
from runbook.model.day import Plan
from runbook.model.kit import Measured
from runbook.model.power import OFF, Power
from runbook.model.setup import Setup

MEASURED_FILE: Final = "measured.txt"  # not .toml: in a day's folder that would be a setup
# a third-stop dial cannot come nearer than half a click, and a smaller difference is not visible
_SAME_STOPS: Final = 0.17
_FACTS: Final = ("head", "where", "was_metered", "off_stops", "matches", "left_over_stops")


@dataclass(frozen=True, slots=True)
class ReadingMatch:
    """One head (None: the whole set) now against as shot; readings in stops, without ambient light.

    ``was_stops`` is the reading to match: metered that day (``read_stops``) and carried over what
    was ``changed_after`` by what is predicted before and after; or else predicted. ``dial`` is the
    power to dial and ``left_over_stops`` what then remains; None when there is nothing to dial.
    ``where`` is where the meter is held.
    """

    head: str | None
    where: str
    now_stops: float
    was_stops: float
    was_metered: bool
    read_stops: float | None = None
    changed_after: bool = False
    power: Power | None = None
    dial: Power | None = None
    left_over_stops: float = 0.0

    @property
    def off_stops(self) -> float:
        """How much brighter it is now."""
        return self.now_stops - self.was_stops

    @property
    def matches(self) -> bool:
        """Whether the difference is too small to see."""
        return abs(self.off_stops) <= _SAME_STOPS


def measured_rows(plan: Plan, state: DayState, setup_id: str) -> dict[str, Measured]:
    """The last reading of each head of a setup, as a row of the kit, by head.

    A row describes the setup as it was when metered, whatever was changed after.
    """
    rows: dict[str, Measured] = {}
    for head, then in state.metered.get(setup_id, {}).items():
        light = then.light.get(head or "")
        if head is None or light is None or missing_of_kit(plan.kit, then):
            continue
        row = anchor(plan, then, light, state.readings[setup_id][head].data.stops)
        if row is not None:
            rows[head] = row
    return rows


def match_readings(
    plan: Plan, setup_id: str, entries: Iterable[Entry], now: Mapping[str | None, float]
) -> tuple[ReadingMatch, ...]:
    """Compare readings ``now``, in stops by head (None: the whole set), with the setup as shot.

    Flash is compared with flash: ambient light that shows in a reading is taken off. Leaves out a head
    without light to match, or whose reading is nearly all ambient light. Raises KeyError for a head that
    is not in the setup.
    """
    state = state_after(plan, live(entries))
    setup = setup_as_shot(plan, state, setup_id)
    matches = (_match(plan, state, setup, head, stops) for head, stops in now.items())
    return tuple(match for match in matches if match is not None)


def _match(plan: Plan, state: DayState, setup: Setup, head: str | None, now: float) -> ReadingMatch | None:
    rows = tuple(measured_rows(plan, state, setup.id).values())
    where = "face" if head is None else meter_place(setup.light[head])
    light, now_stops = predict(plan, setup, rows), _flash(plan, setup, now, where)
    was = predicted_reading(light, head, where)
    if now_stops is None:
        return None
    then = state.metered.get(setup.id, {}).get(head)
    match = ReadingMatch(head, where, now_stops, was or 0.0, was_metered=False)
    if then is not None and not missing_of_kit(plan.kit, then):
        read = state.readings[setup.id][head].data
        flash = _flash(plan, then, read.stops, read.where)
        before = predicted_reading(predict(plan, then, rows), head, read.where)
        after = predicted_reading(light, head, read.where)
        changed = then != setup if head is None else then.light.get(head) != setup.light[head]
        match = replace(match, read_stops=read.stops, changed_after=changed)
        if flash is not None and before is not None and after is not None:
            match = replace(match, was_stops=flash + after - before, was_metered=True, where=read.where)
    if not match.was_metered and (was is None or was < METER_LEAST):
        return None
    power = setup.light[head].power if head else OFF
    if head is None or power.below_full is None:
        return replace(match, power=power if head else None)
    wanted = float(power.below_full) + match.off_stops
    dial = plan.kit.head[head].dial.nearest(wanted)
    return replace(match, power=power, dial=dial, left_over_stops=wanted - float(dial.below_full or 0))


def _flash(plan: Plan, setup: Setup, stops: float, where: str) -> float | None:
    """Return the flash in a reading, None where it is nearly all ambient light, which is known at the face only."""
    return flash_read(plan, setup, stops) if where == "face" else stops


def match_facts(setup_id: str, matches: Iterable[ReadingMatch], left_undone: Iterable[str] = ()) -> dict[str, Any]:
    """Matches as plain data for a program; readings as f-numbers."""
    return {
        "setup": setup_id,
        "left_undone": list(left_undone),
        "heads": [
            {
                **{name: getattr(match, name) for name in _FACTS},
                "was_f": f_number(match.was_stops),
                "now_f": f_number(match.now_stops),
                "read_f": None if match.read_stops is None else f_number(match.read_stops),
                "power": match.power and str(match.power),
                "dial": match.dial and str(match.dial),
            }
            for match in matches
        ],
    }


def match_text(match: ReadingMatch) -> str:
    """``A: f/5.6 +0.4 now, f/5.6 as shot: 0.4 over; dial 1/8 instead of 1/8+0.3``."""
    name = match.head or "all heads"
    if match.where != "face":
        name += f" at {meter_place_text(match.where)}"
    source = "as shot" if match.was_metered else "predicted"
    if match.read_stops is None:
        source += ", not metered"
    elif match.changed_after:
        source += f" (read {meter_text(match.read_stops)} before changes)"
    off, left = round(match.off_stops, 1), round(match.left_over_stops, 1)
    difference = f"{abs(off):.1f} {'over' if off > 0 else 'under'}" if off else "the same"
    text = f"{name}: {meter_text(match.now_stops)} now, {meter_text(match.was_stops)} {source}: {difference}"
    if match.dial is None or match.dial == match.power:
        return text
    return f"{text}; dial {match.dial} instead of {match.power}" + (f", {left:+.1f} left over" if left else "")


# -- the files -----------------------------------------------------------------------------------


def as_shot_files(plan: Plan, entries: Iterable[Entry]) -> dict[str, str]:
    """Return a setup file for each setup of the day, by name, and the readings as rows for a kit.

    Setups worked on are as shot, the others as planned; each file is complete, without ``like``.
    """
    import tomli_w

    entries = live(entries)
    worked_on, state = set(setups_worked_on(plan, entries)), state_after(plan, entries)
    files: dict[str, str] = {}
    measured: dict[object, Measured] = {}
    for setup_id in dict.fromkeys((*plan.setups, *state.frozen)):
        if setup_id in worked_on or setup_id not in plan.setups:
            setup = setup_as_shot(plan, state, setup_id)
            comments = list(_comments(plan, state, setup_id, entries))
            for row in measured_rows(plan, state, setup_id).values():
                measured[row.head, row.modifier, row.accessories] = row
        else:
            setup, comments = plan.setups[setup_id], ["As planned: not worked on."]
        table = {key: value for key, value in _without_empty(plain(setup)).items() if key != "id"}
        top = "".join(f"# {one_line(comment)}\n" for comment in comments)
        files[f"{setup_id}.toml"] = f"{top}\n{tomli_w.dumps(table)}"
    if measured:
        # a thousandth of an f-number is finer than any meter
        tables = [_without_empty(plain(replace(row, reads_f=round(row.reads_f, 3)))) for row in measured.values()]
        files[MEASURED_FILE] = (
            f"# Readings of {one_line(plan.day.name)}, {plan.day.date.isoformat()}, as rows for kit.toml: paste\n"
            "# those you trust at its end. One row for a head, modifier and accessories counts.\n\n"
        ) + tomli_w.dumps({"measured": tables})
    return files


def _comments(plan: Plan, state: DayState, setup_id: str, entries: Sequence[Entry]) -> Iterator[str]:
    yield f"As shot on {plan.day.name}, {plan.day.date.isoformat()}: {state.frames.get(setup_id, 0)} frames."
    if setup_id in state.shot:
        yield "Marked as shot."
    if setup_id in setups_without_snapshot(state):
        yield f"{NOT_RECORDED[0].upper()}{NOT_RECORDED[1:]}."
    if setup_id not in plan.setups:
        yield "It is no longer in the plan."
    yield from (f"As it stood: {text}." for text in setup_on_record(plan, state, setup_id).words)
    for head, entry in state.readings.get(setup_id, {}).items():
        yield f"Read: {head or 'all heads'} {entry.data.f} at {meter_place_text(entry.data.where)}."
    for entry in entries:
        if isinstance(entry.data, Note) and entry.data.setup == setup_id:
            yield f"Note: {entry.data.text}"


def _without_empty(value: Any) -> Any:
    """Leave out None, which TOML does not have, and empty lists."""
    if isinstance(value, dict):
        return {key: _without_empty(item) for key, item in value.items() if item is not None and item != []}
    return [_without_empty(item) for item in value] if isinstance(value, list) else value


# -- a reading kept in the kit -----------------------------------------------------------------------


def save_question(day: Session, head: str) -> tuple[str, str]:
    """Return the question before a head's last reading is saved in kit.toml, and what a yes does.

    Raises Refused without a reading to save or a folder to save it in.
    """
    from runbook.files.editor import replaced_by, same_use
    from runbook.files.load import read_day

    row, folder = _row_to_save(day, head)
    try:
        rows = read_day(folder).kit.measured
    except Unreadable as error:
        raise Refused(f"kit.toml cannot be updated: {error.faults[0]}") from None
    units, replaced = day.plan.day.units, replaced_by(rows, row)
    others = [measured_text(rows[n], units) for n in same_use(rows, row) if n != replaced]
    effect = "save it" if replaced is None else f"save it in place of {measured_text(rows[replaced], units)}"
    effect += f", beside {' and '.join(others)}" if others else ""
    return f"Save {measurement_text(row, units)} in kit.toml?", effect


def save_measurement(day: Session, head: str) -> str:
    """Save a head's last reading in kit.toml; return what was written and where the old file is.

    Undo does not take it back.

    Raises Refused as ``save_question``, and when kit.toml cannot be written.
    """
    from runbook.files.editor import keep_measured, stamp_of
    from runbook.files.toml_edit import NotEdited

    row, folder = _row_to_save(day, head)
    text = measurement_text(row, day.plan.day.units)
    try:
        backup = keep_measured(folder, row, stamp_of(day.clock()))
    except (Unreadable, NotEdited) as error:
        fault = error.faults[0] if isinstance(error, Unreadable) else error
        raise Refused(f"kit.toml is not written: {fault}") from None
    return f"already in kit.toml: {text}" if backup is None else f"saved (before: {backup}/kit.toml): {text}"


def _row_to_save(day: Session, head: str) -> tuple[Measured, Path]:
    """Return a head's last reading of the day as a row of the kit, and the folder of that kit."""
    row = next((row for row in reversed(day.state.anchors) if row.head == head), None)
    if row is None:
        raise Refused(f"no reading of {head} alone, aimed at the face, is in the journal yet")
    if day.folder is None:
        raise Refused("this day has no folder to save it in")
    return row, day.folder
