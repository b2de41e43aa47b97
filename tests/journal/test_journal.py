"""The journal's file: what goes in comes out, and everything that can be in the way is told."""

import datetime as dt
import errno
import os
import resource
import shutil
import signal
import sqlite3
import subprocess
import sys
import tempfile
from contextlib import closing
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from runbook.journal import journal_file
from runbook.journal.errors import JournalError, journal_error
from runbook.journal.events import Frames, Left, Note
from runbook.journal.journal import Journal
from runbook.journal.journal_file import JournalContents, Unreadable, decode_row, new_entry, rollback_file, row_of
from tests.journal import entries_made as made

ROOT = Path(__file__).parents[2]


@pytest.fixture
def path(tmp_path):
    return tmp_path / "journal.runlog"


def opened(path):
    return Journal.open(path, clock=made.Ticking(), who="photo")


def filled(path, count=5):
    with opened(path) as journal:
        for n in range(count):
            journal.append(Note(None, f"note {n}"))
        return list(journal.entries)


def refused(kind):
    """The next lines must raise JournalError of this kind."""
    return pytest.raises(JournalError, check=lambda problem: problem.kind == kind)


# --- in and out


@settings(max_examples=10, deadline=None)
@given(st.lists(st.tuples(made.data, made.moment, made.text), max_size=5))
def test_entries_come_back_as_they_went_in(told):
    moments = iter([made.START, *(at for _, at, _ in told)])
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "journal.runlog"
        with Journal.open(path, clock=lambda: next(moments), who="photo") as journal:
            given_back = [journal.append(data, who) for data, _, who in told]
            assert list(journal.entries) == given_back
        seen = Journal.read(path)
    assert list(seen.entries) == given_back
    assert not seen.unreadable
    assert [(one.data, one.at, one.who) for one in seen.entries] == told
    assert [one.at.utcoffset() for one in seen.entries] == [at.utcoffset() for _, at, _ in told]
    assert [one.n for one in seen.entries] == list(range(1, len(told) + 1))


def as_stored(row):
    return tuple(part.encode() if isinstance(part, str) else part for part in row)


@given(made.data, st.data())
def test_a_row_with_anything_changed_is_no_entry(data, draw):
    row = list(as_stored(row_of(new_entry(7, made.START, "photo", data))))
    spot = draw.draw(st.integers(0, len(row) - 1))
    other = draw.draw(st.none() | st.integers() | st.floats() | st.binary())
    if other != row[spot]:
        row[spot] = other
        assert isinstance(decode_row(tuple(row)), Unreadable)


def test_an_entry_of_an_unknown_kind_is_unreadable():
    n, at, offset_s, *_ = as_stored(row_of(new_entry(1, made.START, "photo", Left())))
    texts = (b"photo", b"danced", b"{}")
    crc = journal_file._checksum(n, offset_s, at, *texts)
    unreadable = Unreadable(1, "'danced' is not a kind of entry this program knows")
    assert decode_row((n, at, offset_s, *texts, crc)) == unreadable


def test_a_time_without_a_zone_and_half_a_character_are_refused():
    with pytest.raises(ValueError, match="time zone"):
        new_entry(1, dt.datetime(2026, 12, 4, 8), "photo", Left())
    with pytest.raises(ValueError):
        new_entry(1, made.START, "photo \ud800", Note(None, "x"))


@pytest.mark.parametrize("empty", [False, True])
def test_no_file_and_an_empty_file_are_a_new_journal(path, empty):
    if empty:
        path.touch()
    assert Journal.read(path) == JournalContents()
    with opened(path) as journal:
        assert journal.was_empty is empty
        with pytest.raises(ValueError, match="note: text"):
            journal.append(Note(None, "  "))  # what does not fit changes nothing
        assert journal.append(Left()).n == 1
    with opened(path) as journal:
        assert not journal.was_empty


@pytest.mark.parametrize("change", [
    "UPDATE entry SET who = 'me'",
    "DELETE FROM entry",
    "INSERT OR REPLACE INTO entry SELECT 1, at, 0, who, kind, data, crc FROM entry WHERE n = 2",
])  # fmt: skip
def test_the_file_itself_refuses_to_be_rewritten(path, change):
    before = filled(path)
    with pytest.raises(sqlite3.IntegrityError):
        spoiled(path, change)
    assert list(Journal.read(path).entries) == before


# --- one writer


def test_a_second_writer_is_refused_with_the_holder_and_may_read(path):
    with opened(path) as journal:
        journal.append(Left())
        with refused("busy") as caught:
            opened(path)
        assert f"process {os.getpid()} on " in caught.value.what
        assert caught.value.what.endswith("since 08:01")
        assert len(Journal.read(path).entries) == 1
        assert journal.append(Left()).n == 2
    with opened(path) as journal:
        assert journal.append(Left()).n == 3


def test_without_locks_the_numbers_still_keep_two_writers_apart(path, monkeypatch):
    import fcntl

    def unsupported(*_):
        raise OSError(errno.EOPNOTSUPP, "no locks here")

    monkeypatch.setattr(fcntl, "flock", unsupported)
    with opened(path) as one, opened(path) as other:
        mine = one.append(Note(None, "mine"))
        with refused("busy"):
            other.append(Note(None, "theirs"))
        theirs = other.append(Note(None, "theirs"))
        assert list(other.entries) == [mine, theirs]
    assert list(Journal.read(path).entries) == [mine, theirs]


def test_a_lock_file_removed_between_open_and_lock_is_not_held(path, monkeypatch):
    """Whoever leaves removes the lock's name; one who has just opened it must begin again."""
    lock, calls = journal_file._lock, []

    def removed_once(file):
        lock(file)
        calls.append(file)
        if len(calls) == 1:
            path.with_name(path.name + "-open").unlink()

    monkeypatch.setattr(journal_file, "_lock", removed_once)
    with opened(path):
        assert len(calls) == 2
        with refused("busy"):
            opened(path)


# --- what is not ours, not whole, or too new


def spoiled(path, *statements):
    with closing(sqlite3.connect(path)) as connection:
        connection.executescript(";".join(statements))


@pytest.mark.parametrize(("spoil", "kind"), [
    (lambda path: path.write_bytes(b"a plain text, of no small length\n" * 9), "foreign"),
    (lambda path: path.write_bytes(b"x"), "foreign"),
    (lambda path: spoiled(path, "PRAGMA page_size=512", "CREATE TABLE entry (n)"), "foreign"),
    (lambda path: spoiled(path, "PRAGMA page_size=4096", "CREATE TABLE entry (n)"), "foreign"),
    (lambda path: filled(path) and spoiled(path, "CREATE TABLE extra (x)", "PRAGMA user_version=2"), "newer"),
    (lambda path: filled(path) and spoiled(path, "DROP TABLE entry"), "damaged"),
])  # fmt: skip
def test_a_file_of_another_kind_a_newer_version_or_damaged_is_refused_and_not_touched(path, spoil, kind):
    spoil(path)
    before = path.read_bytes()
    for attempt in (opened, Journal.read):
        with refused(kind) as caught:
            attempt(path)
        assert kind != "newer" or "version 2, this one knows 1" in caught.value.what
    assert path.read_bytes() == before


def test_a_folder_in_its_place_and_no_folder_for_it(path):
    path.mkdir()
    with refused("foreign"):
        opened(path)
    with refused("gone"):
        opened(path / "nowhere" / "journal.runlog")


def test_rows_that_are_wrong_are_named_and_the_others_kept(path):
    before = filled(path, 6)
    spoiled(
        path, "DROP TRIGGER entry_stays", "DROP TRIGGER entry_kept", "UPDATE entry SET who = 'someone' WHERE n = 2",
        "DELETE FROM entry WHERE n = 4", "UPDATE entry SET data = 'x' WHERE n = 6",
    )  # fmt: skip
    with opened(path) as journal:
        assert journal.unreadable == (
            Unreadable(2, "it does not match its checksum"),
            Unreadable(6, "it does not match its checksum"),
            Unreadable(4, "it is missing"),
        )
        assert list(journal.entries) == [before[n - 1] for n in (1, 3, 5)]
        assert journal.append(Left()).n == 7
        assert journal.append(Left()).n == 8


def test_a_write_cut_short_in_a_folder_that_cannot_be_written_is_read_as_before_it(open_folder):
    path, cut = open_folder / "whole.runlog", open_folder / "journal.runlog"
    before = filled(path)
    made.cut_in_a_write(path, cut)
    allow(open_folder, 0o555, 0o444)
    assert as_nobody(lambda: len(Journal.read(cut).entries)) == "5"
    assert rollback_file(cut).exists()
    assert list(Journal.read(cut).entries) == before


def test_a_new_journal_cut_short_is_made_again(tmp_path, path):
    """Half of a file, and beside it the word that there was none before."""
    made.cut_in_a_write(tmp_path / "half.runlog", path)
    assert len(filled(path)) == 5


# --- what cannot be written


@pytest.fixture
def open_folder():
    """A folder that a user without rights can reach."""
    with tempfile.TemporaryDirectory() as folder:
        yield Path(folder)
        Path(folder).chmod(0o755)


def allow(folder, folder_mode, file_mode):
    for file in folder.iterdir():
        file.chmod(file_mode)
    folder.chmod(folder_mode)


def as_nobody(work):
    """What some work says, done by a process of a user without rights."""
    reading, writing = os.pipe()
    child = os.fork()
    if child == 0:
        try:
            if os.geteuid() == 0:
                os.setgroups([])
                os.setgid(65534)
                os.setuid(65534)
            os.write(writing, str(work()).encode())
        except BaseException as error:
            os.write(writing, repr(error).encode())
        finally:
            os._exit(0)
    os.close(writing)
    with os.fdopen(reading) as said:
        answer = said.read()
    os.waitpid(child, 0)
    return answer


def test_a_read_only_folder_or_file_is_refused_on_opening_and_can_be_read(open_folder):
    path = open_folder / "journal.runlog"
    filled(path)

    def refused_at_once():
        with refused("read-only"):
            opened(path)
        return len(Journal.read(path).entries)

    for folder_mode, file_mode in ((0o555, 0o444), (0o555, 0o666), (0o777, 0o444)):
        allow(open_folder, folder_mode, file_mode)
        assert as_nobody(refused_at_once) == "5"
    allow(open_folder, 0o777, 0o666)
    assert as_nobody(lambda: filled(path, 1)[-1].n) == "6"


def test_a_write_refused_in_its_middle_leaves_what_was_there(path):
    """A limit on the size of files, in place of a full disk."""
    limit = resource.getrlimit(resource.RLIMIT_FSIZE)
    handler = signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
    long = Note(None, "too long " * 3000)
    try:
        with opened(path) as journal:
            first = journal.append(Note(None, "fits"))
            resource.setrlimit(resource.RLIMIT_FSIZE, (path.stat().st_size, limit[1]))
            for _ in range(2):
                with pytest.raises(JournalError, check=lambda problem: problem.kind in ("full", "failed")):
                    journal.append(long)
                assert list(journal.entries) == [first]
            resource.setrlimit(resource.RLIMIT_FSIZE, limit)
            assert journal.append(long).n == 2
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, limit)
        signal.signal(signal.SIGXFSZ, handler)
    assert [entry.n for entry in Journal.read(path).entries] == [1, 2]


SMALL_DISK = """
import datetime as dt, pathlib, subprocess, sys
from runbook.journal.events import Note
from runbook.journal.journal import Journal
from runbook.journal.errors import JournalError
folder = pathlib.Path(sys.argv[1])
mount = ["mount", "-t", "tmpfs", "-o", "size=128k", "tmpfs", str(folder)]
if subprocess.run(mount, capture_output=True).returncode:
    sys.exit(77)
path = folder / "journal.runlog"
with Journal.open(path, clock=lambda: dt.datetime.now(dt.UTC), who="photo") as journal:
    try:
        while True:
            journal.append(Note(None, "x" * 900))
    except JournalError as problem:
        kept = len(journal.entries)
        print(problem.kind, kept > 10, len(Journal.read(path).entries) == kept)
"""


def test_a_really_full_disk():
    """A disk of 128 kB in memory, in a view of the file system that ends with the process."""
    if os.geteuid() != 0 or shutil.which("unshare") is None:
        pytest.skip("only root can mount a small disk; the limit on file size is tested above")
    with tempfile.TemporaryDirectory() as folder:
        run = subprocess.run(
            ["unshare", "-m", sys.executable, "-c", SMALL_DISK, folder], env=os.environ | {"PYTHONPATH": str(ROOT)},
            capture_output=True, text=True, check=False,
        )  # fmt: skip
    if run.returncode == 77:
        pytest.skip("no small disk can be mounted here")
    assert (run.stdout.strip(), run.returncode) == ("full True True", 0), run.stderr


def test_a_moved_or_replaced_file_is_refused_before_anything_is_written(path):
    away = path.with_name("away")
    with opened(path) as journal:
        first = journal.append(Left())
        path.rename(away)
        with refused("gone"):
            journal.append(Left())
        filled(path.with_name("other.runlog"))
        path.with_name("other.runlog").rename(path)
        with refused("gone"):
            journal.append(Left())
        assert list(journal.entries) == [first]
        journal.write_out(path.with_name("saved.runlog"))
        away.replace(path)
        assert journal.append(Left()).n == 2
    assert Journal.read(path.with_name("saved.runlog")).entries == (first,)
    assert [one.n for one in Journal.read(path).entries] == [1, 2]


def away_from(path, *told):
    """A journal in memory that began from the file, and what was said since."""
    with opened(path) as journal:
        journal.append(Note(None, "on disk"))
        memory = Journal.in_memory(clock=made.Ticking(), who="first", entries=journal.entries)
    for data in told:
        memory.append(data, "Kim")
    return memory


@settings(max_examples=15)
@given(st.integers(0, 4), st.integers(0, 4))
def test_what_was_only_in_memory_goes_back_to_the_file_as_it_was_entered(before, after):
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "journal.runlog"
        with away_from(path, *[Note(None, "unheard")] * before) as memory:
            said = list(memory.entries)
            assert memory.go_back_to(path) == before
            assert memory.on_disk and memory.path == path and not memory.unwritten
            assert list(Journal.read(path).entries) == said
            for _ in range(after):
                memory.append(Note(None, "on we go"))
            with refused("busy"):
                Journal.open(path, clock=made.Ticking(), who="other")
            assert list(Journal.read(path).entries) == list(memory.entries)


def test_what_somebody_else_wrote_meanwhile_is_not_written_over(path):
    memory = away_from(path, Note(None, "mine"))
    with opened(path) as other:
        with refused("busy"):
            memory.go_back_to(path)
        other.append(Note(None, "theirs"))
    with refused("busy"):
        memory.go_back_to(path)
    assert [one.data.text for one in Journal.read(path).entries] == ["on disk", "theirs"]
    assert [one.data.text for one in memory.unwritten] == ["mine"]


def test_a_disk_that_is_still_full_leaves_it_in_memory(path, monkeypatch):
    memory = away_from(path, Note(None, "mine"))
    before = path.read_bytes()
    with monkeypatch.context() as patched, refused("full"):
        patched.setattr(journal_file.JournalFile, "append", _full)
        memory.go_back_to(path)
    assert path.read_bytes() == before and not memory.on_disk
    assert memory.go_back_to(path) == 1
    memory.close()


def _full(file, *_):
    raise journal_error("full", file.path)


def test_an_entry_that_is_on_disk_although_the_write_failed_is_not_written_twice(path, monkeypatch):
    append = journal_file.JournalFile.append

    def fails_afterwards(file, entries):
        append(file, entries)
        raise journal_error("failed", file.path)

    with opened(path) as journal:
        with monkeypatch.context() as patched:
            patched.setattr(journal_file.JournalFile, "append", fails_afterwards)
            assert journal.append(Note(None, "one")).n == 1
        assert journal.append(Note(None, "two")).n == 2
        assert Journal.read(path).entries == tuple(journal.entries)


# --- without a file


def test_a_journal_in_memory_can_be_written_out_whole_or_not_at_all(path, monkeypatch):
    def fails(path, *_):
        path.write_bytes(b"half")
        raise OSError(28, "no space left on device")

    journal = Journal.in_memory(clock=made.Ticking(), who="photo")
    entries = [journal.append(Frames("keeper", n)) for n in range(1, 4)]
    with monkeypatch.context() as patched, refused("full"):
        patched.setattr(journal_file, "create", fails)
        journal.write_out(path)
    assert not path.exists()
    journal.write_out(path)
    with refused("failed"):
        journal.write_out(path)
    with opened(path) as again:
        assert list(again.entries) == entries
        assert again.append(Left()).n == 4


def test_a_lock_file_that_cannot_be_removed_is_released_all_the_same(path, monkeypatch):
    def refuses(*_, **__):
        raise PermissionError(errno.EROFS, os.strerror(errno.EROFS))

    journal = opened(path)
    with monkeypatch.context() as patch:
        patch.setattr(Path, "unlink", refuses)
        journal.close()
    opened(path).close()
