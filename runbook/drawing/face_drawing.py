"""The picture of the face in a terminal's cells, in half blocks, shades or plain signs, and as a PNG for sheets.

A camera's picture is drawn by the same half blocks.
"""

from __future__ import annotations

from base64 import b64encode
from io import BytesIO
from itertools import groupby
from pathlib import Path
from typing import Final, Literal

import numpy as np
from numpy.typing import NDArray

from runbook.files.pictures import small_image
from runbook.light.face import HIGH_M, WIDE_M, Face, render_face
from runbook.light.prediction import LitSetup

Colour = tuple[int, int, int]
Signs = Literal["half blocks", "shades", "ascii"]
Run = tuple[str, Colour | None, Colour | None]  # a text, its colour, and that of its ground

HALF_BLOCK: Final = "▀"
RAMPS: Final[dict[Signs, str]] = {"shades": " ░▒▓█", "ascii": " .:-=+*#%@"}
# the grey that the fullest sign of a ramp stands for: a stop over the working aperture
_FULL: Final = 162.0


def face_size(columns: int, rows: int) -> tuple[int, int]:
    """Return the size in pixels of a face that fits into so many cells, each two pixels high."""
    return max(min(columns, round(2 * rows * WIDE_M / HIGH_M)), 1), max(2 * rows, 2)


def face_cells(face: Face, signs: Signs, tint: Colour, ground: Colour) -> list[list[Run]]:
    """Return a face as rows of runs of cells, two pixels above each other in a cell.

    ``tint`` is what white looks like in the theme. Where nothing is known of the background, the ``ground`` of the
    screen shows. Shades and plain signs have no colours of their own.
    """
    if signs != "half blocks":
        return [[(row, None, None)] for row in _sign_rows(face, RAMPS[signs])]
    return _half_blocks(_coloured(face, tint, ground))


def picture_cells(path: Path, columns: int, rows: int, tint: Colour) -> list[list[Run]]:
    """Return a picture of a file in half blocks, in so many cells at most; in a coloured ``tint`` it is in that alone.

    Raises NotRead.
    """
    image = small_image(path, columns, 2 * rows)
    if len(set(tint)) > 1:
        image = image.convert("L").convert("RGB")
    pixels = np.asarray(np.round(np.asarray(image) * (np.array(tint) / 255)), np.uint8)
    return _half_blocks(np.repeat(pixels, 2, 0) if len(pixels) == 1 else pixels[: len(pixels) // 2 * 2])


def _half_blocks(pixels: NDArray[np.uint8]) -> list[list[Run]]:
    """Return pixels as rows of runs of cells, two above each other in a cell."""
    rows = []
    for upper, lower in zip(pixels[::2], pixels[1::2], strict=True):
        cells = [(tuple(one), tuple(other)) for one, other in zip(upper.tolist(), lower.tolist(), strict=True)]
        rows.append([_run(*pair, len(list(group))) for pair, group in groupby(cells)])
    return rows


def _run(upper: Colour, lower: Colour, count: int) -> Run:
    return (" " * count, None, upper) if upper == lower else (HALF_BLOCK * count, upper, lower)


def _coloured(face: Face, tint: Colour, ground: Colour) -> NDArray[np.uint8]:
    """Return the colour of each pixel."""
    white, cover = np.array(tint) / 255, face.cover[..., None]
    behind = np.array(ground) if face.background is None else face.background * white
    colours = cover * face.greys[..., None] * white + (1 - cover) * behind
    return np.asarray(np.round(colours), np.uint8)


def _sign_rows(face: Face, ramp: str) -> list[str]:
    """Return a sign for each two pixels above each other, the fuller the brighter they are together."""
    greys = face.cover * face.greys + (1 - face.cover) * (face.background or 0)
    fullness = np.clip((greys[::2] + greys[1::2]) / 2 / _FULL, 0, 1)
    # what is not black is not blank
    places = np.ceil(fullness * (len(ramp) - 1) - 0.5 + 1e-6).astype(int)
    return ["".join(ramp[place] for place in row) for row in places]


def face_png(face: Face, width_px: int) -> bytes:
    """Return a face as a PNG of so many pixels across, clear where nothing is known of the background."""
    from PIL import Image

    cover = face.cover if face.background is None else np.ones_like(face.cover)
    greys = face.greys if face.background is None else face.cover * face.greys + (1 - face.cover) * face.background
    image = Image.fromarray(np.stack((np.round(greys), np.round(255 * cover)), axis=-1).astype(np.uint8))
    rows, columns = face.greys.shape
    if width_px != columns:
        image = image.resize((width_px, max(round(rows * width_px / columns), 1)), Image.Resampling.LANCZOS)
    out = BytesIO()
    image.save(out, "PNG", optimize=True)
    return out.getvalue()


def face_data_uri(lit: LitSetup, width_px: int) -> str:
    """Return the face of a setup as what an ``<img>`` shows without a file beside it."""
    face = render_face(lit, width_px, round(width_px * HIGH_M / WIDE_M))
    return f"data:image/png;base64,{b64encode(face_png(face, width_px)).decode()}"
