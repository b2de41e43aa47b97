"""The record of a day: what really happened, against the plan."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any, Final, Literal

from runbook.day.changeovers import WRAP, all_changes, share
from runbook.day.event_text import event_text, meter_place_text
from runbook.day.kit_list import kit_count
from runbook.day.light import predicted_reading
from runbook.day.plan_vs_actual import NOT_RECORDED, setup_changes
from runbook.day.reduce import state_after
from runbook.day.repeat_setup import setups_worked_on
from runbook.day.state import DayState, clock_text, missing_of_kit, setup_as_shot, setups_without_snapshot
from runbook.day.timeline import timeline_of
from runbook.journal import events
from runbook.journal.events import Entry, live
from runbook.light.battery import TEST_POPS, flashes_spent
from runbook.light.prediction import predict
from runbook.light.stops import meter_text
from runbook.model.day import Plan

NEAR_MISS: Final = "near miss"  # a note that starts so reports one


@dataclass(frozen=True, slots=True)
class SetupTimes:
    """One setup's times: seconds planned and real (None when unknown)."""

    id: str
    began: datetime | None
    ended: datetime | None
    change_planned_s: float
    change_s: float | None
    shoot_planned_s: float
    shoot_s: float | None
    frames_planned: int
    frames: int
    state: str


@dataclass(frozen=True, slots=True)
class NotShot:
    """A setup that is not marked as shot: its state, and the same in words with its id."""

    id: str
    state: Literal["skipped", "open", "not shot yet", "not begun"]
    text: str


@dataclass(frozen=True, slots=True)
class BatteryUse:
    """A head's battery: full flashes spent since its last change, of ``of`` a charge has.

    ``changed`` is how often it was changed.
    """

    head: str
    spent: float
    of: float
    changed: int = 0

    @property
    def charge(self) -> bool:
        """Whether it needs charging tonight."""
        return self.spent > 0 or self.changed > 0


@dataclass(frozen=True, slots=True)
class DayRecord:
    """The whole day; times of day as the writers' clocks showed them."""

    name: str
    date: str
    began: datetime | None
    ended: datetime | None
    call: str
    wrap: str
    setups: tuple[SetupTimes, ...]
    not_shot: tuple[NotShot, ...]
    differences: tuple[tuple[str, str], ...]
    readings: tuple[tuple[str, str, str, str], ...]
    breaks: tuple[str, ...]
    near_misses: tuple[str, ...]
    set_aside: tuple[str, ...]
    notes: tuple[str, ...]
    winds: tuple[str, ...]
    handovers: tuple[str, ...]
    batteries: tuple[BatteryUse, ...]
    missing: tuple[tuple[str, str], ...]
    uncounted: int


def day_record(plan: Plan, entries: Sequence[Entry]) -> DayRecord:
    """What the journal records of the day, compared with the plan."""
    entries = live(entries)
    worked_on, kit, state = setups_worked_on(plan, entries), kit_count(plan, entries), state_after(plan, entries)
    missed = tuple(not_shot(plan, state, entries))
    notes = _of_type(entries, events.Note)
    differences = [(setup_id, text) for setup_id in worked_on for text in setup_changes(plan, setup_id, state)]
    differences += [(setup_id, NOT_RECORDED) for setup_id in setups_without_snapshot(state)]
    differences += [(each, "shot, and no longer in the plan") for each in state.shot if each not in plan.setups]

    def event_lines(*kinds: type) -> tuple[str, ...]:
        return tuple(
            f"{clock_text(entry)} {event_text(entry, plan.day.units)} ({entry.who})"
            for entry in _of_type(entries, *kinds)
        )

    return DayRecord(
        name=plan.day.name,
        date=plan.day.date.isoformat(),
        began=entries[0].at if entries else None,
        ended=entries[-1].at if entries else None,
        call=f"{plan.day.call:%H:%M}",
        wrap=f"{plan.day.wrap:%H:%M}",
        setups=tuple(_times(plan, missed, entries)),
        not_shot=missed,
        differences=tuple(differences),
        readings=tuple(row for setup_id in worked_on for row in _readings(plan, setup_id, state)),
        breaks=tuple(_breaks(entries)),
        near_misses=tuple(_note(entry) for entry in notes if _is_near_miss(entry)),
        set_aside=tuple(f"{clock_text(entry)} {event_text(entry)}" for entry in _of_type(entries, events.Skipped)),
        notes=tuple(_note(entry) for entry in notes if not _is_near_miss(entry)),
        winds=event_lines(events.Wind),
        handovers=event_lines(events.HandedOver, events.Resumed, events.Rescued),
        batteries=battery_use(plan, entries),
        missing=kit.missing,
        uncounted=len(kit.uncounted),
    )


def _of_type(entries: Iterable[Entry], *kinds: type) -> list[Entry]:
    return [entry for entry in entries if isinstance(entry.data, kinds)]


def _note(entry: Entry) -> str:
    about = f"{entry.data.setup}: " if entry.data.setup else ""
    return f"{clock_text(entry)} {about}{entry.data.text} ({entry.who})"


def _is_near_miss(entry: Entry) -> bool:
    return str(entry.data.text).strip().lower().replace("-", " ").startswith(NEAR_MISS)


def not_shot(plan: Plan, state: DayState, entries: Iterable[Entry]) -> Iterator[NotShot]:
    """The setups that are not marked as shot, in the day's order, then any others begun.

    One never begun is "not shot yet" when a later one of the order was begun last.
    """
    entries = list(entries)
    begun = [entry.data.setup for entry in _of_type(entries, events.SetupBegun)]
    marked = {entry.data.setup for entry in _of_type(entries, events.SetupShot)}
    order = plan.day.order
    reached = next((order.index(setup_id) for setup_id in reversed(begun) if setup_id in order), -1)
    others = (setup_id for setup_id in (*begun, *state.setups_skipped) if setup_id in plan.setups)
    for n, setup_id in enumerate(dict.fromkeys((*order, *others))):
        if setup_id in state.shot:
            continue
        if setup_id in state.setups_skipped:
            reason = state.setups_skipped[setup_id]
            yield NotShot(setup_id, "skipped", f"{setup_id}: skipped, because: {reason}")
        elif setup_id in begun:
            text = "shot, begun again and open" if setup_id in marked else "begun and still open"
            frames = f"{state.frames.get(setup_id, 0)} of {plan.setups[setup_id].frames} frames"
            yield NotShot(setup_id, "open", f"{setup_id}: {text}, {frames}")
        elif n < reached:
            yield NotShot(setup_id, "not shot yet", f"{setup_id}: not shot yet")
        else:
            yield NotShot(setup_id, "not begun", f"{setup_id}: not begun")


# -- times ---------------------------------------------------------------------------------------


def _times(plan: Plan, missed: Iterable[NotShot], entries: list[Entry]) -> Iterator[SetupTimes]:
    """Every setup of the order, those of the folder shot besides, and the strike.

    A setup ends when it is marked as shot, else when the next one begins, else with the journal.
    A clock that was put back in between counts as no time.
    """
    planned = {change.goal: share(change.steps, plan).total_s for change in all_changes(plan)}
    states: dict[str | None, str] = {
        each.id: each.state for each in missed if each.state in ("skipped", "not shot yet")
    }
    states |= {entry.data.setup: "shot" for entry in _of_type(entries, events.SetupShot)}
    frames = _frames(entries)
    timeline = timeline_of(entries)
    ends = [*(span.begun for span in timeline.spans[1:]), *(entry.at for entry in entries[-1:])]
    at_work = [(span, span.shot or end) for span, end in zip(timeline.spans, ends, strict=False)]
    for setup_id in (*dict.fromkeys((*plan.day.order, *setups_worked_on(plan, entries))), None):
        setup = None if setup_id is None else plan.setups[setup_id]
        spans = [(span, end) for span, end in at_work if span.setup == setup_id]
        shooting = [max(timeline.working_s(span.ready, end), 0.0) for span, end in spans]
        yield SetupTimes(
            id=setup_id or WRAP,
            began=spans[0][0].begun if spans else None,
            ended=spans[-1][1] if spans else None,
            change_planned_s=planned.get(setup_id, 0.0),
            change_s=sum(max(span.changing_s, 0.0) for span, _ in spans) if spans else None,
            shoot_planned_s=60 * setup.shoot_min if setup else 0.0,
            shoot_s=sum(shooting) if spans and setup else None,
            frames_planned=setup.frames if setup else 0,
            frames=frames[setup_id or ""],
            state=states.get(setup_id) or ("begun" if spans else "not begun"),
        )


def _frames(entries: Iterable[Entry]) -> Counter[str]:
    """The frames counted, by setup."""
    frames: Counter[str] = Counter()
    for entry in _of_type(entries, events.Frames):
        frames[entry.data.setup] += entry.data.added
    return frames


def _breaks(entries: Iterable[Entry]) -> Iterator[str]:
    began: Entry | None = None
    for entry in _of_type(entries, events.BreakBegun, events.BreakEnded):
        if isinstance(entry.data, events.BreakBegun):
            began = entry
        elif began is not None:
            minutes = (entry.at - began.at).total_seconds() / 60
            yield f"{entry.data.id}: {clock_text(began)} to {clock_text(entry)}, {minutes:.0f} min"
            began = None
    if began is not None:
        yield f"{began.data.id}: from {clock_text(began)}"


# -- light and batteries -------------------------------------------------------------------------


def _readings(plan: Plan, setup_id: str, state: DayState) -> Iterator[tuple[str, str, str, str]]:
    """Setup, head, what the meter showed, and what is predicted of the setup as it then was."""
    for head, entry in state.readings.get(setup_id, {}).items():
        then, where = state.metered.get(setup_id, {}).get(head), entry.data.where
        stops = None
        if then is not None and not missing_of_kit(plan.kit, then):
            stops = predicted_reading(predict(plan, then), head, where)
        name = head or "all heads"
        if where != "face":
            name += f", at {meter_place_text(where)}"
        yield setup_id, name, entry.data.f, "" if stops is None else meter_text(stops)


def battery_use(plan: Plan, entries: Iterable[Entry]) -> tuple[BatteryUse, ...]:
    """The full flashes each battery head has spent since its last change of battery.

    Counts the journal's frames at the powers as shot, and the test flashes of each setup tested.
    """
    entries = list(entries)
    state = state_after(plan, entries)
    worked_on = {entry.data.setup for entry in _of_type(entries, events.Frames, events.StepTicked)}
    setups = [setup_as_shot(plan, state, each) for each in worked_on & (plan.setups.keys() | state.frozen.keys())]
    changes: dict[str, list[int]] = {}
    for n, entry in enumerate(entries, 1):
        if isinstance(entry.data, events.BatteryChanged):
            changes.setdefault(entry.data.head, []).append(n)
    used = []
    for head in plan.kit.heads:
        if head.flashes_full is None or head.mains:
            continue
        changed = changes.get(head.id, [])
        since = entries[changed[-1] if changed else 0 :]
        frames, tested = _frames(since), _tested(since)
        flashes = sum(
            flashes_spent(max(frames[setup.id], 0), setup.light[head.id].power, TEST_POPS if setup.id in tested else 0)
            for setup in setups
            if head.id in setup.light
        )
        used.append(BatteryUse(head.id, flashes, head.flashes_full, len(changed)))
    return tuple(used)


def _tested(entries: Iterable[Entry]) -> set[Any]:
    """The setups of which a test flash was made."""
    return {entry.data.setup for entry in _of_type(entries, events.StepTicked) if entry.data.step.get("verb") == "test"}
