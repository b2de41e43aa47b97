"""What the next shooter must hear and say back when the day is handed over.

Each line is one thing to confirm. A line that is ``safety`` is about something that can hurt
somebody, or about care that is still open: it is said back, or passed over with a reason.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import replace
from datetime import datetime
from typing import Final, NamedTuple

from runbook.day.changeovers import WRAP
from runbook.day.day_record import battery_use, not_shot
from runbook.day.day_view import DayView
from runbook.day.event_text import check_text, reading_place_text, reading_text
from runbook.day.hours import hours_of
from runbook.day.plan_vs_actual import changed_setups, other_changes, power_changes
from runbook.day.state import target_setup
from runbook.day.timeline import clock_time
from runbook.files.lint import mark_meant, worst_first
from runbook.journal.entries import Entry, Note, Undone, live
from runbook.light.audit import audit_light
from runbook.model.day import Plan
from runbook.model.units import length, mass
from runbook.stands.audit import audit_stands
from runbook.stands.verdict import judge_setup
from runbook.stands.verdict_text import gust_text

_NOTES: Final = 5  # the last few are about now; the journal has them all
_DRAWS: Final = 100  # of the day to come: its middle is steady from some dozens on
_NEARLY: Final = 0.8  # of a charge: a battery to think of


_OURS: Final = "handover-"  # how the ids of these lines begin, among those of all checks


class HandoverLine(NamedTuple):
    """One thing to confirm: what it is about, what is so, and whether it is a safety matter."""

    id: str
    topic: str
    text: str
    safety: bool = False


def estimate_finish(session: DayView) -> None:
    """Work out when the day ends, to the few minutes that a handover needs."""
    session.hours = hours_of(session.moment, session.changes, draws=_DRAWS)


def handover_lines(session: DayView, now: datetime) -> tuple[HandoverLine, ...]:
    """Everything that must be heard, what matters most for safety first after where we are.

    When the day ends is told where it is worked out already.
    """
    found = [
        *_where(session),
        *_armed(session),
        *_standing(session),
        *_wind(session),
        *_limits(session),
        *_light(session),
        *_open(session),
        *_planned(session),
        *_next(session),
        *_owed(session),
        *_batteries(session),
        *_clock(session, now),
        *_notes(session),
    ]
    counts: dict[str, int] = {}
    lines = []
    for line in found:  # ids are told apart within a topic, whatever the texts are
        counts[line.id] = counts.get(line.id, 0) + 1
        again = counts[line.id]
        lines.append(line if again == 1 else line._replace(id=f"{line.id}-{again}"))
    return tuple(lines)


def _line(topic: str, text: str, item: str = "", *, safety: bool = False) -> HandoverLine:
    slug = topic.replace(" ", "-")
    return HandoverLine(f"{_OURS}{slug}-{item}" if item else f"{_OURS}{slug}", topic, text, safety)


def _where(session: DayView) -> Iterator[HandoverLine]:
    state = session.state
    topic = "where we are"
    if not state.begun:
        yield _line(topic, "nothing is begun: the floor is empty")
        return
    at_work = state.at_work or WRAP
    if session.ready:
        status = "is set" if state.at_work else "is done: everything is struck"
        if state.at_work in state.shot:
            status = "is shot, and stands"
    else:
        done, left = len(state.done), len(session.view.now.left)
        status = f"is being changed: {done} step{'' if done == 1 else 's'} done, {left} to do"
    yield _line(topic, f"{at_work} {status}", at_work)
    if session.setup is not None:
        frames = state.frames.get(session.setup.id, 0)
        planned = session.plan.setups[session.setup.id].frames
        yield _line(topic, f"{frames} frames of {planned} on it", "frames")
    step = session.next_step
    if step is not None:
        yield _line(topic, f"step at hand: {step.step.text}", "step")
    if state.on_break:
        yield _line(topic, f"on a break: {state.on_break}", "break")
    over = [f"{line.id} {line.state}" for line in session.setups if line.state == "shot"]
    if over:
        yield _line(topic, f"behind us: {', '.join(over)}", "over")
    for each in not_shot(session.plan, state, live(session.entries)):
        if each.state == "skipped":
            yield _line(topic, each.text, each.id)


def _armed(session: DayView) -> Iterator[HandoverLine]:
    floor = session.state.real_floor
    armed = {head: at for head, at in floor.heads.items() if at.armed}
    if not armed:
        yield _line("armed", "no head is armed")
    for head, at in armed.items():
        where = f"on {at.stand}" if at.stand else "in somebody's hands"
        power = f" at {at.power}" if at.power else ""
        yield _line("armed", f"{head} is ARMED{power}, {where}: it fires", head, safety=True)


def _standing(session: DayView) -> Iterator[HandoverLine]:
    """Each stand as it really stands: how high, with what, held by which bags."""
    floor, plan = session.state.real_floor, session.plan
    units, place = plan.day.units, plan.day.place
    for stand, at in floor.stands.items():
        head = floor.head_on(stand)
        bags = sorted(floor.bags_on("stand", stand))
        weight = mass(sum(plan.kit.bag[bag].mass_kg for bag in bags if bag in plan.kit.bag), units)
        held = f"bags {' + '.join(bags)}, {weight}" if bags else "NO BAG"
        text = f"{stand} at {length(at.height_m, units)} with {head or 'nothing on it'}, {held}"
        high = head is not None and at.height_m > place.reach_m
        yield _line("standing", text, stand, safety=high and not bags)
    hands = sorted(floor.in_hands)
    if hands:
        text = f"in somebody's hands: {', '.join(hands)}"
        yield _line("standing", text, "hands", safety=True)


def _wind(session: DayView) -> Iterator[HandoverLine]:
    """The gusts that stands and panels are judged in, where they were entered."""
    entry, day = session.state.wind, session.plan.day
    if entry is not None and not day.place.indoors:
        gust = gust_text(entry.data.gust_ms, day.units)
        yield _line("wind", f"gusts {gust}, entered {entry.at:%H:%M}", safety=True)


def _limits(session: DayView) -> Iterator[HandoverLine]:
    """Which stands are over a limit, of the setup at work as it is shot."""
    setup, topic = session.setup, "over a limit"
    if setup is None:
        return
    plan = _alone(session)
    bad = [verdict for verdict in judge_setup(plan, setup) if not verdict.ok]
    for verdict in bad:
        faults = ", ".join(verdict.faults)
        text = f"{verdict.stand}: {faults}; leans to {verdict.lean_deg:.1f}°"
        yield _line(topic, text, verdict.stand, safety=True)
    stands = {verdict.stand for verdict in bad}
    for problem in worst_first(mark_meant(plan, audit_stands(plan))):
        mine = problem.setup == setup.id and problem.item not in stands
        if mine and problem.level in ("stop", "warn"):
            item = f"{problem.item}: " if problem.item else ""
            level = problem.level == "stop"
            yield _line(topic, f"{item}{problem.what}; {problem.do}", problem.code, safety=level)


def _light(session: DayView) -> Iterator[HandoverLine]:
    """What the light of the setup at work misses, as it is shot and carried from the meter."""
    setup = session.setup
    if setup is None:
        return
    for problem in worst_first(mark_meant(session.plan, audit_light(_alone(session), session.state.anchors))):
        if problem.setup == setup.id and problem.level in ("stop", "warn"):
            yield _line("light", f"{problem.what}; {problem.do}", problem.code)


def _alone(session: DayView) -> Plan:
    """The plan with no other setup than the one at work, as it is shot, in the wind there is."""
    setup = session.setup
    assert setup is not None
    day = replace(session.plan.day, order=(setup.id,), place=session.place)
    return replace(session.plan, day=day, setups=session.plan.setups | {setup.id: setup})


def _open(session: DayView) -> Iterator[HandoverLine]:
    """Checks nobody ticked, checks set aside, steps skipped."""
    state, topic = session.state, "open"
    if not state.begun:
        return
    texts: dict[str, str] = {}
    for check, tick in session.checks:
        texts[check.id] = check.text
        if tick is None and check.holds:
            yield _line(topic, f"not ticked: {check.text}", check.id, safety=True)
    # of the whole day: what was gone without this morning is still gone without
    for check_id, tick in (state.checks | state.change_checks).items():
        if tick.aside is not None and not check_id.startswith(_OURS):
            said = texts.get(check_id) or check_text(check_id)
            text = f"set aside at {tick.at} by {tick.by}: {said}"
            yield _line(topic, f"{text}, because: {tick.aside}", check_id, safety=True)
    loose = sum(tick is None and not check.holds for check, tick in session.checks)
    if loose:
        yield _line(topic, f"{loose} more lines of the checklist are not ticked", "more")
    for step in session.view.todo:
        reason = state.steps_skipped.get(step.key)
        if reason is not None:
            text = f"skipped: {step.text}, because: {reason}"
            yield _line(topic, text, "-".join(step.key), safety=True)


def _planned(session: DayView) -> Iterator[HandoverLine]:
    """What of the setup at work is as planned, what is not, and what the meter said."""
    setup = session.setup
    if setup is None:
        return
    changed = power_changes(session.plan, setup)
    for label, said in changed.items():
        yield _line("not as planned", said, label)
    same = [light.head for light in setup.lights if light.head not in changed]
    if same:
        powers = ", ".join(f"{head} {setup.light[head].power}" for head in same)
        yield _line("as planned", f"dialled as planned: {powers}")
    for said in other_changes(session.plan, session.state, setup.id):
        yield _line("not as planned", said, "other")
    for head, entry in session.state.readings.get(setup.id, {}).items():
        now = session.head_light(head) if head else None
        asked = ""
        if now is not None and now.asked_stops is not None:
            asked = f", {reading_text(now.asked_stops)} asked"
        yield _line("readings", f"{reading_place_text(entry.data, ' read')}{asked}", head or "all")
    others = [each for each in changed_setups(session.plan, session.state) if each != setup.id]
    if others:
        yield _line("not as planned", f"changed before, as the journal says: {', '.join(others)}")


def _next(session: DayView) -> Iterator[HandoverLine]:
    state, plan, topic = session.state, session.plan, "due next"
    coming = session.next_setup
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
    ahead = [done.step.text for _, done in state.ahead]
    if ahead:
        yield _line(topic, f"done ahead: {'; '.join(ahead)}", "ahead")


def _owed(session: DayView) -> Iterator[HandoverLine]:
    """The setups begun and left open, and those not shot yet: what nobody comes to by itself."""
    state, owed = session.state, ["open", "not shot yet"]
    if state.wrapping:  # nothing is due next any more
        owed.append("not begun")
    for each in not_shot(session.plan, state, live(session.entries)):
        if each.state in owed and each.id != state.at_work:
            yield _line("still owed", each.text, each.id)


def _batteries(session: DayView) -> Iterator[HandoverLine]:
    used = [each for each in battery_use(session.plan, live(session.entries)) if each.charge]
    for each in used:
        share = each.spent / each.of
        mark = "LOW: " if share >= _NEARLY else ""
        text = f"{mark}{each.head}: about {each.spent:.0f} of {each.of:g} full flashes spent"
        if each.changed:
            text += ", since its battery was changed"
        yield _line("batteries", text, each.head)


def _clock(session: DayView, now: datetime) -> Iterator[HandoverLine]:
    ends = session.finish_text(now)
    day = session.plan.day
    at = f"it is {now:%H:%M}"
    if clock_time(day, now, begun=session.state.begun) != now:
        at = f"the day is on {day.date}, call {day.call:%H:%M}"
    yield _line("clock", ", ".join(each for each in (at, f"wrap {day.wrap:%H:%M}", ends) if each))


def _notes(session: DayView) -> Iterator[HandoverLine]:
    notes = [entry for entry in live(session.entries) if isinstance(entry.data, Note)]
    for entry in notes[-_NOTES:]:
        about = f"{entry.data.setup}: " if entry.data.setup else ""
        yield _line("note", f"{about}{entry.data.text} ({entry.who}, {entry.at:%H:%M})", str(entry.n))
    if session.warning:
        yield _line("journal", session.warning, safety=True)


# nobody said these: they come by themselves, as the program begins and ends
_UNSAID: Final = frozenset({"day-opened", "left"})
_ONE_AND_MANY: Final = {
    "setup-begun": ("setup begun", "setups begun"),
    "step-ticked": ("step", "steps"),
    "check-ticked": ("check", "checks"),
    "reading": ("reading", "readings"),
    "changed": ("change", "changes"),
    "note": ("note", "notes"),
    "wind": ("wind", "winds"),
}
_OTHER: Final = ("other thing", "other things")


def unsaved_text(unwritten: Sequence[Entry]) -> str:
    """``2 steps and 1 note are not written and would be lost``; empty where nothing is.

    What was undone again is not lost; the undoing of something that is written is.
    """
    counts = Counter(_ONE_AND_MANY.get(each.kind, _OTHER) for each in _lost(unwritten))
    if not counts:
        return ""
    *most, last = [f"{many} {words[many > 1]}" for words, many in counts.items()]
    listed = f"{', '.join(most)} and {last}" if most else last
    if counts.total() == 1:
        return f"{listed} is not written and would be lost"
    return f"{listed} are not written and would be lost"


def _lost(unwritten: Sequence[Entry]) -> list[Entry]:
    """What still counts, the first first."""
    here, cancelled, kept = {each.n for each in unwritten}, set[int](), list[Entry]()
    for entry in reversed(unwritten):  # what undoes comes after what it undoes
        if entry.n in cancelled or entry.kind in _UNSAID:
            continue
        if isinstance(entry.data, Undone):
            cancelled.add(entry.data.entry)
        if not isinstance(entry.data, Undone) or entry.data.entry not in here:
            kept.append(entry)
    return kept[::-1]
