"""Powers as dials show them: exact, ordered, and read back as they are written."""

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from runbook.model.power import FULL, OFF, Dial, Power, stops_below

THIRD, TENTH = Fraction(1, 3), Fraction(1, 10)
DIALS = {step: Dial(step, Power(Fraction(7))) for step in (THIRD, TENTH)}
dials = st.sampled_from(list(DIALS.values()))


@pytest.mark.parametrize(("text", "step", "below"), [
    ("full", THIRD, 0), ("1/1", THIRD, 0), ("1", THIRD, 0), ("1/8", THIRD, 3),
    ("1/8+0.3", THIRD, Fraction(8, 3)), ("1/8+0.3", TENTH, Fraction(27, 10)),
    ("1/2-0.7", THIRD, Fraction(5, 3)), ("1/2-0.7", TENTH, Fraction(17, 10)),
    ("1/8+.3", THIRD, Fraction(8, 3)), (" FULL-0.3 ", THIRD, Fraction(1, 3)),
    ("1/8+1.3", TENTH, Fraction(17, 10)),
])  # fmt: skip
def test_a_power_is_read_exactly(text: str, step: Fraction, below: Fraction) -> None:
    assert stops_below(text, step) == Power(Fraction(below))


@pytest.mark.parametrize("text", ["", "half", "1/7", "1/0", "0.5", "1/8+", "1/8+0.3+0.3", "2", "1/-8", "full+0.3"])
def test_what_is_no_power_is_refused(text: str) -> None:
    with pytest.raises(ValueError, match="above full power" if text == "full+0.3" else "; write it like 1/8"):
        stops_below(text, THIRD)


@given(dials, st.data())
def test_every_power_of_a_dial_reads_back_as_it_is_written(dial: Dial, data: st.DataObject) -> None:
    power = data.draw(st.sampled_from(dial.every()))
    assert dial.read(str(power)) == power
    assert dial.nearest(float(power.below_full or 0)) == power
    assert power.share == pytest.approx(2.0 ** -float(power.below_full or 0))


@given(dials, st.data(), st.integers(-80, 80))
def test_clicks_add_up_without_drift(dial: Dial, data: st.DataObject, clicks: int) -> None:
    power = data.draw(st.sampled_from(dial.every()))
    nudged = dial.nudged(power, clicks)
    assert nudged in dial.every()
    if nudged not in (FULL, dial.lowest):
        assert dial.clicks(power, nudged) == clicks
        assert dial.nudged(nudged, -clicks) == power


def test_a_dial_refuses_what_is_not_on_it() -> None:
    third, tenth = DIALS[THIRD], DIALS[TENTH]
    with pytest.raises(ValueError, match=r"not on this head's dial; 1/8\+0\.3 is the nearest click"):
        third.read("1/8+0.4")
    with pytest.raises(ValueError, match="1/128 is the least"):
        tenth.read("1/128-0.1")
    assert third.read("off") == OFF
    with pytest.raises(ValueError, match="off has no clicks"):
        third.clicks(OFF, FULL)


def test_powers_are_ordered_from_off_to_full() -> None:
    eighth = Power(Fraction(3))
    assert sorted([FULL, OFF, eighth]) == [OFF, eighth, FULL]
    assert (OFF.share, OFF.fires, str(OFF)) == (0.0, False, "off")
    assert DIALS[THIRD].nudged(OFF, 1) == Power(Fraction(7) - THIRD)
