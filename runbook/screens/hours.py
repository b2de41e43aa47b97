"""The hours screen: whether the day ends in time, what would help, and the day as a table with a chart."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import ClassVar, Final

from rich.style import Style
from rich.text import Text
from textual.binding import BindingType
from textual.widget import Widget
from textual.widgets import DataTable, ProgressBar, Static
from textual.worker import Worker, WorkerState

from runbook.day.day_rows import Row
from runbook.day.hours import Hours, hours_of, with_help
from runbook.day.hours_chart import PLAIN, SIGNS, Chart, chart_of
from runbook.day.hours_text import (
    REMEDY_HEADING,
    ROW_HEADING,
    hours_lines,
    order_text,
    remedy_cells,
    row_cells,
    total_cells,
)
from runbook.day.remaining_day import DayMoment
from runbook.model.progress import Stopped
from runbook.screens.base import WIDE, DayScreen, asking
from runbook.screens.keys import key
from runbook.screens.text import Line
from runbook.screens.themes import tone_styles

_NAME: Final = 20  # columns
_NUMBERS: Final = ("break", "change", "wait", "shoot")
_CHART_COLUMNS: Final = ("end", "against plan")  # with the chart, where there is no room for the minutes
_MINUTES_COLUMNS: Final = ("start", *_NUMBERS, "end", "against plan")
_WIDE_COLUMNS: Final = ("planned", *_MINUTES_COLUMNS)
_LEAST_CHART: Final = 12  # a narrower one says nothing
_ANSWER_STYLES: Final = {"yes": "bold $success", "maybe": "bold $warning", "no": "bold $error reverse"}
_SIGN_TONES: Final = {
    "change": "light", "strike": "light", "shoot": "thing", "wait": "marked", "break": "camera", "now": "move",
    "wrap": "marked",
}  # fmt: skip
_HIGH: Final = 32  # lines from which on all that helps is shown, and the day as planned beneath
Cells = tuple[str, ...]
Column = tuple[str, int]  # a heading and its width
TableRow = tuple[int | None, Sequence[Text]]  # a row's lines, None: as many as its cells take


class HoursTable(DataTable[Text]):
    """A table that is filled again only where it has changed, with its cursor and scrolling kept."""

    DEFAULT_CSS = """
    HoursTable {
        height: auto; background: transparent; scrollbar-size-vertical: 1; scrollbar-size-horizontal: 0;
        &#helps { max-height: 9; }
        &#rows { height: 1fr; min-height: 3; }
    }
    """

    def __init__(self, widget_id: str) -> None:
        super().__init__(
            id=widget_id,
            cell_padding=0,
            cursor_type="row",
            cursor_foreground_priority="renderable",  # a bar keeps its colours under the cursor
            zebra_stripes=True,
        )
        self.shown: tuple[object, ...] = ()

    def show(self, columns: Sequence[Column], rows: Sequence[TableRow]) -> None:
        """Show rows under these columns."""
        shown = (tuple(columns), tuple((height, tuple(cells)) for height, cells in rows))
        if shown == self.shown:
            return
        self.shown = shown
        cursor, top = self.cursor_row, self.scroll_y
        self.clear(columns=True)
        for heading, width in columns:
            self.add_column(Text(heading, "bold"), width=max(width, 1))
        for height, cells in rows:
            self.add_row(*cells, height=height)
        self.move_cursor(row=cursor, animate=False)
        self.scroll_to(y=top, animate=False)


class HoursScreen(DayScreen):
    """When are we done."""

    BINDING_GROUP_TITLE = "Hours"
    FOOTER = ("calculate", "take_order", "turn", "show('set')", "keys")
    BINDINGS: ClassVar[list[BindingType]] = [
        key("space", "calculate", "calculate again", "calculate again"),
        key("o", "take_order", "better order", "write the better order into day.toml"),
        key("v", "turn", "minutes", "minutes, or the chart"),
        key("escape", "stop", "stop", "stop calculating, or back", shown="esc"),
    ]

    def __init__(self) -> None:
        super().__init__()
        self.progress = ""
        self.minutes = False  # in a narrow window, in place of the chart
        self.stopped = False
        self.work: Worker[Hours] | None = None

    def compose_body(self) -> Iterable[Widget]:
        yield self.lines("answer")
        yield self.lines("words")
        yield ProgressBar(show_percentage=False, show_eta=False)
        yield HoursTable("helps")
        yield Static(id="order")
        yield HoursTable("rows")
        yield self.lines("legend")

    def on_mount(self) -> None:
        self.query_one("#helps", HoursTable).can_focus = False
        self.query_one("#helps", HoursTable).show_cursor = False
        self.query_one("#rows").focus()
        self.action_calculate()

    # -- calculating --------------------------------------------------------------------------

    def action_calculate(self) -> None:
        """Calculate the rest of the day in the background."""
        if self.work is None or not self.work.is_running:
            self.stopped = False
            moment = self.session.moment
            self.work = self.run_worker(lambda: self._calculate(moment), thread=True, exit_on_error=False)

    def _calculate(self, moment: DayMoment) -> Hours:
        def tell(what: str, done: int = 0, of: int = 0) -> None:
            self.day.pause_for_keys()
            if what not in self.progress:
                self.app.call_from_thread(self._show_progress, what, done, of)

        changes = self.session.changes
        hours = hours_of(moment, changes, tell=tell)
        self.app.call_from_thread(self._show_hours, hours)  # while what helps is calculated
        return with_help(hours, changes, tell=tell)

    def _show_hours(self, hours: Hours) -> None:
        self.session.hours = hours
        self.repaint()

    def _show_progress(self, what: str, done: int, of: int) -> None:
        self.progress = f"calculating {what}; escape stops it"
        bar = self.query_one(ProgressBar)
        bar.display = bool(of)
        if of:
            bar.update(progress=done, total=of)
        self.repaint()

    def on_worker_state_changed(self, event: Worker.StateChanged) -> None:
        """Show that the work is done, was stopped or failed."""
        if event.worker is not self.work:
            return
        self.query_one(ProgressBar).display = event.state is WorkerState.RUNNING
        if event.state is WorkerState.SUCCESS:
            self.session.hours = event.worker.result
            self.progress = ""
        elif event.state is WorkerState.CANCELLED or isinstance(event.worker.error, Stopped):
            self.progress, self.stopped = "stopped; space calculates again", True
        elif event.state is WorkerState.ERROR:
            self.progress, self.stopped = f"cannot be calculated: {event.worker.error}; space tries again", True
        self.repaint()

    def action_stop(self) -> None:
        """Stop calculating; with nothing to stop, go back to the set."""
        if self.work is not None and self.work.is_running:
            self.work.cancel()
        else:
            self.day.action_show("set")

    @asking
    async def action_take_order(self) -> None:
        """Write the order that ends the day sooner into the plan, asked first."""
        from runbook.screens.plan_edit import open_editor, put_in_order  # not what the start waits for

        better = self.session.hours.sooner if self.session.hours else None
        if better is None:
            self.day.show_message("no order is known that ends the day sooner")
        elif open_editor(self.day):
            choices = [("y", "write it into day.toml", True), ("n", "leave day.toml unchanged", None)]
            await self.choose(f"Shoot in this order? {', '.join(better.order)}", choices)
            if put_in_order(self.day, better.whole):
                self.action_calculate()

    def action_turn(self) -> None:
        """Show the minutes in place of the chart, or the chart again; a wide window shows both."""
        self.minutes = not self.minutes
        self.repaint()

    # -- painting -----------------------------------------------------------------------------

    def repaint(self) -> None:
        """Paint the answer, what would help, and the rows of the day."""
        super().repaint()
        hours = self.session.hours
        lines: list[Line] = []
        if hours is not None:
            answer, *words = hours_lines(hours)
            self.show_lines("answer", (answer, _ANSWER_STYLES[hours.in_time]))
            lines += ((line, "") for line in words)
            if len(hours.moment.entries) != len(self.session.entries):
                lines.append(("not up to date; space calculates again", "$warning"))
            self._show_helps(hours)
            self._show_rows(hours)
            idle = self.work is not None and not self.work.is_running
            if not hours.helped and idle and not self.stopped:  # forecast anew behind this screen
                self.call_later(self.action_calculate)
        counted = (line for line in self.session.view.setups if line.now and line.frames)
        lines += ((f"{line.title}: {line.frames} of {line.frames_planned} frames", "") for line in counted)
        self.show_lines("words", *lines, *([(self.progress, "$warning")] if self.progress else []))

    def _show_helps(self, hours: Hours) -> None:
        roomy = self.size.height >= _HIGH
        rows = [*remedy_cells(hours, few=not roomy)]
        table = self.query_one("#helps", HoursTable)
        table.display = bool(rows)
        widths = [max(map(len, cells)) + 2 for cells in zip(REMEDY_HEADING, *rows, strict=True)]
        widths[0] = min(widths[0], self.size.width - sum(widths[1:]) - 1)
        columns = [*zip(REMEDY_HEADING, widths, strict=True)]
        table.show(columns, [(None, [Text(self.glyphs.shown(cell)) for cell in cells]) for cells in rows])
        order = self.query_one("#order", Static)
        order.display = roomy and hours.sooner is not None
        order.update(Text(self.glyphs.shown(order_text(hours))))

    def _show_rows(self, hours: Hours) -> None:
        """Show the rows of the day: with a chart and minutes side by side, or one of them where there is no room."""
        wide = self.size.width >= WIDE
        names = _WIDE_COLUMNS if wide else _MINUTES_COLUMNS if self.minutes else _CHART_COLUMNS
        rows: list[tuple[Row | None, Cells]] = [(row, row_cells(hours, row)) for row in hours.day.all]
        rows += [(None, cells) for cells in total_cells(hours)]
        places = [ROW_HEADING.index(name) for name in names]
        widths = [max(len(texts[n]) for texts in (ROW_HEADING, *(texts for _, texts in rows))) + 1 for n in places]
        columns = [("setup", _NAME), *zip(names, widths, strict=True)]
        room = self.size.width - _NAME - sum(widths) - 1
        chart = None
        if room >= _LEAST_CHART and (wide or not self.minutes):
            chart = chart_of(hours, room, PLAIN if self.glyphs.ascii else SIGNS)
            columns.append((chart.axis, room))
        two = chart is not None and hours.begun and self.size.height >= _HIGH + len(rows)
        lines: list[TableRow] = []
        tones = tone_styles(self.app.theme_variables, colour=not self.app.no_color)
        for row, texts in rows:
            cells = [Text(self._row_name(row, texts)), *(Text(_aligned(texts[n], ROW_HEADING[n])) for n in places)]
            if chart is not None:
                cells.append(_bars(chart, row, tones, two=two) if row else Text())
            for cell in cells[: len(places) + 1]:
                cell.stylize("bold" if row is None or row.state == "now" else "")
            lines.append((2 if two and row else 1, cells))
        self.query_one("#rows", HoursTable).show(columns, lines)
        glyphs = self.glyphs
        states = f"{glyphs.done} done", f"{glyphs.here} now", f"{glyphs.to_do} to come"
        legend = (*states, *(chart.legend if chart else ("break, change, wait and shoot are minutes",)))
        self.show_lines("legend", *_filled(legend, self.size.width))

    def _row_name(self, row: Row | None, texts: Cells) -> str:
        """Return the name of a row with the sign of its state; of a sum, its name and what it comes to."""
        glyphs = self.glyphs
        sign = {"done": glyphs.done, "now": glyphs.here, "to come": glyphs.to_do}[row.state] if row else ""
        return glyphs.fit(f"{sign} {texts[0]}" if row else " ".join(texts[:2]), _NAME - 1)


def _filled(parts: Iterable[str], width: int) -> list[str]:
    """Return parts on as many lines as they take, none broken."""
    lines = [""]
    for part in parts:
        joined = f"{lines[-1]}  {part}".lstrip()
        lines[-1:] = [joined] if len(joined) <= width else [lines[-1], part]
    return lines


def _aligned(text: str, heading: str) -> str:
    """Return the text of a cell: minutes at the right, under their heading."""
    return text.rjust(len(heading)) if heading in _NUMBERS else text


def _bars(chart: Chart, row: Row, tones: Mapping[str, Style], *, two: bool) -> Text:
    """Return the bar of a row, and beneath it the bar as planned where there is room for ``two``."""
    styles = {chart.signs[name]: tones[tone] for name, tone in _SIGN_TONES.items()}
    bars = [chart.bar(row, over_plan=False), chart.plan_bar(row)] if two else [chart.bar(row)]
    text = Text(no_wrap=True)
    for sign in "\n".join(bars):
        text.append(sign, styles.get(sign, ""))
    return text
