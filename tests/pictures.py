"""Pictures with EXIF, as a camera would write them, and hostile ones."""

import datetime as dt
import struct
from io import BytesIO
from pathlib import Path
from typing import Any, Final

from PIL import Image
from PIL.TiffImagePlugin import IFDRational

AT: Final = dt.datetime(2026, 12, 4, 10, 0)


def tags(taken: dt.datetime | None = AT, **more: Any) -> Image.Exif:
    """EXIF of a frame at f/4, 1/160 s, ISO 100 through an 85 mm lens, flash fired; ``more`` replaces tags by number."""
    exif = Image.Exif()
    exif[0x010F], exif[0x0110] = "Maker", "M1"
    ifd = exif.get_ifd(0x8769)
    ifd.update({0x829A: IFDRational(1, 160), 0x829D: IFDRational(4, 1), 0x8827: 100})
    ifd.update({0x920A: IFDRational(85, 1), 0x9209: 0x0F, 0xA001: 1})
    if taken is not None:
        ifd[0x9003] = f"{taken:%Y:%m:%d %H:%M:%S}"
        ifd[0x9291] = f"{taken.microsecond // 1000:03}"
        if taken.tzinfo is not None:
            zone = f"{taken:%z}"
            ifd[0x9011] = f"{zone[:3]}:{zone[3:]}"
    ifd.update({int(tag[1:], 16): value for tag, value in more.items() if value is not None})
    for tag in (tag for tag, value in more.items() if value is None):
        ifd.pop(int(tag[1:], 16), None)
    return exif


def jpeg(taken: dt.datetime | None = AT, code: int = 118, size: tuple[int, int] = (16, 16), **more: Any) -> bytes:
    """A JPEG of one grey."""
    out = BytesIO()
    Image.new("RGB", size, (code, code, code)).save(out, "JPEG", quality=90, exif=tags(taken, **more))
    return out.getvalue()


def raw(taken: dt.datetime | None = AT, **more: Any) -> bytes:
    """A raw file shaped like a TIFF, with a JPEG in it."""
    return tags(taken, **more).tobytes()[6:] + b"\0" * 64 + jpeg(taken, size=(64, 48))


def write(folder: Path, name: str, taken: dt.datetime | None = AT, **more: Any) -> Path:
    """Write a frame into a folder; each has pixels of its own, as its name has."""
    path = folder / name
    path.parent.mkdir(parents=True, exist_ok=True)
    code = 60 + sum(map(ord, path.stem)) % 140
    made = raw if path.suffix.lower() in (".nef", ".dng") else jpeg
    path.write_bytes(made(taken, **(more if made is raw else {"code": code} | more)) + b"")
    return path


def hostile_tags(*entries: tuple[int, int, int, bytes]) -> bytes:
    """A bare TIFF whose Exif directory has these entries, (tag, type, count, value or offset), whatever they say."""
    ifd = struct.pack("<H", len(entries)) + b"".join(struct.pack("<HHI4s", *entry) for entry in entries)
    start = struct.pack("<2sHI", b"II", 42, 8) + struct.pack("<HHHIII", 1, 0x8769, 4, 1, 26, 0)
    return start + ifd + struct.pack("<I", 26)  # the next directory is this one again
