"""A pure fold of the journal's entries over the plan into the state of the day.

The day looks the same after a crash as before it: ``reduce`` takes in one more entry,
``state_after`` all of the entries that still count.
"""

from __future__ import annotations

from collections.abc import Callable, Container, Iterable, Mapping
from dataclasses import dataclass, fields, replace
from typing import Any, Final, TypeVar

from runbook.changeover.floor import Carrier, Floor
from runbook.changeover.steps import CannotBeDone, Step, apply, from_plain
from runbook.day.event_text import JOURNAL
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


def _frozen(plan: Plan, state: DayState, entry: Entry, kept: events.AsStood | None, *, shot: bool = False) -> DayState:
    """Return the state with a setup as an entry keeps it; ``shot`` says that it was shot like that."""
    if kept is None:
        known = state.frozen.get(entry.data.setup)
        return _put(state, "frozen", entry.data.setup, replace(known, shot=True)) if known and shot else state
    try:
        stood, asked = thaw(kept, plan.kit.dials)
    except ValueError:
        return _odd(state, entry, "the setup in it cannot be read")
    return _put(state, "frozen", stood.setup.id, Frozen(stood, asked, shot))


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
    if item not in getattr(kit, "stand" if kind == "counterweight" else kind):
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
    state = _frozen(plan, state, entry, entry.data.stood, shot=True)
    return _put(state, "frames", entry.data.setup, state.frames.get(entry.data.setup, 0) + entry.data.added)


def _shot(plan: Plan, state: DayState, entry: Entry) -> DayState:
    state = _frozen(plan, state, entry, entry.data.stood, shot=True)
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


@dataclass(frozen=True, slots=True)
class _Rig:
    """What a head is put up with: its stand, its modifier, the accessories on that, the bags on the stand."""

    stand: str | None
    modifier: str | None
    accessories: tuple[str, ...]
    bags: frozenset[str]


def floor_after_change(
    floor: Floor, before: Floor, after: Floor, skipped: Container[StepKey], *, replaced: bool = True
) -> Floor:
    """Return the floor once the target floor ``before`` has become ``after``.

    A value follows where it equals the old target or where its own step was skipped. With
    ``replaced``, one thing takes the place of another; without, steps bring it.
    """
    if replaced:
        floor, before = _with_replacements(floor, before, after)

    def follow(kind: str, item: str, now: Any, was: Any, to: Any) -> Any:
        changed = {}
        for name in (each.name for each in fields(now)):
            is_skipped = any((verb, kind, item) in skipped for verb in _SET_BY.get(name, ()))
            if getattr(was, name) != getattr(to, name) and (getattr(now, name) == getattr(was, name) or is_skipped):
                changed[name] = getattr(to, name)
        return replace(now, **changed)

    changed: dict[str, Any] = {}
    for kind, table in (("stand", "stands"), ("head", "heads")):
        was, to = getattr(before, table), getattr(after, table)
        changed[table] = {
            item: follow(kind, item, at, was[item], to[item]) if item in was and item in to else at
            for item, at in getattr(floor, table).items()
        }
    for head, at in floor.heads.items():
        # a head dialled off no longer fires; what was off or in somebody's hands was not switched on
        armed = at.armed and (head not in after.heads or head not in before.heads or after.heads[head].armed)
        changed["heads"][head] = replace(changed["heads"][head], stand=at.stand, armed=armed)
    # a bag does not follow to a stand that is not on the floor
    hung = {bag: at for bag, at in after.bags.items() if at.item in {*floor.stands, *floor.panels}}
    for table, to in (("panels", after.panels), ("cloths", after.cloths), ("bags", hung)):
        was = getattr(before, table)
        changed[table] = {
            item: to[item] if item in to and was.get(item) == at else at for item, at in getattr(floor, table).items()
        }
    for name, key in _SINGLES.items():
        now, old, new = (getattr(each, name) for each in (floor, before, after))
        if old != new and (now == old or key in skipped):
            changed[name] = new
    return replace(floor, **changed)


def _with_replacements(floor: Floor, before: Floor, after: Floor) -> tuple[Floor, Floor]:
    """Return the floor, and the old target, with one thing in the place of another, as a change names them.

    Only where the old thing stands as the target had it and the new one is not on the floor.
    """
    gone = [head for head in before.heads if head not in after.heads]
    come = [head for head in after.heads if head not in before.heads]
    for old, new in zip(gone, come, strict=False):
        if new not in floor.heads:
            floor, before = _renamed(floor, old, new), _renamed(before, old, new)
    for head in after.heads:
        if head not in before.heads or head not in floor.heads:
            continue
        was, to, now = (_rig(each, head) for each in (before, after, floor))
        follows: dict[str, Any] = {}
        for field in fields(_Rig):
            old, new, here = (getattr(rig, field.name) for rig in (was, to, now))
            if old != new and here == old and not _elsewhere(floor, field.name, old, new):
                follows[field.name] = new
        if to.stand != replace(now, **follows).stand:
            follows.pop("bags", None)
        floor = _with_rig(floor, head, replace(now, **follows), after)
        before = _with_rig(before, head, replace(was, **follows), after)
    return floor, before


def _elsewhere(floor: Floor, name: str, old: Any, new: Any) -> bool:
    """Return whether something that comes is on the floor already, at another thing."""
    if name in ("accessories", "bags"):
        return any(item in getattr(floor, name) for item in new if item not in old)
    return new in getattr(floor, f"{name}s")


def _renamed(floor: Floor, old: str, new: str) -> Floor:
    """Return the floor with another head in the place of one."""
    own = Carrier("head", old)
    return replace(
        floor,
        heads={new if head == old else head: at for head, at in floor.heads.items()},
        modifiers={key: new if on == old else on for key, on in floor.modifiers.items()},
        accessories={
            key: replace(on, item=new) if replace(on, under=()) == own else on for key, on in floor.accessories.items()
        },
        cloths={key: frozenset(new if head == old else head for head in beams) for key, beams in floor.cloths.items()},
    )


def _rig(floor: Floor, head: str) -> _Rig:
    stand, modifier = floor.heads[head].stand, floor.modifier_on(head)
    on = ("head", head) if modifier is None else ("modifier", modifier)
    return _Rig(stand, modifier, floor.fitted_on(*on), floor.bags_on("stand", stand or ""))


def _with_rig(floor: Floor, head: str, new: _Rig, after: Floor) -> Floor:
    """Return the floor with a head put up with other things; a bag hangs where ``after`` has it."""
    old = _rig(floor, head)
    if old == new:
        return floor
    stands = floor.stands
    if old.stand != new.stand and old.stand and new.stand:
        at = replace(stands[old.stand], weight_on=after.stands[new.stand].weight_on)
        stands = {key: each for key, each in stands.items() if key != old.stand} | {new.stand: at}
    on = Carrier("head", head) if new.modifier is None else Carrier("modifier", new.modifier)
    fitted = {item: replace(on, under=new.accessories[:n]) for n, item in enumerate(new.accessories)}
    hung = {bag: replace(floor.bags.get(bag) or after.bags[bag], item=new.stand or "") for bag in new.bags}
    return replace(
        floor,
        stands=stands,
        heads=floor.heads | {head: replace(floor.heads[head], stand=new.stand)},
        modifiers={item: at for item, at in floor.modifiers.items() if item != old.modifier}
        | ({} if new.modifier is None else {new.modifier: head}),
        accessories={item: at for item, at in floor.accessories.items() if item not in old.accessories} | fitted,
        bags={bag: at for bag, at in floor.bags.items() if bag not in old.bags} | hung,
        in_hands=frozenset(new.stand if each == old.stand and new.stand else each for each in floor.in_hands),
    )
