"""Lines cut to the width there is, in whatever signs the terminal has."""

import string

from hypothesis import given
from hypothesis import strategies as st
from rich.cells import cell_len

from runbook.screens.text import ASCII, UNICODE, wrap_words

LINE = st.text(max_size=60)


@given(LINE, st.integers(0, 50))
def test_a_fitted_line_has_exactly_the_width(text: str, width: int) -> None:
    for glyphs in (UNICODE, ASCII):
        assert cell_len(glyphs.fit(text, width)) == width
        assert cell_len(glyphs.cut(text, width)) <= width


@given(LINE)
def test_a_plain_terminal_gets_plain_signs(text: str) -> None:
    assert ASCII.shown(text).isascii()
    assert "\n" not in UNICODE.shown(text)


def test_what_is_cut_says_so() -> None:
    assert UNICODE.fit("camera-left", 8) == "camera-…"
    assert ASCII.fit("camera-left", 8) == "camer..."
    assert UNICODE.fit("A", 3) == "A  "


def test_degrees_are_spelled_where_there_is_no_sign_for_them() -> None:
    assert ASCII.shown("left 45°, José") == "left 45 deg, Jose"


def test_a_number_and_its_unit_stay_on_one_line() -> None:
    assert wrap_words("right 165°, 1.3 m, B3: 7 kg", 12, indent=2) == ["right 165°,", "  1.3 m, B3:", "  7 kg"]
    assert wrap_words("right 165°, 1.3 m, B3", 15) == ["right 165°,", "1.3 m, B3"]


@given(st.text(alphabet=string.ascii_letters + string.digits + " /+.", max_size=60), st.integers(1, 40))
def test_wrapping_loses_nothing_and_fits(text: str, width: int) -> None:
    lines = wrap_words(text, width)
    assert all(len(line) <= width for line in lines)
    assert "".join("".join(lines).split()) == "".join(text.split())
