"""The running day's light: predicted, nudged, metered, anchored and kept."""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import UTC, datetime
from math import inf
from pathlib import Path

import pytest

from runbook.day.actions import Refused, Session
from runbook.day.light import (
    anchor,
    light_facts,
    light_summary,
    predictions,
    reading_result,
    reads_text,
    stops_text,
    under_key_text,
)
from runbook.day.save_measurement import save_measurement, save_question
from runbook.files.load import read_day
from runbook.journal.events import Reading
from runbook.journal.journal import Journal
from runbook.light.prediction import predict
from runbook.model.day import Plan
from tests.day.days import answer_checks
from tests.played import copied

DEMO = Path(__file__).parents[2] / "setups" / "lantern-row"


@pytest.fixture(scope="module")
def plan() -> Plan:
    return read_day(DEMO)


def opened(plan: Plan, folder: Path | None = None) -> Session:
    clock = lambda: datetime(2026, 12, 4, 9, 0, tzinfo=UTC)  # noqa: E731
    session = Session(plan, Journal.in_memory(clock=clock, who="first"), "first", clock, folder)
    session.begin("keeper-window")
    return session


def reads(session: Session, head: str) -> float:
    light = session.view.head_light(head)
    assert light is not None
    assert light.reads_stops is not None
    return light.reads_stops


def test_each_head_shows_what_it_will_read_and_how_far_off_the_aperture(plan: Plan) -> None:
    key = opened(plan).view.heads[0]
    light = predict(plan, plan.setups["keeper-window"]).heads[0]
    assert light.reads_stops is not None
    assert key.predicted == reads_text(light.reads_stops)
    assert key.over == stops_text(light.over_stops)


def test_a_nudge_is_a_third_of_a_stop_more_at_once(plan: Plan) -> None:
    session = opened(plan)
    before = reads(session, "A")
    session.nudge("A", 1)
    assert reads(session, "A") - before == pytest.approx(1 / 3)


def test_a_reading_anchors_the_head_for_the_rest_of_the_day(plan: Plan) -> None:
    session = opened(plan)
    said = session.reading("A", 4.6)
    assert said.startswith("A read f/4 +0.6, ")
    assert said.endswith("the prediction; target f/4: dial 1/16+0.3")
    assert reads(session, "A") == pytest.approx(4.6)
    session.nudge("A", -3)
    assert reads(session, "A") == pytest.approx(3.6)
    # the same head, box and grid, half a stop further on in the day, carried by power alone
    session.begin("keeper-lamp")
    light = session.view.setup.light["A"] if session.view.setup else None
    assert light is not None
    assert light.power.below_full is not None
    carried = 4.6 + 3 - float(light.power.below_full)  # it was read at 1/8
    assert reads(session, "A") == pytest.approx(carried)


def test_a_power_step_of_the_next_setup_says_what_today_s_reading_asks_for(plan: Plan) -> None:
    def note(session: Session) -> str:
        session.begin("keeper-lamp")
        answer_checks(session)  # a step that a check holds says so first
        (line,) = [line for line in session.view.lines if line.step.key == ("power", "head", "A")]
        return line.note

    assert note(opened(plan)) == ""
    session = opened(plan)
    session.reading("A", 5.2)  # a stop over what is carried from the kit's row
    text = note(session)
    light = session.view.head_light("A")
    assert light is not None and light.dial is not None
    assert light.dial.power != session.plan.setups["keeper-lamp"].light["A"].power
    assert text == f"metered today: target f/2.8 is {light.dial.power}"


def test_undoing_a_reading_lifts_its_anchor(plan: Plan) -> None:
    session = opened(plan)
    before = reads(session, "A")
    session.reading("A", 4.6)
    session.undo()
    assert reads(session, "A") == pytest.approx(before)


def test_the_power_that_gives_what_was_asked_is_dialled(plan: Plan) -> None:
    session = opened(plan)
    session.reading("A", 5.0)  # a stop over the f/4 asked
    assert str(session.dial_as_asked("A")) == "1/16"
    assert reads(session, "A") == pytest.approx(4.0)
    with pytest.raises(Refused, match="nothing is asked of B"):
        session.dial_as_asked("B")


def test_a_cloth_s_loss_is_given_back_to_the_row(plan: Plan) -> None:
    setup = plan.setups["seamstress-veil"]
    row = anchor(plan, setup, setup.light["B"], 3.0)
    assert row is not None
    assert row.reads_f == pytest.approx(4.0)  # one stop of voile: f/2.8 through it, f/4 without


def test_a_reading_off_the_axis_or_of_the_whole_set_anchors_nothing(plan: Plan) -> None:
    setup = plan.setups["keeper-window"]
    assert anchor(plan, setup, setup.light["B"], 3.0) is None  # aimed at the background
    session = opened(plan)
    session.reading(None, 4.0)
    assert session.state.anchors == ()


def test_a_reading_is_kept_in_the_kit_when_asked(plan: Plan, tmp_path: Path) -> None:
    day = copied(tmp_path / "day")
    session = opened(plan, day)
    with pytest.raises(Refused, match="no reading of A alone"):
        save_measurement(session, "A")
    with pytest.raises(Refused, match="no reading of A alone"):
        save_question(session, "A")
    session.reading("A", 4.6)
    assert save_question(session, "A") == (
        "Save f/4 +0.6 for A through octa-90 + grid-octa at 1/8, 1.4 m in kit.toml?",
        "save it, beside f/5.6 at 1/4, 1.5 m",
    )
    assert (day / "kit.toml").read_text().count("[[measured]]") == 1
    assert save_measurement(session, "A") == (
        "saved (before: .backup-20261204-090000/kit.toml): f/4 +0.6 for A through octa-90 + grid-octa at 1/8, 1.4 m"
    )
    assert (day / "kit.toml").read_text().count("[[measured]]") == 2
    assert save_measurement(session, "A").startswith("already in kit.toml: f/4 +0.6 for A ")
    session.nudge("A", 3)
    session.reading("A", 5.6)
    assert save_question(session, "A")[1] == ("save it in place of f/4 +0.6 at 1/8, 1.4 m, beside f/5.6 at 1/4, 1.5 m")
    save_measurement(session, "A")
    assert (day / "kit.toml").read_text().count("[[measured]]") == 2


def test_a_kit_that_cannot_be_read_any_more_is_not_written(plan: Plan, day: Path) -> None:
    session = opened(plan, day)
    session.reading("A", 4.6)
    (day / "kit.toml").write_text("[[head]")
    for action in (save_question, save_measurement):
        with pytest.raises(Refused, match=r"kit\.toml"):
            action(session, "A")
    assert (day / "kit.toml").read_text() == "[[head]"


def test_a_head_aimed_past_the_face_is_metered_where_it_points(plan: Plan) -> None:
    session = opened(plan)
    light = session.view.head_light("B")
    assert light is not None and light.at_aim_stops is not None
    assert session.metered_at("B") == "the background"
    assert (session.metered_at("A"), session.metered_at(None)) == ("the face", "the face")
    said = session.reading("B", light.at_aim_stops + 0.5)
    assert said.endswith(" at the background, 0.5 over the prediction")
    assert session.entries[-1].data.where == "background"
    session.begin("lamplighter-fog")
    assert session.metered_at("A") == "flat-1"


def test_what_is_asked_of_a_head_aimed_past_the_face_is_metered_at_the_face(plan: Plan) -> None:
    """The umbrella looks past her at the flat, and its edge is to read f/4 on her."""
    session = opened(plan)
    session.begin("widow-letter")
    assert session.metered_at("A") == "the face"
    assert session.view.heads[0].predicted == "f/4"
    assert session.reading("A", 4.0).startswith("A read f/4, 0.0 under the prediction; target f/4")


def test_a_reading_where_the_sums_have_no_light_is_not_compared(plan: Plan) -> None:
    light = predict(plan, plan.setups["keeper-window"]).heads[1]
    assert light.reads_stops is not None and light.reads_stops < -20
    said = reading_result(Reading("keeper-window", "B", 5.0, "f/5.6"), 5.0, light.reads_stops, light)
    assert said == "B read f/5.6; no light predicted there"


@pytest.mark.parametrize(
    ("stops", "said"), [(1.0, "+1.0"), (0.0, "0.0"), (-0.04, "0.0"), (-4.6, "4.6 over"), (None, "-"), (-30.0, "-")]
)
def test_what_is_brighter_than_the_key_is_over_it(stops: float | None, said: str) -> None:
    assert under_key_text(stops) == said


def test_the_facts_are_json_whatever_the_light(plan: Plan) -> None:
    found = json.loads(json.dumps(light_facts(plan, predictions(plan, plan.order)), allow_nan=False))
    assert [setup["id"] for setup in found["setups"]] == list(plan.day.order)
    off = next(
        head
        for setup in found["setups"]
        if setup["id"] == "seamstress-thread"
        for head in setup["heads"]
        if head["head"] == "D"
    )
    assert off["power"] == "off"
    assert off["reads_f"] is None
    assert {battery["head"] for battery in found["batteries"]} == set("ABCD")


def test_what_is_sharp_from_the_hyperfocal_distance_on_is_sharp_to_infinity(plan: Plan) -> None:
    light = predict(plan, plan.setups["keeper-window"])
    assert [*light_summary(light, "imperial")][-1] == "depth of field 8 in"
    far = replace(light, depth_of_field=replace(light.depth_of_field, far_m=inf))
    assert [*light_summary(far, "metric")][-1] == "depth of field to infinity"
    assert [*light_summary(far, "imperial")][-1] == "depth of field to infinity"


def test_room_light_is_taken_off_a_reading_before_it_anchors_a_head(plan: Plan) -> None:
    """Two seconds at 240 lux are f/14 of room light: a meter at f/16 saw f/8 of flash."""
    setup = plan.setups["keeper-window"]
    slow = replace(setup, exposure=replace(setup.exposure, f=16.0, shutter="2"))
    lit = replace(
        plan,
        day=replace(plan.day, place=replace(plan.day.place, ambient_lux=240.0)),
        setups=plan.setups | {setup.id: slow},
    )
    session = opened(lit)
    text = session.reading("A", 8.0)
    (row,) = session.state.anchors
    assert row.reads_f == pytest.approx(8.0, rel=1e-6)
    assert reads(session, "A") == pytest.approx(6.0)
    assert text.startswith("A read f/16, f/8 of it flash, ")
    assert session.reading("A", 7.6).startswith("A read f/11 +0.6; nearly all of it is room light")
    assert session.state.anchors == (row,)
    fast = opened(plan)  # 6.7 stops under, it does not show in a tenth
    fast.reading("A", 4.0)
    assert fast.state.anchors[0].reads_f == pytest.approx(4.0)
