"""What was shot stays as it was shot, whatever the plan is edited to afterwards."""

from collections.abc import Callable
from contextlib import suppress
from dataclasses import replace
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from runbook.day.actions import Refused, Session
from runbook.day.day_record import NOT_RECORDED, changed_setups, differences
from runbook.day.reduce import state_after
from runbook.day.repeat_setup import as_shot_files, match_readings
from runbook.day.state import setup_as_shot, setups_without_snapshot
from runbook.journal.events import Entry, live
from runbook.model.day import Plan
from runbook.model.power import OFF
from tests.day.days import FIRST, SECOND, begun, short
from tests.day.plans import with_day, with_setup
from tests.day.progress import skip_and_do, standing


def with_key(plan: Plan, **changed: Any) -> Plan:
    """The plan with the first light of its first setup edited."""
    key, *others = plan.setups[FIRST].lights
    return with_setup(plan, replace(plan.setups[FIRST], lights=(replace(key, **changed), *others)))


def without_setup(plan: Plan) -> Plan:
    setups = {setup_id: setup for setup_id, setup in plan.setups.items() if setup_id != FIRST}
    order = tuple(setup_id for setup_id in plan.day.order if setup_id != FIRST)
    return with_day(replace(plan, setups=setups), order=order)


EDITS: dict[str, Callable[[Plan], Plan]] = {
    "place": lambda plan: with_key(plan, height_m=2.4, distance_m=2.2),
    "power": lambda plan: with_key(plan, power=OFF),
    "aperture": lambda plan: with_setup(
        plan, replace(plan.setups[FIRST], exposure=replace(plan.setups[FIRST].exposure, f=11.0))
    ),
    "head": lambda plan: with_setup(plan, replace(plan.setups[FIRST], lights=plan.setups[FIRST].lights[1:])),
    "setup": without_setup,
}
SHOT: dict[str, Callable[[Session], object]] = {
    "marked": lambda session: session.mark_shot(),
    "frames": lambda session: session.frames(12),
    "left": lambda session: session.begin(SECOND),
}


def shot(how: str) -> Session:
    """The first setup metered, turned up, and shot in one of these ways."""
    session = standing()
    session.reading("A", 4.2)
    session.nudge("A", 1)
    SHOT[how](session)
    return session


@settings(max_examples=24)
@given(
    st.sampled_from(list(SHOT)),
    st.lists(st.sampled_from(["up", "down", "meter", "frames", "shot", "next", "undo"]), max_size=9),
    st.sampled_from(list(EDITS)),
)
def test_no_edit_of_the_plan_changes_what_was_shot_before_it(how: str, walk: list[str], edit: str) -> None:
    session = shot(how)
    do: dict[str, Callable[[], object]] = {
        "up": lambda: session.nudge("A", 1), "down": lambda: session.nudge("A", -1),
        "meter": lambda: session.reading("A", 4.0), "frames": lambda: session.frames(3), "shot": session.mark_shot,
        "next": lambda: session.begin(SECOND if session.state.at_work == FIRST else FIRST), "undo": session.undo,
    }  # fmt: skip
    for action in walk:
        with suppress(Refused):
            do[action]()
    kept = session.state.frozen.get(FIRST)
    if kept is None or (session.state.at_work == FIRST and not kept.shot):
        return  # it stands, nothing of it is shot yet: the plan is what it is to become
    entries, plan, edited = list(session.entries), session.plan, EDITS[edit](session.plan)
    before, after = (state_after(each, live(entries)) for each in (plan, edited))
    assert setup_as_shot(edited, after, FIRST) == setup_as_shot(plan, before, FIRST)
    assert (after.anchors, after.metered) == (before.anchors, before.metered)
    assert match_readings(edited, FIRST, entries, {"A": 4.0}) == match_readings(plan, FIRST, entries, {"A": 4.0})
    files, again = (as_shot_files(each, entries) for each in (plan, edited))
    assert again.get("measured.txt") == files.get("measured.txt")
    table, other = (each[f"{FIRST}.toml"].split("\n\n", 1)[1] for each in (files, again))
    assert table == other
    assert edit == "setup" or FIRST in changed_setups(edited, after)
    assert (FIRST, NOT_RECORDED) not in differences(edited, after)


def test_a_change_after_the_shot_is_part_of_as_shot() -> None:
    session = shot("marked")
    session.change(session.targets("A", "height 2.1"))
    edited = with_key(session.plan, distance_m=2.5)
    light = setup_as_shot(edited, state_after(edited, session.counted), FIRST).light["A"]
    assert (light.height_m, light.distance_m) == (2.1, pytest.approx(1.5, abs=0.2))


def test_a_setup_that_stands_and_is_not_shot_follows_its_plan() -> None:
    session = standing()
    session.reading("A", 4.2)
    session.replan(with_key(session.plan, distance_m=2.0))
    assert setup_as_shot(session.plan, session.state, FIRST).light["A"].distance_m == 2.0
    assert session.state.metered[FIRST]["A"].light["A"].distance_m == 1.4
    assert session.state.anchors[-1].distance_m == 1.4


def test_a_setup_with_skipped_steps_stays_as_it_stood() -> None:
    session = begun(short(FIRST, SECOND))
    session.begin(FIRST)
    skip_and_do(session, ("raise", "stand", "S1"))
    session.mark_shot()
    stood = setup_as_shot(session.plan, session.state, FIRST)
    assert any("instead of" in text for _, text in differences(session.plan, session.state))
    edited = with_key(session.plan, height_m=stood.light["A"].height_m)
    assert setup_as_shot(edited, state_after(edited, session.counted), FIRST) == stood


def test_frames_without_a_change_keep_the_setup_only_once() -> None:
    session = standing()
    for act in (*[lambda: session.frames(10)] * 3, lambda: session.nudge("A", 1), *[lambda: session.frames(10)] * 2):
        act()
    kept = [entry for entry in session.entries if entry.kind == "frames" and entry.data.stood is not None]
    assert len(kept) == 1  # the power turned in between is an entry of its own
    assert session.state.frozen[FIRST].stood.setup == session.view.setup
    for _ in range(3):
        session.undo()
    assert session.state.frozen[FIRST].stood.setup == session.view.setup


def as_older(entries: list[Entry]) -> list[Entry]:
    """The entries as a version wrote them that kept no setups."""
    fields = ("stood", "left")
    return [
        replace(
            entry,
            data=replace(entry.data, **{name: None for name in fields if name in entry.data.__dataclass_fields__}),
        )
        for entry in entries
    ]


@pytest.mark.parametrize("how", ["marked", "frames"])
def test_an_older_journal_is_read_and_reported_to_follow_the_plan(how: str) -> None:
    session = shot(how)
    edited = EDITS["place"](session.plan)
    for entries, older in ((as_older(list(session.entries)), True), (list(session.entries), False)):
        state = state_after(edited, live(entries))
        assert setups_without_snapshot(state) == ((FIRST,) if older else ())
        assert not state.odd
        assert (setup_as_shot(edited, state, FIRST).light["A"].distance_m == 2.2) == older
        assert ((FIRST, NOT_RECORDED) in differences(edited, state)) == older
        assert (NOT_RECORDED[1:] in as_shot_files(edited, entries)[f"{FIRST}.toml"]) == older


def test_an_unreadable_frozen_setup_is_reported_and_follows_the_plan() -> None:
    session = standing()
    session.mark_shot()
    last = session.entries[-1]
    broken = replace(last.data.stood, setup=last.data.stood.setup | {"colour": "red"})
    state = state_after(session.plan, [*session.entries[:-1], replace(last, data=replace(last.data, stood=broken))])
    assert state.odd == (f"entry {last.n}: the setup in it cannot be read",)
    assert setups_without_snapshot(state) == (FIRST,)


def test_a_head_that_left_the_kit_leaves_the_setup_as_it_was_shot() -> None:
    session = shot("marked")
    plan = without_setup(session.plan)
    heads = tuple(head for head in plan.kit.heads if head.id != "A")
    others = {
        setup.id: replace(setup, lights=tuple(light for light in setup.lights if light.head != "A"))
        for setup in plan.setups.values()
    }
    plan = replace(plan, kit=replace(plan.kit, heads=heads), setups=others)
    state = state_after(plan, session.counted)
    assert "A" in setup_as_shot(plan, state, FIRST).light
    assert f"{FIRST}.toml" in as_shot_files(plan, session.entries)
    assert (FIRST, "shot, and no longer in the plan") in differences(plan, state)
