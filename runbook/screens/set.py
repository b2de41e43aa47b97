"""The set screen: the setups, the heads, and the steps to the current setup."""

from __future__ import annotations

from collections.abc import Iterable
from functools import partial
from typing import ClassVar, Final

from rich.cells import cell_len
from rich.text import Text
from textual.binding import BindingType
from textual.containers import Horizontal, Vertical
from textual.widget import Widget
from textual.widgets import Static

from runbook.changeover.step_text import short_place_text
from runbook.day.actions import Session
from runbook.day.day_audit import warnings_of
from runbook.day.day_view import CrewLine, HeadLine, SetupLine
from runbook.day.parse_input import parse_words
from runbook.day.stand_view import alarms
from runbook.model.units import length
from runbook.screens.actions import MOST_HEADS, STATE_WORD, LightActions, SetupActions
from runbook.screens.base import WHY, WIDE, asking
from runbook.screens.keys import CURSOR, key
from runbook.screens.lists import Row, RowList, open_row, rows
from runbook.screens.text import Glyphs, Line

_TALL: Final = 40  # from so many lines on there is room for
_MOST_WARNINGS: Final = 4  # of a check
_MOST_ALARMS: Final = 2
_COLUMN: Final = 36  # what the styles give the setups, and the blank beside them
_WIDE_TABLE: Final = 100
_AROUND_STEPS: Final = 7  # lines of the screen that are neither heads nor steps
# a narrow table has no room for this role's whole word
_SHORT_ROLE: Final = {"background": "backgd"}


class SetScreen(SetupActions, LightActions):
    """What do I do now."""

    KEYS_TITLE = "The current step"
    BINDINGS: ClassVar[list[BindingType]] = [
        key("space", "tick", "done", "done: step, block or check"),
        key("x", "skip", "skip", "skip or set aside, and why"),
        *CURSOR,
        key("home", "now", "to now", "back to the next step"),
        key("right,enter", "fold(False)", "open", "open or close a block"),
        key("left", "fold(True)", "close", "open or close a block"),
    ]

    def __init__(self) -> None:
        super().__init__()
        self.unfolded: frozenset[tuple[str, ...]] = frozenset()
        self.at_setup: str | None = None
        self.steps = RowList(self.glyphs, check_prefix="CHECK ")

    def compose_body(self) -> Iterable[Widget]:
        blocks = map(self.lines, ("strip", "heads", "alarms", "warnings", "title"))
        yield Horizontal(self.lines("setups"), Vertical(*blocks, self.steps, id="work"), id="middle")
        yield Static(id="now")
        yield self.lines("crew")

    # -- painting ---------------------------------------------------------------------------

    def repaint(self) -> None:
        """Paint everything from the session."""
        super().repaint()
        session, glyphs = self.session, self.glyphs
        # the layout itself knows the width of the column of setups a moment too late
        column = _COLUMN if self.size.width >= WIDE else 0
        width = self.size.width - column
        if session.state.at_work != self.at_setup:
            self.at_setup = session.state.at_work
            self.unfolded = frozenset()
            self.steps.moved = False
        self.steps.empty = nothing_to_do(session)
        self.steps.show_rows(rows(session.view, self.unfolded))
        self.head = max(min(self.head, len(session.view.heads) - 1), 0)
        roomy = column and self.size.height >= _TALL
        self.show_lines("setups", *setup_column(session, column - 1, glyphs))
        self.show_lines("strip", *setup_strip(session, glyphs))
        self.show_lines("heads", *head_table(session, self.head, width, self.size.height, glyphs))
        self.show_lines("alarms", *alarm_lines(session))
        self.show_lines("warnings", *warning_lines(session, width, _MOST_WARNINGS if roomy else 1, glyphs))
        self.show_lines("title", (glyphs.rule(steps_title(session), width), "dim"))
        self.show_lines("crew", *crew_line(session.view.crew, self.size.width, glyphs))
        now = glyphs.shown(next_action(session, self.steps.rows))
        self.query_one("#now", Static).update(Text(now, style="bold"))

    @property
    def footer(self) -> tuple[str, ...]:
        state = self.session.state
        if state.on_break is not None:
            return ("pause", "undo", "keys")
        if not state.begun:
            return ("next", "go", "show('planning')", "keys")
        if not self.session.view.ready:
            return ("tick", "skip", "undo", "next", "keys")
        if state.wrapping:
            return ("show('kit_count')", "undo", "leave", "keys")
        if state.at_work in state.shot:
            return ("next", "ahead", "undo", "keys")
        powers = ("set_all_powers",) if self.session.view.powers_not_as_asked else ()
        return ("reading(True)", *powers, "frames", "shot", "next", "keys")

    # -- the list ----------------------------------------------------------------------------

    def action_now(self) -> None:
        self.steps.moved = False
        self.repaint()

    def action_fold(self, close: bool) -> None:
        """Open the block at the cursor, or close the one the cursor is in."""
        steps = self.steps
        if close and steps.row is not None and steps.row.indent:
            blocks = (n for n in range(steps.cursor, -1, -1) if steps.rows[n].kind == "block")
            steps.move_cursor(next(blocks) - steps.cursor)
        if steps.row is not None and steps.row.kind == "block":
            steps.moved = True
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


# -- the set as lines ------------------------------------------------------------------------


def _sign(line: SetupLine, glyphs: Glyphs) -> str:
    return {"shot": glyphs.done, "skipped": glyphs.skipped, "to do": glyphs.to_do}.get(line.state, glyphs.here)


def _state(line: SetupLine, session: Session) -> str:
    return STATE_WORD[line.state] + (", NOT SAFE" if line.now and alarms(session.view) else "")


def setup_column(session: Session, width: int, glyphs: Glyphs) -> list[Line]:
    """Return the setups as a column, for a wide screen."""
    lines = []
    for n, line in enumerate(session.view.setups, 1):
        counted = f"{line.frames}/{line.frames_planned}" if line.frames or line.now else ""
        state = f"     {_state(line, session)}  {counted}".rstrip()
        style = "bold" if line.now else ("dim" if line.state in ("shot", "skipped") else "")
        lines.append((glyphs.fit(f"{_sign(line, glyphs)} {n:>2} {line.title}", width), style))
        if line.now or state:
            lines.append((state, style))
    return lines if width > 0 else []


def crew_line(busy: Iterable[CrewLine], width: int, glyphs: Glyphs) -> list[str]:
    """Return who does what now, side by side, the long texts cut; nothing where one person works alone."""
    texts = [person.text for person in busy]
    room = width - 2 * max(len(texts) - 1, 0)
    for placed, n in enumerate(sorted(range(len(texts)), key=lambda n: cell_len(texts[n]))):
        texts[n] = glyphs.cut(texts[n], room // (len(texts) - placed))
        room -= cell_len(texts[n])
    return ["  ".join(texts)] if texts else []


def setup_strip(session: Session, glyphs: Glyphs) -> tuple[Line, Line]:
    """Return the setups on one line, and the current one by name."""
    signs = " ".join(f"{_sign(line, glyphs)}{n}" for n, line in enumerate(session.view.setups, 1))
    now = next((line for line in session.view.setups if line.now), None)
    if now is not None:
        current = f"{now.title}  {_state(now, session)}  frames {now.frames}/{now.frames_planned}"
    elif session.state.wrapping:
        current = "Wrap: strike everything"
    elif session.state.begun:
        current = "The current setup is no longer in the plan: n begins the next"
    else:
        current = "Load-in: n begins the first setup"
    return (signs, ""), (current, "bold")


def head_table(session: Session, picked: int, width: int, height: int, glyphs: Glyphs) -> list[Line]:
    """Return the heads of the setup: what to set, what it will read, how far off that is.

    The picked head's modifier takes a second line where one is too short. ``height`` is the window's, at least a
    third of which is left to the steps: a low window shows the picked head and as many of the next as fit.
    """
    blocks: list[list[Line]] = []
    for n, head in enumerate(session.view.heads[:MOST_HEADS]):
        lines = _head_lines(session, n, head, width, glyphs, here=n == picked)
        shown = lines if height >= 20 and (n == picked or width >= _WIDE_TABLE) else lines[:1]
        blocks.append([(line, "bold" if n == picked else "") for line in shown])
    room = height - _AROUND_STEPS - max(3, height // 3)
    first = 0
    while len(blocks) > 1 and sum(map(len, blocks)) > room:
        last = first + len(blocks) - 1
        blocks.pop(-1 if picked < last else 0)
        first += picked >= last
    return [line for block in blocks for line in block]


def _head_lines(session: Session, n: int, head: HeadLine, width: int, glyphs: Glyphs, *, here: bool) -> list[str]:
    """Return what to set first, then what it will read, its modifier and where it stands."""
    wide = width >= _WIDE_TABLE
    state, light = glyphs.to_do if head.changing else glyphs.done, head.light
    role = f"{light.role:<10}" if wide else f"{_SHORT_ROLE.get(light.role, light.role):<6}"
    power = str(head.power) if head.up else "not up"
    if head.up and head.power != head.planned:
        power += f" (plan {head.planned})" if wide else "*"
    metered = "#" if head.reading else " "  # no letter: beside distances it would be a unit
    text = f"{glyphs.here if here else ' '}{n + 1} {state} {head.head:<2} {role} {power:<{21 if wide else 9}}"
    text += f" {head.predicted:>11} {head.over:>4}{metered}"
    units, where = session.plan.day.units, "skipped: see the journal"
    if head.up:
        where = f"{short_place_text(light, units)}, {length(light.height_m, units)} up, {light.stand}"
    modifier = " + ".join((light.modifier, *light.accessories))
    room = width - cell_len(text) - cell_len(glyphs.shown(where)) - 3
    if cell_len(glyphs.shown(modifier)) <= room:
        return [f"{text} {glyphs.fit(modifier, min(34, room))}  {where}"]
    return [f"{text} {where}", f"       {modifier}"]


def alarm_lines(session: Session) -> list[Line]:
    """Return what is dangerous now, a line each."""
    dangers = alarms(session.view)
    shown = [f"! {danger}" for danger in dangers[:_MOST_ALARMS]]
    if len(dangers) > _MOST_ALARMS:
        shown[-1] += f"; and {len(dangers) - _MOST_ALARMS} more (t)"
    return [(line, "bold red") for line in shown]


def warning_lines(session: Session, width: int, most: int, glyphs: Glyphs) -> list[Line]:
    """Return what a check finds wrong with the current setup, else with the next."""
    problems = warnings_of(session.problems, session.state.at_work or session.view.next_setup)
    shown = [
        f"{problem.level.upper()} {': '.join(filter(None, (problem.item, problem.what)))}"
        for problem in problems[:most]
    ]
    if len(problems) > most:
        more = f"; {len(problems) - most} more: runbook check"
        shown[-1] = glyphs.cut(shown[-1], max(width - len(more), 1)) + more
    return [(line, "yellow") for line in shown]


def steps_title(session: Session) -> str:
    """Return how far the steps are, what is open, and whatever is not as planned."""
    view, state = session.view, session.state
    over = sum(line.state in ("done", "skipped") for line in view.lines)
    open_checks = sum(hold.open for hold in view.holds)
    ahead = len(view.ahead.todo)
    parts = {
        held_text(session): state.floor.in_hands,
        "ON A BREAK (b ends it)": state.on_break is not None,
        f"steps {over} of {len(view.lines)}" if view.lines else "steps": True,
        f"{open_checks} check{'s' if open_checks > 1 else ''} open": open_checks,
        "* power not as planned": any(head.up and head.power != head.planned for head in view.heads),
        "not all as planned (j)": view.other_than_planned,
        "# metered": any(head.reading for head in view.heads),
        f"{ahead} can be done ahead (a)": ahead,
        "powers not as asked (P sets them)": view.powers_not_as_asked,
    }
    return ", ".join(text for text, holds in parts.items() if holds)


def held_text(session: Session) -> str:
    """Return which stands nobody may let go of now."""
    return f"HOLD {', '.join(sorted(session.state.floor.in_hands))}"


def nothing_to_do(session: Session) -> str:
    """Return what to do where no step is left; after entries were lost, to check the set."""
    state = session.state
    situations = (
        (state.on_break is not None, "On a break: b ends it."),
        (session.gaps, f"{session.gap_text[:1].upper()}{session.gap_text[1:]}: check what really stands."),
        (not state.begun, "Nothing is set up yet. n begins the first setup, g any other."),
        (state.wrapping, "Everything is struck. e counts the kit, q leaves the day."),
        (state.at_work in state.shot, "Shot. n begins the next setup."),
        (alarms(session.view), "NOT SAFE: fix this before anybody shoots. t shows more."),
    )
    ready = "Ready to shoot. f counts frames, c marks the setup as shot, n begins the next."
    return next((text for holds, text in situations if holds), ready)


def next_action(session: Session, listed: list[Row]) -> str:
    """Return the next row to do: all that a very small window shows."""
    row = listed[open_row(listed)] if listed else None
    if row is None or row.over:
        return nothing_to_do(session)
    return f"CHECK {row.text}" if row.check is not None else row.text
