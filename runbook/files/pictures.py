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
from math import isfinite
from pathlib import Path
from typing import TYPE_CHECKING, Any, BinaryIO, Final
from unicodedata import category

from PIL import Image, ImageOps

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
_EXIF_IFD: Final = 0x8769
_MAKE, _MODEL, _SERIAL = 0x010F, 0x0110, 0xA431
_TAKEN, _SUBSECOND, _ZONE = 0x9003, 0x9291, 0x9011
_SHUTTER, _SHUTTER_APEX, _F, _F_APEX, _FOCAL = 0x829A, 0x9201, 0x829D, 0x9202, 0x920A
_ISO, _ISO_TYPE, _FLASH, _COLOURS = 0x8827, 0x8830, 0x9209, 0xA001
_ISO_FULL: Final = 65535  # or more: the tag that the type names says how much
_ISO_BY_TYPE: Final = {1: 0x8831, 2: 0x8832, 3: 0x8833, 4: 0x8831, 5: 0x8831, 6: 0x8832, 7: 0x8831}
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

    A cut JPEG is told by its end, a cut TIFF where its directory is missing. No such test is known of other raw files:
    that a file no longer grows must be seen to before. What the EXIF does not say, or says in nonsense, is None.
    """
    with path.open("rb") as file:
        head, tail, size = _ends(file)
        if not (head.startswith((_JPEG, *_TIFFS, _RAF)) or head[4:8] == b"ftyp"):
            raise NotRead("not a picture")
        if head.startswith(_JPEG):  # cut after its thumbnail it has an end, and no picture
            has_end = tail.rstrip(b"\0").endswith(b"\xff\xd9")
            _opened(path, decoded_at=0 if has_end else 8)  # whatever a camera appends; a cut one cannot be decoded
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


def _opened(path: Path | BytesIO, decoded_at: int = 0) -> Image.Image:
    """Return a picture opened; decoded at a fraction of its size where that is asked. Raises NotRead."""
    try:
        image = Image.open(path, formats=_FORMATS)
        if decoded_at and image.width * image.height <= _PIXELS_MAX:
            image.draft(None, (image.width // decoded_at, image.height // decoded_at))
            image.load()
    except FileNotFoundError:
        raise NotRead("gone") from None
    except Exception:  # Pillow raises OSError, SyntaxError, struct.error, ... on what it cannot decode
        raise NotRead("not a whole picture") from None
    if image.width * image.height > _PIXELS_MAX:
        raise NotRead(f"claims {image.width} x {image.height} pixels")
    return image


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
    elif inside := _INSIDE.search(head):
        exif.load_from_fp(BytesIO(head[inside.end() :]))
    elif head[2:4] in (b"*\0", b"\0*"):
        file.seek(0)
        exif.load_from_fp(file)  # the whole file: its directory may lie at the end
    else:  # raws with a number of their own in place of the 42 of a TIFF
        exif.load_from_fp(BytesIO(head[:2] + (b"*\0" if head.startswith(b"II") else b"\0*") + head[4:]))
    return dict(exif) | exif.get_ifd(_EXIF_IFD)


def _with_exif(picture: Picture, tags: Mapping[int, Any]) -> Picture:
    shutter, apex_time = _number(tags.get(_SHUTTER), 1e-6, 1e5), _number(tags.get(_SHUTTER_APEX), -17, 20)
    f, apex_f = _number(tags.get(_F), 0.3, 200), _number(tags.get(_F_APEX), 0.01, 16)
    iso = _number(tags.get(_ISO), 1, 1e8)
    if iso is None or iso >= _ISO_FULL:
        kind = tags.get(_ISO_TYPE)
        iso = _number(tags.get(_ISO_BY_TYPE.get(kind, 0) if isinstance(kind, int) else 0), 1, 1e8)
    flash = tags.get(_FLASH)
    return replace(
        picture,
        taken=_time(tags),
        shutter_s=2**-apex_time if shutter is None and apex_time is not None else shutter,
        f=2 ** (apex_f / 2) if f is None and apex_f is not None else f,
        iso=iso,
        focal_mm=_number(tags.get(_FOCAL), 0.1, 1e4),
        flash=flash if isinstance(flash, int) and 0 <= flash < 128 else None,
        camera=" ".join(filter(None, (_words(tags.get(tag)) for tag in (_MAKE, _MODEL, _SERIAL))))[:_WORDS_MAX],
    )


def _number(value: Any, least: float, most: float) -> float | None:
    """Return a tag as a number, the first of several; None for what makes no sense, like a zero denominator."""
    if isinstance(value, tuple | list) and value:
        value = value[0]
    if isinstance(value, str | bytes | bool):
        return None
    with suppress(TypeError, ValueError, ArithmeticError):
        number = float(value)
        return number if isfinite(number) and least <= number <= most else None
    return None


def _words(value: Any) -> str:
    """Return a text without what could command a terminal or turn letters round, cut to a line."""
    if not isinstance(value, str):
        return ""
    return " ".join("".join(char for char in value if category(char)[0] != "C" or char == " ").split())[:_WORDS_MAX]


def _time(tags: Mapping[int, Any]) -> dt.datetime | None:
    """Return when a picture was taken by its camera's clock; None where that is blank or no time."""
    with suppress(ValueError):
        taken = dt.datetime.strptime(_words(tags.get(_TAKEN)), "%Y:%m:%d %H:%M:%S")
        part = _words(tags.get(_SUBSECOND))
        if part.isascii() and part.isdigit():
            taken += dt.timedelta(seconds=float(f"0.{part}"))
        zone = re.fullmatch(r"([+-])(\d\d):(\d\d)", _words(tags.get(_ZONE)))
        if zone and int(zone[2]) < 15 and int(zone[3]) < 60:
            minutes = 60 * int(zone[2]) + int(zone[3])
            taken = taken.replace(tzinfo=dt.timezone(dt.timedelta(minutes=-minutes if zone[1] == "-" else minutes)))
        return taken if 1900 <= taken.year < 9000 else None  # beyond, a time zone has no such moment
    return None


# -- the picture itself --------------------------------------------------------------------------


def small_picture(path: Path, side: int = 640) -> bytes:
    """Return a small copy as a JPEG of at most ``side`` pixels a side; no tag of the original is in it.

    It has at most about 100 kB, so that those of a whole day can be sent. Raises NotRead.
    """
    image, small = small_image(path, side, side), b""
    for quality in _QUALITIES:
        out = BytesIO()
        image.save(out, "JPEG", quality=quality)
        if len(small := out.getvalue()) <= _SMALL_MAX:
            break
    return small


def small_image(path: Path, wide: int, high: int) -> Image.Image:
    """Return a picture upright, in so many pixels at most; of a raw file the JPEG in it. Raises NotRead."""
    image = _image(path)
    try:
        image.draft("RGB", (wide, high))
        image = ImageOps.exif_transpose(image)
        image.thumbnail((wide, high))
        return image.convert("RGB")
    except Exception:
        raise NotRead("not a whole picture") from None


def _image(path: Path) -> Image.Image:
    """Return the picture of a file, or the largest JPEG in a raw file. Raises NotRead."""
    if path.suffix.lower() in (*JPEGS, ".avif", ".tif", ".tiff"):
        return _opened(path)
    embedded = max(_embedded(path), key=lambda image: image.width, default=None)
    if embedded is None:
        raise NotRead("no picture in it that can be shown; let the camera write a JPEG too")
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
    colours = image.getexif().get_ifd(_EXIF_IFD).get(_COLOURS)
    if colours != 1 and b"sRGB" not in image.info.get("icc_profile", b""):
        raise NotRead("not marked as sRGB: how its codes stand for light is not known")
    try:
        image.draft("RGB", (image.width // 8, image.height // 8))
        return np.asarray(image.convert("RGB"))
    except Exception:
        raise NotRead("not a whole picture") from None
