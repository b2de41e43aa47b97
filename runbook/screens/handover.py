"""The handover screen: what the next shooter must hear, and the file that gives them the day."""

from __future__ import annotations

from asyncio import to_thread
from collections.abc import Iterable
from typing import ClassVar

from textual.binding import BindingType
from textual.containers import Horizontal, Vertical
from textual.widget import Widget
from textual.widgets import ProgressBar

from runbook.day.actions import Refused
from runbook.day.handover_lines import handover_lines
from runbook.day.parse_input import parse_words
from runbook.files.errors import Unreadable
from runbook.journal.errors import JournalError
from runbook.screens.base import DayScreen, asking
from runbook.screens.face import FacePicture, select_of
from runbook.screens.floor import FloorPane
from runbook.screens.keys import key
from runbook.screens.lists import Log

_SAFETY, _TOPIC = 7, 15  # columns


class HandoverScreen(DayScreen):
    """Where we are, what is switched on, what is open: to be read out, line by line."""

    BINDING_GROUP_TITLE = "Handover"
    FOOTER = ("hand_over", "note", "show('set')", "keys")
    BINDINGS: ClassVar[list[BindingType]] = [key("enter", "hand_over", "hand over", "write the handover file")]

    def on_mount(self) -> None:
        self.query_one(ProgressBar).display = False

    def compose_body(self) -> Iterable[Widget]:
        yield ProgressBar(show_percentage=False, show_eta=False)
        with Horizontal(id="middle"):
            yield Log(self.glyphs, "log", _SAFETY + _TOPIC)
            with Vertical(id="sight"):
                yield FloorPane()
                yield FacePicture(self.glyphs, "face")

    def repaint(self) -> None:
        """Paint the lines; those about safety are marked by a word before they are bright."""
        super().repaint()
        lines = handover_lines(self.session, self.day.clock())
        safety = sum(line.safety for line in lines)
        log = self.query_one(Log)
        self.show_title(log, f"read out and repeat back: {len(lines)} lines, {safety} about safety")
        topics = [line.topic if n == 0 or line.topic != lines[n - 1].topic else "" for n, line in enumerate(lines)]
        shown = [
            (f"{'SAFETY' if line.safety else '':<{_SAFETY}}{topic:<{_TOPIC}}{line.text}", line.safety)
            for topic, line in zip(topics, lines, strict=True)
        ]
        self.show_current_floor()
        here, face = self.session.view.current_floor, self.query_one(FacePicture)
        self.show_title(face, "the face, as the camera sees it")
        face.show(self.session.view.lit_setup(here), select_of(self.session, here))
        log.show([(text, "bold $warning" if bright else "") for text, bright in shown])

    @asking
    async def action_hand_over(self) -> None:
        """Ask to whom, and write the handover file, in a thread: a long day takes a while."""
        give, bar = self.day.give, self.query_one(ProgressBar)
        if give is None or bar.display:
            return
        to = await self.ask("Who takes the day over?", "a name", parse_words)
        bar.display = True
        self.day.show_message("writing the handover file")
        try:
            path = await to_thread(give, to)
        except (Refused, Unreadable, JournalError, OSError) as why:
            self.day.show_message(f"not handed over: {why}")
        else:
            message = f"{path.name} is for {to}; they take the day over with: runbook resume {path.name}"
            self.day.do(lambda: self.session.hand_over(to), message)
        finally:
            bar.display = False
