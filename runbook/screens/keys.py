"""Keys: what they are bound to, the page and the line that explain them, and the queue they are handled in."""

from __future__ import annotations

import asyncio
from collections import deque
from collections.abc import Iterable, Sequence
from itertools import groupby, zip_longest
from textwrap import wrap
from time import monotonic
from typing import Final

from textual import events
from textual.app import App, ReturnType
from textual.binding import ActiveBinding, Binding, BindingType

PAGE_WIDTH: Final = 76  # of two columns
_KEY: Final = 11  # the longest key and a gap
_COLUMN: Final = 39
_CARE: Final = (
    "Figures here are for planning, never a clearance. Local rules and the makers' limits come first; "
    "a competent person on the spot decides."
)
# a key that takes longer than this holds back no other: no key may leave the keyboard dead
_KEY_TAKES_S: Final = 1.0
# of the event loop; in each a message gets from one widget to the next
_QUIET_ROUNDS: Final = 10
Section = tuple[str, list[tuple[str, str]]]  # a title, and keys with what they do


def key(keys: str, action: str, label: str, explanation: str = "", *, shown: str = "") -> Binding:
    """Return a binding: ``label`` for the line of keys, ``explanation`` for the page of keys.

    ``shown`` is how the key is written where its name differs.
    """
    return Binding(keys, action, label, show=False, key_display=shown or None, tooltip=explanation or label)


# up and down, on every screen with a list to go through
CURSOR: Final = (
    key("up", "cursor(-1)", "up", "move the cursor"),
    key("down", "cursor(1)", "down", "move the cursor"),
    key("pageup", "cursor(-10)", "up", "ten at once", shown="pgup"),
    key("pagedown", "cursor(10)", "down", "ten at once", shown="pgdn"),
)


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
    lines = zip_longest(left, right, fillvalue="")
    return "\n".join(f"{one:<{_COLUMN}}{other}".rstrip() for one, other in lines).rstrip()


def _block(section: Section, width: int) -> list[str]:
    title, rows = section
    lines = wrap(title.upper(), width)
    for keys, explanation in rows:
        lines += wrap(f"{keys:<{_KEY}}{explanation}", width, subsequent_indent=" " * min(_KEY, width // 2))
    return lines


def footer_markup(active: Iterable[ActiveBinding], actions: Sequence[str]) -> str:
    """Return a line of keys for these actions, each of which can be clicked, of the bindings that are active."""
    by_action = {of.binding.action: of for of in reversed([*active])}
    parts = []
    for action in actions:
        if action in by_action:  # else the key belongs to a line that is being typed
            node, binding, *_ = by_action[action]
            where = "app" if isinstance(node, App) else "screen"
            parts.append(f"[@click={where}.{action}]{binding.key_display or binding.key} {binding.description}[/]")
    return "  ".join(parts)


class KeyQueue(App[ReturnType]):
    """An app that handles one key, or one paste, at a time: each on the screen that the key before it led to.

    The library sends a key to whatever screen is on top when the key arrives. Of keys typed faster than a dialog
    opens, the later ones would go to the screen below it, or to a dialog that is answered.
    """

    def __init__(self, *, ansi_color: bool | None = None) -> None:
        super().__init__(ansi_color=ansi_color)
        self._typed: deque[events.Key | events.Paste] = deque()
        self._handed_on_at: float | None = None  # when the key at work was; None: none is at work
        self._last_key_at = 0.0

    @property
    def keys_waiting(self) -> bool:
        """Whether a key is at work, or waits its turn."""
        return self._handed_on_at is not None

    @property
    def quiet_s(self) -> float:
        """The seconds since the last key."""
        return monotonic() - self._last_key_at

    async def on_event(self, event: events.Event) -> None:
        """Put what is typed in the queue; everything else is handled at once."""
        if not isinstance(event, (events.Key, events.Paste)) or event.is_forwarded:
            await super().on_event(event)
            return
        self._last_key_at = monotonic()
        self._typed.append(event)
        since = self._handed_on_at
        if since is None or self._last_key_at - since > _KEY_TAKES_S:
            await self._hand_on()

    async def _hand_on(self) -> None:
        """Handle the next key of the queue, then wait until nothing of it is left to do."""
        if not self._typed:
            self._handed_on_at = None
            return
        self._handed_on_at = monotonic()
        await super().on_event(self._typed.popleft())
        self._wait(0)

    def _wait(self, quiet: int) -> None:
        asyncio.get_running_loop().call_soon(self._look, quiet)

    def _look(self, quiet: int) -> None:
        """Handle the next key once the screen is mounted and no message of the last key is left.

        A message that a widget is just passing on is in no queue, so it has to stay ``quiet``.
        """
        if not self.is_running or not self.screen_stack:
            return
        pumps = (self, *self.screen.walk_children(with_self=True))
        if not self.screen.is_mounted or any(pump.message_queue_size for pump in pumps):
            self._wait(0)
        elif quiet < _QUIET_ROUNDS:
            self._wait(quiet + 1)
        else:
            self.call_later(self._hand_on)
