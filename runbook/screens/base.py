"""What the screens of the day share: questions, the header, the dangers, and the footer."""

from __future__ import annotations

from asyncio import sleep
from collections.abc import Callable, Coroutine, Iterable, Iterator, Sequence
from contextlib import suppress
from dataclasses import replace
from functools import partial
from itertools import zip_longest
from textwrap import wrap
from typing import TYPE_CHECKING, Any, ClassVar, Concatenate, Final, Literal, ParamSpec, TypeVar, cast

from textual import events, work
from textual.app import App, ComposeResult
from textual.binding import ActiveBinding, Binding, BindingType
from textual.containers import Vertical, VerticalScroll
from textual.content import Content
from textual.dom import DOMNode
from textual.geometry import Size
from textual.screen import ModalScreen, Screen
from textual.widget import Widget
from textual.widgets import Footer, Header, Input, OptionList, Static
from textual.widgets._footer import FooterKey

from runbook.changeover.checklist import Check
from runbook.day.actions import Refused, Session
from runbook.day.parse_input import parse_words
from runbook.day.stand_view import alarms
from runbook.screens.floor import FloorPane
from runbook.screens.keys import CARE, key
from runbook.screens.lists import Lines, PickList, RowList, content
from runbook.screens.text import Glyphs, Line

if TYPE_CHECKING:
    from runbook.screens.app import RunbookApp

WIDE: Final = 120  # from so many columns on, a screen shows more at once
_SIGHT_WIDTH: Final = 45  # of the column with the floor and the face, and the gap before it
WHY: Final = "Why? The reason stays in the journal."
_TWO_COLUMNS: Final = 74  # from so many on a page has two
_PAGE_MOST: Final = 110
_KEY: Final = 11  # the longest key and a gap
_MOST_DANGERS: Final = 2
_MOST_LINES: Final = 2  # of a danger or a finding
TYPING_S: Final = 0.05  # a word typed in one go is previewed once
Choice = tuple[str, str, Any]  # a key, a text and a value; a value of None is no answer
P = ParamSpec("P")
Node = TypeVar("Node", bound=DOMNode)


class Keys(Footer):
    """The footer, made anew only where it would show something else."""

    _shown: tuple[tuple[Binding, bool], ...] = ()

    def bindings_changed(self, screen: Screen[Any]) -> None:
        first: dict[str, tuple[Binding, bool]] = {}  # of each action
        for one in screen.active_bindings.values():
            if one.binding.show:
                first.setdefault(one.binding.action, (one.binding, one.enabled))
        shown = (*first.values(),)
        if shown != self._shown or not self.children:
            self._shown = shown
            super().bindings_changed(screen)

    def compose(self) -> ComposeResult:
        """Yield the keys; not bound to the footer as the library does, which keeps every key there ever was."""
        self.styles.grid_size_columns = len(self._shown)
        for binding, enabled in self._shown:
            shown, explained = self.app.get_key_display(binding), binding.tooltip or binding.description
            yield FooterKey(binding.key, shown, binding.description, binding.action, not enabled, explained, "-compact")


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

        # the app's, so that it goes on where its screen is left meanwhile
        self.app.run_worker(run(), group="asking")

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
            yield Static(content([(self.question, "bold")], self.glyphs))
            yield Input(self.given, compact=True)  # which selects what is given: typing replaces it
            yield Static(id="hint")

    def on_mount(self) -> None:
        self.show_hint(f"{self.hint}  (enter: save, escape: cancel)")

    def show_hint(self, *lines: str, style: str = "") -> None:
        """Show what to type, or what is wrong with what is typed."""
        self.query_one("#hint", Static).update(content([(line, style) for line in lines], self.glyphs))

    def on_input_submitted(self, event: Input.Submitted) -> None:
        """Take the line, or show what is wrong with it."""
        try:
            self.answer(self.read(event.value))
        except ValueError as wrong:
            self.show_hint(str(wrong), style="bold $warning")


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
        await sleep(TYPING_S)
        if self.answered or not self.query("#hint"):  # closed meanwhile
            return
        try:
            self.show_hint(*self.preview(event.value))
        except ValueError as wrong:
            self.show_hint(str(wrong), style="bold $warning")


class Choose(Dialog):
    """One of a few: arrows and enter, the key in front of it, or a click."""

    BINDINGS: ClassVar[list[BindingType]] = [
        key("escape", "back", "back"),
        key("k", "list('up')", "up"),
        key("j", "list('down')", "down"),
        key("space", "list('select')", "take"),
    ]

    def __init__(
        self, question: str, choices: Sequence[Choice], glyphs: Glyphs, at: int = 0, name: str | None = None
    ) -> None:
        super().__init__(name)
        self.question, self.choices, self.at = question, choices, at
        self.list = PickList(glyphs, "choices")

    def compose(self) -> ComposeResult:
        with Vertical(classes="box"):
            yield Static(content([(self.question, "bold")], self.list.glyphs))
            yield self.list

    def on_mount(self) -> None:
        self.list.show([(f"{name:>2}  {text}", "") for name, text, _ in self.choices], self.at)

    def action_list(self, how: Literal["up", "down", "select"]) -> None:
        """Move through the list, or take what is picked."""
        {"up": self.list.action_cursor_up, "down": self.list.action_cursor_down, "select": self.list.action_select}[
            how
        ]()

    def on_option_list_option_selected(self, event: OptionList.OptionSelected) -> None:
        """Take what was chosen."""
        self.answer(self.choices[event.option_index][2])

    def on_key(self, event: events.Key) -> None:
        """Take the choice with this key in front."""
        for name, _, value in self.choices:
            if event.character == name:
                event.stop()
                event.prevent_default()
                self.answer(value)
                return


class ReadPage(Dialog):
    """A page to read, made for the width there is, scrolled where the window is too small for it."""

    BINDINGS: ClassVar[list[BindingType]] = [key("escape,q,question_mark,enter", "back", "back")]

    def __init__(self, page: Callable[[int], Sequence[str | Line]], glyphs: Glyphs) -> None:
        super().__init__()
        self.page, self.glyphs = page, glyphs

    def compose(self) -> ComposeResult:
        with VerticalScroll(classes="box page"):
            yield Static(id="page")

    def on_resize(self) -> None:
        width = max(min(self.size.width - 5, _PAGE_MOST), 1)
        self.query_one("#page", Static).update(content(self.page(width), self.glyphs))


def key_page(screen: Screen[Any], width: int) -> list[Line]:
    """Return every key of a screen with what it does, by what it belongs to; in two columns where there is room."""
    parts: dict[str, dict[str, list[str]]] = {}
    for node, binding, _, tooltip in screen.active_bindings.values():
        if tooltip:  # the library's own keys have none
            keys = parts.setdefault(str(node.BINDING_GROUP_TITLE), {}).setdefault(tooltip, [])
            shown = screen.app.get_key_display(binding)
            keys += [shown] if shown not in keys else []
    wide = width >= _TWO_COLUMNS
    left, right, room = list[str](), list[str](), width // 2 - 1 if wide else width
    for title, texts in parts.items():
        column = right if wide and len(right) < len(left) else left
        column += [*([""] if column else []), title.upper()]
        for text, keys in texts.items():
            indent = " " * min(_KEY, room // 2)
            column += wrap(f"{' '.join(keys):<{_KEY}}{text}", room, subsequent_indent=indent)
    pairs = zip_longest(left, right, fillvalue="")
    lines = [(f"{one:<{room + 2}}{other}".rstrip(), "") for one, other in pairs]
    return [*lines, ("", ""), *((line, "$warning") for line in wrap(CARE, width))]


# -- screens -----------------------------------------------------------------------------------


class DayScreen(Screen[None]):
    """A screen of the running day. ``repaint`` paints it again from the session."""

    FOOTER: ClassVar[tuple[str, ...]] = ()
    BINDINGS: ClassVar[list[BindingType]] = [
        key("u", "undo", "undo"),
        key("U", "redo", "redo", "bring back what was undone"),
        key("w", "note", "note", "write a note"),
    ]

    _footer_shown: tuple[str, ...] = ()
    _painted_size = Size()

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

    @property
    def active_bindings(self) -> dict[str, ActiveBinding]:
        """What the keys do now; those that matter most come first, and are shown in the footer."""
        rank = {action: n for n, action in enumerate(self.footer)}

        def marked(active: ActiveBinding) -> ActiveBinding:
            return active._replace(binding=replace(active.binding, show=active.binding.action in rank))

        bindings = {name: marked(active) for name, active in super().active_bindings.items()}
        return dict(sorted(bindings.items(), key=lambda item: rank.get(item[1].binding.action, len(rank))))

    def compose(self) -> ComposeResult:
        yield Header(icon="")
        yield self.lines("dangers")
        yield from self.compose_body()
        yield Keys(compact=True, show_command_palette=False)
        with Vertical(id="messages"):  # not the library's toasts: mounting one takes longer than all else a key does
            yield self.lines("message")

    def compose_body(self) -> Iterable[Widget]:
        """Yield what is between the dangers and the footer."""
        raise NotImplementedError

    def lines(self, name: str, classes: str = "") -> Lines:
        """Return a block of lines to compose the screen of."""
        return Lines(self.glyphs, name, classes)

    @property
    def work_width(self) -> int:
        """The columns beside the floor and the face, which only a wide window has."""
        return self.size.width - (_SIGHT_WIDTH if self.size.width >= WIDE else 0)

    def show_current_floor(self) -> None:
        """Show the floor of the current setup; what is marked on it stays so."""
        view, pane = self.session.view, self.query_one(FloorPane)
        floor = view.floor_view(view.current_floor)
        self.show_title(pane, f"floor, {floor.word}")
        pane.show(floor.drawn, pane.marked)

    def show_lines(self, name: str, *lines: str | Line) -> None:
        """Show lines in the block of this name."""
        self.query_one(f"#{name}", Lines).show(*lines)

    def show_title(self, widget: Widget, title: str) -> None:
        """Show a title over a part of the screen."""
        width = (widget.size.width or self.size.width) - 4
        # the library's own ellipsis is not ASCII
        title = self.glyphs.cut(title, width) if self.glyphs.ascii else self.glyphs.shown(title)
        if widget.border_title != title:
            widget.border_title = Content(title)

    def on_screen_resume(self) -> None:
        self.repaint()

    def on_resize(self) -> None:
        if self.size != self._painted_size:
            self.repaint()
        if self.glyphs.ascii:
            self.call_after_refresh(self.repaint)

    def repaint(self) -> None:
        """Paint from the session; the screens add their own parts."""
        self._painted_size = self.size
        now, session = self.day.clock(), self.session
        rehearsal = "REHEARSAL  " if session.rehearsal else ""
        self.title = self.glyphs.shown(f"{rehearsal}{now:%H:%M}  {session.plan.day.name}")
        finish = session.stopwatch_text(now) if session.rehearsal else session.finish_text(now)
        self.sub_title = self.glyphs.shown(finish)
        wrap_danger = partial(self.glyphs.wrap, width=self.size.width, most=_MOST_LINES)
        self.show_lines("dangers", *((line, style) for text, style in self.dangers() for line in wrap_danger(text)))
        self.show_lines("message", *filter(None, [self.day.message]))
        if self.footer != self._footer_shown:
            self._footer_shown = self.footer
            self.refresh_bindings()

    def dangers(self) -> list[Line]:
        """Return what is dangerous or lost now, a text each."""
        lines = alarms(self.session.view)
        shown = [f"DANGER  {danger}" for danger in lines[:_MOST_DANGERS]]
        if len(lines) > _MOST_DANGERS:
            shown[-1] += f"; and {len(lines) - _MOST_DANGERS} more (t)"
        if self.session.warning:
            shown.append(self.session.warning)
        return [*((line, "bold $error") for line in shown), *((line, "$warning") for line in self._frame_lines())]

    def _frame_lines(self) -> Iterator[str]:
        """Yield what differs in the frames of the setup at work, and why none arrive."""
        session = self.session
        differ = session.view.frames.open_differences(session.state.at_work)
        if differ:
            yield f"FRAMES  {'; '.join(one.text for one in differ)} (set: o)"
        if session.pictures is not None and session.pictures.watched is not None and session.pictures.watched.trouble:
            yield f"FRAMES  {session.pictures.watched.trouble_text}"

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
