"""When the day will end."""

from __future__ import annotations

import time
from dataclasses import astuple, replace
from math import exp, log
from random import Random

import pytest

from runbook.changeover.schedule import share
from runbook.changeover.tasks import Task
from runbook.clock.estimates import Belief, Pace, estimate
from runbook.clock.forecast import forecast, savings
from runbook.clock.timetable import (
    BreakToCome,
    DayToCome,
    Done,
    Look,
    Overtime,
    Piece,
    SetupToCome,
    median_day,
    pieces_of,
)

H = 3600.0
SURE = Belief(0.0, 1e9, 1e9, 1.0)  # one second, known: pieces take their scale
CERTAIN = Pace(0.0, 0.0)


def _setup(name: str, change: float, shoot: float, look: str | None = None) -> SetupToCome:
    return SetupToCome(name, (Piece("sure", change),), Piece("sure", shoot), look)


def _day(*setups: SetupToCome, **more: object) -> DayToCome:
    return DayToCome(8 * H, setups, {"sure": SURE}, pace=CERTAIN, **more)


_A, _B = _setup("a", 600, 1200), _setup("b", 300, 900)
_DRESSED = _setup("a", 600, 1200, "l")
_LOOK, _OTHER_LOOK = Look("l", Piece("sure", 3000), "T1"), Look("m", Piece("sure", 3000), "T1")
_CHAIN = (Piece("sure", 60), Piece("sure", 100), Piece("sure", 30, (0, 1)))


@pytest.mark.parametrize(
    ("day", "end_s"),
    [
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
        pytest.param(
            _day(_A, breaks=(BreakToCome(1800, 8 * H + 1800, 12 * H),)), 1800, id="no break after the last work"
        ),
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
    ],
)
def test_the_end_of_a_day(day, end_s):
    assert median_day(day)[1] == pytest.approx(8 * H + end_s)


def test_changeover_then_shooting_then_the_next():
    slots, finish = median_day(_day(_setup("a", 600, 1200), _setup("b", 300, 900)))
    assert [(s.id, s.start_s, s.shoot_at_s, s.end_s) for s in slots] == [
        ("a", 8 * H, 8 * H + 600, 8 * H + 1800),
        ("b", 8 * H + 1800, 8 * H + 2100, 8 * H + 3000),
    ]
    assert finish == 8 * H + 3000


@pytest.mark.parametrize(("other", "shoot_at"), [("T1", 1800 + 3000), ("T2", 3000)])
def test_a_talent_on_set_is_not_prepared_and_another_is(other, shoot_at):
    looks = (Look("l", None, "T1"), Look("m", Piece("sure", 3000), other))
    slots, _ = median_day(_day(_setup("a", 600, 1200, "l"), _setup("b", 300, 900, "m"), looks=looks))
    assert slots[1].shoot_at_s == 8 * H + shoot_at


@pytest.mark.parametrize(("call_s", "shoot_at"), [(7 * H, 8 * H + 600), (9 * H, 9 * H + 3000)])
def test_a_look_is_prepared_from_the_call_of_its_talent(call_s, shoot_at):
    look = Look("l", Piece("sure", 3000), "T1", call_s)
    slots, _ = median_day(_day(_setup("a", 600, 1200, "l"), looks=(look,)))
    assert slots[0].shoot_at_s == shoot_at


def test_an_early_call_does_not_help_while_the_talent_is_on_set():
    looks = (Look("l", None, "T1"), Look("m", Piece("sure", 3000), "T1", 0.0))
    slots, _ = median_day(_day(_setup("a", 600, 1200, "l"), _setup("b", 300, 900, "m"), looks=looks))
    assert slots[1].shoot_at_s == 8 * H + 1800 + 3000


def test_a_talent_off_set_since_before_now_is_being_prepared():
    looks = (Look("m", Piece("sure", 3000), "T1", 6 * H),)
    day = _day(_setup("b", 300, 900, "m"), looks=looks, free_s={"T1": 8 * H - 2000})
    assert median_day(day)[0][0].shoot_at_s == 8 * H + 1000


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


def test_a_setup_dropped_saves_its_time_and_its_overtime():
    bridge = (Piece("sure", 100),)
    setups = (_setup("a", 600, 1200), replace(_setup("b", 600, 1800), skip=bridge), _setup("c", 600, 1200))
    day = _day(*setups, overtime=Overtime(8 * H + 4800, 320, 1800))
    found = savings(day, 1, 20)
    assert [one.id for one in found] == ["b", "a", "c"]
    assert found[0].wins_s == pytest.approx(600 + 1800 + 600 - 100, rel=1e-3)
    assert found[0].wins_cost == pytest.approx(160)
    assert found[0].over_chance == 0


def test_dropping_the_last_setup_strikes_the_one_before_it():
    last = replace(_setup("b", 600, 1800), skip=(Piece("sure", 100),))
    found = savings(_day(_setup("a", 600, 1200), last, strike=(Piece("sure", 400),)), 1, 20)
    assert found[0].id == "b"
    assert found[0].wins_s == pytest.approx(600 + 1800 + 400 - 100, rel=1e-3)


def test_a_setup_being_shot_is_not_dropped_nor_ends_at_once():
    running = replace(_setup("a", 0, 1200), change=(), shot_s=2000.0)
    day = replace(_day(running, _setup("b", 60, 60)), beliefs={"sure": estimate(1.0)})
    assert [one.id for one in savings(day, 1, 10)] == ["b"]
    found = forecast(day, 1, 400)
    assert found.setups[0].shoot_s.p10 > 0
    assert found.setups[0].shoot_s.p50 > 60
    assert median_day(day)[0][0].shoot_s == pytest.approx(found.setups[0].shoot_s.p50, rel=0.2)


def test_a_shared_changeover_keeps_who_does_what():
    tasks = [Task(1, 30), Task(2, 10), Task(3, 10, after=(2,)), Task(4, 20)]
    shared = share(tasks, 2)
    made = pieces_of(tasks, shared.work, dict.fromkeys(range(1, 5), "sure"))
    scaled = tuple(
        replace(piece, scale=next(t.seconds for t in tasks if t.n == done.n))
        for piece, done in zip(made, shared.work, strict=True)
    )
    slots, _ = median_day(_day(SetupToCome("a", scaled, Piece("sure", 0))))
    assert slots[0].changeover_s == pytest.approx(shared.total_s)


def test_side_by_side_work_ends_later_than_planned_as_often_as_not():
    wide = tuple(Piece("k", 60, ()) for _ in range(4))
    day = DayToCome(0, (SetupToCome("a", wide, Piece("k", 0)),), {"k": estimate(1.0)}, pace=CERTAIN)
    assert forecast(day, 1, 1000).finish_s.p50 > 1.1 * median_day(day)[1]


@pytest.mark.parametrize(("count", "factor_ln", "sd"), [(10, 0.0569, 0.079), (24, 0.0760, 0.059)])
def test_what_today_took_narrows_the_pace(count, factor_ln, sd):
    # day s.d. 0.12, step s.d. 0.33, mean residual 0.10: weight 0.569 and 0.760 (derived)
    known = Belief(log(60), 1e9, 1e6, 1e6 * 0.33**2)
    day = DayToCome(
        0,
        (SetupToCome("a", (), Piece("sure", 1000)),),
        {"sure": SURE, "k": known},
        pace=Pace(0.0, 0.12),
        done=(Done((Piece("k"),), 60 * exp(0.10)),) * count,
    )
    found = forecast(day, 1, 8000).finish_s
    assert log(found.p50 / 1000) == pytest.approx(factor_ln, abs=0.01)
    assert log(found.p90 / found.p10) / 2 / 1.2816 == pytest.approx(sd, abs=0.004)


def test_what_a_kind_took_today_tells_of_that_kind_to_come():
    def rest(kind: str) -> float:
        day = DayToCome(
            0,
            (SetupToCome("a", (Piece(kind, 1.0),), Piece("k", 0)),),
            {"k": estimate(60), "other": estimate(60)},
            pace=CERTAIN,
            done=(Done((Piece("k"),), 120.0),) * 3,
        )
        return forecast(day, 1).finish_s.p50

    assert rest("k") > 85
    assert rest("other") == pytest.approx(60, rel=0.05)


def test_the_same_seed_gives_the_same_forecast():
    day = DayToCome(0, (SetupToCome("a", (Piece("k"),), Piece("k")),), {"k": estimate(60)})
    assert forecast(day, 3, 100) == forecast(day, 3, 100)


def test_a_day_with_nothing_left_ends_now():
    assert astuple(forecast(_day(), 1, 10).finish_s) == (8 * H,) * 3


def test_an_unknown_kind_is_an_error():
    with pytest.raises(KeyError, match="unheard"):
        forecast(_day(SetupToCome("a", (Piece("unheard"),), Piece("sure"))), 1, 10)


def test_a_full_day_is_forecast_quickly():
    rng = Random(1)
    kinds = {f"k{n}": estimate(40.0) for n in range(20)}

    def change() -> tuple[Piece, ...]:
        # two people, each one's steps behind each other
        return tuple(Piece(f"k{rng.randrange(20)}", 1.0, (n - 2,) if n > 1 else ()) for n in range(15))

    setups = tuple(SetupToCome(f"s{n}", change(), Piece("shoot", 1500)) for n in range(12))
    day = DayToCome(8 * H, setups, kinds | {"shoot": estimate(1.0)})
    begin = time.process_time()
    forecast(day, 2, 2000)
    assert time.process_time() - begin < 0.06 * 10  # 0.06 s on the machine it was written on
