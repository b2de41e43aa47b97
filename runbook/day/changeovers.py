"""The day's planned changeovers: their steps, the crew's shares, and both as plain data."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from itertools import groupby, pairwise
from typing import Any, Final, NamedTuple

from runbook.changeover.changeover import worded_changeover
from runbook.changeover.floor import EMPTY, Floor, floor_of
from runbook.changeover.schedule import MOST_PEOPLE, Work
from runbook.changeover.schedule import share as crew_share
from runbook.changeover.stand_sequence import with_unsafe_held
from runbook.changeover.step_text import Scene
from runbook.changeover.steps import Step, step_seconds
from runbook.changeover.tasks import ahead_steps, demands, tasks_of, without
from runbook.model.day import Plan
from runbook.model.kit import Kit
from runbook.model.setup import Setup

Timed = Callable[[Step, Kit], float]  # the seconds a step is planned with
LOAD_IN: Final = "load-in"
WRAP: Final = "wrap"


_NOT_SAFE: Final = ", and do not let go: as planned it is not safe"


class Change(NamedTuple):
    """One changeover; ``start`` is None at load-in, ``goal`` at wrap."""

    start: str | None
    goal: str | None
    steps: tuple[Step, ...]

    @property
    def alone_s(self) -> float:
        """The seconds of all steps one after another."""
        return sum(step.seconds for step in self.steps)

    @property
    def people(self) -> int:
        """How many people it needs at the least: hands on a step, and hands that hold meanwhile."""
        return max((each.people for each in demands(tasks_of(self.steps))), default=0)


Notes = Callable[[Change], Mapping[int, str]]  # what to say of steps, by number


class SharedStep(NamedTuple):
    """A step, who does it (crew ids), and when it starts, in seconds from the first one.

    ``crew`` is shorter than the step's ``hands`` where the crew has too few: somebody is missing.
    """

    step: Step
    crew: tuple[str, ...]
    start_s: float


class Shares(NamedTuple):
    """Steps shared over a crew, by number, and a time that no share can beat."""

    steps: tuple[SharedStep, ...]
    work: tuple[Work, ...]
    total_s: float
    bound_s: float

    @property
    def proven(self) -> bool:
        """Whether no shorter share exists."""
        return self.total_s <= self.bound_s


def floor_at(plan: Plan, setup: Setup | None) -> Floor:
    """Return the floor of a setup; None is the empty floor."""
    return floor_of(setup, plan.kit) if setup else EMPTY


def people_of(plan: Plan) -> int:
    """Return how many people the steps are shared over: the crew, 1 to 6."""
    return min(max(len(plan.day.crew), 1), MOST_PEOPLE)


def share(steps: Sequence[Step], plan: Plan) -> Shares:
    """Return the steps shared over the day's crew, in little time, with few changes of thing."""
    crew = [member.id for member in plan.day.crew]
    people = people_of(plan)
    schedule = crew_share(tasks_of(steps, people), people)
    by_n = {work.n: work for work in schedule.work}
    shared = tuple(
        SharedStep(step, tuple(crew[i] for i in by_n[step.n].crew if crew), by_n[step.n].start_s) for step in steps
    )
    return Shares(shared, schedule.work, schedule.total_s, schedule.bound_s)


def stopped_s(steps: Sequence[Step], plan: Plan, total_s: float) -> float:
    """Return the seconds left of ``total_s`` once everything that can be done ahead is done.

    The shooting stops for that long. Nothing can wait until after: the test comes last.
    """
    people = people_of(plan)
    tasks = tasks_of(steps, people)
    ahead = ahead_steps(tasks)
    if not ahead:
        return total_s
    return min(crew_share(without(tasks, ahead), people, only_total=True).total_s, total_s)


def held_from_start(plan: Plan, change: Change) -> tuple[str, ...]:
    """Return the stands that somebody must hold before the first step, as they are not safe as planned."""
    floor = floor_at(plan, plan.setups[change.start] if change.start else None)
    return tuple(sorted(with_unsafe_held(floor, plan.kit, plan.day.place).in_hands))


def step_notes(steps: Sequence[Step], from_start: Sequence[str] = ()) -> dict[int, tuple[str, ...]]:
    """Return what a crew must know of a step besides its text, by the step's number.

    ``from_start`` are the stands that somebody must hold before the first step.
    """
    in_hands = set(from_start)
    let_go = {step.held: step.n for step in steps if step.grip == "leave"}
    marks = {}
    for step in steps:
        said = []
        if step is steps[0]:
            said += [f"hold {stand} before this: as planned it is not safe" for stand in from_start]
        if step.hands > 1:
            said.append(f"{step.hands} people: {step.why_hands}")
        if step.held is not None and step.grip == "take" and step.held not in in_hands:
            in_hands.add(step.held)
            never = step.n > let_go.get(step.held, 0)
            said.append(f"hold {step.held} from here on{_NOT_SAFE if never else ''}")
        elif step.held is not None and step.grip == "leave":
            in_hands.discard(step.held)
            said.append(f"then {step.held} may be let go")
        if step.ahead:
            said.append("can be done ahead")
        marks[step.n] = tuple(said)
    return marks


def _called(step: Step) -> str:
    """Return the name of a step's thing: its id, or ``camera``, ``talent`` or ``test``."""
    names = {"subject": "talent", "subject-off": "talent", "set": "test"}
    return names.get(step.thing, step.thing)


def person_tasks(shares: Shares, person: str) -> tuple[str, ...]:
    """Return what one of the crew does, in order: ``A 1-4``, ``C 5-8 with first``, ``talent 9``."""
    mine = sorted((each for each in shares.steps if person in each.crew), key=lambda each: each.start_s)
    texts: list[str] = []
    for key, group in groupby(mine, key=lambda each: (_called(each.step), each.crew)):
        thing, crew = key
        numbers = _ranges([each.step.n for each in group])
        others = " and ".join(other for other in crew if other != person)
        texts.append(f"{thing} {numbers}" + (f" with {others}" if others else ""))
    return tuple(texts)


def _ranges(numbers: list[int]) -> str:
    parts: list[list[int]] = []
    for n in numbers:
        if parts and n == parts[-1][-1] + 1:
            parts[-1].append(n)
        else:
            parts.append([n])
    return " ".join(str(p[0]) if len(p) == 1 else f"{p[0]}-{p[-1]}" for p in parts)


def change(plan: Plan, start: Setup | None, goal: Setup | None, pace: Timed = step_seconds) -> Change:
    """Return the planned changeover between two setups; None is the empty floor."""
    return _change(plan, start, goal, (floor_at(plan, start), floor_at(plan, goal)), pace)


def scene_of(plan: Plan, setup: Setup | None) -> Scene:
    """Return what the text of steps into a setup needs to know; None is the empty floor."""
    talents = {look.id: look.talent for look in plan.day.looks if look.talent}
    return Scene(plan.kit, setup, plan.day.units, talents)


def _change(plan: Plan, start: Setup | None, goal: Setup | None, floors: tuple[Floor, Floor], pace: Timed) -> Change:
    steps = worded_changeover(*floors, scene_of(plan, goal), plan.day.place, pace)
    return Change(start.id if start else None, goal.id if goal else None, steps)


def all_changes(plan: Plan, pace: Timed = step_seconds) -> Iterator[Change]:
    """Yield all of the day's changeovers, load-in and wrap included."""
    walk = [(setup, floor_at(plan, setup)) for setup in (None, *plan.order, None)]
    for (start, before), (goal, after) in pairwise(walk):
        yield _change(plan, start, goal, (before, after), pace)


def change_between(plan: Plan, start_id: str | None, goal_id: str | None, pace: Timed = step_seconds) -> Change:
    """Return the changeover between two named setups; one name left out is its neighbour in the order.

    ``load-in`` and ``wrap`` name the empty floor. Raises KeyError with a name no setup has.
    """
    order = [None, *plan.day.order, None]
    if goal_id is None:
        goal_id = _neighbour(order, start_id, 1)
    elif start_id is None:
        start_id = _neighbour(order, goal_id, -1)
    return change(plan, _named(plan, start_id, LOAD_IN), _named(plan, goal_id, WRAP), pace)


def _neighbour(order: list[str | None], setup_id: str | None, by: int) -> str | None:
    if setup_id in (LOAD_IN, WRAP) and setup_id not in order:
        at = 0 if setup_id == LOAD_IN else len(order) - 1
    elif setup_id in order:
        at = order.index(setup_id)
    else:
        return None
    return order[min(max(at + by, 0), len(order) - 1)]


def _named(plan: Plan, setup_id: str | None, empty: str) -> Setup | None:
    if setup_id is None or (setup_id == empty and setup_id not in plan.setups):
        return None
    return plan.setups[setup_id]


def no_notes(_: Change) -> Mapping[int, str]:
    """Return no notes on the steps of a changeover."""
    return {}


def facts(plan: Plan, changes: Iterable[Change], notes: Notes = no_notes) -> dict[str, Any]:
    """Return the changeovers, shared over the crew, as plain data. ``people`` is the least it takes."""
    return {"changeovers": [_facts(each, plan, notes(each)) for each in changes]}


def _facts(each: Change, plan: Plan, notes: Mapping[int, str]) -> dict[str, Any]:
    shares = share(each.steps, plan)
    return {
        "from": each.start,
        "to": each.goal,
        "total_s": shares.total_s,
        "people": each.people,
        "bound_s": shares.bound_s,
        "proven": shares.proven,
        "stopped_s": stopped_s(each.steps, plan, shares.total_s),
        "alone_s": each.alone_s,
        "steps": [_step_facts(shared, notes.get(shared.step.n, "")) for shared in shares.steps],
    }


def _step_facts(shared: SharedStep, note: str) -> dict[str, Any]:
    step = shared.step
    return {
        "n": step.n,
        "verb": step.verb,
        "kind": step.kind,
        "item": step.item,
        "on": step.on,
        "thing": step.thing,
        "text": step.text,
        "seconds": step.seconds,
        "hands": step.hands,
        "why_hands": step.why_hands,
        "held": step.held,
        "grip": step.grip,
        "after": list(step.after),
        "ahead": step.ahead,
        "crew": list(shared.crew),
        "start_s": shared.start_s,
        "note": note,
    }
