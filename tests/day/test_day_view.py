"""The running day as screens ask for it: the floors to look at, and where each comes from."""

import pytest

from runbook.changeover.floor import EMPTY
from runbook.day.actions import Session
from tests.day import sets
from tests.day.days import do_all, make_ready
from tests.day.progress import do_all_ahead


@pytest.fixture
def session() -> Session:
    return sets.session(*sets.three())


def seen(session: Session, setup_id: str | None) -> tuple[str, str]:
    shown = session.view.floor_view(setup_id)
    return shown.word, shown.drawn.moves_text


def test_each_floor_is_seen_from_the_one_before_it_without_beginning_a_setup(session: Session) -> None:
    assert session.view.floor_ids == ("one", "two", "three", None)
    assert session.view.current_floor == "one"
    assert seen(session, "one") == ("preview, from an empty floor", "everything arrives")
    assert seen(session, "three") == ("preview, from two", "A moves, flat-1 leaves")
    assert seen(session, None)[1] == "everything leaves"
    assert session.state.floor == EMPTY
    session.skip_setup("two", "no time")  # a setup left out is not come from
    assert seen(session, "three")[0] == "preview, from one"


def test_while_it_changes_what_is_done_is_still(session: Session) -> None:
    session.begin("one")
    assert seen(session, session.view.current_floor) == ("changing", "everything arrives")
    do_all(session)
    assert seen(session, "one") == ("in place", "")


def test_the_next_floor_is_seen_from_what_really_stands() -> None:
    far = sets.light("D", "S2", side="right", angle_deg=15.0, distance_m=6.0, modifier="strip")
    one = sets.setup(sets.light(), setup_id="one")
    session = sets.session(one, sets.setup(sets.light(), far, setup_id="two"))
    make_ready(session, "one")
    assert seen(session, "two") == ("preview, from the set as it is", "D arrives")
    do_all_ahead(session)
    assert (seen(session, "two")[1], seen(session, "one")[1]) == ("", "")
