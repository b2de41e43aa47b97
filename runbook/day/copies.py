"""Whether each of the day's frames is in two copies: what the wrap is held to."""

from __future__ import annotations

import json
from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import Any, Final

from runbook.files.copies import Copy, Wanted, in_two
from runbook.journal.events import Entry, Frame, FrameFile

REPORT: Final = "frames-copies.json"
PARTIAL: Final = "frames-copies.part"
_DO: Final = "run runbook frames --copies with the folders of the copies"


def files_of(entries: Iterable[Entry]) -> dict[str, Wanted]:
    """Return every file of the frames by name, as it was when it came last; a raw file and its JPEG are two."""
    data = (entry.data for entry in entries if isinstance(entry.data, Frame | FrameFile))
    return {each.name: Wanted(each.name, each.bytes, each.fingerprint) for each in data}


def save_report(records: Path, copies: Sequence[Copy], wanted: Iterable[Wanted], at: str) -> None:
    """Write beside the journal what is in two copies, for the wrap's checklist. Raises OSError."""
    from runbook.files.atomic_write import replace_files

    twice = {each.name: each.fingerprint for each in wanted if in_two(copies, [each.name])}
    report = {"at": at, "folders": [str(copy.folder) for copy in copies], "twice": twice}
    replace_files(records, {}, {REPORT: json.dumps(report).encode()})


def proof(journal: Path | None, entries: Iterable[Entry]) -> str:
    """Return which comparison found every frame in two copies. Raises ValueError with what is missing of that."""
    wanted = files_of(entries)
    try:
        report: dict[str, Any] = json.loads((journal or Path()).with_name(REPORT).read_text("utf-8"))
        twice, folders, at = dict(report["twice"]), list(report["folders"]), str(report["at"])
    except (OSError, ValueError, LookupError, TypeError):
        raise ValueError(f"no copies were compared yet; {_DO}") from None
    left = [name for name, each in wanted.items() if twice.get(name) != each.fingerprint]
    if left:
        raise ValueError(f"{len(left)} of {len(wanted)} files are in fewer than two copies, like {left[0]}; {_DO}")
    return f"{len(wanted)} files identical in {' and '.join(folders)}, {at}"
