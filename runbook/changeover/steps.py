"""Steps: one action by one or more people on one thing, and what it does to the floor.

``apply`` is a pure function from floor to floor. It refuses what cannot be done by hand at all (a
bag hung on a stand that is not there); what must not be done is the rules' business.
"""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction
from typing import Any, Final, Literal, NamedTuple, TypeVar

from runbook.changeover.floor import Aim, CameraView, Carrier, Floor, HeadAt, Hung, PanelSpot, Spot, StandAt, SubjectAt
from runbook.model.power import Power, stops_below
from runbook.model.setup import Exposure

Verb = Literal[
    "place", "strike", "move", "raise", "lower", "fit", "free", "bag", "unbag", "aim", "power",
    "arm", "disarm", "lens", "expose", "view", "turn", "test",
]  # fmt: skip
Kind = Literal[
    "stand", "panel", "head", "modifier", "accessory", "cloth", "counterweight", "bag", "camera",
    "subject", "set",
]  # fmt: skip
V = TypeVar("V")


class CannotBeDone(ValueError):
    """A step that makes no sense on this floor."""


class Step(NamedTuple):
    """One action. ``n`` counts from 1; ``after`` names the steps that must be done before it.

    ``on`` is what the item is put on or taken off, ``to`` the value it gets. ``grip`` says that
    from this step on somebody holds the stand ``held`` (``take``) or may let it go (``leave``).
    ``thing`` is the light, panel or other thing whose block the step reads in.
    """

    verb: Verb
    kind: Kind
    item: str
    on: str | None = None
    to: Any = None
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

    @property
    def key(self) -> tuple[str, str, str]:
        """What tells this step from the others of its changeover."""
        return self.verb, self.kind, self.item


def _with(table: dict[str, V], key: str, value: V) -> dict[str, V]:
    return table | {key: value}


def _without(table: dict[str, V], key: str) -> dict[str, V]:
    return {name: value for name, value in table.items() if name != key}


def _need(true: bool, what: str) -> None:
    if not true:
        raise CannotBeDone(what)


def _place_stand(floor: Floor, step: Step) -> Floor:
    _need(step.item not in floor.stands, f"{step.item} already stands on the set")
    spot, height = step.to
    return floor._replace(stands=_with(floor.stands, step.item, StandAt(Spot(*spot), height)))


def _place_panel(floor: Floor, step: Step) -> Floor:
    _need(step.item not in floor.panels, f"{step.item} already stands on the set")
    return floor._replace(panels=_with(floor.panels, step.item, PanelSpot(*step.to)))


def _strike_stand(floor: Floor, step: Step) -> Floor:
    _need(step.item in floor.stands, f"{step.item} is not on the set")
    _need(floor.head_on(step.item) is None, f"{step.item} still carries a head")
    _need(not floor.bags_on("stand", step.item), f"{step.item} still carries bags")
    lowered = step.to
    _need(floor.stands[step.item].height_m <= lowered, f"{step.item} is not down yet")
    return floor._replace(stands=_without(floor.stands, step.item), in_hands=floor.in_hands - {step.item})


def _strike_panel(floor: Floor, step: Step) -> Floor:
    _need(step.item in floor.panels, f"{step.item} is not on the set")
    _need(not floor.bags_on("panel", step.item), f"{step.item} still carries bags")
    return floor._replace(panels=_without(floor.panels, step.item))


def _move_stand(floor: Floor, step: Step) -> Floor:
    _need(step.item in floor.stands, f"{step.item} is not on the set")
    _need(not floor.bags_on("stand", step.item), f"{step.item} still carries bags")
    at = floor.stands[step.item]
    return floor._replace(stands=_with(floor.stands, step.item, at._replace(spot=Spot(*step.to))))


def _move_panel(floor: Floor, step: Step) -> Floor:
    _need(step.item in floor.panels, f"{step.item} is not on the set")
    _need(not floor.bags_on("panel", step.item), f"{step.item} still carries bags")
    return floor._replace(panels=_with(floor.panels, step.item, PanelSpot(*step.to)))


def _set_height(floor: Floor, step: Step) -> Floor:
    _need(step.item in floor.stands, f"{step.item} is not on the set")
    at = floor.stands[step.item]
    return floor._replace(stands=_with(floor.stands, step.item, at._replace(height_m=step.to)))


def _fit_head(floor: Floor, step: Step) -> Floor:
    _need(step.on in floor.stands, f"{step.on} is not on the set")
    assert step.on is not None
    _need(floor.head_on(step.on) is None, f"{step.on} already carries a head")
    before = floor.heads.get(step.item, HeadAt(None))
    _need(before.stand is None, f"{step.item} is still on {before.stand}")
    return floor._replace(heads=_with(floor.heads, step.item, HeadAt(step.on, before.power)))


def _free_head(floor: Floor, step: Step) -> Floor:
    head = step.item
    _need(head in floor.heads and floor.heads[head].stand == step.on, f"{head} is not on {step.on}")
    on = floor.stands.get(step.on or "")
    _need(on is None or not on.weight_on, f"{step.on} still has its counterweight on")
    _need(all(head not in beams for beams in floor.cloths.values()), f"a cloth still hangs in front of {head}")
    if step.to == "hand":
        kept = HeadAt(None, floor.heads[head].power)
        return floor._replace(heads=_with(floor.heads, head, kept))
    _need(head not in floor.modifiers.values(), f"{head} still carries its modifier")
    _need(not floor.fitted_on("head", head), f"{head} still carries an accessory")
    return floor._replace(heads=_without(floor.heads, head))


def _fit_modifier(floor: Floor, step: Step) -> Floor:
    _need(step.on in floor.heads, f"{step.on} is in its case")
    _need(step.item not in floor.modifiers, f"{step.item} is on another head")
    _need(step.on not in floor.modifiers.values(), f"{step.on} already carries a modifier")
    assert step.on is not None
    return floor._replace(modifiers=_with(floor.modifiers, step.item, step.on))


def _free_modifier(floor: Floor, step: Step) -> Floor:
    _need(floor.modifiers.get(step.item) == step.on, f"{step.item} is not on {step.on}")
    if step.to == "case":
        _need(not floor.fitted_on("modifier", step.item), f"{step.item} still carries an accessory")
    return floor._replace(modifiers=_without(floor.modifiers, step.item))


def _carrier(step: Step) -> Carrier:
    """What an accessory's step says it sits on; a journal keeps tuples as lists."""
    kind, item, *under = step.to
    return Carrier(kind, item, tuple(under[0]) if under else ())


def _fit_accessory(floor: Floor, step: Step) -> Floor:
    carrier = _carrier(step)
    _need(step.item not in floor.accessories, f"{step.item} is on something else")
    out = floor.heads if carrier.kind == "head" else floor.modifiers
    _need(carrier.item in out, f"{carrier.item} is in its case")
    on = floor.fitted_on(carrier.kind, carrier.item)
    _need(on == carrier.under, f"{step.item} goes on over {', '.join(carrier.under) or 'nothing'}")
    return floor._replace(accessories=_with(floor.accessories, step.item, carrier))


def _free_accessory(floor: Floor, step: Step) -> Floor:
    carrier = _carrier(step)
    _need(floor.accessories.get(step.item) == carrier, f"{step.item} is not there")
    outermost = floor.fitted_on(carrier.kind, carrier.item)[-1]
    _need(outermost == step.item, f"{outermost} is on over {step.item}")
    return floor._replace(accessories=_without(floor.accessories, step.item))


def _fit_cloth(floor: Floor, step: Step) -> Floor:
    _need(step.item not in floor.cloths, f"{step.item} hangs elsewhere")
    beams = frozenset(step.to)
    _need(
        all(head in floor.heads and floor.heads[head].stand for head in beams),
        f"not every head behind {step.item} is up",
    )
    return floor._replace(cloths=_with(floor.cloths, step.item, beams))


def _free_cloth(floor: Floor, step: Step) -> Floor:
    _need(step.item in floor.cloths, f"{step.item} does not hang")
    return floor._replace(cloths=_without(floor.cloths, step.item))


def _weight(on: bool) -> Callable[[Floor, Step], Floor]:
    def hang(floor: Floor, step: Step) -> Floor:
        at = floor.stands.get(step.item)
        if at is None or at.weight_on == on:
            raise CannotBeDone(f"the counterweight of {step.item} is already so")
        return floor._replace(stands=_with(floor.stands, step.item, at._replace(weight_on=on)))

    return hang


def _bag(floor: Floor, step: Step) -> Floor:
    hung = Hung(*step.to)
    _need(step.item not in floor.bags, f"{step.item} hangs elsewhere")
    out = floor.stands if hung.kind == "stand" else floor.panels
    _need(hung.item in out, f"{hung.item} is not on the set")
    return floor._replace(bags=_with(floor.bags, step.item, hung))


def _unbag(floor: Floor, step: Step) -> Floor:
    _need(step.item in floor.bags, f"{step.item} does not hang")
    return floor._replace(bags=_without(floor.bags, step.item))


def _of_head(change: Callable[[HeadAt, Any], HeadAt]) -> Callable[[Floor, Step], Floor]:
    def set_head(floor: Floor, step: Step) -> Floor:
        at = floor.heads.get(step.item)
        if at is None or at.stand is None:
            raise CannotBeDone(f"{step.item} is not on a stand")
        return floor._replace(heads=_with(floor.heads, step.item, change(at, step.to)))

    return set_head


def read_power(value: Power | str) -> Power:
    """A power as a step holds it: the value itself, or ``"3"``/``"10/3"`` stops below full."""
    if isinstance(value, Power):
        return value
    return stops_below(value, Fraction(1)) if value == "off" else Power(Fraction(value))


def _lens(floor: Floor, step: Step) -> Floor:
    if step.to is None:
        return floor._replace(lens=None, exposure=None, view=None)
    return floor._replace(lens=step.to)


def _view(floor: Floor, step: Step) -> Floor:
    return floor._replace(view=None if step.to is None else CameraView(*step.to))


def _expose(floor: Floor, step: Step) -> Floor:
    return floor._replace(exposure=None if step.to is None else Exposure(*step.to))


def _turn(floor: Floor, step: Step) -> Floor:
    return floor._replace(subject=None if step.to is None else SubjectAt(*step.to))


_DOES: Final[dict[tuple[Verb, Kind], Callable[[Floor, Step], Floor]]] = {
    ("place", "stand"): _place_stand,
    ("place", "panel"): _place_panel,
    ("strike", "stand"): _strike_stand,
    ("strike", "panel"): _strike_panel,
    ("move", "stand"): _move_stand,
    ("move", "panel"): _move_panel,
    ("raise", "stand"): _set_height,
    ("lower", "stand"): _set_height,
    ("fit", "head"): _fit_head,
    ("free", "head"): _free_head,
    ("fit", "modifier"): _fit_modifier,
    ("free", "modifier"): _free_modifier,
    ("fit", "accessory"): _fit_accessory,
    ("free", "accessory"): _free_accessory,
    ("fit", "cloth"): _fit_cloth,
    ("free", "cloth"): _free_cloth,
    ("fit", "counterweight"): _weight(on=True),
    ("free", "counterweight"): _weight(on=False),
    ("bag", "bag"): _bag,
    ("unbag", "bag"): _unbag,
    ("aim", "head"): _of_head(lambda at, to: at._replace(aim=Aim(*to))),
    ("power", "head"): _of_head(lambda at, to: at._replace(power=read_power(to))),
    ("arm", "head"): _of_head(lambda at, _: at._replace(armed=True)),
    ("disarm", "head"): _of_head(lambda at, _: at._replace(armed=False)),
    ("lens", "camera"): _lens,
    ("view", "camera"): _view,
    ("expose", "camera"): _expose,
    ("turn", "subject"): _turn,
    ("test", "set"): lambda floor, _: floor._replace(tested=True),
}


def apply(floor: Floor, step: Step) -> Floor:
    """The floor after a step. Raises CannotBeDone where it makes no sense on this floor."""
    after = _DOES[step.verb, step.kind](floor, step)
    if after.tested and step.verb != "test":
        after = after._replace(tested=False)
    if step.grip == "take" and step.held:
        after = after._replace(in_hands=after.in_hands | {step.held})
    elif step.grip == "leave" and step.held:
        after = after._replace(in_hands=after.in_hands - {step.held})
    return after


def to_plain(step: Step) -> dict[str, Any]:
    """What a step does, as a journal can keep it: enough to do it again without the plan."""
    to = step.to
    if isinstance(to, Power):
        to = "off" if to.below_full is None else str(to.below_full)
    return {
        "verb": step.verb,
        "kind": step.kind,
        "item": step.item,
        "on": step.on,
        "to": _listed(to),
        "grip": step.grip,
        "held": step.held,
        "thing": step.thing,
        "text": step.text,
        "seconds": step.seconds,
    }


def _listed(value: Any) -> Any:
    return [_listed(item) for item in value] if isinstance(value, tuple) else value


def from_plain(facts: dict[str, Any]) -> Step:
    """A step from what a journal kept of it. Raises CannotBeDone for facts of no step we know."""
    try:
        step = Step(**facts)
    except TypeError as odd:
        raise CannotBeDone(f"not a step: {odd}") from None
    if (step.verb, step.kind) not in _DOES:
        raise CannotBeDone(f"not a step: {step.verb} {step.kind}")
    return step
