"""The kit count at wrap: what is home and what is missing, equal things on one line."""

from __future__ import annotations

from collections.abc import Iterable
from typing import ClassVar

from textual.binding import BindingType
from textual.widget import Widget

from runbook.day.actions import Refused
from runbook.day.kit_list import Item, KitLine, items_on_floor, kit_count, kit_list
from runbook.screens.base import DayScreen, asking
from runbook.screens.keys import key
from runbook.screens.lists import Row, RowList, RowState


class KitCountScreen(DayScreen):
    """Is everything back in its case."""

    BINDING_GROUP_TITLE = "Kit count"
    FOOTER = ("all_home", "missing", "undo", "show('set')", "keys")
    BINDINGS: ClassVar[list[BindingType]] = [
        key("space", "all_home", "all home", "everything on this line is home"),
        key("x", "missing", "missing", "some of this line is missing"),
    ]

    def __init__(self) -> None:
        super().__init__()
        self.kit_lines = kit_list(self.session.plan)
        self.list = RowList(self.glyphs, "The kit is empty.")

    def compose_body(self) -> Iterable[Widget]:
        yield self.list

    def repaint(self) -> None:
        """Paint the count from the journal; what stands on the set is neither counted nor missing."""
        super().repaint()
        count = kit_count(self.session.plan, self.session.entries)
        self.on_set = items_on_floor(self.session.state.real_floor)
        missing, uncounted = {*count.missing} - self.on_set, {*count.uncounted} - self.on_set
        to_count = len(uncounted | self.on_set)
        self.show_title(self.list, f"kit count: {to_count} things to count, {len(missing)} missing")
        listed = [self._row(line, missing, uncounted) for line in self.kit_lines]
        self.list.show_rows(listed, next((n for n, row in enumerate(listed) if row.state == "to do"), None))

    def _row(self, line: KitLine, missing: set[Item], uncounted: set[Item]) -> Row:
        def of_line(items: set[Item]) -> str:
            return ", ".join(item for item in line.ids if (line.kind, item) in items)

        gone, standing, labels = of_line(missing), of_line(self.on_set), ", ".join(line.ids)
        where = f"on the set{'' if standing == labels else f': {standing}'}; " if standing else ""
        text = f"{line.kind:<13} {where}{len(line.ids)} x {line.what}: {labels}"
        state: RowState = "to do" if of_line(uncounted) else "waits" if standing else "done"
        return Row("check", (line.kind, line.ids[0]), "aside" if gone else state, text, gone and f"MISSING {gone}")

    @asking
    async def action_all_home(self) -> None:
        """All of the line under the cursor are back in their cases, but what is on the set."""
        line, ids = self._to_count()
        self._count(line, ids, ())

    @asking
    async def action_missing(self) -> None:
        """Some of the line under the cursor are missing; the others are home."""
        line, ids = self._to_count()
        gone = ids
        if len(ids) > 1:
            gone = await self.ask(
                f"Missing of {', '.join(ids)}:", "labels of what is missing", lambda text: _missing(text, ids)
            )
        self._count(line, tuple(item for item in ids if item not in gone), gone)

    def _to_count(self) -> tuple[KitLine, tuple[str, ...]]:
        """Return the line under the cursor, and its labels without what is on the set.

        Raises Refused where nothing is left of it.
        """
        if not self.kit_lines:
            raise Refused("the kit is empty")
        line = self.kit_lines[self.list.cursor]
        ids = tuple(item for item in line.ids if (line.kind, item) not in self.on_set)
        if not ids:
            many = "is" if len(line.ids) == 1 else "are"
            raise Refused(f"{line.kind} {', '.join(line.ids)} {many} on the set: take it off set first")
        return line, ids

    def _count(self, line: KitLine, here: tuple[str, ...], gone: tuple[str, ...]) -> None:
        message = f"MISSING: {', '.join(gone)}" if gone else ""
        if self.day.do(lambda: self.session.count_kit(line.kind, here, gone), message):
            self.list.action_to_first()


def _missing(typed: str, labels: tuple[str, ...]) -> tuple[str, ...]:
    """Return the labels typed. Raises ValueError with one that is not of these."""
    words = typed.replace(",", " ").split()
    wrong = [word for word in words if word not in labels]
    if not words or wrong:
        raise ValueError(f"{wrong[0] if wrong else 'nothing'!r} is none of {', '.join(labels)}")
    return tuple(dict.fromkeys(words))
