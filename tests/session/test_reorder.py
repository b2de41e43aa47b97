"""A new order written into a day's file, and nothing else touched."""

from __future__ import annotations

import tomllib
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from runbook.session.reorder import CannotReorder, reordered, write_order
from tests.session.days import DEMO

LISTED = """\
# order = ["not", "this"]
name = "A \\"day\\" with order = [ in it"
order = [
    "one",    # the first ] of them
    "two",
    'three',  # "quoted"
]   # all
units = "metric" # order
"""


def test_the_demo_day_keeps_every_other_byte() -> None:
    text = (DEMO / "day.toml").read_text("utf-8")
    order = tomllib.loads(text)["order"]
    new = reordered(text, order[::-1])
    assert tomllib.loads(new)["order"] == order[::-1]
    assert reordered(new, order) == text
    assert sorted(new.splitlines()) == sorted(text.splitlines())


def test_a_remark_goes_along_with_its_setup() -> None:
    assert reordered(LISTED, ["three", "one", "two"]) == LISTED.replace(
        '    "one",    # the first ] of them\n    "two",\n    \'three\',  # "quoted"\n',
        '    \'three\',    # "quoted"\n    "one",  # the first ] of them\n    "two",  \n',
    )


@pytest.mark.parametrize(
    ("text", "new"),
    [
        ('order=["a","b"]#x\n', 'order=["b","a"]#x\n'),
        ('"order" = [ "a", "b", ] # two\n', '"order" = [ "b", "a", ] # two\n'),
        ('x = 1\r\norder = ["a", \'b\']\r\n[t]\r\norder = ["z"]\r\n',
         'x = 1\r\norder = [\'b\', "a"]\r\n[t]\r\norder = ["z"]\r\n'),
    ],
)  # fmt: skip
def test_however_it_is_written(text: str, new: str) -> None:
    assert reordered(text, ["b", "a"]) == new


@given(st.permutations(["one", "two", "three"]))
def test_only_the_order_changes(order: list[str]) -> None:
    before, after = tomllib.loads(LISTED), tomllib.loads(reordered(LISTED, order))
    assert after == before | {"order": order}


@pytest.mark.parametrize(
    ("text", "wrong"),
    [
        ('order = ["a", "c"]', "no longer names the same"),
        ('name = "x"', "no longer names the same"),
        ('text = """\norder = ["q"]\n"""\norder = ["a", "b"]', "by hand"),
        ('order = ["a", "b"', "cannot be read"),
    ],
)
def test_what_cannot_be_rewritten_safely_is_refused(text: str, wrong: str) -> None:
    with pytest.raises((CannotReorder, ValueError), match=wrong):
        reordered(text, ["b", "a"])


def test_a_file_is_written_whole_or_not_at_all(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "day.toml"
    path.write_bytes(b'order = ["a", "b"]\r\n')
    path.chmod(0o640)

    def full(_: int) -> None:
        raise OSError(28, "No space left on device")

    with monkeypatch.context() as broken:
        broken.setattr("runbook.session.reorder.os.fsync", full)
        with pytest.raises(OSError, match="space"):
            write_order(path, ["b", "a"])
    assert path.read_bytes() == b'order = ["a", "b"]\r\n'
    assert [each.name for each in tmp_path.iterdir()] == ["day.toml"]
    write_order(path, ["b", "a"])
    assert path.read_bytes() == b'order = ["b", "a"]\r\n'
    assert path.stat().st_mode & 0o777 == 0o640
    assert [each.name for each in tmp_path.iterdir()] == ["day.toml"]
