"""What can be read, and should still be known before the day begins."""

import re
import shutil
from dataclasses import replace
from pathlib import Path
from typing import get_args

import pytest

from runbook.files.errors import Unreadable
from runbook.files.lint import audit, mark_meant, worst_first
from runbook.files.load import read_day
from runbook.model.day import Problem
from runbook.model.setup import Meant
from tests.day.days import DEMO
from tests.days import change

HIGH = ("lamp.toml", "height_m = 2.4\n", 'height_m = 2.4\nbags = ["B3"]\n')
D, W, L = "day.toml", "window.toml", "lamp.toml"


@pytest.fixture
def fine(day: Path) -> Path:
    """A day with nothing to say about it but that its boom is overhead."""
    change(day, *HIGH)
    return day


def codes(folder: Path) -> list[tuple[str, str, str | None, str | None]]:
    problems = audit(read_day(folder))
    assert all(problem.what and problem.do for problem in problems)
    return [(problem.level, problem.code, problem.setup, problem.item) for problem in problems]


OVERHEAD = ("note", "overhead", "lamp", "boom")


CASES = [
    (D, '[[crew]]\nid = "photo"\n[[crew]]\nid = "first"\n', "", ("warn", "no-crew", None, None)),
    (L, 'like =', 'before = ["window"]\nlike =', ("stop", "order-broken", "lamp", None)),
    (D, '"window", "lamp"', '"window"', ("note", "not-in-order", "lamp", None)),
    (W, "frames = 120\n", "", ("note", "no-frames", "window", None)),
    (W, "shoot_min = 25\n", "", ("warn", "no-time", "window", None)),
    (D, "[[break]]", '[[look]]\nid = "x"\n[[break]]', ("note", "look-unused", None, "x")),
    (W, 'look = "keeper"\n', "", ("note", "no-look", "window", None)),
    (D, "12:00:00\nlatest = 13:30:00", "06:00:00\nlatest = 07:00:00",
     ("warn", "break-outside", None, "meal")),
    (D, "minutes = 45", "minutes = 601", ("stop", "breaks-too-long", None, None)),
    (W, 'role = "background"', 'role = "key"', ("warn", "two-keys", "window", "B")),
    (W, 'role = "key"', 'role = "fill"', ("note", "no-key", "window", None)),
    (W, 'role = "key"', 'role = "fill"', ("stop", "under-no-key", "window", "B")),
    (W, "aim_reading_f = 4.0", "under_key_stops = 1.0", ("warn", "key-under-key", "window", "A")),
    (W, "under_key_stops = 1.0", "under_key_stops = 1.0\naim_reading_f = 4.0",
     ("warn", "asked-twice", "window", "B")),
    (W, "height_m = 1.85\n", "height_m = 1.95\n", None),
    (L, ' = 2.4\nbags = ["B3"]\n', " = 2.4\n", ("warn", "high-without-bag", "lamp", "boom")),
    (W, "angle_deg = 130\ndistance_m = 2.0\nheight_m = 1.7",
     "angle_deg = 0\ndistance_m = 2.6\nheight_m = 1.7", ("warn", "on-camera", "window", "S2")),
    (W, 'side = "right"\nangle_deg = 130\ndistance_m = 2.0',
     'side = "left"\nangle_deg = 50\ndistance_m = 1.4', ("warn", "same-spot", "window", "S2")),
    (W, "angle_deg = 130\ndistance_m = 2.0\nheight_m = 1.7",
     "angle_deg = 80\ndistance_m = 0.82\nheight_m = 1.25", ("warn", "in-panel", "window", "flat")),
    (L, "distance_m = 1.3\nheight_m = 2.4", "distance_m = 0.3\nheight_m = 1.3",
     ("warn", "too-close", "lamp", "C")),
    ("kit.toml", 'id = "S2"', 'id = "B2"', ("note", "same-name", None, "B2")),
]  # fmt: skip


@pytest.mark.parametrize("case", CASES, ids=lambda case: str(case[3] and case[3][1]))
def test_each_rule_finds_its_problem(fine: Path, case: tuple[str, str, str, tuple[str, ...] | None]) -> None:
    file, old, new, expected = case
    change(fine, file, old, new)
    if new == 'id = "B2"':
        change(fine, W, 'stand = "S2"', 'stand = "B2"')
    if expected is None:
        assert codes(fine) == [OVERHEAD]
    else:
        assert expected in codes(fine)


@pytest.mark.parametrize(("tape_m", "overhead"), [(2.0, []), (1.6, ["C hangs within a step of the subject"])])
def test_a_boom_is_overhead_as_far_as_a_step_from_the_subject(fine: Path, tape_m: float, overhead: list[str]) -> None:
    # tape 1.6 m to a lamp 1.15 m above the face: 1.11 m over the floor, more than under it
    change(fine, L, "distance_m = 1.3\nheight_m = 2.4", f"distance_m = {tape_m}\nheight_m = 2.4")
    assert [problem.what for problem in audit(read_day(fine)) if problem.code == "overhead"] == overhead


def test_a_setup_the_room_lights_alone_is_a_note(fine: Path) -> None:
    text = (fine / W).read_text()
    dark = text[: text.index("[[light]]")].replace('looks_at = "A"\n', "")
    (fine / "dark.toml").write_text(dark)
    assert ("note", "no-light", "dark", None) in codes(fine)


def test_the_worst_comes_first_and_the_rest_keeps_its_order() -> None:
    levels = ("note", "stop", "warn", "stop", "note", "warn")
    problems = [Problem(level, str(n), None, None, "", "") for n, level in enumerate(levels)]
    assert [p.code for p in worst_first(problems)] == ["1", "3", "2", "5", "0", "4"]


@pytest.mark.parametrize(
    ("units", "near", "high"),
    [("metric", "0.3 m", "1.3 m"), ("imperial", "1 ft 0 in", "4 ft 3 in")],  # 11.81 and 51.18 in
)
def test_heights_and_distances_are_in_the_units_of_the_day(day: Path, units: str, near: str, high: str) -> None:
    change(day, L, "distance_m = 1.3\nheight_m = 2.4", "distance_m = 0.3\nheight_m = 1.3")
    change(day, D, "reach_m = 1.9", "reach_m = 1.25")
    change(day, L, 'stand = "boom"\n', 'stand = "boom"\nbags = []\n')
    change(day, D, 'name = "A day"\n', f'name = "A day"\nunits = "{units}"\n')
    what = {problem.code: problem.what for problem in audit(read_day(day))}
    assert what["too-close"] == f"C is {near} from the face, nearer than it is deep"
    assert what["high-without-bag"] == f"C is at {high}, over reach, without a bag"


def test_a_finding_that_its_setup_means_is_listed_as_meant_and_a_stop_stays_a_stop() -> None:
    problems = [
        Problem("warn", "flare", "keeper-window", "A", "lens flare", ""),
        Problem("warn", "flare", "keeper-lamp", "A", "lens flare", ""),
        Problem("stop", "flare", "keeper-window", "B", "lens flare", ""),
        Problem("note", "no-look", "keeper-window", None, "no look", ""),
        Problem("warn", "flare", None, None, "of the day", ""),
    ]
    plan = read_day(DEMO)
    setup = replace(plan.setups["keeper-window"], meant=("flare",))
    plan = replace(plan, setups=plan.setups | {setup.id: setup})
    levels = [problem.level for problem in mark_meant(plan, problems)]
    assert levels == ["meant", "warn", "stop", "note", "warn"]
    assert [each.level for each in worst_first(mark_meant(plan, problems))][-1] == "meant"


def test_every_finding_that_can_be_meant_is_one_that_some_check_makes() -> None:
    """Codes are plain strings in the calls that make the findings."""
    root = Path(__file__).parents[2] / "runbook"
    made: set[str] = set()
    for path in (root / "files" / "lint.py", *root.rglob("*audit.py")):
        made |= set(re.findall(r'"([a-z]+(?:-[a-z]+)*)"', path.read_text("utf-8")))
    made |= {f"{reading}-{way}" for reading in ("reading", "whole", "background", "panel") for way in ("over", "under")}
    assert set(get_args(Meant)) - made == set()


@pytest.mark.parametrize("code", ["ambient-show", "stand-tips", "overhead", ""])
def test_only_known_findings_that_are_not_about_safety_can_be_meant(code: str, tmp_path: Path) -> None:
    day = Path(shutil.copytree(DEMO, tmp_path / "day"))
    path = day / "keeper-window.toml"
    path.write_text(f'meant = ["{code}"]\n' + path.read_text("utf-8"), "utf-8")
    with pytest.raises(Unreadable) as wrong:
        read_day(day)
    (fault,) = {fault.key for fault in wrong.value.faults}
    assert fault.startswith("meant")
