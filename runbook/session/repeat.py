"""A look shot before, to be made again: its files as shot, and how far off it is now."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from typing import Any, Final

from runbook.journal.as_shot import Shot, as_shot, shot
from runbook.journal.entries import Changed, Entry, Frames, Reading, SetupBegun, SetupShot, live
from runbook.light.predict import predict
from runbook.light.stops import METER_LEAST, as_meter, f_number
from runbook.plan.day import Plan
from runbook.plan.kit import Measured
from runbook.plan.power import Power
from runbook.plan.setup import Light, Setup
from runbook.plan.shape import plain
from runbook.plan.tuples import NamedTuple
from runbook.session.light import anchor

MEASURED_FILE: Final = "measured.txt"  # not .toml: in a day's folder that would be a setup
# a third-stop dial cannot come nearer than half a click, and nobody sees less than this
_SAME: Final = 0.17


class Match(NamedTuple):
    """One head now against as shot: readings in stops, ``off_stops`` plus is brighter now.

    ``head`` None is the whole set. ``was_metered`` is False where nobody metered it that day and
    the reading to match is what the sums say of the setup as shot. ``dial`` is the power to dial,
    ``left_over_stops`` what then remains; None where there is nothing to dial.
    """

    head: str | None
    was_stops: float
    now_stops: float
    was_metered: bool
    power: Power | None
    dial: Power | None
    left_over_stops: float

    @property
    def off_stops(self) -> float:
        return self.now_stops - self.was_stops

    @property
    def matches(self) -> bool:
        """Whether nobody would see the difference."""
        return abs(self.off_stops) <= _SAME


def worked_on(plan: Plan, entries: Iterable[Entry]) -> tuple[str, ...]:
    """The setups that the journal says anything about, in the day's order, then any others."""
    kinds = (SetupBegun, Changed, Reading, Frames, SetupShot)
    named = {e.data.setup for e in live(entries) if isinstance(e.data, kinds)}
    return tuple(
        setup_id for setup_id in dict.fromkeys((*plan.day.order, *plan.setups)) if setup_id in named
    )


def measured_of(plan: Plan, setup: Setup, entries: Iterable[Entry]) -> dict[str, Measured]:
    """The last reading of each head of a planned setup as a row of the kit, by head.

    Each speaks of the setup as it was when the meter was read, whatever was changed after.
    """
    counted = live(entries)
    rows: dict[str, Measured] = {}
    for at, entry in enumerate(counted):
        data = entry.data
        if not isinstance(data, Reading) or data.setup != setup.id or data.head is None:
            continue
        then = as_shot(setup, counted[:at], plan.kit.dials)
        light = then.light.get(data.head)
        row = anchor(plan.kit, then, light, data.stops) if light is not None else None
        if row is not None:
            rows[data.head] = row
    return rows


def match(
    plan: Plan, setup_id: str, entries: Iterable[Entry], now: Mapping[str | None, float]
) -> tuple[Match, ...]:
    """Readings ``now``, in stops by head (None: the whole set), against the setup as shot.

    Raises KeyError with a head that does not burn in it.
    """
    counted = live(entries)
    planned = plan.setups[setup_id]
    setup = as_shot(planned, counted, plan.kit.dials)
    rows = measured_of(plan, planned, counted)
    light = predict(plan, setup, tuple(rows.values()))
    heads = {each.head: each for each in light.heads}
    metered = shot(planned, counted, plan.kit.dials).readings
    found = []
    for head, stops in now.items():
        if head is None:
            whole = metered.get(None)
            was = whole.stops if whole else light.whole_stops
            if was is not None:
                found.append(Match(None, was, stops, whole is not None, None, None, 0.0))
            continue
        was = heads[head].reads_stops
        if head in metered and head not in rows:  # aimed past the face: what the meter showed
            was = metered[head].stops
        if was is not None and was >= METER_LEAST:
            found.append(_matched(plan, setup.light[head], was, stops, was_metered=head in metered))
    return tuple(found)


def _matched(plan: Plan, light: Light, was: float, now: float, *, was_metered: bool) -> Match:
    head, power = light.head, light.power
    if power.below_full is None:
        return Match(head, was, now, was_metered, power, None, 0.0)
    wanted = float(power.below_full) + now - was
    dial = plan.kit.head[head].dial.nearest(wanted)
    assert dial.below_full is not None
    return Match(head, was, now, was_metered, power, dial, wanted - float(dial.below_full))


def match_facts(setup_id: str, found: Iterable[Match]) -> dict[str, Any]:
    """Matches as plain data for a program; readings as f-numbers."""
    return {
        "setup": setup_id,
        "heads": [
            {
                "head": each.head,
                "was_f": f_number(each.was_stops),
                "now_f": f_number(each.now_stops),
                "was_metered": each.was_metered,
                "off_stops": each.off_stops,
                "matches": each.matches,
                "power": None if each.power is None else str(each.power),
                "dial": None if each.dial is None else str(each.dial),
                "left_over_stops": each.left_over_stops,
            }
            for each in found
        ],
    }


def match_said(each: Match) -> str:
    """``A: f/5.6 +0.4 now, f/5.6 as shot: 0.4 over; dial 1/8 instead of 1/8+0.3``."""
    name = each.head or "all heads"
    source = "as shot" if each.was_metered else "by the sums, nobody metered it"
    off = round(each.off_stops, 1)
    how = f"{abs(off):.1f} {'over' if off > 0 else 'under'}" if off else "the same"
    said = f"{name}: {as_meter(each.now_stops)} now, {as_meter(each.was_stops)} {source}: {how}"
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
    done = set(worked_on(plan, counted))
    files: dict[str, str] = {}
    measured: dict[object, Measured] = {}
    for setup in plan.setups.values():
        if setup.id in done:
            came = shot(setup, counted, plan.kit.dials)
            files[f"{setup.id}.toml"] = _text(came.setup, _heading(plan, came, counted))
            for row in measured_of(plan, setup, counted).values():
                measured[row.head, row.modifier, row.accessories] = row
        else:
            files[f"{setup.id}.toml"] = _text(setup, ["As planned: nobody worked on it."])
    if measured:
        files[MEASURED_FILE] = _measured_text(plan, measured.values())
    return files


def _heading(plan: Plan, came: Shot, counted: list[Entry]) -> Iterator[str]:
    yield f"As shot on {plan.day.name}, {plan.day.date.isoformat()}: {came.frames} frames."
    if any(isinstance(e.data, SetupShot) and e.data.setup == came.setup.id for e in counted):
        yield "Called shot."
    for head, reading in came.readings.items():
        yield f"Read: {head or 'all heads'} {reading.f}, {reading.where}."
    for note in came.notes:
        yield f"Note: {note}"


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
    return plain(row._replace(reads_f=round(row.reads_f, 3)))


def _bare(value: Any) -> Any:
    """Without what is not there: TOML has no nothing, and an empty list says as little."""
    if isinstance(value, dict):
        return {key: _bare(item) for key, item in value.items() if item is not None and item != []}
    return [_bare(item) for item in value] if isinstance(value, list) else value


def _line(text: str) -> str:
    return "".join(char if char.isprintable() else " " for char in text)
