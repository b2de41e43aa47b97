"""``runbook open``: the screens, on a terminal, with the day's journal open for writing."""

from __future__ import annotations

import os
import shutil
import sys
import tempfile
from argparse import Namespace
from collections.abc import Callable
from functools import partial
from itertools import count
from pathlib import Path
from textwrap import wrap
from typing import TYPE_CHECKING, NamedTuple

from runbook import __version__
from runbook.commands.load_session import now
from runbook.commands.output import print_error, print_line
from runbook.day.event_text import rescue_text
from runbook.files.atomic_write import put_back
from runbook.files.errors import Unreadable
from runbook.files.load import day_bytes, digest_of, read_day
from runbook.files.paths import find_day, records_of
from runbook.journal.errors import JournalError
from runbook.journal.events import DayOpened, Entry, Rescued, Resumed, live
from runbook.journal.journal import Journal, journal_path, repair
from runbook.journal.journal_file import set_aside
from runbook.model.day import Plan

if TYPE_CHECKING:
    from runbook.day.actions import Session


class Opened(NamedTuple):
    """A journal, what must be said of it, and where to write one that is in memory ``later``."""

    journal: Journal
    said: str = ""
    later: Path | None = None


def run(args: Namespace) -> int:
    """Open the day. 2 when there is no terminal, or the plan or the journal cannot be read."""
    if not is_terminal():
        print_error("runbook open: no terminal to show the day on; run it in one, or ask runbook steps, check or log")
        return 2
    told: list[str] = []
    folder, edited = _found(args.day, told.append)
    for line in told:
        print_error(line)
    if edited:
        put_back(folder)
    plan = read_day(folder)
    who = _who(plan, args.who, _taken_by(folder, rehearsal=args.rehearse))
    if who is None:
        known = ", ".join(member.id for member in plan.day.crew) or "nobody"
        print_error(f"runbook open: --as {args.who}: not in the crew; the day names {known}")
        return 2
    said = told[-1] if told else ""
    return show_day(folder, plan, who, rehearsal=args.rehearse, said=said, edited=edited)


def _found(day: str | None, tell: Callable[[str], None]) -> tuple[Path, bool]:
    """The day to open, and whether it may be edited: the demo day only where it can be copied."""
    try:
        return find_day(day, to_write=True, tell=tell), True
    except Unreadable as why:
        folder = find_day(day, tell=tell)
        tell(str(why.faults[0]))
        return folder, False


def show_day(
    folder: Path, plan: Plan, who: str, *, rehearsal: bool = False, said: str = "", edited: bool = True
) -> int:
    """Show a day on the screens, with its journal open for writing; the exit status.

    ``said`` is the first line to the person; a day that is not ``edited`` has its files left alone.
    """
    records = records_of(folder)
    opened = _journal(records, who, rehearsal=rehearsal)
    if opened is None:
        return 2
    said = opened.said or said
    with opened.journal:
        return _show(plan, opened, who, folder, rehearsal=rehearsal, said=said, edited=edited)


def is_terminal() -> bool:
    """Whether there is a terminal to show screens on, or to ask questions."""
    ours = (sys.stdin, sys.stdout)  # None where whoever started us closed it
    on_terminal = all(stream is not None and stream.isatty() for stream in ours)
    return on_terminal and os.environ.get("TERM", "dumb") != "dumb"


def _who(plan: Plan, asked: str | None, taken_by: str | None = None) -> str | None:
    """Who signs: whoever is named, else who took the day over last, else the first of the crew."""
    crew = [member.id for member in plan.day.crew]
    if asked is not None:
        return asked if asked in (*crew, taken_by) else None
    return taken_by or (crew[0] if crew else "crew")


def _taken_by(folder: Path, *, rehearsal: bool) -> str | None:
    """Who took the day over last, as its journal says; None where it says nothing."""
    seen = _seen(journal_path(records_of(folder), rehearsal=rehearsal))
    took = [entry.who for entry in live(seen) if isinstance(entry.data, Resumed)]
    return took[-1] if took else None


def _show(plan: Plan, opened: Opened, who: str, folder: Path, *, rehearsal: bool, said: str, edited: bool) -> int:
    # the screens are slow to import, so only where they are shown
    from runbook.day.actions import Session
    from runbook.day.timings import timings_near
    from runbook.screens.app import RunbookApp
    from runbook.screens.text import glyphs_for_terminal

    journal = opened.journal
    before = [entry.data.plan for entry in journal.entries if isinstance(entry.data, DayOpened)]
    plan_digest = digest_of(folder)
    known = timings_near(records_of(folder))
    own = folder if edited else None
    session = Session(plan, journal, who, now, own, known=known, rehearsal=rehearsal)
    session.left_file = opened.later
    session.plan_files = day_bytes(folder)
    if not _begun(session, plan_digest):
        return 2
    app = RunbookApp(session, now, glyphs_for_terminal())
    app.give = partial(_give, session)
    app.spare = partial(_spare, folder)
    app.message = said
    if before and before[-1] != plan_digest and not said:
        app.message = "the plan's files changed since the day was last open"
    app.run()
    if app.broken is not None:
        print_error("everything said so far is in the journal; open the day again to go on")
        raise app.broken
    return app.return_code or 0


def _give(session: Session, to: str) -> Path:
    """Write the day's handover where the program was started; the file."""
    from runbook.commands.handover import give

    name = session.folder.resolve().name if session.folder else "day"
    path = Path.cwd() / f"{name}-{now():%H%M}.handover"
    give(session, to, path)
    return path


def _spare(folder: Path) -> Path:
    """A free name for the journal outside the day's folder: at home, else with temporary files."""
    try:
        home = Path.home()
    except RuntimeError:  # nothing says where that is
        home = Path(tempfile.gettempdir())
    name = folder.resolve().name or "day"
    names = (home / f"{name}{f'-{n}' if n > 1 else ''}.runlog" for n in count(1))
    return next(path for path in names if not path.exists())


def _begun(session: Session, plan_digest: str) -> bool:
    """Write that the day was opened; a journal that cannot take even that is asked about."""
    while True:
        try:
            session.open(plan_digest, __version__)
        except JournalError as trouble:
            answer = _answer(trouble, opening=False)
        else:
            return True
        if answer == "later":
            session.keep_in_memory()
        elif answer != "again":
            return False


def _journal(records: Path, who: str, *, rehearsal: bool) -> Opened | None:
    """The day's journal; None where the person stops here.

    Where it cannot be opened, they are asked what to do instead.
    """
    path, told = journal_path(records, rehearsal=rehearsal), ""
    while True:
        try:
            records.mkdir(parents=True, exist_ok=True)
            journal = Journal.open(path, clock=now, who=who)
        except OSError as error:
            what = f"{records} cannot be made: {error.strerror}"
            trouble = JournalError("read-only", what, "make its folder writable")
        except JournalError as found:
            trouble = found
        else:
            return Opened(journal, _emptied(path) if journal.was_empty else told)
        match _answer(trouble):
            case "again":
                continue
            case "mend":
                repair(path, clock=now, who=who)
                told = _rescued(path)
                print_line(told)
            case "aside":
                told = f"the damaged journal is kept as {set_aside(path).name}; a new one begins"
                print_line(told)
            case "without" | "later" as answer:
                journal = Journal.in_memory(clock=now, who=who, entries=_seen(path))
                return Opened(journal, later=path if answer == "later" else None)
            case _:
                return None


def _emptied(path: Path) -> str:
    return f"{path.name} was empty: what it held, if anything, is lost; a new one begins"


def _rescued(path: Path) -> str:
    """What came of a rescue: the last thing in the journal that it made."""
    found = [each.data for each in Journal.read(path).entries if isinstance(each.data, Rescued)]
    return f"RESCUED: {rescue_text(found[-1])}"


_CHOICES = {
    "damaged": ("mend", "aside", "without"),
    "foreign": ("aside", "without"),
    "newer": ("without",),
    "busy": ("again", "without"),
    "read-only": ("again", "later"),
    "full": ("again", "later"),
    "gone": ("again", "later"),
    "failed": ("again", "later"),
}
_SAID = {
    "again": "try again",
    "mend": "rescue what can be read into a fresh journal, and keep the damaged file",
    "aside": "keep the file under another name, and begin a new journal",
    "later": "go on in memory: it is written as soon as the journal takes it, else lost at the end",
    "without": "look on without writing: what is said then is lost at the end",
}


def _answer(trouble: JournalError, *, opening: bool = True) -> str | None:
    """Ask what to do about a journal; None is to stop, with everything as it is."""
    choices = _CHOICES[trouble.kind] if opening else ("again", "later")
    for line in _at_words(f"The journal: {trouble.what}. {trouble.do[0].upper()}{trouble.do[1:]}."):
        print_line(line)
    for n, choice in enumerate(choices, 1):
        for line in _at_words(f"  {n}  {_SAID[choice]}", indent="     "):
            print_line(line)
    print_line("  q  stop here; nothing is changed")
    while True:
        try:
            typed = input("> ").strip().lower()
        except EOFError:
            return None
        if typed in ("q", ""):
            return None
        if typed.isdigit() and 1 <= int(typed) <= len(choices):
            return choices[int(typed) - 1]


def _at_words(text: str, indent: str = "") -> list[str]:
    """A text in lines that the terminal is wide enough for."""
    width = max(shutil.get_terminal_size().columns, 20)
    return wrap(text, width, subsequent_indent=indent, break_on_hyphens=False)


def _seen(path: Path) -> list[Entry]:
    try:
        return list(Journal.read(path).entries)
    except JournalError:
        return []
