"""The day's clock in words: one test for each formatter."""

import datetime as dt
from dataclasses import replace

import pytest

from runbook.clock.forecast import Gain, Spread
from runbook.day.day_rows import BreakTime
from runbook.day.hours import Hours, hours_of
from runbook.day.hours_text import (
    answer_text,
    break_text,
    ending_text,
    finish_text,
    remedy_cells,
    row_cells,
    share_text,
    total_cells,
)
from runbook.day.order_proposal import SoonerOrder
from runbook.day.remedies import Call, Drop, Remedies
from runbook.model.units import minutes_text
from tests.day.days import SetClock, begun, demo
from tests.day.plans import with_day

H = 3600.0


@pytest.fixture(scope="module")
def hours() -> Hours:
    session = begun()
    return hours_of(session.moment, session.changes, draws=50)


def ending(hours: Hours, end_s: float, chance: float, cost: float = 0.0) -> Hours:
    return replace(hours, finish=Spread(end_s - 600, end_s, end_s + 600), over_chance=chance, expected_cost=cost)


def test_the_answer_comes_with_how_much_how_sure_and_what_it_costs(hours: Hours) -> None:
    late = ending(hours, 18 * H + 41 * 60, 0.82, 320.4)
    assert answer_text(late) == "NOT BY 18:00: about 41 min over, 320 EUR expected (8 days in 10)"
    assert answer_text(ending(hours, 17 * H + 25 * 60, 0.12)) == "BY 18:00: about 35 min to spare (9 days in 10)"
    unsure = ending(hours, 17 * H + 55 * 60, 0.4, 64.0)
    assert answer_text(unsure) == "MAYBE BY 18:00: about 5 min to spare, 64 EUR expected (6 days in 10)"
    assert finish_text(late) == "ends about 18:41 (90 % by 18:51, 10 % by 18:31); planned end 13:38"
    for packing_min, text in ((20.0, "struck at 18:21, packed about 18:41, "), (0.0, "struck at 18:41, ")):
        plan = with_day(demo(), wrap_min=packing_min)
        struck = replace(hours.moment, plan=plan, state=replace(hours.moment.state, wrapping=True), left=())
        assert answer_text(replace(late, moment=struck)) == f"NOT BY 18:00: {text}41 min over, 320 EUR"


def test_no_forecast_is_certain() -> None:
    shares = {0.0: "0 in 100", 0.02: "2 in 100", 0.5: "5 in 10", 0.94: "9 in 10", 0.96: "96 in 100", 1.0: "99 in 100"}
    assert {share: share_text(share) for share in shares} == shares


@pytest.mark.parametrize(("change", "text"), [
    ({}, "Meal 12:03-12:48: in its window 12:00-13:30"),
    ({"interrupts": "x"}, "Meal 12:03-12:48: in its window 12:00-13:30, but it interrupts x"),
    ({"start_s": 14 * H, "end_s": 14.75 * H}, "Meal 14:00-14:45: NOT IN ITS WINDOW 12:00-13:30"),
    ({"start_s": None, "end_s": None}, "Meal: none, the day ends before it is due (12:00-13:30)"),
    ({"start_s": None, "end_s": None, "missed": True}, "Meal MISSED: not taken by 13:30"),
])  # fmt: skip
def test_a_break_is_in_its_window_or_not(hours: Hours, change: dict[str, object], text: str) -> None:
    meal = BreakTime("meal", "Meal", 12 * H, 13.5 * H, 12 * H + 180, 12 * H + 2880, missed=False, interrupts=None)
    assert break_text(hours, replace(meal, **change)) == text  # type: ignore[arg-type]


def test_what_helps_is_listed_with_what_it_saves_and_loses(hours: Hours) -> None:
    gain = Gain(1560.0, 160.0, 0.3, 17 * H + 48 * 60)
    saves = ("26 min", "12 min to spare", "7 in 10")
    in_time, still_late, no_help = (
        Drop(("widow-answer",), 20, 900.0, gain),
        Drop(("keeper-lamp",), 10, 600.0, replace(gain, over_chance=0.7)),
        Drop(("keeper-window",), 10, 600.0, replace(gain, over_chance=0.7, wins_s=20.0)),
    )
    call = Call("T1", "keeper", 7 * H, H, gain)
    late = ending(hours, 18.5 * H, 0.8)

    def listed(*singles: Drop, **more: object) -> list[tuple[str, ...]]:
        return [*remedy_cells(replace(late, remedies=Remedies(singles, **more)))]  # type: ignore[arg-type]

    assert listed(in_time, still_late) == [("drop widow-answer", *saves, "20 frames, 15 min")]
    assert [cells[0] for cells in listed(still_late)] == ["drop keeper-lamp"]
    assert listed(no_help) == []
    assert listed(calls=(call,)) == [("call T1 (keeper) at 07:00, not 08:00", *saves, "")]
    sooner = replace(late, sooner=SoonerOrder(("b", "a"), ("b", "a"), gain))
    assert [*remedy_cells(sooner)] == [("shoot in another order", *saves, "")]
    assert [*remedy_cells(replace(ending(hours, 17 * H, 0.1), remedies=Remedies((in_time,))))] == []


def test_a_row_and_the_sums_in_words(hours: Hours) -> None:
    row = hours.rows[1]
    planned = ("keeper-lamp", "to come", "09:05-09:31", "09:05", "", "6", "", "20", "09:31")
    assert row_cells(hours, row) == (*planned, "")
    running = replace(hours, moment=replace(hours.moment, state=replace(hours.moment.state, begun=True)))
    assert row_cells(running, replace(row, end_s=row.end_s + 600))[-1] == "10 min late"
    assert row_cells(running, replace(row, plan=None))[-1] == "not planned"
    total, delays = total_cells(ending(hours, 14 * H, 0.0))
    assert total == ("total", "5 h 38", "", "08:00", "45", "47", "36", "210", "13:38", "")
    assert (delays[0], delays[-2:]) == ("with likely delays", ("14:00", "22 min late"))


def test_a_span_of_time_and_the_end_against_the_wrap_in_words() -> None:
    spans = {0: "0 min", 59: "59 min", 60: "1 h", 61: "1 h 01", 198: "3 h 18", 600: "10 h"}
    assert {minutes: minutes_text(minutes) for minutes in spans} == spans
    wrap = SetClock(18).now
    ends = {-40: "17:20, 40 min to spare", 0: "18:00, on time", 5: "18:05, 5 min over", 390: "00:30, 6 h 30 over"}
    for late, text in ends.items():
        assert ending_text(wrap + dt.timedelta(minutes=late), wrap) == f"ends about {text}"
