"""The actions on the light and the camera: set a power, enter a reading, count frames."""

from __future__ import annotations

from typing import ClassVar, Final

from textual.binding import BindingType

from runbook.day.actions import Refused
from runbook.day.parse_input import ReadingOption, hint, parse_frames, reading_options
from runbook.day.repeat_setup import save_measurement, save_question
from runbook.screens.base import DayScreen, numbered
from runbook.screens.help import key

MOST_HEADS: Final = 8  # in the table
_NO_SETUP: Final = "no current setup; n begins one"


class LightActions(DayScreen):
    """The keys of the heads and the camera. ``head`` is the row picked in their table."""

    KEYS_TITLE = "Light and camera"
    BINDINGS: ClassVar[list[BindingType]] = [
        *(key(str(n), f"head({n})", "head", "pick a head", shown="1-9") for n in range(1, 10)),
        key("plus,equals_sign", "nudge(1)", "up", "power one click up or down", shown="+"),
        key("minus", "nudge(-1)", "down", "power one click up or down", shown="-"),
        key("o", "other", "other", "any other value, as shot"),
        key("r", "reading", "meter", "meter the head; all heads"),
        key("R", "reading_of_all", "meter all", "meter the head; all heads"),
        key("p", "set_planned_power", "power", "set the planned power"),
        key("m", "save_reading", "save reading", "save a reading in kit.toml"),
        key("f", "frames", "frames", "count frames"),
    ]

    def __init__(self) -> None:
        super().__init__()
        self.head = 0

    def action_head(self, n: int) -> None:
        """Pick a head for power and readings."""
        shown = min(len(self.session.view.heads), MOST_HEADS)
        if n <= shown:
            self.head = n - 1
            self.repaint()
        else:
            self.day.show_message(f"no head {n} here; the table has {shown or 'none'}")

    def _head_label(self) -> str | None:
        heads = self.session.view.heads
        return heads[min(self.head, len(heads) - 1)].head if heads else None

    def _power_of(self, head: str) -> object:
        return next(line.power for line in self.session.view.heads if line.head == head)

    def action_nudge(self, clicks: int) -> None:
        """Turn the head's own dial by a click."""
        head = self._head_label()
        if head is None:
            self.day.show_message(_NO_SETUP)
            return
        old = self._power_of(head)
        self.day.do(lambda: self.session.nudge(head, clicks), lambda new: f"{head}: {old} to {new}, as shot")

    def action_other(self) -> None:
        """Enter another value of the head picked or of the camera, as shot."""
        session, head = self.session, self._head_label()
        if session.view.setup is None:
            self.day.show_message(_NO_SETUP)
            return
        self.ask(
            f"Change {f'{head} or the camera' if head else 'the camera'}, as shot:",
            hint(session.plan.day.units, head=head is not None),
            lambda text: session.targets(head, text),
            lambda changes: self.day.do(lambda: session.change(changes), lambda changed: f"{changed}, as shot"),
        )

    def action_reading(self) -> None:
        """Enter what the meter showed for the head picked."""
        self._ask_reading(self._head_label())

    def action_reading_of_all(self) -> None:
        """Enter what the meter showed for all heads together."""
        self._ask_reading(None)

    def _ask_reading(self, of: str | None) -> None:
        if not self.session.view.heads:
            self.day.show_message(_NO_SETUP)
            return
        what = "all heads together" if of is None else f"{of} alone"
        self.ask(
            f"Meter reading at {self.session.metered_at(of)}, {what}:",
            "like 5.6, or 5.6 +0.3" + ("" if of is None else "; R: all together"),
            reading_options,
            lambda options: self._choose_reading(of, options),
        )

    def _choose_reading(self, of: str | None, options: tuple[ReadingOption, ...]) -> None:
        """Record a reading; where what was typed has two meanings, the one that is chosen."""
        if len(options) == 1:
            self._record_reading(of, options[0].stops)
            return
        choices = numbered((option.text, option.stops) for option in options)
        self.choose("Which does the meter show?", choices, lambda stops: self._record_reading(of, stops))

    def _record_reading(self, of: str | None, stops: float) -> None:
        self.day.do(lambda: self.session.reading(of, stops), str)

    def action_set_planned_power(self) -> None:
        """Set the power that gives the light the plan asks of the head picked."""
        head = self._head_label()
        if head is None:
            self.day.show_message(_NO_SETUP)
            return
        old = self._power_of(head)

        def change_text(_: object) -> str:
            new = self._power_of(head)
            return f"{head}: {old} to {new}, as planned" if new != old else f"{head}: unchanged"

        self.day.do(lambda: self.session.dial_as_asked(head), change_text)

    def action_save_reading(self) -> None:
        """Save the picked head's last reading in kit.toml, for other days; asked first."""
        head = self._head_label()
        if head is None:
            self.day.show_message(_NO_SETUP)
            return
        try:
            question, effect = save_question(self.session, head)
        except Refused as why:
            self.day.show_message(str(why))
            return
        self.choose(
            question,
            [("y", effect, True), ("n", "leave kit.toml unchanged", None)],
            lambda _: self.day.do(lambda: save_measurement(self.session, head), str),
            at=1,
        )

    def action_frames(self) -> None:
        """Count frames."""
        if self.session.view.setup is None:
            self.day.show_message(_NO_SETUP)
            return
        self.ask(
            "How many more frames?",
            "like 36; -4 corrects",
            parse_frames,
            lambda count: self.day.do(lambda: self.session.frames(count), "frames counted"),
        )
