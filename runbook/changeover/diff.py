"""What must change between two floors: the steps by key, and the facts their order needs."""

from __future__ import annotations

from dataclasses import astuple
from typing import NamedTuple

from runbook.changeover.floor import Carrier, Floor, HeadAt, Hung
from runbook.changeover.steps import Kind, Step, Verb
from runbook.model.day import Place
from runbook.model.kit import Kit

Key = tuple[str, str, str]


class Level(NamedTuple):
    """The heights of one stand on the way: it goes down to ``low`` (or stays), then up to ``end``.

    ``reach`` is what counts as in reach for this stand.
    """

    low: float
    end: float
    reach: float
    comes_down: bool
    goes_up: bool


def worked_up_to_m(stand_height_min_m: float, place: Place) -> float:
    """The height in m up to which a crew works on a stand.

    A stand that does not come down to a person's reach is worked at its lowest, from a step.
    """
    return max(place.reach_m, stand_height_min_m)


def _heads_on(floor: Floor) -> dict[str, str]:
    """The head on each stand that carries one."""
    return {at.stand: head for head, at in floor.heads.items() if at.stand is not None}


class Work:
    """What must change between two floors: the steps, by key, and the facts their order needs."""

    def __init__(self, start: Floor, goal: Floor, kit: Kit, place: Place, aside: frozenset[str] = frozenset()) -> None:
        """``aside`` are stands and panels that leave the set on their way to another spot."""
        self.start, self.goal, self.kit, self.place = start, goal, kit, place
        self.aside = aside
        self.head_before, self.head_after = _heads_on(start), _heads_on(goal)
        self.steps: dict[Key, Step] = {}
        self.refit_heads = self._refit_heads()
        self.touched = self._touched()
        self.moved = self._moved()
        self.level = {stand: self._level(stand) for stand in start.stands | goal.stands}
        self._stands()
        self._heads()
        self._bags()
        self._panels()
        self._camera()
        if goal.tested and (self.steps or not start.tested):
            self.add("test", "set", "set", thing="set")

    @property
    def look_changes(self) -> bool:
        """Whether the talent on the mark leaves it for another look, or for another talent."""
        one, other = self.start.subject, self.goal.subject
        return one is not None and other is not None and one.look != other.look

    def add(self, verb: Verb, kind: Kind, item: str, **rest: object) -> None:
        step = Step(verb, kind, item, **rest)  # type: ignore[arg-type]
        self.steps[step.key] = step

    def thing_of_stand(self, stand: str, *, after: bool) -> str:
        """Return the light in whose block a stand's step reads: the one it carries then.

        ``after`` is for steps done once the old head is off; a stand without a head is its own.
        """
        heads = (self.head_after, self.head_before)
        first, second = heads if after else reversed(heads)
        return first.get(stand) or second.get(stand) or stand

    def head_of(self, carrier: Carrier, floor: Floor) -> str | None:
        """The head an accessory's carrier is on."""
        return carrier.item if carrier.kind == "head" else floor.modifiers.get(carrier.item)

    def _refit_heads(self) -> frozenset[str]:
        """Heads that leave the stand they are on."""
        return frozenset(
            head
            for head, at in self.start.heads.items()
            if at.stand is not None
            and (at.stand in self.aside or head not in self.goal.heads or self.goal.heads[head].stand != at.stand)
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
        heads |= self.refit_heads
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
        panels = {panel for panel, spot in self.start.panels.items() if self.goal.panels.get(panel, spot) != spot}
        return frozenset(stands | panels)

    def _level(self, stand: str) -> Level:
        kit = self.kit.stand[stand]
        reach = worked_up_to_m(kit.height_min_m, self.place)
        before, after = self.start.stands.get(stand), self.goal.stands.get(stand)
        if before is None:
            assert after is not None
            up = after.height_m > kit.height_min_m
            return Level(kit.height_min_m, after.height_m, reach, False, up)
        if after is None:
            down = before.height_m > kit.height_min_m
            low = min(before.height_m, kit.height_min_m)
            return Level(low, low, reach, down, False)
        if stand in self.aside:
            low = min(before.height_m, kit.height_min_m)
            return Level(low, after.height_m, reach, low < before.height_m, after.height_m > low)
        works = self._worked_on(stand)
        moves_down = stand in self.moved and (
            kit.is_boom or (before.height_m > self.place.carry_m and stand in self.head_before)
        )
        low = min(before.height_m, after.height_m)
        if works or moves_down:
            low = min(low, reach)
        return Level(low, after.height_m, reach, low < before.height_m, after.height_m > low)

    def _worked_on(self, stand: str) -> bool:
        heads = {self.head_before.get(stand), self.head_after.get(stand)}
        return any(head in self.touched for head in heads)

    def reweighted(self, stand: str) -> bool:
        """Whether a boom's counterweight comes off on the way: its head leaves it."""
        return self.head_before.get(stand) in self.refit_heads

    def _stands(self) -> None:
        start, goal = self.start, self.goal
        for stand, level in self.level.items():
            was = self.thing_of_stand(stand, after=False)
            thing = self.thing_of_stand(stand, after=True)
            before, after = start.stands.get(stand), goal.stands.get(stand)
            if before is None:
                assert after is not None
                self.add("place", "stand", stand, to=(after.spot, level.low), thing=thing)
            elif after is None:
                self.add("strike", "stand", stand, to=level.low, thing=was)
            elif stand in self.aside:
                self.add("strike", "stand", stand, to=level.low, thing=was)
                self.add("place", "stand", stand, to=(after.spot, level.low), thing=thing)
            elif stand in self.moved:
                self.add("move", "stand", stand, to=after.spot, thing=thing)
            if level.comes_down:
                self.add("lower", "stand", stand, to=level.low, thing=was)
            if level.goes_up:
                self.add("raise", "stand", stand, to=level.end, thing=thing)
            on_before = before is not None and before.weight_on
            on_after = after is not None and after.weight_on
            again = on_before and self.reweighted(stand)
            if on_before and (again or not on_after):
                self.add("free", "counterweight", stand, thing=was)
            if on_after and (again or not on_before):
                self.add("fit", "counterweight", stand, thing=thing)

    def _heads(self) -> None:
        start, goal = self.start, self.goal
        for head in start.heads | goal.heads:
            before = start.heads.get(head, HeadAt(None))
            after = goal.heads.get(head, HeadAt(None))
            if before.stand is not None and head in self.refit_heads:
                to = "hand" if after.stand else "case"
                self.add("free", "head", head, on=before.stand, to=to, thing=head)
            fresh = before.stand != after.stand or head in self.refit_heads
            if after.stand is not None and fresh:
                self.add("fit", "head", head, on=after.stand, thing=head)
            if after.stand is None:
                if before.stand is None:  # somebody has it in hand
                    self.add("free", "head", head, to="case", thing=head)
                if before.armed:
                    self.add("disarm", "head", head, thing=head)
                continue
            if after.aim is not None and (fresh or before.aim != after.aim):
                self.add("aim", "head", head, to=after.aim, thing=head)
            if before.power != after.power:
                self.add("power", "head", head, to=after.power, thing=head)
            if before.armed and (head in self.touched or not after.armed):
                self.add("disarm", "head", head, thing=head)
            if after.armed and (not before.armed or head in self.touched):
                self.add("arm", "head", head, thing=head)
        self._fittings()
        self._cloths()

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

    def _cloths(self) -> None:
        start, goal = self.start, self.goal
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
                self.add("unbag", "bag", bag, on=old.item, to=old, thing=self._bag_thing(old, after=False))
            if new is not None:
                self.add("bag", "bag", bag, on=new.item, to=new, thing=self._bag_thing(new, after=True))

    def _bag_thing(self, hung: Hung, *, after: bool) -> str:
        return self.thing_of_stand(hung.item, after=after) if hung.kind == "stand" else hung.item

    def _panels(self) -> None:
        start, goal = self.start, self.goal
        for panel in start.panels | goal.panels:
            if panel not in start.panels:
                self.add("place", "panel", panel, to=goal.panels[panel], thing=panel)
            elif panel not in goal.panels:
                self.add("strike", "panel", panel, thing=panel)
            elif panel in self.aside:
                self.add("strike", "panel", panel, thing=panel)
                self.add("place", "panel", panel, to=goal.panels[panel], thing=panel)
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
                to = goal.exposure and astuple(goal.exposure)
                self.add("expose", "camera", "camera", to=to, thing="camera")
        if start.subject != goal.subject:
            if self.look_changes:
                self.add("turn", "subject", "subject-off", thing="subject-off")
            self.add("turn", "subject", "subject", to=goal.subject, thing="subject")
