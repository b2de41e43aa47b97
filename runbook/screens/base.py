"""What the screens of the day share: the app, a line on top, and a line of keys below."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any, ClassVar, Final, Protocol, cast

from textual.app import ComposeResult
from textual.binding import BindingType
from textual.content import Content
from textual.screen import Screen
from textual.widget import Widget
from textual.widgets import Static

from runbook.day.actions import Session
from runbook.day.parse_input import parse_words
from runbook.journal.journal import Clock
from runbook.screens.dialogs import Choice, Choose, EnterText
from runbook.screens.help import footer_markup, key
from runbook.screens.text import Glyphs, Line
from runbook.screens.widgets.lines import Lines

if TYPE_CHECKING:  # most days nobody edits the plan
    from runbook.files.editor import Editor

Message = str | Callable[[Any], str]  # what to say of an action, or how to say it of its result
# up and down, on every screen with a list to go through
CURSOR: Final = (
    key("up", "cursor(-1)", "up", "move the cursor"),
    key("down", "cursor(1)", "down", "move the cursor"),
    key("pageup", "cursor(-10)", "up", "ten at once", shown="pgup"),
    key("pagedown", "cursor(10)", "down", "ten at once", shown="pgdn"),
)
WIDE: Final = 120  # from so many columns on, a screen shows more at once


class DayApp(Protocol):
    """The app, as far as its screens know it.

    ``message`` is the line last shown. ``editor`` is there once the plan was opened for editing. ``give`` writes the
    handover file for a named person; None where there is no place for it.
    """

    session: Session
    clock: Clock
    glyphs: Glyphs
    message: str
    editor: Editor | None
    give: Callable[[str], Path] | None

    def do(self, action: Callable[[], Any], message: Message = "") -> bool:
        """Change the day and show it; a refusal or trouble with the journal is shown instead."""

    def show_message(self, text: str) -> None:
        """Show one line until the next action."""

    def check_plan(self) -> None:
        """Check the plan in the background, for the set to show what is wrong."""

    def action_show(self, name: str) -> None:
        """Go to a screen; the set is always underneath."""


class DayScreen(Screen[None]):
    """A screen of the running day. ``repaint`` paints it again from the session."""

    FOOTER: ClassVar[tuple[str, ...]] = ()
    KEYS_TITLE: ClassVar[str] = "Every screen"
    HELP_NOTE: ClassVar[str] = ""
    BINDINGS: ClassVar[list[BindingType]] = [
        key("u", "undo", "undo", "undo; bring back"),
        key("U", "redo", "redo", "undo; bring back"),
        key("w", "note", "note", "write a note"),
    ]

    @property
    def day(self) -> DayApp:
        """The app, with its session."""
        return cast("DayApp", self.app)

    @property
    def session(self) -> Session:
        return self.day.session

    @property
    def glyphs(self) -> Glyphs:
        return self.day.glyphs

    def compose(self) -> ComposeResult:
        yield self.lines("top")
        yield from self.compose_body()
        yield self.lines("message")
        yield Static(id="keys")

    def compose_body(self) -> Iterable[Widget]:
        """Yield what is between the line on top and the message."""
        raise NotImplementedError

    def lines(self, name: str) -> Lines:
        """Return a block of lines to compose the screen of."""
        return Lines(self.glyphs, name)

    def show_lines(self, name: str, *lines: str | Line) -> None:
        """Show lines in the block of this name."""
        self.query_one(f"#{name}", Lines).show(*lines)

    def show_title(self, title: str, name: str = "title", style: str = "dim") -> None:
        """Show a title in a line across the screen."""
        self.show_lines(name, (self.glyphs.rule(title, self.size.width), style))

    def on_mount(self) -> None:
        self.repaint()

    def on_resize(self) -> None:
        self.call_after_refresh(self.repaint)

    def on_screen_resume(self) -> None:
        self.repaint()

    def repaint(self) -> None:
        """Paint from the session; the screens add their own parts."""
        self.show_lines("top", (self._top(), "bold"))
        self.show_lines("message", (self.day.message or self.session.warning, "bold yellow"))
        keys = footer_markup(self.active_bindings.values(), self.footer)
        self.query_one("#keys", Static).update(Content.from_markup(keys))

    @property
    def footer(self) -> tuple[str, ...]:
        """The actions whose keys matter most now."""
        return self.FOOTER

    def _top(self) -> str:
        now = self.day.clock()
        left = f"{now:%H:%M}  {self.session.plan.day.name}"
        if not self.session.journal.on_disk:  # never hidden behind the last message
            left = f"NOT RECORDED ON DISK  {left}"
        if self.session.gaps:
            left = f"JOURNAL INCOMPLETE  {left}"
        right = self.session.finish_text(now)
        if self.session.rehearsal:
            left, right = f"REHEARSAL  {left}", self.session.stopwatch_text(now)
        return self.glyphs.sides(left, right, self.size.width)

    # -- asking ------------------------------------------------------------------------------

    def ask(self, question: str, hint: str, read: Callable[[str], Any], answered: Callable[[Any], object]) -> None:
        """Ask for a line; ``answered`` gets what ``read`` makes of it, unless a person backs out."""
        self.app.push_screen(EnterText(question, hint, read, self.glyphs), _unless_cancelled(answered))

    def choose(self, question: str, choices: Sequence[Choice], chosen: Callable[[Any], object], at: int = 0) -> None:
        """Ask for one of a few (key, text, value); ``chosen`` gets the value, unless a person backs out."""
        self.app.push_screen(Choose(question, choices, self.glyphs, at), _unless_cancelled(chosen))

    def action_undo(self) -> None:
        """Undo the last action."""
        self.day.do(self.session.undo, lambda undone: f"undone: {undone}")

    def action_redo(self) -> None:
        """Redo what was undone last."""
        self.day.do(self.session.redo, lambda again: f"redone: {again}")

    def action_note(self) -> None:
        """Write a note."""
        self.ask(
            "A note:",
            "a few words",
            parse_words,
            lambda text: self.day.do(lambda: self.session.note(text), "note saved"),
        )


def numbered(items: Iterable[tuple[str, Any]]) -> list[Choice]:
    """Return texts and values as choices, the first nine with a number as their key."""
    return [(str(n) if n < 10 else "", text, value) for n, (text, value) in enumerate(items, 1)]


def _unless_cancelled(answered: Callable[[Any], object]) -> Callable[[Any], None]:
    def call(value: Any) -> None:
        if value is not None:
            answered(value)

    return call
