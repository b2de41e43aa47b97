"""The app: a session, a clock, and the screens round them."""

from __future__ import annotations

import asyncio
import os
import signal
import sys
import threading
from collections.abc import Callable, Sequence
from contextlib import suppress
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING, Any, ClassVar, Final, NamedTuple

from rich.console import RenderableType
from rich.text import Text
from textual import events
from textual.binding import Binding, BindingType
from textual.worker import Worker, get_current_worker

from runbook.day.actions import Refused, Session
from runbook.day.day_audit import problems_of
from runbook.day.handover_lines import unsaved_text
from runbook.day.planned_day import Stopped
from runbook.day.rehearsal import rehearsal_report
from runbook.day.remaining_day import Moment
from runbook.journal.store import Clock
from runbook.journal.trouble import JournalTrouble
from runbook.screens.base import WIDE, DayScreen, Said
from runbook.screens.dialogs import Choose, ReadPage
from runbook.screens.far import FarScreen
from runbook.screens.hours import HoursScreen
from runbook.screens.journal import JournalScreen
from runbook.screens.key_queue import KeyQueue
from runbook.screens.keys import all_keys
from runbook.screens.set import SetScreen
from runbook.screens.stands import StandsScreen
from runbook.screens.text import Glyphs

if TYPE_CHECKING:
    from runbook.files.editor import Editor
    from runbook.model.day import Plan
    from runbook.model.kit import Measured
    from runbook.model.problems import Problem

# what a journal's trouble says of the file: what was recorded before is there no more
GONE: Final = ("damaged", "foreign", "gone")
_STOP: Final = "stop here; everything said before is safe"
_STOP_DAMAGED: Final = "stop here; of what was said before only the damaged file is left"
BACK: Final = "everything is recorded on disk again"
# What a shell expects of a program that a signal ended: 128 and the signal's number.
_ENDED_BY: Final = {signal.SIGINT: 130, signal.SIGTERM: 143, signal.SIGHUP: 129}
_CUT_OFF: Final = _ENDED_BY[signal.SIGHUP]
_HAND_OVER_S: Final = 0.001
_KEYS_TAKE_S: Final = 0.2
_FIRST_SEEN_S: Final = 1.0  # the screen comes first, and the first keys; then when the day ends
_CLOCK_KEEPS: Final = timedelta(minutes=2)  # a forecast older than that is worked out anew
# What putting a terminal back may take when nobody asks whether to leave.
_PATIENCE_S: Final = 1.0


class Rewrite(NamedTuple):
    """To write everything in memory again: at ``path``, None for where the journal was."""

    path: Path | None = None


def _text(said: Said, done: Any) -> str:
    return said if isinstance(said, str) else said(done)


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
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("s", "show('set')", "set", show=False),
        Binding("d", "show('floor')", "floor", show=False),
        Binding("t", "show('stands')", "stands", show=False),
        Binding("j", "show('journal')", "journal", show=False),
        Binding("h", "show('hours')", "hours", show=False),
        Binding("z", "show('far')", "far", show=False),
        Binding("l", "show('planning')", "edit the plan", show=False),
        Binding("y", "show('handover')", "handover", show=False),
        Binding("e", "show('home')", "kit home", show=False),
        Binding("question_mark", "keys", "keys", show=False),
        Binding("q", "leave", "leave", show=False),
        # also out of a question, where the plain keys belong to what is typed
        Binding("ctrl+q,ctrl+c", "leave", "leave", show=False, priority=True),
        Binding("ctrl+z", "suspend_process", "to the shell", show=False, priority=True),
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
        self.clocking = False
        self.clocked: datetime | None = None
        # what was checked last: the plan, and the readings it was checked with
        self._checked: tuple[Plan, tuple[Measured, ...]] | None = None
        self._no_key = threading.Event()  # set while no key waits to be shown
        self._no_key.set()

    def on_load(self) -> None:
        """Before the terminal is touched: whatever ends the program must put it back."""
        loop = asyncio.get_running_loop()
        for number, code in _ENDED_BY.items():
            loop.add_signal_handler(number, self._end, code)

    def on_mount(self) -> None:
        """Show the set; from then on the minute hand moves by itself."""
        self.push_screen(SetScreen())
        # work beside the keys must hand over to them sooner than an interpreter does by itself
        sys.setswitchinterval(_HAND_OVER_S)
        self.set_interval(1 if self.session.rehearsal else 10, self.refresh_screens)
        self.set_interval(10, self._keep_clock)
        self.set_timer(_FIRST_SEEN_S, self._keep_clock)
        self.set_timer(_FIRST_SEEN_S, self.check_plan)
        self.set_interval(10, self.check_plan)
        if not self.is_headless:
            self.set_interval(0.5, self._look_for_terminal)

    def check_plan(self) -> None:
        """Work out beside the keys what a check finds in the plan with the readings of today.

        Nothing is done where neither has changed since the last time.
        """
        asked = (self.session.plan, self.session.state.anchors)
        if self._checked is None or asked[0] is not self._checked[0] or asked[1] != self._checked[1]:
            self._checked = asked
            self.run_worker(lambda: self._check(*asked), thread=True, exit_on_error=False)

    def _check(self, plan: Plan, measured: tuple[Measured, ...]) -> None:
        try:
            problems = problems_of(plan, measured, self.clock().tzinfo or UTC)
        except Exception as error:  # the day can be walked all the same
            self.call_from_thread(self.show_message, f"the plan cannot be checked: {error}")
        else:
            self.call_from_thread(self._show_problems, plan, problems)

    def _show_problems(self, plan: Plan, problems: tuple[Problem, ...]) -> None:
        if plan is self.session.plan:  # else it was edited meanwhile, and is being checked anew
            self.session.problems = problems
            self.refresh_screens()

    def _keep_clock(self) -> None:
        """Work out anew when the day ends, beside the keys, where something happened since."""
        hours, now = self.session.hours, self.clock()
        old = self.clocked is None or now - self.clocked > _CLOCK_KEEPS
        if self.clocking or not (old or hours is None or hours.entries != len(self.session.entries)):
            return
        self.clocking, self.clocked = True, now
        moment = self.session.moment
        self.run_worker(lambda: self._work_out(moment), thread=True, exit_on_error=False)

    def _work_out(self, moment: Moment) -> None:
        worker = get_current_worker()
        try:
            self.session.work_out(moment, lambda: self.after_keys(worker))
        except Stopped:
            return
        except Exception as error:  # the day can be walked without knowing when it ends
            why = f"the end of the day cannot be worked out: {error}"
            self.call_from_thread(self.show_message, why)
        else:
            self.call_from_thread(self.refresh_screens)
        finally:
            self.clocking = False

    async def on_event(self, event: events.Event) -> None:
        """Keys come first: what works beside them waits until what a key did is painted."""
        if isinstance(event, events.Key):
            self._no_key.clear()
            self.call_after_refresh(self._no_key.set)
        await super().on_event(event)

    def after_keys(self, worker: Worker[Any]) -> bool:
        """For work beside the keys, every now and then: wait for them; whether to stop."""
        self._no_key.wait(_KEYS_TAKE_S)
        return worker.is_cancelled

    # -- being ended ---------------------------------------------------------------------------

    def _end(self, code: int) -> None:
        """Leave without asking. A terminal that takes no more writing must not keep us here."""
        last = threading.Timer(_PATIENCE_S, os._exit, (code,))
        last.daemon = True
        last.start()
        self.session.try_to_record()
        self.exit(return_code=code)

    def _look_for_terminal(self) -> None:
        """A terminal that went away without a signal: reading it would turn in circles."""
        if not _terminal_is_there():
            self._end(_CUT_OFF)

    # -- doing things --------------------------------------------------------------------------

    def do(self, action: Callable[[], Any], said: Said = "") -> bool:
        """Do something to the day and show it; a refusal or a journal's trouble is told instead.

        ``said`` is what to say then, or makes it out of what the action gives back: the screen is
        painted once.
        """
        was_off = not self.session.journal.on_disk
        try:
            done = action()
        except Refused as why:
            self.show_message(str(why))
            return False
        except JournalTrouble as trouble:
            self._tell_trouble(action, trouble, said)
            return False
        text = said if isinstance(said, str) else said(done)
        back = was_off and self.session.journal.on_disk
        self.show_message("; ".join(each for each in (BACK if back else "", text) if each))
        return True

    def show_message(self, text: str) -> None:
        """One line to the person, until the next thing happens."""
        self.message = text
        self.refresh_screens()

    def refresh_screens(self) -> None:
        """Paint the screen at hand again from what is true now."""
        for screen in self.screen_stack:
            show = getattr(screen, "repaint", None)
            if show is not None and screen.is_mounted:
                show()

    def _tell_trouble(self, action: Callable[[], Any], trouble: JournalTrouble, said: Said) -> None:
        """The journal cannot take it: try again, go on without a record, or stop here."""

        def answered(answer: Any) -> None:
            if answer == "again":
                self.do(action, said)
            elif answer == "without":
                self.session.keep_in_memory(on_disk=trouble.kind not in GONE)
                self.do(action, said)
            elif isinstance(answer, Rewrite):
                if self.do(lambda: self.session.write_again(answer.path), str):
                    written = self.message
                    self.do(action, lambda done: f"{written}; {_text(said, done)}")
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

    def _places(self, trouble: JournalTrouble | None) -> list[tuple[str, str, Any]]:
        """Where all that is in memory can be written again; in place only what is damaged."""
        count = len(self.session.entries)
        found: list[tuple[str, str, Any]] = []
        if trouble is not None and trouble.kind in GONE:
            text = f"write all {count} entries again here; the damaged file is kept beside it"
            found.append(("r", text, Rewrite()))
        if self.spare is not None:
            place = self.spare()
            text = f"write all {count} entries to {place}, and go on there"
            found.append(("o", text, Rewrite(place)))
        return found

    # -- going about -----------------------------------------------------------------------------

    def action_show(self, name: str) -> None:
        """Go to a screen; the set is always underneath."""
        screens: dict[str, type[DayScreen]] = {
            "stands": StandsScreen,
            "hours": HoursScreen,
            "journal": JournalScreen,
            "far": FarScreen,
        }
        if name == "floor":  # draws with much that the first screen can do without
            from runbook.screens.floor import FloorScreen

            screens[name] = FloorScreen
        if name in ("handover", "home"):  # once or twice a day
            from runbook.screens.handover import HandoverScreen
            from runbook.screens.kit_count import KitCountScreen

            screens |= {"handover": HandoverScreen, "home": KitCountScreen}
        if isinstance(self.screen, (Choose, ReadPage)):
            return
        if name == "planning":
            from runbook.screens.planning import PlanningScreen, opened

            if not opened(self):
                return
            screens[name] = PlanningScreen
        while len(self.screen_stack) > 2:
            self.pop_screen()
        if name in screens:
            self.push_screen(screens[name]())

    def action_keys(self) -> None:
        """Every key, on one page."""
        self.push_screen(ReadPage(lambda width: Text(self.glyphs.shown_lines(all_keys(width)))))

    def action_leave(self) -> None:
        """Leave the day: it stays where it is. Asked again while it asks, it leaves."""

        def answered(answer: Any) -> None:
            if isinstance(answer, Rewrite) and not self.do(lambda: self.session.write_again(answer.path), str):
                return
            if answer is not None:
                with suppress(JournalTrouble):  # a courtesy to the log; nothing is lost without
                    self.session.leave()
                self._show_rehearsal()

        if isinstance(self.screen, Leave):
            self.screen.answer("leave")
            return
        was_off = not self.session.journal.on_disk
        if self.session.try_to_record() and was_off:
            self.show_message(BACK)
        lost = unsaved_text(self.session.journal.unwritten)
        places = self._places(None) if lost else []
        self.push_screen(Leave(self.glyphs, lost, places), answered)

    def _show_rehearsal(self) -> None:
        """Out; after a rehearsal by way of what it showed."""
        if not self.session.rehearsal:
            self.exit(return_code=0)
            return
        told = "\n".join(rehearsal_report(self.session.entries, self.session.changes))
        shown = ReadPage(Text(self.glyphs.shown_lines(told)))
        self.push_screen(shown, lambda _: self.exit(return_code=0))

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

    def __init__(self, glyphs: Glyphs, lost: str = "", places: Sequence[tuple[str, str, Any]] = ()) -> None:
        choices = [("y", "leave", "leave"), ("n", "stay", None), *places]
        question = f"Leave? {lost}." if lost else "Leave the day? It stays on this step."
        super().__init__(question, choices, glyphs)


def _terminal_is_there() -> bool:
    return os.isatty(0)
