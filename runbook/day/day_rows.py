"""The day from its call to its end as rows of blocks: load-in, setups, strike.

The blocks leave no time out and none overlap, so what they take adds up to the end of the day. Times of day are
seconds from the midnight of the shoot day.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Literal

from runbook.clock.timetable import DayClock, DayToCome, Pause, Run, Slot
from runbook.day.changeovers import LOAD_IN
from runbook.day.planned_day import first_start_s
from runbook.day.remaining_day import DayMoment
from runbook.day.timeline import Span
from runbook.model.day import Plan

RowState = Literal["done", "now", "to come"]
Kind = Literal["load-in", "break", "change", "wait", "shoot", "strike", "pack"]


@dataclass(frozen=True, slots=True)
class Block:
    """A stretch of the day in which one kind of thing is done."""

    kind: Kind
    start_s: float
    end_s: float

    @property
    def minutes(self) -> int:
        """The minutes between its times as a clock shows them: so they add up to the end that is shown."""
        return round(self.end_s / 60) - round(self.start_s / 60)


@dataclass(frozen=True, slots=True)
class Row:
    """A setup of the day, or one shot twice; not a ``setup``: the load-in or the strike.

    Its blocks go on from the row before: what goes before ``start_s`` is waiting, or a break. The end is real once it
    is done. ``plan`` is the row as planned in the morning.
    """

    id: str
    start_s: float
    end_s: float
    blocks: tuple[Block, ...]
    setup: bool = True
    state: RowState = "to come"
    plan: Row | None = None

    @property
    def late_s(self) -> float:
        """How much later than planned it ends; below zero, earlier."""
        return 0.0 if self.plan is None else self.end_s - self.plan.end_s

    @property
    def shoot_at_s(self) -> float:
        """When it is first shot; its end, where it is not."""
        return next((block.start_s for block in self.blocks if block.kind == "shoot"), self.end_s)

    def seconds(self, *kinds: Kind) -> float:
        """Return the seconds of these kinds of block."""
        return sum(block.end_s - block.start_s for block in self.blocks if block.kind in kinds)

    def minutes(self, *kinds: Kind) -> int:
        """Return the minutes of these kinds of block, as they add up to the times shown."""
        return sum(block.minutes for block in self.blocks if block.kind in kinds)


@dataclass(frozen=True, slots=True)
class BreakTime:
    """A planned break and when it is, or was, taken: between ``earliest_s`` and ``latest_s``, if all is well.

    No ``start_s``: it is not taken, either because the day ends before it, or because it was ``missed``.
    ``interrupts`` is the row whose work stops for it.
    """

    id: str
    name: str
    earliest_s: float
    latest_s: float
    start_s: float | None
    end_s: float | None
    missed: bool
    interrupts: str | None

    @property
    def in_window(self) -> bool:
        """Whether it begins in its window, to the minute, and was not missed."""
        return not self.missed and (self.start_s is None or self.earliest_s - 60 <= self.start_s <= self.latest_s + 60)


@dataclass(frozen=True, slots=True)
class DayRows:
    """The rows of a day in order, the load-in first and the strike last, and its breaks as taken."""

    all: tuple[Row, ...]
    pauses: tuple[Pause, ...]

    @property
    def setups(self) -> tuple[Row, ...]:
        """The rows of setups."""
        return tuple(row for row in self.all if row.setup)

    @property
    def start_s(self) -> float:
        """When the day begins."""
        return next((block.start_s for row in self.all for block in row.blocks), self.end_s)

    @property
    def end_s(self) -> float:
        """When the day ends."""
        return self.all[-1].end_s

    def seconds(self, *kinds: Kind) -> float:
        """Return the seconds of these kinds of block of the whole day."""
        return sum(row.seconds(*kinds) for row in self.all)

    def minutes(self, *kinds: Kind) -> int:
        """Return the minutes of these kinds of block of the whole day."""
        return sum(row.minutes(*kinds) for row in self.all)

    def with_plan(self, plan: DayRows) -> DayRows:
        """Return the rows beside those of the day as planned."""
        planned = {(row.id, row.setup): row for row in plan.all}
        return replace(self, all=tuple(replace(row, plan=planned.get((row.id, row.setup))) for row in self.all))


def rows_as_planned(plan: Plan, clock: DayClock, run: Run) -> DayRows:
    """Return the rows of a day on which nothing is done yet."""
    load_in = clock.seconds_of(plan.day.call), first_start_s(plan.day, clock)
    return _rows(load_in, run.slots, run, 60 * plan.day.wrap_min)


def rows_from_now(moment: DayMoment, clock: DayClock, to_come: DayToCome, run: Run) -> DayRows:
    """Return the rows of a running day: what is over as it was, and the rest as in ``run``."""
    state, spans = moment.state, moment.state.times.spans
    call_s, load_in_end_s = clock.seconds_of(moment.plan.day.call), first_start_s(moment.plan.day, clock)
    if spans:
        begun_s = clock.seconds(spans[0].begun)
        call_s, load_in_end_s = min(call_s, begun_s), min(load_in_end_s, begun_s)
    pauses = (*_pauses_so_far(moment, clock, to_come.now_s), *run.pauses)
    later = {slot.id: slot for slot in run.slots}
    over = [*_over(moment, clock, later.keys())]
    span_now = state.times.last(state.at_work) if state.at_work in later else None
    slots = [*over, *(later.values())]
    if span_now is not None:
        slots[len(over)] = _slot_now(slots[len(over)], span_now, clock, bool(moment.left))
    strike_s, packing_s = run.strike_s, 60 * moment.plan.day.wrap_min
    if state.wrapping and spans:
        strike_s = clock.seconds(spans[-1].begun)
        if not moment.left:  # struck
            run = replace(run, finish_s=clock.seconds(spans[-1].ready) + packing_s)
    rows = _rows((call_s, load_in_end_s), slots, replace(run, strike_s=strike_s, pauses=pauses), packing_s)
    before = len(rows.all) - len(slots) - 1 + len(over)  # the rows that are over, the load-in with them
    states: dict[int, RowState] = dict.fromkeys(range(before if spans else 0), "done")
    if span_now is not None:
        states[before] = "now"
    if state.wrapping:
        states[len(rows.all) - 1] = "now" if moment.left else "done"
    return replace(rows, all=tuple(replace(row, state=states.get(n, "to come")) for n, row in enumerate(rows.all)))


def _rows(load_in: tuple[float, float], slots: Sequence[Slot], run: Run, packing_s: float) -> DayRows:
    """Return the rows of a day: the load-in, these setups, and the strike and packing of a run."""
    call_s, since = load_in
    rows: list[Row] = []
    if since > call_s:
        rows.append(Row(LOAD_IN, call_s, since, tuple(_blocks(call_s, [("load-in", since)], run.pauses)), setup=False))
    since = max(load_in)
    for slot in slots:
        parts: list[tuple[Kind, float]] = [
            ("wait", slot.start_s),
            ("change", slot.changed_s),
            ("wait", slot.shoot_at_s),
            ("shoot", slot.end_s),
        ]
        rows.append(Row(slot.id, slot.start_s, slot.end_s, tuple(_blocks(since, parts, run.pauses))))
        since = max(since, slot.end_s)
    parts = [("wait", run.strike_s), ("strike", run.finish_s - packing_s), ("pack", run.finish_s)]
    strike = Row("strike", run.strike_s, run.finish_s, tuple(_blocks(since, parts, run.pauses)), setup=False)
    return DayRows((*rows, strike), run.pauses)


def _blocks(since: float, parts: Iterable[tuple[Kind, float]], pauses: Sequence[Pause]) -> Iterator[Block]:
    """Yield the blocks of parts that go on from ``since``, each until its time, with the breaks cut out."""
    for kind, until in parts:
        for pause in pauses:
            if pause.start_s < until and pause.end_s > since:
                at, end = max(pause.start_s, since), min(pause.end_s, until)
                yield from _lasting(Block(kind, since, at), Block("break", at, end))
                since = end
        yield from _lasting(Block(kind, since, until))
        since = max(since, until)


def _lasting(*blocks: Block) -> Iterator[Block]:
    return (block for block in blocks if block.end_s > block.start_s)


def _pauses_so_far(moment: DayMoment, clock: DayClock, now_s: float) -> Iterator[Pause]:
    """Yield the breaks taken so far, and the one that is on as long as it will last."""
    timeline = moment.state.times
    for since, until, pause_id in timeline.pauses:
        yield Pause(pause_id, clock.seconds(since), clock.seconds(until))
    if timeline.on_break is not None:
        yield Pause(moment.state.on_break or "", clock.seconds(timeline.on_break), now_s)


def _over(moment: DayMoment, clock: DayClock, later: Iterable[str]) -> Iterator[Slot]:
    """Yield every time a setup was at work that is over."""
    timeline, left = moment.state.times, set(later)
    following = [*(span.begun for span in timeline.spans[1:]), moment.now]
    for span, next_begun in zip(timeline.spans, following, strict=False):
        if span.setup is None or (span.setup in left and span is timeline.last(span.setup)):
            continue
        end = span.shot or next_begun
        begun_s, ready_s, end_s = (clock.seconds(at) for at in (span.begun, min(span.ready, end), end))
        yield Slot(span.setup, begun_s, ready_s, ready_s, end_s - ready_s, end_s)


def _slot_now(slot: Slot, span: Span, clock: DayClock, changing: bool) -> Slot:
    """Return the times of the setup at work, with the real times of what is over of it."""
    begun_s = clock.seconds(span.begun)
    if changing:
        return replace(slot, start_s=begun_s)
    changed_s = clock.seconds(span.ready)
    return replace(slot, start_s=begun_s, changed_s=changed_s, shoot_at_s=changed_s)


def breaks_of_day(moment: DayMoment, clock: DayClock, rows: DayRows) -> tuple[BreakTime, ...]:
    """Return every planned break with when it is taken."""
    taken: Mapping[str, Pause] = {pause.id: pause for pause in rows.pauses}
    now_s = clock.seconds(moment.now)
    times = []
    for planned in moment.plan.day.breaks:
        pause, latest_s = taken.get(planned.id), clock.seconds_of(planned.latest)
        times.append(
            BreakTime(
                planned.id,
                planned.name or planned.id,
                clock.seconds_of(planned.earliest),
                latest_s,
                pause.start_s if pause else None,
                pause.end_s if pause else None,
                pause is None and now_s > latest_s,
                _interrupted(rows, pause.start_s) if pause else None,
            )
        )
    return tuple(times)


def _interrupted(rows: DayRows, at_s: float) -> str | None:
    """Return the row whose work goes on after a break that begins then."""
    for row in rows.all:
        for before, pause, after in zip(row.blocks, row.blocks[1:], row.blocks[2:], strict=False):
            if pause.kind == "break" and pause.start_s == at_s and before.kind == after.kind != "wait":
                return row.id
    return None
