"""``runbook resume``: take a day over from its handover file, line by line, and continue it."""

from __future__ import annotations

import stat
import tempfile
from argparse import Namespace
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from itertools import count
from pathlib import Path
from typing import Final

from runbook.commands.load_session import now
from runbook.commands.open import is_terminal, show_day
from runbook.commands.output import NOT_READ, print_error, print_line
from runbook.day.actions import Session
from runbook.day.handover_file import FILE_MAX, JOURNAL, SHEET, Archive, BadArchive, unpack
from runbook.day.handover_lines import HandoverLine, estimate_finish, handover_lines
from runbook.files.atomic_write import write_folder
from runbook.files.errors import Fault, Unreadable, shown_path, unreadable
from runbook.files.load import read_day
from runbook.journal.errors import JournalError
from runbook.journal.journal import Journal, journal_path
from runbook.model.fields import is_id

_WHO: Final = "runbook resume"
Ask = Callable[[str], str]


class Stopped(Exception):
    """The person taking the day over stopped half way."""


def run(args: Namespace) -> int:
    """Take the day over, then open it; 2 when it cannot be taken, and nothing is written."""
    path = Path(args.file)
    archive = read_archive(path)
    target = _target(args.into, archive)
    if not is_terminal():
        print_error(f"{_WHO}: no terminal to confirm the handover on; run it in one")
        return NOT_READ
    try:
        who = take(archive, target, path, args.who, input)
    except (Stopped, EOFError):
        print_line()
        print_line("Stopped: nothing was taken over, and nothing was written.")
        return NOT_READ
    print_line(f"The day is in {shown_path(target)}.")
    return show_day(target, read_day(target), who)


def take(archive: Archive, target: Path, path: Path, who: str | None, ask: Ask) -> str:
    """Unpack into a temporary folder, have every line confirmed, and put the day in its place.

    Returns who took it over. Raises Unreadable, Stopped or EOFError with nothing left behind; before
    the last line is confirmed nothing is written beside the target, however the program ends.
    """
    given = archive.manifest
    with _refused_where_unwritable(target), tempfile.TemporaryDirectory(dir=target.absolute().parent):
        pass  # refuse now rather than after every line is confirmed
    with tempfile.TemporaryDirectory(prefix="runbook-") as aside:
        folder = Path(aside)
        _unpack_into(archive, folder, path)
        try:
            plan = read_day(folder)
        except Unreadable as problem:
            first = problem.faults[0]
            what = f"the plan in it cannot be read: {first.key or first.file}: {first.what}"
            raise _refused(path, what, "ask for it again") from None
        print_line(_printable(f"{given.day}, from {given.giver} to {given.to}, given {given.at[:16]}."))
        if who is None:
            known = ", ".join(member.id for member in plan.day.crew)
            who = _ask_name(ask, f"Who takes over ({known}, or another name)? ")
        try:
            with Journal.open(journal_path(folder), clock=now, who=who) as journal:
                session = Session(plan, journal, who, now, folder)
                estimate_finish(session)
                _confirm_lines(session, handover_lines(session, now()), ask)
                session.take_over(_printable(given.giver).strip() or "somebody")
        except JournalError as trouble:
            raise _refused(path, f"the journal in it: {trouble.what}", "ask for it again") from None
        with _refused_where_unwritable(target):
            write_folder(target, {file.name: file.read_bytes() for file in folder.iterdir()})
    return who


def _ask_name(ask: Ask, question: str) -> str:
    while True:
        typed = " ".join(ask(question).split())
        if typed:
            return typed[:24]


# -- the lines ---------------------------------------------------------------------------


def _confirm_lines(session: Session, lines: tuple[HandoverLine, ...], ask: Ask) -> None:
    """Have every line confirmed, or a safety line skipped with a reason."""
    safety = sum(line.safety for line in lines)
    print_line(f"{len(lines)} lines to confirm, {safety} of them about safety.")
    print_line("enter: confirm.  A safety line needs yes, or the reason why not.  q: stop.")
    for n, line in enumerate(lines, 1):
        print_line()
        print_line(f"{n}/{len(lines)}  {line.topic.upper()}{'  SAFETY' if line.safety else ''}")
        print_line(f"    {_printable(line.text)}")
        answer = _answer(line, ask)
        if answer:
            session.skip_handover_line(line.id, answer)
        else:
            session.confirm_handover_line(line.id, line.text)


def _printable(text: str) -> str:
    """A text from another file without control characters for the terminal."""
    return "".join(char if char.isprintable() else " " for char in text)


def _answer(line: HandoverLine, ask: Ask) -> str:
    """The reason a line is skipped; empty when it is confirmed. Raises Stopped."""
    while True:
        typed = " ".join(ask("yes, or why not> " if line.safety else "confirm> ").split())
        match typed.lower():
            case "q":
                raise Stopped
            case "y" | "yes":
                return ""
            case _ if not line.safety or len(typed) > 2:
                return typed
        print_line("    Type yes, or a few words why it is skipped: they stay in the journal.")


# -- the file ------------------------------------------------------------------------------------


def read_archive(path: Path) -> Archive:
    """The handover in a file. Raises Unreadable with one line when it is not whole."""
    try:
        found = path.stat()
        if not stat.S_ISREG(found.st_mode):
            raise _refused(path, "is not a regular file", "name a file that runbook handover wrote")
        if found.st_size > FILE_MAX:
            what = f"is over {FILE_MAX // 2**20} MiB"
            raise _refused(path, what, "no handover is so large; is it the right file?")
        with path.open("rb") as file:
            data = file.read(FILE_MAX + 1)
    except (FileNotFoundError, NotADirectoryError):
        do = "name a file that runbook handover wrote"
        raise _refused(path, "is not there", do) from None
    except (OSError, ValueError) as problem:
        raise unreadable(path, problem) from None
    try:
        return unpack(data)
    except BadArchive as why:
        what, _, do = str(why).partition("; ")
        raise _refused(path, what, do) from None


def _refused(path: Path, what: str, do: str) -> Unreadable:
    return Unreadable([Fault(shown_path(path), None, "", what, do)])


def _target(into: str | None, archive: Archive) -> Path:
    """Where the day will be: the folder named, or a free name here like the one it had."""
    if into is not None:
        target = Path(into)
        if target.exists() or target.is_symlink():
            what, do = f"{into} is there already", "name a folder that is not, it is made"
            raise Unreadable([Fault(_WHO, None, "--into", what, do)])
        if not target.absolute().parent.is_dir():
            what, do = f"{target.parent} is no folder", "name a folder in one that is there"
            raise Unreadable([Fault(_WHO, None, "--into", what, do)])
        return target
    name = archive.manifest.folder if is_id(archive.manifest.folder) else "day"
    names = (name if n == 1 else f"{name}-{n}" for n in count(1))
    return next(path for path in map(Path, names) if not (path.exists() or path.is_symlink()))


@contextmanager
def _refused_where_unwritable(target: Path) -> Iterator[None]:
    """Raise Unreadable, with what would be right, when the target cannot be written."""
    try:
        yield
    except (OSError, ValueError) as problem:
        why = (getattr(problem, "strerror", None) or str(problem)).lower()
        do = "free some space, or name a folder that can be made with --into"
        raise Unreadable([Fault(_WHO, None, "--into", f"{target}: {why}", do)]) from None


def _unpack_into(archive: Archive, folder: Path, path: Path) -> None:
    """Write the day's files. Every name in an archive that was read is one of a fixed few."""
    files = archive.plan_files
    files[journal_path(folder).name] = archive.files[JOURNAL]
    files[SHEET] = archive.files[SHEET]
    try:
        for name, data in files.items():
            (folder / name).write_bytes(data)
    except OSError as problem:
        why = (problem.strerror or str(problem)).lower()
        raise _refused(path, f"could not be unpacked: {why}", "free some space") from None
