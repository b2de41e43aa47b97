"""What the next shooter must confirm when the day is handed over, and what quitting would lose.

A ``safety`` line is about something that can hurt a person, or about care that is still open: it is
confirmed, or skipped with a reason.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from itertools import count
from typing import Final

from runbook.day.actions import Session
from runbook.day.changeovers import WRAP
from runbook.day.day_record import NotShot, battery_use, not_shot
from runbook.day.event_text import check_text, reading_place_text, reading_text
from runbook.day.hours import hours_of
from runbook.day.plan_vs_actual import changed_setups, other_changes, power_changes
from runbook.day.state import target_setup
from runbook.day.timeline import clock_time
from runbook.files.lint import mark_meant, worst_first
from runbook.journal.events import Entry, Note, Undone, live
from runbook.light.audit import audit_light
from runbook.model.day import Plan
from runbook.model.problems import Problem
from runbook.model.units import length, mass
from runbook.stands.audit import audit_stands
from runbook.stands.verdict import judge_setup
from runbook.stands.verdict_text import gust_text

_NOTES: Final = 5  # the last ones; the journal has them all
_DRAWS: Final = 100  # enough simulated days for a steady median
_BATTERY_LOW: Final = 0.8  # of a charge
_ID_START: Final = "handover-"  # of these lines, among the ids of all checks


@dataclass(frozen=True, slots=True)
class HandoverLine:
    """One thing to confirm: its topic, the text, and whether it is a safety matter."""

    id: str
    topic: str
    text: str
    safety: bool = False


def estimate_finish(session: Session) -> None:
    """Work out when the day ends, to the few minutes that a handover needs."""
    session.hours = hours_of(session.moment, session.changes, draws=_DRAWS)


def handover_lines(session: Session, now: datetime) -> tuple[HandoverLine, ...]:
    """Everything to confirm: where the day is, then what matters most for safety first.

    The finish is included when it is worked out already.
    """
    missed = tuple(not_shot(session.plan, session.state, live(session.entries)))
    lines: dict[str, HandoverLine] = {}
    for line in (
        *_where(session, missed),
        *_armed(session),
        *_standing(session),
        *_limits(session),
        *_open(session),
        *_as_planned(session),
        *_next(session),
        *_to_shoot(session, missed),
        *_batteries(session),
        *_clock(session, now),
        *_notes(session),
    ):
        ids = (line.id if n == 1 else f"{line.id}-{n}" for n in count(1))
        unused = next(each for each in ids if each not in lines)
        lines[unused] = replace(line, id=unused)
    return tuple(lines.values())


def _line(topic: str, text: str, item: str = "", *, safety: bool = False) -> HandoverLine:
    slug = topic.replace(" ", "-")
    return HandoverLine(f"{_ID_START}{slug}-{item}" if item else f"{_ID_START}{slug}", topic, text, safety)


def _where(session: Session, missed: Iterable[NotShot]) -> Iterator[HandoverLine]:
    state, topic = session.state, "where we are"
    if not state.begun:
        yield _line(topic, "not begun: the floor is empty")
        return
    at_work = state.at_work or WRAP
    if not session.view.ready:
        done, left = len(state.done), len(session.view.pending.left)
        text = f"is being changed: {done} step{'' if done == 1 else 's'} done, {left} to do"
    elif state.at_work in state.shot:
        text = "is shot, and stands"
    else:
        text = "is set" if state.at_work else "is done: everything is struck"
    yield _line(topic, f"{at_work} {text}", at_work)
    if session.view.setup is not None:
        frames, planned = state.frames.get(session.view.setup.id, 0), session.plan.setups[session.view.setup.id].frames
        yield _line(topic, f"{frames} of {planned} frames", "frames")
    if session.view.next_step is not None:
        yield _line(topic, f"next step: {session.view.next_step.step.text}", "step")
    if state.on_break:
        yield _line(topic, f"on a break: {state.on_break}", "break")
    shot = [line.id for line in session.view.setups if line.state == "shot"]
    if shot:
        yield _line(topic, f"shot: {', '.join(shot)}", "over")
    yield from (_line(topic, each.text, each.id) for each in missed if each.state == "skipped")


def _armed(session: Session) -> Iterator[HandoverLine]:
    armed = {head: at for head, at in session.state.real_floor.heads.items() if at.armed}
    if not armed:
        yield _line("armed", "no head is armed")
    for head, at in armed.items():
        where = f"on {at.stand}" if at.stand else "in somebody's hands"
        power = f" at {at.power}" if at.power else ""
        yield _line("armed", f"{head} is ARMED{power}, {where}: it fires", head, safety=True)


def _standing(session: Session) -> Iterator[HandoverLine]:
    """Each stand as it really stands, and the gusts entered."""
    floor, plan = session.state.real_floor, session.plan
    units, place = plan.day.units, plan.day.place
    for stand, at in floor.stands.items():
        head = floor.head_on(stand)
        bags = sorted(floor.bags_on("stand", stand))
        weight = mass(sum(plan.kit.bag[bag].mass_kg for bag in bags if bag in plan.kit.bag), units)
        bag_text = f"bags {' + '.join(bags)}, {weight}" if bags else "NO BAG"
        text = f"{stand} at {length(at.height_m, units)} with {head or 'nothing on it'}, {bag_text}"
        high = head is not None and at.height_m > place.reach_m
        yield _line("standing", text, stand, safety=high and not bags)
    if floor.in_hands:
        yield _line("standing", f"in somebody's hands: {', '.join(sorted(floor.in_hands))}", "hands", safety=True)
    wind = session.state.wind
    if wind is not None and not place.indoors:
        yield _line("wind", f"gusts {gust_text(wind.data.gust_ms, units)}, entered {wind.at:%H:%M}", safety=True)


def _limits(session: Session) -> Iterator[HandoverLine]:
    """What is wrong with the stands and the light of the setup at work, as it is shot."""
    setup = session.view.setup
    if setup is None:
        return
    # no other setup than the one at work, as it is shot, in the wind there is
    day = replace(session.plan.day, order=(setup.id,), place=session.view.place)
    plan = replace(session.plan, day=day, setups=session.plan.setups | {setup.id: setup})
    bad = [verdict for verdict in judge_setup(plan, setup) if not verdict.ok]
    for verdict in bad:
        text = f"{verdict.stand}: {', '.join(verdict.faults)}; tips at {verdict.lean_deg:.1f}° of lean"
        yield _line("over a limit", text, verdict.stand, safety=True)
    stands = {verdict.stand for verdict in bad}
    for problem in _problems(plan, audit_stands(plan), setup.id):
        if problem.item not in stands:
            item = f"{problem.item}: " if problem.item else ""
            text = f"{item}{problem.what}; {problem.do}"
            yield _line("over a limit", text, problem.code, safety=problem.level == "stop")
    for problem in _problems(session.plan, audit_light(plan, session.state.anchors), setup.id):
        yield _line("light", f"{problem.what}; {problem.do}", problem.code)


def _problems(plan: Plan, problems: Iterable[Problem], setup_id: str) -> Iterator[Problem]:
    """The stops and warnings of a setup that are not marked as meant, worst first."""
    for problem in worst_first(mark_meant(plan, problems)):
        if problem.setup == setup_id and problem.level in ("stop", "warn"):
            yield problem


def _open(session: Session) -> Iterator[HandoverLine]:
    """Checks not ticked, checks set aside, steps skipped."""
    state, topic = session.state, "open"
    if not state.begun:
        return
    texts = {check.id: check.text for check, _ in session.view.checks}
    unticked = [check for check, tick in session.view.checks if tick is None]
    for check in unticked:
        if check.holds:
            yield _line(topic, f"not ticked: {check.text}", check.id, safety=True)
    # of the whole day: what was set aside in the morning is still open
    for check_id, tick in (state.checks | state.change_checks).items():
        if tick.aside is not None and not check_id.startswith(_ID_START):
            check_words = texts.get(check_id) or check_text(check_id)
            text = f"set aside at {tick.at} by {tick.by}: {check_words}, because: {tick.aside}"
            yield _line(topic, text, check_id, safety=True)
    optional = sum(not check.holds for check in unticked)
    if optional:
        yield _line(topic, f"{optional} more lines of the checklist are not ticked", "more")
    for step in session.view.todo:
        if (reason := state.steps_skipped.get(step.key)) is not None:
            yield _line(topic, f"skipped: {step.text}, because: {reason}", "-".join(step.key), safety=True)


def _as_planned(session: Session) -> Iterator[HandoverLine]:
    """What of the setup at work is as planned, what is not, and what the meter read."""
    setup, plan, state = session.view.setup, session.plan, session.state
    if setup is None:
        return
    powers = power_changes(plan, setup)
    yield from (_line("not as planned", text, head) for head, text in powers.items())
    same = ", ".join(f"{light.head} {light.power}" for light in setup.lights if light.head not in powers)
    if same:
        yield _line("as planned", f"dialled as planned: {same}")
    for text in other_changes(plan, state, setup.id):
        yield _line("not as planned", text, "other")
    for head, entry in state.readings.get(setup.id, {}).items():
        light = session.view.head_light(head) if head else None
        target = "" if light is None or light.asked_stops is None else f", target {reading_text(light.asked_stops)}"
        yield _line("readings", f"{reading_place_text(entry.data, ' read')}{target}", head or "all")
    others = [setup_id for setup_id in changed_setups(plan, state) if setup_id != setup.id]
    if others:
        yield _line("not as planned", f"also changed, see the journal: {', '.join(others)}")


def _next(session: Session) -> Iterator[HandoverLine]:
    state, plan, topic = session.state, session.plan, "due next"
    coming = session.view.next_setup
    if coming is not None:
        setup = target_setup(plan, state, coming)
        look = f", look {setup.look}" if setup.look else ""
        yield _line(topic, f"{coming}: {setup.title or coming}{look}", coming)
    elif not state.wrapping:
        yield _line(topic, "the wrap", "wrap")
    for each in plan.day.breaks:
        if each.id not in state.breaks:
            text = f"{each.name or each.id}, to begin {each.earliest:%H:%M} to {each.latest:%H:%M}"
            yield _line(topic, text, each.id)
    worn = plan.setups[state.at_work].look if state.at_work in plan.setups else None
    for talent, due in state.late.items():
        if talent != (plan.day.look[worn].sitter if worn in plan.day.look else None):
            yield _line(topic, f"{talent} is late: expected at {due:%H:%M}", f"late {talent}")
    if state.ahead:
        yield _line(topic, f"done ahead: {'; '.join(done.step.text for _, done in state.ahead)}", "ahead")


def _to_shoot(session: Session, missed: Iterable[NotShot]) -> Iterator[HandoverLine]:
    """The setups that the order of the day does not come to by itself."""
    # once the wrap has begun no setup is next any more
    states = ("open", "not shot yet", "not begun") if session.state.wrapping else ("open", "not shot yet")
    for setup in missed:
        if setup.state in states and setup.id != session.state.at_work:
            yield _line("still to shoot", setup.text, setup.id)


def _batteries(session: Session) -> Iterator[HandoverLine]:
    for battery in battery_use(session.plan, live(session.entries)):
        if battery.charge:
            low = "LOW: " if battery.spent >= _BATTERY_LOW * battery.of else ""
            since = ", since its battery was changed" if battery.changed else ""
            text = f"{low}{battery.head}: about {battery.spent:.0f} of {battery.of:g} full flashes spent{since}"
            yield _line("batteries", text, battery.head)


def _clock(session: Session, now: datetime) -> Iterator[HandoverLine]:
    day = session.plan.day
    at = f"it is {now:%H:%M}"
    if clock_time(day, now, begun=session.state.begun) != now:
        at = f"the day is on {day.date}, call {day.call:%H:%M}"
    yield _line("clock", ", ".join(filter(None, (at, f"wrap {day.wrap:%H:%M}", session.finish_text(now)))))


def _notes(session: Session) -> Iterator[HandoverLine]:
    notes = [entry for entry in live(session.entries) if isinstance(entry.data, Note)]
    for entry in notes[-_NOTES:]:
        about = f"{entry.data.setup}: " if entry.data.setup else ""
        yield _line("note", f"{about}{entry.data.text} ({entry.who}, {entry.at:%H:%M})", str(entry.n))
    if session.warning:
        yield _line("journal", session.warning, safety=True)


# -- quitting --------------------------------------------------------------------------------------

_AUTOMATIC: Final = frozenset({"day-opened", "left"})  # written by the program itself
_KIND_NAMES: Final = {
    "setup-begun": ("setup begun", "setups begun"),
    "step-ticked": ("step", "steps"),
    "check-ticked": ("check", "checks"),
    "reading": ("reading", "readings"),
    "changed": ("change", "changes"),
    "note": ("note", "notes"),
    "wind": ("wind", "winds"),
}
_OTHER_NAMES: Final = ("other thing", "other things")


def unsaved_text(unwritten: Sequence[Entry]) -> str:
    """``2 steps and 1 note are not written and would be lost``; empty when nothing would be.

    Entries undone among these are not lost; undoing a written entry is.
    """
    own, undone, lost = {entry.n for entry in unwritten}, set[int](), list[Entry]()
    for entry in reversed(unwritten):  # undoing comes after what it undoes
        if entry.n in undone or entry.kind in _AUTOMATIC:
            continue
        if isinstance(entry.data, Undone):
            undone.add(entry.data.entry)
        if not isinstance(entry.data, Undone) or entry.data.entry not in own:
            lost.append(entry)
    if not lost:
        return ""
    counts = Counter(_KIND_NAMES.get(entry.kind, _OTHER_NAMES) for entry in reversed(lost))
    *most, last = [f"{number} {names[number > 1]}" for names, number in counts.items()]
    listed = f"{', '.join(most)} and {last}" if most else last
    return f"{listed} {'is' if len(lost) == 1 else 'are'} not written and would be lost"
