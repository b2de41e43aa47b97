"""The setup as it was: as the journal changed or kept it, or as its floor stands."""

from dataclasses import replace
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from runbook.changeover.changeover import changeover
from runbook.changeover.floor import EMPTY, floor_of
from runbook.changeover.steps import apply
from runbook.files.validate import parse, plain
from runbook.journal.as_shot import Stood, as_shot, as_stood, floor_left, freeze, thaw
from runbook.journal.events import AsStood, Changed, SetupShot, Undone, decode, encode, live
from runbook.model.power import Dial, Power
from runbook.model.setup import Background, Exposure, Light, PanelPlace, Setup, Subject, View
from tests.changeover.floors import PLACE, kit_of, kits, setups
from tests.changeover.test_floor import KEY as FLOOR_KEY
from tests.changeover.test_floor import setup as one_light
from tests.journal.entries_made import entry

THIRDS = Fraction(1, 3)
KEY = Light(
    head="A", role="key", stand="S1", power=Power(Fraction(3)), side="left", angle_deg=45.0,
    distance_m=1.4, height_m=2.0, modifier="octa-90",
)  # fmt: skip
RIM = replace(KEY, head="B", role="rim", stand="S2", power=Power(Fraction(5) - THIRDS))
FLAT = PanelPlace("flat-1", "right", 80.0, 0.8, 1.2)
SETUP = Setup(
    id="keeper", frames=120, exposure=Exposure(4.0, "1/160"), view=View("85", 2.6, 1.5), subject=Subject(1.25),
    background=Background(2.0), lights=(KEY, RIM), panels=(FLAT,),
)  # fmt: skip


def story(*told):
    return live([entry(n, data) for n, data in enumerate(told, 1)])


def test_each_kind_of_change_lands_where_it_belongs():
    told = story(
        Changed("keeper", "head", "power", "1/8", "1/4", "A"),
        Changed("keeper", "head", "accessories", (), ("grid",), "A"),
        Changed("keeper", "head", "height_m", 2.0, 2.2, "B"),
        Changed("keeper", "panel", "distance_m", 0.8, 0.7, "flat-1"), Changed("keeper", "camera", "f", 4.0, 5.6),
        Changed("keeper", "camera", "shutter", "1/160", "1/125"), Changed("keeper", "camera", "distance_m", 2.6, 3.0),
        Changed("keeper", "subject", "facing_deg", 0.0, 20.0), Changed("keeper", "background", "distance_m", 2.0, 2.5),
    )  # fmt: skip
    was = as_shot(SETUP, told, {})
    assert was.light["A"] == replace(KEY, power=Power(Fraction(2)), accessories=("grid",))
    assert was.light["B"] == replace(RIM, height_m=2.2)
    assert was.panels == (replace(FLAT, distance_m=0.7),)
    assert was.exposure == Exposure(5.6, "1/125")
    assert was.view == View("85", 3.0, 1.5)
    assert was.subject == Subject(1.25, facing_deg=20.0)
    assert was.background == Background(2.5)


def test_the_last_change_counts_and_an_undone_one_does_not():
    told = story(
        Changed("keeper", "camera", "f", 4.0, 5.6),
        Changed("keeper", "camera", "f", 5.6, 8.0),
        Changed("keeper", "camera", "iso", 100.0, 200.0),
        Undone(2),
    )
    assert as_shot(SETUP, told, {}).exposure == Exposure(5.6, "1/160", 200.0)


def test_no_change_and_one_of_another_setup_leave_the_plan():
    for told in ((), story(Changed("other", "camera", "f", 4.0, 8.0))):
        assert as_shot(SETUP, told, {}) == SETUP


def test_a_power_means_what_the_heads_own_dial_says():
    told = story(Changed("keeper", "head", "power", "1/8", "1/8+0.3", "A"))
    tenths = {"A": Dial(Fraction(1, 10), Power(Fraction(7)))}
    assert as_shot(SETUP, told, {}).light["A"].power == Power(3 - THIRDS)
    assert as_shot(SETUP, told, tenths).light["A"].power == Power(3 - Fraction(3, 10))


def test_a_change_that_does_not_fit_is_left_out():
    told = story(
        Changed("keeper", "head", "power", "1/8", "1/4", "Z"), Changed("keeper", "head", "head", "A", "B", "A"),
        Changed("keeper", "head", "colour", None, "red", "A"), Changed("keeper", "camera", "f", 4.0, -1.0),
        Changed("keeper", "camera", "f", 4.0, "wide"), Changed("keeper", "head", "power", "1/8", "1/4", "A"),
    )  # fmt: skip
    changed = replace(KEY, power=Power(Fraction(2)))
    assert as_shot(SETUP, told, {}) == replace(SETUP, lights=(changed, RIM))
    bare = Setup(id="keeper", exposure=SETUP.exposure, view=SETUP.view, subject=SETUP.subject)
    assert as_shot(bare, story(Changed("keeper", "background", "distance_m", 1.0, 2.0)), {}) == bare


@given(
    st.tuples(*(st.integers(0, 21),) * 2),
    st.sampled_from([THIRDS, Fraction(1, 10)]),
    st.lists(st.text(max_size=9)).map(tuple),
)
def test_a_setup_frozen_in_an_entry_is_read_back_whole(clicks, step, words):
    dials = {head: Dial(step, Power(Fraction(7))) for head in ("A", "B")}
    lights = tuple(replace(light, power=Power(n * step)) for light, n in zip((KEY, RIM), clicks, strict=True))
    stood, asked = Stood(replace(SETUP, lights=lights), words), SETUP
    kept = freeze(stood, asked)
    again = decode("shot", encode(SetupShot("keeper", None, kept))).stood
    assert again == AsStood(again.setup, words, again.asked)
    assert thaw(again, dials) == (stood, replace(asked, lights=thaw(again, dials)[1].lights))
    assert thaw(freeze(stood, stood.setup), dials) == (stood, stood.setup)


def test_a_frozen_setup_of_another_shape_is_refused():
    kept = freeze(Stood(SETUP), SETUP)
    with pytest.raises(ValueError, match="colour"):
        thaw(replace(kept, setup=kept.setup | {"colour": "red"}), {})


# -- a floor read back into the setup it makes -----------------------------------------------------------

CM = 0.011  # spots are kept to the centimetre


@st.composite
def changeovers(draw):
    """A kit, what stood (sometimes nothing), the setup that was to come, its floor, and what stands once some steps
    were skipped."""
    kit = draw(kits())
    start = EMPTY if draw(st.booleans()) else floor_of(draw(setups(kit, "one")), kit)
    setup = draw(setups(kit, "other"))
    goal = floor_of(setup, kit)
    steps = changeover(start, goal, kit, PLACE)
    skipped = draw(st.lists(st.booleans(), min_size=len(steps), max_size=len(steps)))
    left = [step for step, skip in zip(steps, skipped, strict=True) if not skip]
    return kit, start, setup, goal, floor_left(start, left)


@given(changeovers())
def test_where_nothing_was_skipped_it_is_the_setup_itself(case):
    kit, start, setup, goal, _ = case
    floor = floor_left(start, changeover(start, goal, kit, PLACE))
    assert as_stood(setup, floor, goal, kit) == Stood(setup)


@given(changeovers())
def test_whatever_was_skipped_it_makes_the_floor_that_stood_and_a_setup_that_a_file_could_hold(case):
    kit, _, setup, goal, floor = case
    at = as_stood(setup, floor, goal, kit)
    stood, words = at.setup, at.words
    again = floor_of(stood, kit)
    for light in stood.lights:
        head, at = floor.heads[light.head], floor.stands[light.stand]
        assert head.stand == light.stand
        assert light.power == head.power if head.armed else not light.power.fires
        made = again.stands[light.stand]
        assert made.height_m == at.height_m
        assert abs(made.spot.x - at.spot.x) <= CM
        assert abs(made.spot.y - at.spot.y) <= CM
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
        at_panel, made_panel = floor.panel_spot(place.panel), again.panel_spot(place.panel)
        assert type(again.panels[place.panel]) is type(floor.panels[place.panel])
        assert made_panel.by == at_panel.by
        assert abs(made_panel.x - at_panel.x) <= CM
        assert abs(made_panel.y - at_panel.y) <= CM
        on = ("stand", place.held_by) if place.held_by in floor.stands else ("panel", place.panel)
        assert again.bags_on(*on) == floor.bags_on(*on)
    for hung in stood.hung_cloths:
        at_cloth, made_cloth = floor.hung[hung.cloth], again.hung[hung.cloth]
        assert made_cloth.held_by == at_cloth.held_by
        assert abs(made_cloth.x - at_cloth.x) <= CM
        assert abs(made_cloth.y - at_cloth.y) <= CM
        assert made_cloth.rail_m == at_cloth.rail_m or any(
            f"the rail of {hung.cloth} was down" in word for word in words
        )
    if floor.exposure is not None:
        assert stood.exposure == floor.exposure
    if floor.lens is not None:
        assert stood.view.lens == floor.lens
    if floor.subject is not None:
        assert again.subject == replace(floor.subject, look=setup.look)
        assert any(word.startswith("look: ") for word in words) == (floor.subject.look != setup.look)
    for light in stood.lights:
        assert parse(type(light), plain(light)) == light
        assert light.aim in {"face", "background", *stood.panel}
    assert stood.subject.looks_at in {None, *stood.light}
    assert all(place.face_to in {"face", *stood.light} for place in (*stood.panels, *stood.hung_cloths))


def bare_light():
    """The steps to a bare light from nothing, its setup, floor and kit."""
    kit = kit_of((False,) * 5, (False,) * 5)
    setup = one_light(replace(FLOOR_KEY, stand="S0", modifier="bare", accessories=(), bags=()))
    goal = floor_of(setup, kit)
    return changeover(EMPTY, goal, kit, PLACE), setup, goal, kit


def test_a_step_that_needs_a_skipped_one_is_not_done():
    steps, setup, *_ = bare_light()
    floor = floor_left(EMPTY, [step for step in steps if step.key != ("fit", "head", "A")])
    assert "A" not in floor.heads
    assert floor.stands["S0"].height_m == setup.lights[0].height_m


def test_an_armed_head_of_unknown_power_is_left_out_and_reported():
    steps, setup, goal, kit = bare_light()
    floor = EMPTY
    for step in steps:
        floor = floor if step.verb == "power" else apply(floor, step)
    at = as_stood(setup, floor, goal, kit)
    assert at.setup.lights == ()
    assert at.words == ("A fired at an unknown power: left out of the setup as shot",)
