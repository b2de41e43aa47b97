"""A real process on a terminal: what it paints, the keys it is sent, how it ends."""

import fcntl
import os
import re
import select
import shutil
import signal
import struct
import subprocess
import sys
import termios
import time
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from typing import Any, Self

import pyte

HERE = Path(__file__).parents[1]
DEMO = HERE / "setups" / "lantern-row"
RUNBOOK = (sys.executable, "-m", "runbook")
_SEQUENCE = re.compile(r"\x1b(?:\[[0-?]*[ -/]*[@-~]|[PX^_\]].*?(?:\x07|\x1b\\)|[ -/]*[0-OQ-WYZ\\`-~])", re.DOTALL)
_PRIVATE_KEYBOARD = re.compile(rb"\x1b\[[<=>][^@-~]*[@-~]")  # pyte does not know these


class _Screen(pyte.Screen):
    """A screen that is cleared when a program goes to the terminal's other screen, or comes back."""

    def set_mode(self, *modes: int, **private: bool) -> None:
        super().set_mode(*modes, **private)
        if 1049 in modes:
            self.erase_in_display(2)

    def reset_mode(self, *modes: int, **private: bool) -> None:
        super().reset_mode(*modes, **private)
        if 1049 in modes:
            self.erase_in_display(2)


class Terminal:
    """A program on a terminal of ``rows`` by ``columns``, which every wait reads and paints.

    Every wait ends with AssertionError and the screen when its time is over.
    """

    def __init__(
        self,
        words: Sequence[str],
        *,
        env: Mapping[str, str] | None = None,
        cwd: Path = HERE,
        rows: int = 24,
        columns: int = 80,
        before: Callable[[], None] | None = None,
        own: bool = True,
    ) -> None:
        """``before`` runs in the child; ``own`` False leaves the child no signal when it is cut."""
        self.master, slave = os.openpty()
        self._screen = _Screen(columns, rows)
        self._stream = pyte.ByteStream(self._screen)
        self.resize(rows, columns)
        self._modes: list[Any] = termios.tcgetattr(slave)

        def prepare() -> None:
            if own:
                fcntl.ioctl(0, termios.TIOCSCTTY, 0)
            if before is not None:
                before()

        self.started = time.monotonic()
        self.process = subprocess.Popen(
            list(words),
            stdin=slave,
            stdout=slave,
            stderr=slave,
            cwd=cwd,
            env=clean_env() | dict(env or {}),
            start_new_session=True,
            preexec_fn=prepare,  # noqa: PLW1509 - no test of these starts a thread
        )
        os.close(slave)
        self.painted = b""
        self._waiting = b""  # a sequence that has begun

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        if self.process.poll() is None:
            self.process.kill()
            self.process.wait()
        self.cut()

    # -- doing ---------------------------------------------------------------------------------

    def send(self, keys: str) -> None:
        """Press keys."""
        os.write(self.master, keys.encode())

    def press(self, keys: str, shown: str) -> None:
        """Press keys, and wait until a text is on the screen."""
        self.send(keys)
        self.wait_for(shown)

    def signal(self, number: signal.Signals) -> None:
        """Send the program a signal."""
        self.process.send_signal(number)

    def resize(self, rows: int, columns: int) -> None:
        """Make the window another size; the kernel tells the program."""
        self._screen.resize(rows, columns)
        fcntl.ioctl(self.master, termios.TIOCSWINSZ, struct.pack("HHHH", rows, columns, 0, 0))

    def cut(self) -> None:
        """The window is closed, or the line to it is cut."""
        if self.master >= 0:
            os.close(self.master)
            self.master = -1

    # -- waiting -------------------------------------------------------------------------------

    def wait(self, met: Callable[[], object], what: str, seconds: float = 15.0) -> None:
        """Read until something is so."""
        end = time.monotonic() + seconds
        while not met():
            left = end - time.monotonic()
            assert left > 0, f"no {what} in {seconds} s; the screen:\n{self.screen}"
            self._read(min(left, 0.05))

    def wait_for(self, text: str, seconds: float = 15.0) -> None:
        """Until a text is on the screen."""
        self.wait(lambda: text in self.screen, repr(text), seconds)

    def wait_until_gone(self, text: str, seconds: float = 15.0) -> None:
        """Until a text is off the screen."""
        self.wait(lambda: text not in self.screen, f"end of {text!r}", seconds)

    def end(self, seconds: float = 15.0) -> int:
        """The exit status, once the program is over and everything it wrote is read."""
        self.wait(lambda: self.process.poll() is not None, "end", seconds)
        while self._read(0.0):
            pass
        return self.process.returncode

    def look(self) -> None:
        """Read what is there by now, waiting a moment for it."""
        self._read(0.01)

    def _read(self, seconds: float) -> bool:
        if self.master < 0:
            time.sleep(min(seconds, 0.01))
            return False
        if not select.select([self.master], [], [], seconds)[0]:
            return False
        try:
            read = os.read(self.master, 1 << 16)
        except OSError:  # Linux's way to say that the other side is closed
            read = b""
        if not read:
            self.process.poll()
            time.sleep(min(seconds, 0.01))
        self.painted += read
        read = self._waiting + read
        at = read.rfind(b"\x1b")
        whole = len(read) if at < 0 or re.search(rb"[@-~]", read[at + 2 :]) else at
        self._waiting = read[whole:]
        self._stream.feed(_PRIVATE_KEYBOARD.sub(b"", read[:whole]))
        return bool(read)

    # -- looking -------------------------------------------------------------------------------

    @property
    def screen(self) -> str:
        """What a person sees, a line a row."""
        return "\n".join(line.rstrip() for line in self._screen.display)

    @property
    def text(self) -> str:
        """All that was ever written, without the sequences."""
        return _SEQUENCE.sub("", self.painted.decode("utf-8", "replace"))

    @property
    def as_it_was(self) -> bool:
        """Whether the terminal is as it was at the start: its modes, its screen, cursor, mouse."""
        return self._modes == termios.tcgetattr(self.master) and not self.switched_on

    @property
    def switched_on(self) -> list[str]:
        """The private modes that were switched on and not off again, or the other way for 25, 7."""
        usual = {b"25": True, b"7": True}
        state = dict(usual)
        for numbers, letter in re.findall(rb"\x1b\[\?([\d;]+)([hl])", self.painted):
            state |= dict.fromkeys(numbers.split(b";"), letter == b"h")
        return [number.decode() for number, on in state.items() if on != usual.get(number, False)]


_KEPT = ("PATH", "HOME", "TMPDIR", "XDG_STATE_HOME", "PYTHONDONTWRITEBYTECODE", "PYTHONPYCACHEPREFIX")


def clean_env() -> dict[str, str]:
    """The environment of a plain terminal, without what colours or resizes the caller's own."""
    kept = {key: os.environ[key] for key in _KEPT if key in os.environ}
    return kept | {"TERM": "xterm-256color", "LC_ALL": "C.UTF-8", "PYTHONPATH": str(HERE)}


def badly_ordered_demo(folder: Path) -> Path:
    """Copy the demo day to a folder, shorter, in an order that changes the look with every setup."""
    shutil.copytree(DEMO, folder)
    path = folder / "day.toml"
    order = '\norder = ["keeper-window", "widow-letter", "keeper-lamp", "widow-answer"]'
    path.write_text(re.sub(r"(?s)\norder = \[.*?\]", order, path.read_text("utf-8")), "utf-8")
    return folder
