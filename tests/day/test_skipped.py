"""What a skipped step left undone is told as it really was, everywhere it is told."""

import json
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from runbook.cli import main
from runbook.commands.handover import as_shot_plan
from runbook.day.actions import Session
from runbook.day.day_record import battery_use
from runbook.day.handover_lines import handover_lines
from runbook.day.light import anchor
from runbook.day.load_plan import read_day
from runbook.day.repeat_setup import as_shot_files, match_facts, match_readings
from runbook.day.stand_view import alarms
from runbook.files.load import read_files
from runbook.journal.journal import Journal, journal_path
from tests.day.days import DEMO, FIRST, SECOND, SetClock, answer_checks, begun, demo, make_ready
from tests.day.progress import second_without, skip_and_do, step_of, tick_or_why
from tests.played import copied

B_DIAL, C_DIAL = ("power", "head", "B"), ("power", "head", "C")
LOW = (B_DIAL, ("raise", "stand", "boom"), C_DIAL, ("arm", "head", "C"))
PUT_UP_C = (
    ("bag", "bag", "B3"), ("fit", "head", "C"), ("fit", "modifier", "dish-42"), ("fit", "accessory", "grid-dish"),
    ("fit", "counterweight", "boom"), ("aim", "head", "C"), *LOW[1:],
)  # fmt: skip
UNDONE = [
    "B power: 1/8 instead of 1/64", "C power: off instead of 1/64+0.7", "C distance: 0.61 m instead of 1.3 m",
    "C height: 1.35 m instead of 2.4 m", "C was not switched on, never dialled: it did not fire",
]  # fmt: skip


@pytest.fixture
def low() -> Session:
    """The lamp shot with B as the window left it, and C down, undialled and unarmed."""
    session = second_without(*LOW)
    session.frames(10)
    session.mark_shot()
    return session


@pytest.mark.parametrize(("keys", "undone"), [
    (LOW, UNDONE),
    ([B_DIAL], UNDONE[:1]),
    (PUT_UP_C, ["C was on no stand but in its case: left out of the setup as shot"]),
    ([C_DIAL], ["C fired at an unknown power: left out of the setup as shot"]),
    ([("expose", "camera", "camera")], ["exposure f: 4 instead of 2.8"]),
    (
        [("unbag", "bag", "B7"), ("strike", "panel", "flat-1")],
        ["flat-1 was still there: left out of the setup as shot"],
    ),
])  # fmt: skip
def test_what_a_skipped_step_left_undone_is_how_it_was_shot(keys, undone):
    session = second_without(*keys)
    texts = tuple(f"{SECOND}: {text}" for text in undone)
    assert session.view.as_shot_lines == texts
    assert session.view.other_than_planned == tuple(text for text in undone if text[1:8] != " power:")
    make_ready(session, "seamstress-veil")
    assert session.view.as_shot_lines == texts


def test_a_panel_that_was_not_placed_is_left_out() -> None:
    session = begun()
    session.begin(FIRST)
    skip_and_do(session, ("place", "panel", "flat-1"), ("bag", "bag", "B7"))
    assert session.view.other_than_planned == ("flat-1 was not placed: left out of the setup as shot",)
    assert "place_panel" not in as_shot_files(session.plan, session.entries)[f"{FIRST}.toml"]


def test_the_heads_are_as_they_stand(low: Session) -> None:
    heads = {line.head: line for line in low.view.heads}
    assert (str(heads["B"].power), str(heads["B"].planned)) == ("1/8", "1/64")
    assert (str(heads["C"].power), heads["C"].light.height_m, heads["C"].predicted) == ("off", 1.35, "")
    assert heads["A"].power == heads["A"].planned
    spent = {use.head: use.spent for use in battery_use(low.plan, low.state, low.counted)}
    assert spent["C"] == 0
    assert spent["B"] >= 10 / 8  # ten frames at 1/8, not at 1/64


def test_the_next_shooter_hears_it(low: Session) -> None:
    lines = {(line.topic, line.text) for line in handover_lines(low, low.clock())}
    assert lines >= {("not as planned", text) for text in UNDONE}
    assert ("as planned", "set as planned: A 1/32+0.7, D 1/128") in lines
    assert as_shot_plan(low).setups[SECOND].light["C"].height_m == 1.35


def test_the_commands_tell_it_in_words_and_to_a_program(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    folder, again, page = copied(tmp_path / "day"), tmp_path / "again", tmp_path / "record.md"
    with Journal.open(journal_path(folder), clock=SetClock(), who="photo") as journal:
        session = Session(read_day(folder), journal, "photo", SetClock(), folder)
        make_ready(session, FIRST)
        session.begin(SECOND)
        skip_and_do(session, *LOW)
        session.frames(10)

    def told(*words: str) -> str:
        assert main(["log", str(folder), *words]) in (0, 1)
        return capsys.readouterr().out

    assert told().splitlines()[-5:] == [f"{SECOND} as shot, steps were skipped: {text}" for text in UNDONE]
    assert json.loads(told("--json"))["left_undone"] == {SECOND: UNDONE}
    assert f"as shot, steps were skipped: {UNDONE[0]}" in told("--match", SECOND, "B=4")
    match = json.loads(told("--json", "--match", SECOND, "B=4"))
    assert (match["left_undone"], match["heads"][0]["power"]) == (UNDONE, "1/8")
    assert main(["sheet", str(folder), "--record", "-o", str(page)]) == 0
    assert UNDONE[3] in page.read_text()
    told("--as-shot", str(again))
    assert f"# As it stood: {UNDONE[4]}." in (again / f"{SECOND}.toml").read_text()
    lights = read_day(again).setups[SECOND].light
    assert (str(lights["B"].power), str(lights["C"].power), lights["C"].height_m) == ("1/8", "off", 1.35)
    assert lights["C"].distance_m == pytest.approx(0.614, abs=0.001)
    (folder / "kit.toml").write_text("nothing")
    assert json.loads(told("--json"))["left_undone"] is None


def test_a_reading_is_anchored_at_the_power_really_dialled() -> None:
    session = second_without(("power", "head", "A"))  # B looks at the background: no anchor
    session.reading("A", 5.0)
    (row,) = session.state.anchors
    setup = session.view.setup
    assert row == anchor(session.plan, setup, setup.light["A"], 5.0)
    assert row.power == "1/8"


def test_a_match_is_against_the_dial_as_it_was(low: Session) -> None:
    (match,) = match_readings(low.plan, SECOND, low.entries, {"B": 3.0})
    assert str(match.power) == "1/8"
    assert match_facts(SECOND, [match], ("x",))["left_undone"] == ["x"]
    assert match_readings(low.plan, SECOND, low.entries, {"C": 3.0}) == ()


def test_a_skipped_dial_turns_from_where_it_is_and_done_after_all_is_as_planned() -> None:
    session = second_without(B_DIAL)
    for act, power in ((lambda: session.nudge("B", 1), "1/8+0.3"), (session.undo, "1/8")):
        act()
        assert str(session.state.floor.heads["B"].power) == power
        assert str(next(line.power for line in session.view.heads if line.head == "B")) == power
    session.tick(step_of(session, *B_DIAL))
    assert session.view.as_shot_lines == ()


def test_a_head_armed_and_never_dialled_is_no_alarm_and_can_be_read_later() -> None:
    session = second_without(C_DIAL)
    assert not [text for text in alarms(session.view) if "C" in text]
    session.change(session.targets("C", "power 1/32"))  # now somebody read it
    assert str(session.view.setup.light["C"].power) == "1/32"
    assert session.view.other_than_planned == ()


PLAN = {path.name: path.read_bytes() for path in DEMO.glob("*.toml")}


@settings(max_examples=6)
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
            if why := "left out" if skips[n % len(skips)] else tick_or_why(session, line.step):
                session.skip_step(line.step, why)
        session.frames(1)
    files = as_shot_files(session.plan, session.entries)
    kept = {name: text.encode() for name, text in files.items() if name.endswith(".toml")}
    assert read_files(DEMO, PLAN | kept).setups.keys() == session.plan.setups.keys()
