"""The face as a widget: the picture of a setup's light, alone, or beside what it was before or is to be matched with.

A picture is made in a thread. Nothing waits for it, and the last one stays until the new one is there.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING, Final

from rich.segment import Segment
from rich.style import Style
from textual import work
from textual.color import Color
from textual.message import Message
from textual.strip import Strip
from textual.timer import Timer
from textual.widget import Widget

from runbook.day.actions import Session
from runbook.day.frames import frame_text
from runbook.day.light import face_caption
from runbook.light.prediction import LitSetup
from runbook.screens.text import Glyphs

if TYPE_CHECKING:
    from runbook.drawing.face_drawing import Colour, Run, Signs
    from runbook.light.face import Face

TINT: Final = "face-tint"  # the variable of a theme that says what white looks like
_PLAIN_TINT: Final = "#d8d8d8"
_REST_S: Final = 0.1  # keys pressed one after another come first: drawing beside them slows them down
_LEAST_ROWS: Final = 8  # a smaller picture has no caption
_FEW_COLOURS: Final = (None, "standard", "windows")


@dataclass(frozen=True, slots=True)
class Select:
    """The small picture of the frame to match a setup by, and what the frame says in words."""

    file: Path
    text: str


def select_of(session: Session, setup_id: str | None) -> Select | None:
    """Return the frame to match a setup by, where its small picture is there."""
    frames, path = session.view.frames, session.journal.path or session.left_file
    shot = frames.select(setup_id or "")
    if shot is None or path is None:
        return None
    file = frames.select_files(path.parent).get(setup_id or "")
    return Select(file, frame_text(shot.frame)) if file else None


Pane = tuple[str, LitSetup | Select]  # a heading and what to draw


@dataclass(frozen=True, slots=True)
class FaceJob:
    """What to draw: pictures side by side under their headings, in so many cells and in these signs and colours."""

    panes: tuple[Pane, ...]
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

    def _pane(self, heading: str, of: LitSetup | Select, width: int) -> Iterator[list[Segment]]:
        has_caption = self.rows >= _LEAST_ROWS
        if heading:
            yield self._text(heading, width)
        high = max(self.rows - bool(heading) - has_caption, 1)
        rows = self._cells(of, width, high)
        above = (high - len(rows)) // 2
        for row in [*[[]] * above, *rows, *[[]] * (high - above - len(rows))]:
            left = (width - sum(len(text) for text, *_ in row)) // 2
            cells = [Segment(text, _style(self.base, *colours)) for text, *colours in row]
            yield Segment.adjust_line_length([Segment(" " * left, self.base), *cells], width, self.base)
        if has_caption:
            yield self._text(of.text if isinstance(of, Select) else face_caption(of.light), width)

    def _cells(self, of: LitSetup | Select, width: int, high: int) -> list[list[Run]]:
        from runbook.drawing.face_drawing import face_cells, face_size, picture_cells
        from runbook.files.pictures import NotRead

        if isinstance(of, LitSetup):
            return face_cells(_face(of, *face_size(width, high)), self.signs, self.tint, self.ground)
        words = f"too few colours here; it is in {of.file.name}"
        if self.signs == "half blocks":
            try:
                return picture_cells(of.file, width, high, self.tint)
            except NotRead as why:
                words = f"{of.file.name}: {why}"
        return [[(line, None, None)] for line in self.glyphs.wrap(words, width=width, most=high)]

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
        self._panes: tuple[Pane, ...] = ()
        self._lines: list[Strip] = []
        self._wanted: FaceJob | None = None
        self._drawing = False
        self._soon: Timer | None = None

    def show(self, lit: LitSetup | None, select: Select | None = None) -> None:
        """Show the face in the light of a setup, beside what it is to be matched with; nothing without both."""
        if select is None:
            self._panes = () if lit is None else (("", lit),)
        else:
            self._panes = (("before: select", select), *(() if lit is None else (("now: prediction", lit),)))
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
        """Draw what is to be shown as soon as it rests, after the picture at work."""
        if not (self.is_attached and self.size):
            return
        wanted = self._job()
        if not self._panes:
            self._lines = []
            self.refresh()
        elif wanted != self._wanted:
            self._draw_soon()
        self._wanted = wanted

    def _draw_soon(self) -> None:
        if self._soon is not None:
            self._soon.stop()
        self._soon = self.set_timer(_REST_S, self._begin)

    def _begin(self) -> None:
        if self._panes and self._wanted is not None and not self._drawing:
            self._drawing = True
            self._make(self._wanted)

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
        if event.job != self._wanted:
            self._draw_soon()
