"""A look shot before can be made again: its files read back, and a match says what to dial."""

from dataclasses import replace
from math import log2
from pathlib import Path

import pytest

from runbook.day.actions import Session
from runbook.day.load_plan import read_day
from runbook.day.repeat_setup import MEASURED_FILE, ReadingMatch, as_shot_files, match_readings, match_text
from runbook.journal.as_shot import as_shot
from runbook.journal.events import Changed, live
from runbook.light.prediction import predict
from runbook.model.day import Plan
from runbook.model.power import OFF
from tests.day.days import DEMO, FIRST, SECOND, SetClock, begun, demo
from tests.day.plans import with_lights, with_setup
from tests.played import half_way


@pytest.fixture
def session() -> Session:
    clock = SetClock()
    session = begun(clock=clock)
    half_way(session, clock)
    return session


def at_work(setup_id: str = FIRST, plan: Plan | None = None) -> Session:
    session = begun(plan)
    session.begin(setup_id)
    return session


def written(session: Session, folder: Path) -> Path:
    folder.mkdir()
    for name in ("day.toml", "kit.toml"):
        (folder / name).write_bytes((DEMO / name).read_bytes())
    for name, text in as_shot_files(session.plan, session.entries).items():
        (folder / name).write_text(text, encoding="utf-8")
    return folder


def match(session: Session, head: str | None, stops: float) -> ReadingMatch:
    """The match of the setup at work with a reading now."""
    (found,) = match_readings(session.plan, session.state.at_work, session.entries, {head: stops})
    return found


def test_the_files_read_back_as_exactly_what_was_shot(session: Session, tmp_path: Path) -> None:
    session.nudge("C", 3)  # on a dial of tenths: three clicks are 0.3, which on A would be a stop
    folder = written(session, tmp_path / "again")
    again, plan = read_day(folder), session.plan
    assert again.setups.keys() == plan.setups.keys()
    changes = [entry for entry in live(session.entries) if isinstance(entry.data, Changed)]
    for setup_id, setup in again.setups.items():
        assert setup == as_shot(plan.setups[setup_id], changes, plan.kit.dials)
    assert 'power = "1/32"' in (folder / f"{SECOND}.toml").read_text()
    # the kit takes the readings: at the power at which A was metered, not the one it was changed to after
    text = (folder / "kit.toml").read_text()
    (folder / "kit.toml").write_text(text[: text.index("[[measured]]")] + (folder / MEASURED_FILE).read_text())
    (row,) = read_day(folder).kit.measured
    assert (row.head, row.power, row.distance_m) == ("A", "1/8", 1.4)
    assert row.reads_f == pytest.approx(2 ** (4.2 / 2), abs=1e-3)


def test_notes_and_readings_are_comments_whatever_is_in_them(session: Session, tmp_path: Path) -> None:
    session.begin(FIRST)
    session.note('quote " and # and \n[[light]]\u2028end = "x"\u0000')
    top = as_shot_files(session.plan, session.entries)[f"{FIRST}.toml"].split("\n\n", 1)[0].split("\n")
    assert all(line.startswith("# ") for line in top)
    assert "# Read: A f/4 +0.2 at the face." in top
    assert "40 frames" in top[0]
    read_day(written(session, tmp_path / "again"))


@pytest.mark.parametrize(("off", "clicks"), [(0.0, 0), (0.1, 0), (1.0, -3), (-2 / 3, 2), (0.3, -1)])
def test_a_match_names_the_power_to_dial_by_the_reading_carried_over_what_was_changed_after_it(off, clicks):
    """A was metered at 4.2 stops and then went a third up: as shot it would read 4.53."""
    session = at_work()
    session.reading("A", 4.2)
    session.nudge("A", 1)
    found = match(session, "A", 4.2 + 1 / 3 + off)
    assert found.was_metered
    assert found.off_stops == pytest.approx(off, abs=1e-9)
    assert found.dial == session.plan.kit.head["A"].dial.nudged(found.power, clicks)
    assert found.left_over_stops == pytest.approx(off + clicks / 3, abs=1e-9)
    assert found.matches == (abs(off) <= 0.17)


def test_a_match_off_the_dial_tells_what_is_left() -> None:
    found = match(at_work(), "A", 0.0)
    assert str(found.dial) == "full"
    assert found.left_over_stops < -1
    assert "left over" in match_text(found)


def test_a_head_aimed_at_the_background_is_matched_there() -> None:
    session = at_work()
    there = next(head for head in predict(demo(), demo().setups[FIRST]).heads if head.head == "B").at_aim_stops
    found = match(session, "B", 3.0)
    assert (found.where, found.was_stops, found.was_metered) == ("background", there, False)
    assert match_text(found).startswith("B at the background: f/2.8 now, ")
    assert "not metered" in match_text(found)
    session.reading("B", 4.0)
    session.nudge("B", 3)
    assert match(session, "B", 5.0).matches


def test_a_head_that_gives_no_light_is_not_matched() -> None:
    assert match_readings(demo(), "seamstress-thread", [], {"D": 3.0}) == ()


def test_the_whole_set_is_matched_to_its_own_reading_carried_over_a_power_changed_after_it() -> None:
    """Only A lights the face, and the flat gives back of A alone: a stop on A is a stop in all."""
    session = at_work()
    session.reading(None, 4.0)
    assert match_text(match(session, None, 4.5)) == "all heads: f/4 +0.5 now, f/4 as shot: 0.5 over"
    session.nudge("A", 3)
    found = match(session, None, 4.0)
    assert found.off_stops == pytest.approx(-1.0, abs=1e-3)
    assert match_text(found) == "all heads: f/4 now, f/5.6 as shot (read f/4 before changes): 1.0 under"


def test_a_whole_of_several_heads_goes_up_by_the_share_of_the_one_changed() -> None:
    session = at_work("captain-chart")
    session.reading(None, 5.0)
    whole = [session.view.prediction.whole_stops]
    session.nudge("A", 3)
    whole.append(session.view.prediction.whole_stops)
    up = whole[1] - whole[0]  # type: ignore[operator]
    assert 0.1 < up < 0.9
    assert match(session, None, 5.0).off_stops == pytest.approx(-up)


def test_a_whole_read_with_no_light_in_the_sums_is_not_claimed() -> None:
    """Every head off when it was read, and one on as it was shot: nothing to carry it by."""
    session = at_work("captain-deck", with_lights(demo(), "captain-deck", power=OFF))
    session.reading(None, 1.0)
    session.nudge("C", 1)
    found = match(session, None, 1.0)
    assert not found.was_metered
    assert "predicted (read f/1.4 before changes)" in match_text(found)


def test_room_light_is_taken_off_both_readings_that_are_matched() -> None:
    """At 1/2 s the room's 60 lux are 3.6 stops of what the meter shows."""
    planned = demo().setups[FIRST]
    session = at_work(FIRST, with_setup(demo(), replace(planned, exposure=replace(planned.exposure, shutter="1/2"))))
    room = log2(60 * 100 / 2 / 250)

    def metered(flash: float) -> float:
        return log2(2**flash + 2**room)

    for head in ("A", None):
        session.reading(head, metered(4.0))
        assert match(session, head, metered(5.0)).off_stops == pytest.approx(1.0, abs=1e-6)
    assert match(session, "A", metered(5.0)).left_over_stops == pytest.approx(0.0, abs=1e-6)
    assert match_readings(session.plan, FIRST, session.entries, {"A": room}) == ()
