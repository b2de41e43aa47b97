from dataclasses import replace

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from runbook.stands import remedy
from runbook.stands.statics import Rig, Sail, bags_kg
from runbook.stands.verdict import is_stable, judge
from tests.stands.rigs import PLACE, RIGS, a_boom, a_box, a_head, a_stand, bags, numbers

# 7.2 kg of head, box and arm: 8.55 kg m on the head side, so 11.4 kg at 0.75 m balance it
UNBALANCED = Rig(
    a_boom(arm_m=1.5, arm_back_m=0.75, arm_mass_kg=2.0, counterweight_kg=5.0, load_max_kg=14.0),
    2.0, a_head(3.2), a_box(2.0), (), bags(7.0, 7.0),
)  # fmt: skip
TALL = Rig(a_stand(), 2.0, a_head(), a_box())


def test_a_counterweight_that_overloads_the_stand_is_no_remedy() -> None:
    would = judge(remedy.balanced(UNBALANCED), PLACE)
    assert would.load_kg == pytest.approx(18.6)
    assert would.faults == ("load",)
    assert remedy.balance_remedy(UNBALANCED, PLACE) == (
        "use a heavier stand or a shorter arm: balanced, it carries 18.6 kg of 14 kg allowed"
    )
    strong = replace(UNBALANCED, stand=replace(UNBALANCED.stand, load_max_kg=20.0))
    assert remedy.balance_remedy(strong, PLACE) == "hang 11.4 kg at 0.75 m"


@given(RIGS, numbers(1, 30))
def test_no_balance_remedy_breaks_a_limit(rig: Rig, load_max_kg: float) -> None:
    assume(rig.stand.is_boom)
    rig = replace(rig, stand=replace(rig.stand, load_max_kg=load_max_kg))
    assume("balance" in judge(rig, PLACE).faults)
    would = judge(remedy.balanced(rig), PLACE)
    assert "balance" not in would.faults or would.counterweight_needed_kg == 0.0
    if "load" in would.faults:
        assert "hang" not in remedy.balance_remedy(rig, PLACE)


def test_of_a_stand_with_a_panel_only_what_a_plan_can_say_is_a_remedy() -> None:
    # with a leg under it the same load would stand
    head = replace(TALL, head=a_head(2.0), modifier=a_box(1.3, 0.3))
    panel = replace(TALL, head=None, modifier=None, sail=Sail("R1", 3.3, 0.05, 1.0, 1.2))
    assert not is_stable(judge(panel, PLACE))
    assert remedy.stable_arrangement(head, PLACE) is not None
    assert remedy.stable_arrangement(panel, PLACE) is None
    assert remedy.tip_remedy(panel, PLACE, None).startswith("lower it")


def test_a_weight_that_is_too_heavy_is_slid_in() -> None:
    heavy = Rig(a_boom(counterweight_kg=9.0), 2.0, a_head(2.0), a_box(1.3))
    at = remedy.counterweight_slide_m(heavy)
    assert at == pytest.approx((3.3 * 1.6 + 1.6 * 0.4) / 9.0)
    light = replace(heavy, stand=a_boom(counterweight_kg=6.0))
    assert remedy.counterweight_slide_m(light) is None


@given(RIGS)
def test_lowered_to_the_height_given_it_stands(rig: Rig) -> None:
    height = remedy.stable_height_m(rig, PLACE)
    if height is None:
        low = replace(rig, height_m=rig.stand.height_min_m)
        assert rig.height_m <= low.height_m or not is_stable(judge(low, PLACE))
    else:
        assert rig.stand.height_min_m <= height <= rig.height_m
        assert is_stable(judge(replace(rig, height_m=height), PLACE))


@given(st.lists(RIGS, min_size=1, max_size=3), st.lists(numbers(1, 12), max_size=5))
def test_planned_bags_hang_once_and_hold_their_stands(drawn: list[Rig], masses: list[float]) -> None:
    free = bags(*masses)
    rigs = {
        f"T{n}": replace(rig, bags=tuple(replace(bag, id=f"{n}-{bag.id}") for bag in rig.bags))
        for n, rig in enumerate(drawn)
    }
    planned = remedy.plan_bags(rigs, free, PLACE)
    after = rigs | dict(planned.rigs)
    hung = [bag.id for rig in after.values() for bag in rig.bags]
    assert len(hung) == len(set(hung))
    there = {bag.id for bag in free} | {bag.id for rig in rigs.values() for bag in rig.bags}
    assert set(hung) <= there
    for stand, rig in planned.rigs.items():
        if stand not in planned.lacks_kg:
            assert is_stable(judge(rig, PLACE))
    for stand, rig in rigs.items():
        fine = is_stable(judge(rig, PLACE))
        if stand not in planned.rigs and stand not in planned.lacks_kg:
            assert fine or judge(replace(rig, bags_at="column"), PLACE).bags_needed_kg is None


def test_a_bag_is_promised_once_where_a_stand_tips_by_grams() -> None:
    column = a_boom(legs=4, foot_radius_m=0.7305, arm_mass_kg=2.375, counterweight_kg=1.8438)
    boom = Rig(column, 2.875, a_head(3.6719), a_box(4.0, 0.0), (), bags(6.125, 11.375))
    stand = Rig(a_stand(legs=3, foot_radius_m=0.5, mass_kg=1.0), 1.0, a_head(1.0), a_box(0.0, 0.0))
    rigs = {"S1": stand, "S2": stand, "boom": boom}
    planned = remedy.plan_bags(rigs, (), PLACE)
    hung = [bag.id for rig in (rigs | dict(planned.rigs)).values() for bag in rig.bags]
    assert len(hung) == len(set(hung))
    assert "boom" in planned.lacks_kg


def test_the_free_bags_go_where_they_are_lacking() -> None:
    sound = replace(TALL, bags=bags(7.0))
    planned = remedy.plan_bags({"S1": TALL, "S2": sound}, bags(1.0, 9.0)[1:], PLACE)
    assert {stand: [bag.id for bag in rig.bags] for stand, rig in planned.rigs.items()} == {"S1": ["B2"]}
    assert not planned.again


def test_bags_are_shared_again_where_the_free_ones_are_too_few() -> None:
    both = {"S1": TALL, "S2": replace(TALL, bags=bags(7.0, 5.0))}
    planned = remedy.plan_bags(both, (), PLACE)
    assert planned.again
    assert not planned.lacks_kg
    assert {rig.bags[0].id for rig in planned.rigs.values()} == {"B1", "B2"}


def test_what_is_missing_is_named_by_stand() -> None:
    planned = remedy.plan_bags({"S1": TALL, "S2": TALL}, bags(7.0), PLACE)
    ((stand, kg),) = planned.lacks_kg.items()
    assert stand in ("S1", "S2")
    assert kg == pytest.approx(judge(TALL, PLACE).bags_needed_kg)
    assert sum(bags_kg(rig) for rig in planned.rigs.values()) == 7.0


def test_bags_too_heavy_for_the_far_legs_hang_at_the_column() -> None:
    # 0.32 to 5.89 kg do at the far legs
    far = replace(TALL, bags_at="far legs")
    assert remedy.plan_bags({"S1": far}, bags(7.0, 7.0), PLACE).rigs["S1"].bags_at == "column"
    for kept in ((5.0,), (7.0, 5.0), (3.0, 3.0, 7.0)):
        assert remedy.plan_bags({"S1": far}, bags(*kept), PLACE).rigs["S1"].bags_at == "far legs"
