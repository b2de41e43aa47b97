"""Names on a drawing."""

from hypothesis import given
from hypothesis import strategies as st

from runbook.drawing.label_layout import Box, Label, TextMetrics, place_labels

ROOM = Box(0, 0, 60, 20)
LETTERS = TextMetrics(lambda text: (len(text) + 2, 1), (1.0, 1.0), snap=True)
NAMES = st.lists(
    st.builds(
        Label, st.sampled_from([("A 1/8", "A"), ("flat-1 goes", "flat-1"), ("85 mm",)]), st.floats(-5, 65),
        st.floats(-5, 25), st.integers(0, 3),
    ),
    max_size=25,
)  # fmt: skip


@given(NAMES)
def test_no_name_is_on_another_or_out_of_the_room(names: list[Label]) -> None:
    placed = place_labels(names, ROOM, LETTERS, lambda _: 0.0)
    assert all(each.box.within(ROOM) for each in placed)
    assert not any(one.box.meets(other.box) for n, one in enumerate(placed) for other in placed[:n])


def test_a_name_goes_where_the_ink_is_not() -> None:
    name = Label(("A",), 30, 10, 0)
    (free,) = place_labels([name], ROOM, LETTERS, lambda _: 0.0)
    assert free.box.x >= 30
    (kept_off,) = place_labels([name], ROOM, LETTERS, lambda box: float(box.x + box.wide > 30))
    assert kept_off.box.x + kept_off.box.wide <= 30


def test_who_comes_first_gets_the_long_name_and_the_last_none() -> None:
    room = Box(0, 0, 9, 1)
    names = [Label(("flat-1", "f"), 0, 0.5, 1), Label(("A 1/8", "A"), 0, 0.5, 0)]
    placed = place_labels(names, room, LETTERS, lambda _: 0.0)
    assert [each.text for each in placed] == ["A 1/8"]


def test_what_is_taken_stays_free() -> None:
    taken = [Box(0, 0, 60, 19)]
    placed = place_labels([Label(("A",), 30, 18, 0)], ROOM, LETTERS, lambda _: 0.0, taken)
    assert all(not each.box.meets(taken[0]) for each in placed)
