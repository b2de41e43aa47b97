"""The handover screen: what the next shooter must hear, and the file that gives them the day."""

from __future__ import annotations

from pathlib import Path
from typing import ClassVar

from rich.text import Text
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.widgets import Static

from runbook.day.actions import Refused
from runbook.day.handover_lines import HandoverLine, handover_lines
from runbook.day.parse_input import parse_words
from runbook.files.errors import Unreadable
from runbook.journal.trouble import JournalTrouble
from runbook.screens.base import DayScreen
from runbook.screens.keys import HANDOVER
from runbook.screens.text import Words, cut, lines, rule


class HandoverScreen(DayScreen):
    """Where we are, what is armed, what is open: to be read out, line by line."""

    KEYS = HANDOVER
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("up", "scroll(-1)", "up", show=False),
        Binding("down", "scroll(1)", "down", show=False),
        Binding("pageup", "scroll(-10)", "up", show=False),
        Binding("pagedown", "scroll(10)", "down", show=False),
        Binding("home", "scroll(-99999)", "first", show=False),
        Binding("end", "scroll(99999)", "last", show=False),
        Binding("w", "note", "note", show=False),
        Binding("enter", "give", "hand over", show=False),
    ]

    def __init__(self) -> None:
        super().__init__()
        self.first = 0
        self.giving = False
        self._told: tuple[tuple[int, str], tuple[HandoverLine, ...]] | None = None

    def on_mount(self) -> None:
        """How many lines there is room for is known once the screen is laid out."""
        super().on_mount()
        self.call_after_refresh(self.repaint)

    def compose(self) -> ComposeResult:
        yield Words(id="top")
        yield Words(id="title")
        yield Words(id="log")
        yield Words(id="message")
        yield Words(id="keys")

    def repaint(self) -> None:
        """Paint the lines as they are now; a safety line says so before it is bright."""
        super().repaint()
        width, log = self.size.width, self.query_one("#log", Static)
        told = self._lines()
        safety = sum(line.safety for line in told)
        title = f"to hear and say back: {len(told)} lines, {safety} about safety"
        self.query_one("#title", Static).update(Text(rule(title, width, self.glyphs), style="dim", no_wrap=True))
        height = max(log.size.height, 1)
        self.first = min(max(self.first, 0), max(len(told) - height, 0))
        log.update(
            lines(
                *(
                    (
                        cut(f"{'SAFETY' if line.safety else '':<7}{line.topic:<15}{line.text}", width, self.glyphs),
                        "bold yellow" if line.safety else "",
                    )
                    for line in told[self.first : self.first + height]
                )
            )
        )

    def _lines(self) -> tuple[HandoverLine, ...]:
        """The lines, worked out once a minute or for each new entry."""
        now = self.day.clock()
        asked = (len(self.session.entries), f"{now:%H:%M} {self.session.finish_text(now)}")
        if self._told is None or self._told[0] != asked:
            self._told = (asked, handover_lines(self.session, now))
        return self._told[1]

    def action_scroll(self, by: int) -> None:
        self.first += by
        self.repaint()

    def action_note(self) -> None:
        """Write a note: it is handed over too."""
        self.ask("A note:", "a few words", parse_words, self._noted)

    def _noted(self, text: str) -> None:
        self.day.do(lambda: self.session.note(text), "note kept")

    def action_give(self) -> None:
        """AskText to whom, and write the handover file."""
        if self.day.give is None or self.giving:
            return
        self.ask("Who takes the day over?", "a name", parse_words, self._give)

    def _give(self, to: str) -> None:
        self.giving = True
        self.day.show_message("packing the day")
        self.run_worker(lambda: self._packed(to), thread=True, exit_on_error=False)

    def _packed(self, to: str) -> None:
        """Off the screen: a long day takes a while to pack."""
        give = self.day.give
        assert give is not None
        try:
            path = give(to)
        except (Refused, Unreadable, JournalTrouble, OSError) as why:
            self.app.call_from_thread(self._over, f"not handed over: {why}")
        else:
            self.app.call_from_thread(self._given, to, path)

    def _given(self, to: str, path: Path) -> None:
        self.giving = False
        said = f"{path.name} is for {to}; they take the day with: runbook resume {path.name}"
        self.day.do(lambda: self.session.hand_over(to), said)

    def _over(self, said: str) -> None:
        self.giving = False
        self.day.show_message(said)
