"""The journal's entries folded, one by one, over the plan into the state of the day.

A pure fold, so that the day looks the same after a crash as before it: ``reduce`` takes in one
more entry, ``state_after`` all of the entries that still count.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import replace
from typing import Any, Final, TypeVar

from runbook.changeover.floor import Floor
from runbook.changeover.steps import CannotBeDone, Step, apply, from_plain
from runbook.day.event_text import JOURNAL
from runbook.day.light import anchor
from runbook.day.retarget import with_new_targets, with_replacements, with_skipped_set
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
from runbook.journal import events as told
from runbook.journal.as_shot import as_shot, thaw
from runbook.journal.events import Entry
from runbook.model.day import Plan
from runbook.model.kit import Kit
from runbook.model.setup import Setup

V = TypeVar("V")


def _put(table: dict[Any, V], key: Any, value: V) -> dict[Any, V]:
    return table | {key: value}


def reduce(plan: Plan, state: DayState, entry: Entry) -> DayState:
    """The state after one more entry that counts."""
    fold = _FOLDS.get(type(entry.data))
    if fold is None:
        return state
    state = fold(plan, state, entry)
    times = advance_timeline(state.times, entry)
    return state if times is state.times else replace(state, times=times)


def _frozen(plan: Plan, state: DayState, entry: Entry, kept: told.AsStood | None, *, shot: bool = False) -> DayState:
    """The state with a setup as an entry keeps it; ``shot`` says that it was shot like that."""
    if kept is None:
        known = state.frozen.get(entry.data.setup)
        if known is None or not shot or known.shot:
            return state
        known = known._replace(shot=True)
        return replace(state, frozen=_put(state.frozen, entry.data.setup, known))
    try:
        stood, asked = thaw(kept, plan.kit.dials)
    except ValueError:
        return replace(state, odd=(*state.odd, f"entry {entry.n}: the setup in it cannot be read"))
    return replace(state, frozen=_put(state.frozen, stood.setup.id, Frozen(stood, asked, (), shot)))


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
        known(plan.kit, step)
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
    """The floor of the setup at work after one of its steps.

    Raises CannotBeDone where the step makes no sense, or what was done ahead stands in its way.
    """
    floor = apply(state.floor, step)
    _ = replace(state, floor=floor).real_floor
    return floor


def known(kit: Kit, step: Step) -> None:
    """Raises CannotBeDone for a step with something that the kit holds no more."""
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


def _checked(state: DayState, data: told.CheckTicked | told.Skipped, check: str, tick: Tick) -> DayState:
    if data.stage != CHANGE:
        return replace(state, checks=_put(state.checks, check, tick))
    if state.begun and data.setup != state.at_work:
        return replace(state, ahead_checks=_put(state.ahead_checks, check, tick))
    return replace(state, change_checks=_put(state.change_checks, check, tick))


def _skipped(_: Plan, state: DayState, entry: Entry) -> DayState:
    data = entry.data
    if data.what == "setup":
        return replace(state, setups_skipped=_put(state.setups_skipped, data.id, data.reason))
    if data.what == "check":
        tick = Tick(entry.who, clock_text(entry), data.reason, data.setup)
        return _checked(state, data, data.id or "", tick)
    step = data.step or {}
    key = (str(step.get("verb")), str(step.get("kind")), str(step.get("item")))
    lit = state.lit or key[0] == "test"
    return replace(state, steps_skipped=_put(state.steps_skipped, key, data.reason), lit=lit)


def _changed(plan: Plan, state: DayState, entry: Entry) -> DayState:
    """A target changed on the spot: what already stood as the old target follows it."""
    data = entry.data
    kept = state.frozen.get(data.setup)
    if kept is not None:
        kept = kept._replace(changes=(*kept.changes, entry))
        state = replace(state, frozen=_put(state.frozen, data.setup, kept))
    if data.setup not in plan.setups:
        return replace(state, odd=(*state.odd, f"entry {entry.n}: no setup {data.setup}"))
    before = target_floor(plan, state, data.setup)
    changes = (*state.changes.get(data.setup, ()), entry)
    state = replace(state, changes=_put(state.changes, data.setup, changes))
    if data.setup != state.at_work:
        return state
    after = target_floor(plan, state, data.setup)
    floor = with_new_targets(with_skipped_set(state.floor, before, after, state.steps_skipped), before, after)
    try:
        then = replace(state, floor=with_replacements(floor, before, after))
        _ = then.real_floor
    except CannotBeDone:  # what was done ahead needs it: steps bring the other
        then = replace(state, floor=floor)
    return then


def _read(plan: Plan, state: DayState, entry: Entry) -> DayState:
    """A reading: kept with its setup, and from now on what that head's light is carried from."""
    data = entry.data
    state = _frozen(plan, state, entry, data.stood)
    of_setup = state.readings.get(data.setup, {}) | {data.head: entry}
    state = replace(state, readings=_put(state.readings, data.setup, of_setup))
    setup = _setup_metered(plan, state, data.setup)
    if setup is None:
        return state
    metered = state.metered.get(data.setup, {}) | {data.head: setup}
    state = replace(state, metered=_put(state.metered, data.setup, metered))
    light = setup.light.get(data.head or "")
    fits = light is not None and not missing_of_kit(plan.kit, setup)
    row = anchor(plan, setup, light, data.stops) if light and fits else None
    return replace(state, anchors=(*state.anchors, row)) if row else state


def _setup_metered(plan: Plan, state: DayState, setup_id: str) -> Setup | None:
    """The setup as it stands as a reading of it is taken; None where nothing says it any more."""
    kept = state.frozen.get(setup_id)
    if kept is not None:
        return as_shot(kept.stood.setup, kept.changes, plan.kit.dials)
    return standing_setup(plan, state, setup_id).setup if setup_id in plan.setups else None


def _counted(plan: Plan, state: DayState, entry: Entry) -> DayState:
    state = _frozen(plan, state, entry, entry.data.stood, shot=True)
    setup_id, added = entry.data.setup, entry.data.added
    frames = _put(state.frames, setup_id, state.frames.get(setup_id, 0) + added)
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
    return replace(state, late=_put(state.late, entry.data.talent, due_time(entry)))


_FOLDS: Final[dict[type, Callable[[Plan, DayState, Entry], DayState]]] = {
    told.SetupBegun: _begun,
    told.StepTicked: _stepped,
    told.CheckTicked: _answered,
    told.Skipped: _skipped,
    told.Changed: _changed,
    told.Reading: _read,
    told.Frames: _counted,
    told.Wind: lambda _, state, entry: replace(state, wind=entry),
    told.SetupShot: _shot,
    told.BreakBegun: _break_begun,
    told.BreakEnded: lambda _, state, _entry: replace(state, on_break=None, break_min=None),
    told.TalentLate: _late,
    told.HandedOver: lambda _, state, entry: replace(state, handed_to=entry.data.to),
    told.Resumed: _taken_over,
    told.Rescued: _rescued,
}


def state_after(plan: Plan, entries: Iterable[Entry]) -> DayState:
    """The running day after all the entries that still count."""
    state = DayState()
    for entry in entries:
        state = reduce(plan, state, entry)
    return state
