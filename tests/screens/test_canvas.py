"""Lines and names in a terminal's cells."""

from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from runbook.drawing.label_layout import Label
from runbook.screens.canvas import Canvas, Pen, Window, dots_between

WINDOW = Window(0, 0, 10, 10)
PEN = Pen("line")
SMALL = st.integers(-40, 40)


def canvas(columns: int = 20, rows: int = 10, *, plain: bool = False) -> Canvas:
    return Canvas(columns, rows, WINDOW, ascii_only=plain)


@given(SMALL, SMALL, SMALL, SMALL)
def test_a_line_has_no_holes_and_both_its_ends(x0: int, y0: int, x1: int, y1: int) -> None:
    dots = list(dots_between((x0, y0), (x1, y1)))
    assert dots[0] == (x0, y0)
    assert dots[-1] == (x1, y1)
    assert len(dots) == max(abs(x1 - x0), abs(y1 - y0)) + 1
    assert all(max(abs(a - c), abs(b - d)) == 1 for (a, b), (c, d) in pairwise(dots))


@pytest.mark.parametrize(("end", "closed", "pen", "plain", "rows"), [
    ((3, 3), False, PEN, False, ["⠑⢄"]),
    ((0, 3), False, PEN, False, ["⡇ "]),
    ((3, 0), False, PEN, True, ["--"]),
    ((0, 3), False, PEN, True, ["| "]),
    ((3, 3), False, Pen("wall", sign="#"), True, ["##"]),
])  # fmt: skip
def test_a_line_in_signs(end: tuple[int, int], closed: bool, pen: Pen, plain: bool, rows: list[str]) -> None:
    drawn = Canvas(2, 1, Window(0, 0, 3, 3), ascii_only=plain)
    drawn.line([(0, 0), end], pen, closed=closed)
    assert drawn.text() == rows


@pytest.mark.parametrize("plain", [False, True])
@pytest.mark.parametrize(("columns", "rows"), [(80, 20), (20, 40), (140, 40)])
def test_a_square_is_as_high_as_it_is_wide(plain: bool, columns: int, rows: int) -> None:
    drawn = canvas(columns, rows, plain=plain)
    (left, top), (right, bottom) = drawn.cell(0, 0), drawn.cell(10, 10)
    assert right - left == pytest.approx(2 * (bottom - top))
    assert left >= 0
    assert top >= 0
    assert right <= columns
    assert bottom <= rows
    # as large as it will go: it touches two sides
    assert right - left > columns - 2 or bottom - top > rows - 2


def test_broken_lines_and_thick_ones() -> None:
    def dots(pen: Pen) -> int:
        drawn = canvas(20, 5)
        drawn.line([(0, 5), (10, 5)], pen)
        return sum((ord(sign) - 0x2800).bit_count() for sign in "".join(drawn.text()).split()[0])

    whole = Canvas(20, 5, Window(0, 0, 39, 19), ascii_only=False)
    whole.line([(0, 10), (39, 10)], PEN)
    assert sum((ord(sign) - 0x2800).bit_count() for sign in whole.text()[2]) == 40
    assert dots(Pen("line", 1, 1)) <= dots(PEN) // 2 + 1
    assert dots(Pen("line", thick=True)) == 2 * dots(PEN)


def test_the_one_that_counts_more_gives_the_tone() -> None:
    drawn = canvas()
    drawn.line([(0, 5), (10, 5)], Pen("head", rank=3))
    drawn.line([(5, 0), (5, 10)], Pen("beam", rank=1))
    tones = [tone for row in drawn.runs() for _, tone in row if tone]
    assert tones.count("head") == 1
    assert set(tones) == {"head", "beam"}


NAMES = st.lists(
    st.builds(
        Label, st.sampled_from([("A 1/8+0.7", "A"), ("flat-1 goes", "flat-1"), ("85 mm",)]), st.floats(0, 10),
        st.floats(0, 10), st.integers(0, 3), st.just("name"),
    ),
    max_size=20,
)  # fmt: skip


@given(NAMES, st.integers(1, 60), st.integers(1, 20), st.booleans())
def test_names_are_whole_and_never_on_each_other(names: list[Label], columns: int, rows: int, plain: bool) -> None:
    drawn = canvas(columns, rows, plain=plain)
    drawn.scale_bar(2.0, "2 m", "scale")
    placed = drawn.name(names)
    text = drawn.text()
    assert len(text) == rows
    assert all(len(row) == columns for row in text)
    for each in placed:
        start = int(each.box.x) + 1
        assert text[int(each.box.y)][start : start + len(each.text)] == each.text
    assert not any(one.box.meets(other.box) for n, one in enumerate(placed) for other in placed[:n])


def test_the_scale_bar_is_as_long_as_it_says() -> None:
    drawn = canvas(40, 20, plain=True)
    drawn.scale_bar(2.0, "2 m", "scale")
    bar, shown_text = drawn.text()[-1].strip().split(" ", 1)
    assert (bar[0], bar[-1], shown_text) == ("|", "|", "2 m")
    assert len(bar) == pytest.approx(drawn.cell(2, 0)[0] - drawn.cell(0, 0)[0], abs=0.5)
    narrow = canvas(6, 3)
    narrow.scale_bar(2.0, "2 m", "scale")
    assert "".join(narrow.text()).strip() == ""
