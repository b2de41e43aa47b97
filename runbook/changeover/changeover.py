"""The changeover: the ordered steps that turn one floor into the next, safely.

Three questions, in this order: what must change (``diff``), what must come before what
(``precedence``), and how it reads best. Nothing unchanged is touched; a thing wanted elsewhere is
free before it is wanted; and whatever order ``after`` allows, no prefix of it leaves a high stand
without its bags and out of hand, a boom out of balance and let go, or hands in front of a head
that can fire.

A high stand that only moves is walked in somebody's hands: bags off, move, bags on, unbroken. Where
stands wait for each other's bags, as few as can be give theirs up first, and are held until they
have their new ones.
"""

from __future__ import annotations

from bisect import insort
from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import replace
from itertools import accumulate, pairwise
from typing import Final

from runbook.changeover.diff import Work
from runbook.changeover.floor import Floor, held_by
from runbook.changeover.hands import hands_of
from runbook.changeover.precedence import Order
from runbook.changeover.room import disturbs
from runbook.changeover.stand_sequence import chain_of, grips, with_unsafe_held
from runbook.changeover.step_text import Scene, column_move_text, step_text
from runbook.changeover.steps import Key, Step, apply, is_in_hands, step_seconds
from runbook.model.day import Place
from runbook.model.kit import Kit

# A verb's place in a block, where nothing else decides.
_VERBS: Final = (
    "turn", "disarm", "lower", "free", "unbag", "strike", "place", "move", "bag", "fit", "lens", "view", "expose",
    "aim", "raise", "power", "arm", "test",
)  # fmt: skip


def changeover(
    start: Floor, goal: Floor, kit: Kit, place: Place, put_down: frozenset[str] = frozenset()
) -> tuple[Step, ...]:
    """Return the steps that turn ``start`` into ``goal``, numbered, each with what it waits for.

    A stand that is not safe at the start is in somebody's hands from the first of its steps on.
    Applied in any order that ``after`` allows they give ``goal`` exactly. ``put_down`` are panels that a person holds
    throughout, to be put down meanwhile. Texts, seconds and hands are not set here. Raises KeyError for a stand the kit
    does not hold.
    """
    order, ahead, listed = _ordered(with_unsafe_held(start, kit, place), goal, kit, place, put_down)
    number = {key: n for n, key in enumerate(listed, 1)}
    steps = (
        replace(
            order.steps[key], n=number[key], after=tuple(sorted(number[first] for first in firsts)), ahead=key in ahead
        )
        for key, firsts in _direct(order, listed).items()
    )
    return tuple(_with_busy(steps, start, goal))


def worded_changeover(
    start: Floor, goal: Floor, scene: Scene, place: Place, seconds: Callable[[Step, Kit], float] = step_seconds
) -> tuple[Step, ...]:
    """Return the changeover from one floor to another with the text, hands and seconds of every step.

    What is done ahead is left to those who hold no panel; where it takes more of them, it is not done ahead. A panel
    that a person would hold throughout is put down where their hands are needed, and taken again.
    """
    steps = _worded(changeover(start, goal, scene.kit, place), start, goal, scene, place, seconds)
    kept = frozenset(panel for panel, at in start.panels.items() if held_by(at) and goal.panels.get(panel) == at)
    if kept and any(step.hands + len(step.busy) > scene.people for step in steps):
        freed = changeover(start, goal, scene.kit, place, kept)
        return _worded(freed, start, goal, scene, place, seconds)
    return steps


def _worded(  # noqa: PLR0917
    plain: Sequence[Step], start: Floor, goal: Floor, scene: Scene, place: Place, seconds: Callable[[Step, Kit], float]
) -> tuple[Step, ...]:
    steps = []
    floors = accumulate(plain, apply, initial=with_unsafe_held(start, scene.kit, place))
    for step, floor in zip(plain, floors, strict=False):
        hands, why = hands_of(step, floor, goal, scene.kit, place, units=scene.units)
        text = step_text(step, floor, scene) + column_move_text(step, start, goal, scene)
        steps.append(replace(step, text=text, hands=hands, why_hands=why, seconds=seconds(step, scene.kit)))
    return _ahead_by_free_hands(steps, scene.people)


def _with_busy(steps: Iterable[Step], start: Floor, goal: Floor) -> Iterator[Step]:
    """Yield the steps with those who hold a panel meanwhile: until they put it down, and once they have taken it."""
    holding, taking = ({held_by(at) for at in end.panels.values()} - {""} for end in (start, goal))
    steps = tuple(steps)
    put_down = {step.on for step in steps if is_in_hands(step) and step.verb == "strike"}
    busy = holding - put_down
    for step in steps:
        if is_in_hands(step) and step.verb == "place":
            busy |= taking
        hold = tuple(sorted((busy | holding if step.ahead else busy) - {step.on}))
        yield replace(step, busy=hold) if hold != step.busy else step


def _ahead_by_free_hands(steps: Sequence[Step], people: int) -> tuple[Step, ...]:
    """Return the steps; what takes more people than hold no panel yet is not done ahead, nor what waits for it."""
    put_down = {step.on for step in steps if is_in_hands(step) and step.verb == "strike"}
    late = {step.n for step in steps if not step.ahead or step.hands + len(step.busy) > people}
    while True:
        apart = {step.held for step in steps if step.held and step.n in late}
        more = {step.n for step in steps if step.held in apart or late & {*step.after}} - late
        if not more:
            break
        late |= more
    return tuple(
        replace(step, ahead=False, busy=tuple(who for who in step.busy if who not in put_down))
        if step.ahead and step.n in late
        else step
        for step in steps
    )


def _ordered(
    start: Floor, goal: Floor, kit: Kit, place: Place, put_down: frozenset[str]
) -> tuple[Order, set[Key], list[Key]]:
    """Return the steps with what they wait for, those that can be done ahead, and an order that reads well.

    Where steps wait for each other in a ring, a thing leaves the set for a while, or a stand gives
    its bags up first, until none do.
    """
    old_bags_first: frozenset[str] = frozenset()
    aside: frozenset[str] = frozenset()
    while True:
        order = Order(Work(start, goal, kit, place, aside, put_down), old_bags_first)
        ahead = _ahead_keys(order, start, kit)
        if order.work.look_changes:
            order.send_off_first(ahead)
        listed, waiting = _topological(order)
        if not waiting:
            return order, ahead, listed
        ring = _ring(waiting, order)
        in_the_way = _in_the_way(ring, order)
        if in_the_way is None:
            old_bags_first |= {_lets_go(ring, order)}
        else:
            aside |= {in_the_way}


# --- the order in which steps are listed


def _ranks(start: Floor, goal: Floor) -> dict[str, int]:
    """Return the place of each thing in the list: what leaves first, then the lights, panels, camera and face."""
    staying = [*goal.heads, *goal.panels, *goal.hung, "camera", "subject", "set"]
    if goal.subject is None:
        staying = ["subject", *staying]
    leaving = [thing for thing in ("subject-off", *start.heads, *start.panels, *start.hung) if thing not in staying]
    return {thing: n for n, thing in enumerate(dict.fromkeys([*leaving, *staying]), 1)}


def _topological(order: Order) -> tuple[list[Key], set[Key]]:
    """Return the steps in an order that reads well, and those that wait for each other in a ring.

    A crew finishes one thing before it starts the next, so a step of the thing at hand goes first.
    """
    waiting = {key: len(firsts) for key, firsts in order.before.items()}
    then: dict[Key, list[Key]] = defaultdict(list)
    for key, firsts in order.before.items():
        for first in firsts:
            then[first].append(key)
    rank = _ranks(order.work.start, order.work.goal)
    # who holds a panel puts it down first; what reads alike keeps the order it was found in
    steps = sorted(
        order.steps.values(),
        key=lambda step: (
            not (is_in_hands(step) and step.verb == "strike"), rank.get(step.thing, 0), _VERBS.index(step.verb)
        ),
    )  # fmt: skip
    place = {step.key: n for n, step in enumerate(steps)}
    ready = sorted(place[key] for key, count in waiting.items() if count == 0)
    listed: list[Key] = []
    thing: str = ""
    in_hands: str | None = None
    while ready:
        held = [n for n in ready if steps[n].held == in_hands] if in_hands else None
        choice = held or ready
        n = next((n for n in choice if steps[n].thing == thing), choice[0])
        ready.remove(n)
        step = steps[n]
        listed.append(step.key)
        thing = step.thing
        if step.grip is not None:
            in_hands = step.held if step.grip == "take" else None
        for later in then[step.key]:
            waiting[later] -= 1
            if waiting[later] == 0:
                insort(ready, place[later])
    return listed, {key for key, count in waiting.items() if count > 0}


def _direct(order: Order, listed: list[Key]) -> dict[Key, list[Key]]:
    """Return what each step waits for, without what follows from the rest."""
    bit = {key: 1 << n for n, key in enumerate(listed)}
    behind: dict[Key, int] = {}  # all that a step waits for, as bits
    direct: dict[Key, list[Key]] = {}
    for key in listed:
        far = 0
        for first in order.before[key]:
            far |= behind[first]
        direct[key] = [first for first in order.before[key] if not bit[first] & far]
        behind[key] = far | sum(bit[first] for first in direct[key])
    return direct


# --- what can be done ahead


def _ahead_keys(order: Order, start: Floor, kit: Kit) -> set[Key]:
    """Return the steps that can be done ahead with all they wait for, in nobody's way.

    The steps for which a stand is held go together, and so do the two ends of a rail.
    """
    goal = order.work.goal
    ahead = {
        key
        for key, step in order.steps.items()
        if _is_apart(step, start, kit)
        and not (step.verb == "place" and disturbs(step.kind, step.item, goal, start, kit))
    }
    while True:
        apart = {stand for key, step in order.steps.items() if key not in ahead for stand in step.hands_on}
        rails = {step.on for key, step in order.steps.items() if key not in ahead and step.kind == "rail"}
        steps = (order.steps[key] for key in ahead if order.before[key] <= ahead)
        kept = {
            step.key for step in steps if not step.hands_on & apart and not (step.kind == "rail" and step.on in rails)
        }
        if kept == ahead:
            return ahead
        ahead = kept


def _is_apart(step: Step, start: Floor, kit: Kit) -> bool:
    """Return whether a step touches only what the running setup does not use.

    A boom never comes in ahead: it swings over people who are at work under it.
    """
    boom = step.kind == "stand" and kit.stand[step.item].is_boom
    of_this_setup = step.kind in ("camera", "subject", "set") or step.verb in ("arm", "disarm")
    if start.subject is None or of_this_setup or boom or is_in_hands(step):
        return False
    tables = "stands", "heads", "modifiers", "panels", "accessories", "cloths", "hung", "bags"
    used = [getattr(start, table) for table in tables]
    touched = {step.item, *(step.on or "").split()}
    return not any(touched & names.keys() for names in used)


# --- rings of steps that wait for each other


def _ring(waiting: set[Key], order: Order) -> list[Key]:
    """Return one ring among steps that wait: from any of them back along what it waits for."""
    path: list[Key] = [min(waiting)]
    while True:
        back = min(first for first in order.before[path[-1]] if first in waiting)
        if back in path:
            return path[path.index(back) :]
        path.append(back)


def _in_the_way(ring: list[Key], order: Order) -> str | None:
    """Return the thing of a ring that must leave the set for a while, as two want each other's spot.

    A panel sooner than a stand: it goes and comes back in two steps.
    """
    swaps = {
        first[1:]
        for then, first in pairwise([*ring, ring[0]])
        if (first, then) in order.spot_edges and first[0] == "move"
    }
    return min(swaps)[1] if swaps else None


def _lets_go(ring: list[Key], order: Order) -> str:
    """Return the stand that must give its bags up first, in hands, so that the ring opens.

    One is enough, and the others keep theirs; best one that nobody needs to hold for it, or that
    has to give them up anyway, to move.
    """
    work = order.work

    def more_holds(stand: str) -> int:
        first, last = (any(grips(work, stand, chain_of(work, stand, old_bags_first=old))) for old in (True, False))
        return first - last

    chains = {stand: chain_of(work, stand, old_bags_first=False) for stand in work.start.stands | work.goal.stands}
    stands = [stand for stand, chain in chains.items() if set(chain) & set(ring) and stand not in order.old_bags_first]
    assert stands, f"steps wait for each other: {ring}"
    return min(stands, key=lambda stand: (more_holds(stand), stand not in work.moved, stand))
