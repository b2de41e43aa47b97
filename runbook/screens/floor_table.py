"""What stands on a floor in words and figures, beside its drawing: narrow cards or a wide table."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from runbook.drawing.floor_rows import FloorRows, HeadRow
from runbook.drawing.floormoves import Move
from runbook.screens.glyphs import Glyphs
from runbook.screens.paint import cut, fit

Line = tuple[str, str]  # a text and its style
CARDS: Final = 35  # columns of a card, and of the table
TABLE: Final = 62
_WIDTHS: Final = (2, 9, 10, 5, 5, 9, 9, 6)
_HEADS: Final = ("", "power", "role", "side", "angle", "distance", "height", "stand")


def listed(rows: FloorRows, moves: tuple[Move, ...], width: int, height: int, glyphs: Glyphs) -> list[Line]:
    """Heads, panels and camera, each with what becomes of it; cut to the room there is."""
    becomes = {(move.kind, move.item): f", {move.how}" for move in moves if move.how != "stays"}
    heads = [(row, becomes.get(("head", row.head), "")) for row in rows.heads]
    lines = list(_table(heads, glyphs) if width >= TABLE else _cards(heads))
    for panel, where in rows.panels:
        lines.append((f"{panel}  {where}{becomes.get(('panel', panel), '')}", ""))
    lines.append((f"camera  {rows.camera_place}", "bold"))
    lines.append((f"   {rows.camera_set}", ""))
    if len(lines) > height:
        more = len(lines) - height + 1
        lines = [*lines[: max(height - 1, 0)], (f"and {more} lines more in a taller window", "dim")]
    return [(cut(text, width, glyphs), style) for text, style in lines]


def _cards(heads: list[tuple[HeadRow, str]]) -> Iterator[Line]:
    for row, becomes in heads:
        yield f"{row.head:<2} {row.power:<9} {row.role}{becomes}", "bold"
        yield f"   {row.side} {row.angle}, {row.distance}, {row.height} up", ""


def _table(heads: list[tuple[HeadRow, str]], glyphs: Glyphs) -> Iterator[Line]:
    yield _row(_HEADS, glyphs), "dim"
    for row, becomes in heads:
        yield _row(row[:8], glyphs), "bold"
        yield f"   {row.fitted}{becomes}", ""


def _row(cells: tuple[str, ...], glyphs: Glyphs) -> str:
    return " ".join(fit(cell, wide, glyphs) for cell, wide in zip(cells, _WIDTHS, strict=True))
