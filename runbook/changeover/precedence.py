"""What must come before what: edges between the steps of one changeover.

The steps on one stand are in one order (``stand_sequence``). The rules here add what goes beyond one stand: heads and
cloths, bags and fittings that change hands, spots that must be free, and the talent.
"""

from __future__ import annotations

from collections.abc import Container, Iterable, Iterator
from dataclasses import replace
from itertools import pairwise
from typing import Final, Literal

from runbook.changeover.diff import Work
from runbook.changeover.floor import Floor, PanelOn, PanelSpot
from runbook.changeover.room import body_of, overlap
from runbook.changeover.stand_sequence import carried, chain_of, grips
from runbook.changeover.steps import Key, is_in_hands

# Of every head: why, what is done first, and what waits for it. The groups of steps are those of ``_groups``.
_RULES: Final = (
    ("nobody works on a head that can fire", "disarm", "work"),
    ("a stand comes down before anybody works on it", "lower", "work"),
    ("on a boom the weight comes off first", "weight-off", "frees free"),
    ("what a head carries comes off first", "frees", "free"),
    ("off comes before on", "frees free", "fit fits"),
    ("what hangs in front is off before the stand moves or rises", "frees", "old-stand"),
    ("a head goes on before what it carries", "fit", "fits"),
    ("a head goes on a stand that is in its place", "place move", "fit fits aim"),
    ("the weight goes on last", "fit fits", "weight-on"),
    ("all is on before it goes up", "fit fits weight-on", "raise"),
    ("a head is dialled where it stands", "fit", "power"),
    ("a head is aimed with all on it, at what is in its place", "fit fits weight-on target", "aim"),
    ("within reach a head is aimed at its height", "lower raise", "aim-low"),
    ("above reach a head is aimed before it goes up", "aim-high", "raise"),
    ("a head is switched on last", "work aim power raise lower move bags", "arm"),
)


class Order:
    """What must come before what: edges between the steps of one ``Work``."""

    def __init__(self, work: Work, old_bags_first: frozenset[str] = frozenset()) -> None:
        """``old_bags_first`` are stands that let their bags go before the new ones come."""
        self.work = work
        self.old_bags_first = old_bags_first
        self.steps = work.steps
        self.before: dict[Key, set[Key]] = {key: set() for key in work.steps}
        for head in work.start.heads | work.goal.heads:
            groups = self._groups(head)
            for _, first, then in _RULES:
                self.edges(_joined(groups, first), _joined(groups, then))
        self._fittings()
        self._panels()
        self._hung_cloths()
        self.spot_edges: set[tuple[Key, Key]] = set()
        self._spots()
        for stand in work.start.stands | work.goal.stands:
            self._chain(stand)
        self._camera_and_talent()

    def _known(self, keys: Iterable[Key]) -> list[Key]:
        return [key for key in keys if key in self.steps]

    def edges(self, firsts: Iterable[Key], thens: Iterable[Key]) -> None:
        """Let each of ``thens`` wait for all of ``firsts``, those that are in this changeover."""
        firsts = self._known(firsts)
        for then in self._known(thens) if firsts else ():
            self.before[then].update(firsts)
            self.before[then].discard(then)

    def _groups(self, head: str) -> dict[str, list[Key]]:
        """Return the steps on a head and on the stands it is on before and after, by name."""
        work = self.work
        old, new = (floor.heads[head].stand if head in floor.heads else None for floor in (work.start, work.goal))
        aim = work.goal.heads[head].aim if new else None
        low = new is not None and work.goal.stands[new].height_m <= work.reach_m(new)

        def known(kind: str, *verbs: str, of: Iterable[str | None] = (head,)) -> list[Key]:
            return self._known((verb, kind, item) for verb in verbs for item in of if item)

        groups = {verb: known("head", verb) for verb in ("disarm", "free", "fit", "aim", "power", "arm")}
        groups |= {verb: known("stand", verb, of=[new]) for verb in ("place", "move", "raise")}
        groups |= {
            "lower": known("stand", "lower", of=[old, new]),
            "old-stand": known("stand", "move", "raise", of=[old]),
            "weight-off": known("counterweight", "free", of=[old]),
            "weight-on": known("counterweight", "fit", of=[new]),
            "weights": known("counterweight", "free", "fit", of=[old, new]),
            "frees": self._known(self._on(head, work.start, "free")),
            "fits": self._known(self._on(head, work.goal, "fit")),
            "bags": known("bag", "bag", of=work.goal.bags_on("stand", new or "")),
            "target": self._known(self._panel_in_place(aim.target)) if aim else [],
            "aim-low": groups["aim"] if low else [],
            "aim-high": [] if low else groups["aim"],
        }
        return groups | {"work": _joined(groups, "free fit frees fits weights")}

    def _panel_in_place(self, panel: str) -> Iterator[Key]:
        """Yield the steps after which a panel is where it is to be; one that a person holds comes last of all."""
        at = self.work.goal.panels.get(panel)
        if isinstance(at, PanelOn):
            yield from ((verb, "stand", at.stand) for verb in ("place", "move", "raise", "lower"))
        if at is not None and not (isinstance(at, PanelSpot) and at.by):
            yield from ((verb, "panel", panel) for verb in ("place", "move", "fit", "aim"))

    def _on(self, head: str, floor: Floor, verb: str) -> Iterator[Key]:
        """Yield the steps that fit or free what a head carries on a floor."""
        yield from carried(floor, head, verb)
        yield from ((verb, "cloth", cloth) for cloth, beams in floor.cloths.items() if head in beams)

    def _fittings(self) -> None:
        work = self.work
        for verb, kind, item in [*self.steps]:
            off = "unbag" if verb == "bag" else "free"
            if verb in ("fit", "bag"):
                self.edges([(off, kind, item)], [(verb, kind, item)])
        for accessory, old in work.start.accessories.items():
            # what is out on top comes off first, and all of it before its carrier goes on again
            inner = [("free", "accessory", under) for under in old.under]
            self.edges([("free", "accessory", accessory)], [*inner, ("fit", old.kind, old.item)])
        for accessory, new in work.goal.accessories.items():
            gone = [("free", "accessory", other) for other in work.start.fitted_on(new.kind, new.item)]
            inner = [("fit", "accessory", under) for under in new.under]
            self.edges([*gone, *inner, ("fit", new.kind, new.item)], [("fit", "accessory", accessory)])
        for head, at in work.start.heads.items():
            if at.stand is None:  # in hand: what it carries comes off in order too
                for first, then in pairwise(self._known([*carried(work.start, head, "free"), ("free", "head", head)])):
                    self.edges([first], [then])

    def _panels(self) -> None:
        work = self.work
        for panel in work.start.panels | work.goal.panels:
            off = [("unbag", "bag", bag) for bag in work.start.bags_on("panel", panel)]
            on = [("bag", "bag", bag) for bag in work.goal.bags_on("panel", panel)]
            self.edges(off, [("move", "panel", panel), ("strike", "panel", panel)])
            self.edges([("place", "panel", panel), ("move", "panel", panel)], on)
            gone = [("strike", "panel", panel), ("free", "panel", panel)]
            self.edges(gone, [("place", "panel", panel), ("fit", "panel", panel)])

    def _hung_cloths(self) -> None:
        """Let a cloth come down before its rail comes off, and go up once the rail is on both its stands."""
        for _, kind, cloth in [*self.steps]:
            if kind != "cloth":
                continue
            off = [(verb, kind, cloth) for verb in ("free", "strike")]
            self.edges(off, [("fit", kind, cloth), ("place", kind, cloth)])
            self.edges([("lower", kind, cloth)], [("strike", kind, cloth)])
            self.edges([("place", kind, cloth)], [("raise", kind, cloth)])
            rails = [key for key, step in self.steps.items() if step.kind == "rail" and step.on == cloth]
            frees, fits = ([key for key in rails if key[0] == verb] for verb in ("free", "fit"))
            self.edges([("strike", kind, cloth)], frees)
            self.edges([*off, *frees], fits)
            self.edges(frees, [("fit", kind, cloth)])
            self.edges(fits, [("place", kind, cloth)])
            for _, _, stand in fits:  # both stands are ready before the rail goes on either
                verbs = ("place", "move", "lower", "raise")
                bags = [("bag", "bag", bag) for bag in self.work.goal.bags_on("stand", stand)]
                self.edges([*((verb, "stand", stand) for verb in verbs), *bags], fits)

    def _spots(self) -> None:
        """Let nothing go to a spot that another thing has not left yet."""
        things = [key for key in self.steps if key[1] in ("stand", "panel", "cloth")]
        kit, (start, goal) = self.work.kit, (self.work.start, self.work.goal)
        leaves = {key: body_of(key[1], key[2], start, kit) for key in things if key[0] in ("strike", "move")}
        comes = {key: body_of(key[1], key[2], goal, kit) for key in things if key[0] in ("place", "move")}
        for first, gone in leaves.items():
            for then, new in comes.items():
                if first[1:] == then[1:]:
                    self.edges([first], [then])
                elif overlap(gone, new):
                    self.edges([first], [then])
                    self.spot_edges.add((first, then))

    # --- the steps on one stand

    def _chain(self, stand: str) -> None:
        """Put the steps of a stand in one order, with hands on it where it needs them."""
        chain, holds = self._least_held(stand)
        for first, then in pairwise(chain):
            self.edges([first], [then])
        held = stand in self.work.start.in_hands
        began = 0
        for n, (key, hold) in enumerate(zip(chain, holds, strict=True)):
            if hold and not held:
                began = n
            if hold or held:
                grip: Literal["take", "leave"] = "take" if hold else "leave"
                self._grip(key, stand, grip)
                if n > began and stand not in self.old_bags_first:
                    # what a held stand is to get is at hand before anybody takes hold of it
                    mine = [first for first in self.before[key] if first not in chain and first[0] in ("free", "unbag")]
                    self.edges(mine, [chain[began]])
            held = hold

    def _grip(self, key: Key, stand: str, grip: Literal["take", "leave"]) -> None:
        """Let a step take or leave hold of a stand; of the two stands of a rail, those that are taken count."""
        step = self.steps[key]
        if step.grip == "take" and grip == "leave":
            return
        held = {stand} if step.grip != grip else {stand, *step.hands_on}
        self.steps[key] = replace(step, grip=grip, held=" ".join(sorted(held)))

    def _least_held(self, stand: str) -> tuple[list[Key], list[bool]]:
        """Return a stand's steps, and after which of them somebody holds it.

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

    # --- camera and talent

    def _camera_and_talent(self) -> None:
        work = self.work
        self.edges([("lens", "camera", "camera")], [("view", "camera", "camera")])
        rest = [key for key in self.steps if key not in (_OFF, _TURN, _TEST)]
        put_down = [key for key in rest if is_in_hands(self.steps[key]) and key[0] == "strike"]  # waits for nothing
        if work.goal.subject is None:
            self.edges([_TURN], [key for key in rest if key not in put_down])  # nobody is there while it is struck
        elif work.start.subject is None or work.look_changes:
            self.edges([_OFF, *rest], [_TURN])  # nor while it goes up
        else:
            self.edges([key for key in rest if _moves(key)], [_TURN])
        self.edges(self.steps, [_TEST])
        # what a person holds is taken in hand last: from then on they do nothing else
        takes = [key for key in rest if is_in_hands(self.steps[key]) and key[0] == "place"]
        self.edges([key for key in rest if key not in takes], takes)

    def send_off_first(self, ahead: Container[Key]) -> None:
        """Let the talent leave before anything is moved, lifted, hung or aimed.

        All but what is done ``ahead``; camera and dials may be set while they walk off.
        """
        beside = ("power", "disarm")
        rest = [k for k in self.steps if k not in ahead and k[0] not in beside and k[1] != "camera"]
        self.edges([_OFF], [k for k in rest if k[0] != "strike" or not is_in_hands(self.steps[k])])


_TURN: Final = ("turn", "subject", "subject")
_OFF: Final = ("turn", "subject", "subject-off")
_TEST: Final = ("test", "set", "set")


def _joined(groups: dict[str, list[Key]], names: str) -> list[Key]:
    return [key for name in names.split() for key in groups[name]]


def _moves(key: Key) -> bool:
    """Whether a step moves a stand, a panel, a hung cloth or the arm of a boom."""
    verb, kind, _ = key
    verbs = "place", "strike", "move", "raise", "lower", *(("fit", "free") if kind == "panel" else ())
    return kind in ("counterweight", "rail") or (kind in ("stand", "panel", "cloth") and verb in verbs)
