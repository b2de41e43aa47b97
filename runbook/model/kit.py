"""Everything in the cases: heads, modifiers, stands and the rest, as plain values.

Masses in kg, lengths in m, times in s, light in stops. The field names are the keys of kit.toml.
"""

from dataclasses import dataclass
from fractions import Fraction
from functools import cached_property
from typing import Annotated, Final, Literal

from pydantic import Field

from runbook.model.fields import (
    LEAST,
    Count,
    Flag,
    Id,
    Label,
    Name,
    NotNegative,
    Number,
    Positive,
    Share,
    Stops,
    Text,
    Whole,
)
from runbook.model.power import Dial, stops_below

BARE: Final = "bare"
BARE_SPREAD_DEG: Final = 70.0  # of a standard reflector, where the kit gives none: an assumption
Spread = Annotated[Number, Field(ge=0.1, le=360)]
# The largest cloths on frames are some twelve metres; a slip of the pen would be cut into millions.
PanelSide = Annotated[Number, Field(ge=LEAST, le=100)]


@dataclass(frozen=True)
class Head:
    """A flash head, by the label taped on it."""

    id: Label
    energy_ws: Annotated[Positive, Field(description="energy of a full flash")]
    guide_number_m: Annotated[Positive, Field(description="at full power, ISO 100, in its standard reflector")]
    power_min: Annotated[Text, Field(description="the least the dial shows")]
    power_step: Annotated[Literal["1/3", "1/10"], Field(description="one click of the dial")]
    mass_kg: Annotated[Positive, Field(description="with its battery")]
    recycle_full_s: Annotated[Positive, Field(description="until ready after a full flash")]
    recycle_min_s: Annotated[NotNegative, Field(description="until ready after the least")]
    name: Name = ""
    flashes_full: Annotated[
        Positive | None, Field(description="full flashes on one charge; leave out for a mains head")
    ] = None
    spare_batteries: Annotated[Count, Field(description="charged, in the case")] = 0
    modelling_w: Annotated[NotNegative, Field(description="the modelling lamp")] = 0.0
    mains: Annotated[Flag, Field(description="hangs on a cable")] = False
    battery_wh: Annotated[Positive | None, Field(description="one battery's energy, for the airline notes")] = None

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


@dataclass(frozen=True, slots=True)
class Modifier:
    """What shapes a head's light.

    ``spread_deg`` is the full angle down to a tenth, 360 is even all round; ``field_deg`` is the
    same with what is taken where the kit gives none: a bare head has its standard reflector on.

    ``cup`` is true for an umbrella or dish that can catch the wind in its hollow.
    """

    id: Label
    shape: Annotated[
        Literal["round", "rectangle", "bare"], Field(description="bare is a reflector or a tube: a point of light")
    ]
    name: Name = ""
    width_m: Annotated[NotNegative, Field(description="the lit face")] = 0.0
    height_m: Annotated[NotNegative, Field(description="the lit face")] = 0.0
    depth_m: Annotated[NotNegative, Field(description="front to back; half of it is how far its weight hangs out")] = (
        0.0
    )
    mass_kg: Annotated[NotNegative, Field(description="weigh it")] = 0.0
    loss_stops: Annotated[Stops, Field(description="below the guide number, metered on axis at loss_at_m")] = 0.0
    loss_at_m: Annotated[Positive, Field(description="where that was metered")] = 1.0
    spread_deg: Annotated[
        Spread | None,
        Field(
            description="full angle, half of it off axis a tenth is left; 360: even all round, "
            "the default; of shape bare 70"
        ),
    ] = None
    cup: Annotated[Flag, Field(description="an umbrella or dish that can catch the wind in its hollow")] = False

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


@dataclass(frozen=True, slots=True)
class Accessory:
    """What fits on a modifier or a bare head."""

    id: Label
    kind: Annotated[
        Literal["grid", "gel", "diffuser", "barn-doors", "gobo", "snoot"], Field(description="what it does")
    ]
    fits: Annotated[tuple[Id, ...], Field(description="the modifiers it goes on; bare for the head itself")]
    name: Name = ""
    mass_kg: Annotated[NotNegative, Field(description="weigh it")] = 0.0
    loss_stops: Annotated[Stops, Field(description="what it eats")] = 0.0
    spread_deg: Annotated[
        Spread | None, Field(description="takes the place of the modifier's; the last one on counts")
    ] = None
    mired_shift: Annotated[Number, Field(ge=-10_000, le=10_000), Field(description="of a gel; plus is warmer")] = 0.0
    distance_m: Annotated[
        Positive | None, Field(description="of a gobo, in front of the light: how sharp its edge is")
    ] = None


@dataclass(frozen=True, slots=True)
class Stand:
    """What holds a head. The ``arm`` and ``counterweight`` fields are a boom's."""

    id: Label
    foot_radius_m: Annotated[Positive, Field(description="from the column to a foot, legs right out")]
    mass_kg: Annotated[Positive, Field(description="of a boom: without arm and counterweight")]
    load_max_kg: Annotated[Positive, Field(description="the maker's limit")]
    height_min_m: Annotated[Positive, Field(description="least height of what it carries")]
    height_max_m: Annotated[Positive, Field(description="most height of what it carries")]
    name: Name = ""
    kind: Annotated[Literal["stand", "boom", "roller"], Field(description="a roller has wheels")] = "stand"
    legs: Annotated[Whole, Field(ge=3, le=12), Field(description="evenly round")] = 3
    arm_m: Annotated[Positive | None, Field(description="boom: pivot to head")] = None
    arm_back_m: Annotated[Positive | None, Field(description="boom: pivot to counterweight")] = None
    arm_mass_kg: Annotated[NotNegative, Field(description="boom: the whole arm")] = 0.0
    counterweight_kg: Annotated[NotNegative, Field(description="boom: what you hang on the back")] = 0.0
    grip_m: Annotated[
        NotNegative | None, Field(description="floor to where hands take hold of it to carry it; 0.3 m if not given")
    ] = None

    @property
    def is_boom(self) -> bool:
        return self.kind == "boom"


@dataclass(frozen=True, slots=True)
class Panel:
    """A surface that bounces, or with a reflectance of 0 blocks."""

    id: Label
    width_m: Annotated[PanelSide, Field(description="its surface")]
    height_m: Annotated[PanelSide, Field(description="its surface")]
    reflectance: Annotated[Share, Field(description="white foam board about 0.85; 0 is a flag")]
    name: Name = ""
    mass_kg: Annotated[NotNegative, Field(description="weigh it")] = 0.0
    foot_radius_m: Annotated[
        Positive | None, Field(description="how far its feet reach in front and behind, at the least")
    ] = None
    grip_m: Annotated[
        NotNegative | None, Field(description="floor to where hands take hold of it to carry it; 0.3 m if not given")
    ] = None


@dataclass(frozen=True, slots=True)
class Cloth:
    """A translucent hanging that light passes through."""

    id: Label
    loss_stops: Annotated[Number, Field(ge=0, le=40), Field(description="what it eats")]
    name: Name = ""


@dataclass(frozen=True, slots=True)
class Bag:
    """A sandbag."""

    id: Label
    mass_kg: Annotated[Positive, Field(description="weigh it")]
    name: Name = ""
    grip_m: Annotated[
        NotNegative | None, Field(description="floor to its handle, the bag standing on the floor; 0.1 m if not given")
    ] = None


@dataclass(frozen=True, slots=True)
class Lens:
    """A lens and the widest and smallest aperture it has."""

    id: Label
    focal_mm: Annotated[Positive, Field(description="its focal length")]
    f_min: Annotated[Positive, Field(description="its widest aperture")]
    f_max: Annotated[Positive, Field(description="its smallest aperture")]
    name: Name = ""


@dataclass(frozen=True, slots=True)
class Camera:
    """The camera body: sensor width and height in mm, fastest shutter time flash allows."""

    name: Name = ""
    sensor_mm: Annotated[tuple[Positive, Positive], Field(description="width and height of the sensor")] = (36.0, 24.0)
    sync: Annotated[Text, Field(description="the shortest time flash allows")] = "1/200"
    iso_min: Annotated[Positive, Field(description="the lowest it has")] = 100.0


@dataclass(frozen=True, slots=True)
class Measured:
    """What the photographer's own meter showed: it beats the guide number."""

    head: Annotated[Id, Field(description="the head that was metered")]
    power: Annotated[Text, Field(description="as dialled")]
    distance_m: Annotated[Positive, Field(description="front of the modifier to the meter")]
    reads_f: Annotated[Positive, Field(description="what it showed, turned to the head")]
    modifier: Annotated[Id, Field(description="what was on it")] = BARE
    accessories: Annotated[tuple[Id, ...], Field(description="what was on that")] = ()
    iso: Annotated[Positive, Field(description="as set on the meter")] = 100.0


@dataclass(frozen=True)
class Kit:
    """Everything in the cases. A bare head needs no entry of its own: ``bare`` always exists."""

    heads: Annotated[tuple[Head, ...], Field(alias="head", description="the flash heads")] = ()
    modifiers: Annotated[
        tuple[Modifier, ...], Field(alias="modifier", description="what shapes the light; `bare` needs no entry")
    ] = ()
    accessories: Annotated[tuple[Accessory, ...], Field(alias="accessory", description="what clips on")] = ()
    stands: Annotated[tuple[Stand, ...], Field(alias="stand", description="what holds the heads")] = ()
    panels: Annotated[tuple[Panel, ...], Field(alias="panel", description="V-flats, reflectors, flags")] = ()
    cloths: Annotated[tuple[Cloth, ...], Field(alias="cloth", description="hangings that light goes through")] = ()
    bags: Annotated[tuple[Bag, ...], Field(alias="bag", description="sandbags")] = ()
    lenses: Annotated[tuple[Lens, ...], Field(alias="lens", description="the lenses")] = ()
    camera: Annotated[Camera, Field(description="the camera body")] = Camera()
    measured: Annotated[tuple[Measured, ...], Field(description="what your own meter showed")] = ()

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
