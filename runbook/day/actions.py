"""The running day and everything a person can do to it.

Every action is written to the journal first; only what is on disk changes what is true.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Mapping, Sequence
from contextlib import suppress
from dataclasses import replace
from itertools import takewhile
from pathlib import Path
from types import MappingProxyType
from typing import Any, Final

from runbook.changeover.checklist import Check
from runbook.changeover.steps import CannotBeDone, Step, apply, to_plain
from runbook.day.day_view import DayView
from runbook.day.event_text import HANDOVER, JOURNAL, change_text, event_text, meter_place_text, reading_text
from runbook.day.gates import PendingSteps, bags_missing, tick_of
from runbook.day.light import MeterReading, flash_read, meter_place, predicted_at, reading_result
from runbook.day.parse_input import parse_target
from runbook.day.planned_day import kind_of
from runbook.day.reduce import floor_after_step
from runbook.day.state import UNPLANNED, Tick, snapshot_to_keep, snapshot_to_keep_on_leaving
from runbook.day.timings import shooting_share, step_time_s
from runbook.journal import entries as say
from runbook.journal.entries import Entry, Undone
from runbook.journal.store import Journal
from runbook.journal.trouble import JournalTrouble
from runbook.model.day import Plan
from runbook.model.power import Power
from runbook.model.problems import Problem
from runbook.model.setup import Light, Setup
from runbook.stands.verdict_text import gust_text


class Session(DayView):
    """A day being shot, and what whoever sits at the keyboard does."""

    left_file: Path | None = None  # where to write again what is only in memory
    problems: tuple[Problem, ...] = ()  # what a check finds in the plan, once it is worked out
    plan_files: Mapping[str, bytes] = MappingProxyType({})  # what the plan was read from, by name

    def _write(self, *data: Any) -> None:
        """What happened, to the disk in one go; then it is true."""
        for entry in self.journal.append_all(data, self.who):
            self.entries.append(entry)
            if isinstance(entry.data, say.Undone):
                self.look_back(first_affected(self.entries, entry.data.entry))
            else:
                self.go_on(entry)
        self._seen = {}
        # only now: a journal with nothing to write would seem to take it again
        self.try_to_record()

    def open(self, plan_digest: str, version: str) -> None:
        """The day is opened, with this plan, by this version of the program."""
        self._write(say.DayOpened(self.plan.day.name, plan_digest, version, self.rehearsal))

    def begin(self, setup_id: str | None) -> None:
        """Begin a setup, from whatever stands there now; None begins the wrap."""
        if setup_id is not None and setup_id not in self.plan.setups:
            raise Refused(f"no setup {setup_id}; the day has {', '.join(self.plan.day.order)}")
        state = self.state
        if state.begun and state.at_work == setup_id and setup_id not in state.shot:
            raise Refused(f"{setup_id or 'the wrap'} is at work already")
        left = None if self.rehearsal else snapshot_to_keep_on_leaving(self.plan, state)
        self._write(say.SetupBegun(setup_id, left))

    def tick(self, *steps: Step) -> None:
        """Steps are done, one after another; all of them are on the disk then, or none.

        Raises Refused while a check holds one or another step comes first: those before it are done
        then. A rehearsal ticks the checks along with a step: they are looked at, and the stopwatch
        goes on.
        """
        if self.rehearsal:
            for hold in self.view.now.open_holds(_found(self.view.todo, steps[0])):
                self.tick_check(hold.check)
        now, state = self.view.now, self.state
        done: list[say.StepTicked] = []
        # a changeover's own steps lead on from one to the next: they need no working out between
        for step in [_found(now.todo, step) for step in steps]:
            try:
                _refuse(now, step)
                step = now.with_hold(step)  # noqa: PLW2901
                state = replace(state, floor=floor_after_step(state, step))
            except (Refused, CannotBeDone) as why:
                if done:
                    self._write(*done)
                if isinstance(why, Refused):
                    raise
                raise Refused(f"{why}; do that first, or skip this step too") from None
            done.append(self._ticked(step, self.state.at_work, together=len(steps) > 1))
            left = tuple(each for each in now.todo if each.key != step.key)
            ground = now.ground and now.ground._replace(floor=state.floor)
            now = now._replace(todo=left, ground=ground)
        self._write(*done)

    def tick_ahead(self, step: Step) -> None:
        """A step of the next setup is done while this one still runs.

        Raises Refused as ``tick`` does.
        """
        ahead = self.ahead
        step = _found(ahead.todo, step)
        _refuse(ahead, step)
        step = ahead.with_hold(step)
        try:
            apply(self.state.real_floor, step)
        except CannotBeDone as why:
            raise Refused(f"{why}; it must wait for its own changeover") from None
        self._write(self._ticked(step, self.next_setup))

    def _ticked(self, step: Step, setup_id: str | None, *, together: bool = False) -> say.StepTicked:
        """A step that is done now; with what it took, where it is known and no other is with it."""
        kit, seconds = self.plan.kit, None
        people = len(self.plan.day.crew)
        alone = people > 1 and self.state.tickers <= {self.who}
        # nobody knows when a step was begun that is done ahead
        if (self.rehearsal or not alone) and not together and setup_id == self.state.at_work:
            seconds = step_time_s(
                self.counted, self.who, self.clock(), step, self.worked_now, people=people, alone=alone
            )
        return say.StepTicked(setup_id, to_plain(step), seconds, kind_of(step, kit))

    def skip_step(self, step: Step, reason: str) -> None:
        """Leave a step out, with a reason."""
        step = _found(self.view.now.left, step)
        at_work = self.state.at_work
        self._write(say.Skipped("step", _reason(reason), at_work, step=to_plain(step)))

    def tick_check(self, check: Check) -> None:
        """A check is true: whoever sits at the keyboard says so.

        Raises Refused while what it speaks of is not done yet.
        """
        for hold in self.view.holds:
            missing = bags_missing(hold, self.state, self.view.goal)
            if hold.check.id == check.id and missing and not self.view.now.check_waits_for(check):
                names = " and ".join(missing)
                raise Refused(f"{names} does not hang there: hang it, or x sets the check aside")
        self._answer(check, self.view.now, tick_of(self.state, check), self.state.at_work)

    def tick_check_ahead(self, check: Check) -> None:
        """A check of the steps done ahead is true. Raises Refused as ``tick_check``."""
        tick = self.state.ahead_checks.get(check.id)
        self._answer(check, self.ahead, tick, self.next_setup)

    def _answer(self, check: Check, steps: PendingSteps, tick: Tick | None, setup: str | None) -> None:
        if tick is not None and tick.aside is None:
            raise Refused(f"{tick.by} ticked that at {tick.at}")
        first = steps.check_waits_for(check)
        if first is not None:
            raise Refused(f"not yet, before it: {first.text}")
        self._write(say.CheckTicked(check.id, check.stage, self.who, setup, None))

    def set_check_aside(self, check: Check, reason: str) -> None:
        """Go on without a check, with a reason that stays in the journal."""
        at_work = self.state.at_work
        self._write(say.Skipped("check", _reason(reason), at_work, check.id, stage=check.stage))

    def skip_setup(self, setup_id: str, reason: str) -> None:
        """Leave a setup out of the day, with a reason."""
        self._write(say.Skipped("setup", _reason(reason), setup_id, setup_id))

    def nudge(self, head: str, clicks: int) -> Power:
        """Turn a head's power by clicks of its own dial, on the spot; recorded as shot."""
        self._burns(head)
        old, dial = self.dialled(head), self.plan.kit.head[head].dial
        # a head that is off comes on at its least: that is its first click up
        new = dial.nudged(old, clicks if old.fires else clicks - 1)
        if new == old or not (old.fires or clicks > 0):
            if not old.fires:
                raise Refused(f"{head} is off already")
            raise Refused(f"{head} is at {'full' if clicks > 0 else 'its least'} power already")
        self._dialled(head, new)
        return new

    def dialled(self, head: str) -> Power:
        """What a head of the setup at work is dialled to; its target while it still gets there.

        Where its step was skipped, the dial is where it was.
        """
        at = self.state.floor.heads.get(head)
        skipped = ("power", "head", head) in self.state.steps_skipped
        if skipped and at is not None and at.power is not None:
            return at.power
        return self._burns(head).power

    def _burns(self, head: str) -> Light:
        """A head as the setup at work asks for it."""
        self._at_work()
        assert self.asked is not None
        light = self.asked.light.get(head)
        if light is None:
            raise Refused(f"{head} does not burn in {self.asked.id}")
        return light

    def _dialled(self, head: str, new: Power) -> None:
        setup = self._at_work()
        old = self.dialled(head)
        if old != new:
            self._write(say.Changed(setup.id, "head", "power", str(old), str(new), head))

    def targets(self, head: str | None, text: str) -> tuple[say.Changed, ...]:
        """What was typed of a head's targets, or the camera's, as it really is.

        Raises ValueError with what would be right.
        """
        stands, asked = self._at_work(), self.asked
        assert asked is not None
        return parse_target(self.plan, asked, stands, head, text)

    def change(self, changes: tuple[say.Changed, ...]) -> str:
        """Targets are otherwise, on the spot; recorded as shot. Returns what changed, in words."""
        told = []
        for each in changes:
            data = each
            if data.key == "power":
                data = data._replace(before=str(self.dialled(data.item)))
            if data.before != data.now:
                told.append(data)
        if not told:
            raise Refused("it is so already")
        self._write(*told)
        return ", ".join(change_text(data, self.plan.day.units) for data in told)

    def metered_at(self, head: str | None) -> str:
        """Where the meter is held for a head of the setup at work, or the whole set, in words."""
        light = self._burns(head) if head is not None else None
        return meter_place_text(meter_place(light) if light is not None else "face")

    def reading(self, head: str | None, stops: float) -> str:
        """A reading typed in: stops of the squared f-number, of one head or the whole set.

        One head alone is metered where ``metered_at`` says. Returns how far the prediction for
        there was off and what would give what was asked, in words.
        """
        setup = self._at_work()
        where = "face" if head is None else meter_place(self._burns(head))
        light = self.prediction
        before = self.head_light(head) if head else None
        predicted = predicted_at(before, where) if before else (light.whole_stops if light else None)
        stood = snapshot_to_keep(self.plan, self.state)
        self._write(say.Reading(setup.id, head, stops, reading_text(stops), where, stood))
        flash = flash_read(self.plan, setup, stops) if where == "face" else stops
        now = self.head_light(head) if head else None
        return reading_result(MeterReading(head, stops, flash, where), predicted, now)

    def dial_as_asked(self, head: str) -> Power:
        """Dial the power that gives what the plan asks of a head; recorded as shot."""
        light = self.head_light(head)
        if light is None or light.dial is None:
            raise Refused(f"nothing is asked of {head}: aim_reading_f or under_key_stops say it")
        self._dialled(head, light.dial.power)
        return light.dial.power

    def frames(self, count: int) -> None:
        """So many frames more (or fewer, to correct) on this setup."""
        setup = self._at_work()
        if self.state.frames.get(setup.id, 0) + count < 0:
            raise Refused("a setup has no fewer than 0 frames")
        self._write(say.Frames(setup.id, count, snapshot_to_keep(self.plan, self.state)))

    def note(self, text: str) -> None:
        """A note, to the setup at work if there is one."""
        if not text.strip():
            raise Refused("a note needs words")
        self._write(say.Note(self.state.at_work, text.strip()))

    def wind(self, gust_ms: float) -> str:
        """Record the gusts there are now, in m/s; returns them in words.

        Raises Refused indoors.
        """
        if self.plan.day.place.indoors:
            raise Refused("no wind indoors; a fan is fan_ms under [place] in day.toml")
        self._write(say.Wind(gust_ms))
        return f"gusts {gust_text(gust_ms, self.plan.day.units)}"

    def mark_shot(self) -> None:
        """The setup at work is shot."""
        setup = self._at_work()
        if setup.id in self.state.shot:
            raise Refused(f"{setup.id} is called shot already")
        share = None
        if self.ready and not self.rehearsal:
            share = shooting_share(self.state.times, setup, self.clock())
        self._write(say.SetupShot(setup.id, share, snapshot_to_keep(self.plan, self.state)))

    def pause(self, break_id: str) -> None:
        """A break begins."""
        if self.state.on_break is not None:
            raise Refused("everybody is on a break already")
        self._write(say.BreakBegun(break_id))

    def begin_unplanned_break(self, minutes: float, reason: str) -> None:
        """A break begins that the plan does not have, of so many minutes."""
        if self.state.on_break is not None:
            raise Refused("everybody is on a break already")
        self._write(say.BreakBegun(UNPLANNED, minutes, _reason(reason)))

    def talent_is_late(self, talent: str, due: str) -> None:
        """A talent comes later than planned, at ``due`` (``HH:MM``)."""
        if talent not in {look.sitter for look in self.plan.day.looks}:
            raise Refused(f"no look of this day has the talent {talent}")
        self._write(say.TalentLate(talent, due))

    def battery_changed(self, head: str) -> None:
        """A head got a full battery."""
        if head not in self.plan.kit.head or self.plan.kit.head[head].mains:
            raise Refused(f"{head} is no battery head of the kit")
        self._write(say.BatteryChanged(head))

    def resume(self) -> None:
        """The break is over."""
        if self.state.on_break is None:
            raise Refused("nobody is on a break")
        self._write(say.BreakEnded(self.state.on_break))

    def replan(self, plan: Plan, files: Mapping[str, bytes] | None = None) -> str:
        """Go on with a plan that was edited: what happened stays, and is read over it again.

        ``files`` are what it was read from, by name.
        Returns what a person must know of it, or nothing.
        """
        at_work = self.state.at_work
        self.plan = plan
        self.plan_files = files or {}
        self.problems = ()
        self.look_back()
        self._seen, self.hours = {}, None
        self._tellings.forget()
        self._lights.forget()
        self.__dict__.pop("changes", None)
        if at_work is not None and at_work not in plan.setups:
            return f"{at_work} was at work and is in the plan no more; n begins the next"
        return ""

    def leave(self) -> None:
        """Whoever sits at the keyboard leaves the day; it stays where it is."""
        self._write(say.Left())

    def hand_over(self, to: str) -> None:
        """The day is handed to another shooter."""
        if not to.strip():
            raise Refused("to whom? write a name")
        self._write(say.HandedOver(to.strip()))

    def take_over(self, giver: str) -> None:
        """Whoever sits at the keyboard takes the day over."""
        self._write(say.Resumed(giver))

    def confirm_handover_line(self, line: str, text: str) -> None:
        """A line of the handover was heard, and said back."""
        self._write(say.CheckTicked(line, HANDOVER, self.who, self.state.at_work, text))

    def skip_handover_line(self, line: str, reason: str) -> None:
        """A line of the handover was not said back, and why."""
        at_work = self.state.at_work
        self._write(say.Skipped("check", _reason(reason), at_work, line, stage=HANDOVER))

    def count_kit(self, kind: str, home: tuple[str, ...], missing: tuple[str, ...] = ()) -> None:
        """Things of one kind are back in their cases, or missing; by their labels."""
        if not home and not missing:
            raise Refused("nothing was counted")
        self._write(say.Counted(kind, home, missing))

    def undo(self) -> str:
        """Take back the last thing said; returns what it was, in words."""
        last = undoable(self.counted)
        if last is None:
            raise Refused("nothing left to undo")
        self._write(say.Undone(last.n))
        return event_text(last, self.plan.day.units)

    def redo(self) -> str:
        """Bring back what was undone last, as often as it was undone, if nothing was said since."""
        last = redoable(self.entries)
        if last is None:
            raise Refused("nothing to bring back")
        back = next((e for e in self.entries if e.n == last.data.entry), last)
        self._write(say.Undone(last.n))
        return event_text(back, self.plan.day.units)

    def check_gaps(self) -> None:
        """What stands was looked at, after entries of the journal were lost."""
        if not self.gaps:
            raise Refused("nothing of the journal is missing")
        numbers = " ".join(map(str, self.gaps))
        self._write(say.CheckTicked("gap", JOURNAL, self.who, self.state.at_work, numbers))

    def write_again(self, path: Path | None = None) -> str:
        """Write all that is in memory again and go on there; returns what was written where.

        Without ``path``, where the journal was; what is there now is kept beside it. Raises
        JournalTrouble.
        """
        place = path or self.journal.path or self.left_file
        if place is None:
            raise Refused("this day has no journal on disk")
        count = self.journal.write_again(place)
        self.left_file, self.elsewhere = None, path
        self.entries = list(self.journal.entries)
        self.look_back()
        self._seen = {}
        return f"all {count} entries are written to {place}"

    def keep_in_memory(self, *, on_disk: bool = True) -> None:
        """Keep what is said in memory, because the journal cannot take it.

        It is tried again with everything that is said from then on; see ``try_to_record``.
        ``on_disk`` says whether what was recorded before is still there.
        """
        fresh = Journal.in_memory(clock=self.clock, who=self.who, entries=self.entries, on_disk=on_disk)
        self.left_file = self.journal.path or self.left_file
        self.journal.close()
        self.journal = fresh

    def try_to_record(self) -> bool:
        """Write what is only in memory, if the journal takes it again; whether all is on disk."""
        if not self.journal.on_disk and self.left_file is not None:
            with suppress(JournalTrouble):
                self.journal.go_back_to(self.left_file)
        return self.journal.on_disk

    def _at_work(self) -> Setup:
        setup = self.setup
        if setup is None:
            raise Refused("no setup is at work; begin one first")
        return setup


def _found(steps: tuple[Step, ...], step: Step) -> Step:
    """The step as the changeover numbers it now."""
    for each in steps:
        if each.key == step.key:
            return each
    raise Refused(f"not to be done now: {step.text}")


def _refuse(steps: PendingSteps, step: Step) -> None:
    """Raise Refused while a check holds a step or another comes first."""
    holding = steps.open_holds(step)
    if holding:
        text = holding[0].check.text
        raise Refused(f"held: {text}; tick that first, or set it aside with a reason")
    waiting = steps.waits_for(step)
    if waiting:
        raise Refused(f"not yet, before it: {waiting[0].text}")
    why = steps.why_not_now(step)
    if why:
        raise Refused(f"not safe: {why}")


def _reason(text: str) -> str:
    if not text.strip():
        raise Refused("a reason is needed: it stays in the journal")
    return text.strip()


# Who came and went is no deed to take back.
_NOT_UNDONE: Final = ("day-opened", "left", "undone", "handed-over", "resumed", "rescued")


def first_affected(entries: Sequence[Entry], number: int) -> int:
    """Return the number of the first entry that counts otherwise once ``number`` is undone.

    That of an undoing is what it undid. ``entries`` are in order.
    """
    while True:
        at = bisect_left(entries, number, key=lambda entry: entry.n)
        data = entries[at].data if at < len(entries) and entries[at].n == number else None
        if not isinstance(data, Undone) or data.entry >= number:
            return number
        number = data.entry


def undoable(counted: Sequence[Entry]) -> Entry | None:
    """The last of the entries that count that can be undone."""
    return next((e for e in reversed(counted) if e.kind not in _NOT_UNDONE), None)


def redoable(entries: Sequence[Entry]) -> Entry | None:
    """The undoing that was said last and still counts, if nothing was said since."""
    undone: list[Entry] = []
    came_and_went = ("day-opened", "left")
    last = takewhile(lambda e: isinstance(e.data, Undone) or e.kind in came_and_went, reversed(entries))
    for entry in reversed([e for e in last if e.kind not in came_and_went]):
        if undone and entry.data.entry == undone[-1].n:
            undone.pop()
        else:
            undone.append(entry)
    return undone[-1] if undone else None


class Refused(Exception):
    """An action that cannot be done now; the text says why, and what would be right."""
