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
from datetime import datetime
from pathlib import Path

import pytest

from runbook.journal.events import Note
from runbook.journal.journal import Journal, journal_path
from tests.terminal import DEMO, HERE, RUNBOOK, Terminal, clean_env

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


def opened(day: Path, **how: object) -> Terminal:
    return Terminal([*RUNBOOK, "open", str(day)], **how)  # type: ignore[arg-type]


def leave(terminal: Terminal, asked: str = "y  leave") -> None:
    terminal.send("q")
    terminal.wait_for(asked)
    terminal.send("y")
    assert terminal.end() == 0


def now() -> datetime:
    return datetime.now().astimezone()


def written(day: Path) -> None:
    """A journal with a few entries in it."""
    with Journal.open(journal_path(day), clock=now, who="photo") as journal:
        for n in range(1, 40):
            journal.append(Note(None, f"note {n} " + "x" * 300))


# -- how it ends -------------------------------------------------------------------------------


@pytest.mark.parametrize(("number", "code"), [(signal.SIGTERM, 143), (signal.SIGHUP, 129), (signal.SIGINT, 130)])
def test_a_signal_ends_it_with_the_terminal_as_it_was(day: Path, number: signal.Signals, code: int) -> None:
    with opened(day) as terminal:
        terminal.wait_for(FIRST)
        terminal.send("n")
        terminal.wait_for(AFTER_N)
        assert {"25", "1000", "1049"} <= set(terminal.switched_on)
        assert not terminal.as_it_was
        terminal.signal(number)
        assert terminal.end() == code
        assert terminal.switched_on == []
        assert terminal.as_it_was
        assert "Traceback" not in terminal.text
        assert terminal.screen.strip() == ""
    assert kinds(day) == ["day-opened", "setup-begun"]


@pytest.mark.parametrize("own", [True, False], ids=["with a signal", "without a signal"])
def test_it_ends_when_its_terminal_is_gone(day: Path, own: bool) -> None:
    with opened(day, own=own) as terminal:
        terminal.wait_for(FIRST)
        terminal.send("n")
        terminal.wait_for(AFTER_N)
        used = resource.getrusage(resource.RUSAGE_CHILDREN)
        before = time.process_time(), _cpu_s(terminal.process.pid)
        terminal.cut()
        cut = time.monotonic()
        assert terminal.end(5) == 129
        assert time.monotonic() - cut < 2
        after = resource.getrusage(resource.RUSAGE_CHILDREN)
        spent = after.ru_utime + after.ru_stime - used.ru_utime - used.ru_stime - before[1]
        assert spent < 1.6  # a forecast may have been under way; a spinning loop takes it all
    assert kinds(day) == ["day-opened", "setup-begun"]


def _cpu_s(pid: int) -> float:
    fields = Path(f"/proc/{pid}/stat").read_text().rsplit(")", 1)[1].split()
    return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")


def test_the_keys_that_end_other_programs_ask_first(day: Path) -> None:
    with opened(day) as terminal:
        terminal.wait_for(FIRST)
        terminal.send("w")
        terminal.wait_for("A note:")
        terminal.send("the fog machine leaks")
        terminal.wait_for("machine leaks")
        for key in (CTRL_C, CTRL_Q):
            terminal.send(key)
            terminal.wait_for("Leave the day?")
            terminal.send("n")
            terminal.wait_until_gone("Leave the day?")
            terminal.wait_for("machine leaks")
        terminal.send("\r")
        terminal.wait_for("note saved")
        terminal.send(CTRL_C)
        terminal.wait_for("Leave the day?")
        terminal.send(CTRL_C)
        assert terminal.end() == 0
        assert terminal.as_it_was
    assert kinds(day) == ["day-opened", "note", "left"]


def test_it_can_be_suspended_and_resumed(day: Path) -> None:
    with opened(day) as terminal:
        terminal.wait_for(FIRST)
        terminal.send(CTRL_Z)
        terminal.wait(lambda: _state(terminal.process.pid) == "T", "stop")
        terminal.wait(lambda: terminal.as_it_was, "restored terminal")
        terminal.signal(signal.SIGCONT)
        terminal.wait_for(FIRST)
        terminal.send("n")
        terminal.wait_for(AFTER_N)
        leave(terminal)
        assert terminal.as_it_was


def _state(pid: int) -> str:
    return Path(f"/proc/{pid}/stat").read_text().rsplit(")", 1)[1].split()[0]


# A program of ours with a fault put in, as a change of the code might put one in.
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
    ("patch", "kept"),
    [
        ("RunbookApp.action_keys = fault", ["day-opened", "setup-begun"]),
        ("SetScreen.repaint = fault", ["day-opened"]),
        ("RunbookApp.on_mount = fault", ["day-opened"]),
    ],
    ids=["a key", "painting", "start"],
)
def test_an_unexpected_error_ends_in_a_plain_line(day: Path, tmp_path: Path, patch: str, kept: list[str]) -> None:
    words = [sys.executable, "-c", FAULT.format(patch), str(day)]
    with Terminal(words, env={"TMPDIR": str(tmp_path)}, columns=200) as terminal:
        if len(kept) > 1:
            terminal.wait_for(FIRST)
            terminal.send("n")
            terminal.wait_for(AFTER_N)
            terminal.send("?")
        assert terminal.end() not in (0, 1)
        assert terminal.as_it_was
        lines = [line for line in terminal.screen.splitlines() if line]
    assert len(lines) == 2
    assert "is in the journal" in lines[0]
    assert "unexpected ZeroDivisionError: no such light; details in" in lines[1]
    (details,) = tmp_path.glob("runbook-*.txt")
    assert "in fault" in details.read_text()
    assert kinds(day) == kept


# -- what it needs -----------------------------------------------------------------------------


def test_it_works_in_any_window_size(day: Path) -> None:
    with opened(day) as terminal:
        terminal.wait_for(FIRST)
        for rows, columns in [(1, 1), (2, 500), (50, 3), (1, 1), (3, 20)]:
            terminal.resize(rows, columns)
        terminal.send("n")
        terminal.wait_for("Exits and")
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


@pytest.mark.parametrize("term", ["xterm", "linux", "screen", "tmux-256color"])
def test_a_poorer_terminal_shows_the_same_words(day: Path, term: str) -> None:
    with opened(day, env={"TERM": term}) as terminal:
        terminal.wait_for(FIRST)
        if term != "tmux-256color":
            assert "38" not in colours(terminal), "a colour beyond the sixteen"


def test_no_color_paints_no_colour(day: Path) -> None:
    with opened(day, env={"NO_COLOR": "1"}) as terminal:
        terminal.wait_for(FIRST)
        terminal.send("n")
        terminal.wait_for("Every stand under")
        assert colours(terminal) == set()


PLAIN = {"LC_ALL": "C", "PYTHONUTF8": "0", "PYTHONCOERCECLOCALE": "0"}


def test_without_utf_8_only_ascii_is_painted(day: Path) -> None:
    with opened(day, env=PLAIN) as terminal:
        terminal.wait_for(FIRST)
        for key, shown in [("n", "Every stand under"), ("t", "Planning figures"), ("?", "STANDS AND CHECKLIST")]:
            terminal.send(key)
            terminal.wait_for(shown)
        terminal.send("?")
        terminal.wait_until_gone("STANDS AND CHECKLIST")
        terminal.send("z")
        terminal.wait_for("z back")
        assert colours(terminal) != set()
        assert {char for char in terminal.text if not " " <= char <= "~"} <= set("\r\n\t")
        leave(terminal)


@pytest.mark.parametrize("how", ["no input", "no output", "dumb", "nothing"])
def test_without_a_terminal_it_refuses_in_one_line(day: Path, how: str) -> None:
    terminal, other = os.openpty()
    streams = {
        "no input": (subprocess.DEVNULL, other),
        "no output": (other, subprocess.PIPE),
        "dumb": (other, other),
        "nothing": (subprocess.DEVNULL, subprocess.PIPE),
    }[how]
    env = clean_env() | ({"TERM": "dumb"} if how == "dumb" else {})
    ran = subprocess.run(
        [*RUNBOOK, "open", str(day)],
        stdin=streams[0],
        stdout=streams[1],
        stderr=subprocess.PIPE,
        env=env,
        cwd=HERE,
        timeout=20,
        check=False,
    )
    os.close(other)
    assert ran.returncode == 2
    assert ran.stderr.decode().startswith("runbook open: no terminal to show the day on;")
    assert ran.stderr.count(b"\n") == 1
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
            terminal.send("n")
            terminal.wait_for("Every stand under")
            leave(terminal)
        finally:
            subprocess.run([*tmux, "kill-server"], capture_output=True, check=False)
    assert kinds(day) == ["day-opened", "setup-begun", "left"]


# -- what it asks before it begins ---------------------------------------------------------------


def asked(day: Path, question: str, answer: str, **how: object) -> Iterator[Terminal]:
    with opened(day, **how) as terminal:
        terminal.wait_for(question)
        terminal.wait_for("\n>")
        terminal.send(f"{answer}\r")
        yield terminal


def stops(day: Path, question: str, **how: object) -> None:
    """Asked, and stopped there: with a plain status, and the files as they were."""
    before = {path.name: path.read_bytes() for path in day.iterdir()}
    for terminal in asked(day, question, "q", **how):
        assert terminal.end() == 2
        assert "1049" not in terminal.text
    left = {path.name: path.read_bytes() for path in day.iterdir()}
    assert {name: left.get(name) for name in before} == before
    assert set(left) - set(before) <= {"journal.runlog-open"}


def goes_on(day: Path, question: str, answer: str, shown: str, **how: object) -> None:
    for terminal in asked(day, question, answer, **how):
        terminal.wait_for(shown)
        terminal.send("n")
        terminal.wait_for("Exits and the ways")
        leave(terminal)


NOT_RECORDED = "NOT RECORDED ON DISK"


def test_a_damaged_journal_can_be_kept_rescued_or_replaced(day: Path) -> None:
    written(day)
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


def test_a_rescue_shows_what_was_read_and_what_is_lost(day: Path) -> None:
    written(day)
    path = journal_path(day)
    path.write_bytes(path.read_bytes()[:8192])
    for terminal in asked(day, "is damaged", "1"):
        terminal.wait_for("JOURNAL INCOMPLETE")
        terminal.wait_for("RESCUED: 0 entries read, later ones may be missing")
        leave(terminal)
    assert "rescued: 0 entries read, later ones may be missing" in logged(day).stdout


def logged(day: Path) -> subprocess.CompletedProcess[str]:
    words = [*RUNBOOK, "log", str(day)]
    return subprocess.run(words, capture_output=True, text=True, check=True, cwd=HERE)


def test_an_empty_journal_file_is_reported(day: Path) -> None:
    path = journal_path(day)
    path.write_bytes(b"")
    assert "journal.runlog is empty: what it held" in logged(day).stderr
    with opened(day) as terminal:
        terminal.wait_for("journal.runlog was empty: what it held, if anything, is lost")
        leave(terminal)


def test_the_questions_about_a_journal_break_at_words(day: Path) -> None:
    written(day)
    path = journal_path(day)
    path.write_bytes(path.read_bytes()[:8191])
    for terminal in asked(day, "is damaged", "q"):
        assert terminal.end() == 2
        words = terminal.text.split()
        assert {"Set", "rescue", "what", "can", "be", "read,", "fresh", "journal."} <= {*words}
        assert all(len(line) <= 80 for line in terminal.text.splitlines())


def test_a_file_that_is_no_journal_is_moved_only_when_asked(day: Path) -> None:
    path = journal_path(day)
    path.write_text("my notes, not yours\n" * 20)
    stops(day, "is not a journal")
    goes_on(day, "is not a journal", "1", FIRST)
    assert (day / "journal.damaged-1.runlog").read_text().startswith("my notes")
    assert kinds(day) == ["day-opened", "setup-begun", "left"]


def test_a_newer_journal_is_left_unchanged(day: Path) -> None:
    written(day)
    path = journal_path(day)
    with sqlite3.connect(path) as connection:
        connection.execute("PRAGMA user_version=99")
    connection.close()
    before = path.read_bytes()
    stops(day, "newer version")
    goes_on(day, "newer version", "1", NOT_RECORDED)
    assert path.read_bytes() == before


def test_a_second_program_may_only_look_on(day: Path) -> None:
    with opened(day) as first:
        first.wait_for(FIRST)
        first.send("n")
        first.wait_for(AFTER_N)
        busy = f"process {first.process.pid}"
        stops(day, busy, columns=140)
        for second in asked(day, busy, "2", columns=140):
            second.wait_for("The keeper at the window")
            second.wait_for(NOT_RECORDED)
            second.send("w")
            second.wait_for("A note:")
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
    written(day)
    before = journal_path(day).read_bytes()
    day.chmod(0o555)
    try:
        stops(day, "no permission", before=_bound)
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
    for terminal in asked(day, "could not be", "q", before=_room(4096), columns=140):
        assert terminal.end() == 2
    goes_on(day, "could not be", "2", NOT_RECORDED, before=_room(4096), columns=140)
    assert kinds(day) == []
    with opened(day) as terminal:
        terminal.wait_for(FIRST)
    assert kinds(day) == ["day-opened"]


def test_a_disk_that_fills_up_is_reported_and_loses_nothing(day: Path) -> None:
    with opened(day, before=_room(12288), columns=100) as terminal:
        terminal.wait_for(FIRST)
        notes = 0
        while "NOT RECORDED" not in terminal.screen:
            terminal.send("w")
            terminal.wait_for("A note:")
            terminal.send(PASTE.format(f"note {notes} " + "x" * 1500) + "\r")
            terminal.wait_until_gone("A note:")
            terminal.wait(lambda n=notes: "NOT RECORDED" in terminal.screen or len(kinds(day)) > n + 1, "answer")
            notes += 1
        kept = kinds(day)
        assert kept == ["day-opened", *["note"] * (notes - 1)]
        terminal.send("w")
        terminal.wait_for(NOT_RECORDED)
        terminal.send("n")
        terminal.wait_for("Exits and the ways")
        leave(terminal, "entries are not written and would be lost")
    assert kinds(day) == kept


def test_a_journal_deleted_meanwhile_is_reported_and_can_be_restored(day: Path) -> None:
    path, away = journal_path(day), day / "away"
    with opened(day, columns=100) as terminal:
        terminal.wait_for(FIRST)
        path.rename(away)
        terminal.send("n")
        terminal.wait_for("NOT RECORDED: journal.runlog is no longer where it was")
        away.rename(path)
        terminal.send("a")
        terminal.wait_for(AFTER_N)
        path.rename(away)
        terminal.send("w")
        terminal.wait_for("A note:")
        terminal.send("on we go\r")
        terminal.wait_for("NOT RECORDED:")
        terminal.send("w")
        terminal.wait_for("note saved")
        leave(terminal)
    away.rename(path)
    assert kinds(day) == ["day-opened", "setup-begun"]


@pytest.mark.parametrize("keys", ["q\rn", "q\r\r", "qyy", "qqqy"])
def test_a_burst_of_keys_that_leaves_ends_without_a_fault(day: Path, keys: str) -> None:
    with opened(day) as terminal:
        terminal.wait_for(FIRST)
        terminal.send(keys)
        assert terminal.end() == 0
        assert "unexpected" not in terminal.text
    assert kinds(day) == ["day-opened", "left"]


def test_bursts_of_keys_on_dialogs_are_answered_in_order(day: Path) -> None:
    with opened(day) as terminal:
        terminal.wait_for(FIRST)
        terminal.send("??\r\rng22w2 notes\rf12\r")
        terminal.wait(lambda: kinds(day)[-1] == "frames", "frames entry")
        leave(terminal)
    assert kinds(day) == ["day-opened", "setup-begun", "setup-begun", "note", "frames", "left"]


@pytest.fixture
def immutable_day(day: Path) -> Iterator[Callable[[], None]]:
    """A call after which nothing in the day's folder can be made or removed, by root either."""
    chattr = shutil.which("chattr")
    if chattr is None:
        pytest.skip("no chattr here; the refused removal is tested on the lock by itself")

    def set_flag(flag: str) -> int:
        return subprocess.run([chattr, flag, str(day)], capture_output=True, check=False).returncode

    def make_immutable() -> None:
        if set_flag("+i"):
            pytest.skip("this file system or user cannot make a folder immutable")

    yield make_immutable
    set_flag("-i")


@pytest.mark.parametrize("answer", ["w", "x"])
def test_a_folder_that_becomes_read_only_stops_nobody(
    day: Path, immutable_day: Callable[[], None], answer: str
) -> None:
    with opened(day, columns=120) as terminal:
        terminal.wait_for(FIRST)
        immutable_day()
        terminal.send("n")
        terminal.wait_for("NOT RECORDED: journal.runlog cannot be written")
        terminal.send(answer)
        if answer == "w":
            terminal.wait_for("NOT RECORDED ON DISK")
            terminal.send("q")
            terminal.wait_for("is not written and would be lost")
            terminal.send("y")
        assert terminal.end() == (0 if answer == "w" else 1)
        assert "unexpected" not in terminal.text
    assert kinds(day) == ["day-opened"]


def test_a_day_in_a_read_only_folder_is_left_without_a_fault(day: Path, immutable_day: Callable[[], None]) -> None:
    with opened(day) as terminal:
        terminal.wait_for(FIRST)
        immutable_day()
        leave(terminal)
        assert "unexpected" not in terminal.text
