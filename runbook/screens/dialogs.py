"""Short questions over a screen: a line to type, one of a few, a page to read. Escape always backs out."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any, ClassVar

from rich.text import Text
from textual import events
from textual.app import ComposeResult
from textual.binding import BindingType
from textual.containers import Vertical, VerticalScroll
from textual.screen import ModalScreen
from textual.widgets import Input, Static

from runbook.screens.help import PAGE_WIDTH, key
from runbook.screens.text import Glyphs
from runbook.screens.widgets.lines import CursorList

Choice = tuple[str, str, Any]  # a key, a text and a value


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


class EnterText(Dialog):
    """A line to type. ``read`` turns it into a value, or raises ValueError with what is wrong."""

    BINDINGS: ClassVar[list[BindingType]] = [key("escape", "back", "back")]

    def __init__(self, question: str, hint: str, read: Callable[[str], Any], glyphs: Glyphs) -> None:
        super().__init__()
        self.question, self.hint, self.read, self.glyphs = question, hint, read, glyphs

    def compose(self) -> ComposeResult:
        with Vertical(classes="box"):
            yield Static(Text(self.glyphs.shown(self.question), style="bold"))
            yield Input(compact=True, select_on_focus=False)
            yield Static(Text(self.glyphs.shown(f"{self.hint}  (enter: save, escape: cancel)")), id="hint")

    def on_mount(self) -> None:
        self.query_one(Input).focus()

    async def on_key(self, event: events.Key) -> None:
        """Keep what is typed before the line has the focus: only that comes by here."""
        line = self.query_one(Input)
        if event.is_printable and event.character:
            event.stop()
            line.insert_text_at_cursor(event.character)
        elif event.key == "enter":
            event.stop()
            await line.action_submit()

    def on_input_submitted(self, event: Input.Submitted) -> None:
        """Take the line, or say what is wrong with it."""
        event.stop()
        try:
            value = self.read(event.value)
        except ValueError as wrong:
            self.query_one("#hint", Static).update(Text(self.glyphs.shown(str(wrong)), style="bold yellow"))
            return
        self.answer(value)


class Choose(Dialog):
    """One of a few: arrows and enter, the key in front of it, or a click."""

    BINDINGS: ClassVar[list[BindingType]] = [
        key("escape", "back", "back"),
        key("up,k", "step(-1)", "up"),
        key("down,j", "step(1)", "down"),
        key("enter,space", "take", "take"),
    ]

    def __init__(self, question: str, choices: Sequence[Choice], glyphs: Glyphs, at: int = 0) -> None:
        super().__init__()
        self.question, self.choices, self.glyphs, self.at = question, choices, glyphs, at

    def compose(self) -> ComposeResult:
        with Vertical(classes="box"):
            yield Static(Text(self.glyphs.shown(self.question), style="bold"))
            yield CursorList(self.glyphs, "choices")

    @property
    def list(self) -> CursorList:
        return self.query_one(CursorList)

    def on_mount(self) -> None:
        self.list.show([(f" {name:>2}  {text}", "") for name, text, _ in self.choices], self.at)

    def on_resize(self) -> None:
        self.list.styles.height = min(len(self.choices), max(self.size.height - 6, 1))

    def action_step(self, by: int) -> None:
        self.list.move_cursor(by)

    def action_take(self) -> None:
        self.answer(self.choices[self.list.cursor][2])

    def on_cursor_list_pressed(self, message: CursorList.Pressed) -> None:
        """Take the choice that was clicked."""
        self.answer(self.choices[message.at][2])

    def on_key(self, event: events.Key) -> None:
        """Take the choice with this key in front."""
        for name, _, value in self.choices:
            if event.character == name:
                event.stop()
                self.answer(value)
                return


class ReadPage(Dialog):
    """A page to read, made for the width there is, scrolled where the window is too small for it."""

    BINDINGS: ClassVar[list[BindingType]] = [key("escape,q,question_mark,enter", "back", "back")]

    def __init__(self, page: Callable[[int], str], glyphs: Glyphs) -> None:
        super().__init__()
        self.page, self.glyphs = page, glyphs

    def compose(self) -> ComposeResult:
        with Vertical(classes="box page"):
            with VerticalScroll(id="page"):
                yield Static(id="page-text")
            yield Static(Text("up/down more  esc back", style="dim"), id="page-keys")

    def on_mount(self) -> None:
        self.query_one("#page").focus()

    def on_resize(self) -> None:
        text = self.page(max(min(self.size.width - 4, PAGE_WIDTH), 1))
        self.query_one("#page-text", Static).update(Text(self.glyphs.shown_lines(text)))
        self.query_one("#page").styles.max_height = max(self.size.height - 1, 1)
