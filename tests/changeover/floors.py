"""Random kits and setups, and an independent judge of every moment of a changeover."""

from dataclasses import replace
from fractions import Fraction
from functools import cache
from itertools import zip_longest
from math import dist
from typing import Any

from hypothesis import strategies as st

from runbook.changeover.floor import Carrier, Floor, PanelOn, PanelSpot
from runbook.changeover.steps import Step
from runbook.model.day import Place
from runbook.model.kit import Accessory, Bag, Camera, Cloth, Head, Kit, Lens, Modifier, Panel, Stand
from runbook.model.power import OFF, Power
from runbook.model.setup import Background, Exposure, HungCloth, Light, PanelPlace, Setup, Subject, View
from runbook.stands.statics import Rig, Sail
from runbook.stands.verdict import judge
from runbook.stands.wind import panel_sail, rail_sail

HEADS, STANDS, MODIFIERS, BAGS = "ABCD", 5, 4, 5
PLACE = Place(reach_m=1.9, carry_m=2.5)
HEAD = {
    "energy_ws": 200.0, "guide_number_m": 50.0, "power_min": "1/128", "power_step": "1/3", "mass_kg": 2.0,
    "recycle_full_s": 1.5, "recycle_min_s": 0.1,
}  # fmt: skip
STAND = {"kind": "stand", "foot_radius_m": 0.5, "mass_kg": 4.0, "load_max_kg": 20.0, "height_max_m": 3.5}


def kit_of(booms: tuple[bool, ...], tall: tuple[bool, ...], box_kg: float = 1.0) -> Kit:
    """Heads A to D, five stands (some booms, some that do not come down to reach), four boxes.

    Boxes of 3 kg do not stand without a bag even within reach; those of 1 kg do.
    """
    arm = {"arm_m": 1.5, "arm_back_m": 0.7, "counterweight_kg": 5.0, "kind": "boom"}
    stands = tuple(
        Stand(id=f"S{n}", height_min_m=2.0 if high else 1.0, **STAND | (arm if boom else {}))  # type: ignore[arg-type]
        for n, (boom, high) in enumerate(zip(booms, tall, strict=True))
    )
    boxes = tuple(f"M{n}" for n in range(MODIFIERS))
    return Kit(
        heads=tuple(Head(id=name, **HEAD) for name in HEADS),  # type: ignore[arg-type]
        modifiers=tuple(
            Modifier(id=name, shape="round", width_m=0.9, height_m=0.9, depth_m=0.45, mass_kg=box_kg) for name in boxes
        ),
        accessories=tuple(Accessory(id=f"G{n}", kind="grid", fits=("bare", *boxes)) for n in range(3)),
        stands=stands,
        panels=tuple(
            Panel(id=f"P{n}", width_m=1.2, height_m=2.4, reflectance=0.8, mass_kg=2.5, wings=n + 1) for n in range(2)
        ),
        cloths=tuple(
            Cloth(id=name, loss_stops=1.0, width_m=1.5, height_m=2.0, mass_kg=mass_kg)
            for name, mass_kg in (("V", 0.6), ("W", 4.0))
        ),
        bags=tuple(Bag(id=f"B{n}", mass_kg=7.0) for n in range(BAGS)),
        lenses=tuple(Lens(id=mm, focal_mm=float(mm), f_min=1.8, f_max=16.0) for mm in ("85", "50")),
        camera=Camera(),
    )


# a strategy validates itself before its first draw: each is made once, not once a draw
@cache
def one_of(*values: Any) -> st.SearchStrategy[Any]:
    """One of these values."""
    return st.sampled_from(values)


@cache
def in_any_order(*values: str) -> st.SearchStrategy[list[str]]:
    """All of these, shuffled."""
    return st.permutations(values)


_YES_OR_NO, _UP_TO_TWO = st.booleans(), st.integers(0, 2)
_FLAGS = st.one_of(st.just((False,) * STANDS), st.tuples(*[_YES_OR_NO] * STANDS))
_SOME_HEADS = st.lists(st.sampled_from(HEADS), unique=True, max_size=4)
_SOME_CLOTHS = st.lists(st.sampled_from(["V", "W"]), unique=True)
_SOME_PANELS = st.lists(st.sampled_from(["P0", "P1"]), unique=True)


@st.composite
def kits(draw: st.DrawFn) -> Kit:
    booms, tall = draw(_FLAGS), draw(_FLAGS)
    return kit_of(booms, tall, draw(one_of(1.0, 3.0)))


@cache
def _kilograms(low: float, high: float) -> st.SearchStrategy[float]:
    return st.floats(low, high).map(lambda kg: round(kg, 1))


_ANY_STAND = st.fixed_dictionaries(
    {"legs": st.integers(3, 5), "foot_radius_m": st.sampled_from([0.35, 0.5, 0.8]), "mass_kg": _kilograms(2.0, 12.0),
     "load_max_kg": st.sampled_from([4.0, 9.0, 25.0])}
)  # fmt: skip
_NO_BOOM = st.fixed_dictionaries({"kind": st.sampled_from(["stand", "roller"])})
_ANY_BOOM = st.fixed_dictionaries({"counterweight_kg": _kilograms(2.0, 12.0)})
_ANY_BOX = st.fixed_dictionaries(
    {"mass_kg": _kilograms(0.2, 6.0), "depth_m": _kilograms(0.1, 1.2), "cup": st.booleans()}
)
_ANY_PANEL = st.fixed_dictionaries({"mass_kg": _kilograms(0.5, 12.0)})
_ANY_BAG = st.fixed_dictionaries({"mass_kg": _kilograms(2.0, 14.0)})


@st.composite
def heavy_kits(draw: st.DrawFn) -> Kit:
    """Kits as heavy and as odd as they come: four and five legs, rollers, booms, any weights."""
    kit = draw(kits())
    return replace(
        kit,
        stands=tuple(
            replace(stand, **draw(_ANY_STAND), **draw(_ANY_BOOM if stand.is_boom else _NO_BOOM)) for stand in kit.stands
        ),
        modifiers=tuple(replace(box, **draw(_ANY_BOX)) for box in kit.modifiers),
        panels=tuple(replace(panel, **draw(_ANY_PANEL)) for panel in kit.panels),
        bags=tuple(replace(bag, **draw(_ANY_BAG)) for bag in kit.bags),
    )


PLACES = st.builds(
    Place, indoors=st.booleans(), wind_ms=st.sampled_from([0.0, 1.0, 3.0]),
    gust_ms=st.sampled_from([None, 2.0, 4.0, 8.0]), fan_ms=st.sampled_from([0.0, 0.0, 3.0]),
    tilt_limit_deg=st.sampled_from([6.0, 10.0, 15.0]),
)  # fmt: skip

_HEIGHTS = [1.2, 1.7, 1.9, 2.1, 2.3, 2.5, 2.8]


@st.composite
def setups(draw: st.DrawFn, kit: Kit, name: str) -> Setup:
    """A setup of up to four heads, two panels and two hung cloths: few values, so that much is often unchanged.

    A panel stands by itself, or a stand, a boom or one of the crew holds it; a cloth hangs from the building, or from
    a rail on two stands.
    """
    heads = draw(_SOME_HEADS)
    stands = draw(in_any_order(*(stand.id for stand in kit.stands)))
    boxes = draw(in_any_order(*(box.id for box in kit.modifiers)))
    bags = list(draw(in_any_order(*(bag.id for bag in kit.bags))))
    grids = list(draw(in_any_order(*(grid.id for grid in kit.accessories))))
    panels = draw(_SOME_PANELS)
    lights = []
    for head, stand, box in zip(heads, stands, boxes, strict=False):
        low = max(kit.stand[stand].height_min_m, 1.0)
        height = draw(one_of(*(h for h in _HEIGHTS if h >= low)))
        hung = [bags.pop() for _ in range(draw(_UP_TO_TWO)) if bags]
        lights.append(
            Light(
                head=head, role="fill", stand=stand,
                power=draw(one_of(OFF, Power(Fraction(2)), Power(Fraction(10, 3)))), side=draw(one_of("left", "right")),
                angle_deg=draw(one_of(30.0, 60.0)), distance_m=draw(one_of(2.0, 2.5)), height_m=height,
                modifier=draw(one_of("bare", box, box)),
                accessories=tuple(grids.pop() for _ in range(draw(_UP_TO_TWO)) if grids),
                aim=draw(one_of("face", "background", *panels)), through=("V",) if draw(_YES_OR_NO) else (),
                bags=tuple(hung), bags_at=draw(one_of("column", "column", "far legs")), leg_under_load=draw(_YES_OR_NO),
            )
        )  # fmt: skip
    placed = []
    people = list(draw(in_any_order("photo", "first")))
    for panel, stand in zip_longest(panels, stands[len(lights) :][: len(panels)]):
        held_by = draw(one_of(None, stand, stand, people.pop()))
        low = kit.stand[held_by].height_min_m if held_by in kit.stand else 1.0
        hung = [bags.pop() for _ in range(draw(_UP_TO_TWO)) if bags and held_by in (None, stand)]
        placed.append(
            PanelPlace(
                panel=panel, side=draw(one_of("left", "right")), angle_deg=80.0, distance_m=draw(one_of(1.5, 2.0)),
                height_m=draw(one_of(*(h for h in _HEIGHTS if h >= low and h < 2.6))) if held_by else 1.2,
                face_to=draw(one_of("face", *(light.head for light in lights))), held_by=held_by, bags=tuple(hung),
            )
        )  # fmt: skip
    free = [stand for stand in stands[len(lights) + len(panels) :] if not kit.stand[stand].is_boom]
    cloths = []
    for cloth in draw(_SOME_CLOTHS):
        ends = (free.pop(), free.pop()) if len(free) > 1 and draw(_YES_OR_NO) else ()
        cloths.append(
            HungCloth(
                cloth=cloth, side=draw(one_of("left", "right")), angle_deg=draw(one_of(100.0, 150.0)),
                distance_m=draw(one_of(2.5, 3.0)), hem_m=draw(one_of(0.0, 0.0, 0.8)), held_by=ends,
                bags=tuple(bags.pop() for _ in range(draw(_UP_TO_TWO)) if bags and ends),
            )
        )  # fmt: skip
    return Setup(
        id=name, exposure=Exposure(draw(one_of(4.0, 5.6)), "1/160", 100.0),
        view=View(draw(one_of("85", "50")), 2.5, draw(one_of(1.2, 1.5))),
        subject=Subject(draw(one_of(1.25, 1.6)), "left", draw(one_of(0.0, 30.0))),
        background=Background(draw(one_of(2.0, 3.0))), look=draw(one_of(None, "sailor", "sailor", "widow")),
        lights=tuple(lights), panels=tuple(placed), hung_cloths=tuple(cloths),
    )  # fmt: skip


def same(one: Floor, other: Floor) -> bool:
    """Whether two floors are equal, whoever may be holding what."""
    return replace(one, in_hands=frozenset()) == replace(other, in_hands=frozenset())


def _reach(kit: Kit, stand: str) -> float:
    return max(PLACE.reach_m, kit.stand[stand].height_min_m)


def panel_on(floor: Floor, stand: str) -> str | None:
    """The panel that a stand carries."""
    return next((name for name, at in floor.panels.items() if isinstance(at, PanelOn) and at.stand == stand), None)


def loaded(floor: Floor, stand: str) -> bool:
    """Whether a stand carries a head, a panel or an end of a rail."""
    return floor.head_on(stand) is not None or panel_on(floor, stand) is not None or bool(floor.stands[stand].rail)


def _load(floor: Floor, stand: str) -> tuple[str | None, frozenset[str], frozenset[str], object]:
    """What hangs on a stand: its head, and what the head carries; its panel as that is turned; or a cloth's rail."""
    if (at := floor.stands.get(stand)) and at.rail:
        return at.rail, frozenset(), frozenset(), None
    head = floor.head_on(stand)
    boxes = frozenset(box for box, on in floor.modifiers.items() if on == head)
    carriers = {("modifier", box) for box in boxes} | {("head", str(head))}
    small = frozenset(item for item, on in floor.accessories.items() if (on.kind, on.item) in carriers)
    panel = panel_on(floor, stand)
    return head, boxes, small, (panel, floor.panels[panel].open_deg) if panel else None


def unsafe(floor: Floor, start: Floor, goal: Floor, kit: Kit) -> list[str]:
    """What is wrong with a moment between two setups, by the rules as a crew would state them."""
    wrong = [
        f"{cloth}: its rail is not level"
        for cloth, at in floor.hung.items()
        if any(floor.stands[stand].height_m != at.rail_m for stand in at.held_by)
    ]
    for stand, at in floor.stands.items():
        held, full = stand in floor.in_hands, loaded(floor, stand)
        if kit.stand[stand].is_boom:
            if at.weight_on and not full:
                wrong.append(f"{stand}: counterweight on without its load")
            if full and not at.weight_on and not held:
                wrong.append(f"{stand}: let go with its load on without its counterweight")
        if not full or at.height_m <= _reach(kit, stand) or held:
            continue
        bags = {bag: floor.bags[bag] for bag in floor.bags_on("stand", stand)}
        was, becomes = ({bag: end.bags[bag] for bag in end.bags_on("stand", stand)} for end in (start, goal))
        as_it_was = (
            stand in start.stands
            and at.spot == start.stands[stand].spot
            and at.height_m <= start.stands[stand].height_m
            and _load(floor, stand) == _load(start, stand)
            and was.items() <= bags.items()
        )
        if not as_it_was and not becomes.items() <= bags.items():
            wrong.append(f"{stand}: high, with {sorted(bags)} of {sorted(becomes)}")
    return wrong


def falls(floor: Floor, start: Floor, kit: Kit, place: Place = PLACE) -> list[str]:
    """Stands that nobody holds and that would not stand: by the figures, not by any rule of thumb.

    A stand that nobody has touched is the business of whoever left it so.
    """
    wrong = []
    for stand in floor.stands.keys() - floor.in_hands:
        if _as_it_stands(floor, stand) == _as_it_stands(start, stand):
            continue
        faults = faults_of(floor, stand, kit, place)
        if faults:
            wrong.append(f"{stand}: {faults}, nobody holds it")
    return wrong


def faults_of(floor: Floor, stand: str, kit: Kit, place: Place = PLACE) -> tuple[str, ...]:
    """The faults of a stand as it is on a floor."""
    return judge(_rig(floor, stand, kit), place).faults


def _as_it_stands(floor: Floor, stand: str) -> object:
    hung = {bag: floor.bags[bag] for bag in floor.bags_on("stand", stand)}
    return floor.stands.get(stand), _load(floor, stand), hung


def _rig(floor: Floor, stand: str, kit: Kit) -> Rig:
    head, boxes, small, _ = _load(floor, stand)
    hung = floor.bags_on("stand", stand)
    at = floor.stands[stand]
    return Rig(
        kit.stand[stand], at.height_m, kit.head[str(head)] if head and not at.rail else None,
        next((kit.modifier[box] for box in boxes), None), tuple(kit.accessory[item] for item in small),
        tuple(kit.bag[bag] for bag in hung),
        "far legs" if any(floor.bags[bag].at == "far legs" for bag in hung) else "column", at.spot.leg_under_load,
        at.weight_on, _sail(floor, stand, kit),
    )  # fmt: skip


def _sail(floor: Floor, stand: str, kit: Kit) -> Sail | None:
    rail, panel = floor.stands[stand].rail, panel_on(floor, stand)
    if rail:
        return rail_sail(kit.cloth[rail])
    return panel_sail(kit.panel[panel], floor.panels[panel].open_deg) if panel else None


def forbidden(step: Step, floor: Floor, kit: Kit) -> list[str]:
    """What is wrong with doing a step on this floor."""
    wrong = []
    if step.kind == "panel" and step.verb in ("fit", "free", "aim") and step.on in floor.stands:
        if floor.stands[str(step.on)].height_m > _reach(kit, str(step.on)):
            wrong.append(f"{step.key}: {step.item} is out of reach")
    elif step.verb in ("fit", "free"):
        for head in _worked_on(step, floor):
            at = floor.heads.get(head)
            if at is not None and at.armed:
                wrong.append(f"{step.key}: {head} is armed")
            stand = (at.stand if at is not None else None) or (step.on if step.kind == "head" else None)
            if stand and floor.stands[stand].height_m > _reach(kit, stand):
                wrong.append(f"{step.key}: {head} is out of reach")
    wrong += _rail_out_of_reach(step, floor, kit)
    if step.verb == "move" and step.kind == "stand":
        at_stand = floor.stands[step.item]
        if kit.stand[step.item].is_boom and at_stand.height_m > _reach(kit, step.item):
            wrong.append(f"{step.item}: a boom moves while it is up")
        if loaded(floor, step.item) and at_stand.height_m > max(PLACE.carry_m, _reach(kit, step.item)):
            wrong.append(f"{step.item}: a high load moves while it is up")
    return wrong


def _rail_out_of_reach(step: Step, floor: Floor, kit: Kit) -> list[str]:
    if step.kind != "rail" and step.key[:2] not in (("place", "cloth"), ("strike", "cloth")):
        return []
    ends = [step.item] if step.kind == "rail" else str(step.on or "").split()
    lowest_m = max(stand.height_min_m for stand in kit.stands)  # level: as far down as the taller of its stands
    high = any(floor.stands[stand].height_m > max(PLACE.reach_m, lowest_m) for stand in ends)
    return [f"{step.key}: the rail is out of reach"] if high else []


def _worked_on(step: Step, floor: Floor) -> set[str]:
    if isinstance(step.to, Carrier):
        return {step.to.item if step.to.kind == "head" else floor.modifiers.get(step.to.item, "")}
    on = {"head": step.item, "counterweight": floor.head_on(step.item)}.get(step.kind, step.on)
    return set(str(on or "").split())


def taken(step: Step, now: Floor, goal: Floor) -> list[str]:
    """What still stands where a step puts a stand or a panel, and is to leave: by raw distance."""
    if step.verb not in ("place", "move") or step.kind not in ("stand", "panel"):
        return []
    mine = _middle(step.kind, step.item, goal)
    wrong = []
    standing = {name: at for name, at in now.panels.items() if isinstance(at, PanelSpot)}
    for kind, table, other in (("stand", now.stands, goal.stands), ("panel", standing, goal.panels)):
        for item in table.keys() - {step.item}:
            stays = item in other and _middle(kind, item, now) == _middle(kind, item, goal)
            if not stays and dist(mine, _middle(kind, item, now)) < 0.1:
                wrong.append(f"{step.item} goes where {item} still stands")
    return wrong


def _middle(kind: str, item: str, floor: Floor) -> tuple[float, float]:
    at = floor.stands[item].spot if kind == "stand" else floor.panel_spot(item)
    return at.x, at.y


def look_on_the_mark(step: Step, floor: Floor) -> list[str]:
    """What is wrong with a talent who comes while another look is still there.

    Nobody can be made to leave: where that step is skipped, this is what was asked for.
    """
    if step.verb != "turn" or step.to is None or floor.subject is None:
        return []
    return [] if step.to.look == floor.subject.look else ["another look is still on the mark"]
