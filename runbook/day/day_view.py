"""The running day as it stands: what a screen, a command or a handover asks of it.

Nothing here writes: everything follows from the plan and the journal.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Callable
from dataclasses import replace
from datetime import datetime
from functools import cached_property
from pathlib import Path
from typing import Any, NamedTuple, TypeVar

from runbook.changeover.checklist import Check, Stage
from runbook.changeover.floor import Floor
from runbook.changeover.safe_step import Ground
from runbook.changeover.steps import Step
from runbook.changeover.telling import told
from runbook.changeover.words import Block, blocks
from runbook.clock.order import never
from runbook.day.changeovers import scene_of
from runbook.day.event_text import LogLine, log_lines
from runbook.day.gates import Hold, PendingSteps, StepLine, checklist, holds, stage_of, without_repeats
from runbook.day.hours import Hours, hours_of
from runbook.day.hours_text import ending_text
from runbook.day.light import power_note
from runbook.day.plan_vs_actual import difference_lines, is_changed, other_changes
from runbook.day.planned_day import NO_TIMINGS, Changeovers, PlannedChangeover, Timings
from runbook.day.recent import Recent
from runbook.day.reduce import reduce
from runbook.day.rehearsal import stopwatch_s, stopwatch_text
from runbook.day.remaining_day import Moment
from runbook.day.state import (
    CHANGE,
    DayState,
    Tick,
    missing_of_kit,
    place_now,
    standing_setup,
    target_floor,
    target_setup,
)
from runbook.day.timeline import clock_time, wrap_at
from runbook.day.view_lines import CrewLine, HeadLine, SetupLine, crew_now, head_lines, setup_lines, still_to_begin
from runbook.journal.as_shot import Stood
from runbook.journal.entries import Entry, live
from runbook.journal.store import Clock, Journal
from runbook.light.prediction import HeadLight, Prediction, predict
from runbook.model.day import Place, Plan
from runbook.model.kit import Measured
from runbook.model.setup import Setup

T = TypeVar("T")
_Change = tuple[Floor, Floor, Setup | None, Place]  # its start, its goal, the setup it makes


class View(NamedTuple):
    """The moment: everything derived from state once, for whoever asks."""

    goal: Floor
    stage: Stage
    now: PendingSteps

    @property
    def todo(self) -> tuple[Step, ...]:
        """The steps of the changeover at hand that are not done."""
        return self.now.todo

    @property
    def holds(self) -> tuple[Hold, ...]:
        """Every check that holds, or held, a step of the changeover at hand."""
        return self.now.holds


def _number(entry: Entry) -> int:
    return entry.n


class DayView:
    """A day being shot, to look at: its plan, its journal, and who sits at the keyboard."""

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
        self.plan = plan
        self.known = known
        self.rehearsal = rehearsal
        self.hours: Hours | None = None
        self.journal = journal
        self.who = who
        self.clock = clock
        self.folder = folder
        self.elsewhere: Path | None = None  # where the journal is, if not where the day has it
        self.entries: list[Entry] = list(journal.entries)
        self.counted: list[Entry] = []
        self._states: list[DayState] = []  # after each of those that count
        self.look_back()
        self._seen: dict[str, Any] = {}
        self._tellings: Recent[_Change, tuple[Step, ...]] = Recent()
        self._lights: Recent[tuple[Setup, tuple[Measured, ...]], Prediction] = Recent()

    def look_back(self, since: int = 0) -> None:
        """Fold again what counts of the journal, from the entry with the number ``since`` on."""
        kept = bisect_left(self.counted, since, key=_number)
        del self.counted[kept:], self._states[kept:]
        self.state = self._states[-1] if self._states else DayState()
        for entry in live(self.entries[bisect_left(self.entries, since, key=_number) :]):
            self.go_on(entry)

    def go_on(self, entry: Entry) -> None:
        """Fold in one more entry that counts."""
        self.state = reduce(self.plan, self.state, entry)
        self.counted.append(entry)
        self._states.append(self.state)

    def once(self, name: str, work_out: Callable[[], T]) -> T:
        """What follows from the state, worked out once until something more happens."""
        if name not in self._seen:
            self._seen[name] = work_out()
        seen: T = self._seen[name]
        return seen

    @property
    def setup(self) -> Setup | None:
        """The setup at work, as it is really shot; None before load-in and at wrap."""
        stood = self.stood
        return None if stood is None else stood.setup

    @property
    def stood(self) -> Stood | None:
        """The setup at work as it really stands, and what of that no setup can say."""
        return self.once("stood", self._stood)

    def _stood(self) -> Stood | None:
        asked = self.asked
        return None if asked is None else standing_setup(self.plan, self.state, asked.id)

    @property
    def asked(self) -> Setup | None:
        """What the setup at work asks for today: the steps lead to it, skipped ones or not."""
        return self.once("asked", self._asked)

    def _asked(self) -> Setup | None:
        at_work = self.state.at_work
        if at_work is None or at_work not in self.plan.setups:
            return None
        return target_setup(self.plan, self.state, at_work)

    @property
    def place(self) -> Place:
        """The day's place, outdoors in the wind entered last."""
        return self.once("place", lambda: place_now(self.plan.day.place, self.state))

    @property
    def view(self) -> View:
        """The changeover at hand, worked out once per entry."""
        return self.once("view", self._look)

    def _look(self) -> View:
        state = self.state
        goal: Floor = state.floor
        todo: tuple[Step, ...] = ()
        if state.wrapping or self.asked is not None:
            goal = target_floor(self.plan, state, state.at_work)
            todo = without_repeats(self._told(state.floor, goal, self.asked), state)
        # what a break asks comes on top: it lifts no check off a step
        changing = stage_of(replace(state, on_break=None), ready=False)
        held = holds(self.plan, state, todo, goal, changing)
        now = PendingSteps(todo, held, state.steps_skipped, self._ground(state.floor, goal))
        return View(goal, stage_of(state, ready=state.begun and not now.left), now)

    def _told(self, start: Floor, goal: Floor, setup: Setup | None) -> tuple[Step, ...]:
        """The changeover between two floors; a note, a reading or an undo asks for one again."""
        scene = scene_of(self.plan, setup)
        return self._tellings.answer(
            (start, goal, setup, self.place), lambda: told(start, goal, scene, self.place, self.known.seconds)
        )

    @property
    def ready(self) -> bool:
        """Whether every step of the changeover at hand is done or skipped."""
        return self.state.begun and not self.view.now.left

    @property
    def setups(self) -> tuple[SetupLine, ...]:
        """The day's setups in order, and any other of the folder that is at work."""
        return setup_lines(self.plan, self.state, ready=self.ready)

    @property
    def prediction(self) -> Prediction | None:
        """The light of the setup at hand as it is set now, carried from what the meter showed."""
        setup = self.setup
        if setup is None:
            return None
        return self.once("light", lambda: self._predicted(setup))

    def _predicted(self, setup: Setup) -> Prediction:
        """The light of a setup, carried from what the meter showed so far today."""
        anchors = self.state.anchors
        return self._lights.answer((setup, anchors), lambda: predict(self.plan, setup, anchors))

    def head_light(self, head: str) -> HeadLight | None:
        """What one head of the setup at hand is predicted to do."""
        found = self.prediction.heads if self.prediction else ()
        return next((each for each in found if each.head == head), None)

    @property
    def heads(self) -> tuple[HeadLine, ...]:
        """The heads of the setup at hand, as it is shot today."""
        return self.once("heads", self._heads)

    def _heads(self) -> tuple[HeadLine, ...]:
        asked, setup, light = self.asked, self.setup, self.prediction
        if asked is None or setup is None or light is None:
            return ()
        changing = {step.thing for step in self.view.todo}
        return head_lines(self.plan, self.state, asked, setup, light, changing=changing)

    @property
    def lines(self) -> tuple[StepLine, ...]:
        """The steps of the changeover at hand: those done first, as they were done."""
        return self.once("lines", self._lines)

    def _lines(self) -> tuple[StepLine, ...]:
        done = [StepLine(each.step, "done", f"{each.at} {each.by}") for each in self.state.done]
        to_do = (self.view.now.line(step) for step in self.view.todo)
        return (*done, *(self._with_power_note(line, self.setup) for line in to_do))

    def _with_power_note(self, line: StepLine, setup: Setup | None) -> StepLine:
        """A step to do with the power that today's readings ask for, where it is another."""
        anchors = self.state.anchors
        if setup is None or not anchors or line.note or line.step.verb != "power":
            return line
        if missing_of_kit(self.plan.kit, setup):
            return line
        return line._replace(note=power_note(line.step, self._predicted(setup), anchors))

    @property
    def next_step(self) -> StepLine | None:
        """The first step that is neither done nor skipped."""
        return next((line for line in self.lines if line.state not in ("done", "skipped")), None)

    def blocks_of(self, steps: tuple[Step, ...]) -> tuple[Block, ...]:
        """Steps folded by thing, with titles."""
        return blocks(steps, scene_of(self.plan, self.asked))

    @property
    def next_setup(self) -> str | None:
        """The first setup in the order, after the one at work, that is still to be shot."""
        return next(iter(still_to_begin(self.plan, self.state)), None)

    @property
    def ahead(self) -> PendingSteps:
        """The steps of the next changeover that can be done while this setup still runs.

        The crew works beside people then: the checks of a change are asked anew.
        """
        return self.once("ahead", self._ahead)

    def _ahead(self) -> PendingSteps:
        setup_id, state = self.next_setup, self.state
        if setup_id is None or not self.ready or state.wrapping:
            return PendingSteps((), (), {})
        goal = target_floor(self.plan, state, setup_id)
        setup = target_setup(self.plan, state, setup_id)
        over = tuple(each for of, each in state.ahead if of == setup_id)
        keys = {each.step.key for each in over}
        steps = self._told(state.floor, goal, setup)
        todo = tuple(step for step in steps if step.ahead and step.key not in keys)
        then = replace(state, change_checks=state.ahead_checks, done=over)
        ground = self._ground(state.real_floor, goal)
        return PendingSteps(todo, holds(self.plan, then, todo, goal, CHANGE), {}, ground)

    def _ground(self, floor: Floor, goal: Floor) -> Ground:
        return Ground(floor, goal, self.plan.kit, self.place, self.plan.day.units)

    @property
    def ahead_lines(self) -> tuple[StepLine, ...]:
        """The steps that can be done ahead, and how it stands with each."""
        ahead, setup_id = self.ahead, self.next_setup
        if setup_id is None or not ahead.todo:
            return ()
        setup = target_setup(self.plan, self.state, setup_id)
        return tuple(self._with_power_note(ahead.line(step), setup) for step in ahead.todo)

    @property
    def checks(self) -> tuple[tuple[Check, Tick | None], ...]:
        """The checklist of this stage: the gates of the changeover first."""
        return checklist(self.plan, self.state, self.view.stage, self.view.holds)

    @property
    def gaps(self) -> tuple[int, ...]:
        """The numbers of entries nobody can read, and of those that tell of others lost.

        Until somebody has looked at what really stands.
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
            return "NOT RECORDED ON DISK: what is said now is lost if this stops"
        if self.state.handed_to is not None:
            return f"HANDED OVER to {self.state.handed_to}: what is said here is not in their record"
        if self.gaps:
            return f"{self.gap_text}: check what really stands, then j and a"
        if self.elsewhere is not None:
            return f"the journal is not in the day's folder but in {self.elsewhere}"
        if self.state.odd:
            return f"{len(self.state.odd)} journal entries no longer fit the plan; see runbook log"
        return ""

    @property
    def log_lines(self) -> tuple[LogLine, ...]:
        """Every entry in words, with those that were undone marked."""
        return log_lines(self.entries, self.plan.day.units)

    @property
    def as_shot_lines(self) -> tuple[str, ...]:
        """What differs from the plan, setup by setup."""
        return self.once("as shot", lambda: difference_lines(self.plan, self.state))

    @property
    def other_than_planned(self) -> tuple[str, ...]:
        """What of the setup at work is not as planned besides the powers, in words."""
        asked = self.asked
        if asked is None or not is_changed(self.plan, self.state, asked.id):
            return ()
        return self.once("other", lambda: other_changes(self.plan, self.state, asked.id))

    @property
    def moment(self) -> Moment:
        """The day as it stands, for its clock to be worked out beside the screen."""
        return Moment(
            self.plan,
            self.state,
            tuple(self.entries),
            clock_time(self.plan.day, self.clock(), begun=self.state.begun),
            self.view.now.left,
            () if self.state.wrapping else still_to_begin(self.plan, self.state),
            self.known,
        )

    def work_out(self, moment: Moment | None = None, should_stop: Callable[[], bool] = never) -> None:
        """Work out when the day ends; slow enough to do off the screen, on a ``moment`` of it.

        Raises Stopped when ``should_stop`` says so.
        """
        old = self.hours
        found = hours_of(moment or self.moment, self.changes, should_stop=should_stop)
        # what would win time is worked out where it is shown, and kept while it still can be done
        if old is not None:
            waiting, sooner = {*still_to_begin(self.plan, self.state)}, old.sooner
            found = replace(
                found,
                savings=tuple(each for each in old.savings if each.id in waiting),
                sooner=sooner if sooner and {*sooner.order} == waiting else None,
            )
        self.hours = found

    def stopwatch_said(self, now: datetime) -> str:
        """The step at hand against its estimate; empty while no stopwatch runs."""
        line = self.next_step
        running = stopwatch_s(self.counted, self.who, now)
        if line is None or running is None:
            return ""
        return f"{self.who} {stopwatch_text(running, line.step.seconds)}"

    @property
    def crew_now(self) -> tuple[CrewLine, ...]:
        """Who does what now; nothing where one works alone, or nothing is left."""
        crew = tuple(member.id for member in self.plan.day.crew)
        if len(crew) < 2 or not self.view.now.left:
            return ()
        worked = self.worked_now
        if worked is None:
            return ()
        return crew_now(worked, self.view.now, crew, self.state.floor.in_hands)

    @property
    def worked_now(self) -> PlannedChangeover | None:
        """The changeover at hand as planned and shared; None where the plan has none like it."""
        span = self.state.times.last(self.state.at_work)
        return None if span is None else self.changes.known_between(span.before, span.setup)

    @cached_property
    def changes(self) -> Changeovers:
        """The day's changeovers as planned."""
        return Changeovers(self.plan, self.known)

    def finish_text(self, now: datetime) -> str:
        """When the day ends, as often sooner as later, against the wrap. Empty until worked out.

        A forecast that what happened since has made false is no figure to show.
        """
        if self.hours is None:
            return ""
        if self.state.wrapping and self.ready:
            return "everything is struck"
        now = clock_time(self.plan.day, now, begun=self.state.begun)
        end = self.hours.clock.moment(self.hours.finish.p50)
        old = self.hours.entries != len(self.entries)
        if old and (end < now or self.hours.begun != self.state.begun):
            return "calculating the finish"
        return ending_text(max(end, now), wrap_at(self.plan.day, now))
