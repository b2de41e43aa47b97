"""A pure fold of the journal's entries over the plan into the state of the day.

The day looks the same after a crash as before it: ``reduce`` takes in one more entry,
``state_after`` all of the entries that still count.
"""

from __future__ import annotations

from collections.abc import Callable, Container, Iterable, Mapping
from dataclasses import replace
from typing import Any, Final, TypeVar

from runbook.changeover.floor import Floor
from runbook.changeover.steps import CannotBeDone, Step, apply, from_plain
from runbook.day.event_text import JOURNAL
from runbook.day.frame_state import place_of, placed_again, with_frame
from runbook.day.frames import ClockOf
from runbook.day.light import anchor
from runbook.day.state import (
    CHANGE,
    DayState,
    Done,
    Frozen,
    StepKey,
    Tick,
    clock_text,
    due_time,
    floor_after_steps,
    missing_of_kit,
    standing_setup,
    step_key,
    target_floor,
)
from runbook.day.timeline import advance_timeline
from runbook.journal import events
from runbook.journal.as_shot import thaw
from runbook.journal.events import Entry
from runbook.model.day import Plan
from runbook.model.kit import Kit

K = TypeVar("K")
V = TypeVar("V")


def reduce(plan: Plan, state: DayState, entry: Entry) -> DayState:
    """Return the state after one more entry that counts."""
    reducer = _REDUCERS.get(type(entry.data))
    if reducer is None:
        return state
    return replace(reducer(plan, state, entry), times=advance_timeline(state.times, entry))


def _put(state: DayState, table: str, key: object, value: object) -> DayState:
    """Return the state with one more item in one of its tables."""
    return replace(state, **{table: getattr(state, table) | {key: value}})


def _odd(state: DayState, entry: Entry, why: object) -> DayState:
    return replace(state, odd=(*state.odd, f"entry {entry.n}: {why}"))


def _without(table: Mapping[K, V], key: object) -> dict[K, V]:
    return {other: value for other, value in table.items() if other != key}


def _frozen(plan: Plan, state: DayState, entry: Entry, kept: events.AsStood | None, shot: str = "") -> DayState:
    """Return the state with a setup as an entry keeps it; ``shot`` is the setup that was shot like that."""
    if kept is None:
        known = state.frozen.get(shot)
        return state if known is None or known.shot else _put(state, "frozen", shot, replace(known, shot=True))
    try:
        stood, asked = thaw(kept, plan.kit.dials)
    except ValueError:
        return _odd(state, entry, "the setup in it cannot be read")
    return _put(state, "frozen", stood.setup.id, Frozen(stood, asked, bool(shot)))


def _begun(plan: Plan, state: DayState, entry: Entry) -> DayState:
    state = _frozen(plan, state, entry, entry.data.left)
    setup_id, gone = entry.data.setup, state.at_work
    if setup_id is not None and setup_id not in plan.setups:
        state = _odd(state, entry, f"no setup {setup_id}")
    stood = _without(state.stood, setup_id)
    if gone in plan.setups and gone != setup_id:
        stood = _without(stood, gone)
        if state.steps_skipped and entry.data.left is None:
            stood[gone] = floor_after_steps(plan, state)
    return replace(
        state,
        floor=state.real_floor,
        at_work=setup_id,
        begun=True,
        wrapping=setup_id is None,
        done=tuple(done for setup, done in state.ahead if setup == setup_id),
        ahead=(),
        steps_skipped={},
        setups_skipped=_without(state.setups_skipped, setup_id),
        change_checks={},
        ahead_checks={},
        stood=stood,
        shot=state.shot - {setup_id},
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
        return replace(
            state,
            floor=floor_after_step(state, step),
            done=(*state.done, done),
            steps_skipped=_without(state.steps_skipped, step.key),
            lit=state.lit or step.verb == "test",
        )
    except CannotBeDone as odd:
        return _odd(state, entry, odd)


def floor_after_step(state: DayState, step: Step) -> Floor:
    """Return the floor of the setup at work after one of its steps.

    Raises CannotBeDone where the step makes no sense, or what was done ahead stands in its way.
    """
    floor = apply(state.floor, step)
    _ = replace(state, floor=floor).real_floor
    return floor


def _check_in_kit(kit: Kit, step: Step) -> None:
    """Raise CannotBeDone for a step with something that is no longer in the kit."""
    kind, item = ("lens", step.to) if step.verb == "lens" else (step.kind, step.item)
    if kind in ("camera", "subject", "set") or item is None:
        return
    if item not in getattr(kit, "stand" if kind in ("counterweight", "rail") else kind):
        raise CannotBeDone(f"the kit has no {item}")


def _check_ticked(_: Plan, state: DayState, entry: Entry) -> DayState:
    data = entry.data
    if data.stage == JOURNAL:
        numbers = (int(n) for n in (data.answer or "").split() if n.isdecimal())
        return replace(state, gaps_checked=state.gaps_checked | {*numbers})
    return _checked(state, data, data.check, Tick(data.by, clock_text(entry), None, data.setup))


def _checked(state: DayState, data: events.CheckTicked | events.Skipped, check: str, tick: Tick) -> DayState:
    if data.stage != CHANGE:
        return _put(state, "checks", check, tick)
    is_ahead = state.begun and data.setup != state.at_work
    return _put(state, "ahead_checks" if is_ahead else "change_checks", check, tick)


def _skipped(_: Plan, state: DayState, entry: Entry) -> DayState:
    data = entry.data
    if data.what == "setup":
        return _put(state, "setups_skipped", data.id, data.reason)
    if data.what == "check":
        return _checked(state, data, data.id or "", Tick(entry.who, clock_text(entry), data.reason, data.setup))
    key = step_key(data.step or {})
    return replace(_put(state, "steps_skipped", key, data.reason), lit=state.lit or key[0] == "test")


def _changed(plan: Plan, state: DayState, entry: Entry) -> DayState:
    """Return the state with a target changed on the spot: what already stood as the old target follows it."""
    setup_id = entry.data.setup
    kept = state.frozen.get(setup_id)
    if kept is not None:
        state = _put(state, "frozen", setup_id, kept.with_change(entry, plan.kit.dials))
    if setup_id not in plan.setups:
        return _odd(state, entry, f"no setup {setup_id}")
    before = target_floor(plan, state, setup_id)
    state = _put(state, "changes", setup_id, (*state.changes.get(setup_id, ()), entry))
    if setup_id != state.at_work:
        return state
    floors = (state.floor, before, target_floor(plan, state, setup_id))
    then = replace(state, floor=floor_after_change(*floors, state.steps_skipped))
    try:
        _ = then.real_floor
    except CannotBeDone:  # what was done ahead needs the old thing: steps bring the other
        then = replace(state, floor=floor_after_change(*floors, state.steps_skipped, replaced=False))
    return then


def _metered(plan: Plan, state: DayState, entry: Entry) -> DayState:
    """Return the state with a reading, which corrects that head's predictions from now on."""
    data = entry.data
    state = _frozen(plan, state, entry, data.stood)
    state = _put(state, "readings", data.setup, state.readings.get(data.setup, {}) | {data.head: entry})
    kept = state.frozen.get(data.setup)
    if kept is None and data.setup not in plan.setups:
        return state
    setup = kept.stood.setup if kept else standing_setup(plan, state, data.setup).setup
    state = _put(state, "metered", data.setup, state.metered.get(data.setup, {}) | {data.head: setup})
    light = setup.light.get(data.head or "")
    row = anchor(plan, setup, light, data.stops) if light and not missing_of_kit(plan.kit, setup) else None
    return replace(state, anchors=(*state.anchors, row)) if row else state


def _frames(plan: Plan, state: DayState, entry: Entry) -> DayState:
    setup_id, added = entry.data.setup, entry.data.added
    state = _frozen(plan, state, entry, entry.data.stood, setup_id)
    left, _ = state.by_hand.get(setup_id, (0, entry))
    state = _put(state, "by_hand", setup_id, (max(left + added, 0), entry))
    return _put(state, "frames", setup_id, state.frames.get(setup_id, 0) + added)


def _frame(plan: Plan, state: DayState, entry: Entry) -> DayState:
    try:
        setup_id = place_of(state, entry.data)
        return with_frame(plan, _frozen(plan, state, entry, entry.data.stood, setup_id or ""), entry)
    except ValueError as why:
        return _odd(state, entry, why)


def _frames_placed(plan: Plan, state: DayState, entry: Entry) -> DayState:
    placed = state.placed | dict.fromkeys(entry.data.frames, entry.data.setup)
    return placed_again(plan, replace(state, placed=placed))


def _clock_set(plan: Plan, state: DayState, entry: Entry) -> DayState:
    camera = entry.data.camera
    clock = replace(state.clocks.get(camera, ClockOf()), set_s=entry.data.ahead_s)
    return placed_again(plan, _put(state, "clocks", camera, clock))


def _selected(_: Plan, state: DayState, entry: Entry) -> DayState:
    if entry.data.frame is None:
        return replace(state, selects=_without(state.selects, entry.data.setup))
    return _put(state, "selects", entry.data.setup, entry.data)


def _shot(plan: Plan, state: DayState, entry: Entry) -> DayState:
    state = _frozen(plan, state, entry, entry.data.stood, entry.data.setup)
    return replace(state, shot=state.shot | {entry.data.setup})


def _break_begun(_: Plan, state: DayState, entry: Entry) -> DayState:
    data = entry.data
    breaks = state.breaks | ({data.id} if data.minutes is None else set())
    return replace(state, on_break=data.id, breaks=breaks, break_min=data.minutes)


_REDUCERS: Final[dict[type, Callable[[Plan, DayState, Entry], DayState]]] = {
    events.SetupBegun: _begun,
    events.StepTicked: _stepped,
    events.CheckTicked: _check_ticked,
    events.Skipped: _skipped,
    events.Changed: _changed,
    events.Reading: _metered,
    events.Frames: _frames,
    events.Frame: _frame,
    events.FramesPlaced: _frames_placed,
    events.CameraClock: _clock_set,
    events.FramesChecked: lambda _, state, entry: _put(state, "frames_checked", entry.data.setup, entry.data.frame),
    events.Selected: _selected,
    events.Wind: lambda _, state, entry: replace(state, wind=entry),
    events.SetupShot: _shot,
    events.BreakBegun: _break_begun,
    events.BreakEnded: lambda _, state, __: replace(state, on_break=None, break_min=None),
    events.TalentLate: lambda _, state, entry: _put(state, "late", entry.data.talent, due_time(entry)),
    events.HandedOver: lambda _, state, entry: replace(state, handed_to=entry.data.to),
    events.Resumed: lambda _, state, entry: replace(state, handed_to=None, taken_by=entry.who),
    events.Rescued: lambda _, state, entry: (
        state if entry.data.whole else replace(state, rescues=(*state.rescues, entry.n))
    ),
}


def state_after(plan: Plan, entries: Iterable[Entry]) -> DayState:
    """Return the state of the day after all the entries that still count."""
    state = DayState()
    for entry in entries:
        state = reduce(plan, state, entry)
    return state


# -- the floor after a target was changed on the spot ------------------------------------------------

# the steps that set a value: once one of them is skipped, a change says how the thing really is
_SET_BY: Final = {"spot": ("place", "move"), "height_m": ("place", "raise", "lower"), "power": ("power",)}
_SINGLES: Final = {
    "exposure": ("expose", "camera", "camera"),
    "view": ("view", "camera", "camera"),
    "lens": ("lens", "camera", "camera"),
    "subject": ("turn", "subject", "subject"),
}


def floor_after_change(
    floor: Floor, before: Floor, after: Floor, skipped: Container[StepKey], *, replaced: bool = True
) -> Floor:
    """Return the floor once the target floor ``before`` has become ``after``.

    A value follows where it equals the old target or where its own step was skipped. One thing takes
    the place of another where the whole light stands as the old target had it; otherwise, and
    without ``replaced``, steps bring it.
    """
    replaced = replaced and _stands_as_asked(floor, before, after)

    def follow(kind: str, item: str, now: Any, was: Any, to: Any) -> Any:
        if now == was and kind not in ("stand", "head"):
            return to
        changed = {}
        for name in now.__dataclass_fields__ if kind in ("stand", "head") else ():
            is_skipped = any((verb, kind, item) in skipped for verb in _SET_BY.get(name, ()))
            if getattr(was, name) != getattr(to, name) and (getattr(now, name) == getattr(was, name) or is_skipped):
                changed[name] = getattr(to, name)
        return replace(now, **changed) if changed else now

    def merged(kind: str, table: str) -> dict[str, Any]:
        now, was, to = (getattr(each, table) for each in (floor, before, after))
        both = was.keys() & to.keys()
        result = {item: follow(kind, item, at, was[item], to[item]) if item in both else at for item, at in now.items()}
        if replaced:
            gone, come = was.keys() - to.keys(), to.keys() - was.keys()
            result = {item: at for item, at in result.items() if item not in gone} | {item: to[item] for item in come}
        return result

    heads = merged("head", "heads")
    for head, at in floor.heads.items():
        if head in before.heads and head in after.heads:
            # a head dialled off no longer fires; what was off or in somebody's hands was not switched on
            armed, stand = at.armed and after.heads[head].armed, heads[head].stand if replaced else at.stand
            heads[head] = replace(heads[head], armed=armed, stand=stand)
    changed: dict[str, Any] = {"heads": heads, "stands": merged("stand", "stands")}
    for kind, table in _TABLES if replaced else _TABLES[:3]:
        changed[table] = merged(kind, table)
    for name, key in _SINGLES.items():
        now, old, new = (getattr(each, name) for each in (floor, before, after))
        if old != new and (now == old or key in skipped):
            changed[name] = new
    return replace(floor, **changed)


_TABLES: Final = (
    ("panel", "panels"),
    ("cloth", "cloths"),
    ("cloth", "hung"),
    ("modifier", "modifiers"),
    ("accessory", "accessories"),
    ("bag", "bags"),
)


def _stands_as_asked(floor: Floor, before: Floor, after: Floor) -> bool:
    """Return whether every light that gets another thing is up as asked before, and the other thing is free."""
    for head in before.heads:
        changes = head not in after.heads or _rig(before, head) != _rig(after, head)
        if changes and (head not in floor.heads or _rig(floor, head) != _rig(before, head)):
            return False
    tables = ("heads", "stands", *(table for _, table in _TABLES))
    for now, was, to in ([getattr(each, table) for each in (floor, before, after)] for table in tables):
        if any(now.get(item) != was[item] for item in was.keys() - to.keys()) or now.keys() & (to.keys() - was.keys()):
            return False
    return not (before.stands.keys() - after.stands.keys()) & floor.in_hands


def _rig(floor: Floor, head: str) -> tuple[object, ...]:
    """Return what a head is put up with: its stand, its modifier, the accessories on that, the bags on the stand."""
    stand, modifier = floor.heads[head].stand, floor.modifier_on(head)
    on = ("head", head) if modifier is None else ("modifier", modifier)
    return stand, modifier, floor.fitted_on(*on), floor.bags_on("stand", stand or "")
