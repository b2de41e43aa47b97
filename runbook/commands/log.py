"""``runbook log``: the journal as it was kept, a look as it was shot, and how far off it is now."""

from __future__ import annotations

from argparse import Namespace
from collections.abc import Sequence
from pathlib import Path
from typing import Final

from runbook.commands.output import (
    FINE,
    WRONG,
    check_new_folder,
    print_error,
    print_json,
    print_line,
    refusal,
    write_folder,
)
from runbook.day.event_text import log_lines
from runbook.day.load_plan import read_day
from runbook.files.errors import Unreadable, instead, shown_path, split, unreadable
from runbook.files.paths import DAY_FILE, KIT_FILE, find_day, records_of
from runbook.journal.events import Entry, Skipped, live
from runbook.journal.journal import Journal, journal_path
from runbook.model.day import Plan

_ALL: Final = "all"  # what is written for the whole set


def run(args: Namespace) -> int:
    """Print the journal of a day; it need not be readable as a plan any more."""
    folder = find_day(args.day)
    try:
        next(folder.iterdir(), None)
    except (OSError, ValueError) as problem:  # it holds no journal and never could
        raise unreadable(folder, problem) from None
    path = journal_path(records_of(folder))
    journal = Journal.read(path)
    for row in journal.unreadable:
        print_error(f"entry {row.n} cannot be read: {row.why}; all others can")
    if args.match is not None:
        return _match(read_day(folder), journal.entries, args.match, as_json=args.json)
    if args.as_shot is not None:
        _write_as_shot(folder, journal.entries, Path(args.as_shot))
    else:
        if not journal.entries and path.exists() and not path.stat().st_size:
            print_error(f"{path.name} is empty: anything it held is lost")
        _print_log(folder, journal.entries, as_json=args.json)
    return WRONG if journal.unreadable else FINE


def _print_log(folder: Path, entries: Sequence[Entry], *, as_json: bool) -> None:
    """Print the journal, and what steps skipped left undone in the setups shot; that needs a plan that can be read."""
    try:
        plan = read_day(folder) if entries else None
    except Unreadable:
        plan = None
    undone = _left_undone(plan, live(entries))
    if as_json:
        print_json({"entries": [entry.facts() for entry in entries], "left_undone": undone})
        return
    if not entries:
        print_line("The journal is empty. To begin the day: runbook open")
    for line in log_lines(entries, plan.day.units if plan else "metric"):
        entry, undone_text = line.entry, "  (undone)" if line.undone else ""
        print_line(f"{entry.n:>5}  {entry.at:%Y-%m-%d %H:%M:%S}  {entry.who:<10} {line.text}{undone_text}")
    for setup_id, texts in (undone or {}).items():
        for text in texts:
            print_line(f"{setup_id} as shot, steps were skipped: {text}")


def _left_undone(plan: Plan | None, counted: Sequence[Entry]) -> dict[str, list[str]] | None:
    """Return what skipped steps left undone, by setup; None where only a plan could answer that and there is none."""
    if not any(isinstance(entry.data, Skipped) and entry.data.what == "step" for entry in counted):
        return {}
    if plan is None:
        return None
    from runbook.day.day_record import changed_setups, left_undone
    from runbook.day.reduce import state_after

    state = state_after(plan, counted)
    undone = {setup_id: [*left_undone(plan, state, setup_id)] for setup_id in changed_setups(plan, state)}
    return {setup_id: texts for setup_id, texts in undone.items() if texts}


def _write_as_shot(folder: Path, entries: Sequence[Entry], target: Path) -> None:
    """Write a new day's folder: kit and hours as they are, every setup as it was shot."""
    from runbook.day.repeat_setup import as_shot_files

    check_new_folder(target, "log", "--as-shot")
    files = {name: (folder / name).read_bytes() for name in (DAY_FILE, KIT_FILE)}
    files |= {name: text.encode() for name, text in as_shot_files(read_day(folder), entries).items()}
    write_folder(target, files, "log", "--as-shot")
    for name in sorted(files):
        print_line(f"wrote {shown_path(target / name)}")


def _match(plan: Plan, entries: Sequence[Entry], words: Sequence[str], *, as_json: bool) -> int:
    """Print readings now against a setup as shot: 0 when they match, 1 when something is to do."""
    from runbook.day.day_record import NOT_RECORDED, left_undone
    from runbook.day.reduce import state_after
    from runbook.day.repeat_setup import match_facts, match_readings, match_text
    from runbook.day.state import missing_of_kit, setup_as_shot, setups_without_snapshot

    setup_id, state = words[0], state_after(plan, live(entries))
    if setup_id not in plan.setups and setup_id not in state.frozen:
        raise refusal("log", "--match", f"no setup is called {setup_id}", instead(setup_id, plan.setups))
    readings = dict(map(_reading, words[1:]))
    setup = setup_as_shot(plan, state, setup_id)
    for name in missing_of_kit(plan.kit, setup)[:1]:
        what = f"{setup_id} was shot with {name}, and the kit no longer has {name}"
        raise refusal("log", "--match", what, "put it back into kit.toml")
    unused = [head for head in readings if head is not None and head not in setup.light]
    if unused or not readings:
        what = f"{unused[0]} is not used in {setup_id}" if unused else "no reading is given"
        heads = ", ".join((*setup.light, _ALL))
        do = f"write HEAD=READING for {heads}, like {next(iter(setup.light), 'A')}=5.6"
        raise refusal("log", "--match", what, do)
    matches = match_readings(plan, setup_id, entries, readings)
    undone = left_undone(plan, state, setup_id)
    if setup_id in setups_without_snapshot(state):
        print_error(f"runbook log: {setup_id}: {NOT_RECORDED}")
    if as_json:
        print_json(match_facts(setup_id, matches, undone))
    else:
        for line in (*(f"as shot, steps were skipped: {text}" for text in undone), *map(match_text, matches)):
            print_line(line)
    unlit = readings.keys() - {match.head for match in matches}
    for head in sorted(unlit, key=str):
        print_error(f"runbook log: {head or 'all heads'}: no light to compare")
    return WRONG if unlit or not all(match.matches for match in matches) else FINE


def _reading(word: str) -> tuple[str | None, float]:
    """Return the head (None: the whole set) and the reading in stops of a word like ``A=5.6``."""
    from runbook.day.parse_input import parse_reading

    head, sign, text = word.partition("=")
    if not sign or not head:
        raise refusal("log", "--match", f"{word!r} is not a reading of a head", "write it like A=5.6 or A=5.6+0.3")
    try:
        return (None if head == _ALL else head), parse_reading(text)
    except ValueError as problem:
        raise refusal("log", "--match", *split(problem)) from None
