"""The kit count at wrap: what is home and what is missing, equal things on one line."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from typing import ClassVar

from textual.binding import BindingType
from textual.widget import Widget

from runbook.day.kit_list import Item, KitLine, items_on_floor, kit_count, kit_list
from runbook.screens.base import CURSOR, DayScreen
from runbook.screens.help import key
from runbook.screens.widgets.lists import Row, RowList, first_open


def _missing(typed: str, line: KitLine) -> tuple[str, ...]:
    """The labels typed, as the kit has them. Raises ValueError with one that is not of these."""
    words = typed.replace(",", " ").split()
    wrong = [word for word in words if word not in line.ids]
    if not words or wrong:
        raise ValueError(f"{wrong[0] if wrong else 'nothing'!r} is none of {', '.join(line.ids)}")
    return tuple(dict.fromkeys(words))


class KitCountScreen(DayScreen):
    """Is everything back in its case."""

    KEYS_TITLE = "Kit count"
    FOOTER = ("all_home", "missing", "undo", "show('set')", "keys")
    BINDINGS: ClassVar[list[BindingType]] = [
        key("space", "all_home", "all home", "all of this line are home"),
        key("x", "missing", "missing", "some of it are missing"),
        *CURSOR,
    ]

    def __init__(self) -> None:
        super().__init__()
        self.moved = False
        self.kit_lines = kit_list(self.session.plan)

    def compose_body(self) -> Iterable[Widget]:
        yield self.lines("title")
        yield RowList(self.glyphs, "The kit is empty.")

    @property
    def _list(self) -> RowList:
        return self.query_one(RowList)

    def repaint(self) -> None:
        """Paint the count from the journal."""
        super().repaint()
        count = kit_count(self.session.plan, self.session.entries)
        standing = items_on_floor(self.session.state.real_floor)
        uncounted, gone = len({*count.uncounted} | standing), {*count.missing} - standing
        self.show_title(f"kit count: {uncounted} things to count, {len(gone)} missing")
        missing, open_ = set(count.missing), set(count.uncounted)
        listed = [self._row(line, missing, open_, standing) for line in self.kit_lines]
        at = next((n for n, row in enumerate(listed) if row.state == "to do"), first_open(listed))
        self._list.show_rows(listed, self._list.cursor if self.moved else at)

    def _row(self, line: KitLine, missing: set[Item], open_: set[Item], on_set: set[Item]) -> Row:
        out = {item for kind, item in on_set if kind == line.kind}
        gone = [item for item in line.ids if (line.kind, item) in missing and item not in out]
        waits = [item for item in line.ids if (line.kind, item) in open_ and item not in out]
        standing = [item for item in line.ids if item in out]
        where = ""
        if standing:
            which = "" if len(standing) == len(line.ids) else f": {', '.join(standing)}"
            where = f"on the set{which}; "
        text = f"{line.kind:<13} {where}{len(line.ids)} x {line.what}: {', '.join(line.ids)}"
        key = ("home", line.kind, line.ids[0])
        if gone:
            return Row("check", key, "aside", text, f"MISSING {', '.join(gone)}")
        if waits:
            return Row("check", key, "to do", text)
        return Row("check", key, "waits" if standing else "done", text)

    def action_cursor(self, by: int) -> None:
        self.moved = True
        self._list.move_cursor(by)

    def on_cursor_list_pressed(self, message: RowList.Pressed) -> None:
        """Put the cursor where it was clicked."""
        self.action_cursor(message.at - self._list.cursor)

    def action_all_home(self) -> None:
        """All of the line under the cursor are back in their cases, but what is on the set."""
        line = self._to_count()
        if line is not None:
            self._count(line, line.ids, ())

    def action_missing(self) -> None:
        """Some of the line under the cursor are missing; the others are home."""
        line = self._to_count()
        if line is None:
            return
        if len(line.ids) == 1:
            self._count(line, (), line.ids)
            return
        self.ask(
            f"Missing of {', '.join(line.ids)}:",
            "their labels",
            lambda typed: _missing(typed, line),
            lambda gone: self._count(line, tuple(x for x in line.ids if x not in gone), gone),
        )

    def _to_count(self) -> KitLine | None:
        """The line under the cursor without what is on the set; said where that is all."""
        if not self.kit_lines:
            return None
        line = self.kit_lines[self._list.cursor]
        out = items_on_floor(self.session.state.real_floor)
        ids = tuple(item for item in line.ids if (line.kind, item) not in out)
        if not ids:
            many = "is" if len(line.ids) == 1 else "are"
            self.day.show_message(f"{line.kind} {', '.join(line.ids)} {many} on the set: strike it first")
            return None
        return replace(line, ids=ids)

    def _count(self, line: KitLine, here: tuple[str, ...], gone: tuple[str, ...]) -> None:
        message = f"MISSING: {', '.join(gone)}" if gone else ""
        if self.day.do(lambda: self.session.count_kit(line.kind, here, gone), message):
            self.moved = False
            self.repaint()
