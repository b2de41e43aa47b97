"""A day to come, and the day lived through with given lengths of all its work.

Changeovers go as they are shared over the crew, looks are prepared meanwhile where their talent is
free, and breaks are taken when they are due. Times of day are seconds from midnight.

A break starts at the first end of a changeover or a shoot within its window, and cuts into the work
when the window closes. Everybody takes it, those who prepare a look too. A look is prepared from
the time its talent is called, as soon as the talent has left the set and any earlier preparation of
that talent is done; shooting waits for it. The strike at the end counts as part of the day.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import UTC, datetime, time, timedelta
from math import ceil, inf
from typing import Final

from runbook.clock.estimates import DAY_SPREAD, Belief, quantile_running_s
from runbook.model.day import Day

# A night that runs long still belongs to the day it began: the next day begins this long before the call.
_BEFORE_CALL: Final = timedelta(hours=4)
_LONGEST: Final = 64.0  # times the medians: no day is stretched further
_HALVINGS: Final = 40  # a day of hours to less than a millisecond


# --- the clock of a day


def wrap_at(day: Day, now: datetime) -> datetime:
    """Return the wrap of the shoot day that this moment belongs to, on whatever date it is shot."""
    call = timedelta(hours=day.call.hour, minutes=day.call.minute)
    began = now - max(call - _BEFORE_CALL, timedelta())
    return datetime.combine(began.date(), day.wrap, now.tzinfo)


@dataclass(frozen=True, slots=True)
class DayClock:
    """Converts between moments and the seconds that pass since the midnight of a shoot day.

    In the night of a change of the clocks these are not the seconds that a clock on the wall shows.
    """

    midnight: datetime

    def seconds(self, moment: datetime) -> float:
        """Return the seconds from midnight to a moment."""
        return (moment.astimezone(UTC) - self.midnight.astimezone(UTC)).total_seconds()

    def seconds_of(self, wall: time) -> float:
        """Return the seconds from midnight to a time of day."""
        return self.seconds(datetime.combine(self.midnight.date(), wall, self.midnight.tzinfo))

    def moment(self, seconds: float) -> datetime:
        """Return the moment so many seconds after midnight."""
        utc = self.midnight.astimezone(UTC) + timedelta(seconds=seconds)
        return utc.astimezone(self.midnight.tzinfo)

    def short(self, seconds: float) -> str:
        """Return the time of day to the minute, as ``17:20``."""
        return f"{self.moment(60 * round(seconds / 60)):%H:%M}"

    def exact(self, seconds: float) -> str:
        """Return the time of day to the second, as ``17:20:05``."""
        return f"{self.moment(round(seconds)):%H:%M:%S}"


def day_clock(day: Day, now: datetime) -> DayClock:
    """Return the clock of the shoot day that a moment belongs to."""
    return DayClock(wrap_at(day, now).replace(hour=0, minute=0, second=0, microsecond=0))


# --- what is left of a day


@dataclass(frozen=True, slots=True)
class Piece:
    """A part of a stretch of work, of one ``kind``: ``scale`` times what is drawn for the kind.

    ``after`` are indexes of earlier pieces of the stretch: what the step follows, and what its people did before.
    """

    kind: str
    scale: float = 1.0
    after: tuple[int, ...] = ()


Pieces = tuple[Piece, ...]


@dataclass(frozen=True, slots=True)
class Look:
    """A look's preparation, from ``call_s`` on at the earliest; ``talent`` is who sits for it."""

    id: str
    prep: Piece
    talent: str
    call_s: float


@dataclass(frozen=True, slots=True)
class SetupToCome:
    """A setup not shot yet: the changeover into it, its shooting, and the look it needs.

    ``shot_s`` says how long it is being shot already; above zero only for the first.
    """

    id: str
    change: Pieces
    shoot: Piece
    look: str | None = None
    shot_s: float = 0.0


@dataclass(frozen=True, slots=True)
class BreakToCome:
    """A break not taken yet, which should start within its window."""

    length_s: float
    earliest_s: float
    latest_s: float
    id: str = ""


@dataclass(frozen=True, slots=True)
class Overtime:
    """When overtime begins, and what it costs: by the hour, begun blocks of ``step_s`` in full."""

    wrap_s: float
    per_hour: float = 0.0
    step_s: float = 1800.0

    def cost(self, finish_s: float) -> float:
        """Return what a day that ends then costs over its rate."""
        over = max(finish_s - self.wrap_s, 0.0)
        if self.step_s > 0:
            over = ceil(over / self.step_s - 1e-9) * self.step_s
        return over / 3600 * self.per_hour


@dataclass(frozen=True, slots=True)
class Done:
    """A changeover or a shooting of today that is over: its pieces, and the seconds it took."""

    pieces: Pieces
    took_s: float


STRIKE: Final = "strike"


@dataclass(frozen=True, slots=True)
class DayToCome:
    """All that is left of a day from ``now_s`` on, and what is believed about its kinds of work.

    ``ready`` are looks that are prepared and still worn; ``free_s`` says since when a talent who was on set is off it.
    ``strike`` is the changeover to the wrap, with the packing. ``pace_sd`` is the s.d. of ln of a whole day's pace
    before it began; ``done`` is what today has shown of it.
    """

    now_s: float
    setups: tuple[SetupToCome, ...]
    beliefs: Mapping[str, Belief]
    looks: tuple[Look, ...] = ()
    ready: frozenset[str] = frozenset()
    free_s: Mapping[str, float] = field(default_factory=dict)
    breaks: tuple[BreakToCome, ...] = ()
    strike: Pieces = ()
    overtime: Overtime = Overtime(inf)
    pace_sd: float = DAY_SPREAD
    done: tuple[Done, ...] = ()

    @property
    def stretches(self) -> dict[str, Pieces]:
        """Every stretch of work by name: changeovers, shootings, preparations and the strike."""
        return (
            {into(setup.id): setup.change for setup in self.setups}
            | {shooting(setup.id): (setup.shoot,) for setup in self.setups}
            | {preparing(look.id): (look.prep,) for look in self.looks}
            | {STRIKE: self.strike}
        )

    @property
    def kinds(self) -> list[str]:
        """The kinds of all work left and done."""
        stretches = (*self.stretches.values(), *(done.pieces for done in self.done))
        return sorted({piece.kind for pieces in stretches for piece in pieces})

    def left_of_shoot_s(self, p: float) -> float:
        """Return the seconds left of the shooting under way, not exceeded with probability ``p``."""
        setup = self.setups[0]
        belief, scale = self.beliefs[setup.shoot.kind], setup.shoot.scale
        return quantile_running_s(belief, setup.shot_s / scale, p) * scale - setup.shot_s


def into(setup: str) -> str:
    """Return the name of the changeover into a setup."""
    return f"into {setup}"


def shooting(setup: str) -> str:
    """Return the name of the shooting of a setup."""
    return f"shooting {setup}"


def preparing(look: str) -> str:
    """Return the name of the preparation of a look."""
    return f"preparing {look}"


@dataclass(frozen=True, slots=True)
class Slot:
    """The time of one setup: changeover from ``start_s`` to ``changed_s``, shooting from ``shoot_at_s`` to ``end_s``.

    ``shoot_s`` is the work in shooting, without breaks.
    """

    id: str
    start_s: float
    changed_s: float
    shoot_at_s: float
    shoot_s: float
    end_s: float


@dataclass(frozen=True, slots=True)
class Pause:
    """A break as it is taken."""

    id: str
    start_s: float
    end_s: float


@dataclass(frozen=True, slots=True)
class Run:
    """A day lived through: its setups, its breaks, and when the strike begins and the day ends."""

    slots: tuple[Slot, ...]
    pauses: tuple[Pause, ...]
    strike_s: float
    finish_s: float

    def wait_s(self, slot: Slot) -> float:
        """Return how long a lit set waits to be shot, without the breaks meanwhile."""
        breaks_s = sum(
            min(pause.end_s, slot.shoot_at_s) - pause.start_s
            for pause in self.pauses
            if slot.changed_s <= pause.start_s < slot.shoot_at_s
        )
        return slot.shoot_at_s - slot.changed_s - breaks_s


Lengths = Mapping[str, float]  # seconds of every stretch of a day, by name


def median_run(day: DayToCome) -> Run:
    """Return the day if everything takes its median.

    The median of a forecast is later where work goes in parallel: the slower of two decides.
    """
    return run_day(day, medians(day))


def run_ending_at(day: DayToCome, finish_s: float) -> Run:
    """Return the day with the medians of all work stretched alike, so that it ends then.

    Where no stretch ends it then, as a longer one brings another break, it ends just after.
    """
    usual = medians(day)

    def stretched(factor: float) -> Run:
        return run_day(day, {name: factor * seconds for name, seconds in usual.items()})

    short, long = 0.0, 1.0
    while stretched(long).finish_s < finish_s and long < _LONGEST:
        short, long = long, 2 * long
    for _ in range(_HALVINGS):
        middle = (short + long) / 2
        short, long = (middle, long) if stretched(middle).finish_s < finish_s else (short, middle)
    return stretched(long)


def medians(day: DayToCome) -> dict[str, float]:
    """Return the lengths if every piece of work takes its median."""
    lengths = {}
    for name, pieces in day.stretches.items():
        ends: list[float] = []
        for piece in pieces:
            start = max([ends[n] for n in piece.after], default=0.0)
            ends.append(start + piece.scale * day.beliefs[piece.kind].median_s)
        lengths[name] = max(ends, default=0.0)
    if day.setups and day.setups[0].shot_s > 0:
        lengths[shooting(day.setups[0].id)] = day.left_of_shoot_s(0.5)
    return lengths


def run_day(day: DayToCome, lengths: Lengths) -> Run:
    """Return the day with these lengths."""
    clock = _Clock(day)
    slots = []
    for setup in day.setups:
        change_s, shoot_s = lengths[into(setup.id)], lengths[shooting(setup.id)]
        start = clock.begin(change_s)
        changed = clock.work(change_s)
        talent = clock.await_look(setup.look, lengths)
        shoot_at = clock.begin(shoot_s)
        end = clock.work(shoot_s)
        if talent is not None:
            clock.free[talent] = end
        slots.append(Slot(setup.id, start, changed, shoot_at, shoot_s, end))
    strike_s = clock.begin(lengths[STRIKE])
    finish_s = clock.work(lengths[STRIKE])
    return Run(tuple(slots), tuple(clock.taken), strike_s, finish_s)


class _Clock:
    """The time of one draw as it passes, with the breaks taken and where each talent is."""

    def __init__(self, day: DayToCome) -> None:
        self.now = day.now_s
        self.coming = sorted(day.breaks, key=lambda b: (b.earliest_s, b.latest_s), reverse=True)
        self.taken: list[Pause] = []
        self.looks = {look.id: look for look in day.looks}
        self.wears = {self.looks[id_].talent: id_ for id_ in day.ready if id_ in self.looks}
        self.free = dict(day.free_s)

    def _take(self, at: float) -> float:
        """Take the next break at that time; return its end."""
        due = self.coming.pop()
        self.taken.append(Pause(due.id, at, at + due.length_s))
        return at + due.length_s

    def begin(self, seconds: float) -> float:
        """Return when work of so many seconds can begin, after a break that is due."""
        while seconds > 0 and self.coming and self.now >= self.coming[-1].earliest_s:
            self.now = self._take(self.now)
        return self.now

    def work(self, seconds: float) -> float:
        """Work from now on, broken off where a break's window closes; return when it is done."""
        end = self.now + seconds
        while seconds > 0 and self.coming and self.coming[-1].latest_s < end:
            start = max(self.now, self.coming[-1].latest_s)
            end += self._take(start) - start
        self.now = end
        return end

    def await_look(self, name: str | None, lengths: Lengths) -> str | None:
        """Wait until the look is prepared; return who is wearing it."""
        look = self.looks.get(name or "")
        if look is None:
            return None
        if self.wears.get(look.talent) != look.id:
            self.wears[look.talent] = look.id
            start, length = max(look.call_s, self.free.get(look.talent, look.call_s)), lengths[preparing(look.id)]
            while self._prepared(start, length) > self.now:
                if self.coming and self.coming[-1].earliest_s < self._prepared(start, length):
                    self.now = self._take(max(self.now, self.coming[-1].earliest_s))
                else:
                    self.now = self._prepared(start, length)
        return look.talent

    def _prepared(self, start: float, length: float) -> float:
        """Return when a preparation is done that stops for the breaks taken so far."""
        end = start + length
        for pause in self.taken:
            if pause.end_s > start and pause.start_s < end:
                end += pause.end_s - max(pause.start_s, start)
        return end
