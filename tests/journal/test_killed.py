"""What was acknowledged is there after a kill: real processes, real SIGKILL, at random moments."""

import os
import random
import signal
import subprocess
import sys
import time
from contextlib import contextmanager
from pathlib import Path

import pydantic_core

import runbook
from runbook.journal.events import Note
from runbook.journal.journal import Journal
from tests.journal.entries_made import Ticking

KILLS = 60
PLACES = [str(Path(module.__file__).parents[1]) for module in (runbook, pydantic_core)]


class Writer:
    """The program of writer.py, and what it says."""

    def __init__(self):
        program = [sys.executable, "-S", "-E", str(Path(__file__).with_name("writer.py")), *PLACES]
        pipe = subprocess.PIPE
        self.process = subprocess.Popen(program, stdin=pipe, stdout=pipe, bufsize=0)

    def start(self, path):
        """Begin a writer there; its process id."""
        self.process.stdin.write(f"{path}\n".encode())
        word, pid = self.says()
        assert word == "pid"
        return int(pid)

    def says(self):
        line = self.process.stdout.readline()
        assert line, "the writer is gone"
        return line.decode().split()

    def last_words(self):
        """What a dead one had still said."""
        said = []
        while (words := self.says()) != ["dead"]:
            said.append(words)
        return said


@contextmanager
def writing():
    writer = Writer()
    try:
        yield writer
    finally:
        writer.process.stdin.close()
        writer.process.stdout.close()
        assert writer.process.wait(10) == 0


def spend(seconds):
    """Let a moment go by that is shorter than any sleep is true to."""
    end = time.perf_counter() + seconds
    while time.perf_counter() < end:
        pass


def kill_somewhere(writer, path, chance):
    """Kill a writer before it opens, while it does, or among its entries; all it acknowledged."""
    pid = writer.start(path)
    said = [writer.says() for _ in range(chance.choice([0, 0, 1, 2, 3, 5, 9]))]
    spend(chance.uniform(0, 0.004))
    os.kill(pid, signal.SIGKILL)
    said += writer.last_words()
    assert not any(words[0] == "refused" for words in said), said
    return [int(words[0]) for words in said if words[0].isdigit()]


def hold_to(path, acknowledged, most):
    """The file must hold every acknowledged number, in order, without gaps, one more at most."""
    seen = len(Journal.read(path).entries)
    with Journal.open(path, clock=Ticking(), who="test") as journal:
        numbers = [entry.n for entry in journal.entries]
        assert not journal.unreadable
    assert numbers == list(range(1, seen + 1))
    assert acknowledged == list(range(most + 1, most + 1 + len(acknowledged)))
    assert most + len(acknowledged) <= len(numbers) <= most + len(acknowledged) + 1
    return len(numbers)


def test_nothing_acknowledged_is_lost_to_a_kill(tmp_path):
    seed = random.randrange(2**32)
    chance = random.Random(seed)
    told = f"seed {seed}"
    seen = among = 0
    with writing() as writer:
        path, most = tmp_path / "0.runlog", 0
        for kill in range(KILLS):
            if kill % 6 == 0:  # so that making a new file is interrupted too
                path, most = tmp_path / f"{kill}.runlog", 0
            acknowledged = kill_somewhere(writer, path, chance)
            try:
                now = hold_to(path, acknowledged, most)
            except AssertionError as error:
                raise AssertionError(f"{told}, kill {kill}: {error}") from error
            among += bool(acknowledged)
            seen += len(acknowledged)
            most = now
    # or else this has proved nothing: kills among entries
    assert among > KILLS / 4, told
    assert seen > KILLS, told


def test_both_at_once_one_gets_it(tmp_path):
    """Started together, over and over: exactly one writes, whoever it is, and no entry is lost."""
    path, most = tmp_path / "journal.runlog", 0
    with writing() as one, writing() as other:
        for _ in range(12):
            pids = {writer: writer.start(path) for writer in (one, other)}
            words = {writer: writer.says() for writer in (one, other)}
            winners = [writer for writer in (one, other) if words[writer][0] == "open"]
            assert len(winners) == 1, words
            winner = winners[0]
            loser = one if winner is other else other
            assert words[loser] == ["refused", "busy"]
            assert loser.last_words() == []
            os.kill(pids[winner], signal.SIGKILL)
            acknowledged = [int(said[0]) for said in winner.last_words()]
            most = hold_to(path, acknowledged, most)


def test_a_look_while_another_process_writes(tmp_path):
    path = tmp_path / "journal.runlog"
    with writing() as writer:
        pid = writer.start(f"calm {path}")
        assert writer.says()[0] == "open"
        for n in range(1, 40):
            assert writer.says() == [str(n)]
            assert len(Journal.read(path).entries) >= n
        os.kill(pid, signal.SIGKILL)
        writer.last_words()


def test_the_one_file_is_whole_between_entries(tmp_path):
    """Copied while it is open, nothing else taken along: all that was acknowledged is in it."""
    path, stick = tmp_path / "journal.runlog", tmp_path / "stick.runlog"
    with Journal.open(path, clock=Ticking(), who="test") as journal:
        for n in range(1, 30):
            journal.append(Note(None, "x" * n))
            stick.write_bytes(path.read_bytes())
            assert Journal.read(stick).entries == tuple(journal.entries)
