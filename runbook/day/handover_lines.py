"""What the next shooter must confirm when the day is handed over, and what quitting would lose.

A ``safety`` line is about something that can hurt a person, or about care that is still open: it is
confirmed, or skipped with a reason.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import datetime
from itertools import chain, count
from typing import Final

from runbook.changeover.floor import held_by
from runbook.day.actions import Session
from runbook.day.changeovers import WRAP
from runbook.day.day_record import battery_use, changed_setups, not_shot, setup_changes
from runbook.day.event_text import check_text, reading_place_text
from runbook.day.frames import frame_text
from runbook.day.hours import hours_of
from runbook.day.state import target_setup
from runbook.day.timeline import clock_time
from runbook.files.lint import mark_meant, worst_first
from runbook.journal.events import Note, live
from runbook.light.audit import audit_light
from runbook.light.stops import meter_text
from runbook.model.units import count_text, length, mass
from runbook.stands.audit import audit_stands
from runbook.stands.verdict import judge_setup
from runbook.stands.wind import gust_text

_NOTES: Final = 5  # the last ones; the journal has them all
_DRAWS: Final = 100  # enough simulated days for a steady median
_BATTERY_LOW: Final = 0.8  # of a charge
_ID_START: Final = "handover-"  # of these lines, among the ids of all checks
_AUTOMATIC: Final = frozenset({"day-opened", "left", "frame", "frame-file"})  # written by the program itself


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
    """Return everything to confirm: where the day is, then what matters most for safety first.

    The finish is included when it is worked out already.
    """
    lines: dict[str, HandoverLine] = {}
    for part in (_where, _armed, _standing, _limits, _open, _as_planned, _frames, _next, _missed, _batteries, _notes):
        for line in part(session):
            numbered = (f"{line.id}-{n}" for n in count(2))
            unused = next(name for name in chain((line.id,), numbered) if name not in lines)
            lines[unused] = replace(line, id=unused)
    return (*lines.values(), _clock(session, now))


def _line(topic: str, text: str, item: str = "", *, safety: bool = False) -> HandoverLine:
    slug = topic.replace(" ", "-")
    return HandoverLine(f"{_ID_START}{slug}-{item}" if item else f"{_ID_START}{slug}", topic, text, safety)


def _where(session: Session) -> Iterator[HandoverLine]:
    state, view, topic = session.state, session.view, "where we are"
    if not state.begun:
        yield _line(topic, "not begun: the floor is empty")
        return
    if not view.ready:
        text = f"is being changed: {count_text(len(state.done), 'step')} done, {len(view.pending.left)} to do"
    elif state.at_work in state.shot:
        text = "is shot, and stands"
    else:
        text = "is set" if state.at_work else "is done: everything is struck"
    yield _line(topic, f"{state.at_work or WRAP} {text}", state.at_work or WRAP)
    if view.setup is not None:
        frames, planned = state.frames.get(view.setup.id, 0), session.plan.setups[view.setup.id].frames
        yield _line(topic, f"{frames} of {planned} frames", "frames")
    if view.next_step is not None:
        yield _line(topic, f"next step: {view.next_step.step.text}", "step")
    if state.on_break:
        yield _line(topic, f"on a break: {state.on_break}", "break")
    shot = [line.id for line in view.setups if line.state == "shot"]
    if shot:
        yield _line(topic, f"shot: {', '.join(shot)}", "over")


def _armed(session: Session) -> Iterator[HandoverLine]:
    armed = {head: at for head, at in session.state.real_floor.heads.items() if at.armed}
    if not armed:
        yield _line("switched on", "no head is switched on")
    for head, at in armed.items():
        where = f"on {at.stand}" if at.stand else "in somebody's hands"
        power = f" at {at.power}" if at.power else ""
        yield _line("switched on", f"{head} is SWITCHED ON{power}, {where}: it fires", head, safety=True)


def _standing(session: Session) -> Iterator[HandoverLine]:
    """Yield each stand as it really stands, and the gusts entered."""
    floor, kit, place = session.state.real_floor, session.plan.kit, session.plan.day.place
    units, wind = session.plan.day.units, session.state.wind
    for stand, at in floor.stands.items():
        load = floor.load_on(stand)
        bags = sorted(floor.bags_on("stand", stand))
        weight = mass(sum(kit.bag[bag].mass_kg for bag in bags if bag in kit.bag), units)
        bag_text = f"bags {' + '.join(bags)}, {weight}" if bags else "NO BAG"
        text = f"{stand} at {length(at.height_m, units)} with {load[1] if load else 'nothing on it'}, {bag_text}"
        high = load is not None and at.height_m > place.reach_m
        yield _line("standing", text, stand, safety=high and not bags)
    for panel, where in floor.panels.items():
        if by := held_by(where):
            yield _line("standing", f"{by} holds {panel}", panel)
    for cloth, hung in floor.hung.items():
        yield _line("standing", f"{cloth} hangs, its rail at {length(hung.rail_m, units)}", cloth)
    if floor.in_hands:
        yield _line("standing", f"in somebody's hands: {', '.join(sorted(floor.in_hands))}", "hands", safety=True)
    if wind is not None and not place.indoors:
        yield _line("wind", f"gusts {gust_text(wind.data.gust_ms, units)}, entered {wind.at:%H:%M}", safety=True)


def _limits(session: Session) -> Iterator[HandoverLine]:
    """Yield what is wrong with the stands and the light of the setup at work, as it is shot, in the wind there is."""
    setup = session.view.setup
    if setup is None:
        return
    day = replace(session.plan.day, order=(setup.id,), place=session.view.place)
    plan = replace(session.plan, day=day, setups=session.plan.setups | {setup.id: setup})
    unsafe = {verdict.stand for verdict in judge_setup(plan, setup) if not verdict.ok}
    audits = {"over a limit": audit_stands(plan), "light": audit_light(plan, session.state.anchors)}
    for topic, problems in audits.items():
        for problem in worst_first(mark_meant(plan, problems)):
            if problem.setup == setup.id and problem.level in ("stop", "warn"):
                text = f"{problem.item}: {problem.what}" if topic != "light" and problem.item else problem.what
                safety = topic != "light" and (problem.level == "stop" or problem.item in unsafe)
                yield _line(topic, f"{text}; {problem.do}", problem.item or problem.code, safety=safety)


def _open(session: Session) -> Iterator[HandoverLine]:
    """Yield checks not ticked, checks set aside, steps skipped."""
    state, topic = session.state, "open"
    if not state.begun:
        return
    texts = {check.id: check.text for check, _ in session.view.checks}
    unticked = [check for check, tick in session.view.checks if tick is None]
    required = [check for check in unticked if check.holds]
    yield from (_line(topic, f"not ticked: {check.text}", check.id, safety=True) for check in required)
    # of the whole day: what was set aside in the morning is still open
    for check_id, tick in (state.checks | state.change_checks).items():
        if tick.aside is not None and not check_id.startswith(_ID_START):
            check_words = texts.get(check_id) or check_text(check_id)
            text = f"set aside at {tick.at} by {tick.by}: {check_words}, because: {tick.aside}"
            yield _line(topic, text, check_id, safety=True)
    if len(unticked) > len(required):
        yield _line(topic, f"{len(unticked) - len(required)} more lines of the checklist are not ticked", "more")
    for step in session.view.todo:
        if (reason := state.steps_skipped.get(step.key)) is not None:
            yield _line(topic, f"skipped: {step.text}, because: {reason}", "-".join(step.key), safety=True)


def _as_planned(session: Session) -> Iterator[HandoverLine]:
    """Yield what of the setup at work is as planned, what is not, and what the meter read."""
    setup, plan, state = session.view.setup, session.plan, session.state
    if setup is None:
        return
    planned = {light.head: light.power for light in plan.setups[setup.id].lights}
    dialled = {head: at.power for head, at in state.real_floor.heads.items()}
    as_planned = [light for light in setup.lights if light.power == planned.get(light.head)]
    if same := [f"{light.head} {light.power}" for light in as_planned if light.power == dialled.get(light.head)]:
        yield _line("as planned", f"set as planned: {', '.join(same)}")
    yield from (_line("not as planned", text, setup.id) for text in setup_changes(plan, state, setup.id))
    for head, entry in state.readings.get(setup.id, {}).items():
        light = session.view.head_light(head) if head else None
        target = "" if light is None or light.asked_stops is None else f", target {meter_text(light.asked_stops)}"
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
    for pause in plan.day.breaks:
        if pause.id not in state.breaks:
            text = f"{pause.name or pause.id}, starts between {pause.earliest:%H:%M} and {pause.latest:%H:%M}"
            yield _line(topic, text, pause.id)
    worn = plan.setups[state.at_work].look if state.at_work in plan.setups else None
    for talent, due in state.late.items():
        if talent != (plan.day.look[worn].sitter if worn in plan.day.look else None):
            yield _line(topic, f"{talent} is late: expected at {due:%H:%M}", f"late {talent}")
    if state.ahead:
        yield _line(topic, f"done ahead: {'; '.join(done.step.text for _, done in state.ahead)}", "ahead")


def _missed(session: Session) -> Iterator[HandoverLine]:
    """Yield the setups that the order of the day does not come to by itself, and those skipped."""
    for setup in not_shot(session.plan, session.state):
        if setup.state == "skipped":
            yield _line("skipped", setup.text, setup.id)
        # once the wrap has begun no setup is next any more
        elif setup.id != session.state.at_work and (setup.state != "not begun" or session.state.wrapping):
            yield _line("still to shoot", setup.text, setup.id)


def _batteries(session: Session) -> Iterator[HandoverLine]:
    for battery in battery_use(session.plan, session.state, session.counted):
        if battery.charge:
            low = "LOW: " if battery.spent >= _BATTERY_LOW * battery.of else ""
            since = ", since its battery was changed" if battery.changed else ""
            text = f"{low}{battery.head}: about {battery.spent:.0f} of {battery.of:g} full flashes spent{since}"
            yield _line("batteries", text, battery.head)


def _frames(session: Session) -> Iterator[HandoverLine]:
    """Yield what differs in the frames of the setup at work, and the frame to match it by."""
    frames, here = session.view.frames, session.state.at_work or ""
    for one in frames.open_differences(here):
        yield _line("frames", one.text, one.difference.code)
    if (select := frames.select(here)) is not None:
        file = session.state.selects[here].file
        yield _line("match by eye", f"{here}: {frame_text(select.frame)}; small picture {file}", here)


def _notes(session: Session) -> Iterator[HandoverLine]:
    if session.warning:
        yield _line("journal", session.warning, safety=True)
    notes = [entry for entry in session.counted if isinstance(entry.data, Note)]
    for entry in notes[-_NOTES:]:
        about = f"{entry.data.setup}: " if entry.data.setup else ""
        yield _line("note", f"{about}{entry.data.text} ({entry.who}, {entry.at:%H:%M})", str(entry.n))


def _clock(session: Session, now: datetime) -> HandoverLine:
    day, at = session.plan.day, f"it is {now:%H:%M}"
    if clock_time(day, now, begun=session.state.begun) != now:
        at = f"the day is on {day.date}, call {day.call:%H:%M}"
    return _line("clock", ", ".join(filter(None, (at, f"wrap {day.wrap:%H:%M}", session.finish_text(now)))))


def unsaved_text(session: Session) -> str:
    """Return how many entries are on no disk; empty when none is. Undoing an entry on disk counts too."""
    unwritten = {entry.n for entry in session.journal.unwritten}
    on_disk = {entry.n for entry in live(entry for entry in session.entries if entry.n not in unwritten)}
    counted = {entry.n for entry in session.counted if entry.n in on_disk or entry.kind not in _AUTOMATIC}
    lost = len(counted ^ on_disk)
    return f"{lost} {'entry is' if lost == 1 else 'entries are'} not written and would be lost" if lost else ""
