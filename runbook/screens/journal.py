"""The journal screen: what happened, newest at the bottom, and as shot against the plan."""

from __future__ import annotations

from typing import ClassVar

from rich.text import Text
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.widgets import Static

from runbook.day.event_text import LogLine
from runbook.day.parse_input import parse_words
from runbook.screens.base import DayScreen
from runbook.screens.keys import JOURNAL, JOURNAL_GAPS
from runbook.screens.text import Words, cut, lines, rule


def _said(line: LogLine) -> str:
    undone = "  (undone)" if line.undone else ""
    return f"{line.entry.at:%H:%M} {line.entry.who:<8} {line.text}{undone}"


class JournalScreen(DayScreen):
    """What happened."""

    KEYS = JOURNAL
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("up", "scroll(1)", "up", show=False),
        Binding("down", "scroll(-1)", "down", show=False),
        Binding("pageup", "scroll(10)", "up", show=False),
        Binding("pagedown", "scroll(-10)", "down", show=False),
        Binding("end", "scroll(-99999)", "newest", show=False),
        Binding("home", "scroll(99999)", "oldest", show=False),
        Binding("w", "note", "note", show=False),
        Binding("a", "check_gaps", "what stands is checked", show=False),
    ]

    def __init__(self) -> None:
        super().__init__()
        self.back = 0

    def compose(self) -> ComposeResult:
        yield Words(id="top")
        yield Words(id="title")
        yield Words(id="log")
        yield Words(id="shot-title")
        yield Words(id="as-shot")
        yield Words(id="message")
        yield Words(id="keys")

    def repaint(self) -> None:
        """Paint the newest entries, or as far back as a person scrolled."""
        super().repaint()
        session, width = self.session, self.size.width
        told = session.view.log_lines
        log = self.query_one("#log", Static)
        height = max(log.size.height, 1)
        self.back = min(max(self.back, 0), max(len(told) - height, 0))
        end = len(told) - self.back
        shown = told[max(end - height, 0) : end]
        log.update(
            lines(*((cut(_said(line), width, self.glyphs), "dim strike" if line.undone else "") for line in shown))
        )
        where = "on disk" if session.journal.on_disk else "NOT on disk"
        title = f"journal, {len(told)} {'entry' if len(told) == 1 else 'entries'}, {where}"
        self.query_one("#title", Static).update(Text(rule(title, width, self.glyphs), style="dim", no_wrap=True))
        self.query_one("#shot-title", Static).update(
            Text(rule("as shot against the plan", width, self.glyphs), style="dim", no_wrap=True)
        )
        differences = session.view.as_shot_lines or ("everything as planned so far",)
        self.query_one("#as-shot", Static).update(lines(*((cut(line, width, self.glyphs), "") for line in differences)))

    def action_scroll(self, by: int) -> None:
        self.back += by
        self.repaint()

    @property
    def keys_now(self) -> str:
        return JOURNAL_GAPS if self.session.gaps else JOURNAL

    def action_check_gaps(self) -> None:
        """Somebody looked at what stands, after entries were lost."""
        session = self.session
        if not session.gaps:
            self.day.show_message("nothing of the journal is missing")
            return
        text = f"{session.gap_text[0].upper()}{session.gap_text[1:]}"
        self.choose(
            f"{text}: stands, bags and armed heads may differ from this. Was the set checked?",
            [("n", "not yet", None), ("y", "checked: it stands as shown here", True)],
            lambda _: self.day.do(session.check_gaps, "checked; the missing entries stay missing"),
        )

    def action_note(self) -> None:
        """Write a note."""
        self.ask(
            "A note:",
            "a few words",
            parse_words,
            lambda text: self.day.do(lambda: self.session.note(text), "note kept"),
        )
