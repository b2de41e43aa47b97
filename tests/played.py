"""A copy of the demo day with some of it shot, in a journal on disk."""

import shutil
from pathlib import Path

from runbook.day.actions import Session
from runbook.day.load_plan import read_day
from runbook.journal.journal import Journal, journal_path
from tests.day.days import DEMO, SetClock, answer_checks, do_next

FIRST, SECOND = "keeper-window", "keeper-lamp"


def copied(folder: Path) -> Path:
    """The demo day in a folder of its own, nothing shot."""
    shutil.copytree(DEMO, folder)
    return folder


def shoot_one(session: Session, clock: SetClock, setup_id: str = FIRST) -> None:
    """A setup begun, made, metered, changed, shot: A ends a click up, after its reading."""
    session.begin(setup_id)
    while do_next(session):
        clock.move(0.5)
    session.reading("A", 4.2)
    session.reading(None, 4.1)
    session.nudge("A", 1)
    clock.move(10)
    session.frames(40)
    session.note("the <b>good</b> one")
    clock.move(10)
    session.mark_shot()


def half_way(session: Session, clock: SetClock) -> None:
    """One setup shot, the next begun and a few steps into it, the next step held by nothing."""
    shoot_one(session, clock)
    clock.move(2)
    session.begin(SECOND)
    for _ in range(4):
        do_next(session)
        clock.move(0.5)
    answer_checks(session)


def half_shot(folder: Path) -> Path:
    """The demo day copied into a folder, half way between its first two setups."""
    copied(folder)
    clock = SetClock()
    plan = read_day(folder)
    with Journal.open(journal_path(folder), clock=clock, who="photo") as journal:
        half_way(Session(plan, journal, "photo", clock, folder), clock)
    return folder
