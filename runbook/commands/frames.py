"""``runbook frames``: the camera's frames by setup; those of a folder counted, their copies compared."""

from __future__ import annotations

from argparse import Namespace
from collections.abc import Collection, Iterator
from datetime import timedelta
from functools import partial
from pathlib import Path
from time import sleep
from typing import Final

from runbook.commands.load_session import now
from runbook.commands.open import frames_folder
from runbook.commands.output import FINE, WRONG, print_error, print_json, print_line, reason, refusal, table
from runbook.day.actions import Refused, Session
from runbook.day.copies import PARTIAL, files_of, save_report
from runbook.day.frame_actions import FrameActions
from runbook.day.frame_view import FramesView, frames_facts
from runbook.day.load_plan import read_day
from runbook.day.parse_input import parse_ahead
from runbook.day.reduce import state_after
from runbook.files.copies import Comparison, Copy, Wanted, in_two
from runbook.files.paths import find_day, records_of
from runbook.files.watch import LOOK_EVERY_S, FolderWatch
from runbook.journal.events import live
from runbook.journal.journal import Journal, journal_path
from runbook.model.day import Plan

_LATER: Final = timedelta(days=1)  # when nothing is waited for any more
_FROM_MEMORY: Final = (
    "files copied a moment ago may have been read from memory, not from the disk: "
    "for proof, take the card or disk out, put it in again, and run this once more"
)


def run(args: Namespace) -> int:
    """Count, compare and print; 1 where a file was left out, or is in fewer than two copies."""
    folder = find_day(args.day, to_write=bool(args.source or args.offset))
    plan, records, status = read_day(folder), records_of(folder), FINE
    source = Path(args.source) if args.source else None
    if source or args.offset:
        status = _count(plan, folder, source, args)
    entries = live(Journal.read(journal_path(records)).entries)
    view, files, copies = FramesView(state_after(plan, entries)), files_of(entries), tuple[Copy, ...]()
    if args.copies:
        origin = source or frames_folder(plan, folder)
        copies = _compare(files.values(), [*map(Path, args.copies)], records, origin)
        status = status if files and in_two(copies, files) else WRONG
    if args.json:
        print_json(frames_facts(view, plan.day.order, [_copy_facts(copy) for copy in copies] or None))
        return status
    for line in (*_lines(plan, view), *_copy_lines(copies, list(files))):
        print_line(line)
    return status


def _count(plan: Plan, folder: Path, source: Path | None, args: Namespace) -> int:
    """Record the pictures of a folder that are not counted yet, and cameras' clocks; 1 where some were left out."""
    left_out = dict[str, str]()
    who = args.who or (plan.day.crew[0].id if plan.day.crew else "crew")
    with Journal.open(journal_path(records_of(folder)), clock=now, who=who) as journal:
        session = Session(plan, journal, who, now, folder)
        actions = FrameActions(session, source or folder)
        if source:
            watched = FolderWatch(source)
            watched.look(now())
            sleep(LOOK_EVERY_S)  # what is still being written has changed by then
            actions.take(watched.look(now()))
            while watched.busy:
                actions.take(watched.look(now()))
            if watched.trouble:
                raise refusal("frames", "--from", f"{source}: {watched.trouble}", "name a folder of pictures")
            left_out = watched.left_out(now() + _LATER)
        if args.offset:
            _set_clocks(session, actions, args.offset)
    for name, why in left_out.items():
        print_error(f"runbook frames: {name} is not counted: {why}")
    return WRONG if left_out else FINE


def _set_clocks(session: Session, actions: FrameActions, text: str) -> None:
    """Set the clock of the camera named, or of all. Raises Unreadable."""
    camera, _, seconds = text.rpartition("=")
    try:
        (ahead_s,) = parse_ahead(seconds)
        for each in [camera] if camera else [*session.view.frames.clocks]:
            actions.set_clock(each, ahead_s)
    except (ValueError, Refused) as why:
        do = "write how far the camera's clock is ahead, in seconds, like 3600 or -12"
        raise refusal("frames", "--offset", str(why), do) from None


def _compare(wanted: Collection[Wanted], folders: list[Path], records: Path, origin: Path | None) -> tuple[Copy, ...]:
    """Return what each copy holds of the frames, with a bar of the progress on a terminal. Raises Unreadable."""
    from rich.console import Console
    from rich.progress import BarColumn, DownloadColumn, Progress, TimeRemainingColumn, TransferSpeedColumn

    for path in folders:
        if not path.is_dir():
            raise refusal("frames", "--copies", f"{path} is not a folder", "name the folders of the copies")
    if len({path.resolve() for path in folders}) < len(folders):
        raise refusal("frames", "--copies", "one folder is named twice", "name each copy once")
    comparison = Comparison(wanted, folders, records / PARTIAL, origin if origin and origin.is_dir() else None)
    columns = BarColumn(), DownloadColumn(), TransferSpeedColumn(), TimeRemainingColumn()
    console = Console(stderr=True)
    try:
        with Progress(*columns, console=console, disable=not console.is_terminal) as progress:
            copies = comparison.run(partial(progress.advance, progress.add_task("", total=comparison.size)))
        save_report(records, copies, wanted, now().isoformat(timespec="minutes"))
    except OSError as error:
        raise refusal("frames", "--copies", f"{records}: {reason(error)}", "make it writable") from None
    return copies


# -- in words --------------------------------------------------------------------------------------


def _lines(plan: Plan, view: FramesView) -> Iterator[str]:
    if not view.all:
        yield "No frames have arrived; runbook frames --from FOLDER counts those of a folder."
        return
    rows = []
    for setup_id in view.setups(plan.day.order):
        shots, setup, select = view.of(setup_id), plan.setups.get(setup_id), view.select(setup_id)
        counted = f"{view.state.frames.get(setup_id, 0)} of {setup.frames if setup else 0}"
        pictures = f"{len(shots)} arrived" if shots else "-"
        rows.append((setup_id, counted, pictures, f"select {select.frame.name}" if select else ""))
    yield from table(rows)
    yield from (f"{setup_id}: {text}" for setup_id, text in view.differing())
    if view.unplaced:
        names = [shot.frame.name for shot in view.unplaced]
        yield f"in no setup (before the first, in a break, or at the wrap): {len(names)}, {names[0]} to {names[-1]}"
    yield from view.clock_lines


def _copy_facts(copy: Copy) -> dict[str, object]:
    names = {"missing": list(copy.missing), "differ": list(copy.differ)}
    return {"folder": str(copy.folder), "whole": len(copy.whole)} | names


def _copy_lines(copies: tuple[Copy, ...], names: list[str]) -> Iterator[str]:
    if not copies:
        return
    for copy in copies:
        yield f"{copy.folder}: {len(copy.whole)} whole, {len(copy.missing)} missing, {len(copy.differ)} different"
        yield from (f"  missing    {name}" for name in copy.missing)
        yield from (f"  different  {name}" for name in copy.differ)
    short = [name for name in names if not in_two(copies, [name])]
    if not names:
        yield "no frames are counted, so nothing was compared"
    elif short:
        yield f"{len(short)} of {len(names)} files are in fewer than two copies"
    else:
        yield f"all {len(names)} files are in two copies, identical byte for byte"
    if len({copy.folder.stat().st_dev for copy in copies}) < len(copies):
        yield "some of these folders are on the same disk: if it fails, all copies on it are lost"
    yield _FROM_MEMORY
