"""``runbook handover``: the whole day in one file, for the next shooter."""

from __future__ import annotations

import sys
import tempfile
from argparse import Namespace
from collections.abc import Mapping, Sequence
from contextlib import suppress
from dataclasses import replace
from datetime import datetime
from pathlib import Path
from typing import Final

from runbook import __version__
from runbook.commands.load_session import now
from runbook.commands.output import FINE, NOT_READ, print_error, print_line, write_file
from runbook.day.actions import Refused, Session
from runbook.day.handover_file import JOURNAL, PLAN, SHEET, SUFFIX, BadArchive, Manifest, pack
from runbook.day.handover_lines import estimate_finish, handover_lines
from runbook.files.errors import Fault, Unreadable, shown_path
from runbook.files.load import day_bytes, read_day, read_files
from runbook.files.paths import find_day, records_of
from runbook.journal.events import Entry
from runbook.journal.journal import Journal, journal_path
from runbook.model.day import Plan

_WHO: Final = "runbook handover"


def run(args: Namespace) -> int:
    """Write the handover and record it in this day's journal; 0 when done."""
    path = Path(args.output)
    if path.suffix.lower() != SUFFIX:
        do = f"name a file like {path.stem or 'day'}{SUFFIX}"
        raise Unreadable([Fault(_WHO, None, "-o", f"{path} is not the name of a handover", do)])
    folder = find_day(args.day)
    plan = read_day(folder)
    to = (args.to if args.to is not None else _ask_name()).strip()
    if not to:
        print_error(f"{_WHO}: no name; say who takes the day over with --to NAME")
        return NOT_READ
    records = records_of(folder)
    records.mkdir(parents=True, exist_ok=True)
    first = plan.day.crew[0].id if plan.day.crew else "crew"
    with Journal.open(journal_path(records), clock=now, who=args.who or first) as journal:
        session = Session(plan, journal, args.who or first, now, folder)
        session.who = args.who or session.state.taken_by or first
        estimate_finish(session)
        for line in handover_lines(session, now()):
            print_line(f"{'SAFETY  ' if line.safety else ''}{line.topic}: {line.text}")
        try:
            give(session, to, path)
            session.hand_over(to)
        except Refused as why:
            raise Unreadable([Fault(_WHO, None, "", str(why))]) from None
    print_line(f"wrote {shown_path(path)}; {to} takes the day over with: runbook resume {path.name}")
    return FINE


def give(session: Session, to: str, path: Path) -> None:
    """Write the handover file of a running day; its journal is unchanged.

    Raises Refused or Unreadable when it cannot be written, or not be taken over as written.
    """
    folder = session.folder
    if folder is None:
        raise Refused("this day has no folder to hand over")
    data = packed(session, folder, to, session.clock())
    write_file(path, data, _WHO)
    try:
        if path.read_bytes() == data:
            return
        why = "it reads back differently than it was written"
    except OSError as error:
        why = f"it cannot be read back: {(error.strerror or str(error)).lower()}"
    raise Refused(f"{path.name} is not usable, {why}; write it to another disk")


def packed(session: Session, folder: Path, to: str, at: datetime) -> bytes:
    """The handover of a running day as bytes, which ``runbook resume`` can take.

    Raises Refused or Unreadable when it cannot be packed.
    """
    files = {f"{PLAN}{name}": data for name, data in plan_bytes(session, folder).items()}
    files[JOURNAL] = _journal(session.entries, session.who)
    files[SHEET] = _sheet(session).encode()
    manifest = Manifest(__version__, session.plan.day.name, folder.resolve().name, session.who, to, at.isoformat())
    try:
        return pack(manifest, files)  # which also unpacks it to check
    except BadArchive as why:
        raise Unreadable([Fault(_WHO, None, "", f"the day cannot be packed: {why}")]) from None


def plan_bytes(session: Session, folder: Path) -> Mapping[str, bytes]:
    """The files, by name, of the plan that a session runs: as on disk, or as they were read.

    The files on disk may have changed since; measured rows saved meanwhile do not count as a change.
    Raises Refused when neither set of files makes the plan.
    """
    try:
        on_disk = day_bytes(folder)
    except Unreadable:
        on_disk = {}
    for files in (on_disk, session.plan_files):
        with suppress(Unreadable):
            plan = read_files(folder, files)
            kit = replace(plan.kit, measured=session.plan.kit.measured)
            if replace(plan, kit=kit) == session.plan:
                return files
    raise Refused("the plan's files changed on disk; fix them and open the day again")


def _journal(entries: Sequence[Entry], who: str) -> bytes:
    """A new journal file with these entries, independent of the day's own file."""
    with tempfile.TemporaryDirectory(prefix="runbook-") as aside:
        path = journal_path(Path(aside))
        Journal.in_memory(clock=now, who=who, entries=entries).write_out(path)
        if list(Journal.read(path).entries) != list(entries):
            raise Refused("the copy of the journal reads back differently; try again")
        return path.read_bytes()


def _sheet(session: Session) -> str:
    """The printed runbook with every setup as it was shot so far."""
    from runbook.reports.day_page import day_page
    from runbook.reports.document import html_page

    return html_page(day_page(as_shot_plan(session)))


def as_shot_plan(session: Session) -> Plan:
    """The plan with every setup as the journal has it as shot.

    A setup shot with things that the kit no longer has stays as planned: its light is unknown.
    """
    from runbook.day.day_record import changed_setups
    from runbook.day.state import missing_of_kit, setup_as_shot

    plan, state = session.plan, session.state
    shot = {each: setup_as_shot(plan, state, each) for each in changed_setups(plan, state)}
    known = {key: each for key, each in shot.items() if not missing_of_kit(plan.kit, each)}
    return replace(plan, setups=plan.setups | known)


def _ask_name() -> str:
    if sys.stdin is None or not sys.stdin.isatty():
        return ""
    try:
        return input("Who takes the day over? ")
    except EOFError:
        return ""
