"""Stops from two frames: the curve of IEC 61966-2-1 against a colour engine, littleCMS, and scenes known in stops.

The scenes are made here from luminances known in stops, coded by the curve written out once more, and read as files.
"""

from math import log2
from pathlib import Path

import numpy as np
import pytest
from PIL import Image, ImageCms

from runbook.files.pictures import picture_codes
from runbook.light.two_frames import LIGHT_OF_CODE, Codes, ambient_against_flash, stops_between
from tests.pictures import write

MIXED = np.random.default_rng(5).uniform(0.01, 0.5, (96, 96, 1)).repeat(3, axis=2)


def coded(light: np.ndarray, noise: float = 0.0) -> Codes:
    """Luminances of 0 to 1 as 8-bit codes, by the curve as the standard has it; with noise added to the light."""
    light = np.clip(light + np.random.default_rng(1).normal(0, 1, light.shape) * noise, 0, 1)
    code = np.where(light <= 0.0031308, 12.92 * light, 1.055 * np.maximum(light, 1e-9) ** (1 / 2.4) - 0.055)
    return np.round(255 * code).astype(np.uint8)


def test_the_table_is_the_curve_that_a_colour_engine_has() -> None:
    """littleCMS turns every grey into L* of 8 bits, by CIE 15 a function of Y; one step of it is left."""
    greys = Image.fromarray(np.arange(256, dtype=np.uint8).reshape(16, 16)).convert("RGB")
    to_lab = ImageCms.buildTransform(ImageCms.createProfile("sRGB"), ImageCms.createProfile("LAB"), "RGB", "LAB")
    lightness = np.asarray(ImageCms.applyTransform(greys, to_lab))[..., 0].ravel().astype(float) * 100 / 255
    y = LIGHT_OF_CODE
    expected = np.where(y > 216 / 24389, 116 * np.cbrt(y) - 16, y * 24389 / 27)
    assert abs(lightness - expected).max() < 100 / 255


def test_two_flat_greys_read_from_files(tmp_path: Path) -> None:
    flash, room = (write(tmp_path, f"{code}.jpg", code=code, size=(160, 120)) for code in (118, 17))
    read = stops_between(picture_codes(flash), picture_codes(room))
    assert read.stops == pytest.approx(-5.014, abs=0.005)  # log2(lut[17] / lut[118])


@pytest.mark.parametrize("under", [1, 2, 3, 5, 6, 7])
def test_a_mixed_scene_is_read_within_a_twentieth_of_a_stop(under: int) -> None:
    read = stops_between(coded(MIXED), coded(MIXED * 2.0**-under))
    assert read.stops == pytest.approx(-under, abs=0.05)


@pytest.mark.parametrize("share", [0.01, 0.05, 0.1])
def test_what_clips_does_not_count(share: float) -> None:
    scene = MIXED.copy()
    scene[: round(96 * share)] = 4.0
    read = stops_between(coded(scene), coded(scene * 2.0**-5))
    assert read.stops == pytest.approx(-5, abs=0.05)
    assert read.clipped == pytest.approx(share, abs=0.01)


@pytest.mark.parametrize("under", [1, 2, 3, 5])
def test_the_room_light_in_the_flash_frame_is_taken_off(under: int) -> None:
    room = MIXED * 2.0**-under * 0.5
    flash_and_room = MIXED * 0.5 + room
    read = stops_between(coded(flash_and_room), coded(room))
    assert read.stops == pytest.approx(log2(2.0**-under / (1 + 2.0**-under)), abs=0.05)
    assert ambient_against_flash(coded(flash_and_room), coded(room)).stops == pytest.approx(-under, abs=0.05)


def test_a_tone_curve_costs_what_the_page_says_it_does() -> None:
    """A 60 % S-shaped curve in a camera: -1 reads about -1.3, -5 about a stop too dark. No file tells of it."""

    def camera(light: np.ndarray) -> Codes:
        code = coded(light) / 255.0
        return np.round(255 * (0.4 * code + 0.6 * code**2 * (3 - 2 * code))).astype(np.uint8)

    reads = {under: stops_between(camera(MIXED), camera(MIXED * 2.0**-under)).stops for under in (1, 5)}
    assert -1.6 < reads[1] < -1.1
    assert -6.5 < reads[5] < -5.4
