"""``runbook log``: the journal as it was kept, a look as it was shot, and how far off it is now."""

from __future__ import annotations

import os
from argparse import Namespace
from collections.abc import Sequence
from pathlib import Path
from typing import Final

from runbook.commands.output import FINE, WRONG, print_error, print_json, print_line
from runbook.day.event_text import log_lines
from runbook.files.atomic_write import write_folder
from runbook.files.errors import Fault, Unreadable, instead, shown_path, split, unreadable
from runbook.files.paths import DAY_FILE, KIT_FILE, find_day, records_of
from runbook.journal.events import Changed, Entry, Skipped, live
from runbook.journal.journal import Journal, journal_path
from runbook.model.day import Plan

_WHO: Final = "runbook log"
_ALL: Final = "all"  # what is written for the whole set


def run(args: Namespace) -> int:
    """Print the journal of a day; it need not be readable as a plan any more."""
    folder = find_day(args.day)
    _must_be_folder(folder)
    path = journal_path(records_of(folder))
    seen = Journal.read(path)
    for row in seen.unreadable:
        print_error(f"entry {row.n} cannot be read: {row.why}; the others are all here")
    if args.as_shot is not None:
        _write_as_shot(folder, seen.entries, Path(args.as_shot))
        return WRONG if seen.unreadable else FINE
    if args.match is not None:
        return _match(folder, seen.entries, args.match, as_json=args.json)
    counted = live(seen.entries)
    skips = any(isinstance(each.data, Skipped) and each.data.what == "step" for each in counted)
    measures = not args.json and any(isinstance(each.data, Changed) for each in seen.entries)
    plan = _plan(folder) if skips or measures else None
    undone = _left_undone(plan, counted) if skips else {}
    if args.json:
        entries = [entry.facts() for entry in seen.entries]
        print_json({"entries": entries, "left_undone": undone})
        return WRONG if seen.unreadable else FINE
    if not seen.entries and path.exists() and not path.stat().st_size:
        print_error(f"{path.name} is empty: what it held, if anything, is lost")
    if not seen.entries:
        print_line("Nothing has been journalled yet; runbook open begins the day.")
    for line in log_lines(seen.entries, plan.day.units if plan else "metric"):
        entry, taken_back = line.entry, "  (undone)" if line.undone else ""
        print_line(f"{entry.n:>5}  {entry.at:%Y-%m-%d %H:%M:%S}  {entry.who:<10} {line.text}{taken_back}")
    for setup_id, told in (undone or {}).items():
        for each in told:
            print_line(f"{setup_id} as shot, steps were skipped: {each}")
    return WRONG if seen.unreadable else FINE


def _plan(folder: Path) -> Plan | None:
    """The day's plan; None where it cannot be read as one any more."""
    from runbook.files.load import read_day

    try:
        return read_day(folder)
    except Unreadable:
        return None


def _left_undone(plan: Plan | None, counted: Sequence[Entry]) -> dict[str, list[str]] | None:
    """By setup, what skipped steps left undone; None where there is no plan any more to say it."""
    if plan is None:
        return None
    from runbook.day.day_record import changed_setups, left_undone
    from runbook.day.reduce import state_after

    state = state_after(plan, counted)
    found = {each: [*left_undone(plan, state, each)] for each in changed_setups(plan, state)}
    return {setup_id: told for setup_id, told in found.items() if told}


def _must_be_folder(folder: Path) -> None:
    """Raises Unreadable, as for the other commands, for what holds no journal and never could."""
    try:
        with os.scandir(folder):
            pass
    except (OSError, ValueError) as problem:
        raise unreadable(folder, problem) from None


# -- as shot -------------------------------------------------------------------------------------


def _write_as_shot(folder: Path, entries: Sequence[Entry], target: Path) -> None:
    """A new day's folder: kit and hours as they are, every setup as it was shot."""
    from runbook.day.repeat_setup import as_shot_files
    from runbook.files.load import read_day

    plan = read_day(folder)
    files = {name: (folder / name).read_bytes() for name in (DAY_FILE, KIT_FILE)}
    files |= {name: text.encode() for name, text in as_shot_files(plan, entries).items()}
    if target.exists() or target.is_symlink():
        what, do = f"{target} is there already", "name a folder that is not; it is made"
        raise Unreadable([Fault(_WHO, None, "--as-shot", what, do)])
    try:
        write_folder(target, files)
    except (OSError, ValueError) as problem:
        why = (getattr(problem, "strerror", None) or str(problem)).lower()
        do = "name a new folder in one that is there and can be written"
        raise Unreadable([Fault(_WHO, None, "--as-shot", f"{target}: {why}", do)]) from None
    for name in sorted(files):
        print_line(f"wrote {shown_path(target / name)}")


# -- does it match -------------------------------------------------------------------------------


def _match(folder: Path, entries: Sequence[Entry], words: Sequence[str], *, as_json: bool) -> int:
    """Readings now against a setup as shot: 0 when they match, 1 when something is to do."""
    from runbook.day.day_record import NOT_RECORDED, left_undone
    from runbook.day.reduce import state_after
    from runbook.day.repeat_setup import match_facts, match_readings, match_text
    from runbook.day.state import missing_of_kit, setup_as_shot, setups_without_snapshot
    from runbook.files.load import read_day

    plan = read_day(folder)
    setup_id, *readings = words
    state = state_after(plan, live(entries))
    if setup_id not in plan.setups and setup_id not in state.frozen:
        what, do = f"no setup is called {setup_id}", instead(setup_id, plan.setups)
        raise Unreadable([Fault(_WHO, None, "--match", what, do)])
    now = dict(_reading(word) for word in readings)
    setup = setup_as_shot(plan, state, setup_id)
    gone = missing_of_kit(plan.kit, setup)
    if gone:
        what = f"{setup_id} was shot with {gone[0]}, and the kit has no {gone[0]} any more"
        raise Unreadable([Fault(_WHO, None, "--match", what, "put it back into kit.toml")])
    lit = setup.light
    wrong = [head for head in now if head is not None and head not in lit]
    if wrong or not now:
        what = f"{wrong[0]} is not used in {setup_id}" if wrong else "no reading is given"
        do = f"write HEAD=READING for {', '.join((*lit, _ALL))}, like {next(iter(lit), 'A')}=5.6"
        raise Unreadable([Fault(_WHO, None, "--match", what, do)])
    found = match_readings(plan, setup_id, entries, now)
    undone = left_undone(plan, state, setup_id)
    if setup_id in setups_without_snapshot(state):
        print_error(f"{_WHO}: {setup_id}: {NOT_RECORDED}")
    if as_json:
        print_json(match_facts(setup_id, found, undone))
    else:
        for line in undone:
            print_line(f"as shot, steps were skipped: {line}")
        for each in found:
            print_line(match_text(each))
    said = {each.head for each in found}
    for head in now:
        if head not in said:
            print_error(f"{_WHO}: {head or 'all heads'}: no light there to match")
    matched = len(said) == len(now) and all(each.matches for each in found)
    return FINE if matched else WRONG


def _reading(word: str) -> tuple[str | None, float]:
    from runbook.day.parse_input import parse_reading

    head, sign, text = word.partition("=")
    if not sign or not head:
        what, do = f"{word!r} is no reading of a head", "write it like A=5.6 or A=5.6+0.3"
        raise Unreadable([Fault(_WHO, None, "--match", what, do)])
    try:
        stops = parse_reading(text)
    except ValueError as problem:
        raise Unreadable([Fault(_WHO, None, "--match", *split(problem))]) from None
    return (None if head == _ALL else head), stops
