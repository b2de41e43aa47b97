"""The setup as the journal says it was."""

from dataclasses import replace
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from runbook.journal.as_shot import Stood, as_shot, freeze, thaw
from runbook.journal.events import AsStood, Changed, SetupShot, Undone, decode, encode, live
from runbook.model.power import Dial, Power
from runbook.model.setup import Background, Exposure, Light, PanelPlace, Setup, Subject, View
from tests.journal.entries_made import entry

THIRDS = Fraction(1, 3)
KEY = Light(
    head="A", role="key", stand="S1", power=Power(Fraction(3)), side="left", angle_deg=45.0,
    distance_m=1.4, height_m=2.0, modifier="octa-90",
)  # fmt: skip
RIM = replace(KEY, head="B", role="rim", stand="S2", power=Power(Fraction(5) - THIRDS))
FLAT = PanelPlace("flat-1", "right", 80.0, 0.8, 1.2)
SETUP = Setup(
    id="keeper",
    frames=120,
    exposure=Exposure(4.0, "1/160"),
    view=View("85", 2.6, 1.5),
    subject=Subject(1.25),
    background=Background(2.0),
    lights=(KEY, RIM),
    panels=(FLAT,),
)


def story(*told):
    return live([entry(n, data) for n, data in enumerate(told, 1)])


def test_nothing_changed_is_the_plan():
    assert as_shot(SETUP, (), {}) == SETUP


def test_each_kind_of_change_lands_where_it_belongs():
    told = story(
        Changed("keeper", "head", "power", "1/8", "1/4", "A"),
        Changed("keeper", "head", "accessories", (), ("grid",), "A"),
        Changed("keeper", "head", "height_m", 2.0, 2.2, "B"),
        Changed("keeper", "panel", "distance_m", 0.8, 0.7, "flat-1"),
        Changed("keeper", "camera", "f", 4.0, 5.6),
        Changed("keeper", "camera", "shutter", "1/160", "1/125"),
        Changed("keeper", "camera", "distance_m", 2.6, 3.0),
        Changed("keeper", "subject", "facing_deg", 0.0, 20.0),
        Changed("keeper", "background", "distance_m", 2.0, 2.5),
    )
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


def test_another_setup_is_not_touched():
    assert as_shot(SETUP, story(Changed("other", "camera", "f", 4.0, 8.0)), {}) == SETUP


def test_a_power_means_what_the_heads_own_dial_says():
    told = story(Changed("keeper", "head", "power", "1/8", "1/8+0.3", "A"))
    tenths = {"A": Dial(Fraction(1, 10), Power(Fraction(7)))}
    assert as_shot(SETUP, told, {}).light["A"].power == Power(3 - THIRDS)
    assert as_shot(SETUP, told, tenths).light["A"].power == Power(3 - Fraction(3, 10))


@given(st.integers(0, 21))
def test_a_third_stop_power_comes_back_from_its_own_words(clicks):
    power = Power(clicks * THIRDS)
    told = story(Changed("keeper", "head", "power", "1/8", str(power), "B"))
    assert as_shot(SETUP, told, {}).light["B"].power == power


def test_a_change_that_does_not_fit_is_left_out():
    told = story(
        Changed("keeper", "head", "power", "1/8", "1/4", "Z"),
        Changed("keeper", "head", "head", "A", "B", "A"),
        Changed("keeper", "head", "colour", None, "red", "A"),
        Changed("keeper", "camera", "f", 4.0, -1.0),
        Changed("keeper", "camera", "f", 4.0, "wide"),
        Changed("keeper", "head", "power", "1/8", "1/4", "A"),
    )
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
