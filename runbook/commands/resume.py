"""``runbook resume``: take a day over from its handover file, line by line, and continue it."""

from __future__ import annotations

import stat
import tempfile
from argparse import Namespace
from collections.abc import Callable
from itertools import count
from pathlib import Path

from runbook.commands.load_session import is_terminal, now
from runbook.commands.open import show_day
from runbook.commands.output import NOT_READ, check_new_folder, print_error, print_line, reason, write_folder
from runbook.day.actions import Session
from runbook.day.handover_file import FILE_MAX, JOURNAL, SHEET, Archive, BadArchive, unpack
from runbook.day.handover_lines import HandoverLine, estimate_finish, handover_lines
from runbook.day.load_plan import read_day
from runbook.files.errors import Fault, Unreadable, one_line, shown_path
from runbook.journal.errors import JournalError
from runbook.journal.journal import Journal, journal_path
from runbook.model.fields import is_id

Ask = Callable[[str], str]


class Stopped(Exception):
    """The person taking the day over stopped half way."""


def run(args: Namespace) -> int:
    """Take the day over, then open it; 2 when it cannot be taken, and nothing is written."""
    path = Path(args.file)
    archive = read_archive(path)
    folder = Path(args.into) if args.into is not None else _free_name(archive.manifest.folder)
    check_new_folder(folder, "resume", "--into")
    if not is_terminal():
        print_error("runbook resume: confirming a handover needs a terminal; run it in one")
        return NOT_READ
    try:
        who = take(archive, folder, path, args.who, input)
    except (Stopped, EOFError):
        print_line("\nStopped: nothing was taken over, and nothing was written.")
        return NOT_READ
    print_line(f"The day is in {shown_path(folder)}.")
    return show_day(folder, read_day(folder), who)


def take(archive: Archive, folder: Path, path: Path, who: str | None, ask: Ask) -> str:
    """Unpack into a temporary folder, have every line confirmed, and put the day in its place.

    Returns who took it over. Raises Unreadable, Stopped or EOFError with nothing left behind; before
    the last line is confirmed nothing is written beside the folder, however the program ends.
    """
    given = archive.manifest
    with tempfile.TemporaryDirectory(prefix="runbook-") as name:
        aside = Path(name)
        journal_file = journal_path(aside)
        try:
            # every name in an archive that was read is one of a fixed few
            for file, data in {
                **archive.plan_files,
                **archive.selects,
                journal_file.name: archive.files[JOURNAL],
            }.items():
                (aside / file).write_bytes(data)
            plan = read_day(aside)
        except OSError as problem:
            raise _refused(path, f"could not be unpacked: {reason(problem)}", "free some space") from None
        except Unreadable as problem:
            first = problem.faults[0]
            what = f"the plan in it cannot be read: {first.key or first.file}: {first.what}"
            raise _refused(path, what, "ask for a new one") from None
        print_line(one_line(f"{given.day}, from {given.giver} to {given.to}, given {given.at[:16]}."))
        crew = ", ".join(member.id for member in plan.day.crew)
        while not who:
            who = " ".join(ask(f"Who takes over ({crew}, or another name)? ").split())[:24]
        try:
            with Journal.open(journal_file, clock=now, who=who) as journal:
                session = Session(plan, journal, who, now, aside)
                estimate_finish(session)
                _confirm_lines(session, handover_lines(session, now()), ask)
                session.take_over(one_line(given.giver).strip() or "somebody")
        except JournalError as trouble:
            raise _refused(path, f"the journal in it: {trouble.what}", "ask for a new one") from None
        files = {file.name: file.read_bytes() for file in aside.iterdir()} | {SHEET: archive.files[SHEET]}
        write_folder(folder, files, "resume", "--into")
    return who


def _confirm_lines(session: Session, lines: tuple[HandoverLine, ...], ask: Ask) -> None:
    """Have every line confirmed, or a safety line skipped with a reason. Raises Stopped."""
    safety = sum(line.safety for line in lines)
    print_line(f"{len(lines)} lines to confirm, {safety} of them about safety.")
    print_line("enter: confirm.  A safety line needs yes, or the reason why not.  q: stop.")
    for n, line in enumerate(lines, 1):
        print_line(f"\n{n}/{len(lines)}  {line.topic.upper()}{'  SAFETY' if line.safety else ''}")
        print_line(f"    {one_line(line.text)}")
        skipped_because = _answer(line, ask)
        if skipped_because:
            session.skip_handover_line(line.id, skipped_because)
        else:
            session.confirm_handover_line(line.id, line.text)


def _answer(line: HandoverLine, ask: Ask) -> str:
    """Return the reason a line is skipped; empty when it is confirmed. Raises Stopped."""
    while True:
        typed = " ".join(ask("yes, or why not> " if line.safety else "confirm> ").split())
        if typed.lower() == "q":
            raise Stopped
        if typed.lower() in ("y", "yes"):
            return ""
        if not line.safety or len(typed) > 2:
            return typed
        print_line("    Type yes, or why you skip it; the reason is kept in the journal.")


def read_archive(path: Path) -> Archive:
    """Return the handover in a file. Raises Unreadable with one line when it is not whole."""
    do = "name a file that runbook handover wrote"
    try:
        status = path.stat()
        if not stat.S_ISREG(status.st_mode):
            raise _refused(path, "is not a regular file", do)
        if status.st_size > FILE_MAX:
            raise _refused(path, f"is over {FILE_MAX // 2**20} MiB", "no handover is that large; is it the right file?")
        return unpack(path.read_bytes())
    except BadArchive as why:
        what, _, do = str(why).partition("; ")
        raise _refused(path, what, do) from None
    except (FileNotFoundError, NotADirectoryError):
        raise _refused(path, "does not exist", do) from None
    except (OSError, ValueError) as problem:
        raise _refused(path, f"cannot be read: {reason(problem)}", do) from None


def _refused(path: Path, what: str, do: str) -> Unreadable:
    return Unreadable([Fault(shown_path(path), None, "", what, do)])


def _free_name(folder: str) -> Path:
    """Return a free name here like the one the day's folder had."""
    name = folder if is_id(folder) else "day"
    names = map(Path, (name if n == 1 else f"{name}-{n}" for n in count(1)))
    return next(path for path in names if not (path.exists() or path.is_symlink()))
