"""Stops between two pictures: what clips, what is too dark, and what cannot be compared."""

import numpy as np
import pytest

from runbook.light.two_frames import Codes, NotCompared, ambient_against_flash, middle_of, stops_between


def grey(code: int, rows: int = 12, columns: int = 12) -> Codes:
    return np.full((rows, columns, 3), code, np.uint8)


def test_a_picture_against_itself_is_no_stops() -> None:
    assert stops_between(grey(90), grey(90)).stops == 0


def test_what_clips_in_either_is_left_out_of_both_and_told() -> None:
    first, second = grey(118), grey(90)
    first[:3] = 255
    second[-3:] = 255
    read = stops_between(first, second)
    assert read.clipped == 0.5
    assert read.stops == pytest.approx(stops_between(grey(118), grey(90)).stops)


@pytest.mark.parametrize(("first", "second", "why"), [
    (grey(118), grey(118, 6), "size"),
    (grey(255), grey(118), "clips"),
    (grey(118), grey(2), "dark"),
    (grey(1), grey(118), "dark"),
])  # fmt: skip
def test_two_pictures_that_say_nothing_of_each_other(first: Codes, second: Codes, why: str) -> None:
    with pytest.raises(NotCompared, match=why):
        stops_between(first, second)


def test_room_light_as_bright_as_the_flash_frame_is_no_test() -> None:
    with pytest.raises(NotCompared, match="as bright"):
        ambient_against_flash(grey(118), grey(118))


def test_a_grey_card_is_the_middle_of_the_frame() -> None:
    codes = grey(0, 90, 60)
    codes[30:60, 20:40] = 118
    assert (middle_of(codes) == 118).all()
    assert middle_of(codes).shape == (30, 20, 3)
