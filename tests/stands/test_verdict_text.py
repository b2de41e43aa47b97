from __future__ import annotations

from dataclasses import replace

from runbook.stands.rig import Rig
from runbook.stands.verdict import judge
from runbook.stands.verdict_text import (
    bag_count_text,
    bag_names,
    bag_place_text,
    bags_needed_text,
    balance_text,
    far_legs_text,
    faults_text,
    gust_text,
    hanging_text,
    push_text,
    tip_remedy,
    turn_text,
    wind_actions,
)
from runbook.stands.wind import limits_of
from tests.stands.rigs import PLACE, a_boom, a_box, a_head, a_stand, bags

RIG = Rig(a_stand(), 2.0, a_head(), a_box())


def test_a_push_in_words() -> None:
    assert push_text(RIG, PLACE, RIG._replace(bags=bags(7.0))) == (
        "a push of 0.7 kgf at the modifier tips it; one 7 kg bag makes it 1.6"
    )
    assert push_text(RIG._replace(modifier=None), PLACE) == "a push of 0.7 kgf at the head tips it"
    falls = RIG._replace(modifier=a_box(6.0, 1.6))
    assert push_text(falls, PLACE) == "it falls by itself"
    assert push_text(falls, PLACE, falls._replace(bags=bags(1.0))).endswith(
        "one 1 kg bag at the column cannot hold it there"
    )


def test_bags_are_counted() -> None:
    assert bag_count_text(bags(7.0, 7.0)) == "two 7 kg bags"
    assert bag_count_text(bags(7.0, 9.0, 3.0)) == "three bags, 19 kg"
    assert bag_count_text(bags(*(5.0,) * 8)) == "8 5 kg bags"


def test_what_it_lacks_in_one_breath() -> None:
    assert faults_text(RIG, judge(RIG, PLACE), PLACE) == (
        "tips at 8.9° of lean, 10° required; needs 0.8 kg at the column"
    )
    sound = RIG._replace(bags=bags(7.0))
    assert faults_text(sound, judge(sound, PLACE), PLACE) == ""
    steep = replace(PLACE, tilt_limit_deg=80.0)
    assert "no bag at the column is enough" in faults_text(RIG, judge(RIG, steep), steep)
    weak = RIG._replace(stand=a_stand(load_max_kg=2.0))
    assert "carries 3.3 kg, made for 2 kg" in faults_text(weak, judge(weak, PLACE), PLACE)
    falls = RIG._replace(modifier=a_box(6.0, 1.6))
    assert faults_text(falls, judge(falls, PLACE), PLACE).startswith("falls by itself; what holds")
    windy = replace(PLACE, fan_ms=9.0)
    assert "gust limit 4.6 m/s" in faults_text(sound, judge(sound, windy), windy)


def test_what_it_wants_is_said_up_and_what_is_too_much_down() -> None:
    # 0.755 kg at the column; 0.315 to 5.890 kg at the far legs, that is 0.70 to 12.98 lb
    assert bags_needed_text(judge(RIG, PLACE)) == "0.8 kg"
    far = judge(RIG._replace(bags_at="far legs"), PLACE)
    assert bags_needed_text(far) == "0.4 to 5.8 kg"
    assert bags_needed_text(far, "imperial") == "0.7 to 12.9 lb"
    assert bags_needed_text(judge(RIG, replace(PLACE, tilt_limit_deg=80.0))) == "none enough"
    heavy = RIG._replace(bags_at="far legs", bags=bags(7.0))
    assert faults_text(heavy, judge(heavy, PLACE), PLACE).endswith(
        "no more than 5.8 kg helps at the far legs: hang it at the column"
    )


def test_pounds_and_miles_for_those_who_think_in_them() -> None:
    assert push_text(RIG, PLACE, RIG._replace(bags=bags(7.0)), "imperial") == (
        "a push of 1.5 lbf at the modifier tips it; one 15.4 lb bag makes it 3.5"
    )
    assert "needs 1.6 lb" in faults_text(RIG, judge(RIG, PLACE), PLACE, "imperial")
    assert gust_text(6.0, "imperial") == "13.4 mph, force 4, moderate breeze"
    assert gust_text(6.0) == "6.0 m/s, force 4, moderate breeze"


def test_an_empty_stand_is_pushed_at_its_top() -> None:
    assert "at the top tips it" in push_text(Rig(a_stand(), 1.2), PLACE)


def test_what_the_wind_asks_for_the_weakest_first() -> None:
    limits = {"S1": limits_of(10.0), "S2": limits_of(5.0), "S3": limits_of(6.0)}
    # limits 8.16, 4.08 and 4.90 m/s; watch at 60 %, act at 80 % of each
    assert wind_actions(limits, 5.0) == (
        "S2 (limit 4.1 m/s) down first, now",
        "S3 (limit 4.9 m/s) down now",
        "S1 (limit 8.2 m/s) watched",
    )
    assert wind_actions(limits, 4.0) == (
        "S2 (limit 4.1 m/s) a person on it, or down",
        "S3 (limit 4.9 m/s) a person on it, or down",
    )
    assert wind_actions(limits, 1.0) == ()


def test_which_legs_bags_hang_on_and_how_the_legs_are_turned() -> None:
    assert bag_place_text(RIG) == "at the column"
    assert turn_text(3, leg_under_load=False, bags_at="column") == ""
    far = RIG._replace(bags_at="far legs", bags=bags(7.0))
    assert bag_place_text(far) == "on the leg straight away from the load"
    assert turn_text(3, False, "far legs") == "one leg straight away from the load"
    assert "one leg straight away from the load" in hanging_text(far)
    turned = far._replace(leg_under_load=True)
    assert bag_place_text(turned) == "on one of the two legs away from the load"
    assert turn_text(3, True, "far legs") == "one leg under the load"
    shared = turned._replace(bags=bags(7.0, 5.0, 3.0))
    assert bag_place_text(shared) == ("on the two legs away from the load, B1 on one and B2, B3 on the other")
    # four legs: an edge toward the load has two behind it, a leg under the load has one
    assert far_legs_text(4, False) == "on the two legs away from the load, half on each"
    assert far_legs_text(4, True) == "on the leg straight away from the load"
    assert turn_text(4, False, "far legs") == "an edge toward the load"


def test_bags_are_named() -> None:
    assert bag_names(bags(7.0)) == "B1 (7 kg)"
    assert bag_names(bags(7.0, 5.0, 3.0)) == "B1 (7 kg), B2 (5 kg) and B3 (3 kg)"


def test_a_boom_s_balance_in_words() -> None:
    boom = Rig(a_boom(), 2.4, a_head(1.3), a_box(1.3, 0.15), (), bags(7.0))
    assert balance_text(boom, judge(boom, PLACE)) == "balanced: counterweight 6 kg at 0.8 m"
    off = boom._replace(counterweight_on=False)
    assert balance_text(off, judge(off, PLACE)) == "counterweight off, needs 6 kg at 0.8 m"
    light = boom._replace(stand=a_boom(counterweight_kg=4.0))
    assert balance_text(light, judge(light, PLACE)) == ("counterweight 4 kg, needs 6 kg at 0.8 m: the head side drops")
    assert "not to be let go" in faults_text(light, judge(light, PLACE), PLACE)
    heavy = boom._replace(stand=a_boom(counterweight_kg=9.0))
    assert balance_text(heavy, judge(heavy, PLACE)).endswith("the weight side drops")
    assert balance_text(RIG, judge(RIG, PLACE)) == ""


def test_one_bag_on_one_far_leg_is_said_to_pull_aside() -> None:
    one = RIG._replace(
        stand=a_stand(foot_radius_m=0.4, mass_kg=4.0),
        height_m=2.2,
        head=a_head(1.3),
        modifier=a_box(3.0, 0.7),
        bags=bags(12.0),
        bags_at="far legs",
        leg_under_load=True,
    )
    assert faults_text(one, judge(one, PLACE), PLACE).endswith(
        "its bags pull to one side: hang half on each far leg, or all at the column"
    )


def test_a_remedy_names_bags_or_a_height_that_does() -> None:
    hung = RIG._replace(bags=bags(7.0))
    assert tip_remedy(RIG, PLACE, hung) == ("hang B1 (7 kg) at the column (0.8 kg needed), or lower it to 1.77 m")
    low = RIG._replace(stand=a_stand(height_min_m=1.9))
    assert tip_remedy(low, PLACE, None) == "bring bags: it needs 0.8 kg in total at the column"
