"""The set screen: the setups, the heads, and the steps to the current setup."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Sequence
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
from runbook.screens.base import CURSOR, WIDE
from runbook.screens.help import key
from runbook.screens.light_actions import MOST_HEADS, LightActions
from runbook.screens.setup_actions import STATE_WORD, SetupActions
from runbook.screens.text import Glyphs, Line
from runbook.screens.widgets.lists import Row, RowList, first_open, open_before, open_row, rows

_TALL: Final = 40  # from so many lines on there is room for
_MOST_WARNINGS: Final = 4  # of a check
_MOST_ALARMS: Final = 2
_COLUMN: Final = 36  # what the styles give the setups, and the blank beside them
_WIDE_TABLE: Final = 100
_AROUND_STEPS: Final = 7  # lines of the screen that are neither heads nor steps
# what a step can be read without, in this order: after a comma, what is done with it then, where to
_FIGURES: Final = (", .*", " and (set|put) .*", " to .*")
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
        self.moved = False

    def compose_body(self) -> Iterable[Widget]:
        yield Horizontal(
            self.lines("setups"),
            Vertical(
                *map(self.lines, ("strip", "heads", "alarms", "warnings", "title")),
                RowList(self.glyphs, check_prefix="CHECK "),
                id="work",
            ),
            id="middle",
        )
        yield Static(id="now")
        yield self.lines("crew")

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
        self._steps.empty = nothing_to_do(session)
        self._steps.show_rows(listed, self._cursor(listed))
        self.head = max(min(self.head, len(session.view.heads) - 1), 0)
        roomy = self.size.width >= WIDE and self.size.height >= _TALL
        self.show_lines("setups", *setup_column(session, self._column - 1, glyphs))
        self.show_lines("strip", *setup_strip(session, glyphs))
        self.show_lines("heads", *head_table(session, self.head, (width, self.size.height), glyphs))
        self.show_lines("alarms", *alarm_lines(session))
        self.show_lines("warnings", *warning_lines(session, width, _MOST_WARNINGS if roomy else 1, glyphs))
        self.show_lines("title", (glyphs.rule(steps_title(session), width), "dim"))
        self.show_lines("crew", *crew_line(session.view.crew, self.size.width, glyphs))
        self.query_one("#now", Static).update(Text(glyphs.shown(next_action(session, listed)), style="bold"))

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
            return ("show('kit-count')", "undo", "leave", "keys")
        if state.at_work in state.shot:
            return ("next", "ahead", "undo", "keys")
        return ("reading", "frames", "shot", "next", "keys")

    @property
    def _steps(self) -> RowList:
        return self.query_one("#steps", RowList)

    def _cursor(self, listed: list[Row]) -> int:
        """Return where the cursor belongs: where a person put it, else at the next row to do."""
        if self.moved and self._steps.row is not None:
            place = next((n for n, row in enumerate(listed) if row.key == self._steps.row.key), None)
            if place is not None:
                return place
        self.moved = False
        return first_open(listed)

    @property
    def _column(self) -> int:
        """The width of the column of setups; the layout itself knows it a moment too late."""
        return _COLUMN if self.size.width >= WIDE else 0

    # -- the list ----------------------------------------------------------------------------

    def action_cursor(self, by: int) -> None:
        self.moved = True
        self._steps.move_cursor(by)

    def action_now(self) -> None:
        self.moved = False
        self.repaint()

    def on_cursor_list_pressed(self, message: RowList.Pressed) -> None:
        """Put the cursor where it was clicked."""
        self.action_cursor(message.at - self._steps.cursor)

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
            self.day.show_message(nothing_to_do(self.session))
        elif row.state == "skipped":
            self._done_after_all(row)
        elif row.over:
            self.day.show_message("already done; u undoes the last action")
        elif row.check is not None:
            check = row.check
            self._advance(lambda: self.day.do(lambda: self.session.tick_check(check)))
        else:
            self._advance(lambda: self._tick_steps(row))

    def _done_after_all(self, row: Row) -> None:
        """Ask whether a skipped step is done now; a skipped block opens, to pick one of its steps."""
        if row.kind == "block":
            self.unfolded |= {row.key}
            self.day.show_message("skipped: pick the step of it that is done now")
            return
        self.choose(
            f"{row.text} was skipped: {row.note}. Is it done now?",
            [("y", "yes, it is done", True), ("n", "no, it is still skipped", None)],
            lambda _: self._advance(lambda: self._tick_steps(row)),
            at=1,
        )

    def _advance(self, act: Callable[[], object]) -> None:
        """Do something to the row at the cursor, and move the cursor to the next row to do."""
        steps = self._steps
        passed = open_before(steps.rows, steps.cursor) if self.moved else 0
        act()
        at = open_row(steps.rows, passed)
        self.moved = at != first_open(steps.rows)
        steps.show_rows(steps.rows, at)

    def _tick_steps(self, row: Row) -> None:
        """Tick every step of the row; in a rehearsal one at a time, to time each."""

        def tick() -> None:
            # looked up again at every try: some steps of a block may be recorded when the journal fails
            now = self.session.view.pending
            steps = [step for step in row.steps if now.is_left(step)] or list(row.steps)
            self.session.tick(*(steps[:1] if self.session.rehearsal else steps))

        if not self.day.do(tick) and row.kind == "block":
            self.unfolded |= {row.key}
            self.repaint()

    def action_skip(self) -> None:
        """Skip a step or set a check aside, with a reason."""
        row = self._steps.row
        if row is None or row.over:
            self.day.show_message("nothing to skip here")
            return

        def skip(reason: str) -> None:
            if row.check is not None:
                check = row.check
                self.day.do(lambda: self.session.set_check_aside(check, reason))
                return
            for step in row.steps:
                if not self.day.do(lambda step=step: self.session.skip_step(step, reason)):  # type: ignore[misc]
                    return

        self.ask(
            f"Set aside: {row.text}" if row.check else f"Skip: {row.text}",
            "Why? The reason stays in the journal.",
            parse_words,
            lambda reason: self._advance(lambda: skip(reason)),
        )


# -- the set as lines ------------------------------------------------------------------------


def _sign(line: SetupLine, glyphs: Glyphs) -> str:
    return {
        "shot": glyphs.done,
        "skipped": glyphs.skipped,
        "changing": glyphs.here,
        "ready": glyphs.here,
        "to do": glyphs.to_do,
    }[line.state]


def setup_column(session: Session, width: int, glyphs: Glyphs) -> list[Line]:
    """Return the setups as a column, for a wide screen."""
    lines = []
    for n, line in enumerate(session.view.setups, 1):
        counted = f"{line.frames}/{line.frames_planned}" if line.frames or line.now else ""
        word = STATE_WORD[line.state] + (", NOT SAFE" if line.now and alarms(session.view) else "")
        style = "bold" if line.now else ("dim" if line.state in ("shot", "skipped") else "")
        lines.append((glyphs.fit(f"{_sign(line, glyphs)} {n:>2} {line.title}", width), style))
        if line.now or counted or word:
            lines.append((f"     {word}  {counted}".rstrip(), style))
    return lines if width > 0 else []


def crew_line(busy: Sequence[CrewLine], width: int, glyphs: Glyphs) -> list[str]:
    """Return who does what now, side by side; none where one person works alone.

    Where that is too long, the longest lose their figures first; what is still too long is cut.
    """
    texts = [person.text for person in busy]
    room = width - 2 * max(len(texts) - 1, 0)
    for figures in _FIGURES:
        for n in sorted(range(len(texts)), key=lambda n: -cell_len(texts[n])):
            if sum(map(cell_len, texts)) > room:
                texts[n] = re.sub(figures, "", texts[n])
    for placed, n in enumerate(sorted(range(len(texts)), key=lambda n: cell_len(texts[n]))):
        texts[n] = glyphs.cut(texts[n], room // (len(texts) - placed))
        room -= cell_len(texts[n])
    return ["  ".join(texts)] if texts else []


def setup_strip(session: Session, glyphs: Glyphs) -> tuple[Line, Line]:
    """Return the setups on one line, and the current one by name."""
    signs = " ".join(f"{_sign(line, glyphs)}{n}" for n, line in enumerate(session.view.setups, 1))
    return (signs, ""), (current_setup(session), "bold")


def current_setup(session: Session) -> str:
    """Return the current setup with its state and frames."""
    now = next((line for line in session.view.setups if line.now), None)
    if now is not None:
        state = STATE_WORD[now.state] + (", NOT SAFE" if alarms(session.view) else "")
        return f"{now.title}  {state}  frames {now.frames}/{now.frames_planned}"
    if session.state.wrapping:
        return "Wrap: strike everything"
    if session.state.begun:
        return "The current setup is no longer in the plan: n begins the next"
    return "Load-in: n begins the first setup"


def head_table(session: Session, picked: int, size: tuple[int, int], glyphs: Glyphs) -> list[Line]:
    """Return the heads of the setup: what to set, what it will read, how far off that is.

    The picked head's modifier takes a second line where one is too short. ``size`` is the width of the table and
    the height of the window, at least a third of which is left to the steps: a low window shows the picked head and
    as many of the next as fit.
    """
    width, height = size
    heads = session.view.heads[:MOST_HEADS]
    blocks: list[list[Line]] = []
    for n, head in enumerate(heads):
        two = height >= 20 and (n == picked or width >= _WIDE_TABLE)
        lines = _head_lines(session, n, head, width, glyphs, here=n == picked, two=two)
        blocks.append([(line, "bold" if n == picked else "") for line in lines])
    room = height - _AROUND_STEPS - max(3, height // 3)
    while len(blocks) > 1 and sum(map(len, blocks)) > room:
        blocks.pop(0 if picked == len(heads) - 1 or len(heads) - len(blocks) < picked else -1)
    return [line for block in blocks for line in block]


def _head_lines(
    session: Session, n: int, head: HeadLine, width: int, glyphs: Glyphs, *, here: bool, two: bool
) -> list[str]:
    """Return what to set first, then what it will read, its modifier and where it stands."""
    wide = width >= _WIDE_TABLE
    state = glyphs.to_do if head.changing else glyphs.done
    light = head.light
    role = f"{light.role:<10}" if wide else f"{_SHORT_ROLE.get(light.role, light.role):<6}"
    power = str(head.power) if head.up else "not up"
    if head.up and head.power != head.planned:
        power += f" (plan {head.planned})" if wide else "*"
    sign = glyphs.here if here else " "
    text = f"{sign}{n + 1} {state} {head.head:<2} {role} {power:<{21 if wide else 9}}"
    metered = "#" if head.reading else " "  # no letter: beside distances it would be a unit
    text += f" {head.predicted:>11} {head.over:>4}{metered}"
    units, where = session.plan.day.units, "skipped: see the journal"
    if head.up:
        where = f"{short_place_text(light, units)}, {length(light.height_m, units)} up, {light.stand}"
    room = width - cell_len(text) - 1
    modifier, place = glyphs.shown(" + ".join((light.modifier, *light.accessories))), glyphs.shown(where)
    if cell_len(modifier) + 2 + cell_len(place) <= room:
        column = max(cell_len(modifier), min(34, room - cell_len(place) - 2))
        return [f"{text} {glyphs.fit(modifier, column)}  {where}"]
    return [f"{text} {where}", *([f"       {modifier}"] if two else [])]


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
    texts = [": ".join(filter(None, (problem.item, problem.what))) for problem in problems[:most]]
    shown = [f"{problem.level.upper()} {text}" for problem, text in zip(problems, texts, strict=False)]
    if len(problems) > most:
        more = f"; {len(problems) - most} more: runbook check"
        shown[-1] = glyphs.cut(shown[-1], max(width - len(more), 1)) + more
    return [(line, "yellow") for line in shown]


def steps_title(session: Session) -> str:
    """Return how far the steps are, what is open, and whatever is not as planned."""
    lines = session.view.lines
    over = sum(line.state in ("done", "skipped") for line in lines)
    open_checks = sum(hold.open for hold in session.view.holds)
    ahead = len(session.view.ahead.todo)
    parts = {
        held_text(session): session.state.floor.in_hands,
        "ON A BREAK (b ends it)": session.state.on_break is not None,
        f"steps {over} of {len(lines)}" if lines else "steps": True,
        f"{open_checks} check{'s' if open_checks > 1 else ''} open": open_checks,
        "* power not as planned": any(head.up and head.power != head.planned for head in session.view.heads),
        "not all as planned (j)": session.view.other_than_planned,
        "# metered": any(head.reading for head in session.view.heads),
        f"{ahead} can be done ahead (a)": ahead,
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
    row = listed[first_open(listed)] if listed else None
    if row is None or row.over:
        return nothing_to_do(session)
    return f"CHECK {row.text}" if row.check is not None else row.text
