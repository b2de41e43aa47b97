"""The checks that hold a step: asked in their turn, and no step gets past an open one."""

from __future__ import annotations

from dataclasses import replace

import pytest

from runbook.day.actions import Session
from tests.day.days import answer_checks, begun, do_next, do_until, make_ready, refused, short


def step(session: Session, *key: str) -> object:
    return next(each for each in session.view.todo if each.key == key)


def check(session: Session, check_id: str) -> object:
    return next(hold.check for hold in session.view.holds if hold.check.id == check_id)


def open_ids(session: Session) -> list[str]:
    return [hold.check.id for hold in session.view.holds if hold.open]


def until_held_by(session: Session, check_id: str) -> None:
    """Do everything, ticking every other check, until only this one holds the next step."""
    for _ in range(200):
        line = session.view.next_step
        assert line is not None, f"{check_id} never held anything"
        holding = session.view.pending.open_holds(line.step)
        if [hold.check.id for hold in holding] == [check_id]:
            return
        others = [hold for hold in holding if hold.check.id != check_id]
        if others:
            session.tick_check(others[0].check)
        else:
            session.tick(line.step)


@pytest.mark.parametrize(
    ("before", "setup_id", "check_id", "verb"),
    [
        (None, "keeper-window", "exits-free", "place"), (None, "keeper-window", "first-aid-known", "place"),
        (None, "keeper-window", "bagged-S1", "raise"), (None, "keeper-window", "loads-in-limit", "test"),
        (None, "keeper-window", "stands-bagged", "test"), (None, "keeper-lamp", "booms-balanced", "test"),
        (None, "keeper-lamp", "second-fixings", "test"),
        (None, "keeper-window", "light-sensitivity-asked", "test"),
        ("keeper-window", "keeper-lamp", "fall-circle-clear", "raise"),
        ("keeper-window", "keeper-lamp", "hands-before-locks", "raise"),
        ("keeper-window", "keeper-lamp", "bagged-boom", "raise"),
        ("keeper-window", "keeper-lamp", "balanced-boom", "raise"),
        ("keeper-window", "keeper-lamp", "second-fixing-boom", "raise"),
        ("keeper-window", "keeper-lamp", "clear-up-boom", "raise"),
        ("keeper-window", "keeper-lamp", "figures-renewed", "test"),
        ("keeper-lamp", "seamstress-veil", "arm-held-boom", "free"),
        ("keeper-window", "seamstress-veil", "light-sensitivity-asked-T2", "test"),
        ("widow-answer", None, "head-before-bag", "free"),
    ],
)  # fmt: skip
def test_a_check_holds_its_step_until_it_is_ticked(
    before: str | None, setup_id: str | None, check_id: str, verb: str
) -> None:
    session = begun()
    if before is not None:
        make_ready(session, before)
    session.begin(setup_id)
    until_held_by(session, check_id)
    line = session.view.next_step
    assert line is not None
    assert (line.step.verb, line.state) == (verb, "held")
    written = len(session.entries)
    assert refused(session.tick, line.step).startswith(f"held: {line.note}; tick that first")
    assert len(session.entries) == written
    session.tick_check(check(session, check_id))  # type: ignore[arg-type]
    session.tick(line.step)


@pytest.mark.parametrize("check_id", ["bagged-boom", "balanced-boom", "second-fixing-boom", "clear-up-boom"])
def test_a_check_waits_for_what_it_is_about(check_id: str) -> None:
    session = begun()
    make_ready(session, "keeper-window")
    session.begin("keeper-lamp")
    do_until(session, "place", "stand", "boom")
    assert refused(session.tick_check, check(session, check_id)).startswith("not yet, before it: ")
    do_until(session, "raise", "stand", "boom")
    session.tick_check(check(session, check_id))  # type: ignore[arg-type]


def test_everyone_is_asked_about_light_once_a_day() -> None:
    session = begun()
    session.begin("keeper-window")
    why = refused(session.tick_check, check(session, "light-sensitivity-asked"))
    assert why.startswith("not yet, before it: ")
    make_ready(session, "widow-letter")
    session.begin("widow-answer")
    assert "light-sensitivity-asked" not in open_ids(session)


def test_a_talent_who_comes_later_is_asked_too_and_once() -> None:
    session = begun()
    for setup_id, asked in (
        ("keeper-window", "light-sensitivity-asked"),  # T1 is there, and everyone is asked
        ("captain-deck", None),  # T1 again
        ("widow-letter", "light-sensitivity-asked-T2"),
        ("seamstress-veil", None),  # T2 again
        ("lamplighter-fog", "light-sensitivity-asked-T3"),
    ):
        session.begin(setup_id)
        found = [name for name in open_ids(session) if name.startswith("light-sensitivity")]
        assert found == ([asked] if asked else [])
        while do_next(session):
            pass
        assert not open_ids(session)


def test_the_checks_of_a_change_are_asked_again_in_every_change() -> None:
    session = begun()
    make_ready(session, "keeper-window")
    for setup_id in ("keeper-lamp", "seamstress-veil"):
        session.begin(setup_id)
        assert {"fall-circle-clear", "hands-before-locks"} <= set(open_ids(session))
        while do_next(session):
            pass


def test_a_break_lifts_no_check() -> None:
    session = begun()
    session.begin("keeper-window")
    held = open_ids(session)
    session.pause("meal")
    assert open_ids(session) == held
    assert session.view.stage == "meal"
    assert {each.id for each, _ in session.view.checks} >= {"lamps-off", *held}
    assert refused(session.tick, session.view.todo[0]).startswith("held: ")
    assert refused(session.pause, "meal") == "a break is running already"
    session.resume()
    assert refused(session.resume) == "no break is running"


def test_setting_aside_needs_a_reason_and_keeps_it() -> None:
    session = begun()
    session.begin("keeper-window")
    exits = check(session, "exits-free")
    assert refused(session.set_check_aside, exits, "  ").startswith("a reason is needed")
    session.set_check_aside(exits, "the landlord holds the key")  # type: ignore[arg-type]
    tick = session.state.checks["exits-free"]
    assert (tick.by, tick.at, tick.aside) == ("photo", "08:00", "the landlord holds the key")
    assert "exits-free" not in open_ids(session)
    line = session.view.log_lines[-1].text
    assert line.startswith("set aside: Exits and the ways to them free, doors unlocked, because")
    session.tick_check(exits)  # type: ignore[arg-type]
    assert session.state.checks["exits-free"].aside is None
    assert refused(session.tick_check, exits) == "photo ticked that at 08:00"


def test_a_step_done_ahead_is_held_like_any_other_and_waits_its_turn() -> None:
    session = begun(short("captain-deck", "captain-chart"))
    make_ready(session, "captain-deck")
    verbs = [each.verb for each in session.view.ahead.todo]
    assert verbs == ["place", "bag", "fit", "fit", "aim", "raise", "power"]
    up = session.view.ahead.todo[5]
    assert refused(session.tick_ahead, up).startswith("held: Talent and crew out of the fall circle")
    bagged = next(h.check for h in session.view.ahead.holds if h.check.id == "bagged-roller")
    assert refused(lambda: session.tick_check(bagged, ahead=True)).startswith("not yet, before it: Aim A at the face")
    assert refused(session.tick_ahead, session.view.ahead.todo[2]).startswith("not yet, before it: ")
    for each in session.view.ahead.todo[:5]:
        session.tick_ahead(each)
    for hold in session.view.ahead.holds:
        session.tick_check(hold.check, ahead=True)
    session.tick_ahead(up)
    assert session.state.real_floor.stands["roller"].height_m == 2.2
    # what was ticked for the steps ahead counts for them only
    session.begin("captain-chart")
    assert "fall-circle-clear" in open_ids(session)


def test_a_ticked_change_check_does_not_serve_the_steps_ahead() -> None:
    session = begun(short("keeper-window", "captain-deck", "captain-chart"))
    make_ready(session, "keeper-window")
    make_ready(session, "captain-deck")
    assert session.state.change_checks["fall-circle-clear"].aside is None
    held = {h.check.id for h in session.view.ahead.holds if h.open}
    assert held == {"fall-circle-clear", "hands-before-locks", "bagged-roller"}


def test_a_skipped_step_does_not_open_the_way_past_what_it_waited_for() -> None:
    session = begun()
    make_ready(session, "keeper-lamp")
    session.begin("seamstress-veil")
    answer_checks(session)
    session.tick(step(session, "turn", "subject", "subject-off"))  # type: ignore[arg-type]
    session.skip_step(step(session, "lower", "stand", "boom"), "the lock is stuck")  # type: ignore[arg-type]
    weight = step(session, "free", "counterweight", "boom")
    session.set_check_aside(check(session, "arm-held-boom"), "to see")  # type: ignore[arg-type]
    assert refused(session.tick, weight) == "not yet, before it: Switch C off"


def test_the_stage_follows_the_day() -> None:
    session = begun(short("keeper-window"))
    seen = [session.view.stage]
    session.begin("keeper-window")
    seen.append(session.view.stage)
    while do_next(session):
        pass
    seen.append(session.view.stage)
    session.begin("keeper-lamp")
    seen.append(session.view.stage)
    session.begin(None)
    seen.append(session.view.stage)
    assert seen == ["load-in", "pre-light", "talent", "change", "wrap"]


def test_checks_about_booms_are_asked_where_there_is_one() -> None:
    asked = {hold.check.id for hold in at_load_in("keeper-window").view.holds}
    assert not asked & {"booms-balanced", "second-fixings"}
    assert {"booms-balanced", "second-fixings"} <= {hold.check.id for hold in at_load_in("keeper-lamp").view.holds}


def at_load_in(setup: str) -> Session:
    session = begun()
    session.begin(setup)
    return session


def test_at_the_wrap_a_panel_s_bag_waits_for_no_arm_or_head() -> None:
    session = begun(short("widow-answer"))
    make_ready(session, "widow-answer")
    session.begin(None)
    held = {key for hold in session.view.holds if hold.check.id == "head-before-bag" for key in hold.steps}
    kinds = {step.key: step.to.kind for step in session.view.todo if step.verb == "unbag"}
    assert {kinds[key] for key in held if key in kinds} == {"stand"}
    assert "panel" in kinds.values()


@pytest.mark.parametrize(
    ("leg_under_load", "where"), [(False, "on the leg away from the load"), (True, "half on each")]
)
def test_the_bag_check_names_the_far_legs(leg_under_load: bool, where: str) -> None:
    plan = short("keeper-window")
    setup = plan.setups["keeper-window"]
    lights = tuple(replace(light, bags_at="far legs", leg_under_load=leg_under_load) for light in setup.lights)
    session = begun(replace(plan, setups={"keeper-window": replace(setup, lights=lights)}))
    session.begin("keeper-window")
    until_held_by(session, "bagged-S1")
    held = next(hold.check for hold in session.view.holds if hold.check.id == "bagged-S1")
    assert where in held.text


@pytest.mark.parametrize(("over_m", "asked"), [(0.0, False), (0.01, True)])
def test_a_stand_exactly_at_reach_is_not_asked_for_its_bags(over_m: float, asked: bool) -> None:
    plan = short("keeper-window")
    setup = plan.setups["keeper-window"]
    reach = plan.day.place.reach_m
    lights = tuple(replace(light, height_m=reach + over_m) if light.stand == "S1" else light for light in setup.lights)
    session = begun(replace(plan, setups={setup.id: replace(setup, lights=lights)}))
    session.begin(setup.id)
    assert ("bagged-S1" in {hold.check.id for hold in session.view.holds}) is asked
