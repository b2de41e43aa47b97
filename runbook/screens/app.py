"""The app: a session, a clock, and the screens round them."""

from __future__ import annotations

import asyncio
import os
import signal
import threading
from collections.abc import Callable, Iterable
from contextlib import suppress
from datetime import UTC
from functools import partial
from importlib import import_module
from pathlib import Path
from time import monotonic, sleep
from typing import TYPE_CHECKING, Any, ClassVar, Final

from rich.console import RenderableType
from textual.app import SystemCommand
from textual.binding import Binding, BindingType
from textual.command import CommandList, CommandPalette
from textual.content import Content
from textual.screen import Screen
from textual.worker import Worker, WorkerFailed, get_current_worker

from runbook.day.actions import Refused, Session
from runbook.day.day_audit import problems_of
from runbook.day.handover_lines import unsaved_text
from runbook.day.rehearsal import rehearsal_report
from runbook.journal.errors import JournalError
from runbook.journal.journal import Clock
from runbook.model.progress import Stopped, Tell
from runbook.screens.base import WIDE, Cancelled, Choice, Choose, DayScreen, Dialog, ReadPage, asking, key_page
from runbook.screens.keys import KeyQueue, key
from runbook.screens.set import SetScreen
from runbook.screens.text import Glyphs
from runbook.screens.themes import NAMES, NO_COLOUR, THEMES, keep_theme, kept_theme, with_reversed_cursor

if TYPE_CHECKING:
    from runbook.files.form_editor import FormEditor
    from runbook.model.day import Plan, Problem
    from runbook.model.kit import Measured

Message = str | Callable[[Any], str]  # what to show after an action, or what makes it of its result

# what a journal's trouble says of the file: what was recorded before is there no more
GONE: Final = ("damaged", "foreign", "gone")
_STOP: Final = "quit; everything before this is saved"
_STOP_DAMAGED: Final = "quit; what was recorded before is only in the damaged file"
BACK: Final = "everything is recorded on disk again"
# What a shell expects of a program that a signal ended: 128 and the signal's number.
_ENDED_BY: Final = {signal.SIGINT: 130, signal.SIGTERM: 143, signal.SIGHUP: 129}
_CUT_OFF: Final = _ENDED_BY[signal.SIGHUP]
_FORECAST_EVERY_S: Final = 10.0  # where something happened since the last one
_FORECAST_KEEPS_S: Final = 120.0  # an older forecast is calculated again
_MESSAGE_S: Final = 12.0  # how long a message stays
# What putting a terminal back may take when nobody asks whether to leave.
_PATIENCE_S: Final = 1.0


class Palette(CommandPalette):
    """The command palette, in a window of any size."""

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        """Leave the list alone where it has no room: the library's page keys would fail."""
        if action == "command_list" and not self.query_one(CommandList).scrollable_content_region:
            return False
        return super().check_action(action, parameters)


class RunbookApp(KeyQueue[int]):
    """The running day on a terminal."""

    TITLE = "runbook"
    CSS_PATH = "runbook.tcss"
    HORIZONTAL_BREAKPOINTS = [  # noqa: RUF012 - Textual reads it from the class
        (0, "-tiny"),
        (40, "-narrow"),
        (WIDE, "-wide"),
    ]
    VERTICAL_BREAKPOINTS = [(0, "-flat"), (12, "-tall")]  # noqa: RUF012
    BINDING_GROUP_TITLE = "Everywhere"
    BINDINGS: ClassVar[list[BindingType]] = [
        key("s", "show('set')", "set", "what to do now"),
        key("t", "show('stands')", "stands", "the stands and the checklist"),
        key("h", "show('hours')", "hours", "when the day ends, and what overtime costs"),
        key("j", "show('journal')", "journal", "what happened"),
        key("z", "show('far')", "far", "big letters; back"),
        key("l", "show('planning')", "plan", "edit the setups, the day and the kit"),
        key("y", "show('handover')", "handover", "hand the day over"),
        key("e", "show('kit_count')", "kit count", "count the kit at the wrap"),
        key("T", "next_theme", "theme", "lit room, dark or dim red"),
        key("question_mark", "keys", "keys", "all keys of this screen", shown="?"),
        key("q", "leave", "leave", "leave the day (ctrl+q too)"),
        # also out of a question, where the plain keys belong to what is typed
        Binding("ctrl+q,ctrl+c", "leave", "leave", show=False, priority=True),
        Binding("ctrl+p", "command_palette", "palette", show=False, priority=True, tooltip="find a key by its name"),
        Binding(
            "ctrl+z",
            "suspend_process",
            "to the shell",
            show=False,
            priority=True,
            tooltip="suspend the program; fg brings it back",
        ),
    ]
    # how long the keys must rest before anything is calculated in the background, which slows them down
    REST_S: ClassVar[float] = 0.5

    def __init__(self, session: Session, clock: Clock, glyphs: Glyphs) -> None:
        # with no colour wanted, only a terminal's own can be left out; others would turn grey
        super().__init__(ansi_color=True if "NO_COLOR" in os.environ else None)
        self.animation_level = "none"  # what a key does is there at once
        self.session = session
        self.clock = clock
        self.glyphs = glyphs
        self.message = ""
        self.broken: Exception | None = None
        self.desk: FormEditor | None = None  # once the plan was looked at to be edited
        # writes the handover file for whom it is given to; who shows the day knows where
        self.give: Callable[[str], Path] | None = None
        # a free place for the journal where the day's own folder does not take it
        self.spare: Callable[[], Path] | None = None
        self._background: Worker[None] | None = None
        self._forecast_at = -_FORECAST_KEEPS_S
        # the plan that was checked last, and the readings it was checked with
        self._checked: tuple[Plan, tuple[Measured, ...]] | None = None

    def on_load(self) -> None:
        """Before the terminal is touched: whatever ends the program must put it back."""
        loop = asyncio.get_running_loop()
        for number, code in _ENDED_BY.items():
            loop.add_signal_handler(number, self._end, code)

    def on_mount(self) -> None:
        """Show the set, and keep the clock, the forecast and the check of the plan up to date."""
        few = self.console.color_system == "standard"
        for theme in (*THEMES, NO_COLOUR):
            self.register_theme(with_reversed_cursor(theme) if few else theme)
        self.theme = NO_COLOUR.name if self.no_color else kept_theme()
        self.set_class(self.glyphs.ascii, "-ascii")
        self.push_screen(SetScreen())
        self._messages = self.set_interval(_MESSAGE_S, partial(self.show_message, ""))
        self.set_interval(1 if self.session.rehearsal else 10, self.refresh_screens)
        self.set_interval(self.REST_S, self._update)
        if not self.is_headless:
            self.set_interval(0.5, self._end_without_terminal)

    # -- in the background ---------------------------------------------------------------------

    def _update(self) -> None:
        """Forecast the end of the day and check the plan in the background, where they are out of date."""
        if not self.resting or (self._background is not None and self._background.is_running):
            return
        session, age_s = self.session, monotonic() - self._forecast_at
        changed = session.hours is None or len(session.hours.moment.entries) != len(session.entries)
        asked = (session.plan, session.state.anchors)
        if age_s >= (_FORECAST_EVERY_S if changed else _FORECAST_KEEPS_S):
            self._forecast_at = monotonic()
            moment = session.moment
            self._calculate("the end of the day", partial(session.work_out, moment), lambda _: self.refresh_screens())
        elif self._checked is None or asked[0] is not self._checked[0] or asked[1] != self._checked[1]:
            self._checked = asked
            zone = self.clock().tzinfo or UTC
            self._calculate(
                "the check of the plan",
                lambda tell: problems_of(*asked, zone, tell),
                partial(self._show_problems, session.plan),
            )

    def _calculate(self, what: str, calculate: Callable[[Tell], Any], then: Callable[[Any], None]) -> None:
        """Calculate something in a thread; the day can go on without it."""

        def run() -> None:
            try:
                result = calculate(self.pause_for_keys)
            except Stopped:
                return
            except Exception as error:
                self.call_from_thread(self.show_message, f"{what} cannot be calculated: {error}")
            else:
                self.call_from_thread(then, result)

        self._background = self.run_worker(run, thread=True, exit_on_error=False)

    @property
    def resting(self) -> bool:
        """Whether no key came for a while."""
        return self.quiet_s >= self.REST_S

    def pause_for_keys(self, _doing: str = "", _done: int = 0, _of: int = 0) -> None:
        """Wait, in the thread of a worker, until the keys rest. Raises Stopped where the worker is cancelled."""
        worker = get_current_worker()
        while not (self.resting or worker.is_cancelled):
            sleep(0.02)
        if worker.is_cancelled:
            raise Stopped

    def _show_problems(self, plan: Plan, problems: tuple[Problem, ...]) -> None:
        if plan is self.session.plan:  # else it was edited meanwhile, and is checked again
            self.session.problems = problems
            self.refresh_screens()

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
        if not os.isatty(0):
            self._end(_CUT_OFF)

    def _handle_exception(self, error: Exception) -> None:
        """End on an error in the program, for whoever ran the app to report in a line.

        Textual prints a traceback here; a person on a set can do nothing with one.
        """
        if self.is_headless:
            super()._handle_exception(error)
            return
        self.broken = self.broken or (error.error if isinstance(error, WorkerFailed) else error)  # type: ignore[assignment]
        self.exit(return_code=1)

    def panic(self, *_renderables: RenderableType) -> None:
        """End where the keys cannot be read any more."""
        self._end_without_terminal()
        if os.isatty(0):
            self._handle_exception(RuntimeError("the terminal cannot be read"))

    # -- doing things --------------------------------------------------------------------------

    def do(self, action: Callable[[], Any], message: Message = "", before: str = "") -> bool:
        """Change the day and show it; a refusal or trouble with the journal is shown instead.

        ``message`` is what to show then, or makes it of the result of the action; ``before`` is shown in front of it.
        Return whether it was done.
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
        text = message if isinstance(message, str) else message(result)
        self.show_message("; ".join(filter(None, (before, back, text))))
        return True

    def show_message(self, text: str) -> None:
        """Show what was done, or why not; it goes with the next action or after a while."""
        self.message = text
        self._messages.reset()
        self.refresh_screens()

    def refresh_screens(self) -> None:
        """Repaint the screen of the day that is in view, be it under a question."""
        for screen in reversed(self.screen_stack):
            if isinstance(screen, DayScreen) and screen.is_mounted and self.is_running:  # not while the app ends
                screen.repaint()
                return

    @asking
    async def _ask_about_trouble(self, action: Callable[[], Any], trouble: JournalError, message: Message) -> None:
        """The journal cannot record: ask whether to try again, go on without a record, or stop."""
        gone = trouble.kind in GONE

        def without() -> str:
            self.session.keep_in_memory(on_disk=not gone)
            return ""

        choices: list[Choice] = [
            ("a", "try again", str),
            *self._places(gone=gone),
            ("w", "go on without a record on disk", without),
            ("x", _STOP_DAMAGED if gone else _STOP, partial(self.exit, return_code=1)),
        ]
        try:
            prepare = await Choose(f"NOT RECORDED: {trouble.what}. {trouble.do}.", choices, self.glyphs).answer_on(self)
        except Cancelled:
            self.show_message(f"not recorded, so not done: {trouble.what}")
            return
        written = prepare()
        if written is not None:
            self.do(action, message, written)

    def _places(self, *, gone: bool) -> list[Choice]:
        """Return where all entries in memory can be written again; in place only where the file is ``gone``."""
        count = len(self.session.entries)
        places: list[Choice] = []
        if gone:
            text = f"write all {count} entries again here; the damaged file is kept beside it"
            places.append(("r", text, self._write_again))
        if self.spare is not None:
            place = self.spare()
            text = f"write all {count} entries to {place}, and go on there"
            places.append(("o", text, partial(self._write_again, place)))
        return places

    def _write_again(self, path: Path | None = None) -> str | None:
        """Write everything in memory again, None for where the journal was; return what was done, or None."""
        return self.message if self.do(lambda: self.session.write_again(path), str) else None

    # -- going to screens ----------------------------------------------------------------------

    def action_show(self, name: str) -> None:
        """Go to a screen, imported where it is first shown; the set is always underneath."""
        if isinstance(self.screen, Dialog):
            return
        screen: DayScreen | None = None
        if name != "set":
            module = import_module(f"runbook.screens.{name}")
            if name == "planning" and not import_module("runbook.screens.plan_edit").open_editor(self):
                return
            screen = getattr(module, f"{name.title().replace('_', '')}Screen")()
        while len(self.screen_stack) > 2:
            self.pop_screen()
        if screen is not None:
            self.push_screen(screen)

    def action_keys(self) -> None:
        """Show all keys of this screen on one page."""
        if isinstance(self.screen, DayScreen):
            self.push_screen(ReadPage(partial(key_page, self.screen), self.glyphs))

    def get_key_display(self, binding: Binding) -> str:
        """Return a key as this terminal can show it."""
        return binding.key_display or binding.key if self.glyphs.ascii else super().get_key_display(binding)

    def format_title(self, title: str, sub_title: str) -> Content:
        """Return the header: both are as bright, and dashes are left to terminals that have them."""
        return Content("   ".join(filter(None, (title, sub_title))))

    def action_next_theme(self) -> None:
        """Change to the next theme, and keep it for the next time."""
        if not self.no_color:
            self.theme = NAMES[(NAMES.index(self.theme) + 1) % len(NAMES)]
            keep_theme(self.theme)
            self.show_message(f"colours: {self.theme}")

    def action_command_palette(self) -> None:
        """Show the palette, over no question."""
        if isinstance(self.screen, DayScreen):
            # with the library's id, one that is being closed would be in its way
            self.push_screen(Palette(placeholder="type a part of its name"))

    def get_system_commands(self, screen: Screen[Any]) -> Iterable[SystemCommand]:
        """Yield every key of the screen for the command palette."""
        for node, binding, enabled, explanation in screen.active_bindings.values():
            if enabled and explanation:  # the library's own have none
                run = partial(self.run_action, binding.action, node)
                title = f"{binding.description}  ({self.get_key_display(binding)})"
                yield SystemCommand(title, explanation, run)

    def action_leave(self) -> None:
        """Leave the day: it stays as it is. Asked again while it asks, it leaves."""
        if isinstance(self.screen, Choose) and self.screen.name == "leave":
            self.screen.answer(str)
        else:
            self._ask_to_leave()

    @asking
    async def _ask_to_leave(self) -> None:
        was_off = not self.session.journal.on_disk
        if self.session.try_to_record() and was_off:
            self.show_message(BACK)
        lost = unsaved_text(self.session)
        question = f"Leave? {lost}." if lost else "Leave the day? It stays on this step."
        places = self._places(gone=False) if lost else []
        choices = [("y", "leave", str), ("n", "stay", None), *places]
        prepare = await Choose(question, choices, self.glyphs, name="leave").answer_on(self)
        if prepare() is None:
            return
        with suppress(JournalError):  # a courtesy to the log; nothing is lost without
            self.session.leave()
        if self.session.rehearsal:
            report = [*rehearsal_report(self.session.entries, self.session.changes)]
            await self.push_screen_wait(ReadPage(lambda _: report, self.glyphs))
        self.exit(return_code=0)
