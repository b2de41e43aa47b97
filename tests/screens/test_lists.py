"""The changeover as rows: what is asked before what, and where the cursor belongs."""

from hypothesis import given, settings
from hypothesis import strategies as st

from runbook.day.actions import Session
from runbook.screens.lists import Row, open_before, open_row, rows
from tests.day.days import begun, demo, do_until, make_ready
from tests.screens.screen_text import opened, press

FEW = settings(max_examples=10)
ALL = st.sampled_from(demo().day.order)


def unfold_all(session: Session) -> list[Row]:
    folded = rows(session.view, frozenset())
    return rows(session.view, frozenset(row.key for row in folded if row.kind == "block"))


def test_blocks_fold_to_one_row_and_open_to_their_steps() -> None:
    session = begun()
    session.begin("keeper-window")
    folded = rows(session.view, frozenset())
    block = next(row for row in folded if row.kind == "block")
    assert block.text == "A: on S1, octa-90, grid-octa, left 45°, 1.4 m, up to 2.0 m, 1/8, B1"
    assert len(block.steps) == 9
    opened = rows(session.view, frozenset({block.key}))
    at = opened.index(next(row for row in opened if row.key == block.key))
    inside = [row for row in opened[at + 1 :] if row.indent]
    assert [row.steps[0].verb for row in inside if row.kind == "step"] == [step.verb for step in block.steps]


def test_a_check_stands_right_before_the_first_row_whose_next_step_it_holds() -> None:
    session = begun()
    make_ready(session, "keeper-window")
    session.begin("keeper-lamp")
    do_until(session, "raise", "stand", "boom")
    listed = unfold_all(session)
    up = next(n for n, row in enumerate(listed) if row.key == ("raise", "stand", "boom"))
    before = listed[up - 6 : up]
    assert {row.kind for row in before} == {"check"}
    assert [row.key[1] for row in before] == [
        "fall-circle-clear", "hands-before-locks", "bagged-boom", "balanced-boom", "second-fixing-boom",
        "clear-up-boom",
    ]  # fmt: skip


@FEW
@given(ALL, ALL, st.integers(0, 60))
def test_at_every_moment_the_first_open_row_is_what_must_be_done_next(start: str, goal: str, steps: int) -> None:
    session = begun()
    make_ready(session, start)
    if goal == start:
        return
    session.begin(goal)
    for _ in range(steps):
        listed = unfold_all(session)
        if all(row.over for row in listed):
            break
        row = listed[open_row(listed)]
        if row.check is not None:
            session.tick_check(row.check)
        else:
            assert row.kind == "step" and row.state == "to do"
            session.tick(row.steps[0])
    keys = [row.key for row in unfold_all(session)]
    assert len(keys) == len(set(keys))


@FEW
@given(ALL, ALL)
def test_every_step_and_every_open_check_has_its_row(start: str, goal: str) -> None:
    session = begun()
    make_ready(session, start)
    session.begin(goal) if goal != start else None
    listed = unfold_all(session)
    assert {row.key for row in listed if row.kind == "step"} == {line.step.key for line in session.view.lines}
    # a gate in the middle of a folded block shows when its step comes
    assert {row.key[1] for row in listed if row.kind == "check"} == {hold.check.id for hold in session.view.holds}


def test_two_blocks_of_one_thing_open_one_by_one() -> None:
    session = begun()
    make_ready(session, "captain-chart")
    session.begin("lamplighter-fog")
    blocks = [row for row in rows(session.view, frozenset()) if row.kind == "block"]
    twice = [row for row in blocks if row.key[1] == "A"]
    assert len(twice) == 2
    opened = rows(session.view, frozenset({twice[1].key}))
    assert [row.folded for row in opened if row.kind == "block" and row.key[1] == "A"] == [True, False]


def a_row(state: str, kind: str = "step") -> Row:
    return Row(kind, (state,), state, state, folded=kind == "block")  # type: ignore[arg-type]


@given(st.lists(st.sampled_from(["to do", "done", "skipped", "waits", "held", "aside"])))
def test_counting_open_rows_and_finding_them_again_agree(states: list[str]) -> None:
    listed = [a_row(state) for state in states]
    for n, row in enumerate(listed):
        if not row.over:
            assert open_row(listed, open_before(listed, n)) == n
    waiting = [n for n, row in enumerate(listed) if not row.over]
    assert open_row(listed) == open_row(listed, 99)
    if waiting:
        assert open_row(listed) == waiting[0]


async def test_a_page_key_does_nothing_where_the_list_is_out_of_view() -> None:
    async with opened("n", "space", size=(30, 8)) as (pilot, session):
        await press(pilot, "pagedown", "pageup", "space")
        assert len(session.entries) == 3
