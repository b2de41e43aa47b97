"""Steps on a floor: what can be done by hand, what cannot, and how long it takes by default."""

import re
from dataclasses import replace
from pathlib import Path

import pytest

from runbook.changeover.floor import EMPTY, Carrier, ClothSpot, HeadAt, Hung, PanelOn, PanelSpot, Spot, StandAt
from runbook.changeover.steps import DEFAULT_S, CannotBeDone, Step, apply, from_plain, to_plain
from runbook.model.power import OFF, Power

STANDING = replace(
    EMPTY, stands={"S1": StandAt(Spot(1.0, 0.0), 1.0)}, heads={"A": HeadAt("S1", armed=True)}, tested=True
)
BAG, MOVE = Step("bag", "bag", "B1", to=Hung("stand", "S1", "column")), Step("move", "stand", "S1", to=Spot(2.0, 0.0))
IMPOSSIBLE = {
    "S1 already stands": Step("place", "stand", "S1", to=StandAt(Spot(0, 0), 1.0)),
    "S2 is not on the set": Step("move", "stand", "S2", to=Spot(0, 0)),
    "S1 still carries its load": Step("strike", "stand", "S1", to=1.0),
    "S1 already carries a load": Step("fit", "head", "B", on="S1"),
    "B is not on S1": Step("free", "head", "B", on="S1", to="case"),
    "C is in its case": Step("fit", "modifier", "M1", on="C"),
    "M1 is not on A": Step("free", "modifier", "M1", on="A", to="case"),
    "M1 is in its case": Step("fit", "accessory", "G1", to=Carrier("modifier", "M1")),
    "not every head behind V": Step("fit", "cloth", "V", to=("A", "B")),
    "V does not hang": Step("free", "cloth", "V"),
    "counterweight of S1 is already so": Step("free", "counterweight", "S1"),
    "S9 is not on the set": replace(BAG, to=Hung("stand", "S9", "column")),
    "B1 does not hang": Step("unbag", "bag", "B1"),
    "B is not on a stand": Step("power", "head", "B", to=OFF),
}


@pytest.mark.parametrize("why", IMPOSSIBLE)
def test_what_makes_no_sense_is_refused_with_the_reason(why: str) -> None:
    with pytest.raises(CannotBeDone, match=why):
        apply(STANDING, IMPOSSIBLE[why])


def test_a_step_leaves_the_floor_it_was_done_on_alone_and_asks_for_a_new_test() -> None:
    before = dict(STANDING.stands)
    moved = apply(STANDING, MOVE)
    assert STANDING.stands == before
    assert (moved.stands["S1"].spot, moved.tested) == (Spot(2.0, 0.0), False)
    assert apply(moved, Step("test", "set", "set")).tested


def test_a_bagged_stand_is_not_moved() -> None:
    with pytest.raises(CannotBeDone, match="S1 still carries bags"):
        apply(apply(STANDING, BAG), MOVE)


def test_a_stand_under_a_hung_cloth_goes_up_and_down_with_the_other_one() -> None:
    stands = {name: StandAt(Spot(x, 0.0), 1.0, rail="V") for name, x in (("S1", 1.0), ("S2", -1.0))}
    hung = replace(EMPTY, stands=stands, hung={"V": ClothSpot(0.0, 0.0, 1.0, 0, ("S1", "S2"))})
    with pytest.raises(CannotBeDone, match="S1 still carries V"):
        apply(hung, Step("raise", "stand", "S1", to=1.2))
    raised = apply(hung, Step("raise", "cloth", "V", "S1 S2", to=1.2))
    assert {at.height_m for at in raised.stands.values()} == {1.2}
    assert apply(replace(hung, hung={}), Step("raise", "stand", "S1", to=1.2)).stands["S1"].height_m == 1.2


def test_a_stand_carries_one_load_and_a_panel_in_hands_no_bag() -> None:
    on_it = replace(EMPTY, stands={"S1": StandAt(Spot(1.0, 0.0), 1.0)}, panels={"P1": PanelOn("S1", 0, 0, None)})
    with pytest.raises(CannotBeDone, match="S1 carries something else"):
        apply(on_it, Step("fit", "rail", "S1", "V"))
    in_hands = replace(EMPTY, panels={"P1": PanelSpot(1.0, 0.0, 1.2, 0, 0, None, "first")})
    with pytest.raises(CannotBeDone, match="P1 is not on the set"):
        apply(in_hands, replace(BAG, to=Hung("panel", "P1", "column")))


def test_a_held_stand_is_in_hands_until_it_is_let_go() -> None:
    held = apply(STANDING, replace(MOVE, grip="take", held="S1"))
    assert held.in_hands == {"S1"}
    assert apply(held, replace(BAG, grip="leave", held="S1")).in_hands == frozenset()


@pytest.mark.parametrize("power", ["off", "3", "10/3"])
def test_a_power_is_kept_in_a_journal_exactly(power: str) -> None:
    step = from_plain({"verb": "power", "kind": "head", "item": "A", "to": power})
    assert isinstance(step.to, Power)
    assert to_plain(step)["to"] == power
    assert apply(STANDING, step).heads["A"].power == step.to


@pytest.mark.parametrize("facts", [
    {"verb": "fly", "kind": "stand", "item": "S1"},
    {"wings": 2},
    {"verb": "move", "kind": "stand", "item": "S1", "to": [1, 2, 3, 4]},
    {"verb": "power", "kind": "head", "item": "A", "to": "much"},
])  # fmt: skip
def test_facts_of_no_step_are_refused(facts: dict[str, object]) -> None:
    with pytest.raises(CannotBeDone, match="not a step"):
        from_plain(facts)


def test_the_page_of_durations_prints_the_table_the_program_uses() -> None:
    page = (Path(__file__).parents[2] / "docs" / "durations.md").read_text("utf-8")
    rows = re.findall(r"^\| ([a-z]+) \| ([a-z]+) \| ([\d.]+) \|$", page, re.M)
    assert {(verb, kind): float(seconds) for verb, kind, seconds in rows} == DEFAULT_S
    assert len(rows) == len(DEFAULT_S)
