"""A day's folder is read whole, or every way it cannot be is a fault; nothing else is raised."""

import os
import re
from fractions import Fraction
from pathlib import Path
from typing import Final

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from runbook.files.errors import Fault, Unreadable
from runbook.files.load import read_day, read_files
from runbook.files.paths import demo_day
from runbook.model.day import Plan
from runbook.model.power import Power
from tests.days import FILES, change, faults_of, write_day

K, D, W, L = FILES


def test_a_right_day_is_read_whole(day: Path) -> None:
    plan = read_day(day)
    assert [setup.id for setup in plan.order] == ["window", "lamp"]
    assert plan.day.name == "A day"
    assert list(plan.kit.head) == ["A", "B", "C"]
    window, lamp = plan.order
    assert window.light["A"].accessories == ("grid",)
    assert window.panel["flat"].face_to == "A"
    assert lamp.exposure.f == 2.8
    assert lamp.exposure.shutter == "1/160"
    assert lamp.light.keys() == {"A", "B", "C"}
    assert lamp.panels == ()
    # each power on its own head's dial: of thirds, and of tenths
    assert lamp.light["A"].power == Power(5 - Fraction(2, 3))
    assert lamp.light["C"].power == Power(6 - Fraction(7, 10))


def test_a_setup_that_is_not_in_the_order_is_read_and_checked_too(tmp_path: Path) -> None:
    folder = write_day(tmp_path / "d", spare='like = "window"\n')
    assert "spare" in read_day(folder).setups
    (folder / "spare.toml").write_text('like = "window"\nframes = "x"\n')
    assert [str(fault.key) for fault in faults_of(folder)] == ["frames"]


BYTES = {
    "syntax": (b"title = 1\nx = [", 2, "is not TOML"),
    "no equals": (b"title = 1\nwhat\n", 2, "is not TOML: expected '='"),
    "key twice": (b"title = 'x'\ntitle = 'y'\n", 2, "is not TOML: cannot overwrite"),
    "not UTF-8": (b"title = 'x'\n# caf\xe9\n", 2, "byte 0xe9 is not UTF-8"),
    "UTF-16": ("title = 'x'".encode("utf-16"), 1, "is not UTF-8"),
    "NUL": (b"title = 'x\x00'\n", 1, "is not TOML"),
    "nested": (b"x = " + b"[" * 100_000, None, "nested too deeply"),
    "nested tables": (b"x = " + b"{a = " * 10_000, None, "nested too deeply"),
    "digits": (b"title = 'x'\nframes = " + b"9" * 5000, 2, "cannot be read; write fewer digits"),
    "deep key": (b"x = 1\n" + b".".join([b"a"] * 50_000) + b" = 1", 2, "over 64 parts; write fewer"),
    "deep head": (b"x = 1\n\n[" + b" . ".join([b'"a"'] * 65) + b"]", 3, "over 64 parts"),
    "deep inside": (b"x = {" + b".".join([b"a"] * 65) + b" = 1}", 1, "over 64 parts"),
    "big": (b"# \n" * 400_000, None, "is over 1 MiB"),
    "50 MB": (b"#" * 50_000_000, None, "is over 1 MiB"),
}


@pytest.mark.parametrize(("case", "file"), [*((case, W) for case in BYTES), *(("syntax", f) for f in (K, D, "x.toml"))])
def test_a_file_that_is_no_toml_is_a_fault_with_its_line(day: Path, case: str, file: str) -> None:
    content, line, gist = BYTES[case]
    (day / file).write_bytes(content)
    (fault,) = [fault for fault in faults_of(day) if gist in f"{fault.what}; {fault.do}"]
    assert (fault.file, fault.line) == (str(day / file), line)


@pytest.mark.parametrize("line", [
    "# " + "." * 500,
    "# see " + "a. " * 30 + "." * 200 + " 7",
    f"sizes = [{', '.join(['1.5'] * 500)}]",
    "x" * 500_000 + "." * 100,
    '"' * 500_000 + "." * 100,
    "x " * 250_000 + "." * 100,
    "x.x " * 125_000,
])  # fmt: skip
def test_dots_that_are_in_no_key_are_not_taken_for_one(tmp_path: Path, line: str) -> None:
    for fault in faults_of(write_day(tmp_path / "d", more=line)):
        assert "parts" not in fault.what


def test_a_byte_order_mark_and_windows_lines_are_right(day: Path) -> None:
    text = (day / W).read_text()
    (day / W).write_bytes(b"\xef\xbb\xbf" + text.replace("\n", "\r\n").encode())
    assert faults_of(day) == ()
    line = change(day, W, "angle_deg = 45", "angle_deg = 200")
    assert [fault.line for fault in faults_of(day)] == [line]


def test_what_is_no_regular_file_is_a_fault_and_not_waited_for(day: Path) -> None:
    (day / "dir.toml").mkdir()
    (day / "gone.toml").symlink_to(day / "nowhere")
    (day / "round.toml").symlink_to(day / "round.toml")
    os.mkfifo(day / "pipe.toml")
    found = {Path(fault.file).name: fault.what for fault in faults_of(day)}
    assert found == {
        "dir.toml": "is not a regular file",
        "pipe.toml": "is not a regular file",
        "gone.toml": "points at a file that does not exist",
        "round.toml": found["round.toml"],
    }
    assert found["round.toml"].startswith("cannot be read")


def test_hidden_files_and_other_files_are_left_alone(day: Path) -> None:
    (day / "._window.toml").write_bytes(b"\x00\x05")
    (day / "notes.txt").write_bytes(b"\xff")
    assert faults_of(day) == ()


@pytest.mark.parametrize("file", [K, D])
def test_without_its_files_a_day_is_a_fault_with_the_command_that_starts_one(day: Path, file: str) -> None:
    (day / file).unlink()
    (fault,) = faults_of(day)
    assert (fault.file, fault.what) == (str(day / file), "does not exist")
    assert "runbook new DAY" in fault.do


def test_no_folder_and_no_folder_at_all(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("")
    cases = {"none": "does not exist", "file": "is not a folder", "nul\0": "cannot be read"}
    for name, what in cases.items():
        (fault,) = faults_of(tmp_path / name)
        assert what in fault.what
        assert fault.line is None


def test_a_file_or_folder_without_rights(day: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    real = Path.open

    def refuse(path: Path, *args: object, **more: object) -> object:
        if path.name == W:
            raise PermissionError(13, "Permission denied", str(path))
        return real(path, *args, **more)  # type: ignore[call-overload]

    monkeypatch.setattr(Path, "open", refuse)
    (fault,) = faults_of(day)
    assert (fault.file, fault.what) == (str(day / W), "cannot be read: no permission")


@pytest.mark.parametrize("name", ["my setup", "x" * 25, "naïve", "a\nb"])
def test_a_setup_whose_file_name_is_no_id(tmp_path: Path, name: str) -> None:
    folder = write_day(tmp_path / "d", **{name: 'like = "window"\n'})
    (fault,) = faults_of(folder)
    assert fault.file == str(folder / name.replace("\n", "\\n")) + ".toml"
    assert fault.what == f'"{" ".join(name.split())}" is not an id'


def test_paths_are_shortened(day: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(day.parent)
    line = change(day, W, "angle_deg = 45", "angle_deg = 200")
    assert str(faults_of(day)[0]).startswith(f"day/window.toml:{line}: light.A.angle_deg: ")


@pytest.mark.parametrize("name", ["a\nb", "a\r\nb", "a\x1b[2Jb", "a\u2028b", "a\u202eb", "a\udc80b"])
def test_whatever_is_in_a_name_a_message_is_one_harmless_line(tmp_path: Path, name: str) -> None:
    folder = tmp_path / name
    write_day(folder, **{name: 'like = "windoe"\nframes = true\n'})
    change(folder, L, 'like = "window"', 'like = "q"')
    change(folder, W, 'shutter = "1/160"', 'shutter = "1/250\\n"')
    change(folder, W, 'power = "1/8+0.3"', 'power = "1/256\\n"')
    change(folder, K, "[[cloth]]\n", '[[cloth]]\n"a\\nb" = 1\n')
    with pytest.raises(Unreadable) as raised:
        read_day(folder)
    reported = str(raised.value).split("\n")
    assert len(reported) == len(raised.value.faults) > 6
    assert all(line.startswith(str(tmp_path)) for line in reported)
    assert all(fault.file.isprintable() for fault in raised.value.faults)


@settings(max_examples=50, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(data=st.data())
def test_no_damage_to_a_file_raises_anything_else(data, tmp_path_factory):
    folder = write_day(tmp_path_factory.getbasetemp() / "damaged")
    name = data.draw(st.sampled_from(sorted(FILES)))
    content = bytearray(FILES[name].encode())
    for _ in range(data.draw(st.integers(1, 4))):
        start = data.draw(st.integers(0, len(content)))
        length = data.draw(st.integers(0, 30))
        content[start : start + length] = data.draw(
            st.binary(max_size=4)
            | st.sampled_from([b"[", b"]]", b"[[light]]\n", b"1e400", b"true", b"{}", b"[1]", b'""'])
        )
    (folder / name).write_bytes(content)
    try:
        read_day(folder)
    except Unreadable as problem:
        assert problem.faults
        assert all(map(is_whole, problem.faults))


def is_whole(fault: Fault) -> bool:
    """Whether a fault says where, what, and what would be right; a whole file has no line."""
    has_place = fault.line is not None or not fault.key
    return bool(fault.file and has_place and fault.what and fault.do)


# -- damage --------------------------------------------------------------------------------------

_DEMO: Final = {path.name: path.read_text() for path in (demo_day() or Path()).glob("*.toml")}
_NAMES: Final = sorted(_DEMO)
_VALUES: Final = (
    *("3", "-1", "0", "0.1", "1e308", "-1e-308", "nan", "1e400", "9" * 40, "true", "1979-05-27", "08:00:00"),
    *('"A"', '"keeper-lamp"', '""', '"\\u0000"', '"off"', '"full"', '"solve"', '"bare"', '"face"', '"far legs"'),
    *("[]", "{}", '["A", "A"]', "[[1]]", "[{id = 3}]", "{head = true}"),
)
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
        "value": [*lines[:at], re.sub(r"=.*", lambda _: f"= {text}", lines[at]), *lines[at + 1 :]],
        "key": [*lines[:at], re.sub(r"^\w+", lambda _: f"{text[:2]}x", lines[at]), *lines[at + 1 :]],
        "cut": lines[: min(at, to)] + lines[max(at, to) :] or [""],
    }[how]


def result_of(files: dict[str, str]) -> Plan | Unreadable:
    try:
        return read_files(Path("d"), {name: text.encode() for name, text in files.items()})
    except Unreadable as problem:
        return problem


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


def mutated_day(mutations: list[tuple[str, Mutation]]) -> dict[str, str]:
    """The demo day with changes in its files."""
    files = dict(_DEMO)
    for name, mutation in mutations:
        files[name] = "\n".join(mutated(files[name].splitlines() or [""], mutation))
    return files


@settings(max_examples=80)
@given(MUTATIONS)
def test_any_change_of_the_demo_day_gives_a_plan_or_faults(mutations: list[tuple[str, Mutation]]) -> None:
    result = result_of(files := mutated_day(mutations))
    if isinstance(result, Plan):
        assert set(result.setups) == {n[:-5] for n in files if n not in ("day.toml", "kit.toml")}
        assert [setup.id for setup in result.order] == list(result.day.order)
    else:
        assert result.faults
        assert all(is_whole(fault) and "\n" not in str(fault) for fault in result.faults)


@pytest.mark.parametrize(("table", "key"), [("light", "head"), ("place_panel", "panel")])
def test_a_table_that_names_nothing_is_a_fault_where_it_inherits(tmp_path: Path, table: str, key: str) -> None:
    child = f'like = "window"\n[[{table}]]\nside = "left"\n'
    folder = write_day(tmp_path / "d", child=child, grandchild='like = "child"\n')
    (fault,) = result_of({path.name: path.read_text() for path in folder.iterdir()}).faults
    assert (fault.file, fault.line, fault.key) == ("d/child.toml", 2, f"{table}[1].{key}")
