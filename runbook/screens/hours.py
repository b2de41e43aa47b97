"""The hours screen: the day as planned and as it goes, as bars, and when it will end."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from typing import ClassVar, Final

from textual.binding import BindingType
from textual.widget import Widget
from textual.worker import Worker, WorkerState, get_current_worker

from runbook.day.hours import DRAWS, Hours, Row, hours_of
from runbook.day.hours_text import hours_lines, late_text
from runbook.day.order_proposal import Stopped, sooner_order
from runbook.day.remaining_day import DayMoment
from runbook.screens.base import DayScreen
from runbook.screens.help import key
from runbook.screens.text import Glyphs, Line
from runbook.screens.widgets.lines import Log

_NAME: Final = 18
_TIMES: Final = 12
_LATE: Final = 14
_SIGNS: Final = {"done": "█", "now": "▓", "to come": "▒"}
_PLAIN_SIGNS: Final = {"done": "#", "now": "%", "to come": "="}
_STYLES: Final = {"done": "dim", "now": "bold", "to come": ""}


class HoursScreen(DayScreen):
    """When are we done."""

    KEYS_TITLE = "Hours"
    FOOTER = ("calculate", "take_order", "show('set')", "keys")
    BINDINGS: ClassVar[list[BindingType]] = [
        key("space", "calculate", "calculate again", "calculate again"),
        key("o", "take_order", "take the order", "write the better order"),
        key("escape", "stop", "stop", "stop calculating, or back", shown="esc"),
    ]

    def __init__(self) -> None:
        super().__init__()
        self.progress = ""
        self.work: Worker[Hours] | None = None

    def compose_body(self) -> Iterable[Widget]:
        yield self.lines("title")
        yield Log(self.glyphs, "log")
        yield self.lines("words")

    def on_mount(self) -> None:
        super().on_mount()
        self.action_calculate()

    # -- calculating --------------------------------------------------------------------------

    def action_calculate(self) -> None:
        """Calculate the rest of the day in the background."""
        if self.work is not None and self.work.is_running:
            return
        moment = self.session.moment
        self.work = self.run_worker(lambda: self._calculate(moment), thread=True, exit_on_error=False, group="hours")

    def _calculate(self, moment: DayMoment) -> Hours:
        worker, told = get_current_worker(), ""

        def tell(what: str) -> None:
            nonlocal told
            if worker.is_cancelled:
                raise Stopped
            if what != told:
                told = what
                self.app.call_from_thread(self._show_progress, what)

        changes = self.session.changes
        hours = hours_of(moment, changes, ways_back=True, tell=tell)
        if not worker.is_cancelled:
            self.app.call_from_thread(self._take, hours)  # shown while the order is calculated
        order = sooner_order(moment, changes, DRAWS // 4, tell)
        return replace(hours, sooner=order)

    def _take(self, hours: Hours) -> None:
        self.session.hours = hours
        self.repaint()

    def _show_progress(self, what: str) -> None:
        self.progress = f"calculating {what}; escape stops it"
        self.repaint()

    def on_worker_state_changed(self, event: Worker.StateChanged) -> None:
        """Show that the work is done, was stopped or failed."""
        if event.worker is not self.work:
            return
        if event.state is WorkerState.SUCCESS:
            self.session.hours = event.worker.result
            self.progress = ""
        elif event.state is WorkerState.CANCELLED or isinstance(event.worker.error, Stopped):
            self.progress = "stopped; space calculates again"
        elif event.state is WorkerState.ERROR:
            self.progress = f"cannot be calculated: {event.worker.error}; space tries again"
        self.repaint()

    def action_stop(self) -> None:
        """Stop calculating; with nothing to stop, go back to the set."""
        if self.work is not None and self.work.is_running:
            self.work.cancel()
        else:
            self.day.action_show("set")

    # -- another order ------------------------------------------------------------------------

    def action_take_order(self) -> None:
        """Write the order that ends the day sooner into the plan, asked first."""
        from runbook.screens.planning import open_editor, put_in_order  # not what the start waits for

        better = self.session.hours.sooner if self.session.hours else None
        if better is None:
            self.day.show_message("no other order is known that ends the day sooner")
            return
        if not open_editor(self.day):
            return

        def write(_: object) -> None:
            if put_in_order(self.day, better.whole):
                self.action_calculate()

        choices = [("y", "write it into day.toml", True), ("n", "leave day.toml unchanged", None)]
        self.choose(f"Shoot in this order? {', '.join(better.order)}", choices, write)

    # -- painting -----------------------------------------------------------------------------

    def repaint(self) -> None:
        """Paint the bars and the figures."""
        super().repaint()
        hours = self.session.hours
        title = "hours"
        if hours is not None:
            title += ": planned against real, then expected" if hours.begun else ": as planned"
        self.show_title(title)
        progress = [(self.progress, "yellow")] if self.progress else []
        self.show_lines("words", *([] if hours is None else self._figures(hours)), *progress)
        self.query_one(Log).show([] if hours is None else bars(hours, self.size.width, self.glyphs))

    def _figures(self, hours: Hours) -> list[Line]:
        finish, *others, basis = hours_lines(hours)
        lines = [(finish, "bold"), *((line, "") for line in others), (basis, "dim")]
        if len(hours.moment.entries) != len(self.session.entries):
            lines.append(("from some steps ago; space calculates again", "yellow"))
        return lines


def bars(hours: Hours, width: int, glyphs: Glyphs) -> list[Line]:
    """Return a heading and a line for each setup: name, times, how late, and its bar along the day."""
    room = width - _NAME - _TIMES - _LATE
    start = min([hours.call_s, *(row.times.start_s for row in hours.rows)])
    end = max([hours.wrap_s, hours.finish.p90, *(row.times.end_s for row in hours.rows)])
    signs = _PLAIN_SIGNS if glyphs.ascii else _SIGNS
    if room < 12:
        return [(_narrow_line(row, hours), _STYLES[row.state]) for row in hours.rows]
    scale = (end - start) / room
    legend = f"{signs['done']} done {signs['now']} now {signs['to come']} expected - planned only"
    head = f"{hours.clock.short(start)}{hours.clock.short(end):>{room - 5}}"
    lines = [(glyphs.fit(legend, width - room) + head, "dim")]
    for row in hours.rows:
        text = glyphs.fit(row.times.id, _NAME - 1) + " "
        text += glyphs.fit(f"{hours.clock.short(row.times.start_s)}-{hours.clock.short(row.times.end_s)}", _TIMES)
        text += glyphs.fit(_late_cell(row, hours), _LATE)
        bar = "".join(_cell(row, hours, start + n * scale, start + (n + 1) * scale, signs) for n in range(room))
        lines.append((text + bar.rstrip(), _STYLES[row.state]))
    return lines


def _narrow_line(row: Row, hours: Hours) -> str:
    return f"{hours.clock.short(row.times.end_s)} {row.times.id} {row.state}"


def _late_cell(row: Row, hours: Hours) -> str:
    if row.plan is None:
        return "not planned"
    if not hours.begun:
        return ""
    return late_text(row.late_s)


def _cell(row: Row, hours: Hours, since: float, till: float, signs: dict[str, str]) -> str:
    """Return a cell of a bar: the setup really there, planned there, or the time it is."""
    middle = (since + till) / 2
    if row.times.start_s <= middle < row.times.end_s:
        return signs[row.state]
    if hours.begun and since <= hours.now_s < till:
        return "|"
    if row.plan is not None and row.plan.start_s <= middle < row.plan.end_s:
        return "-"
    return "|" if since <= hours.wrap_s < till else " "
