"""The stands screen: the stands as they are now, the cautions, and the checklist of this stage."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from typing import ClassVar, Final

from rich.text import Text
from textual.binding import BindingType
from textual.widget import Widget
from textual.widgets import Static

from runbook.changeover.checklist import CAUTIONS, Check
from runbook.day.parse_input import parse_wind, parse_words, wind_hint
from runbook.day.stand_view import STAND_COLUMNS, StandLine, StandsView, stands_view, verdict_row
from runbook.model.units import Units
from runbook.screens.base import CURSOR, DayScreen
from runbook.screens.help import key
from runbook.screens.text import Glyphs, Line
from runbook.screens.widgets.lines import CursorList
from runbook.screens.widgets.lists import Row, RowList, RowState, first_open, open_before, open_row
from runbook.stands.verdict import has_wind

_AROUND: Final = 6  # lines of the screen that are neither the table's, the findings' nor the checklist's
_LEAST_CHECKS: Final = 3
_FINDINGS: Final = 3
_WIND_LINES: Final = 2
_LEAST_TABLE: Final = 2
# heights of a window: below the first there is one line of each thing, below the next one caution, and from the
# last on everything is shown whole
_LOW: Final = 14
_MIDDLING: Final = 20
_HIGH: Final = 40
_FINDINGS_HIGH: Final = 8
_WIND_COLUMN: Final = STAND_COLUMNS.index("gust limit") - 1  # among the figures after the name


class StandsScreen(DayScreen):
    """Is it safe."""

    KEYS_TITLE = "Stands and checklist"
    BINDINGS: ClassVar[list[BindingType]] = [
        key("space", "tick", "tick", "tick the check"),
        key("x", "aside", "set aside", "set a check aside, and why"),
        key("v,tab", "switch", "stands or checks", "stands or checks (or tab)", shown="v"),
        key("o", "wind", "wind", "the wind now"),
        *CURSOR,
    ]

    def __init__(self) -> None:
        super().__init__()
        self.moved = False
        self.at_stands = False
        self.stand = 0  # the stand the cursor is on

    def compose_body(self) -> Iterable[Widget]:
        yield from map(self.lines, ("cautions", "stands-title", "stand-columns"))
        yield CursorList(self.glyphs, "stands", "No stand is up or planned.")
        yield from map(self.lines, ("findings", "title"))
        yield RowList(self.glyphs, "No checks at this stage.")
        yield self.lines("why")
        yield Static(id="now")

    @property
    def checks(self) -> RowList:
        return self.query_one(RowList)

    @property
    def footer(self) -> tuple[str, ...]:
        return ("tick", "aside", "switch", "show('set')" if self.session.plan.day.place.indoors else "wind", "keys")

    @property
    def _low(self) -> bool:
        """Too few lines for more than one of anything."""
        return self.size.height < _LOW

    @property
    def _cautions(self) -> tuple[str, ...]:
        """All cautions, or the first where lines are scarce."""
        return CAUTIONS if self.size.height >= _MIDDLING else CAUTIONS[:1]

    def repaint(self) -> None:
        """Paint the stands and the checklist from the session."""
        super().repaint()
        self.show_lines("cautions", *((caution, "yellow") for caution in self._cautions))
        view = stands_view(self.session.view)
        self._show_stands(view)
        self._show_checks()
        self._show_why()
        self.query_one("#now", Static).update(self._in_short(view))

    def _show_stands(self, view: StandsView) -> None:
        rows = view.rows
        wrong = sum(not row.verdict.ok for row in rows)
        count = f"{wrong} of {len(rows)} not right" if wrong else f"{len(rows)}, all ok"
        self.show_title(
            f"{view.title}: {count}" if rows else view.title, "stands-title", "bold" if self.at_stands else "dim"
        )
        self.stand = min(max(self.stand, 0), max(len(rows) - 1, 0))
        picked = self.stand if self.at_stands else 0  # the worst while the cursor is in the checklist
        units = self.session.plan.day.units
        columns, *cells = stand_table(rows, units, self.glyphs, windy=has_wind(self.session.view.place))
        styles = ["" if row.verdict.ok and not row.in_hands else "bold yellow" for row in rows]
        table = self.query_one("#stands", CursorList)
        self.show_lines("stand-columns", *([(f"   {columns}", "dim")] if rows else []))
        lines = [(f"  {text}", style) for text, style in zip(cells, styles, strict=True)]
        table.show(lines, picked, active=self.at_stands)
        wind, findings = self._wind_lines(view), self._findings(rows[picked]) if rows else []
        # lines for the table, the findings and the checklist
        free = self.size.height - _AROUND - len(self._cautions) - len(wind)
        findings = self.glyphs.wrap_all(findings, self.size.width, self._room_for_findings(free))
        # long findings take from the checklist before they take from the table
        least = _LEAST_CHECKS if len(findings) <= _FINDINGS else 1
        room = free - max(len(findings), _FINDINGS) - least
        table.styles.height = max(min(len(rows), max(room, _LEAST_TABLE) - 1), 1)
        shown: list[Line] = [*((line, "bold") for line in wind), *((line, "") for line in findings)]
        self.show_lines("findings", *(shown[:1] if self._low else shown))

    def _room_for_findings(self, free: int) -> int:
        """Return how many lines the findings may take: with the cursor on their stand all that can be spared."""
        if self._low:
            return 1
        least = _FINDINGS if self.size.height < _HIGH else _FINDINGS_HIGH
        return max(least, free - _LEAST_TABLE - 1) if self.at_stands else least

    def _wind_lines(self, view: StandsView) -> list[str]:
        """Return the wind on as many lines as there is room for."""
        if self.size.height >= _HIGH:
            return list(view.wind)
        return self.glyphs.wrap("; ".join(view.wind), self.size.width, 1 if self._low else _WIND_LINES)

    def _findings(self, row: StandLine) -> list[str]:
        return [f"{row.name}: {text}" if n == 0 else text for n, text in enumerate(row.words)]

    def _in_short(self, view: StandsView) -> Text:
        """Return, for a window of a few lines, the worst stand and the first open check."""
        lines = []
        if view.rows:
            worst = view.rows[0]
            lines.append(f"{worst.name} {worst.state}: {'; '.join(worst.words)}")
        row = self.checks.row
        if row is not None:
            lines.append(f"CHECK {row.text}")
        return Text(self.glyphs.shown_lines("\n".join(lines)), style="bold")

    # -- the checklist -----------------------------------------------------------------------

    def _show_checks(self) -> None:
        rows = self._rows()
        open_count = sum(not row.over for row in rows)
        holding = f", {self.glyphs.held} holds a step" if open_count else ""
        title = f"checklist, {self.session.view.stage}: {open_count} open of {len(rows)}{holding}"
        self.show_title(title, style="dim" if self.at_stands else "bold")
        cursor = self.checks.cursor if self.moved else first_open(rows)
        self.checks.show_rows(rows, cursor, active=not self.at_stands)

    def _rows(self) -> list[Row]:
        waits_for = self.session.view.pending.check_waits_for
        rows = []
        for check, tick in self.session.view.checks:
            state: RowState = "done"
            note = f"{tick.at} {tick.by}" if tick is not None else ""
            if tick is None:
                state = "waits" if waits_for(check) else "held" if check.holds else "to do"
            elif tick.aside is not None:
                state, note = "aside", tick.aside
            rows.append(Row("check", ("check", check.id), state, check.text, note, check=check))
        return rows

    def _show_why(self) -> None:
        row = self.checks.row
        if self._low or row is None or row.check is None:
            self.show_lines("why")
            return
        done = f"{row.note}  " if row.state == "done" else ""
        self.show_lines("why", f"{done}Why: {row.check.why} ({row.check.basis}: {row.check.source})")

    # -- actions -----------------------------------------------------------------------------

    def action_switch(self) -> None:
        """Move the keys from the checklist to the stands, or back."""
        self.at_stands = not self.at_stands
        self.repaint()

    def action_cursor(self, by: int) -> None:
        if self.at_stands:
            self.stand += by
            self.repaint()
            return
        self.moved = True
        self.checks.move_cursor(by)
        self._show_why()

    def on_cursor_list_pressed(self, message: CursorList.Pressed) -> None:
        """Put the cursor where it was clicked."""
        self.at_stands = message.list.id == "stands"
        if self.at_stands:
            self.stand = message.at
        else:
            self.moved = True
            self.checks.cursor = message.at
        self.repaint()

    def action_tick(self) -> None:
        """Tick the check at the cursor."""
        self._with_check(self._tick)

    def _with_check(self, act: Callable[[Check], object]) -> None:
        """Act on the check under the cursor, when the cursor is in the checklist."""
        row = self.checks.row
        if self.at_stands:
            self.day.show_message("v goes back to the checks")
        elif row is not None and row.check is not None and not row.over:
            act(row.check)

    def _tick(self, check: Check) -> None:
        passed = open_before(self.checks.rows, self.checks.cursor) if self.moved else 0
        if self.day.do(lambda: self.session.tick_check(check)):
            self.checks.show_rows(self.checks.rows, open_row(self.checks.rows, passed))
            self._show_why()

    def action_aside(self) -> None:
        """Set the check at the cursor aside, with a reason."""
        self._with_check(self._set_aside)

    def _set_aside(self, check: Check) -> None:
        self.ask(
            f"Set aside: {check.text}",
            "Why? The reason stays in the journal.",
            parse_words,
            lambda reason: self.day.do(lambda: self.session.set_check_aside(check, reason)),
        )

    def action_wind(self) -> None:
        """Enter the wind now: every stand and panel is judged in it at once."""
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


def stand_table(rows: Sequence[StandLine], units: Units, glyphs: Glyphs, *, windy: bool) -> list[str]:
    """Return the column heads, then a line for each stand; cells line up.

    What does not fit is cut at the right, so the state comes right after the name, and in a wind the gust limit
    right after that.
    """

    def ordered(cells: Sequence[str]) -> Sequence[str]:
        return (cells[_WIND_COLUMN], *cells[:_WIND_COLUMN], *cells[_WIND_COLUMN + 1 :]) if windy else cells

    table = [(STAND_COLUMNS[0], "is", *ordered(STAND_COLUMNS[1:-1]))]
    for row in rows:
        stand, *figures = verdict_row(row.verdict, units)
        table.append((stand, row.state, *ordered(figures)))
    shown = [[glyphs.shown(cell) for cell in cells] for cells in table]
    widths = [max(map(len, column)) for column in zip(*shown, strict=True)]
    return ["  ".join(glyphs.fit(cell, wide) for cell, wide in zip(cells, widths, strict=True)) for cells in shown]
