"""The changeover: the ordered steps that turn one floor into the next, safely.

Three questions, in this order: what must change (``_Work``), what must come before what
(``_Order``), and how it reads best (``_listed``). Nothing unchanged is touched; a thing wanted
elsewhere is free before it is wanted; and whatever order ``after`` allows, no prefix of it leaves a
high stand without its bags and out of hand, a boom out of balance and let go, or hands in front of
an armed head.

A high stand that only moves is walked in somebody's hands: bags off, move, bags on, unbroken. Where
two such stands would wait for each other's bags, they come down first instead.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator
from itertools import pairwise
from typing import NamedTuple

from runbook.change.floor import Carrier, Floor, HeadAt
from runbook.change.steps import Kind, Step, Verb
from runbook.plan.day import Place
from runbook.plan.kit import Kit

Key = tuple[str, str, str]


class _Level(NamedTuple):
    """The heights of one stand on the way: it goes down to ``low`` (or stays), then up to ``end``.

    ``reach`` is what counts as in reach for this stand; ``high`` whether it stays above it.
    """

    low: float
    end: float
    reach: float
    comes_down: bool
    goes_up: bool

    @property
    def high(self) -> bool:
        return self.low > self.reach


def reach_of(stand_height_min_m: float, place: Place) -> float:
    """The height in m up to which a crew works on a stand.

    A stand that does not come down to a person's reach is worked at its lowest, from a step.
    """
    return max(place.reach_m, stand_height_min_m)


class _Work:
    """What must change between two floors: the steps, by key, and the facts their order needs."""

    def __init__(
        self, start: Floor, goal: Floor, kit: Kit, place: Place, forced_down: frozenset[str]
    ) -> None:
        self.start, self.goal, self.kit, self.place = start, goal, kit, place
        self.steps: dict[Key, Step] = {}
        self._things()
        self.refit_heads = self._refit_heads()
        self.touched = self._touched()
        self.moved = self._moved()
        self.level = {
            stand: self._level(stand, stand in forced_down) for stand in start.stands | goal.stands
        }
        self._stands()
        self._heads()
        self._bags()
        self._panels()
        self._camera()
        if goal.tested and (self.steps or not start.tested):
            self.add("test", "set", "set", thing="set")

    def add(self, verb: Verb, kind: Kind, item: str, **rest: object) -> None:
        step = Step(verb, kind, item, **rest)  # type: ignore[arg-type]
        self.steps[step.key] = step

    def _things(self) -> None:
        """Which light's block a stand, modifier or accessory reads in."""
        self.thing: dict[tuple[str, str], str] = {}
        for floor in (self.start, self.goal):
            for head, at in floor.heads.items():
                if at.stand is not None:
                    self.thing["stand", at.stand] = head
            for modifier, head in floor.modifiers.items():
                self.thing["modifier", modifier] = head

    def thing_of_stand(self, stand: str) -> str:
        return self.thing.get(("stand", stand), stand)

    def head_of(self, carrier: Carrier, floor: Floor) -> str | None:
        """The head an accessory's carrier is on."""
        return carrier.item if carrier.kind == "head" else floor.modifiers.get(carrier.item)

    def _refit_heads(self) -> frozenset[str]:
        """Heads that leave the stand they are on."""
        return frozenset(
            head
            for head, at in self.start.heads.items()
            if at.stand is not None
            and (head not in self.goal.heads or self.goal.heads[head].stand != at.stand)
        )

    def cloth_rehung(self, cloth: str) -> bool:
        before, after = self.start.cloths.get(cloth), self.goal.cloths.get(cloth)
        return before != after or any(head in self.refit_heads for head in before or ())

    def _touched(self) -> frozenset[str]:
        """Heads on which something is fitted or freed."""
        heads: set[str] = set()
        start, goal = self.start, self.goal
        for head in start.heads | goal.heads:
            before, after = start.heads.get(head), goal.heads.get(head)
            if (before.stand if before else None) != (after.stand if after else None):
                heads.add(head)
        for floor, other in ((start, goal), (goal, start)):
            for modifier, head in floor.modifiers.items():
                if other.modifiers.get(modifier) != head:
                    heads.add(head)
            for accessory, carrier in floor.accessories.items():
                if other.accessories.get(accessory) != carrier:
                    on = self.head_of(carrier, floor)
                    if on is not None:
                        heads.add(on)
            for cloth, beams in floor.cloths.items():
                if self.cloth_rehung(cloth):
                    heads |= beams
        return frozenset(heads)

    def _moved(self) -> frozenset[str]:
        """Stands and panels that stay on the set but not on their spot."""
        stands = {
            stand
            for stand, at in self.start.stands.items()
            if stand in self.goal.stands and self.goal.stands[stand].spot != at.spot
        }
        panels = {
            panel
            for panel, spot in self.start.panels.items()
            if self.goal.panels.get(panel, spot) != spot
        }
        return frozenset(stands | panels)

    def _level(self, stand: str, forced_down: bool) -> _Level:
        kit = self.kit.stand[stand]
        reach = reach_of(kit.height_min_m, self.place)
        before, after = self.start.stands.get(stand), self.goal.stands.get(stand)
        if before is None:
            assert after is not None
            up = after.height_m > kit.height_min_m
            return _Level(kit.height_min_m, after.height_m, reach, False, up)
        if after is None:
            down = before.height_m > kit.height_min_m
            low = min(before.height_m, kit.height_min_m)
            return _Level(low, low, reach, down, False)
        works = forced_down or self._worked_on(stand)
        moves_down = stand in self.moved and (
            kit.is_boom
            or (before.height_m > self.place.carry_m and self.start.head_on(stand) is not None)
        )
        low = min(before.height_m, after.height_m)
        if works or moves_down:
            low = min(low, reach)
        return _Level(low, after.height_m, reach, low < before.height_m, after.height_m > low)

    def _worked_on(self, stand: str) -> bool:
        heads = {self.start.head_on(stand), self.goal.head_on(stand)}
        return any(head in self.touched for head in heads)

    def reweighted(self, stand: str) -> bool:
        """Whether a boom's counterweight comes off on the way: its head leaves it."""
        return self.start.head_on(stand) in self.refit_heads

    def _stands(self) -> None:
        start, goal = self.start, self.goal
        for stand, level in self.level.items():
            thing = self.thing_of_stand(stand)
            before, after = start.stands.get(stand), goal.stands.get(stand)
            if before is None:
                assert after is not None
                self.add("place", "stand", stand, to=(after.spot, level.low), thing=thing)
            elif after is None:
                self.add("strike", "stand", stand, to=level.low, thing=thing)
            elif stand in self.moved:
                self.add("move", "stand", stand, to=after.spot, thing=thing)
            if level.comes_down:
                self.add("lower", "stand", stand, to=level.low, thing=thing)
            if level.goes_up:
                self.add("raise", "stand", stand, to=level.end, thing=thing)
            on_before = before is not None and before.weight_on
            on_after = after is not None and after.weight_on
            again = on_before and self.reweighted(stand)
            if on_before and (again or not on_after):
                self.add("free", "counterweight", stand, grip="take", held=stand, thing=thing)
            if on_after and (again or not on_before):
                self.add("fit", "counterweight", stand, grip="leave", held=stand, thing=thing)

    def _heads(self) -> None:
        start, goal = self.start, self.goal
        for head in start.heads | goal.heads:
            before = start.heads.get(head, HeadAt(None))
            after = goal.heads.get(head, HeadAt(None))
            if before.stand is not None and head in self.refit_heads:
                to = "hand" if after.stand else "case"
                boom = self.kit.stand[before.stand].is_boom
                self.add(
                    "free", "head", head, on=before.stand, to=to, thing=head,
                    grip="leave" if boom else None, held=before.stand if boom else None,
                )  # fmt: skip
            if after.stand is not None and before.stand != after.stand:
                boom = self.kit.stand[after.stand].is_boom
                self.add(
                    "fit", "head", head, on=after.stand, thing=head,
                    grip="take" if boom else None, held=after.stand if boom else None,
                )  # fmt: skip
            if after.stand is None:
                if before.armed:
                    self.add("disarm", "head", head, thing=head)
                continue
            fresh = before.stand != after.stand
            if after.aim is not None and (fresh or before.aim != after.aim):
                self.add("aim", "head", head, to=after.aim, thing=head)
            if before.power != after.power:
                self.add("power", "head", head, to=after.power, thing=head)
            if before.armed and (head in self.touched or not after.armed):
                self.add("disarm", "head", head, thing=head)
            if after.armed and (not before.armed or head in self.touched):
                self.add("arm", "head", head, thing=head)
        self._fittings()

    def _fittings(self) -> None:
        start, goal = self.start, self.goal
        for modifier in start.modifiers | goal.modifiers:
            before, after = start.modifiers.get(modifier), goal.modifiers.get(modifier)
            if before == after:
                continue
            if before is not None:
                to = "hand" if after else "case"
                self.add("free", "modifier", modifier, on=before, to=to, thing=before)
            if after is not None:
                self.add("fit", "modifier", modifier, on=after, thing=after)
        for accessory in start.accessories | goal.accessories:
            old, new = start.accessories.get(accessory), goal.accessories.get(accessory)
            if old == new:
                continue
            if old is not None:
                thing = self.head_of(old, start) or old.item
                self.add("free", "accessory", accessory, on=old.item, to=old, thing=thing)
            if new is not None:
                thing = self.head_of(new, goal) or new.item
                self.add("fit", "accessory", accessory, on=new.item, to=new, thing=thing)
        for cloth in start.cloths | goal.cloths:
            if not self.cloth_rehung(cloth):
                continue
            if cloth in start.cloths:
                beams = sorted(start.cloths[cloth])
                self.add("free", "cloth", cloth, on=" ".join(beams), thing=beams[0])
            if cloth in goal.cloths:
                beams = sorted(goal.cloths[cloth])
                self.add("fit", "cloth", cloth, on=" ".join(beams), to=tuple(beams), thing=beams[0])

    def _bags(self) -> None:
        start, goal = self.start, self.goal
        for bag in start.bags | goal.bags:
            old, new = start.bags.get(bag), goal.bags.get(bag)
            if old == new and (old is None or old.item not in self.moved):
                continue
            if old is not None:
                self.add("unbag", "bag", bag, on=old.item, to=old, thing=self._bag_thing(old))
            if new is not None:
                self.add("bag", "bag", bag, on=new.item, to=new, thing=self._bag_thing(new))

    def _bag_thing(self, hung: tuple[str, str, str]) -> str:
        return self.thing_of_stand(hung[1]) if hung[0] == "stand" else hung[1]

    def _panels(self) -> None:
        start, goal = self.start, self.goal
        for panel in start.panels | goal.panels:
            if panel not in start.panels:
                self.add("place", "panel", panel, to=goal.panels[panel], thing=panel)
            elif panel not in goal.panels:
                self.add("strike", "panel", panel, thing=panel)
            elif panel in self.moved:
                self.add("move", "panel", panel, to=goal.panels[panel], thing=panel)

    def _camera(self) -> None:
        start, goal = self.start, self.goal
        packed = goal.lens is None and goal.view is None and goal.exposure is None
        if packed and (start.lens or start.view or start.exposure):
            self.add("lens", "camera", "camera", thing="camera")
        elif not packed:
            if start.lens != goal.lens:
                self.add("lens", "camera", "camera", to=goal.lens, thing="camera")
            if start.view != goal.view:
                self.add("view", "camera", "camera", to=goal.view, thing="camera")
            if start.exposure != goal.exposure:
                self.add("expose", "camera", "camera", to=goal.exposure, thing="camera")
        if start.subject != goal.subject:
            self.add("turn", "subject", "subject", to=goal.subject, thing="subject")


class _Order:
    """What must come before what: edges between the steps of one ``_Work``."""

    def __init__(self, work: _Work) -> None:
        self.work = work
        self.steps = work.steps
        self.before: dict[Key, set[Key]] = {key: set() for key in work.steps}
        self._heads_edges()
        self._fittings_edges()
        for stand in work.level:
            self._stand_edges(stand)
        self._bag_edges()
        self._panel_edges()
        self._set_edges()

    def edge(self, first: Key, then: Key) -> None:
        """``then`` waits for ``first``, where both are in this changeover."""
        if first in self.steps and then in self.steps and first != then:
            self.before[then].add(first)

    def edges(self, firsts: Iterable[Key], thens: Iterable[Key]) -> None:
        later = list(thens)
        for first in firsts:
            for then in later:
                self.edge(first, then)

    def _hands_on(self, head: str) -> Iterator[Key]:
        """Every step that fits or frees something on a head, at either end."""
        work = self.work
        yield "free", "head", head
        yield "fit", "head", head
        yield from self._frees_on(head)
        yield from self._fits_on(head)
        for floor in (work.start, work.goal):
            at = floor.heads.get(head)
            if at is not None and at.stand is not None:
                yield "free", "counterweight", at.stand
                yield "fit", "counterweight", at.stand

    def _on(self, head: str, floor: Floor, verb: str) -> Iterator[Key]:
        for modifier, on in floor.modifiers.items():
            if on == head:
                yield verb, "modifier", modifier
        for accessory, carrier in floor.accessories.items():
            if self.work.head_of(carrier, floor) == head:
                yield verb, "accessory", accessory
        for cloth, beams in floor.cloths.items():
            if head in beams:
                yield verb, "cloth", cloth

    def _frees_on(self, head: str) -> Iterator[Key]:
        return self._on(head, self.work.start, "free")

    def _fits_on(self, head: str) -> Iterator[Key]:
        return self._on(head, self.work.goal, "fit")

    def _heads_edges(self) -> None:
        work = self.work
        for head in work.start.heads | work.goal.heads:
            hands_on = list(self._hands_on(head))
            self.edges([("disarm", "head", head)], hands_on)
            self.edges(self._frees_on(head), [("free", "head", head)])
            self.edge(("free", "head", head), ("fit", "head", head))
            self.edges([("fit", "head", head)], self._fits_on(head))
            ready = [*hands_on, ("aim", "head", head), ("power", "head", head)]
            self.edges(ready, [("arm", "head", head)])
            # the dial is in hand when the head is; a head refitted is dialled where it stands
            self.edge(("fit", "head", head), ("power", "head", head))
            self.edges([("fit", "head", head), *self._fits_on(head)], [("aim", "head", head)])
            before = work.start.heads.get(head)
            after = work.goal.heads.get(head)
            if before is not None and before.stand is not None:
                self._emptied(before.stand, head)
            if after is not None and after.stand is not None:
                self._filled(after.stand, head)
                aim = ("aim", "head", head)
                if after.aim is not None:
                    self.edge(("place", "panel", after.aim.target), aim)
                    self.edge(("move", "panel", after.aim.target), aim)

    def _emptied(self, stand: str, head: str) -> None:
        """Order around taking a head off a stand, or working on it where it stays."""
        freed = ("free", "head", head)
        self.edge(("free", "counterweight", stand), freed)
        if freed in self.steps:
            # on a boom the arm is held from the weight's coming off until the head is off
            self.edges([("free", "counterweight", stand)], self._frees_on(head))
            other = self.work.goal.head_on(stand)
            if other is not None:
                self.edge(freed, ("fit", "head", other))
            self.edge(freed, ("strike", "stand", stand))
            self.edge(freed, ("move", "stand", stand))
        self.edges(self._frees_on(head), [("move", "stand", stand)])

    def _filled(self, stand: str, head: str) -> None:
        """Order around putting a head on a stand."""
        fits = [("fit", "head", head), *self._fits_on(head)]
        self.edges([("place", "stand", stand), ("move", "stand", stand)], fits)
        weight = ("fit", "counterweight", stand)
        self.edges(fits, [weight])
        self.edges([*fits, weight], [("raise", "stand", stand)])
        self.edges([*fits, weight], [("aim", "head", head)])
        self.edge(weight, ("arm", "head", head))

    def _fittings_edges(self) -> None:
        work = self.work
        for accessory, old in work.start.accessories.items():
            freed = ("free", "accessory", accessory)
            if old.kind == "modifier":
                self.edge(freed, ("free", "modifier", old.item))
            self.edge(freed, ("fit", "accessory", accessory))
        for accessory, new in work.goal.accessories.items():
            if new.kind == "modifier":
                self.edge(("fit", "modifier", new.item), ("fit", "accessory", accessory))
        for modifier, head in work.start.modifiers.items():
            freed = ("free", "modifier", modifier)
            self.edge(freed, ("fit", "modifier", modifier))
            self.edges(
                [freed],
                [
                    ("fit", "modifier", other)
                    for other, on in work.goal.modifiers.items()
                    if on == head
                ],
            )
        for cloth in work.start.cloths:
            self.edge(("free", "cloth", cloth), ("fit", "cloth", cloth))

    def _stand_edges(self, stand: str) -> None:
        work = self.work
        lower, up = ("lower", "stand", stand), ("raise", "stand", stand)
        place, move = ("place", "stand", stand), ("move", "stand", stand)
        strike = ("strike", "stand", stand)
        for head in {work.start.head_on(stand), work.goal.head_on(stand)} - {None}:
            assert head is not None
            self.edges([lower], self._hands_on(head))
            aim = ("aim", "head", head)
            if work.goal.head_on(stand) == head:
                self.edges([place, move], [aim])
                # above reach a head is aimed before it goes up, else where it ends
                reachable = work.level[stand].end <= work.level[stand].reach
                self.edge(*((up, aim) if reachable else (aim, up)))
                self.edges([lower] if reachable else [], [aim])
                self.edges([up, lower, move], [("arm", "head", head)])
        self.edges([lower], [move, strike, up])
        self.edges([place, move], [up])
        self.edge(("free", "counterweight", stand), strike)
        self.edge(("free", "counterweight", stand), ("fit", "counterweight", stand))

    def _bag_edges(self) -> None:
        work = self.work
        for bag in work.start.bags:
            self.edge(("unbag", "bag", bag), ("bag", "bag", bag))
        for stand in work.level:
            self._bags_of_stand(stand)

    def _bags_of_stand(self, stand: str) -> None:
        work = self.work
        level = work.level[stand]
        lower, up = ("lower", "stand", stand), ("raise", "stand", stand)
        place, move = ("place", "stand", stand), ("move", "stand", stand)
        off = [
            ("unbag", "bag", bag)
            for bag in sorted(work.start.bags_on("stand", stand))
            if ("unbag", "bag", bag) in self.steps
        ]
        on = [
            ("bag", "bag", bag)
            for bag in sorted(work.goal.bags_on("stand", stand))
            if ("bag", "bag", bag) in self.steps
        ]
        self.edges([lower], off)
        self.edges(off, [move, ("strike", "stand", stand)])
        self.edges([place, move, lower], on)
        self.edges(on, [up])
        gone, come = work.start.head_on(stand), work.goal.head_on(stand)
        if gone is not None:
            self.edges([("free", "head", gone)], off)
        if come is not None:
            self.edges(on, [("fit", "head", come), ("arm", "head", come)])
        if level.high and stand in work.start.stands and stand in work.goal.stands:
            self._high_bags(stand, off, on)

    def _high_bags(self, stand: str, off: list[Key], on: list[Key]) -> None:
        """Bags of a stand whose load stays above reach all the way."""
        move = ("move", "stand", stand)
        rehung = {key[2] for key in off} & {key[2] for key in on}
        moves = move in self.steps
        if not moves and not rehung:
            self.edges(on, off)  # the new ones are on before the old ones leave
            return
        if not off and not on:
            return
        # one unbroken hold: everything that is coming is at hand before the first bag leaves
        chain = [*off, *([move] if moves else []), *on]
        for first, then in pairwise(chain):
            self.edge(first, then)
        for key in on:
            self.edge(("unbag", "bag", key[2]), key)
            if key[2] not in rehung:
                self.edge(("unbag", "bag", key[2]), chain[0])
        lower = ("lower", "stand", stand)
        self.edge(lower, chain[0])
        self._grip(chain, stand)

    def _grip(self, chain: list[Key], stand: str) -> None:
        for key in chain[:-1]:
            self.steps[key] = self.steps[key]._replace(grip="take", held=stand)
        if len(chain) > 1:
            last = chain[-1]
            self.steps[last] = self.steps[last]._replace(grip="leave", held=stand)

    def _panel_edges(self) -> None:
        work = self.work
        for panel in work.start.panels | work.goal.panels:
            off = [("unbag", "bag", bag) for bag in work.start.bags_on("panel", panel)]
            on = [("bag", "bag", bag) for bag in work.goal.bags_on("panel", panel)]
            self.edges(off, [("move", "panel", panel), ("strike", "panel", panel)])
            self.edges([("place", "panel", panel), ("move", "panel", panel)], on)

    def _set_edges(self) -> None:
        work = self.work
        self.edge(("lens", "camera", "camera"), ("view", "camera", "camera"))
        turn, test = ("turn", "subject", "subject"), ("test", "set", "set")
        rest = [key for key in self.steps if key not in (turn, test)]
        if work.goal.subject is None:
            self.edges([turn], rest)  # nobody is on the set while it is struck
        elif work.start.subject is None:
            self.edges(rest, [turn])  # nor while it goes up
        self.edges([key for key in self.steps if key != test], [test])


def _topological(order: _Order, rank: dict[str, int]) -> tuple[list[Key], set[Key]]:
    """The steps in an order that reads well, and those that wait for each other in a ring.

    A crew finishes one thing before it starts the next, so a step of the thing at hand goes first.
    """
    waiting = {key: len(firsts) for key, firsts in order.before.items()}
    then: dict[Key, list[Key]] = defaultdict(list)
    for key, firsts in order.before.items():
        for first in firsts:
            then[first].append(key)
    place = {key: n for n, key in enumerate(order.steps)}

    def reads(key: Key) -> tuple[bool, int, int, int]:
        step = order.steps[key]
        return step.thing != at_hand, rank.get(step.thing, 0), _SAID[step.verb], place[key]

    ready = [key for key, count in waiting.items() if count == 0]
    listed: list[Key] = []
    at_hand = ""
    in_hands: str | None = None
    while ready:
        held = [key for key in ready if in_hands and order.steps[key].held == in_hands]
        key = min(held or ready, key=reads)
        ready.remove(key)
        listed.append(key)
        step = order.steps[key]
        at_hand = step.thing
        if step.grip is not None:
            in_hands = step.held if step.grip == "take" else None
        for later in then[key]:
            waiting[later] -= 1
            if waiting[later] == 0:
                ready.append(later)
    return listed, {key for key, count in waiting.items() if count > 0}


_SAID = {
    # a verb's place in a block's telling, where nothing else decides
    verb: n
    for n, verb in enumerate(
        (
            *("turn", "disarm", "lower", "free", "unbag", "strike", "place", "move", "bag", "fit"),
            *("lens", "view", "expose", "aim", "raise", "power", "arm", "test"),
        )
    )
}


def _reduced(order: _Order, listed: list[Key]) -> dict[Key, set[Key]]:
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


def _ahead(step: Step, start: Floor, kit: Kit) -> bool:
    """Whether a step touches only what the running setup does not use.

    A boom never comes in ahead: it swings over people who are at work under it.
    """
    if start.subject is None or step.verb in ("arm", "disarm", "test"):
        return False
    if step.kind == "stand" and kit.stand[step.item].is_boom:
        return False
    used: dict[str, Iterable[str]] = {
        "stand": start.stands,
        "panel": start.panels,
        "head": start.heads,
        "modifier": start.modifiers,
        "accessory": start.accessories,
        "cloth": start.cloths,
        "counterweight": start.stands,
        "bag": start.bags,
    }
    if step.kind not in used or step.item in used[step.kind]:
        return False
    if step.kind == "bag":
        return step.on not in start.stands and step.on not in start.panels
    if step.kind == "cloth":
        return not set(step.to or ()) & set(start.heads)
    return step.on is None or (
        step.on not in start.stands
        and step.on not in start.heads
        and step.on not in start.modifiers
    )


def _rank(start: Floor, goal: Floor) -> dict[str, int]:
    """How things are told: what leaves first, then the lights, panels, camera and face."""
    leaving = [*start.heads, *start.panels]
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

    Applied in any order that ``after`` allows they give ``goal`` exactly. Texts, seconds and hands
    are not set here. Raises KeyError for a stand the kit does not hold.
    """
    forced: frozenset[str] = frozenset()
    rank = _rank(start, goal)
    while True:
        order = _Order(_Work(start, goal, kit, place, forced))
        listed, ring = _topological(order, rank)
        if not ring:
            break
        forced |= {_comes_down(_ring(ring, order), order)}
    kept = _reduced(order, listed)
    number = {key: n for n, key in enumerate(listed, 1)}
    done: list[Step] = []
    for key in listed:
        after = tuple(sorted(number[first] for first in kept[key]))
        step = order.steps[key]
        ahead = _ahead(step, start, kit) and all(done[n - 1].ahead for n in after)
        done.append(step._replace(n=number[key], after=after, ahead=ahead))
    return tuple(done)


def _ring(waiting: set[Key], order: _Order) -> list[Key]:
    """One ring among steps that wait: from any of them back along what it waits for."""
    path: list[Key] = [min(waiting)]
    while True:
        back = min(first for first in order.before[path[-1]] if first in waiting)
        if back in path:
            return path[path.index(back) :]
        path.append(back)


def _comes_down(ring: list[Key], order: _Order) -> str:
    """The high stand that must come down so that the ring of waiting bags opens."""
    work = order.work
    high = {
        hung.item
        for verb, kind, bag in ring
        if kind == "bag"
        for hung in ((work.start if verb == "unbag" else work.goal).bags[bag],)
        if hung.kind == "stand" and work.level[hung.item].high
    }
    assert high, f"steps wait for each other: {ring}"
    return min(high)
