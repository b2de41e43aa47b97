"""The kit as it is packed in the morning and counted home at night."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import Final

from runbook.journal.events import Counted, Entry, live
from runbook.model.day import Plan
from runbook.model.kit import Kit
from runbook.model.units import mass

KINDS: Final = (
    "head", "battery", "modifier", "accessory", "stand", "counterweight", "panel", "cloth", "bag",
    "lens",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class KitLine:
    """Things of one kind that are alike: what they are, their labels, and whether the day uses them."""

    kind: str
    what: str
    ids: tuple[str, ...]
    used: bool

    @property
    def many(self) -> int:
        """How many there are."""
        return len(self.ids)


@dataclass(frozen=True, slots=True)
class KitCount:
    """What is missing and what is not counted yet, by kind and label."""

    missing: tuple[tuple[str, str], ...]
    uncounted: tuple[tuple[str, str], ...]


def kit_list(plan: Plan) -> tuple[KitLine, ...]:
    """Everything in the cases, by kind, what the day uses first; like things share a line."""
    used = _used(plan)
    lines: dict[tuple[str, bool, str], list[str]] = {}
    for kind, item, what in _items(plan):
        lines.setdefault((kind, (kind, item) in used, what), []).append(item)
    kit = [KitLine(kind, what, tuple(ids), is_used) for (kind, is_used, what), ids in lines.items()]
    return tuple(sorted(kit, key=lambda line: (KINDS.index(line.kind), not line.used)))


def kit_count(plan: Plan, entries: Iterable[Entry]) -> KitCount:
    """The count of every thing of the kit; the last entry about a thing counts."""
    is_home: dict[tuple[str, str], bool] = {}
    for entry in live(entries):
        if isinstance(entry.data, Counted):
            is_home |= {(entry.data.of, item): True for item in entry.data.home}
            is_home |= {(entry.data.of, item): False for item in entry.data.missing}
    items = [(kind, item) for kind, item, _ in _items(plan)]
    return KitCount(
        tuple(item for item in items if is_home.get(item) is False),
        tuple(item for item in items if item not in is_home),
    )


def _items(plan: Plan) -> Iterator[tuple[str, str, str]]:
    """Kind, label and name of everything that is carried; like things have the same name."""
    kit, units = plan.kit, plan.day.units
    yield from (("head", head.id, head.name or "head") for head in kit.heads)
    yield from (("battery", spare, f"spare battery for {head}") for head, spare in _spare_batteries(kit))
    for modifier in kit.modifiers:
        if not modifier.is_nothing:
            yield "modifier", modifier.id, modifier.name or modifier.shape
    yield from (("accessory", each.id, each.name or each.kind) for each in kit.accessories)
    for stand in kit.stands:
        yield "stand", stand.id, stand.name or stand.kind
        if stand.is_boom and stand.counterweight_kg:
            yield "counterweight", stand.id, f"{mass(stand.counterweight_kg, units)} counterweight"
    yield from (("panel", panel.id, panel.name or "panel") for panel in kit.panels)
    yield from (("cloth", cloth.id, cloth.name or "cloth") for cloth in kit.cloths)
    yield from (("bag", bag.id, bag.name or f"{mass(bag.mass_kg, units)} bag") for bag in kit.bags)
    yield from (("lens", lens.id, lens.name or f"{lens.focal_mm:g} mm") for lens in kit.lenses)


def _spare_batteries(kit: Kit) -> Iterator[tuple[str, str]]:
    """Each spare battery: its head and a label."""
    for head in kit.heads:
        yield from ((head.id, f"{head.id}-spare-{n}") for n in range(1, head.spare_batteries + 1))


def _used(plan: Plan) -> set[tuple[str, str]]:
    """Kind and label of what the setups in the day's order use."""
    used: set[tuple[str, str]] = set()
    for setup in plan.order:
        used.add(("lens", setup.view.lens))
        for light in setup.lights:
            used |= {("head", light.head), ("modifier", light.modifier)}
            used |= {("stand", light.stand), ("counterweight", light.stand)}
            used |= {("accessory", accessory) for accessory in light.accessories}
            used |= {("cloth", cloth) for cloth in light.through} | {("bag", bag) for bag in light.bags}
        for place in setup.panels:
            used |= {("panel", place.panel)} | {("bag", bag) for bag in place.bags}
    # spare batteries go with their heads
    return used | {("battery", spare) for head, spare in _spare_batteries(plan.kit) if ("head", head) in used}
