"""The stands screen: the stands as they are now, the cautions, and the checklist of this stage."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import ClassVar, Final

from rich.text import Text
from textual.binding import BindingType
from textual.widget import Widget
from textual.widgets import Static

from runbook.changeover.checklist import CAUTIONS
from runbook.day.actions import Refused
from runbook.day.parse_input import parse_wind, wind_hint
from runbook.day.stand_view import STAND_COLUMNS, StandLine, StandsView, stands_view, verdict_row
from runbook.model.units import Units
from runbook.screens.base import DayScreen, asking
from runbook.screens.keys import CURSOR, key
from runbook.screens.lists import CursorList, RowList, check_row
from runbook.screens.text import Glyphs
from runbook.stands.verdict import has_wind

_AROUND: Final = 6  # lines of the screen that are neither the table's, the findings' nor the checklist's
_LEAST_CHECKS: Final = 3
_FINDINGS: Final = 3  # lines for what is wrong with a stand
_FINDINGS_HIGH: Final = 8
_WIND_LINES: Final = 2
_LEAST_TABLE: Final = 2
# heights of a window: below the first there is one line of each thing, below the next one caution, and from the
# last on everything is shown whole
_LOW: Final = 14
_MIDDLING: Final = 20
_HIGH: Final = 40
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
        self.at_stands = False
        self.table = CursorList(self.glyphs, "stands", "No stand is up or planned.")
        self.checks = RowList(self.glyphs, "No checks at this stage.")

    def compose_body(self) -> Iterable[Widget]:
        yield from map(self.lines, ("cautions", "stands-title", "stand-columns"))
        yield self.table
        yield from map(self.lines, ("findings", "title"))
        yield self.checks
        yield self.lines("why")
        yield Static(id="now")

    @property
    def footer(self) -> tuple[str, ...]:
        return ("tick", "aside", "switch", "show('set')" if self.session.plan.day.place.indoors else "wind", "keys")

    def repaint(self) -> None:
        """Paint the stands and the checklist from the session."""
        super().repaint()
        cautions = CAUTIONS if self.size.height >= _MIDDLING else CAUTIONS[:1]
        self.show_lines("cautions", *((caution, "yellow") for caution in cautions))
        view = stands_view(self.session.view)
        self._show_stands(view, len(cautions))
        self._show_checks()
        self.query_one("#now", Static).update(self._in_short(view))

    def _show_stands(self, view: StandsView, cautions: int) -> None:
        stands, title = view.rows, view.title
        if stands:
            wrong = sum(not row.verdict.ok for row in stands)
            title += f": {wrong} of {len(stands)} not right" if wrong else f": {len(stands)}, all ok"
        self.show_title(title, "stands-title", "bold" if self.at_stands else "dim")
        picked = self.table.cursor if self.at_stands else 0  # the worst while the cursor is in the checklist
        windy = has_wind(self.session.view.place)
        columns, *cells = stand_table(stands, self.session.plan.day.units, self.glyphs, windy=windy)
        self.show_lines("stand-columns", *([(f"   {columns}", "dim")] if stands else []))
        styles = ["" if row.verdict.ok and not row.in_hands else "bold yellow" for row in stands]
        lines = [(f"  {text}", style) for text, style in zip(cells, styles, strict=True)]
        self.table.show(lines, picked, active=self.at_stands)
        self._show_findings(view, cautions)

    def _show_findings(self, view: StandsView, cautions: int) -> None:
        """Show the wind and what is wrong with the stand picked, and share out the lines of the window."""
        height, width = self.size.height, self.size.width
        low, high = height < _LOW, height >= _HIGH
        wind = list(view.wind) if high else self.glyphs.wrap("; ".join(view.wind), width=width, most=_WIND_LINES)
        free = height - _AROUND - cautions - len(wind)
        most = _FINDINGS_HIGH if high else _FINDINGS
        if self.at_stands:  # all that can be spared
            most = max(most, free - _LEAST_TABLE - 1)
        findings: list[str] = []
        if view.rows:
            row = view.rows[self.table.cursor]
            findings = self.glyphs.wrap(f"{row.name}: {row.words[0]}", *row.words[1:], width=width, most=most)
        # long findings take from the checklist before they take from the table
        room = free - max(len(findings), _FINDINGS) - (_LEAST_CHECKS if len(findings) <= _FINDINGS else 1)
        self.table.styles.height = max(min(len(view.rows), max(room, _LEAST_TABLE) - 1), 1)
        shown = [*((line, "bold") for line in wind), *((line, "") for line in findings)]
        self.show_lines("findings", *(shown[:1] if low else shown))

    def _in_short(self, view: StandsView) -> Text:
        """Return, for a window of a few lines, the worst stand and the first open check."""
        lines = [f"{row.name} {row.state}: {'; '.join(row.words)}" for row in view.rows[:1]]
        lines += [f"CHECK {self.checks.row.text}"] if self.checks.row is not None else []
        return Text("\n".join(map(self.glyphs.shown, lines)), style="bold")

    # -- the checklist -----------------------------------------------------------------------

    def _show_checks(self) -> None:
        view = self.session.view
        rows = [check_row(view, check, tick, due="held" if check.holds else "to do") for check, tick in view.checks]
        open_count = sum(not row.over for row in rows)
        holding = f", {self.glyphs.held} holds a step" if open_count else ""
        title = f"checklist, {view.stage}: {open_count} open of {len(rows)}{holding}"
        self.show_title(title, style="dim" if self.at_stands else "bold")
        self.checks.show_rows(rows, active=not self.at_stands)
        self._show_why()

    def _show_why(self) -> None:
        row = self.checks.row
        if self.size.height < _LOW or row is None or row.check is None:
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
        (self.table if self.at_stands else self.checks).move_cursor(by)
        self.repaint()

    def on_cursor_list_pressed(self, message: CursorList.Pressed) -> None:
        """Move the keys to the list that was clicked."""
        self.at_stands = message.list is self.table
        self.repaint()

    def action_tick(self) -> None:
        """Tick the check at the cursor."""
        row = self.checks.row
        if self.at_stands:
            self.day.show_message("v goes back to the checks")
        elif row is not None and row.check is not None and not row.over:
            check = row.check
            self.checks.advance(lambda: self.day.do(lambda: self.session.tick_check(check)))
            self._show_why()

    def action_aside(self) -> None:
        """Set the check at the cursor aside, with a reason."""
        row = self.checks.row
        if self.at_stands:
            self.day.show_message("v goes back to the checks")
        elif row is not None and row.check is not None and not row.over:
            self.set_aside(row.check)

    @asking
    async def action_wind(self) -> None:
        """Enter the wind now: every stand and panel is judged in it at once."""
        day = self.session.plan.day
        if day.place.indoors:
            raise Refused("no wind indoors; a fan is fan_ms under [place] in day.toml")
        question = f"Gusts now, in {'mph' if day.units == 'imperial' else 'm/s'}:"
        gust = await self.ask(question, wind_hint(day.units), lambda text: parse_wind(text, day.units))
        self.day.do(lambda: self.session.wind(gust), str)


def stand_table(rows: Sequence[StandLine], units: Units, glyphs: Glyphs, *, windy: bool) -> list[str]:
    """Return the column heads, then a line for each stand; cells line up.

    What does not fit is cut at the right, so the state comes right after the name, and in a wind the gust limit
    right after that.
    """
    table = [[STAND_COLUMNS[0], "is", *STAND_COLUMNS[1:-1]]]
    for row in rows:
        stand, *figures = verdict_row(row.verdict, units)
        table.append([stand, row.state, *figures])
    if windy:
        for cells in table:
            cells.insert(2, cells.pop(2 + _WIND_COLUMN))
    shown = [[glyphs.shown(cell) for cell in cells] for cells in table]
    widths = [max(map(len, column)) for column in zip(*shown, strict=True)]
    return ["  ".join(glyphs.fit(cell, wide) for cell, wide in zip(cells, widths, strict=True)) for cells in shown]
