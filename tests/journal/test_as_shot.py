"""The setup as the journal says it was."""

from fractions import Fraction

from hypothesis import given
from hypothesis import strategies as st

from runbook.journal.as_shot import as_shot, misfits, shot
from runbook.journal.entries import Changed, Frames, Note, Reading, Undone
from runbook.plan.power import Dial, Power
from runbook.plan.setup import Background, Exposure, Light, PanelPlace, Setup, Subject, View
from tests.journal.entries_made import entry

THIRDS = Fraction(1, 3)
KEY = Light(
    head="A", role="key", stand="S1", power=Power(Fraction(3)), side="left", angle_deg=45.0,
    distance_m=1.4, height_m=2.0, modifier="octa-90",
)  # fmt: skip
RIM = KEY._replace(head="B", role="rim", stand="S2", power=Power(Fraction(5) - THIRDS))
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
    return [entry(n, data) for n, data in enumerate(told, 1)]


def test_nothing_changed_is_the_plan():
    assert as_shot(SETUP, story(Note("keeper", "fine"), Frames("keeper", 3))) == SETUP


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
    was = as_shot(SETUP, told)
    assert was.light["A"] == KEY._replace(power=Power(Fraction(2)), accessories=("grid",))
    assert was.light["B"] == RIM._replace(height_m=2.2)
    assert was.panels == (FLAT._replace(distance_m=0.7),)
    assert was.exposure == Exposure(5.6, "1/125")
    assert was.view == View("85", 3.0, 1.5)
    assert was.subject == Subject(1.25, facing_deg=20.0)
    assert was.background == Background(2.5)
    assert not misfits(SETUP, told)


def test_the_last_change_counts_and_an_undone_one_does_not():
    told = story(
        Changed("keeper", "camera", "f", 4.0, 5.6),
        Changed("keeper", "camera", "f", 5.6, 8.0),
        Changed("keeper", "camera", "iso", 100.0, 200.0),
        Undone(2),
    )
    assert as_shot(SETUP, told).exposure == Exposure(5.6, "1/160", 200.0)


def test_another_setup_is_not_touched():
    assert as_shot(SETUP, story(Changed("other", "camera", "f", 4.0, 8.0))) == SETUP


def test_a_power_means_what_the_heads_own_dial_says():
    told = story(Changed("keeper", "head", "power", "1/8", "1/8+0.3", "A"))
    tenths = {"A": Dial(Fraction(1, 10), Power(Fraction(7)))}
    assert as_shot(SETUP, told).light["A"].power == Power(3 - THIRDS)
    assert as_shot(SETUP, told, tenths).light["A"].power == Power(3 - Fraction(3, 10))


@given(st.integers(0, 21))
def test_a_third_stop_power_comes_back_from_its_own_words(clicks):
    power = Power(clicks * THIRDS)
    told = story(Changed("keeper", "head", "power", "1/8", str(power), "B"))
    assert as_shot(SETUP, told).light["B"].power == power


def test_what_does_not_fit_is_told_and_left_out():
    told = story(
        Changed("keeper", "head", "power", "1/8", "1/4", "Z"),
        Changed("keeper", "head", "head", "A", "B", "A"),
        Changed("keeper", "head", "colour", None, "red", "A"),
        Changed("keeper", "camera", "f", 4.0, -1.0),
        Changed("keeper", "camera", "f", 4.0, "wide"),
        Changed("keeper", "head", "power", "1/8", "1/4", "A"),
    )
    assert [one.n for one in misfits(SETUP, told)] == [1, 2, 3, 4, 5]
    assert as_shot(SETUP, told).light["A"].power == Power(Fraction(2))
    bare = Setup(id="keeper", exposure=SETUP.exposure, view=SETUP.view, subject=SETUP.subject)
    assert len(misfits(bare, story(Changed("keeper", "background", "distance_m", 1.0, 2.0)))) == 1


def test_frames_add_up_and_the_last_reading_of_each_head_stays():
    told = story(
        Frames("keeper", 80),
        Frames("keeper", 30),
        Frames("other", 7),
        Frames("keeper", -2),
        Reading("keeper", "A", 4.0, "4"),
        Reading("keeper", None, 4.2, "4 +0.2"),
        Reading("keeper", "A", 4.1, "4 +0.1"),
        Note("keeper", "lovely"),
        Note(None, "lunch is late"),
        Undone(2),
    )
    came = shot(SETUP, told)
    assert came.frames == 78
    assert came.readings == {"A": told[6].data, None: told[5].data}
    assert came.notes == ("lovely",)
