"""Journal and plan folded together: the same state however it is come by."""

from collections.abc import Callable
from contextlib import suppress
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from runbook.changeover.floor import EMPTY, floor_of
from runbook.day.actions import Refused, Session
from runbook.day.reduce import state_after
from runbook.day.stand_view import alarms
from runbook.journal.events import live
from runbook.journal.journal import Journal
from runbook.screens.lists import rows
from tests.changeover.floors import same
from tests.day.days import FIRST, SECOND, answer_checks, begun, demo, do_all, do_next, do_until, refused, short
from tests.day.progress import do_all_ahead, standing, step_of, tick_or_why

OFTEN = {"tick": 5, "block": 3, "check": 2, "next": 2, "ahead": 2, "undo": 2, "redo": 2}


def _some(found: Any, pick: int) -> Any:
    return found[pick % len(found)]


def _block(session: Session, pick: int) -> None:
    for step in session.view.pending.left[: 1 + pick % 6]:
        session.tick(step)


def _skip(session: Session, pick: int) -> None:
    if session.view.pending.left:
        session.skip_step(_some(session.view.pending.left, pick), "no time")


def _nudge(clicks: int) -> Callable[[Session, int], object]:
    def turn(session: Session, pick: int) -> None:
        if session.view.heads:
            session.nudge(_some(session.view.heads, pick).head, clicks)

    return turn


def _ahead(session: Session, pick: int) -> None:
    if session.view.ahead.todo:
        session.tick_ahead(_some(session.view.ahead.todo[:3], pick))


def _ahead_checks(session: Session, _: int) -> None:
    for hold in session.view.ahead.holds:
        session.tick_check(hold.check, ahead=True)


# What a person can do; the number picks one of the things there are to do it to.
DO: dict[str, Callable[[Session, int], object]] = {
    "tick": lambda session, _: do_next(session), "block": _block,
    "check": lambda session, n: session.tick_check(_some(session.view.checks, n)[0]),
    "aside": lambda session, n: session.set_check_aside(_some(session.view.checks, n)[0], "not today"), "skip": _skip,
    "up": _nudge(1), "down": _nudge(-2), "reading": lambda session, n: session.reading(None, 5 + n % 7 / 10),
    "frames": lambda session, n: session.frames(1 + n), "fewer": lambda session, _: session.frames(-1),
    "note": lambda session, n: session.note(f"note {n}"),
    "next": lambda session, _: session.begin(session.view.next_setup),
    "back": lambda session, n: session.begin(_some(session.plan.day.order, n)),
    "wrap": lambda session, _: session.begin(None), "shot": lambda session, _: session.mark_shot(),
    "leave-out": lambda session, n: session.skip_setup(_some(session.plan.day.order, n), "late"), "ahead": _ahead,
    "ahead-check": _ahead_checks,
    "break": lambda session, _: session.resume() if session.state.on_break else session.pause("meal"),
    "undo": lambda session, _: session.undo(), "redo": lambda session, _: session.redo(),
    "open": lambda session, _: session.open("digest", "0"),
}  # fmt: skip
ACTIONS = [name for name in DO for _ in range(OFTEN.get(name, 1))]


def reopened(session: Session) -> Session:
    """The same day, opened anew from its journal."""
    return Session(session.plan, session.journal, session.who, session.clock)


def all_seen(session: Session) -> tuple[Any, ...]:
    """Everything a screen or a command would show."""
    return (
        session.state, rows(session.view, frozenset()), session.view.next_step, session.view.heads, session.view.setups,
        session.view.checks, session.view.ahead, session.view.as_shot_lines, session.warning,
    )  # fmt: skip


WALK = st.lists(st.tuples(st.sampled_from(ACTIONS), st.integers(0, 40)), min_size=10, max_size=60)
DAYS = st.sampled_from([
    (FIRST, SECOND, "seamstress-veil"), ("captain-deck", "captain-chart", "lamplighter-fog"),
    ("widow-letter", "widow-answer"),
])  # fmt: skip
FEW = settings(max_examples=25, suppress_health_check=[HealthCheck.too_slow])
SEVERAL = ("block", "ahead-check", "tick")  # they write what they may before they are refused
NOT_UNDONE = ("undo", "redo", "open")


@FEW
@given(WALK, DAYS)
def test_the_state_is_that_of_the_journal_a_refusal_writes_nothing_and_undo_and_redo_are_exact(walk, order):
    session = begun(short(*order))
    for action, pick in walk:
        if action == "tick":
            answer_checks(session, aside=True)
        before, written = session.state, len(session.entries)
        try:
            DO[action](session, pick)
        except Refused:
            assert action in SEVERAL or (len(session.entries), session.state) == (written, before)
        after = session.state
        assert after == state_after(session.plan, live(session.entries))
        if action not in NOT_UNDONE and len(session.entries) == written + 1:
            session.undo()
            assert session.state == before
            session.redo()
            assert session.state == after
            assert refused(session.redo) == "nothing to redo"
    assert all_seen(reopened(session)) == all_seen(session)
    assert not session.state.odd


@FEW
@given(WALK, DAYS)
def test_a_changeover_comes_to_its_end_from_any_moment(walk: list[tuple[str, int]], order: tuple[str, ...]) -> None:
    session = begun(short(*order))
    session.begin(order[0])
    for action, pick in walk:
        with suppress(Refused):
            DO[action](session, pick)
    if not session.state.begun:
        session.begin(None)
    for _ in range(120):
        answer_checks(session, aside=True)  # a bag cannot hang on a stand that was left out
        line = session.view.next_step
        if line is None:
            break
        if tick_or_why(session, line.step):
            session.skip_step(line.step, "cannot be")
    assert session.view.ready


def test_every_changeover_of_the_day_walked_step_by_step_stands_as_planned_without_an_alarm() -> None:
    session = begun()
    plan = session.plan
    for setup_id in (*plan.day.order, None):
        assert session.view.next_setup == setup_id
        session.begin(setup_id)
        while do_next(session):
            assert alarms(session.view) == ()
        goal = EMPTY if setup_id is None else floor_of(plan.setups[setup_id], plan.kit)
        assert same(session.state.floor, goal) and session.view.ready
        if setup_id is not None:
            session.mark_shot()


def test_every_step_that_waits_for_nothing_can_be_done_in_any_order() -> None:
    session = standing(setup_id=SECOND)
    session.begin("captain-deck")
    while not session.view.ready:
        answer_checks(session)
        # the last that may be done, where the screen offers the first
        session.tick([line.step for line in session.view.lines if line.state == "to do"][-1])
    assert same(session.state.floor, floor_of(session.plan.setups["captain-deck"], session.plan.kit))


def test_what_was_done_ahead_is_done_when_its_setup_begins_and_struck_when_another_does() -> None:
    session = standing(short("captain-deck", "captain-chart", FIRST), "captain-deck")
    ahead = {step.key for step in session.view.ahead.todo}
    assert {("place", "stand", "roller"), ("raise", "stand", "roller")} <= ahead
    do_all_ahead(session)
    assert "roller" not in session.state.floor.stands
    assert "roller" in session.state.real_floor.stands
    elsewhere = reopened(session)
    session.begin("captain-chart")
    assert not ahead & {step.key for step in session.view.todo}
    assert {line.step.key for line in session.view.lines if line.state == "done"} == ahead
    session.undo()
    elsewhere = reopened(session)
    elsewhere.begin(FIRST)
    assert ("strike", "stand", "roller") in {step.key for step in elsewhere.view.todo}


def test_a_skipped_step_leaves_the_floor_and_the_next_changeover_plans_it() -> None:
    session = begun()
    session.begin("widow-letter")
    do_until(session, "place", "panel", "vee")
    session.skip_step(step_of(session, "place", "panel", "vee"), "it is broken")
    bag = step_of(session, "bag", "bag", "B8")
    assert tick_or_why(session, bag) == "vee is not on the set; do that first, or skip this step too"
    session.skip_step(bag, "no flat to hold")
    do_all(session)
    assert session.view.ready
    assert "vee" not in session.state.floor.panels
    assert [line.note for line in session.view.lines if line.state == "skipped"] == ["it is broken", "no flat to hold"]
    session.begin("widow-answer")
    assert ("place", "panel", "vee") in {step.key for step in session.view.todo}


def test_a_journal_of_a_deleted_setup_and_kit_opens_with_a_warning(tmp_path: Path) -> None:
    session = standing(setup_id="captain-chart")
    session.begin("widow-letter")
    stands = tuple(stand for stand in demo().kit.stands if stand.id != "roller")
    kit = replace(demo().kit, stands=stands, panels=())
    plan = replace(short(FIRST), kit=kit, setups={FIRST: demo().setups[FIRST]})
    with Journal.open(tmp_path / "journal.runlog", clock=session.clock, who="photo") as journal:
        journal.append_all([entry.data for entry in session.entries])
        later = Session(plan, journal, "photo", session.clock)
        assert later.warning.endswith("journal entries no longer fit the plan; see runbook log")
        assert (later.view.setup, later.view.todo) == (None, ())
        assert [line.id for line in later.view.setups] == [FIRST]
        assert "entry 1: no setup captain-chart" in later.state.odd[0]
        assert any("the kit has no roller" in odd for odd in later.state.odd)
        assert "roller" not in later.state.floor.stands
        all_seen(later)
        later.begin(FIRST)
        assert later.view.next_step is not None


@pytest.mark.parametrize("act", [Session.leave, lambda session: session.open("digest", "0")])
def test_opening_and_leaving_change_nothing(act: Callable[[Session], None]) -> None:
    session = standing()
    before = session.state
    act(session)
    assert session.state == before
    assert session.undo().startswith("done: Test flash")
    act(session)
    assert session.redo().startswith("done: Test flash")
    assert session.state == before


@pytest.mark.parametrize("in_hands", [True, False])
def test_a_head_dialled_off_and_on_again_has_to_be_armed_again(in_hands: bool) -> None:
    session = standing()
    if in_hands:
        session.begin("lamplighter-fog")
        do_until(session, "fit", "head", "A")
        assert session.state.floor.heads["A"].stand is None
    session.change(session.targets("A", "power off"))
    session.change(session.targets("A", "power 1/16"))
    for day in (session, reopened(session)):
        assert not day.state.floor.heads["A"].armed
        keys = [step.key for step in day.view.todo]
        assert ("arm", "head", "A") in keys
        assert ("power", "head", "A") not in keys[keys.index(("arm", "head", "A")) :]
