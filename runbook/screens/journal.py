"""The journal screen: what happened, newest at the bottom, and as shot against the plan."""

from __future__ import annotations

from collections.abc import Iterable
from typing import ClassVar, Final

from textual.binding import BindingType
from textual.widget import Widget

from runbook.day.actions import Refused
from runbook.day.event_text import LogLine
from runbook.screens.base import DayScreen, asking
from runbook.screens.keys import key
from runbook.screens.lists import Log
from runbook.screens.text import Line

_INDENT: Final = 15  # below the text, after the time and the name


def _log_line(line: LogLine) -> Line:
    text = f"{line.entry.at:%H:%M} {line.entry.who:<8} {line.text}"
    return (f"{text}  (undone)", "strike") if line.undone else (text, "")


class JournalScreen(DayScreen):
    """What happened."""

    BINDING_GROUP_TITLE = "Journal"
    BINDINGS: ClassVar[list[BindingType]] = [
        key("a", "check_gaps", "set checked", "after lost entries: the set is checked")
    ]

    def compose_body(self) -> Iterable[Widget]:
        yield Log(self.glyphs, "log", _INDENT)
        yield self.lines("as-shot", "part")

    def on_mount(self) -> None:
        self.query_one(Log).anchor()  # keep the newest in view until a person scrolls

    def repaint(self) -> None:
        """Paint the entries, and what differs from the plan."""
        super().repaint()
        session = self.session
        entries = session.view.log_lines
        where = "on disk" if session.journal.on_disk else "NOT on disk"
        log = self.query_one(Log)
        self.show_title(log, f"journal, {len(entries)} {'entry' if len(entries) == 1 else 'entries'}, {where}")
        log.show([_log_line(line) for line in entries])
        self.show_title(self.query_one("#as-shot"), "as shot against the plan")
        self.show_lines("as-shot", *(session.view.as_shot_lines or ("everything as planned so far",)))

    @property
    def footer(self) -> tuple[str, ...]:
        gaps = ("check_gaps",) if self.session.gaps else ()
        return (*gaps, "note", "undo", "show('set')", "keys")

    @asking
    async def action_check_gaps(self) -> None:
        """Record that somebody checked the set after entries were lost."""
        session = self.session
        if not session.gaps:
            raise Refused("no journal entries are missing")
        text = f"{session.gap_text[0].upper()}{session.gap_text[1:]}"
        await self.choose(
            f"{text}: stands, bags and heads that are switched on may differ from this. Was the set checked?",
            [("n", "not yet", None), ("y", "checked: it is as shown here", True)],
        )
        self.day.do(session.check_gaps, "checked; the missing entries stay missing")
