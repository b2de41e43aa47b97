"""Lines cut to the width there is, in whatever signs the terminal has."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st
from rich.cells import cell_len

from runbook.screens.text import ASCII, UNICODE, cut, fit, lines, rule, sides

LINE = st.text(max_size=60)


@given(LINE, st.integers(0, 50))
def test_a_fitted_line_has_exactly_the_width(text: str, width: int) -> None:
    for glyphs in (UNICODE, ASCII):
        assert cell_len(fit(text, width, glyphs)) == width
        assert cell_len(cut(text, width, glyphs)) <= width
        assert cell_len(rule(text, width, glyphs)) == width
        assert cell_len(sides(text, "12:30", max(width, 5), glyphs)) == max(width, 5)


@given(LINE)
def test_a_plain_terminal_gets_plain_signs(text: str) -> None:
    assert ASCII.shown(text).isascii()
    assert "\n" not in UNICODE.shown(text)


def test_what_is_cut_says_so() -> None:
    assert fit("camera-left", 8, UNICODE) == "camera-…"
    assert fit("camera-left", 8, ASCII) == "camer..."
    assert fit("A", 3, UNICODE) == "A  "


def test_the_right_end_is_kept_whole() -> None:
    assert sides("a long name of a day", "ends 16:50", 20, UNICODE) == "a long n… ends 16:50"


def test_degrees_are_spelled_where_there_is_no_sign_for_them() -> None:
    assert ASCII.shown("left 45°, José") == "left 45 deg, Jose"


def test_lines_keep_their_styles() -> None:
    text = lines(("one", "bold"), ("two", ""))
    assert text.plain == "one\ntwo"
    assert [span.style for span in text.spans] == ["bold"]
