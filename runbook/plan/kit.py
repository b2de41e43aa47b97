"""Everything in the cases: heads, modifiers, stands and the rest, as plain values.

Masses in kg, lengths in m, times in s, light in stops. The field names are the keys of kit.toml.
"""

from fractions import Fraction
from functools import cached_property
from typing import Annotated, Final, Literal

from runbook.plan.bounds import LEAST, Count, Id, Key, NotNegative, Positive, Share, Stops, Within
from runbook.plan.power import Dial, stops_below
from runbook.plan.tuples import NamedTuple

BARE: Final = "bare"
BARE_SPREAD_DEG: Final = 70.0  # of a standard reflector, where the kit gives none: an assumption
# The largest cloths on frames are some twelve metres; a slip of the pen would be cut into millions.
PanelSide = Annotated[float, Within(ge=LEAST, le=100)]


class _Head(NamedTuple):
    id: Id
    energy_ws: Positive
    guide_number_m: Positive
    power_min: str
    power_step: Literal["1/3", "1/10"]
    mass_kg: Positive
    recycle_full_s: Positive
    recycle_min_s: NotNegative
    name: str = ""
    flashes_full: Positive | None = None
    spare_batteries: Count = 0
    modelling_w: NotNegative = 0.0
    mains: bool = False
    battery_wh: Positive | None = None


class Head(_Head):
    """A flash head, by the label taped on it."""

    @cached_property
    def dial(self) -> Dial:
        """The powers this head can be set to. Raises ValueError when ``power_min`` is no power."""
        step = Fraction(self.power_step)
        lowest = stops_below(self.power_min, step)
        if lowest.below_full is None:
            raise ValueError("'off' is no least power; write the lowest the dial shows, like 1/128")
        if (lowest.below_full / step).denominator != 1:
            raise ValueError(
                f"{self.power_min} is no whole number of {self.power_step} stops below full; "
                "write the lowest the dial shows, like 1/128"
            )
        return Dial(step, lowest)


class Modifier(NamedTuple):
    """What shapes a head's light.

    ``spread_deg`` is the full angle down to a tenth, 360 is even all round; ``field_deg`` is the
    same with what is taken where the kit gives none: a bare head has its standard reflector on.
    ``cup`` is true for an umbrella or dish that can catch the wind in its hollow.
    """

    id: Id
    shape: Literal["round", "rectangle", "bare"]
    name: str = ""
    width_m: NotNegative = 0.0
    height_m: NotNegative = 0.0
    depth_m: NotNegative = 0.0
    mass_kg: NotNegative = 0.0
    loss_stops: Stops = 0.0
    loss_at_m: Positive = 1.0
    spread_deg: Annotated[float, Within(ge=0.1, le=360)] | None = None
    cup: bool = False

    @property
    def field_deg(self) -> float:
        """The full angle the light is reckoned with."""
        if self.spread_deg is not None:
            return self.spread_deg
        return BARE_SPREAD_DEG if self.shape == "bare" else 360.0

    @property
    def is_nothing(self) -> bool:
        """True for a head left bare: there is no such thing to carry, fit or run out of."""
        return self.shape == "bare" and self.mass_kg == 0


class Accessory(NamedTuple):
    """What fits on a modifier or a bare head."""

    id: Id
    kind: Literal["grid", "gel", "diffuser", "barn-doors", "gobo", "snoot"]
    fits: tuple[Id, ...]
    name: str = ""
    mass_kg: NotNegative = 0.0
    loss_stops: Stops = 0.0
    spread_deg: Annotated[float, Within(ge=0.1, le=360)] | None = None
    mired_shift: Annotated[float, Within(ge=-10_000, le=10_000)] = 0.0
    distance_m: Positive | None = None


class Stand(NamedTuple):
    """What holds a head. The ``arm`` and ``counterweight`` fields are a boom's."""

    id: Id
    foot_radius_m: Positive
    mass_kg: Positive
    load_max_kg: Positive
    height_min_m: Positive
    height_max_m: Positive
    name: str = ""
    kind: Literal["stand", "boom", "roller"] = "stand"
    legs: Annotated[int, Within(ge=3, le=12)] = 3
    arm_m: Positive | None = None
    arm_back_m: Positive | None = None
    arm_mass_kg: NotNegative = 0.0
    counterweight_kg: NotNegative = 0.0
    grip_m: NotNegative | None = None

    @property
    def is_boom(self) -> bool:
        return self.kind == "boom"


class Panel(NamedTuple):
    """A surface that bounces, or with a reflectance of 0 blocks."""

    id: Id
    width_m: PanelSide
    height_m: PanelSide
    reflectance: Share
    name: str = ""
    mass_kg: NotNegative = 0.0
    foot_radius_m: Positive | None = None
    grip_m: NotNegative | None = None


class Cloth(NamedTuple):
    """A translucent hanging that light passes through."""

    id: Id
    loss_stops: Annotated[float, Within(ge=0, le=40)]
    name: str = ""


class Bag(NamedTuple):
    """A sandbag."""

    id: Id
    mass_kg: Positive
    name: str = ""
    grip_m: NotNegative | None = None


class Lens(NamedTuple):
    """A lens and the widest and smallest aperture it has."""

    id: Id
    focal_mm: Positive
    f_min: Positive
    f_max: Positive
    name: str = ""


class Camera(NamedTuple):
    """The camera body: sensor width and height in mm, fastest shutter time flash allows."""

    name: str = ""
    sensor_mm: tuple[Positive, Positive] = (36.0, 24.0)
    sync: str = "1/200"
    iso_min: Positive = 100.0


class Measured(NamedTuple):
    """What the photographer's own meter showed: it beats the guide number."""

    head: Id
    power: str
    distance_m: Positive
    reads_f: Positive
    modifier: Id = BARE
    accessories: tuple[Id, ...] = ()
    iso: Positive = 100.0


class _Kit(NamedTuple):
    heads: Annotated[tuple[Head, ...], Key("head")] = ()
    modifiers: Annotated[tuple[Modifier, ...], Key("modifier")] = ()
    accessories: Annotated[tuple[Accessory, ...], Key("accessory")] = ()
    stands: Annotated[tuple[Stand, ...], Key("stand")] = ()
    panels: Annotated[tuple[Panel, ...], Key("panel")] = ()
    cloths: Annotated[tuple[Cloth, ...], Key("cloth")] = ()
    bags: Annotated[tuple[Bag, ...], Key("bag")] = ()
    lenses: Annotated[tuple[Lens, ...], Key("lens")] = ()
    camera: Camera = Camera()
    measured: tuple[Measured, ...] = ()


class Kit(_Kit):
    """Everything in the cases. A bare head needs no entry of its own: ``bare`` always exists."""

    @cached_property
    def head(self) -> dict[str, Head]:
        return {head.id: head for head in self.heads}

    @cached_property
    def dials(self) -> dict[str, Dial]:
        """The heads' dials, by head."""
        return {head.id: head.dial for head in self.heads}

    @cached_property
    def modifier(self) -> dict[str, Modifier]:
        bare = Modifier(id=BARE, name="bare", shape="bare")
        return {BARE: bare} | {modifier.id: modifier for modifier in self.modifiers}

    @cached_property
    def accessory(self) -> dict[str, Accessory]:
        return {accessory.id: accessory for accessory in self.accessories}

    @cached_property
    def stand(self) -> dict[str, Stand]:
        return {stand.id: stand for stand in self.stands}

    @cached_property
    def panel(self) -> dict[str, Panel]:
        return {panel.id: panel for panel in self.panels}

    @cached_property
    def cloth(self) -> dict[str, Cloth]:
        return {cloth.id: cloth for cloth in self.cloths}

    @cached_property
    def bag(self) -> dict[str, Bag]:
        return {bag.id: bag for bag in self.bags}

    @cached_property
    def lens(self) -> dict[str, Lens]:
        return {lens.id: lens for lens in self.lenses}
