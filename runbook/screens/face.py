"""The face as a widget: the picture of a setup's light, or of before and after side by side.

A picture is made in a thread. Nothing waits for it, and the last one stays until the new one is there.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING, Final

from rich.segment import Segment
from rich.style import Style
from textual import work
from textual.color import Color
from textual.message import Message
from textual.strip import Strip
from textual.widget import Widget

from runbook.day.light import face_caption
from runbook.light.prediction import LitSetup
from runbook.screens.text import Glyphs

if TYPE_CHECKING:
    from runbook.drawing.face_drawing import Colour, Signs
    from runbook.light.face import Face

TINT: Final = "face-tint"  # the variable of a theme that says what white looks like
_PLAIN_TINT: Final = "#d8d8d8"
_LEAST_ROWS: Final = 8  # a smaller picture has no caption
_FEW_COLOURS: Final = (None, "standard", "windows")


@dataclass(frozen=True, slots=True)
class FaceJob:
    """What to draw: setups side by side under their headings, in so many cells and in these signs and colours."""

    panes: tuple[tuple[str, LitSetup], ...]
    columns: int
    rows: int
    glyphs: Glyphs
    signs: Signs
    tint: Colour
    ground: Colour
    base: Style

    def strips(self) -> list[Strip]:
        """Return the lines of the widget: headings, pictures, captions."""
        width = (self.columns + 1) // max(len(self.panes), 1) - 1
        lines = zip(*(self._pane(*pane, width) for pane in self.panes), strict=True)
        return [Strip([segment for part in line for segment in (*part, Segment(" ", self.base))]) for line in lines]

    def _pane(self, heading: str, lit: LitSetup, width: int) -> Iterator[list[Segment]]:
        from runbook.drawing.face_drawing import face_cells, face_size

        has_caption = self.rows >= _LEAST_ROWS
        if heading:
            yield self._text(heading, width)
        size = face_size(width, max(self.rows - bool(heading) - has_caption, 1))
        left = (width - size[0]) // 2
        for row in face_cells(_face(lit, *size), self.signs, self.tint, self.ground):
            cells = [Segment(text, _style(self.base, *colours)) for text, *colours in row]
            yield [Segment(" " * left, self.base), *cells, Segment(" " * (width - size[0] - left), self.base)]
        if has_caption:
            yield self._text(face_caption(lit.light), width)

    def _text(self, text: str, width: int) -> list[Segment]:
        return [Segment(self.glyphs.cut(text, width).center(width), self.base)]


@lru_cache(maxsize=64)
def _face(lit: LitSetup, columns: int, rows: int) -> Face:
    from runbook.light.face import render_face

    return render_face(lit, columns, rows)


@lru_cache(maxsize=4096)
def _style(base: Style, colour: Colour | None, ground: Colour | None) -> Style:
    """Return the style of cells in these colours."""
    front, back = (None if each is None else Color(*each).rich_color for each in (colour, ground))
    return base + Style(color=front, bgcolor=back)


class FacePicture(Widget):
    """The face in the light of a setup, as large as the widget."""

    DEFAULT_CSS = "FacePicture { width: 1fr; height: 1fr; }"

    class Drawn(Message):
        """A picture is there."""

        def __init__(self, job: FaceJob, lines: list[Strip]) -> None:
            super().__init__()
            self.job, self.lines = job, lines

    def __init__(self, glyphs: Glyphs, widget_id: str | None = None) -> None:
        super().__init__(id=widget_id)
        self.glyphs = glyphs
        self._panes: tuple[tuple[str, LitSetup], ...] = ()
        self._lines: list[Strip] = []
        self._wanted: FaceJob | None = None
        self._drawing = False

    def show(self, lit: LitSetup | None) -> None:
        """Show the face in the light of a setup; none where there is no light to predict."""
        self._panes = () if lit is None else (("", lit),)
        self._draw()

    def show_pair(self, before: LitSetup, after: LitSetup) -> None:
        """Show the face as it was lit and as it will be, side by side."""
        self._panes = (("before", before), ("after", after))
        self._draw()

    def on_mount(self) -> None:
        """Draw again in the colours of another theme."""
        self.app.theme_changed_signal.subscribe(self, lambda _: self._draw())

    def on_resize(self) -> None:
        """Draw again as large as there is room."""
        self._draw()

    def render_line(self, y: int) -> Strip:
        """Return a line of the last picture."""
        line = self._lines[y] if y < len(self._lines) else Strip([])
        return line.adjust_cell_length(self.size.width, self.rich_style)

    def _draw(self) -> None:
        """Begin a picture of what is to be shown, or let the one at work be the last before it."""
        if not (self.is_attached and self.size):
            return
        wanted = self._job()
        if not self._panes:
            self._lines = []
            self.refresh()
        elif not self._drawing and wanted != self._wanted:
            self._drawing = True
            self._make(wanted)
        self._wanted = wanted

    def _job(self) -> FaceJob:
        _, ground = self.background_colors
        tint = Color.parse(self.app.theme_variables.get(TINT, _PLAIN_TINT))
        colours = self.app.console.color_system
        # of 256 colours 24 are greys, and hardly any dim reds
        few = self.app.no_color or colours in _FEW_COLOURS or (colours == "256" and len(set(tint.rgb)) > 1)
        signs: Signs = "ascii" if self.glyphs.ascii else "shades" if few else "half blocks"
        return FaceJob(self._panes, *self.size, self.glyphs, signs, tint.rgb, ground.rgb, self.rich_style)

    @work(thread=True)
    def _make(self, job: FaceJob) -> None:
        try:
            lines = job.strips()
        except Exception as error:  # a picture is a courtesy: the day goes on without it
            lines = [Strip([Segment(job.glyphs.cut(f"no picture: {error}", job.columns), job.base)])]
        self.post_message(self.Drawn(job, lines))

    def on_face_picture_drawn(self, event: Drawn) -> None:
        """Show a picture; where something else is wanted by now, begin that."""
        event.stop()
        self._drawing = False
        if not self._panes:
            return
        self._lines = event.lines
        self.refresh()
        if event.job != self._wanted and self._wanted is not None:
            self._drawing = True
            self._make(self._wanted)
