"""Lists with a cursor: the rows of a changeover, and the lines of the planning screen."""

from __future__ import annotations

from itertools import groupby
from typing import Final, Literal, NamedTuple

from rich.text import Text
from textual import events
from textual.message import Message
from textual.widget import Widget

from runbook.changeover.checklist import Check
from runbook.changeover.steps import Step
from runbook.day.day_view import DayView
from runbook.day.gates import Hold, StepLine
from runbook.screens.text import Glyphs, cut, fit

RowState = Literal["to do", "done", "skipped", "waits", "held", "aside"]
_OVER: Final = frozenset({"done", "skipped", "aside"})


class Row(NamedTuple):
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
        """Nothing is left to do about it."""
        return self.state in _OVER


def _block_state(lines: list[StepLine]) -> RowState:
    left = [line for line in lines if line.state not in ("done", "skipped")]
    if not left:
        return "done" if any(line.state == "done" for line in lines) else "skipped"
    return left[0].state


def _check_row(session: DayView, hold: Hold, indent: int = 0) -> Row:
    check, tick = hold.check, hold.tick
    state: RowState = "done"
    note = f"{tick.at} {tick.by}" if tick else check.why
    if tick is None:
        state = "waits" if session.pending.check_waits_for(check) else "to do"
    elif tick.aside is not None:
        state, note = "aside", f"{tick.at} {tick.by}: {tick.aside}"
    return Row("check", ("check", check.id), state, check.text, note, indent, check=check)


def rows(session: DayView, unfolded: frozenset[tuple[str, ...]]) -> list[Row]:
    """The rows of the changeover at hand. Blocks named in ``unfolded`` show their steps.

    A check stands right before the first row whose next step it holds; a folded block can be
    walked into until a check inside it stops the walk.
    """
    waiting = [hold for hold in session.holds if hold.open]
    listed = [_check_row(session, hold) for hold in session.holds if not hold.open]
    for (over, thing), group in groupby(session.lines, key=lambda line: (line.state == "done", line.step.thing)):
        for row in _block(session, list(group), thing, over, unfolded):
            if not over and (row.kind == "step" or row.folded):
                listed += _checks_before(session, row, waiting)
            listed.append(row)
    return listed


def _checks_before(session: DayView, row: Row, waiting: list[Hold]) -> list[Row]:
    """The checks that hold the next step of a row, taken off those that wait for their place."""
    first = row.steps[0].key if row.steps else None
    mine = [hold for hold in waiting if first in hold.steps]
    for hold in mine:
        waiting.remove(hold)
    return [_check_row(session, hold, row.indent) for hold in mine]


def _block(
    session: DayView, lines: list[StepLine], thing: str, over: bool, unfolded: frozenset[tuple[str, ...]]
) -> list[Row]:
    if len(lines) == 1:
        line = lines[0]
        return [Row("step", line.step.key, line.state, line.step.text, line.note, steps=(line.step,))]
    (block,) = session.blocks_of(tuple(line.step for line in lines))
    left = tuple(line.step for line in lines if line.state not in ("done", "skipped"))
    # a thing can have several blocks; this end of one stays as its other steps are done
    end = lines[0 if over else -1].step.key
    key = ("block", thing, "done" if over else "to do", *end)
    folded = key not in unfolded
    count = f"{len(lines)} steps"
    head = Row("block", key, _block_state(lines), block.title, count, folded=folded, steps=left)
    if folded:
        return [head]
    return [
        head,
        *(Row("step", line.step.key, line.state, line.step.text, line.note, 1, steps=(line.step,)) for line in lines),
    ]


def _waiting(row: Row) -> bool:
    """Whether something is to be done about a row itself; an open block's steps follow it."""
    return not row.over and (row.kind != "block" or row.folded)


def open_before(listed: list[Row], at: int) -> int:
    """How many rows before this one wait for something to be done."""
    return sum(_waiting(row) for row in listed[:at])


def open_row(listed: list[Row], passed: int) -> int:
    """Where the row is that waits after so many others; the first one if there are not so many."""
    waiting = [n for n, row in enumerate(listed) if _waiting(row)]
    if passed < len(waiting):
        return waiting[passed]
    return waiting[0] if waiting else max(len(listed) - 1, 0)


def first_open(listed: list[Row]) -> int:
    """Where the cursor belongs: the first row something is to be done about."""
    return open_row(listed, 0)


_STYLE: Final = {"to do": "", "done": "green", "skipped": "dim", "aside": "yellow", "waits": "dim", "held": "yellow"}


class RowList(Widget):
    """Rows with a cursor. Paints only what the window shows."""

    DEFAULT_CSS = "RowList { height: 1fr; }"

    class Pressed(Message):
        """A row was clicked."""

        def __init__(self, at: int) -> None:
            self.at = at
            super().__init__()

    def __init__(self, glyphs: Glyphs, empty: str = "", *, checks: str = "") -> None:
        """``checks`` is the word in front of a check, where checks and steps stand together."""
        super().__init__(id="steps")
        self.glyphs = glyphs
        self.checks = checks
        self.empty = empty
        self.rows: list[Row] = []
        self.cursor = 0
        self.at_hand = True  # false while the keys are another list's

    def show(self, rows: list[Row], cursor: int) -> None:
        """Show these rows with the cursor on one of them."""
        self.rows = rows
        self.cursor = min(max(cursor, 0), max(len(rows) - 1, 0))
        self.refresh()

    def step_cursor(self, by: int) -> None:
        """Move the cursor, stopping at the ends."""
        self.show(self.rows, self.cursor + by)

    @property
    def row(self) -> Row | None:
        """The row under the cursor."""
        return self.rows[self.cursor] if self.rows else None

    @property
    def top(self) -> int:
        """The first row the window shows: most of it is for what comes after the cursor."""
        height = max(self.size.height, 1)
        return max(min(self.cursor - height // 4, len(self.rows) - height), 0)

    def render(self) -> Text:
        width, height = self.size.width, self.size.height
        if not self.rows:
            return Text(cut(self.empty, width, self.glyphs), style="dim")
        painted = Text(no_wrap=True, end="")
        for n, row in enumerate(self.rows[self.top : self.top + height], self.top):
            if n > self.top:
                painted.append("\n")
            painted.append_text(self._line(row, width, here=self.at_hand and n == self.cursor))
        return painted

    def _line(self, row: Row, width: int, *, here: bool) -> Text:
        glyphs = self.glyphs
        sign = {
            "to do": glyphs.to_do,
            "done": glyphs.done,
            "skipped": glyphs.skipped,
            "aside": glyphs.skipped,
            "waits": glyphs.waits,
            "held": glyphs.held,
        }[row.state]
        fold = " "
        if row.kind == "block":
            fold = glyphs.folded if row.folded else glyphs.unfolded
        cursor = glyphs.here if here else " "
        word = {"skipped": "skipped: ", "aside": "set aside: "}.get(row.state, "")
        if row.kind == "check":
            word = f"{self.checks}{word}"
        text = f"{cursor}{sign} {fold}{'  ' * row.indent} {word}{row.text}"
        if row.state == "held" and row.kind == "step":
            text += f" (held: {row.note})"
        elif row.note and (row.state in ("skipped", "aside") or (row.kind == "step" and row.state != "done")):
            text += f" ({row.note})"
        style = _STYLE[row.state]
        if here:
            style = f"{style} reverse bold".strip()
        elif row.kind == "check" and not row.over:
            style = f"{style} bold".strip()
        line = Text(cut(text, width, glyphs), style=style, no_wrap=True, end="")
        if here:
            line.pad_right(max(width - line.cell_len, 0))
        return line

    def on_click(self, event: events.Click) -> None:
        """Put the cursor where it was clicked."""
        at = self.top + event.y
        if at < len(self.rows):
            self.post_message(self.Pressed(at))

    def on_mouse_scroll_down(self) -> None:
        self.step_cursor(1)

    def on_mouse_scroll_up(self) -> None:
        self.step_cursor(-1)


class PickLine(NamedTuple):
    """A line, and the style it has besides being picked."""

    text: str
    style: str = ""


class PickList(Widget):
    """Lines of which one is picked. Paints only what the window shows."""

    class Pressed(Message):
        """A line was clicked."""

        def __init__(self, pick: PickList, at: int) -> None:
            self.pick, self.at = pick, at
            super().__init__()

    def __init__(self, glyphs: Glyphs, widget_id: str) -> None:
        super().__init__(id=widget_id)
        self.glyphs = glyphs
        self.lines: list[PickLine] = []
        self.cursor = 0
        self.active = False

    def show(self, lines: list[PickLine], cursor: int, *, active: bool) -> None:
        """Show these lines; the picked one is marked in full where the keys are this list's."""
        self.lines, self.active = lines, active
        self.cursor = min(max(cursor, 0), max(len(lines) - 1, 0))
        self.refresh()

    @property
    def top(self) -> int:
        """The first line the window shows."""
        height = max(self.size.height, 1)
        return max(min(self.cursor - height // 2, len(self.lines) - height), 0)

    def render(self) -> Text:
        painted = Text(no_wrap=True, end="")
        width, height = self.size.width, self.size.height
        for n, line in enumerate(self.lines[self.top : self.top + height], self.top):
            here = n == self.cursor
            sign = self.glyphs.here if here else " "
            style = f"{line.style} {'reverse ' if self.active else ''}bold" if here else line.style
            painted.append("\n" if n > self.top else "")
            painted.append(fit(f"{sign} {line.text}", width, self.glyphs), style.strip())
        return painted

    def on_click(self, event: events.Click) -> None:
        """Pick the line that was clicked."""
        if self.top + event.y < len(self.lines):
            self.post_message(self.Pressed(self, self.top + event.y))
