"""The running day as a screen or a command asks for it, and everything a person can do to it.

Every action is written to the journal first; only what is on disk changes what is true.
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime, timedelta
from functools import cached_property
from pathlib import Path
from typing import Any, TypeVar

from runbook.change.checks import Check, Stage
from runbook.change.floor import Floor
from runbook.change.makespan import never
from runbook.change.steps import CannotBeDone, Step, apply, to_plain
from runbook.change.telling import told
from runbook.change.words import Block, Scene, blocks, place_short, power_said
from runbook.journal import entries as say
from runbook.journal.entries import Entry, live
from runbook.journal.store import Clock, Journal
from runbook.light.predict import predict
from runbook.light.prediction import HeadLight, Prediction
from runbook.plan.day import Plan
from runbook.plan.faults import Unreadable
from runbook.plan.kit import Measured
from runbook.plan.power import Power
from runbook.plan.setup import Setup
from runbook.plan.tuples import NamedTuple
from runbook.session.at_hand import AtHand, StepLine, still_asked
from runbook.session.beliefs import NOTHING, Known, kind_of
from runbook.session.crew_now import Busy, crew_now
from runbook.session.ending import ends_in_words, stands_at, wrap_at
from runbook.session.holds import Hold, bags_missing, holds, stage_checks, stage_of, tick_of
from runbook.session.hours import Hours, hours_of
from runbook.session.light import (
    metered,
    metered_at,
    over_said,
    read_at,
    reads_said,
    row_read,
    row_said,
)
from runbook.session.planned_day import Changes
from runbook.session.real_times import real_times, worked_s
from runbook.session.recent import Recent
from runbook.session.rehearsal import running_s, stopwatch_said
from runbook.session.said import (
    HANDOVER,
    LogLine,
    log_lines,
    place_said,
    read_said,
    reading_said,
    said_of,
)
from runbook.session.timings import measured_s, ticks_for_others
from runbook.session.to_come import Moment, midnight
from runbook.session.truth import (
    CHANGE,
    State,
    Tick,
    advance,
    floor_after,
    goal_of,
    setup_as_shot,
    truth_of,
)

_MOST_OFF = 4.0  # a shooting so many times longer or shorter than planned was not one

# Who came and went is no deed to take back.
_NOT_UNDONE = ("day-opened", "left", "undone", "handed-over", "resumed", "rescued")

T = TypeVar("T")
_Change = tuple[Floor, Floor, Setup | None]  # its start and goal, and the setup it makes


class Refused(Exception):
    """An action that cannot be done now; the text says why, and what would be right."""


class SetupLine(NamedTuple):
    """A setup in the day's list: its state in a word, and frames taken of frames planned."""

    id: str
    title: str
    state: State
    frames: int
    frames_planned: int
    now: bool


class HeadLine(NamedTuple):
    """A head of the setup at hand: its targets, what the plan said, and what it read."""

    head: str
    role: str
    power: Power
    planned: Power
    modifier: str
    place: str
    stand: str
    height_m: float
    reading: str
    state: str
    predicted: str = ""
    over: str = ""


class View(NamedTuple):
    """The moment: everything derived from truth once, for whoever asks."""

    goal: Floor
    stage: Stage
    now: AtHand

    @property
    def todo(self) -> tuple[Step, ...]:
        """The steps of the changeover at hand that are not done."""
        return self.now.todo

    @property
    def holds(self) -> tuple[Hold, ...]:
        """Every check that holds, or held, a step of the changeover at hand."""
        return self.now.holds


class Session:
    """A day being shot: its plan, its journal, and who sits at the keyboard."""

    def __init__(
        self,
        plan: Plan,
        journal: Journal,
        who: str,
        clock: Clock,
        folder: Path | None = None,
        *,
        known: Known = NOTHING,
        rehearsal: bool = False,
    ) -> None:
        self.plan = plan
        self.known = known
        self.rehearsal = rehearsal
        self.hours: Hours | None = None
        self.journal = journal
        self.who = who
        self.clock = clock
        self.folder = folder
        self.entries: list[Entry] = list(journal.entries)
        self.truth = truth_of(plan, live(self.entries))
        self._seen: dict[str, Any] = {}
        self._tellings: Recent[_Change, tuple[Step, ...]] = Recent()
        self._lights: Recent[tuple[Setup, tuple[Measured, ...]], Prediction] = Recent()

    # -- what is true ------------------------------------------------------------------------

    def once(self, name: str, work_out: Callable[[], T]) -> T:
        """What follows from the truth, worked out once until something more happens."""
        if name not in self._seen:
            self._seen[name] = work_out()
        seen: T = self._seen[name]
        return seen

    @property
    def setup(self) -> Setup | None:
        """The setup at work, as it is shot today; None before load-in and at wrap."""
        return self.once("setup", self._setup_at_work)

    def _setup_at_work(self) -> Setup | None:
        at_work = self.truth.at_work
        if at_work is None or at_work not in self.plan.setups:
            return None
        return setup_as_shot(self.plan, self.truth, at_work)

    @property
    def view(self) -> View:
        """The changeover at hand, worked out once per entry."""
        return self.once("view", self._look)

    def _look(self) -> View:
        truth = self.truth
        goal: Floor = truth.floor
        todo: tuple[Step, ...] = ()
        if truth.wrapping or self.setup is not None:
            goal = goal_of(self.plan, truth, truth.at_work)
            todo = still_asked(self._told(truth.floor, goal, self.setup), truth)
        # what a break asks comes on top: it lifts no check off a step
        changing = stage_of(truth._replace(on_break=None), ready=False)
        held = holds(self.plan, truth, todo, goal, changing)
        now = AtHand(todo, held, truth.steps_skipped)
        return View(goal, stage_of(truth, ready=truth.begun and not now.left), now)

    def _told(self, start: Floor, goal: Floor, setup: Setup | None) -> tuple[Step, ...]:
        """The changeover between two floors; a note, a reading or an undo asks for one again."""
        scene = Scene(self.plan.kit, setup, self.plan.day.units)
        return self._tellings.answer(
            (start, goal, setup),
            lambda: told(start, goal, scene, self.plan.day.place, self.known.seconds),
        )

    @property
    def ready(self) -> bool:
        """Whether every step of the changeover at hand is done or skipped."""
        return self.truth.begun and not self.view.now.left

    @property
    def setups(self) -> tuple[SetupLine, ...]:
        """The day's setups in order, and any others of the folder already begun."""
        order = list(self.plan.day.order)
        if self.setup is not None and self.setup.id not in order:
            order.append(self.setup.id)
        return tuple(self._setup_line(setup_id) for setup_id in order)

    def _setup_line(self, setup_id: str) -> SetupLine:
        setup = self.plan.setups[setup_id]
        now = setup_id == self.truth.at_work
        return SetupLine(
            setup_id,
            setup.title or setup_id,
            self._state(setup_id),
            self.truth.frames.get(setup_id, 0),
            setup.frames,
            now,
        )

    def _state(self, setup_id: str) -> State:
        if setup_id in self.truth.shot:
            return "shot"
        if setup_id in self.truth.setups_skipped:
            return "skipped"
        if setup_id == self.truth.at_work:
            return "ready" if self.ready else "changing"
        return "to do"

    @property
    def prediction(self) -> Prediction | None:
        """The light of the setup at hand as it is set now, carried from what the meter showed."""
        setup = self.setup
        if setup is None:
            return None
        anchors = self.truth.anchors
        return self.once(
            "light",
            lambda: self._lights.answer(
                (setup, anchors), lambda: predict(self.plan, setup, anchors)
            ),
        )

    def head_light(self, head: str) -> HeadLight | None:
        """What one head of the setup at hand is predicted to do."""
        found = self.prediction.heads if self.prediction else ()
        return next((each for each in found if each.head == head), None)

    @property
    def heads(self) -> tuple[HeadLine, ...]:
        """The heads of the setup at hand, as it is shot today."""
        return self.once("heads", self._heads)

    def _heads(self) -> tuple[HeadLine, ...]:
        setup = self.setup
        if setup is None:
            return ()
        planned = self.plan.setups[setup.id].light
        todo = {step.thing for step in self.view.todo}
        return tuple(
            HeadLine(
                light.head,
                light.role,
                light.power,
                planned[light.head].power if light.head in planned else light.power,
                " + ".join((light.modifier, *light.accessories)),
                place_short(light, self.plan.day.units),
                light.stand,
                light.height_m,
                self.reading_of(setup.id, light.head),
                "changing" if light.head in todo else "set",
                *self._predicted(light.head),
            )
            for light in setup.lights
        )

    def _predicted(self, head: str) -> tuple[str, str]:
        light = self.head_light(head)
        if light is None or not light.power.fires or self.setup is None:
            return "", ""
        where = metered_at(self.setup.light[head])
        if where != "face":  # what it does where it points says more than its spill on the face
            return reads_said(light.at_aim_stops), "bg" if where == "background" else "pnl"
        return reads_said(light.reads_stops), over_said(light.over_stops)

    def reading_of(self, setup_id: str, head: str | None) -> str:
        """The last reading of a head, or of the whole set (None), as a meter shows it."""
        entry = self.truth.readings.get(setup_id, {}).get(head)
        return reading_said(entry.data.stops) if entry else ""

    @property
    def lines(self) -> tuple[StepLine, ...]:
        """The steps of the changeover at hand: those done first, as they were done."""
        return self.once("lines", self._lines)

    def _lines(self) -> tuple[StepLine, ...]:
        done = [StepLine(each.step, "done", f"{each.at} {each.by}") for each in self.truth.done]
        return (*done, *(self.view.now.line(step) for step in self.view.todo))

    @property
    def next_step(self) -> StepLine | None:
        """The first step that is neither done nor skipped."""
        return next((line for line in self.lines if line.state not in ("done", "skipped")), None)

    def blocks_of(self, steps: tuple[Step, ...]) -> tuple[Block, ...]:
        """Steps folded by thing, with titles."""
        return blocks(steps, Scene(self.plan.kit, self.setup, self.plan.day.units))

    @property
    def next_setup(self) -> str | None:
        """The first setup in the order, after the one at work, that is still to be shot."""
        return next(iter(self._to_do), None)

    @property
    def _to_do(self) -> tuple[str, ...]:
        """The setups still to be begun, from the one at work on, then those passed over."""
        order = list(self.plan.day.order)
        at = order.index(self.truth.at_work) + 1 if self.truth.at_work in order else 0
        return tuple(each for each in order[at:] + order[:at] if self._state(each) == "to do")

    @property
    def ahead(self) -> AtHand:
        """The steps of the next changeover that can be done while this setup still runs.

        The crew works beside people then: the checks of a change are asked anew.
        """
        return self.once("ahead", self._ahead)

    def _ahead(self) -> AtHand:
        setup_id, truth = self.next_setup, self.truth
        if setup_id is None or not self.ready or truth.wrapping:
            return AtHand((), (), {})
        goal = goal_of(self.plan, truth, setup_id)
        setup = setup_as_shot(self.plan, truth, setup_id)
        over = tuple(each for of, each in truth.ahead if of == setup_id)
        keys = {each.step.key for each in over}
        steps = self._told(truth.floor, goal, setup)
        todo = tuple(step for step in steps if step.ahead and step.key not in keys)
        then = truth._replace(change_checks=truth.ahead_checks, done=over)
        return AtHand(todo, holds(self.plan, then, todo, goal, CHANGE), {})

    @property
    def ahead_lines(self) -> tuple[StepLine, ...]:
        """The steps that can be done ahead, and how it stands with each."""
        ahead = self.ahead
        return tuple(ahead.line(step) for step in ahead.todo)

    @property
    def checks(self) -> tuple[tuple[Check, Tick | None], ...]:
        """The checklist of this stage: the gates of the changeover first."""
        held = [hold.check for hold in self.view.holds]
        rest = [
            check
            for check in stage_checks(self.plan, self.view.stage)
            if check.id not in {each.id for each in held}
        ]
        return tuple((check, tick_of(self.truth, check)) for check in (*held, *rest))

    # -- what a person does ------------------------------------------------------------------

    def _write(self, *data: Any) -> None:
        """What happened, to the disk in one go; then it is true."""
        for entry in self.journal.append_all(data, self.who):
            self.entries.append(entry)
            if isinstance(entry.data, say.Undone):
                self.truth = truth_of(self.plan, live(self.entries))
            else:
                self.truth = advance(self.plan, self.truth, entry)
        self._seen = {}

    def open(self, plan_digest: str, version: str) -> None:
        """The day is opened, with this plan, by this version of the program."""
        self._write(say.DayOpened(self.plan.day.name, plan_digest, version, self.rehearsal))

    def begin(self, setup_id: str | None) -> None:
        """Begin a setup, from whatever stands there now; None begins the wrap."""
        if setup_id is not None and setup_id not in self.plan.setups:
            raise Refused(f"no setup {setup_id}; the day has {', '.join(self.plan.day.order)}")
        truth = self.truth
        if truth.begun and truth.at_work == setup_id and setup_id not in truth.shot:
            raise Refused(f"{setup_id or 'the wrap'} is at work already")
        self._write(say.SetupBegun(setup_id))

    def tick(self, *steps: Step) -> None:
        """Steps are done, one after another; all of them are on the disk then, or none.

        Raises Refused while a check holds one or another step comes first: those before it are done
        then. A rehearsal ticks the checks along with a step: they are looked at, and the stopwatch
        goes on.
        """
        if self.rehearsal:
            for hold in self.view.now.open_holds(_found(self.view.todo, steps[0])):
                self.tick_check(hold.check)
        now, truth = self.view.now, self.truth
        done: list[say.StepTicked] = []
        # a changeover's own steps lead on from one to the next: they need no working out between
        for step in [_found(now.todo, step) for step in steps]:
            try:
                _refuse(now, step)
                truth = truth._replace(floor=floor_after(truth, step))
            except (Refused, CannotBeDone) as why:
                if done:
                    self._write(*done)
                if isinstance(why, Refused):
                    raise
                raise Refused(f"{why}; do that first, or skip this step too") from None
            done.append(self._ticked(step, self.truth.at_work, together=len(steps) > 1))
            now = now._replace(todo=tuple(each for each in now.todo if each.key != step.key))
        self._write(*done)

    def tick_ahead(self, step: Step) -> None:
        """A step of the next setup is done while this one still runs.

        Raises Refused as ``tick`` does.
        """
        ahead = self.ahead
        step = _found(ahead.todo, step)
        _refuse(ahead, step)
        try:
            apply(self.truth.real_floor, step)
        except CannotBeDone as why:
            raise Refused(f"{why}; it must wait for its own changeover") from None
        self._write(self._ticked(step, self.next_setup))

    def _ticked(
        self, step: Step, setup_id: str | None, *, together: bool = False
    ) -> say.StepTicked:
        """A step that is done now; with what it took, where it is known and no other is with it."""
        kit, seconds = self.plan.kit, None
        if not together:
            seconds = measured_s(
                self.entries,
                self.who,
                self.clock(),
                step.seconds,
                alone=not self.rehearsal
                and ticks_for_others(self.entries, self.who, len(self.plan.day.crew)),
            )
        return say.StepTicked(setup_id, to_plain(step), seconds, kind_of(step, kit))

    def skip_step(self, step: Step, reason: str) -> None:
        """Leave a step out, with a reason."""
        step = _found(self.view.now.left, step)
        at_work = self.truth.at_work
        self._write(say.Skipped("step", _reason(reason), at_work, step=to_plain(step)))

    def tick_check(self, check: Check) -> None:
        """A check is true: whoever sits at the keyboard says so.

        Raises Refused while what it speaks of is not done yet.
        """
        for hold in self.view.holds:
            missing = bags_missing(hold, self.truth, self.view.goal)
            if hold.check.id == check.id and missing and not self.view.now.check_waits_for(check):
                names = " and ".join(missing)
                raise Refused(f"{names} does not hang there: hang it, or x sets the check aside")
        self._answer(check, self.view.now, tick_of(self.truth, check), self.truth.at_work)

    def tick_check_ahead(self, check: Check) -> None:
        """A check of the steps done ahead is true. Raises Refused as ``tick_check``."""
        tick = self.truth.ahead_checks.get(check.id)
        self._answer(check, self.ahead, tick, self.next_setup)

    def _answer(self, check: Check, steps: AtHand, tick: Tick | None, setup: str | None) -> None:
        if tick is not None and tick.aside is None:
            raise Refused(f"{tick.by} ticked that at {tick.at}")
        first = steps.check_waits_for(check)
        if first is not None:
            raise Refused(f"not yet, before it: {first.text}")
        self._write(say.CheckTicked(check.id, check.stage, self.who, setup, None))

    def set_check_aside(self, check: Check, reason: str) -> None:
        """Go on without a check, with a reason that stays in the journal."""
        at_work = self.truth.at_work
        self._write(say.Skipped("check", _reason(reason), at_work, check.id, stage=check.stage))

    def skip_setup(self, setup_id: str, reason: str) -> None:
        """Leave a setup out of the day, with a reason."""
        self._write(say.Skipped("setup", _reason(reason), setup_id, setup_id))

    def nudge(self, head: str, clicks: int) -> Power:
        """Turn a head's power by clicks of its own dial, on the spot; recorded as shot."""
        setup = self._at_work()
        if head not in setup.light:
            raise Refused(f"{head} does not burn in {setup.id}")
        old, dial = setup.light[head].power, self.plan.kit.head[head].dial
        # a head that is off comes on at its least: that is its first click up
        new = dial.nudged(old, clicks if old.fires else clicks - 1)
        if new == old or not (old.fires or clicks > 0):
            if not old.fires:
                raise Refused(f"{head} is off already")
            raise Refused(f"{head} is at {'full' if clicks > 0 else 'its least'} power already")
        self._dialled(head, new)
        return new

    def _dialled(self, head: str, new: Power) -> None:
        setup = self._at_work()
        old = setup.light[head].power
        if old != new:
            self._write(say.Changed(setup.id, "head", "power", str(old), str(new), head))

    def metered_at(self, head: str | None) -> str:
        """Where the meter is held for a head of the setup at work, or the whole set, in words."""
        light = self._at_work().light.get(head) if head is not None else None
        return place_said(metered_at(light) if light is not None else "face")

    def reading(self, head: str | None, stops: float) -> str:
        """A reading typed in: stops of the squared f-number, of one head or the whole set.

        One head alone is metered where ``metered_at`` says. Returns how far the prediction for
        there was off and what would give what was asked, in words.
        """
        setup = self._at_work()
        if head is not None and head not in setup.light:
            raise Refused(f"{head} does not burn in {setup.id}")
        where = "face" if head is None else metered_at(setup.light[head])
        light = self.prediction
        before = self.head_light(head) if head else None
        predicted = read_at(before, where) if before else (light.whole_stops if light else None)
        self._write(say.Reading(setup.id, head, stops, reading_said(stops), where))
        return metered(head, stops, predicted, self.head_light(head) if head else None, where)

    def dial_as_asked(self, head: str) -> Power:
        """Dial the power that gives what the plan asks of a head; recorded as shot."""
        light = self.head_light(head)
        if light is None or light.dial is None:
            raise Refused(f"nothing is asked of {head}: aim_reading_f or under_key_stops say it")
        self._dialled(head, light.dial.power)
        return light.dial.power

    def _to_keep(self, head: str) -> tuple[Measured, Path]:
        """A head's last reading of the day as a row of the kit, and the folder of that kit."""
        row = next((row for row in reversed(self.truth.anchors) if row.head == head), None)
        if row is None:
            raise Refused(f"no reading of {head} alone, aimed at the face, is in the journal yet")
        if self.folder is None:
            raise Refused("this day has no folder to keep it in")
        return row, self.folder

    def keep_asked(self, head: str) -> tuple[str, str]:
        """What to ask before a head's last reading is kept in kit.toml, and what a yes does."""
        from runbook.plan.files import read_day
        from runbook.plan.keep import replaced_by, same_use

        row, folder = self._to_keep(head)
        try:
            rows = read_day(folder).kit.measured
        except Unreadable as why:
            raise Refused(f"kit.toml cannot be kept up: {why.faults[0]}") from None
        at, units, does = replaced_by(rows, row), self.plan.day.units, "keep it"
        others = " and ".join(row_read(rows[n], units) for n in same_use(rows, row) if n != at)
        if at is not None:
            does += f" in place of {row_read(rows[at], units)}"
        if others:
            does += f", beside {others}"
        return f"Keep {row_said(row, units)} in kit.toml?", does

    def keep_reading(self, head: str) -> str:
        """Keep a head's last reading of the day in kit.toml; returns what was written, in words.

        It is no deed of the day, and no undoing of one takes it back: the words say what does.
        """
        from runbook.plan.keep import keep_measured
        from runbook.plan.rewrite import NotEdited

        row, folder = self._to_keep(head)
        try:
            backup = keep_measured(folder, row, f"{self.clock():%Y%m%d-%H%M%S}")
        except (Unreadable, NotEdited) as why:
            said = why.faults[0] if isinstance(why, Unreadable) else why
            raise Refused(f"kit.toml is not written: {said}") from None
        if backup is None:
            return f"kit.toml says so already: {row_said(row, self.plan.day.units)}"
        return f"kept (as it was: {backup}/kit.toml): {row_said(row, self.plan.day.units)}"

    def frames(self, count: int) -> None:
        """So many frames more (or fewer, to correct) on this setup."""
        setup = self._at_work()
        if self.truth.frames.get(setup.id, 0) + count < 0:
            raise Refused("a setup has no fewer than 0 frames")
        self._write(say.Frames(setup.id, count))

    def note(self, text: str) -> None:
        """A note, to the setup at work if there is one."""
        if not text.strip():
            raise Refused("a note needs words")
        self._write(say.Note(self.truth.at_work, text.strip()))

    def call_shot(self) -> None:
        """The setup at work is shot."""
        setup = self._at_work()
        if setup.id in self.truth.shot:
            raise Refused(f"{setup.id} is called shot already")
        self._write(say.SetupShot(setup.id, self._share_shot(setup)))

    def _share_shot(self, setup: Setup) -> float | None:
        """What the shooting took of the time planned for it; None where it was not shot through."""
        span = real_times(self.entries).last(setup.id)
        if self.rehearsal or not self.ready or span is None or not setup.shoot_min:
            return None
        took = worked_s(self.entries, span.changed or span.begun, self.clock())
        share = took / (60 * setup.shoot_min)
        return round(share, 3) if 1 / _MOST_OFF < share < _MOST_OFF else None

    def pause(self, break_id: str) -> None:
        """A break begins."""
        if self.truth.on_break is not None:
            raise Refused("everybody is on a break already")
        self._write(say.BreakBegun(break_id))

    def resume(self) -> None:
        """The break is over."""
        if self.truth.on_break is None:
            raise Refused("nobody is on a break")
        self._write(say.BreakEnded(self.truth.on_break))

    def replan(self, plan: Plan) -> str:
        """Go on with a plan that was edited: what happened stays, and is read over it again.

        Returns what a person must know of it, or nothing.
        """
        at_work = self.truth.at_work
        self.plan = plan
        self.truth = truth_of(plan, live(self.entries))
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

    def say_back(self, line: str, text: str) -> None:
        """A line of the handover was heard, and said back."""
        self._write(say.CheckTicked(line, HANDOVER, self.who, self.truth.at_work, text))

    def pass_over(self, line: str, reason: str) -> None:
        """A line of the handover was not said back, and why."""
        at_work = self.truth.at_work
        self._write(say.Skipped("check", _reason(reason), at_work, line, stage=HANDOVER))

    def count_home(self, kind: str, home: tuple[str, ...], missing: tuple[str, ...] = ()) -> None:
        """Things of one kind are back in their cases, or missing; by their labels."""
        if not home and not missing:
            raise Refused("nothing was counted")
        self._write(say.Counted(kind, home, missing))

    def undo(self) -> str:
        """Take back the last thing said; returns what it was, in words."""
        last = next((e for e in reversed(live(self.entries)) if e.kind not in _NOT_UNDONE), None)
        if last is None:
            raise Refused("nothing left to undo")
        self._write(say.Undone(last.n))
        return said_of(last)

    def redo(self) -> str:
        """Bring back what was undone last, as often as it was undone, if nothing was said since."""
        undone: list[Entry] = []
        for entry in self.entries:
            if entry.kind in ("day-opened", "left"):
                continue
            if not isinstance(entry.data, say.Undone):
                undone = []
            elif undone and entry.data.entry == undone[-1].n:
                undone.pop()
            else:
                undone.append(entry)
        if not undone:
            raise Refused("nothing to bring back")
        last = undone[-1]
        back = next((e for e in self.entries if e.n == last.data.entry), last)
        self._write(say.Undone(last.n))
        return said_of(back)

    def go_on_without_record(self) -> None:
        """Keep the rest of the day in memory only, because the journal cannot take it."""
        fresh = Journal.in_memory(clock=self.clock, who=self.who, entries=self.entries)
        self.journal.close()
        self.journal = fresh

    # -- what it comes to ----------------------------------------------------------------------

    @property
    def warning(self) -> str:
        """What a person must not forget while it lasts."""
        if not self.journal.on_disk:
            return "NOT RECORDED ON DISK: what is said now is lost if this stops"
        if self.truth.handed_to is not None:
            return (
                f"HANDED OVER to {self.truth.handed_to}: what is said here is not in their record"
            )
        if self.journal.unreadable:
            return f"{len(self.journal.unreadable)} journal entries cannot be read; see runbook log"
        if self.truth.odd:
            return f"{len(self.truth.odd)} journal entries no longer fit the plan; see runbook log"
        return ""

    @property
    def log_lines(self) -> tuple[LogLine, ...]:
        """Every entry in words, with those that were undone marked."""
        return log_lines(self.entries)

    @property
    def as_shot_lines(self) -> tuple[str, ...]:
        """What differs from the plan, setup by setup."""
        told: list[str] = []
        for setup_id, entries in self.truth.changes.items():
            planned = self.plan.setups[setup_id].light
            for light in setup_as_shot(self.plan, self.truth, setup_id).lights:
                if light.head in planned and planned[light.head].power != light.power:
                    head = self.plan.kit.head[light.head]
                    said = power_said(head, planned[light.head].power, light.power)
                    told.append(f"{setup_id}: {said}")
            others = [entry for entry in entries if entry.data.key != "power"]
            told += [f"{setup_id}: {said_of(entry)}" for entry in others]
        for setup_id, readings in self.truth.readings.items():
            told += [f"{setup_id}: {read_said(each.data, ' read')}" for each in readings.values()]
        return tuple(told)

    @property
    def moment(self) -> Moment:
        """The day as it stands, for its clock to be worked out beside the screen."""
        return Moment(
            self.plan,
            self.truth,
            tuple(self.entries),
            stands_at(self.plan.day, self.clock(), begun=self.truth.begun),
            self.view.now.left,
            () if self.truth.wrapping else self._to_do,
            self.known,
        )

    def work_out(
        self, moment: Moment | None = None, should_stop: Callable[[], bool] = never
    ) -> None:
        """Work out when the day ends; slow enough to do off the screen, on a ``moment`` of it.

        Raises Stopped when ``should_stop`` says so.
        """
        old = self.hours
        found = hours_of(moment or self.moment, self.changes, should_stop=should_stop)
        # what would win time is worked out where it is shown, and kept while it still can be done
        if old is not None:
            waiting, sooner = {*self._to_do}, old.sooner
            found = found._replace(
                savings=tuple(each for each in old.savings if each.id in waiting),
                sooner=sooner if sooner and {*sooner.order} == waiting else None,
            )
        self.hours = found

    def stopwatch_said(self, now: datetime) -> str:
        """The step at hand against its estimate; empty while no stopwatch runs."""
        line = self.next_step
        running = running_s(self.entries, self.who, now)
        if line is None or running is None:
            return ""
        return f"{self.who} {stopwatch_said(running, line.step.seconds)}"

    @property
    def crew_now(self) -> tuple[Busy, ...]:
        """Who does what now; nothing where one works alone, or nothing is left."""
        crew = tuple(member.id for member in self.plan.day.crew)
        span = real_times(self.entries).last(self.truth.at_work)
        if len(crew) < 2 or span is None or not self.view.now.left:
            return ()
        known = all(each is None or each in self.plan.setups for each in (span.before, span.setup))
        if not known:
            return ()
        worked = self.changes.between(span.before, span.setup)
        return crew_now(worked, self.view.now, crew, self.truth.floor.in_hands)

    @cached_property
    def changes(self) -> Changes:
        """The day's changeovers as planned."""
        return Changes(self.plan, self.known)

    def ends_said(self, now: datetime) -> str:
        """When the day ends, as often sooner as later, against the wrap. Empty until worked out."""
        if self.hours is None:
            return ""
        if self.truth.wrapping and self.ready:
            return "everything is struck"
        now = stands_at(self.plan.day, now, begun=self.truth.begun)
        end = midnight(self.plan.day, now) + timedelta(seconds=self.hours.finish.p50)
        return ends_in_words(max(end, now), wrap_at(self.plan.day, now))

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


def _refuse(steps: AtHand, step: Step) -> None:
    """Raise Refused while a check holds a step or another comes first."""
    holding = steps.open_holds(step)
    if holding:
        text = holding[0].check.text
        raise Refused(f"held: {text}; tick that first, or set it aside with a reason")
    waiting = steps.waits_for(step)
    if waiting:
        raise Refused(f"not yet, before it: {waiting[0].text}")


def _reason(text: str) -> str:
    if not text.strip():
        raise Refused("a reason is needed: it stays in the journal")
    return text.strip()
