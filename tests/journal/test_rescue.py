"""A damaged journal: told, never guessed at, and read as far as it can be."""

import tempfile
from pathlib import Path

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from runbook.journal.errors import JournalError
from runbook.journal.events import Note, Rescued
from runbook.journal.journal import Journal, repair
from runbook.journal.journal_file import rescue, rollback_file, set_aside
from tests.journal import entries_made as made

COUNT = 120


def _whole():
    journal = Journal.in_memory(clock=made.Ticking(), who="photo")
    for n in range(COUNT):
        # every so often one that does not fit on a page
        journal.append(Note("keeper", f"note {n} " + "é" * (6000 if n % 40 == 7 else n)))
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "journal.runlog"
        journal.write_out(path)
        return path.read_bytes(), tuple(journal.entries)


WHOLE, ENTRIES = _whole()
TRUE = {one.n: one for one in ENTRIES}
PAGES = len(WHOLE) // 4096


def hold_to_the_truth(path):
    """However the file is spoiled: JournalError or true entries, all missing ones named."""
    try:
        seen = Journal.read(path)
    except JournalError:
        pass
    else:
        assert all(one == TRUE.get(one.n) for one in seen.entries)
        last = seen.entries[-1].n if seen.entries else 0
        named = {row.n for row in seen.unreadable}
        assert {one.n for one in seen.entries} | named >= set(range(1, last + 1))
    found = rescue(path)
    assert all(one == TRUE.get(one.n) for one in found)
    assert [one.n for one in found] == sorted({one.n for one in found})
    return found


def opened(path):
    return Journal.open(path, clock=made.Ticking(), who="photo")


def repaired(path):
    return repair(path, clock=made.Ticking(), who="photo")


@settings(max_examples=30)
@given(st.integers(0, len(WHOLE)))
@example(1)
@example(4096)
@example(len(WHOLE) - 1)
def test_cut_short_anywhere(size):
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "journal.runlog"
        path.write_bytes(WHOLE[:size])
        found = hold_to_the_truth(path)
        if size == len(WHOLE):
            assert tuple(found) == ENTRIES
        elif size > 0:
            with pytest.raises(JournalError) as caught:
                opened(path)
            assert caught.value.kind in ("damaged", "foreign")
            assert path.read_bytes() == WHOLE[:size]


flips = st.lists(
    st.tuples(
        # the head of a page holds what the rest hangs on: aim at it as often as at all the others
        st.integers(0, len(WHOLE) - 1)
        | st.builds(lambda page, at: page * 4096 + at, st.integers(0, PAGES - 1), st.integers(0, 40))
        | st.integers(0, 800),
        st.integers(1, 255),
    ),
    min_size=1,
    max_size=8,
)


@settings(max_examples=30, deadline=None)
@given(flips)
def test_bytes_turned_anywhere(turned):
    spoiled = bytearray(WHOLE)
    for at, by in turned:
        spoiled[at] ^= by
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "journal.runlog"
        path.write_bytes(spoiled)
        hold_to_the_truth(path)
        try:
            journal = opened(path)
        except JournalError:
            return
        with journal:
            before = list(journal.entries)
            try:
                new = [journal.append(Note(None, "on we go"))]
            except JournalError:
                new = []
            assert list(journal.entries) == before + new


def test_a_lost_page_costs_the_entries_on_it_and_no_others(tmp_path):
    """Pages 0 and 1 lead to all others: without them SQLite reads nothing at all."""
    path = tmp_path / "journal.runlog"
    for page in range(PAGES):
        path.write_bytes(WHOLE[: page * 4096] + bytes(4096) + WHOLE[(page + 1) * 4096 :])
        kept = hold_to_the_truth(path)
        # the notes are up to about 300 bytes each, so no page holds more than this many
        assert len(kept) == 0 if page < 2 else len(kept) >= COUNT - 40


def test_a_damaged_journal_is_set_aside_with_what_belongs_to_it(tmp_path):
    path = tmp_path / "journal.runlog"
    with pytest.raises(JournalError):
        set_aside(path)
    assert list(tmp_path.iterdir()) == []
    for n in (1, 2):
        path.write_bytes(b"spoiled %d" % n)
        rollback_file(path).write_bytes(b"unfinished %d" % n)
        aside = set_aside(path)
        assert aside.name == f"journal.damaged-{n}.runlog"
        assert aside.read_bytes() == b"spoiled %d" % n
        assert rollback_file(aside).read_bytes() == b"unfinished %d" % n
    assert not path.exists()
    assert not rollback_file(path).exists()
    assert (tmp_path / "journal.damaged-1.runlog").read_bytes() == b"spoiled 1"


def test_repair_keeps_all_that_can_be_read_and_reports_what_is_lost(tmp_path):
    path = tmp_path / "journal.runlog"
    leaf = next(n for n in range(4, PAGES) if WHOLE[n * 4096] == 0x0D)
    spoiled = WHOLE[: leaf * 4096] + bytes(4096) + WHOLE[(leaf + 1) * 4096 :]
    path.write_bytes(spoiled)
    kept = rescue(path)
    lost = {one.n for one in ENTRIES} - {one.n for one in kept}
    assert lost
    with pytest.raises(JournalError):
        opened(path)
    aside = repaired(path)
    assert aside.read_bytes() == spoiled
    with opened(path) as journal:
        assert not journal.unreadable
        *before, told = journal.entries
        assert before == kept
        assert told.data == Rescued(aside.name, len(kept), tuple(sorted(lost)))
        assert journal.append(Note(None, "on we go")).n == told.n + 1
    assert sorted(file.name for file in tmp_path.iterdir()) == [aside.name, path.name]


def test_a_journal_that_cannot_be_read_at_all_is_kept_and_replaced(tmp_path):
    path = tmp_path / "journal.runlog"
    path.write_bytes(WHOLE[:8192])  # no page is left that holds an entry
    aside = repaired(path)
    assert aside.read_bytes() == WHOLE[:8192]
    with opened(path) as journal:
        (told,) = journal.entries
    assert told.data == Rescued(aside.name, 0)
    assert not told.data.whole


@pytest.mark.parametrize("elsewhere", [False, True])
@pytest.mark.parametrize("spoil", [
    lambda path: path.write_bytes(WHOLE[: 3 * 4096] + bytes(4096) + WHOLE[4 * 4096 :]),
    Path.unlink,
    lambda path: path.write_bytes(b"junk"),
])  # fmt: skip
def test_all_that_is_in_memory_is_written_again(tmp_path, spoil, elsewhere):
    path = tmp_path / "journal.runlog"
    path.write_bytes(WHOLE)
    place = tmp_path / "spare.runlog" if elsewhere else path
    with opened(path) as journal:
        entries = list(journal.entries)
        spoil(path)
        left = path.read_bytes() if path.exists() else b""
        assert journal.write_again(place) == COUNT
        told = journal.entries[-1].data
        assert told.whole
        journal.append(Note(None, "on we go"))
        with pytest.raises(JournalError, match="open in another"):
            opened(place)
    seen = Journal.read(place)
    assert not seen.unreadable
    assert list(seen.entries[:-2]) == entries
    assert seen.entries[-1].data == Note(None, "on we go")
    if left and not elsewhere:
        assert (tmp_path / told.file).read_bytes() == left


def test_a_failed_rewrite_leaves_the_journal_unchanged(tmp_path):
    path = tmp_path / "journal.runlog"
    path.write_bytes(WHOLE)
    with opened(path) as journal:
        with pytest.raises(JournalError):
            journal.write_again(tmp_path / "no-folder" / "journal.runlog")
        assert journal.path == path
        journal.append(Note(None, "on we go"))
    assert Journal.read(path).entries[-1].n == COUNT + 1


def test_a_write_cut_short_is_undone_before_the_rescue_and_spoils_no_fresh_journal(tmp_path):
    """What is spoiled in the file is still whole in what must be put back."""
    whole, path = tmp_path / "whole.runlog", tmp_path / "journal.runlog"
    with Journal.open(whole, clock=made.Ticking(), who="photo") as journal:
        entries = [journal.append(Note(None, f"note {n}")) for n in range(5)]
    made.cut_in_a_write(whole, path, lambda data: data[:100] + bytes(3996) + data[4096:])
    assert rescue(path) == entries
    aside = repaired(path)
    assert rescue(aside) == entries
    with opened(path) as journal:
        assert list(journal.entries)[:-1] == entries
        assert isinstance(journal.entries[-1].data, Rescued)


def test_a_failed_repair_leaves_the_damaged_file_in_place(tmp_path, monkeypatch):
    path = tmp_path / "journal.runlog"
    path.write_bytes(WHOLE[:9000])

    def fails(*_):
        raise OSError(28, "no space left on device")

    held = Journal.open(tmp_path / "open.runlog", clock=made.Ticking(), who="photo")
    with held, pytest.raises(JournalError, match="open in another"):
        repair(tmp_path / "open.runlog", clock=made.Ticking(), who="first")
    monkeypatch.setattr("runbook.journal.journal_file.create", fails)
    with pytest.raises(JournalError, match="disk is full"):
        repaired(path)
    assert path.read_bytes() == WHOLE[:9000]
