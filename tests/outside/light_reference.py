"""Light in a room of flat things, summed by brute force: an independent check of the prediction.

Written from the formulas alone, with nothing of the program: every surface a dense grid of midpoints, every line of
sight a test against every rectangle, everything in linear light (squared f-numbers). Lambert's matt surface:
J. R. Howell, M. P. Mengüç, *Thermal Radiation Heat Transfer*, from memory.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


def unit(v: Array) -> Array:
    return v / np.linalg.norm(v, axis=-1, keepdims=True)


def level_across(normal: Array) -> Array:
    """The level direction along a surface with this normal: nothing is ever rolled."""
    flat = np.array([-normal[1], normal[0], 0.0])
    length = np.linalg.norm(flat)
    return flat / length if length > 1e-9 else np.array([1.0, 0.0, 0.0])


@dataclass(frozen=True)
class Sheet:
    """A flat rectangle: a wing of a panel, a flag, or a hung cloth.

    ``passes`` is the share of a beam that crosses it straight, ``scatters`` the share that leaves the far
    side in all directions, ``reflects`` what the lit side sends back; a panel reflects from its front only.
    """

    name: str
    middle: Array
    normal: Array
    width: float
    height: float
    reflects: float = 0.0
    passes: float = 0.0
    scatters: float = 0.0
    two_sided: bool = False

    def axes(self) -> tuple[Array, Array]:
        across = level_across(self.normal)
        return across, np.cross(self.normal, across)

    def grid(self, n: int) -> tuple[Array, float]:
        """n x n midpoints, and the area of one cell."""
        across, up = self.axes()
        at = (np.arange(n) + 0.5) / n - 0.5
        a, u = np.meshgrid(at * self.width, at * self.height)
        points = self.middle + a.reshape(-1, 1) * across + u.reshape(-1, 1) * up
        return points, self.width * self.height / n**2

    def let_through(self, start: Array, end: Array) -> Array:
        """The share of light that goes straight on from ``start`` to ``end``, (n, 3) or (3,) both."""
        start, end = np.broadcast_arrays(np.atleast_2d(start), np.atleast_2d(end))
        way = end - start
        run = way @ self.normal
        with np.errstate(divide="ignore", invalid="ignore"):
            t = ((self.middle - start) @ self.normal) / run
        hit = start + np.where(np.isfinite(t), t, 2.0)[:, None] * way - self.middle
        across, up = self.axes()
        inside = (np.abs(hit @ across) < self.width / 2) & (np.abs(hit @ up) < self.height / 2)
        crossed = np.isfinite(t) & (t > 1e-6) & (t < 1 - 1e-6) & inside
        return np.where(crossed, self.passes, 1.0)


@dataclass(frozen=True)
class Lamp:
    """A head: the middle of its front, its axis, its light on the axis by distance, its beam."""

    name: str
    origin: Array
    axis: Array
    on_axis: Callable[[Array], Array]  # squared f-number at a distance, meter turned to it
    exponent: float | None = None
    shape: str = "bare"
    width: float = 0.0
    height: float = 0.0
    in_hand: frozenset[str] = field(default_factory=frozenset)  # cloths taken for it by hand

    def front(self, n: int) -> Array:
        """Points over its front, evenly."""
        if self.shape == "bare" or self.width == 0:
            return self.origin[None, :]
        across = level_across(self.axis)
        up = np.cross(self.axis, across)
        at = (np.arange(n) + 0.5) / n - 0.5
        if self.shape == "round":
            radius = self.width / 2 * np.sqrt((np.arange(n) + 0.5) / n)
            turn = 2 * np.pi * (np.arange(n) + 0.5) / n
            r, t = np.meshgrid(radius, turn)
            a, u = (r * np.cos(t)).ravel(), (r * np.sin(t)).ravel()
        else:
            a, u = (g.ravel() for g in np.meshgrid(at * self.width, at * self.height))
        return self.origin + a[:, None] * across + u[:, None] * up

    def strength(self, points: Array) -> Array:
        """What a meter turned to it shows at each point, nothing in the way."""
        way = points - self.origin
        far = np.linalg.norm(way, axis=1)
        cosine = np.clip((way @ self.axis) / far, -1.0, 1.0)
        if self.exponent is None:
            thrown = np.ones_like(far)
        else:
            thrown = np.where(cosine > 0, np.abs(cosine) ** self.exponent, 0.0)
        return self.on_axis(far) * thrown


@dataclass(frozen=True)
class Room:
    lamps: Sequence[Lamp]
    sheets: Sequence[Sheet]
    face: Array
    lens: Array
    grid: int = 60
    front: int = 12

    def seen(self, lamp: Lamp, points: Array, skip: str = "") -> Array:
        """The share of a lamp's front that each point sees, cloths in the way counted."""
        sheets = [s for s in self.sheets if s.name != skip and s.name not in lamp.in_hand]
        total = np.zeros(len(points))
        fronts = lamp.front(self.front)
        for start in fronts:
            share = np.ones(len(points))
            for sheet in sheets:
                share = share * sheet.let_through(start, points)
            total += share
        return total / len(fronts)

    def direct(self, lamp: Lamp, points: Array, skip: str = "") -> Array:
        return lamp.strength(points) * self.seen(lamp, points, skip)

    def from_sheet(self, lamp: Lamp, sheet: Sheet, target: Array) -> tuple[float, float]:
        """What a sheet sends of a lamp to a meter at ``target`` turned to each patch: bounced, scattered."""
        if sheet.name in lamp.in_hand:
            return 0.0, 0.0
        points, area = sheet.grid(self.grid)
        to_lamp = unit(lamp.origin - points) @ sheet.normal
        side = np.sign((lamp.origin - sheet.middle) @ sheet.normal)
        if side < 0 and not sheet.two_sided:
            return 0.0, 0.0
        falls = self.direct(lamp, points, sheet.name) * np.clip(side * to_lamp, 0.0, None)
        way = target - points
        square = np.sum(way**2, axis=1)
        leaves = (way @ sheet.normal) / np.sqrt(square) * side  # plus on the lit side
        clear = np.ones(len(points))
        for other in self.sheets:
            if other.name != sheet.name:
                clear = clear * other.let_through(points, target)
        onward = falls * clear * area / (np.pi * square)
        bounced = sheet.reflects * float(np.sum(onward * np.clip(leaves, 0.0, None)))
        scattered = sheet.scatters * float(np.sum(onward * np.clip(-leaves, 0.0, None)))
        return bounced, scattered

    def lamp_reading(self, lamp: Lamp) -> float:
        """A head's own reading at the face: straight, and what cloths scatter of it."""
        straight = float(self.direct(lamp, self.face[None, :])[0])
        return straight + sum(self.from_sheet(lamp, sheet, self.face)[1] for sheet in self.sheets)

    def sheet_reading(self, names: Sequence[str]) -> float:
        """What these sheets bounce to the face of all lamps."""
        mine = [sheet for sheet in self.sheets if sheet.name in names]
        return sum(self.from_sheet(lamp, sheet, self.face)[0] for lamp in self.lamps for sheet in mine)

    def dome(self, point: Array) -> float:
        """How much a source at a point counts on a dome turned to the camera."""
        return float(1 + unit(point - self.face) @ unit(self.lens - self.face)) / 2

    def whole(self) -> float:
        total = 0.0
        for lamp in self.lamps:
            total += float(self.direct(lamp, self.face[None, :])[0]) * self.dome(lamp.origin)
            for sheet in self.sheets:
                total += sum(self.from_sheet(lamp, sheet, self.face)) * self.dome(sheet.middle)
        return total

    def flat(self, point: Array, normal: Array) -> float:
        """A flat meter: heads straight, and what sheets bounce and scatter there, by the cosine of each patch."""
        total = 0.0
        for lamp in self.lamps:
            straight = float(self.direct(lamp, point[None, :])[0])
            total += straight * max(float(unit(lamp.origin - point) @ normal), 0.0)
            for sheet in self.sheets:
                total += self._patchwise_flat(lamp, sheet, point, normal)
        return total

    def _patchwise_flat(self, lamp: Lamp, sheet: Sheet, point: Array, normal: Array) -> float:
        if sheet.name in lamp.in_hand:
            return 0.0
        points, area = sheet.grid(self.grid)
        side = np.sign((lamp.origin - sheet.middle) @ sheet.normal)
        if side < 0 and not sheet.two_sided:
            return 0.0
        incidence = np.clip(side * (unit(lamp.origin - points) @ sheet.normal), 0.0, None)
        falls = self.direct(lamp, points, sheet.name) * incidence
        way = point - points
        square = np.sum(way**2, axis=1)
        leaves = (way @ sheet.normal) / np.sqrt(square) * side
        arrives = np.clip(unit(points - point) @ normal, 0.0, None)
        clear = np.ones(len(points))
        for other in self.sheets:
            if other.name != sheet.name:
                clear = clear * other.let_through(points, point)
        share = np.where(leaves > 0, sheet.reflects, sheet.scatters) * np.abs(leaves)
        return float(np.sum(falls * clear * share * arrives * area / (np.pi * square)))
