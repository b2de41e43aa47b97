"""What the screens of the day share: questions, a line on top, and a line of keys below."""

from __future__ import annotations

from asyncio import sleep
from collections.abc import Callable, Coroutine, Iterable, Sequence
from contextlib import suppress
from functools import partial
from typing import TYPE_CHECKING, Any, ClassVar, Concatenate, Final, ParamSpec, TypeVar, cast

from rich.text import Text
from textual import events, work
from textual.app import App, ComposeResult
from textual.binding import BindingType
from textual.containers import Vertical, VerticalScroll
from textual.content import Content
from textual.dom import DOMNode
from textual.screen import ModalScreen, Screen
from textual.widget import Widget
from textual.widgets import Input, Static

from runbook.changeover.checklist import Check
from runbook.day.actions import Refused, Session
from runbook.day.parse_input import parse_words
from runbook.screens.keys import PAGE_WIDTH, footer_markup, key
from runbook.screens.lists import CursorList, Lines, RowList
from runbook.screens.text import Glyphs, Line

if TYPE_CHECKING:
    from runbook.screens.app import RunbookApp

WIDE: Final = 120  # from so many columns on, a screen shows more at once
WHY: Final = "Why? The reason stays in the journal."
_TYPING_S: Final = 0.05  # a word typed in one go is previewed once
Choice = tuple[str, str, Any]  # a key, a text and a value; a value of None is no answer
P = ParamSpec("P")
Node = TypeVar("Node", bound=DOMNode)


# -- questions ---------------------------------------------------------------------------------


class Cancelled(Exception):
    """A person backed out of a question."""


def asking(action: Callable[Concatenate[Node, P], Coroutine[Any, Any, None]]) -> Callable[Concatenate[Node, P], None]:
    """Make an action of a coroutine that may ask questions; backing out of one ends it, and a refusal is shown."""

    def start(self: Node, /, *args: P.args, **more: P.kwargs) -> None:
        async def run() -> None:
            try:
                with suppress(Cancelled):
                    await action(self, *args, **more)
            except Refused as why:
                cast("RunbookApp", self.app).show_message(str(why))

        self.app.run_worker(run())  # the app's, so that it goes on where its screen is left meanwhile

    return start


def numbered(items: Iterable[tuple[str, Any]]) -> list[Choice]:
    """Return texts and values as choices, the first nine with a number as their key."""
    return [(str(n) if n < 10 else "", text, value) for n, (text, value) in enumerate(items, 1)]


class Dialog(ModalScreen[Any]):
    """A question or a page over a screen. It takes one answer, once, while it is on top."""

    answered = False

    def answer(self, value: Any) -> None:
        """Close the dialog with this answer; an answer that comes too late is dropped."""
        if not self.answered and self.is_mounted and self.is_active:
            self.answered = True
            self.dismiss(value)

    def action_back(self) -> None:
        """Close the dialog without an answer."""
        self.answer(None)

    async def answer_on(self, app: App[Any]) -> Any:
        """Show the dialog and return its answer. Raises Cancelled."""
        answer = await app.push_screen_wait(self)
        if answer is None:
            raise Cancelled
        return answer


class EnterText(Dialog):
    """A line to type. ``read`` turns it into a value, or raises ValueError with what is wrong."""

    BINDINGS: ClassVar[list[BindingType]] = [key("escape", "back", "back")]
    given = ""

    def __init__(self, question: str, hint: str, read: Callable[[str], Any], glyphs: Glyphs) -> None:
        super().__init__()
        self.question, self.hint, self.read, self.glyphs = question, hint, read, glyphs

    def compose(self) -> ComposeResult:
        with Vertical(classes="box"):
            yield Static(Text(self.glyphs.shown(self.question), style="bold"))
            yield Input(self.given, compact=True, select_on_focus=False)
            yield Static(id="hint")

    def on_mount(self) -> None:
        self.show_hint(f"{self.hint}  (enter: save, escape: cancel)")

    def show_hint(self, *lines: str, style: str = "") -> None:
        """Show what to type, or what is wrong with what is typed."""
        self.query_one("#hint", Static).update(Text("\n".join(map(self.glyphs.shown, lines)), style=style))

    def on_input_submitted(self, event: Input.Submitted) -> None:
        """Take the line, or show what is wrong with it."""
        try:
            self.answer(self.read(event.value))
        except ValueError as wrong:
            self.show_hint(str(wrong), style="bold yellow")


class PreviewText(EnterText):
    """A line to change. ``preview`` shows what it leads to as it is typed, or raises ValueError with what is wrong."""

    def __init__(self, question: str, given: str, preview: Callable[[str], Sequence[str]], glyphs: Glyphs) -> None:
        super().__init__(question, "", self.read_text, glyphs)
        self.given, self.preview = given, preview

    def read_text(self, text: str) -> str:
        """Return a text that is right. Raises ValueError."""
        self.preview(text)
        return text

    @work(exclusive=True)
    async def on_input_changed(self, event: Input.Changed) -> None:
        """Show the preview once the typing pauses."""
        await sleep(_TYPING_S)
        if self.answered or not self.query("#hint"):  # closed meanwhile
            return
        try:
            self.show_hint(*self.preview(event.value))
        except ValueError as wrong:
            self.show_hint(str(wrong), style="bold yellow")


class Choose(Dialog):
    """One of a few: arrows and enter, the key in front of it, or a click."""

    BINDINGS: ClassVar[list[BindingType]] = [
        key("escape", "back", "back"),
        key("up,k", "step(-1)", "up"),
        key("down,j", "step(1)", "down"),
        key("enter,space", "take", "take"),
    ]

    def __init__(
        self, question: str, choices: Sequence[Choice], glyphs: Glyphs, at: int = 0, name: str | None = None
    ) -> None:
        super().__init__(name)
        self.question, self.choices, self.at = question, choices, at
        self.list = CursorList(glyphs, "choices")

    def compose(self) -> ComposeResult:
        with Vertical(classes="box"):
            yield Static(Text(self.list.glyphs.shown(self.question), style="bold"))
            yield self.list

    def on_mount(self) -> None:
        self.list.show([(f" {name:>2}  {text}", "") for name, text, _ in self.choices], self.at)

    def on_resize(self) -> None:
        self.list.styles.height = min(len(self.choices), max(self.size.height - 6, 1))

    def action_step(self, by: int) -> None:
        self.list.move_cursor(by)

    def action_take(self) -> None:
        """Take the choice under the cursor; a click puts the cursor there first."""
        self.answer(self.choices[self.list.cursor][2])

    on_cursor_list_pressed = action_take

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

    def on_resize(self) -> None:
        page = self.page(max(min(self.size.width - 4, PAGE_WIDTH), 1))
        text = "\n".join(map(self.glyphs.shown, page.split("\n")))
        self.query_one("#page-text", Static).update(Text(text))
        self.query_one("#page").styles.max_height = max(self.size.height - 1, 1)


# -- screens -----------------------------------------------------------------------------------


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
    def day(self) -> RunbookApp:
        """The app, with its session."""
        return cast("RunbookApp", self.app)

    @property
    def session(self) -> Session:
        return self.day.session

    @property
    def glyphs(self) -> Glyphs:
        return self.day.glyphs

    @property
    def footer(self) -> tuple[str, ...]:
        """The actions whose keys matter most now."""
        return self.FOOTER

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

    def _top(self) -> str:
        now = self.day.clock()
        rehearsal = self.session.rehearsal
        warnings = {
            "REHEARSAL": rehearsal,
            "JOURNAL INCOMPLETE": self.session.gaps,
            "NOT RECORDED ON DISK": not self.session.journal.on_disk,  # never hidden behind the last message
        }
        left = [*(text for text, holds in warnings.items() if holds), f"{now:%H:%M}", self.session.plan.day.name]
        right = self.session.stopwatch_text(now) if rehearsal else self.session.finish_text(now)
        return self.glyphs.sides("  ".join(left), right, self.size.width)

    async def ask(self, question: str, hint: str, read: Callable[[str], Any]) -> Any:
        """Ask for a line and return what ``read`` makes of it. Raises Cancelled."""
        return await EnterText(question, hint, read, self.glyphs).answer_on(self.app)

    async def choose(self, question: str, choices: Sequence[Choice], at: int = 0) -> Any:
        """Ask for one of a few and return its value. Raises Cancelled."""
        return await Choose(question, choices, self.glyphs, at).answer_on(self.app)

    async def choose_of(self, question: str, choices: Sequence[Choice], none: str, at: int = 0) -> Any:
        """Ask for one of a few. Raises Cancelled, and Refused with ``none`` where there are none."""
        if not choices:
            raise Refused(none)
        return await self.choose(question, choices, at)

    # -- actions -------------------------------------------------------------------------------

    def action_cursor(self, by: int) -> None:
        self.query_one(RowList).move_cursor(by)

    def action_undo(self) -> None:
        """Undo the last action."""
        self.day.do(self.session.undo, lambda undone: f"undone: {undone}")

    def action_redo(self) -> None:
        """Redo what was undone last."""
        self.day.do(self.session.redo, lambda again: f"redone: {again}")

    @asking
    async def action_note(self) -> None:
        """Write a note."""
        text = await self.ask("A note:", "a few words", parse_words)
        self.day.do(lambda: self.session.note(text), "note saved")

    @asking
    async def set_aside(self, check: Check) -> None:
        """Set a check aside, with a reason."""
        reason = await self.ask(f"Set aside: {check.text}", WHY, parse_words)
        set_aside = partial(self.session.set_check_aside, check, reason)
        self.query_one(RowList).advance(lambda: self.day.do(set_aside))
