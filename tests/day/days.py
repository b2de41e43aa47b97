"""Days to try the session on, a clock that only moves when asked, and a crew that does every step."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from functools import cache
from pathlib import Path

from runbook.changeover.checklist import Check
from runbook.changeover.steps import Step
from runbook.day.actions import Refused, Session
from runbook.files.load import read_day
from runbook.journal.events import Entry
from runbook.journal.journal import Journal
from runbook.model.day import Plan

DEMO = Path(__file__).parents[2] / "setups" / "lantern-row"
FIRST, SECOND = "keeper-window", "keeper-lamp"
ZONE = dt.timezone(dt.timedelta(hours=1))


class SetClock:
    """A clock that stands until somebody moves it."""

    def __init__(self, hour: int = 8, minute: int = 0) -> None:
        self.now = dt.datetime(2026, 12, 4, hour, minute, tzinfo=ZONE)

    def __call__(self) -> dt.datetime:
        return self.now

    def move(self, minutes: float) -> None:
        self.now += dt.timedelta(minutes=minutes)


@cache
def demo() -> Plan:
    """The demo day."""
    return read_day(DEMO)


def short(*setups: str) -> Plan:
    """The demo day with only these setups in its order; the others stay in the folder."""
    return replace(demo(), day=replace(demo().day, order=setups))


def begun(plan: Plan | None = None, clock: SetClock | None = None) -> Session:
    """A day nobody has begun, with a journal in memory."""
    clock = clock or SetClock()
    plan = plan or demo()
    journal = Journal.in_memory(clock=clock, who="photo")
    return Session(plan, journal, "photo", clock)


def answer_checks(session: Session, *, aside: bool = False) -> None:
    """Tick the checks that hold the next step; with ``aside``, set aside what cannot be true."""
    line = session.view.next_step
    while line is not None and line.state == "held":
        hold = session.view.pending.open_holds(line.step)[0]
        try:
            session.tick_check(hold.check)
        except Refused:
            if not aside:
                raise
            session.set_check_aside(hold.check, "cannot be")
        line = session.view.next_step


def do_next(session: Session) -> bool:
    """Tick the checks the next step asks for, then the step; False when there is none left."""
    answer_checks(session)
    line = session.view.next_step
    if line is None:
        return False
    session.tick(line.step)
    return True


def do_until(session: Session, *key: str) -> None:
    """Do the steps before the one whose key begins so."""
    while (line := session.view.next_step) is not None and line.step.key[: len(key)] != key:
        do_next(session)
    assert session.view.next_step is not None, f"no step {key}"


def do_all_ahead(session: Session, most: int = 99) -> None:
    """Do the steps that can be done ahead of the next setup, and their checks."""
    while session.view.ahead.todo and (most := most - 1) >= 0:
        ahead = session.view.ahead
        for hold in ahead.holds:
            if hold.open and not ahead.check_waits_for(hold.check):
                session.tick_check(hold.check, ahead=True)
        session.tick_ahead(next(step for step in ahead.todo if not ahead.waits_for(step)))


def make_ready(session: Session, setup_id: str | None) -> None:
    """Begin a setup (None: the wrap) and do all of its steps."""
    session.begin(setup_id)
    for _ in range(200):
        if not do_next(session):
            return
    raise AssertionError(f"{setup_id}: it never ends")


@cache
def _entries_until_ready(setup_id: str) -> tuple[Entry, ...]:
    session = begun()
    make_ready(session, setup_id)
    return tuple(session.entries)


def standing(plan: Plan | None = None, setup_id: str = FIRST) -> Session:
    """A day whose first setup, or another, stands as planned; nothing of it is shot yet."""
    clock = SetClock()
    journal = Journal.in_memory(clock=clock, who="photo", entries=_entries_until_ready(setup_id))
    return Session(plan or demo(), journal, "photo", clock)


def step_of(session: Session, *key: str) -> Step:
    """The first step of the changeover at hand, done or not, whose key begins so."""
    return next(line.step for line in session.view.lines if line.step.key[: len(key)] == key)


def check_of(session: Session, check_id: str) -> Check:
    """A check that holds a step of the changeover at hand."""
    return next(hold.check for hold in session.view.holds if hold.check.id == check_id)


def skip_and_do(session: Session, *keys: tuple[str, str, str]) -> Session:
    """Skip these steps of the changeover at hand, and do the others."""
    for key in keys:
        session.skip_step(step_of(session, *key), "no time")
    for _ in range(200):
        if not do_next(session):
            return session
    raise AssertionError("it never ends")


def second_without(*keys: tuple[str, str, str]) -> Session:
    """The second setup, made after the first, with these steps skipped."""
    session = standing()
    session.begin(SECOND)
    return skip_and_do(session, *keys)


def skipping(session: Session, *keys: tuple[str, str, str]) -> Session:
    """Do all steps to the setup at work but these, which are skipped, and set aside what they require."""
    while (line := session.view.next_step) is not None:
        if line.step.key in keys:
            session.skip_step(line.step, "left in the van")
            continue
        for hold in session.view.pending.open_holds(line.step):
            if hold.check.id == "bagged-S1":
                session.set_check_aside(hold.check, "somebody stands by it")
        do_next(session)
    return session


def refused(action: object, *args: object) -> str:
    """Return why an action is refused."""
    try:
        action(*args)  # type: ignore[operator]
    except Refused as why:
        return str(why)
    raise AssertionError("not refused")


def tick_or_why(session: Session, step: Step) -> str:
    """Do a step; why it cannot be done, where it cannot."""
    try:
        session.tick(step)
    except Refused as why:
        return str(why)
    return ""


@contextmanager
def unwritable(path: Path) -> Iterator[None]:
    """Something else stands where the journal was."""
    away = path.with_name("away")
    path.rename(away)
    path.mkdir()
    yield
    path.rmdir()
    away.rename(path)
