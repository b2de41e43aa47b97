"""The heads of a setup as they light the face, which of them is the key, and the powers to dial.

Readings are in stops (``log2 N²``) at the face, the meter turned to the head. A reading of its own,
and so far under the key where the key's own reading is asked for, do not depend on what any other
head is set to; a key that nothing is asked of counts as it is set. So each head takes its nearest
click, and setting one never makes the power shown for another wrong.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Final

from runbook.light.beam import (
    Beam,
    Source,
    distance_for_share,
    field_spread_deg,
    full_power_stops,
    measured_row,
    source_of,
    view_share,
)
from runbook.light.scene import Scene, aim_point, panel_plane, towards
from runbook.light.stops import DARK, METER_LEAST
from runbook.model.kit import Kit, Measured
from runbook.model.nominal_values import ISO_MARKS, aperture_stops, iso_stops
from runbook.model.power import Dial, Power
from runbook.model.setup import Light, Setup

_SLACK: Final = 1e-9


@dataclass(frozen=True, slots=True)
class DialSetting:
    """The power nearest to what is asked, and how much brighter (plus) it then reads, in stops.

    Out of range the power is the end of the dial, and ``left_over_stops`` is by how much it misses.
    """

    power: Power
    left_over_stops: float
    in_range: bool


@dataclass(frozen=True, slots=True)
class LitHead:
    """A light, its dial and its beam.

    ``at_full`` is its reading at full power, ``reads`` at the power it is set to, ``bounced`` what
    each panel sends on of it then; ``row`` is the meter's own row that it is carried from.
    """

    light: Light
    dial: Dial
    beam: Beam
    at_full: float
    reads: float
    bounced: Mapping[str, float]
    row: Measured | None = None

    @property
    def asked(self) -> float | None:
        """The reading asked of it."""
        f = self.light.aim_reading_f
        return None if f is None else aperture_stops(f)

    @property
    def key_panel(self) -> str | None:
        """The panel by which it lights the face: the one it is aimed at, where more comes off that than directly.

        What is asked of the head itself is asked of its own beam.
        """
        aim = self.light.aim
        return aim if self.asked is None and self.bounced.get(aim, DARK) > self.reads else None

    @property
    def as_key(self) -> float:
        """What it gives the face as a key, directly or off the panel it is aimed at."""
        return self.reads if self.key_panel is None else self.bounced[self.key_panel]

    @property
    def as_asked(self) -> float:
        """What it gives as a key once its own reading is dialled; as it is set without one."""
        dial = self.dial_for(self.asked)
        return self.as_key if self.asked is None or dial is None else self.asked + dial.left_over_stops

    @property
    def follows(self) -> bool:
        """Whether all that is asked of it counts from the key."""
        return self.asked is None and self.light.under_key_stops is not None

    def dial_for(self, asked: float | None) -> DialSetting | None:
        """Return the click for a reading; None where nothing is asked or none of its light arrives."""
        if asked is None or self.at_full == DARK:
            return None
        power = self.dial.nearest(self.at_full - asked)
        assert power.below_full is not None
        left_over = self.at_full - asked - float(power.below_full)
        return DialSetting(power, left_over, abs(left_over) <= float(self.dial.step) / 2 + _SLACK)


def light_heads(kit: Kit, setup: Setup, where: Scene, measured: Sequence[Measured] = ()) -> tuple[LitHead, ...]:
    """Return the heads of a setup; ``measured`` are readings that beat the kit's rows."""
    heads = [_direct(kit, light, where, setup.exposure.iso, measured) for light in setup.lights]
    bounced: list[dict[str, float]] = [{} for _ in heads]
    if setup.panels:
        from runbook.light.bounce import Surface, bounced_stops

        for place in setup.panels:
            panel = kit.panel[place.panel]
            surface = Surface(panel_plane(where, place), panel.width_m, panel.height_m, panel.reflectance)
            stops = bounced_stops(surface, where.face, [head.beam for head in heads])
            for of_head, sent in zip(bounced, stops, strict=True):
                of_head[place.panel] = sent
    return tuple(replace(head, bounced=of_head) for head, of_head in zip(heads, bounced, strict=True))


def _direct(kit: Kit, light: Light, where: Scene, iso: float, measured: Sequence[Measured]) -> LitHead:
    """Return a head without what panels send on of it."""
    row, origin, below = measured_row(kit, light, measured), where.heads[light.head], light.power.below_full
    full = Beam(
        origin=origin,
        axis=towards(origin, aim_point(where, light)),
        source=source_of(kit, light),
        stops=full_power_stops(kit, light, iso, row),
        spread_deg=field_spread_deg(kit, light.modifier, light.accessories),
    )
    beam = replace(full, stops=DARK if below is None else full.stops - float(below))
    at_full, reads = full.reading(where.face), beam.reading(where.face)
    return LitHead(light, kit.head[light.head].dial, beam, at_full, reads, {}, row)


@dataclass(frozen=True, slots=True)
class Solution:
    """Which head is the key, by place, and each head's target reading and power to dial.

    None where nothing is asked of a head; no power where none of its light reaches the face.
    """

    key: int | None
    asked: tuple[float | None, ...]
    dials: tuple[DialSetting | None, ...]


def solve(heads: Sequence[LitHead]) -> Solution:
    """Return the key, and what each head is asked to read and to be set to for it."""
    key = _key(heads)
    asked = tuple(
        head.asked if n == key else _asked(head, key if key is None else heads[key]) for n, head in enumerate(heads)
    )
    return Solution(key, asked, tuple(head.dial_for(target) for head, target in zip(heads, asked, strict=True)))


def _key(heads: Sequence[LitHead]) -> int | None:
    """Return the first head whose role is key; without one, the brightest as asked.

    One that no meter at the face would show is neither. A head that follows the key is the key only
    where nothing else is, and then the one asked to be the least under it.
    """
    shown = [n for n, head in enumerate(heads) if head.light.power.fires and head.as_asked >= METER_LEAST]
    if keys := [n for n in shown if heads[n].light.role == "key"]:
        return keys[0]
    if free := [n for n in shown if not heads[n].follows]:
        return max(free, key=lambda n: heads[n].as_asked)
    return min(shown, key=lambda n: heads[n].light.under_key_stops or 0.0, default=None)


def _asked(head: LitHead, key: LitHead | None) -> float | None:
    """Return what the meter should show of a head: its own reading, or so far under the key as asked."""
    under = head.light.under_key_stops
    if head.asked is not None or key is None or under is None:
        return head.asked
    return (key.as_key if key.asked is None else key.asked) - under


def distance_to_undo(source: Source, distance_m: float, left_over: float) -> float | None:
    """Return the distance at which a head reads so many stops less (plus) or more; None when there is none."""
    return distance_for_share(source, view_share(source, distance_m) * 2.0**-left_over)


def iso_to_undo(iso: float, iso_min: float, left_over: float) -> int | None:
    """Return the nearest marked speed that undoes so many stops too bright (plus) or too dim wholly."""
    wanted = iso_stops(iso) - left_over
    if left_over > 0:
        marks = [mark for mark, stops in ISO_MARKS.items() if mark >= iso_min and stops <= wanted + _SLACK]
        return max(marks, default=None)
    return min((mark for mark, stops in ISO_MARKS.items() if stops >= wanted - _SLACK), default=None)
