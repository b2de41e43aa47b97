"""``runbook open``: the screens, on a terminal, with the day's journal open for writing."""

from __future__ import annotations

import shutil
import tempfile
from argparse import Namespace
from dataclasses import dataclass
from functools import partial
from itertools import count
from pathlib import Path
from textwrap import wrap
from typing import Final

from runbook import __version__
from runbook.commands.load_session import is_terminal, now
from runbook.commands.output import NOT_READ, print_error, print_line, show_progress
from runbook.day.actions import Session
from runbook.day.event_text import rescue_text
from runbook.day.load_plan import read_day
from runbook.files.atomic_write import put_back
from runbook.files.errors import Unreadable
from runbook.files.load import day_bytes, digest_of
from runbook.files.paths import find_day, records_of
from runbook.journal.errors import JournalError
from runbook.journal.events import DayOpened, Entry, Rescued, Resumed, live
from runbook.journal.journal import Journal, journal_path, repair
from runbook.journal.journal_file import set_aside
from runbook.model.day import Plan


@dataclass(frozen=True, slots=True)
class Opened:
    """A journal, a message about it, and where to write one that is in memory ``later``."""

    journal: Journal
    message: str = ""
    later: Path | None = None


def run(args: Namespace) -> int:
    """Open the day. 2 when there is no terminal, or the plan or the journal cannot be read."""
    if not is_terminal():
        print_error("runbook open: the screens need a terminal; run it in one, or use runbook steps, check or log")
        return NOT_READ
    messages: list[str] = []
    try:
        folder, edited = find_day(args.day, to_write=True, tell=messages.append), True
    except Unreadable as why:  # the demo day, where it cannot be copied
        folder, edited = find_day(args.day, tell=messages.append), False
        messages.append(str(why.faults[0]))
    for message in messages:
        print_error(message)
    if edited:
        put_back(folder)
    plan = read_day(folder)
    entries = live(_entries(journal_path(records_of(folder), rehearsal=args.rehearse)))
    takers = [entry.who for entry in entries if isinstance(entry.data, Resumed)]
    crew = [member.id for member in plan.day.crew]
    if args.who is not None and args.who not in (*crew, *takers[-1:]):
        known = ", ".join(crew) or "nobody"
        print_error(f"runbook open: --as {args.who}: not in the crew; write one of {known}")
        return NOT_READ
    who = args.who or (takers[-1:] or crew or ["crew"])[0]
    message = messages[-1] if messages else ""
    pictures = Path(args.frames) if args.frames else frames_folder(plan, folder)
    return show_day(folder, plan, who, rehearsal=args.rehearse, message=message, edited=edited, pictures=pictures)


def show_day(
    folder: Path,
    plan: Plan,
    who: str,
    *,
    rehearsal: bool = False,
    message: str = "",
    edited: bool = True,
    pictures: Path | None = None,
) -> int:
    """Show a day on the screens, with its journal open for writing; return the exit status.

    ``message`` is the first line to the person; a day that is not ``edited`` has its files left alone. ``pictures`` is
    the folder where the camera's frames arrive.
    """
    records = records_of(folder)
    opened = _open_journal(records, who, rehearsal=rehearsal)
    if opened is None:
        return NOT_READ
    # the screens and what learns are slow to import, so only where they are needed
    from runbook.day.timings import timings_near
    from runbook.screens.app import RunbookApp
    from runbook.screens.text import glyphs_for_terminal

    with opened.journal as journal:
        before = [entry.data.plan for entry in journal.entries if isinstance(entry.data, DayOpened)]
        digest, own = digest_of(folder), folder if edited else None
        session = Session(plan, journal, who, now, own, known=timings_near(records), rehearsal=rehearsal)
        session.left_file = opened.later
        session.plan_files = day_bytes(folder)
        if not _begin(session, digest):
            return NOT_READ
        app = RunbookApp(session, now, glyphs_for_terminal())
        app.give, app.spare = partial(_give, session), partial(_spare, folder)
        app.message = opened.message or message
        if before and before[-1] != digest and not app.message:
            app.message = "the plan's files changed since the day was last open"
        if pictures is not None and not rehearsal:
            from runbook.commands.watch_frames import start

            start(app, session, pictures)
        show_progress("")
        app.run()
        if app.broken is not None:
            print_error("everything entered so far is in the journal; open the day again to continue")
            raise app.broken
        return app.return_code or 0


def frames_folder(plan: Plan, folder: Path) -> Path | None:
    """Return the folder that a day's plan says its frames arrive in."""
    return None if plan.day.frames_folder is None else folder / plan.day.frames_folder


def _give(session: Session, to: str) -> Path:
    """Write the day's handover where the program was started; return the file."""
    from runbook.commands.handover import give

    name = session.folder.resolve().name if session.folder else "day"
    path = Path.cwd() / f"{name}-{now():%H%M}.handover"
    give(session, to, path)
    return path


def _spare(folder: Path) -> Path:
    """Return a free name for the journal outside the day's folder: at home, else with temporary files."""
    try:
        home = Path.home()
    except RuntimeError:  # nothing says where that is
        home = Path(tempfile.gettempdir())
    name = folder.resolve().name or "day"
    names = (home / f"{name}{f'-{n}' if n > 1 else ''}.runlog" for n in count(1))
    return next(path for path in names if not path.exists())


# --- a journal that cannot be opened or written: what to do instead

_CHOICES: Final = {
    "again": "try again",
    "mend": "rescue what can be read into a new journal, and keep the damaged file",
    "aside": "keep the file under another name, and start a new journal",
    "later": "continue in memory: saved as soon as the journal can be written, lost if it never can",
    "without": "open without saving: whatever you enter is lost when you leave",
}
_WRITABLE_LATER: Final = ("again", "later")
_CHOICES_FOR: Final = {
    "damaged": ("mend", "aside", "without"),
    "foreign": ("aside", "without"),
    "newer": ("without",),
    "busy": ("again", "without"),
}


def _open_journal(records: Path, who: str, *, rehearsal: bool) -> Opened | None:
    """Return the day's journal; None where the person stops here."""
    path, message = journal_path(records, rehearsal=rehearsal), ""
    while True:
        try:
            records.mkdir(parents=True, exist_ok=True)
            journal = Journal.open(path, clock=now, who=who)
        except OSError as error:
            what = f"{records} cannot be created: {error.strerror}"
            trouble = JournalError("read-only", what, "make its folder writable")
        except JournalError as error:
            trouble = error
        else:
            if journal.was_empty:
                message = f"{path.name} was empty: anything it held is lost; a new journal was started"
            return Opened(journal, message)
        choice = _choose(trouble, _CHOICES_FOR.get(trouble.kind, _WRITABLE_LATER))
        if choice == "mend":
            repair(path, clock=now, who=who)
            rescued = [entry.data for entry in Journal.read(path).entries if isinstance(entry.data, Rescued)]
            message = f"RESCUED: {rescue_text(rescued[-1])}"
            print_line(message)
        elif choice == "aside":
            message = f"the old file is kept as {set_aside(path).name}; a new journal was started"
            print_line(message)
        elif choice is None:
            return None
        elif choice != "again":
            journal = Journal.in_memory(clock=now, who=who, entries=_entries(path))
            return Opened(journal, later=path if choice == "later" else None)


def _begin(session: Session, plan_digest: str) -> bool:
    """Record that the day was opened; return False where the journal cannot take it and the person stops."""
    while True:
        try:
            session.open(plan_digest, __version__)
        except JournalError as trouble:
            choice = _choose(trouble, _WRITABLE_LATER)
        else:
            return True
        if choice is None:
            return False
        if choice == "later":
            session.keep_in_memory()


def _choose(trouble: JournalError, choices: tuple[str, ...]) -> str | None:
    """Ask what to do about a journal; None is to stop, with everything as it is."""
    width = max(shutil.get_terminal_size().columns, 20)
    texts = [f"The journal: {trouble.what}. {trouble.do[0].upper()}{trouble.do[1:]}."]
    texts += [f"  {n}  {_CHOICES[choice]}" for n, choice in enumerate(choices, 1)]
    for text in (*texts, "  q  quit; nothing is changed"):
        indent = "     " if text.startswith(" ") else ""
        print_line("\n".join(wrap(text, width, subsequent_indent=indent, break_on_hyphens=False)))
    while True:
        try:
            typed = input("> ").strip().lower()
        except EOFError:
            return None
        if typed in ("q", ""):
            return None
        if typed.isdigit() and 1 <= int(typed) <= len(choices):
            return choices[int(typed) - 1]


def _entries(path: Path) -> list[Entry]:
    """Return the entries of a journal; none where it cannot be read."""
    try:
        return list(Journal.read(path).entries)
    except JournalError:
        return []
