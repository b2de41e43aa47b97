"""However a day's files are changed, reading them gives a plan or faults, and nothing else."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Final

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from runbook.files.errors import Unreadable
from runbook.files.load import read_files
from runbook.files.paths import demo_day
from runbook.model.day import Plan
from tests.days import write_day

_DEMO: Final = {path.name: path.read_text() for path in (demo_day() or Path()).glob("*.toml")}
_NAMES: Final = sorted(_DEMO)
_VALUES: Final = ("3", '"A"', '"keeper-lamp"', "[]", '["A", "A"]', "{}", "true", "1979-05-27", "-1")
_HEADERS: Final = ("[[light]]", "[[place_panel]]", "[light]", "[view]", "[[head]]", "[light.A]")

Mutation = tuple[str, int, int, str]


def mutated(lines: list[str], mutation: Mutation) -> list[str]:
    """Return the lines of a file after one change."""
    how, first, second, text = mutation
    at, to = first % len(lines), second % len(lines)
    rest = lines[:at] + lines[at + 1 :]
    return {
        "remove": rest,
        "repeat": [*lines[:to], lines[at], *lines[to:]],
        "move": [*rest[:to], lines[at], *rest[to:]],
        "insert": [*lines[:at], text, *lines[at:]],
        "value": [*lines[:at], re.sub(r"=.*", f"= {text}", lines[at]), *lines[at + 1 :]],
        "key": [*lines[:at], re.sub(r"^\w+", f"{text[:2]}x", lines[at]), *lines[at + 1 :]],
        "cut": lines[: min(at, to)] + lines[max(at, to) :] or [""],
    }[how]


def result_of(files: dict[str, str]) -> Plan | Unreadable:
    try:
        return read_files(Path("d"), {name: text.encode() for name, text in files.items()})
    except Unreadable as problem:
        return problem


def assert_is_a_plan_or_faults(files: dict[str, str]) -> None:
    result = result_of(files)
    if isinstance(result, Plan):
        assert set(result.setups) == {n[:-5] for n in files if n not in ("day.toml", "kit.toml")}
        assert [setup.id for setup in result.order] == list(result.day.order)
    else:
        assert result.faults
        assert all("\n" not in str(fault) for fault in result.faults)


MUTATIONS: Final = st.lists(
    st.tuples(
        st.sampled_from(_NAMES),
        st.tuples(
            st.sampled_from(("remove", "repeat", "move", "cut")), st.integers(0, 200), st.integers(0, 200), st.just("")
        )
        | st.tuples(st.sampled_from(("value", "key")), st.integers(0, 200), st.just(0), st.sampled_from(_VALUES))
        | st.tuples(st.just("insert"), st.integers(0, 200), st.just(0), st.sampled_from(_HEADERS)),
    ),
    min_size=1,
    max_size=4,
)


@settings(max_examples=150)
@given(MUTATIONS)
def test_any_change_of_the_demo_day_gives_a_plan_or_faults(mutations: list[tuple[str, Mutation]]) -> None:
    files = dict(_DEMO)
    for name, mutation in mutations:
        files[name] = "\n".join(mutated(files[name].splitlines() or [""], mutation))
    assert_is_a_plan_or_faults(files)


@pytest.mark.parametrize("name", _NAMES)
def test_each_line_removed_gives_a_plan_or_faults(name: str) -> None:
    lines = _DEMO[name].splitlines()
    for place, line in enumerate(lines):
        if line.strip() and not line.startswith("#"):
            assert_is_a_plan_or_faults(_DEMO | {name: "\n".join(lines[:place] + lines[place + 1 :])})


@pytest.mark.parametrize(("table", "key"), [("light", "head"), ("place_panel", "panel")])
def test_a_table_that_names_nothing_is_a_fault_where_it_inherits(tmp_path: Path, table: str, key: str) -> None:
    child = f'like = "window"\n[[{table}]]\nside = "left"\n'
    folder = write_day(tmp_path / "d", child=child, grandchild='like = "child"\n')
    (fault,) = result_of({path.name: path.read_text() for path in folder.iterdir()}).faults
    assert (fault.file, fault.line, fault.key) == ("d/child.toml", 2, f"{table}[1].{key}")
