"""The running day's light: predicted, nudged, metered, carried on from readings and saved."""

import json
from dataclasses import replace
from math import inf
from pathlib import Path

import pytest

from runbook.day.actions import Refused, Session
from runbook.day.light import (
    anchor,
    face_caption,
    light_facts,
    light_summary,
    reading_result,
    reads_text,
    stops_text,
    under_key_text,
)
from runbook.day.repeat_setup import save_measurement, save_question
from runbook.journal.events import Reading
from runbook.light.prediction import predict
from runbook.model.day import Plan
from tests.day.days import SetClock, answer_checks, begun, demo, refused
from tests.day.plans import with_place, with_setup
from tests.played import copied

FIRST = demo().setups["keeper-window"]


def opened(plan: Plan | None = None, folder: Path | None = None) -> Session:
    session = begun(plan, SetClock(9), who="first", folder=folder)
    session.begin("keeper-window")
    return session


def reads(session: Session, head: str) -> float:
    light = session.view.head_light(head)
    return light.reads_stops


def test_each_head_shows_its_predicted_reading_and_how_far_off_the_aperture_it_is() -> None:
    key, light = opened().view.heads[0], predict(demo(), FIRST).heads[0]
    assert (key.predicted, key.over) == (reads_text(light.reads_stops), stops_text(light.over_stops))


def test_a_reading_is_carried_on_for_the_rest_of_the_day_until_it_is_undone() -> None:
    session = opened()
    before = reads(session, "A")
    text = session.reading("A", 4.6)
    assert text.startswith("A read f/4 +0.6, ")
    assert text.endswith("the prediction; target f/4: dial 1/16+0.3")
    assert reads(session, "A") == pytest.approx(4.6)
    session.nudge("A", -3)
    assert reads(session, "A") == pytest.approx(3.6)
    session.begin("keeper-lamp")  # the same head, box and grid at 1/32+0.7, carried from 1/8 by power alone
    assert reads(session, "A") == pytest.approx(4.6 - 5 / 3 + 1 / 3)
    for _ in range(3):
        session.undo()
    assert reads(session, "A") == pytest.approx(before)


def test_a_power_step_of_the_next_setup_names_the_power_by_today_s_reading() -> None:
    notes = []
    for stops in (None, 4.2, 5.2):  # nothing metered; what is carried from the kit's row; a stop over it
        session = opened()
        if stops is not None:
            session.reading("A", stops)
        session.begin("keeper-lamp")
        answer_checks(session)  # a step that a check holds shows that first
        notes += [line.note for line in session.view.lines if line.step.key == ("power", "head", "A")]
    light = session.view.head_light("A")
    assert light.dial.power != session.plan.setups["keeper-lamp"].light["A"].power
    assert notes == ["", "", f"metered today: target f/2.8 is {light.dial.power}"]


def test_the_power_that_gives_the_target_is_dialled() -> None:
    session = opened()
    session.reading("A", 5.0)  # a stop over the target f/4
    assert session.dial_as_asked("A") == "A to 1/16"
    assert reads(session, "A") == pytest.approx(4.0)
    assert session.view.head_light("B") is not None
    session.begin("lamplighter-fog")
    assert "no target is set for A" in refused(session.dial_as_asked, "A")


def test_every_power_that_is_asked_is_dialled_at_once_and_again_after_a_reading() -> None:
    session = opened()
    planned = {light.head: light.power for light in FIRST.lights}
    assert session.view.powers_not_as_asked == ()  # A is within a third of a stop
    assert session.dial_as_asked() == "A to 1/16+0.7"  # the plan sets it a click higher; B is worked out
    assert session.dialled("B") == planned["B"]
    written = len(session.entries)
    assert session.dial_as_asked() == "every power meets its target already"
    assert len(session.entries) == written
    session.nudge("B", 4)
    session.reading("A", 5.0)  # a stop over the target f/4 at 1/16+0.7
    assert session.view.powers_not_as_asked == ("A", "B")
    assert session.dial_as_asked() == f"A to 1/32+0.7, B to {planned['B']}"
    prediction = session.view.prediction
    assert prediction is not None
    assert reads(session, "A") == pytest.approx(4.0)
    assert [ask.left_over_stops for ask in prediction.asks] == [pytest.approx(0.0, abs=1 / 6)]
    # nothing of what was dialled by hand makes a head whose power is left out one that is set
    assert [head.solved for head in prediction.heads] == [False, True]


def test_a_reading_of_a_feathered_head_is_carried_from_its_axis() -> None:
    setup = demo().setups["captain-chart"]
    feathered = setup.light["A"]
    rows = [anchor(demo(), setup, replace(feathered, feather_deg=turn), 4.0) for turn in (0.0, feathered.feather_deg)]
    straight, turned = (row.reads_f for row in rows if row is not None)
    assert turned > straight == pytest.approx(4.0)
    light = predict(demo(), setup, [row for row in rows[1:] if row is not None])
    reads = {head.head: head.reads_stops for head in light.heads}
    assert reads["A"] == pytest.approx(4.0)
    aside = replace(feathered, feather_deg=90.0, modifier="bare", accessories=())
    assert anchor(demo(), setup, replace(aside, feather_deg=90.0), 4.0) is None


def test_which_readings_are_carried_on() -> None:
    setup = demo().setups["seamstress-veil"]
    light = replace(setup.light["B"], through=("voile",))
    row = anchor(demo(), replace(setup, lights=(setup.light["A"], light), hung_cloths=()), light, 3.0)
    assert row.reads_f == pytest.approx(4.0)  # one stop of voile: f/2.8 through it, f/4 without
    assert anchor(demo(), FIRST, FIRST.light["B"], 3.0) is None  # aimed at the background


def test_a_reading_is_saved_in_the_kit_when_asked(tmp_path: Path) -> None:
    kit = copied(tmp_path / "day") / "kit.toml"
    session = opened(folder=kit.parent)
    for action in (save_question, save_measurement):
        assert "no reading of A alone" in refused(action, session, "A")
    session.reading("A", 4.6)
    assert save_question(session, "A") == (
        "Save f/4 +0.6 for A through octa-90 + grid-octa at 1/8, 1.4 m in kit.toml?",
        "save it, beside f/5.6 at 1/4, 1.5 m",
    )
    assert kit.read_text().count("[[measured]]") == 1
    assert save_measurement(session, "A") == (
        "saved (before: .backup-20261204-090000/kit.toml): f/4 +0.6 for A through octa-90 + grid-octa at 1/8, 1.4 m"
    )
    assert kit.read_text().count("[[measured]]") == 2
    assert save_measurement(session, "A").startswith("already in kit.toml: f/4 +0.6 for A ")
    session.nudge("A", 3)
    session.reading("A", 5.6)
    assert save_question(session, "A")[1] == "save it in place of f/4 +0.6 at 1/8, 1.4 m, beside f/5.6 at 1/4, 1.5 m"
    save_measurement(session, "A")
    assert kit.read_text().count("[[measured]]") == 2
    kit.write_text("[[head]")
    for action in (save_question, save_measurement):
        with pytest.raises(Refused, match=r"kit\.toml"):
            action(session, "A")
    assert kit.read_text() == "[[head]"


def test_a_head_is_metered_where_it_is_aimed_but_at_the_face_where_it_has_a_target() -> None:
    session = opened()
    light = session.view.head_light("B")
    assert [session.metered_at(head) for head in ("A", "B", None)] == ["the face", "the background", "the face"]
    assert session.reading("B", light.at_aim_stops + 0.5).endswith(" at the background, 0.5 over the prediction")
    assert session.entries[-1].data.where == "background"
    session.begin("lamplighter-fog")
    assert session.metered_at("A") == "flat-1"
    session.begin("widow-letter")  # the umbrella is aimed past her at the flat; its edge is to read f/4 on her
    assert session.metered_at("A") == "the face"
    assert session.view.heads[0].predicted == "f/4"
    assert session.reading("A", 4.0).startswith("A read f/4, 0.0 under the prediction; target f/4")


def test_a_reading_where_no_light_is_predicted_is_not_compared() -> None:
    light = replace(predict(demo(), FIRST).heads[1], reads_stops=-25.0)
    text = reading_result(Reading(FIRST.id, "B", 5.0, "f/5.6"), 5.0, light.reads_stops, light)
    assert text == "B read f/5.6; no light predicted there"


def test_what_is_brighter_than_the_key_is_over_it() -> None:
    texts = {1.0: "+1.0", 0.0: "0.0", -0.04: "0.0", -4.6: "4.6 over", None: "-", -30.0: "-"}
    assert {stops: under_key_text(stops) for stops in texts} == texts


def test_the_facts_are_json_whatever_the_light() -> None:
    facts = json.loads(
        json.dumps(light_facts(demo(), [predict(demo(), setup) for setup in demo().order]), allow_nan=False)
    )
    assert [setup["id"] for setup in facts["setups"]] == list(demo().day.order)
    heads = {(setup["id"], head["head"]): head for setup in facts["setups"] for head in setup["heads"]}
    off = heads["seamstress-thread", "D"]
    assert (off["power"], off["reads_f"]) == ("off", None)
    assert {battery["head"] for battery in facts["batteries"]} == set("ABCD")


def test_depth_of_field_from_the_hyperfocal_distance_on_is_infinite() -> None:
    light = predict(demo(), FIRST)
    far = replace(light, depth_of_field=replace(light.depth_of_field, far_m=inf))
    assert [*light_summary(light, "imperial")][-1] == "depth of field 8 in"
    assert [*light_summary(far, "imperial")][-1] == "depth of field to infinity"


def test_room_light_is_taken_off_a_reading_before_it_is_carried_on() -> None:
    """Two seconds at 240 lux are f/14 of ambient light: a meter at f/16 saw f/8 of flash."""
    slow = replace(FIRST, exposure=replace(FIRST.exposure, f=16.0, shutter="2"))
    session = opened(with_place(with_setup(demo(), slow), ambient_lux=240.0))
    text = session.reading("A", 8.0)
    (row,) = session.state.anchors
    assert row.reads_f == pytest.approx(8.0, rel=1e-6)
    assert reads(session, "A") == pytest.approx(6.0)
    assert text.startswith("A read f/16, f/8 of it flash, ")
    assert session.reading("A", 7.6).startswith("A read f/11 +0.6; nearly all of it is ambient light")
    assert session.state.anchors == (row,)
    fast = opened()  # 6.7 stops under, it does not show in a tenth
    fast.reading("A", 4.0)
    assert fast.state.anchors[0].reads_f == pytest.approx(4.0)


def test_caption_of_a_face_names_pattern_and_ratio() -> None:
    light = predict(demo(), FIRST)
    assert light.pattern == "loop" and face_caption(light).startswith("loop, key to fill ")
    fills = {
        over: tuple(replace(panel, reads_stops=light.key.reads_stops - over) for panel in light.panels)
        for over in (2, 0.5, -1, 5)
    }
    texts = [face_caption(replace(light, panels=panels)).split()[-1] for panels in fills.values()]
    assert texts == ["4:1", "1.4:1", "1:2", "32:1"]
    assert face_caption(replace(light, panels=())) == "loop"
    assert face_caption(replace(light, panels=(), pattern="none")) == ""
