"""The changeover as rows of a list: blocks that fold, their steps, and the checks between."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import groupby
from typing import Final, Literal

from runbook.changeover.checklist import Check
from runbook.changeover.steps import Step
from runbook.day.day_view import DayView
from runbook.day.gates import Hold, StepLine
from runbook.screens.text import Glyphs, Line
from runbook.screens.widgets.lines import CursorList

RowState = Literal["to do", "done", "skipped", "waits", "held", "aside"]
_OVER: Final = frozenset({"done", "skipped", "aside"})


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


_STYLE: Final[dict[RowState, str]] = {
    "to do": "", "done": "green", "skipped": "dim", "aside": "yellow", "waits": "dim", "held": "yellow"
}  # fmt: skip


def row_line(row: Row, glyphs: Glyphs, check_prefix: str) -> Line:
    """Return a row as its line: the sign of its state, the sign of a block, the text and the note."""
    signs: dict[RowState, str] = {
        "to do": glyphs.to_do,
        "done": glyphs.done,
        "skipped": glyphs.skipped,
        "aside": glyphs.skipped,
        "waits": glyphs.waits,
        "held": glyphs.held,
    }
    fold = " "
    if row.kind == "block":
        fold = glyphs.folded if row.folded else glyphs.unfolded
    word = {"skipped": "skipped: ", "aside": "set aside: "}.get(row.state, "")
    prefix = check_prefix if row.kind == "check" else ""
    text = f"{signs[row.state]} {fold}{'  ' * row.indent} {prefix}{word}{row.text}"
    if row.state == "held" and row.kind == "step":
        text += f" (held: {row.note})"
    elif row.note and (row.state in ("skipped", "aside") or (row.kind == "step" and row.state != "done")):
        text += f" ({row.note})"
    bold = "bold" if row.kind == "check" and not row.over else ""
    return text, f"{_STYLE[row.state]} {bold}".strip()


class RowList(CursorList):
    """Rows with a cursor."""

    def __init__(self, glyphs: Glyphs, empty: str = "", *, check_prefix: str = "") -> None:
        """``check_prefix`` stands before a check where checks and steps are in one list."""
        super().__init__(glyphs, "steps", empty)
        self.check_prefix = check_prefix
        self.rows: list[Row] = []

    def show_rows(self, rows: list[Row], cursor: int, *, active: bool = True) -> None:
        """Show these rows with the cursor on one of them."""
        self.rows = rows
        self.show([row_line(row, self.glyphs, self.check_prefix) for row in rows], cursor, active=active)

    @property
    def row(self) -> Row | None:
        """The row under the cursor."""
        return self.rows[self.cursor] if self.rows else None
