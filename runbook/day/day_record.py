"""The record of a day: what really happened, and how it differs from the plan."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime
from itertools import zip_longest
from typing import Any, Final, Literal

from runbook.day.changeovers import WRAP, Changeovers
from runbook.day.event_text import event_text, key_label, meter_place_text, value_text
from runbook.day.frames import shots_of
from runbook.day.light import predicted_reading
from runbook.day.state import DayState, missing_of_kit, setup_on_record, setups_without_snapshot, target_on_record
from runbook.files.validate import plain
from runbook.journal import events
from runbook.journal.events import Entry, live
from runbook.light.battery import TEST_POPS, flashes_spent
from runbook.light.prediction import predict
from runbook.light.stops import meter_text
from runbook.model.day import Plan
from runbook.model.setup import Setup
from runbook.model.units import Units

NEAR_MISS: Final = "near miss"  # a note that starts so reports one
NOT_RECORDED: Final = "the journal does not hold how it stood when it was shot; as shot follows the plan as it is now"
_PARTS: Final = ("exposure", "view", "subject", "background")


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


def of_type(entries: Iterable[Entry], *kinds: type) -> list[Entry]:
    """Return the entries of some kinds."""
    return [entry for entry in entries if isinstance(entry.data, kinds)]


def entry_lines(entries: Iterable[Entry], units: Units = "metric") -> tuple[str, ...]:
    """Return entries in words, each with its time and who wrote it."""
    return tuple(f"{entry.at:%H:%M} {event_text(entry, units)} ({entry.who})" for entry in entries)


def note_lines(entries: Iterable[Entry], *, near_misses: bool) -> tuple[str, ...]:
    """Return the notes that report a near miss, or the others."""
    notes = [(entry, entry.data.text, entry.data.setup) for entry in of_type(entries, events.Note)]
    return tuple(
        f"{entry.at:%H:%M} {f'{setup}: ' if setup else ''}{text} ({entry.who})"
        for entry, text, setup in notes
        if text.strip().lower().replace("-", " ").startswith(NEAR_MISS) == near_misses
    )


def setups_worked_on(plan: Plan, entries: Iterable[Entry]) -> tuple[str, ...]:
    """Return the setups of the plan that the journal mentions, in the day's order, then any others."""
    kinds = (events.SetupBegun, events.Changed, events.Reading, events.Frames, events.SetupShot)
    named = {entry.data.setup for entry in of_type(live(entries), *kinds)}
    return tuple(setup_id for setup_id in dict.fromkeys((*plan.day.order, *plan.setups)) if setup_id in named)


def not_shot(plan: Plan, state: DayState) -> Iterator[NotShot]:
    """Yield the setups that are not marked as shot, in the day's order, then any others begun.

    One never begun is "not shot yet" when a later one of the order was begun last.
    """
    order, spans = plan.day.order, state.times.spans
    begun = [span.setup for span in spans if span.setup in plan.setups]
    marked = {span.setup for span in spans if span.shot is not None}
    reached = next((order.index(setup_id) for setup_id in reversed(begun) if setup_id in order), -1)
    others = (setup_id for setup_id in (*begun, *state.setups_skipped) if setup_id in plan.setups)
    for n, setup_id in enumerate(dict.fromkeys((*order, *others))):
        if setup_id is None or setup_id in state.shot:
            continue
        if setup_id in state.setups_skipped:
            reason = state.setups_skipped[setup_id]
            yield NotShot(setup_id, "skipped", f"{setup_id}: skipped, because: {reason}")
        elif setup_id in begun:
            text = "shot, begun again and not finished" if setup_id in marked else "begun and not finished"
            frames = f"{state.frames.get(setup_id, 0)} of {plan.setups[setup_id].frames} frames"
            yield NotShot(setup_id, "open", f"{setup_id}: {text}, {frames}")
        elif n < reached:
            yield NotShot(setup_id, "not shot yet", f"{setup_id}: not shot yet")
        else:
            yield NotShot(setup_id, "not begun", f"{setup_id}: not begun")


# -- times and batteries ---------------------------------------------------------------------------


def setup_times(plan: Plan, state: DayState, entries: Sequence[Entry]) -> Iterator[SetupTimes]:
    """Yield every setup of the order, those of the folder worked on besides, and the strike.

    A setup ends when it is marked as shot, else when the next one begins, else with the journal.
    A clock that was put back in between counts as no time.
    """
    planned = {change.goal: change.total_s for change in Changeovers(plan).all}
    states = dict.fromkeys(state.shot, "shot")
    states |= {setup.id: "begun" if setup.state == "open" else setup.state for setup in not_shot(plan, state)}
    times = state.times
    ends = [*(span.begun for span in times.spans[1:]), *(entry.at for entry in entries[-1:])]
    for setup_id in (*dict.fromkeys((*plan.day.order, *setups_worked_on(plan, entries))), None):
        setup = plan.setups[setup_id] if setup_id else None
        spans = [
            (span, span.shot or end) for span, end in zip(times.spans, ends, strict=False) if span.setup == setup_id
        ]
        shooting = [max(times.working_s(span.ready, end), 0.0) for span, end in spans]
        yield SetupTimes(
            id=setup_id or WRAP,
            began=spans[0][0].begun if spans else None,
            ended=spans[-1][1] if spans else None,
            change_planned_s=planned.get(setup_id, 0.0),
            change_s=sum(max(span.changing_s, 0.0) for span, _ in spans) if spans else None,
            shoot_planned_s=60 * setup.shoot_min if setup else 0.0,
            shoot_s=sum(shooting) if spans and setup else None,
            frames_planned=setup.frames if setup else 0,
            frames=state.frames.get(setup_id or "", 0),
            state=states.get(setup_id or "", "begun" if spans else "not begun"),
        )


def break_lines(entries: Iterable[Entry]) -> Iterator[str]:
    """Yield the breaks, with how long they were."""
    breaks = of_type(entries, events.BreakBegun, events.BreakEnded)
    for began, ended in zip_longest(breaks, breaks[1:]):
        if ended is not None and isinstance(ended.data, events.BreakEnded):
            minutes = (ended.at - began.at).total_seconds() / 60
            yield f"{began.data.id}: {began.at:%H:%M} to {ended.at:%H:%M}, {minutes:.0f} min"
        elif isinstance(began.data, events.BreakBegun):
            yield f"{began.data.id}: from {began.at:%H:%M}"


def battery_use(plan: Plan, state: DayState, entries: Sequence[Entry]) -> tuple[BatteryUse, ...]:
    """Return the full flashes each battery head has spent since its last change of battery.

    Counts the frames of ``entries``, which all count, at the powers as shot, and the test flashes of each setup tested.
    """
    setups = [setup_on_record(plan, state, setup_id).setup for setup_id in dict.fromkeys((*plan.setups, *state.frozen))]
    placed = {shot.n: shot.setup for shot in shots_of(state.shots)}
    used = []
    for head in plan.kit.heads:
        if head.flashes_full is None or head.mains:
            continue
        changes = [n for n, entry in enumerate(entries, 1) if entry.data == events.BatteryChanged(head.id)]
        frames, tested = Counter[str](), set[str | None]()
        for entry in entries[changes[-1] if changes else 0 :]:
            if isinstance(entry.data, events.Frames):
                frames[entry.data.setup] += entry.data.added
            elif isinstance(entry.data, events.Frame):
                frames[placed.get(entry.n) or ""] += 1
            elif isinstance(entry.data, events.StepTicked) and entry.data.step.get("verb") == "test":
                tested.add(entry.data.setup)
        spent = sum(
            flashes_spent(max(frames[setup.id], 0), setup.light[head.id].power, TEST_POPS * (setup.id in tested))
            for setup in setups
            if head.id in setup.light
        )
        used.append(BatteryUse(head.id, spent, head.flashes_full, len(changes)))
    return tuple(used)


def reading_rows(plan: Plan, state: DayState) -> Iterator[tuple[str, str, str, str]]:
    """Yield setup, head, what the meter showed, and what is predicted of the setup as it then was."""
    for setup_id, readings in state.readings.items():
        for head, entry in readings.items():
            then, where = state.metered.get(setup_id, {}).get(head), entry.data.where
            stops = None
            if then is not None and not missing_of_kit(plan.kit, then):
                stops = predicted_reading(predict(plan, then), head, where)
            name = head or "all heads"
            if where != "face":
                name += f", at {meter_place_text(where)}"
            yield setup_id, name, entry.data.f, "" if stops is None else meter_text(stops)


# -- as shot against the plan ----------------------------------------------------------------------


def differences(plan: Plan, state: DayState) -> tuple[tuple[str, str], ...]:
    """Return what differs from the plan: setup and text, in the plan's order of setups."""
    setups = dict.fromkeys((*plan.day.order, *plan.setups))
    return (
        *((setup_id, text) for setup_id in setups for text in setup_changes(plan, state, setup_id)),
        *((setup_id, NOT_RECORDED) for setup_id in setups_without_snapshot(state)),
        *((setup_id, "shot, and no longer in the plan") for setup_id in state.shot if setup_id not in plan.setups),
    )


def changed_setups(plan: Plan, state: DayState) -> tuple[str, ...]:
    """Return the setups of the plan that were changed, or stood differently from the plan as it is now."""
    return tuple(setup_id for setup_id in plan.setups if setup_changes(plan, state, setup_id))


def setup_changes(plan: Plan, state: DayState, setup_id: str, *, powers: bool = True) -> tuple[str, ...]:
    """Return how a setup as shot differs from the plan; without ``powers`` in anything else."""
    stood, planned = setup_on_record(plan, state, setup_id), plan.setups[setup_id]
    lines = [text for key, text in _differing_keys(planned, stood.setup, plan.day.units) if powers or key != "power"]
    # heads, panels and hung cloths that the plan got or lost after the setup was shot
    target = target_on_record(plan, state, setup_id)
    for then, now in ((target.light, planned.light), (target.panel, planned.panel), (target.hung, planned.hung)):
        lines += [f"{item}: in the setup as shot, not in the plan now" for item in then.keys() - now.keys()]
        lines += [f"{item}: in the plan now, not in the setup as shot" for item in now.keys() - then.keys()]
    return (*lines, *stood.words)


def left_undone(plan: Plan, state: DayState, setup_id: str) -> tuple[str, ...]:
    """Return what of a setup differs from its targets of the day because steps were skipped."""
    stood = setup_on_record(plan, state, setup_id)
    target = target_on_record(plan, state, setup_id)
    return (*(text for _, text in _differing_keys(target, stood.setup, plan.day.units)), *stood.words)


def _differing_keys(planned: Setup, actual: Setup, units: Units) -> Iterator[tuple[str, str]]:
    """Yield the keys in which two setups differ, in words; heads, panels and cloths of only one are left out."""
    both: list[tuple[str, Any, Any]] = [(part, getattr(planned, part), getattr(actual, part)) for part in _PARTS]
    both[:0] = [
        (name, old[name], new[name])
        for old, new in ((planned.light, actual.light), (planned.panel, actual.panel), (planned.hung, actual.hung))
        for name in new
        if name in old
    ]
    for item, before, after in both:
        if before == after:
            continue
        was = plain(before) or {}
        for key, value in (plain(after) or {}).items():
            if was.get(key) != value:
                values = f"{value_text(key, value, units)} instead of {value_text(key, was.get(key), units)}"
                yield key, f"{item} {key_label(key)}: {values}"
