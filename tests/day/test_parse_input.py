"""What a person types at the set: readings, counts, winds, times, and targets as they really are."""

from collections.abc import Callable
from contextlib import suppress
from dataclasses import replace
from functools import partial
from math import hypot

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from runbook.day.actions import Refused, Session
from runbook.day.parse_input import (
    parse_ahead,
    parse_break,
    parse_frames,
    parse_reading,
    parse_time,
    parse_wind,
    parse_words,
    reading_options,
)
from runbook.day.state import target_floor
from runbook.model.nominal_values import APERTURE_MARKS
from tests.day.days import FIRST, answer_checks, begun, demo, do_next, refused
from tests.day.plans import with_day, with_setup
from tests.day.progress import second_without, standing

imperial_wind = partial(parse_wind, units="imperial")


@pytest.mark.parametrize(("typed", "stops"), [
    ("5.6", 5.0), ("f/5.6", 5.0), ("F 5.6", 5.0), ("5,6", 5.0), ("5.6 3", 5.3), ("5.6 +0.3", 5.3),
    ("5.6+.3", 5.3), ("8 -0.2", 5.8), ("4", 4.0), ("6.3", 16 / 3), ("  2.8  ", 3.0),
    ("6.7", 5.5),  # a half-stop mark
    ("5.5", 4.9189),  # no mark: 2 log2 5.5
    ("f/8.3", 6.1062),
])  # fmt: skip
def test_readings_as_a_meter_shows_them(typed: str, stops: float) -> None:
    assert parse_reading(typed) == pytest.approx(stops, abs=1e-4)


@pytest.mark.parametrize(
    ("typed", "tenths", "aperture"),
    [("8.3", 6.3, 6.106), ("8,3", 6.3, 6.106), ("11.3", 7.3, 6.996), ("5.63", 5.3, 4.986), ("1.3", 0.3, 0.757)],
)
def test_a_number_that_may_be_a_mark_with_tenths_has_two_meanings(typed: str, tenths: float, aperture: float) -> None:
    meanings = [meaning.stops for meaning in reading_options(typed)]
    assert meanings == pytest.approx([tenths, aperture], abs=1e-3)
    with pytest.raises(ValueError, match="may be"):
        parse_reading(typed)


@given(st.sampled_from(sorted(APERTURE_MARKS)))
def test_a_mark_has_one_meaning_and_is_kept_as_it_is(mark: float) -> None:
    (meaning,) = reading_options(f"{mark:g}")
    assert (meaning.stops, meaning.f) == (APERTURE_MARKS[mark], mark)


@pytest.mark.parametrize(("parse", "typed", "value"), [
    (parse_frames, " 36 ", 36), (parse_frames, "-4", -4),
    (parse_words, "  two   words ", "two words"), (parse_words, "x" * 900, "x" * 500),
    (parse_time, "13:40", "13:40"), (parse_time, "9.15", "09:15"), (parse_time, "14", "14:00"),
    (parse_time, " 7h05 ", "07:05"),
    (parse_break, "20  fire alarm", (20, "fire alarm")),
    (parse_ahead, "3600", (3600.0,)), (parse_ahead, " -12.5 ", (-12.5,)), (parse_ahead, "", (None,)),
    # 1 mph = 0.44704 m/s and 1 kn = 1852/3600 m/s, exact by definition; Beaufort's ends: WMO
    (parse_wind, "6", 6.0), (parse_wind, "6,5 m/s", 6.5), (parse_wind, "18 km/h", 5.0),
    (parse_wind, "10 mph", 4.4704), (parse_wind, "9kn", 4.63), (parse_wind, "force 4", 7.9),
    (parse_wind, "Bft 0", 0.2), (parse_wind, "force 12", 32.7),
    (imperial_wind, "10", 4.4704), (imperial_wind, "10 m/s", 10.0),
])  # fmt: skip
def test_what_is_typed_is_read(parse: Callable[[str], object], typed: str, value: object) -> None:
    assert parse(typed) == (pytest.approx(value) if isinstance(value, float) else value)


@pytest.mark.parametrize(("parse", "match", "texts"), [
    (parse_reading, "reading|mark", ["", "five", "5.6 13", "0.1", "999", "5.55 3", "5.6 + 0.33"]),
    (parse_frames, "count|whole number", ["", "0", "many", "123456"]),
    (parse_words, "a few words", ["  \t "]),
    (parse_wind, "force", ["", "breezy", "force 13", "force 4 kn", "6 stops", "900", "-3"]),
    (parse_time, "time of day", ["", "24:00", "13:60", "soon"]),
    (parse_ahead, "seconds", ["an hour", "nan", "inf", "1e12"]),
    (parse_break, "minutes", ["", "20", "fire alarm", "0 rain", "601 rain", "-5 rain"]),
])  # fmt: skip
def test_what_cannot_be_read_is_refused_with_what_would_be_right(parse, match, texts):
    for text in texts:
        with pytest.raises(ValueError, match=match):
            parse(text)


# -- targets ---------------------------------------------------------------------------------------


def typed(session: Session, head: str | None, text: str) -> str:
    return session.change(session.targets(head, text))


@pytest.mark.parametrize(("head", "text", "change"), [
    ("A", "height 2.1", "A distance 1.4 m to 1.46 m, A height 2.0 m to 2.1 m"),
    ("A", "height 1,8m", "A height 2.0 m to 1.8 m, A distance 1.4 m to 1.3 m"),
    ("A", "Distance: 5 ft", "A distance 1.4 m to 1.52 m"),
    ("A", "angle 40° right", "A side left to right, A angle 45° to 40°"), ("A", "side r", "A side left to right"),
    ("A", "power 1/16", "A power 1/8 to 1/16"), ("A", "f 5.6", "camera f 4 to 5.6"),
    (None, "f/5.6", "camera f 4 to 5.6"), (None, "f5,6", "camera f 4 to 5.6"),
    (None, "shutter 1/125", "camera shutter 1/160 to 1/125"), ("B", "ISO 200", "camera iso 100 to 200"),
    ("A", "stand S3", "A stand S1 to S3"), ("A", "stand boom", "A stand S1 to boom"),
    ("A", "head D", "A head A to D"),
    ("A", "modifier dish", "A accessories grid-octa to nothing, A modifier octa-90 to dish-42"),
    ("A", "modifier none", "A accessories grid-octa to nothing, A modifier octa-90 to bare"),
    ("A", "accessory none", "A accessories grid-octa to nothing"), ("A", "bags B1 B3", "A bags B1 to B1 + B3"),
    ("A", "bag none", "A bags B1 to nothing"), (None, "lens 50", "camera lens 85 to 50"),
    (None, "camera distance 3", "camera distance 2.6 m to 3.0 m"),
    (None, "camera landscape", "camera orientation portrait to landscape"),
])  # fmt: skip
def test_a_typed_target_is_how_it_stands_with_no_step_until_it_is_undone(head, text, change):
    session = standing()
    asked, floor = session.view.target, session.state.floor
    assert typed(session, head, text) == change
    assert session.view.target not in (None, asked)
    assert session.view.ready
    assert not session.view.pending.left
    assert session.state.floor == target_floor(session.plan, session.state, FIRST)
    assert session.view.as_shot_lines
    for _ in change.split(", "):
        session.undo()
    assert (session.view.target, session.state.floor, session.view.as_shot_lines) == (asked, floor, ())


@pytest.mark.parametrize(("head", "text", "wrong"), [
    ("A", "", "nothing is not a target; there are height, tape, angle, side, power, "),
    ("A", "hieght", "'hieght' is not a target; did you mean height?"),
    (None, "height 2", "'height' is not a target; there are f, shutter, iso"),
    ("A", "height", "nothing is not a length; write it like 1.4 m or 4 ft 6 in"),
    ("A", "height 9", "9 m is over the most that stand S1 goes to, 2.8 m; write "),
    ("A", "tape 0.3", "0.3 m of tape from a face at 1.25 m cannot reach 2 m up; at least "),
    ("A", "angle 200", "angle: "), ("A", "angle up", "'up' is not a side; there are left, right"),
    ("A", "power 1/3", "'1/3' is not a whole number of stops below full"),
    ("A", "f 1.2", "lens 85 has no f/1.2; it goes from f/1.8 to f/16"),
    ("A", "shutter 1/1000", "1/1000 is faster than flash allows; write 1/200 or slower"),
    ("A", "iso 50", "ISO 50 is under the camera's least, 100; write 100 or more"), ("A", "stand S2", "stand S2"),
    ("A", "head B", "B is already in use in this setup"), ("A", "modifier strip-9", "'strip-9' is not a modifier"),
    ("A", "accessories grid-dish", "grid-dish"), ("A", "bags B7", "bag B7"),
    (None, "camera sideways", "'sideways' is not a place of the camera"),
])  # fmt: skip
def test_a_target_that_cannot_be_is_refused_with_what_would_be_right(head: str | None, text: str, wrong: str) -> None:
    with pytest.raises(ValueError, match=r".") as why:
        standing().targets(head, text)
    assert str(why.value).startswith(wrong)


def test_a_target_that_is_so_already_is_not_written() -> None:
    session = standing()
    for text in ("height 2.0", "power 1/8"):
        assert refused(typed, session, "A", text) == "that is already the target"


def test_on_an_imperial_day_it_is_in_feet() -> None:
    session = standing(with_day(demo(), units="imperial"))
    assert typed(session, "A", "tape 5") == "A distance 4 ft 7 in to 5 ft 0 in"


@given(
    st.floats(1.06, 2.79).map(lambda metres: round(metres, 2)),
    st.integers(0, 180),
    st.floats(1.8, 4.0).map(lambda metres: round(metres, 2)),
)
def test_a_height_leaves_the_stand_where_it_is(high: float, angle: int, tape: float) -> None:
    session = standing()
    for text in (f"tape {tape}", f"angle {angle}"):
        with suppress(Refused):  # it may be so already
            typed(session, "A", text)
    before = session.state.floor.stands["S1"].spot
    if high != 2.0:
        typed(session, "A", f"height {high}")
    after = session.state.floor.stands["S1"]
    assert after.height_m == high
    assert hypot(after.spot.x - before.x, after.spot.y - before.y) <= 0.011


def test_a_target_typed_for_a_skipped_step_is_how_it_really_is() -> None:
    session = second_without(("raise", "stand", "boom"), ("expose", "camera", "camera"))
    with pytest.raises(ValueError, match="that is the plan's target"):
        session.targets(None, "f 2.8")
    for head, text in (("C", "height 1.8"), ("C", "tape 1.2"), (None, "f 5.6")):
        typed(session, head, text)
    setup, floor = session.view.setup, session.state.floor
    assert (setup.light["C"].height_m, setup.light["C"].distance_m, setup.exposure.f) == (1.8, 1.2, 5.6)
    assert (floor.stands["boom"].height_m, floor.exposure) == (1.8, setup.exposure)
    assert "C height: 1.8 m instead of 2.4 m" in session.view.other_than_planned


def test_what_looks_at_a_head_looks_at_the_one_in_its_place() -> None:
    plan = demo()
    setup = plan.setups[FIRST]
    subject = replace(setup.subject, looks_at="A", facing_deg=0.0)
    setup = replace(setup, subject=subject, panels=tuple(replace(panel, face_to="A") for panel in setup.panels))
    session = begun(with_setup(plan, setup))
    session.begin(FIRST)
    typed(session, "A", "head D")
    target = session.view.target
    assert target.subject.looks_at == "D"
    assert {panel.face_to for panel in target.panels} == {"D"}
    assert target.light["D"] == replace(setup.light["A"], head="D")


THINGS = st.sampled_from([
    "stand S3", "stand boom", "stand roller", "stand S1", "head D", "head C", "modifier dish-42", "modifier none",
    "accessories none", "bags B3 B4", "bags none", "bags B1", "lens 50",
])  # fmt: skip


@settings(max_examples=20)
@given(st.integers(0, 40), st.lists(st.tuples(st.integers(0, 3), THINGS), max_size=4))
def test_whatever_is_changed_on_the_way_the_setup_comes_to_stand_as_asked(done, changes):
    session = begun()
    session.begin(FIRST)
    for _ in range(done):
        do_next(session)
    for n, text in changes:
        lights = session.view.target.lights
        with suppress(ValueError, Refused):
            typed(session, lights[n % len(lights)].head, text)
        floor = session.state.floor
        assert {hung.item for hung in floor.bags.values()} <= {*floor.stands, *floor.panels}
    for _ in range(120):
        answer_checks(session, aside=True)
        if session.view.next_step is None:
            break
        session.tick(session.view.next_step.step)
    goal, floor = target_floor(session.plan, session.state, FIRST), session.state.floor
    for table in ("heads", "modifiers", "accessories", "bags", "stands"):
        assert getattr(floor, table) == getattr(goal, table)
