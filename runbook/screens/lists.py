"""What screens are made of: a block of lines, a drawing, a log that scrolls, and lists with a cursor."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import groupby
from typing import ClassVar, Final, Literal

from rich.segment import Segment
from rich.style import Style
from rich.text import Text
from textual import events
from textual.binding import BindingType
from textual.geometry import Size
from textual.message import Message
from textual.scroll_view import ScrollView
from textual.strip import Strip
from textual.widget import Widget

from runbook.changeover.checklist import Check
from runbook.changeover.steps import Step
from runbook.day.day_view import DayView
from runbook.day.gates import StepLine
from runbook.day.state import Tick
from runbook.screens.keys import key
from runbook.screens.text import Glyphs, Line


class Lines(Widget):
    """A block of lines, each cut to the width there is, as high as it has lines."""

    DEFAULT_CSS = "Lines { width: 100%; height: auto; }"

    def __init__(self, glyphs: Glyphs, widget_id: str) -> None:
        super().__init__(id=widget_id)
        self.glyphs = glyphs
        self.lines: tuple[Line, ...] = ()

    def show(self, *lines: str | Line) -> None:
        """Show these lines, each a text or a text with its style."""
        shown = tuple((line, "") if isinstance(line, str) else line for line in lines)
        if shown != self.lines:
            taller = len(shown) != len(self.lines)
            self.lines = shown
            self.refresh(layout=taller)

    def get_content_height(self, _container: Size, _viewport: Size, _width: int) -> int:
        return len(self.lines)

    def render(self) -> Text:
        painted = (Text(self.glyphs.cut(text, self.size.width), style) for text, style in self.lines)
        return Text("\n", no_wrap=True, end="").join(painted)


class Drawing(Widget):
    """A drawing made for the room there is: ``draw`` makes it for so many columns and rows."""

    DEFAULT_CSS = "Drawing { width: 1fr; height: 1fr; }"

    def __init__(self, draw: Callable[[int, int], Text], widget_id: str) -> None:
        super().__init__(id=widget_id)
        self.draw = draw

    def render(self) -> Text:
        return self.draw(self.size.width, self.size.height)


class Log(ScrollView, can_focus=True):
    """Lines to scroll through with the keys of the library. With ``follow`` the newest stay in view."""

    KEYS_TITLE = "Reading"
    BINDINGS: ClassVar[list[BindingType]] = [
        key("up", "scroll_up", "up", "scroll"),
        key("down", "scroll_down", "down", "scroll"),
        key("pageup", "page_up", "page up", "a page at once", shown="pgup"),
        key("pagedown", "page_down", "page down", "a page at once", shown="pgdn"),
        key("home", "scroll_home", "first", "the first line"),
        key("end", "scroll_end", "last", "the last line"),
    ]
    DEFAULT_CSS = "Log { height: 1fr; background: black; overflow-x: hidden; scrollbar-size: 0 0; }"

    def __init__(self, glyphs: Glyphs, widget_id: str, *, follow: bool = False) -> None:
        super().__init__(id=widget_id)
        self.glyphs = glyphs
        self.follow = follow
        self.lines: list[Line] = []

    def show(self, lines: Sequence[Line]) -> None:
        """Show these lines, scrolled as before."""
        at_end = self.is_vertical_scroll_end
        self.lines = list(lines)
        self.virtual_size = Size(0, len(self.lines))
        self.refresh()
        if at_end:
            self.on_resize()

    def on_resize(self) -> None:
        if self.follow:
            self.scroll_end(animate=False, immediate=True)

    def render_line(self, y: int) -> Strip:
        n, width = y + self.scroll_offset.y, self.size.width
        text, style = self.styled_line(n) if n < len(self.lines) else ("", "")
        return Strip([Segment(self.glyphs.fit(text, width), self.rich_style + Style.parse(style))], width)

    def styled_line(self, n: int) -> Line:
        """Return a line as it is painted."""
        return self.lines[n]


class CursorList(Log, can_focus=False):
    """Lines with a cursor: a sign in front, and reverse while the keys move this list's cursor."""

    class Pressed(Message):
        """A line was clicked; the cursor is on it, and ``again`` says that it was there before."""

        def __init__(self, pressed: CursorList, *, again: bool) -> None:
            self.list, self.again = pressed, again
            super().__init__()

    def __init__(self, glyphs: Glyphs, widget_id: str, empty: str = "") -> None:
        super().__init__(glyphs, widget_id)
        self.empty = empty
        self.cursor = 0
        self.active = True

    def show(self, lines: Sequence[Line], cursor: int = 0, *, active: bool = True) -> None:
        """Show these lines with the cursor on one of them, or ``empty`` where there are none."""
        self.active = active
        self.cursor = min(max(cursor, 0), max(len(lines) - 1, 0))
        super().show(lines)
        self.on_resize()

    def move_cursor(self, by: int) -> None:
        """Move the cursor, stopping at the ends."""
        self.show(self.lines, self.cursor + by, active=self.active)

    def on_resize(self) -> None:
        """Keep the cursor in view, and most of the window for what comes after it."""
        top = max(min(self.cursor - self.size.height // 4, len(self.lines) - self.size.height), 0)
        self.scroll_to(y=top, animate=False, force=True, immediate=True)

    def render_line(self, y: int) -> Strip:
        if not self.lines and y == 0:
            return Strip([Segment(self.glyphs.fit(self.empty, self.size.width), self.rich_style + Style(dim=True))])
        return super().render_line(y)

    def styled_line(self, n: int) -> Line:
        text, style = self.lines[n]
        if n != self.cursor:
            return f" {text}", style
        return f"{self.glyphs.here}{text}", f"{style}{' reverse' if self.active else ''} bold".strip()

    def on_click(self, event: events.Click) -> None:
        """Put the cursor where it was clicked."""
        at = self.scroll_offset.y + event.y
        if at < len(self.lines):
            again = at == self.cursor
            self.move_cursor(at - self.cursor)
            self.post_message(self.Pressed(self, again=again))


# -- the changeover as rows --------------------------------------------------------------------

RowState = Literal["to do", "done", "skipped", "waits", "held", "aside"]
_OVER: Final = frozenset({"done", "skipped", "aside"})
_STYLE: Final[dict[RowState, str]] = {
    "done": "green",
    "skipped": "dim",
    "aside": "yellow",
    "waits": "dim",
    "held": "yellow",
}


@dataclass(frozen=True, slots=True)
class Row:
    """One line: a ``block`` of steps, a ``step`` or a ``check``. ``key`` stays with it."""

    kind: Literal["block", "step", "check"]
    key: tuple[str, ...]
    state: RowState
    text: str
    note: str = ""
    indent: int = 0
    folded: bool = False
    steps: tuple[Step, ...] = ()
    check: Check | None = None

    @property
    def over(self) -> bool:
        """Whether nothing is left to do about it."""
        return self.state in _OVER

    @property
    def waiting(self) -> bool:
        """Whether something is to be done about the row itself; an open block's steps follow it."""
        return not self.over and (self.kind != "block" or self.folded)


def check_row(view: DayView, check: Check, tick: Tick | None, *, due: RowState = "to do", indent: int = 0) -> Row:
    """Return a check with its answer; ``due`` is the state of one that can be answered now."""
    state, note = due, check.why
    if tick is not None:
        state = "done" if tick.aside is None else "aside"
        note = f"{tick.at} {tick.by}" + (f": {tick.aside}" if tick.aside else "")
    elif view.pending.check_waits_for(check):
        state = "waits"
    return Row("check", ("check", check.id), state, check.text, note, indent, check=check)


def rows(view: DayView, unfolded: frozenset[tuple[str, ...]]) -> list[Row]:
    """Return the rows of the current changeover. Blocks named in ``unfolded`` show their steps.

    A check stands right before the first row whose next step it holds; a folded block can be
    ticked until a check inside it stops that.
    """
    waiting = [hold for hold in view.holds if hold.open]
    listed = [check_row(view, hold.check, hold.tick) for hold in view.holds if not hold.open]
    for (over, thing), group in groupby(view.lines, key=lambda line: (line.state == "done", line.step.thing)):
        for row in _block(view, list(group), thing, over, unfolded):
            if not over and (row.kind == "step" or row.folded):
                first = row.steps[0].key if row.steps else None
                holding = [hold for hold in waiting if first in hold.steps]
                waiting = [hold for hold in waiting if first not in hold.steps]
                listed += [check_row(view, hold.check, hold.tick, indent=row.indent) for hold in holding]
            listed.append(row)
    return listed


def _block(
    view: DayView, lines: list[StepLine], thing: str, over: bool, unfolded: frozenset[tuple[str, ...]]
) -> list[Row]:
    alone = len(lines) == 1
    steps = [
        Row("step", line.step.key, line.state, line.step.text, line.note, 0 if alone else 1, steps=(line.step,))
        for line in lines
    ]
    if alone:
        return steps
    (block,) = view.blocks_of(tuple(line.step for line in lines))
    left = [row for row in steps if row.state not in ("done", "skipped")]
    # a thing can have several blocks; this end of one stays as its other steps are done
    key = ("block", thing, "done" if over else "to do", *lines[0 if over else -1].step.key)
    state = left[0].state if left else "done" if any(row.state == "done" for row in steps) else "skipped"
    folded = key not in unfolded
    todo = tuple(step for row in left for step in row.steps)
    head = Row("block", key, state, block.title, f"{len(lines)} steps", folded=folded, steps=todo)
    return [head] if folded else [head, *steps]


def open_before(listed: list[Row], at: int) -> int:
    """Return how many rows before this one wait for something to be done."""
    return sum(row.waiting for row in listed[:at])


def open_row(listed: list[Row], passed: int = 0) -> int:
    """Return where the row is that waits after so many others; the first one if there are not so many."""
    waiting = [n for n, row in enumerate(listed) if row.waiting] or [max(len(listed) - 1, 0)]
    return waiting[passed if passed < len(waiting) else 0]


def row_line(row: Row, glyphs: Glyphs, check_prefix: str) -> Line:
    """Return a row as its line: the sign of its state, the sign of a block, the text and the note."""
    sign = {"to do": glyphs.to_do, "done": glyphs.done, "waits": glyphs.waits, "held": glyphs.held}.get(
        row.state, glyphs.skipped
    )
    fold = " " if row.kind != "block" else glyphs.folded if row.folded else glyphs.unfolded
    word = {"skipped": "skipped: ", "aside": "set aside: "}.get(row.state, "")
    prefix = check_prefix if row.kind == "check" else ""
    text = f"{sign} {fold}{'  ' * row.indent} {prefix}{word}{row.text}"
    if row.note and (row.state in ("skipped", "aside") or (row.kind == "step" and row.state != "done")):
        text += f" ({'held: ' if row.state == 'held' else ''}{row.note})"
    bold = "bold" if row.kind == "check" and not row.over else ""
    return text, f"{_STYLE.get(row.state, '')} {bold}".strip()


class RowList(CursorList):
    """Rows with a cursor, which is on the next row to do unless a person moved it."""

    def __init__(self, glyphs: Glyphs, empty: str = "", *, check_prefix: str = "") -> None:
        """``check_prefix`` stands before a check where checks and steps are in one list."""
        super().__init__(glyphs, "steps", empty)
        self.check_prefix = check_prefix
        self.rows: list[Row] = []
        self.moved = False

    @property
    def row(self) -> Row | None:
        """The row under the cursor."""
        return self.rows[self.cursor] if self.rows else None

    def show_rows(self, listed: list[Row], first: int | None = None, *, active: bool = True) -> None:
        """Show these rows; ``first`` is where the cursor is unless a person moved it, else the next row to do."""
        here = self.row.key if self.row is not None and self.moved else None
        at = next((n for n, row in enumerate(listed) if row.key == here), None)
        self.moved = at is not None
        self.rows = listed
        lines = [row_line(row, self.glyphs, self.check_prefix) for row in listed]
        self.show(lines, at if at is not None else open_row(listed) if first is None else first, active=active)

    def move_cursor(self, by: int) -> None:
        self.moved = True
        super().move_cursor(by)

    def advance(self, act: Callable[[], object]) -> None:
        """Do something to the row at the cursor, and move the cursor to the next row to do."""
        passed = open_before(self.rows, self.cursor) if self.moved else 0
        act()
        at = open_row(self.rows, passed)
        self.show(self.lines, at, active=self.active)
        self.moved = at != open_row(self.rows)
