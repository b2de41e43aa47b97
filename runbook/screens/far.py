"""The far screen: the current step and the power to set, in letters read across the studio."""

from __future__ import annotations

import re
from collections.abc import Iterable
from pathlib import Path
from typing import ClassVar, Final

from rich.text import Text
from textual.binding import BindingType
from textual.widget import Widget
from textual.widgets import Static

from runbook.day.stand_view import alarms
from runbook.screens.base import DayScreen
from runbook.screens.keys import key
from runbook.screens.lists import Lines, Row, open_row, rows
from runbook.screens.set_lines import held_text, nothing_to_do
from runbook.screens.text import Glyphs, wrap_words

# What a text can be cut before, its first part kept.
_PART: Final = re.compile(r"[,;] | \(| from the mark")
_LEAST: Final = 24  # in fewer columns letters break every word

# -- letters: a 5 x 7 face, painted with blocks; in its file, a sign and then its rows ----------

HEIGHT: Final = 7
_LINES: Final = (Path(__file__).parent / "face.txt").read_text("utf-8").split("\n")
_FACE: Final = {_LINES[n]: _LINES[n + 1 : n + 1 + HEIGHT] for n in range(0, len(_LINES) - 1, HEIGHT + 1)}
_FACE[" "] = ["....."] * HEIGHT


def letters_that_fit(cells: int, size: int = 1) -> int:
    """Return how many big letters of a size fit side by side in so many cells."""
    return max((cells + size) // (6 * size), 1)


def big_rows(text: str, glyphs: Glyphs, size: int = 1) -> list[str]:
    """Return one line of big letters as rows of blocks; ``size`` 2 is twice as wide and as high."""
    letters = [_FACE.get(char, _FACE["?"]) for char in text.upper()]
    small = [".".join(letter[row] for letter in letters).replace(".", " ") for row in range(HEIGHT)]
    pixels = ["".join(dot * size for dot in row) for row in small for _ in range(size)]
    if glyphs.ascii:
        return [row.replace("#", glyphs.full) for row in pixels]
    if len(pixels) % 2:
        pixels.append(" " * len(pixels[0]))
    half = {("#", "#"): glyphs.full, ("#", " "): glyphs.upper, (" ", "#"): glyphs.lower, (" ", " "): " "}
    pairs = zip(pixels[::2], pixels[1::2], strict=True)
    return ["".join(half[dots] for dots in zip(upper, lower, strict=True)) for upper, lower in pairs]


def _shorter(text: str) -> list[str]:
    """Return a text whole, then without its last part, and so on; then word by word down to the first."""
    parts = [text[: match.start()] for match in _PART.finditer(text)]
    words = (parts[0] if parts else text).split()
    return [text, *reversed(parts), *(" ".join(words[:n]) for n in range(len(words) - 1, 0, -1))]


class FarScreen(DayScreen):
    """What do I do now, from four metres."""

    BINDING_GROUP_TITLE = "Big letters"
    FOOTER = ("tick", "undo", "app.show('set')", "keys")
    BINDINGS: ClassVar[list[BindingType]] = [
        key("space", "tick", "done", "the step shown is done"),
        key("z", "app.show('set')", "back", "back to the set"),
        key("escape", "app.show('set')", "back", "back to the set", shown="esc"),
    ]

    def compose_body(self) -> Iterable[Widget]:
        yield Static(id="far", markup=False)

    def repaint(self) -> None:
        """Paint the next thing to do."""
        super().repaint()
        # the layout itself knows the room for them a moment too late
        shown = self.query_one("#dangers", Lines)
        height = max(self.size.height - 2 - len(shown.lines), 1)
        self.query_one("#far", Static).update(self._painted(self.size.width, height))

    def _row(self) -> Row | None:
        """Return the first single thing to do: blocks are opened, one step at a time reads best."""
        listed = rows(self.session.view, frozenset())
        row = listed[open_row(listed)] if listed else None
        return None if row is None or row.over else row

    def _words(self) -> list[list[str]]:
        """Return what is to be read, whole, and then in fewer and fewer words, down to the first few."""
        row = self._row()
        if row is None:
            state = self._state()
            return [state[:n] for n in range(len(state), 0, -1)]
        if row.check is not None:
            return [[text] for text in _shorter(f"CHECK: {row.check.text}")]
        step, view = row.steps[0], self.session.view
        if step.verb == "power":
            return [[step.item, str(step.to)]]
        light = view.target.light.get(step.thing) if view.target else None
        power = [] if light is None or step.verb == "strike" else [f"{light.head} {light.power}"]
        also = [held_text(self.session)] if self.session.state.floor.in_hands else []
        also += [danger.partition(":")[0] for danger in alarms(view)[:1]]
        # the power has a step of its own: it goes before any word of this one does
        return [[step.text, *power, *also], *([text, *also] for text in _shorter(step.text))]

    def _state(self) -> list[str]:
        """Return, where no step is left, that the set stands, and the power of every head."""
        state, dangers = self.session.state, alarms(self.session.view)
        if state.on_break is not None:
            return ["ON A BREAK"]
        if not state.begun:
            return ["NOT BEGUN"]
        if state.wrapping:
            return ["STRUCK"]
        here = next((line for line in self.session.view.setups if line.now), None)
        heads = [f"{head.head} {head.power}" for head in self.session.view.heads]
        counted = [f"{here.frames} of {here.frames_planned}"] if here and here.frames else []
        return [danger.partition(":")[0] for danger in dangers] or ["READY", *heads, *counted]

    def _painted(self, width: int, height: int) -> Text:
        """Return all of the words as big as they fit, or as many as fit, and all of them plain below.

        Plain alone where no letter fits.
        """
        whole, *fewer = self._words()
        tries = [(whole, size) for size in (3, 2, 1)] + [(texts, 1) for texts in fewer]
        for texts, size in tries if width >= _LEAST else ():
            painted = self._big_lines(texts, width, size)
            if painted and texts is not whole:
                painted += self.glyphs.wrap(", ".join(whole), width=width, most=height - len(painted))
            if painted and len(painted) <= height:
                break
        else:
            painted = self.glyphs.wrap(*whole, width=width)
            if len(painted) > height:
                painted = self.glyphs.wrap(", ".join(whole), width=width, most=height)
        return Text("\n".join(painted), style="bold", no_wrap=True)

    def _big_lines(self, texts: list[str], width: int, size: int) -> list[str]:
        """Return texts in big letters; nothing where a word would be cut in two for the sake of bigger letters."""
        room = letters_that_fit(width, size)
        plain = [self.glyphs.shown(text).replace(";", ",") for text in texts]  # the face has no semicolon
        if size > 1 and any(len(word) > room for text in plain for word in text.split()):
            return []
        painted: list[str] = []
        for line in (line for text in plain for line in wrap_words(text, room)):
            painted += [*([""] if painted else []), *big_rows(line, self.glyphs, size)]
        return painted

    def action_tick(self) -> None:
        """Tick what is shown."""
        row, session = self._row(), self.session
        if row is None:
            self.day.show_message(nothing_to_do(session))
        elif row.check is not None:
            check = row.check
            self.day.do(lambda: session.tick_check(check))
        else:
            self.day.do(lambda: session.tick(row.steps[0]))
