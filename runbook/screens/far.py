"""The far screen: the step at hand and the power to dial, in letters read across the studio."""

from __future__ import annotations

import re
from collections.abc import Iterable
from typing import ClassVar, Final

from rich.text import Text
from textual.binding import BindingType
from textual.widget import Widget

from runbook.day.stand_view import alarms
from runbook.screens.base import DayScreen
from runbook.screens.big_text import big_rows, letters_that_fit
from runbook.screens.help import key
from runbook.screens.set import held_text, nothing_to_do
from runbook.screens.text import wrap_words
from runbook.screens.widgets.lines import Drawing
from runbook.screens.widgets.lists import Row, first_open, rows

# What a text can be cut before, its first part kept.
_PART: Final = re.compile(r"[,;] | \(| from the mark")
_LEAST: Final = 24  # in fewer columns letters break every word


class FarScreen(DayScreen):
    """What do I do now, from four metres."""

    KEYS_TITLE = "Big letters"
    FOOTER = ("tick", "undo", "back", "keys")
    BINDINGS: ClassVar[list[BindingType]] = [
        key("space", "tick", "done", "the step shown is done"),
        key("z", "back", "back", "back to the set"),
        key("escape", "back", "back", "back to the set", shown="esc"),
    ]

    def compose_body(self) -> Iterable[Widget]:
        yield Drawing(self._painted, "far")

    def repaint(self) -> None:
        """Paint the next thing to do."""
        super().repaint()
        self.query_one(Drawing).refresh()

    def _row(self) -> Row | None:
        """The first single thing to do: blocks are opened, one step at a time reads best."""
        listed = rows(self.session.view, frozenset())
        row = listed[first_open(listed)] if listed else None
        return None if row is None or row.over else row

    def _words(self) -> list[list[str]]:
        """What is to be read, whole, and then in fewer and fewer words, down to the first few."""
        row = self._row()
        if row is None:
            return _fewer_parts(self._nothing())
        if row.check is not None:
            return [[text] for text in _shorter(f"CHECK: {row.check.text}")]
        step = row.steps[0]
        if step.verb == "power":
            return [[step.item, str(step.to)]]
        light = self.session.view.target.light.get(step.thing) if self.session.view.target else None
        power = [] if light is None or step.verb == "strike" else [f"{light.head} {light.power}"]
        also = [held_text(self.session)] if self.session.state.floor.in_hands else []
        also += [danger.partition(":")[0] for danger in alarms(self.session.view)[:1]]
        # the power has a step of its own: it goes before any word of this one does
        return [[step.text, *power, *also], *([text, *also] for text in _shorter(step.text))]

    def _nothing(self) -> list[str]:
        """Where no step is left: that it stands, and what every head is to say."""
        session = self.session
        if session.state.on_break is not None:
            return ["ON A BREAK"]
        if not session.state.begun:
            return ["NOT BEGUN"]
        if session.state.wrapping:
            return ["STRUCK"]
        if dangers := alarms(session.view):
            return [danger.partition(":")[0] for danger in dangers]
        return ["READY", *(f"{head.head} {head.power}" for head in session.view.heads)]

    def _painted(self, width: int, height: int) -> Text:
        """All of the words as big as they fit, or as many as fit, and all of them plain below.

        Plain alone where no letter fits.
        """
        whole, *fewer = self._words()
        tries = [(whole, size) for size in (3, 2, 1)] + [(texts, 1) for texts in fewer]
        for texts, size in tries if width >= _LEAST else ():
            if size > 1 and self._broken(texts, width, size):
                continue
            painted = self._big_lines(texts, width, size)
            if texts is not whole:
                left = height - len(painted)
                painted += self.glyphs.wrap(", ".join(whole), width, left)
            if len(painted) <= height:
                return Text("\n".join(painted), style="bold", no_wrap=True)
        painted = [line for word in whole for line in self.glyphs.wrap(word, width, height)]
        if len(painted) > height:
            painted = self.glyphs.wrap(", ".join(whole), width, height)
        return Text("\n".join(painted), style="bold", no_wrap=True)

    def _big_lines(self, words: list[str], width: int, size: int) -> list[str]:
        painted: list[str] = []
        for word in words:
            plain = self.glyphs.shown(word).replace(";", ",")  # the face has no semicolon
            for line in wrap_words(plain, letters_that_fit(width, size)):
                painted += [*([""] if painted else []), *big_rows(line, self.glyphs, size)]
        return painted

    def _broken(self, words: list[str], width: int, size: int) -> bool:
        """Whether a word would be cut in two; bigger letters are not worth that."""
        room = letters_that_fit(width, size)
        return any(len(self.glyphs.shown(part)) > room for word in words for part in word.split())

    def action_tick(self) -> None:
        """The thing shown is done."""
        row = self._row()
        if row is None:
            self.day.show_message(nothing_to_do(self.session))
            return
        if row.check is not None:
            check = row.check
            self.day.do(lambda: self.session.tick_check(check))
        else:
            step = row.steps[0]
            self.day.do(lambda: self.session.tick(step))

    def action_back(self) -> None:
        self.day.action_show("set")


def _shorter(text: str) -> list[str]:
    """A text whole, then without its last part, and so on; then word by word down to the first."""
    parts = [text[: match.start()] for match in _PART.finditer(text)]
    words = (parts[0] if parts else text).split()
    return [text, *reversed(parts), *(" ".join(words[:n]) for n in range(len(words) - 1, 0, -1))]


def _fewer_parts(words: list[str]) -> list[list[str]]:
    return [words[:n] for n in range(len(words), 0, -1)]
