"""Letters big enough to read across a studio."""

from __future__ import annotations

import string

from hypothesis import given
from hypothesis import strategies as st

from runbook.screens.big_text import big, letters_that_fit, rows_of, wrapped
from runbook.screens.text import ASCII, UNICODE


def test_a_letter_is_seven_rows_of_five() -> None:
    assert big("1", ASCII) == ["  #  ", " ##  ", "  #  ", "  #  ", "  #  ", "  #  ", " ### "]
    assert big("1", UNICODE) == [" ▄█  ", "  █  ", "  █  ", " ▀▀▀ "]


def test_every_letter_and_sign_of_a_power_has_a_face_of_its_own() -> None:
    faces = {char: tuple(big(char, ASCII)) for char in string.ascii_uppercase + "0123456789/+-.°"}
    assert len(set(faces.values())) == len(faces)
    assert all(faces[char] != tuple(big("?", ASCII)) for char in faces)


@given(st.text(alphabet=string.ascii_letters + string.digits + " /+.", max_size=60), st.integers(1, 40))
def test_wrapping_loses_nothing_and_fits(text: str, width: int) -> None:
    lines = wrapped(text, width)
    assert all(len(line) <= width for line in lines)
    assert "".join("".join(lines).split()) == "".join(text.split())


def test_a_line_of_letters_fits_the_cells_it_was_counted_for() -> None:
    for cells in (24, 80, 140):
        line = big("8" * letters_that_fit(cells), UNICODE)
        assert len(line) == rows_of(UNICODE)
        assert max(len(row) for row in line) <= cells
