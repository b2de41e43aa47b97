"""What a skipped step left undone is told as it really was, everywhere it is told."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from runbook.changeover.steps import Step
from runbook.cli import main
from runbook.commands.handover import as_shot_plan
from runbook.day.actions import Refused, Session
from runbook.day.day_record import battery_use
from runbook.day.handover_lines import handover_lines
from runbook.day.light import anchor
from runbook.day.repeat_setup import as_shot_files, match_facts, match_readings
from runbook.day.stand_view import alarms
from runbook.files.load import read_day, read_files
from runbook.journal.journal import Journal, journal_path
from tests.day.days import DEMO, SetClock, answer_checks, begun, demo, do_next, make_ready
from tests.played import FIRST, SECOND, copied

B_DIAL = ("power", "head", "B")
C_UP, C_DIAL, C_ARM = ("raise", "stand", "boom"), ("power", "head", "C"), ("arm", "head", "C")


def skip_and_do(session: Session, *keys: tuple[str, str, str], why: str = "no time") -> None:
    """Leave these steps of the changeover at hand out, and do the others."""
    for key in keys:
        step = next(step for step in session.view.todo if step.key == key)
        session.skip_step(step, why)
    for _ in range(200):
        if not do_next(session):
            return
    raise AssertionError("it never ends")


def left_low(session: Session) -> Session:
    """The lamp shot with B as the window left it, and C down, undialled and unarmed."""
    make_ready(session, FIRST)
    session.begin(SECOND)
    skip_and_do(session, B_DIAL, C_UP, C_DIAL, C_ARM)
    session.frames(10)
    session.mark_shot()
    return session


@pytest.fixture
def session() -> Session:
    return left_low(begun())


B_SAID = "B power: 1/8 instead of 1/64"
C_SAID = (
    "C power: off instead of 1/64+0.7",
    "C distance: 0.61 m instead of 1.3 m",
    "C height: 1.35 m instead of 2.4 m",
    "C was not armed, never dialled: it did not fire",
)


def test_the_heads_are_as_they_stand(session: Session) -> None:
    heads = {line.head: line for line in session.view.heads}
    assert (str(heads["B"].power), str(heads["B"].planned)) == ("1/8", "1/64")
    assert (str(heads["C"].power), heads["C"].light.height_m) == ("off", 1.35)
    assert heads["C"].predicted == ""
    assert heads["A"].power == heads["A"].planned
    assert session.view.head_light("C") is not None
    assert "C distance: 0.61 m instead of 1.3 m" in session.view.other_than_planned


def test_the_journal_holds_it_against_the_plan(session: Session) -> None:
    told = [f"{SECOND}: {said}" for said in (B_SAID, *C_SAID)]
    assert [line for line in session.view.as_shot_lines if line.startswith(SECOND)] == told
    make_ready(session, "seamstress-veil")
    assert [line for line in session.view.as_shot_lines if line.startswith(SECOND)] == told


def test_the_files_as_shot_are_what_stood(tmp_path: Path) -> None:
    folder = copied(tmp_path / "day")
    with Journal.open(journal_path(folder), clock=SetClock(), who="photo") as journal:
        session = left_low(Session(read_day(folder), journal, "photo", SetClock(), folder))
        text = as_shot_files(session.plan, session.entries)[f"{SECOND}.toml"]
    assert "# As it stood: C was not armed, never dialled: it did not fire." in text
    target = tmp_path / "again"
    assert main(["log", str(folder), "--as-shot", str(target)]) == 0
    lights = read_day(target).setups[SECOND].light
    assert str(lights["B"].power) == "1/8"
    assert (str(lights["C"].power), lights["C"].height_m) == ("off", 1.35)
    assert lights["C"].distance_m == pytest.approx(0.614, abs=0.001)


def test_the_commands_say_it_in_words_and_to_a_program(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    folder = copied(tmp_path / "day")
    with Journal.open(journal_path(folder), clock=SetClock(), who="photo") as journal:
        left_low(Session(read_day(folder), journal, "photo", SetClock(), folder))
    undone = ["B power: 1/8 instead of 1/64", "C power: off instead of 1/64+0.7", *C_SAID[1:]]
    assert main(["log", str(folder)]) == 0
    lines = capsys.readouterr().out.splitlines()
    assert lines[-5:] == [f"{SECOND} as shot, steps were skipped: {said}" for said in undone]
    assert main(["log", str(folder), "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["left_undone"] == {SECOND: undone}
    assert main(["log", str(folder), "--match", SECOND, "B=4"]) in (0, 1)
    out = capsys.readouterr().out
    assert f"as shot, steps were skipped: {undone[0]}" in out
    assert main(["log", str(folder), "--json", "--match", SECOND, "B=4"]) in (0, 1)
    told = json.loads(capsys.readouterr().out)
    assert told["left_undone"] == undone
    assert told["heads"][0]["power"] == "1/8"
    page = tmp_path / "record.md"
    assert main(["sheet", str(folder), "--record", "-o", str(page)]) == 0
    assert "C height: 1.35 m instead of 2.4 m" in page.read_text()
    (folder / "kit.toml").write_text("nothing")
    capsys.readouterr()
    assert main(["log", str(folder), "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["left_undone"] is None


def test_the_next_shooter_hears_it(session: Session) -> None:
    lines = {(line.topic, line.text) for line in handover_lines(session, session.clock())}
    for said in (B_SAID, *C_SAID):
        assert ("not as planned", said) in lines
    assert ("as planned", "dialled as planned: A 1/32+0.7, D 1/128") in lines
    assert as_shot_plan(session).setups[SECOND].light["C"].height_m == 1.35


def test_what_it_spent_is_by_what_it_was_dialled_to(session: Session) -> None:
    def burnt(head: str) -> float:
        return next(e.spent for e in battery_use(session.plan, session.state, session.counted) if e.head == head)

    assert burnt("C") == 0
    assert burnt("B") >= 10 / 8  # ten frames at 1/8, not at 1/64


def test_a_reading_is_anchored_at_the_power_really_dialled() -> None:
    session = begun()
    make_ready(session, FIRST)
    session.begin(SECOND)
    skip_and_do(session, ("power", "head", "A"))  # B looks at the background: no anchor
    session.reading("A", 5.0)
    (row,) = session.state.anchors
    setup = session.view.setup
    assert setup is not None
    assert row == anchor(session.plan, setup, setup.light["A"], 5.0)
    assert row.power == "1/8"


def test_a_match_is_against_the_dial_as_it_was(session: Session) -> None:
    (found,) = match_readings(session.plan, SECOND, session.entries, {"B": 3.0})
    assert str(found.power) == "1/8"
    assert match_facts(SECOND, [found], ("x",))["left_undone"] == ["x"]
    assert match_readings(session.plan, SECOND, session.entries, {"C": 3.0}) == ()


def test_a_skipped_dial_turns_from_where_it_is() -> None:
    session = begun()
    make_ready(session, FIRST)
    session.begin(SECOND)
    skip_and_do(session, B_DIAL)
    assert str(session.nudge("B", 1)) == "1/8+0.3"
    assert str(session.state.floor.heads["B"].power) == "1/8+0.3"
    assert str(next(h.power for h in session.view.heads if h.head == "B")) == "1/8+0.3"
    session.undo()
    assert str(session.state.floor.heads["B"].power) == "1/8"


def test_a_head_that_was_never_put_up_is_left_out_and_reported() -> None:
    session = begun()
    make_ready(session, FIRST)
    session.begin(SECOND)
    of_c = [step.key for step in session.view.todo if step.thing == "C" and step.verb != "place"]
    skip_and_do(session, *of_c)
    assert session.view.setup is not None
    assert "C" not in session.view.setup.light
    assert not next(line.up for line in session.view.heads if line.head == "C")
    assert "C was on no stand but in its case: left out of the setup as shot" in "\n".join(session.view.as_shot_lines)
    assert "C was on no stand" in as_shot_files(session.plan, session.entries)[f"{SECOND}.toml"]


def test_a_head_armed_and_never_dialled_is_no_stranger() -> None:
    session = begun()
    make_ready(session, FIRST)
    session.begin(SECOND)
    skip_and_do(session, C_DIAL)
    told = "C fired at an unknown power: left out of the setup as shot"
    assert told in session.view.other_than_planned
    assert not [said for said in alarms(session.view) if "C" in said]
    session.change(session.targets("C", "power 1/32"))  # now somebody read it
    assert session.view.setup is not None
    assert str(session.view.setup.light["C"].power) == "1/32"
    assert told not in session.view.other_than_planned


def test_a_panel_that_was_not_placed_is_left_out() -> None:
    session = begun()
    session.begin(FIRST)
    skip_and_do(session, ("place", "panel", "flat-1"), ("bag", "bag", "B7"))
    assert session.view.setup is not None
    assert session.view.setup.panels == ()
    assert session.view.other_than_planned == ("flat-1 was not placed: left out of the setup as shot",)
    session.begin(SECOND)
    files = as_shot_files(session.plan, session.entries)
    assert "place_panel" not in files[f"{FIRST}.toml"]


def test_a_step_done_after_all_is_as_planned_again() -> None:
    session = begun()
    make_ready(session, FIRST)
    session.begin(SECOND)
    skip_and_do(session, B_DIAL)
    assert session.view.other_than_planned == ()
    assert session.view.as_shot_lines == (f"{SECOND}: {B_SAID}",)
    session.tick(next(step for step in session.view.todo if step.key == B_DIAL))
    assert session.view.as_shot_lines == ()


def test_a_camera_that_was_not_set_is_as_it_was() -> None:
    session = begun()
    make_ready(session, FIRST)
    session.begin(SECOND)
    skip_and_do(session, ("expose", "camera", "camera"))
    assert session.view.setup is not None
    assert session.view.setup.exposure.f == 4.0
    assert "exposure f: 4 instead of 2.8" in session.view.other_than_planned


def test_a_panel_left_standing_is_reported() -> None:
    session = begun()
    make_ready(session, FIRST)
    session.begin(SECOND)
    skip_and_do(session, ("unbag", "bag", "B7"), ("strike", "panel", "flat-1"))
    told = "flat-1 was still there: left out of the setup as shot"
    assert told in session.view.other_than_planned


def held_back(session: Session, step: Step) -> str:
    """Do a step; why it cannot be done, where it cannot."""
    try:
        session.tick(step)
    except Refused as why:
        return str(why)
    return ""


PLAN = {path.name: path.read_bytes() for path in DEMO.glob("*.toml")}


@settings(max_examples=12, deadline=None)
@given(st.permutations(demo().day.order), st.data())
def test_whatever_is_skipped_the_files_as_shot_can_be_read(order: list[str], data: st.DataObject) -> None:
    session, skips = begun(), data.draw(st.lists(st.booleans(), min_size=20, max_size=60))
    for setup_id in order[:2]:
        session.begin(setup_id)
        for n in range(300):
            line = session.view.next_step
            if line is None:
                break
            answer_checks(session, aside=True)
            why = "left out" if skips[n % len(skips)] else held_back(session, line.step)
            if why:
                session.skip_step(line.step, why)
        session.frames(1)
    files = as_shot_files(session.plan, session.entries)
    kept = {name: text.encode() for name, text in files.items() if name.endswith(".toml")}
    assert read_files(DEMO, PLAN | kept).setups.keys() == session.plan.setups.keys()
