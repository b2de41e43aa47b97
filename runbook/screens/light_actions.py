"""What a person does to the light and the camera: turn a dial, meter, count frames, note."""

from __future__ import annotations

from typing import ClassVar

from textual.binding import Binding, BindingType

from runbook.day.actions import Refused
from runbook.day.parse_input import ReadingOption, hint, parse_frames, parse_words, reading_options
from runbook.day.save_measurement import save_measurement, save_question
from runbook.screens.base import DayScreen
from runbook.screens.set_paint import MOST_HEADS

_NO_SETUP = "no setup is at work; n begins one"


class LightActions(DayScreen):
    """The keys of the heads and the camera. ``head`` is the row picked in their table."""

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("plus,equals_sign", "nudge(1)", "up", show=False),
        Binding("minus", "nudge(-1)", "down", show=False),
        Binding("r", "reading", "reading", show=False),
        Binding("R", "reading_of_all", "reading of everything", show=False),
        Binding("o", "other", "another target as shot", show=False),
        Binding("p", "as_asked", "dial as asked", show=False),
        Binding("m", "keep", "keep the reading", show=False),
        Binding("f", "frames", "frames", show=False),
        Binding("w", "note", "note", show=False),
        *(Binding(str(n), f"head({n})", "head", show=False) for n in range(1, 10)),
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
            self.day.show_message(f"there is no head {n} here; the table has {shown or 'none'}")

    def _head_label(self) -> str | None:
        heads = self.session.view.heads
        return heads[min(self.head, len(heads) - 1)].head if heads else None

    def action_nudge(self, clicks: int) -> None:
        """One click of the head's own dial."""
        head = self._head_label()
        if head is None:
            self.day.show_message(_NO_SETUP)
            return
        old = next(line.power for line in self.session.view.heads if line.head == head)
        self.day.do(lambda: self.session.nudge(head, clicks), lambda new: f"{head}: {old} to {new}, as shot")

    def action_other(self) -> None:
        """Another target of the head picked, or of the camera, as it really is."""
        session, head = self.session, self._head_label()
        if session.view.setup is None:
            self.day.show_message(_NO_SETUP)
            return
        self.ask(
            f"{f'{head} or the camera' if head else 'The camera'}, as it really is:",
            hint(session.plan.day.units, head=head is not None),
            lambda text: session.targets(head, text),
            lambda changes: self.day.do(lambda: session.change(changes), lambda told: f"{told}, as shot"),
        )

    def action_reading(self) -> None:
        """Type in what the meter showed for the head picked."""
        self._ask_reading(self._head_label())

    def action_reading_of_all(self) -> None:
        """Type in what the meter showed for everything together."""
        self._ask_reading(None)

    def _ask_reading(self, of: str | None) -> None:
        if not self.session.view.heads:
            self.day.show_message(_NO_SETUP)
            return
        what = "everything together" if of is None else f"{of} alone"
        self.ask(
            f"The meter at {self.session.metered_at(of)}, {what}:",
            "like 5.6, or 5.6 +0.3" if of is None else "like 5.6, or 5.6 +0.3; R: all together",
            reading_options,
            lambda meanings: self._meant(of, meanings),
        )

    def _meant(self, of: str | None, meanings: tuple[ReadingOption, ...]) -> None:
        """Record a reading; of two meanings, the one that is chosen."""
        if len(meanings) == 1:
            self._read(of, meanings[0].stops)
            return
        choices = [(str(n), meaning.text, meaning.stops) for n, meaning in enumerate(meanings, 1)]
        self.choose("Which does the meter show?", choices, lambda stops: self._read(of, stops))

    def _read(self, of: str | None, stops: float) -> None:
        said: list[str] = []
        if self.day.do(lambda: said.append(self.session.reading(of, stops))):
            self.day.show_message(said[0])

    def action_as_asked(self) -> None:
        """Dial the power that gives what the plan asks of the head picked."""
        head = self._head_label()
        if head is None:
            self.day.show_message(_NO_SETUP)
            return
        old = next(line.power for line in self.session.view.heads if line.head == head)
        if self.day.do(lambda: self.session.dial_as_asked(head)):
            new = next(line.power for line in self.session.view.heads if line.head == head)
            self.day.show_message(f"{head}: {old} to {new}, as asked" if new != old else f"{head} is so")

    def action_keep(self) -> None:
        """Keep the picked head's last reading in kit.toml, for other days; asked first."""
        head = self._head_label()
        if head is None:
            self.day.show_message(_NO_SETUP)
            return
        try:
            question, does = save_question(self.session, head)
        except Refused as why:
            self.day.show_message(str(why))
            return

        def answered(answer: str) -> None:
            if answer == "keep":
                self.day.do(lambda: save_measurement(self.session, head), str)

        choices = [("y", does, "keep"), ("n", "leave kit.toml as it is", "leave")]
        self.choose(question, choices, answered, 1)

    def action_frames(self) -> None:
        """Count frames."""
        if self.session.view.setup is None:
            self.day.show_message(_NO_SETUP)
            return
        self.ask(
            "How many frames more?",
            "like 36; -4 corrects",
            parse_frames,
            lambda count: self.day.do(lambda: self.session.frames(count), "frames counted"),
        )

    def action_note(self) -> None:
        """Write a note."""
        self.ask(
            "A note:",
            "a few words",
            parse_words,
            lambda text: self.day.do(lambda: self.session.note(text), "note kept"),
        )
