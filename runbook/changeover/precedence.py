"""What must come before what: edges between the steps of one changeover."""

from __future__ import annotations

from collections.abc import Container, Iterable, Iterator
from itertools import pairwise
from typing import Literal

from runbook.changeover.diff import Key, Work
from runbook.changeover.floor import Floor
from runbook.changeover.room import body_of, overlap
from runbook.changeover.stand_sequence import chain_of, grips


class Order:
    """What must come before what: edges between the steps of one ``Work``."""

    def __init__(self, work: Work, old_bags_first: frozenset[str] = frozenset()) -> None:
        """``old_bags_first`` are stands that let their bags go before the new ones come."""
        self.work = work
        self.old_bags_first = old_bags_first
        self.steps = work.steps
        self.before: dict[Key, set[Key]] = {key: set() for key in work.steps}
        self._heads_edges()
        self._fittings_edges()
        for stand in work.level:
            self._stand_edges(stand)
        self._bag_edges()
        self._panel_edges()
        self.spot_edges: set[tuple[Key, Key]] = set()
        self._spot_edges()
        self._chains()
        self._set_edges()

    def edge(self, first: Key, then: Key) -> None:
        """``then`` waits for ``first``, where both are in this changeover."""
        if first in self.steps and then in self.steps and first != then:
            self.before[then].add(first)

    def edges(self, firsts: Iterable[Key], thens: Iterable[Key]) -> None:
        known = [first for first in firsts if first in self.steps]
        if known:
            for then in thens:
                waits = self.before.get(then)
                if waits is not None:
                    waits.update(known)
                    waits.discard(then)

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
            other = self.work.head_after.get(stand)
            if other is not None:
                self.edge(freed, ("fit", "head", other))
            self.edge(freed, ("strike", "stand", stand))
            self.edge(freed, ("move", "stand", stand))
        self.edges(self._frees_on(head), [("move", "stand", stand), ("raise", "stand", stand)])

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
            self.edges([freed], [("free", "accessory", inner) for inner in old.under])
        for accessory, new in work.goal.accessories.items():
            fitted = ("fit", "accessory", accessory)
            if new.kind == "modifier":
                self.edge(("fit", "modifier", new.item), fitted)
            gone = work.start.fitted_on(new.kind, new.item)
            self.edges([("free", "accessory", other) for other in gone], [fitted])
            self.edges([("fit", "accessory", inner) for inner in new.under], [fitted])
        for modifier, head in work.start.modifiers.items():
            freed = ("free", "modifier", modifier)
            self.edge(freed, ("fit", "modifier", modifier))
            self.edges([freed], [("fit", "modifier", other) for other, on in work.goal.modifiers.items() if on == head])
        for cloth in work.start.cloths:
            self.edge(("free", "cloth", cloth), ("fit", "cloth", cloth))

    def _stand_edges(self, stand: str) -> None:
        work = self.work
        lower, up = ("lower", "stand", stand), ("raise", "stand", stand)
        place, move = ("place", "stand", stand), ("move", "stand", stand)
        strike = ("strike", "stand", stand)
        for head in {work.head_before.get(stand), work.head_after.get(stand)} - {None}:
            assert head is not None
            self.edges([lower], self._hands_on(head))
            aim = ("aim", "head", head)
            if work.head_after.get(stand) == head:
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
            come = work.head_after.get(stand)
            if come is not None:
                on = [("bag", "bag", bag) for bag in work.goal.bags_on("stand", stand)]
                self.edges(on, [("arm", "head", come)])

    def _chains(self) -> None:
        """The steps of each stand in one order, with hands on it where it needs them."""
        for stand in self.work.level:
            chain, holds = self._held_least(stand)
            for first, then in pairwise(chain):
                self.edge(first, then)
            held = stand in self.work.start.in_hands
            began = 0
            for n, (key, hold) in enumerate(zip(chain, holds, strict=True)):
                if hold and not held:
                    began = n
                if hold or held:
                    grip: Literal["take", "leave"] = "take" if hold else "leave"
                    self.steps[key] = self.steps[key]._replace(grip=grip, held=stand)
                    if n > began and stand not in self.old_bags_first:
                        self._at_hand(key, chain, began)
                held = hold

    def _held_least(self, stand: str) -> tuple[list[Key], list[bool]]:
        """A stand's steps, and after which of them somebody holds it.

        Where two sets of bags at once would tip it and none would not, its old ones go first.
        """
        lets_go = stand in self.old_bags_first
        chain = chain_of(self.work, stand, old_bags_first=lets_go)
        holds = grips(self.work, stand, chain)
        if any(holds) and not lets_go:
            other = chain_of(self.work, stand, old_bags_first=True)
            if other != chain and not any(free := grips(self.work, stand, other)):
                self.old_bags_first |= {stand}
                return other, free
        return chain, holds

    def _at_hand(self, key: Key, chain: list[Key], began: int) -> None:
        """What a held stand is to get is at hand before anybody takes hold of it."""
        mine = set(chain)
        for first in list(self.before[key]):
            if first not in mine and first[0] in ("free", "unbag"):
                self.edge(first, chain[began])

    def _panel_edges(self) -> None:
        work = self.work
        for panel in work.start.panels | work.goal.panels:
            off = [("unbag", "bag", bag) for bag in work.start.bags_on("panel", panel)]
            on = [("bag", "bag", bag) for bag in work.goal.bags_on("panel", panel)]
            self.edges(off, [("move", "panel", panel), ("strike", "panel", panel)])
            self.edges([("place", "panel", panel), ("move", "panel", panel)], on)

    def _spot_edges(self) -> None:
        """Let nothing go to a spot that another thing has not left yet."""
        leaves = {
            key: body_of(key[1], key[2], self.work.start, self.work.kit)
            for key in self.steps
            if key[0] in ("strike", "move") and key[1] in ("stand", "panel")
        }
        comes = {
            key: body_of(key[1], key[2], self.work.goal, self.work.kit)
            for key in self.steps
            if key[0] in ("place", "move") and key[1] in ("stand", "panel")
        }
        for first, gone in leaves.items():
            for then, new in comes.items():
                if first[1:] == then[1:]:
                    self.edge(first, then)
                elif overlap(gone, new):
                    self.edge(first, then)
                    self.spot_edges.add((first, then))

    def _set_edges(self) -> None:
        work = self.work
        self.edge(("lens", "camera", "camera"), ("view", "camera", "camera"))
        turn, test = ("turn", "subject", "subject"), ("test", "set", "set")
        off = ("turn", "subject", "subject-off")
        rest = [key for key in self.steps if key not in (off, turn, test)]
        if work.goal.subject is None:
            self.edges([turn], rest)  # nobody is on the set while it is struck
        elif work.start.subject is None or work.look_changes:
            self.edges([off, *rest], [turn])  # nor while it goes up
        else:
            self.edges([key for key in rest if _moves(key)], [turn])
        self.edges([key for key in self.steps if key != test], [test])

    def send_off_first(self, ahead: Container[Key]) -> None:
        """Let the talent leave before anything is moved, lifted, hung or aimed.

        All but what is done ``ahead``; camera and dials may be set while they walk off.
        """
        off = ("turn", "subject", "subject-off")
        beside = ("power", "disarm")
        self.edges([off], [k for k in self.steps if k not in ahead and k[0] not in beside and k[1] != "camera"])


def _moves(key: Key) -> bool:
    """Whether a step moves a stand, a panel or the arm of a boom."""
    verb, kind, _ = key
    moved = kind in ("stand", "panel") and verb in ("place", "strike", "move", "raise", "lower")
    return moved or kind == "counterweight"
