"""A day's folder edited: what changes is what was asked, and it can all be taken back."""

import datetime as dt
import os
import shutil
import tempfile
import tomllib
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
import tomli_w
from hypothesis import given, settings
from hypothesis import strategies as st

from runbook.files import editor as edits
from runbook.files.atomic_write import HALF
from runbook.files.editor import Editor, keep_measured, merged_setups, replaced_by
from runbook.files.errors import Unreadable
from runbook.files.form import Field
from runbook.files.form_editor import form_of, outline
from runbook.files.inherit import REPLACES
from runbook.files.load import read_day
from runbook.files.paths import DAY_FILE as DAY
from runbook.files.paths import KIT_FILE as KIT
from runbook.files.toml_edit import NotEdited
from runbook.model.day import Plan
from runbook.model.kit import Measured
from tests.files.demo import DEMO, TEXTS, after, plan_of

FILES = {name: text.encode() for name, text in TEXTS.items()}
FIELDS = [
    field
    for thing in outline(TEXTS)
    for field in form_of(TEXTS, thing)
    if field.kind != "heading" and field.key not in ("id", "like", "drop", "head", "panel")
]


@pytest.fixture
def demo(tmp_path: Path) -> Path:
    return Path(shutil.copytree(DEMO, tmp_path / "day"))


def bytes_in(folder: Path) -> dict[str, bytes]:
    return {path.name: path.read_bytes() for path in folder.glob("*.toml")}


def value_for(field: Field) -> st.SearchStrategy[Any]:
    """Values of the right kind for a field; not all of them can be."""
    numbers = st.floats(0.05, 60).map(lambda x: round(x, 3))
    return {
        "yes": st.booleans(),
        "whole": st.integers(0, 40),
        "text": st.text(st.characters(exclude_categories=("C",)), max_size=12),
        "time": st.times(dt.time(1), dt.time(22)).map(lambda t: t.replace(microsecond=0)),
        "date": st.dates(dt.date(2020, 1, 1), dt.date(2040, 1, 1)),
        "power": st.sampled_from(["full", "1/8", "1/8+0.3", "1/2-0.7", "off"]),
        "shutter": st.sampled_from(["1/160", "1/60", "1/4"]),
        "aperture": st.sampled_from([2.8, 4.0, 5.6, 8.0]),
        "pair": st.just([24.0, 16.0]),
        "choice": st.sampled_from(field.choices or ("x",)),
        "ref": st.sampled_from(field.choices or ("x",)),
        "ids": st.permutations(field.choices).flatmap(
            lambda ids: st.integers(0, len(ids)).map(lambda n: list(ids[:n]))
        ),
    }.get(field.kind, numbers)


def read(texts: dict[str, str]) -> Plan | None:
    try:
        return plan_of(texts)
    except Unreadable:
        return None


def plainly(texts: dict[str, str], field: Field, value: Any) -> dict[str, str]:
    """The day with a value put into its plain table and all of it written anew: another way."""
    if field.file in (DAY, KIT):
        table: Any = tomllib.loads(texts[field.file])
    else:
        table = {**merged_setups(texts)[field.file.removesuffix(".toml")].table}
        table = tomllib.loads(tomli_w.dumps(table))
    here = table
    for part in field.path[:-1]:
        if isinstance(here, list):
            named = (n for n, item in enumerate(here) if part in item.values())
            here = here[part if isinstance(part, int) else next(named)]
        else:
            here = here.setdefault(part, {})
    here[field.key] = value
    return texts | {field.file: tomli_w.dumps(table)}


@settings(max_examples=60)
@given(st.data())
def test_the_day_after_is_the_day_before_with_that_change(data: st.DataObject) -> None:
    field = data.draw(st.sampled_from(FIELDS))
    value = data.draw(value_for(field))
    try:
        change = edits.put(TEXTS, field.file, field.path, value)
    except NotEdited:
        assert field.origin == "inherited"
        return
    assert set(change) <= {field.file}
    found, wanted = read(after(change)), read(plainly(TEXTS, field, value))
    if field.key in REPLACES or (field.key == "modifier" and field.file not in (DAY, KIT)):
        return  # one puts the other out, a modifier what does not fit it; both have tests of their own
    if wanted is None or found is None:
        assert wanted is found
        return
    setup = field.file.removesuffix(".toml")
    if field.file in (DAY, KIT):
        assert found == wanted
    else:
        assert found.setups[setup] == wanted.setups[setup]
        assert (found.day, found.kit) == (wanted.day, wanted.kit)


@settings(max_examples=12)
@given(st.data())
def test_whatever_is_edited_undo_brings_back_every_byte(data: st.DataObject) -> None:
    with tempfile.TemporaryDirectory() as name:
        folder = Path(shutil.copytree(DEMO, Path(name) / "day"))
        editor = Editor(folder, "then")
        states = [bytes_in(folder)]
        for _ in range(data.draw(st.integers(1, 4))):
            field = data.draw(st.sampled_from(FIELDS))
            value = data.draw(value_for(field))
            before = bytes_in(folder)
            try:
                editor.apply(edits.put(editor.texts, field.file, field.path, value), "x")
            except NotEdited:
                assert bytes_in(folder) == before
                continue
            assert editor.plan == read_day(folder)
            if bytes_in(folder) != before:
                states.append(bytes_in(folder))
        for state in reversed(states[:-1]):
            editor.undo()
            assert bytes_in(folder) == state
        for state in states[1:]:
            editor.redo()
            assert bytes_in(folder) == state
            assert editor.plan == read_day(folder)


@pytest.mark.parametrize(("mask", "mode"), [(0o077, 0o600), (0o022, 0o644), (0o002, 0o664)])
def test_the_day_as_it_was_is_kept_before_the_first_change_as_the_umask_leaves_it(
    demo: Path, mask: int, mode: int
) -> None:
    before = os.umask(mask)
    try:
        editor = Editor(demo, "20261204-080000")
        assert not list(demo.glob(".backup*"))
        for name in ("Other", "Third"):
            editor.apply(edits.put(editor.texts, DAY, ("name",), name), "name")
    finally:
        os.umask(before)
    kept = demo / ".backup-20261204-080000"
    assert bytes_in(kept) == FILES
    assert {path.stat().st_mode & 0o777 for path in kept.iterdir()} == {mode}
    assert kept.stat().st_mode & 0o777 == 0o777 & ~mask


def test_a_mark_at_the_top_and_the_ends_of_lines_stay(demo: Path) -> None:
    path = demo / "kit.toml"
    path.write_bytes(b"\xef\xbb\xbf" + path.read_bytes().replace(b"\n", b"\r\n"))
    before = path.read_bytes()
    editor = Editor(demo, "then")
    editor.apply(edits.put(editor.texts, KIT, ("stand", "S1", "mass_kg"), 3.25), "mass")
    after = path.read_bytes()
    old = b'id = "S1"'
    at_s1 = before.index(b"mass_kg = ", before.index(old))
    end = before.index(b"\r\n", at_s1)
    assert after[:at_s1] == before[:at_s1]
    assert after[at_s1:].startswith(b"mass_kg = 3.25")
    assert after[at_s1:].endswith(before[end:])


def test_what_could_not_be_read_is_refused_in_the_readers_own_words(demo: Path) -> None:
    editor = Editor(demo, "then")
    change = edits.put(editor.texts, "keeper-window.toml", ("light", "A", "distance_m"), 0.2)
    with pytest.raises(NotEdited, match=r"^light.A.distance_m: 0.2 m of tape .* cannot reach"):
        editor.apply(change, "x")
    # a stand's limit that a setup breaks is reported with the setup's name
    change = edits.put(editor.texts, KIT, ("stand", "S1", "height_max_m"), 1.2)
    with pytest.raises(NotEdited, match=r"^keeper-\w+: light"):
        editor.apply(change, "x")
    assert bytes_in(demo) == FILES
    assert not list(demo.glob(".*"))


def test_what_somebody_else_changed_is_not_written_over(demo: Path) -> None:
    editor = Editor(demo, "then")
    editor.apply(edits.put(editor.texts, DAY, ("name",), "Mine"), "name")
    path = demo / "kit.toml"
    path.write_bytes(path.read_bytes() + b"# theirs\n")
    theirs = bytes_in(demo)
    for act in (lambda: editor.apply(edits.put(editor.texts, DAY, ("name",), "Again"), "name"), editor.undo):
        with pytest.raises(NotEdited, match=r"kit.toml changed on disk meanwhile"):
            act()
        assert bytes_in(demo) == theirs
    assert editor.look_again()
    assert not editor.look_again()
    editor.apply(edits.put(editor.texts, DAY, ("name",), "Again"), "name")
    assert b"# theirs" in path.read_bytes()
    with pytest.raises(NotEdited, match="no edit is left"):
        for _ in range(2):
            editor.undo()


def test_a_folder_that_cannot_be_written_is_reported_in_a_line(demo: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse(*_args: object, **_more: object) -> None:
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(Path, "mkdir", refuse)  # whoever runs the tests may write anywhere
    editor = Editor(demo, "then")
    with pytest.raises(NotEdited, match="nothing is changed: permission denied"):
        editor.apply(edits.put(editor.texts, DAY, ("name",), "Mine"), "name")
    assert bytes_in(demo) == FILES
    assert editor.plan == read_day(demo)
    assert not editor.done


def test_what_a_crash_left_half_done_is_put_back_when_it_is_opened(demo: Path) -> None:
    half = demo / HALF
    half.mkdir()
    (half / "kit.toml").write_bytes(FILES["kit.toml"])
    (half / "new files").write_text("other.toml\n")
    (demo / "kit.toml").write_bytes(b"")
    (demo / "other.toml").write_bytes(b"")
    assert Editor(demo, "then").plan == read_day(DEMO)
    assert bytes_in(demo) == FILES


def test_a_broken_file_is_reported_and_nothing_opens(demo: Path) -> None:
    (demo / "new.toml").write_text("title = \n")
    with pytest.raises(Unreadable, match=r"new.toml:1: is not TOML"):
        Editor(demo, "then")


# -- a reading saved in kit.toml ---------------------------------------------------------------

ROW = Measured(head="A", power="1/8+0.3", distance_m=1.4, reads_f=4.2, modifier="octa", accessories=("grid",))


STAMP = "20261204-091500"
KEPT = f".backup-{STAMP}"


def test_a_row_is_added_and_everything_above_stays_to_the_letter(day: Path) -> None:
    kit = day / "kit.toml"
    kit.write_text(kit.read_text() + "# the photographer's own last word", encoding="utf-8")
    before = kit.read_text(encoding="utf-8")
    assert keep_measured(day, ROW, STAMP) == KEPT
    after = kit.read_text(encoding="utf-8")
    assert after.startswith(before)
    assert read_day(day).kit.measured[-1] == ROW
    assert len(read_day(day).kit.measured) == 2


def test_a_row_taken_at_the_same_distance_is_written_over_in_its_place(day: Path) -> None:
    """It would never count again: power and ISO are carried, the distance is what is nearest."""
    kit = day / "kit.toml"
    keep_measured(day, ROW, STAMP)
    note = "# by the window\n[[measured]]"
    text = note.join(kit.read_text().rsplit("[[measured]]", 1)) + '\n[[bag]]\nid = "B77"\n'
    text += "mass_kg = 6.0\n"
    kit.write_text(text)
    again = replace(ROW, power="1/4", iso=200.0, reads_f=5.6)
    assert keep_measured(day, again, STAMP) == KEPT
    assert read_day(day).kit.measured[1:] == (again,)
    assert note in kit.read_text()
    assert kit.read_text().endswith(text[text.rindex("[[bag]]") :])
    new = kit.read_text().splitlines()
    changed = [old for old, now in zip(text.splitlines(), new, strict=True) if old != now]
    assert {line.split(" = ")[0] for line in changed} == {"power", "iso", "reads_f"}


@pytest.mark.parametrize("other", [{"distance_m": 1.5}, {"accessories": ()}, {"modifier": "bare"}, {"head": "B"}])
def test_a_row_that_still_counts_somewhere_stays(other: dict[str, Any]) -> None:
    assert replaced_by([replace(ROW, **other)], ROW) is None
    assert replaced_by([replace(ROW, power="1/2", iso=400.0), replace(ROW, **other)], ROW) == 0
    fitted = replace(ROW, accessories=("grid", "gel"))  # the same in any order
    assert replaced_by([fitted], replace(fitted, accessories=("gel", "grid"))) == 0


def test_a_reading_already_in_the_kit_is_not_written_again(day: Path) -> None:
    keep_measured(day, ROW, STAMP)
    before = (day / "kit.toml").read_bytes()
    assert keep_measured(day, replace(ROW, distance_m=1.40004), "later") is None
    assert (day / "kit.toml").read_bytes() == before
    assert not (day / ".backup-later").exists()


def test_a_write_that_fails_leaves_the_kit_as_it_was(day: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    before = (day / "kit.toml").read_bytes()
    files = sorted(path.name for path in day.iterdir())

    def full(_: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(NotEdited, match="no space"):
        keep_measured(day, ROW, STAMP)
    assert (day / "kit.toml").read_bytes() == before
    assert sorted(path.name for path in day.iterdir()) == files
