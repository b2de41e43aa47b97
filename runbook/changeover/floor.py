"""The floor: everything that stands on the set at one moment, as data.

Only what is out of its case is here: a head, stand or panel that is not named is off set.
Places are kept to the centimetre and directions to the degree, so that what a crew would call
unchanged is equal.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from typing import Any, Final, Literal

from runbook.model.geometry import Point, bearing_deg, tilt_deg
from runbook.model.kit import Kit, Panel
from runbook.model.panels import Stance, foot_line, hung_stance, stance_of
from runbook.model.power import Power
from runbook.model.setup import Exposure, HungCloth, Light, PanelPlace, Setup

# what a stand carries: its kind and its name, of a rail its cloth's
Load = tuple[Literal["head", "panel", "rail"], str]

_ON_THE_FLOOR_M: Final = 0.3  # a lower edge nearer the floor than this: it stands there


@dataclass(frozen=True, slots=True)
class Spot:
    """A stand's place: metres from under the face, and whether a leg points along its load."""

    x: float
    y: float
    leg_under_load: bool = False


@dataclass(frozen=True, slots=True)
class PanelSpot:
    """A panel's place: metres from under the face to its middle or hinge, its middle's height, and where it looks.

    ``tilt_deg`` is how far one that is held up looks up, in steps of 5: no hand sets it finer. ``open_deg`` is the
    angle between two wings, None for one. ``by`` is the person who holds it; empty where it stands by itself.
    """

    x: float
    y: float
    height_m: float
    bearing_deg: int
    tilt_deg: int = 0
    open_deg: int | None = None
    by: str = ""

    @property
    def stance(self) -> Stance:
        """How it stands, its placement on the floor."""
        return Stance(Point(self.x, self.y, 0.0), self.bearing_deg, self.tilt_deg, self.open_deg)


@dataclass(frozen=True, slots=True)
class PanelOn:
    """A panel that a stand carries, its middle at the stand's spot and height, and how it is turned there."""

    stand: str
    bearing_deg: int
    tilt_deg: int = 0
    open_deg: int | None = None


@dataclass(frozen=True, slots=True)
class ClothSpot:
    """A hung cloth's place: metres from under the face to its middle, the height of its upper edge, where it looks.

    ``held_by`` are the two stands that carry its rail, one at each end; none where the building carries it.
    """

    x: float
    y: float
    rail_m: float
    bearing_deg: int
    held_by: tuple[str, ...] = ()

    @property
    def stance(self) -> Stance:
        """How it hangs, its placement on the floor."""
        return Stance(Point(self.x, self.y, 0.0), self.bearing_deg, 0.0, None)


@dataclass(frozen=True, slots=True)
class Aim:
    """Where a head points: at what, the direction over the floor and above the level, and how it is feathered."""

    target: str
    bearing_deg: int
    tilt_deg: int
    feather: str = ""


@dataclass(frozen=True, slots=True)
class StandAt:
    """A stand on the set; ``height_m`` is its load's. ``rail`` is the hung cloth whose rail has an end on it."""

    spot: Spot
    height_m: float
    weight_on: bool = False
    rail: str | None = None


@dataclass(frozen=True, slots=True)
class HeadAt:
    """A head out of its case: on a stand, or for a moment in somebody's hands (None)."""

    stand: str | None
    power: Power | None = None
    aim: Aim | None = None
    armed: bool = False


@dataclass(frozen=True, slots=True)
class Hung:
    """Where a bag hangs: on which stand or panel (``kind`` tells), and where on it."""

    kind: str
    item: str
    at: str


@dataclass(frozen=True, slots=True)
class Carrier:
    """What an accessory sits on: a ``modifier``, or a bare ``head``; and what is on under it."""

    kind: str
    item: str
    under: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class CameraView:
    """The camera's place: lens to face, height, and which way up."""

    distance_m: float
    height_m: float
    orientation: str


@dataclass(frozen=True, slots=True)
class SubjectAt:
    """The face: its height, where it points (degrees off the camera, plus is camera-right), how
    far the background is behind it, and the look that is worn."""

    face_height_m: float
    facing_deg: int
    background_m: float | None
    look: str | None = None


@dataclass(frozen=True, slots=True)
class Floor:
    """Everything on the set. ``in_hands`` names the stands somebody is holding at this moment."""

    stands: dict[str, StandAt] = field(default_factory=dict)
    heads: dict[str, HeadAt] = field(default_factory=dict)
    modifiers: dict[str, str] = field(default_factory=dict)
    accessories: dict[str, Carrier] = field(default_factory=dict)
    cloths: dict[str, frozenset[str]] = field(default_factory=dict)
    panels: dict[str, PanelSpot | PanelOn] = field(default_factory=dict)
    hung: dict[str, ClothSpot] = field(default_factory=dict)
    bags: dict[str, Hung] = field(default_factory=dict)
    lens: str | None = None
    exposure: Exposure | None = None
    view: CameraView | None = None
    subject: SubjectAt | None = None
    tested: bool = False
    in_hands: frozenset[str] = frozenset()

    def put(self, table: str, item: str, value: Any) -> Floor:
        """Return the floor with one thing in a table, new or changed."""
        return replace(self, **{table: getattr(self, table) | {item: value}})

    def without(self, table: str, item: str) -> Floor:
        """Return the floor with one thing taken out of a table."""
        left: Any = {name: at for name, at in getattr(self, table).items() if name != item}
        return replace(self, **{table: left})

    def _loads(self) -> Iterator[tuple[str, Load]]:
        yield from ((at.stand, ("head", head)) for head, at in self.heads.items() if at.stand is not None)
        yield from ((at.stand, ("panel", panel)) for panel, at in self.panels.items() if isinstance(at, PanelOn))
        yield from ((stand, ("rail", at.rail)) for stand, at in self.stands.items() if at.rail)

    def loads(self) -> dict[str, Load]:
        """What each stand carries, by stand."""
        return dict(self._loads())

    def load_on(self, stand: str) -> Load | None:
        """What a stand carries, if it carries something."""
        return next((load for on, load in self._loads() if on == stand), None)

    def head_on(self, stand: str) -> str | None:
        """The head on a stand, if there is one."""
        return next((head for head, at in self.heads.items() if at.stand == stand), None)

    def panel_spot(self, panel: str) -> PanelSpot:
        """Where a panel is, and how it is turned: of one on a stand, where the stand holds it."""
        at = self.panels[panel]
        if isinstance(at, PanelSpot):
            return at
        stand = self.stands[at.stand]
        return PanelSpot(stand.spot.x, stand.spot.y, stand.height_m, at.bearing_deg, at.tilt_deg, at.open_deg)

    def modifier_on(self, head: str | None) -> str | None:
        """The modifier on a head, if there is one; a bare head has none."""
        return next((modifier for modifier, on in self.modifiers.items() if on == head), None)

    def bags_on(self, kind: str, item: str) -> frozenset[str]:
        """The bags that hang on a stand or a panel."""
        return frozenset(bag for bag, hung in self.bags.items() if (hung.kind, hung.item) == (kind, item))

    def fitted_on(self, kind: str, item: str) -> tuple[str, ...]:
        """The accessories on a modifier or a bare head, the innermost first."""
        mine = [(len(on.under), name) for name, on in self.accessories.items() if (on.kind, on.item) == (kind, item)]
        return tuple(name for _, name in sorted(mine))


EMPTY: Final = Floor()


def held_by(panel: PanelSpot | PanelOn | None) -> str:
    """Return the person who holds a panel; empty where nobody does."""
    return panel.by if isinstance(panel, PanelSpot) else ""


def _over_floor(point: Point) -> tuple[float, float]:
    return round(point.x, 2) + 0.0, round(point.y, 2) + 0.0


def _degrees(angle: float) -> int:
    turned = round(angle)
    return 180 if turned == -180 else turned


def aim_of(setup: Setup, light: Light) -> Aim:
    """Where a light points once it stands where the setup says."""
    start, end = light.point(setup.face.z), setup.aim_point(light) or setup.face
    bearing = (bearing_deg(start, end) + light.feather_turn_deg(start, end) + 180) % 360 - 180
    return Aim(light.aim, _degrees(bearing), _degrees(tilt_deg(start, end)), feather_text(light))


def feather_text(light: Light) -> str:
    """``20° to the camera``: how a beam is turned off its aim; empty where it is not."""
    if not light.feather_deg:
        return ""
    side = f"camera-{light.feather_to}" if light.feather_to in ("left", "right") else f"the {light.feather_to}"
    return f"{light.feather_deg:g}° to {side}"


def panel_spot(panel: Panel | None, place: PanelPlace, setup: Setup) -> PanelSpot:
    """Where a panel is and looks; one that stands on the floor stands upright unless the setup tilts it.

    Raises as ``stance_of``.
    """
    stance = stance_of(panel, place, setup)
    at, tilted = stance.at, place.catches is not None or place.tilt_deg != 0
    held_up = place.held_by is not None or (panel is not None and at.z - panel.height_m / 2 >= _ON_THE_FLOOR_M)
    return PanelSpot(
        *_over_floor(at),
        place.height_m,
        _degrees(stance.bearing_deg),
        5 * round(stance.tilt_deg / 5) if tilted or held_up else 0,
        None if stance.open_deg is None else round(stance.open_deg),
    )


def cloth_spot(kit: Kit, hung: HungCloth, setup: Setup) -> ClothSpot:
    """Return where a cloth hangs. Raises as ``stance_of``."""
    cloth = kit.cloth[hung.cloth]
    stance = hung_stance(cloth, hung, setup)
    rail_m, bearing = round(hung.rail_m(cloth), 2), _degrees(stance.bearing_deg)
    return ClothSpot(*_over_floor(stance.at), rail_m, bearing, hung.held_by)


def _hang(floor: Floor, setup: Setup, kit: Kit) -> None:
    """Add the hung cloths of a setup, and the stands at the ends of their rails."""
    for hung in setup.hung_cloths:
        spot = floor.hung[hung.cloth] = cloth_spot(kit, hung, setup)
        one, _, other = foot_line(kit.cloth[hung.cloth], spot.stance)
        for stand, end, bags in zip(hung.held_by, (one, other), hung.bags_by_stand, strict=False):
            floor.stands[stand] = StandAt(Spot(*_over_floor(end)), spot.rail_m, rail=hung.cloth)
            for bag in bags:
                floor.bags[bag] = Hung("stand", stand, "column")


def floor_of(setup: Setup, kit: Kit) -> Floor:
    """The floor of a setup, ready and tested.

    Raises ValueError when a place in it is not real, KeyError for an id the kit does not hold.
    """
    face_m, behind, floor = setup.face.z, setup.background, Floor(tested=True)
    for light in setup.lights:
        spot = Spot(*_over_floor(light.point(face_m)), light.leg_under_load)
        floor.stands[light.stand] = StandAt(spot, light.height_m, weight_on=kit.stand[light.stand].is_boom)
        floor.heads[light.head] = HeadAt(light.stand, light.power, aim_of(setup, light), light.power.fires)
        carrier = Carrier("head", light.head)
        if not kit.modifier[light.modifier].is_nothing:
            floor.modifiers[light.modifier] = light.head
            carrier = Carrier("modifier", light.modifier)
        for n, accessory in enumerate(light.accessories):
            floor.accessories[accessory] = replace(carrier, under=light.accessories[:n])
        for cloth in (cloth for cloth in light.through if cloth not in setup.hung):
            floor.cloths[cloth] = floor.cloths.get(cloth, frozenset()) | {light.head}
        for bag in light.bags:
            floor.bags[bag] = Hung("stand", light.stand, light.bags_at)
    for place in setup.panels:
        panel, holder, at = place.panel, place.held_by, panel_spot(kit.panel.get(place.panel), place, setup)
        on = ("panel", panel)
        if holder in kit.stand:
            on = ("stand", holder)
            floor.stands[holder] = StandAt(Spot(at.x, at.y), at.height_m, weight_on=kit.stand[holder].is_boom)
            floor.panels[panel] = PanelOn(holder, at.bearing_deg, at.tilt_deg, at.open_deg)
        else:
            floor.panels[panel] = replace(at, by=holder or "")
        for bag in place.bags:
            floor.bags[bag] = Hung(*on, "column")
    _hang(floor, setup, kit)
    view = setup.view
    return replace(
        floor,
        lens=view.lens,
        exposure=replace(setup.exposure, whole_over_stops=None),
        view=CameraView(view.distance_m, view.height_m, view.orientation),
        subject=SubjectAt(face_m, _degrees(setup.facing_deg), behind.distance_m if behind else None, setup.look),
    )
