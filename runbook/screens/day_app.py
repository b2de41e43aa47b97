"""What the screens of the day ask of the app that shows them."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any, Protocol

from textual.worker import Worker

from runbook.day.session import Session
from runbook.journal.store import Clock
from runbook.screens.glyphs import Glyphs

if TYPE_CHECKING:  # most days nobody edits the plan
    from runbook.files.editor import Editor

Said = str | Callable[[Any], str]


class DayApp(Protocol):
    """The app, as far as its screens know it.

    ``said`` is the line last said. ``editor`` is there once the plan was looked at to be edited.
    ``give`` writes the handover file for whom it is given to; None where nobody knows where to.
    """

    session: Session
    clock: Clock
    glyphs: Glyphs
    said: str
    editor: Editor | None
    give: Callable[[str], Path] | None

    def do(self, action: Callable[[], Any], said: Said = "") -> bool:
        """Do something to the day and show it; a refusal or a journal's trouble is told instead.

        ``said`` is what to say then, or makes it out of what the action gives back.
        """

    def say(self, text: str) -> None:
        """One line to the person, until the next thing happens."""

    def check_plan(self) -> None:
        """Work out beside the keys what a check finds in the plan, for the set to show."""

    def after_keys(self, worker: Worker[Any]) -> bool:
        """For work beside the keys, every now and then: wait for them; whether to stop."""

    def action_show(self, name: str) -> None:
        """Go to a screen; the set is always underneath."""
