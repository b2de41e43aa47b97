"""What a picture says of itself, and what is left of a hostile one."""

import datetime as dt
from io import BytesIO
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image, features
from PIL.TiffImagePlugin import IFDRational

from runbook.files.pictures import NotRead, fingerprint_of, is_picture_name, picture_codes, read_picture, small_picture
from tests.pictures import AT, hostile_tags, jpeg, raw, tags, write

ZONE = dt.timezone(dt.timedelta(hours=-3, minutes=-30))


def read(folder: Path, data: bytes, name: str = "x.jpg") -> Any:
    path = folder / name
    path.write_bytes(data)
    return read_picture(path)


@pytest.mark.parametrize("made", [jpeg, raw])
def test_a_frame_says_when_and_how_it_was_taken(tmp_path: Path, made: Any) -> None:
    picture = read(tmp_path, made(AT.replace(microsecond=250_000)), "x.jpg" if made is jpeg else "x.nef")
    assert (picture.f, picture.shutter_s, picture.iso, picture.focal_mm) == (4, 1 / 160, 100, 85)
    assert (picture.flash, picture.camera) == (15, "Maker M1")
    assert picture.taken == AT.replace(microsecond=250_000)
    assert picture.size == (tmp_path / ("x.jpg" if made is jpeg else "x.nef")).stat().st_size
    assert picture.fingerprint == fingerprint_of(tmp_path / ("x.jpg" if made is jpeg else "x.nef"))


@pytest.mark.parametrize(("tag", "key", "value"), [
    ({"t829D": IFDRational(0, 0)}, "f", None),  # a lens without contacts
    ({"t829D": IFDRational(0, 1)}, "f", None),
    ({"t829A": IFDRational(1, 0)}, "shutter_s", None),
    ({"t829A": None, "t9201": IFDRational(7, 1)}, "shutter_s", 1 / 128),  # Tv
    ({"t829A": None, "t9201": IFDRational(0, 1)}, "shutter_s", 1.0),
    ({"t829D": None, "t9202": IFDRational(6, 1)}, "f", 8.0),  # Av
    ({"t8827": 65535, "t8830": 2, "t8832": 102400}, "iso", 102400),
    ({"t8827": (400, 0)}, "iso", 400),
    ({"t8827": 65535}, "iso", None),
    ({"t920A": IFDRational(0, 1)}, "focal_mm", None),
    ({"t9209": None}, "flash", None),
    ({"t9003": "0000:00:00 00:00:00"}, "taken", None),
    ({"t9003": "    :  :     :  :  "}, "taken", None),
    ({"t9003": "tomorrow"}, "taken", None),
    ({"t9003": "0001:01:01 00:00:00"}, "taken", None),
    ({"t9003": "9999:12:31 23:59:59"}, "taken", None),
    ({"t9011": "+99:99"}, "taken", AT),
    ({"t9011": "-03:30"}, "taken", AT.replace(tzinfo=ZONE)),
    ({"t9291": "  "}, "taken", AT),
    ({"tA431": "\x1b[2J12\n3\x7f4"}, "camera", "Maker M1 [2J1234"),
    ({"tA431": "x" * 500}, "camera", f"Maker M1 {'x' * 51}"),
])  # fmt: skip
def test_special_values_and_nonsense_are_no_values(tmp_path: Path, tag: Any, key: str, value: Any) -> None:
    assert getattr(read(tmp_path, jpeg(**tag)), key) == value


def test_raws_with_another_number_and_pictures_with_a_tiff_inside(tmp_path: Path) -> None:
    tiff = raw()
    assert tiff[:4] == b"MM\0*"
    kinds = {
        "x.orf": b"MMOR" + tiff[4:],
        "x.raf": b"FUJIFILMCCD-RAW ".ljust(84, b"\0") + (160).to_bytes(4, "big") + bytes(72) + jpeg(),
        "x.heic": b"\0\0\0\x18ftypheix" + bytes(40) + b"Exif\0\0" + tiff,
        "x.cr3": b"\0\0\0\x18ftypcrx " + bytes(40) + b"CMT2" + tiff,
    }
    for name, data in kinds.items():
        assert read(tmp_path, data, name).taken == AT, name


def test_a_cut_picture_is_not_whole_wherever_it_is_cut(tmp_path: Path) -> None:
    data = jpeg(size=(64, 48))
    for length in (0, 1, 2, 3, 20, 200, len(data) // 2, len(data) - 40, len(data) - 2):
        with pytest.raises(NotRead):
            read(tmp_path, data[:length])
    with pytest.raises(NotRead):  # after its thumbnail, which has an end of its own
        read(tmp_path, data[: data.index(b"\xff\xdb")] + b"\xff\xd9")
    for tiff in (b"II*\0", b"II*\0" + (5000).to_bytes(4, "little") + bytes(900)):  # before its directory
        with pytest.raises(NotRead):
            read(tmp_path, tiff, "x.tif")
    assert read(tmp_path, data + b"\0" * 512).f == 4
    assert read(tmp_path, data + b"what a camera adds").f == 4


def test_other_files_and_names_are_no_pictures(tmp_path: Path) -> None:
    for data in (b"", b"not a picture at all", b"\x89PNG\r\n"):
        with pytest.raises(NotRead):
            read(tmp_path, data)
    assert all(map(is_picture_name, ("a.JPG", "a.nef", "a.hif", "a b.Tiff")))
    assert not any(map(is_picture_name, (".a.jpg", "select-a-3.jpg", "a.xmp", "a.jpg.tmp", "jpg", "a.mov")))


@settings(max_examples=40, deadline=None)
@given(st.lists(st.tuples(st.integers(0, 600), st.integers(0, 255)), min_size=1, max_size=4), st.booleans())
def test_changed_bytes_never_break_the_reading(changes: list[tuple[int, int]], is_raw: bool) -> None:
    data = bytearray(raw() if is_raw else jpeg())
    for at, byte in changes:
        data[at % len(data)] = byte
    path = Path("/dev/shm" if Path("/dev/shm").is_dir() else "/tmp") / f"runbook-test-{id(data)}.jpg"
    try:
        read(path.parent, bytes(data), path.name)
    except NotRead:
        pass
    finally:
        path.unlink(missing_ok=True)


@pytest.mark.parametrize("entry", [
    (0x829A, 5, 1, b"\xff\xff\xff\xff"),  # past the end
    (0x9003, 2, 10**9, b"\x08\0\0\0"),
    (0x8827, 3, 10**9, b"\x08\0\0\0"),
    (0x829D, 99, 1, b"\x08\0\0\0"),
    (0x8769, 4, 1, b"\x1a\0\0\0"),
])  # fmt: skip
def test_hostile_directories_say_nothing(tmp_path: Path, entry: tuple[int, int, int, bytes]) -> None:
    picture = read(tmp_path, hostile_tags(entry), "x.nef")
    assert (picture.taken, picture.f, picture.shutter_s) == (None, None, None)


def test_a_picture_that_claims_to_be_huge_is_not_decoded(tmp_path: Path) -> None:
    huge = bytearray(jpeg(size=(16, 16)))
    at = huge.index(b"\xff\xc0")
    huge[at + 5 : at + 9] = b"\xff\xff\xff\xff"
    (tmp_path / "x.jpg").write_bytes(huge)
    for use in (read_picture, small_picture, picture_codes):
        with pytest.raises(NotRead, match="65535"):
            use(tmp_path / "x.jpg")


def test_the_small_picture_is_upright_and_without_tags(tmp_path: Path) -> None:
    path = tmp_path / "x.jpg"
    exif = Image.Exif()
    exif[0x0112] = 6  # turned by a quarter
    Image.new("RGB", (1600, 1200)).save(path, exif=exif)
    small = Image.open(BytesIO(small_picture(path)))
    assert small.size == (480, 640)
    assert not small.getexif()


def test_the_picture_of_a_raw_file_is_the_jpeg_in_it(tmp_path: Path) -> None:
    assert Image.open(BytesIO(small_picture(write(tmp_path, "x.nef")))).size == (64, 48)
    turned = tags()
    turned[0x0112] = 6  # a quarter, which the JPEG in it does not say
    (tmp_path / "z.nef").write_bytes(turned.tobytes()[6:] + jpeg(size=(64, 48)))
    assert Image.open(BytesIO(small_picture(tmp_path / "z.nef"))).size == (48, 64)
    (tmp_path / "y.nef").write_bytes(hostile_tags((0x8827, 3, 1, b"\1\0\0\0")))
    with pytest.raises(NotRead, match="JPEG"):
        small_picture(tmp_path / "y.nef")


@pytest.mark.parametrize("kind", ["tif", *(["avif"] if features.check("avif") else [])])
def test_other_pictures_can_be_shown_too(tmp_path: Path, kind: str) -> None:
    path = tmp_path / f"x.{kind}"
    Image.new("RGB", (64, 48)).save(path, exif=tags())
    assert read_picture(path).camera == "Maker M1"
    assert Image.open(BytesIO(small_picture(path))).size == (64, 48)


def test_codes_are_only_given_where_they_are_srgb(tmp_path: Path) -> None:
    assert picture_codes(write(tmp_path, "x.jpg", code=90, size=(80, 48))).shape == (6, 10, 3)
    with pytest.raises(NotRead, match="sRGB"):
        picture_codes(write(tmp_path, "y.jpg", tA001=65535))


def test_the_small_picture_of_the_noisiest_frame_can_still_be_sent(tmp_path: Path) -> None:
    path = tmp_path / "x.jpg"
    Image.effect_noise((1280, 960), 120).convert("RGB").save(path, quality=95)
    assert len(small_picture(path)) <= 130_000


def test_what_only_calls_itself_a_jpeg_is_not_opened_as_what_it_is(tmp_path: Path) -> None:
    path = tmp_path / "x.jpg"
    Image.new("RGB", (16, 16)).save(path, "EPS")
    with pytest.raises(NotRead):
        small_picture(path)
