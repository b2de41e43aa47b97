"""The kit counted home at wrap, kind by kind, like with like."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from typing import ClassVar

from rich.text import Text
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.widgets import Static

from runbook.changeover.floor import Floor
from runbook.day.kit_list import KINDS, KitLine, kit_count, kit_list
from runbook.screens.base import CURSOR, DayScreen
from runbook.screens.keys import HOME
from runbook.screens.text import Words, rule
from runbook.screens.widgets.lists import Row, RowList, first_open


def _missing(typed: str, line: KitLine) -> tuple[str, ...]:
    """The labels typed, as the kit has them. Raises ValueError with one that is not of these."""
    words = typed.replace(",", " ").split()
    wrong = [word for word in words if word not in line.ids]
    if not words or wrong:
        raise ValueError(f"{wrong[0] if wrong else 'nothing'!r} is none of {', '.join(line.ids)}")
    return tuple(dict.fromkeys(words))


def items_on_set(floor: Floor, kind: str) -> frozenset[str]:
    """The labels of one kind that stand on the set, or hang, lie or sit on something there."""
    weights = {name for name, at in floor.stands.items() if at.weight_on}
    there: dict[str, Iterable[str]] = {
        "head": floor.heads,
        "modifier": floor.modifiers,
        "accessory": floor.accessories,
        "stand": floor.stands,
        "counterweight": weights,
        "panel": floor.panels,
        "cloth": floor.cloths,
        "bag": floor.bags,
        "lens": () if floor.lens is None else (floor.lens,),
    }
    return frozenset(there.get(kind, ()))


class KitCountScreen(DayScreen):
    """Is everything back in its case."""

    KEYS = HOME
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("space", "home", "all home", show=False),
        Binding("x", "missing", "missing", show=False),
        *CURSOR,
    ]

    def __init__(self) -> None:
        super().__init__()
        self.moved = False
        self.packed = kit_list(self.session.plan)

    def compose(self) -> ComposeResult:
        yield Words(id="top")
        yield Words(id="title")
        yield RowList(self.glyphs, "The kit is empty.")
        yield Words(id="message")
        yield Words(id="keys")

    def repaint(self) -> None:
        """Paint the count from the journal."""
        super().repaint()
        found = kit_count(self.session.plan, self.session.entries)
        out = {kind: items_on_set(self.session.state.real_floor, kind) for kind in KINDS}
        standing = {(kind, item) for kind, items in out.items() for item in items}
        open_count, gone = len({*found.uncounted} | standing), {*found.missing} - standing
        title = f"counted home: {open_count} things to count, {len(gone)} missing"
        self.query_one("#title", Static).update(
            Text(rule(title, self.size.width, self.glyphs), style="dim", no_wrap=True)
        )
        listed = [self._row(line, set(found.missing), set(found.uncounted), out[line.kind]) for line in self.packed]
        rows = self.query_one("#steps", RowList)
        at = next((n for n, row in enumerate(listed) if row.state == "to do"), first_open(listed))
        rows.show(listed, rows.cursor if self.moved else at)

    def _row(
        self, line: KitLine, missing: set[tuple[str, str]], open_: set[tuple[str, str]], out: frozenset[str]
    ) -> Row:
        gone = [item for item in line.ids if (line.kind, item) in missing and item not in out]
        waits = [item for item in line.ids if (line.kind, item) in open_ and item not in out]
        standing = [item for item in line.ids if item in out]
        where = ""
        if standing:
            which = "" if len(standing) == line.many else f": {', '.join(standing)}"
            where = f"on the set{which}; "
        text = f"{line.kind:<13} {where}{line.many} x {line.what}: {', '.join(line.ids)}"
        key = ("home", line.kind, line.ids[0])
        if gone:
            return Row("check", key, "aside", text, f"MISSING {', '.join(gone)}")
        if waits:
            return Row("check", key, "to do", text)
        return Row("check", key, "waits" if standing else "done", text)

    @property
    def at(self) -> KitLine | None:
        """The line under the cursor."""
        cursor = self.query_one("#steps", RowList).cursor
        return self.packed[cursor] if 0 <= cursor < len(self.packed) else None

    def action_cursor(self, by: int) -> None:
        self.moved = True
        self.query_one("#steps", RowList).step_cursor(by)

    def on_row_list_pressed(self, message: RowList.Pressed) -> None:
        """A click puts the cursor there."""
        rows = self.query_one("#steps", RowList)
        self.moved = True
        rows.show(rows.rows, message.at)

    def action_home(self) -> None:
        """All of the line under the cursor are back in their cases, but what is on the set."""
        line = self._to_count()
        if line is not None:
            self._count(line, line.ids, ())

    def action_missing(self) -> None:
        """Some of the line under the cursor are missing; the others are home."""
        line = self._to_count()
        if line is None:
            return
        if line.many == 1:
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
        line = self.at
        if line is None:
            return None
        out = items_on_set(self.session.state.real_floor, line.kind)
        ids = tuple(item for item in line.ids if item not in out)
        if not ids:
            many = "is" if line.many == 1 else "are"
            self.day.show_message(f"{line.kind} {', '.join(line.ids)} {many} on the set: strike first")
            return None
        return replace(line, ids=ids)

    def _count(self, line: KitLine, here: tuple[str, ...], gone: tuple[str, ...]) -> None:
        said = f"MISSING: {', '.join(gone)}; it stays in the record" if gone else ""
        if self.day.do(lambda: self.session.count_kit(line.kind, here, gone), said):
            self.moved = False
            self.repaint()
