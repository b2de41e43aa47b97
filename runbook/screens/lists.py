"""What screens are made of: a block of lines, a log that scrolls, and lists to pick from."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from itertools import groupby
from typing import ClassVar, Final, Literal

from rich.cells import cell_len
from textual.app import ComposeResult
from textual.binding import BindingType
from textual.containers import VerticalScroll
from textual.content import Content
from textual.style import Style
from textual.widgets import DataTable, OptionList, Static
from textual.widgets.option_list import Option

from runbook.changeover.checklist import Check
from runbook.changeover.steps import Step
from runbook.day.day_view import DayView
from runbook.day.gates import StepLine
from runbook.day.state import Tick
from runbook.screens.keys import key
from runbook.screens.text import Glyphs, Line, wrap_words


def content(lines: Iterable[str | Line], glyphs: Glyphs) -> Content:
    """Return lines, each a text or a text with its style, as this terminal can show them."""
    pairs = ((line, "") if isinstance(line, str) else line for line in lines)
    return Content("\n").join(Content.styled(glyphs.shown(text), style) for text, style in pairs)


def fill(text: str, width: int, indent: int, glyphs: Glyphs) -> str:
    """Return a text wrapped, from its second line on ``indent`` cells in; in one line where the width is not known."""
    indent = min(indent, width // 2)
    return "\n".join(wrap_words(glyphs.shown(text), width or 1000, indent))


class Lines(Static):
    """A block of lines, each cut to the width there is, as high as it has lines."""

    def __init__(self, glyphs: Glyphs, widget_id: str, classes: str = "") -> None:
        super().__init__(id=widget_id, classes=classes)
        self.glyphs = glyphs
        self.lines: tuple[str | Line, ...] = ()

    def show(self, *lines: str | Line) -> None:
        """Show these lines, each a text or a text with its style; with none, take no room."""
        if lines != self.lines:
            higher = len(lines) != len(self.lines) or self.styles.text_wrap == "wrap"
            self.lines = lines
            self.update(content(lines, self.glyphs), layout=higher)
        self.set_class(not lines, "-empty")


class Log(VerticalScroll):
    """Lines to scroll through with the keys of the library; a long one goes on ``indent`` cells in."""

    BINDING_GROUP_TITLE = "Reading"

    def __init__(self, glyphs: Glyphs, widget_id: str, indent: int) -> None:
        super().__init__(id=widget_id)
        self.glyphs, self.indent = glyphs, indent
        self.lines: list[Line] = []

    def compose(self) -> ComposeResult:
        yield Static()

    def show(self, lines: Sequence[Line]) -> None:
        """Show these lines, wrapped, and scrolled as before."""
        if [*lines] == self.lines:
            return
        self.lines = [*lines]
        self._fill()

    def _fill(self) -> None:
        width = self.scrollable_content_region.width
        wrapped = ((fill(text, width, self.indent, self.glyphs), style) for text, style in self.lines)
        self.query_one(Static).update(Content("\n").join(Content.styled(*line) for line in wrapped))

    def on_resize(self) -> None:
        self.call_after_refresh(self._fill)  # at once, the library would keep the old height


class Paged:
    """Added to a list of the library: page keys that need no room, and a cursor that may be in reverse."""

    def get_visual_style(self, *component_classes: str, partial: bool = False) -> Style:
        """Return a style as the library does, which forgets that it may be in reverse."""
        style: Style = super().get_visual_style(*component_classes, partial=partial)  # type: ignore[misc]
        rich = self.get_component_rich_style(*component_classes) if component_classes else None  # type: ignore[attr-defined]
        return style + Style(reverse=True) if rich is not None and rich.reverse else style

    def action_page_up(self) -> None:
        """Go up a page."""
        if self.scrollable_content_region:  # type: ignore[attr-defined]
            super().action_page_up()  # type: ignore[misc]

    def action_page_down(self) -> None:
        """Go down a page."""
        if self.scrollable_content_region:  # type: ignore[attr-defined]
            super().action_page_down()  # type: ignore[misc]


class PickList(Paged, OptionList):
    """Lines to pick one of. A long one is wrapped, and goes on ``indent`` cells in."""

    def __init__(self, glyphs: Glyphs, widget_id: str, empty: str = "", indent: int = 0) -> None:
        super().__init__(id=widget_id, markup=False)
        self.glyphs, self.empty, self.indent = glyphs, empty, indent
        self.lines: list[Line] = []

    @property
    def cursor(self) -> int:
        """The line picked."""
        return self.highlighted or 0

    def show(self, lines: Sequence[Line], cursor: int = 0) -> None:
        """Show these lines with the cursor on one of them, or ``empty`` where there are none."""
        before, self.lines = self.lines, [*lines]
        if not lines or len(lines) != len(before):
            self._fill()
        else:
            for n in (n for n, line in enumerate(lines) if line != before[n]):
                self.replace_option_prompt_at_index(n, self._prompt(*lines[n]))
        if lines:
            self.highlighted = min(max(cursor, 0), len(lines) - 1)

    def action_cursor_up(self) -> None:
        """Go up, and stop at the first line: whoever presses fast must not come out at the end."""
        if self.cursor > 0:
            super().action_cursor_up()

    def action_cursor_down(self) -> None:
        """Go down, and stop at the last line."""
        if self.cursor < len(self.lines) - 1:
            super().action_cursor_down()

    def _prompt(self, text: str, style: str) -> Content:
        return Content.styled(fill(text, self.scrollable_content_region.width, self.indent, self.glyphs), style)

    def _fill(self) -> None:
        shown = [self._prompt(*line) for line in self.lines]
        self.set_options(shown or [Option(self.glyphs.shown(self.empty), disabled=True)])

    def on_resize(self) -> None:
        at = self.highlighted
        self._fill()
        self.highlighted = at


class Table(DataTable[str]):
    """Rows under column heads, with the cursor on one of them."""

    def __init__(self, widget_id: str) -> None:
        super().__init__(id=widget_id, cursor_type="row", cell_padding=0)
        self.shown: list[tuple[str, ...]] = []

    @property
    def full_width(self) -> int:
        """The width of all its columns, in cells."""
        return sum(column.width for column in self.columns.values())

    def show(self, table: Sequence[tuple[str, ...]], picked: int) -> None:
        """Show a row of column heads and then rows; the cursor is on the row picked."""
        if [*table] != self.shown:
            self.shown = [*table]
            # filled again: with cells changed one by one, the library caches a hundred old renderings
            self.clear(columns=True)
            for cells in zip(*table, strict=True):
                # the table itself measures its cells a moment too late
                self.add_column(cells[0], width=max(map(cell_len, cells)) + 1)
            self.add_rows(table[1:])
        self.move_cursor(row=picked, animate=False)


# -- the changeover as rows --------------------------------------------------------------------

RowState = Literal["to do", "done", "skipped", "waits", "held", "aside"]
_OVER: Final = frozenset({"done", "skipped", "aside"})
_STYLE: Final[dict[RowState, str]] = {"done": "$success", "aside": "$warning"}


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
    if row.note and (row.state in ("skipped", "aside") or (row.kind == "step" and row.state in ("to do", "waits"))):
        text += f" ({row.note})"
    bold = "bold" if row.kind == "check" and not row.over else ""
    return text, f"{_STYLE.get(row.state, '')} {bold}".strip()


class RowList(PickList):
    """Rows with a cursor, which is on the next row to do unless a person moved it."""

    BINDINGS: ClassVar[list[BindingType]] = [key("home", "to_first", "next to do", "go to what is to be done next")]

    def __init__(self, glyphs: Glyphs, empty: str = "", *, check_prefix: str = "") -> None:
        """``check_prefix`` stands before a check where checks and steps are in one list."""
        super().__init__(glyphs, "steps", empty, indent=4)
        self.check_prefix = check_prefix
        self.rows: list[Row] = []
        self.first = 0  # where the cursor is unless a person moves it

    @property
    def row(self) -> Row | None:
        """The row under the cursor."""
        return self.rows[self.cursor] if self.rows else None

    @property
    def moved(self) -> bool:
        """Whether a person moved the cursor."""
        return self.cursor != self.first

    def show_rows(self, listed: list[Row], first: int | None = None) -> None:
        """Show these rows; ``first`` is where the cursor is unless a person moved it, else the next row to do."""
        here = self.row.key if self.row is not None and self.moved else None
        at = next((n for n, row in enumerate(listed) if row.key == here), None)
        self.rows, self.first = listed, open_row(listed) if first is None else first
        lines = [row_line(row, self.glyphs, self.check_prefix) for row in listed]
        self.show(lines, self.first if at is None else at)

    def scroll_to_highlight(self, top: bool = False) -> None:  # noqa: ARG002 - the library calls it so
        """Keep the cursor in view, and most of the list for what comes after it."""
        super().scroll_to_highlight(top=True)
        self.scroll_relative(y=-(self.size.height // 4), animate=False, immediate=True)

    def action_to_first(self) -> None:
        """Put the cursor on the next row to do."""
        self.highlighted = self.first if self.rows else None

    def advance(self, act: Callable[[], object]) -> None:
        """Do something to the row at the cursor, and move the cursor to the next row to do."""
        passed = open_before(self.rows, self.cursor) if self.moved else 0
        act()
        if self.rows:
            self.highlighted = open_row(self.rows, passed)
