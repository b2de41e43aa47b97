"""Days to try the session on, a clock that only moves when asked, and a crew that does every step."""

import datetime as dt
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from functools import cache
from pathlib import Path
from typing import Any

from runbook.day.actions import Refused, Session
from runbook.day.load_plan import read_day
from runbook.journal.events import Entry
from runbook.journal.journal import Journal
from runbook.model.day import Plan
from tests.day.plans import with_day

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
    return with_day(demo(), order=setups)


def begun(
    plan: Plan | None = None,
    clock: SetClock | None = None,
    entries: Iterable[Entry] = (),
    who: str = "photo",
    **more: Any,
) -> Session:
    """A day nobody has begun, or with these entries, and its journal in memory."""
    clock = clock or SetClock()
    return Session(plan or demo(), Journal.in_memory(clock=clock, who=who, entries=entries), who, clock, **more)


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


def do_all(session: Session) -> None:
    """Do every step there is left."""
    for _ in range(200):
        if not do_next(session):
            return
    raise AssertionError("it never ends")


def make_ready(session: Session, setup_id: str | None) -> None:
    """Begin a setup (None: the wrap) and do all of its steps."""
    session.begin(setup_id)
    do_all(session)


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
