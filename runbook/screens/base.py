"""What the screens of the day share: the app, a line on top, and a line of keys below."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any, ClassVar, Final, Protocol, cast

from rich.text import Text
from textual.binding import Binding, BindingType
from textual.screen import Screen
from textual.widgets import Static
from textual.worker import Worker

from runbook.day.actions import Session
from runbook.journal.store import Clock
from runbook.screens.dialogs import AskText, Choose
from runbook.screens.text import Glyphs, cut, sides

if TYPE_CHECKING:  # most days nobody edits the plan
    from runbook.files.editor import Editor

Said = str | Callable[[Any], str]


class DayApp(Protocol):
    """The app, as far as its screens know it.

    ``message`` is the line last shown. ``editor`` is there once the plan was looked at to be edited.
    ``give`` writes the handover file for whom it is given to; None where nobody knows where to.
    """

    session: Session
    clock: Clock
    glyphs: Glyphs
    message: str
    editor: Editor | None
    give: Callable[[str], Path] | None

    def do(self, action: Callable[[], Any], said: Said = "") -> bool:
        """Do something to the day and show it; a refusal or a journal's trouble is told instead.

        ``said`` is what to say then, or makes it out of what the action gives back.
        """

    def show_message(self, text: str) -> None:
        """One line to the person, until the next thing happens."""

    def check_plan(self) -> None:
        """Work out beside the keys what a check finds in the plan, for the set to show."""

    def after_keys(self, worker: Worker[Any]) -> bool:
        """For work beside the keys, every now and then: wait for them; whether to stop."""

    def action_show(self, name: str) -> None:
        """Go to a screen; the set is always underneath."""


# up and down, on every screen with a list to go through
CURSOR: Final = (
    Binding("up", "cursor(-1)", "up", show=False),
    Binding("down", "cursor(1)", "down", show=False),
    Binding("pageup", "cursor(-10)", "up", show=False),
    Binding("pagedown", "cursor(10)", "down", show=False),
)
WIDE: Final = 120  # from so many columns on, a screen shows more at once


def unless_cancelled(answered: Callable[[Any], object]) -> Callable[[Any], None]:
    def heard(value: Any) -> None:
        if value is not None:
            answered(value)

    return heard


class DayScreen(Screen[None]):
    """A screen of the running day. ``repaint`` paints it anew from the session."""

    KEYS: ClassVar[str] = ""
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("u", "undo", "undo", show=False),
        Binding("U", "redo", "bring back", show=False),
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

    def on_mount(self) -> None:
        self.repaint()

    def on_resize(self) -> None:
        self.call_after_refresh(self.repaint)

    def on_screen_resume(self) -> None:
        self.repaint()

    def repaint(self) -> None:
        """Paint from what is true now; the screens add their own parts."""
        self.query_one("#top", Static).update(self._top())
        said = self.day.message or self.session.warning
        self.query_one("#message", Static).update(Text(cut(said, self.size.width, self.glyphs), style="bold yellow"))
        self.query_one("#keys", Static).update(Text(cut(self.keys_now, self.size.width, self.glyphs), style="dim"))

    @property
    def keys_now(self) -> str:
        """The keys that matter most at this moment."""
        return self.KEYS

    def _top(self) -> Text:
        now = self.day.clock()
        width = self.size.width
        left = f"{now:%H:%M}  {self.session.plan.day.name}"
        if not self.session.journal.on_disk:  # never hidden behind what was said last
            left = f"NOT RECORDED ON DISK  {left}"
        if self.session.gaps:
            left = f"JOURNAL INCOMPLETE  {left}"
        right = self.session.finish_text(now)
        if self.session.rehearsal:
            left, right = f"REHEARSAL  {left}", self.session.stopwatch_text(now)
        return Text(sides(left, right, width, self.glyphs), style="bold")

    # -- asking ------------------------------------------------------------------------------

    def ask(self, question: str, hint: str, read: Callable[[str], Any], answered: Callable[[Any], object]) -> None:
        """A line to type; ``answered`` gets what ``read`` makes of it, if a person does not back
        out."""
        self.app.push_screen(AskText(question, hint, read, self.glyphs), unless_cancelled(answered))

    def choose(
        self, question: str, choices: Sequence[tuple[str, str, Any]], chosen: Callable[[Any], object], at: int = 0
    ) -> None:
        """One of a few (key, text, value); ``chosen`` gets the value, if a person does not back
        out."""
        self.app.push_screen(Choose(question, choices, self.glyphs, at), unless_cancelled(chosen))

    def action_undo(self) -> None:
        """Take back the last thing said."""
        self.day.do(self.session.undo, lambda undone: f"undone: {undone}")

    def action_redo(self) -> None:
        """Bring back what was undone last."""
        self.day.do(self.session.redo, lambda back: f"brought back: {back}")
