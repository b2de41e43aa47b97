"""What the setups that are ``like`` another lose by a change of that one."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any, Final

from runbook.files.edits import Change, Files, merged_setups
from runbook.files.inherit import NAMED_BY

_Table = Mapping[str, Any]
_NAME: Final = {"light": "", "place_panel": "panel ", "hang": "cloth "}


def losses(files: Files, change: Change, base: str) -> tuple[str, ...]:
    """A line for each setup, like ``base`` at some remove, that would have less than it has."""
    changed = {name: text for name, text in {**files, **change}.items() if text is not None}
    after = merged_setups(changed)
    lines = []
    for child, merged in merged_setups(files).items():
        inherits = base in (name for name, _ in merged.chain[1:])
        if inherits and child in after:
            lost = list(dict.fromkeys(_lost(merged.table, after[child].table)))
            if lost:
                lines.append(f"{child} loses {', '.join(lost)}")
    return tuple(lines)


def _lost(before: _Table, after: _Table) -> Iterator[str]:
    for key, value in before.items():
        name = NAMED_BY.get(key)
        if name is not None and isinstance(value, list):
            yield from _lost_items(key, name, value, after.get(key, []))
        elif isinstance(value, dict):
            yield from (f"{key} {lost}" for lost in _lost_values(value, after.get(key, {}), ()))
        elif key not in after:
            yield key


def _lost_items(key: str, name: str, before: list[_Table], after: list[_Table]) -> Iterator[str]:
    """Lights are held against those of the same role: another head may do the same work."""
    left = list(after)
    for item in before:
        same = [each for each in left if each.get("role") == item.get("role")]
        match = next((each for each in same if each.get(name) == item.get(name)), None)
        if match is None and key == "light":
            match = next(iter(same), None)
        label = f"{_NAME.get(key, '')}{item.get(name)}"
        if match is None:
            yield f"its {item['role']} ({label})" if "role" in item else label
            continue
        left.remove(match)
        yield from (f"{lost} of {label}" for lost in _lost_values(item, match, (name,)))


# of each of these the one that is written puts the others out
_EITHER: Final = (
    {"power", "aim_reading_f", "under_key_stops"},
    {"face_to", "catches"},
    {"looks_at", "facing_side", "facing_deg"},
)


def _lost_values(before: _Table, after: _Table, names: tuple[str, ...]) -> Iterator[str]:
    for key, value in before.items():
        if key in names:
            continue
        if isinstance(value, list):
            now = after.get(key, [])
            yield from (f"{each}" for each in value if each not in now)
        elif key not in after and not any(key in keys and keys & {*after} for keys in _EITHER):
            yield key
