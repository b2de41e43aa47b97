"""A program that writes a journal until it is killed; run by the tests, not a test.

It imports once, then for every line on standard input, a path, forks a writer that opens the
journal there, and says on standard output its process id, ``open``, and each number after
``append`` has returned it; or why it could not. A path after ``calm`` is written to with a breath
between the entries, though with none of a person's length.
"""

# ruff: noqa: E402
import os
import sys
import time

sys.path[:0] = sys.argv[1:]

import datetime as dt
import sqlite3  # noqa: F401  before the fork, so that a writer is soon at its work
from pathlib import Path

from runbook.journal.errors import JournalError
from runbook.journal.events import StepTicked, decode, encode, kind_of
from runbook.journal.journal import Journal

STEP = {"verb": "fit", "kind": "head", "item": "A", "on": "S1", "to": None, "text": "é" * 40}


def say(*words: object) -> None:
    os.write(1, (" ".join(map(str, words)) + "\n").encode())


def write(path: Path, breath: float) -> None:
    say("pid", os.getpid())
    try:
        journal = Journal.open(path, clock=lambda: dt.datetime.now(dt.UTC), who="photo")
    except JournalError as problem:
        say("refused", problem.kind)
        return
    say("open", len(journal.entries))
    while True:
        # now and then one too long for a page of the file
        step = STEP | {"text": STEP["text"] * 60} if len(journal.entries) % 7 == 0 else STEP
        say(journal.append(StepTicked("keeper", step, 1.5)).n)
        time.sleep(breath)


decode(kind_of(ready := StepTicked("keeper", STEP)), encode(ready))  # builds its validator
for line in sys.stdin:
    child = os.fork()
    if child == 0:
        try:
            *calm, place = line.split()
            write(Path(place), 0.005 if calm else 0)
        finally:
            os._exit(0)
    os.waitpid(child, 0)
    say("dead")
