"""The power to dial for a reading, and the ways out in numbers when the dial does not reach."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from runbook.light.falloff import Source, distance_for_share, view_share
from runbook.model.nominal_values import ISO_MARKS, iso_stops
from runbook.model.power import Dial, Power

_SLACK: Final = 1e-9


@dataclass(frozen=True, slots=True)
class WaysOut:
    """What would make a reading possible at the end of the dial; None where it does not help.

    Any one of them does: a tape distance, so many stops of neutral density on the head, or an ISO.
    """

    distance_m: float | None
    nd_stops: float | None
    iso: int | None


@dataclass(frozen=True, slots=True)
class DialSetting:
    """The power nearest to what is asked, and how much brighter (plus) it then reads, in stops.

    Out of range the power is the end of the dial, and ``left_over_stops`` says by how much it
    misses.
    """

    power: Power
    left_over_stops: float
    in_range: bool


def dial_for(dial: Dial, at_full: float, asked: float) -> DialSetting:
    """The click that makes a head that reads ``at_full`` at full power read ``asked``."""
    below = at_full - asked
    power = dial.nearest(below)
    assert power.below_full is not None
    left_over = below - float(power.below_full)
    return DialSetting(power, left_over, abs(left_over) <= float(dial.step) / 2 + _SLACK)


@dataclass(frozen=True, slots=True)
class Tape:
    """How a head aimed at the face stands: its source, its tape, the least its height allows."""

    source: Source
    distance_m: float
    least_m: float


def ways_out(left_over: float, iso: float, iso_min: float, tape: Tape | None = None) -> WaysOut:
    """What would undo so many stops too bright (plus) or too dim (minus).

    Without a tape, for a head aimed past the face, moving it is no plain sum: no distance then.
    """
    there = None
    if tape is not None:
        wanted = view_share(tape.source, tape.distance_m) * 2.0**-left_over
        there = distance_for_share(tape.source, wanted)
        if there is not None and there < tape.least_m:
            there = None
    nd_stops = left_over if left_over > 0 else None
    return WaysOut(there, nd_stops, _iso_mark(iso_stops(iso) - left_over, left_over > 0, iso_min))


def _iso_mark(wanted: float, too_bright: bool, iso_min: float) -> int | None:
    """The marked speed that undoes it wholly: the next one down, or up."""
    if too_bright:
        marks = [iso for iso, at in ISO_MARKS.items() if iso >= iso_min and at <= wanted + _SLACK]
        return max(marks, default=None)
    marks = [iso for iso, at in ISO_MARKS.items() if at >= wanted - _SLACK]
    return min(marks, default=None)
