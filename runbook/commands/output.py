"""What a command prints and writes: on a terminal, in a pipe, for a program, or into files."""

from __future__ import annotations

import sys
from collections.abc import Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from math import isfinite
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final, TextIO

from runbook.files.errors import Fault, Unreadable, instead

if TYPE_CHECKING:
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


# --- lines


def print_line(text: str = "") -> None:
    """Print a line on standard output."""
    _write(sys.stdout, text)


def print_error(text: str) -> None:
    """Print a line on standard error."""
    _write(sys.stderr, text)


_working_on = [""]  # as it is shown


def show_progress(text: str, _done: int = 0, _of: int = 0) -> None:
    """Show what is being worked on, over what was shown before, where standard error is a terminal.

    The next line that is printed takes it away, and so does the end of the command.
    """
    if text != _working_on[0] and sys.stderr is not None and sys.stderr.isatty():
        _working_on[0] = text
        print(f"\r{text:50.50}\r", end="", file=sys.stderr, flush=True)


def _write(stream: TextIO | None, text: str) -> None:
    show_progress("")
    if stream is None:  # the parent process closed it
        return
    if not text.isprintable():
        text = "".join(map(_harmless, text))
    encoding = getattr(stream, "encoding", None) or "utf-8"
    try:
        text.encode(encoding)
    except (UnicodeEncodeError, LookupError):
        text = text.translate(_PLAIN).encode(encoding, "replace").decode(encoding)
    stream.write(f"{text}\n")


def _harmless(char: str) -> str:
    """Return a character, or what is printed in place of one that would command the terminal or turn letters round."""
    from unicodedata import category  # slow to import, and hardly ever wanted

    if char.isprintable() or char in "\n\t":
        return char
    if char.isspace():
        return " "
    return "" if category(char) == "Cf" else "?"


def print_json(facts: Any) -> None:
    """Print one JSON value on standard output, readable in any encoding; null for a number that is not finite."""
    import json

    try:
        text = json.dumps(facts, allow_nan=False, separators=(",", ":"))
    except ValueError:
        text = json.dumps(_finite(facts), separators=(",", ":"))
    print_line(text)


def _finite(facts: Any) -> Any:
    if isinstance(facts, dict):
        return {key: _finite(value) for key, value in facts.items()}
    if isinstance(facts, list | tuple):
        return [_finite(value) for value in facts]
    return None if isinstance(facts, float) and not isfinite(facts) else facts


def table(rows: Iterable[Sequence[str]]) -> list[str]:
    """Return rows as lines with aligned columns; the last column is as long as it likes."""
    rows = list(rows)
    widths = [max(map(len, column)) for column in zip(*rows, strict=True)][:-1]
    lines = ([cell.ljust(width) for cell, width in zip(row, widths, strict=False)] + [row[-1]] for row in rows)
    return ["  ".join(cells).rstrip() for cells in lines]


def problem_lines(problems: Iterable[Problem]) -> list[str]:
    """Return problems as lines: how bad, where, what is wrong and what would put it right."""
    return table((p.level, p.setup or "-", p.item or "-", f"{p.what}; {p.do}" if p.do else p.what) for p in problems)


# --- what was asked for


def refusal(command: str, option: str, what: str, do: str = "") -> Unreadable:
    """Return the error of a command that cannot do what an option asks: what is wrong, and what would be right."""
    return Unreadable([Fault(f"runbook {command}".rstrip(), None, option, what, do)])


def asked_setups(plan: Plan, setup_id: str | None) -> tuple[Setup, ...]:
    """Return the setup asked for, or all of the day in order. Raises Unreadable for one unknown."""
    if setup_id is None:
        return plan.order
    if setup_id not in plan.setups:
        raise refusal("", "--setup", f"no setup is called {setup_id}", instead(setup_id, plan.setups))
    return (plan.setups[setup_id],)


# --- files


def write_file(path: Path, data: str | bytes, command: str) -> None:
    """Write a file whole or not at all, over what was there. Raises Unreadable."""
    from runbook.files.atomic_write import file_mode, temp_file

    content = data if isinstance(data, bytes) else data.encode("utf-8", "replace")
    try:
        new = temp_file(path.parent, content, file_mode(path))
        try:
            new.replace(path)
        finally:
            new.unlink(missing_ok=True)
    except (OSError, ValueError) as error:
        do = "name a file in a folder that exists and can be written"
        raise refusal(command, "-o", f"{path} cannot be written: {reason(error)}", do) from None


def write_folder(folder: Path, files: Mapping[str, bytes], command: str, option: str) -> None:
    """Write a new folder, on disk for good, whole or not at all. Raises Unreadable."""
    from runbook.files import atomic_write

    with _refused_where_unwritable(folder, command, option):
        atomic_write.write_folder(folder, files)


def check_new_folder(folder: Path, command: str, option: str) -> None:
    """Raise Unreadable where a folder is there already, or cannot be made."""
    from tempfile import TemporaryDirectory

    if folder.exists() or folder.is_symlink():
        raise refusal(command, option, f"{folder} already exists", "name a new folder")
    with _refused_where_unwritable(folder, command, option), TemporaryDirectory(dir=folder.absolute().parent):
        pass


@contextmanager
def _refused_where_unwritable(folder: Path, command: str, option: str) -> Iterator[None]:
    try:
        yield
    except (OSError, ValueError) as problem:
        do = "free some space, or name a new folder in one that exists and can be written"
        raise refusal(command, option, f"{folder}: {reason(problem)}", do) from None


def reason(error: Exception) -> str:
    """Return why the system refused something, in words."""
    return (getattr(error, "strerror", None) or str(error) or type(error).__name__).lower()
