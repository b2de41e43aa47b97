"""A setup as it really was: as the journal froze it, as it was changed, or as its floor stands.

A ``changed`` entry says which target was changed. What a skipped step left undone is on the floor
alone, so a floor can be read back into the setup it makes. Once something of a setup is shot or
metered, an entry holds all of it (``AsStood``), and later edits of the plan leave that alone.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Set
from contextlib import suppress
from dataclasses import asdict, dataclass, fields, replace
from math import atan2, degrees, hypot
from typing import Any, Final

from runbook.changeover.floor import Floor, HeadAt, PanelOn, PanelSpot, StandAt, aim_of
from runbook.changeover.stand_sequence import off_balance
from runbook.changeover.steps import CannotBeDone, Step, apply
from runbook.files.validate import parse, plain
from runbook.journal.events import AsStood, Changed, Entry
from runbook.model.geometry import Side, ground_radius
from runbook.model.kit import Kit
from runbook.model.power import OFF, Dial, stops_below
from runbook.model.setup import Background, Exposure, HungCloth, Light, PanelPlace, Setup, Subject, View

_NAMES_IT: Final = ("head", "panel")  # another name is another thing


@dataclass(frozen=True, slots=True)
class Stood:
    """A setup as it really stood, and in words what of that no setup's file can say."""

    setup: Setup
    words: tuple[str, ...] = ()


# -- targets changed on the spot -------------------------------------------------------------------


def as_shot(setup: Setup, changes: Iterable[Entry], dials: Mapping[str, Dial]) -> Setup:
    """Return the setup with its changes applied, in order.

    ``dials`` are the heads' own, by head: 0.3 of a stop is a third only on a third-stop dial, which
    is what a head without one is taken to have. A change that no longer fits is left out.
    """
    for entry in changes:
        if entry.data.setup == setup.id:
            with suppress(LookupError, ValueError):
                setup = _changed(setup, entry.data, dials)
    return setup


def _changed(setup: Setup, change: Changed, dials: Mapping[str, Dial]) -> Setup:
    """Raises LookupError when there is no such thing, ValueError when the value does not fit."""
    key, now = change.key, change.now
    if change.of == "head" and key == "head":
        return _with_head(setup, change.item, str(now))
    if change.of == "head":
        light = setup.light[change.item]
        if key == "power" and light.head in dials:
            now = dials[light.head].read(str(now))  # type: ignore[assignment]
        new = _with(light, key, now)
        return replace(setup, lights=tuple(new if one is light else one for one in setup.lights))
    if change.of == "panel":
        panel = setup.panel[change.item]
        place = _with(panel, key, now)
        return replace(setup, panels=tuple(place if one is panel else one for one in setup.panels))
    in_camera = "exposure" if key in Exposure.__dataclass_fields__ else "view"
    part = in_camera if change.of == "camera" else change.of
    return replace(setup, **{part: _with(getattr(setup, part), key, now)})


def _with_head(setup: Setup, old: str, new: str) -> Setup:
    """The setup with another head in the place of one; what looks at the one looks at the other."""
    if old not in setup.light or new in setup.light:
        raise LookupError(f"{new} cannot take the place of {old}")
    return replace(
        setup,
        lights=tuple(replace(each, head=new) if each.head == old else each for each in setup.lights),
        panels=tuple(each.with_head({old: new}) for each in setup.panels),
        hung_cloths=tuple(each.with_head({old: new}) for each in setup.hung_cloths),
        subject=replace(setup.subject, looks_at=new) if setup.subject.looks_at == old else setup.subject,
    )


def _with(shape: Any, key: str, value: Any) -> Any:
    """A value with one field changed, checked like one read from a file."""
    values = {field.name: getattr(shape, field.name) for field in fields(shape)} if shape else {}
    if key in _NAMES_IT or key not in values:
        raise LookupError(f"there is no {key} to change")
    cls: type = type(shape)
    return parse(cls, values | {key: value})


# -- frozen in the journal -------------------------------------------------------------------------


def freeze(stood: Stood, asked: Setup) -> AsStood:
    """Return what an entry keeps of a setup as it stands; ``asked`` where that is another."""
    return AsStood(plain(stood.setup), stood.words, None if asked == stood.setup else plain(asked))


def thaw(kept: AsStood, dials: Mapping[str, Dial]) -> tuple[Stood, Setup]:
    """Return a setup as it stood and as it was asked for. Raises ValueError when it is not a setup."""
    setup = _setup_of(kept.setup, dials)
    asked = setup if kept.asked is None else _setup_of(kept.asked, dials)
    return Stood(setup, kept.words), asked


def _setup_of(table: Mapping[str, Any], dials: Mapping[str, Dial]) -> Setup:
    setup = parse(Setup, dict(table))
    powers = {light["head"]: light["power"] for light in table.get("light", ())}
    lights = tuple(
        replace(light, power=stops_below(powers[light.head], dials[light.head].step)) if light.head in dials else light
        for light in setup.lights
    )
    return replace(setup, lights=lights)


# -- what stands, read back into a setup -----------------------------------------------------------


def floor_left(floor: Floor, left: Iterable[Step]) -> Floor:
    """Return the floor once these steps are done too, as far as they can be.

    A step that needs what a skipped one would have brought (a head to arm) cannot be.
    """
    for step in left:
        with suppress(CannotBeDone):
            floor = apply(floor, step)
    return floor


def as_stood(setup: Setup, floor: Floor, goal: Floor, kit: Kit) -> Stood:
    """Return the setup that ``floor`` makes, where ``goal`` is the floor that ``setup`` asks for.

    What is as asked keeps the setup's own figures. Places are given to the millimetre from spots
    that are kept to the centimetre. A head on no stand, one that fired at an unknown power, and
    a panel that stands nowhere are left out, and the words say so.
    """
    return _Reader(setup, floor, goal, kit).stood()


_LEFT_OUT: Final = "left out of the setup as shot"


class _Reader:
    """Reads a floor back into the setup it makes, and collects what no setup's file can say."""

    def __init__(self, setup: Setup, floor: Floor, goal: Floor, kit: Kit) -> None:
        self.setup, self.floor, self.goal, self.kit = setup, floor, goal, kit
        self.words: list[str] = []

    def stood(self) -> Stood:
        """Return the setup and the words."""
        setup, floor = self.setup, self.floor
        self.subject = self._subject()
        panels = [place for each in setup.panels if (place := self._panel(each))]
        background = self._background()
        self.aims = {"face", *(place.panel for place in panels)} | ({"background"} if background else set())
        lights = tuple(light for each in setup.lights if (light := self._light(each)))
        lit = {light.head for light in lights}
        self.words += self._left_standing()
        subject = self.subject
        if subject.looks_at is not None and subject.looks_at not in lit:
            subject = _facing(subject, self.goal.subject.facing_deg if self.goal.subject else 0)
        stood = replace(
            setup,
            exposure=replace(floor.exposure or setup.exposure, whole_over_stops=setup.exposure.whole_over_stops),
            view=self._view(),
            subject=subject,
            background=background,
            lights=lights,
            panels=tuple(place.without_heads_but(lit) for place in panels),
            hung_cloths=tuple(
                cloth.without_heads_but(lit) for hung in setup.hung_cloths if (cloth := self._cloth(hung))
            ),
        )
        return Stood(stood, tuple(self.words))

    def _background(self) -> Background | None:
        behind_m = self.floor.subject.background_m if self.floor.subject else None
        if behind_m is None or self.setup.background is None:
            return self.setup.background if behind_m is None else Background(behind_m)
        return replace(self.setup.background, distance_m=behind_m)

    def _view(self) -> View:
        floor = self.floor
        parts = {"lens": floor.lens, "place": floor.view, "exposure": floor.exposure}
        self.words += [f"camera: its {what} was never set; recorded as planned" for what, at in parts.items() if not at]
        view = replace(self.setup.view, lens=floor.lens or self.setup.view.lens)
        return replace(view, **asdict(floor.view)) if floor.view else view

    def _subject(self) -> Subject:
        subject, there, goal = self.setup.subject, self.floor.subject, self.goal.subject
        if there is None:
            self.words.append("subject: its place was never set; recorded as planned")
            return subject
        if there.look != self.setup.look:
            self.words.append(f"look: the change from {there.look or 'no look'} was skipped; recorded as planned")
        subject = replace(subject, face_height_m=there.face_height_m)
        return subject if goal and there.facing_deg == goal.facing_deg else _facing(subject, there.facing_deg)

    def _placed(self, place: Light | PanelPlace, at: _At, asked: _At | None) -> dict[str, Any]:
        """Return side, angle, tape and height of what stands at ``at``; ``asked`` is where it was to stand."""
        x, y, high = at
        face, was_face = self.subject.face_height_m, self.setup.subject.face_height_m
        if asked == at and face == was_face:
            return {}
        if asked is not None and asked[:2] == (x, y):
            # the angle is the setup's own to the degree; only the tape is another
            radius = ground_radius(place.distance_m, place.height_m, was_face)
            return {"height_m": high, "distance_m": round(hypot(radius, high - face), 3)}
        return {"height_m": high} | _round_face(place.side, x, y, high - face)

    def _light(self, light: Light) -> Light | None:
        """Return the light as it really stood; None where that is not known."""
        floor, head = self.floor, light.head
        at = floor.heads.get(head)
        if at is None or at.stand is None:
            where = "in its case" if at is None else "in somebody's hands"
            self.words.append(f"{head} was on no stand but {where}: {_LEFT_OUT}")
            return None
        if at.armed and at.power is None:
            self.words.append(f"{head} fired at an unknown power: {_LEFT_OUT}")
            return None
        if light.power.fires and not at.armed:
            dial = "never dialled" if at.power is None else f"its dial at {at.power}"
            self.words.append(f"{head} was not switched on, {dial}: it did not fire")
        stand, asked = floor.stands[at.stand], self.goal.stands.get(light.stand)
        if self.kit.stand[at.stand].is_boom and not stand.weight_on:
            self.words.append(f"{at.stand} was without its counterweight")
        worn = floor.modifier_on(head)
        bags, bags_at = self._bags(light, at.stand)
        return self._feathered(
            at,
            replace(
                light,
                stand=at.stand,
                power=at.power if at.armed and at.power is not None else OFF,
                modifier=light.modifier if worn == self.goal.modifier_on(head) else worn or "bare",
                accessories=floor.fitted_on("head", head) if worn is None else floor.fitted_on("modifier", worn),
                through=_in_order(
                    light.through,
                    {cloth for cloth, beams in floor.cloths.items() if head in beams}
                    | {cloth for cloth in light.through if cloth in floor.hung and cloth in self.setup.hung},
                ),
                aim=self._aim(light, at),
                bags=bags,
                bags_at=bags_at,
                leg_under_load=stand.spot.leg_under_load,
                **self._placed(light, _at(stand), _at(asked) if asked else None),
            ),
        )

    def _feathered(self, at: HeadAt, light: Light) -> Light:
        """Return a light feathered as it was aimed; straight where its new place has no such side."""
        with suppress(ValueError):
            aim = aim_of(self.setup, light)
            if at.aim is None or at.aim.feather == aim.feather:
                return light
        return replace(light, feather_deg=0.0, feather_to=None)

    def _bags(self, light: Light, stand: str) -> tuple[tuple[str, ...], Any]:
        """Return the bags on a light's stand, and where on it; a file has one place for all of them."""
        hung = {bag: self.floor.bags[bag].at for bag in self.floor.bags_on("stand", stand)}
        at = light.bags_at if light.bags_at in hung.values() or not hung else min(hung.values())
        others = sorted(bag for bag, other in hung.items() if other != at)
        self.words += [f"{bag} hung on {stand} at its {hung[bag]}: {_LEFT_OUT}" for bag in others]
        return _in_order(light.bags, hung.keys() - {*others}), at

    def _aim(self, light: Light, at: HeadAt) -> str:
        if at.aim is None:
            self.words.append(f"{light.head} was not aimed")
        elif at.aim.target != light.aim and at.aim.target in self.aims:
            return at.aim.target
        elif at.aim != self.goal.heads[light.head].aim:
            self.words.append(f"{light.head} was not aimed again: it points as it did before")
        return light.aim if light.aim in self.aims else "face"

    def _panel(self, place: PanelPlace) -> PanelPlace | None:
        panel = place.panel
        there, wanted = self.floor.panels.get(panel), self.goal.panels.get(panel)
        if there is None:
            self.words.append(f"{panel} was not placed: {_LEFT_OUT}")
            return None
        at, asked = self.floor.panel_spot(panel), self.goal.panel_spot(panel) if wanted else None
        place = replace(place, held_by=there.stand if isinstance(there, PanelOn) else there.by or None)
        if place.held_by in self.floor.stands and off_balance(place.held_by, self.floor, self.kit):
            self.words.append(f"{place.held_by} was without its counterweight")
        if asked is not None and (at.bearing_deg, at.tilt_deg) != (asked.bearing_deg, asked.tilt_deg):
            self.words.append(f"{panel} was not turned as planned")
        if asked is not None and at.open_deg != asked.open_deg and at.open_deg is not None:
            place = replace(place, open_deg=float(at.open_deg))
        on = ("stand", place.held_by) if place.held_by in self.floor.stands else ("panel", panel)
        bags = _in_order(place.bags, self.floor.bags_on(*on))
        return replace(place, bags=bags, **self._placed(place, _at(at), _at(asked) if asked else None))

    def _cloth(self, hung: HungCloth) -> HungCloth | None:
        """Return a cloth as it really hung; None where it did not."""
        cloth, at, asked = self.kit.cloth[hung.cloth], self.floor.hung.get(hung.cloth), self.goal.hung[hung.cloth]
        if at is None:
            self.words.append(f"{cloth.id} was not hung: {_LEFT_OUT}")
            return None
        bags = [self.floor.bags_on("stand", stand) for stand in at.held_by]
        if bags != [set(on) for on in hung.bags_by_stand][: len(bags)]:
            self.words.append(f"the bags at {cloth.id} were not as planned: {_LEFT_OUT}")
            hung = replace(hung, bags=())
        face = self.subject.face_height_m
        if at == asked and face == self.setup.subject.face_height_m:
            return hung
        if at.bearing_deg != asked.bearing_deg:
            self.words.append(f"{cloth.id} was not turned as planned")
        hem_m = round(at.rail_m - (cloth.height_m or 0.0), 2)
        if hem_m < 0:
            self.words.append(f"the rail of {cloth.id} was down at {at.rail_m:g} m")
        placed = replace(hung, hem_m=max(hem_m, 0.0), held_by=at.held_by)
        high = (placed.hem_m + placed.rail_m(cloth)) / 2
        return replace(placed, **_round_face(hung.side, at.x, at.y, high - face))

    def _left_standing(self) -> Iterator[str]:
        """Yield what the setup has no part for and is still there."""
        floor, goal = self.floor, self.goal
        for head, at in floor.heads.items():
            if head not in goal.heads:
                where = f"on {at.stand}" if at.stand else "in somebody's hands"
                state = f"STILL SWITCHED ON at {at.power or 'an unknown power'}" if at.armed else "off"
                yield f"{head} was still there {where}, {state}: {_LEFT_OUT}"
        for stand in floor.stands.keys() - goal.stands.keys() - floor.loads().keys():
            yield f"{stand} was still there, with nothing on it"
        for item in (floor.panels.keys() - goal.panels.keys()) | (floor.hung.keys() - goal.hung.keys()):
            yield f"{item} was still there: {_LEFT_OUT}"


_At = tuple[float, float, float]  # x, y and height in m


def _at(thing: StandAt | PanelSpot) -> _At:
    spot = thing.spot if isinstance(thing, StandAt) else thing
    return spot.x, spot.y, thing.height_m


def _round_face(side: Side, x: float, y: float, up_m: float) -> dict[str, Any]:
    """Return side, angle and tape of a spot as seen from the face; ``side`` where it is on neither."""
    return {
        "side": side if x == 0 else "right" if x > 0 else "left",
        "angle_deg": round(degrees(atan2(abs(x), y)), 1),
        "distance_m": round(hypot(x, y, up_m), 3),
    }


def _facing(subject: Subject, turned_deg: int) -> Subject:
    """Return the face turned so many degrees off the camera, plus is camera-right."""
    side: Side = "right" if turned_deg > 0 else "left"
    return replace(subject, facing_side=side, facing_deg=abs(float(turned_deg)), looks_at=None)


def _in_order(first: Iterable[str], there: Set[str]) -> tuple[str, ...]:
    """Return what is there, in the order it was asked for; then the rest by name."""
    asked = tuple(each for each in first if each in there)
    return (*asked, *sorted(there - {*asked}))
