"""One stand through a changeover: its own steps in order, and when somebody must hold it.

Every moment of the way is judged by the same figures as a finished setup. ``unsafe`` is the one
statement of when a stand may not be let go; the steps say from when until when it is held.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Final, Literal, TypeVar

from runbook.changeover.diff import Work, worked_up_to_m
from runbook.changeover.floor import Floor, Spot
from runbook.changeover.steps import Key, apply
from runbook.model.day import Place
from runbook.model.kit import Kit
from runbook.stands.statics import BagsAt, Rig
from runbook.stands.verdict import Fault, Verdict, judge
from runbook.stands.wind import panel_sail, rail_sail

V = TypeVar("V")
_judged: Final = lru_cache(maxsize=1024)(judge)  # the same moments come again and again
_NOTHING: Final = ("head", "")
_BAG_PLACES: Final[tuple[BagsAt, ...]] = ("column", "far legs")


@dataclass(frozen=True, slots=True)
class Moment:
    """A stand at one moment, with what is on it; each bag with where it hangs."""

    spot: Spot
    height_m: float
    head: str | None
    modifier: str | None
    accessories: frozenset[str]
    bags: frozenset[tuple[str, str]]
    weight_on: bool
    panel: str | None = None
    open_deg: int | None = None
    rail: str | None = None

    @property
    def is_loaded(self) -> bool:
        """Whether it carries something."""
        return self.head is not None or self.panel is not None or self.rail is not None


def at_moment(floor: Floor, stand: str) -> Moment | None:
    """Return a stand as it is on a floor; None where it is not on the set."""
    at = floor.stands.get(stand)
    if at is None:
        return None
    kind, load = floor.load_on(stand) or ("head", None)
    head, panel = (load if kind == wanted else None for wanted in ("head", "panel"))
    held = floor.panels[panel] if panel else None
    modifier = floor.modifier_on(head)
    carriers = {("modifier", modifier or ""), ("head", head or "")}
    return Moment(
        at.spot,
        at.height_m,
        head,
        modifier,
        frozenset(item for item, on in floor.accessories.items() if (on.kind, on.item) in carriers),
        frozenset((bag, floor.bags[bag].at) for bag in floor.bags_on("stand", stand)),
        at.weight_on,
        panel,
        held.open_deg if held else None,
        at.rail,
    )


# --- the steps of one stand


def chain_of(work: Work, stand: str, *, old_bags_first: bool) -> list[Key]:
    """Return the steps on one stand in the order they are done.

    Down, off, away or over, bags, on, up. A stand that stays where it is gets its new bags before
    the old ones leave, unless ``old_bags_first`` (they wait for each other) or one bag is only hung
    elsewhere on it.
    """
    start, goal = work.start, work.goal
    gone, come = work.load_before.get(stand, _NOTHING), work.load_after.get(stand, _NOTHING)
    off, on = (
        [key for bag in sorted(floor.bags_on("stand", stand)) if (key := (verb, "bag", bag)) in work.steps]
        for verb, floor in (("unbag", start), ("bag", goal))
    )
    stays = stand in start.stands and stand in goal.stands and stand not in work.moved
    rehung = {bag for *_, bag in off} & {bag for *_, bag in on}
    new_first = stays and not rehung and not old_bags_first
    rails = [str(floor.stands[stand].rail) if stand in floor.stands else "" for floor in (start, goal)]
    chain: list[Key] = [
        ("lower", "cloth", rails[0]),
        ("free", "rail", stand),
        ("lower", "stand", stand),
        ("free", "counterweight", stand),
        *carried(start, gone[1], "free"),
        ("free", *gone),
        *([] if new_first else off),
        ("strike", "stand", stand),
        ("place", "stand", stand),
        ("move", "stand", stand),
        *on,
        *(off if new_first else []),
        ("fit", *come),
        *reversed(carried(goal, come[1], "fit")),
        ("fit", "counterweight", stand),
        ("aim", "panel", come[1]),
        ("raise", "stand", stand),
        ("fit", "rail", stand),
        ("raise", "cloth", rails[1]),
    ]
    return [key for key in chain if key in work.steps]


def carried(floor: Floor, head: str, verb: str) -> list[Key]:
    """Return the steps that fit or free what a head carries on a floor, cloths aside: outermost first."""
    boxes = [modifier for modifier, at in floor.modifiers.items() if at == head]
    small = [item for box in boxes for item in floor.fitted_on("modifier", box)]
    small += floor.fitted_on("head", head)
    return [*((verb, "accessory", item) for item in reversed(small)), *((verb, "modifier", box) for box in boxes)]


def grips(work: Work, stand: str, chain: list[Key]) -> list[bool]:
    """Return for each step of the chain whether somebody must hold the stand after it."""
    now = _without_freed_elsewhere(work, chain)
    began, ends = at_moment(work.start, stand), at_moment(work.goal, stand)
    held = []
    for key in chain:
        step = work.steps[key]
        if step.kind == "cloth" and isinstance(step.to, float):  # the other end is not on this floor
            now = now.put("stands", stand, replace(now.stands[stand], height_m=step.to))
        else:
            now = apply(now, step)
        moment = at_moment(now, stand)
        held.append(
            moment is not None and unsafe(stand, moment, work.kit, work.place, began=began, ends=ends) is not None
        )
    return held


def _without_freed_elsewhere(work: Work, chain: list[Key]) -> Floor:
    """Return the floor at the start without what steps on other stands take off, and without cloths."""
    off = {key[1:] for key in work.steps if key[0] in ("free", "unbag", "strike") and key not in chain}

    def left(kind: str, table: dict[str, V]) -> dict[str, V]:
        return {item: at for item, at in table.items() if (kind, item) not in off}

    floor = work.start
    return Floor(
        floor.stands,
        left("head", floor.heads),
        left("modifier", floor.modifiers),
        left("accessory", floor.accessories),
        panels=left("panel", floor.panels),
        bags=left("bag", floor.bags),
    )


# --- when a stand may not be let go


def unsafe(
    stand: str, now: Moment, kit: Kit, place: Place, *, began: Moment | None = None, ends: Moment | None = None
) -> Fault | Literal["counterweight", "bags"] | None:
    """Return why a stand must be held; None where it may be let go: be it as planned, or as it was.

    A boom has its counterweight on with its head. It stands by the figures, and above reach it has
    the bags it had, as high as it was, or those it is to have.
    """
    if kit.stand[stand].is_boom and now.is_loaded and not now.weight_on:
        return "counterweight"
    faults = worst_at(kit, place, stand, now).faults
    if faults:
        return faults[0]
    high = now.is_loaded and now.height_m > worked_up_to_m(kit.stand[stand].height_min_m, place)
    bagged = ends is not None and now.bags >= ends.bags
    if high and not bagged and not (began is not None and _is_as_it_was(now, began)):
        return "bags"
    return None


def _is_as_it_was(now: Moment, began: Moment) -> bool:
    """Whether a stand is as it was, or lower, or has more bags."""
    same = replace(began, height_m=now.height_m, bags=now.bags, weight_on=now.weight_on) == now
    return same and now.height_m <= began.height_m and now.bags >= began.bags


def must_be_held(stand: str, floor: Floor, goal: Floor, kit: Kit, place: Place, *, before: Floor | None) -> bool:
    """Return whether somebody must hold a stand of this floor, on the way to the goal.

    ``before`` is a floor on which nobody had to: as high, and with the bags, as it was there, a
    load needs no more bags.
    """
    now = at_moment(floor, stand)
    began = None if before is None else at_moment(before, stand)
    return now is not None and unsafe(stand, now, kit, place, began=began, ends=at_moment(goal, stand)) is not None


def off_balance(stand: str, floor: Floor, kit: Kit) -> bool:
    """Return whether a boom has its load on without its counterweight."""
    return kit.stand[stand].is_boom and floor.load_on(stand) is not None and not floor.stands[stand].weight_on


def with_unsafe_held(floor: Floor, kit: Kit, place: Place) -> Floor:
    """Return the floor with every stand in hands that is not safe by itself, as a changeover finds it."""
    held = {stand for stand in floor.stands if must_be_held(stand, floor, floor, kit, place, before=floor)}
    return replace(floor, in_hands=floor.in_hands | held) if held else floor


def rigs_at(kit: Kit, stand: str, now: Moment) -> tuple[Rig, ...]:
    """Return a stand at one moment as it is judged.

    Bags that hang in two places are judged as if all hung in each, so that gives two.
    """
    hung = sorted(now.bags)
    places = {at for _, at in hung} or {"column"}
    stand_and_load = (
        kit.stand[stand],
        now.height_m,
        kit.head[now.head] if now.head else None,
        kit.modifier[now.modifier] if now.modifier else None,
        tuple(kit.accessory[item] for item in sorted(now.accessories)),
        tuple(kit.bag[bag] for bag, _ in hung),
    )
    sail = panel_sail(kit.panel[now.panel], now.open_deg) if now.panel else None
    sail = rail_sail(kit.cloth[now.rail]) if now.rail else sail
    ways = (at for at in _BAG_PLACES if at in places)
    return tuple(Rig(*stand_and_load, at, now.spot.leg_under_load, now.weight_on, sail) for at in ways)


def worst_at(kit: Kit, place: Place, stand: str, now: Moment) -> Verdict:
    """Return the verdict on a stand at one moment; with bags in two places, the worse of the two."""
    verdicts = (_judged(rig, place) for rig in rigs_at(kit, stand, now))
    return min(verdicts, key=lambda verdict: (verdict.ok, verdict.lean_deg))
