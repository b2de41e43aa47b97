"""Letters big enough to read across a studio."""

from __future__ import annotations

import string

from runbook.screens.far import big_rows, letters_that_fit
from runbook.screens.text import ASCII, UNICODE


def test_a_letter_is_seven_rows_of_five() -> None:
    assert big_rows("1", ASCII) == ["  #  ", " ##  ", "  #  ", "  #  ", "  #  ", "  #  ", " ### "]
    assert big_rows("1", UNICODE) == [" ▄█  ", "  █  ", "  █  ", " ▀▀▀ "]


def test_every_letter_and_sign_of_a_power_has_a_face_of_its_own() -> None:
    faces = {char: tuple(big_rows(char, ASCII)) for char in string.ascii_uppercase + "0123456789/+-.°"}
    assert len(set(faces.values())) == len(faces)
    assert all(faces[char] != tuple(big_rows("?", ASCII)) for char in faces)


def test_a_line_of_letters_fits_the_cells_it_was_counted_for() -> None:
    for cells in (24, 80, 140):
        line = big_rows("8" * letters_that_fit(cells), UNICODE)
        assert max(len(row) for row in line) <= cells
