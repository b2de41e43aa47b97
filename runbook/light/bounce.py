"""What a panel sends on to the face: one bounce off a matt surface, by patches.

Each patch of the panel is lit by each head as the face would be, times the cosine of incidence,
and sends ``ρ·E·cos(patch)·dA / (π·r²)`` on to a meter turned to it: Lambert's matt surface, Siegel
and Howell, *Thermal Radiation Heat Transfer*, from memory. The patches are the nodes of Gauss's
rule, 12 x 12 at least; cells near the face, near a head or inside a narrow beam are halved until
they are no larger than what they must follow.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from math import log2, pi, radians, sqrt, tan
from typing import Final, NamedTuple

from runbook.light.falloff import Beam, share_by_square
from runbook.light.scene import Plane
from runbook.light.stops import DARK
from runbook.model.geometry import Point

_CELLS: Final = 3  # to a side, of 4 x 4 nodes each: 12 x 12 patches
_GAUSS_4: Final = (
    (-0.8611363115940526, 0.34785484513745385),
    (-0.3399810435848563, 0.6521451548625461),
    (0.3399810435848563, 0.6521451548625461),
    (0.8611363115940526, 0.34785484513745385),
)
_LEAST_M: Final = 0.01  # nothing in a studio needs finer cells than its own thickness
_EDGE_M: Final = 0.03
_SHARP: Final = 1.0  # an exponent under it ends a beam so sharply at 90 degrees that it shows
_NARROW_DEG: Final = 100.0  # wider beams change no faster over a panel than the distance does


class Cell(NamedTuple):
    """A rectangle of a panel: its middle across and up, and its half sides."""

    across: float
    up: float
    half_across: float
    half_up: float

    @property
    def reach(self) -> float:
        """From its middle to a corner."""
        return sqrt(self.half_across**2 + self.half_up**2)

    def parts(self) -> tuple[Cell, ...]:
        """Its quarters; the halves of one that is long."""
        a, u, ha, hu = self.across, self.up, self.half_across / 2, self.half_up / 2
        if ha > 2 * hu:
            return Cell(a - ha, u, ha, 2 * hu), Cell(a + ha, u, ha, 2 * hu)
        if hu > 2 * ha:
            return Cell(a, u - hu, 2 * ha, hu), Cell(a, u + hu, 2 * ha, hu)
        return (
            Cell(a - ha, u - hu, ha, hu),
            Cell(a + ha, u - hu, ha, hu),
            Cell(a - ha, u + hu, ha, hu),
            Cell(a + ha, u + hu, ha, hu),
        )


class Patch(NamedTuple):
    """A node of the panel: where it is, and the share of its light that goes on to the face.

    ``share`` is ``cos(patch)·dA / (π·r²)`` with the meter turned to the patch.
    """

    across: float
    up: float
    share: float


@dataclass(frozen=True, slots=True)
class PanelPatches:
    """A panel as the face sees it: its plane, its cells and their patches.

    ``patches`` is empty when the face is not in front of the panel.
    """

    surface: Plane
    face: Point
    cells: tuple[Cell, ...]
    patches: tuple[Patch, ...]


def _refined(cells: Iterable[Cell], too_coarse: Callable[[Cell], bool]) -> Iterator[Cell]:
    for cell in cells:
        if too_coarse(cell):
            yield from _refined(cell.parts(), too_coarse)
        else:
            yield cell


def _near(point: Point) -> Callable[[Cell], bool]:
    """Too coarse is a cell larger than its distance from a point in front of the panel."""
    px, py, pz = point

    def too_coarse(cell: Cell) -> bool:
        across = max(abs(px - cell.across) - cell.half_across, 0.0)
        up = max(abs(py - cell.up) - cell.half_up, 0.0)
        return cell.reach > max(sqrt(across * across + up * up + pz * pz), _LEAST_M)

    return too_coarse


def _in_beam(origin: Point, axis: Point, spread_deg: float) -> Callable[[Cell], bool]:
    """Too coarse is a cell larger than a narrow beam is wide there, or than its way from it."""
    half_tan = tan(radians(spread_deg / 2))

    def too_coarse(cell: Cell) -> bool:
        x, y = cell.across - origin.x, cell.up - origin.y
        along = x * axis.x + y * axis.y - origin.z * axis.z
        beside = sqrt(max(x * x + y * y + origin.z**2 - along * along, 0.0))
        wide = max(along + cell.reach, 0.0) * half_tan
        return cell.reach > max(wide, beside - cell.reach - wide, _LEAST_M)

    return too_coarse


def _on_edge(origin: Point, axis: Point) -> Callable[[Cell], bool]:
    """Too coarse is a cell that a wide beam's sharp end, 90 degrees off its axis, runs through."""

    def too_coarse(cell: Cell) -> bool:
        x, y = cell.across - origin.x, cell.up - origin.y
        along = x * axis.x + y * axis.y - origin.z * axis.z
        return cell.reach > max(abs(along), _EDGE_M)

    return too_coarse


def _patches(cells: Iterable[Cell], face: Point) -> tuple[Patch, ...]:
    fx, fy, fz = face
    patches = []
    for a, u, ha, hu in cells:
        area = ha * hu * fz / pi
        for s, weight_s in _GAUSS_4:
            across = a + s * ha
            square = (across - fx) ** 2 + fz * fz
            for t, weight_t in _GAUSS_4:
                up = u + t * hu
                r2 = square + (up - fy) ** 2
                patches.append(Patch(across, up, weight_s * weight_t * area / (r2 * sqrt(r2))))
    return tuple(patches)


def cut_panel(surface: Plane, width_m: float, height_m: float, face: Point) -> PanelPatches:
    """Cut a panel into patches for a face: made once, lit by every head."""
    local = surface.local(face)
    if local.z <= 0:
        return PanelPatches(surface, local, (), ())
    half_across, half_up = width_m / (2 * _CELLS), height_m / (2 * _CELLS)
    steps = range(1 - _CELLS, _CELLS, 2)
    coarse = [Cell(i * half_across, j * half_up, half_across, half_up) for i in steps for j in steps]
    cells = tuple(_refined(coarse, _near(local)))
    return PanelPatches(surface, local, cells, _patches(cells, local))


def bounce_stops(panel: PanelPatches, reflectance: float, beam: Beam) -> float:
    """Stops a panel of this reflectance sends to the face from one head, the meter turned to it.

    ``DARK`` when head or face is behind the panel, the beam misses it, or it reflects nothing.
    """
    origin = panel.surface.local(beam.origin)
    if not panel.patches or origin.z <= 0 or reflectance <= 0 or beam.stops == DARK:
        return DARK
    axis = panel.surface.turned(beam.axis)
    cells: Iterable[Cell] = _refined(panel.cells, _near(origin))
    if beam.exponent is not None and beam.spread_deg < _NARROW_DEG:
        cells = _refined(cells, _in_beam(origin, axis, beam.spread_deg))
    elif beam.exponent is not None and beam.exponent < _SHARP:
        cells = _refined(cells, _on_edge(origin, axis))
    cells = tuple(cells)
    patches = panel.patches if len(cells) == len(panel.cells) else _patches(cells, panel.face)
    light = reflectance * _received(patches, origin, axis, beam)
    return beam.stops + log2(light) if light > 0 else DARK


def _received(patches: tuple[Patch, ...], origin: Point, axis: Point, beam: Beam) -> float:
    """The face's share of a beam by way of the patches; the tight loop of the whole prediction."""
    ox, oy, oz = origin
    ax, ay, az = axis
    oz2, behind = oz * oz, oz * az
    share = share_by_square(beam.source)
    power = beam.exponent
    total = 0.0
    if power is None:
        for across, up, weight in patches:
            x, y = across - ox, up - oy
            d2 = x * x + y * y + oz2
            total += weight * share(d2) / sqrt(d2)
        return total * oz
    for across, up, weight in patches:
        x, y = across - ox, up - oy
        along = x * ax + y * ay - behind
        if along > 0:
            d2 = x * x + y * y + oz2
            d = sqrt(d2)
            total += weight * share(d2) * (along / d) ** power / d
    return total * oz
