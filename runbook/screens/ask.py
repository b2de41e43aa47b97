"""Short questions: a line to type, a yes or no, one of a few. Escape always backs out."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any, ClassVar

from rich.text import Text
from textual import events
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Vertical
from textual.screen import ModalScreen
from textual.widgets import Input, Static

from runbook.screens.glyphs import Glyphs


class Ask(ModalScreen[Any]):
    """A line to type. ``read`` turns it into a value, or raises ValueError with what is wrong."""

    BINDINGS: ClassVar[list[BindingType]] = [Binding("escape", "back", "back", show=False)]

    def __init__(
        self, question: str, hint: str, read: Callable[[str], Any], glyphs: Glyphs, given: str = ""
    ) -> None:
        super().__init__()
        self.question, self.hint, self.read, self.glyphs = question, hint, read, glyphs
        self.given = given

    def compose(self) -> ComposeResult:
        with Vertical(classes="box"):
            yield Static(Text(self.glyphs.shown(self.question), style="bold"))
            yield Input(value=self.given, compact=True, select_on_focus=False)
            yield Static(
                Text(self.glyphs.shown(f"{self.hint}  (enter: say it, escape: back)")), id="hint"
            )

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
            self.query_one("#hint", Static).update(
                Text(self.glyphs.shown(str(wrong)), style="bold yellow")
            )
            return
        self.dismiss(value)

    def action_back(self) -> None:
        self.dismiss(None)


class Choose(ModalScreen[Any]):
    """One of a few: arrows and enter, or the key in front of it."""

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("escape", "back", "back", show=False),
        Binding("up,k", "step(-1)", "up", show=False),
        Binding("down,j", "step(1)", "down", show=False),
        Binding("enter,space", "take", "take", show=False),
    ]

    def __init__(
        self,
        question: str,
        choices: Sequence[tuple[str, str, Any]],
        glyphs: Glyphs,
        at: int = 0,
    ) -> None:
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
            painted.append(
                self.glyphs.shown(f"{sign} {key:>2}  {text}"), "bold reverse" if here else ""
            )
        self.query_one("#choices", Static).update(painted)

    def action_step(self, by: int) -> None:
        self.at = min(max(self.at + by, 0), len(self.choices) - 1)
        self._paint()

    def action_take(self) -> None:
        self.dismiss(self.choices[self.at][2])

    def action_back(self) -> None:
        self.dismiss(None)

    def on_key(self, event: events.Key) -> None:
        """The key in front of a choice takes it."""
        for key, _, value in self.choices:
            if event.character == key:
                event.stop()
                self.dismiss(value)
                return


class Tell(ModalScreen[None]):
    """A page to read; any key goes back."""

    def __init__(self, text: Text) -> None:
        super().__init__()
        self.text = text

    def compose(self) -> ComposeResult:
        with Vertical(classes="box page"):
            yield Static(self.text)

    def on_key(self, event: events.Key) -> None:
        event.stop()
        self.dismiss(None)
