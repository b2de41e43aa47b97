"""A target typed as it really is: checked as a file would be, and as shot from then on."""

from __future__ import annotations

from contextlib import suppress
from dataclasses import replace
from functools import cache
from math import hypot

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from runbook.day.actions import Refused, Session
from runbook.day.day_record import differences
from runbook.day.repeat_setup import as_shot_files
from runbook.day.state import target_floor
from runbook.journal.journal import Journal
from runbook.model.day import Plan
from tests.day.days import SetClock, answer_checks, begun, demo, do_next, make_ready, refused
from tests.day.test_skipped import C_UP, skip_and_do
from tests.played import FIRST, SECOND


@cache
def ready_entries() -> tuple[object, ...]:
    session = begun()
    make_ready(session, FIRST)
    return tuple(session.entries)


def ready(plan: Plan | None = None) -> Session:
    """The first setup as planned, made quickly."""
    clock = SetClock()
    journal = Journal.in_memory(clock=clock, who="photo", entries=ready_entries())  # type: ignore[arg-type]
    return Session(plan or demo(), journal, "photo", clock)


def typed(session: Session, head: str | None, text: str) -> str:
    return session.change(session.targets(head, text))


@pytest.mark.parametrize(
    ("head", "text", "said"),
    [
        ("A", "height 2.1", "A distance 1.4 m to 1.46 m, A height 2.0 m to 2.1 m"),
        ("A", "height 1,8m", "A height 2.0 m to 1.8 m, A distance 1.4 m to 1.3 m"),
        ("A", "tape 160 cm", "A distance 1.4 m to 1.6 m"),
        ("A", "Distance: 5 ft", "A distance 1.4 m to 1.52 m"),
        ("A", "angle 40", "A angle 45° to 40°"),
        ("A", "angle 40° right", "A side left to right, A angle 45° to 40°"),
        ("A", "angle left 50 deg", "A angle 45° to 50°"),
        ("A", "side r", "A side left to right"),
        ("A", "power 1/16", "A power 1/8 to 1/16"),
        ("A", "f 5.6", "camera f 4 to 5.6"),
        (None, "f/5.6", "camera f 4 to 5.6"),
        (None, "f5,6", "camera f 4 to 5.6"),
        (None, "shutter 1/125", "camera shutter 1/160 to 1/125"),
        ("B", "ISO 200", "camera iso 100 to 200"),
    ],
)
def test_it_is_as_shot_and_where_the_next_changeover_starts(head: str | None, text: str, said: str) -> None:
    session = ready()
    assert typed(session, head, text) == said
    assert session.entries[-1].kind == "changed"
    assert session.state.floor == target_floor(session.plan, session.state, FIRST)
    assert session.view.todo == ()
    told = "\n".join(session.view.as_shot_lines)
    assert FIRST in told
    assert differences(session.plan, session.state)
    assert session.view.setup != session.plan.setups[FIRST]
    kept = as_shot_files(session.plan, session.entries)[f"{FIRST}.toml"]
    session.undo()
    if ", " in said:
        session.undo()
    assert session.view.as_shot_lines == ()
    assert kept != as_shot_files(session.plan, session.entries)[f"{FIRST}.toml"]


@pytest.mark.parametrize(
    ("head", "text", "wrong"),
    [
        ("A", "", "nothing is no target; there are height, tape, angle, side, power, "),
        ("A", "hieght", "'hieght' is no target; did you mean height?"),
        (None, "height 2", "'height' is no target; there are f, shutter, iso"),
        ("A", "height", "nothing is no length; write it like 1.4 m or 4 ft 6 in"),
        ("A", "height 9", "9 m is over the most that stand S1 goes to, 2.8 m; write "),
        ("A", "height -2", "height: "),
        ("A", "tape 0.3", "0.3 m of tape from a face at 1.25 m cannot reach 2 m up; at least "),
        ("A", "angle 200", "angle: "),
        ("A", "angle up", "'up' is no side; there are left, right"),
        ("A", "power 1/3", "'1/3' is no whole stop below full"),
        ("A", "f 1.2", "lens 85 has no f/1.2; it goes from f/1.8 to f/16"),
        ("A", "shutter 1/1000", "1/1000 is faster than flash allows; write 1/200 or slower"),
        ("A", "iso 50", "ISO 50 is under the camera's least, 100; write 100 or more"),
        ("A", "iso x", "'x' is no number"),
    ],
)  # fmt: skip
def test_an_error_names_what_would_be_right(head: str | None, text: str, wrong: str) -> None:
    session = ready()
    with pytest.raises(ValueError, match=r".+") as said:
        session.targets(head, text)
    assert str(said.value).startswith(wrong)


def test_what_is_so_already_is_not_written() -> None:
    session = ready()
    before = len(session.entries)
    assert refused(typed, session, "A", "height 2.0") == "that is the target already"
    assert refused(typed, session, "A", "power 1/8") == "that is the target already"
    assert len(session.entries) == before


def test_on_an_imperial_day_it_is_in_feet() -> None:
    plan = replace(demo(), day=replace(demo().day, units="imperial"))
    session = ready(plan)
    assert typed(session, "A", "tape 5") == "A distance 4 ft 7 in to 5 ft 0 in"
    assert session.view.log_lines[-1].text == "changed: A distance 4 ft 7 in to 5 ft 0 in"


HEIGHTS = st.floats(1.06, 2.79).map(lambda metres: round(metres, 2))
ANGLES = st.integers(0, 180)


@given(HEIGHTS, ANGLES, st.floats(1.8, 4.0).map(lambda metres: round(metres, 2)))
def test_a_height_leaves_the_stand_where_it_is(high: float, angle: int, tape: float) -> None:
    session = ready()
    for text in (f"tape {tape}", f"angle {angle}"):
        with suppress(Refused):  # it may be so already
            typed(session, "A", text)
    before = session.state.floor.stands["S1"].spot
    if high != 2.0:
        typed(session, "A", f"height {high}")
    after = session.state.floor.stands["S1"]
    assert after.height_m == high
    assert hypot(after.spot.x - before.x, after.spot.y - before.y) <= 0.011
    assert session.state.floor == target_floor(session.plan, session.state, FIRST)


def test_a_typed_target_of_a_skipped_step_is_how_the_head_stands() -> None:
    session = begun()
    make_ready(session, FIRST)
    session.begin(SECOND)
    skip_and_do(session, C_UP)
    typed(session, "C", "height 1.8")
    assert session.view.setup is not None
    assert session.view.setup.light["C"].height_m == 1.8
    assert session.state.floor.stands["boom"].height_m == 1.8
    assert "C height: 1.8 m instead of 2.4 m" in session.view.other_than_planned
    typed(session, "C", "tape 1.2")
    assert session.view.setup.light["C"].distance_m == 1.2


def test_a_typed_target_of_a_skipped_camera_step_is_how_it_is_set() -> None:
    session = begun()
    make_ready(session, FIRST)
    session.begin(SECOND)
    skip_and_do(session, ("expose", "camera", "camera"))
    with pytest.raises(ValueError, match="that is the plan's target"):
        session.targets(None, "f 2.8")
    typed(session, None, "f 5.6")
    assert session.view.setup is not None
    assert session.state.floor.exposure == session.view.setup.exposure
    assert session.view.setup.exposure.f == 5.6


@pytest.mark.parametrize(
    ("head", "text", "said"),
    [
        ("A", "stand S3", "A stand S1 to S3"),
        ("A", "stand boom", "A stand S1 to boom"),
        ("A", "head D", "A head A to D"),
        ("A", "modifier dish", "A accessories grid-octa to nothing, A modifier octa-90 to dish-42"),
        ("A", "modifier none", "A accessories grid-octa to nothing, A modifier octa-90 to bare"),
        ("A", "accessory none", "A accessories grid-octa to nothing"),
        ("A", "bags B1 B3", "A bags B1 to B1 + B3"),
        ("A", "bag none", "A bags B1 to nothing"),
        ("B", "bags B3, B4", "B bags nothing to B3 + B4"),
        (None, "lens 50", "camera lens 85 to 50"),
        (None, "camera distance 3", "camera distance 2.6 m to 3.0 m"),
        (None, "camera height 1.6 m", "camera height 1.5 m to 1.6 m"),
        (None, "camera landscape", "camera orientation portrait to landscape"),
    ],
)
def test_another_thing_that_really_stands_there_needs_no_step(head: str | None, text: str, said: str) -> None:
    session = ready()
    asked, floor = session.view.target, session.state.floor
    assert asked is not None
    told = typed(session, head, text)
    assert told == said or head == "B"
    assert not session.view.pending.left
    assert session.view.ready
    now = session.view.target
    assert now is not None and now != asked
    assert session.state.floor == replace(
        target_floor(session.plan, session.state, FIRST), in_hands=session.state.floor.in_hands
    )
    session.mark_shot()
    assert session.state.frozen[FIRST].stood.setup == now
    assert as_shot_files(session.plan, session.entries)[f"{FIRST}.toml"]
    for _ in range(2 + told.count(", ")):
        session.undo()
    assert (session.view.target, session.state.floor) == (asked, floor)


@pytest.mark.parametrize(
    ("head", "text", "why"),
    [
        ("A", "stand S2", "S2"),
        ("A", "head B", "B is in this setup already"),
        ("A", "modifier strip-9", "no modifier"),
        ("A", "accessories grid-dish", "grid-dish"),
        ("A", "bags B7", "B7"),
        (None, "lens 300", "no lens"),
        (None, "camera sideways", "no place of the camera"),
        (None, "camera height", "length"),
    ],
)
def test_another_thing_that_cannot_stand_there_is_refused(head: str | None, text: str, why: str) -> None:
    session = ready()
    before = len(session.entries)
    with pytest.raises(ValueError, match=why):
        session.targets(head, text)
    assert len(session.entries) == before


def test_what_looks_at_a_head_looks_at_the_one_in_its_place() -> None:
    plan = demo()
    setup = plan.setups[FIRST]
    subject = replace(setup.subject, looks_at="A", facing_deg=0.0)
    panels = tuple(replace(each, face_to="A") for each in setup.panels)
    setup = replace(setup, subject=subject, panels=panels)
    session = begun(replace(plan, setups=plan.setups | {FIRST: setup}))
    session.begin(FIRST)
    typed(session, "A", "head D")
    now = session.view.target
    assert now is not None
    assert now.subject.looks_at == "D"
    assert {each.face_to for each in now.panels} == {"D"}
    assert now.light["D"] == replace(setup.light["A"], head="D")


WORDS = """stand S3, stand boom, stand roller, stand S1, head D, head C, modifier dish-42,
modifier none, accessories none, bags B3 B4, bags none, bags B1, lens 50"""
THINGS = st.sampled_from([each.strip() for each in WORDS.split(",")])


@settings(max_examples=30, deadline=None)
@given(st.integers(0, 40), st.lists(st.tuples(st.integers(0, 3), THINGS), max_size=4))
def test_whatever_is_changed_on_the_way_the_setup_comes_to_stand_as_asked(
    done: int, changes: list[tuple[int, str]]
) -> None:
    session = begun()
    session.begin(FIRST)
    for _ in range(done):
        if session.view.next_step is not None:
            do_next(session)
    for n, text in changes:
        lights = session.view.target.lights if session.view.target else ()
        with suppress(ValueError, Refused):
            typed(session, lights[n % len(lights)].head, text)
        floor = session.state.floor
        assert {hung.item for hung in floor.bags.values()} <= {*floor.stands, *floor.panels}
    for _ in range(120):
        answer_checks(session, aside=True)
        if session.view.next_step is None:
            break
        session.tick(session.view.next_step.step)
    assert session.view.ready
    goal = target_floor(session.plan, session.state, FIRST)
    assert session.state.floor.heads == goal.heads
    assert session.state.floor.modifiers == goal.modifiers
    assert session.state.floor.accessories == goal.accessories
    assert session.state.floor.bags == goal.bags
    assert session.state.floor.stands == goal.stands
