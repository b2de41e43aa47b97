"""The running day as screens ask for it: the floors to look at, and where each comes from."""

import pytest

from runbook.changeover.floor import EMPTY
from runbook.day.actions import Session
from tests.day import sets
from tests.day.days import do_next, make_ready


@pytest.fixture
def session() -> Session:
    return sets.session(*sets.three())


def test_before_load_in_the_first_floor_comes_from_nothing(session: Session) -> None:
    shown = session.view.floor_view(session.view.current_floor)
    assert (shown.setup and shown.setup.id, shown.drawn.moves_text) == ("one", "everything arrives")
    assert shown.word == "only looking, from an empty floor"


def test_while_it_changes_what_is_done_is_still(session: Session) -> None:
    session.begin("one")
    shown = session.view.floor_view(session.view.current_floor)
    assert (shown.word, shown.drawn.moves_text) == ("changing", "everything arrives")
    while do_next(session):
        pass
    shown = session.view.floor_view("one")
    assert (shown.word, shown.drawn.moves_text) == ("it stands", "")


def test_another_floor_is_seen_from_the_one_before_it(session: Session) -> None:
    assert session.view.floor_ids == ("one", "two", "three", None)
    shown = session.view.floor_view("three")
    assert (shown.word, shown.drawn.moves_text) == ("only looking, from two", "A moves, flat-1 leaves")
    assert session.view.floor_view(None).drawn.moves_text == "everything leaves"
    assert session.state.floor == EMPTY


def test_the_next_floor_is_seen_from_what_really_stands() -> None:
    far = sets.light("D", "S2", side="right", angle_deg=15.0, distance_m=6.0, modifier="strip")
    one = sets.setup(sets.light(), setup_id="one")
    session = sets.session(one, sets.setup(sets.light(), far, setup_id="two"))
    make_ready(session, "one")
    before = session.view.floor_view("two")
    assert (before.word, before.drawn.moves_text) == ("only looking, from what stands", "D arrives")
    for hold in session.view.ahead.holds:
        session.tick_check(hold.check, ahead=True)
    while session.view.ahead.todo:
        session.tick_ahead(next(s for s in session.view.ahead.todo if not session.view.ahead.waits_for(s)))
    assert session.view.floor_view("two").drawn.moves_text == ""
    assert session.view.floor_view("one").drawn.moves_text == ""


def test_a_setup_left_out_is_not_come_from(session: Session) -> None:
    session.skip_setup("two", "no time")
    assert session.view.floor_view("three").word == "only looking, from one"
