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
    about,
)
from runbook.model.power import Dial, stops_below

BARE: Final = "bare"
BARE_SPREAD_DEG: Final = 70.0  # of a standard reflector, where the kit gives none: an assumption
Spread = Annotated[Number, Field(ge=0.1, le=360)]
Mass = Annotated[NotNegative, about("its mass; weigh it")]
Grip = Annotated[NotNegative | None, about("floor to where it is gripped to carry it; default 0.3 m")]
# The largest cloths on frames are some twelve metres; a slip of the pen would be cut into millions.
PanelSide = Annotated[Number, Field(ge=LEAST, le=100)]


@dataclass(frozen=True)
class Head:
    """A flash head, by the label taped on it."""

    id: Label
    energy_ws: Annotated[Positive, about("energy of a full flash")]
    guide_number_m: Annotated[Positive, about("at full power, ISO 100, in its standard reflector")]
    power_min: Annotated[Text, about("lowest power on the dial")]
    power_step: Annotated[Literal["1/3", "1/10"], about("one click of the dial")]
    mass_kg: Annotated[Positive, about("with its battery")]
    recycle_full_s: Annotated[Positive, about("recycling time after a full flash")]
    recycle_min_s: Annotated[NotNegative, about("recycling time after a flash at the lowest power")]
    name: Name = ""
    flashes_full: Annotated[Positive | None, about("full flashes on one charge; leave out for a mains head")] = None
    spare_batteries: Annotated[Count, about("charged, in the case")] = 0
    modelling_w: Annotated[NotNegative, about("the modelling lamp")] = 0.0
    mains: Annotated[Flag, about("runs on mains power")] = False
    battery_wh: Annotated[Positive | None, about("one battery's energy, for the airline notes")] = None

    @cached_property
    def dial(self) -> Dial:
        """The powers this head can be set to. Raises ValueError when ``power_min`` is not a power."""
        step = Fraction(self.power_step)
        lowest = stops_below(self.power_min, step)
        if lowest.below_full is None:
            raise ValueError("'off' is not a lowest power; write the lowest the dial shows, like 1/128")
        if (lowest.below_full / step).denominator != 1:
            what = f"{self.power_min} is not a whole number of {self.power_step} stops below full"
            raise ValueError(f"{what}; write the lowest the dial shows, like 1/128")
        return Dial(step, lowest)


@dataclass(frozen=True, slots=True)
class Modifier:
    """What shapes a head's light.

    ``spread_deg`` is the full angle down to a tenth, 360 is even all round; ``field_deg`` is the
    same with what is taken where the kit gives none: a bare head has its standard reflector on.

    ``cup`` is true for an umbrella or dish that can catch the wind in its hollow.
    """

    id: Label
    shape: Annotated[Literal["round", "rectangle", "bare"], about("bare is a reflector or a tube: a point of light")]
    name: Name = ""
    width_m: Annotated[NotNegative, about("of the lit front")] = 0.0
    height_m: Annotated[NotNegative, about("of the lit front")] = 0.0
    depth_m: Annotated[NotNegative, about("front to back; half of it is how far its weight hangs out")] = 0.0
    mass_kg: Mass = 0.0
    loss_stops: Annotated[Stops, about("below the guide number, metered on axis at loss_at_m")] = 0.0
    loss_at_m: Annotated[Positive, about("where that was metered")] = 1.0
    spread_deg: Annotated[
        Spread | None,
        about("full angle: at its edge a tenth of the light is left; default 360, even all round; bare 70"),
    ] = None
    cup: Annotated[Flag, about("an umbrella or dish that can catch the wind in its hollow")] = False

    @property
    def field_deg(self) -> float:
        """The full angle used in calculations."""
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
    kind: Annotated[Literal["grid", "gel", "diffuser", "barn-doors", "gobo", "snoot"], about("what it does")]
    fits: Annotated[tuple[Id, ...], about("the modifiers it goes on; bare for the head itself")]
    name: Name = ""
    mass_kg: Mass = 0.0
    loss_stops: Annotated[Stops, about("light lost in it")] = 0.0
    spread_deg: Annotated[Spread | None, about("the last one on counts; default the modifier's")] = None
    mired_shift: Annotated[Number, about("of a gel; plus is warmer", ge=-10_000, le=10_000)] = 0.0
    distance_m: Annotated[Positive | None, about("of a gobo, in front of the light; sets how sharp its edge is")] = None


@dataclass(frozen=True, slots=True)
class Stand:
    """What holds a head. The ``arm`` and ``counterweight`` fields are a boom's."""

    id: Label
    foot_radius_m: Annotated[Positive, about("from the column to a foot, legs fully spread")]
    mass_kg: Annotated[Positive, about("of a boom: without arm and counterweight")]
    load_max_kg: Annotated[Positive, about("the maker's limit")]
    height_min_m: Annotated[Positive, about("lowest height of what it carries")]
    height_max_m: Annotated[Positive, about("greatest height of what it carries")]
    name: Name = ""
    kind: Annotated[Literal["stand", "boom", "roller"], about("a roller has wheels")] = "stand"
    legs: Annotated[Whole, about("how many, evenly spaced", ge=3, le=12)] = 3
    arm_m: Annotated[Positive | None, about("boom: pivot to head")] = None
    arm_back_m: Annotated[Positive | None, about("boom: pivot to counterweight")] = None
    arm_mass_kg: Annotated[NotNegative, about("boom: the whole arm")] = 0.0
    counterweight_kg: Annotated[NotNegative, about("boom: what you hang on the back")] = 0.0
    grip_m: Grip = None

    @property
    def is_boom(self) -> bool:
        return self.kind == "boom"


@dataclass(frozen=True, slots=True)
class Panel:
    """A surface that bounces, or with a reflectance of 0 blocks; of one wing, or of two on a hinge.

    What ``open_share`` of a cut-out lets through does not bounce off it.
    """

    id: Label
    width_m: Annotated[PanelSide, about("of one wing")]
    height_m: Annotated[PanelSide, about("of its surface")]
    reflectance: Annotated[Share, about("white foam board about 0.85; 0 is a flag")]
    name: Name = ""
    mass_kg: Mass = 0.0
    foot_radius_m: Annotated[Positive | None, about("how far its feet reach in front and behind, at the least")] = None
    grip_m: Grip = None
    wings: Annotated[Whole, about("2: two wings, hinged on a long edge", ge=1, le=2)] = 1
    open_share: Annotated[Share, about("share of the light that a cut-out lets through")] = 0.0


@dataclass(frozen=True, slots=True)
class Cloth:
    """A translucent hanging that light passes through; with a size it can hang in the set by itself."""

    id: Label
    loss_stops: Annotated[
        Number, about("light lost in it; scattered light that comes through is not lost", ge=0, le=40)
    ]
    name: Name = ""
    width_m: Annotated[PanelSide | None, about("needed to hang it in the set")] = None
    height_m: Annotated[PanelSide | None, about("needed to hang it in the set")] = None
    scatter: Annotated[Share, about("share of the light coming through that is scattered")] = 0.0
    reflectance: Annotated[Share, about("share of the light that its lit side reflects")] = 0.0
    mass_kg: Mass = 0.0

    @property
    def passes(self) -> float:
        """The share of the light that comes through, straight and scattered."""
        return float(2.0**-self.loss_stops)


@dataclass(frozen=True, slots=True)
class Bag:
    """A sandbag."""

    id: Label
    mass_kg: Annotated[Positive, about("its mass; weigh it")]
    name: Name = ""
    grip_m: Annotated[
        NotNegative | None, about("floor to its handle, the bag standing on the floor; default 0.1 m")
    ] = None


@dataclass(frozen=True, slots=True)
class Lens:
    """A lens and the widest and smallest aperture it has."""

    id: Label
    focal_mm: Annotated[Positive, about("its focal length")]
    f_min: Annotated[Positive, about("its widest aperture")]
    f_max: Annotated[Positive, about("its smallest aperture")]
    name: Name = ""


@dataclass(frozen=True, slots=True)
class Camera:
    """The camera body: sensor width and height in mm, fastest shutter time flash allows."""

    name: Name = ""
    sensor_mm: Annotated[tuple[Positive, Positive], about("width and height of the sensor")] = (36.0, 24.0)
    sync: Annotated[Text, about("shortest shutter time with flash")] = "1/200"
    iso_min: Annotated[Positive, about("the lowest ISO it has")] = 100.0


@dataclass(frozen=True, slots=True)
class Measured:
    """What the photographer's own meter showed: it beats the guide number."""

    head: Annotated[Id, about("the head that was metered")]
    power: Annotated[Text, about("as dialled")]
    distance_m: Annotated[Positive, about("front of the modifier to the meter")]
    reads_f: Annotated[Positive, about("what it showed, turned to the head")]
    modifier: Annotated[Id, about("what was on the head")] = BARE
    accessories: Annotated[tuple[Id, ...], about("what was on the modifier")] = ()
    iso: Annotated[Positive, about("as set on the meter")] = 100.0


@dataclass(frozen=True)
class Kit:
    """Everything in the cases. A bare head needs no entry of its own: ``bare`` always exists."""

    heads: Annotated[tuple[Head, ...], about("the flash heads", alias="head")] = ()
    modifiers: Annotated[
        tuple[Modifier, ...], about("what shapes the light; `bare` needs no entry", alias="modifier")
    ] = ()
    accessories: Annotated[tuple[Accessory, ...], about("what clips on", alias="accessory")] = ()
    stands: Annotated[tuple[Stand, ...], about("what holds the heads", alias="stand")] = ()
    panels: Annotated[tuple[Panel, ...], about("V-flats, reflectors, flags", alias="panel")] = ()
    cloths: Annotated[tuple[Cloth, ...], about("hangings that light goes through", alias="cloth")] = ()
    bags: Annotated[tuple[Bag, ...], about("sandbags", alias="bag")] = ()
    lenses: Annotated[tuple[Lens, ...], about("the lenses", alias="lens")] = ()
    camera: Annotated[Camera, about("the camera body")] = Camera()
    measured: Annotated[tuple[Measured, ...], about("what your own meter showed")] = ()

    head = cached_property[dict[str, Head]](lambda kit: {head.id: head for head in kit.heads})
    dials = cached_property[dict[str, Dial]](lambda kit: {head.id: head.dial for head in kit.heads})
    accessory = cached_property[dict[str, Accessory]](lambda kit: {each.id: each for each in kit.accessories})
    stand = cached_property[dict[str, Stand]](lambda kit: {stand.id: stand for stand in kit.stands})
    panel = cached_property[dict[str, Panel]](lambda kit: {panel.id: panel for panel in kit.panels})
    cloth = cached_property[dict[str, Cloth]](lambda kit: {cloth.id: cloth for cloth in kit.cloths})
    bag = cached_property[dict[str, Bag]](lambda kit: {bag.id: bag for bag in kit.bags})
    lens = cached_property[dict[str, Lens]](lambda kit: {lens.id: lens for lens in kit.lenses})

    @cached_property
    def modifier(self) -> dict[str, Modifier]:
        bare = Modifier(id=BARE, name="bare", shape="bare")
        return {BARE: bare} | {modifier.id: modifier for modifier in self.modifiers}
