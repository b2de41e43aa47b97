"""Short questions: a line to type, a yes or no, one of a few. Escape always backs out."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from textwrap import wrap
from typing import Any, ClassVar, Final

from rich.text import Text
from textual import events
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Vertical
from textual.screen import ModalScreen
from textual.widgets import Input, Static

from runbook.screens.keys import PAGE_WIDTH
from runbook.screens.text import Glyphs


class Dialog(ModalScreen[Any]):
    """A question or a page over a screen. It takes one answer, once, while it is on top."""

    answered = False

    def answer(self, value: Any) -> None:
        """Close the dialog with this answer; an answer that comes too late is dropped."""
        if self.answered or not (self.is_mounted and self.is_active):
            return
        self.answered = True
        self.dismiss(value)

    def action_back(self) -> None:
        """Close the dialog without an answer."""
        self.answer(None)


class AskText(Dialog):
    """A line to type. ``read`` turns it into a value, or raises ValueError with what is wrong."""

    BINDINGS: ClassVar[list[BindingType]] = [Binding("escape", "back", "back", show=False)]

    def __init__(self, question: str, hint: str, read: Callable[[str], Any], glyphs: Glyphs, given: str = "") -> None:
        super().__init__()
        self.question, self.hint, self.read, self.glyphs = question, hint, read, glyphs
        self.given = given

    def compose(self) -> ComposeResult:
        with Vertical(classes="box"):
            yield Static(Text(self.glyphs.shown(self.question), style="bold"))
            yield Input(value=self.given, compact=True, select_on_focus=False)
            yield Static(Text(self.glyphs.shown(f"{self.hint}  (enter: say it, escape: back)")), id="hint")

    def on_mount(self) -> None:
        self.query_one(Input).focus()

    async def on_key(self, event: events.Key) -> None:
        """What is typed before the line has the focus is not lost: only that comes by here."""
        line = self.query_one(Input)
        if event.is_printable and event.character:
            event.stop()
            line.insert_text_at_cursor(event.character)
        elif event.key == "enter":
            event.stop()
            await line.action_submit()

    def on_input_submitted(self, event: Input.Submitted) -> None:
        """Enter: take the line, or say what is wrong with it."""
        event.stop()
        try:
            value = self.read(event.value)
        except ValueError as wrong:
            self.query_one("#hint", Static).update(Text(self.glyphs.shown(str(wrong)), style="bold yellow"))
            return
        self.answer(value)


class Choose(Dialog):
    """One of a few: arrows and enter, or the key in front of it."""

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("escape", "back", "back", show=False),
        Binding("up,k", "step(-1)", "up", show=False),
        Binding("down,j", "step(1)", "down", show=False),
        Binding("enter,space", "take", "take", show=False),
    ]

    def __init__(self, question: str, choices: Sequence[tuple[str, str, Any]], glyphs: Glyphs, at: int = 0) -> None:
        """``choices`` are key, text and value."""
        super().__init__()
        self.question, self.choices, self.glyphs, self.at = question, choices, glyphs, at

    def compose(self) -> ComposeResult:
        with Vertical(classes="box"):
            yield Static(Text(self.glyphs.shown(self.question), style="bold"))
            yield Static(id="choices")

    def on_mount(self) -> None:
        self._paint()

    def on_resize(self) -> None:
        self._paint()

    def _paint(self) -> None:
        height = max(self.size.height - 6, 1)
        top = max(min(self.at - height // 2, len(self.choices) - height), 0)
        painted = Text(no_wrap=True, overflow="ellipsis")
        for n, (key, text, _) in enumerate(self.choices[top : top + height], top):
            here = n == self.at
            sign = self.glyphs.here if here else " "
            painted.append("\n" if n > top else "")
            painted.append(self.glyphs.shown(f"{sign} {key:>2}  {text}"), "bold reverse" if here else "")
        self.query_one("#choices", Static).update(painted)

    def action_step(self, by: int) -> None:
        self.at = min(max(self.at + by, 0), len(self.choices) - 1)
        self._paint()

    def action_take(self) -> None:
        self.answer(self.choices[self.at][2])

    def on_key(self, event: events.Key) -> None:
        """The key in front of a choice takes it."""
        for key, _, value in self.choices:
            if event.character == key:
                event.stop()
                self.answer(value)
                return


_TABLE: Final = re.compile(r" *\S+(?: \S+)* {2,}(?=\S)")  # keys, then what they do
_CLOSE: Final = frozenset({"escape", "q", "question_mark", "enter"})
_SCROLL: Final = {
    "up": -1, "down": 1, "pageup": -10, "pagedown": 10, "home": -99999, "end": 99999
}  # fmt: skip


class ReadPage(Dialog):
    """A page to read, scrolled where the window is too small for it.

    ``text`` is the page, or makes it for a width; its lines are broken where they are too long.
    """

    def __init__(self, text: Text | Callable[[int], Text]) -> None:
        super().__init__()
        self.text = text
        self.top = 0

    def compose(self) -> ComposeResult:
        with Vertical(classes="box page"):
            yield Static(id="told")

    def on_mount(self) -> None:
        self._paint()

    def on_resize(self) -> None:
        self._paint()

    def _paint(self) -> None:
        width = max(min(self.size.width - 4, PAGE_WIDTH), 1)
        text = self.text(width) if callable(self.text) else self.text
        lines = [part for line in text.plain.rstrip().split("\n") for part in _broken(line, width)]
        fits = len(lines) <= self.size.height
        room = max(self.size.height - (0 if fits else 1), 1)
        self.top = max(min(self.top, len(lines) - room), 0)
        painted = Text("\n".join(lines[self.top : self.top + room]), no_wrap=True)
        if len(lines) < self.size.height or not fits:  # a line is left for how to go on
            painted.append(f"\n{'' if fits else 'up/down more  '}esc back", "dim")
        self.query_one("#told", Static).update(painted)

    def on_key(self, event: events.Key) -> None:
        """Move, or go back; nothing else is heard under a page."""
        event.stop()
        if event.key in _CLOSE:
            self.answer(None)
        elif event.key in _SCROLL:
            self.top = max(self.top + _SCROLL[event.key], 0)
            self._paint()

    def on_mouse_scroll_down(self) -> None:
        self.top += 1
        self._paint()

    def on_mouse_scroll_up(self) -> None:
        self.top = max(self.top - 1, 0)
        self._paint()


def _broken(line: str, width: int) -> list[str]:
    """A line of a page in lines that fit; what follows the first begins where its words do."""
    told = _TABLE.match(line)
    hang = " " * told.end() if told and told.end() < width - 10 else ""
    return wrap(line, width, subsequent_indent=hang, drop_whitespace=True) or [""]
