"""The program on a real terminal: how it ends, what it needs, what it asks before it begins."""

import ctypes
import os
import re
import resource
import shutil
import signal
import sqlite3
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import datetime
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import pytest

from runbook.cli import main
from runbook.journal.events import Note
from runbook.journal.journal import Journal, journal_path
from tests.played import copied
from tests.terminal import DEMO, RUNBOOK, Terminal, clean_env

FIRST = "Nothing is set up yet"
PASTE = "\x1b[200~{}\x1b[201~"
CTRL_C, CTRL_Q, CTRL_Z = "\x03", "\x11", "\x1a"
AFTER_N = "begun: The keeper at the window"


@pytest.fixture
def day(tmp_path: Path) -> Path:
    return Path(shutil.copytree(DEMO, tmp_path / "day"))


def kinds(day: Path) -> list[str]:
    seen = Journal.read(journal_path(day))
    assert not seen.unreadable
    return [entry.kind for entry in seen.entries]


@contextmanager
def opened(day: Path, shown: str = FIRST, answer: str = "", **how: Any) -> Iterator[Terminal]:
    """The day on a terminal that shows a text: a question, if there is an answer."""
    with Terminal([*RUNBOOK, "open", str(day)], **how) as terminal:
        terminal.wait_for(shown)
        if answer:
            terminal.wait_for("\n>")
            terminal.send(f"{answer}\r")
        yield terminal


def test_a_command_shows_that_it_works_until_there_is_something_to_read() -> None:
    with Terminal([*RUNBOOK, "stands", str(DEMO)]) as terminal:
        assert terminal.end() == 0
        assert "working" in terminal.text
        assert "working" not in terminal.screen


def leave(terminal: Terminal, question: str = "y  leave") -> None:
    terminal.press("q", question)
    terminal.send("y")
    assert terminal.end() == 0


def write_notes(day: Path) -> None:
    """A journal with a few entries in it."""
    with Journal.open(journal_path(day), clock=lambda: datetime.now().astimezone(), who="photo") as journal:
        for n in range(1, 40):
            journal.append(Note(None, f"note {n} " + "x" * 300))


# -- how it ends -------------------------------------------------------------------------------


@pytest.mark.parametrize(("number", "code"), [(signal.SIGTERM, 143), (signal.SIGINT, 130)])
def test_a_signal_ends_it_with_the_terminal_as_it_was(day: Path, number: signal.Signals, code: int) -> None:
    with opened(day) as terminal:
        terminal.press("n", AFTER_N)
        assert {"25", "1000", "1049"} <= set(terminal.switched_on)
        assert not terminal.as_it_was
        terminal.signal(number)
        assert terminal.end() == code
        assert terminal.switched_on == []
        assert terminal.as_it_was
        assert "Traceback" not in terminal.text
        assert terminal.screen.strip() == ""
    assert kinds(day) == ["day-opened", "setup-begun"]


def stat(pid: int) -> list[str]:
    """The fields of a process from its state on, as proc(5) lists them."""
    return Path(f"/proc/{pid}/stat").read_text().rsplit(")", 1)[1].split()


def used_s() -> float:
    """The processor time of the programs that have ended."""
    used = resource.getrusage(resource.RUSAGE_CHILDREN)
    return used.ru_utime + used.ru_stime


@pytest.mark.parametrize("own", [True, False], ids=["with a signal", "without a signal"])
def test_it_ends_when_its_terminal_is_gone(day: Path, own: bool) -> None:
    with opened(day, own=own) as terminal:
        terminal.press("n", AFTER_N)
        before = used_s() + sum(map(int, stat(terminal.process.pid)[11:13])) / os.sysconf("SC_CLK_TCK")
        terminal.cut()
        cut = time.monotonic()
        assert terminal.end(5) == 129
        assert time.monotonic() - cut < 2
        assert used_s() - before < 1.6  # a forecast may have been under way; a spinning loop takes it all
    assert kinds(day) == ["day-opened", "setup-begun"]


def test_the_keys_that_end_other_programs_ask_first(day: Path) -> None:
    with opened(day) as terminal:
        terminal.press("w", "A note:")
        terminal.press("the fog machine leaks", "machine leaks")
        for key in (CTRL_C, CTRL_Q):
            terminal.press(key, "Leave the day?")
            terminal.send("n")
            terminal.wait_until_gone("Leave the day?")
            terminal.wait_for("machine leaks")
        terminal.press("\r", "note saved")
        terminal.press(CTRL_C, "Leave the day?")
        terminal.send(CTRL_C)
        assert terminal.end() == 0
        assert terminal.as_it_was
    assert kinds(day) == ["day-opened", "note", "left"]


def test_it_can_be_suspended_and_resumed(day: Path) -> None:
    with opened(day) as terminal:
        terminal.send(CTRL_Z)
        terminal.wait(lambda: stat(terminal.process.pid)[0] == "T", "stop")
        terminal.wait(lambda: terminal.as_it_was, "restored terminal")
        terminal.signal(signal.SIGCONT)
        terminal.wait_for(FIRST)
        terminal.press("n", AFTER_N)
        leave(terminal)
        assert terminal.as_it_was


# The program with a fault put in.
FAULT = """
import sys
from runbook.cli import main
from runbook.screens.set import SetScreen
from runbook.screens.app import RunbookApp
def fault(*_):
    raise ZeroDivisionError("no such light")
{}
sys.exit(main(["open", sys.argv[1]]))
"""


@pytest.mark.parametrize(
    ("patch", "recorded"),
    [
        ("RunbookApp.action_keys = fault", ["day-opened", "setup-begun"]),
        ("SetScreen.repaint = fault", ["day-opened"]),
        ("RunbookApp.on_mount = fault", ["day-opened"]),
    ],
    ids=["a key", "painting", "start"],
)
def test_an_unexpected_error_ends_in_a_plain_line(day: Path, tmp_path: Path, patch: str, recorded: list[str]) -> None:
    words = [sys.executable, "-c", FAULT.format(patch), str(day)]
    with Terminal(words, env={"TMPDIR": str(tmp_path)}, columns=200) as terminal:
        if len(recorded) > 1:
            terminal.wait_for(FIRST)
            terminal.press("n", AFTER_N)
            terminal.send("?")
        assert terminal.end() not in (0, 1)
        assert terminal.as_it_was
        lines = [line for line in terminal.screen.splitlines() if line]
    assert len(lines) == 2
    assert "is in the journal" in lines[0]
    assert "unexpected ZeroDivisionError: no such light; details in" in lines[1]
    (details,) = tmp_path.glob("runbook-*.txt")
    assert "in fault" in details.read_text()
    assert kinds(day) == recorded


# -- what it needs -----------------------------------------------------------------------------


def test_it_works_in_any_window_size(day: Path) -> None:
    with opened(day) as terminal:
        for rows, columns in [(1, 1), (2, 500), (50, 3), (1, 1), (3, 20)]:
            seen = len(terminal.painted)
            terminal.resize(rows, columns)
            # two signals at once can reach the library in the wrong order
            terminal.wait(lambda seen=seen: len(terminal.painted) > seen, "repainting")
        terminal.press("n", "Exits and")
        terminal.resize(1, 1)
        terminal.wait(lambda: len(kinds(day)) == 2, "entry")
        terminal.resize(24, 80)
        terminal.wait_for("The keeper at the window")
        leave(terminal)


SGR = re.compile(rb"\x1b\[([\d;]*)m")


def colours(terminal: Terminal) -> set[str]:
    """The colours asked for, without the terminal's own (39, 49) and plain attributes."""
    return {
        part
        for numbers in SGR.findall(terminal.painted)
        for part in numbers.decode().split(";")
        if part and int(part) >= 30 and part not in ("39", "49")
    }


def test_a_poorer_terminal_shows_the_same_words(day: Path) -> None:
    with opened(day, env={"TERM": "linux"}) as terminal:
        assert "38" not in colours(terminal), "a colour beyond the sixteen"


def test_no_color_paints_no_colour(day: Path) -> None:
    with opened(day, env={"NO_COLOR": "1"}) as terminal:
        terminal.press("n", "Every stand under")
        assert colours(terminal) == set()


PLAIN = {"LC_ALL": "C", "PYTHONUTF8": "0", "PYTHONCOERCECLOCALE": "0"}


def test_without_utf_8_only_ascii_is_painted(day: Path) -> None:
    with opened(day, env=PLAIN) as terminal:
        for key, shown in [("n", "Every stand under"), ("t", "Planning figures"), ("?", "STANDS AND CHECKLIST")]:
            terminal.press(key, shown)
        terminal.send("?")
        terminal.wait_until_gone("STANDS AND CHECKLIST")
        terminal.press("z", "z back")
        assert colours(terminal) != set()
        assert {char for char in terminal.text if not " " <= char <= "~"} <= set("\r\n\t")
        leave(terminal)


@pytest.mark.parametrize(
    ("input_", "output", "term"), [(False, True, "xterm"), (True, False, "xterm"), (True, True, "dumb")]
)
def test_without_a_terminal_it_refuses_in_one_line(day: Path, input_: bool, output: bool, term: str) -> None:
    terminal, other = os.openpty()
    ran = subprocess.run(
        [*RUNBOOK, "open", str(day)], stdin=other if input_ else subprocess.DEVNULL,
        stdout=other if output else subprocess.PIPE, stderr=subprocess.PIPE, env=clean_env() | {"TERM": term},
        check=False,
    )  # fmt: skip
    os.close(other)
    assert ran.returncode == 2
    assert re.fullmatch(rb"runbook open: the screens need a terminal;.*\n", ran.stderr)
    assert not ran.stdout
    os.set_blocking(terminal, False)
    with pytest.raises(OSError, match=r".*"):
        os.read(terminal, 10)
    os.close(terminal)
    assert not journal_path(day).exists()


@pytest.mark.skipif(shutil.which("tmux") is None, reason="no tmux here")
def test_it_works_inside_tmux(day: Path, tmp_path: Path) -> None:
    tmux = ["tmux", "-S", str(tmp_path / "socket"), "-f", "/dev/null"]
    inside = [*tmux, "new-session", *RUNBOOK, "open", str(day)]
    with Terminal(inside, env={"SHELL": "/bin/sh"}) as terminal:
        try:
            terminal.wait_for(FIRST)
            terminal.press("n", AFTER_N)
            leave(terminal)
        finally:
            subprocess.run([*tmux, "kill-server"], capture_output=True, check=False)
    assert kinds(day) == ["day-opened", "setup-begun", "left"]


# -- what it asks before it begins ---------------------------------------------------------------


def stops(day: Path, question: str, **how: Any) -> None:
    """Asked, and stopped there: with a plain status, and the files as they were."""

    def contents() -> dict[str, bytes]:
        return {path.name: path.read_bytes() for path in day.iterdir() if path.name != "journal.runlog-open"}

    before = contents()
    with opened(day, question, "q", **how) as terminal:
        assert terminal.end() == 2
        assert b"1049" not in terminal.painted
        assert all(len(line) <= how.get("columns", 80) for line in terminal.text.splitlines())
    assert contents() == before


def goes_on(day: Path, question: str, answer: str, shown: str, **how: Any) -> None:
    with opened(day, question, answer, **how) as terminal:
        terminal.wait_for(shown)
        terminal.press("n", "Exits and the ways")
        leave(terminal)


NOT_RECORDED = "NOT RECORDED ON DISK"


def test_a_damaged_journal_can_be_kept_rescued_or_replaced(day: Path) -> None:
    write_notes(day)
    path = journal_path(day)
    whole = path.read_bytes()
    at = whole.index(b"note 20")
    path.write_bytes(whole[: at - at % 4096] + bytes(4096) + whole[at - at % 4096 + 4096 :])
    bad = path.read_bytes()
    stops(day, "is damaged")
    goes_on(day, "is damaged", "1", "JOURNAL INCOMPLETE")
    assert (day / "journal.damaged-1.runlog").read_bytes() == bad
    assert kinds(day)[-4:] == ["rescued", "day-opened", "setup-begun", "left"]
    assert kinds(day).count("note") > 20
    path.write_bytes(bad)
    goes_on(day, "is damaged", "2", FIRST)
    assert (day / "journal.damaged-2.runlog").read_bytes() == bad
    assert kinds(day) == ["day-opened", "setup-begun", "left"]


def test_a_rescue_shows_what_was_read_and_what_is_lost(day: Path, capsys: pytest.CaptureFixture[str]) -> None:
    write_notes(day)
    path = journal_path(day)
    path.write_bytes(path.read_bytes()[:8192])
    with opened(day, "is damaged", "1") as terminal:
        terminal.wait_for("JOURNAL INCOMPLETE")
        terminal.wait_for("RESCUED: 0 entries read, later ones may be missing")
        leave(terminal)
    assert main(["log", str(day)]) == 0
    assert "rescued: 0 entries read, later ones may be missing" in capsys.readouterr().out


def test_an_empty_journal_file_is_reported(day: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = journal_path(day)
    path.write_bytes(b"")
    assert main(["log", str(day)]) == 0
    assert "journal.runlog is empty: anything it held" in capsys.readouterr().err
    with opened(day) as terminal:
        terminal.wait_for("journal.runlog was empty: anything it held is lost")
        leave(terminal)


def test_a_file_that_is_no_journal_is_moved_only_when_asked(day: Path) -> None:
    path = journal_path(day)
    path.write_text("my notes, not yours\n" * 20)
    goes_on(day, "is not a journal", "1", FIRST)
    assert (day / "journal.damaged-1.runlog").read_text().startswith("my notes")
    assert kinds(day) == ["day-opened", "setup-begun", "left"]


def test_a_newer_journal_is_left_unchanged(day: Path) -> None:
    write_notes(day)
    path = journal_path(day)
    with sqlite3.connect(path) as connection:
        connection.execute("PRAGMA user_version=99")
    connection.close()
    before = path.read_bytes()
    goes_on(day, "newer version", "1", NOT_RECORDED)
    assert path.read_bytes() == before


def test_a_second_program_may_only_look_on(day: Path) -> None:
    with opened(day) as first:
        first.press("n", AFTER_N)
        busy = f"process {first.process.pid}"
        stops(day, busy, columns=140)
        with opened(day, busy, "2", columns=140) as second:
            second.wait_for("The keeper at the window")
            second.wait_for(NOT_RECORDED)
            second.press("w", "A note:")
            second.send("unheard\r")
            second.wait_until_gone("A note:")
            leave(second, "Leave? 1 entry is not written and would be lost.")
        leave(first)
    assert kinds(day) == ["day-opened", "setup-begun", "left"]


def _bound() -> None:
    """Bind even root to what a folder's permissions say, from the coming exec on.

    The numbers are those of linux/prctl.h (PR_CAPBSET_DROP) and linux/capability.h
    (CAP_DAC_OVERRIDE, CAP_DAC_READ_SEARCH); seen.
    """
    if os.getuid() == 0:
        for capability in (1, 2):
            ctypes.CDLL(None).prctl(24, capability, 0, 0, 0)


def test_a_folder_that_cannot_be_written_can_be_shown(day: Path) -> None:
    write_notes(day)
    before = journal_path(day).read_bytes()
    day.chmod(0o555)
    try:
        goes_on(day, "no permission", "2", NOT_RECORDED, before=_bound)
    finally:
        day.chmod(0o755)
    assert journal_path(day).read_bytes() == before


def _room(size: int) -> Callable[[], None]:
    """No file grows beyond so many bytes: the disk refuses, as it does when it is full."""

    def limit() -> None:
        signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
        resource.setrlimit(resource.RLIMIT_FSIZE, (size, size))

    return limit


def test_a_full_disk_is_reported_at_the_start(day: Path) -> None:
    with opened(day, "could not be", "q", before=_room(4096), columns=140) as terminal:
        assert terminal.end() == 2
    goes_on(day, "could not be", "2", NOT_RECORDED, before=_room(4096), columns=140)
    assert kinds(day) == []
    with opened(day):
        assert kinds(day) == ["day-opened"]


def test_a_disk_that_fills_up_is_reported_and_loses_nothing(day: Path) -> None:
    with opened(day, before=_room(12288), columns=100) as terminal:
        notes = 0
        while "NOT RECORDED" not in terminal.screen:
            terminal.press("w", "A note:")
            terminal.send(PASTE.format(f"note {notes} " + "x" * 1500) + "\r")
            terminal.wait_until_gone("A note:")
            terminal.wait(lambda n=notes: "NOT RECORDED" in terminal.screen or len(kinds(day)) > n + 1, "answer")
            notes += 1
        recorded = kinds(day)
        assert recorded == ["day-opened", *["note"] * (notes - 1)]
        terminal.press("w", NOT_RECORDED)
        terminal.press("n", "Exits and the ways")
        leave(terminal, "entries are not written and would be lost")
    assert kinds(day) == recorded


def test_a_journal_deleted_meanwhile_is_reported_and_can_be_restored(day: Path) -> None:
    path, away = journal_path(day), day / "away"
    with opened(day, columns=100) as terminal:
        path.rename(away)
        terminal.press("n", "NOT RECORDED: journal.runlog is no longer where it was")
        away.rename(path)
        terminal.press("a", AFTER_N)
        path.rename(away)
        terminal.press("w", "A note:")
        terminal.press("on we go\r", "NOT RECORDED:")
        terminal.press("w", "note saved")
        leave(terminal)
    away.rename(path)
    assert kinds(day) == ["day-opened", "setup-begun"]


def test_a_burst_of_keys_that_leaves_ends_without_a_fault(day: Path) -> None:
    with opened(day) as terminal:
        terminal.send("qqqy")
        assert terminal.end() == 0
        assert "unexpected" not in terminal.text
    assert kinds(day) == ["day-opened", "left"]


@pytest.fixture
def immutable_day() -> Iterator[tuple[Path, Callable[[], None]]]:
    """A day on the disk, and a call after which nothing in its folder can be made or removed, by root either."""
    chattr = shutil.which("chattr")
    if chattr is None:
        pytest.skip("no chattr here; the refused removal is tested on the lock by itself")

    with TemporaryDirectory(dir="/var/tmp") as name:
        day = copied(Path(name) / "day")

        def set_flag(flag: str) -> int:
            return subprocess.run([chattr, flag, str(day)], capture_output=True, check=False).returncode

        def make_immutable() -> None:
            if set_flag("+i"):
                pytest.skip("this file system or user cannot make a folder immutable")

        yield day, make_immutable
        set_flag("-i")


@pytest.mark.parametrize("answer", ["w", "x"])
def test_a_folder_that_becomes_read_only_is_reported(immutable_day, answer):
    day, make_immutable = immutable_day
    with opened(day, columns=120) as terminal:
        make_immutable()
        terminal.press("n", "NOT RECORDED: journal.runlog cannot be written")
        terminal.send(answer)
        if answer == "w":
            terminal.wait_for("NOT RECORDED ON DISK")
            terminal.press("q", "is not written and would be lost")
            terminal.send("y")
        assert terminal.end() == (0 if answer == "w" else 1)
        assert "unexpected" not in terminal.text
    assert kinds(day) == ["day-opened"]
