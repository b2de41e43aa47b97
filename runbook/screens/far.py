"""The far screen: the step at hand and the power to dial, in letters read across the studio."""

from __future__ import annotations

from typing import ClassVar

from rich.text import Text
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.widgets import Static

from runbook.change.steps import read_power
from runbook.screens.base import DayScreen
from runbook.screens.keys import FAR
from runbook.screens.letters import big, letters_in, rows_of, wrapped
from runbook.screens.rows import Row, first_open, rows


class FarScreen(DayScreen):
    """What do I do now, from four metres."""

    KEYS = FAR
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("space", "tick", "done", show=False),
        Binding("z", "back", "back", show=False),
        Binding("escape", "back", "back", show=False),
    ]

    def compose(self) -> ComposeResult:
        yield Static(id="top")
        yield Static(id="far")
        yield Static(id="said")
        yield Static(id="keys")

    def show_truth(self) -> None:
        """Paint the one thing to do now."""
        super().show_truth()
        size = self.query_one("#far", Static).size
        self.query_one("#far", Static).update(self._painted(size.width, size.height))

    def _row(self) -> Row | None:
        """The first single thing to do: blocks are opened, one step at a time reads best."""
        listed = rows(self.session, frozenset())
        row = listed[first_open(listed)] if listed else None
        return None if row is None or row.over else row

    def _words(self) -> list[str]:
        row = self._row()
        if row is None:
            return ["READY" if self.session.truth.begun else "N BEGINS"]
        if row.check is not None:
            return [f"CHECK: {row.check.text}"]
        step = row.steps[0]
        if step.verb == "power":
            head, power = step.item, read_power(step.to)
            return [head, str(power)]
        words = [step.text]
        light = self.session.setup.light.get(step.thing) if self.session.setup else None
        if light is not None and step.verb != "strike":
            words.append(f"{light.head} {light.power}")
        return words

    def _painted(self, width: int, height: int) -> Text:
        glyphs = self.glyphs
        words = [glyphs.shown(word) for word in self._words()]
        rows_each = rows_of(glyphs) + 1
        painted: list[str] = []
        for word in words:
            for line in wrapped(word, letters_in(width)):
                painted += [*big(line, glyphs), ""]
        if len(painted) > height + 1 or width < 24 or height < rows_each:
            plain = "\n".join(words)
            return Text(plain, style="bold")
        return Text("\n".join(painted), style="bold", no_wrap=True)

    def action_tick(self) -> None:
        """The thing shown is done."""
        row = self._row()
        if row is None:
            return
        if row.check is not None:
            check = row.check
            self.day.do(lambda: self.session.tick_check(check))
        else:
            step = row.steps[0]
            self.day.do(lambda: self.session.tick(step))

    def action_back(self) -> None:
        self.day.action_show("set")
