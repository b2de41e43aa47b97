"""Everything wrong with a day is told at once, and nothing that only follows from what is wrong."""

from __future__ import annotations

import re
import shutil
from pathlib import Path
from typing import Final

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from runbook.files.errors import Fault, Unreadable
from runbook.files.load import read_files
from runbook.files.paths import demo_day
from tests.days import FILES, change, faults_of
from tests.files.test_load import ONE_FAULT, D, K, L, W

Case = tuple[str, str, str, str, str]

# A value that hides another's fault, by what is written, and the faults it hides, by their keys.
# What could be said of them depends on it, so it could only be guessed.
HIDES: Final = [
    ("trough =", r"light.A.through"),  # what stands under a key nobody knows is not read
    ("call = 8", r"wrap"),  # whether it is before a call that is not known
    ('head = "Q"', r"light.B.power"),  # a head nobody knows has no dial
    ('head = "Z"', r"measured.*power"),
    ('id = "A"\n', r"light.B.power|panel.B.id"),  # so there is no B
    ('id = "my octa"', r"light.*modifier"),  # so there is no octa
    ('id = "S1"', r"light.C.stand"),
    ('id = "B"', r"place_panel.flap.panel"),
    ('id = "face"', r"place_panel.flap.panel"),
    ('lens = "58"', r"exposure.f"),  # a lens nobody knows has no apertures
    ("f_max = 1.4", r"exposure.f"),
    ('sync = "x"', r"exposure.shutter"),
    ('like = "', r"light.C|drop"),  # of what it takes over nothing is known
    ("like = 3", r"light.C|drop"),
    ('head = "A"', r"drop"),  # whose the second light of one head is, is not known
    # the one does away with the other
    ('stand = "S9"', r"light.C.stand"),
    ('stand = "S1"', r"light.C.stand"),
    ('stand = "S2"', r"light.C.height_m"),
    ('modifier = "okta"', r"light.[BC].modifier"),
    ('modifier = "strip"', r"light.[BC].modifier"),
    ('["gird"]', r"light.A.accessories"),
    ('accessories = ["z"]', r"measured.*accessories"),
    ('["B9"]', r"light.B.bags|place_panel.flat.bags"),
    ('panel = "flap"', r"light.B.aim|drop"),
]


def faults_in(files: dict[str, str]) -> tuple[Fault, ...]:
    try:
        read_files(Path("d"), {name: text.encode() for name, text in files.items()})
    except Unreadable as problem:
        return problem.faults
    return ()


def with_both(one: Case, two: Case) -> dict[str, str] | None:
    """The right day with two changes; None where they are of the same characters."""
    places = [FILES[file].index(old) for file, old, *_ in (one, two)]
    (start, first), (second, _) = sorted(zip(places, (one, two), strict=True))
    if one[0] == two[0] and second < start + len(first[1]):
        return None
    files = dict(FILES)
    for place, (file, old, new, *_) in sorted(zip(places, (one, two), strict=True), reverse=True):
        files[file] = files[file][:place] + new + files[file][place + len(old) :]
    return files


def gist(fault: Fault) -> tuple[str, str, str]:
    """A fault but for its line, and for the names that another change gives to what it is about."""
    what = re.sub(r"is (twice )?at .*|on light \w+", "", fault.what)
    return fault.file, key_end(fault.key), what


def key_end(key: str) -> str:
    return key.rsplit(".", maxsplit=1)[-1]


def changed(case: Case) -> dict[str, str]:
    file, old, new, *_ = case
    return FILES | {file: FILES[file].replace(old, new)}


def hides(one: Case, two: Case) -> bool:
    if one[3] == "wrap" and two[3].endswith(".call"):  # a look's call is compared with the wrap
        return True
    return any(one[2].startswith(new) and re.match(keys, two[3]) for new, keys in HIDES)


def what_a_pair_lacks(one: Case, two: Case) -> list[str]:
    """What is not as it should be with two faults at once; nothing where it is."""
    files = with_both(one, two)
    if files is None or hides(one, two) or hides(two, one):
        return []
    found = set(map(gist, faults_in(files)))
    alone = [faults_in(changed(case)) for case in (one, two)]
    own = [
        next(gist(fault) for fault in faults if fault.key == case[3])
        for case, faults in zip((one, two), alone, strict=True)
    ]
    more = found - {gist(fault) for faults in alone for fault in faults}
    return [f"not told: {each}" for each in own if each not in found] + [
        f"told, though neither alone gives it: {each}" for each in more
    ]


@settings(max_examples=200, deadline=None)
@given(st.sampled_from(ONE_FAULT), st.sampled_from(ONE_FAULT))
def test_of_two_faults_both_are_told_and_nothing_besides(one: Case, two: Case) -> None:
    assert what_a_pair_lacks(one, two) == []


def lines() -> list[tuple[str, int, str]]:
    """Every line of the right day that writes a value: its file, its place and its key."""
    return [
        (file, place, line.split(" = ")[0])
        for file, text in FILES.items()
        for place, line in enumerate(text.splitlines())
        if " = " in line
    ]


def of_another_type(*places: tuple[str, int, str]) -> dict[str, str]:
    """The right day with a value in each of these lines that no key there may have."""
    files = dict(FILES)
    for file, place, key in places:
        texts = files[file].splitlines()
        texts[place] = f"{key} = 3" if key == "date" else f"{key} = 1979-05-27"
        files[file] = "\n".join(texts)
    return files


@settings(max_examples=100, deadline=None)
@given(st.lists(st.sampled_from(lines()), min_size=1, max_size=3, unique=True))
def test_every_value_of_a_wrong_type_is_one_fault(places: list[tuple[str, int, str]]) -> None:
    found = faults_in(of_another_type(*places))
    assert sorted((fault.file, fault.line) for fault in found) == sorted(
        (f"d/{file}", place + 1) for file, place, _ in places
    )


@settings(max_examples=100, deadline=None)
@given(st.sampled_from(ONE_FAULT), st.sampled_from(lines()))
def test_beside_a_wrong_type_nothing_is_told_that_is_not_told_without_it(
    case: Case, place: tuple[str, int, str]
) -> None:
    file, old, _, _, _ = case
    assume(file != place[0] or FILES[file].splitlines()[place[1]] not in old)
    assume(of_another_type(place)[file].count(old) == 1)
    wrong = of_another_type(place)
    both = wrong | {file: wrong[file].replace(old, case[2])}
    alone = {gist(fault) for files in (wrong, changed(case)) for fault in faults_in(files)}
    assert set(map(gist, faults_in(both))) <= alone


@pytest.mark.parametrize("at", [at for at in lines() if at[0] == W], ids=str)
def test_what_is_not_written_is_one_fault_at_most(at: tuple[str, int, str]) -> None:
    texts = FILES[W].splitlines()
    texts[at[1]] = ""
    assert len(faults_in(FILES | {W: "\n".join(texts)})) <= 1


def the_demo_day(folder: Path) -> Path:
    demo = demo_day()
    assert demo is not None
    shutil.copytree(demo, folder)
    return folder


def test_a_wrong_aperture_does_not_hide_the_shutter(tmp_path: Path) -> None:
    folder, fog = the_demo_day(tmp_path / "d"), "lamplighter-fog.toml"
    change(folder, fog, "\nf = 4.0", '\nf = "4"')
    change(folder, fog, 'shutter = "1/160"', 'shutter = "1/9999"')
    assert [(fault.key, fault.what) for fault in faults_of(folder)] == [
        ("exposure.f", '"4" is text'),
        ("exposure.shutter", "1/9999 is faster than flash allows"),
    ]


def test_a_wrong_distance_does_not_hide_what_two_lights_share(tmp_path: Path) -> None:
    folder, fog = the_demo_day(tmp_path / "d"), "lamplighter-fog.toml"
    change(folder, fog, "distance_m = 1.5\nheight_m = 1.8", 'distance_m = "1.5"\nheight_m = 1.8')
    change(folder, fog, 'stand = "S3"', 'stand = "roller"')
    change(folder, fog, 'bags = ["B4"]', 'bags = ["B1"]')
    assert [(fault.key, fault.what) for fault in faults_of(folder)] == [
        ("light.A.distance_m", '"1.5" is text'),
        ("light.D.stand", "stand roller is at light A and at light D"),
        ("light.D.bags[1]", "bag B1 is at light A and at light D"),
    ]


def test_what_stands_in_the_wrong_brackets_is_checked_at_its_own_line(day: Path) -> None:
    change(day, W, "[exposure]", "[[exposure]]")
    shutter = change(day, W, 'shutter = "1/160"', 'shutter = "1/9999"')
    change(day, K, "[[lens]]", "[lens]")
    widest = change(day, K, "f_max = 16.0", "f_max = 1.4")
    found = {(fault.key, fault.line) for fault in faults_of(day)}
    assert found >= {("exposure.shutter", shutter), ("lens.85.f_max", widest)}
    assert {key for key, _ in found} == {"exposure", "exposure.shutter", "lens", "lens.85.f_max"}


def test_a_light_of_an_unknown_head_is_still_held_against_the_others(day: Path) -> None:
    change(day, W, 'head = "B"', "head = 3")
    change(day, W, 'stand = "S2"', 'stand = "S1"')
    assert [(fault.key, fault.what) for fault in faults_of(day)] == [
        ("light[2].head", "3 is a number"),
        ("light[2].stand", "stand S1 is at light A and at a light without an id"),
    ]


def test_a_power_off_the_dial_fires_all_the_same(day: Path) -> None:
    (day / L).unlink()
    change(day, D, 'order = ["window", "lamp"]', 'order = ["window"]')
    change(day, W, 'power = "1/8"\n', 'power = "1/8+0.4"\n')
    change(day, W, 'power = "1/8+0.3"\n', 'power = "off"\n')
    change(day, W, 'shutter = "1/160"', 'shutter = "1/250"')
    assert [fault.key for fault in faults_of(day)] == ["exposure.shutter", "light.A.power"]


def test_what_a_torn_file_may_say_is_not_taken_to_be_left_out(day: Path) -> None:
    (day / W).write_text("a = [")
    change(day, K, "iso_min = 100", "iso_min = 200")
    change(day, L, "\nf = 2.8", '\nf = 2.8\nshutter = "1/160"')
    assert {Path(fault.file).name for fault in faults_of(day)} == {W}
