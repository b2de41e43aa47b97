"""What the sums find on the way from setup to setup: hands that a crew does not have.

The finished setups are judged elsewhere. Here every moment between them is: a stand that cannot be
let go while somebody works on it, and stands that are in more hands at once than there are people.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from itertools import pairwise
from typing import NamedTuple

from runbook.changeover.changeover import changeover
from runbook.changeover.floor import EMPTY, Floor, floor_of
from runbook.changeover.hands import hands_of, held_on, hold_reason, own_stand
from runbook.changeover.stand_sequence import at_moment, with_unsafe_held, worst_at
from runbook.changeover.steps import Step, apply
from runbook.changeover.tasks import demands, tasks_of
from runbook.model.day import Plan
from runbook.model.problems import Problem
from runbook.model.setup import Setup


class Held(NamedTuple):
    """A stand that somebody holds while another works on it.

    ``why`` is at the first of the steps; ``first`` and ``last`` are what is done to it meanwhile.
    """

    stand: str
    why: str
    first: Step
    last: Step


class Crowd(NamedTuple):
    """A step that takes a person while others hold stands: how many people in all."""

    people: int
    step: Step
    stands: tuple[str, ...]


class Way(NamedTuple):
    """What one changeover asks of hands: stands held for a second person; the most at once.

    ``never`` are held from one step to the next, ``kept`` are still in hands when all is done.
    """

    held: tuple[Held, ...]
    most: Crowd | None
    never: frozenset[str]
    kept: tuple[str, ...]


def audit_changes(plan: Plan, steps: Iterable[Sequence[Step]] | None = None) -> tuple[Problem, ...]:
    """Every problem on the way, changeover by changeover: load-in first, the wrap last.

    ``steps`` are those of each changeover, where they are worked out already. Raises KeyError
    when a setup names a thing that the kit lacks.
    """
    crew = max(1, len(plan.day.crew))
    problems: list[Problem] = []
    floors = [(setup, floor_of(setup, plan.kit)) for setup in plan.order]
    ends: list[tuple[Setup | None, Floor]] = [(None, EMPTY), *floors, (None, EMPTY)]
    if steps is None:
        steps = (changeover(start, goal, plan.kit, plan.day.place) for (_, start), (_, goal) in pairwise(ends))
    for ((one, start), (other, goal)), each in zip(pairwise(ends), steps, strict=True):
        where = _where(one, other)
        way = _way(plan, start, goal, each)
        problems += _problems(way, crew, where, other.id if other else None)
    return tuple(problems)


def _where(start: Setup | None, goal: Setup | None) -> str:
    if start is None or goal is None:
        return "at load-in" if goal else "at the wrap"
    return f"on the way from {start.id}"


def _problems(way: Way, crew: int, where: str, goal: str | None) -> Iterator[Problem]:
    for held in way.held:
        work = f"from {_said(held.first)}"
        if held.last != held.first:
            work += f" to {_said(held.last)}"
        if crew < 2:
            what = f"{where}, {held.why}: hold it {work}; that takes two people, and the crew is 1"
            do = "get a second pair of hands for it, or plan it lower, lighter or bagged first"
            yield Problem("warn", "held-alone", goal, held.stand, what, do)
        elif held.stand in way.never:
            what = f"{where}, {held.why}: hold it {work}, it cannot be let go between"
            do = "one holds it, another works; or hang a bag on it that can stay all the way"
            yield Problem("note", "never-let-go", goal, held.stand, what, do)
    for stand in way.kept:
        what = f"{where}, {stand} is never let go, as it is not safe as planned: whoever holds it "
        what += "does nothing else, and that person is not assigned to any step"
        do = f"follow this setup's remedy for {stand}, or put a person there for the whole time"
        yield Problem("warn", "held-to-the-end", goal, stand, what, do)
    if way.most is not None and way.most.people > crew:
        people, step, stands = way.most
        names = " and ".join(stands)
        held_ones = f"{names} {'is' if len(stands) == 1 else 'are'} held"
        what = f"{where}, {held_ones} while {_going_on(step)}: "
        what += f"that takes {people} people, and the crew is {crew}"
        do = "bring a bag more, so that they need not swap, or get help"
        yield Problem("warn", "held-many", goal, stands[0], what, do)


def _said(step: Step) -> str:
    """A step in two words: its item, and what becomes of it."""
    done = {"fit": "on", "free": "off", "raise": "up", "lower": "down", "bag": "on", "unbag": "off"}
    item = "counterweight" if step.kind == "counterweight" else step.item
    return f"{item} {done.get(step.verb, step.verb)}"


def _going_on(step: Step) -> str:
    """A step as what goes on while somebody else holds a stand."""
    item = f"the counterweight of {step.item}" if step.kind == "counterweight" else step.item
    match step.verb:
        case "fit" | "bag":
            return f"{item} goes on{f' {step.on}' if step.on else ''}"
        case "free" | "unbag":
            return f"{item} comes off{f' {step.on}' if step.on else ''}"
        case "raise" | "lower":
            return f"{item} goes {'up' if step.verb == 'raise' else 'down'}"
        case "place" | "strike":
            return f"{item} {'comes in' if step.verb == 'place' else 'goes away'}"
        case "move":
            return f"{item} moves"
    return f"{item} is seen to"


def _way(plan: Plan, start: Floor, goal: Floor, steps: Sequence[Step]) -> Way:
    """What a changeover asks of hands, by walking it in its order."""
    kit, place, units = plan.kit, plan.day.place, plan.day.units
    held: dict[str, Held] = {}
    loose: set[str] = set()
    walked: list[tuple[Step, Floor]] = []
    meanwhile = False  # whether anything is done while somebody holds another stand
    before = with_unsafe_held(start, kit, place)
    for step in steps:
        stand, floor = own_stand(step, before), held_on(step, before, kit, place)
        if stand is not None and floor is not None and not kit.stand[stand].is_boom:
            known = held.get(stand)
            why = known.why if known else hold_reason(stand, floor, goal, kit, place, units=units)
            held[stand] = Held(stand, why, known.first if known else step, step)
        now = apply(before, step)
        mine = own_stand(step, before)
        if mine is not None and mine not in now.in_hands and step.grip is None:
            loose.add(mine)
        meanwhile |= bool(before.in_hands - {mine})
        walked.append((step, before))
        before = now
    never = frozenset(
        stand for stand in held.keys() - loose if _stands(plan, stand, start) and _stands(plan, stand, goal)
    )
    crowd = _crowd(plan, walked, goal) if meanwhile else None
    return Way(tuple(held.values()), crowd, never, tuple(sorted(before.in_hands)))


def _crowd(plan: Plan, walked: Sequence[tuple[Step, Floor]], goal: Floor) -> Crowd | None:
    """The step that takes the most people, with those who hold other stands meanwhile.

    ``walked`` are the steps, each with the floor it is done on.
    """
    kit, place, units = plan.kit, plan.day.place, plan.day.units
    steps = {
        step.n: step._replace(hands=hands_of(step, before, goal, kit, place, units=units)[0]) for step, before in walked
    }
    tasks = tasks_of(tuple(steps.values()))
    stand_of_hold = {task.hold: steps[task.n].held for task in tasks}
    crowded = [each for each in demands(tasks) if each.holds]
    if not crowded:
        return None
    worst = max(crowded, key=lambda each: each.people)
    stands = tuple(str(stand_of_hold[hold]) for hold in worst.holds)
    return Crowd(worst.people, steps[worst.n], stands)


def _stands(plan: Plan, stand: str, floor: Floor) -> bool:
    moment = at_moment(floor, stand, 0)
    return moment is not None and worst_at(plan.kit, plan.day.place, stand, moment).ok
