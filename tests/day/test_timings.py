"""Timings as steps are ticked, read back from the journals nearby, and what they make one believe."""

import datetime as dt
import os
import sqlite3
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from runbook.changeover.steps import DEFAULT_S
from runbook.day import timings
from runbook.day.actions import Session
from runbook.day.changeovers import NO_TIMINGS, SHOOTING, Changeovers, Timings, estimated_s, kind_of
from runbook.day.timings import timings_near, timings_of
from runbook.files.paths import journals_near
from runbook.journal.errors import JournalError
from runbook.journal.events import StepTicked
from runbook.journal.journal import Journal, journal_path
from runbook.journal.journal_file import APPLICATION_ID, PAGE_SIZE, SCHEMA
from runbook.model.day import Crew, Plan
from tests.day.days import SetClock, answer_checks, begun, demo, do_all, do_next, short
from tests.day.plans import with_crew

DAY = short("widow-letter", "widow-answer")


class Timed:
    """A day or a rehearsal whose first setup is begun, with a clock to tick its steps by."""

    def __init__(self, folder: Path | None = None, *, rehearsal: bool = True) -> None:
        self.clock = SetClock()
        if folder is None:
            journal = Journal.in_memory(clock=self.clock, who="photo")
        else:
            folder.mkdir()
            journal = Journal.open(journal_path(folder, rehearsal=rehearsal), clock=self.clock, who="photo")
        self.session = Session(DAY, journal, "photo", self.clock, rehearsal=rehearsal)
        self.session.begin("widow-letter")

    def tick(self, seconds: float, who: str = "photo") -> StepTicked:
        """Do the next step so many seconds after the last thing."""
        self.session.who = who
        answer_checks(self.session)
        self.clock.now += dt.timedelta(seconds=seconds)
        assert do_next(self.session)
        return next(entry.data for entry in reversed(self.session.entries) if isinstance(entry.data, StepTicked))

    def timings(self) -> dict[str, tuple[float, ...]]:
        return timings_of(self.session.entries)


def test_a_step_is_timed_from_the_one_before_or_the_beginning() -> None:
    day = Timed()
    first, second = day.tick(33), day.tick(12)
    assert (first.seconds, second.seconds) == (33, 12)
    assert first.work == kind_of(day.session.state.done[0].step, DAY.kit)
    assert day.timings() == {first.work: (33,), second.work: (12,)}


def test_what_was_no_step_is_no_timing() -> None:
    day = Timed()
    assert day.tick(3600).seconds is None  # somebody had coffee
    assert day.tick(20).seconds == 20
    assert day.tick(0).seconds is None  # ticked along: nor was the one before timed
    assert day.timings() == {}
    day.session.pause("meal")
    day.clock.move(45)
    day.session.resume()
    assert day.tick(15).seconds == 15  # the break is not in it
    day.session.undo()
    assert day.timings() == {}


def test_each_person_has_a_stopwatch_and_one_who_ticks_for_a_whole_crew_times_no_step_on_the_day() -> None:
    rehearsed = Timed()
    rehearsed.tick(30)
    assert rehearsed.tick(10, "first").seconds == 10  # the bag waited for the stand that photo placed
    by_one = Timed()  # the seventh, a panel, waits for none of the steps before: when it was begun is not known
    assert [by_one.tick(10).seconds for _ in range(8)] == [10] * 6 + [None, 10]
    day = Timed(rehearsal=False)
    assert [day.tick(30).seconds, day.tick(5, "first").seconds, day.tick(5).seconds] == [None, 5, 5]


def played_on_schedule(
    plan: Plan, setups: tuple[str, ...], signed_by: str | None, speed: float = 1.0
) -> list[tuple[float, float | None]]:
    """Rehearse changeovers exactly as they are shared, each step ticked when it should be done.

    ``signed_by`` ticks for all; without it whoever does a step. Returns of each step its estimate
    and what it took.
    """
    clock = SetClock()
    session = begun(plan, clock, rehearsal=True)
    played = []
    for setup_id in setups:
        session.begin(setup_id)
        began, shared = clock.now, session.view.planned_change.shared
        for share in sorted(shared, key=lambda share: share.start_s + share.step.seconds):
            clock.now = began + dt.timedelta(seconds=speed * (share.start_s + share.step.seconds))
            session.who = signed_by or share.crew[0]
            session.tick(share.step)
            played.append((share.step.seconds, session.entries[-1].data.seconds))
        clock.move(10)
    return played


@settings(max_examples=8)
@given(
    st.permutations(demo().day.order).map(lambda order: tuple(order[:2])),
    st.integers(1, 4),
    st.sampled_from([None, "photo"]),
    st.sampled_from([1.0, 2.0]),
)
def test_a_rehearsal_played_exactly_on_a_schedule_learns_exactly_its_times(setups, people, signed_by, speed):
    crew = tuple(Crew(name) for name in ("photo", "first", "second", "third")[:people])
    played = played_on_schedule(with_crew(demo(), *crew), setups, signed_by, speed)
    timed = [(estimate, taken) for estimate, taken in played if taken is not None]
    assert all(taken == pytest.approx(speed * estimate) for estimate, taken in timed)
    # where whoever does a step ticks it, nearly every step is timed
    assert len(timed) > (0 if signed_by else 0.7 * len(played))


def test_shooting_is_learned_in_shares_of_what_was_planned() -> None:
    day = Timed(rehearsal=False)
    do_all(day.session)
    day.clock.move(DAY.setups["widow-letter"].shoot_min * 1.2)
    day.session.mark_shot()
    assert day.timings()[SHOOTING] == (1.2,)
    assert 1 < Timings({SHOOTING: (1.2,)}).shooting.median_s < 1.2


def test_timings_move_the_plan_and_the_default_stands_without_them() -> None:
    steps = Changeovers(demo()).between(None, "keeper-window").steps
    step = next(step for step in steps if step.verb == "fit" and step.kind == "modifier")
    assert NO_TIMINGS.seconds(step, demo().kit) == DEFAULT_S["fit", "modifier"] == 40
    slow = Timings({"fit modifier": (90.0, 95.0, 100.0, 92.0)})
    assert 65 <= slow.seconds(step, demo().kit) <= 95
    assert slow.seconds(step, demo().kit) % 5 == 0
    assert slow.seconds(replace(step, hands=2), demo().kit) == 40  # two people: another kind
    assert slow.count == 4


def test_every_kind_has_an_estimate_and_an_unknown_one_is_a_key_error() -> None:
    for verb, what in DEFAULT_S:
        assert estimated_s(f"{verb} {what} by two") == DEFAULT_S[verb, what]
    with pytest.raises(KeyError):
        estimated_s("juggle bag")


# -- the journals nearby -----------------------------------------------------------------------------


def test_a_day_learns_from_itself_its_rehearsal_and_the_days_beside_it(tmp_path: Path) -> None:
    for folder, seconds in (("today", 30), ("before", 34), ("long-before", 38)):
        day = Timed(tmp_path / folder)
        day.tick(seconds)
        day.session.journal.close()
    (tmp_path / "broken").mkdir()
    journal_path(tmp_path / "broken").write_bytes(b"no journal at all" * 9)
    (tmp_path / "file").write_text("no folder")
    assert len(journals_near(tmp_path / "today")) == 4
    known = timings_near(tmp_path / "today")
    assert sorted(*known.by_kind.values()) == [30, 34, 38]
    assert known.journals == 3
    assert timings_near(tmp_path / "nowhere" / "day") == NO_TIMINGS


def test_only_the_newest_journals_are_read(tmp_path: Path) -> None:
    for n in range(40):
        path = journal_path(tmp_path / f"d{n:02}")
        path.parent.mkdir()
        path.touch()
        os.utime(path, (n, n))
    assert [path.parent.name for path in journals_near(tmp_path / "d00")] == [f"d{n:02}" for n in range(39, 9, -1)]


ENDLESS = (
    "WITH RECURSIVE more(n) AS (SELECT 1 UNION ALL SELECT n + 1 FROM more) "
    "SELECT n, '' AS at, 0 AS offset_s, '' AS who, '' AS kind, '' AS data, 0 AS crc FROM more"
)
TRIGGER = f"CREATE TRIGGER more AFTER INSERT ON entry BEGIN INSERT INTO other SELECT n FROM ({ENDLESS}); END"


def database(*statements: str) -> Callable[[Path], None]:
    """Write a database that says it is a journal."""

    def write(path: Path) -> None:
        connection = sqlite3.connect(path)
        for statement in (
            f"PRAGMA page_size={PAGE_SIZE}", f"PRAGMA application_id={APPLICATION_ID}", *statements,
            "PRAGMA user_version=1",
        ):  # fmt: skip
            connection.execute(statement)
        connection.commit()
        connection.close()

    return write


def pipe_beside(path: Path) -> None:
    Journal.open(path, clock=SetClock(), who="").close()
    os.mkfifo(f"{path}-journal")


STRANGE: dict[str, Callable[[Path], None]] = {
    "pipe": os.mkfifo, "device": lambda path: path.symlink_to("/dev/zero"), "loop": lambda path: path.symlink_to(path),
    "pipe beside": pipe_beside, "endless view": database(f"CREATE VIEW entry AS {ENDLESS}"),
    "endless trigger": database(*SCHEMA, "CREATE TABLE other (n)", TRIGGER),
}  # fmt: skip


@pytest.mark.parametrize("strange", STRANGE)
def test_a_strange_journal_is_refused_and_teaches_nothing_and_stops_nothing(tmp_path: Path, strange: str) -> None:
    (tmp_path / "today").mkdir()
    (tmp_path / "other").mkdir()
    path = journal_path(tmp_path / "other")
    STRANGE[strange](path)
    assert timings_near(tmp_path / "today") == NO_TIMINGS
    if strange not in ("loop", "pipe beside"):
        with pytest.raises(JournalError):
            Journal.read(path)
        with pytest.raises(JournalError):
            Journal.open(path, clock=SetClock(), who="")


def test_a_neighbour_too_big_is_not_read(tmp_path: Path) -> None:
    (tmp_path / "today").mkdir()
    (tmp_path / "other").mkdir()
    path = journal_path(tmp_path / "other")
    Journal.open(path, clock=SetClock(), who="").close()
    assert Journal.read(path, path.stat().st_size).entries == ()
    with pytest.raises(JournalError, match="MiB"):
        Journal.read(path, path.stat().st_size - 1)
    with path.open("r+b") as file:
        file.truncate(timings._SIZE_MAX + PAGE_SIZE)  # a sparse file: no room taken
    assert timings_near(tmp_path / "today") == NO_TIMINGS
