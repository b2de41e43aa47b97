from base64 import b64decode
from io import BytesIO
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from runbook.drawing import face_drawing
from runbook.light.face import Face
from runbook.light.prediction import LitSetup, predict
from tests.light.conftest import Studio

WHITE, BLACK, RED = (255, 255, 255), (0, 0, 0), (160, 48, 32)


def a_face(greys: list[list[int]], cover: list[list[float]] | None = None, background: int | None = None) -> Face:
    array = np.array(greys, np.uint8)
    whole = np.ones(array.shape, np.float32) if cover is None else np.array(cover, np.float32)
    return Face(array, whole, background)


def cells(face: Face, signs: face_drawing.Signs = "half blocks") -> list[list[face_drawing.Run]]:
    return face_drawing.face_cells(face, signs, WHITE, BLACK)


def test_half_block_shows_two_pixels() -> None:
    assert cells(a_face([[118, 20], [118, 200]])) == [
        [(" ", None, (118, 118, 118)), (face_drawing.HALF_BLOCK, (20, 20, 20), (200, 200, 200))]
    ]


def test_alike_cells_are_one_run() -> None:
    assert cells(a_face([[9, 9, 9], [9, 9, 9]])) == [[("   ", None, (9, 9, 9))]]


def test_a_picture_keeps_its_colours_until_the_tint_has_one(tmp_path: Path) -> None:
    path = tmp_path / "a.tif"
    Image.new("RGB", (80, 40), (200, 100, 0)).save(path)
    (row, *more) = face_drawing.picture_cells(path, 8, 8, (255, 255, 255))
    assert (row, len(more)) == ([(" " * 8, None, (200, 100, 0))], 1)  # as wide as there is room, and no higher
    (row, *_) = face_drawing.picture_cells(path, 8, 8, RED)
    grey = round(0.299 * 200 + 0.587 * 100)  # of red and green: ITU-R BT.601, as Pillow has it
    assert row == [(" " * 8, None, tuple(round(grey * part / 255) for part in RED))]


def test_theme_tints_the_grey() -> None:
    face = a_face([[255], [118]], background=255)
    assert face_drawing.face_cells(face, "half blocks", RED, BLACK) == [[(face_drawing.HALF_BLOCK, RED, (74, 22, 15))]]


def test_nothing_known_behind_shows_the_screen() -> None:
    face = a_face([[0], [200]], [[0.0], [0.5]])
    assert face_drawing.face_cells(face, "half blocks", WHITE, (10, 20, 30)) == [
        [(face_drawing.HALF_BLOCK, (10, 20, 30), (105, 110, 115))]
    ]


def test_background_shows_beside_the_head() -> None:
    assert cells(a_face([[0], [0]], [[0.0], [0.0]], background=64)) == [[(" ", None, (64, 64, 64))]]


@pytest.mark.parametrize("signs", ["shades", "ascii"])
def test_brighter_pixels_have_fuller_signs(signs: face_drawing.Signs) -> None:
    ((row, *no_colour),) = cells(a_face([list(range(256)), list(range(256))]), signs)[0]
    places = [face_drawing.RAMPS[signs].index(sign) for sign in row]
    assert no_colour == [None, None] and places == sorted(places)
    assert set(row) == set(face_drawing.RAMPS[signs]) and row.index(face_drawing.RAMPS[signs][-1]) < 162


def test_plain_signs_are_ascii() -> None:
    assert face_drawing.RAMPS["ascii"].isascii()


def test_face_fits_the_cells_and_is_not_stretched() -> None:
    for columns, rows in ((60, 40), (20, 40), (100, 10), (1, 1), (0, 0)):
        wide, high = face_drawing.face_size(columns, rows)
        assert 1 <= wide <= max(columns, 1) and high == max(2 * rows, 2)
    assert face_drawing.face_size(100, 12) == (20, 24)


def test_png_holds_the_greys() -> None:
    face = a_face([[0, 118], [200, 255]], [[1.0, 1.0], [0.0, 1.0]])
    image = Image.open(BytesIO(face_drawing.face_png(face, 2)))
    assert image.size == (2, 2) and image.getpixel((1, 0)) == (118, 255) and image.getpixel((0, 1)) == (200, 0)
    with_wall = Image.open(BytesIO(face_drawing.face_png(a_face([[0, 118]], [[0.0, 1.0]], background=64), 2)))
    assert with_wall.getpixel((0, 0)) == (64, 255) and with_wall.getpixel((1, 0)) == (118, 255)
    assert Image.open(BytesIO(face_drawing.face_png(face, 20))).size == (20, 20)


def test_data_uri_is_the_face_of_a_setup() -> None:
    studio = Studio()
    setup = studio.setup(studio.light())
    plan = studio.plan(setup)
    kind, data = face_drawing.face_data_uri(LitSetup(plan.kit, setup, predict(plan, setup)), 60).split(",")
    image = Image.open(BytesIO(b64decode(data)))
    assert kind == "data:image/png;base64" and image.size == (60, 72)
    greys, cover = np.array(image)[..., 0], np.array(image)[..., 1]
    assert greys[cover == 255].max() > 60 and 0.2 < (cover > 127).mean() < 0.8
