"""The set: the setups, the heads, and the steps to the setup at hand."""

from __future__ import annotations

from collections.abc import Callable
from typing import ClassVar, Final

from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Horizontal, Vertical
from textual.widgets import Static

from runbook.day.parse_input import parse_words
from runbook.day.stand_view import alarms
from runbook.screens import keys
from runbook.screens import set_paint as paint
from runbook.screens.base import CURSOR, WIDE
from runbook.screens.light_actions import LightActions
from runbook.screens.setup_actions import SetupActions
from runbook.screens.text import Words
from runbook.screens.widgets.lists import Row, RowList, first_open, open_before, open_row, rows

_TALL: Final = 40  # from so many lines on there is room for
_MOST_WARNINGS: Final = 4  # of a check
_COLUMN: Final = 36  # what the styles give the setups, and the blank beside them


class SetScreen(SetupActions, LightActions):
    """What do I do now."""

    KEYS = keys.SET
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("space", "tick", "done", show=False),
        Binding("x", "skip", "skip", show=False),
        *CURSOR,
        Binding("home", "now", "to now", show=False),
        Binding("right,enter", "fold(False)", "open", show=False),
        Binding("left", "fold(True)", "close", show=False),
    ]

    def __init__(self) -> None:
        super().__init__()
        self.unfolded: frozenset[tuple[str, ...]] = frozenset()
        self.at_setup: str | None = None
        self.moved = False

    def compose(self) -> ComposeResult:
        yield Words(id="top")
        with Horizontal(id="middle"):
            yield Words(id="setups")
            with Vertical(id="work"):
                yield Words(id="strip")
                yield Words(id="heads")
                yield Words(id="alarms")
                yield Words(id="warnings")
                yield Words(id="title")
                yield RowList(self.glyphs, checks="CHECK ")
        yield Words(id="now")
        yield Words(id="crew")
        yield Words(id="message")
        yield Words(id="keys")

    # -- painting ---------------------------------------------------------------------------

    def repaint(self) -> None:
        """Paint everything from the session."""
        super().repaint()
        session, glyphs, width = self.session, self.glyphs, self.size.width - self._column
        if session.state.at_work != self.at_setup:
            self.at_setup = session.state.at_work
            self.unfolded = frozenset()
            self.moved = False
        listed = rows(session.view, self.unfolded)
        steps = self._steps
        steps.empty = paint.nothing_to_do(session)
        steps.show(listed, self._cursor(steps, listed))
        self.head = max(min(self.head, len(session.view.heads) - 1), 0)
        size = (width, self.size.height)
        roomy = self.size.width >= WIDE and self.size.height >= _TALL
        warned = paint.warnings(session, width, _MOST_WARNINGS if roomy else 1, glyphs)
        for name, painted in (
            ("setups", paint.column(session, self._column - 1, glyphs)),
            ("strip", paint.strip(session, width, glyphs)),
            ("heads", paint.heads(session, self.head, size, glyphs)),
            ("alarms", paint.danger(session, width, glyphs)),
            ("warnings", warned),
            ("title", paint.title(session, width, glyphs)),
            ("now", paint.now(session, listed, glyphs)),
        ):
            self.query_one(f"#{name}", Static).update(painted)
        self.query_one("#alarms").display = bool(alarms(session.view))
        self.query_one("#warnings").display = bool(warned)
        self._show_crew()

    @property
    def keys_now(self) -> str:
        state = self.session.state
        if state.on_break is not None:
            return keys.SET_BREAK
        if not state.begun:
            return keys.SET_BEGIN
        if not self.session.view.ready:
            return keys.SET
        if state.wrapping:
            return keys.SET_STRUCK
        return keys.SET_SHOT if state.at_work in state.shot else keys.SET_READY

    @property
    def _steps(self) -> RowList:
        return self.query_one("#steps", RowList)

    def _show_crew(self) -> None:
        """Who does what now, where more than one works."""
        busy = self.session.view.crew
        line = self.query_one("#crew", Static)
        line.display = bool(busy)
        line.update(paint.crew(busy, self.size.width, self.glyphs))

    def _cursor(self, steps: RowList, listed: list[Row]) -> int:
        """The cursor stays where a person put it; else it waits on what is next."""
        if self.moved and steps.row is not None:
            key = steps.row.key
            for n, row in enumerate(listed):
                if row.key == key:
                    return n
        self.moved = False
        return first_open(listed)

    @property
    def _column(self) -> int:
        """The width of the column of setups; the layout itself knows it a moment too late."""
        return _COLUMN if self.size.width >= WIDE else 0

    # -- the list ----------------------------------------------------------------------------

    def action_cursor(self, by: int) -> None:
        self.moved = True
        self._steps.step_cursor(by)

    def action_now(self) -> None:
        self.moved = False
        self.repaint()

    def on_row_list_pressed(self, message: RowList.Pressed) -> None:
        """A click puts the cursor there."""
        self.moved = True
        self._steps.show(self._steps.rows, message.at)

    def action_fold(self, close: bool) -> None:
        """Open the block at the cursor, or close the one the cursor is in."""
        steps = self._steps
        row = steps.row
        if row is None:
            return
        if close and row.indent:
            while steps.cursor and steps.rows[steps.cursor].kind != "block":
                steps.cursor -= 1
            row = steps.rows[steps.cursor]
        if row.kind != "block":
            return
        self.unfolded = self.unfolded - {row.key} if close else self.unfolded | {row.key}
        self.moved = True
        self.repaint()

    def action_tick(self) -> None:
        """What the cursor is on is done: a step, a whole block, a check."""
        row = self._steps.row
        if row is None:
            self.day.show_message(paint.nothing_to_do(self.session))
        elif row.state == "skipped":
            self._done_after_all(row)
        elif row.over:
            self.day.show_message("that is done already; u takes back the last thing")
        elif row.check is not None:
            check = row.check
            self._and_go_on(lambda: self.day.do(lambda: self.session.tick_check(check)))
        else:
            self._and_go_on(lambda: self._tick_steps(row))

    def _done_after_all(self, row: Row) -> None:
        """A step that was skipped is done, if a person says so; a block is opened to say which."""
        if row.kind == "block":
            self.unfolded |= {row.key}
            self.day.show_message("skipped: go to a step of it that is done after all")
            return
        self.choose(
            f"{row.text} was skipped: {row.note}. Is it done now?",
            [("y", "it is done", True), ("n", "it stays skipped", None)],
            lambda _: self._and_go_on(lambda: self._tick_steps(row)),
            at=1,
        )

    def _and_go_on(self, act: Callable[[], object]) -> None:
        """Do something to the row at the cursor; the cursor goes on to the one after it."""
        steps = self._steps
        passed = open_before(steps.rows, steps.cursor) if self.moved else 0
        act()
        at = open_row(steps.rows, passed)
        self.moved = at != first_open(steps.rows)
        steps.show(steps.rows, at)

    def _tick_steps(self, row: Row) -> None:
        """Every step of the row; in a rehearsal one key is one step, or none would be timed."""

        def tick() -> None:
            # asked anew at every try: what a journal in trouble took of a block is done
            now = self.session.view.pending
            steps = [step for step in row.steps if now.is_left(step)] or list(row.steps)
            self.session.tick(*(steps[:1] if self.session.rehearsal else steps))

        if not self.day.do(tick) and row.kind == "block":
            self.unfolded |= {row.key}
            self.repaint()

    def action_skip(self) -> None:
        """Leave out a step or set a check aside, with a reason."""
        row = self._steps.row
        if row is None or row.over:
            self.day.show_message("there is nothing to skip here")
            return
        what = f"Set aside: {row.text}" if row.check else f"Skip: {row.text}"

        def reasoned(reason: str) -> None:
            if row.check is not None:
                check = row.check
                self.day.do(lambda: self.session.set_check_aside(check, reason))
                return
            for step in row.steps:
                skip = lambda step=step: self.session.skip_step(step, reason)  # noqa: E731
                if not self.day.do(skip):
                    return

        self.ask(
            what,
            "Why? The reason stays in the journal.",
            parse_words,
            lambda reason: self._and_go_on(lambda: reasoned(reason)),
        )
