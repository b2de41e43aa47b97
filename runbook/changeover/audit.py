"""The audit of the changeovers: stands that take more hands on the way than the crew has.

The finished setups are judged elsewhere. Here every moment between them is: a stand that cannot be
let go while somebody works on it, and stands that more people hold at once than there are.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace
from itertools import accumulate, pairwise
from typing import Final

from runbook.changeover.changeover import changeover
from runbook.changeover.floor import EMPTY, Floor, floor_of
from runbook.changeover.hands import hands_of, held_on, hold_reason, own_stand
from runbook.changeover.stand_sequence import must_be_held, with_unsafe_held
from runbook.changeover.steps import Step, apply
from runbook.changeover.tasks import demands, tasks_of
from runbook.model.day import Plan, Problem
from runbook.model.setup import Setup

_ACTIONS: Final = {
    "place": "placing {}", "strike": "taking {} off set", "move": "moving {}", "raise": "raising {}",
    "lower": "lowering {}", "fit": "fitting {}", "free": "taking off {}", "bag": "hanging {}", "unbag": "taking off {}",
}  # fmt: skip


_Walked = Sequence[tuple[Step, Floor]]  # steps, each with the floor it is done on


def audit_changes(plan: Plan, steps: Iterable[Sequence[Step]] | None = None) -> tuple[Problem, ...]:
    """Return every problem on the way, changeover by changeover: load-in first, the wrap last.

    ``steps`` are those of each changeover, where they are known already. Raises KeyError
    when a setup names a thing that the kit lacks.
    """
    floors = [(setup, floor_of(setup, plan.kit)) for setup in plan.order]
    ends: list[tuple[Setup | None, Floor]] = [(None, EMPTY), *floors, (None, EMPTY)]
    if steps is None:
        steps = (changeover(start, goal, plan.kit, plan.day.place) for (_, start), (_, goal) in pairwise(ends))
    return tuple(
        problem
        for ((one, start), (other, goal)), changing in zip(pairwise(ends), steps, strict=True)
        for problem in _problems(plan, one, other, (start, goal), changing)
    )


def _problems(
    plan: Plan, one: Setup | None, other: Setup | None, ends: tuple[Floor, Floor], steps: Sequence[Step]
) -> Iterator[Problem]:
    crew, goal = max(1, len(plan.day.crew)), other.id if other else None
    where = f"after {one.id}" if one and other else "at load-in" if other else "at the wrap"
    *floors, last = accumulate(steps, apply, initial=with_unsafe_held(ends[0], plan.kit, plan.day.place))
    walked = list(zip(steps, floors, strict=True))
    for stand, held in _held_for_another(plan, walked).items():
        (first, floor), (end, _) = held[0], held[-1]
        why = hold_reason(stand, floor, ends[1], plan.kit, plan.day.place, units=plan.day.units)
        work = f"while {_action(first)}" if first is end else f"from {_action(first)} to {_action(end)}"
        if crew < 2:
            what = f"{where}, {why}: hold it {work}; that takes 2 people, the crew is 1"
            do = "get a second person for it, or plan it lower, lighter or with its bags on first"
            yield Problem("warn", "held-alone", goal, stand, what, do)
        elif not _is_let_go(plan, stand, walked, ends):
            what = f"{where}, {why}: hold it {work}, without letting go"
            do = "one person holds it, another works; or hang a bag on it that can stay on"
            yield Problem("note", "never-let-go", goal, stand, what, do)
    for stand in sorted(last.in_hands):
        what = f"{where}, {stand} must be held to the end, as it is not safe as planned: one person less for all else"
        do = f"follow this setup's remedy for {stand}, or put a person there for the whole time"
        yield Problem("warn", "held-to-the-end", goal, stand, what, do)
    asked = [
        replace(step, hands=hands_of(step, floor, ends[1], plan.kit, plan.day.place, units=plan.day.units)[0])
        for step, floor in walked
    ]
    yield from _crowds(plan, walked, asked, f"{where}, ", goal)
    yield from _full_hands(crew, asked, f"{where}, ", goal)


def _held_for_another(plan: Plan, walked: _Walked) -> dict[str, list[tuple[Step, Floor]]]:
    """Return the stands that one person holds while another works on them: the steps, each with the unsafe floor.

    Booms are left out: they always take two.
    """
    held: dict[str, list[tuple[Step, Floor]]] = defaultdict(list)
    for step, before in walked:
        stand, floor = own_stand(step, before), held_on(step, before, plan.kit, plan.day.place)
        if stand is not None and floor is not None and not plan.kit.stand[stand].is_boom:
            held[stand].append((step, floor))
    return held


def _is_let_go(plan: Plan, stand: str, walked: _Walked, ends: tuple[Floor, Floor]) -> bool:
    """Return whether a stand is out of hands at some step on it, or not safe at an end: that is another problem."""
    kit, place = plan.kit, plan.day.place
    at_ends = all(stand in end.stands and not must_be_held(stand, end, end, kit, place, before=end) for end in ends)
    steps = (step for step, before in walked if own_stand(step, before) == stand)
    return not at_ends or any(step.grip is None for step in steps)


def _crowds(plan: Plan, walked: _Walked, asked: Sequence[Step], where: str, setup: str | None) -> Iterator[Problem]:
    """Yield the step that takes most people, with those who hold other stands meanwhile, if the crew is smaller."""
    crew = max(1, len(plan.day.crew))
    if not any(before.in_hands - {own_stand(step, before)} for step, before in walked):
        return
    steps, tasks = {step.n: step for step in asked}, tasks_of(asked)
    worst = max((demand for demand in demands(tasks) if demand.holds), key=lambda demand: demand.people, default=None)
    if worst is None or worst.people <= crew:
        return
    stands = [hold.split()[0] for hold in worst.holds]
    held = f"{' and '.join(stands)} {'is' if len(stands) == 1 else 'are'} held"
    what = f"{where}{_action(steps[worst.n])} while {held} takes {worst.people} people, the crew is {crew}"
    yield Problem(
        "warn", "held-many", setup, stands[0], what, "bring one more bag, so that none is swapped, or get help"
    )


def _full_hands(crew: int, asked: Sequence[Step], where: str, setup: str | None) -> Iterator[Problem]:
    """Yield the step that lacks most people because some of the crew hold panels meanwhile."""
    short = [step for step in asked if not step.ahead and step.hands <= crew < step.hands + len(step.busy)]
    step = max(short, key=lambda step: step.hands + len(step.busy), default=None)
    if step is None:
        return
    names, hold = " and ".join(step.busy), "holds a panel" if len(step.busy) == 1 else "hold panels"
    do = "have a stand hold the panel, or get help"
    if step.verb in ("test", "turn"):
        what = f"{where}{names} {hold}, the crew is {crew}: nobody is free to meter and shoot"
    else:
        what = f"{where}{_action(step)} takes {step.hands} people while {names} {hold}, the crew is {crew}"
    yield Problem("warn", "hands-full", setup, step.item if step.kind == "stand" else None, what, do)


def _action(step: Step) -> str:
    """Return what is done in a step: ``fitting M0``."""
    names = {"counterweight": f"the counterweight of {step.item}", "rail": f"the rail of {step.on} on {step.item}"}
    item = names.get(step.kind, step.item)
    return _ACTIONS.get(step.verb, "setting {}").format(item)
