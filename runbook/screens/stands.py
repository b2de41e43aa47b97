"""The stands screen: the stands as they are now, the cautions, and the checklist of this stage."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import ClassVar, Final

from textual.binding import BindingType
from textual.containers import Horizontal, Vertical
from textual.widget import Widget

from runbook.changeover.checklist import CAUTIONS
from runbook.day.actions import NO_WIND, Refused
from runbook.day.parse_input import parse_wind, wind_hint
from runbook.day.stand_view import STAND_COLUMNS, StandLine, stands_view, verdict_row
from runbook.model.units import Units
from runbook.screens.base import DayScreen, asking
from runbook.screens.floor import FloorPane
from runbook.screens.keys import key
from runbook.screens.lists import RowList, Table, check_row
from runbook.screens.text import Glyphs
from runbook.stands.verdict import Verdict, has_wind

_MOST_FINDINGS: Final = 9  # lines for what is wrong with a stand
_ROOMY: Final = 20  # from so many lines on every caution is shown
_WIND_COLUMN: Final = STAND_COLUMNS.index("gust limit") - 1  # among the figures after the name


class StandsScreen(DayScreen):
    """Is it safe."""

    BINDING_GROUP_TITLE = "Stands and checklist"
    BINDINGS: ClassVar[list[BindingType]] = [
        key("space", "tick", "tick", "tick the check"),
        key("x", "aside", "set aside", "set a check aside, and why"),
        key("v", "switch", "stands or checks", "go to the stands, or to the checks (tab too)"),
        key("o", "wind", "wind", "enter the wind now"),
    ]

    def __init__(self) -> None:
        super().__init__()
        self.table = Table("stands")
        self.checks = RowList(self.glyphs, "No checks at this stage.")
        self.floor = FloorPane()

    def compose_body(self) -> Iterable[Widget]:
        yield self.lines("cautions")
        with Horizontal(id="middle"):
            with Vertical(id="work"):
                yield self.table
                yield self.lines("findings")
                yield self.checks
            with Vertical(id="sight"):
                yield self.floor
        yield self.lines("why")
        yield self.lines("now")

    def on_mount(self) -> None:
        self.checks.focus()

    @property
    def footer(self) -> tuple[str, ...]:
        wind = () if self.session.plan.day.place.indoors else ("wind",)
        return ("tick", "aside", "switch", *wind, "show('set')", "keys")

    def repaint(self) -> None:
        """Paint the stands and the checklist from the session."""
        super().repaint()
        cautions = CAUTIONS if self.size.height >= _ROOMY else CAUTIONS[:1]
        self.show_lines("cautions", *((caution, "$warning") for caution in cautions))
        self.shown = stands_view(self.session.view)
        self.show_current_floor()
        self._show_stands()
        self._show_checks()
        self.show_lines("now", *((line, "bold") for line in self._in_short()))

    def _show_stands(self) -> None:
        stands, title = self.shown.rows, self.shown.title
        if stands:
            wrong = sum(not row.verdict.ok for row in stands)
            title += f": {wrong} of {len(stands)} not right" if wrong else f": {len(stands)}, all ok"
        self.show_title(self.table, title if stands else "No stand is up or planned.")
        windy = has_wind(self.session.view.place)
        units = self.session.plan.day.units
        picked = self.table.cursor_row if self.table.has_focus else 0  # the worst while the keys are in the checklist
        self.table.show(stand_table(stands, units, self.glyphs, windy=windy) if stands else [], picked)
        self._show_findings()

    def _show_findings(self) -> None:
        """Show the wind, what is wrong with the stand picked, and where it is on the floor."""
        wind, stands = self.glyphs.wrap("; ".join(self.shown.wind), width=self.work_width, most=2), self.shown.rows
        findings, marked = list[str](), frozenset[str]()
        if stands:
            row = stands[min(self.table.cursor_row, len(stands) - 1)]
            most = _MOST_FINDINGS if self.table.has_focus else max(self.size.height // 5, 3)
            words = (f"{row.name}: {row.words[0]}", *row.words[1:])
            findings = self.glyphs.wrap(*words, width=self.work_width, most=most)
            on_it = row.verdict.carries if isinstance(row.verdict, Verdict) else None
            marked = frozenset(filter(None, (row.name, on_it)))
        self.show_lines("findings", *((line, "bold") for line in wind), *findings)
        self.floor.show(self.floor.drawn, marked)

    def _in_short(self) -> list[str]:
        """Return, for a window of a few lines, the worst stand and the first open check."""
        lines = [f"{row.name} {row.state}: {'; '.join(row.words)}" for row in self.shown.rows[:1]]
        return lines + ([f"CHECK {self.checks.row.text}"] if self.checks.row is not None else [])

    # -- the checklist -----------------------------------------------------------------------

    def _show_checks(self) -> None:
        view = self.session.view
        rows = [check_row(view, check, tick, due="held" if check.holds else "to do") for check, tick in view.checks]
        open_count = sum(not row.over for row in rows)
        holding = f", {self.glyphs.held} holds a step" if open_count else ""
        self.checks.show_rows(rows)
        self.show_title(self.checks, f"checklist, {view.stage}: {open_count} open of {len(rows)}{holding}")
        self._show_why()

    def _show_why(self) -> None:
        row = self.checks.row
        if row is None or row.check is None:
            self.show_lines("why")
            return
        done = f"{row.note}  " if row.state == "done" else ""
        self.show_lines("why", f"{done}Why: {row.check.why} ({row.check.basis}: {row.check.source})")

    def on_option_list_option_highlighted(self) -> None:
        self._show_why()

    def on_descendant_focus(self) -> None:
        self._show_findings()

    def on_data_table_row_highlighted(self) -> None:
        self._show_findings()

    # -- actions -----------------------------------------------------------------------------

    def action_switch(self) -> None:
        """Move the keys from the checklist to the stands, or back."""
        self.focus_next()

    def action_tick(self) -> None:
        """Tick the check at the cursor."""
        row = self.checks.row
        if self.table.has_focus:
            self.day.show_message("press v to go back to the checks")
        elif row is not None and row.check is not None and not row.over:
            check = row.check
            self.checks.advance(lambda: self.day.do(lambda: self.session.tick_check(check)))
            self._show_why()

    def action_aside(self) -> None:
        """Set the check at the cursor aside, with a reason."""
        row = self.checks.row
        if self.table.has_focus:
            self.day.show_message("press v to go back to the checks")
        elif row is not None and row.check is not None and not row.over:
            self.set_aside(row.check)

    @asking
    async def action_wind(self) -> None:
        """Enter the wind now: every stand and panel is judged in it at once."""
        day = self.session.plan.day
        if day.place.indoors:
            raise Refused(NO_WIND)
        question = f"Gusts now, in {'mph' if day.units == 'imperial' else 'm/s'}:"
        gust = await self.ask(question, wind_hint(day.units), lambda text: parse_wind(text, day.units))
        self.day.do(lambda: self.session.wind(gust), str)


def stand_table(rows: Sequence[StandLine], units: Units, glyphs: Glyphs, *, windy: bool) -> list[tuple[str, ...]]:
    """Return the column heads, then a row for each stand.

    What does not fit is out of view at the right, so the state comes right after the name, and in a wind the gust
    limit right after that.
    """
    table = [[STAND_COLUMNS[0], "state", *STAND_COLUMNS[1:-1]]]
    for row in rows:
        stand, *figures = verdict_row(row.verdict, units)
        table.append([stand, row.state, *figures])
    if windy:
        for cells in table:
            cells.insert(2, cells.pop(2 + _WIND_COLUMN))
    return [tuple(map(glyphs.shown, cells)) for cells in table]
