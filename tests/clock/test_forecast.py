"""When the day will end."""

from dataclasses import astuple, replace
from math import exp, log

import pytest

from runbook.clock.estimates import Belief, estimate
from runbook.clock.forecast import forecast, forecasts, gain_of
from runbook.clock.timetable import BreakToCome, DayToCome, Done, Look, Overtime, Piece, SetupToCome, median_run

H = 3600.0
SURE = Belief(0.0, 1e9, 1e9, 1.0)  # one second, known: pieces take their scale


def _setup(name: str, change: float, shoot: float, look: str | None = None) -> SetupToCome:
    return SetupToCome(name, (Piece("sure", change),), Piece("sure", shoot), look)


def _day(*setups: SetupToCome, **more: object) -> DayToCome:
    return DayToCome(8 * H, setups, {"sure": SURE}, pace_sd=0.0, **more)


_A, _B = _setup("a", 600, 1200), _setup("b", 300, 900)
_DRESSED = _setup("a", 600, 1200, "l")


def _look(name: str, prep_s: float = 3000, talent: str = "T1", call_s: float = 8 * H) -> Look:
    return Look(name, Piece("sure", prep_s), talent, call_s)


_LOOK, _OTHER_LOOK = _look("l"), _look("m")
_CHAIN = (Piece("sure", 60), Piece("sure", 100), Piece("sure", 30, (0, 1)))


@pytest.mark.parametrize(("day", "end_s"), [
    pytest.param(_day(_A, strike=(Piece("sure", 600),)), 2400, id="the strike is part of the day"),
    pytest.param(_day(SetupToCome("a", _CHAIN, Piece("sure", 0))), 130, id="the longest chain decides"),
    pytest.param(
        _day(_A, _B, breaks=(BreakToCome(1800, 8 * H + 1000, 10 * H),)),
        3000 + 1800,
        id="a break starts between works once its window is open",
    ),
    pytest.param(
        _day(_A, breaks=(BreakToCome(1800, 8 * H + 700, 8 * H + 900),)),
        1800 + 1800,
        id="a break interrupts work when its window closes",
    ),
    pytest.param(_day(_A, breaks=(BreakToCome(1800, 8 * H + 1800, 12 * H),)), 1800, id="no break after the last work"),
    pytest.param(_day(_DRESSED, looks=(_LOOK,)), 3000 + 1200, id="shooting waits for a look"),
    pytest.param(
        _day(_DRESSED, looks=(_LOOK,), ready=frozenset({"l"})), 1800, id="a look that is ready is not waited for"
    ),
    pytest.param(
        _day(_DRESSED, looks=(_LOOK,), breaks=(BreakToCome(1800, 8 * H + 600, 10 * H),)),
        3000 + 1800 + 1200,
        id="a preparation stops for a break",
    ),
    pytest.param(
        _day(*(_setup(name, 0, 1000, name) for name in "lml"), looks=(_LOOK, _OTHER_LOOK)),
        3 * 4000,
        id="a look that comes back is prepared again",
    ),
])  # fmt: skip
def test_the_end_of_a_day(day, end_s):
    assert median_run(day).finish_s == pytest.approx(8 * H + end_s)


def test_changeover_then_shooting_then_the_next():
    run = median_run(_day(_setup("a", 600, 1200), _setup("b", 300, 900)))
    slots, finish = run.slots, run.finish_s
    assert [(s.id, s.start_s, s.shoot_at_s, s.end_s) for s in slots] == [
        ("a", 8 * H, 8 * H + 600, 8 * H + 1800),
        ("b", 8 * H + 1800, 8 * H + 2100, 8 * H + 3000),
    ]
    assert finish == 8 * H + 3000


@pytest.mark.parametrize(("look", "free_s", "shoot_at"), [
    pytest.param(_look("m"), {}, 1800 + 3000, id="a talent on set is not prepared"),
    pytest.param(_look("m", talent="T2"), {}, 3000, id="another talent is"),
    pytest.param(_look("m", call_s=0.0), {}, 1800 + 3000, id="no earlier call helps while the talent is on set"),
    pytest.param(_look("m", talent="T2", call_s=9 * H), {}, 3600 + 3000, id="it begins with the call"),
    pytest.param(_look("m", talent="T2", call_s=7 * H), {}, 1800 + 300, id="an early call has it ready"),
    pytest.param(
        _look("m", talent="T2", call_s=6 * H), {"T2": 8 * H - 200}, 2800, id="it began when the talent was free"
    ),
])  # fmt: skip
def test_when_a_look_is_ready_to_be_shot(look, free_s, shoot_at):
    setups = _setup("a", 600, 1200, "l"), _setup("b", 300, 900, "m")
    day = _day(*setups, looks=(_look("l", prep_s=0), look), free_s=free_s)
    assert median_run(day).slots[1].shoot_at_s == 8 * H + shoot_at


def test_a_forecast_of_what_is_certain_is_the_plan():
    day = _day(_setup("a", 600, 1200), _setup("b", 300, 900))
    found = forecast(day, 1, 50)
    assert astuple(found.finish_s) == pytest.approx((8 * H + 3000,) * 3, rel=1e-4)
    assert found.over_chance == found.expected_cost == 0


def test_overtime_is_billed_in_begun_blocks():
    over = Overtime(18 * H, 320, 1800)
    assert [over.cost(18 * H + s) for s in (-5, 0, 1, 1800, 1801)] == [0, 0, 160, 160, 320]
    assert Overtime(18 * H, 360, 0).cost(18 * H + 10) == pytest.approx(1)


def test_overtime_has_a_chance_and_a_price():
    over = Overtime(8 * H + 1500, 320, 1800)
    late = forecast(_day(_setup("a", 600, 1200), overtime=over), 1, 50)
    assert late.over_chance == 1
    assert late.expected_cost == pytest.approx(160)
    on_time = Overtime(8 * H + 1800, 320, 1800)
    doubtful = replace(_day(_setup("a", 600, 1200), overtime=on_time), beliefs={"sure": estimate(1.0)})
    found = forecast(doubtful, 1, 2000)
    assert found.over_chance == pytest.approx(0.5, abs=0.06)
    assert 0 < found.expected_cost < 320


def test_plans_for_the_same_day_differ_only_in_what_they_do():
    over = Overtime(8 * H + 4800, 320, 1800)
    days = [
        replace(_day(*setups, overtime=over), beliefs={"sure": estimate(1.0)})
        for setups in ((_A, _setup("b", 600, 1800), _A), (_A, _A), (_A, _setup("b", 600, 1800), _A))
    ]
    whole, shorter, again = forecasts(days, 1, 400)
    assert whole == again
    gain = gain_of(whole, shorter)
    assert (gain.finish_s, gain.helps, gain.in_time) == (shorter.finish_s.p50, True, shorter.over_chance < 0.5)
    assert gain.wins_s == pytest.approx(2400, rel=0.1)
    assert (gain.wins_cost, gain.over_chance) == (whole.expected_cost - shorter.expected_cost, shorter.over_chance)
    assert gain.wins_cost > 0


def test_a_setup_being_shot_does_not_end_at_once():
    running = replace(_setup("a", 0, 1200), change=(), shot_s=2000.0)
    day = replace(_day(running, _setup("b", 60, 60)), beliefs={"sure": estimate(1.0)})
    left_s = forecast(day, 1, 400).finish_s.p50 - 8 * H - 120
    assert left_s > 60
    assert median_run(day).slots[0].shoot_s == pytest.approx(left_s, rel=0.2)


def test_side_by_side_work_ends_later_than_planned_as_often_as_not():
    wide = tuple(Piece("k", 60, ()) for _ in range(4))
    day = DayToCome(0, (SetupToCome("a", wide, Piece("k", 0)),), {"k": estimate(1.0)}, pace_sd=0.0)
    assert forecast(day, 1, 1000).finish_s.p50 > 1.1 * median_run(day).finish_s


@pytest.mark.parametrize(("count", "factor_ln", "sd"), [(10, 0.0569, 0.079), (24, 0.0760, 0.059)])
def test_what_today_took_narrows_the_pace(count, factor_ln, sd):
    # day s.d. 0.12, step s.d. 0.33, mean residual 0.10: weight 0.569 and 0.760 (derived)
    known = Belief(log(60), 1e9, 1e6, 1e6 * 0.33**2)
    day = DayToCome(
        0, (SetupToCome("a", (), Piece("sure", 1000)),), {"sure": SURE, "k": known}, pace_sd=0.12,
        done=(Done((Piece("k"),), 60 * exp(0.10)),) * count,
    )  # fmt: skip
    found = forecast(day, 1, 8000).finish_s
    assert log(found.p50 / 1000) == pytest.approx(factor_ln, abs=0.01)
    assert log(found.p90 / found.p10) / 2 / 1.2816 == pytest.approx(sd, abs=0.004)


def test_what_a_kind_took_today_tells_of_that_kind_to_come():
    def rest(kind: str) -> float:
        day = DayToCome(
            0, (SetupToCome("a", (Piece(kind, 1.0),), Piece("k", 0)),), {"k": estimate(60), "other": estimate(60)},
            pace_sd=0.0, done=(Done((Piece("k"),), 120.0),) * 3,
        )  # fmt: skip
        return forecast(day, 1).finish_s.p50

    assert rest("k") > 85
    assert rest("other") == pytest.approx(60, rel=0.05)


def test_a_day_with_nothing_left_ends_now():
    assert astuple(forecast(_day(), 1, 10).finish_s) == (8 * H,) * 3


def test_an_unknown_kind_is_an_error():
    with pytest.raises(KeyError, match="unheard"):
        forecast(_day(SetupToCome("a", (Piece("unheard"),), Piece("sure"))), 1, 10)
