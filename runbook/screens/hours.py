"""The hours screen: the day as planned and as it goes, as bars, and when it will end."""

from __future__ import annotations

from dataclasses import replace
from typing import ClassVar, Final

from rich.text import Text
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.widgets import Static
from textual.worker import Worker, WorkerState, get_current_worker

from runbook.day.hours import DRAWS, Hours, Row, hours_of
from runbook.day.hours_text import (
    basis_text,
    finish_text,
    late_text,
    overtime_text,
    savings_lines,
    sooner_lines,
    wrap_text,
)
from runbook.day.order_proposal import sooner_order
from runbook.day.planned_day import Stopped
from runbook.day.remaining_day import Moment
from runbook.screens.base import DayScreen
from runbook.screens.keys import HOURS
from runbook.screens.text import Glyphs, Words, cut, fit, lines, rule

_NAME: Final = 18
_TIMES: Final = 12
_LATE: Final = 14
_SIGNS: Final = {"done": "█", "now": "▓", "to come": "▒"}
_PLAIN_SIGNS: Final = {"done": "#", "now": "%", "to come": "="}
_STYLES: Final = {"done": "dim", "now": "bold", "to come": ""}


class HoursScreen(DayScreen):
    """When are we done."""

    KEYS = HOURS
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("up", "scroll(-1)", "up", show=False),
        Binding("down", "scroll(1)", "down", show=False),
        Binding("pageup", "scroll(-10)", "up", show=False),
        Binding("pagedown", "scroll(10)", "down", show=False),
        Binding("space", "again", "work out again", show=False),
        Binding("o", "take_order", "take the other order", show=False),
        Binding("escape", "stop", "stop", show=False),
    ]

    def __init__(self) -> None:
        super().__init__()
        self.first = 0
        self.working = ""
        self.work: Worker[Hours] | None = None

    def compose(self) -> ComposeResult:
        yield Words(id="top")
        yield Words(id="title")
        yield Words(id="log")
        yield Words(id="words")
        yield Words(id="message")
        yield Words(id="keys")

    def on_mount(self) -> None:
        super().on_mount()
        self.action_again()

    # -- working it out -----------------------------------------------------------------------

    def action_again(self) -> None:
        """Work out the day anew, beside the keys."""
        if self.work is not None and self.work.is_running:
            return
        moment = self.session.moment
        self.work = self.run_worker(lambda: self._work_out(moment), thread=True, exit_on_error=False, group="hours")

    def _work_out(self, moment: Moment) -> Hours:
        worker = get_current_worker()

        def tell(what: str) -> None:
            if not worker.is_cancelled:
                self.app.call_from_thread(self._progress, what)

        def should_stop() -> bool:
            return self.day.after_keys(worker)

        changes = self.session.changes
        hours = hours_of(moment, changes, ways_back=True, should_stop=should_stop, tell=tell)
        if not worker.is_cancelled:
            self.app.call_from_thread(self._take, hours)  # what is known is shown meanwhile
        found = sooner_order(moment, changes, DRAWS // 4, should_stop=should_stop, tell=tell)
        return replace(hours, sooner=found)

    def _take(self, hours: Hours) -> None:
        self.session.hours = hours
        self.repaint()

    def _progress(self, what: str) -> None:
        self.working = f"working out {what}; escape stops it"
        self.repaint()

    def on_worker_state_changed(self, event: Worker.StateChanged) -> None:
        """Done, stopped, or failed: each is said."""
        if event.worker is not self.work:
            return
        if event.state is WorkerState.SUCCESS:
            self.session.hours = event.worker.result
            self.working = ""
        elif event.state is WorkerState.CANCELLED:
            self.working = "stopped; space works it out again"
        elif event.state is WorkerState.ERROR:
            error = event.worker.error
            stopped = isinstance(error, Stopped)
            self.working = "stopped" if stopped else f"it cannot be worked out: {error}"
            self.working += "; space tries again"
        self.repaint()

    def action_stop(self) -> None:
        """Stop working; with nothing to stop, back to the set."""
        if self.work is not None and self.work.is_running:
            self.work.cancel()
        else:
            self.day.action_show("set")

    # -- another order ------------------------------------------------------------------------

    def action_take_order(self) -> None:
        """Write the order that ends the day sooner into the plan, asked first."""
        from runbook.screens.planning import opened, put_in_order  # not what the start waits for

        found = self.session.hours.sooner if self.session.hours else None
        if found is None:
            self.day.show_message("no other order is known that ends the day sooner")
        elif opened(self.day):
            choices = [("y", "write it into day.toml", True), ("n", "leave it as it is", False)]
            question = f"Shoot in this order? {', '.join(found.order)}"

            def answered(yes: bool) -> None:
                if yes and put_in_order(self.day, found.whole):
                    self.action_again()

            self.choose(question, choices, answered)

    # -- painting -----------------------------------------------------------------------------

    def repaint(self) -> None:
        """Paint the bars and the words."""
        super().repaint()
        width, glyphs = self.size.width, self.glyphs
        hours = self.session.hours
        title = "hours"
        if hours is not None and hours.begun:
            title += ": planned against real, then expected"
        elif hours is not None:
            title += ": as planned"
        self.query_one("#title", Static).update(Text(rule(title, width, glyphs), style="dim", no_wrap=True))
        words = [] if hours is None else self._words(hours)
        if self.working:
            words.append((self.working, "yellow"))
        self.query_one("#words", Static).update(lines(*((cut(text, width, glyphs), style) for text, style in words)))
        height = max(self.query_one("#log", Static).size.height, 1)
        painted = [] if hours is None else bars(hours, width, glyphs)
        self.first = max(min(self.first, len(painted) - height), 0)
        self.query_one("#log", Static).update(lines(*painted[self.first : self.first + height]))

    def _words(self, hours: Hours) -> list[tuple[str, str]]:
        day = self.session.plan.day
        told = [
            (finish_text(hours), "bold"),
            (wrap_text(hours), ""),
            (overtime_text(day, hours), ""),
            *((each, "") for each in savings_lines(day, hours)),
            *((each, "") for each in sooner_lines(day, hours)),
            (basis_text(hours), "dim"),
        ]
        if hours.entries != len(self.session.entries):
            told.append(("as it was some steps ago; space works it out again", "yellow"))
        return told

    def action_scroll(self, by: int) -> None:
        self.first += by
        self.repaint()


def bars(hours: Hours, width: int, glyphs: Glyphs) -> list[tuple[str, str]]:
    """A heading and a line for each setup: name, times, how late, and its bar down the day."""
    room = width - _NAME - _TIMES - _LATE
    start = min([hours.call_s, *(row.start_s for row in hours.rows)])
    end = max([hours.wrap_s, hours.finish.p90, *(row.end_s for row in hours.rows)])
    signs = _PLAIN_SIGNS if glyphs.ascii else _SIGNS
    if room < 12:
        return [(cut(_narrow(row, hours), width, glyphs), _STYLES[row.state]) for row in hours.rows]
    scale = (end - start) / room
    key = f"{signs['done']} done {signs['now']} now {signs['to come']} expected - planned only"
    head = f"{hours.clock.short(start)}{hours.clock.short(end):>{room - 5}}"
    told = [(fit(key, width - room, glyphs) + head, "dim")]
    for row in hours.rows:
        text = fit(row.id, _NAME - 1, glyphs) + " "
        text += fit(f"{hours.clock.short(row.start_s)}-{hours.clock.short(row.end_s)}", _TIMES, glyphs)
        text += fit(_late(row, hours), _LATE, glyphs)
        bar = "".join(_cell(row, hours, start + n * scale, start + (n + 1) * scale, signs) for n in range(room))
        told.append((text + bar.rstrip(), _STYLES[row.state]))
    return told


def _narrow(row: Row, hours: Hours) -> str:
    return f"{hours.clock.short(row.end_s)} {row.id} {row.state}"


def _late(row: Row, hours: Hours) -> str:
    if row.plan is None:
        return "not planned"
    if not hours.begun:
        return ""
    return late_text(row.late_s)


def _cell(row: Row, hours: Hours, since: float, till: float, signs: dict[str, str]) -> str:
    """What one cell of a bar shows: the setup really there, planned there, or the time it is."""
    middle = (since + till) / 2
    if row.start_s <= middle < row.end_s:
        return signs[row.state]
    if hours.begun and since <= hours.now_s < till:
        return "|"
    if row.plan is not None and row.plan.start_s <= middle < row.plan.end_s:
        return "-"
    return "|" if since <= hours.wrap_s < till else " "
