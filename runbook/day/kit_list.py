"""The kit as it is packed in the morning and counted home at night."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import Final

from runbook.changeover.floor import Floor, floor_of
from runbook.journal.events import Counted, Entry, live
from runbook.model.day import Plan
from runbook.model.kit import Kit
from runbook.model.units import mass

Item = tuple[str, str]  # kind and label
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


@dataclass(frozen=True, slots=True)
class KitCount:
    """What is missing and what is not counted yet, by kind and label."""

    missing: tuple[Item, ...]
    uncounted: tuple[Item, ...]


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
    is_home: dict[Item, bool] = {}
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
    """Yield kind, label and name of everything that is carried; like things have the same name."""
    kit, units = plan.kit, plan.day.units
    yield from (("head", head.id, head.name or "head") for head in kit.heads)
    yield from (("battery", spare, f"spare battery for {head}") for head, spare in _spare_batteries(kit))
    modifiers = (modifier for modifier in kit.modifiers if not modifier.is_nothing)
    yield from (("modifier", modifier.id, modifier.name or modifier.shape) for modifier in modifiers)
    yield from (("accessory", accessory.id, accessory.name or accessory.kind) for accessory in kit.accessories)
    for stand in kit.stands:
        yield "stand", stand.id, stand.name or stand.kind
        if stand.is_boom and stand.counterweight_kg:
            yield "counterweight", stand.id, f"{mass(stand.counterweight_kg, units)} counterweight"
    yield from (("panel", panel.id, panel.name or "panel") for panel in kit.panels)
    yield from (("cloth", cloth.id, cloth.name or "cloth") for cloth in kit.cloths)
    yield from (("bag", bag.id, bag.name or f"{mass(bag.mass_kg, units)} bag") for bag in kit.bags)
    yield from (("lens", lens.id, lens.name or f"{lens.focal_mm:g} mm") for lens in kit.lenses)


def _spare_batteries(kit: Kit) -> list[tuple[str, str]]:
    """Return each spare battery: its head and a label."""
    return [(head.id, f"{head.id}-spare-{n}") for head in kit.heads for n in range(1, head.spare_batteries + 1)]


def items_on_floor(floor: Floor) -> set[Item]:
    """Return kind and label of what stands on a floor, or hangs, lies or sits on something there."""
    items: dict[str, Iterable[str]] = {
        "head": floor.heads,
        "modifier": floor.modifiers,
        "accessory": floor.accessories,
        "stand": floor.stands,
        "counterweight": (stand for stand, at in floor.stands.items() if at.weight_on),
        "panel": floor.panels,
        "cloth": (*floor.cloths, *floor.hung),
        "bag": floor.bags,
        "lens": () if floor.lens is None else (floor.lens,),
    }
    return {(kind, item) for kind, labels in items.items() for item in labels}


def _used(plan: Plan) -> set[Item]:
    """Return kind and label of what the setups in the day's order use; spare batteries go with their heads."""
    used = {item for setup in plan.order for item in items_on_floor(floor_of(setup, plan.kit))}
    return used | {("battery", spare) for head, spare in _spare_batteries(plan.kit) if ("head", head) in used}
