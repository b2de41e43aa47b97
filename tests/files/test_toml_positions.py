"""The line map says of every key of a TOML text on which line it stands."""

from __future__ import annotations

import tomllib
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from runbook.files.toml_edit import key_lines
from tests.days import FILES

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
    assert tomllib.loads(MIXED)["h"][1]["l"][1]["last"] is True
    expected = {
        ("a",): 2, ("b", "c", "d.e"): 3, ("b", "c", "d.e", 1, 1): 4,
        ("b", "c", "d.e", 2, "y", "z"): 4, ("b", "c", "d.e", 2, "y", "z", 0): 5,
        ("b", "c", "d.e", 3): 6, ("s",): 8, ("lit",): 11, ("when",): 14, ("t",): 15,
        ("t", "k"): 16, ("h",): 17, ("h", 0): 17, ("h", 0, "id"): 18, ("h", 0, "sub"): 19,
        ("h", 0, "sub", "q"): 20, ("h", 1): 21, ("h", 1, "in", "b", "c"): 23,
        ("h", 1, "in", "d", 1, "e"): 23, ("h", 1, "l", 0, "z"): 25, ("h", 1, "l", 1, "z y"): 27,
        ("h", 1, "l", 1, "last"): 28,
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


@pytest.mark.parametrize("name", FILES)
def test_it_finds_what_the_parser_finds_in_a_day(name: str) -> None:
    assert set(key_lines(FILES[name])) == paths_in(tomllib.loads(FILES[name]))


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
def test_each_key_stands_on_the_line_the_map_says(data: st.DataObject) -> None:
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
