"""A camera's picture: whether its file is whole, what its EXIF says, and a small copy of it to look at.

Pillow reads everything. Raw files are read as far as they are shaped like a TIFF, or hold one: Pillow has no raw
decoder, so their small copy is made of the JPEG that the camera embeds in them. EXIF tags and their special values:
CIPA DC-008, as quoted by awaresystems.be and exiv2.org (seen).
"""

from __future__ import annotations

import datetime as dt
import re
import warnings
from collections.abc import Iterator, Mapping
from contextlib import suppress
from dataclasses import dataclass, replace
from hashlib import blake2b
from io import BytesIO
from itertools import islice
from math import nan
from pathlib import Path
from typing import TYPE_CHECKING, Any, BinaryIO, Final
from unicodedata import category

from PIL import Image, ImageOps
from PIL.ExifTags import IFD, Base

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Codes = NDArray[np.uint8]

# Pillow would warn on the terminal that the screens are on: of nonsense in EXIF, and of size, which is checked here
warnings.filterwarnings("ignore", module=r"PIL\.")
Image.MAX_IMAGE_PIXELS = None
_PIXELS_MAX: Final = 400_000_000  # more than any camera has; a claim beyond it is an attack or an accident

JPEGS: Final = (".jpg", ".jpeg")
_RAWS: Final = (
    ".3fr .arw .cr2 .cr3 .dng .erf .fff .iiq .mef .mos .nef .nrw .orf .pef .raf .raw .rw2 .rwl .sr2 .srf .srw"
)
PICTURES: Final = frozenset((*JPEGS, ".tif", ".tiff", ".heic", ".heif", ".hif", ".avif", *_RAWS.split()))

SELECT_START: Final = "select-"  # of the names of the small pictures that the day keeps
_FORMATS: Final = ("JPEG", "TIFF", "AVIF")  # what is decoded: not all that Pillow would run a program for

_HEAD, _TAIL = 256 * 1024, 64 * 1024  # bytes: what holds the EXIF, and what tells one picture from another
_EMBEDDED_MAX: Final = 2**25  # bytes of a JPEG in a raw file
_EMBEDDED_TRIED: Final = 16
_JPEG, _TIFFS, _RAF = b"\xff\xd8\xff", (b"II", b"MM"), b"FUJIFILMCCD-RAW"
# a TIFF with the EXIF inside another file: of HEIF after the first mark, of a .cr3 after the second
_INSIDE: Final = re.compile(rb"(?:Exif\0\0|CMT2)(?=II\*\0|MM\0\*)")
_ISO_FULL: Final = 65535  # or more: the tag that the type names says how much
_SOS, _REI, _SPEED = Base.StandardOutputSensitivity, Base.RecommendedExposureIndex, Base.ISOSpeed
_ISO_BY_TYPE: Final = {1: _SOS, 2: _REI, 3: _SPEED, 4: _SOS, 5: _SOS, 6: _REI, 7: _SOS}
_WORDS_MAX: Final = 60
_QUALITIES, _SMALL_MAX = (85, 70, 50, 30), 100_000


class NotRead(Exception):
    """A file that is no whole picture, or no picture that can be used; the text says why."""


@dataclass(frozen=True, slots=True)
class Picture:
    """What a picture says of itself; None for what it does not say.

    ``taken`` is the time on the camera's clock, with its time zone where the camera writes one. ``flash`` are the
    bits of the EXIF tag: the first is 1 where the flash fired, as far as the camera knows. ``fingerprint`` tells
    a file's content from any other's.
    """

    size: int
    fingerprint: str
    taken: dt.datetime | None = None
    f: float | None = None
    shutter_s: float | None = None
    iso: float | None = None
    focal_mm: float | None = None
    flash: int | None = None
    camera: str = ""


def is_picture_name(name: str) -> bool:
    """Return whether a file's name is that of a camera's picture; a hidden one is of a file that is still written."""
    return "".join(name.rpartition(".")[1:]).lower() in PICTURES and not name.startswith((".", SELECT_START))


def read_picture(path: Path) -> Picture:
    """Return what a whole picture says. Raises NotRead where it is none, or not whole yet; OSError.

    A cut JPEG is known by its end, a cut TIFF by its missing directory. There is no such test for other raw files:
    call this once a file no longer grows. A value that is missing in the EXIF, or makes no sense, is None.
    """
    with path.open("rb") as file:
        head, tail, size = _ends(file)
        if not (head.startswith((_JPEG, *_TIFFS, _RAF)) or head[4:8] == b"ftyp"):
            raise NotRead("not a picture")
        if head.startswith(_JPEG):  # cut after its thumbnail it has an end, and no picture
            image = _opened(path)
            if not tail.rstrip(b"\0").endswith(b"\xff\xd9"):  # whatever a camera appends; a cut one is not decoded
                _decoded(image, image.width // 8, image.height // 8)
        picture, tags = Picture(size, _fingerprint(head, tail, size)), None
        with suppress(Exception):  # whatever a hostile file makes of Pillow, it is still a frame that was taken
            tags = _tags(file)
            picture = _with_exif(picture, tags)
    if not tags and head.startswith(_TIFFS):
        raise NotRead("not a whole picture")
    return picture


def fingerprint_of(path: Path) -> str:
    """Return the fingerprint of a file as ``read_picture`` has it. Raises OSError."""
    with path.open("rb") as file:
        return _fingerprint(*_ends(file))


def _ends(file: BinaryIO) -> tuple[bytes, bytes, int]:
    """Return the start and the end of a file, and its size."""
    head = file.read(_HEAD)
    size = file.seek(0, 2)
    file.seek(max(size - _TAIL, 0))
    return head, file.read(_TAIL), size


def _fingerprint(head: bytes, tail: bytes, size: int) -> str:
    return blake2b(size.to_bytes(8, "big") + head[:_TAIL] + tail, digest_size=12).hexdigest()


def _opened(path: Path | BytesIO) -> Image.Image:
    """Return a picture opened, not decoded. Raises NotRead."""
    try:
        image = Image.open(path, formats=_FORMATS)
    except FileNotFoundError:
        raise NotRead("gone") from None
    except Exception:  # Pillow raises OSError, SyntaxError, struct.error, ... on what it cannot read
        raise NotRead("not a whole picture") from None
    if image.width * image.height > _PIXELS_MAX:
        raise NotRead(f"claims {image.width} x {image.height} pixels")
    return image


def _decoded(image: Image.Image, wide: int, high: int) -> Image.Image:
    """Return a picture upright, in about so many pixels, where its format can be decoded in fewer. Raises NotRead."""
    try:
        image.draft("RGB", (wide, high))
        return ImageOps.exif_transpose(image).convert("RGB")
    except Exception:
        raise NotRead("not a whole picture") from None


# -- EXIF ----------------------------------------------------------------------------------------


def _tags(file: BinaryIO) -> Mapping[int, Any]:
    """Return the tags of a picture, from its start. Raises what Pillow raises."""
    file.seek(0)
    head, exif = file.read(_HEAD), Image.Exif()
    if head.startswith(_RAF):
        file.seek(int.from_bytes(head[84:88], "big"))  # where the JPEG in it begins
        return _tags(BytesIO(file.read(_EMBEDDED_MAX)))
    if head.startswith(_JPEG):
        file.seek(0)
        with Image.open(file) as image:
            exif = image.getexif()
    elif head.startswith((b"II*\0", b"MM\0*")):
        file.seek(0)
        exif.load_from_fp(file)  # the whole file: its directory may lie at the end
    elif inside := _INSIDE.search(head):
        exif.load_from_fp(BytesIO(head[inside.end() :]))
    else:  # raws with a number of their own in place of the 42 of a TIFF
        exif.load_from_fp(BytesIO(head[:2] + (b"*\0" if head.startswith(b"II") else b"\0*") + head[4:]))
    return dict(exif) | exif.get_ifd(IFD.Exif)


def _with_exif(picture: Picture, tags: Mapping[int, Any]) -> Picture:
    apex_time, apex_f = _number(tags, Base.ShutterSpeedValue, -17, 20), _number(tags, Base.ApertureValue, 0.01, 16)
    iso, kind, flash = _number(tags, Base.ISOSpeedRatings, 1, 1e8), tags.get(Base.SensitivityType), tags.get(Base.Flash)
    if iso is None or iso >= _ISO_FULL:
        iso = _number(tags, _ISO_BY_TYPE.get(kind, 0) if isinstance(kind, int) else 0, 1, 1e8)
    names = (_words(tags.get(tag)) for tag in (Base.Make, Base.Model, Base.BodySerialNumber))
    return replace(
        picture,
        taken=_time(tags),
        shutter_s=_number(tags, Base.ExposureTime, 1e-6, 1e5) or (None if apex_time is None else 2**-apex_time),
        f=_number(tags, Base.FNumber, 0.3, 200) or (apex_f and 2 ** (apex_f / 2)),
        iso=iso,
        focal_mm=_number(tags, Base.FocalLength, 0.1, 1e4),
        flash=flash if isinstance(flash, int) and 0 <= flash < 128 else None,
        camera=" ".join(filter(None, names))[:_WORDS_MAX],
    )


def _number(tags: Mapping[int, Any], tag: int, least: float, most: float) -> float | None:
    """Return a tag as a number, the first of several; None for what makes no sense, like a zero denominator."""
    value = tags.get(tag)
    if isinstance(value, tuple | list) and value:
        value = value[0]
    with suppress(TypeError, ValueError, ArithmeticError):
        number = nan if isinstance(value, str | bytes | bool) else float(value)  # type: ignore[arg-type]
        return number if least <= number <= most else None
    return None


def _words(value: Any) -> str:
    """Return a text without what could command a terminal or turn letters round, cut to a line."""
    if not isinstance(value, str):
        return ""
    return " ".join("".join(char for char in value if category(char)[0] != "C" or char == " ").split())[:_WORDS_MAX]


def _time(tags: Mapping[int, Any]) -> dt.datetime | None:
    """Return when a picture was taken by its camera's clock; None where that is blank or no time."""
    with suppress(ValueError):
        taken = dt.datetime.strptime(_words(tags.get(Base.DateTimeOriginal)), "%Y:%m:%d %H:%M:%S")
        part = _words(tags.get(Base.SubsecTimeOriginal))
        if part.isascii() and part.isdigit():
            taken += dt.timedelta(seconds=float(f"0.{part}"))
        with suppress(ValueError):
            taken = taken.replace(tzinfo=dt.datetime.strptime(_words(tags.get(Base.OffsetTimeOriginal)), "%z").tzinfo)
        return taken if 1900 <= taken.year < 9000 else None  # beyond, a time zone has no such moment
    return None


# -- the picture itself --------------------------------------------------------------------------


def small_picture(path: Path, side: int = 640) -> bytes:
    """Return a small copy as a JPEG of at most ``side`` pixels a side; no tag of the original is in it.

    It has at most about 100 kB, so that those of a whole day can be sent. Raises NotRead.
    """
    image, out = small_image(path, side, side), BytesIO()
    for quality in _QUALITIES:
        image.save(out := BytesIO(), "JPEG", quality=quality)
        if out.tell() <= _SMALL_MAX:
            break
    return out.getvalue()


def small_image(path: Path, wide: int, high: int) -> Image.Image:
    """Return a picture upright, in so many pixels at most; of a raw file the JPEG in it. Raises NotRead."""
    image = _decoded(_image(path), wide, high)
    image.thumbnail((wide, high))
    return image


def _image(path: Path) -> Image.Image:
    """Return the picture of a file, or the largest JPEG in a raw file. Raises NotRead."""
    if path.suffix.lower() in (*JPEGS, ".avif", ".tif", ".tiff"):
        return _opened(path)
    embedded = max(_embedded(path), key=lambda image: image.width, default=None)
    if embedded is None:
        raise NotRead("no picture in it that can be shown; let the camera write a JPEG too")
    with suppress(Exception), path.open("rb") as file:  # which way is up is often said only of the raw file
        embedded.getexif().setdefault(Base.Orientation, _tags(file)[Base.Orientation])
    return embedded


def _embedded(path: Path) -> Iterator[Image.Image]:
    """Yield the JPEGs inside a raw file."""
    raw = b""
    with suppress(OSError):
        raw = path.read_bytes()
    for match in islice(re.finditer(_JPEG, raw), _EMBEDDED_TRIED):
        with suppress(NotRead):
            yield _opened(BytesIO(raw[match.start() : match.start() + _EMBEDDED_MAX]))


def picture_codes(path: Path) -> Codes:
    """Return the codes of a picture's pixels (rows, columns, red green blue), decoded at an eighth of its size.

    Raises NotRead where they are not sRGB: other curves are not known.
    """
    import numpy as np

    image = _image(path)
    colours = image.getexif().get_ifd(IFD.Exif).get(Base.ColorSpace)
    if colours != 1 and b"sRGB" not in image.info.get("icc_profile", b""):
        raise NotRead("not marked as sRGB: how its codes stand for light is not known")
    return np.asarray(_decoded(image, image.width // 8, image.height // 8))
