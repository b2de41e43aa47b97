"""Powers that make all asks come true together."""

from dataclasses import replace
from fractions import Fraction
from math import log2
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from runbook.day.light import anchor
from runbook.light.audit import audit_light, iso_to_undo
from runbook.light.beam import Beam, Source, distance_to_undo, view_share
from runbook.light.heads import DialSetting, LitHead
from runbook.light.prediction import KeyLight, Prediction, predict
from runbook.light.solve import solve, with_powers
from runbook.light.stops import DARK
from runbook.model.geometry import Point
from runbook.model.kit import Measured
from runbook.model.nominal_values import aperture_stops
from runbook.model.power import FULL, OFF, SOLVE, Dial, Power
from runbook.model.setup import Exposure, Light, Setup

DIAL = Dial(Fraction(1, 3), Power(Fraction(7)))


def light_of(studio: Any, setup: Setup, *measured: Measured) -> Prediction:
    return predict(studio.plan(setup), setup, measured)


def dialled(setup: Setup, light: Prediction) -> Setup:
    """The setup with every head that fires set to the power shown for it."""
    shown = {head.head: head.dial.power for head in light.heads if head.dial and head.power.fires}
    return replace(setup, lights=tuple(replace(one, power=shown.get(one.head, one.power)) for one in setup.lights))


def test_a_reading_of_the_key_moves_the_dial_of_no_other_head(studio: Any) -> None:
    key = studio.light(aim_reading_f=5.6)
    rim = studio.light("B", 5, role="rim", angle_deg=140.0, under_key_stops=1.0)
    setup = studio.setup(key, rim)
    before = light_of(studio, setup)
    after = light_of(studio, setup, Measured("A", "1/8", 1.4, 8.0, "octa-90"))
    assert after.heads[0].dial != before.heads[0].dial
    assert after.heads[1].dial == before.heads[1].dial


def test_a_rim_right_for_the_aperture_asked_is_not_warned_of_for_a_wrong_key(studio: Any) -> None:
    key = studio.light(below=3, aim_reading_f=2.8)  # reads f/5.6 and more
    rim = studio.light("B", "16/3", role="rim", angle_deg=140.0, height_m=1.25, under_key_stops=0.0)
    setup = studio.setup(key, rim, exposure=Exposure(2.8, "1/160"))
    reads = light_of(studio, setup).heads[1].reads_stops
    assert reads == pytest.approx(3.0, abs=1 / 3)
    items = {
        problem.item
        for problem in audit_light(studio.plan(setup, lux=1.0))
        if problem.code in ("reading-over", "reading-under")
    }
    assert items == {"A"}


def test_a_key_aimed_at_a_flat_counts_by_what_the_flat_sends_on(studio: Any) -> None:
    flat = studio.place(angle_deg=30.0, distance_m=1.8)
    other = studio.place(panel="flag", side="left", angle_deg=100.0, distance_m=1.8)
    key = studio.light(modifier="dish", aim="flat-1", angle_deg=50.0, below=0)
    rim = studio.light("B", 6, role="rim", angle_deg=140.0, under_key_stops=1.0)
    setup = studio.setup(key, rim, panels=(flat, other))
    light = light_of(studio, setup)
    assert light.key is not None and light.key.panel == "flat-1"
    panel, reads = light.panels[0].reads_stops, light.key.reads_stops
    assert panel is not None and reads is not None
    assert reads == pytest.approx(panel, abs=0.1)  # the rim lights the flat a little too
    assert light.heads[1].asked_stops == pytest.approx(reads - 1.0)
    assert light.background_over_stops is None  # it has no falloff of its own to the background
    # an edge that is asked to read something at the face is the key by itself
    asked = studio.setup(replace(key, aim_reading_f=2.0), rim, panels=(flat, other))
    assert light_of(studio, asked).key == KeyLight("A", None, light.heads[0].reads_stops)
    assert light_of(studio, asked).heads[1].asked_stops == 1.0


def head(role: str, at_full: float = 8.0, as_set: float = 4.0, **asked: Any) -> LitHead:
    power = OFF if as_set == DARK else Power(Fraction(at_full - as_set))
    light = Light("A", role, "S1", "left", 45.0, 1.4, 1.75, power=power, **asked)  # type: ignore[arg-type]
    beam = Beam(Point(0.0, 1.4, 1.75), Point(0.0, -1.0, 0.0), Source("bare"), at_full)
    return LitHead(light, DIAL, beam, None, beam.origin, at_full)


def test_without_a_key_the_brightest_as_asked_is_it() -> None:
    dim = head("rim", as_set=2.0, aim_reading_f=8.0)
    plain, follower = head("rim", as_set=5.0), head("fill", as_set=7.0, under_key_stops=1.0)
    solution = solve([plain, dim, follower])
    assert (solution.key, solution.asked) == (1, (None, 6.0, 5.0))
    alone = solve([follower])
    assert (alone.key, alone.asked) == (0, (None,))
    assert solve([head("fill", as_set=DARK, under_key_stops=1.0)]).key is None


def test_out_of_range_the_end_of_the_dial_is_shown_and_what_it_misses() -> None:
    solution = solve([head("key", aim_reading_f=32.0), head("fill", under_key_stops=1.0)])
    assert solution.dials[0] == DialSetting(FULL, -2.0, False)
    assert solution.asked[1] == 9.0  # as asked, not as far as the dial goes
    assert head("key", at_full=9.0).dial_for(1.0) == DialSetting(Power(Fraction(7)), 1.0, False)


@given(st.floats(-5, 15), st.floats(-5, 15))
def test_the_click_dialled_is_the_nearest_and_names_what_is_left(full: float, asked: float) -> None:
    dial = head("key", at_full=full).dial_for(asked)
    assert dial is not None and dial.power.below_full is not None
    assert full - float(dial.power.below_full) - asked == pytest.approx(dial.left_over_stops, abs=1e-9)
    best = min(abs(full - float(power.below_full or 0) - asked) for power in DIAL.every())
    assert abs(dial.left_over_stops) == pytest.approx(best, abs=1e-9)
    assert dial.in_range == (abs(dial.left_over_stops) <= 1 / 6 + 1e-9)


@given(st.floats(0.4, 3), st.floats(-2, 3))
def test_the_distance_given_undoes_what_is_left_over(d: float, left_over: float) -> None:
    source = Source("round", 0.9)
    there = distance_to_undo(source, d, left_over)
    if there is None:
        assert view_share(source, d) * 2**-left_over >= 0.999
    else:
        assert log2(view_share(source, there) / view_share(source, d)) == pytest.approx(-left_over, abs=1e-6)


@pytest.mark.parametrize(
    ("iso", "left_over", "mark"), [(400, 1.3, 160), (100, 1.3, None), (100, -1.3, 250), (400, 2.0, 100)]
)
def test_the_speed_given_undoes_what_is_left_over_wholly(iso: float, left_over: float, mark: int | None) -> None:
    assert iso_to_undo(iso, 100, left_over) == mark


asks = st.one_of(
    st.just({}),
    st.fixed_dictionaries({"aim_reading_f": st.sampled_from([2.0, 2.8, 4.0, 5.6])}),
    st.fixed_dictionaries({"under_key_stops": st.sampled_from([-1.0, 0.0, 0.5, 1.3, 2.5])}),
)
lamps = st.tuples(
    st.sampled_from(["key", "fill", "rim"]), st.one_of(st.none(), st.integers(0, 21)), st.floats(0, 180),
    st.sampled_from(["face", "face", "flat-1"]), asks,
)  # fmt: skip


@settings(max_examples=30, deadline=None)
@given(st.lists(lamps, min_size=1, max_size=4))
def test_dialling_all_that_is_shown_makes_every_ask_true(studio: Any, given_lamps: Any) -> None:
    lights = [
        studio.light(head, None if clicks is None else f"{clicks}/3", role=role, angle_deg=at, aim=aim, **asked)
        for head, (role, clicks, at, aim, asked) in zip("ABCD", given_lamps, strict=False)
    ]
    setup = studio.setup(*lights, panels=(studio.place(angle_deg=60.0),))
    light = light_of(studio, setup)
    after = light_of(studio, dialled(setup, light))
    assert (after.key and after.key.head) == (light.key and light.key.head)
    key = after.key
    if light.whole_as_asked_stops is not None:
        assert after.whole_stops == pytest.approx(light.whole_as_asked_stops)
    wanted = {
        one.head: None if one.aim_reading_f is None else aperture_stops(one.aim_reading_f) for one in setup.lights
    }
    for one, head in zip(setup.lights, after.heads, strict=True):
        if not head.power.fires or head.dial is None or not head.dial.in_range:
            continue
        assert head.dial.power == head.power
        assert head.reads_stops is not None
        target = wanted[one.head]
        if target is None:
            assert key is not None and one.under_key_stops is not None
            base = wanted[key.head]
            base = key.reads_stops if base is None else base
            assert base is not None
            target = base - one.under_key_stops
        assert head.reads_stops == pytest.approx(target, abs=1 / 6 + 1e-6)


# -- panels that are asked or are the key ------------------------------------------------------------

HIT: dict[str, Any] = {"modifier": "dish", "aim": "flat-1", "angle_deg": 50.0, "role": "effect"}


@given(st.floats(-1.0, 3.0), st.integers(0, 4))
def test_a_panel_gets_the_reading_that_is_asked_of_it(studio: Any, asked: float, under: int) -> None:
    """Two heads without a power: one off the panel, which is the key, one so far under it."""
    flat = studio.place(angle_deg=30.0, distance_m=1.2, role="key", aim_reading_f=2 ** (asked / 2))
    fill = studio.light("B", role="fill", under_key_stops=float(under), side="left", angle_deg=20.0)
    setup = studio.setup(replace(studio.light(**HIT), power=SOLVE), replace(fill, power=SOLVE), panels=(flat,))
    light = predict(with_powers(studio.plan(setup)), with_powers(studio.plan(setup)).setups["one"])
    assert light.key is not None and (light.key.head, light.key.panel) == (None, "flat-1")
    (ask,) = light.asks
    assert (ask.of, ask.wanted_stops) == ("flat-1", pytest.approx(asked))
    if all(one.power.below_full not in (0, 7) for one in light.heads):  # within their dials
        assert light.panels[0].reads_stops == pytest.approx(asked, abs=1 / 6 + 0.01)
        assert light.heads[1].reads_stops == pytest.approx(asked - under, abs=1 / 6 + 0.01)
        assert light.heads[1].under_key_stops == pytest.approx(under, abs=1 / 3 + 0.02)


def test_a_panel_under_the_key_counts_from_it_as_asked(studio: Any) -> None:
    flat = studio.place(angle_deg=60.0, distance_m=1.0, role="fill", under_key_stops=1.0)
    key = replace(studio.light(aim_reading_f=4.0), power=SOLVE)
    setup = studio.setup(key, replace(studio.light("B", **HIT), power=SOLVE), panels=(flat,))
    plan = with_powers(studio.plan(setup))
    light = predict(plan, plan.setups["one"])
    (ask,) = light.asks
    assert (ask.of, ask.wanted_stops) == ("flat-1", pytest.approx(3.0))
    assert light.panels[0].reads_stops == pytest.approx(3.0, abs=0.2)


def test_a_panel_as_the_key_has_its_own_direction_and_size(studio: Any) -> None:
    key = studio.place(side="right", angle_deg=50.0, distance_m=1.2, role="key")
    light = light_of(studio, studio.setup(studio.light(**HIT, below=0), panels=(key,)))
    assert light.pattern == "Rembrandt"  # its middle is 5 cm below the face, and it reaches far above it
    assert light.panels[0].size_deg == pytest.approx(90.0)  # 2.4 m tall at 1.2 m
    assert light.panels[0].under_key_stops == pytest.approx(0.0)
    card = replace(studio.kit().panel["flat-1"], height_m=0.4)
    low = studio.setup(studio.light(**HIT, below=0), panels=(replace(key, height_m=1.0),))
    assert predict(studio.plan(low, kit=studio.kit(panels=(card,))), low).pattern == "under light"
    assert light.background_over_stops is None


def test_a_panel_no_light_comes_off_is_no_key_and_an_ask_of_it_stops(studio: Any) -> None:
    dark = studio.place(panel="flag", role="key", aim_reading_f=4.0)
    setup = studio.setup(studio.light(), panels=(dark,))
    light = light_of(studio, setup)
    assert light.key is not None and light.key.head == "A"
    found = {(p.level, p.code, p.item) for p in audit_light(studio.plan(setup, lux=1.0))}
    assert ("stop", "panel-unlit", "flag") in found


def test_a_reading_taken_in_the_shade_is_carried_as_of_the_head_alone(studio: Any) -> None:
    """A flag takes some of the front: what is metered there gives the same prediction again."""
    flag = studio.place(panel="flag", side="left", angle_deg=45.0, distance_m=0.7, height_m=0.6)
    setup = studio.setup(studio.light(), panels=(flag,))
    plan = studio.plan(setup)
    before = light_of(studio, setup).heads[0].reads_stops
    assert before is not None
    row = anchor(plan, setup, setup.lights[0], before + 0.5)
    assert row is not None
    assert light_of(studio, setup, row).heads[0].reads_stops == pytest.approx(before + 0.5, abs=1e-6)
