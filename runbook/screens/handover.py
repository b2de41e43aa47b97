"""The handover screen: what the next shooter must hear, and the file that gives them the day."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path
from typing import ClassVar

from textual.binding import BindingType
from textual.widget import Widget

from runbook.day.actions import Refused
from runbook.day.handover_lines import handover_lines
from runbook.day.parse_input import parse_words
from runbook.files.errors import Unreadable
from runbook.journal.errors import JournalError
from runbook.screens.base import DayScreen
from runbook.screens.help import key
from runbook.screens.widgets.lines import Log


class HandoverScreen(DayScreen):
    """Where we are, what is switched on, what is open: to be read out, line by line."""

    KEYS_TITLE = "Handover"
    FOOTER = ("hand_over", "note", "show('set')", "keys")
    BINDINGS: ClassVar[list[BindingType]] = [key("enter", "hand_over", "hand over", "write the handover file")]

    def __init__(self) -> None:
        super().__init__()
        self.packing = False

    def compose_body(self) -> Iterable[Widget]:
        yield self.lines("title")
        yield Log(self.glyphs, "log")

    def repaint(self) -> None:
        """Paint the lines; those about safety are marked by a word before they are bright."""
        super().repaint()
        lines = handover_lines(self.session, self.day.clock())
        safety = sum(line.safety for line in lines)
        self.show_title(f"read out and repeat back: {len(lines)} lines, {safety} about safety")
        self.query_one(Log).show(
            [
                (
                    f"{'SAFETY' if line.safety else '':<7}{line.topic:<15}{line.text}",
                    "bold yellow" if line.safety else "",
                )
                for line in lines
            ]
        )

    def action_hand_over(self) -> None:
        """Ask to whom, and write the handover file."""
        if self.day.give is not None and not self.packing:
            self.ask("Who takes the day over?", "a name", parse_words, self._start_packing)

    def _start_packing(self, to: str) -> None:
        self.packing = True
        self.day.show_message("writing the handover file")
        self.run_worker(lambda: self._pack(to), thread=True, exit_on_error=False)

    def _pack(self, to: str) -> None:
        """Write the file in a thread: a long day takes a while."""
        give = self.day.give
        assert give is not None
        try:
            path = give(to)
        except (Refused, Unreadable, JournalError, OSError) as why:
            self.app.call_from_thread(self._end_packing, f"not handed over: {why}")
        else:
            self.app.call_from_thread(self._record, to, path)

    def _record(self, to: str, path: Path) -> None:
        self.packing = False
        message = f"{path.name} is for {to}; they take the day over with: runbook resume {path.name}"
        self.day.do(lambda: self.session.hand_over(to), message)

    def _end_packing(self, message: str) -> None:
        self.packing = False
        self.day.show_message(message)
