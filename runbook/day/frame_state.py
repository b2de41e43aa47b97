"""What frames change in the state of the day."""

from __future__ import annotations

from dataclasses import replace

from runbook.day.frames import ClockOf, Difference, Shot, differences, moment_of, setup_at, shots_of, taken_at
from runbook.day.state import DayState, setup_on_record
from runbook.journal.events import Entry, Frame
from runbook.model.day import Plan


def place_of(state: DayState, frame: Frame) -> str | None:
    """Return the setup that was at work when a frame was taken. Raises ValueError where that is not a time."""
    return setup_at(state.times, taken_at(frame, state.clocks.get(frame.camera, ClockOf())))


def with_frame(plan: Plan, state: DayState, entry: Entry) -> DayState:
    """Return the state with one more frame, the newest. Raises ValueError where it says no time that there is."""
    frame: Frame = entry.data
    before = state.clocks.get(frame.camera, ClockOf())
    clock = before if frame.delay_s is None else before.after(moment_of(frame), frame.delay_s)
    if clock.delays_s != before.delays_s:
        state = placed_again(plan, replace(state, clocks=state.clocks | {frame.camera: clock}))
    shot = _shot(plan, state, entry, state.shots, clock)
    return replace(
        _counted(state, shot, 1),
        shots=shot,
        clocks=state.clocks | {frame.camera: clock},
        fired=state.fired | {frame.camera} if (frame.flash or 0) & 1 else state.fired,
    )


def placed_again(plan: Plan, state: DayState) -> DayState:
    """Return the state with every frame placed once more, as a clock is known better or some were put by hand."""
    last = None
    for old in shots_of(state.shots):
        new = _shot(plan, state, old.entry, last, state.clocks[old.frame.camera])
        if new.setup == old.setup:
            new = replace(new, differs=old.differs, counted=old.counted)
        else:
            state = _counted(_counted(state, old, -1), new, 1)
        last = new
    return replace(state, shots=last)


def _counted(state: DayState, shot: Shot, more: int) -> DayState:
    """Return the state with a frame more or less of a setup; one counted by hand before is among those."""
    if shot.setup is None:
        return state
    if shot.counted:
        left, last = state.by_hand[shot.setup]
        return replace(state, by_hand=state.by_hand | {shot.setup: (left - more, last)})
    return replace(state, frames=state.frames | {shot.setup: state.frames.get(shot.setup, 0) + more})


def _shot(plan: Plan, state: DayState, entry: Entry, before: Shot | None, clock: ClockOf) -> Shot:
    frame: Frame = entry.data
    taken = taken_at(frame, clock)
    setup_id = state.placed[entry.n] if entry.n in state.placed else setup_at(state.times, taken)
    differs: tuple[Difference, ...] = ()
    if setup_id in plan.setups or setup_id in state.frozen:
        setup = setup_on_record(plan, state, str(setup_id)).setup
        differs = tuple(differences(plan, setup, frame, body_fires=frame.camera in state.fired))
    left, last = state.by_hand.get(setup_id or "", (0, entry))
    counted = left > 0 and frame.delay_s is None and last.n < entry.n and taken <= last.at
    return Shot(entry, taken, setup_id, differs, before, counted)
