"""Every way a day's folder can be wrong is said with its file, line and key, and never raises."""

from __future__ import annotations

import os
import subprocess
import sys
from fractions import Fraction
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from runbook.files.errors import Fault, Unreadable
from runbook.files.load import read_day
from runbook.model.power import Power
from tests.days import FILES, change, faults_of, write_day

K, D, W, L = "kit.toml", "day.toml", "window.toml", "lamp.toml"


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


def test_a_power_is_read_on_its_own_heads_dial(day: Path) -> None:
    lamp = read_day(day).setups["lamp"]
    assert lamp.light["A"].power == Power(5 - Fraction(2, 3))
    assert lamp.light["C"].power == Power(6 - Fraction(7, 10))


def test_a_setup_that_is_not_in_the_order_is_read_and_checked_too(tmp_path: Path) -> None:
    folder = write_day(tmp_path / "d", spare='like = "window"\n')
    assert "spare" in read_day(folder).setups
    (folder / "spare.toml").write_text('like = "window"\nframes = "x"\n')
    assert [str(fault.key) for fault in faults_of(folder)] == ["frames"]


# file, what stands there, what to write instead, the key, and words the message must hold
ONE_FAULT = [
    # shape
    (W, "angle_deg = 45", 'angle_deg = "45"', "light.A.angle_deg", '"45" is text; write a number'),
    (W, "frames = 120", "frames = 120.0", "frames", "write a whole number"),
    (W, "frames = 120", "frames = true", "frames", "true is a yes or no; write a whole number"),
    (W, "frames = 120", "frames = -1", "frames", "too little; it must be at least 0"),
    (W, "\nf = 4.0", "\nf = 0", "exposure.f", "too little; it must be more than 0"),
    (W, "\nf = 4.0", "\nf = nan", "exposure.f", "no real number"),
    (W, "\nf = 4.0", "\nf = inf", "exposure.f", "no real number"),
    (W, "\nf = 4.0", f"\nf = 1{'0' * 400}", "exposure.f", "too big"),
    (W, "\nf = 4.0", "\nf = 1e300", "exposure.f", "too much"),
    (W, "angle_deg = 45", "angle_deg = 181", "light.A.angle_deg", "at most 180"),
    (W, 'role = "key"', 'role = "main"', "light.A.role", 'none of its values; write "key"'),
    (W, 'title = "At', 'tilte = "At', "tilte", "no such key; did you mean title?"),
    (W, "through =", "trough =", "light.A.trough", "did you mean through?"),
    (W, "[background]", "[backgruond]", "backgruond", "did you mean background?"),
    (W, 'look = "keeper"', "look = 3", "look", "3 is a number; write a text in quotes"),
    (W, 'power = "1/8"\n', "power = 0.125\n", "light.A.power",
     '0.125 is no text; write it in quotes, like "1/8"'),
    (W, 'power = "1/8"\n', "power = true\n", "light.A.power", "true is no text; write it in"),
    (D, "wrap = 18:00:00\n", "", "wrap",
     "is missing; write it like 08:00:00 (when they are to be gone)"),
    (W, 'role = "key"\n', "", "light.A.role", 'or "effect" (what it is for)'),
    (W, 'bags = ["B3"]', 'bags = "B3"', "place_panel.flat.bags", "is text; write a list"),
    (W, 'title = "At', 'id = "w"\ntitle = "At', "id", "a setup's id is its file's name"),
    (D, "date = 2026-12-04", 'date = "2026-12-04"', "date", "write a date without quotes"),
    (D, "call = 08:00:00", "call = 8", "call", "write a time of day"),
    (D, 'name = "A day"', "", "name", "is missing; write it (of the day)"),
    (K, 'sync = "1/200"\n', "sensor_mm = [36.0]\n", "camera.sensor_mm", "write two"),
    (K, "reflectance = 0.85", "reflectance = 1.2", "panel.flat.reflectance", "at most 1"),
    (K, "[[lens]]", "[lens]", "lens", "write [[lens]]"),
    (W, "[exposure]", "[[exposure]]", "exposure", "a list is no table; write it once"),
    (W, "[view]", "[[view]]", "view", "write it once, as [view]"),
    (W, "[subject]", "[[subject]]", "subject", "write it once, as [subject]"),
    (W, "[background]", "[[background]]", "background", "write it once, as [background]"),
    (K, "[camera]", "[[camera]]", "camera", "write it once, as [camera]"),
    (K, "depth_m = 0.45\n", "spread_deg = 1e-6\n", "modifier.octa.spread_deg", "at least 0.1"),
    (K, 'id = "octa"', 'id = "my octa"', "modifier[1].id", "no id; write 1 to 24 letters"),
    # ids that name nothing
    (W, 'head = "B"', 'head = "Q"', "light.Q.head", 'no head is called "Q"'),
    (W, 'stand = "S2"', 'stand = "S9"', "light.B.stand", "no stand is called"),
    (W, 'modifier = "octa"', 'modifier = "okta"', "light.A.modifier", "did you mean octa?"),
    (W, '["grid"]', '["gird"]', "light.A.accessories[1]", "did you mean grid?"),
    (W, '["voile"]', '["viole"]', "light.A.through[1]", "did you mean voile?"),
    (W, 'panel = "flat"', 'panel = "flap"', "place_panel.flap.panel", "did you mean flat?"),
    (W, '["B1"]', '["B9"]', "light.A.bags[1]", "no bag is called"),
    (W, 'lens = "85"', 'lens = "58"', "view.lens", 'no lens is called "58"'),
    (W, 'look = "keeper"', 'look = "keper"', "look", "did you mean keeper?"),
    (W, 'aim = "background"', 'aim = "flit"', "light.B.aim", "did you mean flat?"),
    (W, 'face_to = "A"', 'face_to = "C"', "place_panel.flat.face_to", 'no head "C" is lit'),
    (W, 'looks_at = "A"', 'looks_at = "C"', "subject.looks_at", 'no head "C" is lit'),
    (W, 'look = "keeper"', 'look = "keeper"\nbefore = ["lump"]', "before[1]", "mean lamp?"),
    (W, 'look = "keeper"', 'look = "keeper"\nbefore = ["window"]', "before[1]", "before itself"),
    (K, 'fits = ["octa"]', 'fits = ["octa", "x"]', "accessory.grid.fits[2]", "no modifier is"),
    (K, 'head = "A"', 'head = "Z"', "measured[1].head", "no head is called"),
    (K, 'modifier = "octa"', 'modifier = "z"', "measured[1].modifier", "no modifier is"),
    (K, 'accessories = ["grid"]', 'accessories = ["z"]', "measured[1].accessories[1]", "no acc"),
    (D, '"window", "lamp"', '"window", "lmap"', "order[2]", "did you mean lamp?"),
    (L, 'like = "window"', 'like = "windoe"', "like", "did you mean window?"),
    (L, 'drop = ["flat"]', 'drop = ["flap"]', "drop[1]", "did you mean flat?"),
    # ids given twice, or to two things
    (K, 'id = "B"\n', 'id = "A"\n', "head.A.id", "another head is already called"),
    (K, 'id = "S2"', 'id = "S1"', "stand.S1.id", "another stand is already called"),
    (K, 'id = "flat"', 'id = "B"', "panel.B.id", "aim and drop could mean either"),
    (K, 'id = "flat"', 'id = "face"', "panel.face.id", "means something else"),
    (D, 'id = "first"', 'id = "photo"', "crew.photo.id", "another crew is already called"),
    # one thing in two places
    (W, 'head = "B"', 'head = "A"', "light.A.head", "lit already"),
    (W, 'stand = "S2"', 'stand = "S1"', "light.B.stand", "at light A and at light B"),
    (W, 'bags = ["B2"]', 'bags = ["B1"]', "light.B.bags[1]", "at light A and at light B"),
    (W, 'bags = ["B3"]', 'bags = ["B1"]', "place_panel.flat.bags[1]", "and at panel flat"),
    (W, '["voile"]', '["voile", "voile"]', "light.A.through[2]", "twice at light A"),
    (W, 'stand = "S2"', 'stand = "S2"\nmodifier = "octa"', "light.B.modifier", "at light A and"),
    (L, 'modifier = "strip"', 'modifier = "octa"', "light.C.modifier", "at light A and at light C"),
    (L, 'stand = "boom"', 'stand = "S2"', "light.C.stand", "at light B and at light C"),
    (D, '"window", "lamp"', '"window", "lamp", "lamp"', "order[3]", "in the order already"),
    # what does not go together
    (W, 'modifier = "octa"', 'modifier = "strip"', "light.A.accessories[1]", "does not fit strip"),
    (W, 'power = "1/8+0.3"', 'power = "1/8+0.4"', "light.B.power", "1/8+0.3 is the nearest"),
    (W, 'power = "1/8+0.3"', 'power = "1/256"', "light.B.power", "1/128 is the least"),
    (W, 'power = "1/8+0.3"', 'power = "1/7"', "light.B.power", "no whole stop"),
    (W, 'power = "1/8+0.3"', 'power = "lots"', "light.B.power", "is no power; write it like"),
    (K, 'power = "1/4"', 'power = "1/4+0.5"', "measured[1].power", "not on this head's dial"),
    (K, 'power = "1/4"', 'power = "off"', "measured[1].power", "off reads nothing"),
    (K, 'modifier = "octa"', 'modifier = "strip"', "measured[1].accessories[1]",
     "grid does not fit strip; it fits octa"),
    (K, 'power_min = "1/128"\npower_step = "1/10"', 'power_min = "1/128+0.5"\npower_step = "1/3"',
     "head.C.power_min", "no whole number of 1/3 stops below full; write the lowest"),
    (W, 'shutter = "1/160"', 'shutter = "1/250"', "exposure.shutter", "faster than flash allows"),
    (W, 'shutter = "1/160"', 'shutter = "fast"', "exposure.shutter", "is no shutter time"),
    (W, 'shutter = "1/160"', 'shutter = "nan"', "exposure.shutter", "is no shutter time"),
    (W, 'shutter = "1/160"', 'shutter = "1e9"', "exposure.shutter", "no camera has"),
    (K, 'sync = "1/200"', 'sync = "x"', "camera.sync", "is no shutter time"),
    (W, "f = 4.0\nshutter", "f = 1.4\nshutter", "exposure.f", "it goes from f/1.8 to f/16"),
    (W, "f = 4.0\nshutter", "f = 22\nshutter", "exposure.f", "no f/22"),
    (W, "iso = 100", "iso = 64", "exposure.iso", "under the camera's least, 100"),
    (W, "height_m = 1.85", "height_m = 2.9", "light.A.distance_m", "cannot reach"),
    (W, "height_m = 1.85", "height_m = 0.9", "light.A.height_m", "under the least that stand S1"),
    (L, "height_m = 2.4", "height_m = 1.1", "light.C.height_m", "least that stand boom"),
    (L, "height_m = 2.4", "height_m = 2.6", "light.C.distance_m", "at least 1.35 m is needed"),
    (W, "distance_m = 0.8", "distance_m = 0.01", "place_panel.flat.distance_m", "cannot reach"),
    (W, "distance_m = 2.6", "distance_m = 0.1", "view.distance_m", "cannot reach"),
    (K, "f_max = 16.0", "f_max = 1.4", "lens.85.f_max", "wider than f_min"),
    (K, "width_m = 0.3\n", "", "modifier.strip.width_m", "must have a size"),
    (K, "arm_m = 1.6\n", "", "stand.boom.arm_m", "a boom must have it"),
    (K, "arm_back_m = 0.8\n", "", "stand.boom.arm_back_m", "a boom must have it"),
    (D, "wrap = 18:00:00", "wrap = 02:00:00", "wrap", "not after the call"),
    (D, "wrap = 18:00:00", "wrap = 08:00:00", "wrap", "a day ends by midnight"),
    (D, 'talent = "T1"', 'call = 18:00:00', "look.keeper.call", "not before the wrap"),
    (D, "wrap = 18:00:00", "load_in_min = -5\nwrap = 18:00:00", "load_in_min", "at least 0"),
    (D, "latest = 13:30:00", "latest = 11:00:00", "break.meal.latest", "before the earliest"),
    (D, 'order = ["window", "lamp"]', "order = []", "order", "no setup is to be shot"),
    (D, 'order = ["window", "lamp"]\n', "", "order", "is missing"),
    (L, 'like = "window"', 'like = "lamp"', "like", "loop: lamp -> lamp"),
    (L, 'like = "window"', "like = 3", "like", "is no setup"),
    (L, 'drop = ["flat"]', 'drop = "flat"', "drop", "is no list"),
]  # fmt: skip


@pytest.mark.parametrize("case", ONE_FAULT, ids=lambda case: f"{case[3]}: {case[4]}"[:60])
def test_a_fault_is_said_with_file_line_key_and_remedy(day: Path, case: tuple[str, str, str, str, str]) -> None:
    file, old, new, key, gist = case
    line = change(day, file, old, new)
    found = [f for f in faults_of(day) if f.key == key and gist in f"{f.what}; {f.do}"]
    assert len(found) == 1, "\n".join(map(str, faults_of(day)))
    assert found[0].file == str(day / file)
    assert found[0].line == line_of(key, (day / file).read_text(), line - (not new))


def line_of(key: str, text: str, near: int) -> int:
    """The line of a key in the table that holds line ``near``; the table's own if it has none."""
    lines = text.splitlines()
    near += not lines[near - 1].strip()  # a change that begins with the end of the line before
    name = key.rsplit(".", maxsplit=1)[-1].split("[", maxsplit=1)[0]
    starts = [n for n, line in enumerate(lines, 1) if line.startswith("[") and n <= near]
    start = max(starts, default=0)
    if start and lines[start - 1].strip("[]") == name:
        return start
    ends = [n for n, line in enumerate(lines, 1) if line.startswith("[") and n > start]
    for number in range(max(start, 1), min(ends, default=len(lines) + 1)):
        if lines[number - 1].startswith(f"{name} ="):
            return number
    return start or 1  # what is missing at the top is missing in the file


def test_a_change_of_line_oracle_sees_a_wrong_line() -> None:
    text = FILES["window.toml"]
    near = text[: text.index("angle_deg = 130")].count("\n") + 1
    assert line_of("light.B.angle_deg", text, near) == near
    assert line_of("light.B.missing", text, near) == near - 7


def test_the_load_on_a_stand_is_all_that_hangs_on_it(day: Path) -> None:
    # head 2.0, octa 1.3, grid 0.4
    change(day, K, 'id = "S1"\nfoot_radius_m = 0.52\nmass_kg = 3.1\nload_max_kg = 9.0',
           'id = "S1"\nfoot_radius_m = 0.52\nmass_kg = 3.1\nload_max_kg = 3.6')  # fmt: skip
    (fault,) = faults_of(day)
    assert (fault.file, fault.key) == (str(day / W), "light.A.stand")
    assert "is to carry 3.7 kg with light A" in fault.what
    assert "its limit is 3.6 kg" in fault.do


def test_a_boom_carries_its_arm_and_counterweight_too(day: Path) -> None:
    # head 2.0, strip 1.1, arm 1.5, counterweight 6.0
    change(day, K, "load_max_kg = 12.0", "load_max_kg = 10.5")
    (fault,) = faults_of(day)
    assert (fault.file, fault.key) == (str(day / L), "light.C.stand")
    assert "10.6 kg" in fault.what


@pytest.mark.parametrize(("number", "stand"), [("3.0", "S1"), ("3.2", "S1")])
def test_a_height_over_the_stand_is_said(day: Path, number: str, stand: str) -> None:
    change(day, W, "distance_m = 1.4\nheight_m = 1.85", f"distance_m = 3.4\nheight_m = {number}")
    (fault,) = faults_of(day)
    assert fault.key == "light.A.height_m"
    assert f"over the most that stand {stand} goes to, 2.8 m" in fault.what


def test_fast_shutters_are_right_while_nothing_fires(day: Path) -> None:
    change(day, W, 'shutter = "1/160"', 'shutter = "1/1000"')
    change(day, W, 'power = "1/8"\n', 'power = "off"\n')
    change(day, W, 'power = "1/8+0.3"\n', 'power = "off"\n')
    change(day, L, 'power = "1/32+0.7"\n', 'power = "off"\n')
    change(day, L, 'power = "1/64+0.7"\n', 'power = "off"\n')
    assert faults_of(day) == ()


def test_a_head_left_bare_shares_nothing(day: Path) -> None:
    change(day, L, 'modifier = "strip"\n', "")  # B is bare as well
    assert faults_of(day) == ()


def test_one_cloth_hangs_in_several_beams(day: Path) -> None:
    change(day, W, 'bags = ["B2"]', 'bags = ["B2"]\nthrough = ["voile"]')
    assert faults_of(day) == ()


def test_every_fault_of_every_file_is_said_at_once(day: Path) -> None:
    change(day, K, "reflectance = 0.85", "reflectance = 2")
    change(day, D, "wrap = 18:00:00", "wrap = 07:00:00")
    change(day, W, "angle_deg = 45", 'angle_deg = "45"')
    change(day, W, 'panel = "flat"', 'panel = "flot"')
    (day / "torn.toml").write_text("a = [")
    found = [(Path(fault.file).name, fault.key) for fault in faults_of(day)]
    assert found == sorted(found, key=lambda place: place[0])
    assert set(found) >= {
        (K, "panel.flat.reflectance"),
        (D, "wrap"),
        (W, "light.A.angle_deg"),
        (W, "place_panel.flot.panel"),
        ("torn.toml", ""),
    }


def test_a_thing_of_wrong_shape_in_the_kit_is_not_unknown_in_the_setups(day: Path) -> None:
    change(day, K, 'id = "A"\nenergy_ws = 200', 'id = "A"\nenergy_ws = "200"')
    assert [fault.key for fault in faults_of(day)] == ["head.A.energy_ws"]


def test_a_table_by_another_name_is_missing_at_the_top_and_its_name_is_guessed(day: Path) -> None:
    (day / L).unlink()
    change(day, D, 'order = ["window", "lamp"]', 'order = ["window"]')
    line = change(day, W, "[exposure]", "[exposur]")
    assert [str(fault).removeprefix(f"{day}/") for fault in faults_of(day)] == [
        f"{W}:1: exposure: is missing; write [exposure] (the camera's settings)",
        f"{W}:{line}: exposur: no such key; did you mean exposure?",
    ]


def test_the_keys_said_to_be_right_are_those_that_may_be_written(day: Path) -> None:
    change(day, W, 'title = "At', 'zzzz = 1\ntitle = "At')
    (fault,) = faults_of(day)
    said = fault.do.removeprefix("there are ").split(", ")
    assert {"exposure", "title", "light", "like", "drop"} <= set(said)
    assert "id" not in said
    change(day, W, "zzzz = 1", "idd = 1")
    (fault,) = faults_of(day)
    assert "mean id?" not in fault.do
    change(day, W, "idd = 1\n", "")
    change(day, K, 'id = "B1"\n', 'id = "B1"\nzzzz = 1\n')
    (fault,) = faults_of(day)
    assert fault.do == "there are grip_m, id, mass_kg, name"


def test_a_row_that_cannot_be_is_counted_past_those_of_wrong_shape(day: Path) -> None:
    change(day, K, "[[measured]]\n", "[[measured]]\nhead = 3\n[[measured]]\n")
    line = change(day, K, 'modifier = "octa"\naccessories', "accessories")
    found = [fault for fault in faults_of(day) if "does not fit" in fault.what]
    assert [(f.line, f.key, f.what, f.do) for f in found] == [
        (line, "measured[2].accessories[1]", "grid does not fit bare", "it fits octa")
    ]


def test_an_unknown_dial_is_said_once(day: Path) -> None:
    path = day / K
    path.write_text(path.read_text().replace('power_min = "1/128"', 'power_min = "off"', 1))
    assert [fault.key for fault in faults_of(day)] == ["head.A.power_min"]


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


@pytest.mark.parametrize("case", BYTES)
@pytest.mark.parametrize("file", [K, D, W, "more.toml"])
def test_a_file_that_is_no_toml_is_said_with_its_line(day: Path, case: str, file: str) -> None:
    content, line, gist = BYTES[case]
    (day / file).write_bytes(content)
    (fault,) = [fault for fault in faults_of(day) if gist in f"{fault.what}; {fault.do}"]
    assert (fault.file, fault.line) == (str(day / file), line)


@pytest.mark.parametrize(
    "line",
    [
        "# " + "." * 500,
        "# see " + "a. " * 30 + "." * 200 + " 7",
        f"sizes = [{', '.join(['1.5'] * 500)}]",
        "x" * 500_000 + "." * 100,
        '"' * 500_000 + "." * 100,
        "x " * 250_000 + "." * 100,
        "x.x " * 125_000,
    ],
)
def test_dots_that_are_in_no_key_are_not_taken_for_one(tmp_path: Path, line: str) -> None:
    for fault in faults_of(write_day(tmp_path / "d", more=line)):
        assert "parts" not in fault.what


def test_a_byte_order_mark_and_windows_lines_are_right(day: Path) -> None:
    text = (day / W).read_text()
    (day / W).write_bytes(b"\xef\xbb\xbf" + text.replace("\n", "\r\n").encode())
    assert faults_of(day) == ()
    line = change(day, W, "angle_deg = 45", "angle_deg = 200")
    assert [fault.line for fault in faults_of(day)] == [line]


def test_what_is_no_plain_file_is_said_and_not_waited_for(day: Path) -> None:
    (day / "dir.toml").mkdir()
    (day / "gone.toml").symlink_to(day / "nowhere")
    (day / "round.toml").symlink_to(day / "round.toml")
    os.mkfifo(day / "pipe.toml")
    found = {Path(fault.file).name: fault.what for fault in faults_of(day)}
    assert found == {
        "dir.toml": "is no plain file",
        "pipe.toml": "is no plain file",
        "gone.toml": "points at a file that is not there",
        "round.toml": found["round.toml"],
    }
    assert found["round.toml"].startswith("cannot be read")


def test_hidden_files_and_other_files_are_left_alone(day: Path) -> None:
    (day / "._window.toml").write_bytes(b"\x00\x05")
    (day / "notes.txt").write_bytes(b"\xff")
    assert faults_of(day) == ()


@pytest.mark.parametrize("file", [K, D])
def test_a_day_without_its_files_says_how_to_start_one(day: Path, file: str) -> None:
    (day / file).unlink()
    (fault,) = faults_of(day)
    assert (fault.file, fault.what) == (str(day / file), "is not there")
    assert "runbook new DAY" in fault.do


def test_no_folder_and_no_folder_at_all(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("")
    cases = {"none": "is not there", "file": "is no folder", "nul\0": "cannot be read"}
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
    assert (fault.file, fault.what) == (str(day / W), "may not be read")


@pytest.mark.skipif(os.name != "posix", reason="needs POSIX rights")
def test_a_folder_without_rights_for_a_real_user(day: Path) -> None:
    day.chmod(0)
    code = (
        "import os, sys, pathlib; from runbook.files.load import Unreadable, read_day\n"
        "os.getuid() or os.setuid(65534)\n"
        "try: read_day(pathlib.Path(sys.argv[1]))\n"
        "except Unreadable as problem: print(problem)"
    )
    try:
        done = subprocess.run([sys.executable, "-c", code, str(day)], capture_output=True, text=True, check=False)
    finally:
        day.chmod(0o755)
    assert done.stdout == f"{day}: may not be read; ask for the right to read it\n"


@pytest.mark.parametrize("name", ["my setup", "x" * 25, "naïve"])
def test_a_setup_whose_file_name_is_no_id(tmp_path: Path, name: str) -> None:
    folder = write_day(tmp_path / "d", **{name: 'like = "window"\n'})
    (fault,) = faults_of(folder)
    assert fault.file == str(folder / f"{name}.toml")
    assert "is no id" in fault.what


def test_paths_are_said_as_short_as_they_go(day: Path, monkeypatch: pytest.MonkeyPatch) -> None:
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
    told = str(raised.value).split("\n")
    assert len(told) == len(raised.value.faults) > 6
    assert all(line.startswith(str(tmp_path)) for line in told)
    assert all(fault.file.isprintable() for fault in raised.value.faults)


def test_a_name_is_escaped_where_it_is_a_place(tmp_path: Path) -> None:
    folder = write_day(tmp_path / "d", **{"a\nb": 'like = "window"\n'})
    (fault,) = faults_of(folder)
    assert fault.file == str(folder / "a\\nb.toml")
    assert fault.what == '"a b" is no id'


@settings(max_examples=100, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(data=st.data())
def test_no_damage_to_a_file_raises_anything_else(
    data: st.DataObject, tmp_path_factory: pytest.TempPathFactory
) -> None:
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


VALUES = st.recursive(
    st.sampled_from(
        [
            "1",
            "-1",
            "0",
            "1e9",
            "1e-300",
            "1e400",
            "nan",
            "true",
            '""',
            '"A"',
            '"face"',
            "08:00:00",
            "2026-12-04",
            "1979-05-27T07:32:00Z",
            '"\\u0000"',
            '"\\U0001F600"',
            "0xffffffffffffffffffffffffffffffffffffffff",
        ]
    ),
    lambda inner: st.one_of(
        st.lists(inner, max_size=3).map(lambda items: f"[{', '.join(items)}]"),
        inner.map(lambda item: f"{{id = {item}}}"),
        inner.map(lambda item: f"{{head = {item}, power = {item}}}"),
    ),
    max_leaves=4,
)


@settings(max_examples=100, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(data=st.data())
def test_no_value_in_any_place_raises_anything_else(
    data: st.DataObject, tmp_path_factory: pytest.TempPathFactory
) -> None:
    folder = write_day(tmp_path_factory.getbasetemp() / "valued")
    name = data.draw(st.sampled_from(sorted(FILES)))
    lines = FILES[name].splitlines()
    places = [n for n, line in enumerate(lines) if " = " in line]
    for _ in range(data.draw(st.integers(1, 3))):
        place = data.draw(st.sampled_from(places))
        key = lines[place].split(" = ")[0]
        lines[place] = f"{key} = {data.draw(VALUES)}"
    if data.draw(st.booleans()):
        heads = [n for n, line in enumerate(lines) if line.startswith("[")]
        place = data.draw(st.sampled_from(heads))
        key = lines[place].strip("[]")
        lines[place] = data.draw(st.sampled_from([f"[{key}]", f"[[{key}]]", f"{key} = []", ""]))
    if data.draw(st.booleans()):
        lines.insert(0, f"{data.draw(st.sampled_from(['light', 'place_panel', 'like', 'drop']))} "
                        f"= {data.draw(VALUES)}")  # fmt: skip
    (folder / name).write_text("\n".join(lines))
    try:
        read_day(folder)
    except Unreadable as problem:
        assert all(map(is_whole, problem.faults))
