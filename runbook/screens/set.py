"""The set screen: the setups, the heads, the steps to the current setup, and how it will stand and look."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from functools import partial
from typing import ClassVar, Final

from textual.binding import BindingType
from textual.containers import Horizontal, Vertical
from textual.widget import Widget
from textual.widgets import DataTable, OptionList

from runbook.day.day_audit import warnings_of
from runbook.day.day_view import DayView
from runbook.day.parse_input import parse_words
from runbook.light.prediction import LitSetup
from runbook.model.setup import Setup
from runbook.screens.actions import SetupActions
from runbook.screens.base import WHY, WIDE, asking
from runbook.screens.face import FacePicture, Select, select_of
from runbook.screens.floor import FloorPane
from runbook.screens.frame_keys import FrameKeys
from runbook.screens.keys import key
from runbook.screens.lists import PickList, Row, RowList, Table, rows
from runbook.screens.set_lines import (
    camera_title,
    crew_line,
    fitted_lines,
    head_table,
    next_action,
    nothing_to_do,
    setup_line,
    setup_strip,
    steps_title,
)
from runbook.screens.text import Line

_PAIR_S: Final = 20.0  # how long before and after stand side by side
_MOST_FINDINGS: Final = 3
_LOW: Final = 30  # below so many lines one finding is shown
_LOOKS: Final = ("", "-look-floor", "-look-face")  # what fills the screen below the heads: all of it, or one picture


class StepList(RowList):
    """The steps, folded by thing."""

    BINDING_GROUP_TITLE = "Steps"
    BINDINGS: ClassVar[list[BindingType]] = [
        key("right,enter", "screen.fold(False)", "open", "open a block of steps"),
        key("left", "screen.fold(True)", "close", "close a block of steps"),
    ]


class SetScreen(SetupActions, FrameKeys):
    """What do I do now."""

    BINDING_GROUP_TITLE = "The set"
    BINDINGS: ClassVar[list[BindingType]] = [
        key("space", "tick", "done", "the step, block or check at the cursor is done"),
        key("x", "skip", "skip", "skip a step or set a check aside, and why"),
        key("d", "look", "floor, face", "enlarge the floor, then the face, then show everything again"),
        key("left_square_bracket", "other_floor(-1)", "before", "look at the setup before", shown="["),
        key("right_square_bracket", "other_floor(1)", "after", "look at the setup after", shown="]"),
        key("escape", "here", "back", "back to the current setup", shown="esc"),
    ]

    def __init__(self) -> None:
        super().__init__()
        self.unfolded: frozenset[tuple[str, ...]] = frozenset()
        self.at_setup: str | None = None
        self.looking: str | None = None
        self.away = False  # looking at another floor than the current one
        self.look = 0
        self.setups = PickList(self.glyphs, "setups", indent=2)
        self.heads = Table("heads")
        self.steps = StepList(self.glyphs, check_prefix="CHECK ")
        self.floor, self.face = FloorPane(), FacePicture(self.glyphs, "face")
        self.lit: LitSetup | None = None  # as the face shows it
        self.select: Select | None = None  # beside it
        self.lit_before: LitSetup | None = None  # and what it is compared with
        self._drawn: tuple[DayView, str | None] | None = None

    def compose_body(self) -> Iterable[Widget]:
        yield self.lines("strip")
        with Horizontal(id="middle"):
            with Vertical(id="work"):
                yield self.heads
                yield self.lines("fitted")
                with Horizontal(id="below"):
                    yield self.setups
                    yield self.steps
            with Vertical(id="sight"):
                yield self.floor
                yield self.face
        yield self.lines("now")
        yield self.lines("crew")

    def on_mount(self) -> None:
        self.steps.focus()
        self.show_title(self.face, "the face, as the camera sees it")
        self._single = self.set_timer(_PAIR_S, self._show_single, pause=True)

    # -- painting ---------------------------------------------------------------------------

    def repaint(self) -> None:
        """Paint everything from the session."""
        super().repaint()
        session, glyphs, view = self.session, self.glyphs, self.session.view
        if session.state.at_work != self.at_setup:
            self.at_setup = session.state.at_work
            self.unfolded, self.away = frozenset(), False
            self.steps.action_to_first()
        self.steps.empty = nothing_to_do(session)
        self.steps.show_rows(rows(view, self.unfolded))
        self.show_title(self.steps, steps_title(session))
        at = self.looking if self.away else view.current_floor
        ids = [line.id for line in view.setups]
        self.setups.show(
            [setup_line(n, line, session, glyphs) for n, line in enumerate(view.setups, 1)],
            ids.index(at) if at in ids else len(ids),
        )
        self.show_title(self.setups, "setups")
        self.show_lines("strip", (setup_strip(session, self.size.width, glyphs), "bold"))
        self.head = max(min(self.head, len(view.heads) - 1), 0)
        wide = self.size.width >= WIDE
        self.heads.show([row if wide else row[:-1] for row in head_table(session, glyphs)], self.head)
        self._show_fitted()
        self.show_title(self.heads, camera_title(session))
        self.show_lines("crew", *crew_line(view.crew, self.size.width, glyphs))
        self.show_lines("now", (next_action(session, self.steps.rows), "bold"), *super().dangers())
        self.show_sight()

    def _show_fitted(self) -> None:
        """Show what is on the head picked, where the table has no room for all of it."""
        whole = self.size.width >= WIDE and self.heads.full_width <= self.work_width
        self.show_lines("fitted", *([] if whole else fitted_lines(self.session.view.heads, self.head)))

    def show_sight(self) -> None:
        """Show the floor, with what the cursor is on marked there."""
        view = self.session.view
        at = self.looking if self.away else view.current_floor
        if self._drawn != (view, at):
            self._drawn = (view, at)
            shown = view.floor_view(at)
            moves = f": {shown.drawn.moves_text}" if shown.drawn.moves_text else ""
            self.show_title(self.floor, f"floor, {f'{shown.title}, ' if self.away else ''}{shown.word}{moves}")
            self.drawn = shown.drawn
            self._show_face(view.lit_setup(at), select_of(self.session, at))
        self.floor.show(self.drawn, self.marked())

    def _show_face(self, lit: LitSetup | None, select: Select | None) -> None:
        """Show the face in this light; where only powers were turned, beside what it was before, for a while."""
        was, self.lit, is_other, self.select = self.lit, lit, select != self.select, select
        if lit is None or was is None or not turned(was.setup, lit.setup):
            if lit is None or was is None or lit.setup != was.setup or is_other:
                self.lit_before = None
                self.face.show(lit, select)
            return
        self.lit_before = self.lit_before or was
        self.face.show_pair(self.lit_before, lit)
        self._single.stop()
        self._single = self.set_timer(_PAIR_S, self._show_single)

    def _show_single(self) -> None:
        self.lit_before = None
        self.face.show(self.lit, self.select)

    def marked(self) -> frozenset[str]:
        """Return the labels of what the cursor is on."""
        if self.heads.has_focus:
            view, setup = self.session.view, self.session.view.setup
            listed = [
                *(head.head for head in view.heads),
                *(setup.panel if setup else ()),
                *(setup.hung if setup else ()),
            ]
            return frozenset(listed[self.heads.cursor_row : self.heads.cursor_row + 1])
        row = self.steps.row
        if row is None:
            return frozenset()
        return frozenset(name for step in row.steps for name in (step.item, step.thing, step.on) if name)

    def dangers(self) -> list[Line]:
        """Return the dangers, then what a check finds wrong with the current setup, else with the next."""
        session = self.session
        problems = warnings_of(session.problems, session.state.at_work or session.view.next_setup)
        most = 1 if self.size.height < _LOW else _MOST_FINDINGS
        shown = [
            f"{problem.level.upper()}  {': '.join(filter(None, (problem.item, problem.what)))}"
            for problem in problems[:most]
        ]
        if len(problems) > most:
            shown[-1] += f"; and {len(problems) - most} more: runbook check"
        return [*super().dangers(), *((line, "$warning") for line in shown)]

    @property
    def footer(self) -> tuple[str, ...]:
        state = self.session.state
        if state.on_break is not None:
            return ("pause", "undo", "keys")
        if not state.begun:
            return ("next", "go", "show('planning')", "keys")
        if not self.session.view.ready:
            return ("tick", "skip", "undo", "next", "look", "keys")
        if state.wrapping:
            return ("show('kit_count')", "undo", "leave", "keys")
        if state.at_work in state.shot:
            return ("next", "ahead", "undo", "look", "keys")
        view = self.session.view
        powers = ("set_all_powers",) if view.powers_not_as_asked else ()
        differ = ("other",) if view.frames.open_differences(state.at_work) else ()
        count = "select" if view.frames.of(state.at_work) else "frames"
        return (*differ, "reading(True)", *powers, count, "shot", "next", "look", "keys")

    # -- looking ------------------------------------------------------------------------------

    def action_look(self) -> None:
        """Show the floor as large as it goes, then the face, then all again."""
        self.remove_class(*_LOOKS[1:])
        self.look = (self.look + 1) % len(_LOOKS)
        self.add_class(*_LOOKS[self.look].split())
        self.set_focus(None if self.look else self.steps)  # the lists are out of view, and must not hear the arrows

    def action_other_floor(self, by: int) -> None:
        """Look at the setup before or after, without beginning it."""
        current, known = self.session.view.current_floor, self.session.view.floor_ids
        at = known.index(self.looking if self.away else current) + by
        if not 0 <= at < len(known):
            self.day.show_message("this is the first setup" if by < 0 else "nothing comes after the wrap")
            return
        self._look_at(known[at])

    def _look_at(self, setup_id: str | None) -> None:
        self.looking, self.away = setup_id, setup_id != self.session.view.current_floor
        self.repaint()

    def action_here(self) -> None:
        """Back to all of the current setup, and to its steps."""
        self.away, self.look = False, -1
        self.action_look()
        self.repaint()

    def on_option_list_option_highlighted(self, event: OptionList.OptionHighlighted) -> None:
        """Mark what a step is of on the floor; look at the setup picked in their list."""
        if event.option_list is self.steps:
            self.show_sight()
        elif self.setups.has_focus and event.option_index == self.setups.highlighted:  # not elsewhere by now
            self._look_at(self.session.view.setups[event.option_index].id)

    def on_option_list_option_selected(self, event: OptionList.OptionSelected) -> None:
        """Open or close a block that was clicked; go to a setup chosen in their list."""
        if event.option_list is self.steps:
            if self.steps.row is not None and self.steps.row.kind == "block":
                self._unfold(self.steps.row, close=not self.steps.row.folded)
        else:
            self.go_to(self.session.view.setups[event.option_index].id)

    def on_data_table_row_highlighted(self, event: DataTable.RowHighlighted) -> None:
        """Pick a head by moving through the table."""
        if self.heads.has_focus and event.cursor_row == self.heads.cursor_row < len(self.session.view.heads):
            self.head = event.cursor_row
            self._show_fitted()
        self.show_sight()

    def on_descendant_focus(self) -> None:
        self.show_sight()

    # -- the list ----------------------------------------------------------------------------

    def action_fold(self, close: bool) -> None:
        """Open the block at the cursor, or close the one the cursor is in."""
        steps = self.steps
        if close and steps.row is not None and steps.row.indent:
            steps.highlighted = next(n for n in range(steps.cursor, -1, -1) if steps.rows[n].kind == "block")
        if steps.row is not None and steps.row.kind == "block":
            self._unfold(steps.row, close=close)

    def _unfold(self, row: Row, *, close: bool = False) -> None:
        self.unfolded = self.unfolded - {row.key} if close else self.unfolded | {row.key}
        self.repaint()

    @asking
    async def action_tick(self) -> None:
        """What the cursor is on is done: a step, a whole block, a check."""
        row = self.steps.row
        if row is None:
            self.day.show_message(nothing_to_do(self.session))
        elif row.over and row.state != "skipped":
            self.day.show_message("already done; u undoes the last action")
        elif row.check is not None:
            check = row.check
            self.steps.advance(lambda: self.day.do(lambda: self.session.tick_check(check)))
        elif row.state == "skipped" and row.kind == "block":
            self._unfold(row)
            self.day.show_message("skipped: pick the step of it that is done now")
        else:
            if row.state == "skipped":
                question = f"{row.text} was skipped: {row.note}. Is it done now?"
                await self.choose(
                    question, [("y", "yes, it is done", True), ("n", "no, it is still skipped", None)], at=1
                )
            self.steps.advance(lambda: self._tick_steps(row))

    def _tick_steps(self, row: Row) -> None:
        """Tick every step of the row; in a rehearsal one at a time, to time each."""

        def tick() -> None:
            # looked up again at every try: some steps of a block may be recorded when the journal fails
            now = self.session.view.pending
            steps = [step for step in row.steps if now.is_left(step)] or list(row.steps)
            self.session.tick(*(steps[:1] if self.session.rehearsal else steps))

        if not self.day.do(tick) and row.kind == "block":
            self._unfold(row)

    @asking
    async def action_skip(self) -> None:
        """Skip a step or set a check aside, with a reason."""
        row = self.steps.row
        if row is None or row.over:
            self.day.show_message("nothing to skip here")
        elif row.check is not None:
            self.set_aside(row.check)
        else:
            reason = await self.ask(f"Skip: {row.text}", WHY, parse_words)
            self.steps.advance(
                lambda: all(self.day.do(partial(self.session.skip_step, step, reason)) for step in row.steps)
            )


def turned(before: Setup, after: Setup) -> bool:
    """Return whether two setups differ in nothing but the powers of their heads."""
    powers = [light.power for light in after.lights]
    if before == after or before.id != after.id or len(before.lights) != len(powers):
        return False
    lights = (replace(light, power=power) for light, power in zip(before.lights, powers, strict=True))
    return replace(before, lights=tuple(lights)) == after
