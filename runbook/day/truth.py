"""The journal's entries folded, one by one, over the plan into the state of the day.

A pure fold, so that the day looks the same after a crash as before it: ``advance`` takes in one
more entry, ``truth_of`` all of the entries that still count.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import replace
from typing import Any, Final, TypeVar

from runbook.changeover.floor import Floor
from runbook.changeover.steps import CannotBeDone, Step, apply, from_plain
from runbook.day.follow import followed, set_by_change, substituted
from runbook.day.light import anchor
from runbook.day.said import JOURNAL
from runbook.day.state import (
    CHANGE,
    DayState,
    Done,
    Frozen,
    Tick,
    clock_text,
    due_at,
    floor_to_come,
    goal_of,
    missing_of_kit,
    setup_standing,
)
from runbook.day.timeline import advance_timeline
from runbook.journal import entries as told
from runbook.journal.as_shot import as_shot, thaw
from runbook.journal.entries import Entry
from runbook.model.day import Plan
from runbook.model.kit import Kit
from runbook.model.setup import Setup

V = TypeVar("V")


def _put(table: dict[Any, V], key: Any, value: V) -> dict[Any, V]:
    return table | {key: value}


def advance(plan: Plan, truth: DayState, entry: Entry) -> DayState:
    """The state after one more entry that counts."""
    fold = _FOLDS.get(type(entry.data))
    if fold is None:
        return truth
    truth = fold(plan, truth, entry)
    times = advance_timeline(truth.times, entry)
    return truth if times is truth.times else replace(truth, times=times)


def _frozen(plan: Plan, truth: DayState, entry: Entry, kept: told.AsStood | None, *, shot: bool = False) -> DayState:
    """The state with a setup as an entry keeps it; ``shot`` says that it was shot like that."""
    if kept is None:
        known = truth.frozen.get(entry.data.setup)
        if known is None or not shot or known.shot:
            return truth
        known = known._replace(shot=True)
        return replace(truth, frozen=_put(truth.frozen, entry.data.setup, known))
    try:
        stood, asked = thaw(kept, plan.kit.dials)
    except ValueError:
        return replace(truth, odd=(*truth.odd, f"entry {entry.n}: the setup in it cannot be read"))
    return replace(truth, frozen=_put(truth.frozen, stood.setup.id, Frozen(stood, asked, (), shot)))


def _begun(plan: Plan, truth: DayState, entry: Entry) -> DayState:
    truth = _frozen(plan, truth, entry, entry.data.left)
    setup_id, odd = entry.data.setup, truth.odd
    if setup_id is not None and setup_id not in plan.setups:
        odd = (*odd, f"entry {entry.n}: no setup {setup_id}")
    mine = tuple(done for setup, done in truth.ahead if setup == setup_id)
    stood = {key: floor for key, floor in truth.stood.items() if key != setup_id}
    gone = truth.at_work
    if gone in plan.setups and gone != setup_id:
        stood.pop(gone, None)
        if truth.steps_skipped and entry.data.left is None:
            stood[gone] = floor_to_come(plan, truth)
    skipped = {key: why for key, why in truth.setups_skipped.items() if key != setup_id}
    return replace(
        truth,
        floor=truth.real_floor,
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
        shot=truth.shot - {setup_id} if setup_id else truth.shot,
    )


def _stepped(plan: Plan, truth: DayState, entry: Entry) -> DayState:
    data = entry.data
    truth = replace(truth, tickers=truth.tickers | {entry.who})
    try:
        step = from_plain(data.step)
        known(plan.kit, step)
        done = Done(step, entry.who, clock_text(entry), entry.n)
        if not truth.begun or data.setup != truth.at_work:
            apply(truth.real_floor, step)
            return replace(truth, ahead=(*truth.ahead, (data.setup, done)))
        floor = floor_after(truth, step)
    except CannotBeDone as odd:
        return replace(truth, odd=(*truth.odd, f"entry {entry.n}: {odd}"))
    skipped = {key: why for key, why in truth.steps_skipped.items() if key != step.key}
    lit = truth.lit or step.verb == "test"
    done_now = (*truth.done, done)
    return replace(truth, floor=floor, done=done_now, steps_skipped=skipped, lit=lit)


def floor_after(truth: DayState, step: Step) -> Floor:
    """The floor of the setup at work after one of its steps.

    Raises CannotBeDone where the step makes no sense, or what was done ahead stands in its way.
    """
    floor = apply(truth.floor, step)
    _ = replace(truth, floor=floor).real_floor
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


def _answered(_: Plan, truth: DayState, entry: Entry) -> DayState:
    data = entry.data
    if data.stage == JOURNAL:
        numbers = (int(n) for n in (data.answer or "").split() if n.isdecimal())
        return replace(truth, gaps_checked=truth.gaps_checked | {*numbers})
    tick = Tick(data.by, clock_text(entry), None, data.setup)
    return _checked(truth, data, data.check, tick)


def _checked(truth: DayState, data: told.CheckTicked | told.Skipped, check: str, tick: Tick) -> DayState:
    if data.stage != CHANGE:
        return replace(truth, checks=_put(truth.checks, check, tick))
    if truth.begun and data.setup != truth.at_work:
        return replace(truth, ahead_checks=_put(truth.ahead_checks, check, tick))
    return replace(truth, change_checks=_put(truth.change_checks, check, tick))


def _skipped(_: Plan, truth: DayState, entry: Entry) -> DayState:
    data = entry.data
    if data.what == "setup":
        return replace(truth, setups_skipped=_put(truth.setups_skipped, data.id, data.reason))
    if data.what == "check":
        tick = Tick(entry.who, clock_text(entry), data.reason, data.setup)
        return _checked(truth, data, data.id or "", tick)
    step = data.step or {}
    key = (str(step.get("verb")), str(step.get("kind")), str(step.get("item")))
    lit = truth.lit or key[0] == "test"
    return replace(truth, steps_skipped=_put(truth.steps_skipped, key, data.reason), lit=lit)


def _changed(plan: Plan, truth: DayState, entry: Entry) -> DayState:
    """A target changed on the spot: what already stood as the old target follows it."""
    data = entry.data
    kept = truth.frozen.get(data.setup)
    if kept is not None:
        kept = kept._replace(changes=(*kept.changes, entry))
        truth = replace(truth, frozen=_put(truth.frozen, data.setup, kept))
    if data.setup not in plan.setups:
        return replace(truth, odd=(*truth.odd, f"entry {entry.n}: no setup {data.setup}"))
    before = goal_of(plan, truth, data.setup)
    changes = (*truth.changes.get(data.setup, ()), entry)
    truth = replace(truth, changes=_put(truth.changes, data.setup, changes))
    if data.setup != truth.at_work:
        return truth
    after = goal_of(plan, truth, data.setup)
    floor = followed(set_by_change(truth.floor, before, after, truth.steps_skipped), before, after)
    try:
        then = replace(truth, floor=substituted(floor, before, after))
        _ = then.real_floor
    except CannotBeDone:  # what was done ahead needs it: steps bring the other
        then = replace(truth, floor=floor)
    return then


def _read(plan: Plan, truth: DayState, entry: Entry) -> DayState:
    """A reading: kept with its setup, and from now on what that head's light is carried from."""
    data = entry.data
    truth = _frozen(plan, truth, entry, data.stood)
    of_setup = truth.readings.get(data.setup, {}) | {data.head: entry}
    truth = replace(truth, readings=_put(truth.readings, data.setup, of_setup))
    setup = _setup_metered(plan, truth, data.setup)
    if setup is None:
        return truth
    metered = truth.metered.get(data.setup, {}) | {data.head: setup}
    truth = replace(truth, metered=_put(truth.metered, data.setup, metered))
    light = setup.light.get(data.head or "")
    fits = light is not None and not missing_of_kit(plan.kit, setup)
    row = anchor(plan, setup, light, data.stops) if light and fits else None
    return replace(truth, anchors=(*truth.anchors, row)) if row else truth


def _setup_metered(plan: Plan, truth: DayState, setup_id: str) -> Setup | None:
    """The setup as it stands as a reading of it is taken; None where nothing says it any more."""
    kept = truth.frozen.get(setup_id)
    if kept is not None:
        return as_shot(kept.stood.setup, kept.changes, plan.kit.dials)
    return setup_standing(plan, truth, setup_id).setup if setup_id in plan.setups else None


def _counted(plan: Plan, truth: DayState, entry: Entry) -> DayState:
    truth = _frozen(plan, truth, entry, entry.data.stood, shot=True)
    setup_id, added = entry.data.setup, entry.data.added
    frames = _put(truth.frames, setup_id, truth.frames.get(setup_id, 0) + added)
    return replace(truth, frames=frames)


def _shot(plan: Plan, truth: DayState, entry: Entry) -> DayState:
    truth = _frozen(plan, truth, entry, entry.data.stood, shot=True)
    return replace(truth, shot=truth.shot | {entry.data.setup})


def _taken_over(_: Plan, truth: DayState, entry: Entry) -> DayState:
    return replace(truth, handed_to=None, taken_by=entry.who)


def _rescued(_: Plan, truth: DayState, entry: Entry) -> DayState:
    if entry.data.whole:
        return truth
    return replace(truth, rescues=(*truth.rescues, entry.n))


def _break_begun(_: Plan, truth: DayState, entry: Entry) -> DayState:
    data = entry.data
    breaks = truth.breaks | ({data.id} if data.minutes is None else set())
    return replace(truth, on_break=data.id, breaks=breaks, break_min=data.minutes)


def _late(_plan: Plan, truth: DayState, entry: Entry) -> DayState:
    return replace(truth, late=_put(truth.late, entry.data.talent, due_at(entry)))


_FOLDS: Final[dict[type, Callable[[Plan, DayState, Entry], DayState]]] = {
    told.SetupBegun: _begun,
    told.StepTicked: _stepped,
    told.CheckTicked: _answered,
    told.Skipped: _skipped,
    told.Changed: _changed,
    told.Reading: _read,
    told.Frames: _counted,
    told.Wind: lambda _, truth, entry: replace(truth, wind=entry),
    told.SetupShot: _shot,
    told.BreakBegun: _break_begun,
    told.BreakEnded: lambda _, truth, _entry: replace(truth, on_break=None, break_min=None),
    told.TalentLate: _late,
    told.HandedOver: lambda _, truth, entry: replace(truth, handed_to=entry.data.to),
    told.Resumed: _taken_over,
    told.Rescued: _rescued,
}


def truth_of(plan: Plan, entries: Iterable[Entry]) -> DayState:
    """The running day after all the entries that still count."""
    truth = DayState()
    for entry in entries:
        truth = advance(plan, truth, entry)
    return truth
