"""EXIF as CIPA DC-008 has it, in pictures that another library, piexif, wrote."""

import datetime as dt
from io import BytesIO
from pathlib import Path
from typing import Any

import piexif
import pytest
from PIL import Image

from runbook.day.frames import differences
from runbook.files.pictures import Picture, read_picture
from runbook.journal.events import Frame
from tests.day.days import FIRST, demo

EXIF, IMAGE = piexif.ExifIFD, piexif.ImageIFD


def picture(folder: Path, tags: dict[int, Any], **image: Any) -> Picture:
    file = BytesIO()
    Image.new("RGB", (8, 8)).save(file, "JPEG")
    written = piexif.dump({"0th": {IMAGE.Make: b"Maker", IMAGE.Model: b"M1"} | image, "Exif": tags})
    path = folder / "x.jpg"
    piexif.insert(written, file.getvalue(), str(path))
    return read_picture(path)


def test_the_tags_of_a_frame(tmp_path: Path) -> None:
    read = picture(
        tmp_path,
        {
            EXIF.ExposureTime: (1, 160),
            EXIF.FNumber: (56, 10),
            EXIF.ISOSpeedRatings: 400,
            EXIF.FocalLength: (850, 10),
            EXIF.Flash: 0x5F,
            EXIF.DateTimeOriginal: b"2026:12:04 23:59:58",
            EXIF.SubSecTimeOriginal: b"05 ",
            0x9011: b"-03:30",  # OffsetTimeOriginal, Exif 2.31
            EXIF.BodySerialNumber: b"0012345",
        },
    )
    assert (read.shutter_s, read.f, read.iso, read.focal_mm) == (1 / 160, 5.6, 400, 85)
    assert read.taken == dt.datetime(2026, 12, 4, 23, 59, 58, 50_000, dt.timezone(-dt.timedelta(hours=3, minutes=30)))
    assert (read.flash, read.camera) == (0x5F, "Maker M1 0012345")


# APEX, DC-008 annex C: Av = 2 log2 N, Tv = -log2 t
@pytest.mark.parametrize(("av", "f"), [(2.971, 2.8), (4.971, 5.6), (6.0, 8.0), (6.919, 11.0)])
def test_the_aperture_in_apex(tmp_path: Path, av: float, f: float) -> None:
    assert picture(tmp_path, {EXIF.ApertureValue: (round(av * 1000), 1000)}).f == pytest.approx(f, rel=0.001)


@pytest.mark.parametrize(("tv", "seconds"), [(5.907, 60), (6.966, 125), (7.322, 160), (7.644, 200)])
def test_the_shutter_in_apex(tmp_path: Path, tv: float, seconds: int) -> None:
    read = picture(tmp_path, {EXIF.ShutterSpeedValue: (round(tv * 1000), 1000)})
    assert read.shutter_s == pytest.approx(1 / seconds, rel=0.001)


# DC-008: the flash tag's first bit says whether it fired
@pytest.mark.parametrize(("bits", "fired"), [
    (0x00, False), (0x01, True), (0x05, True), (0x0F, True), (0x10, False), (0x18, False), (0x20, False),
    (0x5F, True),
])  # fmt: skip
def test_whether_the_flash_fired(tmp_path: Path, bits: int, fired: bool) -> None:
    flash = picture(tmp_path, {EXIF.Flash: bits}).flash
    frame = Frame("x", 1, "", "2026-12-04T10:00:00+01:00", flash=flash)
    missing = [one.code for one in differences(demo(), demo().setups[FIRST], frame, body_fires=True)]
    assert missing == ([] if fired else ["flash"])


# a sixth of a stop about f/8 is f/7.551 to f/8.476; 1/160 written as 1/165 is the same marked time
def test_a_sixth_of_a_stop_is_where_a_frame_differs() -> None:
    plan = demo()
    setup = plan.setups[FIRST]
    for f, same in ((7.551 / 2, True), (8.475 / 2, True), (7.54 / 2, False), (8.49 / 2, False)):  # about f/4
        frame = Frame("x", 1, "", "2026-12-04T10:00:00+01:00", f=f, shutter_s=1 / 165)
        found = [one.code for one in differences(plan, setup, frame, body_fires=False)]
        assert found == ([] if same else ["aperture"]), f
