"""The marks engraved on lenses, dials and shutter wheels, and the exact values they stand for.

A mark is a rounded name: f/5.6 means 2^2.5 and 1/160 s means 2^-(7 1/3). All sums use the exact
value; the mark is only shown. Sources: the third-stop scales of ISO 517 (apertures), ISO 516
(shutter times) and ISO 12232 (speeds), quoted from memory; tests hold them against a public table.
"""

from __future__ import annotations

from math import isfinite, log2
from typing import Final

_FULL_F: Final = "0.5 0.7 1 1.4 2 2.8 4 5.6 8 11 16 22 32 45 64 90 128"
FULL_APERTURES: Final = (*_FULL_F.split(),)
_THIRD_F: Final = (
    "0.5 0.56 0.63 0.7 0.8 0.9 1 1.1 1.2 1.4 1.6 1.8 2 2.2 2.5 2.8 3.2 3.5 4 4.5 5 5.6 6.3 7.1 "
    "8 9 10 11 13 14 16 18 20 22 25 29 32 36 40 45 51 57 64 72 80 90 102 114 128"
)
_HALF_F: Final = "1.7 2.4 3.3 4.8 6.7 9.5 19"
_HALF_STOPS: Final = (1.5, 2.5, 3.5, 4.5, 5.5, 6.5, 8.5)

APERTURE_MARKS: Final[dict[float, float]] = {
    # Av (= log2 N^2) of each mark; thirds first, then the half-stop marks no third shares
    **{float(mark): n / 3 - 2 for n, mark in enumerate(_THIRD_F.split())},
    **{float(mark): av for mark, av in zip(_HALF_F.split(), _HALF_STOPS, strict=True)},
}

_SHUTTERS: Final = (
    "30 25 20 15 13 10 8 6 5 4 3.2 2.5 2 1.6 1.3 1 0.8 0.6 0.5 0.4 0.3 1/4 1/5 1/6 1/8 1/10 1/13 "
    "1/15 1/20 1/25 1/30 1/40 1/50 1/60 1/80 1/100 1/125 1/160 1/200 1/250 1/320 1/400 1/500 1/640 "
    "1/800 1/1000 1/1250 1/1600 1/2000 1/2500 1/3200 1/4000 1/5000 1/6400 1/8000"
)
SHUTTER_MARKS: Final[dict[str, float]] = {
    # Tv (= -log2 t) of each mark
    mark: n / 3 - 5
    for n, mark in enumerate(_SHUTTERS.split())
} | {"1": 0.0, "1/1": 0.0, "1/2": 1.0, "1/3": 5 / 3}

_ISO: Final = (
    "25 32 40 50 64 80 100 125 160 200 250 320 400 500 640 800 1000 1250 1600 2000 2500 3200 4000 "
    "5000 6400 8000 10000 12800 16000 20000 25600 32000 40000 51200 64000 80000 102400"
)
ISO_MARKS: Final[dict[int, float]] = {
    # stops over ISO 100 of each mark
    int(mark): n / 3 - 2
    for n, mark in enumerate(_ISO.split())
}


def aperture_stops(f: float) -> float:
    """Stops of an f-number, ``log2 N^2``: the exact value of a mark, else of the number itself.

    Raises ValueError when ``f`` is not above zero.
    """
    if not f > 0:
        raise ValueError(f"an f-number is above zero, not {f:g}")
    return APERTURE_MARKS.get(f, 2 * log2(f))


def aperture_mark(stops: float) -> tuple[str, float]:
    """The nearest full-stop mark not above ``stops`` and what is left over, in stops (0 to 1).

    ``aperture_mark(5.3)`` is ``("5.6", 0.3)``: the way a meter shows a reading in tenths. Off the
    ends of the scale the last mark stands, with all the rest left over.
    """
    low = min(max(int((stops + 2) // 1), 0), len(FULL_APERTURES) - 1)
    return FULL_APERTURES[low], stops - (low - 2)


def shutter_stops(shutter: str) -> float:
    """Stops of a shutter time, ``-log2 t`` (1/250 s is 8): the exact value of a mark.

    A time off the scale, like ``1/180``, counts as it is written. Raises ValueError when it is no
    time at all.
    """
    text = shutter.strip().removesuffix("s").strip()
    if text in SHUTTER_MARKS:
        return SHUTTER_MARKS[text]
    top, slash, bottom = text.partition("/")
    try:
        seconds = float(top) / float(bottom) if slash else float(top)
        stops = -log2(seconds)
        if isfinite(stops):
            return stops
    except (ValueError, ZeroDivisionError, OverflowError):
        pass
    raise ValueError(f"{shutter!r} is not a shutter time; write it like 1/160, 1/4 or 2")


def iso_stops(iso: float) -> float:
    """Stops of a film speed over ISO 100: the exact value of a mark (ISO 125 is a third).

    Raises ValueError when ``iso`` is not above zero.
    """
    if not iso > 0:
        raise ValueError(f"an ISO speed is above zero, not {iso:g}")
    return ISO_MARKS.get(int(iso), log2(iso / 100)) if iso == int(iso) else log2(iso / 100)
