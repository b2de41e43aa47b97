"""The stands screen: the cautions, and the checklist of this stage of the day."""

from __future__ import annotations

from typing import ClassVar

from rich.text import Text
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.widgets import Static

from runbook.change.checks import CAUTIONS
from runbook.screens.base import DayScreen
from runbook.screens.keys import STANDS
from runbook.screens.paint import cut, rule
from runbook.screens.rows import Row, RowState, first_open, open_before, open_row
from runbook.screens.step_list import RowList
from runbook.session.typed import read_words


class StandsScreen(DayScreen):
    """Is it safe."""

    KEYS = STANDS
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("space", "tick", "tick", show=False),
        Binding("x", "aside", "set aside", show=False),
        Binding("up", "cursor(-1)", "up", show=False),
        Binding("down", "cursor(1)", "down", show=False),
        Binding("pageup", "cursor(-10)", "up", show=False),
        Binding("pagedown", "cursor(10)", "down", show=False),
    ]

    def __init__(self) -> None:
        super().__init__()
        self.moved = False

    def compose(self) -> ComposeResult:
        yield Static(id="top")
        yield Static(id="cautions")
        yield Static(id="title")
        yield RowList(self.glyphs, "No checks at this stage.")
        yield Static(id="why")
        yield Static(id="said")
        yield Static(id="keys")

    def show_truth(self) -> None:
        """Paint the checklist from the session."""
        super().show_truth()
        width = self.size.width
        self.query_one("#cautions", Static).update(
            Text(self.glyphs.shown_lines("\n".join(CAUTIONS)), style="yellow")
        )
        listed = self._rows()
        open_count = sum(not row.over for row in listed)
        stage = self.session.view.stage
        holding = f", {self.glyphs.held} holds a step" if open_count else ""
        title = f"checklist, {stage}: {open_count} open of {len(listed)}{holding}"
        self.query_one("#title", Static).update(
            Text(rule(title, width, self.glyphs), style="dim", no_wrap=True)
        )
        steps = self.query_one("#steps", RowList)
        cursor = steps.cursor if self.moved else first_open(listed)
        steps.show(listed, cursor)
        self._show_why()

    def _rows(self) -> list[Row]:
        waits_for = self.session.view.now.check_waits_for
        listed = []
        for check, tick in self.session.checks:
            key = ("check", check.id)
            if tick is None:
                state: RowState = "held" if check.holds else "to do"
                state = "waits" if waits_for(check) else state
                listed.append(Row("check", key, state, check.text, check=check))
            elif tick.aside is None:
                note = f"{tick.at} {tick.by}"
                listed.append(Row("check", key, "done", check.text, note, check=check))
            else:
                listed.append(Row("check", key, "aside", check.text, tick.aside, check=check))
        return listed

    def _show_why(self) -> None:
        row = self.query_one("#steps", RowList).row
        text = ""
        if row is not None and row.check is not None:
            done = f"{row.note}  " if row.state == "done" else ""
            text = f"{done}Why: {row.check.why} ({row.check.basis}: {row.check.source})"
        self.query_one("#why", Static).update(Text(cut(text, self.size.width, self.glyphs)))

    def action_cursor(self, by: int) -> None:
        self.moved = True
        self.query_one("#steps", RowList).step_cursor(by)
        self._show_why()

    def on_row_list_pressed(self, message: RowList.Pressed) -> None:
        """A click puts the cursor there."""
        steps = self.query_one("#steps", RowList)
        self.moved = True
        steps.show(steps.rows, message.at)
        self._show_why()

    def action_tick(self) -> None:
        """The check at the cursor is true."""
        row = self.query_one("#steps", RowList).row
        if row is None or row.check is None or row.over:
            return
        check = row.check
        steps = self.query_one("#steps", RowList)
        passed = open_before(steps.rows, steps.cursor) if self.moved else 0
        if self.day.do(lambda: self.session.tick_check(check)):
            steps.show(steps.rows, open_row(steps.rows, passed))
            self._show_why()

    def action_aside(self) -> None:
        """Go on without the check at the cursor, with a reason."""
        row = self.query_one("#steps", RowList).row
        if row is None or row.check is None or row.over:
            return
        check = row.check

        self.ask(
            f"Set aside: {check.text}",
            "Why? It stays in the journal.",
            read_words,
            lambda reason: self.day.do(lambda: self.session.set_check_aside(check, reason)),
        )
