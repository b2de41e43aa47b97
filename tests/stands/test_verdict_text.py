from dataclasses import replace

import pytest

from runbook.model.day import Place
from runbook.stands import verdict_text
from runbook.stands.remedy import tip_remedy
from runbook.stands.statics import Rig
from runbook.stands.verdict import judge
from tests.stands.rigs import PLACE, a_boom, a_box, a_head, a_stand, bags

RIG = Rig(a_stand(), 2.0, a_head(), a_box())
BAGGED = replace(RIG, bags=bags(7.0))
FALLS = replace(RIG, modifier=a_box(6.0, 1.6))
FAR = replace(RIG, bags_at="far legs", bags=bags(7.0))
BOOM = Rig(a_boom(), 2.4, a_head(1.3), a_box(1.3, 0.15), (), bags(7.0))
STEEP = replace(PLACE, tilt_limit_deg=80.0)
ONE_BAG = Rig(
    a_stand(foot_radius_m=0.4, mass_kg=4.0), 2.2, a_head(1.3), a_box(3.0, 0.7), (), bags(12.0), "far legs", True
)


def test_a_push_in_words() -> None:
    assert (
        verdict_text.push_text(RIG, PLACE, BAGGED)
        == "a push of 0.7 kgf at the modifier tips it; with B1 (7 kg) 1.6 kgf"
    )
    assert verdict_text.push_text(RIG, PLACE, BAGGED, "imperial") == (
        "a push of 1.5 lbf at the modifier tips it; with B1 (15.4 lb) 3.5 lbf"
    )
    assert verdict_text.push_text(replace(RIG, modifier=None), PLACE) == "a push of 0.7 kgf at the head tips it"
    assert "at the top tips it" in verdict_text.push_text(Rig(a_stand(), 1.2), PLACE)
    assert verdict_text.push_text(FALLS, PLACE, replace(FALLS, bags=bags(1.0))) == (
        "falls by itself; with B1 (1 kg) it still falls by itself"
    )


@pytest.mark.parametrize(("rig", "place", "texts"), [
    (RIG, PLACE, ["tips at 8.9° of lean, 10° required", "bags 0 kg, 0.8 kg needed at the column"]),
    (BAGGED, PLACE, []),
    (RIG, STEEP, ["no bag at the column is enough: lower it, or turn a leg to the load"]),
    (replace(BAGGED, stand=a_stand(load_max_kg=2.0)), PLACE, ["carries 3.3 kg of 2 kg allowed"]),
    (FALLS, PLACE, ["falls by itself", "safety factor 0.41 against tipping, 1.3 required"]),
    (BAGGED, replace(PLACE, fan_ms=9.0), ["gust limit 4.6 m/s"]),
    (replace(BOOM, stand=a_boom(counterweight_kg=4.0)), PLACE, ["out of balance: hold the arm"]),
    (FAR, PLACE, ["bags 7 kg, at most 5.8 kg at the far legs: hang at the column"]),
    (ONE_BAG, PLACE, ["its bags pull to one side: hang half on each far leg, or all at the column"]),
])  # fmt: skip
def test_faults_in_words(rig: Rig, place: Place, texts: list[str]) -> None:
    lines = verdict_text.faults_text(rig, judge(rig, place), place).split("; ")
    assert set(texts) <= set(lines)
    assert texts or lines == [""]


def test_masses_needed_are_rounded_up_and_masses_at_most_down() -> None:
    # 0.69 kg are 1.521 lb: 0.7 kg, given to the nearest tenth, would be 1.5 lb and too little
    assert [verdict_text.at_least_text(0.69, units) for units in ("metric", "imperial")] == ["0.7 kg", "1.6 lb"]
    assert [verdict_text.at_least_text(kg) for kg in (2.642, 2.7, 0.0)] == ["2.7 kg", "2.7 kg", "0 kg"]
    # 0.755 kg at the column; 0.315 to 5.890 kg at the far legs, that is 0.70 to 12.98 lb
    assert verdict_text.bags_needed_text(judge(RIG, PLACE)) == "0.8 kg"
    far = judge(replace(RIG, bags_at="far legs"), PLACE)
    assert verdict_text.bags_needed_text(far) == "0.4 to 5.8 kg"
    assert verdict_text.bags_needed_text(far, "imperial") == "0.7 to 12.9 lb"
    assert verdict_text.bags_needed_text(judge(RIG, STEEP)) == "none enough"


@pytest.mark.parametrize(("legs", "leg_under_load", "bags_at", "turn"), [
    (3, False, "column", ""),
    (3, False, "far legs", "one leg straight away from the load"),
    (3, True, "far legs", "one leg under the load"),
    (4, False, "far legs", "an edge toward the load"),
])  # fmt: skip
def test_how_the_legs_are_turned(legs: int, leg_under_load: bool, bags_at: str, turn: str) -> None:
    assert verdict_text.turn_text(legs, leg_under_load, bags_at) == turn


def test_where_bags_hang() -> None:
    turned = replace(FAR, leg_under_load=True)
    assert verdict_text.bag_place_text(RIG) == "at the column"
    assert verdict_text.bag_place_text(FAR) == "on the leg straight away from the load"
    assert "one leg straight away from the load" in verdict_text.hanging_text(FAR)
    assert verdict_text.bag_place_text(turned) == "on one of the two legs away from the load"
    assert verdict_text.bag_place_text(replace(turned, bags=bags(7.0, 5.0, 3.0))) == (
        "on the two legs away from the load, B1 on one and B2, B3 on the other"
    )
    # four legs: an edge toward the load has two behind it, a leg under the load has one
    four = replace(FAR, stand=a_stand(legs=4), bags=())
    assert verdict_text.bag_place_text(four) == "on the two legs away from the load, half on each"
    assert verdict_text.bag_place_text(replace(four, leg_under_load=True)) == "on the leg straight away from the load"


def test_bags_by_name() -> None:
    assert verdict_text.bag_names(bags(7.0)) == "B1 (7 kg)"
    assert verdict_text.bag_names(bags(7.0, 5.0, 3.0)) == "B1 (7 kg), B2 (5 kg) and B3 (3 kg)"


@pytest.mark.parametrize(("rig", "text"), [
    (BOOM, "balanced: counterweight 6 kg at 0.8 m"),
    (replace(BOOM, counterweight_on=False), "counterweight off, needs 6 kg at 0.8 m"),
    (replace(BOOM, stand=a_boom(counterweight_kg=4.0)), "counterweight 4 kg, needs 6 kg at 0.8 m: the load side drops"),
    (
        replace(BOOM, stand=a_boom(counterweight_kg=9.0)),
        "counterweight 9 kg, needs 6 kg at 0.8 m: the weight side drops",
    ),
    (RIG, ""),
])  # fmt: skip
def test_the_balance_of_a_boom_in_words(rig: Rig, text: str) -> None:
    assert verdict_text.balance_text(rig, judge(rig, PLACE)) == text


def test_a_remedy_names_bags_or_a_height_that_does() -> None:
    assert tip_remedy(RIG, PLACE, BAGGED) == "hang B1 (7 kg) at the column (0.8 kg needed), or lower it to 1.77 m"
    low = replace(RIG, stand=a_stand(height_min_m=1.9))
    assert tip_remedy(low, PLACE, None) == "bring bags: it needs 0.8 kg in total at the column"
