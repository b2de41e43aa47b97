"""The kit counted home at wrap, kind by kind, like with like."""

from __future__ import annotations

from typing import ClassVar

from rich.text import Text
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.widgets import Static

from runbook.screens.base import DayScreen
from runbook.screens.keys import HOME
from runbook.screens.paint import rule
from runbook.screens.rows import Row, first_open
from runbook.screens.step_list import RowList
from runbook.screens.words import Words
from runbook.session.packing import Packed, home, packing


def _missing(typed: str, line: Packed) -> tuple[str, ...]:
    """The labels typed, as the kit has them. Raises ValueError with one that is not of these."""
    words = typed.replace(",", " ").split()
    wrong = [word for word in words if word not in line.ids]
    if not words or wrong:
        raise ValueError(f"{wrong[0] if wrong else 'nothing'!r} is none of {', '.join(line.ids)}")
    return tuple(dict.fromkeys(words))


class HomeScreen(DayScreen):
    """Is everything back in its case."""

    KEYS = HOME
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("space", "home", "all home", show=False),
        Binding("x", "missing", "missing", show=False),
        Binding("up", "cursor(-1)", "up", show=False),
        Binding("down", "cursor(1)", "down", show=False),
        Binding("pageup", "cursor(-10)", "up", show=False),
        Binding("pagedown", "cursor(10)", "down", show=False),
    ]

    def __init__(self) -> None:
        super().__init__()
        self.moved = False
        self.packed = packing(self.session.plan)

    def compose(self) -> ComposeResult:
        yield Words(id="top")
        yield Words(id="title")
        yield RowList(self.glyphs, "The kit is empty.")
        yield Words(id="said")
        yield Words(id="keys")

    def show_truth(self) -> None:
        """Paint the count from the journal."""
        super().show_truth()
        found = home(self.session.plan, self.session.entries)
        open_count = len(found.uncounted)
        title = f"counted home: {open_count} things to count, {len(found.missing)} missing"
        self.query_one("#title", Static).update(
            Text(rule(title, self.size.width, self.glyphs), style="dim", no_wrap=True)
        )
        listed = [self._row(line, set(found.missing), set(found.uncounted)) for line in self.packed]
        rows = self.query_one("#steps", RowList)
        rows.show(listed, rows.cursor if self.moved else first_open(listed))

    def _row(self, line: Packed, missing: set[tuple[str, str]], open_: set[tuple[str, str]]) -> Row:
        gone = [item for item in line.ids if (line.kind, item) in missing]
        waits = [item for item in line.ids if (line.kind, item) in open_]
        text = f"{line.kind:<13} {line.many} x {line.what}: {', '.join(line.ids)}"
        key = ("home", line.kind, line.ids[0])
        if gone:
            return Row("check", key, "aside", text, f"MISSING {', '.join(gone)}")
        return Row("check", key, "to do" if waits else "done", text)

    @property
    def at(self) -> Packed | None:
        """The line under the cursor."""
        cursor = self.query_one("#steps", RowList).cursor
        return self.packed[cursor] if 0 <= cursor < len(self.packed) else None

    def action_cursor(self, by: int) -> None:
        self.moved = True
        self.query_one("#steps", RowList).step_cursor(by)

    def on_row_list_pressed(self, message: RowList.Pressed) -> None:
        """A click puts the cursor there."""
        rows = self.query_one("#steps", RowList)
        self.moved = True
        rows.show(rows.rows, message.at)

    def action_home(self) -> None:
        """All of the line under the cursor are back in their cases."""
        line = self.at
        if line is not None:
            self._count(line, line.ids, ())

    def action_missing(self) -> None:
        """Some of the line under the cursor are missing; the others are home."""
        line = self.at
        if line is None:
            return
        if line.many == 1:
            self._count(line, (), line.ids)
            return
        self.ask(
            f"Missing of {', '.join(line.ids)}:",
            "their labels",
            lambda typed: _missing(typed, line),
            lambda gone: self._count(line, tuple(x for x in line.ids if x not in gone), gone),
        )

    def _count(self, line: Packed, here: tuple[str, ...], gone: tuple[str, ...]) -> None:
        said = f"MISSING: {', '.join(gone)}; it stays in the record" if gone else ""
        if self.day.do(lambda: self.session.count_home(line.kind, here, gone), said):
            self.moved = False
            self.show_truth()
