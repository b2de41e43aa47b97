"""Saying things on a terminal, in a pipe, or to a program: whatever it can take."""

from __future__ import annotations

import sys
from collections.abc import Iterable, Sequence
from math import isfinite
from typing import TYPE_CHECKING, Any, Final, TextIO

if TYPE_CHECKING:
    from pathlib import Path

    from runbook.model.day import Plan, Problem
    from runbook.model.setup import Setup

# exit statuses: all is well; read, and something is wrong with it; not read or understood
FINE, WRONG, NOT_READ = 0, 1, 2

# what a terminal without UTF-8 reads instead
_PLAIN: Final = str.maketrans(
    {
        "…": "...", "–": "-", "—": "-", "·": "*", "×": "x", "°": " deg", "±": "+/-", "→": "->",
        "≥": ">=", "≤": "<=", "½": "1/2", "⅓": "1/3", "⅔": "2/3", "²": "2", "’": "'",
        "“": '"', "”": '"', "✓": "x", "•": "*",
    }
)  # fmt: skip


def print_line(text: str = "") -> None:
    """A line on standard output."""
    _write(sys.stdout, text)


def print_error(text: str) -> None:
    """A line on standard error."""
    _write(sys.stderr, text)


def _harmless(text: str) -> str:
    """A text without what would command the terminal: it may hold anything a person put in a plan.

    What we part lines and columns with stays. Other spaces are plain ones, as on the screens; what
    only joins or turns letters round goes, and for everything else stands a ``?``.
    """
    from unicodedata import category  # slow to import, and hardly ever wanted

    def shown(char: str) -> str:
        if char.isprintable() or char in "\n\t":
            return char
        if char.isspace():
            return " "
        return "" if category(char) == "Cf" else "?"

    return "".join(map(shown, text))


def _write(stream: TextIO | None, text: str) -> None:
    if stream is None:  # closed by whoever started us
        return
    if not text.isprintable():
        text = _harmless(text)
    encoding = getattr(stream, "encoding", None) or "utf-8"
    try:
        text.encode(encoding)
    except (UnicodeEncodeError, LookupError):
        text = text.translate(_PLAIN).encode(encoding, "replace").decode(encoding)
    stream.write(f"{text}\n")


def print_json(facts: Any) -> None:
    """Facts for a program: one JSON value on standard output, readable in any encoding.

    JSON has no word for a number without end, or for none: null stands for both.
    """
    import json

    try:
        said = json.dumps(facts, allow_nan=False, separators=(",", ":"))
    except ValueError:
        said = json.dumps(_finite(facts), separators=(",", ":"))
    print_line(said)


def _finite(facts: Any) -> Any:
    if isinstance(facts, dict):
        return {key: _finite(value) for key, value in facts.items()}
    if isinstance(facts, list | tuple):
        return [_finite(value) for value in facts]
    return None if isinstance(facts, float) and not isfinite(facts) else facts


def table(rows: Iterable[Sequence[str]]) -> list[str]:
    """Rows as lines with aligned columns; the last column is as long as it likes."""
    rows = list(rows)
    widths = [max(map(len, column)) for column in zip(*rows, strict=True)][:-1]
    return [
        "  ".join([*(cell.ljust(width) for cell, width in zip(row, widths, strict=False)), row[-1]]) for row in rows
    ]


def problem_lines(problems: Iterable[Problem]) -> list[str]:
    """Problems as lines: how bad, where, what is wrong and what would put it right."""
    return table((p.level, p.setup or "-", p.item or "-", f"{p.what}; {p.do}" if p.do else p.what) for p in problems)


def asked_setups(plan: Plan, setup_id: str | None) -> tuple[Setup, ...]:
    """The setup asked for, or all of the day in order. Raises Unreadable for one unknown."""
    if setup_id is None:
        return plan.order
    if setup_id in plan.setups:
        return (plan.setups[setup_id],)
    from runbook.files.errors import Fault, Unreadable

    known = ", ".join(plan.setups)
    raise Unreadable([Fault("runbook", None, "--setup", f"no setup {setup_id}", f"one of {known}")])


def write_file(path: Path, data: str | bytes, who: str) -> None:
    """Write a file whole or not at all, over what was there. Raises Unreadable, as the command ``who``."""
    from runbook.files.atomic_write import file_mode, temp_file
    from runbook.files.errors import Fault, Unreadable

    content = data if isinstance(data, bytes) else data.encode("utf-8", "replace")
    try:
        new = temp_file(path.parent, content, file_mode(path))
        try:
            new.replace(path)
        finally:
            new.unlink(missing_ok=True)
    except (OSError, ValueError) as error:
        why = (getattr(error, "strerror", None) or str(error) or type(error).__name__).lower()
        do = "name a file in a folder that is there and can be written"
        raise Unreadable([Fault(who, None, "-o", f"{path} cannot be written: {why}", do)]) from None
