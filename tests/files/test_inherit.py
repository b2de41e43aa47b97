"""``like`` and ``drop``: what a setup takes over, and where a fault in it is reported."""

from dataclasses import replace
from itertools import pairwise
from pathlib import Path

import pytest

from runbook.files.load import read_day
from tests.days import FILES, change, faults_of, write_day

CHILD = 'like = "window"\n'


def places(folder: Path) -> list[tuple[str, str]]:
    return [(Path(fault.file).stem, fault.key) for fault in faults_of(folder)]


def the_fault(folder: Path) -> tuple[str, int | None, str]:
    (fault,) = faults_of(folder)
    return Path(fault.file).name, fault.line, fault.key


def test_tables_merge_key_by_key_and_lists_are_replaced(tmp_path: Path) -> None:
    more = '[view]\nheight_m = 1.6\n[[light]]\nhead = "A"\naccessories = []\nangle_deg = 50\n'
    plan = read_day(write_day(tmp_path / "d", child=CHILD + more))
    window, child = plan.setups["window"], plan.setups["child"]
    assert child.view == replace(window.view, height_m=1.6)
    assert child.light["A"] == replace(window.light["A"], accessories=(), angle_deg=50.0)
    assert child.light["B"] == window.light["B"]
    assert child.panels == window.panels
    assert (child.title, child.frames) == (window.title, window.frames)


def test_a_new_modifier_drops_the_accessories_that_do_not_fit_it(tmp_path: Path) -> None:
    bare = '[[light]]\nhead = "A"\nmodifier = "strip"\n'
    folder = write_day(tmp_path / "d", child=CHILD + bare, grandchild='like = "child"\ntitle = "again"\n')
    kit = folder / "kit.toml"
    both = '[[accessory]]\nid = "warm"\nkind = "gel"\nfits = ["octa", "strip"]\n'
    kit.write_text(f"{kit.read_text('utf-8')}\n{both}")
    change(folder, "window.toml", 'accessories = ["grid"]', 'accessories = ["grid", "warm"]')
    setups = read_day(folder).setups
    assert setups["window"].light["A"].accessories == ("grid", "warm")
    assert setups["child"].light["A"].accessories == setups["grandchild"].light["A"].accessories == ("warm",)
    change(folder, "child.toml", 'modifier = "strip"', 'modifier = "strip"\naccessories = ["grid"]')
    assert the_fault(folder)[::2] == ("child.toml", "light.A.accessories[1]")


def test_where_the_face_points_replaces_the_head_it_looked_at_and_back(tmp_path: Path) -> None:
    aside = "[subject]\nfacing_deg = 30\n"
    back = 'like = "child"\n[subject]\nlooks_at = "B"\n'
    setups = read_day(write_day(tmp_path / "d", child=CHILD + aside, back=back)).setups
    assert (setups["child"].subject.looks_at, setups["child"].subject.facing_deg) == (None, 30.0)
    assert (setups["back"].subject.looks_at, setups["back"].subject.facing_deg) == ("B", 0.0)


def test_a_chain_is_followed_whatever_the_order_of_the_files(tmp_path: Path) -> None:
    files = {"a": 'like = "b"\nframes = 1\n', "b": 'like = "c"\nshoot_min = 2\n', "c": CHILD + 'title = "c"\n'}
    a = read_day(write_day(tmp_path / "d", **files)).setups["a"]
    assert (a.title, a.frames, a.shoot_min, a.exposure.f) == ("c", 1, 2.0, 4.0)


def test_hung_cloths_merge_by_cloth_and_are_dropped_by_it(tmp_path: Path) -> None:
    hung = '[[hang]]\ncloth = "voile"\nside = "left"\nangle_deg = 120\ndistance_m = 1.8\nhem_m = 0.1\n'
    folder = write_day(
        tmp_path / "d",
        base=CHILD + hung,
        moved='like = "base"\n[[hang]]\ncloth = "voile"\nangle_deg = 90\n',
        gone='like = "base"\ndrop = ["voile"]\n',
    )
    kit = folder / "kit.toml"
    kit.write_text(kit.read_text("utf-8").replace("loss_stops = 1.0", "loss_stops = 1.0\nwidth_m = 2\nheight_m = 2"))
    setups = read_day(folder).setups
    assert setups["moved"].hung == {"voile": replace(setups["base"].hung["voile"], angle_deg=90.0)}
    assert setups["gone"].hung_cloths == ()


def test_a_head_dropped_and_lit_again_starts_afresh(tmp_path: Path) -> None:
    light = (
        '[[light]]\nhead = "B"\nrole = "rim"\nstand = "S2"\npower = "full"\nside = "left"\n'
        "angle_deg = 90\ndistance_m = 1.5\nheight_m = 1.5\n"
    )
    folder = write_day(tmp_path / "d", child=f'{CHILD}drop = ["B"]\n{light}')
    fresh = read_day(folder).setups["child"].light["B"]
    assert (fresh.aim, fresh.bags, fresh.under_key_stops) == ("face", (), None)
    change(folder, "child.toml", "angle_deg = 90\n", "")
    assert places(folder) == [("child", "light.B.angle_deg")]


@pytest.mark.parametrize(("written", "power", "f", "under"), [
    ("angle_deg = 130", "1/8+0.3", None, 1.0), ('power = "1/16"', "1/16", None, None),
    ("aim_reading_f = 8", "solve", 8.0, None), ("under_key_stops = 2", "solve", None, 2.0),
    ('power = "solve"', "solve", None, 1.0), ('power = "1/16"\nunder_key_stops = 2', "1/16", None, 2.0),
    ('power = "solve"\naim_reading_f = 8', "solve", 8.0, None),
])  # fmt: skip
def test_what_a_setup_says_of_a_power_replaces_what_the_other_says(tmp_path, written, power, f, under):
    folder = write_day(tmp_path / "d", child=f'{CHILD}[[light]]\nhead = "B"\n{written}\n')
    light = read_day(folder).setups["child"].light["B"]
    assert (str(light.power), light.aim_reading_f, light.under_key_stops) == (power, f, under)


def test_of_what_a_panel_faces_and_what_it_catches_the_last_one_stands(tmp_path: Path) -> None:
    panel = '[[place_panel]]\npanel = "flat"\n'
    folder = write_day(
        tmp_path / "d", child=f'{CHILD}{panel}catches = "B"\n', grandchild=f'like = "child"\n{panel}face_to = "face"\n'
    )
    setups = read_day(folder).setups
    assert (setups["child"].panel["flat"].face_to, setups["child"].panel["flat"].catches) == ("face", "B")
    assert setups["grandchild"].panel["flat"].catches is None


def test_a_drop_that_takes_what_is_looked_at_is_a_fault(tmp_path: Path) -> None:
    folder = write_day(tmp_path / "d", child=f'{CHILD}drop = ["A"]\n', third='like = "child"\n')
    found = faults_of(folder)
    assert {fault.key for fault in found} == {"subject.looks_at", "place_panel.flat.face_to"}
    assert {(Path(fault.file).name, fault.line) for fault in found} == {("child.toml", 2)}
    looks = next(fault for fault in found if fault.key == "subject.looks_at")
    window = (folder / "window.toml").read_text()
    line = window[: window.index("looks_at")].count("\n") + 1
    assert looks.what.endswith(f"; inherited from {folder / 'window.toml'}:{line}")


@pytest.mark.parametrize(("files", "loop"), [
    ({"a": 'like = "b"', "b": 'like = "a"'}, "a -> b -> a"),
    ({"a": 'like = "c"', "b": 'like = "a"', "c": 'like = "b"'}, "a -> c -> b -> a"),
    ({"a": 'like = "a"'}, "a -> a"),
])  # fmt: skip
def test_a_loop_is_named_once(tmp_path: Path, files: dict[str, str], loop: str) -> None:
    folder = write_day(tmp_path / "d", **files, leads='like = "a"')
    assert the_fault(folder) == ("a.toml", 1, "like")
    assert faults_of(folder)[0].what == f"goes round in a loop: {loop}"


def test_drop_without_like_and_drops_that_are_no_ids(tmp_path: Path) -> None:
    folder = write_day(tmp_path / "d", child=f'{CHILD}drop = [3, "C"]\n')
    change(folder, "window.toml", 'look = "keeper"', 'look = "keeper"\ndrop = ["A"]')
    assert {(fault.key, fault.what) for fault in faults_of(folder)} >= {
        ("drop", "there is no like, so there is nothing to drop"),
        ("drop[1]", "3 is not an id"),
        ("drop[2]", '"C" is not in the setup this one is like'),
    }


def test_a_place_in_the_day_is_a_setup_s_own(tmp_path: Path) -> None:
    folder = write_day(tmp_path / "d", child=CHILD)
    change(folder, "window.toml", "shoot_min = 25", 'shoot_min = 25\nbefore = ["child"]')
    plan = read_day(folder)
    assert plan.setups["window"].before == ("child",)
    assert plan.setups["child"].before == ()


def test_a_fault_in_both_setups_is_one_fault_though_the_remedies_differ(tmp_path: Path) -> None:
    folder = write_day(tmp_path / "d", child=f'{CHILD}drop = ["B"]\n')
    line = change(folder, "window.toml", 'looks_at = "A"', 'looks_at = "Z"')
    assert the_fault(folder) == ("window.toml", line, "subject.looks_at")
    assert faults_of(folder)[0].do == "there are A, B"


def test_a_fault_by_inheritance_without_drop_is_a_fault_of_like(tmp_path: Path) -> None:
    fires = '[[light]]\nhead = "A"\npower = "1/8"\n'
    folder = write_day(tmp_path / "d", child=f'drop = ["flat"]\n{CHILD}{fires}')
    line = change(folder, "window.toml", 'shutter = "1/160"', 'shutter = "1/1000"')
    change(folder, "window.toml", 'power = "1/8"\n', 'power = "off"\n')
    change(folder, "window.toml", 'power = "1/8+0.3"\n', 'power = "off"\n')
    change(folder, "lamp.toml", "[exposure]\n", '[exposure]\nshutter = "1/60"\n')
    (fault,) = faults_of(folder)
    assert (Path(fault.file).name, fault.line) == ("child.toml", 2)
    assert "1/1000 is faster than flash allows" in fault.what
    assert fault.what.endswith(f"; inherited from {folder / 'window.toml'}:{line}")


WINDOW = FILES["window.toml"]
ANGLE = WINDOW[: WINDOW.index("angle_deg = 45")].count("\n") + 1


@pytest.mark.parametrize(("files", "changes", "faults"), [
    # inherited by many, one fault where it is written
    ({"child": CHILD, "grandchild": 'like = "child"\n'}, [("window.toml", "angle_deg = 45", 'angle_deg = "45"')],
     [("window", ANGLE, "light.A.angle_deg")]),
    # missing, where the table begins; and a conflict, of the setup that makes it
    ({"child": f'{CHILD}[[light]]\nhead = "A"\nangle_deg = 50\n'}, [("window.toml", "distance_m = 1.4\n", "")],
     [("window", ANGLE - 9, "light.A.distance_m")]),
    ({"child": f'{CHILD}[[light]]\nhead = "B"\nstand = "S1"\n'}, [], [("child", 4, "light.B.stand")]),
    # what a torn file may hold is not called missing
    ({"torn": "x = [", "child": 'like = "torn"\nframes = "x"\n'}, [], [("child", 2, "frames"), ("torn", 1, "")]),
    # of several drops the one that removes the target
    ({"child": f'{CHILD}drop = [\n  "A",\n  "flat",\n]\n'}, [
        ("window.toml", 'aim = "background"', 'aim = "flat"'), ("window.toml", 'looks_at = "A"\n', ""),
        ("lamp.toml", 'drop = ["flat"]\n', ""),
    ], [("child", 4, "light.B.aim")]),
])  # fmt: skip
def test_an_inherited_fault_is_reported_once_where_it_is_made(tmp_path, files, changes, faults):
    folder = write_day(tmp_path / "d", **files)
    for file, old, new in changes:
        change(folder, file, old, new)
    assert [(Path(fault.file).stem, fault.line, fault.key) for fault in faults_of(folder)] == faults


def test_a_chain_may_be_longer_than_any_day(tmp_path: Path) -> None:
    names = ["window", *(f"s{n:03}" for n in range(2, 402))]
    chain = {name: f'like = "{like}"\n' for like, name in pairwise(names)}
    folder = write_day(tmp_path / "d", **chain)
    assert read_day(folder).setups["s401"].light == read_day(folder).setups["window"].light
    change(folder, "window.toml", "angle_deg = 45", "angle_deg = 200")
    assert places(folder) == [("window", "light.A.angle_deg")]


def test_among_very_many_names_the_nearest_is_not_sought(tmp_path: Path) -> None:
    bags = "".join(f'[[bag]]\nid = "x{n}"\nmass_kg = 7.0\n' for n in range(300))
    folder = write_day(tmp_path / "d")
    change(folder, "window.toml", '["B3"]', '["B33"]')
    (fault,) = faults_of(folder)
    assert fault.do == "did you mean B3?"
    with (folder / "kit.toml").open("a") as kit:
        kit.write(bags)
    (fault,) = faults_of(folder)
    assert fault.do == "write one of the 303 there are"
