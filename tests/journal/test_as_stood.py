"""A floor read back into the setup it makes."""

from __future__ import annotations

from dataclasses import replace

from hypothesis import given
from hypothesis import strategies as st

from runbook.changeover.changeover import changeover
from runbook.changeover.floor import EMPTY, Floor, floor_of
from runbook.changeover.steps import apply
from runbook.files.validate import parse, plain
from runbook.journal.as_shot import Stood, as_stood, floor_left
from runbook.model.kit import Kit
from runbook.model.setup import Setup
from tests.changeover.floors import PLACE, kits, setups

_CM = 0.011  # spots are kept to the centimetre


@st.composite
def changes(draw: st.DrawFn) -> tuple[Kit, Floor, Setup]:
    """A kit, what stands there (sometimes nothing), and a setup that is to come."""
    kit = draw(kits())
    before = floor_of(draw(setups(kit, "one")), kit)
    return kit, EMPTY if draw(st.booleans()) else before, draw(setups(kit, "other"))


def half_done(case: tuple[Kit, Floor, Setup], data: st.DataObject) -> tuple[Floor, Floor]:
    """What stands once some steps of a changeover were skipped, and its goal."""
    kit, start, setup = case
    goal = floor_of(setup, kit)
    steps = changeover(start, goal, kit, PLACE)
    skipped = data.draw(st.lists(st.booleans(), min_size=len(steps), max_size=len(steps)))
    left = [step for step, skip in zip(steps, skipped, strict=True) if not skip]
    return floor_left(start, left), goal


@given(changes())
def test_where_nothing_was_skipped_it_is_the_setup_itself(case: tuple[Kit, Floor, Setup]) -> None:
    kit, start, setup = case
    goal = floor_of(setup, kit)
    floor = floor_left(start, changeover(start, goal, kit, PLACE))
    assert as_stood(setup, floor, goal, kit) == Stood(setup)


@given(changes(), st.data())
def test_whatever_was_skipped_it_makes_the_floor_that_stood(
    case: tuple[Kit, Floor, Setup], data: st.DataObject
) -> None:
    kit, _, setup = case
    floor, goal = half_done(case, data)
    at = as_stood(setup, floor, goal, kit)
    stood, words = at.setup, at.words
    again = floor_of(stood, kit)
    for light in stood.lights:
        head, at = floor.heads[light.head], floor.stands[light.stand]
        assert head.stand == light.stand
        assert light.power == head.power if head.armed else not light.power.fires
        made = again.stands[light.stand]
        assert made.height_m == at.height_m
        assert abs(made.spot.x - at.spot.x) <= _CM
        assert abs(made.spot.y - at.spot.y) <= _CM
        assert made.spot.leg_under_load == at.spot.leg_under_load
        assert again.modifier_on(light.head) == floor.modifier_on(light.head)
        hung = floor.bags_on("stand", light.stand)
        told = {bag for bag in hung if any(word.startswith(f"{bag} hung") for word in words)}
        assert again.bags_on("stand", light.stand) == hung - told
        assert {c for c, on in again.cloths.items() if light.head in on} == {
            c for c, on in floor.cloths.items() if light.head in on
        }
    for light in setup.lights:  # what cannot be told is not told as if it were
        if light.head not in stood.light:
            assert any(word.startswith(f"{light.head} ") for word in words)
    for place in stood.panels:
        at_panel, made_panel = floor.panels[place.panel], again.panels[place.panel]
        assert abs(made_panel.x - at_panel.x) <= _CM
        assert abs(made_panel.y - at_panel.y) <= _CM
        assert again.bags_on("panel", place.panel) == floor.bags_on("panel", place.panel)
    if floor.exposure is not None:
        assert stood.exposure == floor.exposure
    if floor.lens is not None:
        assert stood.view.lens == floor.lens
    if floor.subject is not None:
        assert again.subject == replace(floor.subject, look=setup.look)
        assert any(word.startswith("look: ") for word in words) == (floor.subject.look != setup.look)


@given(changes(), st.data())
def test_it_is_a_setup_as_a_file_could_hold_it(case: tuple[Kit, Floor, Setup], data: st.DataObject) -> None:
    kit, _, setup = case
    stood = as_stood(setup, *half_done(case, data), kit).setup
    for light in stood.lights:
        assert parse(type(light), plain(light)) == light
        assert light.aim in {"face", "background", *stood.panel}
    assert stood.subject.looks_at in {None, *stood.light}
    assert all(place.face_to in {"face", *stood.light} for place in stood.panels)


def test_a_step_that_needs_a_skipped_one_is_not_done() -> None:
    kit, setup = _one()
    steps = changeover(EMPTY, floor_of(setup, kit), kit, PLACE)
    left = [step for step in steps if step.key != ("fit", "head", "A")]
    floor = floor_left(EMPTY, left)
    assert "A" not in floor.heads
    assert floor.stands["S0"].height_m == setup.lights[0].height_m


def test_an_armed_head_of_unknown_power_is_left_out_and_reported() -> None:
    kit, setup = _one()
    goal = floor_of(setup, kit)
    floor = EMPTY
    for step in changeover(EMPTY, goal, kit, PLACE):
        if step.verb != "power":
            floor = apply(floor, step)
    at = as_stood(setup, floor, goal, kit)
    stood, words = at.setup, at.words
    assert stood.lights == ()
    assert words == ("A fired at an unknown power: left out of the setup as shot",)


def _one() -> tuple[Kit, Setup]:
    from tests.changeover.floors import kit_of
    from tests.changeover.test_floor import KEY
    from tests.changeover.test_floor import setup as made

    kit = kit_of((False,) * 5, (False,) * 5)
    return kit, made(replace(KEY, stand="S0", modifier="bare", accessories=(), bags=()))
