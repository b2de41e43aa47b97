"""Days to try the session on, a clock that only moves when asked, and a crew that does every step."""

import datetime as dt
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from functools import cache
from pathlib import Path

from runbook.day.actions import Refused, Session
from runbook.day.load_plan import read_day
from runbook.journal.journal import Journal
from runbook.model.day import Crew, Plan
from runbook.model.setup import PanelPlace

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


def with_crew(plan: Plan, *crew: Crew) -> Plan:
    """The plan with another crew; what somebody held who is not in it stands by itself.

    A plan that is read from files never names a holder who is not there.
    """
    gone = {member.id for member in plan.day.crew} - {member.id for member in crew}

    def standing(place: PanelPlace) -> PanelPlace:
        return replace(place, held_by=None) if place.held_by in gone else place

    setups = {name: replace(setup, panels=tuple(map(standing, setup.panels))) for name, setup in plan.setups.items()}
    return replace(plan, day=replace(plan.day, crew=crew), setups=setups)


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


def make_ready(session: Session, setup_id: str | None) -> None:
    """Begin a setup (None: the wrap) and do all of its steps."""
    session.begin(setup_id)
    for _ in range(200):
        if not do_next(session):
            return
    raise AssertionError(f"{setup_id}: it never ends")


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


@contextmanager
def unwritable(path: Path) -> Iterator[None]:
    """Something else stands where the journal was."""
    away = path.with_name("away")
    path.rename(away)
    path.mkdir()
    yield
    path.rmdir()
    away.rename(path)
