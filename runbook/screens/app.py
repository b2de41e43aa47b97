"""The app: a session, a clock, and the screens round them."""

from __future__ import annotations

import asyncio
import os
import signal
import threading
from collections.abc import Callable, Sequence
from contextlib import suppress
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from importlib import import_module
from pathlib import Path
from typing import TYPE_CHECKING, Any, ClassVar, Final

from rich.console import RenderableType
from textual.binding import Binding, BindingType
from textual.worker import get_current_worker

from runbook.day.actions import Refused, Session
from runbook.day.day_audit import problems_of
from runbook.day.handover_lines import unsaved_text
from runbook.day.order_proposal import Stopped
from runbook.day.rehearsal import rehearsal_report
from runbook.day.remaining_day import DayMoment
from runbook.journal.errors import JournalError
from runbook.journal.journal import Clock
from runbook.screens.base import WIDE, DayScreen, Message
from runbook.screens.dialogs import Choice, Choose, Dialog, ReadPage
from runbook.screens.help import key, key_page, key_sections
from runbook.screens.key_queue import KeyQueue
from runbook.screens.set import SetScreen
from runbook.screens.text import Glyphs

if TYPE_CHECKING:
    from runbook.files.editor import Editor
    from runbook.model.day import Plan, Problem
    from runbook.model.kit import Measured

# what a journal's trouble says of the file: what was recorded before is there no more
GONE: Final = ("damaged", "foreign", "gone")
_STOP: Final = "stop here; everything before is safe"
_STOP_DAMAGED: Final = "stop here; what was recorded before is only in the damaged file"
BACK: Final = "everything is recorded on disk again"
# What a shell expects of a program that a signal ended: 128 and the signal's number.
_ENDED_BY: Final = {signal.SIGINT: 130, signal.SIGTERM: 143, signal.SIGHUP: 129}
_CUT_OFF: Final = _ENDED_BY[signal.SIGHUP]
_FIRST_UPDATE_S: Final = 1.0  # the first screen and the first keys come before the forecast
_FORECAST_KEEPS: Final = timedelta(minutes=2)  # an older forecast is calculated again
# What putting a terminal back may take when nobody asks whether to leave.
_PATIENCE_S: Final = 1.0


@dataclass(frozen=True, slots=True)
class Rewrite:
    """To write everything in memory again: at ``path``, None for where the journal was."""

    path: Path | None = None


_SCREENS: Final = {
    "floor": ("floor", "FloorScreen"),
    "stands": ("stands", "StandsScreen"),
    "journal": ("journal", "JournalScreen"),
    "hours": ("hours", "HoursScreen"),
    "far": ("far", "FarScreen"),
    "planning": ("planning", "PlanningScreen"),
    "handover": ("handover", "HandoverScreen"),
    "kit-count": ("kit_count", "KitCountScreen"),
}


def _message_text(message: Message, result: Any) -> str:
    return message if isinstance(message, str) else message(result)


class RunbookApp(KeyQueue[int]):
    """The running day on a terminal."""

    TITLE = "runbook"
    CSS_PATH = "runbook.tcss"
    ENABLE_COMMAND_PALETTE = False
    HORIZONTAL_BREAKPOINTS = [  # noqa: RUF012 - Textual reads it from the class
        (0, "-tiny"),
        (40, "-narrow"),
        (WIDE, "-wide"),
    ]
    VERTICAL_BREAKPOINTS = [(0, "-flat"), (10, "-tall")]  # noqa: RUF012
    KEYS_TITLE = "Screens"
    BINDINGS: ClassVar[list[BindingType]] = [
        key("s", "show('set')", "set", "set"),
        key("d", "show('floor')", "floor", "floor, drawn from above"),
        key("t", "show('stands')", "stands", "stands and checklist"),
        key("h", "show('hours')", "hours", "hours, and what they cost"),
        key("j", "show('journal')", "journal", "journal"),
        key("z", "show('far')", "far", "big letters, and back"),
        key("l", "show('planning')", "the plan", "the plan: edit setups, kit"),
        key("y", "show('handover')", "handover", "hand the day over"),
        key("e", "show('kit-count')", "kit count", "count the kit at wrap"),
        key("question_mark", "keys", "keys", "this page", shown="?"),
        key("q", "leave", "leave", "leave; anywhere: ctrl+q"),
        # also out of a question, where the plain keys belong to what is typed
        Binding("ctrl+q,ctrl+c", "leave", "leave", show=False, priority=True, tooltip=""),
        Binding(
            "ctrl+z", "suspend_process", "to the shell", show=False, priority=True, tooltip="to the shell; fg back"
        ),
    ]

    def __init__(self, session: Session, clock: Clock, glyphs: Glyphs) -> None:
        # with no colour wanted, only a terminal's own can be left out; others would turn grey
        super().__init__(ansi_color=True if "NO_COLOR" in os.environ else None)
        self.session = session
        self.clock = clock
        self.glyphs = glyphs
        self.message = ""
        self.broken: Exception | None = None
        self.editor: Editor | None = None  # once the plan was looked at to be edited
        # writes the handover file for whom it is given to; who shows the day knows where
        self.give: Callable[[str], Path] | None = None
        # a free place for the journal where the day's own folder does not take it
        self.spare: Callable[[], Path] | None = None
        self._forecasting = False
        self._forecast_at: datetime | None = None
        # the plan that was checked last, and the readings it was checked with
        self._checked: tuple[Plan, tuple[Measured, ...]] | None = None

    def on_load(self) -> None:
        """Before the terminal is touched: whatever ends the program must put it back."""
        loop = asyncio.get_running_loop()
        for number, code in _ENDED_BY.items():
            loop.add_signal_handler(number, self._end, code)

    def on_mount(self) -> None:
        """Show the set, and keep the clock, the forecast and the check of the plan up to date."""
        self.push_screen(SetScreen())
        self.set_interval(1 if self.session.rehearsal else 10, self.refresh_screens)
        for update in (self._update_forecast, self.check_plan):
            self.set_timer(_FIRST_UPDATE_S, update)
            self.set_interval(10, update)
        if not self.is_headless:
            self.set_interval(0.5, self._end_without_terminal)

    def check_plan(self) -> None:
        """Check the plan in the background with the readings of today, if either changed."""
        asked = (self.session.plan, self.session.state.anchors)
        if self._checked is None or asked[0] is not self._checked[0] or asked[1] != self._checked[1]:
            self._checked = asked
            self.run_worker(lambda: self._check(*asked), thread=True, exit_on_error=False)

    def _check(self, plan: Plan, measured: tuple[Measured, ...]) -> None:
        try:
            problems = problems_of(plan, measured, self.clock().tzinfo or UTC)
        except Exception as error:  # the day can go on without a check
            self.call_from_thread(self.show_message, f"the plan cannot be checked: {error}")
        else:
            self.call_from_thread(self._show_problems, plan, problems)

    def _show_problems(self, plan: Plan, problems: tuple[Problem, ...]) -> None:
        if plan is self.session.plan:  # else it was edited meanwhile, and is being checked again
            self.session.problems = problems
            self.refresh_screens()

    def _update_forecast(self) -> None:
        """Calculate in the background when the day ends, if something happened since the last forecast."""
        hours, now = self.session.hours, self.clock()
        old = self._forecast_at is None or now - self._forecast_at > _FORECAST_KEEPS
        if self._forecasting or not (old or hours is None or len(hours.moment.entries) != len(self.session.entries)):
            return
        self._forecasting, self._forecast_at = True, now
        moment = self.session.moment
        self.run_worker(lambda: self._forecast(moment), thread=True, exit_on_error=False)

    def _forecast(self, moment: DayMoment) -> None:
        worker = get_current_worker()

        def stop_if_cancelled(_: str) -> None:
            if worker.is_cancelled:
                raise Stopped

        try:
            self.session.work_out(moment, stop_if_cancelled)
        except Stopped:
            return
        except Exception as error:  # the day can go on without a forecast
            self.call_from_thread(self.show_message, f"the end of the day cannot be calculated: {error}")
        else:
            self.call_from_thread(self.refresh_screens)
        finally:
            self._forecasting = False

    # -- being ended ---------------------------------------------------------------------------

    def _end(self, code: int) -> None:
        """Leave without asking. A terminal that takes no more writing must not keep us here."""
        last = threading.Timer(_PATIENCE_S, os._exit, (code,))
        last.daemon = True
        last.start()
        self.session.try_to_record()
        self.exit(return_code=code)

    def _end_without_terminal(self) -> None:
        """End where the terminal went away without a signal: reading it would never stop."""
        if not _terminal_is_there():
            self._end(_CUT_OFF)

    # -- doing things --------------------------------------------------------------------------

    def do(self, action: Callable[[], Any], message: Message = "") -> bool:
        """Change the day and show it; a refusal or trouble with the journal is shown instead.

        ``message`` is what to show then, or makes it of the result of the action. Return whether it was done.
        """
        was_off = not self.session.journal.on_disk
        try:
            result = action()
        except Refused as why:
            self.show_message(str(why))
            return False
        except JournalError as trouble:
            self._ask_about_trouble(action, trouble, message)
            return False
        back = BACK if was_off and self.session.journal.on_disk else ""
        self.show_message("; ".join(filter(None, (back, _message_text(message, result)))))
        return True

    def show_message(self, text: str) -> None:
        """Show one line until the next action."""
        self.message = text
        self.refresh_screens()

    def refresh_screens(self) -> None:
        """Repaint the screens of the day."""
        for screen in self.screen_stack:
            if isinstance(screen, DayScreen) and screen.is_mounted and screen.children:  # none while the app ends
                screen.repaint()

    def _ask_about_trouble(self, action: Callable[[], Any], trouble: JournalError, message: Message) -> None:
        """The journal cannot record: ask whether to try again, go on without a record, or stop."""

        def answered(answer: Any) -> None:
            if answer == "again":
                self.do(action, message)
            elif answer == "without":
                self.session.keep_in_memory(on_disk=trouble.kind not in GONE)
                self.do(action, message)
            elif isinstance(answer, Rewrite):
                if self._rewrite(answer):
                    written = self.message
                    self.do(action, lambda result: f"{written}; {_message_text(message, result)}")
            elif answer == "stop":
                self.exit(return_code=1)
            else:
                self.show_message(f"not recorded, so not done: {trouble.what}")

        self.push_screen(
            Choose(
                f"NOT RECORDED: {trouble.what}. {trouble.do}.",
                [
                    ("a", "try again", "again"),
                    *self._places(trouble),
                    ("w", "go on without a record on disk", "without"),
                    ("x", _STOP_DAMAGED if trouble.kind in GONE else _STOP, "stop"),
                ],
                self.glyphs,
            ),
            answered,
        )

    def _rewrite(self, rewrite: Rewrite) -> bool:
        return self.do(lambda: self.session.write_again(rewrite.path), str)

    def _places(self, trouble: JournalError | None) -> list[Choice]:
        """Return where all entries in memory can be written again; in place only where the file is damaged."""
        count = len(self.session.entries)
        places: list[Choice] = []
        if trouble is not None and trouble.kind in GONE:
            places.append(("r", f"write all {count} entries again here; the damaged file is kept beside it", Rewrite()))
        if self.spare is not None:
            place = self.spare()
            places.append(("o", f"write all {count} entries to {place}, and go on there", Rewrite(place)))
        return places

    # -- going to screens --------------------------------------------------------------------------

    def action_show(self, name: str) -> None:
        """Go to a screen; the set is always underneath."""
        if isinstance(self.screen, Dialog):
            return
        screen = None if name == "set" else self._screen(name)
        if name != "set" and screen is None:
            return
        while len(self.screen_stack) > 2:
            self.pop_screen()
        if screen is not None:
            self.push_screen(screen)

    def _screen(self, name: str) -> DayScreen | None:
        """Return a screen, imported where it is first shown; None, with a message, where it cannot be."""
        if name == "planning":
            from runbook.screens.planning import open_editor

            if not open_editor(self):
                return None
        module, kind = _SCREENS[name]
        screen: DayScreen = getattr(import_module(f"runbook.screens.{module}"), kind)()
        return screen

    def action_keys(self) -> None:
        """Show every key of this screen on one page."""
        screen = self.screen
        if not isinstance(screen, DayScreen):
            return
        focused = [] if screen.focused is None else [type(screen.focused)]
        sections = key_sections(type(screen), *focused, type(self))
        self.push_screen(ReadPage(lambda width: key_page(sections, screen.HELP_NOTE, width), self.glyphs))

    def action_leave(self) -> None:
        """Leave the day: it stays as it is. Asked again while it asks, it leaves."""

        def answered(answer: Any) -> None:
            if answer is None or (isinstance(answer, Rewrite) and not self._rewrite(answer)):
                return
            with suppress(JournalError):  # a courtesy to the log; nothing is lost without
                self.session.leave()
            self._show_rehearsal()

        if isinstance(self.screen, Leave):
            self.screen.answer("leave")
            return
        was_off = not self.session.journal.on_disk
        if self.session.try_to_record() and was_off:
            self.show_message(BACK)
        lost = unsaved_text(self.session)
        self.push_screen(Leave(self.glyphs, lost, self._places(None) if lost else []), answered)

    def _show_rehearsal(self) -> None:
        """Exit; after a rehearsal, show its report first."""
        if not self.session.rehearsal:
            self.exit(return_code=0)
            return
        report = "\n".join(rehearsal_report(self.session.entries, self.session.changes))
        self.push_screen(ReadPage(lambda _: report, self.glyphs), lambda _: self.exit(return_code=0))

    # -- when all else fails ---------------------------------------------------------------------

    def _handle_exception(self, error: Exception) -> None:
        """A fault of ours: out of the screens, for whoever ran the app to say so in a line.

        Textual prints a traceback here; a person on a set can do nothing with one.
        """
        if self.is_headless:
            super()._handle_exception(error)
            return
        self.broken = self.broken or error
        self.exit(return_code=1)

    def panic(self, *_renderables: RenderableType) -> None:
        """The keys cannot be read any more. Without a terminal nobody is there to be told."""
        if _terminal_is_there():
            self._handle_exception(RuntimeError("the terminal cannot be read"))
        else:
            self._end(_CUT_OFF)


class Leave(Choose):
    """Whether to leave the day, what is ``lost`` with it, and the ``places`` to write it first."""

    def __init__(self, glyphs: Glyphs, lost: str = "", places: Sequence[Choice] = ()) -> None:
        choices = [("y", "leave", "leave"), ("n", "stay", None), *places]
        question = f"Leave? {lost}." if lost else "Leave the day? It stays on this step."
        super().__init__(question, choices, glyphs)


def _terminal_is_there() -> bool:
    return os.isatty(0)
