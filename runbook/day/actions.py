"""The running day and everything a person can do to it.

Every action is written to the journal first; only what is on disk changes the state.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from contextlib import suppress
from dataclasses import replace
from datetime import datetime
from itertools import takewhile
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from runbook.changeover.checklist import Check
from runbook.changeover.steps import CannotBeDone, Step, apply, to_plain
from runbook.clock.timetable import wrap_at
from runbook.day.changeovers import NO_TIMINGS, Changeovers, Timings, kind_of
from runbook.day.day_view import DayView
from runbook.day.event_text import HANDOVER, JOURNAL, change_text, event_text, meter_place_text
from runbook.day.gates import FRAMES_COPIED, PendingSteps, bags_missing, tick_of
from runbook.day.hours import Hours, hours_of
from runbook.day.hours_text import ending_text
from runbook.day.light import flash_read, meter_place, predicted_reading, reading_result
from runbook.day.parse_input import parse_target
from runbook.day.reduce import floor_after_step, reduce
from runbook.day.rehearsal import stopwatch_text
from runbook.day.remaining_day import DayMoment
from runbook.day.state import DayState, snapshot_to_keep, snapshot_to_keep_on_leaving
from runbook.day.timeline import clock_time
from runbook.day.timings import busy_since, shooting_share, step_time_s
from runbook.journal import events
from runbook.journal.errors import JournalError
from runbook.journal.events import NOT_UNDONE, Entry, last_undoing, live
from runbook.journal.journal import Clock, Journal
from runbook.light.stops import meter_text
from runbook.model.day import Plan, Problem
from runbook.model.power import Power
from runbook.model.progress import Tell, silent
from runbook.model.setup import Light, Setup
from runbook.stands.wind import gust_text

if TYPE_CHECKING:
    from runbook.day.frame_actions import FrameActions


NO_WIND: Final = "indoors there is no wind; for a fan, set fan_ms under [place] in day.toml"
_STATES_KEPT: Final = 100  # undo seldom reaches further back; where it does, all entries are read again


class Refused(Exception):
    """An action that cannot be done now; the text says why, and what would be right."""


class Session:
    """A day being shot: its plan, its journal, who sits at the keyboard, and what they can do."""

    def __init__(
        self,
        plan: Plan,
        journal: Journal,
        who: str,
        clock: Clock,
        folder: Path | None = None,
        *,
        known: Timings = NO_TIMINGS,
        rehearsal: bool = False,
    ) -> None:
        self.known = known
        self.rehearsal = rehearsal
        self.journal = journal
        self.who = who
        self.clock = clock
        self.folder = folder
        self.elsewhere: Path | None = None  # where the journal is, if not where the day has it
        self.left_file: Path | None = None  # where to write again what is only in memory
        self.pictures: FrameActions | None = None  # where frames are taken in from a folder
        self.hours: Hours | None = None
        self._use(plan, {})

    def _use(self, plan: Plan, files: Mapping[str, bytes]) -> None:
        self.plan = plan
        self.plan_files = files  # what the plan was read from, by name
        self.problems: tuple[Problem, ...] = ()  # what a check finds in the plan, once it is worked out
        self.changes = Changeovers(plan, self.known)  # the day's changeovers as planned
        self._reduce_all()

    def _reduce_all(self) -> None:
        self.counted: list[Entry] = []
        self._states = {0: DayState()}  # after so many of the entries
        self._recount()

    def _recount(self) -> None:
        """Fold the entries that count, from the first that was not counted before."""
        counted = live(self.entries)
        same = sum(1 for _ in takewhile(lambda pair: pair[0] is pair[1], zip(self.counted, counted, strict=False)))
        at = max(n for n in self._states if n <= same)
        states = {n: state for n, state in self._states.items() if n <= at}
        for n, entry in enumerate(counted[at:], at):
            states[n + 1] = reduce(self.plan, states[n], entry)
        recent = len(counted) - _STATES_KEPT
        self._states = {n: state for n, state in states.items() if n > recent or not n}
        self.counted = counted
        self.view = DayView(self.changes, states[len(counted)], self.entries, counted)

    @property
    def entries(self) -> Sequence[Entry]:
        """All entries of the journal."""
        return self.journal.entries

    @property
    def state(self) -> DayState:
        """The state of the day after its last event."""
        return self.view.state

    def _write(self, *data: Any) -> None:
        """Write what happened to the disk in one go; then it counts."""
        self.journal.append_all(data, self.who)
        self._recount()
        # only now: a journal with nothing to write would seem to take it again
        self.try_to_record()

    # -- opening, leaving, handing over ------------------------------------------------------------

    def open(self, plan_digest: str, version: str) -> None:
        """Open the day with this plan and this version of the program."""
        self._write(events.DayOpened(self.plan.day.name, plan_digest, version, self.rehearsal))

    def leave(self) -> None:
        """Leave the day; it stays where it is."""
        self._write(events.Left())

    def hand_over(self, to: str) -> None:
        """Hand the day to another shooter."""
        if not to.strip():
            raise Refused("write the name of who takes over")
        self._write(events.HandedOver(to.strip()))

    def take_over(self, giver: str) -> None:
        """Take the day over from another shooter."""
        self._write(events.Resumed(giver))

    def confirm_handover_line(self, line: str, text: str) -> None:
        """Record that a line of the handover was confirmed."""
        self._write(events.CheckTicked(line, HANDOVER, self.who, self.state.at_work, text))

    def skip_handover_line(self, line: str, reason: str) -> None:
        """Record that a line of the handover was not repeated, and why."""
        self._write(events.Skipped("check", _reason(reason), self.state.at_work, line, stage=HANDOVER))

    def replan(self, plan: Plan, files: Mapping[str, bytes] | None = None) -> str:
        """Go on with an edited plan: the events stay, and are read over it again.

        ``files`` are what it was read from, by name. Returns what a person must know of it, or nothing.
        """
        self._use(plan, files or {})
        self.hours = None
        at_work = self.state.at_work
        if at_work is not None and at_work not in plan.setups:
            return f"{at_work} was the current setup and is no longer in the plan; n begins the next"
        return ""

    # -- setups ------------------------------------------------------------------------------------

    def begin(self, setup_id: str | None) -> None:
        """Begin a setup, from whatever stands there now; None begins the wrap."""
        if setup_id is not None and setup_id not in self.plan.setups:
            raise Refused(f"no setup {setup_id}; the day has {', '.join(self.plan.day.order)}")
        state = self.state
        if state.begun and state.at_work == setup_id and setup_id not in state.shot:
            raise Refused(f"{setup_id} is already the current setup" if setup_id else "the wrap has already begun")
        left = None if self.rehearsal else snapshot_to_keep_on_leaving(self.plan, state)
        self._write(events.SetupBegun(setup_id, left))

    def skip_setup(self, setup_id: str, reason: str) -> None:
        """Leave a setup out of the day, with a reason."""
        self._write(events.Skipped("setup", _reason(reason), setup_id, setup_id))

    def mark_shot(self) -> None:
        """Mark the setup at work as shot."""
        setup = self._at_work()
        if setup.id in self.state.shot:
            raise Refused(f"{setup.id} is already marked as shot")
        share = None
        if self.view.ready and not self.rehearsal:
            share = shooting_share(self.state.times, setup, self.clock())
        self._write(events.SetupShot(setup.id, share, snapshot_to_keep(self.plan, self.state)))

    def frames(self, count: int) -> None:
        """Count frames shot on this setup; fewer than none corrects the count."""
        setup = self._at_work()
        if self.state.frames.get(setup.id, 0) + count < 0:
            raise Refused("a setup cannot have fewer than 0 frames")
        self._write(events.Frames(setup.id, count, snapshot_to_keep(self.plan, self.state)))

    def _at_work(self) -> Setup:
        if self.view.setup is None:
            raise Refused("no current setup; begin one first")
        return self.view.setup

    # -- steps and checks --------------------------------------------------------------------------

    def tick(self, *steps: Step) -> None:
        """Record steps as done, one after another, in one go.

        Raises Refused while a check holds one or another step comes first: those before it are done
        then. A rehearsal ticks the checks along with a step: they are looked at, and the stopwatch
        goes on.
        """
        if self.rehearsal:
            for hold in self.view.pending.open_holds(_in_order(self.view.todo, steps[0])):
                self.tick_check(hold.check)
        pending, state = self.view.pending, self.state
        done: list[events.StepTicked] = []
        try:
            # a changeover's own steps lead from one to the next: nothing is worked out between
            for asked in [_in_order(pending.todo, step) for step in steps]:
                step = _possible(pending, asked)
                state = replace(state, floor=floor_after_step(state, step))
                done.append(self._ticked(step, state.at_work, together=len(steps) > 1))
                pending = pending.without(step, state.floor)
        except CannotBeDone as why:
            raise Refused(f"{why}; do that first, or skip this step too") from None
        finally:
            if done:
                self._write(*done)

    def tick_ahead(self, step: Step) -> None:
        """Record a step of the next setup as done while this one is still shot.

        Raises Refused as ``tick`` does.
        """
        step = _possible(self.view.ahead, _in_order(self.view.ahead.todo, step))
        try:
            apply(self.state.real_floor, step)
        except CannotBeDone as why:
            raise Refused(f"{why}; it must wait for its own changeover") from None
        self._write(self._ticked(step, self.view.next_setup))

    def _ticked(self, step: Step, setup_id: str | None, *, together: bool = False) -> events.StepTicked:
        """Return a step done now; with what it took, where that is known and no other is with it."""
        seconds, people = None, len(self.plan.day.crew)
        alone = people > 1 and self.state.tickers <= {self.who}
        # when a step done ahead was begun is not known
        if (self.rehearsal or not alone) and not together and setup_id == self.state.at_work:
            planned = self.view.planned_change
            seconds = step_time_s(self.counted, self.who, self.clock(), step, planned, people=people, alone=alone)
        return events.StepTicked(setup_id, to_plain(step), seconds, kind_of(step, self.plan.kit))

    def skip_step(self, step: Step, reason: str) -> None:
        """Leave a step out, with a reason."""
        step = _in_order(self.view.pending.left, step)
        self._write(events.Skipped("step", _reason(reason), self.state.at_work, step=to_plain(step)))

    def tick_check(self, check: Check, *, ahead: bool = False) -> None:
        """Record that a check is true; ``ahead`` is for one of the steps done ahead.

        Raises Refused while what it is about is not done yet.
        """
        steps, setup, tick = self.view.pending, self.state.at_work, tick_of(self.state, check)
        if ahead:
            steps, setup = self.view.ahead, self.view.next_setup
            tick = self.state.ahead_checks.get(check.id)
        if tick is not None and tick.aside is None:
            raise Refused(f"{tick.by} ticked that at {tick.at}")
        first = steps.check_waits_for(check)
        if first is not None:
            raise Refused(f"not yet, before it: {first.text}")
        hold = next((hold for hold in steps.holds if hold.check.id == check.id), None)
        missing = bags_missing(hold, self.state, self.view.goal) if hold and not ahead else ()
        if missing:
            raise Refused(f"{' and '.join(missing)} is not on it: hang it, or x sets the check aside")
        answer = None
        if check.id == FRAMES_COPIED:
            from runbook.day.copies import proof  # slow to import, and asked once a day

            try:
                answer = proof(self.journal.path, self.counted)
            except ValueError as why:
                raise Refused(f"{why}; or x sets the check aside") from None
        self._write(events.CheckTicked(check.id, check.stage, self.who, setup, answer))

    def set_check_aside(self, check: Check, reason: str) -> None:
        """Go on without a check, with a reason that stays in the journal."""
        self._write(events.Skipped("check", _reason(reason), self.state.at_work, check.id, stage=check.stage))

    # -- targets, powers and readings --------------------------------------------------------------

    def nudge(self, head: str, clicks: int) -> Power:
        """Turn a head's power by clicks of its own dial, on the spot; returns the new power."""
        old, dial = self.dialled(head), self.plan.kit.head[head].dial
        # a head that is off comes on at its least: that is its first click up
        new = dial.nudged(old, clicks if old.fires else clicks - 1)
        if not old.fires and clicks <= 0:
            raise Refused(f"{head} is already off")
        if new == old:
            raise Refused(f"{head} is already at {'full' if clicks > 0 else 'its lowest'} power")
        self._dial({head: new})
        return new

    def dialled(self, head: str) -> Power:
        """Return what a head of the setup at work is dialled to; its target while it still gets there.

        Where its step was skipped, the dial is where it was.
        """
        at = self.state.floor.heads.get(head)
        skipped = ("power", "head", head) in self.state.steps_skipped
        if skipped and at is not None and at.power is not None:
            return at.power
        return self._target(head).power

    def dial_as_asked(self, *of: str) -> str:
        """Dial the powers that make what is asked come true, of these heads or of all that fire.

        Returns what changed, in words; raises Refused where nothing is asked.
        """
        heads = self.view.prediction.heads if self.view.prediction else ()
        picked = [head for head in heads if (head.head in of if of else head.power.fires)]
        asked = {head.head: head.dial.power for head in picked if head.dial is not None}
        if not asked:
            raise Refused(
                f"no target is set for {', '.join(of) or 'these heads'}: set aim_reading_f or under_key_stops"
            )
        return self._dial(asked) or "every power meets its target already"

    def _dial(self, powers: Mapping[str, Power]) -> str:
        """Dial heads that are not at these powers; returns what changed, in words."""
        setup, old = self._at_work(), {head: self.dialled(head) for head in powers}
        new = {head: power for head, power in powers.items() if power != old[head]}
        if new:
            changed = ((str(old[head]), str(power), head) for head, power in new.items())
            self._write(*(events.Changed(setup.id, "head", "power", *each) for each in changed))
        return ", ".join(f"{head} to {power}" for head, power in new.items())

    def _target(self, head: str) -> Light:
        """Return a head as the setup at work asks for it."""
        self._at_work()
        assert self.view.target is not None
        light = self.view.target.light.get(head)
        if light is None:
            raise Refused(f"{head} is not used in {self.view.target.id}")
        return light

    def targets(self, head: str | None, text: str) -> tuple[events.Changed, ...]:
        """Return the changes that a typed target of a head, or of the camera, makes.

        Raises ValueError with what would be right.
        """
        setup = self._at_work()
        assert self.view.target is not None
        return parse_target(self.plan, self.view.target, setup, head, text)

    def change(self, changes: tuple[events.Changed, ...]) -> str:
        """Change targets on the spot. Returns what changed, in words."""
        made = [replace(data, before=str(self.dialled(data.item))) if data.key == "power" else data for data in changes]
        made = [data for data in made if data.before != data.now]
        if not made:
            raise Refused("that is already the target")
        self._write(*made)
        return ", ".join(change_text(data, self.plan.day.units) for data in made)

    def metered_at(self, head: str | None) -> str:
        """Return where the meter is held for a head of the setup at work, or the whole set, in words."""
        return meter_place_text("face" if head is None else meter_place(self._target(head)))

    def reading(self, head: str | None, stops: float) -> str:
        """Record a reading: stops of the squared f-number, of one head or the whole set.

        One head alone is metered where ``metered_at`` says. Returns how far the prediction for
        there was off and what would give what was asked, in words.
        """
        setup = self._at_work()
        where = "face" if head is None else meter_place(self._target(head))
        predicted = predicted_reading(self.view.prediction, head, where) if self.view.prediction else None
        snapshot = snapshot_to_keep(self.plan, self.state)
        reading = events.Reading(setup.id, head, stops, meter_text(stops), where, snapshot)
        self._write(reading)
        flash = flash_read(self.plan, setup, stops) if where == "face" else stops
        return reading_result(reading, flash, predicted, self.view.head_light(head) if head else None)

    # -- everything else that happens --------------------------------------------------------------

    def note(self, text: str) -> None:
        """Write a note, to the setup at work if there is one."""
        if not text.strip():
            raise Refused("a note needs text")
        self._write(events.Note(self.state.at_work, text.strip()))

    def wind(self, gust_ms: float) -> str:
        """Record the gusts there are now, in m/s; returns them in words. Raises Refused indoors."""
        if self.plan.day.place.indoors:
            raise Refused(NO_WIND)
        self._write(events.Wind(gust_ms))
        return f"gusts {gust_text(gust_ms, self.plan.day.units)}"

    def pause(self, break_id: str, minutes: float | None = None, reason: str | None = None) -> None:
        """Begin a break; one that is not planned has its minutes and a reason."""
        if self.state.on_break is not None:
            raise Refused("a break has already begun")
        self._write(events.BreakBegun(break_id, minutes, reason if reason is None else _reason(reason)))

    def resume(self) -> None:
        """End the break."""
        if self.state.on_break is None:
            raise Refused("no break has begun")
        self._write(events.BreakEnded(self.state.on_break))

    def talent_is_late(self, talent: str, due: str) -> None:
        """Record that a talent comes later than planned, at ``due`` (``HH:MM``)."""
        if talent not in {look.sitter for look in self.plan.day.looks}:
            raise Refused(f"no look of this day has the talent {talent}")
        self._write(events.TalentLate(talent, due))

    def battery_changed(self, head: str) -> None:
        """Record that a head got a full battery."""
        if head not in self.plan.kit.head or self.plan.kit.head[head].mains:
            raise Refused(f"{head} is not a battery head of the kit")
        self._write(events.BatteryChanged(head))

    def count_kit(self, kind: str, home: tuple[str, ...], missing: tuple[str, ...] = ()) -> None:
        """Record things of one kind that are back in their cases, or missing; by their labels."""
        if not home and not missing:
            raise Refused("nothing is counted")
        self._write(events.Counted(kind, home, missing))

    def undo(self) -> str:
        """Undo the last action; returns what it was, in words."""
        last = next((entry for entry in reversed(self.counted) if not isinstance(entry.data, NOT_UNDONE)), None)
        if last is None:
            raise Refused("nothing left to undo")
        self._write(events.Undone(last.n))
        return event_text(last, self.plan.day.units)

    def redo(self) -> str:
        """Bring back what was undone last, as often as it was undone, if nothing happened since."""
        last = last_undoing(self.entries)
        if last is None:
            raise Refused("nothing to redo")
        back = next((entry for entry in self.entries if entry.n == last.data.entry), last)
        self._write(events.Undone(last.n))
        return event_text(back, self.plan.day.units)

    # -- the journal itself ------------------------------------------------------------------------

    @property
    def gaps(self) -> tuple[int, ...]:
        """The numbers of unreadable entries, and of entries that report others as lost.

        Empty once somebody has checked what really stands.
        """
        lost = {row.n for row in self.journal.unreadable} | {*self.state.rescues}
        return tuple(sorted(lost - self.state.gaps_checked))

    @property
    def gap_text(self) -> str:
        """What is missing of the journal, with its number."""
        lost = sum(row.n in self.gaps for row in self.journal.unreadable)
        if not lost:
            return "the journal was damaged, and entries may be lost"
        return f"{lost} journal {'entry' if lost == 1 else 'entries'} cannot be read"

    @property
    def warning(self) -> str:
        """What a person must not forget while it lasts."""
        if not self.journal.on_disk:
            return "NOT RECORDED ON DISK: what you enter now is lost if this stops"
        if self.state.handed_to is not None:
            return f"HANDED OVER to {self.state.handed_to}: what you enter here is not in their record"
        if self.gaps:
            return f"JOURNAL INCOMPLETE: check what really stands, then j and a; {self.gap_text}"
        if self.elsewhere is not None:
            return f"the journal is not in the day's folder but in {self.elsewhere}"
        if self.state.odd:
            return f"{len(self.state.odd)} journal entries no longer fit the plan; see runbook log"
        return ""

    def check_gaps(self) -> None:
        """Record that what stands was checked, after entries of the journal were lost."""
        if not self.gaps:
            raise Refused("nothing of the journal is missing")
        numbers = " ".join(map(str, self.gaps))
        self._write(events.CheckTicked("gap", JOURNAL, self.who, self.state.at_work, numbers))

    def write_again(self, path: Path | None = None) -> str:
        """Write all that is in memory again and go on there; returns what was written where.

        Without ``path``, where the journal was; what is there now is kept beside it. Raises
        JournalError.
        """
        place = path or self.journal.path or self.left_file
        if place is None:
            raise Refused("this day has no journal on disk")
        count = self.journal.write_again(place)
        self.left_file, self.elsewhere = None, path
        self._reduce_all()
        return f"all {count} entries are written to {place}"

    def keep_in_memory(self, *, on_disk: bool = True) -> None:
        """Keep new entries in memory, because the journal cannot take them.

        Writing is tried again with every later entry; see ``try_to_record``. ``on_disk`` says
        whether what was recorded before is still there.
        """
        memory = Journal.in_memory(clock=self.clock, who=self.who, entries=self.entries, on_disk=on_disk)
        self.left_file = self.journal.path or self.left_file
        self.journal.close()
        self.journal = memory

    def try_to_record(self) -> bool:
        """Write what is only in memory, if the journal takes it again; whether all is on disk."""
        if not self.journal.on_disk and self.left_file is not None:
            with suppress(JournalError):
                self.journal.go_back_to(self.left_file)
        return self.journal.on_disk

    # -- the forecast ------------------------------------------------------------------------------

    @property
    def moment(self) -> DayMoment:
        """The day as it stands, for its forecast to be worked out beside the screen."""
        state, view = self.state, self.view
        now = clock_time(self.plan.day, self.clock(), begun=state.begun)
        waiting = () if state.wrapping else view.waiting
        return DayMoment(self.plan, state, tuple(self.entries), now, view.pending.left, waiting)

    def work_out(self, moment: DayMoment | None = None, tell: Tell = silent) -> None:
        """Work out when the day ends, on a ``moment`` of it; slow enough to do beside the screen.

        What would help is worked out where it is shown; an answer for the same moment or a later one is not
        replaced. ``tell`` is called with what is being worked on; what it raises stops the work.
        """
        moment = moment or self.moment
        hours, known = hours_of(moment, self.changes, tell=tell), self.hours.moment if self.hours else None
        if known is None or known.plan is not moment.plan or known.reached < moment.reached:
            self.hours = hours

    def finish_text(self, now: datetime) -> str:
        """Return when the day ends, as often sooner as later, against the wrap. Empty until worked out.

        A forecast that later events have made false is not shown.
        """
        if self.hours is None:
            return ""
        if self.state.wrapping and self.view.ready:
            return "everything is struck"
        now = clock_time(self.plan.day, now, begun=self.state.begun)
        end = self.hours.clock.moment(self.hours.finish.p50)
        old = len(self.hours.moment.entries) != len(self.entries)
        if old and (end < now or self.hours.begun != self.state.begun):
            return "calculating the finish"
        return ending_text(max(end, now), wrap_at(self.plan.day, now))

    def stopwatch_text(self, now: datetime) -> str:
        """Return the step at hand against its estimate; empty while no stopwatch runs."""
        line, since = self.view.next_step, busy_since(self.counted, self.who)
        if line is None or since is None:
            return ""
        return f"{self.who} {stopwatch_text((now - since).total_seconds(), line.step.seconds)}"


def _in_order(steps: tuple[Step, ...], asked: Step) -> Step:
    """Return the step as the changeover numbers it now. Raises Refused where it is not in it."""
    for step in steps:
        if step.key == asked.key:
            return step
    raise Refused(f"cannot be done now: {asked.text}")


def _possible(steps: PendingSteps, step: Step) -> Step:
    """Return the step with the hold it needs. Raises Refused while a check holds it or another comes first."""
    holding = steps.open_holds(step)
    if holding:
        raise Refused(f"held: {holding[0].check.text}; tick that first, or set it aside with a reason")
    waiting = steps.waits_for(step)
    if waiting:
        raise Refused(f"not yet, before it: {waiting[0].text}")
    why = steps.why_not_now(step)
    if why:
        raise Refused(f"not safe: {why}")
    return steps.with_hold(step)


def _reason(text: str) -> str:
    if not text.strip():
        raise Refused("a reason is needed: it stays in the journal")
    return text.strip()
