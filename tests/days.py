"""A small right day on disk, and one change at a time to make it wrong."""

from pathlib import Path

from runbook.files.errors import Fault, Unreadable
from runbook.files.load import read_day

SMALL = Path(__file__).parent / "small_day"
FILES = {name: (SMALL / name).read_text("utf-8") for name in ("kit.toml", "day.toml", "window.toml", "lamp.toml")}


def write_day(folder: Path, **more: str) -> Path:
    """Write the right day; ``more`` adds setups by id."""
    folder.mkdir(exist_ok=True)
    for name, text in (FILES | {f"{name}.toml": text for name, text in more.items()}).items():
        (folder / name).write_text(text, encoding="utf-8")
    return folder


def change(folder: Path, file: str, old: str, new: str) -> int:
    """Write ``new`` in place of the one ``old`` of a file; the line where it begins."""
    path = folder / file
    text = path.read_text(encoding="utf-8")
    assert text.count(old) == 1, f"{old!r} is {text.count(old)} times in {file}"
    path.write_text(text.replace(old, new), encoding="utf-8")
    return text[: text.index(old)].count("\n") + 1


def faults_of(folder: Path) -> tuple[Fault, ...]:
    """What is wrong with a day; nothing when it can be read."""
    try:
        read_day(folder)
    except Unreadable as problem:
        return problem.faults
    return ()
