"""One thing in a TOML text changes, and every other character stays; every key is found on its line."""

import datetime as dt
import tomllib
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from runbook.files import toml_edit
from runbook.files.toml_edit import NotEdited, key_lines
from tests.files import demo

DAY = """\
# the file's own comment
name = "x"  # about the name
order = [
    "one",  # the first
    # two is long
    "two",
    "three"
]
exposure.f = 4.0
when = 1979-05-27 07:32:00 # a date and a time

# about A
[[head]]
id = "A"          # on the label
mass_kg = 2       # with battery
# modelling_w = 10

# about B
[[head]]
id = 'B'

# --- the rest ---

[place]
tags = { a = 1, "b c" = [1, 2] }

[[head]]
id = "C"
bags = []"""
KIT = 'bag = [{id="B1", mass_kg=7}, {id="B2", mass_kg = 5.0}]\ncamera = {}\n'
TEXTS = [DAY, DAY.replace("\n", "\r\n"), KIT, *demo.TEXTS.values()]
VALUES = st.one_of(
    st.text(max_size=20), st.floats(allow_nan=False), st.integers(-(10**9), 10**9), st.booleans(), st.times(),
    st.lists(st.text(max_size=5), max_size=4),
)  # fmt: skip


def at(table: Any, path: tuple[Any, ...]) -> Any:
    for part in path:
        table = table[part]
    return table


@given(st.data())
def test_outside_the_value_every_character_stays(data: st.DataObject) -> None:
    text = data.draw(st.sampled_from(TEXTS))
    layout = toml_edit.layout_of(text)
    path = data.draw(st.sampled_from(sorted(layout.values, key=str)))
    value = data.draw(VALUES)
    after = toml_edit.set_value(text, path, value)
    span = layout.values[path]
    assert after[: span.start] == text[: span.start]
    assert after.endswith(text[span.end :])
    assert at(tomllib.loads(after), path) == value


@given(st.data())
def test_a_key_deleted_and_added_again_is_all_that_differs(data: st.DataObject) -> None:
    text = data.draw(st.sampled_from(TEXTS))
    layout = toml_edit.layout_of(text)
    keys = [path for table, paths in layout.lines.items() for path in paths if len(path) == len(table) + 1]
    if not keys:
        return
    path = data.draw(st.sampled_from(keys))
    value = at(tomllib.loads(text), path)
    without = toml_edit.remove_key(text, path)
    start = layout.starts[path]
    assert without[:start] == text[:start]
    assert text[start:].endswith(without[start:])
    assert tomllib.loads(toml_edit.set_value(without, path, value)) == tomllib.loads(text)


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
    less = tomllib.loads(toml_edit.remove_table(text, (key, index))).get(key, [])
    assert less == items[:index] + items[index + 1 :]
    if len(items) > 1:
        to = data.draw(st.sampled_from([n for n in range(len(items)) if n != index]))
        moved = toml_edit.move_table(text, key, index, to)
        found = tomllib.loads(moved)[key]
        assert (found[index], found[to]) == (items[to], items[index])
        assert sorted(moved.splitlines()) == sorted(text.splitlines()) or text == KIT
    fresh = {"id": "z", "when": dt.time(8)}
    assert tomllib.loads(toml_edit.add_table(text, key, fresh))[key] == [*items, fresh]


def changed(after: str, before: str = DAY) -> tuple[list[str], list[str]]:
    """The lines that came, and the lines that went."""
    old, new = before.splitlines(), after.splitlines()
    return [x for x in new if x not in old], [x for x in old if x not in new]


def test_a_list_of_several_lines_keeps_its_comments_with_their_items() -> None:
    after = toml_edit.set_value(DAY, ("order",), ["two", "four", "one"])
    assert after.replace("\r", "").split("order = ")[1].split("exposure")[0] == (
        '[\n    # two is long\n    "two",\n    "four",\n    "one",  # the first\n]\n'
    )


def test_a_new_key_comes_below_the_last_of_its_table() -> None:
    after = toml_edit.set_value(DAY, ("head", 0, "name"), "key")
    assert '# with battery\nname = "key"\n# modelling_w' in after
    assert changed(after) == (['name = "key"'], [])
    assert changed(toml_edit.set_value(DAY, ("place", "tags", "z"), 1))[0] == [
        'tags = { a = 1, "b c" = [1, 2], z = 1 }'
    ]
    assert "exposure.f = 4.0\nexposure.iso = 100.0\n" in toml_edit.set_value(DAY, ("exposure", "iso"), 100.0)
    assert toml_edit.set_value(DAY, ("rate", "day"), 9.0).endswith("bags = []\n\n[rate]\nday = 9.0\n")
    assert toml_edit.set_value("", ("a",), 1) == "a = 1\n"


def test_a_whole_number_stays_one() -> None:
    assert "mass_kg = 3       # with" in toml_edit.set_value(DAY, ("head", 0, "mass_kg"), 3.0)
    assert "mass_kg = 3.5       # with" in toml_edit.set_value(DAY, ("head", 0, "mass_kg"), 3.5)


def test_the_comment_above_a_table_goes_and_moves_with_it() -> None:
    gone = toml_edit.remove_table(DAY, ("head", 0))
    assert "about A" not in gone and "modelling_w" not in gone
    assert "# the file's own comment" in gone and "# --- the rest ---" in gone
    moved = toml_edit.move_table(DAY, "head", 0, 1)
    assert moved.index("about B") < moved.index("about A") < moved.index("the rest")
    assert 'id = "A"' in toml_edit.remove_table(DAY, ("place",))


def test_the_ends_of_lines_stay_as_they_are() -> None:
    text = DAY.replace("\n", "\r\n")
    for after in (
        toml_edit.set_value(text, ("place", "x"), 1),
        toml_edit.add_table(text, "head", {"id": "Z"}),
        toml_edit.remove_table(text, ("head", 1)),
    ):
        assert after.count("\n") == after.count("\r\n")


def test_a_layout_it_does_not_know_is_refused_and_not_damaged() -> None:
    text = '[[h]]\nid = "A"\n[h.sub]\nq = 1\n[[h]]\nid = "B"\n'
    with pytest.raises(NotEdited, match="by hand"):
        toml_edit.move_table(text, "h", 0, 1)
    with pytest.raises(NotEdited, match="by hand"):
        toml_edit.remove_key("[a]\nb = 1\n[a.c]\nd = 1\n", ("a",))


# -- where keys are -----------------------------------------------------------------------------

MIXED = '''\
# first
a = 1
b.c."d.e" = [1,
  [2, 3], {x = 1, y.z = [
  4]},
  "]",
]
s = """
[no]
x = 1 ""quoted"""""
lit = \'\'\'
# no comment
y = 2\'\'\'
when = 1979-05-27 07:32:00 # x = 1
[t]
k = 'x' # = [
[[h]]
id = "A"
[h.sub]
q = 1
[[h]]
id = "B"
in = {a = 1, "b" = {c = 2}, d = [{e=1},{e=2}]}
[[h.l]]
z = "=[{"
[[h.l]]
"z y" = 2
last = true'''


def test_every_kind_of_key_is_found_on_its_line() -> None:
    found = key_lines(MIXED)
    expected = {
        ("b", "c", "d.e", 2, "y", "z", 0): 5, ("s",): 8, ("lit",): 11, ("when",): 14, ("t", "k"): 16, ("h",): 17,
        ("h", 0, "sub", "q"): 20, ("h", 1): 21, ("h", 1, "in", "d", 1, "e"): 23, ("h", 1, "l", 1, "last"): 28,
    }  # fmt: skip
    assert {path: found.get(path) for path in expected} == expected
    assert set(found) == paths_in(tomllib.loads(MIXED))


def paths_in(table: Any, path: tuple[Any, ...] = ()) -> set[tuple[Any, ...]]:
    """Every path of a parsed file: an independent walk over what the parser says is there."""
    found = {path} if path else set()
    if isinstance(table, dict):
        for key, value in table.items():
            found |= paths_in(value, (*path, key))
    elif isinstance(table, list):
        for index, value in enumerate(table):
            found |= paths_in(value, (*path, index))
    return found


def test_brackets_nested_too_deeply_give_no_lines() -> None:
    assert key_lines(f"x = {'[' * 5000}{']' * 5000}") == {}


def test_windows_lines_count_as_lines() -> None:
    assert key_lines("a = 1\r\n\r\nb = 2\r\n") == {("a",): 1, ("b",): 3}


KEYS = st.sampled_from(["a", "b-c", "d_1", '"e f"', "'g.h'", "1"])
SCALARS = st.sampled_from(
    [
        *("1", "-1.5e3", '"x"', "'#'", '"]"', '"\\"="', "true", "1979-05-27", "07:32:00"),
        *('"""a\nb"""', "'''\n[x]\n'''", '""', "1979-05-27 07:32:00"),
    ]
)


@st.composite
def values(draw: st.DrawFn, depth: int = 0) -> str:
    """A value as a file would write it, over one or more lines."""
    kind = draw(st.sampled_from(["scalar", "list", "table"] if depth < 3 else ["scalar"]))
    if kind == "scalar":
        return draw(SCALARS)
    inner = [draw(values(depth + 1)) for _ in range(draw(st.integers(0, 3)))]
    if kind == "list":
        gap = draw(st.sampled_from([", ", ",\n  ", ", # c ]\n", "\n,"]))
        return f"[{gap.join(inner)}{draw(st.sampled_from(['', chr(10)]))}]"
    return "{" + ", ".join(f"k{n} = {item}" for n, item in enumerate(inner)) + "}"


@given(data=st.data())
def test_each_key_is_on_the_line_found(data: st.DataObject) -> None:
    text, expected = "", {}
    for number in range(data.draw(st.integers(1, 4))):
        table = f"t{number}"
        text += f"[[{table}]]\n"
        for key in data.draw(st.lists(KEYS, unique=True, max_size=4)):
            expected[table, 0, next(iter(tomllib.loads(f"{key} = 1")))] = text.count("\n") + 1
            text += f"{key} = {data.draw(values())} # c\n"
    found = key_lines(text)
    assert set(found) == paths_in(tomllib.loads(text))
    assert {path: found[path] for path in expected} == expected
