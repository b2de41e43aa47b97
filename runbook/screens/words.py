"""A text on a screen, painted again only when it says something else."""

from __future__ import annotations

from rich.cells import cell_len
from rich.text import Text
from textual.visual import VisualType
from textual.widgets import Static


class Words(Static):
    """A text that costs nothing while it stays as it is.

    Textual would lay the whole screen out anew for every update; that is needed only where the
    text takes more or fewer lines than before, and is given them.
    """

    def update(self, content: VisualType = "", *, layout: bool = True) -> None:
        """Show a text; nothing happens where it is shown already."""
        old = self.content
        if isinstance(old, Text) and isinstance(content, Text):
            if old == content and old.style == content.style:
                return
            layout = layout and self._is_given_room and self._takes_other_room(old, content)
        super().update(content, layout=layout)

    @property
    def _is_given_room(self) -> bool:
        """Whether what it says decides its size: not while it is hidden, or its size is set."""
        height, width = self.styles.height, self.styles.width
        set_by_style = height and width and not (height.is_auto or width.is_auto)
        return self.display and not set_by_style

    def _takes_other_room(self, old: Text, new: Text) -> bool:
        """Whether a text may not fit where the other was: other lines, or lines that wrap."""
        if old.plain.count("\n") != new.plain.count("\n") or not old.plain or not new.plain:
            return True
        room = self.size.width
        return any(cell_len(line) > room for text in (old, new) for line in text.plain.split("\n"))
