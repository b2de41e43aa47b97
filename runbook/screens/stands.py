"""The stands screen: the stands as they stand, the cautions, and the checklist of this stage."""

from __future__ import annotations

from collections.abc import Callable
from typing import ClassVar, Final

from rich.text import Text
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.widgets import Static

from runbook.changeover.checklist import CAUTIONS, Check
from runbook.day.parse_input import parse_wind, parse_words, wind_hint
from runbook.day.stand_view import StandsView, stands_view
from runbook.screens.base import CURSOR, DayScreen
from runbook.screens.big_text import wrapped
from runbook.screens.keys import STANDS, STANDS_OUTDOORS
from runbook.screens.stand_table import StandTable
from runbook.screens.text import Words, cut, lines, rule
from runbook.screens.widgets.lists import Row, RowList, RowState, first_open, open_before, open_row
from runbook.stands.verdict import has_wind

# Lines of the screen that are neither the table's, the words' nor the checklist's.
_AROUND: Final = 6
_LEAST_CHECKS: Final = 3
_WORDS: Final = 3
_WIND_LINES: Final = 2
_LEAST_TABLE: Final = 2
# Lines of a window: under the first only one of each thing, under the next only one caution, from
# the last on everything is said whole.
_LOW: Final = 14
_MIDDLING: Final = 20
_HIGH: Final = 40
_WORDS_HIGH: Final = 8


class StandsScreen(DayScreen):
    """Is it safe."""

    KEYS = STANDS
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("space", "tick", "tick", show=False),
        Binding("x", "aside", "set aside", show=False),
        Binding("v,tab", "switch", "stands or checks", show=False),
        Binding("o", "wind", "wind", show=False),
        *CURSOR,
    ]

    def __init__(self) -> None:
        super().__init__()
        self.moved = False
        self.at_stands = False

    def compose(self) -> ComposeResult:
        yield Words(id="top")
        yield Words(id="cautions")
        yield Words(id="stands-title")
        yield StandTable(self.glyphs, self.session.plan.day.units)
        yield Words(id="stand-words")
        yield Words(id="title")
        yield RowList(self.glyphs, "No checks at this stage.")
        yield Words(id="why")
        yield Words(id="now")
        yield Words(id="message")
        yield Words(id="keys")

    @property
    def checks(self) -> RowList:
        return self.query_one("#steps", RowList)

    @property
    def table(self) -> StandTable:
        return self.query_one(StandTable)

    @property
    def _low(self) -> bool:
        """Too few lines for more than one of anything."""
        return self.size.height < _LOW

    @property
    def _cautions(self) -> tuple[str, ...]:
        """All of them, or the first where lines are dear."""
        return CAUTIONS if self.size.height >= _MIDDLING else CAUTIONS[:1]

    def repaint(self) -> None:
        """Paint the stands and the checklist from the session."""
        super().repaint()
        if not self.session.plan.day.place.indoors:
            self.query_one("#keys", Static).update(
                Text(cut(STANDS_OUTDOORS, self.size.width, self.glyphs), style="dim")
            )
        self.query_one("#cautions", Static).update(
            lines(*((cut(each, self.size.width, self.glyphs), "yellow") for each in self._cautions))
        )
        self.query_one("#why", Static).display = not self._low
        now = stands_view(self.session.view)
        self._show_stands(now)
        self._show_checks()
        self._show_why()
        self.query_one("#now", Static).update(self._in_short(now))

    def _head(self, name: str, title: str, *, here: bool) -> None:
        """The line over a list, lit when the keys are that list's."""
        line = rule(title, self.size.width, self.glyphs)
        style = "bold" if here else "dim"
        self.query_one(name, Static).update(Text(line, style=style, no_wrap=True))

    def _show_stands(self, now: StandsView) -> None:
        height = self.size.height
        listed = now.rows
        wrong = sum(not each.verdict.ok for each in listed)
        count = f"{wrong} of {len(listed)} not right" if wrong else f"{len(listed)}, all ok"
        title = f"{now.title}: {count}" if listed else now.title
        self._head("#stands-title", title, here=self.at_stands)
        self.table.show(listed, here=self.at_stands, windy=has_wind(self.session.view.place))
        wind, words = self._wind_lines(now), self._told()
        # lines for the table, the words and the checklist
        free = height - _AROUND - len(self._cautions) - len(wind)
        words = self._cut_to(words, self._words_room(free))
        # long words take from the checklist before they take from the table
        least = _LEAST_CHECKS if len(words) <= _WORDS else 1
        room = free - max(len(words), _WORDS) - least
        self.table.styles.height = min(len(listed) + 1, max(room, _LEAST_TABLE))
        told = [*((line, "bold") for line in wind), *((line, "") for line in words)]
        self.query_one("#stand-words", Static).update(lines(*(told[:1] if self._low else told)))

    def _words_room(self, free: int) -> int:
        """How many lines the words have: with the cursor on their stand all that can be spared."""
        if self._low:
            return 1
        least = _WORDS if self.size.height < _HIGH else _WORDS_HIGH
        return max(least, free - _LEAST_TABLE - 1) if self.at_stands else least

    def _wind_lines(self, now: StandsView) -> list[str]:
        """The wind on as many lines as there is room for."""
        width = max(self.size.width, 1)
        if self.size.height >= _HIGH:
            return [cut(line, width, self.glyphs) for line in now.wind]
        return self._cut_to(wrapped(self.glyphs.shown("; ".join(now.wind)), width), 1 if self._low else _WIND_LINES)

    def _cut_to(self, told: list[str], most: int) -> list[str]:
        """Lines of the screen's width, the last of them cut where there are too many."""
        if len(told) > most:
            told = [*told[: most - 1], " ".join(told[most - 1 :])]
        return [cut(line, max(self.size.width, 1), self.glyphs) for line in told]

    def _told(self) -> list[str]:
        """All that is to be said of the stand the table is at, on lines of the screen's width."""
        standing = self.table.standing
        if standing is None:
            return []
        return [
            line
            for n, words in enumerate(standing.words)
            for line in wrapped(self.glyphs.shown(words if n else f"{standing.name}: {words}"), max(self.size.width, 1))
        ]

    def _in_short(self, now: StandsView) -> Text:
        """For a window of a few lines: what is worst, and the first check that is open."""
        told = []
        if now.rows:
            worst = now.rows[0]
            told.append(f"{worst.name} {worst.state}: {'; '.join(worst.words)}")
        row = self.checks.row
        if row is not None:
            told.append(f"CHECK {row.text}")
        return Text(self.glyphs.shown_lines("\n".join(told)), style="bold")

    # -- the checklist -----------------------------------------------------------------------

    def _show_checks(self) -> None:
        listed = self._rows()
        open_count = sum(not row.over for row in listed)
        holding = f", {self.glyphs.held} holds a step" if open_count else ""
        title = f"checklist, {self.session.view.stage}: {open_count} open of {len(listed)}{holding}"
        self._head("#title", title, here=not self.at_stands)
        self.checks.at_hand = not self.at_stands
        self.checks.show(listed, self.checks.cursor if self.moved else first_open(listed))

    def _rows(self) -> list[Row]:
        waits_for = self.session.view.pending.check_waits_for
        listed = []
        for check, tick in self.session.view.checks:
            key = ("check", check.id)
            if tick is None:
                state: RowState = "held" if check.holds else "to do"
                state = "waits" if waits_for(check) else state
                listed.append(Row("check", key, state, check.text, check=check))
            elif tick.aside is None:
                note = f"{tick.at} {tick.by}"
                listed.append(Row("check", key, "done", check.text, note, check=check))
            else:
                listed.append(Row("check", key, "aside", check.text, tick.aside, check=check))
        return listed

    def _show_why(self) -> None:
        row = self.checks.row
        text = ""
        if row is not None and row.check is not None:
            done = f"{row.note}  " if row.state == "done" else ""
            text = f"{done}Why: {row.check.why} ({row.check.basis}: {row.check.source})"
        self.query_one("#why", Static).update(Text(cut(text, self.size.width, self.glyphs)))

    # -- what a person does ------------------------------------------------------------------

    def action_switch(self) -> None:
        """From the checklist to the stands, and back."""
        self.at_stands = not self.at_stands
        self.repaint()

    def action_cursor(self, by: int) -> None:
        if self.at_stands:
            self._look_at(self.table.cursor + by)
            return
        self.moved = True
        self.checks.step_cursor(by)
        self._show_why()

    def _look_at(self, n: int) -> None:
        self.table.cursor = min(max(n, 0), max(len(self.table.stands) - 1, 0))
        self.repaint()

    def on_row_list_pressed(self, message: RowList.Pressed) -> None:
        """A click puts the cursor there."""
        self.moved, self.at_stands = True, False
        self.checks.show(self.checks.rows, message.at)
        self.repaint()

    def on_stand_table_pressed(self, message: StandTable.Pressed) -> None:
        """A click on a stand tells of that one."""
        self.at_stands = True
        self._look_at(message.at)

    def action_tick(self) -> None:
        """The check at the cursor is true."""
        self._with_check(self._tick)

    def _with_check(self, act: Callable[[Check], object]) -> None:
        """Act on the check under the cursor, when the cursor is in the checklist."""
        row = self.checks.row
        if self.at_stands:
            self.day.show_message("v goes back to the checks")
        elif row is not None and row.check is not None and not row.over:
            act(row.check)

    def _tick(self, check: Check) -> None:
        steps = self.checks
        passed = open_before(steps.rows, steps.cursor) if self.moved else 0
        if self.day.do(lambda: self.session.tick_check(check)):
            steps.show(steps.rows, open_row(steps.rows, passed))
            self._show_why()

    def action_aside(self) -> None:
        """Go on without the check at the cursor, with a reason."""
        self._with_check(self._set_aside)

    def _set_aside(self, check: Check) -> None:
        self.ask(
            f"Set aside: {check.text}",
            "Why? It stays in the journal.",
            parse_words,
            lambda reason: self.day.do(lambda: self.session.set_check_aside(check, reason)),
        )

    def action_wind(self) -> None:
        """Enter the wind there is now: every stand and panel is judged in it at once."""
        day = self.session.plan.day
        if day.place.indoors:
            self.day.show_message("no wind indoors; a fan is fan_ms under [place] in day.toml")
            return
        self.ask(
            f"Gusts now, in {'mph' if day.units == 'imperial' else 'm/s'}:",
            wind_hint(day.units),
            lambda text: parse_wind(text, day.units),
            lambda gust: self.day.do(lambda: self.session.wind(gust), str),
        )
