"""``runbook handover``: the whole day in one file, for the next shooter."""

from __future__ import annotations

import sys
import tempfile
from argparse import Namespace
from collections.abc import Mapping
from contextlib import suppress
from dataclasses import replace
from datetime import UTC
from pathlib import Path

from runbook import __version__
from runbook.commands.load_session import now, selects_part
from runbook.commands.output import FINE, NOT_READ, print_error, print_line, refusal, show_progress, write_file
from runbook.day.actions import Refused, Session
from runbook.day.handover_file import JOURNAL, PLAN, SHEET, SUFFIX, BadArchive, Manifest, pack
from runbook.day.handover_lines import estimate_finish, handover_lines
from runbook.day.load_plan import read_day
from runbook.files.errors import Unreadable, shown_path
from runbook.files.load import day_bytes, read_files
from runbook.files.paths import find_day, records_of
from runbook.journal.journal import Journal, journal_path
from runbook.light.solve import with_powers
from runbook.model.day import Plan


def run(args: Namespace) -> int:
    """Write the handover and record it in this day's journal; 0 when done."""
    path = Path(args.output)
    if path.suffix.lower() != SUFFIX:
        do = f"name a file like {path.stem or 'day'}{SUFFIX}"
        raise refusal("handover", "-o", f"{path} does not end in {SUFFIX}", do)
    folder = find_day(args.day)
    plan = read_day(folder)
    to = (args.to if args.to is not None else _ask_name()).strip()
    if not to:
        print_error("runbook handover: nobody to hand over to; name the next shooter with --to NAME")
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
        show_progress("writing the handover")
        try:
            give(session, to, path)
            session.hand_over(to)
        except Refused as why:
            raise refusal("handover", "", str(why)) from None
        selects = len(session.view.frames.select_files(records))
    print_line(f"pictures in the file: {selects} (small copies of the selects, no others)")
    print_line(f"wrote {shown_path(path)}; {to} takes the day over with: runbook resume {path.name}")
    return FINE


def _ask_name() -> str:
    with suppress(EOFError):
        if sys.stdin is not None and sys.stdin.isatty():
            show_progress("")
            return input("Who takes the day over? ")
    return ""


def give(session: Session, to: str, path: Path) -> None:
    """Write the handover file of a running day; its journal is unchanged.

    Raises Refused or Unreadable when it cannot be written, or not be taken over as written.
    """
    if session.folder is None:
        raise Refused("this day has no folder to hand over")
    write_file(path, packed(session, session.folder, to), "handover")


def packed(session: Session, folder: Path, to: str) -> bytes:
    """Return the handover of a running day as bytes, which ``runbook resume`` can take.

    Raises Refused or Unreadable when it cannot be packed.
    """
    from runbook.reports.day_page import day_page
    from runbook.reports.document import html_page

    files = {f"{PLAN}{name}": data for name, data in _plan_bytes(session, folder).items()}
    files[JOURNAL] = _journal_bytes(session)
    timings, zone = session.changes.timings, session.clock().tzinfo or UTC
    records = records_of(folder)
    files |= {path.name: path.read_bytes() for path in session.view.frames.select_files(records).values()}
    selects = selects_part(session.state, records)
    files[SHEET] = html_page(day_page(as_shot_plan(session), zone=zone, timings=timings, more=selects)).encode()
    at, name = session.clock().isoformat(), session.plan.day.name
    try:
        # which also unpacks it to check
        return pack(Manifest(__version__, name, folder.resolve().name, session.who, to, at), files)
    except BadArchive as why:
        raise refusal("handover", "", f"the day cannot be packed: {why}") from None


def _plan_bytes(session: Session, folder: Path) -> Mapping[str, bytes]:
    """Return the files, by name, of the plan that a session runs: as on disk, or as they were read.

    The files on disk may have changed since; measured rows saved meanwhile do not count as a change.
    Raises Refused when neither set of files makes the plan.
    """
    on_disk: Mapping[str, bytes] = {}
    with suppress(Unreadable):
        on_disk = day_bytes(folder)
    for files in (on_disk, session.plan_files):
        with suppress(Unreadable):
            plan = read_files(folder, files)
            if with_powers(replace(plan, kit=replace(plan.kit, measured=session.plan.kit.measured))) == session.plan:
                return files
    raise Refused("the plan's files changed on disk; fix them and open the day again")


def _journal_bytes(session: Session) -> bytes:
    """Return a new journal file with a session's entries, independent of the day's own file."""
    with tempfile.TemporaryDirectory(prefix="runbook-") as aside:
        path = journal_path(Path(aside))
        Journal.in_memory(clock=now, who=session.who, entries=session.entries).write_out(path)
        return path.read_bytes()


def as_shot_plan(session: Session) -> Plan:
    """Return the plan with every setup as the journal has it as shot.

    A setup shot with things that the kit no longer has stays as planned: its light is unknown.
    """
    from runbook.day.day_record import changed_setups
    from runbook.day.state import missing_of_kit, setup_as_shot

    plan, state = session.plan, session.state
    shot = {setup_id: setup_as_shot(plan, state, setup_id) for setup_id in changed_setups(plan, state)}
    known = {setup_id: setup for setup_id, setup in shot.items() if not missing_of_kit(plan.kit, setup)}
    return replace(plan, setups=plan.setups | known)
