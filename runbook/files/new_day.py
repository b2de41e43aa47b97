"""A new day's folder: a starter kit and two setups to be written over, or the kit of another day."""

from __future__ import annotations

import datetime as dt
import tomllib
from dataclasses import asdict
from functools import reduce
from pathlib import Path
from typing import Any, Final

from runbook.files.atomic_write import replace_files, write_folder
from runbook.files.errors import Fault, Unreadable, shown_path
from runbook.files.load import day_bytes, read_day
from runbook.files.paths import DAY_FILE, KIT_FILE
from runbook.files.toml_edit import add_table, remove_table, set_value

_TEMPLATES: Final = Path(__file__).with_name("templates")
_TEMPLATE_NAMES: Final = (KIT_FILE, "one.toml", "two.toml", DAY_FILE)
_TAKEN_OVER: Final = ("units", "rate", "crew", "place")  # of another day's day.toml


def start_day(folder: Path, date: dt.date, other: Path | None = None) -> list[Path]:
    """Write a day that ``runbook check`` finds fine into a new or empty folder, whole or not at all.

    With ``other``, kit.toml is that day's own, its measured rows with it; units, rate, crew and place are taken over,
    and the one setup has the camera and the subject of that day's first, and no light.

    Returns the files written. Raises Unreadable when ``other`` cannot be read, and when the folder holds something
    already or cannot be written.
    """
    name = "".join(c for c in folder.absolute().name if c.isprintable() and c not in '"\\') or "A day"
    files = {file: (_TEMPLATES / file).read_bytes() for file in _TEMPLATE_NAMES}
    if other is not None:
        files = _with_kit_of(other, files)
    day = set_value(files[DAY_FILE].decode(), ("name",), name)
    files[DAY_FILE] = set_value(day, ("date",), date).encode()
    try:
        if not folder.exists():
            folder.parent.mkdir(parents=True, exist_ok=True)
            write_folder(folder, files)
        elif any(folder.iterdir()):
            raise Unreadable([Fault(shown_path(folder), None, "", "is not empty", "name a new folder")])
        else:  # somebody may be working in it: it is not replaced
            replace_files(folder, {}, files)
    except (OSError, ValueError) as problem:
        what = f"cannot be written: {getattr(problem, 'strerror', None) or problem}".lower()
        raise Unreadable([Fault(shown_path(folder), None, "", what, "name a folder that can be made")]) from None
    return [folder / file for file in files]


def _with_kit_of(other: Path, templates: dict[str, bytes]) -> dict[str, bytes]:
    """Return the files of a day with the kit of another, from the templates."""
    first, theirs = read_day(other).order[0], day_bytes(other)
    day, one = (templates[file].decode() for file in (DAY_FILE, "one.toml"))
    their_day = tomllib.loads(theirs[DAY_FILE].decode("utf-8-sig"))
    if "rate" in their_day:
        day = day[: day.index("# [rate]")]  # the example, at the end of the template
    for table in (("place",), ("crew", 1), ("crew", 0)):
        day = remove_table(day, table)
    for key in _TAKEN_OVER:
        day = _put(day, key, their_day[key]) if key in their_day else day
    for parts in ("light", "place_panel"):
        one = remove_table(one, (parts, 0))
    setup: dict[str, Any] = {
        "title": "Camera and subject; no light yet",
        "exposure": {key: getattr(first.exposure, key) for key in ("f", "shutter", "iso")},
        "view": asdict(first.view),
        "subject": {"face_height_m": first.subject.face_height_m},
    }
    for name, value in setup.items():
        one = _put(one, name, value)
    one = remove_table(one, ("background",))
    if first.background is not None:
        background = {key: getattr(first.background, key) for key in ("distance_m", "reflectance")}
        one = _put(one, "background", {key: value for key, value in background.items() if value is not None})
    day = set_value(day, ("order",), ["one"])
    return {KIT_FILE: theirs[KIT_FILE], "one.toml": one.encode(), DAY_FILE: day.encode()}


def _put(text: str, key: str, value: Any) -> str:
    """Return a file with a key, a section, or more tables of a list."""
    if isinstance(value, dict):
        return reduce(lambda text, name: set_value(text, (key, name), value[name]), value, text)
    if isinstance(value, list):
        return reduce(lambda text, table: add_table(text, key, table), value, text)
    return set_value(text, (key,), value)
