"""The hours screen: the day as planned and as it goes, as bars, and when it will end."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from typing import ClassVar, Final

from textual.binding import BindingType
from textual.widget import Widget
from textual.worker import Worker, WorkerState

from runbook.day.hours import DRAWS, Hours, Row, hours_of
from runbook.day.hours_text import hours_lines, late_text
from runbook.day.order_proposal import sooner_order
from runbook.day.remaining_day import DayMoment
from runbook.model.progress import Stopped
from runbook.screens.base import DayScreen, asking
from runbook.screens.keys import key
from runbook.screens.lists import Log
from runbook.screens.text import Glyphs, Line

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
        self.action_calculate()

    # -- calculating --------------------------------------------------------------------------

    def action_calculate(self) -> None:
        """Calculate the rest of the day in the background."""
        if self.work is None or not self.work.is_running:
            moment = self.session.moment
            self.work = self.run_worker(lambda: self._calculate(moment), thread=True, exit_on_error=False)

    def _calculate(self, moment: DayMoment) -> Hours:
        def tell(what: str) -> None:
            self.day.pause_for_keys()
            if what not in self.progress:
                self.app.call_from_thread(self._show_progress, what)

        changes = self.session.changes
        hours = hours_of(moment, changes, ways_back=True, tell=tell)
        self.app.call_from_thread(self._show_hours, hours)  # while the order is calculated
        return replace(hours, sooner=sooner_order(moment, changes, DRAWS // 4, tell))

    def _show_hours(self, hours: Hours) -> None:
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

    @asking
    async def action_take_order(self) -> None:
        """Write the order that ends the day sooner into the plan, asked first."""
        from runbook.screens.planning import open_editor, put_in_order  # not what the start waits for

        better = self.session.hours.sooner if self.session.hours else None
        if better is None:
            self.day.show_message("no other order is known that ends the day sooner")
        elif open_editor(self.day):
            choices = [("y", "write it into day.toml", True), ("n", "leave day.toml unchanged", None)]
            await self.choose(f"Shoot in this order? {', '.join(better.order)}", choices)
            if put_in_order(self.day, better.whole):
                self.action_calculate()

    # -- painting -----------------------------------------------------------------------------

    def repaint(self) -> None:
        """Paint the bars and the figures."""
        super().repaint()
        hours = self.session.hours
        title, lines, shown = "hours", list[Line](), list[Line]()
        if hours is not None:
            title += ": planned against real, then expected" if hours.begun else ": as planned"
            finish, *figures, basis = hours_lines(hours)
            lines += [(finish, "bold"), *((line, "") for line in figures), (basis, "dim")]
            if len(hours.moment.entries) != len(self.session.entries):
                lines.append(("from some steps ago; space calculates again", "yellow"))
            shown = bars(hours, self.size.width, self.glyphs)
        self.show_title(title)
        self.show_lines("words", *lines, *([(self.progress, "yellow")] if self.progress else []))
        self.query_one(Log).show(shown)


def bars(hours: Hours, width: int, glyphs: Glyphs) -> list[Line]:
    """Return a heading and a line for each setup: name, times, how late, and its bar along the day."""
    room = width - _NAME - _TIMES - _LATE
    short = hours.clock.short
    if room < 12:
        return [(f"{short(row.times.end_s)} {row.times.id} {row.state}", _STYLES[row.state]) for row in hours.rows]
    start = min([hours.call_s, *(row.times.start_s for row in hours.rows)])
    end = max([hours.wrap_s, hours.finish.p90, *(row.times.end_s for row in hours.rows)])
    scale = (end - start) / room
    signs = _PLAIN_SIGNS if glyphs.ascii else _SIGNS
    legend = f"{signs['done']} done {signs['now']} now {signs['to come']} expected - planned only"
    head = f"{short(start)}{short(end):>{room - 5}}"
    lines = [(glyphs.fit(legend, width - room) + head, "dim")]
    for row in hours.rows:
        late = "not planned" if row.plan is None else late_text(row.late_s) if hours.begun else ""
        text = glyphs.fit(row.times.id, _NAME - 1) + " "
        text += glyphs.fit(f"{short(row.times.start_s)}-{short(row.times.end_s)}", _TIMES) + glyphs.fit(late, _LATE)
        bar = "".join(_cell(row, hours, start + n * scale, start + (n + 1) * scale, signs) for n in range(room))
        lines.append((text + bar.rstrip(), _STYLES[row.state]))
    return lines


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
