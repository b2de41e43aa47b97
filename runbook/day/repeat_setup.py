"""Repeating a setup of an earlier day: its files as shot, and how far its light is off now."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from typing import Any, Final

from runbook.day.day_record import NOT_RECORDED, setups_worked_on
from runbook.day.event_text import meter_place_text
from runbook.day.light import anchor, flash_read, meter_place, predicted_reading
from runbook.day.reduce import state_after
from runbook.day.state import DayState, missing_of_kit, setup_as_shot, setup_on_record, setups_without_snapshot
from runbook.files.validate import plain
from runbook.journal.events import Entry, Note, SetupShot, live
from runbook.light.prediction import predict
from runbook.light.stops import METER_LEAST, f_number, meter_text
from runbook.model.day import Plan
from runbook.model.kit import Measured
from runbook.model.power import Power
from runbook.model.setup import Setup

MEASURED_FILE: Final = "measured.txt"  # not .toml: in a day's folder that would be a setup
# a third-stop dial cannot come nearer than half a click, and a smaller difference is not visible
_SAME_STOPS: Final = 0.17


@dataclass(frozen=True, slots=True)
class ReadingMatch:
    """One head (None: the whole set) now against as shot; readings in stops.

    ``was_stops`` is the reading to match: metered that day, or else predicted of the setup as shot.
    ``dial`` is the power to dial and ``left_over_stops`` what then remains; None when there is
    nothing to dial. ``where`` is where the meter is held. ``read_stops`` was metered before the
    ``changes``, and carried over them by what is predicted before and after. ``room_light_off`` says that room
    light was taken off what was metered now or then.
    """

    head: str | None
    was_stops: float
    now_stops: float
    was_metered: bool
    power: Power | None
    dial: Power | None
    left_over_stops: float
    where: str = "face"
    read_stops: float | None = None
    changes: tuple[str, ...] = ()
    room_light_off: bool = False

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

    Flash is compared with flash: room light that shows in a reading is taken off. Leaves out a head
    without light to match, or whose reading is nearly all room light. Raises KeyError for a head that
    is not in the setup.
    """
    state = state_after(plan, live(entries))
    setup = setup_as_shot(plan, state, setup_id)
    rows = tuple(measured_rows(plan, state, setup_id).values())
    light = predict(plan, setup, rows)
    matches = []
    for head, stops in now.items():
        where = "face" if head is None else meter_place(setup.light[head])
        was, flash = predicted_reading(light, head, where), _flash(plan, setup, stops, where)
        if flash is None:
            continue
        match = ReadingMatch(head, was or 0.0, flash, False, None, None, 0.0, where, room_light_off=flash != stops)
        has_light = was is not None and was >= METER_LEAST
        then = state.metered.get(setup_id, {}).get(head)
        if then is not None and not missing_of_kit(plan.kit, then):
            read = state.readings[setup_id][head].data
            flash = _flash(plan, then, read.stops, read.where)
            match = replace(
                match,
                read_stops=read.stops,
                changes=tuple(_changes_between(then, setup, head)),
                room_light_off=match.room_light_off or flash != read.stops,
            )
            before = predicted_reading(predict(plan, then, rows), head, read.where)
            after = predicted_reading(light, head, read.where)
            if flash is not None and before is not None and after is not None:
                has_light = True
                match = replace(match, was_stops=flash + after - before, was_metered=True, where=read.where)
        if has_light:
            matches.append(match if head is None else _with_dial(plan, setup, head, match))
    return tuple(matches)


def _flash(plan: Plan, setup: Setup, stops: float, where: str) -> float | None:
    """The flash in a reading, None where it is nearly all room light, which is known at the face only."""
    return flash_read(plan, setup, stops) if where == "face" else stops


def _changes_between(then: Setup, now: Setup, head: str | None) -> Iterator[str]:
    """What was changed in between, of a head or of the whole set: powers by name."""
    old = {light.head: then.light.get(light.head, light).power for light in now.lights}
    for light in now.lights:
        if old[light.head] != light.power and head in (None, light.head):
            yield f"{light.head} went from {old[light.head]} to {light.power}"
    same = replace(now, lights=tuple(replace(light, power=old[light.head]) for light in now.lights))
    if same != then if head is None else same.light.get(head) != then.light.get(head):
        yield "more was changed"


def _with_dial(plan: Plan, setup: Setup, head: str, match: ReadingMatch) -> ReadingMatch:
    """Add the power that brings a head to its reading as shot."""
    power = setup.light[head].power
    if power.below_full is None:
        return replace(match, power=power)
    wanted = float(power.below_full) + match.off_stops
    dial = plan.kit.head[head].dial.nearest(wanted)
    assert dial.below_full is not None
    return replace(match, power=power, dial=dial, left_over_stops=wanted - float(dial.below_full))


def match_facts(setup_id: str, matches: Iterable[ReadingMatch], left_undone: Iterable[str] = ()) -> dict[str, Any]:
    """Matches as plain data for a program; readings as f-numbers."""
    return {
        "setup": setup_id,
        "left_undone": list(left_undone),
        "heads": [
            {
                "head": match.head,
                "where": match.where,
                "was_f": f_number(match.was_stops),
                "now_f": f_number(match.now_stops),
                "was_metered": match.was_metered,
                "read_f": None if match.read_stops is None else f_number(match.read_stops),
                "off_stops": match.off_stops,
                "matches": match.matches,
                "power": None if match.power is None else str(match.power),
                "dial": None if match.dial is None else str(match.dial),
                "left_over_stops": match.left_over_stops,
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
    elif match.changes:
        source += f" (read {meter_text(match.read_stops)} before {' and '.join(match.changes)})"
    if match.room_light_off:
        source += ", room light taken off"
    off = round(match.off_stops, 1)
    difference = f"{abs(off):.1f} {'over' if off > 0 else 'under'}" if off else "the same"
    text = f"{name}: {meter_text(match.now_stops)} now, {meter_text(match.was_stops)} {source}: {difference}"
    if match.dial is None or match.dial == match.power:
        return text
    left = round(match.left_over_stops, 1)
    return f"{text}; dial {match.dial} instead of {match.power}" + (f", {left:+.1f} left over" if left else "")


# -- the files -----------------------------------------------------------------------------------


def as_shot_files(plan: Plan, entries: Iterable[Entry]) -> dict[str, str]:
    """A setup file for each setup of the day, by name, and the readings as rows for a kit.

    Setups worked on are as shot, the others as planned; each file is complete, without ``like``.
    """
    entries = live(entries)
    worked_on, state = set(setups_worked_on(plan, entries)), state_after(plan, entries)
    files: dict[str, str] = {}
    measured: dict[object, Measured] = {}
    for setup_id in dict.fromkeys((*plan.setups, *state.frozen)):
        if setup_id in worked_on or setup_id not in plan.setups:
            setup = setup_on_record(plan, state, setup_id).setup
            comments = list(_comments(plan, state, setup_id, entries))
            for row in measured_rows(plan, state, setup_id).values():
                measured[row.head, row.modifier, row.accessories] = row
        else:
            setup, comments = plan.setups[setup_id], ["As planned: not worked on."]
        files[f"{setup_id}.toml"] = _setup_file(setup, comments)
    if measured:
        files[MEASURED_FILE] = _measured_file(plan, measured.values())
    return files


def _comments(plan: Plan, state: DayState, setup_id: str, entries: Iterable[Entry]) -> Iterator[str]:
    entries = list(entries)
    yield f"As shot on {plan.day.name}, {plan.day.date.isoformat()}: {state.frames.get(setup_id, 0)} frames."
    if any(isinstance(entry.data, SetupShot) and entry.data.setup == setup_id for entry in entries):
        yield "Marked as shot."
    if setup_id in setups_without_snapshot(state):
        yield f"{NOT_RECORDED[0].upper()}{NOT_RECORDED[1:]}."
    if setup_id not in plan.setups:
        yield "It is no longer in the plan."
    for text in setup_on_record(plan, state, setup_id).words:
        yield f"As it stood: {text}."
    for head, entry in state.readings.get(setup_id, {}).items():
        yield f"Read: {head or 'all heads'} {entry.data.f} at {meter_place_text(entry.data.where)}."
    for entry in entries:
        if isinstance(entry.data, Note) and entry.data.setup == setup_id:
            yield f"Note: {entry.data.text}"


def _setup_file(setup: Setup, comments: Iterable[str]) -> str:
    import tomli_w

    table = _without_empty(plain(setup))
    del table["id"]
    return "".join(f"# {_one_line(comment)}\n" for comment in comments) + "\n" + tomli_w.dumps(table)


def _measured_file(plan: Plan, rows: Iterable[Measured]) -> str:
    import tomli_w

    head = (
        f"# Readings of {_one_line(plan.day.name)}, {plan.day.date.isoformat()}, as rows for kit.toml: paste\n"
        "# those you trust at its end. One row for a head, modifier and accessories counts.\n"
    )
    # a thousandth of an f-number is finer than any meter
    tables = [_without_empty(plain(replace(row, reads_f=round(row.reads_f, 3)))) for row in rows]
    return head + "\n" + tomli_w.dumps({"measured": tables})


def _without_empty(value: Any) -> Any:
    """Leave out None, which TOML does not have, and empty lists."""
    if isinstance(value, dict):
        return {key: _without_empty(item) for key, item in value.items() if item is not None and item != []}
    return [_without_empty(item) for item in value] if isinstance(value, list) else value


def _one_line(text: str) -> str:
    return "".join(char if char.isprintable() else " " for char in text)
