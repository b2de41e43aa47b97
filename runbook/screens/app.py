"""The app: a session, a clock, and the screens round them."""

from __future__ import annotations

import asyncio
import signal
import traceback
from collections.abc import Callable
from contextlib import suppress
from datetime import datetime
from typing import ClassVar

from rich.text import Text
from textual.app import App
from textual.binding import Binding, BindingType

from runbook.journal.trouble import JournalTrouble
from runbook.screens.ask import Choose, Tell
from runbook.screens.base import DayScreen
from runbook.screens.far import FarScreen
from runbook.screens.glyphs import Glyphs
from runbook.screens.journal import JournalScreen
from runbook.screens.keys import ALL_KEYS
from runbook.screens.set import SetScreen
from runbook.screens.stands import StandsScreen
from runbook.session.session import Refused, Session

Clock = Callable[[], datetime]
# What a shell expects of a program that a signal ended: 128 and the signal's number.
_ENDED_BY: dict[signal.Signals, int] = {signal.SIGTERM: 143, signal.SIGHUP: 129}


class RunbookApp(App[int]):
    """The running day on a terminal."""

    CSS_PATH = "runbook.tcss"
    ENABLE_COMMAND_PALETTE = False
    HORIZONTAL_BREAKPOINTS = [  # noqa: RUF012 - Textual reads it from the class
        (0, "-tiny"),
        (40, "-narrow"),
        (120, "-wide"),
    ]
    VERTICAL_BREAKPOINTS = [(0, "-flat"), (10, "-tall")]  # noqa: RUF012
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("s", "show('set')", "set", show=False),
        Binding("d", "show('floor')", "floor", show=False),
        Binding("t", "show('stands')", "stands", show=False),
        Binding("j", "show('journal')", "journal", show=False),
        Binding("z", "show('far')", "far", show=False),
        Binding("question_mark", "keys", "keys", show=False),
        Binding("q,ctrl+q", "leave", "leave", show=False, priority=False),
        Binding("ctrl+c", "leave", "leave", show=False),
    ]

    def __init__(self, session: Session, clock: Clock, glyphs: Glyphs) -> None:
        super().__init__()
        self.session = session
        self.clock = clock
        self.glyphs = glyphs
        self.said = ""
        self.broken: str | None = None

    def on_mount(self) -> None:
        """Show the set; from then on the minute hand moves by itself."""
        loop = asyncio.get_running_loop()
        for number, code in _ENDED_BY.items():
            loop.add_signal_handler(number, self._end, code)
        self.push_screen(SetScreen())
        self.set_interval(10, self.refresh_screens)
        self.run_worker(self._work_out, thread=True, exit_on_error=False)

    def _work_out(self) -> None:
        self.session.work_out()
        self.call_from_thread(self.refresh_screens)

    def _end(self, code: int) -> None:
        self.exit(return_code=code)

    # -- doing things --------------------------------------------------------------------------

    def do(self, action: Callable[[], object], said: str = "") -> bool:
        """Do something to the day and show it; a refusal or a journal's trouble is told instead."""
        try:
            action()
        except Refused as why:
            self.say(str(why))
            return False
        except JournalTrouble as trouble:
            self._tell_trouble(action, trouble, said)
            return False
        self.say(said)
        return True

    def say(self, text: str) -> None:
        """One line to the person, until the next thing happens."""
        self.said = text
        self.refresh_screens()

    def refresh_screens(self) -> None:
        """Paint the screen at hand again from what is true now."""
        for screen in self.screen_stack:
            show = getattr(screen, "show_truth", None)
            if show is not None and screen.is_mounted:
                show()

    def _tell_trouble(
        self, action: Callable[[], object], trouble: JournalTrouble, said: str
    ) -> None:
        """The journal cannot take it: try again, go on without a record, or stop here."""

        def answered(answer: str | None) -> None:
            if answer == "again":
                self.do(action, said)
            elif answer == "without":
                self.session.go_on_without_record()
                self.do(action, said)
            elif answer == "stop":
                self.exit(return_code=1)
            else:
                self.say(f"not recorded, so not done: {trouble.what}")

        self.push_screen(
            Choose(
                f"NOT RECORDED: {trouble.what}. {trouble.do}.",
                [
                    ("a", "try again", "again"),
                    ("w", "go on without a record on disk", "without"),
                    ("x", "stop here; everything said before is safe", "stop"),
                ],
                self.glyphs,
            ),
            answered,
        )

    # -- going about -----------------------------------------------------------------------------

    def action_show(self, name: str) -> None:
        """Go to a screen; the set is always underneath."""
        screens: dict[str, type[DayScreen]] = {
            "stands": StandsScreen,
            "journal": JournalScreen,
            "far": FarScreen,
        }
        if name == "floor":  # draws with much that the first screen can do without
            from runbook.screens.floor import FloorScreen

            screens[name] = FloorScreen
        if isinstance(self.screen, (Choose, Tell)):
            return
        while len(self.screen_stack) > 2:
            self.pop_screen()
        if name in screens:
            self.push_screen(screens[name]())

    def action_keys(self) -> None:
        """Every key, on one page."""
        self.push_screen(Tell(Text(self.glyphs.shown_lines(ALL_KEYS))))

    def action_leave(self) -> None:
        """Leave the day: it stays where it is."""

        def answered(answer: str | None) -> None:
            if answer == "leave":
                with suppress(JournalTrouble):  # a courtesy to the log; nothing is lost without
                    self.session.leave()
                self.exit(return_code=0)

        self.push_screen(
            Choose(
                "Leave the day? It stays on this step.",
                [("y", "leave", "leave"), ("n", "stay", None)],
                self.glyphs,
            ),
            answered,
        )

    # -- when all else fails ---------------------------------------------------------------------

    def _handle_exception(self, error: Exception) -> None:
        """A fault of ours: out with a plain line, the details kept for whoever mends it.

        Textual prints a traceback here; a person on a set can do nothing with one.
        """
        if self.is_headless:
            super()._handle_exception(error)
            return
        self.broken = "".join(traceback.format_exception(error))
        self.exit(return_code=3)
