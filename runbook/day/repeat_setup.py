"""A look shot before, to be made again: its files as shot, and how far off it is now."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import replace
from typing import Any, Final, NamedTuple

from runbook.day.event_text import meter_place_text
from runbook.day.light import anchor, meter_place, predicted_at
from runbook.day.plan_vs_actual import NOT_RECORDED
from runbook.day.reduce import state_after
from runbook.day.state import DayState, missing_of_kit, setup_as_shot, setup_on_record, setups_without_snapshot
from runbook.files.validate import plain
from runbook.journal.as_shot import Stood
from runbook.journal.entries import Changed, Entry, Frames, Note, Reading, SetupBegun, SetupShot, live
from runbook.light.prediction import Prediction, predict
from runbook.light.stops import METER_LEAST, f_number, meter_text
from runbook.model.day import Plan
from runbook.model.kit import Measured
from runbook.model.power import Power
from runbook.model.setup import Setup

MEASURED_FILE: Final = "measured.txt"  # not .toml: in a day's folder that would be a setup
# a third-stop dial cannot come nearer than half a click, and nobody sees less than this
_SAME: Final = 0.17


class ReadingMatch(NamedTuple):
    """One head now against as shot: readings in stops, ``off_stops`` plus is brighter now.

    ``head`` None is the whole set. ``was_metered`` is False where nobody metered it that day, or
    in no light, and the reading to match is what the sums say of the setup as shot. ``dial`` is the
    power to dial, ``left_over_stops`` what then remains; None where there is nothing to dial.
    ``where`` is where the meter is held. A reading of ``read_stops`` was carried over the
    ``changes`` made after it, in words: a head's by its own power, that of the whole set by what
    the sums say each source has in it.
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

    @property
    def off_stops(self) -> float:
        return self.now_stops - self.was_stops

    @property
    def matches(self) -> bool:
        """Whether nobody would see the difference."""
        return abs(self.off_stops) <= _SAME


def setups_worked_on(plan: Plan, entries: Iterable[Entry]) -> tuple[str, ...]:
    """The setups that the journal says anything about, in the day's order, then any others."""
    kinds = (SetupBegun, Changed, Reading, Frames, SetupShot)
    named = {e.data.setup for e in live(entries) if isinstance(e.data, kinds)}
    return tuple(setup_id for setup_id in dict.fromkeys((*plan.day.order, *plan.setups)) if setup_id in named)


def measured_of(plan: Plan, state: DayState, setup_id: str) -> dict[str, Measured]:
    """The last reading of each head of a setup as a row of the kit, by head.

    Each speaks of the setup as it was when the meter was read, whatever was changed after.
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
    """Readings ``now``, in stops by head (None: the whole set), against the setup as shot.

    Raises KeyError with a head that does not burn in it.
    """
    state = state_after(plan, live(entries))
    setup = setup_as_shot(plan, state, setup_id)
    rows = tuple(measured_of(plan, state, setup_id).values())
    light = predict(plan, setup, rows)
    found = []
    for head, stops in now.items():
        where = "face" if head is None else meter_place(setup.light[head])
        was = _told(light, head, where)
        each = ReadingMatch(head, was or 0.0, stops, False, None, None, 0.0, where)
        there = was is not None and was >= METER_LEAST
        then = state.metered.get(setup_id, {}).get(head)
        if then is not None and not missing_of_kit(plan.kit, then):
            read = state.readings[setup_id][head].data
            carried = _carried(read, predict(plan, then, rows), light)
            changes = tuple(_changes(then, setup, head))
            each = each._replace(read_stops=read.stops, changes=changes)
            if carried is not None:
                there = True
                each = each._replace(was_stops=carried, was_metered=True, where=read.where)
        if there:
            found.append(_dialled(plan, setup, each))
    return tuple(found)


def _told(light: Prediction, head: str | None, where: str) -> float | None:
    """What the sums say of a head, or the whole set, in stops."""
    if head is None:
        return light.whole_stops
    return next((predicted_at(each, where) for each in light.heads if each.head == head), None)


def _carried(read: Reading, then: Prediction, now: Prediction) -> float | None:
    """A reading carried over what was changed after it: as much more as the sums say.

    None where the sums know of no light then or now.
    """
    before, after = (_told(light, read.head, read.where) for light in (then, now))
    return None if before is None or after is None else read.stops + after - before


def _changes(then: Setup, now: Setup, head: str | None) -> Iterator[str]:
    """What was changed in between, of a head or of the whole set: powers by name."""
    old = {light.head: then.light.get(light.head, light).power for light in now.lights}
    for light in now.lights:
        if old[light.head] != light.power and head in (None, light.head):
            yield f"{light.head} went from {old[light.head]} to {light.power}"
    same = replace(now, lights=tuple(replace(each, power=old[each.head]) for each in now.lights))
    if same != then if head is None else same.light.get(head) != then.light.get(head):
        yield "more was changed"


def _dialled(plan: Plan, setup: Setup, each: ReadingMatch) -> ReadingMatch:
    """The match with the power that would bring its head to as shot."""
    if each.head is None:
        return each
    power = setup.light[each.head].power
    if power.below_full is None:
        return each._replace(power=power)
    wanted = float(power.below_full) + each.off_stops
    dial = plan.kit.head[each.head].dial.nearest(wanted)
    assert dial.below_full is not None
    left_over = wanted - float(dial.below_full)
    return each._replace(power=power, dial=dial, left_over_stops=left_over)


def match_facts(setup_id: str, found: Iterable[ReadingMatch], left_undone: Iterable[str] = ()) -> dict[str, Any]:
    """Matches as plain data for a program; readings as f-numbers."""
    return {
        "setup": setup_id,
        "left_undone": list(left_undone),
        "heads": [
            {
                "head": each.head,
                "where": each.where,
                "was_f": f_number(each.was_stops),
                "now_f": f_number(each.now_stops),
                "was_metered": each.was_metered,
                "read_f": None if each.read_stops is None else f_number(each.read_stops),
                "off_stops": each.off_stops,
                "matches": each.matches,
                "power": None if each.power is None else str(each.power),
                "dial": None if each.dial is None else str(each.dial),
                "left_over_stops": each.left_over_stops,
            }
            for each in found
        ],
    }


def match_text(each: ReadingMatch) -> str:
    """``A: f/5.6 +0.4 now, f/5.6 as shot: 0.4 over; dial 1/8 instead of 1/8+0.3``."""
    name = each.head or "all heads"
    if each.where != "face":
        name += f" at {meter_place_text(each.where)}"
    source = "as shot" if each.was_metered else "by the sums"
    if each.read_stops is None:
        source += ", nobody metered it"
    if each.read_stops is not None and each.changes:
        source += f" (read {meter_text(each.read_stops)} before {' and '.join(each.changes)})"
    off = round(each.off_stops, 1)
    how = f"{abs(off):.1f} {'over' if off > 0 else 'under'}" if off else "the same"
    said = f"{name}: {meter_text(each.now_stops)} now, {meter_text(each.was_stops)} {source}: {how}"
    if each.dial is None or each.dial == each.power:
        return said
    said += f"; dial {each.dial} instead of {each.power}"
    left = round(each.left_over_stops, 1)
    return f"{said}, {left:+.1f} left over" if left else said


# -- the files -----------------------------------------------------------------------------------


def as_shot_files(plan: Plan, entries: Iterable[Entry]) -> dict[str, str]:
    """A setup file for each setup of the day, by name, and the readings as rows for a kit.

    Those worked on are as shot, the others as planned; each is whole, with no ``like``.
    """
    counted = live(entries)
    done, state = set(setups_worked_on(plan, counted)), state_after(plan, counted)
    files: dict[str, str] = {}
    measured: dict[object, Measured] = {}
    for setup_id in dict.fromkeys((*plan.setups, *state.frozen)):
        if setup_id in done or setup_id not in plan.setups:
            stood = setup_on_record(plan, state, setup_id)
            heading = _heading(plan, state, stood, counted)
            files[f"{setup_id}.toml"] = _text(stood.setup, heading)
            for row in measured_of(plan, state, setup_id).values():
                measured[row.head, row.modifier, row.accessories] = row
        else:
            as_planned = ["As planned: nobody worked on it."]
            files[f"{setup_id}.toml"] = _text(plan.setups[setup_id], as_planned)
    if measured:
        files[MEASURED_FILE] = _measured_text(plan, measured.values())
    return files


def _heading(plan: Plan, state: DayState, stood: Stood, counted: list[Entry]) -> Iterator[str]:
    setup_id = stood.setup.id
    frames = state.frames.get(setup_id, 0)
    yield f"As shot on {plan.day.name}, {plan.day.date.isoformat()}: {frames} frames."
    if any(isinstance(e.data, SetupShot) and e.data.setup == setup_id for e in counted):
        yield "Marked as shot."
    if setup_id in setups_without_snapshot(state):
        yield f"{NOT_RECORDED[0].upper()}{NOT_RECORDED[1:]}."
    if setup_id not in plan.setups:
        yield "It is no longer in the plan."
    for said in stood.words:
        yield f"As it stood: {said}."
    for head, entry in state.readings.get(setup_id, {}).items():
        yield f"Read: {head or 'all heads'} {entry.data.f} at {meter_place_text(entry.data.where)}."
    for entry in counted:
        if isinstance(entry.data, Note) and entry.data.setup == setup_id:
            yield f"Note: {entry.data.text}"


def _text(setup: Setup, comments: Iterable[str]) -> str:
    import tomli_w

    table = _bare(plain(setup))
    del table["id"]
    return "".join(f"# {_line(each)}\n" for each in comments) + "\n" + tomli_w.dumps(table)


def _measured_text(plan: Plan, rows: Iterable[Measured]) -> str:
    import tomli_w

    head = (
        f"# Readings of {plan.day.name}, {plan.day.date.isoformat()}, as rows for kit.toml: paste\n"
        "# those you trust at its end. One row for a head, modifier and accessories counts.\n"
    )
    return head + "\n" + tomli_w.dumps({"measured": [_bare(_rounded(row)) for row in rows]})


def _rounded(row: Measured) -> Any:
    """To the thousandth of an f-number: finer than any meter."""
    return plain(replace(row, reads_f=round(row.reads_f, 3)))


def _bare(value: Any) -> Any:
    """Without what is not there: TOML has no nothing, and an empty list says as little."""
    if isinstance(value, dict):
        return {key: _bare(item) for key, item in value.items() if item is not None and item != []}
    return [_bare(item) for item in value] if isinstance(value, list) else value


def _line(text: str) -> str:
    return "".join(char if char.isprintable() else " " for char in text)
