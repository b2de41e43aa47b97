"""A look shot before can be made again: its files read back, and a match says what to dial."""

from dataclasses import replace
from math import log2
from pathlib import Path

import pytest

from runbook.day.actions import Session
from runbook.day.repeat_setup import MEASURED_FILE, as_shot_files, match_readings, match_text
from runbook.files.load import read_day
from runbook.journal.as_shot import as_shot
from runbook.journal.events import Changed, live
from runbook.light.prediction import predict
from runbook.model.power import OFF
from tests.day.days import DEMO, SetClock, begun, demo
from tests.played import FIRST, SECOND, half_way, shoot_one


@pytest.fixture
def session() -> Session:
    clock = SetClock()
    session = begun(clock=clock)
    half_way(session, clock)
    return session


def written(session: Session, folder: Path) -> Path:
    folder.mkdir(exist_ok=True)
    for name in ("day.toml", "kit.toml"):
        (folder / name).write_bytes((DEMO / name).read_bytes())
    for name, text in as_shot_files(session.plan, session.entries).items():
        (folder / name).write_text(text, encoding="utf-8")
    return folder


def test_the_files_read_back_as_exactly_what_was_shot(session: Session, tmp_path: Path) -> None:
    again = read_day(written(session, tmp_path / "again"))
    plan, dials = session.plan, session.plan.kit.dials
    assert again.setups.keys() == plan.setups.keys()
    changes = [entry for entry in live(session.entries) if isinstance(entry.data, Changed)]
    for setup_id, setup in again.setups.items():
        assert setup == as_shot(plan.setups[setup_id], changes, dials)
    assert again.setups[FIRST] != plan.setups[FIRST]


def test_powers_are_written_on_the_heads_own_dials(tmp_path: Path) -> None:
    """C has a tenth-stop dial: three clicks are 0.3, which on A would be a third."""
    session = begun()
    session.begin(SECOND)
    session.nudge("C", 3)
    session.nudge("A", 1)
    text = as_shot_files(session.plan, session.entries)[f"{SECOND}.toml"]
    assert 'power = "1/32"' in text  # C: 1/64+0.7 and three tenths
    assert 'power = "1/16"' in text  # A: 1/32+0.7 and a third
    again = read_day(written(session, tmp_path / "again")).setups[SECOND]
    assert again.light["C"].power == session.view.setup.light["C"].power  # type: ignore[union-attr]


def test_notes_and_readings_are_comments_whatever_is_in_them(tmp_path: Path) -> None:
    clock = SetClock()
    session = begun(clock=clock)
    shoot_one(session, clock)
    session.note('quote " and # and \n[[light]]\u2028end = "x"\u0000')
    text = as_shot_files(session.plan, session.entries)[f"{FIRST}.toml"]
    top = text.split("\n\n", 1)[0].split("\n")
    assert all(line.startswith("# ") for line in top)
    assert "# Read: A f/4 +0.2 at the face." in top
    assert "40 frames" in top[0]
    read_day(written(session, tmp_path / "again"))


def test_readings_become_rows_that_the_kit_takes(session: Session, tmp_path: Path) -> None:
    """The row says the power at which A was metered, not the one it was changed to after."""
    folder = written(session, tmp_path / "again")
    rows = (folder / MEASURED_FILE).read_text()
    kit = (folder / "kit.toml").read_text()
    bare = kit[: kit.index("[[measured]]")]
    (folder / "kit.toml").write_text(bare + rows)
    (row,) = read_day(folder).kit.measured
    assert (row.head, row.power, row.distance_m) == ("A", "1/8", 1.4)
    assert row.reads_f == pytest.approx(2 ** (4.2 / 2), abs=1e-3)


def test_a_match_carries_the_reading_over_what_was_changed_after_it(session: Session) -> None:
    """A was metered at 4.2 stops and then went a third up: as shot it would read 4.53."""
    (found,) = match_readings(session.plan, FIRST, session.entries, {"A": 4.2 + 1 / 3})
    assert found.was_metered
    assert found.off_stops == pytest.approx(0.0, abs=1e-9)
    assert found.matches
    assert found.dial == found.power


@pytest.mark.parametrize(("off", "clicks"), [(1.0, -3), (-2 / 3, 2), (0.3, -1), (0.1, 0)])
def test_a_match_says_what_to_dial(session: Session, off: float, clicks: int) -> None:
    (found,) = match_readings(session.plan, FIRST, session.entries, {"A": 4.2 + 1 / 3 + off})
    dial = session.plan.kit.head["A"].dial
    assert found.power is not None
    assert found.dial == dial.nudged(found.power, clicks)
    assert found.left_over_stops == pytest.approx(off + clicks / 3, abs=1e-9)
    assert found.matches == (abs(off) <= 0.17)


def test_a_match_off_the_dial_says_what_is_left(session: Session) -> None:
    (found,) = match_readings(session.plan, FIRST, session.entries, {"A": 0.0})
    assert str(found.dial) == "full"
    assert found.left_over_stops < -1
    assert "left over" in match_text(found)


def test_an_unmetered_head_is_matched_to_its_prediction(session: Session) -> None:
    (found,) = match_readings(session.plan, SECOND, session.entries, {"C": 3.0})
    assert not found.was_metered
    assert "not metered" in match_text(found)


def test_a_head_aimed_at_the_background_is_matched_there(session: Session) -> None:
    (found,) = match_readings(session.plan, FIRST, session.entries, {"B": 3.0})
    light = predict(session.plan, session.plan.setups[FIRST])
    there = next(each for each in light.heads if each.head == "B").at_aim_stops
    assert (found.where, found.was_stops) == ("background", there)
    assert match_text(found).startswith("B at the background: f/2.8 now, ")
    session.begin(FIRST)
    session.reading("B", 4.0)
    session.nudge("B", 3)
    (found,) = match_readings(session.plan, FIRST, session.entries, {"B": 5.0})
    assert found.was_metered
    assert found.matches


def test_a_head_that_gives_no_light_is_not_matched(session: Session) -> None:
    assert match_readings(session.plan, "seamstress-thread", session.entries, {"D": 3.0}) == ()


def test_the_whole_set_is_matched_to_its_own_reading() -> None:
    session = begun()
    session.begin(FIRST)
    session.reading(None, 4.1)
    (found,) = match_readings(session.plan, FIRST, session.entries, {None: 4.6})
    assert found.off_stops == pytest.approx(0.5)
    assert match_text(found) == "all heads: f/4 +0.6 now, f/4 +0.1 as shot: 0.5 over"


def test_the_whole_is_carried_over_a_power_changed_after_it() -> None:
    """Only A lights the face, and the flat gives back of A alone: a stop on A is a stop in all."""
    session = begun()
    session.begin(FIRST)
    session.reading(None, 4.0)
    session.nudge("A", 3)
    (found,) = match_readings(session.plan, FIRST, session.entries, {None: 4.0})
    assert found.off_stops == pytest.approx(-1.0, abs=1e-3)
    assert not found.matches
    assert match_text(found) == ("all heads: f/4 now, f/5.6 as shot (read f/4 before changes): 1.0 under")


def test_a_whole_of_several_heads_goes_up_by_the_share_of_the_one_changed() -> None:
    """A third of a stop on the fill alone is less than that in all, as the sums say."""
    session = begun()
    session.begin("captain-chart")
    session.reading(None, 5.0)
    before = session.view.prediction
    session.nudge("A", 3)
    after = session.view.prediction
    assert before is not None and after is not None
    assert before.whole_stops is not None and after.whole_stops is not None
    up = after.whole_stops - before.whole_stops
    assert 0.1 < up < 0.9
    (found,) = match_readings(session.plan, "captain-chart", session.entries, {None: 5.0})
    assert found.off_stops == pytest.approx(-up)


def test_a_whole_read_with_no_light_in_the_sums_is_not_claimed() -> None:
    """Every head off when it was read, and one on as it was shot: nothing to carry it by."""
    plan = demo()
    planned = plan.setups["captain-deck"]
    dark = replace(planned, lights=tuple(replace(light, power=OFF) for light in planned.lights))
    session = begun(replace(plan, setups=plan.setups | {dark.id: dark}))
    session.begin(dark.id)
    session.reading(None, 1.0)
    session.nudge("C", 1)
    (found,) = match_readings(session.plan, dark.id, session.entries, {None: 1.0})
    assert not found.was_metered
    assert "predicted (read f/1.4 before changes)" in match_text(found)


def test_room_light_is_taken_off_both_readings_that_are_matched() -> None:
    """At 1/2 s the room's 60 lux are 3.6 stops of what the meter shows."""
    plan = demo()
    planned = plan.setups[FIRST]
    slow = replace(planned, exposure=replace(planned.exposure, shutter="1/2"))
    session = begun(replace(plan, setups=plan.setups | {FIRST: slow}))
    session.begin(FIRST)
    room = log2(60 * 100 / 2 / 250)

    def metered(flash: float) -> float:
        return log2(2**flash + 2**room)

    for head in ("A", None):
        session.reading(head, metered(4.0))
        (found,) = match_readings(session.plan, FIRST, session.entries, {head: metered(5.0)})
        assert found.off_stops == pytest.approx(1.0, abs=1e-6)
    (found,) = match_readings(session.plan, FIRST, session.entries, {"A": metered(5.0)})
    assert found.left_over_stops == pytest.approx(0.0, abs=1e-6)
    assert match_readings(session.plan, FIRST, session.entries, {"A": room}) == ()
