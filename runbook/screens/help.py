"""The page of keys, made of the bindings of the screen and the app."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from itertools import groupby, zip_longest
from textwrap import wrap
from typing import Final

from textual.app import App
from textual.binding import ActiveBinding, Binding, BindingType

PAGE_WIDTH: Final = 76  # of two columns
_KEY: Final = 11  # the longest key and a gap
_COLUMN: Final = 39
_CARE: Final = (
    "Figures here are for planning, never a clearance. Local rules and the makers' limits come first; "
    "a competent person on the spot decides."
)
Section = tuple[str, list[tuple[str, str]]]  # a title, and keys with what they do


def key(keys: str, action: str, label: str, explanation: str = "", *, shown: str = "") -> Binding:
    """Return a binding: ``label`` for the line of keys, ``explanation`` for the page of keys.

    ``shown`` is how the key is written where its name differs.
    """
    return Binding(keys, action, label, show=False, key_display=shown or None, tooltip=explanation or label)


def key_sections(*owners: type) -> list[Section]:
    """Return the keys that these classes and those they inherit from bind, a section for each class."""
    classes = dict.fromkeys(base for owner in owners for base in owner.__mro__ if "KEYS_TITLE" in base.__dict__)
    return [(base.__dict__["KEYS_TITLE"], _rows(base.__dict__.get("BINDINGS", ()))) for base in classes]


def _rows(bindings: Sequence[BindingType]) -> list[tuple[str, str]]:
    """Return a row for each explanation; the keys of one explanation stand side by side."""
    known = [binding for binding in bindings if isinstance(binding, Binding)]
    return [
        (" ".join(dict.fromkeys(binding.key_display or binding.key.split(",")[0] for binding in group)), explanation)
        for explanation, group in groupby(known, key=lambda binding: binding.tooltip)
        if explanation
    ]


def key_page(sections: Sequence[Section], note: str, width: int) -> str:
    """Return every key and a note on one page: in two columns where there is room for them, else in one."""
    two = width >= PAGE_WIDTH
    block_width = _COLUMN - 2 if two else max(width, 1)
    blocks = [_block(section, block_width) for section in sections]
    blocks += [wrap(paragraph, block_width) for paragraph in (note, _CARE) if paragraph]
    left: list[str] = []
    right: list[str] = []
    for block in blocks:  # each block goes to the shorter column
        column = right if two and len(right) < len(left) else left
        column += [*block, ""]
    return "\n".join(
        f"{one:<{_COLUMN}}{other}".rstrip() for one, other in zip_longest(left, right, fillvalue="")
    ).rstrip()


def _block(section: Section, width: int) -> list[str]:
    title, rows = section
    lines = wrap(title.upper(), width)
    for keys, explanation in rows:
        lines += wrap(f"{keys:<{_KEY}}{explanation}", width, subsequent_indent=" " * min(_KEY, width // 2))
    return lines


def footer_markup(active: Iterable[ActiveBinding], actions: Sequence[str]) -> str:
    """Return a line of keys for these actions, each of which can be clicked, of the bindings that are active."""
    by_action: dict[str, ActiveBinding] = {}
    for found in active:
        by_action.setdefault(found.binding.action, found)
    parts = []
    for action in actions:
        if action not in by_action:  # the key belongs to a line that is being typed
            continue
        node, binding, *_ = by_action[action]
        where = "app" if isinstance(node, App) else "screen"
        parts.append(f"[@click={where}.{action}]{binding.key_display or binding.key} {binding.description}[/]")
    return "  ".join(parts)
