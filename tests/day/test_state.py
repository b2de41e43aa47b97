"""Journal and plan folded together: the same state however it is come by."""

from __future__ import annotations

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
from runbook.journal.events import DayOpened, live
from runbook.journal.journal import Journal
from runbook.model.day import Plan
from runbook.screens.lists import rows
from tests.changeover.floors import same
from tests.day.days import answer_checks, begun, demo, do_next, do_until, make_ready, refused, short

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


def _break(session: Session, _: int) -> None:
    session.resume() if session.state.on_break else session.pause("meal")


# What a person can do; the number picks one of the things there are to do it to.
DO: dict[str, Callable[[Session, int], object]] = {
    "tick": lambda session, _: do_next(session),
    "block": _block,
    "check": lambda session, n: session.tick_check(_some(session.view.checks, n)[0]),
    "aside": lambda session, n: session.set_check_aside(_some(session.view.checks, n)[0], "not today"),
    "skip": _skip,
    "up": _nudge(1),
    "down": _nudge(-2),
    "reading": lambda session, n: session.reading(None, 5 + n % 7 / 10),
    "frames": lambda session, n: session.frames(1 + n),
    "fewer": lambda session, _: session.frames(-1),
    "note": lambda session, n: session.note(f"note {n}"),
    "next": lambda session, _: session.begin(session.view.next_setup),
    "back": lambda session, n: session.begin(_some(session.plan.day.order, n)),
    "wrap": lambda session, _: session.begin(None),
    "shot": lambda session, _: session.mark_shot(),
    "leave-out": lambda session, n: session.skip_setup(_some(session.plan.day.order, n), "late"),
    "ahead": _ahead,
    "ahead-check": _ahead_checks,
    "break": _break,
    "undo": lambda session, _: session.undo(),
    "redo": lambda session, _: session.redo(),
    "open": lambda session, _: session.open("digest", "0"),
}
ACTIONS = [name for name in DO for _ in range(OFTEN.get(name, 1))]


def act(session: Session, action: str, pick: int) -> None:
    """One thing a person does."""
    DO[action](session, pick)


def reopened(session: Session) -> Session:
    """The same day, opened anew from its journal."""
    return Session(session.plan, session.journal, session.who, session.clock)


def all_seen(session: Session) -> tuple[Any, ...]:
    """Everything a screen or a command would show."""
    return (
        session.state,
        rows(session.view, frozenset()),
        session.view.next_step,
        session.view.heads,
        session.view.setups,
        session.view.checks,
        session.view.ahead,
        session.view.as_shot_lines,
        session.warning,
    )


WALK = st.lists(st.tuples(st.sampled_from(ACTIONS), st.integers(0, 40)), min_size=10, max_size=60)
FEW = settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.too_slow])


def plan_of(n: int) -> Plan:
    orders = (
        ("keeper-window", "keeper-lamp", "seamstress-veil"),
        ("captain-deck", "captain-chart", "lamplighter-fog"),
        ("widow-letter", "widow-answer"),
    )
    return short(*orders[n])


@FEW
@given(WALK, st.integers(0, 2))
def test_a_day_reopened_at_any_moment_is_the_same_day(walk: list[tuple[str, int]], which: int) -> None:
    session = begun(plan_of(which))
    for n, (action, pick) in enumerate(walk):
        with suppress(Refused):
            act(session, action, pick)
        assert session.state == state_after(session.plan, live(session.entries))
        if n % 5 == 4:
            assert all_seen(reopened(session)) == all_seen(session)
    assert all_seen(reopened(session)) == all_seen(session)
    assert not session.state.odd


@FEW
@given(WALK, st.integers(0, 2))
def test_undoing_anything_gives_the_truth_before_it_and_bringing_back_the_truth_after(
    walk: list[tuple[str, int]], which: int
) -> None:
    session = begun(plan_of(which))
    for action, pick in walk:
        if action in ("block", "undo", "redo", "open", "ahead-check"):
            continue  # none or several entries
        before, written = session.state, len(session.entries)
        try:
            if action == "tick":
                answer_checks(session)
                before, written = session.state, len(session.entries)
            act(session, action, pick)
        except Refused:
            continue
        after = session.state
        if len(session.entries) == written:
            continue
        session.undo()
        assert session.state == before
        session.redo()
        assert session.state == after
        assert refused(session.redo) == "nothing to redo"


@FEW
@given(WALK)
def test_a_refusal_writes_nothing(walk: list[tuple[str, int]]) -> None:
    session = begun(plan_of(0))
    for action, pick in walk:
        if action in ("block", "tick", "ahead-check"):
            continue  # they write what they may before they are refused
        before, state = len(session.entries), session.state
        try:
            act(session, action, pick)
        except Refused:
            assert (len(session.entries), session.state) == (before, state)


@FEW
@given(WALK, st.integers(0, 2))
def test_a_changeover_comes_to_its_end_from_any_moment(walk: list[tuple[str, int]], which: int) -> None:
    session = begun(plan_of(which))
    session.begin(session.plan.day.order[0])
    for action, pick in walk:
        with suppress(Refused):
            act(session, action, pick)
    if not session.state.begun:
        session.begin(None)
    for _ in range(120):
        answer_checks(session, aside=True)  # a bag cannot hang on a stand that was left out
        line = session.view.next_step
        if line is None:
            break
        try:
            session.tick(line.step)
        except Refused:
            session.skip_step(line.step, "cannot be")
    assert session.view.ready


def test_every_changeover_of_the_day_walked_step_by_step_stands_as_planned() -> None:
    session = begun()
    plan = session.plan
    for setup_id in plan.day.order:
        make_ready(session, setup_id)
        assert same(session.state.floor, floor_of(plan.setups[setup_id], plan.kit))
        assert session.view.ready
        session.mark_shot()
    assert session.view.next_setup is None
    make_ready(session, None)
    assert same(session.state.floor, EMPTY)
    assert {line.state for line in session.view.setups} == {"shot"}


def test_every_step_that_waits_for_nothing_can_be_done_in_any_order() -> None:
    session = begun()
    make_ready(session, "keeper-lamp")
    session.begin("captain-deck")
    for _ in range(300):
        answer_checks(session)
        left = [s for s in session.view.todo if session.view.pending.line(s).state == "to do"]
        if not left:
            break
        session.tick(left[-1])  # the last that may be done, where the screen offers the first
    assert session.view.ready
    assert same(session.state.floor, floor_of(session.plan.setups["captain-deck"], session.plan.kit))


def test_what_was_done_ahead_is_done_when_its_setup_begins_and_struck_when_another_does() -> None:
    session = begun(short("captain-deck", "captain-chart", "keeper-window"))
    make_ready(session, "captain-deck")
    ahead = {step.key for step in session.view.ahead.todo}
    assert {("place", "stand", "roller"), ("raise", "stand", "roller")} <= ahead
    while session.view.ahead.todo:
        for hold in session.view.ahead.holds:
            if hold.open and not session.view.ahead.check_waits_for(hold.check):
                session.tick_check(hold.check, ahead=True)
        session.tick_ahead(next(s for s in session.view.ahead.todo if not session.view.ahead.waits_for(s)))
    assert "roller" not in session.state.floor.stands
    assert "roller" in session.state.real_floor.stands
    elsewhere = reopened(session)
    session.begin("captain-chart")
    assert not ahead & {step.key for step in session.view.todo}
    assert {line.step.key for line in session.view.lines if line.state == "done"} == ahead
    session.undo()
    elsewhere = reopened(session)
    elsewhere.begin("keeper-window")
    assert ("strike", "stand", "roller") in {step.key for step in elsewhere.view.todo}


def test_a_skipped_step_leaves_the_floor_and_the_next_changeover_plans_it() -> None:
    session = begun()
    session.begin("widow-letter")
    do_until(session, "place", "panel", "flat-2")
    flat = session.view.next_step
    assert flat is not None
    session.skip_step(flat.step, "it is broken")
    bag = next(s for s in session.view.todo if s.key == ("bag", "bag", "B8"))
    why = "flat-2 is not on the set; do that first, or skip this step too"
    assert refused(session.tick, bag) == why
    session.skip_step(bag, "no flat to hold")
    while do_next(session):
        pass
    assert session.view.ready
    assert "flat-2" not in session.state.floor.panels
    assert [line.note for line in session.view.lines if line.state == "skipped"] == ["it is broken", "no flat to hold"]
    session.begin("widow-answer")
    assert ("place", "panel", "flat-2") in {step.key for step in session.view.todo}


def test_a_journal_of_a_deleted_setup_and_kit_opens_with_a_warning(tmp_path: Path) -> None:
    session = begun()
    make_ready(session, "captain-chart")
    session.begin("widow-letter")
    kit = replace(demo().kit, stands=tuple(each for each in demo().kit.stands if each.id != "roller"), panels=())
    kept = {key: value for key, value in demo().setups.items() if key == "keeper-window"}
    order = replace(demo().day, order=("keeper-window",))
    plan = Plan(day=order, kit=kit, setups=kept)
    later = Session(plan, session.journal, "photo", session.clock)
    assert later.view.setup is None
    assert later.view.todo == ()
    assert [line.id for line in later.view.setups] == ["keeper-window"]
    assert "entry 1: no setup captain-chart" in later.state.odd[0]
    assert any("the kit has no roller" in odd for odd in later.state.odd)
    with Journal.open(tmp_path / "journal.runlog", clock=session.clock, who="photo") as journal:
        for entry in session.entries:
            journal.append(entry.data)
        said = Session(plan, journal, "photo", session.clock).warning
    assert said.endswith("journal entries no longer fit the plan; see runbook log")
    assert "roller" not in later.state.floor.stands
    rows(later.view, frozenset())
    later.begin("keeper-window")
    assert later.view.next_step is not None


@pytest.mark.parametrize("kind", ["day-opened", "left"])
def test_opening_and_leaving_change_nothing(kind: str) -> None:
    session = begun()
    make_ready(session, "keeper-window")
    before = session.state
    if kind == "left":
        session.leave()
    else:
        session.open("digest", "0")
        assert isinstance(session.entries[-1].data, DayOpened)
    assert session.state == before
    assert session.undo().startswith("done: Test flash")
    session.open("digest", "0")
    assert session.redo().startswith("done: Test flash")
    assert session.state == before


def test_a_head_dialled_off_and_on_again_has_to_be_armed_again() -> None:
    session = begun()
    make_ready(session, "keeper-window")
    session.change(session.targets("A", "power off"))
    assert not session.state.floor.heads["A"].armed
    session.change(session.targets("A", "power 1/16"))
    assert ("arm", "head", "A") in [step.key for step in session.view.todo]


def test_a_head_dialled_off_and_on_again_while_in_hands_has_still_to_be_armed() -> None:
    session = begun()
    session.begin("keeper-window")
    do_until(session, "aim", "head", "A")
    session.begin("lamplighter-fog")
    session.change(session.targets("A", "power off"))
    do_until(session, "fit", "head", "A")
    assert session.state.floor.heads["A"].stand is None  # in somebody's hands
    session.change(session.targets("A", "power 1/16"))
    again = Session(session.plan, session.journal, "photo", session.clock)
    for each in (session, again):
        assert not each.state.floor.heads["A"].armed
        keys = [step.key for step in each.view.todo]
        assert keys.index(("power", "head", "A")) < keys.index(("arm", "head", "A"))
