import re
from pathlib import Path
from typing import get_args

import pytest

from runbook.changeover.checklist import CAUTIONS, CHECKS, GATES, Stage, Trait, checks_for, gates_for

PAGE = (Path(__file__).parents[2] / "docs" / "safety.md").read_text("utf-8")
LONGEST_ID = "x" * 24


def rows_of(page: str) -> list[list[str]]:
    return [[cell.strip() for cell in line.split("|")[1:-1]] for line in page.splitlines() if "|" in line]


def ids(stage: Stage, **there: bool) -> set[str]:
    day = {"outdoors": False, "mains": False, "booms": False, "frames": False} | there
    return {check.id for check in checks_for(stage, **day)}


def test_no_two_checks_or_gates_share_an_id() -> None:
    for names in ([check.id for check in CHECKS], [gate.id for gate in GATES]):
        assert len(set(names)) == len(names)
    assert all(re.fullmatch(r"[a-z]+(-[a-z]+)*", check.id) for check in CHECKS)


# How many lines each stage has, and which of them stop the day: the list drawn up from published
# rules and trade habit that docs/safety.md cites line by line.
@pytest.mark.parametrize(("stage", "lines", "holding"), [
    ("load-in", 10, {"exits-free", "first-aid-known"}),
    ("pre-light", 11, {"loads-in-limit", "stands-bagged", "booms-balanced", "second-fixings"}),
    ("change", 8, {"fall-circle-clear", "hands-before-locks", "figures-renewed"}),
    ("talent", 9, {"light-sensitivity-asked"}),
    ("meal", 6, {"big-ones-down"}),
    ("wrap", 10, {"head-before-bag"}),
])  # fmt: skip
def test_each_stage_has_its_lines_and_stops(stage: Stage, lines: int, holding: set[str]) -> None:
    everything = checks_for(stage, outdoors=True, mains=True, booms=True, frames=True)
    assert len(everything) == lines
    assert {check.id for check in everything if check.holds} == holding


def test_every_line_fits_eighty_columns() -> None:
    lines = [check.text for check in CHECKS]
    lines += [gate.on(LONGEST_ID, "10 kg", "on the column").text for gate in GATES]
    assert [line for line in lines if len(line) > 70] == []
    assert [line for line in CAUTIONS if len(line) > 78] == []


def test_a_day_is_asked_only_about_what_it_has() -> None:
    for stage in get_args(Stage):
        texts = " ".join(
            check.text.lower() for check in checks_for(stage, outdoors=False, mains=True, booms=True, frames=True)
        )
        assert not re.search(r"\bwind|\bgust", texts)
    rows: tuple[tuple[Stage, str, set[str]], ...] = (
        ("talent", "outdoors", {"wind-watched"}),
        ("load-in", "mains", {"circuits-mapped", "reels-unwound"}),
        ("pre-light", "booms", {"booms-balanced"}),
        ("wrap", "frames", {"frames-copied"}),
    )
    for stage, what, asked in rows:
        assert asked <= ids(stage, **{what: True})
        assert asked.isdisjoint(ids(stage))


def test_the_page_prints_every_line_as_the_program_says_it() -> None:
    printed = rows_of(PAGE)
    for check in CHECKS:
        shown_text = [f"`{check.id}`", check.text, check.why, "yes" if check.holds else ""]
        assert [*shown_text, check.basis, check.source, check.only or ""] in printed
    for gate in GATES:
        shown_text = [f"`{gate.id}`", gate.text, gate.why, ", ".join(gate.before)]
        (row,) = [row for row in printed if row[:4] == shown_text]
        assert row[5:] == [gate.basis, gate.source]


def test_the_page_says_how_far_every_source_was_read() -> None:
    marks = {row[0]: row[2] for row in rows_of(PAGE) if len(row) == 3}
    for line in (*CHECKS, *GATES):
        assert marks.get(line.source), line.source
        assert ("common practice" in marks[line.source]) == (line.basis == "common practice")
        assert (marks[line.source] == "derived") == (line.basis == "derived")


def test_a_habit_is_never_called_published() -> None:
    assert all((check.source == "no source") == (check.basis == "common practice") for check in CHECKS)


@pytest.mark.parametrize(("verb", "kind", "traits", "held_by"), [
    ("raise", "stand", ["bags"], {"bagged-S1"}),
    ("lower", "stand", ["bags"], set()),
    # a boom over people is balanced, fixed twice and clear before it goes up
    (
        "raise",
        "stand",
        ["bags", "boom", "overhead", "high"],
        {"bagged-S1", "balanced-S1", "second-fixing-S1", "clear-up-S1"},
    ),
    # only the counterweight waits for hands on the arm
    ("free", "counterweight", ["boom"], {"arm-held-S1"}),
    ("free", "accessory", ["boom"], set()),
])  # fmt: skip
def test_gates_hold_the_steps_of_a_stand(verb: str, kind: str, traits: list[Trait], held_by: set[str]) -> None:
    checks = [gate.on("S1", "7 kg") for gate in gates_for(verb, kind, traits)]
    assert {check.id for check in checks} == held_by
    assert all(check.holds for check in checks)


def test_the_gate_of_a_bag_names_its_mass_and_place() -> None:
    (gate,) = gates_for("raise", "stand", ["bags"])
    assert gate.on("S1", "7 kg").text == "S1 bagged: 7 kg on the column"
    assert gate.on("S1", "7 kg", "on the far legs").text == "S1 bagged: 7 kg on the far legs"


def test_the_first_pop_waits_for_the_question_and_one_tick_answers_both() -> None:
    (gate,) = gates_for("test", "set", ["first-pop"])
    (asked,) = [check for check in CHECKS if check.id == gate.id]
    assert gate.on() == asked
    assert gates_for("test", "set", []) == ()
