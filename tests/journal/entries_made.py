"""Journal entries for the tests: any at all, and plain ones."""

import datetime as dt
import shutil
import sqlite3
from collections.abc import Callable
from contextlib import closing
from pathlib import Path

from hypothesis import strategies as st

from runbook.journal import events as kinds
from runbook.journal.events import Entry, kind_of
from runbook.journal.journal_file import rollback_file

START = dt.datetime(2026, 12, 4, 8, 0, tzinfo=dt.timezone(dt.timedelta(hours=1)))

text = st.text(st.characters(codec="utf-8"), max_size=30)
words = text.filter(lambda words: bool(words.strip()))
maybe = st.none() | text
ident = st.from_regex(r"[A-Za-z0-9_-]{1,24}", fullmatch=True)
number = st.floats(allow_nan=False, allow_infinity=False)
json = st.recursive(
    st.none() | st.booleans() | st.integers(-(2**70), 2**70) | number | text,
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(text, inner, max_size=3),
    max_leaves=6,
)
step = st.dictionaries(text, json, max_size=6)
value = st.none() | st.booleans() | number | text | st.lists(text, max_size=3).map(tuple)
seconds = st.none() | st.floats(0, 1e6)
setup = st.none() | ident
size = st.integers(0, 2**40)
taken = st.sampled_from(["2026-12-04T10:00:00+01:00", "2026-12-04T23:59:59.250000-03:30", "2026-99-99T10:00:00+00:00"])

PARTS = ("head", "panel", "camera", "subject", "background")
stood = st.none() | st.builds(kinds.AsStood, step, st.lists(text, max_size=2).map(tuple), st.none() | step)

data = st.one_of(
    st.builds(kinds.DayOpened, text, text, text, st.booleans()), st.builds(kinds.SetupBegun, setup, stood),
    st.builds(kinds.StepTicked, setup, step, seconds), st.builds(kinds.CheckTicked, text, text, text, setup, maybe),
    st.builds(kinds.Skipped, st.sampled_from(["step", "check", "setup"]), words, setup, maybe, st.none() | step, maybe),
    st.builds(kinds.Undone, st.integers(1, 10**6)),
    st.builds(kinds.Changed, ident, st.sampled_from(PARTS), text, value, value, text),
    st.builds(kinds.Reading, ident, setup, number, text, text, stood),
    st.builds(kinds.Frames, ident, st.integers(-(2**40), 2**40), stood),
    st.builds(kinds.Frame, words, size, text, taken, st.booleans(), *[st.none() | number] * 4, st.none() | size, text),
    st.builds(kinds.FrameFile, st.integers(1, 99), words, size, text),
    st.builds(kinds.FramesPlaced, st.lists(st.integers(1, 99)).map(tuple), setup),
    st.builds(kinds.CameraClock, text, st.none() | number) | st.builds(kinds.FramesChecked, ident, st.integers(1, 99)),
    st.builds(kinds.Selected, ident, st.none() | st.integers(1, 99), text),
    st.builds(kinds.Compared, setup, st.sampled_from(["ambient", "grey card"]), *[st.integers(1, 9)] * 2, number),
    st.builds(kinds.Note, setup, words), st.builds(kinds.Wind, st.floats(0, 100)),
    st.builds(kinds.SetupShot, ident, st.none() | st.floats(0, 100), stood), st.just(kinds.Left()),
    st.builds(kinds.HandedOver, words) | st.builds(kinds.Resumed, words),
    st.builds(kinds.BreakBegun, ident, st.none() | st.floats(0, 600), st.none() | words),
    st.builds(kinds.TalentLate, words, st.sampled_from(["00:00", "13:40", "23:59"])),
    st.builds(kinds.BatteryChanged, ident) | st.builds(kinds.BreakEnded, ident),
    st.builds(kinds.Rescued, text, st.integers(0, 9999), st.lists(st.integers(1, 9999)).map(tuple)),
)  # fmt: skip
zone = st.integers(-14 * 60, 14 * 60).map(lambda m: dt.timezone(dt.timedelta(minutes=m)))
moment = st.datetimes(dt.datetime(2000, 1, 2), dt.datetime(2100, 1, 1), timezones=zone)


class Ticking:
    """A clock that moves on by a minute at every look."""

    def __init__(self) -> None:
        self.looks = 0

    def __call__(self) -> dt.datetime:
        self.looks += 1
        return START + dt.timedelta(minutes=self.looks)


def entry(n: int, value: object, who: str = "photo") -> Entry:
    return Entry(n, START + dt.timedelta(minutes=n), who, kind_of(value), value)


def cut_in_a_write(source: Path, target: Path, spoil: Callable[[bytes], bytes] = bytes) -> None:
    """Copy a database as a kill leaves it: the file half written, and beside it what must be put back."""
    with closing(sqlite3.connect(source, isolation_level=None)) as connection:
        connection.execute("PRAGMA cache_size=1")
        connection.execute("BEGIN")
        connection.execute("CREATE TABLE filling (text)")
        connection.executemany("INSERT INTO filling VALUES (?)", [("y" * 2000,)] * 60)
        target.write_bytes(spoil(source.read_bytes()))
        shutil.copyfile(rollback_file(source), rollback_file(target))
    assert target.stat().st_size > source.stat().st_size
