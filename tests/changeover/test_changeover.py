"""Laws of the changeover, over random kits and floors."""

import random
from dataclasses import replace
from math import hypot

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from runbook.changeover.changeover import changeover, worded_changeover
from runbook.changeover.floor import EMPTY, Carrier, Floor, floor_of
from runbook.changeover.step_text import Scene, step_text
from runbook.changeover.steps import CannotBeDone, Step, apply, from_plain, to_plain
from runbook.journal.events import StepTicked, decode, encode
from runbook.model.kit import Kit
from runbook.model.setup import Setup
from tests.changeover import floors as made
from tests.changeover.test_floor import KEY, RAIL, held, setup

PLAIN = made.kit_of((False,) * 5, (False,) * 5)


@st.composite
def pairs(draw: st.DrawFn) -> tuple[Kit, Floor, Floor]:
    """A kit and two floors of it; now and then one of them is the empty floor."""
    kit = draw(made.kits())
    one, other = (floor_of(draw(made.setups(kit, name)), kit) for name in ("one", "other"))
    ends = draw(made.one_of("both", "both", "both", "load-in", "wrap"))
    return kit, EMPTY if ends == "load-in" else one, EMPTY if ends == "wrap" else other


def walked(floor: Floor, steps: list[Step] | tuple[Step, ...], goal: Floor, kit: Kit) -> list[str]:
    """Walk the steps; everything that was wrong on the way."""
    wrong: list[str] = []
    now = floor
    for step in steps:
        try:
            after = apply(now, step)
        except CannotBeDone as odd:
            return [*wrong, f"{step.key}: {odd}"]
        wrong += made.forbidden(step, now, kit) + made.unsafe(after, floor, goal, kit)
        wrong += made.falls(after, floor, kit) + made.taken(step, now, goal) + made.look_on_the_mark(step, now)
        now = after
    if not made.same(now, goal):
        wrong.append("the target is not reached")
    kept = [stand for stand in now.in_hands if not made.faults_of(now, stand, kit)]
    if kept:
        wrong.append(f"still in hands: {sorted(kept)}")
    return wrong


def shuffled(steps: tuple[Step, ...], seed: int) -> list[Step]:
    """One of the orders that ``after`` allows."""
    pick = random.Random(seed)
    left, done, order = list(steps), set[int](), list[Step]()
    while left:
        step = pick.choice([step for step in left if set(step.after) <= done])
        left.remove(step)
        done.add(step.n)
        order.append(step)
    return order


@given(pairs(), st.integers(0, 2**32))
def test_every_order_that_after_allows_gives_the_target_safely(case: tuple[Kit, Floor, Floor], seed: int) -> None:
    kit, start, goal = case
    steps = changeover(start, goal, kit, made.PLACE)
    assert [step.n for step in steps] == list(range(1, len(steps) + 1))
    assert all(max(step.after, default=0) < step.n for step in steps)
    for order in (steps, shuffled(steps, seed)):
        assert walked(start, order, goal, kit) == []
    assert changeover(start, start, kit, made.PLACE) == ()


@st.composite
def heavy_pairs(draw: st.DrawFn) -> tuple[Kit, Floor, Floor]:
    kit = draw(made.heavy_kits())
    one, other = (floor_of(draw(made.setups(kit, name)), kit) for name in ("one", "other"))
    return kit, draw(st.sampled_from([EMPTY, one])), draw(st.sampled_from([EMPTY, other, other]))


@given(heavy_pairs(), made.PLACES, st.integers(0, 2**32))
def test_in_any_wind_and_however_heavy_nothing_falls_that_nobody_holds(case, place, seed):
    kit, start, goal = case
    now = start
    for step in shuffled(changeover(start, goal, kit, place), seed):
        now = apply(now, step)
        assert made.falls(now, start, kit, place) == [], step.key
    assert made.same(now, goal)
    # a stand that would fall as planned is not let go at the end either, and no other is kept
    assert all(made.faults_of(now, stand, kit, place) for stand in now.in_hands)


@given(pairs(), st.data())
def test_from_any_moment_of_a_changeover_every_other_floor_is_reached(case, data):
    kit, start, goal = case
    other = data.draw(st.sampled_from([EMPTY, start, goal, floor_of(data.draw(made.setups(kit, "third")), kit)]))
    steps = shuffled(changeover(start, goal, kit, made.PLACE), data.draw(st.integers(0, 2**32)))
    now = start
    for step in steps[: data.draw(st.integers(0, len(steps)))]:
        now = apply(now, step)
    assert walked(now, changeover(now, other, kit, made.PLACE), other, kit) == []


@settings(max_examples=20)
@given(pairs())
def test_no_step_is_superfluous(case: tuple[Kit, Floor, Floor]) -> None:
    kit, start, goal = case
    steps = changeover(start, goal, kit, made.PLACE)
    for left_out in steps:
        rest = [step for step in steps if step is not left_out]
        assert walked(start, rest, goal, kit) != [], left_out


@given(pairs())
def test_a_step_survives_the_journal(case: tuple[Kit, Floor, Floor]) -> None:
    kit, start, goal = case
    now = start
    for step in changeover(start, goal, kit, made.PLACE):
        kept = decode("step-ticked", encode(StepTicked("one", to_plain(step))))
        now = apply(now, from_plain(kept.step))
    assert made.same(now, goal)


@given(pairs())
def test_ahead_steps_leave_the_running_setup_alone(case: tuple[Kit, Floor, Floor]) -> None:
    kit, start, goal = case
    steps = changeover(start, goal, kit, made.PLACE)
    ahead = [step for step in steps if step.ahead]
    assert {n for step in ahead for n in step.after} <= {step.n for step in ahead}
    held = {step.held for step in ahead if step.held}
    assert not any(step.held in held and not step.ahead for step in steps)
    now = start
    for step in ahead:
        now = apply(now, step)
    for table in ("stands", "heads", "modifiers", "accessories", "cloths", "panels", "bags"):
        before, after = getattr(start, table), getattr(now, table)
        assert {key: after[key] for key in before} == before
    assert not any(now.heads[head].armed for head in now.heads.keys() - start.heads.keys())


@pytest.mark.parametrize(("before", "after", "order"), [
    (("G0",), ("G0", "G1"), ["fit G1"]),
    (("G0",), ("G1", "G0"), ["free G0", "fit G1", "fit G0"]),
    (("G0", "G1"), ("G1",), ["free G1", "free G0", "fit G1"]),
    (("G0", "G1"), ("G1", "G0"), ["free G1", "free G0", "fit G1", "fit G0"]),
    (("G0", "G1"), ("G2", "G1"), ["free G1", "free G0", "fit G2", "fit G1"]),
    (("G0", "G1"), (), ["free G1", "free G0"]),
])  # fmt: skip
def test_accessories_go_on_in_the_order_they_are_listed_and_off_the_other_way(before, after, order):
    start, goal = (floor_of(setup(replace(KEY, accessories=on, through=())), PLAIN) for on in (before, after))
    steps = changeover(start, goal, PLAIN, made.PLACE)
    assert [f"{step.verb} {step.item}" for step in steps if step.kind == "accessory"] == order
    for seed in range(20):
        assert walked(start, shuffled(steps, seed), goal, PLAIN) == []


def test_an_accessory_journalled_without_what_is_under_it_is_still_known() -> None:
    """As journals were written before the order counted."""
    old = from_plain({"verb": "fit", "kind": "accessory", "item": "G0", "on": "M0", "to": ["modifier", "M0"]})
    bare = floor_of(setup(replace(KEY, accessories=())), PLAIN)
    assert apply(bare, old).accessories == {"G0": Carrier("modifier", "M0")}


def moves(step: Step) -> bool:
    """Whether a stand, a panel or the arm of a boom moves."""
    moved = step.verb in ("place", "strike", "move", "raise", "lower", "fit", "free")
    return (moved and step.kind in ("stand", "panel")) or step.kind == "counterweight"


@given(pairs(), st.integers(0, 2**16))
def test_a_change_of_look_sends_the_talent_off_first_and_back_last(case: tuple[Kit, Floor, Floor], seed: int) -> None:
    kit, start, goal = case
    order = shuffled(changeover(start, goal, kit, made.PLACE), seed)
    comes = next((at for at, step in enumerate(order) if step.verb == "turn" and step.to is not None), len(order))
    assert not any(moves(step) for step in order[comes:])
    if start.subject is None or goal.subject is None or start.subject.look == goal.subject.look:
        assert sum(step.verb == "turn" for step in order) <= 1
        return
    leaves = next(at for at, step in enumerate(order) if step.verb == "turn")
    assert order[leaves].to is None
    for step in order[:leaves]:
        put_down = step.key[:2] == ("strike", "panel") and step.on is not None
        assert step.ahead or step.kind == "camera" or step.verb in ("power", "disarm") or put_down
    assert [step.verb for step in order[-2:]] == ["turn", "test"]
    assert order[-2].to == goal.subject


@given(pairs())
def test_a_step_on_a_stand_is_named_after_the_head_it_carries_then(case: tuple[Kit, Floor, Floor]) -> None:
    kit, start, goal = case
    now = start
    for step in changeover(start, goal, kit, made.PLACE):
        head = now.head_on(step.item if step.kind in ("stand", "counterweight") else str(step.on))
        if head is not None and step.kind in ("stand", "counterweight", "bag"):
            assert step.thing == head
        panel = made.panel_on(now, step.item) if step.kind in ("stand", "counterweight") else None
        assert panel is None or step.thing == panel
        if step.key[:2] == ("free", "head"):  # no schedule keeps a person free to hold it: it is set down
            assert "hand" not in step_text(step, now, Scene(kit, None))
        now = apply(now, step)


@given(pairs(), st.integers(0, 2**16))
def test_a_new_head_is_armed_once_its_stand_is_up_and_no_boom_is_done_ahead(case, seed):
    kit, start, goal = case
    armed = set()
    for step in shuffled(changeover(start, goal, kit, made.PLACE), seed):
        if step.verb == "arm":
            armed.add(goal.heads[step.item].stand)
        assert not (step.verb == "raise" and step.item in armed)
        if step.ahead and step.kind in ("stand", "counterweight"):
            assert not kit.stand[step.item].is_boom


def verbs(start: Setup, goal: Setup, people: int = 6) -> list[str]:
    """What is done to panels and their stands, in the order listed."""
    floors = floor_of(start, PLAIN), floor_of(goal, PLAIN)
    steps = worded_changeover(*floors, Scene(PLAIN, goal, people=people), made.PLACE)
    for seed in range(5):
        assert walked(floors[0], shuffled(steps, seed), floors[1], PLAIN) == []
    return [f"{step.verb} {step.item}" for step in steps if step.kind in ("stand", "panel", "bag")]


HIGH = {"height_m": 2.1, "distance_m": 1.6, "bags": ("B1",)}


@pytest.mark.parametrize(("before", "after", "order"), [
    (None, held("S1", **HIGH), ["place S1", "bag B1", "fit P0", "raise S1"]),
    (held("S1", **HIGH), None, ["lower S1", "free P0", "unbag B1", "strike S1"]),
    # turned within reach; above it the stand comes down for it
    (held("S1"), held("S1", face_to="A"), ["aim P0"]),
    (held("S1", **HIGH), held("S1", face_to="A", **HIGH), ["lower S1", "aim P0", "raise S1"]),
    (held("S1"), held("S2"), ["lower S1", "free P0", "strike S1", "place S2", "fit P0", "raise S2"]),
    (held("S1"), held(None), ["lower S1", "free P0", "strike S1", "place P0"]),
    (held("first"), held("S1"), ["strike P0", "place S1", "fit P0", "raise S1"]),
    (held("first"), held("first", angle_deg=70.0), ["strike P0", "place P0"]),
    (held("first"), held("photo"), ["strike P0", "place P0"]),
    (held("first"), held("first"), []),
])  # fmt: skip
def test_a_panel_goes_on_its_stand_as_a_head_does_and_a_person_takes_it_and_puts_it_down(before, after, order):
    lit = replace(KEY, through=())
    start, goal = (setup(lit, panels=(place,) if place else ()) for place in (before, after))
    assert sorted(verbs(start, goal)) == sorted(order)


@pytest.mark.parametrize(("people", "order"), [(3, []), (2, ["strike P0", "place P0"])])
def test_a_panel_held_throughout_is_put_down_where_the_hands_are_needed(people: int, order: list[str]) -> None:
    heavy = replace(KEY, through=(), head="B", stand="S2", modifier="M1", accessories=(), bags=(), angle_deg=30.0)
    kit = replace(PLAIN, heads=tuple(replace(head, mass_kg=8.0) for head in PLAIN.heads))
    start, goal = (setup(*lights, panels=(held("first"),)) for lights in ((), (heavy,)))
    steps = worded_changeover(
        floor_of(start, kit), floor_of(goal, kit), Scene(kit, goal, people=people), made.PLACE
    )  # fmt: skip
    assert max(step.hands for step in steps) == 2
    assert [f"{step.verb} {step.item}" for step in steps if step.kind == "panel"] == order
    assert all(step.hands + len(step.busy) <= people for step in steps)


def test_what_takes_more_than_hold_no_panel_is_not_done_ahead() -> None:
    heavy = replace(KEY, through=(), head="B", stand="S2", modifier="M1", accessories=(), distance_m=3.0)
    kit = replace(PLAIN, heads=tuple(replace(head, mass_kg=14.0) for head in PLAIN.heads))
    start, goal = setup(panels=(held("first"),)), setup(heavy)

    def ahead(people: int) -> dict[str, tuple[str, ...]]:
        scene = Scene(kit, goal, people=people)
        steps = worded_changeover(floor_of(start, kit), floor_of(goal, kit), scene, made.PLACE)
        return {f"{step.verb} {step.kind}": step.busy for step in steps if step.ahead}

    assert "fit head" in ahead(3) and set(ahead(3).values()) == {("first",)}
    assert {*ahead(2)} == {"place stand", "bag bag"}
    assert ahead(1) == {}


def test_a_rail_goes_up_bagged_on_both_its_stands_and_comes_down_before_it_moves() -> None:
    hung, moved = (floor_of(setup(hung_cloths=(cloth,)), PLAIN) for cloth in (RAIL, replace(RAIL, distance_m=2.2)))
    steps = [step for step in changeover(hung, moved, PLAIN, made.PLACE) if step.verb != "test"]
    assert [" ".join(step.key[:2]) for step in steps][:4] == ["lower cloth", "strike cloth", "free rail", "free rail"]
    assert [" ".join(step.key[:2]) for step in steps][-4:] == ["fit rail", "fit rail", "place cloth", "raise cloth"]
    assert {step.item for step in steps if step.verb in ("unbag", "bag")} == {"B1", "B2", "B3"}
    # its middle 0.25 m higher, as far over the floor
    higher = floor_of(setup(hung_cloths=(replace(RAIL, hem_m=0.5, distance_m=hypot(2.0, 0.25)),)), PLAIN)
    assert [step.key for step in changeover(hung, higher, PLAIN, made.PLACE)] == [
        ("raise", "cloth", "V"),
        ("test", "set", "set"),
    ]
