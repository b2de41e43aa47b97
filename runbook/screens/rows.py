"""The changeover as rows of a list: blocks that fold, their steps, and the checks between.

Pure: a session in, rows out. The list widget only paints them.
"""

from __future__ import annotations

from itertools import groupby
from typing import Final, Literal, NamedTuple

from runbook.changeover.checks import Check
from runbook.changeover.steps import Step
from runbook.day.at_hand import StepLine
from runbook.day.day_now import DayNow
from runbook.day.holds import Hold

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


def _check_row(session: DayNow, hold: Hold, indent: int = 0) -> Row:
    check, tick = hold.check, hold.tick
    state: RowState = "done"
    note = f"{tick.at} {tick.by}" if tick else check.why
    if tick is None:
        state = "waits" if session.view.now.check_waits_for(check) else "to do"
    elif tick.aside is not None:
        state, note = "aside", f"{tick.at} {tick.by}: {tick.aside}"
    return Row("check", ("check", check.id), state, check.text, note, indent, check=check)


def rows(session: DayNow, unfolded: frozenset[tuple[str, ...]]) -> list[Row]:
    """The rows of the changeover at hand. Blocks named in ``unfolded`` show their steps.

    A check stands right before the first row whose next step it holds; a folded block can be
    walked into until a check inside it stops the walk.
    """
    waiting = [hold for hold in session.view.holds if hold.open]
    listed = [_check_row(session, hold) for hold in session.view.holds if not hold.open]
    for (over, thing), group in groupby(session.lines, key=lambda line: (line.state == "done", line.step.thing)):
        for row in _block(session, list(group), thing, over, unfolded):
            if not over and (row.kind == "step" or row.folded):
                listed += _checks_before(session, row, waiting)
            listed.append(row)
    return listed


def _checks_before(session: DayNow, row: Row, waiting: list[Hold]) -> list[Row]:
    """The checks that hold the next step of a row, taken off those that wait for their place."""
    first = row.steps[0].key if row.steps else None
    mine = [hold for hold in waiting if first in hold.steps]
    for hold in mine:
        waiting.remove(hold)
    return [_check_row(session, hold, row.indent) for hold in mine]


def _block(
    session: DayNow, lines: list[StepLine], thing: str, over: bool, unfolded: frozenset[tuple[str, ...]]
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
