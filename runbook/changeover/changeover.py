"""The changeover: the ordered steps that turn one floor into the next, safely.

Three questions, in this order: what must change (``_Work``), what must come before what
(``_Order``), and how it reads best (``_listed``). Nothing unchanged is touched; a thing wanted
elsewhere is free before it is wanted; and whatever order ``after`` allows, no prefix of it leaves a
high stand without its bags and out of hand, a boom out of balance and let go, or hands in front of
an armed head.

A high stand that only moves is walked in somebody's hands: bags off, move, bags on, unbroken. Where
stands wait for each other's bags, as few as can be give theirs up first, and are held until they
have their new ones.
"""

from __future__ import annotations

from bisect import insort
from collections import defaultdict
from collections.abc import Callable, Container
from itertools import pairwise

from runbook.changeover.default_durations import default_seconds
from runbook.changeover.diff import Key, Work
from runbook.changeover.floor import Floor
from runbook.changeover.hands import hands_of
from runbook.changeover.precedence import Order
from runbook.changeover.room import disturbs
from runbook.changeover.stand_sequence import chain_of, grips, with_unsafe_held
from runbook.changeover.step_text import Scene, column_move_text, step_text
from runbook.changeover.steps import Step, apply
from runbook.model.day import Place
from runbook.model.kit import Kit


def _topological(order: Order, rank: dict[str, int]) -> tuple[list[Key], set[Key]]:
    """The steps in an order that reads well, and those that wait for each other in a ring.

    A crew finishes one thing before it starts the next, so a step of the thing at hand goes first.
    """
    waiting = {key: len(firsts) for key, firsts in order.before.items()}
    then: dict[Key, list[Key]] = defaultdict(list)
    for key, firsts in order.before.items():
        for first in firsts:
            then[first].append(key)
    # what reads alike keeps the order it was found in
    steps = sorted(order.steps.values(), key=lambda step: (rank.get(step.thing, 0), _SAID[step.verb]))
    keys, things = [step.key for step in steps], [step.thing for step in steps]
    place = {key: n for n, key in enumerate(keys)}
    ready = sorted(place[key] for key, count in waiting.items() if count == 0)
    listed: list[Key] = []
    at_hand = ""
    in_hands: str | None = None
    while ready:
        held = [n for n in ready if steps[n].held == in_hands] if in_hands else None
        sayable = held or ready
        n = next((n for n in sayable if things[n] == at_hand), sayable[0])
        ready.remove(n)
        listed.append(keys[n])
        at_hand = things[n]
        if steps[n].grip is not None:
            in_hands = steps[n].held if steps[n].grip == "take" else None
        for later in then[keys[n]]:
            waiting[later] -= 1
            if waiting[later] == 0:
                insort(ready, place[later])
    return listed, {key for key, count in waiting.items() if count > 0}


_SAID = {
    # a verb's place in a block, where nothing else decides
    verb: n
    for n, verb in enumerate(
        (
            *("turn", "disarm", "lower", "free", "unbag", "strike", "place", "move", "bag", "fit"),
            *("lens", "view", "expose", "aim", "raise", "power", "arm", "test"),
        )
    )
}


def _reduced(order: Order, listed: list[Key]) -> dict[Key, set[Key]]:
    """The edges without those that follow from others."""
    bit = {key: 1 << n for n, key in enumerate(listed)}
    behind: dict[Key, int] = {}
    kept: dict[Key, set[Key]] = {}
    for key in listed:
        firsts = order.before[key]
        far = 0
        for first in firsts:
            far |= behind[first]
        kept[key] = {first for first in firsts if not bit[first] & far}
        for first in firsts:
            far |= bit[first]
        behind[key] = far
    return kept


def _in_use(floor: Floor) -> dict[str, Container[str]]:
    """What the running setup uses, by kind; what has no cases of its own is not among it."""
    return {
        "stand": floor.stands,
        "panel": floor.panels,
        "head": floor.heads,
        "modifier": floor.modifiers,
        "accessory": floor.accessories,
        "cloth": floor.cloths,
        "counterweight": floor.stands,
        "bag": floor.bags,
    }


def _ahead(step: Step, start: Floor, used: dict[str, Container[str]], kit: Kit) -> bool:
    """Whether a step touches only what the running setup does not use.

    A boom never comes in ahead: it swings over people who are at work under it.
    """
    if start.subject is None or step.verb in ("arm", "disarm", "test"):
        return False
    if step.kind == "stand" and kit.stand[step.item].is_boom:
        return False
    if step.kind not in used or step.item in used[step.kind]:
        return False
    if step.kind == "bag":
        return step.on not in start.stands and step.on not in start.panels
    if step.kind == "cloth":
        return not set(step.to or ()) & set(start.heads)
    return step.on is None or (
        step.on not in start.stands and step.on not in start.heads and step.on not in start.modifiers
    )


def _ahead_keys(order: Order, start: Floor, kit: Kit) -> set[Key]:
    """Return the steps that can be done ahead with all they wait for, in nobody's way."""
    used, goal = _in_use(start), order.work.goal
    ahead = {
        key
        for key, step in order.steps.items()
        if _ahead(step, start, used, kit)
        and not (step.verb == "place" and disturbs(step.kind, step.item, goal, start, kit))
    }
    while True:
        held_back = {key for key in ahead if not order.before[key] <= ahead}
        if not held_back:
            return ahead
        ahead -= held_back


def _rank(start: Floor, goal: Floor) -> dict[str, int]:
    """How things are told: what leaves first, then the lights, panels, camera and face."""
    leaving = [*start.heads, *start.panels]
    leaving.insert(0, "subject-off")
    staying = [*goal.heads, *goal.panels, "camera", "subject", "set"]
    if goal.subject is None:
        staying = ["subject", *staying]
    order = [thing for thing in leaving if thing not in staying] + staying
    rank: dict[str, int] = {}
    for thing in order:
        rank.setdefault(thing, len(rank) + 1)
    return rank


def changeover(start: Floor, goal: Floor, kit: Kit, place: Place) -> tuple[Step, ...]:
    """The steps that turn ``start`` into ``goal``, numbered, each with what it waits for.

    A stand that is not safe at the start is in somebody's hands from the first of its steps on.
    Applied in any order that ``after`` allows they give ``goal`` exactly. Texts, seconds and hands
    are not set here. Raises KeyError for a stand the kit does not hold.
    """
    start = with_unsafe_held(start, kit, place)
    waiting: frozenset[str] = frozenset()
    aside: frozenset[str] = frozenset()
    rank = _rank(start, goal)
    while True:
        order = Order(Work(start, goal, kit, place, aside), waiting)
        ahead = _ahead_keys(order, start, kit)
        if order.work.look_changes:
            order.send_off_first(ahead)
        listed, ring = _topological(order, rank)
        if not ring:
            break
        path = _ring(ring, order)
        in_the_way = _in_the_way(path, order)
        if in_the_way is None:
            waiting |= {_let_go(path, order)}
        else:
            aside |= {in_the_way}
    kept = _reduced(order, listed)
    number = {key: n for n, key in enumerate(listed, 1)}
    return tuple(
        order.steps[key]._replace(
            n=number[key], after=tuple(sorted(number[first] for first in kept[key])), ahead=key in ahead
        )
        for key in listed
    )


def _ring(waiting: set[Key], order: Order) -> list[Key]:
    """One ring among steps that wait: from any of them back along what it waits for."""
    path: list[Key] = [min(waiting)]
    while True:
        back = min(first for first in order.before[path[-1]] if first in waiting)
        if back in path:
            return path[path.index(back) :]
        path.append(back)


def _in_the_way(ring: list[Key], order: Order) -> str | None:
    """The thing of a ring that must leave the set for a while, as two want each other's spot.

    A panel sooner than a stand: it goes and comes back in two steps.
    """
    swaps = {
        (first[1], first[2])
        for then, first in pairwise([*ring, ring[0]])
        if (first, then) in order.spot_edges and first[0] == "move"
    }
    return min(swaps)[1] if swaps else None


def _let_go(ring: list[Key], order: Order) -> str:
    """The stand that must give its bags up first, in hands, so that the ring opens.

    One is enough, and the others keep theirs; best one that nobody needs to hold for it, or that
    has to give them up anyway, to move.
    """
    stands = {
        stand
        for verb, kind, item in ring
        for stand in (_stand_of(order, verb, kind, item),)
        if stand is not None and stand not in order.old_bags_first
    }
    assert stands, f"steps wait for each other: {ring}"
    return min(stands, key=lambda stand: (_holds_more(order.work, stand), stand not in order.work.moved, stand))


def _holds_more(work: Work, stand: str) -> int:
    """How much more often a stand is held that gives its bags up before it gets the new ones."""
    first, last = (
        any(grips(work, stand, chain_of(work, stand, old_bags_first=gives_up))) for gives_up in (True, False)
    )
    return first - last


def _stand_of(order: Order, verb: str, kind: str, item: str) -> str | None:
    """The stand in whose chain a step is."""
    floor = order.work.start if verb in ("unbag", "free") else order.work.goal
    if kind == "bag":
        hung = floor.bags[item]
        return hung.item if hung.kind == "stand" else None
    if kind in ("stand", "counterweight"):
        return item
    head = item
    if kind == "modifier":
        head = floor.modifiers.get(item, "")
    elif kind == "accessory" and item in floor.accessories:
        head = order.work.head_of(floor.accessories[item], floor) or ""
    at = floor.heads.get(head)
    return at.stand if at else None


def step_seconds(step: Step, kit: Kit) -> float:
    """Return the default duration of a step in seconds."""
    boom = step.kind == "stand" and kit.stand[step.item].is_boom
    return default_seconds(step.verb, "boom" if boom else step.kind)


def worded_changeover(
    start: Floor, goal: Floor, scene: Scene, place: Place, seconds: Callable[[Step, Kit], float] = step_seconds
) -> tuple[Step, ...]:
    """Return the changeover from one floor to another with the text, hands and seconds of every step."""
    floor = with_unsafe_held(start, scene.kit, place)
    steps: list[Step] = []
    for step in changeover(start, goal, scene.kit, place):
        hands, why = hands_of(step, floor, goal, scene.kit, place, units=scene.units)
        text = step_text(step, floor, scene) + column_move_text(step, start, goal, scene)
        steps.append(step._replace(text=text, hands=hands, why_hands=why, seconds=seconds(step, scene.kit)))
        floor = apply(floor, step)
    return tuple(steps)
