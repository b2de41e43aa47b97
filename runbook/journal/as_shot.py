"""A setup as it really was: as the journal froze it, as it was changed, or as its floor stands.

A ``changed`` entry says which target was changed. What a skipped step left undone is on the floor
alone, so a floor can be read back into the setup it makes. Once something of a setup is shot or
metered, an entry holds all of it (``AsStood``), and later edits of the plan leave that alone.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, fields, replace
from math import atan2, degrees, hypot
from typing import Any, Final

from runbook.changeover.floor import Floor, HeadAt, StandAt
from runbook.changeover.steps import CannotBeDone, Step, apply
from runbook.files.validate import parse, plain
from runbook.journal.events import AsStood, Changed, Entry
from runbook.model.geometry import ground_radius
from runbook.model.kit import Kit
from runbook.model.power import OFF, Dial, stops_below
from runbook.model.setup import Background, Exposure, Light, PanelPlace, Setup, Subject, View

_BARE: Final = "bare"
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
            try:
                setup = _changed(setup, entry.data, dials)
            except (LookupError, ValueError):
                continue
    return setup


def _changed(setup: Setup, change: Changed, dials: Mapping[str, Dial]) -> Setup:
    """Raises LookupError when there is no such thing, ValueError when the value does not fit."""
    key, now = change.key, change.now
    if change.of == "head" and key == "head":
        return _with_head(setup, change.item, str(now))
    if change.of == "head":
        old = setup.light[change.item]
        dial = dials.get(old.head)
        value = dial.read(str(now)) if key == "power" and dial is not None else now
        new = _with(old, key, value)
        return replace(setup, lights=tuple(new if one is old else one for one in setup.lights))
    if change.of == "panel":
        was = setup.panel[change.item]
        place = _with(was, key, now)
        return replace(setup, panels=tuple(place if one is was else one for one in setup.panels))
    in_camera = "exposure" if key in {field.name for field in fields(Exposure)} else "view"
    field = in_camera if change.of == "camera" else change.of
    return replace(setup, **{field: _with(getattr(setup, field), key, now)})


def _with_head(setup: Setup, old: str, new: str) -> Setup:
    """The setup with another head in the place of one; what looks at the one looks at the other."""
    if old not in setup.light or new in setup.light:
        raise LookupError(f"{new} cannot take the place of {old}")
    return replace(
        setup,
        lights=tuple(replace(each, head=new) if each.head == old else each for each in setup.lights),
        panels=tuple(replace(each, face_to=new) if each.face_to == old else each for each in setup.panels),
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
    """Return a setup as it stood and as it was asked for. Raises ValueError when it is no setup."""
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
    """The floor once the steps nobody skipped are done too, as far as they can be.

    A step that needs what a skipped one would have brought (a head to arm) cannot be.
    """
    for step in left:
        try:
            floor = apply(floor, step)
        except CannotBeDone:
            continue
    return floor


def as_stood(setup: Setup, floor: Floor, goal: Floor, kit: Kit) -> Stood:
    """The setup that ``floor`` makes, where ``goal`` is the floor that ``setup`` asks for.

    What is as asked keeps the setup's own figures. Places are told to the millimetre from spots
    that are kept to the centimetre. A head on no stand, one that fired at a power nobody knows, and
    a panel that stands nowhere are left out, and the words say so.
    """
    words: list[str] = []
    seen = _Seen(setup, floor, goal, kit, _subject(setup, floor, goal, words))
    panels = tuple(one for place in setup.panels for one in _panel(seen, place, words))
    placed = {each.panel for each in panels}
    lights = tuple(each for light in setup.lights for each in _light(seen, light, placed, words))
    lit = {each.head for each in lights}
    words += _left_standing(floor, goal)
    subject = seen.subject
    if subject.looks_at is not None and subject.looks_at not in lit:
        subject = _facing(subject, goal.subject.facing_deg if goal.subject else 0)
    return Stood(
        replace(
            setup,
            exposure=floor.exposure or setup.exposure,
            view=_view(setup, floor, words),
            subject=subject,
            background=_background(setup, floor),
            lights=lights,
            panels=tuple(each if each.face_to in lit | {"face"} else replace(each, face_to="face") for each in panels),
        ),
        tuple(words),
    )


@dataclass(frozen=True, slots=True)
class _Seen:
    """What a thing is read from: what was asked, what stands, and where the face really is."""

    setup: Setup
    floor: Floor
    goal: Floor
    kit: Kit
    subject: Subject


# -- the camera and the face -----------------------------------------------------------------------


def _view(setup: Setup, floor: Floor, words: list[str]) -> View:
    view = setup.view
    for lacks, what in (
        (floor.lens is None, "lens"),
        (floor.view is None, "place"),
        (floor.exposure is None, "exposure"),
    ):
        if lacks:
            words.append(f"camera: its {what} was never set; told here as planned")
    if floor.lens is not None:
        view = replace(view, lens=floor.lens)
    if floor.view is not None:
        view = replace(view, **floor.view._asdict())
    return view


def _subject(setup: Setup, floor: Floor, goal: Floor, words: list[str]) -> Subject:
    subject, there = setup.subject, floor.subject
    if there is None:
        words.append("subject: its place was never set; told here as planned")
        return subject
    if there.look != setup.look:
        words.append(f"look: the change from {there.look or 'no look'} was skipped; recorded as planned")
    subject = replace(subject, face_height_m=there.face_height_m)
    if goal.subject is not None and there.facing_deg == goal.subject.facing_deg:
        return subject
    return _facing(subject, there.facing_deg)


def _facing(subject: Subject, turned_deg: int) -> Subject:
    """The face turned so many degrees off the camera, plus is camera-right."""
    side: Any = "right" if turned_deg > 0 else "left"
    return replace(subject, facing_side=side, facing_deg=abs(float(turned_deg)), looks_at=None)


def _background(setup: Setup, floor: Floor) -> Background | None:
    behind_m = floor.subject.background_m if floor.subject is not None else None
    return setup.background if behind_m is None else Background(behind_m)


# -- places ----------------------------------------------------------------------------------------


def _placed(seen: _Seen, place: Light | PanelPlace, at: tuple[float, float, float], asked: Any) -> dict[str, Any]:
    """Side, angle, tape and height of what stands at ``at``: x, y and height in m.

    ``asked`` is where it was to stand, None where it was to stand nowhere.
    """
    x, y, high = at
    face, was_face = seen.subject.face_height_m, seen.setup.subject.face_height_m
    if asked == at and face == was_face:
        return {}
    if asked is not None and asked[:2] == (x, y):
        # the angle is the setup's own to the degree; only the tape is another
        radius = ground_radius(place.distance_m, place.height_m, was_face)
        return {"height_m": high, "distance_m": round(hypot(radius, high - face), 3)}
    side = place.side if x == 0 else "right" if x > 0 else "left"
    return {
        "side": side,
        "angle_deg": round(degrees(atan2(abs(x), y)), 1),
        "height_m": high,
        "distance_m": round(hypot(x, y, high - face), 3),
    }


def _at(stand: StandAt) -> tuple[float, float, float]:
    return stand.spot.x, stand.spot.y, stand.height_m


# -- heads -----------------------------------------------------------------------------------------


def _light(seen: _Seen, light: Light, placed: set[str], words: list[str]) -> Iterator[Light]:
    """The light as it really stood; nothing where it cannot be told."""
    floor, head = seen.floor, light.head
    at = floor.heads.get(head)
    if at is None or at.stand is None:
        where = "in its case" if at is None else "in somebody's hands"
        words.append(f"{head} was on no stand but {where}: left out of the setup as shot")
        return
    if at.armed and at.power is None:
        words.append(f"{head} fired at a power that nobody dialled: left out of the setup as shot")
        return
    if light.power.fires and not at.armed:
        dial = "never dialled" if at.power is None else f"its dial at {at.power}"
        words.append(f"{head} was not armed, {dial}: it did not fire")
    stand = floor.stands[at.stand]
    asked = seen.goal.stands.get(light.stand)
    worn = floor.modifier_on(head)
    on = ("head", head) if worn is None else ("modifier", worn)
    bags, bags_at = _bags(seen, light, at.stand, words)
    if seen.kit.stand[at.stand].is_boom and not stand.weight_on:
        words.append(f"{at.stand} was without its counterweight")
    yield replace(
        light,
        stand=at.stand,
        power=at.power if at.armed and at.power is not None else OFF,
        modifier=light.modifier if worn == seen.goal.modifier_on(head) else worn or _BARE,
        accessories=floor.fitted_on(*on),
        through=_sorted(light.through, {c for c, beams in floor.cloths.items() if head in beams}),
        aim=_aim(seen, light, at, placed, words),
        bags=bags,
        bags_at=bags_at,
        leg_under_load=stand.spot.leg_under_load,
        **_placed(seen, light, _at(stand), None if asked is None else _at(asked)),
    )


def _bags(seen: _Seen, light: Light, stand: str, words: list[str]) -> tuple[tuple[str, ...], Any]:
    """The bags on a light's stand, and where on it; a file has one place for all of them."""
    hung = {bag: seen.floor.bags[bag].at for bag in seen.floor.bags_on("stand", stand)}
    at = light.bags_at if light.bags_at in hung.values() or not hung else min(hung.values())
    for bag, other in sorted(hung.items()):
        if other != at:
            words.append(f"{bag} hung on {stand} at its {other}: left out of the setup as shot")
    return _sorted(light.bags, {bag for bag, where in hung.items() if where == at}), at


def _aim(seen: _Seen, light: Light, at: HeadAt, placed: set[str], words: list[str]) -> str:
    known = placed | {"face", "background"}
    asked = seen.goal.heads[light.head].aim
    if at.aim is None:
        words.append(f"{light.head} was not aimed")
    elif at.aim.target != light.aim and at.aim.target in known:
        return at.aim.target
    elif at.aim != asked:
        words.append(f"{light.head} was not aimed anew: it points as it did before")
    return light.aim if light.aim in known else "face"


def _sorted(first: Iterable[str], there: set[str]) -> tuple[str, ...]:
    """What is there, in the order it was asked for; then the rest by name."""
    asked = tuple(each for each in first if each in there)
    return (*asked, *sorted(there - {*asked}))


# -- panels, and what should have gone -------------------------------------------------------------


def _panel(seen: _Seen, place: PanelPlace, words: list[str]) -> Iterator[PanelPlace]:
    panel = place.panel
    at, asked = seen.floor.panels.get(panel), seen.goal.panels.get(panel)
    if at is None:
        words.append(f"{panel} was not placed: left out of the setup as shot")
        return
    if asked is not None and (at.bearing_deg, at.tilt_deg) != (asked.bearing_deg, asked.tilt_deg):
        words.append(f"{panel} was not turned as planned")
    yield replace(
        place,
        bags=_sorted(place.bags, set(seen.floor.bags_on("panel", panel))),
        **_placed(
            seen, place, (at.x, at.y, at.height_m), None if asked is None else (asked.x, asked.y, asked.height_m)
        ),
    )


def _left_standing(floor: Floor, goal: Floor) -> Iterator[str]:
    """What the setup has no part for and nobody took away."""
    for head, at in floor.heads.items():
        if head in goal.heads:
            continue
        where = f"on {at.stand}" if at.stand else "in somebody's hands"
        power = "" if at.power is None else f" at {at.power}"
        state = f"STILL ARMED{power}" if at.armed else "not armed"
        yield f"{head} was still there {where}, {state}: left out of the setup as shot"
    carrying = {at.stand for at in floor.heads.values()}
    for stand in floor.stands.keys() - goal.stands.keys() - carrying:
        yield f"{stand} was still there, with no head on it"
    for panel in floor.panels.keys() - goal.panels.keys():
        yield f"{panel} was still there: left out of the setup as shot"
