"""An entry as a row, and back."""

import datetime as dt

import pytest
from hypothesis import given
from hypothesis import strategies as st

from runbook.journal.events import Left, Note
from runbook.journal.journal_file import Unreadable, decode_row, new_entry, row_of
from tests.journal import entries_made


def as_stored(row):
    return tuple(part.encode() if isinstance(part, str) else part for part in row)


@given(entries_made.data, entries_made.moment, entries_made.text, st.integers(1, 2**62))
def test_a_row_reads_back_as_its_entry(data, at, who, n):
    entry = new_entry(n, at, who, data)
    row = row_of(entry)
    back = decode_row(as_stored(row))
    assert back == entry
    assert (back.data, back.at, back.who) == (data, at, who)
    assert back.at.utcoffset() == at.utcoffset()


@given(entries_made.data, st.data())
def test_a_row_with_anything_changed_is_no_entry(data, draw):
    row = list(as_stored(row_of(new_entry(7, entries_made.START, "photo", data))))
    spot = draw.draw(st.integers(0, len(row) - 1))
    other = draw.draw(st.none() | st.integers() | st.floats() | st.binary())
    if other != row[spot]:
        row[spot] = other
        assert isinstance(decode_row(tuple(row)), Unreadable)


def test_an_entry_of_an_unknown_kind_is_unreadable():
    row = row_of(new_entry(1, entries_made.START, "photo", Left()))
    from runbook.journal.journal_file import _checksum

    crc = _checksum(1, row[2], row[1].encode(), b"photo", b"danced", b"{}")
    told = decode_row((1, row[1].encode(), row[2], b"photo", b"danced", b"{}", crc))
    assert told == Unreadable(1, "'danced' is no kind of entry this program knows")


def test_a_time_without_a_zone_and_half_a_character_are_refused():
    with pytest.raises(ValueError, match="time zone"):
        new_entry(1, dt.datetime(2026, 12, 4, 8), "photo", Left())
    with pytest.raises(ValueError):
        new_entry(1, entries_made.START, "photo \ud800", Note(None, "x"))
