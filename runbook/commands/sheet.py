"""``runbook sheet``: what is printed. A setup's floor plan as an SVG page."""

from __future__ import annotations

import os
import tempfile
from argparse import Namespace
from contextlib import suppress
from pathlib import Path

from runbook.commands.out import say
from runbook.plan.day import Plan
from runbook.plan.faults import Fault, Unreadable, instead
from runbook.plan.files import read_day
from runbook.plan.source import shown_path
from runbook.plan.where import find_day

_WHO = "runbook sheet"


def run(args: Namespace) -> int:
    """Write the page asked for; 0 when done. Raises Unreadable with what is wrong."""
    path = Path(args.output)
    if path.suffix.lower() != ".svg":
        do = f"name a file that ends in .svg, like {path.with_suffix('.svg').name or 'floor.svg'}"
        raise Unreadable([Fault(_WHO, None, "-o", f"{path} is no name for a floor plan", do)])
    page = _floor(read_day(find_day(args.day)), args.floor)
    write_whole(path, page)
    say(f"wrote {shown_path(path)}")
    return 0


def _floor(plan: Plan, setup_id: str) -> str:
    # slow to import, and only one of several pages
    from runbook.sheets.floor_svg import setup_floor_svg

    if setup_id not in plan.setups:
        what, do = f"no setup is called {setup_id}", instead(setup_id, plan.setups)
        raise Unreadable([Fault(_WHO, None, "--floor", what, do)])
    return setup_floor_svg(plan, plan.setups[setup_id])


def write_whole(path: Path, text: str) -> None:
    """Write a file whole or not at all, over what was there. Raises Unreadable where it cannot."""
    try:
        file, kept = tempfile.mkstemp(prefix=f".{path.name}.", dir=path.parent)
    except OSError as error:
        raise _cannot(path, error) from None
    try:
        with os.fdopen(file, "w", encoding="utf-8", newline="\n") as out:
            out.write(text)
            out.flush()
            os.fsync(out.fileno())
        Path(kept).chmod(_mode(path))
        Path(kept).replace(path)
    except OSError as error:
        with suppress(OSError):
            Path(kept).unlink()
        raise _cannot(path, error) from None


def _mode(path: Path) -> int:
    """The rights of the file replaced; for a new one, what any other program would give it."""
    with suppress(OSError):
        return path.stat().st_mode & 0o777
    mask = os.umask(0)
    os.umask(mask)
    return 0o666 & ~mask


def _cannot(path: Path, error: OSError) -> Unreadable:
    why = (error.strerror or type(error).__name__).lower()
    do = "name a file in a folder that is there and can be written"
    return Unreadable([Fault(_WHO, None, "-o", f"{path} cannot be written: {why}", do)])
