"""The kit as it is packed in the morning and counted home at night: like with like."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Final, NamedTuple

from runbook.journal.entries import Counted, Entry, live
from runbook.model.day import Plan
from runbook.model.kit import Kit
from runbook.model.setup import Setup
from runbook.model.units import mass

KINDS: Final = (
    "head", "battery", "modifier", "accessory", "stand", "counterweight", "panel", "cloth", "bag",
    "lens",
)  # fmt: skip


class KitLine(NamedTuple):
    """Things of one kind that are alike: what they are, their labels, and whether the day uses
    them."""

    kind: str
    what: str
    ids: tuple[str, ...]
    used: bool

    @property
    def many(self) -> int:
        return len(self.ids)


class KitCount(NamedTuple):
    """How the count stands: what is missing by kind and label, and what nobody counted yet."""

    missing: tuple[tuple[str, str], ...]
    uncounted: tuple[tuple[str, str], ...]


def kit_list(plan: Plan) -> tuple[KitLine, ...]:
    """Everything in the cases, by kind: what the day uses first, like things on one line."""
    used = _used(plan)
    lines: dict[tuple[str, bool, str], list[str]] = {}
    for kind, item, what in _things(plan):
        lines.setdefault((kind, item in used[kind], what), []).append(item)
    packed = [KitLine(kind, what, tuple(ids), here) for (kind, here, what), ids in lines.items()]
    return tuple(sorted(packed, key=lambda line: (KINDS.index(line.kind), not line.used)))


def kit_count(plan: Plan, entries: Iterable[Entry]) -> KitCount:
    """What the count says of every thing of the kit; the last word on a thing counts."""
    found: dict[tuple[str, str], bool] = {}
    for entry in live(entries):
        if isinstance(entry.data, Counted):
            found |= {(entry.data.of, item): True for item in entry.data.home}
            found |= {(entry.data.of, item): False for item in entry.data.missing}
    kit = [(kind, item) for kind, item, _ in _things(plan)]
    return KitCount(
        tuple(thing for thing in kit if found.get(thing) is False), tuple(thing for thing in kit if thing not in found)
    )


def _things(plan: Plan) -> Iterator[tuple[str, str, str]]:
    """Kind, label and name of everything that is carried; like things have the same name."""
    kit, units = plan.kit, plan.day.units
    yield from (("head", head.id, head.name or "head") for head in kit.heads)
    for head_id, spare in _spares(kit):
        yield "battery", spare, f"spare battery for {head_id}"
    for modifier in kit.modifiers:
        if not modifier.is_nothing:
            yield "modifier", modifier.id, modifier.name or modifier.shape
    yield from (("accessory", each.id, each.name or each.kind) for each in kit.accessories)
    for stand in kit.stands:
        yield "stand", stand.id, stand.name or stand.kind
        if stand.is_boom and stand.counterweight_kg:
            weight = mass(stand.counterweight_kg, units)
            yield "counterweight", stand.id, f"{weight} counterweight"
    yield from (("panel", panel.id, panel.name or "panel") for panel in kit.panels)
    yield from (("cloth", cloth.id, cloth.name or "cloth") for cloth in kit.cloths)
    for bag in kit.bags:
        yield "bag", bag.id, bag.name or f"{mass(bag.mass_kg, units)} bag"
    yield from (("lens", lens.id, lens.name or f"{lens.focal_mm:g} mm") for lens in kit.lenses)


def _spares(kit: Kit) -> Iterator[tuple[str, str]]:
    """Each spare battery, by its head and with a label of our own."""
    for head in kit.heads:
        for n in range(1, head.spare_batteries + 1):
            yield head.id, f"{head.id}-spare-{n}"


def _used(plan: Plan) -> dict[str, set[str]]:
    """The labels of what the setups in the day's order use, by kind."""
    used: dict[str, set[str]] = {kind: set() for kind in KINDS}
    for setup in plan.order:
        for kind, items in _of_setup(setup):
            used[kind] |= items
    used["counterweight"] = used["stand"]
    # a spare goes along with its head: what wears a battery down is the day, not the plan
    used["battery"] = {spare for head, spare in _spares(plan.kit) if head in used["head"]}
    return used


def _of_setup(setup: Setup) -> Iterator[tuple[str, set[str]]]:
    yield "lens", {setup.view.lens}
    for light in setup.lights:
        yield "head", {light.head}
        yield "modifier", {light.modifier}
        yield "accessory", set(light.accessories)
        yield "stand", {light.stand}
        yield "cloth", set(light.through)
        yield "bag", set(light.bags)
    for place in setup.panels:
        yield "panel", {place.panel}
        yield "bag", set(place.bags)
