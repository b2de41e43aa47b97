"""What must change between two floors: the steps by key, and the facts their order needs."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping
from dataclasses import replace
from typing import TypeVar

from runbook.changeover.floor import ClothSpot, Floor, HeadAt, PanelOn, PanelSpot, StandAt
from runbook.changeover.steps import CAMERA, Key, Kind, Step, Target, Verb
from runbook.model.day import Place
from runbook.model.kit import Kit

V = TypeVar("V")


def worked_up_to_m(stand_height_min_m: float, place: Place) -> float:
    """The height in m up to which a crew works on a stand.

    A stand that does not come down to a person's reach is worked at its lowest, from a step.
    """
    return max(place.reach_m, stand_height_min_m)


def _changed(
    before: Mapping[str, V], after: Mapping[str, V], again: Collection[str] = ()
) -> Iterator[tuple[str, V | None, V | None]]:
    """Yield what differs, by name, with its value before and after; ``again`` yields what is equal too."""
    for name in {**before, **after}:
        old, new = before.get(name), after.get(name)
        if old != new or name in again:
            yield name, old, new


def _stands(panel: PanelSpot | PanelOn | None) -> bool:
    """Return whether a panel is there and stands by itself."""
    return isinstance(panel, PanelSpot) and not panel.by


class Work:
    """What must change between two floors: the steps, by key, and the facts their order needs."""

    def __init__(  # noqa: PLR0917
        self,
        start: Floor,
        goal: Floor,
        kit: Kit,
        place: Place,
        aside: frozenset[str] = frozenset(),
        put_down: frozenset[str] = frozenset(),
    ) -> None:
        """``aside`` are stands and panels that leave the set on their way to another spot.

        ``put_down`` are panels in hands that stay as they are, and are put down meanwhile to free those hands.
        """
        self.start, self.goal, self.kit, self.place, self.aside = start, goal, kit, place, aside
        self.load_before, self.load_after = start.loads(), goal.loads()
        self.steps: dict[Key, Step] = {}
        # heads on which something is fitted or freed, and panels put on a stand or turned
        self.touched: set[str] = set()
        self.moved = frozenset(
            [name for name, old, new in _changed(start.stands, goal.stands) if old and new and old.spot != new.spot]
            + [name for name, old, new in _changed(start.panels, goal.panels) if _stands(old) and _stands(new)]
        )
        self.refitted = frozenset(
            [head for head, at in start.heads.items() if self._leaves_stand(head, at)]
            + [panel for panel, at in start.panels.items() if isinstance(at, PanelOn) and self._is_refitted(panel, at)]
        )
        self.put_down = put_down
        self.rehung = frozenset(name for name, old in start.hung.items() if not self._stays(old, goal.hung.get(name)))
        self._heads_on_and_off()
        self._fittings()
        self._bags()
        self._head_settings()
        self._panels()
        for stand in start.stands | goal.stands:
            self._stand(stand)
        self._hung_cloths()
        self._camera()
        if goal.tested and (self.steps or not start.tested):
            self.add("test", "set", "set", thing="set")

    @property
    def look_changes(self) -> bool:
        """Whether the talent on the mark leaves it for another look, or for another talent."""
        one, other = self.start.subject, self.goal.subject
        return one is not None and other is not None and one.look != other.look

    def add(self, verb: Verb, kind: Kind, item: str, on: str | None = None, to: Target = None, *, thing: str) -> None:
        """Add a step, with the thing in whose block it reads."""
        self.steps[verb, kind, item] = Step(verb, kind, item, on, to, thing=thing)

    def _thing_of_stand(self, stand: str, *, after: bool) -> str:
        """Return the light or panel in whose block a stand's step reads: the one it carries then.

        ``after`` is for steps done once the old load is off; a stand without a load is its own.
        """
        loads = (self.load_after, self.load_before)
        first, second = loads if after else reversed(loads)
        load = first.get(stand) or second.get(stand)
        return load[1] if load else stand

    def _leaves_stand(self, head: str, at: HeadAt) -> bool:
        after = self.goal.heads.get(head, HeadAt(None))
        return at.stand is not None and (at.stand in self.aside or after.stand != at.stand)

    def _is_refitted(self, panel: str, at: PanelOn) -> bool:
        after = self.goal.panels.get(panel)
        stays = isinstance(after, PanelOn) and (after.stand, after.open_deg) == (at.stand, at.open_deg)
        return at.stand in self.aside or not stays

    # --- what heads carry

    def _heads_on_and_off(self) -> None:
        start, goal = self.start, self.goal
        for head in start.heads | goal.heads:
            before, after = start.heads.get(head), goal.heads.get(head, HeadAt(None))
            if before and (head in self.refitted or not (before.stand or after.stand)):  # off, or out of a hand
                self.add("free", "head", head, before.stand, "hand" if after.stand else "case", thing=head)
            if after.stand and self._comes(head):
                self.add("fit", "head", head, after.stand, thing=head)
                self.touched.add(head)
        self.touched |= self.refitted

    def _comes(self, head: str) -> bool:
        """Whether a head goes on the stand it is to be on."""
        before, after = self.start.heads.get(head), self.goal.heads[head]
        return head in self.refitted or before is None or before.stand != after.stand

    def _fittings(self) -> None:
        start, goal = self.start, self.goal
        for box, was, becomes in _changed(start.modifiers, goal.modifiers):
            if was is not None:
                self.add("free", "modifier", box, was, "hand" if becomes else "case", thing=was)
            if becomes is not None:
                self.add("fit", "modifier", box, becomes, thing=becomes)
            self.touched |= {head for head in (was, becomes) if head}
        verb: Verb
        for item, old, new in _changed(start.accessories, goal.accessories):
            for verb, carrier, floor in (("free", old, start), ("fit", new, goal)):
                if carrier is not None:
                    head = carrier.item if carrier.kind == "head" else floor.modifiers.get(carrier.item)
                    self.add(verb, "accessory", item, carrier.item, carrier, thing=head or carrier.item)
                    self.touched |= {head} if head else set()
        rehung = {cloth for cloth, heads in start.cloths.items() if heads & self.refitted}
        for cloth, before, after in _changed(start.cloths, goal.cloths, again=rehung):
            for verb, heads in (("free", before), ("fit", after)):
                if heads is not None:
                    beams = tuple(sorted(heads))
                    self.add(verb, "cloth", cloth, " ".join(beams), beams if verb == "fit" else None, thing=beams[0])
                    self.touched |= heads

    def _head_settings(self) -> None:
        for head in self.start.heads | self.goal.heads:
            before, after = self.start.heads.get(head, HeadAt(None)), self.goal.heads.get(head, HeadAt(None))
            if after.stand and after.aim and (before.aim != after.aim or self._comes(head)):
                self.add("aim", "head", head, to=after.aim, thing=head)
            if after.stand and before.power != after.power:
                self.add("power", "head", head, to=after.power, thing=head)
            if before.armed and (head in self.touched or not after.armed):
                self.add("disarm", "head", head, thing=head)
            if after.armed and (head in self.touched or not before.armed):
                self.add("arm", "head", head, thing=head)

    def _bags(self) -> None:
        moved = {bag for bag, hung in self.start.bags.items() if hung.item in self.moved}
        verb: Verb
        for bag, old, new in _changed(self.start.bags, self.goal.bags, again=moved):
            for verb, hung in (("unbag", old), ("bag", new)):
                if hung is not None:
                    stand = hung.kind == "stand"
                    thing = self._thing_of_stand(hung.item, after=verb == "bag") if stand else hung.item
                    self.add(verb, "bag", bag, hung.item, hung, thing=thing)

    # --- stands and panels

    def reach_m(self, stand: str) -> float:
        """The height up to which a stand is worked on."""
        return worked_up_to_m(self.kit.stand[stand].height_min_m, self.place)

    def _ends(self, stand: str) -> tuple[StandAt | None, StandAt | None]:
        """Return a stand before and after its own steps: a rail goes up and down on both its stands at once."""
        before, after = self.start.stands.get(stand), self.goal.stands.get(stand)
        if after and after.rail and after.rail in self.start.hung and after.rail not in self.rehung:
            return before, before
        if before and before.rail in self.rehung:
            before = replace(before, height_m=min(before.height_m, self._low_rail_m(self.start.hung[str(before.rail)])))
        if after and after.rail:
            after = replace(after, height_m=self._low_rail_m(self.goal.hung[after.rail]))
        return before, after

    def _low_rail_m(self, spot: ClothSpot) -> float:
        """Return how far down a rail comes: level, as far as both its stands go; as it is where a building holds it."""
        return max((self.kit.stand[stand].height_min_m for stand in spot.held_by), default=spot.rail_m)

    def _low(self, stand: str, before: StandAt | None, after: StandAt | None) -> float:
        """How far down a stand comes on the way."""
        lowest = self.kit.stand[stand].height_min_m
        if before is None:
            return after.height_m if after and after.rail else lowest
        if after is None or stand in self.aside:
            return min(before.height_m, lowest)
        low = min(before.height_m, after.height_m)
        comes_down = self._works_on(stand) or self._comes_down_to_move(stand, before)
        return min(low, self.reach_m(stand)) if comes_down else low

    def _works_on(self, stand: str) -> bool:
        loads = (self.load_before.get(stand), self.load_after.get(stand))
        return not self.touched.isdisjoint(load[1] for load in loads if load)

    def _comes_down_to_move(self, stand: str, before: StandAt) -> bool:
        high = before.height_m > self.place.carry_m and stand in self.load_before
        return stand in self.moved and (self.kit.stand[stand].is_boom or high)

    def _stand(self, stand: str) -> None:
        was, thing = (self._thing_of_stand(stand, after=after) for after in (False, True))
        before, after = self._ends(stand)
        low = self._low(stand, before, after)
        if before and (after is None or stand in self.aside):
            self.add("strike", "stand", stand, to=low, thing=was)
        if after and (before is None or stand in self.aside):
            self.add("place", "stand", stand, to=StandAt(after.spot, low), thing=thing)
        elif after and stand in self.moved:
            self.add("move", "stand", stand, to=after.spot, thing=thing)
        if before and low < before.height_m:
            self.add("lower", "stand", stand, to=low, thing=was)
        if after and after.height_m > low:
            self.add("raise", "stand", stand, to=after.height_m, thing=thing)
        on_before, on_after = (at is not None and at.weight_on for at in (before, after))
        again = on_before and stand in self.load_before and self.load_before[stand][1] in self.refitted
        if on_before and (again or not on_after):
            self.add("free", "counterweight", stand, thing=was)
        if on_after and (again or not on_before):
            self.add("fit", "counterweight", stand, thing=thing)

    def _panels(self) -> None:
        """Add what moves, turns or changes hands: a panel that a person holds is put down and taken anew."""
        for panel, old, new in _changed(self.start.panels, self.goal.panels, self.refitted | self.put_down):
            if isinstance(old, PanelOn) and isinstance(new, PanelOn) and panel not in self.refitted:
                self.add("aim", "panel", panel, new.stand, new, thing=panel)
                self.touched.add(panel)
            elif _stands(old) and _stands(new) and panel not in self.aside:
                self.add("move", "panel", panel, to=new, thing=panel)
            else:
                self._panel_off_and_on(panel, old, new)

    def _panel_off_and_on(self, panel: str, old: PanelSpot | PanelOn | None, new: PanelSpot | PanelOn | None) -> None:
        if isinstance(old, PanelOn):
            self.add("free", "panel", panel, old.stand, thing=panel)
            self.touched.add(panel)
        elif old:
            self.add("strike", "panel", panel, old.by or None, thing=panel)
        if isinstance(new, PanelOn):
            self.add("fit", "panel", panel, new.stand, new, thing=panel)
            self.touched.add(panel)
        elif new:
            self.add("place", "panel", panel, new.by or None, new, thing=panel)

    def _stays(self, old: ClothSpot, new: ClothSpot | None) -> bool:
        """Whether a cloth stays on its rail, which at most goes up or down on its stands, level as it is."""
        level = all(self.start.stands[stand].height_m == old.rail_m for stand in old.held_by)
        kept = new is not None and (old == new or (bool(new.held_by) and replace(old, rail_m=new.rail_m) == new))
        return kept and level and self.moved.isdisjoint(old.held_by)

    def _hung_cloths(self) -> None:
        for cloth, old, new in _changed(self.start.hung, self.goal.hung, again=self.rehung):
            begun, ends = (spot.rail_m if spot else 0.0 for spot in (old, new))
            if old:  # a stand of it may have been raised alone
                begun = max([begun, *(self.start.stands[stand].height_m for stand in old.held_by)])
            if old and cloth in self.rehung:
                self._raise_rail(cloth, old, begun, self._low_rail_m(old))
                self.add("strike", "cloth", cloth, " ".join(old.held_by) or None, thing=cloth)
            if new and (old is None or cloth in self.rehung):
                begun = self._low_rail_m(new)
                self.add(
                    "place", "cloth", cloth, " ".join(new.held_by) or None, replace(new, rail_m=begun), thing=cloth
                )
            if new:
                self._raise_rail(cloth, new, begun, ends)
        for stand, old_at, new_at in _changed(self.start.stands, self.goal.stands, again=self.start.stands):
            was, becomes = (at.rail if at else None for at in (old_at, new_at))
            again = was in self.rehung or stand in self.moved
            if was and (again or was != becomes):
                self.add("free", "rail", stand, was, thing=was)
            if becomes and (again or was != becomes):
                self.add("fit", "rail", stand, becomes, thing=becomes)

    def _raise_rail(self, cloth: str, spot: ClothSpot, begun_m: float, ends_m: float) -> None:
        if begun_m != ends_m:
            verb: Verb = "raise" if ends_m > begun_m else "lower"
            self.add(verb, "cloth", cloth, " ".join(spot.held_by), float(ends_m), thing=cloth)

    # --- camera and talent

    def _camera(self) -> None:
        start, goal = self.start, self.goal
        settings = {verb: (getattr(start, name), getattr(goal, name)) for verb, name in CAMERA.items()}
        packed = not any(new for _, new in settings.values())
        for verb, (old, new) in settings.items():
            if old != new and not packed:
                self.add(verb, "camera", "camera", to=new, thing="camera")
        if packed and any(old for old, _ in settings.values()):
            self.add("lens", "camera", "camera", thing="camera")
        if start.subject != goal.subject:
            if self.look_changes:
                self.add("turn", "subject", "subject-off", thing="subject-off")
            self.add("turn", "subject", "subject", to=goal.subject, thing="subject")
