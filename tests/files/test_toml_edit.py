"""One thing in a TOML text changes, and every other character stays."""

from __future__ import annotations

import datetime as dt
import tomllib
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from runbook.files.toml_edit import (
    NotEdited,
    add_table,
    copy_table,
    layout_of,
    move_table,
    remove_key,
    remove_table,
    set_value,
)

DEMO = Path(__file__).parents[2] / "setups" / "lantern-row"
DAY = """\
# the file's own comment
name = "x"  # said of the name
order = [
    "one",  # the first
    # two is long
    "two",
    "three"
]
exposure.f = 4.0
when = 1979-05-27 07:32:00 # a date and a time

# said of A
[[head]]
id = "A"          # on the label
mass_kg = 2       # with battery
# modelling_w = 10

# said of B
[[head]]
id = 'B'

# --- the rest ---

[place]
tags = { a = 1, "b c" = [1, 2] }

[[head]]
id = "C"
bags = []"""
KIT = 'bag = [{id="B1", mass_kg=7}, {id="B2", mass_kg = 5.0}]\ncamera = {}\n'
TEXTS = [DAY, DAY.replace("\n", "\r\n"), KIT, *(path.read_text("utf-8") for path in sorted(DEMO.glob("*.toml")))]
VALUES = st.one_of(
    st.text(max_size=20),
    st.floats(allow_nan=False),
    st.integers(-(10**9), 10**9),
    st.booleans(),
    st.times(),
    st.lists(st.text(max_size=5), max_size=4),
)


def at(table: Any, path: tuple[Any, ...]) -> Any:
    for part in path:
        table = table[part]
    return table


@given(st.data())
def test_outside_the_value_every_character_stays(data: st.DataObject) -> None:
    text = data.draw(st.sampled_from(TEXTS))
    layout = layout_of(text)
    path = data.draw(st.sampled_from(sorted(layout.values, key=str)))
    value = data.draw(VALUES)
    after = set_value(text, path, value)
    span = layout.values[path]
    assert after[: span.start] == text[: span.start]
    assert after.endswith(text[span.end :])
    assert at(tomllib.loads(after), path) == value


@given(st.data())
def test_a_key_taken_out_and_put_back_is_all_that_differs(data: st.DataObject) -> None:
    text = data.draw(st.sampled_from(TEXTS))
    layout = layout_of(text)
    keys = [path for table, paths in layout.lines.items() for path in paths if len(path) == len(table) + 1]
    if not keys:
        return
    path = data.draw(st.sampled_from(keys))
    value = at(tomllib.loads(text), path)
    without = remove_key(text, path)
    start = layout.starts[path]
    assert without[:start] == text[:start]
    assert text[start:].endswith(without[start:])
    assert tomllib.loads(set_value(without, path, value)) == tomllib.loads(text)


@given(st.data())
def test_things_move_copy_and_go_as_the_plain_lists_do(data: st.DataObject) -> None:
    text = data.draw(st.sampled_from(TEXTS))
    table = tomllib.loads(text)
    kinds = [key for key, each in table.items() if isinstance(each, list) and each]
    kinds = [key for key in kinds if isinstance(table[key][0], dict)]
    if not kinds:
        return
    key = data.draw(st.sampled_from(kinds))
    items = table[key]
    index = data.draw(st.integers(0, len(items) - 1))
    copied = tomllib.loads(copy_table(text, key, index, {"id": "new"}))[key]
    assert copied == [*items, items[index] | {"id": "new"}]
    less = tomllib.loads(remove_table(text, (key, index))).get(key, [])
    assert less == items[:index] + items[index + 1 :]
    if len(items) > 1:
        to = data.draw(st.sampled_from([n for n in range(len(items)) if n != index]))
        moved = move_table(text, key, index, to)
        found = tomllib.loads(moved)[key]
        assert (found[index], found[to]) == (items[to], items[index])
        assert sorted(moved.splitlines()) == sorted(text.splitlines()) or text == KIT
    fresh = {"id": "z", "when": dt.time(8)}
    assert tomllib.loads(add_table(text, key, fresh))[key] == [*items, fresh]


def changed(after: str, before: str = DAY) -> tuple[list[str], list[str]]:
    """The lines that came, and the lines that went."""
    old, new = before.splitlines(), after.splitlines()
    return [x for x in new if x not in old], [x for x in old if x not in new]


def test_a_list_of_several_lines_keeps_its_comments_with_their_items() -> None:
    after = set_value(DAY, ("order",), ["two", "four", "one"])
    assert after.replace("\r", "").split("order = ")[1].split("exposure")[0] == (
        '[\n    # two is long\n    "two",\n    "four",\n    "one",  # the first\n]\n'
    )


def test_a_new_key_comes_below_the_last_of_its_table() -> None:
    after = set_value(DAY, ("head", 0, "name"), "key")
    assert '# with battery\nname = "key"\n# modelling_w' in after
    assert changed(after) == (['name = "key"'], [])
    assert changed(set_value(DAY, ("place", "tags", "z"), 1))[0] == ['tags = { a = 1, "b c" = [1, 2], z = 1 }']
    assert "exposure.f = 4.0\nexposure.iso = 100.0\n" in set_value(DAY, ("exposure", "iso"), 100.0)
    assert set_value(DAY, ("rate", "day"), 9.0).endswith("bags = []\n\n[rate]\nday = 9.0\n")
    assert set_value("", ("a",), 1) == "a = 1\n"


def test_a_whole_number_stays_one() -> None:
    assert "mass_kg = 3       # with" in set_value(DAY, ("head", 0, "mass_kg"), 3.0)
    assert "mass_kg = 3.5       # with" in set_value(DAY, ("head", 0, "mass_kg"), 3.5)


def test_what_is_said_above_a_thing_goes_and_moves_with_it() -> None:
    gone = remove_table(DAY, ("head", 0))
    assert "said of A" not in gone and "modelling_w" not in gone
    assert "# the file's own comment" in gone and "# --- the rest ---" in gone
    moved = move_table(DAY, "head", 0, 1)
    assert moved.index("said of B") < moved.index("said of A") < moved.index("the rest")
    assert 'id = "A"' in remove_table(DAY, ("place",))


def test_the_ends_of_lines_stay_as_they_are() -> None:
    text = DAY.replace("\n", "\r\n")
    for after in (
        set_value(text, ("place", "x"), 1),
        add_table(text, "head", {"id": "Z"}),
        remove_table(text, ("head", 1)),
    ):
        assert after.count("\n") == after.count("\r\n")


def test_a_layout_it_does_not_know_is_refused_and_not_damaged() -> None:
    text = '[[h]]\nid = "A"\n[h.sub]\nq = 1\n[[h]]\nid = "B"\n'
    with pytest.raises(NotEdited, match="by hand"):
        move_table(text, "h", 0, 1)
    with pytest.raises(NotEdited, match="by hand"):
        remove_key("[a]\nb = 1\n[a.c]\nd = 1\n", ("a",))
