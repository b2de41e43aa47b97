"""The chart of a day: what is in a bar, where, and as plain text."""

from dataclasses import replace

import pytest

from runbook.day.hours import Hours, hours_of
from runbook.day.hours_chart import PLAIN, SIGNS, chart_of
from tests.day.days import SetClock, begun, make_ready, short


@pytest.fixture(scope="module")
def hours() -> Hours:
    """One setup shot forty minutes later than planned, the next at work."""
    clock = SetClock()
    session = begun(short("widow-letter", "widow-answer"), clock)
    make_ready(session, "widow-letter")
    clock.move(120)
    session.mark_shot()
    session.begin("widow-answer")
    return hours_of(session.moment, session.changes, draws=50)


def test_a_bar_has_every_minute_of_its_row_where_it_is(hours: Hours) -> None:
    chart = chart_of(hours, 600, SIGNS)  # a cell is a minute: the day has ten hours
    assert (chart.cell(hours.day.start_s), chart.cell(hours.wrap_s)) == (0, 600)
    first, second = (chart.bar(row, over_plan=False) for row in hours.rows)
    assert first.count("█") == pytest.approx(120, abs=1) and first.index("█") <= 1
    assert "│" in second[119:121]  # the time it is
    assert second.count("█") == pytest.approx(hours.rows[1].minutes("shoot"), abs=2)
    assert {chart.bar(row)[599] for row in hours.day.all} == {"┊"}
    assert [chart.axis[60 * hour : 60 * hour + 2] for hour in range(10)] == [f"{8 + hour:02}" for hour in range(10)]


def test_what_was_planned_shows_where_the_row_is_not(hours: Hours) -> None:
    row = hours.rows[0]
    short_row = replace(row, end_s=row.start_s + 60, blocks=(replace(row.blocks[0], end_s=row.start_s + 60),))
    chart = chart_of(hours, 80, PLAIN)
    assert "--" in chart.bar(short_row) and "-" not in chart.bar(short_row, over_plan=False)
    assert "--" in chart.plan_bar(row)


@pytest.mark.parametrize("width", [0, 1, 3, 40, 300])
def test_a_chart_is_as_wide_as_it_is_to_be_and_plain_where_it_must_be(hours: Hours, width: int) -> None:
    for signs in (SIGNS, PLAIN):
        chart = chart_of(hours, width, signs)
        assert {len(chart.bar(row)) for row in hours.day.all} == {max(width, 1)}
        assert len(chart.axis) <= max(width, 1)
    assert all(text.isascii() for text in (chart.axis, *chart.legend, *map(chart.bar, hours.day.all)))
    assert len(set(PLAIN.values())) == len(PLAIN) == len(set(SIGNS.values()))  # no colour is needed
