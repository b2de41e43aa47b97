"""Steps: one action by one or more people on one thing, and what it does to the floor.

``apply`` is a pure function from floor to floor. It refuses what cannot be done by hand at all (a
bag hung on a stand that is not there); what must not be done is the rules' business.
"""

from __future__ import annotations

import tomllib
from collections.abc import Callable
from dataclasses import dataclass, fields, is_dataclass, replace
from fractions import Fraction
from pathlib import Path
from typing import Any, Final, Literal

from runbook.changeover.floor import (
    Aim,
    CameraView,
    Carrier,
    ClothSpot,
    Floor,
    HeadAt,
    Hung,
    PanelOn,
    PanelSpot,
    Spot,
    StandAt,
    SubjectAt,
    held_by,
)
from runbook.model.kit import Kit
from runbook.model.power import OFF, Power
from runbook.model.setup import Exposure

Verb = Literal[
    "place", "strike", "move", "raise", "lower", "fit", "free", "bag", "unbag", "aim", "power",
    "arm", "disarm", "lens", "expose", "view", "turn", "test",
]  # fmt: skip
Kind = Literal[
    "stand", "panel", "head", "modifier", "accessory", "cloth", "rail", "counterweight", "bag", "camera",
    "subject", "set",
]  # fmt: skip
Key = tuple[str, str, str]
# What an item gets: a stand its place, spot or height in m, a cloth the heads behind it, what comes off its next
# place ("hand" or "case"), the camera a lens by id.
Target = (
    StandAt | Spot | PanelSpot | PanelOn | ClothSpot | Hung | Carrier | Aim | Power | Exposure | CameraView
    | SubjectAt
    | tuple[str, ...] | float | str | None
)  # fmt: skip

# Seconds of a step that nobody has timed, by verb and kind, where a boom counts as its own kind of stand.
DEFAULT_S: Final[dict[tuple[str, str], float]] = {
    (verb, kind): float(seconds)
    for verb, kinds in tomllib.loads(Path(__file__).with_name("durations.toml").read_text("utf-8")).items()
    for kind, seconds in kinds.items()
}


class CannotBeDone(ValueError):
    """A step that makes no sense on this floor."""


@dataclass(frozen=True, slots=True)
class Step:
    """One action. ``n`` counts from 1; ``after`` names the steps that must be done before it.

    ``on`` is what the item is put on or taken off, ``to`` what it gets. ``grip`` says that from
    this step on somebody holds the stand ``held`` (``take``) or may let it go (``leave``); where a
    rail goes up or down that may be both its stands. ``thing`` is the light, panel or other thing whose block the step
    reads in. ``busy`` are those of the crew who hold a panel meanwhile, and have no hands for it.
    """

    verb: Verb
    kind: Kind
    item: str
    on: str | None = None
    to: Target = None
    grip: Literal["take", "leave"] | None = None
    held: str | None = None
    thing: str = ""
    n: int = 0
    after: tuple[int, ...] = ()
    text: str = ""
    seconds: float = 0.0
    hands: int = 1
    why_hands: str = ""
    ahead: bool = False
    busy: tuple[str, ...] = ()

    @property
    def hands_on(self) -> frozenset[str]:
        """The stands that are held or let go."""
        return frozenset((self.held or "").split())

    @property
    def moves_rail(self) -> bool:
        """Whether it raises or lowers a rail on both its stands."""
        return self.kind == "cloth" and self.verb in ("raise", "lower")

    @property
    def key(self) -> Key:
        """What tells this step from the others of its changeover."""
        return self.verb, self.kind, self.item


def step_seconds(step: Step, kit: Kit) -> float:
    """Return the default duration of a step in seconds."""
    boom = step.kind == "stand" and kit.stand[step.item].is_boom
    return DEFAULT_S[step.verb, "boom" if boom else step.kind]


def _need(true: bool, what: str) -> None:
    if not true:
        raise CannotBeDone(what)


def _stand(floor: Floor, step: Step) -> Floor:
    name, at = step.item, floor.stands.get(step.item)
    if isinstance(step.to, StandAt):
        _need(at is None, f"{name} already stands on the set")
        return floor.put("stands", name, step.to)
    if at is None:
        raise CannotBeDone(f"{name} is not on the set")
    match step.verb, step.to:
        case (("raise" | "lower"), (float() | int()) as height_m):
            hung = floor.hung.get(at.rail or "")
            level = hung is None or hung.rail_m == height_m
            _need(level, f"{name} still carries {at.rail}, which goes up and down level")
            return floor.put("stands", name, replace(at, height_m=height_m))
        case "move", Spot() as spot:
            _need(not floor.bags_on("stand", name), f"{name} still carries bags")
            _need(at.rail is None, f"{name} still carries a rail")
            return floor.put("stands", name, replace(at, spot=spot))
        case "strike", (float() | int()) as lowest_m:
            _need(floor.load_on(name) is None, f"{name} still carries its load")
            _need(not floor.bags_on("stand", name), f"{name} still carries bags")
            _need(at.height_m <= lowest_m, f"{name} is not down yet")
            return replace(floor.without("stands", name), in_hands=floor.in_hands - {name})
    raise CannotBeDone(f"not a step: {step.verb} stand to {step.to}")


def _panel(floor: Floor, step: Step) -> Floor:
    name, at = step.item, floor.panels.get(step.item)
    if step.verb in ("place", "fit"):
        _need(at is None, f"{name} is already on the set")
    else:
        _need(at is not None, f"{name} is not on the set")
        _need(not floor.bags_on("panel", name), f"{name} still carries bags")
    if step.verb == "fit":
        _need_free_stand(floor, step)
    elif step.verb in ("free", "aim"):
        _need(isinstance(at, PanelOn) and at.stand == step.on, f"{name} is not on {step.on}")
    else:
        _need(not isinstance(at, PanelOn), f"{name} is still on a stand")
    if isinstance(step.to, PanelSpot) and step.to.by:
        held = next((other for other, there in floor.panels.items() if held_by(there) == step.to.by), None)
        _need(held is None, f"{step.to.by} still holds {held}")
    if step.verb == "free":
        _need(not floor.stands[str(step.on)].weight_on, f"{step.on} still has its counterweight on")
    return floor.without("panels", name) if step.verb in ("strike", "free") else floor.put("panels", name, step.to)


def _need_free_stand(floor: Floor, step: Step) -> None:
    _need(step.on in floor.stands, f"{step.on} is not on the set")
    _need(floor.load_on(str(step.on)) is None, f"{step.on} already carries a load")


def _head(floor: Floor, step: Step) -> Floor:
    head, at = step.item, floor.heads.get(step.item, HeadAt(None))
    match step.verb, step.to:
        case "fit", _:
            _need_free_stand(floor, step)
            _need(at.stand is None, f"{head} is still on {at.stand}")
            return floor.put("heads", head, HeadAt(step.on, at.power))
        case "free", _:
            return _free_head(floor, step)
    _need(at.stand is not None, f"{head} is not on a stand")
    match step.verb, step.to:
        case "aim", Aim() as aim:
            at = replace(at, aim=aim)
        case "power", Power() as power:
            at = replace(at, power=power)
        case _:
            at = replace(at, armed=step.verb == "arm")
    return floor.put("heads", head, at)


def _free_head(floor: Floor, step: Step) -> Floor:
    head, stand = step.item, floor.stands.get(step.on or "")
    _need(head in floor.heads and floor.heads[head].stand == step.on, f"{head} is not on {step.on}")
    _need(stand is None or not stand.weight_on, f"{step.on} still has its counterweight on")
    _need(all(head not in beams for beams in floor.cloths.values()), f"a cloth still hangs in front of {head}")
    if step.to == "hand":
        return floor.put("heads", head, HeadAt(None, floor.heads[head].power))
    _need(head not in floor.modifiers.values(), f"{head} still carries its modifier")
    _need(not floor.fitted_on("head", head), f"{head} still carries an accessory")
    return floor.without("heads", head)


def _modifier(floor: Floor, step: Step) -> Floor:
    box, on = step.item, step.on
    if step.verb == "fit":
        _need(on in floor.heads, f"{on} is in its case")
        _need(box not in floor.modifiers, f"{box} is on another head")
        _need(on not in floor.modifiers.values(), f"{on} already carries a modifier")
        return floor.put("modifiers", box, on)
    _need(floor.modifiers.get(box) == on, f"{box} is not on {on}")
    _need(step.to != "case" or not floor.fitted_on("modifier", box), f"{box} still carries an accessory")
    return floor.without("modifiers", box)


def _accessory(floor: Floor, step: Step) -> Floor:
    item, carrier = step.item, step.to
    if not isinstance(carrier, Carrier):
        raise CannotBeDone(f"not a step: {step.verb} accessory to {carrier}")
    fitted = floor.fitted_on(carrier.kind, carrier.item)
    if step.verb == "fit":
        _need(item not in floor.accessories, f"{item} is on something else")
        out = floor.heads if carrier.kind == "head" else floor.modifiers
        _need(carrier.item in out, f"{carrier.item} is in its case")
        _need(fitted == carrier.under, f"{item} goes on over {', '.join(carrier.under) or 'nothing'}")
        return floor.put("accessories", item, carrier)
    _need(floor.accessories.get(item) == carrier, f"{item} is not there")
    _need(fitted[-1] == item, f"{fitted[-1]} is on over {item}")
    return floor.without("accessories", item)


def _hung_cloth(floor: Floor, step: Step) -> Floor:
    """Hang a cloth or take it down; or raise or lower its rail, on both stands at once."""
    cloth, at = step.item, floor.hung.get(step.item)
    if isinstance(step.to, ClothSpot):
        _need(at is None and cloth not in floor.cloths, f"{cloth} hangs elsewhere")
        ends = [floor.stands[stand].rail for stand in step.to.held_by if stand in floor.stands]
        _need(ends == [cloth] * len(step.to.held_by), f"the rail of {cloth} is not on its stands")
        return floor.put("hung", cloth, step.to)
    if at is None:
        raise CannotBeDone(f"{cloth} does not hang")
    if step.verb == "strike":
        return floor.without("hung", cloth)
    if not isinstance(step.to, float):
        raise CannotBeDone(f"not a step: {step.verb} cloth to {step.to}")
    stands = {name: replace(on, height_m=step.to) for name, on in floor.stands.items() if on.rail == cloth}
    return replace(floor.put("hung", cloth, replace(at, rail_m=step.to)), stands=floor.stands | stands)


def _rail(floor: Floor, step: Step) -> Floor:
    stand, cloth, at = step.item, step.on, floor.stands.get(step.item)
    if at is None:
        raise CannotBeDone(f"{stand} is not on the set")
    if step.verb == "fit":
        _need(at.rail is None and floor.load_on(stand) is None, f"{stand} carries something else")
        return floor.put("stands", stand, replace(at, rail=cloth))
    _need(at.rail == cloth, f"the rail of {cloth} is not on {stand}")
    hung = floor.hung.get(str(cloth))
    _need(hung is None or stand not in hung.held_by, f"{cloth} still hangs on it")
    return floor.put("stands", stand, replace(at, rail=None))


def _cloth(floor: Floor, step: Step) -> Floor:
    if step.verb not in ("fit", "free"):
        return _hung_cloth(floor, step)
    if step.verb == "free":
        _need(step.item in floor.cloths, f"{step.item} does not hang")
        return floor.without("cloths", step.item)
    beams = step.to if isinstance(step.to, tuple) else ()
    up = {head for head, at in floor.heads.items() if at.stand}
    _need(step.item not in floor.cloths and step.item not in floor.hung, f"{step.item} hangs elsewhere")
    _need(up.issuperset(beams), f"not every head behind {step.item} is up")
    return floor.put("cloths", step.item, frozenset(beams))


def _counterweight(floor: Floor, step: Step) -> Floor:
    at, on = floor.stands.get(step.item), step.verb == "fit"
    if at is None or at.weight_on == on:
        raise CannotBeDone(f"the counterweight of {step.item} is already so")
    return floor.put("stands", step.item, replace(at, weight_on=on))


def _bag(floor: Floor, step: Step) -> Floor:
    if step.verb == "unbag":
        _need(step.item in floor.bags, f"{step.item} does not hang")
        return floor.without("bags", step.item)
    if not isinstance(step.to, Hung):
        raise CannotBeDone(f"not a step: bag to {step.to}")
    _need(step.item not in floor.bags, f"{step.item} hangs elsewhere")
    by_itself = {name for name, at in floor.panels.items() if isinstance(at, PanelSpot) and not at.by}
    out = floor.stands.keys() if step.to.kind == "stand" else by_itself
    _need(step.to.item in out, f"{step.to.item} is not on the set")
    return floor.put("bags", step.item, step.to)


CAMERA: Final[dict[Verb, str]] = {"lens": "lens", "view": "view", "expose": "exposure"}  # what of a floor a verb sets


def _camera(floor: Floor, step: Step) -> Floor:
    if step.verb == "lens" and step.to is None:
        return replace(floor, lens=None, exposure=None, view=None)
    to: Any = step.to
    return replace(floor, **{CAMERA[step.verb]: to})


_DO: Final[dict[str, Callable[[Floor, Step], Floor]]] = {
    "stand": _stand,
    "panel": _panel,
    "head": _head,
    "modifier": _modifier,
    "accessory": _accessory,
    "cloth": _cloth,
    "rail": _rail,
    "counterweight": _counterweight,
    "bag": _bag,
    "camera": _camera,
    "subject": lambda floor, step: replace(floor, subject=step.to if isinstance(step.to, SubjectAt) else None),
    "set": lambda floor, _: replace(floor, tested=True),
}


def apply(floor: Floor, step: Step) -> Floor:
    """Return the floor after a step. Raises CannotBeDone where it makes no sense on this floor."""
    after = _DO[step.kind](floor, step)
    in_hands = after.in_hands
    if step.held and step.grip:
        # of the stands of a rail those that are not held on may be let go
        in_hands -= step.hands_on | frozenset(str(step.on).split() if step.moves_rail else ())
        if step.grip == "take":
            in_hands |= step.hands_on
    tested = step.verb == "test"
    if after.tested != tested or in_hands != after.in_hands:
        after = replace(after, tested=tested, in_hands=in_hands)
    return after


def is_in_hands(step: Step) -> bool:
    """Return whether one of the crew takes a panel in hand, or puts it down: ``on`` is that person."""
    return step.kind == "panel" and step.verb in ("place", "strike") and step.on is not None


# --- steps in a journal

# How the value of a step is read back from the list that a journal keeps.
_READ: Final[dict[tuple[str, str], Callable[..., Target]]] = {
    ("place", "stand"): lambda spot, height_m, *_: StandAt(Spot(*spot), height_m),
    ("move", "stand"): Spot,
    ("place", "panel"): PanelSpot,
    ("move", "panel"): PanelSpot,
    ("fit", "panel"): PanelOn,
    ("aim", "panel"): PanelOn,
    ("place", "cloth"): lambda x, y, rail_m, bearing_deg, held_by=(): ClothSpot(
        x, y, rail_m, bearing_deg, tuple(held_by)
    ),
    ("fit", "accessory"): lambda kind, item, under=(): Carrier(kind, item, tuple(under)),
    ("free", "accessory"): lambda kind, item, under=(): Carrier(kind, item, tuple(under)),
    ("fit", "cloth"): lambda *beams: beams,
    ("bag", "bag"): Hung,
    ("unbag", "bag"): Hung,
    ("aim", "head"): Aim,
    ("view", "camera"): CameraView,
    ("expose", "camera"): Exposure,
    ("turn", "subject"): SubjectAt,
}
_KEPT: Final = ("verb", "kind", "item", "on", "grip", "held", "thing", "text", "seconds")


def to_plain(step: Step) -> dict[str, Any]:
    """Return what a step does, as a journal can keep it: enough to do it again without the plan."""
    return {name: getattr(step, name) for name in _KEPT} | {"to": _plain(step.to)}


def _plain(value: Any) -> Any:
    if isinstance(value, Power):
        return "off" if value.below_full is None else str(value.below_full)
    if is_dataclass(value):
        return [_plain(getattr(value, each.name)) for each in fields(value)]
    return [_plain(each) for each in value] if isinstance(value, tuple) else value


def from_plain(facts: dict[str, Any]) -> Step:
    """Return a step from what a journal kept of it. Raises CannotBeDone for facts of no step we know."""
    try:
        step = Step(**facts)
        _ = DEFAULT_S[step.verb, step.kind]
        if isinstance(step.to, list | tuple):
            return replace(step, to=_READ[step.verb, step.kind](*step.to))
        if step.verb == "power":
            return replace(step, to=OFF if step.to == "off" else Power(Fraction(str(step.to))))
    except (TypeError, KeyError, ValueError) as odd:
        raise CannotBeDone(f"not a step: {odd}") from None
    return step
