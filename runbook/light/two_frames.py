"""Stops between two pictures of one scene, from the codes of their pixels.

The curve is that of sRGB, IEC 61966-2-1 (from memory; tests hold it against another program). A camera puts a curve of
its own before it, which no file tells: an S-shaped one reads -1 as -1.3, -2 as -2.6 and -5 as -6 (simulated). What
comes out is "about", and never takes the place of a meter.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import log2
from typing import Final

import numpy as np
from numpy.typing import NDArray

Codes = NDArray[np.uint8]  # rows, columns, and red, green and blue

_WHITE: Final = np.array([0.2126, 0.7152, 0.0722])  # what each makes of the luminance: IEC 61966-2-1
_CLIPS: Final = 250  # a code from which on more light may not show
_DARKEST: Final = 3.0  # a code below which one step is over a third of a stop
_V: Final = np.arange(256) / 255
LIGHT_OF_CODE: Final = np.where(_V <= 0.04045, _V / 12.92, ((_V + 0.055) / 1.055) ** 2.4)
_MIDDLE: Final = 1 / 3  # of a frame's width and height: where a grey card is held


class NotCompared(Exception):
    """Two pictures that say nothing of each other; the text says why."""


@dataclass(frozen=True, slots=True)
class Compared:
    """How many stops the second picture is over the first; ``clipped`` is the share left out of both."""

    stops: float
    clipped: float


def stops_between(first: Codes, second: Codes) -> Compared:
    """Return the stops from one picture to another, by their mean light where neither clips. Raises NotCompared."""
    if first.shape != second.shape:
        raise NotCompared("the two frames are not of one size")
    whole = (first < _CLIPS).all(axis=2) & (second < _CLIPS).all(axis=2)
    if not whole.any():
        raise NotCompared("everything clips: give it less light")
    if min(codes[whole].mean() for codes in (first, second)) < _DARKEST:
        raise NotCompared("too dark to measure")
    light = [float((LIGHT_OF_CODE[codes] @ _WHITE)[whole].mean()) for codes in (first, second)]
    return Compared(log2(light[1] / light[0]), 1 - float(whole.mean()))


def middle_of(codes: Codes) -> Codes:
    """Return the middle of a picture, a third of its width and height."""
    rows, columns = (round(side * (1 - _MIDDLE) / 2) for side in codes.shape[:2])
    return codes[rows : codes.shape[0] - rows, columns : codes.shape[1] - columns]


def ambient_against_flash(flash_frame: Codes, ambient_frame: Codes) -> Compared:
    """Return how many stops the room's light is over the flash alone, from a frame with flash and one without.

    The frame with flash holds the room's light too: that is taken off. Raises NotCompared.
    """
    read = stops_between(flash_frame, ambient_frame)
    share = 2**read.stops
    if share >= 1:
        raise NotCompared("the frame without flash is as bright as the one with it")
    return Compared(log2(share / (1 - share)), read.clipped)
