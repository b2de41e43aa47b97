"""A pure fold of the journal's entries over the plan into the state of the day.

The day looks the same after a crash as before it: ``reduce`` takes in one more entry,
``state_after`` all of the entries that still count.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import replace
from typing import Final

from runbook.changeover.floor import Floor
from runbook.changeover.steps import CannotBeDone, Step, apply, from_plain
from runbook.day.event_text import JOURNAL
from runbook.day.light import anchor
from runbook.day.retarget import floor_after_change
from runbook.day.state import (
    CHANGE,
    DayState,
    Done,
    Frozen,
    Tick,
    clock_text,
    due_time,
    floor_after_steps,
    missing_of_kit,
    standing_setup,
    target_floor,
)
from runbook.day.timeline import advance_timeline
from runbook.journal import events
from runbook.journal.as_shot import as_shot, thaw
from runbook.journal.events import Entry
from runbook.model.day import Plan
from runbook.model.kit import Kit
from runbook.model.setup import Setup


def reduce(plan: Plan, state: DayState, entry: Entry) -> DayState:
    """Return the state after one more entry that counts."""
    reducer = _REDUCERS.get(type(entry.data))
    if reducer is None:
        return state
    state = reducer(plan, state, entry)
    times = advance_timeline(state.times, entry)
    return state if times is state.times else replace(state, times=times)


def _frozen(plan: Plan, state: DayState, entry: Entry, kept: events.AsStood | None, *, shot: bool = False) -> DayState:
    """Return the state with a setup as an entry keeps it; ``shot`` says that it was shot like that."""
    if kept is None:
        known = state.frozen.get(entry.data.setup)
        if known is None or not shot or known.shot:
            return state
        known = replace(known, shot=True)
        return replace(state, frozen=state.frozen | {entry.data.setup: known})
    try:
        stood, asked = thaw(kept, plan.kit.dials)
    except ValueError:
        return replace(state, odd=(*state.odd, f"entry {entry.n}: the setup in it cannot be read"))
    return replace(state, frozen=state.frozen | {stood.setup.id: Frozen(stood, asked, (), shot)})


def _begun(plan: Plan, state: DayState, entry: Entry) -> DayState:
    state = _frozen(plan, state, entry, entry.data.left)
    setup_id, odd = entry.data.setup, state.odd
    if setup_id is not None and setup_id not in plan.setups:
        odd = (*odd, f"entry {entry.n}: no setup {setup_id}")
    mine = tuple(done for setup, done in state.ahead if setup == setup_id)
    stood = {key: floor for key, floor in state.stood.items() if key != setup_id}
    gone = state.at_work
    if gone in plan.setups and gone != setup_id:
        stood.pop(gone, None)
        if state.steps_skipped and entry.data.left is None:
            stood[gone] = floor_after_steps(plan, state)
    skipped = {key: why for key, why in state.setups_skipped.items() if key != setup_id}
    return replace(
        state,
        floor=state.real_floor,
        at_work=setup_id,
        begun=True,
        wrapping=setup_id is None,
        done=mine,
        ahead=(),
        steps_skipped={},
        setups_skipped=skipped,
        change_checks={},
        ahead_checks={},
        stood=stood,
        odd=odd,
        shot=state.shot - {setup_id} if setup_id else state.shot,
    )


def _stepped(plan: Plan, state: DayState, entry: Entry) -> DayState:
    data = entry.data
    state = replace(state, tickers=state.tickers | {entry.who})
    try:
        step = from_plain(data.step)
        _check_in_kit(plan.kit, step)
        done = Done(step, entry.who, clock_text(entry), entry.n)
        if not state.begun or data.setup != state.at_work:
            apply(state.real_floor, step)
            return replace(state, ahead=(*state.ahead, (data.setup, done)))
        floor = floor_after_step(state, step)
    except CannotBeDone as odd:
        return replace(state, odd=(*state.odd, f"entry {entry.n}: {odd}"))
    skipped = {key: why for key, why in state.steps_skipped.items() if key != step.key}
    lit = state.lit or step.verb == "test"
    done_now = (*state.done, done)
    return replace(state, floor=floor, done=done_now, steps_skipped=skipped, lit=lit)


def floor_after_step(state: DayState, step: Step) -> Floor:
    """Return the floor of the setup at work after one of its steps.

    Raises CannotBeDone where the step makes no sense, or what was done ahead stands in its way.
    """
    floor = apply(state.floor, step)
    _ = replace(state, floor=floor).real_floor
    return floor


def _check_in_kit(kit: Kit, step: Step) -> None:
    """Raise CannotBeDone for a step with something that is no longer in the kit."""
    of_kind: dict[str, Mapping[str, object]] = {
        "stand": kit.stand,
        "counterweight": kit.stand,
        "panel": kit.panel,
        "head": kit.head,
        "modifier": kit.modifier,
        "accessory": kit.accessory,
        "cloth": kit.cloth,
        "bag": kit.bag,
    }
    item = step.to if step.verb == "lens" else step.item
    names = kit.lens if step.verb == "lens" else of_kind.get(step.kind)
    if names is not None and item is not None and item not in names:
        raise CannotBeDone(f"the kit has no {item}")


def _answered(_: Plan, state: DayState, entry: Entry) -> DayState:
    data = entry.data
    if data.stage == JOURNAL:
        numbers = (int(n) for n in (data.answer or "").split() if n.isdecimal())
        return replace(state, gaps_checked=state.gaps_checked | {*numbers})
    tick = Tick(data.by, clock_text(entry), None, data.setup)
    return _checked(state, data, data.check, tick)


def _checked(state: DayState, data: events.CheckTicked | events.Skipped, check: str, tick: Tick) -> DayState:
    if data.stage != CHANGE:
        return replace(state, checks=state.checks | {check: tick})
    if state.begun and data.setup != state.at_work:
        return replace(state, ahead_checks=state.ahead_checks | {check: tick})
    return replace(state, change_checks=state.change_checks | {check: tick})


def _skipped(_: Plan, state: DayState, entry: Entry) -> DayState:
    data = entry.data
    if data.what == "setup":
        return replace(state, setups_skipped=state.setups_skipped | {data.id: data.reason})
    if data.what == "check":
        tick = Tick(entry.who, clock_text(entry), data.reason, data.setup)
        return _checked(state, data, data.id or "", tick)
    step = data.step or {}
    key = (str(step.get("verb")), str(step.get("kind")), str(step.get("item")))
    lit = state.lit or key[0] == "test"
    return replace(state, steps_skipped=state.steps_skipped | {key: data.reason}, lit=lit)


def _changed(plan: Plan, state: DayState, entry: Entry) -> DayState:
    """Return the state with a target changed on the spot: what already stood as the old target follows it."""
    data = entry.data
    kept = state.frozen.get(data.setup)
    if kept is not None:
        kept = replace(kept, changes=(*kept.changes, entry))
        state = replace(state, frozen=state.frozen | {data.setup: kept})
    if data.setup not in plan.setups:
        return replace(state, odd=(*state.odd, f"entry {entry.n}: no setup {data.setup}"))
    before = target_floor(plan, state, data.setup)
    changes = (*state.changes.get(data.setup, ()), entry)
    state = replace(state, changes=state.changes | {data.setup: changes})
    if data.setup != state.at_work:
        return state
    after = target_floor(plan, state, data.setup)
    then = replace(state, floor=floor_after_change(state.floor, before, after, state.steps_skipped))
    try:
        _ = then.real_floor
    except CannotBeDone:  # what was done ahead needs the old thing: steps bring the other
        floor = floor_after_change(state.floor, before, after, state.steps_skipped, replaced=False)
        then = replace(state, floor=floor)
    return then


def _read(plan: Plan, state: DayState, entry: Entry) -> DayState:
    """Return the state with a reading, which corrects that head's predictions from now on."""
    data = entry.data
    state = _frozen(plan, state, entry, data.stood)
    of_setup = state.readings.get(data.setup, {}) | {data.head: entry}
    state = replace(state, readings=state.readings | {data.setup: of_setup})
    setup = _setup_metered(plan, state, data.setup)
    if setup is None:
        return state
    metered = state.metered.get(data.setup, {}) | {data.head: setup}
    state = replace(state, metered=state.metered | {data.setup: metered})
    light = setup.light.get(data.head or "")
    fits = light is not None and not missing_of_kit(plan.kit, setup)
    row = anchor(plan, setup, light, data.stops) if light and fits else None
    return replace(state, anchors=(*state.anchors, row)) if row else state


def _setup_metered(plan: Plan, state: DayState, setup_id: str) -> Setup | None:
    """Return the setup as it stands while a reading is taken; None where neither plan nor journal has it."""
    kept = state.frozen.get(setup_id)
    if kept is not None:
        return as_shot(kept.stood.setup, kept.changes, plan.kit.dials)
    return standing_setup(plan, state, setup_id).setup if setup_id in plan.setups else None


def _counted(plan: Plan, state: DayState, entry: Entry) -> DayState:
    state = _frozen(plan, state, entry, entry.data.stood, shot=True)
    setup_id, added = entry.data.setup, entry.data.added
    frames = state.frames | {setup_id: state.frames.get(setup_id, 0) + added}
    return replace(state, frames=frames)


def _shot(plan: Plan, state: DayState, entry: Entry) -> DayState:
    state = _frozen(plan, state, entry, entry.data.stood, shot=True)
    return replace(state, shot=state.shot | {entry.data.setup})


def _taken_over(_: Plan, state: DayState, entry: Entry) -> DayState:
    return replace(state, handed_to=None, taken_by=entry.who)


def _rescued(_: Plan, state: DayState, entry: Entry) -> DayState:
    if entry.data.whole:
        return state
    return replace(state, rescues=(*state.rescues, entry.n))


def _break_begun(_: Plan, state: DayState, entry: Entry) -> DayState:
    data = entry.data
    breaks = state.breaks | ({data.id} if data.minutes is None else set())
    return replace(state, on_break=data.id, breaks=breaks, break_min=data.minutes)


def _late(_plan: Plan, state: DayState, entry: Entry) -> DayState:
    return replace(state, late=state.late | {entry.data.talent: due_time(entry)})


_REDUCERS: Final[dict[type, Callable[[Plan, DayState, Entry], DayState]]] = {
    events.SetupBegun: _begun,
    events.StepTicked: _stepped,
    events.CheckTicked: _answered,
    events.Skipped: _skipped,
    events.Changed: _changed,
    events.Reading: _read,
    events.Frames: _counted,
    events.Wind: lambda _, state, entry: replace(state, wind=entry),
    events.SetupShot: _shot,
    events.BreakBegun: _break_begun,
    events.BreakEnded: lambda _, state, _entry: replace(state, on_break=None, break_min=None),
    events.TalentLate: _late,
    events.HandedOver: lambda _, state, entry: replace(state, handed_to=entry.data.to),
    events.Resumed: _taken_over,
    events.Rescued: _rescued,
}


def state_after(plan: Plan, entries: Iterable[Entry]) -> DayState:
    """Return the state of the day after all the entries that still count."""
    state = DayState()
    for entry in entries:
        state = reduce(plan, state, entry)
    return state
