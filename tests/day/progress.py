"""A day under way: setups that stand, and steps found, done, skipped or done ahead."""

from functools import cache

from runbook.changeover.checklist import Check
from runbook.changeover.steps import Step
from runbook.day.actions import Refused, Session
from runbook.journal.events import Entry
from runbook.model.day import Plan
from tests.day.days import FIRST, SECOND, begun, do_all, make_ready


@cache
def _entries_until_ready(setup_id: str) -> tuple[Entry, ...]:
    session = begun()
    make_ready(session, setup_id)
    return tuple(session.entries)


def standing(plan: Plan | None = None, setup_id: str = FIRST) -> Session:
    """A day whose first setup, or another, stands as planned; nothing of it is shot yet."""
    return begun(plan, entries=_entries_until_ready(setup_id))


def step_of(session: Session, *key: str) -> Step:
    """The first step of the changeover at hand, done or not, whose key begins so."""
    return next(line.step for line in session.view.lines if line.step.key[: len(key)] == key)


def check_of(session: Session, check_id: str) -> Check:
    """A check that holds a step of the changeover at hand."""
    return next(hold.check for hold in session.view.holds if hold.check.id == check_id)


def tick_or_why(session: Session, step: Step) -> str:
    """Do a step; why it cannot be done, where it cannot."""
    try:
        session.tick(step)
    except Refused as why:
        return str(why)
    return ""


def skip_and_do(session: Session, *keys: tuple[str, str, str]) -> Session:
    """Skip these steps of the changeover at hand, and do the others."""
    for key in keys:
        session.skip_step(step_of(session, *key), "no time")
    do_all(session)
    return session


def second_without(*keys: tuple[str, str, str]) -> Session:
    """The second setup, made after the first, with these steps skipped."""
    session = standing()
    session.begin(SECOND)
    return skip_and_do(session, *keys)


def do_all_ahead(session: Session, most: int = 99) -> None:
    """Do the steps that can be done ahead of the next setup, and their checks."""
    while session.view.ahead.todo and (most := most - 1) >= 0:
        ahead = session.view.ahead
        for hold in ahead.holds:
            if hold.open and not ahead.check_waits_for(hold.check):
                session.tick_check(hold.check, ahead=True)
        session.tick_ahead(next(step for step in ahead.todo if not ahead.waits_for(step)))
