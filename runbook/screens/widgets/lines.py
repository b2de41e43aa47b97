"""Lines of text on a screen: a block of them, a log that scrolls, and a list with a cursor."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import ClassVar

from rich.segment import Segment
from rich.style import Style
from rich.text import Text
from textual import events
from textual.binding import BindingType
from textual.geometry import Size
from textual.message import Message
from textual.scroll_view import ScrollView
from textual.strip import Strip
from textual.widget import Widget

from runbook.screens.help import key
from runbook.screens.text import Glyphs, Line


class Lines(Widget):
    """A block of lines, each cut to the width there is, as high as it has lines."""

    DEFAULT_CSS = "Lines { width: 100%; height: auto; }"

    def __init__(self, glyphs: Glyphs, widget_id: str) -> None:
        super().__init__(id=widget_id)
        self.glyphs = glyphs
        self.lines: tuple[Line, ...] = ()

    def show(self, *lines: str | Line) -> None:
        """Show these lines, each a text or a text with its style."""
        shown = tuple((line, "") if isinstance(line, str) else line for line in lines)
        if shown != self.lines:
            taller = len(shown) != len(self.lines)
            self.lines = shown
            self.refresh(layout=taller)

    def get_content_height(self, _container: Size, _viewport: Size, _width: int) -> int:
        return len(self.lines)

    def render(self) -> Text:
        width = self.size.width
        painted = (Text(self.glyphs.cut(text, width), style) for text, style in self.lines)
        return Text("\n", no_wrap=True, end="").join(painted)


class Drawing(Widget):
    """A drawing made for the room there is."""

    DEFAULT_CSS = "Drawing { width: 1fr; height: 1fr; }"

    def __init__(self, draw: Callable[[int, int], Text], widget_id: str) -> None:
        """``draw`` makes the drawing for so many columns and rows."""
        super().__init__(id=widget_id)
        self.draw = draw

    def render(self) -> Text:
        return self.draw(self.size.width, self.size.height)


class Log(ScrollView, can_focus=True):
    """Lines to scroll through with the keys of the library. With ``follow`` the newest stay in view."""

    KEYS_TITLE = "Reading"
    BINDINGS: ClassVar[list[BindingType]] = [
        key("up", "scroll_up", "up", "scroll"),
        key("down", "scroll_down", "down", "scroll"),
        key("pageup", "page_up", "page up", "a page at once", shown="pgup"),
        key("pagedown", "page_down", "page down", "a page at once", shown="pgdn"),
        key("home", "scroll_home", "first", "the first line"),
        key("end", "scroll_end", "last", "the last line"),
    ]
    DEFAULT_CSS = "Log { height: 1fr; background: black; overflow-x: hidden; scrollbar-size: 0 0; }"

    def __init__(self, glyphs: Glyphs, widget_id: str, *, follow: bool = False) -> None:
        super().__init__(id=widget_id)
        self.glyphs = glyphs
        self.follow = follow
        self.lines: list[Line] = []

    def show(self, lines: Sequence[Line]) -> None:
        """Show these lines, scrolled as before."""
        at_end = self.is_vertical_scroll_end
        self.lines = list(lines)
        self.virtual_size = Size(0, len(self.lines))
        self.refresh()
        if self.follow and at_end:
            self.scroll_end(animate=False, immediate=True)

    def on_resize(self) -> None:
        if self.follow:
            self.scroll_end(animate=False, immediate=True)

    def render_line(self, y: int) -> Strip:
        n, width = y + self.scroll_offset.y, self.size.width
        text, style = self.styled_line(n) if n < len(self.lines) else ("", "")
        return Strip([Segment(self.glyphs.fit(text, width), self.rich_style + Style.parse(style))], width)

    def styled_line(self, n: int) -> Line:
        """Return a line as it is painted."""
        return self.lines[n]


class CursorList(Log, can_focus=False):
    """Lines with a cursor: a sign in front, and reverse while the keys move this list's cursor."""

    class Pressed(Message):
        """A line was clicked."""

        def __init__(self, pressed: CursorList, at: int) -> None:
            self.list, self.at = pressed, at
            super().__init__()

    def __init__(self, glyphs: Glyphs, widget_id: str, empty: str = "") -> None:
        super().__init__(glyphs, widget_id)
        self.empty = empty
        self.cursor = 0
        self.active = True

    def show(self, lines: Sequence[Line], cursor: int = 0, *, active: bool = True) -> None:
        """Show these lines with the cursor on one of them."""
        self.active = active
        self.cursor = min(max(cursor, 0), max(len(lines) - 1, 0))
        super().show(lines)
        self._keep_cursor_in_view()

    def move_cursor(self, by: int) -> None:
        """Move the cursor, stopping at the ends."""
        self.show(self.lines, self.cursor + by, active=self.active)

    def on_resize(self) -> None:
        self._keep_cursor_in_view()

    def _keep_cursor_in_view(self) -> None:
        """Most of the window is for what comes after the cursor."""
        top = max(min(self.cursor - self.size.height // 4, len(self.lines) - self.size.height), 0)
        self.scroll_to(y=top, animate=False, force=True, immediate=True)

    def render_line(self, y: int) -> Strip:
        if not self.lines and y == 0:
            return Strip([Segment(self.glyphs.fit(self.empty, self.size.width), self.rich_style + Style(dim=True))])
        return super().render_line(y)

    def styled_line(self, n: int) -> Line:
        text, style = self.lines[n]
        if n != self.cursor:
            return f" {text}", style
        return f"{self.glyphs.here}{text}", f"{style}{' reverse' if self.active else ''} bold".strip()

    def on_click(self, event: events.Click) -> None:
        """Report the line that was clicked."""
        at = self.scroll_offset.y + event.y
        if at < len(self.lines):
            self.post_message(self.Pressed(self, at))
