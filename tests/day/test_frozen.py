"""What was shot stays as it was shot, whatever the plan is edited to afterwards."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from runbook.day.actions import Session
from runbook.day.day_record import NOT_RECORDED, changed_setups, differences
from runbook.day.reduce import state_after
from runbook.day.repeat_setup import as_shot_files, match_readings
from runbook.day.state import setup_as_shot, setups_without_snapshot
from runbook.journal.events import Entry, live
from runbook.model.day import Plan
from runbook.model.power import OFF
from runbook.model.setup import Setup
from tests.day.days import begun, do_next, make_ready, short

FIRST, SECOND = "keeper-window", "keeper-lamp"


def with_setup(plan: Plan, setup: Setup) -> Plan:
    return replace(plan, setups=plan.setups | {setup.id: setup})


def with_key(plan: Plan, **changed: Any) -> Plan:
    """The plan with the first light of its first setup edited."""
    setup = plan.setups[FIRST]
    lights = (replace(setup.lights[0], **changed), *setup.lights[1:])
    return with_setup(plan, replace(setup, lights=lights))


def without_head(plan: Plan) -> Plan:
    return with_setup(plan, replace(plan.setups[FIRST], lights=plan.setups[FIRST].lights[1:]))


def without_setup(plan: Plan) -> Plan:
    setups = {key: each for key, each in plan.setups.items() if key != FIRST}
    order = tuple(each for each in plan.day.order if each != FIRST)
    return replace(plan, day=replace(plan.day, order=order), setups=setups)


EDITS: dict[str, Callable[[Plan], Plan]] = {
    "distance": lambda plan: with_key(plan, distance_m=2.2),
    "height": lambda plan: with_key(plan, height_m=2.4, distance_m=2.0),
    "power": lambda plan: with_key(plan, power=OFF),
    "aperture": lambda plan: with_setup(
        plan, replace(plan.setups[FIRST], exposure=replace(plan.setups[FIRST].exposure, f=11.0))
    ),
    "head": without_head,
    "setup": without_setup,
}
SHOT: dict[str, Callable[[Session], object]] = {
    "marked": lambda session: session.mark_shot(),
    "frames": lambda session: session.frames(12),
    "left": lambda session: session.begin(SECOND),
}


def shot(how: str, *, metered: bool = False) -> Session:
    session = begun()
    make_ready(session, FIRST)
    if metered:
        session.reading("A", 4.2)
    session.nudge("A", 1)
    SHOT[how](session)
    return session


@pytest.mark.parametrize("edit", EDITS)
@pytest.mark.parametrize("how", SHOT)
def test_an_edit_of_the_plan_leaves_a_shot_setup_and_its_readings(how: str, edit: str) -> None:
    session = shot(how, metered=True)
    entries, plan = list(session.entries), session.plan
    before = state_after(plan, live(entries))
    then, files = setup_as_shot(plan, before, FIRST), as_shot_files(plan, entries)
    edited = EDITS[edit](plan)
    after = state_after(edited, live(entries))
    assert setup_as_shot(edited, after, FIRST) == then
    assert after.anchors == before.anchors
    assert after.metered == before.metered
    again = as_shot_files(edited, entries)
    assert again["measured.txt"] == files["measured.txt"]
    table, other = (each[f"{FIRST}.toml"].split("\n\n", 1)[1] for each in (files, again))
    assert table == other
    assert match_readings(edited, FIRST, entries, {"A": 4.0}) == match_readings(plan, FIRST, entries, {"A": 4.0})
    session.replan(edited)
    assert setup_as_shot(edited, session.state, FIRST) == then
    if edit != "setup":
        assert FIRST in changed_setups(edited, after)
        assert (FIRST, NOT_RECORDED) not in differences(edited, after)


def test_a_change_after_the_shot_is_part_of_as_shot() -> None:
    session = shot("marked")
    session.change(session.targets("A", "height 2.1"))
    edited = with_key(session.plan, distance_m=2.5)
    setup = setup_as_shot(edited, state_after(edited, session.counted), FIRST)
    assert setup.light["A"].height_m == 2.1
    assert setup.light["A"].distance_m == pytest.approx(1.5, abs=0.2)


def test_a_setup_that_stands_and_is_not_shot_follows_its_plan() -> None:
    session = begun()
    make_ready(session, FIRST)
    session.reading("A", 4.2)
    session.replan(with_key(session.plan, distance_m=2.0))
    assert session.view.setup is not None
    assert session.view.setup.light["A"].distance_m == 2.0
    assert setup_as_shot(session.plan, session.state, FIRST).light["A"].distance_m == 2.0
    assert session.state.metered[FIRST]["A"].light["A"].distance_m == 1.4
    assert session.state.anchors[-1].distance_m == 1.4


def test_a_setup_with_skipped_steps_stays_as_it_stood_and_as_it_was_asked_for() -> None:
    session = begun(short(FIRST, SECOND))
    session.begin(FIRST)
    while (line := session.view.next_step) is not None:
        if line.step.key == ("raise", "stand", "S1"):
            session.skip_step(line.step, "it sticks")
        else:
            do_next(session)
    session.mark_shot()
    before = differences(session.plan, session.state)
    assert any("instead of" in text for setup_id, text in before if setup_id == FIRST)
    planned = setup_as_shot(session.plan, session.state, FIRST)
    edited = with_key(session.plan, height_m=planned.light["A"].height_m)
    assert setup_as_shot(edited, state_after(edited, session.counted), FIRST) == planned


def test_frames_without_a_change_keep_the_setup_only_once() -> None:
    session = begun()
    make_ready(session, FIRST)
    for _ in range(5):
        session.frames(10)
    session.nudge("A", 1)
    session.frames(10)
    session.frames(10)
    kept = [e for e in session.entries if e.kind == "frames" and e.data.stood is not None]
    # the power turned in between is an entry of its own
    assert len(kept) == 1
    assert session.state.frozen[FIRST].stood.setup == session.view.setup
    session.undo()
    session.undo()
    session.undo()
    assert session.state.frozen[FIRST].stood.setup == session.view.setup


def as_older(entries: list[Entry]) -> list[Entry]:
    """The entries as a version wrote them that froze nothing."""
    plain = []
    for entry in entries:
        data = entry.data
        for field in ("stood", "left"):
            if field in data.__dataclass_fields__:
                data = replace(data, **{field: None})
        plain.append(replace(entry, data=data))
    return plain


@pytest.mark.parametrize("how", ["marked", "frames"])
def test_an_older_journal_is_read_and_reported_to_follow_the_plan(how: str) -> None:
    session = shot(how, metered=True)
    entries = as_older(list(session.entries))
    edited = EDITS["distance"](session.plan)
    state = state_after(edited, live(entries))
    assert setups_without_snapshot(state) == (FIRST,)
    assert not state.odd
    assert setup_as_shot(edited, state, FIRST).light["A"].distance_m == 2.2
    assert (FIRST, NOT_RECORDED) in differences(edited, state)
    assert NOT_RECORDED[1:] in as_shot_files(edited, entries)[f"{FIRST}.toml"]
    new = list(session.entries)
    assert not setups_without_snapshot(state_after(edited, live(new)))
    assert NOT_RECORDED[1:] not in as_shot_files(edited, new)[f"{FIRST}.toml"]


def test_an_unreadable_frozen_setup_is_reported_and_follows_the_plan() -> None:
    session = shot("marked")
    last = session.entries[-1]
    broken = replace(last.data.stood, setup=last.data.stood.setup | {"colour": "red"})
    entries = [*session.entries[:-1], replace(last, data=replace(last.data, stood=broken))]
    state = state_after(session.plan, entries)
    assert state.odd == (f"entry {last.n}: the setup in it cannot be read",)
    assert setups_without_snapshot(state) == (FIRST,)


def test_a_head_that_left_the_kit_leaves_the_setup_as_it_was_shot() -> None:
    session = shot("marked", metered=True)
    plan = without_setup(session.plan)
    heads = tuple(head for head in plan.kit.heads if head.id != "A")
    others = {
        key: replace(each, lights=tuple(one for one in each.lights if one.head != "A"))
        for key, each in plan.setups.items()
    }
    plan = replace(plan, kit=replace(plan.kit, heads=heads), setups=others)
    state = state_after(plan, session.counted)
    assert "A" in setup_as_shot(plan, state, FIRST).light
    assert f"{FIRST}.toml" in as_shot_files(plan, session.entries)
    assert (FIRST, "shot, and no longer in the plan") in differences(plan, state)


@given(
    st.lists(st.sampled_from(["up", "down", "meter", "frames", "shot", "next", "undo"]), max_size=9),
    st.floats(1.7, 3.0),
)
def test_no_edit_after_the_day_changes_what_the_day_shot(walk: list[str], distance: float) -> None:
    session = begun(short(FIRST, SECOND))
    make_ready(session, FIRST)
    session.frames(1)
    do: dict[str, Callable[[], object]] = {
        "up": lambda: session.nudge("A", 1),
        "down": lambda: session.nudge("A", -1),
        "meter": lambda: session.reading("A", 4.0),
        "frames": lambda: session.frames(3),
        "shot": session.mark_shot,
        "next": lambda: session.begin(SECOND if session.state.at_work == FIRST else FIRST),
        "undo": session.undo,
    }
    for each in walk:
        before = len(session.entries)
        try:
            do[each]()
        except Exception as refused:
            assert type(refused).__name__ == "Refused"
            assert len(session.entries) == before
    kept = session.state.frozen.get(FIRST)
    if kept is None or (session.state.at_work == FIRST and not kept.shot):
        return  # it stands, nothing of it is shot yet: the plan is what it is to become
    then = setup_as_shot(session.plan, session.state, FIRST)
    edited = with_key(session.plan, distance_m=distance)
    after = state_after(edited, session.counted)
    assert setup_as_shot(edited, after, FIRST) == then
    assert after.anchors == session.state.anchors
