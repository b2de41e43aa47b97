"""Keys: what they are bound to, and the queue they are handled in."""

from __future__ import annotations

import asyncio
from collections import deque
from time import monotonic
from typing import Final

from textual import events
from textual.app import App, ReturnType
from textual.binding import Binding

CARE: Final = (
    "Figures here are for planning, never a clearance. Local rules and the makers' limits come first; "
    "a competent person on the spot decides."
)
# a key that takes longer than this holds back no other: no key may leave the keyboard dead
_KEY_TAKES_S: Final = 1.0
# of the event loop; in each a message gets from one widget to the next
_QUIET_ROUNDS: Final = 10


def key(keys: str, action: str, label: str, explanation: str = "", *, shown: str = "") -> Binding:
    """Return a binding: ``label`` for the footer, ``explanation`` for the help and the palette.

    ``shown`` is how the key is written where its name differs.
    """
    return Binding(keys, action, label, show=False, key_display=shown or None, tooltip=explanation or label)


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
