"""The kinds of entry, and which of them still count."""

import json
from math import inf, nan

import pytest
from hypothesis import given
from hypothesis import strategies as st

from runbook.files.validate import members
from runbook.journal import events
from runbook.journal.events import Note, Reading, Undone, Wind, decode, encode, kind_of, live
from tests.journal import entries_made as made


@given(made.data)
def test_what_is_written_reads_back_the_same(data):
    assert decode(kind_of(data), encode(data)) == data


def test_no_kind_uses_a_key_that_every_entry_has():
    for cls in events.KINDS.values():
        assert not {member.key for member in members(cls)} & {"n", "at", "who", "kind"}


@pytest.mark.parametrize(("kind", "text", "wrong"), [
    ("danced", "{}", "'danced' is not a kind of entry"), ("frames", '{"setup":"a"}', "frames: added"),
    ("frames", '{"setup":"a","added":"3"}', "frames: added"),
    ("frames", '{"setup":"a","added":3,"more":1}', "frames: more"),
    ("note", '{"setup":null,"text":" "}', "note: text"),
    ("skipped", '{"what":"check","id":"x","reason":""}', "skipped: reason"),
    ("reading", '{"setup":"a","head":null,"stops":NaN,"f":"4"}', "reading"),
    ("step-ticked", '{"setup":"a","step":[]}', "step-ticked: step"), ("note", '{"setup":null,"te', "note: data"),
    ("wind", '{"gust_ms":-0.1}', "wind: gust_ms"), ("wind", '{"gust_ms":100.1}', "wind: gust_ms"),
])  # fmt: skip
def test_what_does_not_fit_its_kind_is_refused_by_name(kind, text, wrong):
    with pytest.raises(ValueError, match=wrong):
        decode(kind, text)


@pytest.mark.parametrize("data", [Note(None, "half \ud800"), Reading("a", None, nan, "4"), Wind(inf), Wind(nan)])
def test_what_no_file_can_hold_is_refused(data):
    with pytest.raises(ValueError):
        encode(data)


def test_the_facts_are_flat_json_in_local_time():
    facts = made.entry(3, events.Changed("keeper", "head", "power", "1/8", "1/4", "A")).facts()
    assert json.loads(json.dumps(facts)) == {
        "n": 3, "at": "2026-12-04T08:03:00+01:00", "who": "photo", "kind": "changed", "setup": "keeper", "of": "head",
        "item": "A", "key": "power", "before": "1/8", "now": "1/4",
    }  # fmt: skip
    assert made.entry(1, events.Resumed("Kim")).facts()["from"] == "Kim"


# An entry is a note, or undoes any entry: an earlier one, a later one, itself, or one never made.
stories = st.lists(st.none() | st.integers(1, 12), max_size=10).map(
    lambda told: [
        made.entry(n, Note(None, "x") if target is None else Undone(target)) for n, target in enumerate(told, 1)
    ]
)


def counts(story, n):
    """By the words of the rule: it counts unless an entry after it, that counts, undoes it."""
    return not any(
        isinstance(other.data, Undone) and other.data.entry == n and counts(story, other.n) for other in story[n:]
    )


@given(stories)
def test_what_counts_is_what_nothing_that_counts_undoes(story):
    assert live(story) == [one for one in story if not isinstance(one.data, Undone) and counts(story, one.n)]
