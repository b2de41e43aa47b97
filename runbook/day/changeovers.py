"""The day's planned changeovers: their steps, the crew's shares, how long both take, and all of it as plain data.

A kind of work is a verb, what it is done to, and how many people do it together: ``fit head``, ``raise boom by two``.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property, lru_cache
from itertools import groupby, pairwise
from math import ceil
from typing import Any, Final

from runbook.changeover import schedule, tasks
from runbook.changeover.changeover import worded_changeover
from runbook.changeover.floor import EMPTY, Floor, floor_of, held_by
from runbook.changeover.stand_sequence import with_unsafe_held
from runbook.changeover.step_text import Scene
from runbook.changeover.steps import DEFAULT_S, Step, is_in_hands, step_seconds
from runbook.clock.estimates import DAY_SPREAD, Belief, estimate, on_grid_s, updated
from runbook.clock.timetable import Piece, Pieces
from runbook.model.day import Place, Plan
from runbook.model.kit import Kit
from runbook.model.setup import Setup
from runbook.model.units import count_text

LOAD_IN: Final = "load-in"
WRAP: Final = "wrap"
SHOOTING: Final = "shooting"
# What a photographer's own minutes for a setup, or an artist's for a look, are off by: s.d. of ln.
PLANNED_SPREAD: Final = 0.25
# From one time to the next: the estimate, worth one timing, is as unsure again, and both together have the 80 %
# interval of PLANNED_SPREAD.
_SPREAD: Final = 0.187

StepKeys = frozenset[tuple[str, str, str]]
NO_STEPS: Final[StepKeys] = frozenset()


# --- how long steps take


@dataclass(frozen=True, slots=True)
class Timings:
    """Timings in seconds by kind; of shooting, in shares of what was planned.

    ``journals`` is how many they come from, ``day_sd`` how much days differ in pace.
    """

    by_kind: Mapping[str, tuple[float, ...]] = field(default_factory=dict)
    journals: int = 0
    day_sd: float = DAY_SPREAD

    @property
    def count(self) -> int:
        """The number of timings of steps."""
        return sum(len(timings) for kind, timings in self.by_kind.items() if kind != SHOOTING)

    def belief(self, kind: str) -> Belief:
        """Return the belief about a kind of step. Raises KeyError for an unknown kind."""
        return updated(estimate(estimated_s(kind)), self.by_kind.get(kind, ()))

    @property
    def shooting(self) -> Belief:
        """The belief about shooting against what was planned for it: around 1."""
        return updated(self.planned, self.by_kind.get(SHOOTING, ()))

    @property
    def planned(self) -> Belief:
        """The belief about what somebody planned and nobody times: a look's preparation, the packing."""
        return estimate(1.0, spread=_SPREAD)

    def seconds(self, step: Step, kit: Kit) -> float:
        """Return the seconds to plan a step with: on a 5 s grid where it was timed, else the estimate."""
        kind = kind_of(step, kit)
        return on_grid_s(self.belief(kind).median_s) if kind in self.by_kind else step_seconds(step, kit)

    def with_day(self, day: Mapping[str, tuple[float, ...]]) -> Timings:
        """Return these and the timings of one more journal."""
        kinds = self.by_kind.keys() | day.keys()
        both = {kind: (*self.by_kind.get(kind, ()), *day.get(kind, ())) for kind in kinds}
        return replace(self, by_kind=both, journals=self.journals + 1)


NO_TIMINGS: Final = Timings()


def kind_of(step: Step, kit: Kit) -> str:
    """Return the kind of work a step is, as timings are kept."""
    what = "boom" if step.kind == "stand" and kit.stand[step.item].is_boom else step.kind
    by = {1: "", 2: " by two", 3: " by three"}.get(step.hands, f" by {step.hands}")
    return f"{step.verb} {what}{by}"


def estimated_s(kind: str) -> float:
    """Return the estimate of a kind of step. Raises KeyError for an unknown kind."""
    verb, what, *_ = kind.split()
    return DEFAULT_S[verb, what]


# --- a changeover


@dataclass(frozen=True, slots=True)
class SharedStep:
    """A step, who does it (crew ids), and when it starts, in seconds from the first one.

    ``crew`` is shorter than the step's ``hands`` where the crew has too few: somebody is missing.
    """

    step: Step
    crew: tuple[str, ...]
    start_s: float


@dataclass(frozen=True)
class Changeover:
    """The steps from one setup (None: load-in) to another (None: wrap).

    How they are shared over the crew is worked out once, when first asked for.
    """

    plan: Plan
    start: str | None
    goal: str | None
    steps: tuple[Step, ...]

    @cached_property
    def tasks(self) -> tuple[tasks.Task, ...]:
        """The steps as work to schedule."""
        return tasks.tasks_of(self.steps, people_of(self.plan))

    @cached_property
    def schedule(self) -> schedule.Share:
        """The steps shared over the crew, in little time, with few changes of thing."""
        return schedule.share(self.tasks, people_of(self.plan), self.crew)

    @cached_property
    def crew(self) -> list[str]:
        """Those who share the steps; of more than the most that can, those who hold a panel are among them."""
        ids = [member.id for member in self.plan.day.crew]
        named = {task.by for task in self.tasks}.union(*(task.busy for task in self.tasks))
        return ids if len(ids) <= schedule.MOST_PEOPLE else sorted(ids, key=lambda who: who not in named)

    @cached_property
    def pieces(self) -> Pieces:
        """The changeover as pieces of a day, with who does what, and in what order, as the crew shares it.

        A step that takes no time stays so.
        """
        follows, steps = schedule.predecessors(self.tasks, self.schedule.work), {step.n: step for step in self.steps}
        place = {work.n: index for index, work in enumerate(self.schedule.work)}
        return tuple(
            Piece(
                kind_of(steps[n], self.plan.kit),
                1.0 if steps[n].seconds else 0.0,
                tuple(sorted(place[earlier] for earlier in follows[n])),
            )
            for n in place
        )

    @cached_property
    def shared(self) -> tuple[SharedStep, ...]:
        """Who does each step, and when."""
        crew, by_n = self.crew, {work.n: work for work in self.schedule.work}
        return tuple(
            SharedStep(step, tuple(crew[i] for i in by_n[step.n].crew if crew), by_n[step.n].start_s)
            for step in self.steps
        )

    @property
    def total_s(self) -> float:
        """The seconds it takes the crew."""
        return self.schedule.total_s

    @property
    def bound_s(self) -> float:
        """The seconds that no way to share it over the crew can beat."""
        return self.schedule.bound_s

    @property
    def proven(self) -> bool:
        """Whether no way to share it is shorter."""
        return self.total_s <= self.bound_s

    @cached_property
    def stopped_s(self) -> float:
        """The seconds left of it once everything that can be done ahead is done: the shooting stops for that long.

        Nothing can wait until after: the test comes last.
        """
        left = tasks.without_ahead(self.tasks)
        if left == self.tasks:
            return self.total_s
        rest = schedule.share(left, people_of(self.plan), self.crew, only_total=True)
        return min(rest.total_s, self.total_s)

    @property
    def alone_s(self) -> float:
        """The seconds of all steps one after another."""
        return sum(step.seconds for step in self.steps)

    @property
    def people(self) -> int:
        """How many people it needs at the least: hands on a step, and hands that hold a stand or a panel meanwhile."""
        busy = {step.n: 0 if step.ahead else len(step.busy) for step in self.steps}
        demands = tasks.demands(tasks.tasks_of(self.steps))
        return max((demand.people + busy[demand.n] for demand in demands), default=0)

    @property
    def held_from_start(self) -> tuple[str, ...]:
        """The stands that somebody must hold before the first step, as they are not safe as planned."""
        floor = floor_at(self.plan, self.plan.setups.get(self.start or ""))
        return tuple(sorted(with_unsafe_held(floor, self.plan.kit, self.plan.day.place).in_hands))

    @cached_property
    def notes(self) -> dict[int, tuple[str, ...]]:
        """What a crew must know of a step besides its text, by the step's number."""
        held = set(self.held_from_start)
        let_go = {stand: step.n for step in self.steps if step.grip == "leave" for stand in step.hands_on}
        notes: dict[int, list[str]] = {step.n: [] for step in self.steps}
        for step in self.steps:
            if step is self.steps[0]:
                notes[step.n] += [f"hold {stand} before this: as planned it is not safe" for stand in sorted(held)]
            if step.hands > 1:
                notes[step.n].append(f"{step.hands} people: {step.why_hands}")
            for stand in sorted(step.hands_on):
                if step.grip == "take" and stand not in held:
                    held.add(stand)
                    not_safe = ", and do not let go: as planned it is not safe"
                    unsafe = step.n > let_go.get(stand, 0)
                    notes[step.n].append(f"hold {stand} from here on{not_safe if unsafe else ''}")
                elif step.grip == "leave":
                    held.discard(stand)
                    notes[step.n].append(f"then {stand} may be let go")
            if step.ahead:
                notes[step.n].append("can be done ahead")
            if is_in_hands(step) and step.verb == "place":
                notes[step.n].append(f"{step.on} then holds it while the setup is lit, and does nothing else")
        return {n: tuple(texts) for n, texts in notes.items()}

    def tasks_for(self, person: str) -> tuple[str, ...]:
        """Return what one of the crew does, in order: ``A 1-4``, ``C 5-8 with first``, ``talent 9``."""
        mine = sorted((shared for shared in self.shared if person in shared.crew), key=lambda shared: shared.start_s)
        texts: list[str] = []
        for (thing, crew), group in groupby(mine, key=lambda shared: (shared.step.thing, shared.crew)):
            others = " and ".join(other for other in crew if other != person)
            numbers = _ranges([shared.step.n for shared in group])
            name = _THING_NAMES.get(thing, thing)
            texts.append(f"{name} {numbers} with {others}" if others else f"{name} {numbers}")
        return (*texts, *self.holds(person))

    def holds(self, person: str) -> tuple[str, ...]:
        """Return what one of the crew holds in the setup that follows: ``holds R1``."""
        panels = floor_at(self.plan, self.plan.setups.get(self.goal or "")).panels
        return tuple(f"holds {panel}" for panel, at in panels.items() if held_by(at) == person)


_THING_NAMES: Final = {"subject": "talent", "subject-off": "talent", "set": "test"}


def _ranges(numbers: Sequence[int]) -> str:
    """Return ``1-4 7`` for 1, 2, 3, 4 and 7."""
    runs = [[n for _, n in run] for _, run in groupby(enumerate(numbers), key=lambda pair: pair[1] - pair[0])]
    return " ".join(f"{run[0]}-{run[-1]}" if len(run) > 1 else str(run[0]) for run in runs)


def floor_at(plan: Plan, setup: Setup | None) -> Floor:
    """Return the floor of a setup; None is the empty floor."""
    return floor_of(setup, plan.kit) if setup else EMPTY


def people_of(plan: Plan) -> int:
    """Return how many people the steps are shared over: the crew, 1 to 6."""
    return min(max(len(plan.day.crew), 1), schedule.MOST_PEOPLE)


def scene_of(plan: Plan, setup: Setup | None) -> Scene:
    """Return what the text of steps into a setup needs to know; None is the empty floor."""
    talents = {look.id: look.talent for look in plan.day.looks if look.talent}
    return Scene(plan.kit, setup, plan.day.units, talents, people_of(plan))


def changeover_of(plan: Plan, start: Setup | None, goal: Setup | None, timings: Timings = NO_TIMINGS) -> Changeover:
    """Return the planned changeover between two setups; None is the empty floor."""
    floors = floor_at(plan, start), floor_at(plan, goal)
    steps = worded_changeover(*floors, scene_of(plan, goal), plan.day.place, timings.seconds)
    return Changeover(plan, start.id if start else None, goal.id if goal else None, steps)


class Changeovers:
    """The changeovers of a day as planned, each worked out when first asked for."""

    def __init__(self, plan: Plan, timings: Timings = NO_TIMINGS) -> None:
        self.plan, self.timings = plan, timings
        self._planned: dict[tuple[str | None, str | None], Changeover] = {}
        self._shortened = lru_cache(maxsize=32)(self._without)  # every step done asks for another one
        self._under_way: deque[tuple[Floor, object, tuple[Step, ...]]] = deque(maxlen=2)  # at hand, and ahead

    def between(self, start: str | None, goal: str | None, without: StepKeys = NO_STEPS) -> Changeover:
        """Return the changeover between two setups (None: the empty floor), ``without`` steps already done."""
        if without:
            return self._shortened(start, goal, without)
        if (start, goal) not in self._planned:
            before, after = (self.plan.setups.get(name or "") for name in (start, goal))
            self._planned[start, goal] = changeover_of(self.plan, before, after, self.timings)
        return self._planned[start, goal]

    def _without(self, start: str | None, goal: str | None, without: StepKeys) -> Changeover:
        whole = self.between(start, goal)
        steps = tuple(step for step in whole.steps if step.key not in without)
        return whole if steps == whole.steps else replace(whole, steps=steps)

    def steps_from(self, floor: Floor, goal: Floor, setup: Setup | None, place: Place) -> tuple[Step, ...]:
        """Return the steps from a floor as it stands; most keys move nothing on it, so the last are kept."""
        asked = (goal, setup, place)
        for start, known, steps in self._under_way:
            if start is floor and known == asked:
                return steps
        steps = worded_changeover(floor, goal, scene_of(self.plan, setup), place, self.timings.seconds)
        self._under_way.append((floor, asked, steps))
        return steps

    def known_between(self, start: str | None, goal: str | None, without: StepKeys = NO_STEPS) -> Changeover | None:
        """Return ``between`` for setups of a journal; None where the plan no longer has one of them."""
        if any(setup is not None and setup not in self.plan.setups for setup in (start, goal)):
            return None
        return self.between(start, goal, without)

    @property
    def all(self) -> Iterator[Changeover]:
        """Every changeover of the day's order, load-in and wrap included."""
        for start, goal in pairwise((None, *self.plan.day.order, None)):
            yield self.between(start, goal)

    def named(self, start: str | None, goal: str | None) -> Changeover:
        """Return the changeover between two named setups; one name left out is its neighbour in the order.

        ``load-in`` and ``wrap`` name the empty floor.
        """
        stops = (LOAD_IN, *self.plan.day.order, WRAP)
        start = start or {after: before for before, after in pairwise(stops)}.get(goal or "", LOAD_IN)
        goal = goal or dict(pairwise(stops)).get(start, WRAP)
        return self.between(None if start == LOAD_IN else start, None if goal == WRAP else goal)

    def of(self, steps: Sequence[Step]) -> Changeover:
        """Return steps of a changeover under way as one of their own."""
        return Changeover(self.plan, None, None, tuple(steps))


# --- in words and as plain data


def summary_text(change: Changeover) -> str:
    """Return how many steps a changeover has, how long it takes the crew, and one alone, and how many it needs."""
    crew, text = people_of(change.plan), f"{count_text(len(change.steps), 'step')}, about {_span(change.total_s)}"
    if crew > 1:
        alone = f", {_span(change.alone_s)} with one" if change.people <= 1 else ""
        slower = f"at most {ceil(100 * (change.total_s / change.bound_s - 1))} % over the fastest possible"
        text += f" with {crew} people{alone}; {'fastest possible' if change.proven else slower}"
    if change.stopped_s < change.total_s:
        text += f"; {_span(change.stopped_s)} if everything possible is done ahead"
    return f"{text}; {change.people} people needed" if change.people > 1 else text


def _span(seconds: float) -> str:
    return f"{seconds / 60:.0f} min" if seconds >= 90 else f"{seconds:.0f} s"


_STEP_KEYS: Final = (
    "n", "verb", "kind", "item", "on", "thing", "text", "seconds", "hands", "why_hands", "held", "grip", "after",
    "ahead", "busy",
)  # fmt: skip
Notes = Callable[[Changeover], Mapping[int, str]]  # what to add to steps, by number


def changeovers_data(changeovers: Iterable[Changeover], notes: Notes) -> dict[str, Any]:
    """Return the changeovers, shared over the crew, as plain data. ``people`` is the least it takes."""
    return {"changeovers": [_data(changeover, notes(changeover)) for changeover in changeovers]}


def _data(changeover: Changeover, notes: Mapping[int, str]) -> dict[str, Any]:
    return {
        "from": changeover.start,
        "to": changeover.goal,
        **{key: getattr(changeover, key) for key in ("total_s", "people", "bound_s", "proven", "stopped_s", "alone_s")},
        "steps": [
            {
                **{key: getattr(shared.step, key) for key in _STEP_KEYS},
                "crew": shared.crew,
                "start_s": shared.start_s,
                "note": notes.get(shared.step.n, ""),
            }
            for shared in changeover.shared
        ],
    }
