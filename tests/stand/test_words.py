from __future__ import annotations

import pytest

from runbook.plan.day import Place
from runbook.plan.kit import Panel
from runbook.stand.judge import judge
from runbook.stand.panel import judge_panel
from runbook.stand.rig import Rig
from runbook.stand.wind import limits_of
from runbook.stand.words import (
    balance_words,
    counted,
    gust_words,
    hang_words,
    lack_words,
    push_words,
    wanted_words,
    wind_words,
)
from tests.stand.rigs import PLACE, a_boom, a_box, a_head, a_stand, bags

RIG = Rig(a_stand(), 2.0, a_head(), a_box())


def test_a_push_in_words() -> None:
    assert push_words(RIG, PLACE, bags(7.0)) == (
        "a push of 0.7 kgf at the modifier tips it; one 7 kg bag makes it 1.6"
    )
    assert push_words(RIG._replace(modifier=None), PLACE) == "a push of 0.7 kgf at the head tips it"
    falls = RIG._replace(modifier=a_box(6.0, 1.6))
    assert push_words(falls, PLACE) == "it falls by itself"
    assert push_words(falls, PLACE, bags(1.0)).endswith(
        "one 1 kg bag at the column cannot hold it there"
    )


def test_bags_are_counted() -> None:
    assert counted(bags(7.0, 7.0)) == "two 7 kg bags"
    assert counted(bags(7.0, 9.0, 3.0)) == "three bags, 19 kg"
    assert counted(bags(*(5.0,) * 8)) == "8 5 kg bags"


def test_where_to_hang_it() -> None:
    assert "at the column" in hang_words(RIG)
    far = RIG._replace(bags_at="far legs")
    assert "on the leg away from the load, turned straight away from it" in hang_words(far)
    assert "shared by the two legs" in hang_words(far._replace(leg_under_load=True))
    four = far._replace(stand=a_stand(legs=4))
    assert "shared by the two legs away from the load, half on each" in hang_words(four)
    assert "a push the other way" in hang_words(four)
    assert "on the leg away from the load" in hang_words(four._replace(leg_under_load=True))


def test_what_it_lacks_in_one_breath() -> None:
    assert lack_words(RIG, judge(RIG, PLACE), PLACE) == (
        "tips at 8.9° of lean, 10° wanted; needs 0.8 kg at the column"
    )
    sound = RIG._replace(bags=bags(7.0))
    assert lack_words(sound, judge(sound, PLACE), PLACE) == ""
    steep = PLACE._replace(tilt_limit_deg=80.0)
    assert "no bag at the column is enough" in lack_words(RIG, judge(RIG, steep), steep)
    weak = RIG._replace(stand=a_stand(load_max_kg=2.0))
    assert "carries 3.3 kg, made for 2 kg" in lack_words(weak, judge(weak, PLACE), PLACE)
    falls = RIG._replace(modifier=a_box(6.0, 1.6))
    assert lack_words(falls, judge(falls, PLACE), PLACE).startswith("falls by itself; what holds")
    windy = PLACE._replace(fan_ms=9.0)
    assert "stands gusts of 4.7 m/s at the most" in lack_words(sound, judge(sound, windy), windy)


def test_what_it_wants_is_said_up_and_what_is_too_much_down() -> None:
    # 0.755 kg at the column; 0.315 to 5.890 kg at the far legs, that is 0.70 to 12.98 lb
    assert wanted_words(judge(RIG, PLACE)) == "0.8 kg"
    far = judge(RIG._replace(bags_at="far legs"), PLACE)
    assert wanted_words(far) == "0.4 to 5.8 kg"
    assert wanted_words(far, "imperial") == "0.7 to 12.9 lb"
    assert wanted_words(judge(RIG, PLACE._replace(tilt_limit_deg=80.0))) == "none enough"
    heavy = RIG._replace(bags_at="far legs", bags=bags(7.0))
    assert lack_words(heavy, judge(heavy, PLACE), PLACE).endswith(
        "no more than 5.8 kg helps at the far legs: hang it at the column"
    )


def test_pounds_and_miles_for_those_who_think_in_them() -> None:
    assert push_words(RIG, PLACE, bags(7.0), "imperial") == (
        "a push of 1.5 lbf at the modifier tips it; one 15.4 lb bag makes it 3.5"
    )
    assert "needs 1.6 lb" in lack_words(RIG, judge(RIG, PLACE), PLACE, "imperial")
    assert gust_words(6.0, "imperial") == "13.4 mph, force 4, moderate breeze"
    assert gust_words(6.0) == "6.0 m/s, force 4, moderate breeze"


def test_an_empty_stand_is_pushed_at_its_top() -> None:
    assert "at the top tips it" in push_words(Rig(a_stand(), 1.2), PLACE)


def test_a_boom_s_balance_in_words() -> None:
    boom = Rig(a_boom(), 2.4, a_head(1.3), a_box(1.3, 0.15), (), bags(7.0))
    assert balance_words(boom, judge(boom, PLACE)) == "it balances: 6 kg at 0.8 m behind the pivot"
    off = boom._replace(counterweight_on=False)
    assert balance_words(off, judge(off, PLACE)).startswith("its counterweight is off; 6 kg at")
    light = boom._replace(stand=a_boom(counterweight_kg=4.0))
    assert "4 kg hangs there and the head side goes down" in balance_words(
        light, judge(light, PLACE)
    )
    heavy = boom._replace(stand=a_boom(counterweight_kg=9.0))
    assert "the weight side goes down" in balance_words(heavy, judge(heavy, PLACE))
    assert balance_words(RIG, judge(RIG, PLACE)) == ""


def test_what_the_wind_asks_for_the_weakest_first() -> None:
    limits = {"S1": limits_of(10.0), "S2": limits_of(5.0), "S3": limits_of(6.0)}
    # limits 8.16, 4.08 and 4.90 m/s; watch at 60 %, act at 80 % of each
    assert wind_words(limits, 5.0) == (
        "S2 (limit 4.1 m/s) down first, now",
        "S3 (limit 4.9 m/s) down now",
        "S1 (limit 8.2 m/s) watched",
    )
    assert wind_words(limits, 4.0) == (
        "S2 (limit 4.1 m/s) a person on it, or down",
        "S3 (limit 4.9 m/s) a person on it, or down",
    )
    assert wind_words(limits, 1.0) == ()


def test_a_panel_that_goes_over_for_certain_comes_down_before_a_stand_past_its_limit() -> None:
    gust = Place(indoors=False, gust_ms=10.7)
    flat, card = (
        judge_panel(Panel(name, width, 2.4, 0.85, mass_kg=9.0), 1.2, 5.0, gust)
        for name, width in (("flat", 1.2), ("card", 0.9))
    )
    # the card's sail is less, and so is its lever: the same gust takes both (width falls out)
    assert card.over_ms == pytest.approx(flat.over_ms)
    heavy = judge_panel(Panel("heavy", 1.2, 2.4, 0.85, mass_kg=40.0), 1.2, 0.0, gust)
    assert wind_words({"S1": limits_of(6.0)}, 10.7, panels=(heavy, flat)) == (
        "flat (goes over for certain past 8.1 m/s) take down first, now",
        "S1 (limit 4.9 m/s) down now",
        "heavy (goes over for certain past 13.6 m/s) a person on it, or down",
    )
