"""What would end the day sooner: setups to drop, alone and in pairs, and calls to make earlier.

Each is the rest of the day worked out again with that change, from the same draws as without it.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from functools import partial
from itertools import combinations
from typing import Final

from runbook.clock.forecast import Gain, forecasts, gain_of
from runbook.clock.timetable import DayClock, DayToCome, day_clock, median_run
from runbook.day.changeovers import Changeovers
from runbook.day.order_proposal import SEED
from runbook.day.planned_day import with_call
from runbook.day.remaining_day import DayMoment, day_from_now
from runbook.model.progress import Tell, silent

_HELPS_S: Final = 60.0  # a call that saves less than another is no better
_PAIRS: Final = 3  # so many that bring the day in are enough
_PAIRS_TRIED: Final = 30  # of more pairs than these, not all are forecast
_STEP_S: Final = 900.0  # nobody is called to the minute
_LOOK_STEP_S: Final = 300.0
_MOST_EARLIER_S: Final = 3 * 3600.0
CREW: Final = "crew"
EVERYONE: Final = "everyone"
Group = tuple[str, ...]  # setups dropped together


@dataclass(frozen=True, slots=True)
class Drop:
    """Setups to drop, the frames and seconds of shooting lost with them, and what that saves."""

    setups: tuple[str, ...]
    frames: int
    shoot_s: float
    gain: Gain


@dataclass(frozen=True, slots=True)
class Call:
    """Who is called earlier, ``earlier_s`` before what is planned, and what that saves.

    ``who`` is a talent, for one ``look``; the ``crew``, and the talents as planned; or ``everyone``.
    """

    who: str
    look: str | None
    call_s: float
    earlier_s: float
    gain: Gain


@dataclass(frozen=True, slots=True)
class Remedies:
    """Setups to drop, alone and in ``pairs``, and earlier calls: what brings the day in with the least loss first.

    ``pairs`` are looked for where no setup alone brings the day in; the best is kept where none of them does either.
    """

    singles: tuple[Drop, ...] = ()
    pairs: tuple[Drop, ...] = ()
    calls: tuple[Call, ...] = ()


NO_REMEDIES: Final = Remedies()


def remedies_of(
    moment: DayMoment, changes: Changeovers, draws: int, over_s: float | None, tell: Tell = silent
) -> Remedies:
    """Return what would end the day sooner. ``over_s`` is how late it is; None: in time, and only singles are tried.

    ``tell`` is called again and again; what it raises stops the work.
    """
    trials = _Trials(moment, changes, draws, tell, day_from_now(moment, changes))
    found = [*trials.drops("a setup", [(setup.id,) for setup in trials.whole.setups if not setup.shot_s])]
    singles = tuple(sorted(found, key=_best_first))
    if over_s is None:
        return Remedies(singles)
    pairs = () if any(drop.gain.in_time for drop in singles) else _best_pairs(trials, found, over_s)
    return Remedies(singles, tuple(pairs), tuple(_calls(trials, over_s)))


@dataclass(frozen=True, slots=True)
class _Trials:
    """The rest of a day, to be forecast with one change after another."""

    moment: DayMoment
    changes: Changeovers
    draws: int
    tell: Tell
    whole: DayToCome

    def gains(self, what: str, moments: Sequence[DayMoment]) -> Iterator[Gain]:
        """Yield what each of other days saves against the whole one; ``what`` names what is worked on."""
        count = 0

        def check() -> None:
            self.tell(f"{what}: {count} of {len(moments)}", count, len(moments))

        days = [self.whole]
        for moment in moments:
            check()
            days.append(day_from_now(moment, self.changes))
        results = forecasts(days, SEED, self.draws, check)
        now = next(results)
        for then in results:
            yield gain_of(now, then)
            count += 1

    def drops(self, what: str, groups: Sequence[Group]) -> Iterator[Drop]:
        """Yield what dropping each group of setups saves."""
        gains = self.gains(f"what dropping {what} saves", [_without(self.moment, group) for group in groups])
        return (Drop(group, *_lost(self.moment, group), gain) for group, gain in zip(groups, gains, strict=True))


def _best_first(drop: Drop) -> tuple[float, ...]:
    """Return what sorts drops: those that bring the day in by what is lost, then the others by what they save."""
    if drop.gain.in_time:
        return (0.0, drop.frames, drop.shoot_s)
    return (1.0, -drop.gain.wins_s, drop.frames)


def _without(moment: DayMoment, group: Group) -> DayMoment:
    for name in group:
        moment = moment.without(name)
    return moment


def _lost(moment: DayMoment, group: Group) -> tuple[int, float]:
    """Return the frames and the seconds of shooting that are lost with these setups."""
    frames, shoot_s = 0, 0.0
    for name in group:
        setup = moment.plan.setups[name]
        left = max((setup.frames or 0) - moment.state.frames.get(name, 0), 0)
        frames += left
        shoot_s += 60 * setup.shoot_min * (left / setup.frames if setup.frames else 1.0)
    return frames, shoot_s


def _best_pairs(trials: _Trials, singles: Sequence[Drop], over_s: float) -> list[Drop]:
    """Return the pairs that bring the day in with the least loss; else the one that saves most, if it helps.

    Of many pairs only those are forecast that come nearest by what each of the two saves alone.
    """

    def loss(pair: tuple[Drop, Drop]) -> tuple[int, float]:
        one, other = pair
        return one.frames + other.frames, one.shoot_s + other.shoot_s

    def short_s(pair: tuple[Drop, Drop]) -> float:
        return max(over_s - sum(drop.gain.wins_s for drop in pair), 0.0)

    by_loss = sorted(combinations(singles, 2), key=loss)
    nearest = sorted(by_loss, key=short_s)[:_PAIRS_TRIED]
    tried: list[Drop] = []
    groups = [one.setups + other.setups for one, other in by_loss if (one, other) in nearest]
    for drop in trials.drops("two setups", groups):
        tried.append(drop)
        if sum(drop.gain.in_time for drop in tried) == _PAIRS:
            break
    tried.sort(key=_best_first)
    return [drop for drop in tried if drop.gain.in_time] or [d for d in tried[:1] if d.gain.helps]


# --- earlier calls


_Option = tuple[Callable[[Gain], Call], DayMoment]  # a call but for what it saves, and the day with it


def _calls(trials: _Trials, over_s: float) -> Iterator[Call]:
    """Yield who to call earlier, of the talents waited for, the crew, and everyone: for each the call that does most.

    That is the latest one that brings the day in, else the one that saves most. Everyone is called only where that
    does more than calling the crew.
    """
    clock = day_clock(trials.moment.plan.day, trials.moment.now)
    options = [*_talent_calls(trials.moment, trials.whole, clock), *_crew_calls(trials.moment, clock, over_s)]
    gains = trials.gains("what earlier calls save", [then for _, then in options])
    best: dict[tuple[str, str | None], Call] = {}
    for (call_saving, _), gain in zip(options, gains, strict=True):
        call = call_saving(gain)
        known = best.get((call.who, call.look))
        if call.gain.helps and (known is None or _does_more(call, known)):
            best[call.who, call.look] = call
    crew, everyone = best.get((CREW, None)), best.get((EVERYONE, None))
    if crew and everyone and not _does_more(everyone, crew):
        del best[EVERYONE, None]
    yield from best.values()


def _does_more(call: Call, known: Call) -> bool:
    """Return whether a call helps noticeably more than one that is known, and not yet in time."""
    return not known.gain.in_time and (call.gain.in_time or call.gain.wins_s >= known.gain.wins_s + _HELPS_S)


def _talent_calls(moment: DayMoment, whole: DayToCome, clock: DayClock) -> Iterator[_Option]:
    """Yield an earlier call for each look that a lit set waits for; nobody is called before now."""
    plan, run = moment.plan, median_run(whole)
    now_s, look_of = clock.seconds(moment.now), {setup.id: setup.look for setup in whole.setups}
    ahead = not moment.state.begun and now_s == clock.seconds_of(plan.day.call)  # the plan of another day
    for look in whole.looks:
        wait_s = max((run.wait_s(slot) for slot in run.slots if look_of[slot.id] == look.id), default=0.0)
        earliest_s = 0.0 if ahead else now_s
        call_s = max((look.call_s - wait_s) // _LOOK_STEP_S * _LOOK_STEP_S, earliest_s)
        if wait_s >= _HELPS_S and look.call_s - call_s >= _HELPS_S and look.talent not in moment.state.late:
            then = replace(moment, plan=with_call(plan, look.id, _time(clock, call_s)))
            yield partial(Call, look.talent, look.id, call_s, look.call_s - call_s), then


def _crew_calls(moment: DayMoment, clock: DayClock, over_s: float) -> Iterator[_Option]:
    """Yield earlier calls of the crew, and of everyone, while the day has not begun."""
    day, now_s = moment.plan.day, clock.seconds(moment.now)
    call_s = clock.seconds_of(day.call)
    if moment.state.begun or now_s > call_s:
        return
    room_s = min(_MOST_EARLIER_S, call_s if now_s == call_s else call_s - now_s) // _STEP_S * _STEP_S
    least_s = max(-(-over_s // _STEP_S), 1) * _STEP_S
    for earlier_s in dict.fromkeys(min(least_s + n * _STEP_S, room_s) for n in range(3)):
        if earlier_s > 0:
            new_s = call_s - earlier_s
            call, now = _time(clock, new_s), min(moment.now, clock.moment(new_s))
            looks = tuple(replace(look, call=look.call or day.call) for look in day.looks)
            for who, changed in ((CREW, replace(day, call=call, looks=looks)), (EVERYONE, replace(day, call=call))):
                then = replace(moment, plan=replace(moment.plan, day=changed), now=now)
                yield partial(Call, who, None, new_s, earlier_s), then


def _time(clock: DayClock, seconds: float) -> dt.time:
    return clock.moment(seconds).time()
