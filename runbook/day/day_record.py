"""The day as it really was, against the plan: what is kept when everybody has gone home."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from datetime import datetime
from typing import Final, Literal, NamedTuple

from runbook.day.changeovers import WRAP, all_changes, share
from runbook.day.event_text import event_text, meter_place_text
from runbook.day.kit_list import kit_count
from runbook.day.light import predicted_at
from runbook.day.plan_vs_actual import NOT_RECORDED, setup_changes
from runbook.day.reduce import state_after
from runbook.day.repeat_setup import setups_worked_on
from runbook.day.state import DayState, missing_of_kit, setup_as_shot, setups_without_snapshot
from runbook.day.timeline import Span, timeline_of, working_s
from runbook.journal.entries import (
    BatteryChanged,
    BreakBegun,
    BreakEnded,
    Entry,
    Frames,
    HandedOver,
    Note,
    Rescued,
    Resumed,
    SetupBegun,
    SetupShot,
    Skipped,
    StepTicked,
    Wind,
    live,
)
from runbook.light.battery import TEST_POPS, flashes_spent
from runbook.light.prediction import predict
from runbook.light.stops import meter_text
from runbook.model.day import Plan
from runbook.model.setup import Setup

NEAR_MISS: Final = "near miss"  # how a note begins that tells of one


class SetupTimes(NamedTuple):
    """One setup's times: seconds planned and real (None where they cannot be known)."""

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


class NotShot(NamedTuple):
    """A setup that is not called shot: how it stands with it, and that in words with its name."""

    id: str
    state: Literal["skipped", "open", "jumped over", "not begun"]
    text: str


class BatteryUse(NamedTuple):
    """A head's battery: full flashes spent as far as the journal knows, of what a charge has.

    ``changed`` is how often it was changed; ``spent`` counts from the last change.
    """

    head: str
    spent: float
    of: float
    changed: int = 0

    @property
    def charge(self) -> bool:
        """Whether it goes on the charger tonight: anything that was used does."""
        return self.spent > 0 or self.changed > 0


class DayRecord(NamedTuple):
    """The whole day. Texts are in words; times of day as the writers' clocks showed them."""

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
    hands: tuple[str, ...]
    batteries: tuple[BatteryUse, ...]
    missing: tuple[tuple[str, str], ...]
    uncounted: int


def day_record(plan: Plan, entries: Sequence[Entry]) -> DayRecord:
    """What the journal says of the day, held against the plan."""
    counted = live(entries)
    done = setups_worked_on(plan, counted)
    kit = kit_count(plan, counted)
    state = state_after(plan, counted)
    owed = tuple(not_shot(plan, state, counted))
    notes = [each for each in counted if isinstance(each.data, Note)]
    return DayRecord(
        plan.day.name,
        plan.day.date.isoformat(),
        counted[0].at if counted else None,
        counted[-1].at if counted else None,
        f"{plan.day.call:%H:%M}",
        f"{plan.day.wrap:%H:%M}",
        tuple(_times(plan, owed, counted)),
        owed,
        (
            *(pair for setup_id in done for pair in setup_changes(plan, setup_id, state)),
            *((setup_id, NOT_RECORDED) for setup_id in setups_without_snapshot(state)),
            *((setup_id, "shot, and no longer in the plan") for setup_id in state.shot if setup_id not in plan.setups),
        ),
        tuple(row for setup_id in done for row in _readings(plan, setup_id, state)),
        tuple(_breaks(counted)),
        tuple(_note(each) for each in notes if _is_near_miss(each)),
        tuple(f"{_at(each)} {event_text(each)}" for each in counted if isinstance(each.data, Skipped)),
        tuple(_note(each) for each in notes if not _is_near_miss(each)),
        tuple(
            f"{_at(each)} {event_text(each, plan.day.units)} ({each.who})"
            for each in counted
            if isinstance(each.data, Wind)
        ),
        tuple(
            f"{_at(each)} {event_text(each)} ({each.who})"
            for each in counted
            if isinstance(each.data, HandedOver | Resumed | Rescued)
        ),
        battery_use(plan, counted),
        kit.missing,
        len(kit.uncounted),
    )


def _at(entry: Entry) -> str:
    return f"{entry.at:%H:%M}"


def _note(entry: Entry) -> str:
    about = f"{entry.data.setup}: " if entry.data.setup else ""
    return f"{_at(entry)} {about}{entry.data.text} ({entry.who})"


def _is_near_miss(entry: Entry) -> bool:
    return str(entry.data.text).strip().lower().replace("-", " ").startswith(NEAR_MISS)


# -- what is still owed --------------------------------------------------------------------------


def not_shot(plan: Plan, state: DayState, counted: Iterable[Entry]) -> Iterator[NotShot]:
    """The setups that are not called shot, in the day's order, then any others begun.

    One never begun is jumped over where it stands before the one of the order that was begun last.
    """
    counted = list(counted)
    begun = [each.data.setup for each in counted if isinstance(each.data, SetupBegun)]
    called = {each.data.setup for each in counted if isinstance(each.data, SetupShot)}
    order = plan.day.order
    reached = next((order.index(each) for each in reversed(begun) if each in order), -1)
    known = (*order, *(each for each in (*begun, *state.setups_skipped) if each in plan.setups))
    for n, setup_id in enumerate(dict.fromkeys(known)):
        if setup_id in state.shot:
            continue
        if setup_id in state.setups_skipped:
            why = state.setups_skipped[setup_id]
            yield NotShot(setup_id, "skipped", f"{setup_id}: skipped, because: {why}")
        elif setup_id in begun:
            how = "shot, begun again and open" if setup_id in called else "begun and still open"
            frames = f"{state.frames.get(setup_id, 0)} of {plan.setups[setup_id].frames} frames"
            yield NotShot(setup_id, "open", f"{setup_id}: {how}, {frames}")
        else:
            status: Literal["jumped over", "not begun"]
            status = "jumped over" if n < reached else "not begun"
            yield NotShot(setup_id, status, f"{setup_id}: {status}")


# -- times ---------------------------------------------------------------------------------------


def _times(plan: Plan, owed: Iterable[NotShot], counted: list[Entry]) -> Iterator[SetupTimes]:
    """Every setup of the order, those of the folder shot besides, and the strike."""
    planned = {each.goal: share(each.steps, plan).total_s for each in all_changes(plan)}
    shot = {e.data.setup for e in counted if isinstance(e.data, SetupShot)}
    over: dict[str | None, str] = {each.id: each.state for each in owed if each.state in ("skipped", "jumped over")}
    frames: dict[str, int] = {}
    for each in counted:
        if isinstance(each.data, Frames):
            frames[each.data.setup] = frames.get(each.data.setup, 0) + each.data.added
    stood = _stood(counted)
    for setup_id in (*dict.fromkeys((*plan.day.order, *setups_worked_on(plan, counted))), None):
        setup = None if setup_id is None else plan.setups[setup_id]
        mine = [each for each in stood if each.span.setup == setup_id]
        state = "shot" if setup_id in shot else over.get(setup_id, "")
        yield SetupTimes(
            setup_id or WRAP,
            mine[0].span.begun if mine else None,
            mine[-1].over if mine else None,
            planned.get(setup_id, 0.0),
            sum(each.span.changing_s for each in mine) if mine else None,
            60 * setup.shoot_min if setup else 0.0,
            sum(each.shooting_s for each in mine) if mine and setup else None,
            setup.frames if setup else 0,
            frames.get(setup_id, 0) if setup_id else 0,
            state or ("begun" if mine else "not begun"),
        )


class _Stood(NamedTuple):
    """One time that a setup was at work, when it was over, and the shooting between."""

    span: Span
    over: datetime
    shooting_s: float


def _stood(counted: list[Entry]) -> list[_Stood]:
    """A setup is over when it is called shot, else when the next one begins, else with the journal.

    A clock that was put back in between counts as no time.
    """
    real = timeline_of(counted)
    spans = real.spans
    stood = []
    for n, span in enumerate(spans, 1):
        end = spans[n].begun if n < len(spans) else counted[-1].at
        over = span.shot or end
        since = span.changed or span.begun
        shooting_s = max(working_s(real, since, over), 0.0)
        span = span._replace(changing_s=max(span.changing_s, 0.0))  # noqa: PLW2901
        stood.append(_Stood(span, over, shooting_s))
    return stood


def _breaks(counted: list[Entry]) -> Iterator[str]:
    began: Entry | None = None
    for each in counted:
        if isinstance(each.data, BreakBegun):
            began = each
        elif isinstance(each.data, BreakEnded) and began is not None:
            minutes = (each.at - began.at).total_seconds() / 60
            yield f"{each.data.id}: {_at(began)} to {_at(each)}, {minutes:.0f} min"
            began = None
    if began is not None:
        yield f"{began.data.id}: from {_at(began)}"


# -- the light as shot ----------------------------------------------------------------------------


def _readings(plan: Plan, setup_id: str, state: DayState) -> Iterator[tuple[str, str, str, str]]:
    """Setup, head, what the meter showed, and what is predicted of the setup as it then was."""
    for head, entry in state.readings.get(setup_id, {}).items():
        then, where = state.metered.get(setup_id, {}).get(head), entry.data.where
        stops = None if then is None else predicted_reading(plan, then, head, where)
        of = head or "all heads"
        if where != "face":
            of += f", at {meter_place_text(where)}"
        yield setup_id, of, entry.data.f, "" if stops is None else meter_text(stops)


def predicted_reading(plan: Plan, setup: Setup, head: str | None, where: str) -> float | None:
    """What a head, or the whole set, is predicted to read in a setup; None where nothing is."""
    if missing_of_kit(plan.kit, setup):
        return None
    light = predict(plan, setup)
    if head is None:
        return light.whole_stops
    return next((predicted_at(each, where) for each in light.heads if each.head == head), None)


def battery_use(plan: Plan, counted: Iterable[Entry]) -> tuple[BatteryUse, ...]:
    """Full flashes each battery head has spent: frames as journalled, at the powers as shot.

    Each setup worked on counts its test pops. From the last change of a head's battery on, where
    the journal has one.
    """
    counted = list(counted)
    state = state_after(plan, counted)
    since, changed = _battery_changes(counted)
    setups_worked_on = {e.data.setup for e in counted if isinstance(e.data, (Frames, StepTicked)) and e.data.setup}
    setups = {
        setup_id: setup_as_shot(plan, state, setup_id)
        for setup_id in setups_worked_on & (plan.setups.keys() | state.frozen.keys())
    }
    batteries = []
    for head in plan.kit.heads:
        if head.flashes_full is None or head.mains:
            continue
        frames, tested = _flashed(counted[since.get(head.id, 0) :])
        flashes = sum(
            flashes_spent(
                max(frames.get(setup_id, 0), 0), setup.light[head.id].power, TEST_POPS if setup_id in tested else 0
            )
            for setup_id, setup in setups.items()
            if head.id in setup.light
        )
        batteries.append(BatteryUse(head.id, flashes, head.flashes_full, changed.get(head.id, 0)))
    return tuple(batteries)


def _battery_changes(counted: Sequence[Entry]) -> tuple[dict[str, int], Counter[str]]:
    """By head, the entries up to its last change of battery, and how many changes."""
    changes = [(e.data.head, n) for n, e in enumerate(counted, 1) if isinstance(e.data, BatteryChanged)]
    return dict(changes), Counter(head for head, _ in changes)


def _flashed(counted: Iterable[Entry]) -> tuple[dict[str, int], set[str]]:
    """The frames of each setup, and the setups tested."""
    frames: Counter[str] = Counter()
    tested: set[str] = set()
    for entry in counted:
        if isinstance(entry.data, Frames):
            frames[entry.data.setup] += entry.data.added
        elif isinstance(entry.data, StepTicked) and entry.data.step.get("verb") == "test":
            tested.add(entry.data.setup or "")
    return frames, tested
