"""Powers worked out from everything that is asked of a setup, all together."""

from dataclasses import replace
from fractions import Fraction
from itertools import product
from math import cos, hypot, log2, pi, radians, sin
from typing import Any

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from runbook.light.audit import audit_light
from runbook.light.beam import field_exponent, field_falloff
from runbook.light.prediction import HeadLight, Prediction, predict
from runbook.light.scene import beam_axis, dot, scene
from runbook.light.solve import with_powers
from runbook.light.stops import f_number
from runbook.model.day import Plan
from runbook.model.kit import Measured
from runbook.model.power import OFF, SOLVE, Power
from runbook.model.setup import Background, Exposure, Light, Setup

THIRD = Fraction(1, 3)


def background_head(studio: Any, head: str = "D", **more: Any) -> Light:
    place = {"role": "background", "aim": "background", "side": "right", "angle_deg": 130.0, "distance_m": 1.6}
    return studio.light(head, **(place | {"modifier": "dish", "height_m": 1.6} | more))


def without_powers(plan: Plan, setup: Setup, heads: set[str] | None = None) -> Setup:
    """The setup with powers left out, and what it reads asked of it instead."""
    light = predict(plan, setup)
    reads = {head.head: head for head in light.heads}
    assert light.whole_over_stops is not None
    assert light.background_against_f_stops is not None
    lights = []
    for one in setup.lights:
        left_out = replace(one, power=SOLVE) if heads is None or one.head in heads else one
        if one.role in ("fill", "rim"):
            left_out = replace(left_out, under_key_stops=reads[one.head].under_key_stops)
        lights.append(left_out)
    return replace(
        setup,
        lights=tuple(lights),
        exposure=replace(setup.exposure, whole_over_stops=light.whole_over_stops),
        background=Background(2.0, over_stops=light.background_against_f_stops),
    )


def powers_of(setup: Setup) -> list[Power]:
    return [light.power for light in setup.lights]


sets = st.fixed_dictionaries(
    {
        "clicks": st.tuples(*[st.integers(3, 18)] * 4),
        "angles": st.tuples(st.integers(10, 80), st.integers(5, 60), st.integers(100, 160)),
        "feather": st.integers(0, 40),
        "panel": st.sampled_from([None, {}, {"catches": "A", "held_by": "first"}]),
        "cloth": st.sampled_from([None, {"side": "right", "angle_deg": 140.0}, {"side": "left", "angle_deg": 20.0}]),
    }
)


def random_setup(studio: Any, given_set: Any) -> Setup:
    a, b, c, d = (f"{n}/3" for n in given_set["clicks"])
    key, fill, rim = map(float, given_set["angles"])
    lights = (
        studio.light("A", a, role="key", angle_deg=key, feather_deg=float(given_set["feather"]), feather_to="camera"),
        studio.light("B", b, role="fill", side="right", angle_deg=fill, modifier="octa-150"),
        studio.light("C", c, role="rim", angle_deg=rim, modifier="strip"),
        background_head(studio, below=d),
    )
    panel, cloth = given_set["panel"], given_set["cloth"]
    return studio.setup(
        *lights,
        panels=() if panel is None else (studio.place(**panel),),
        hung_cloths=() if cloth is None else (studio.hang(**cloth, distance_m=1.0),),
    )


@settings(max_examples=20, deadline=None)
@given(sets)
def test_powers_left_out_come_out_as_what_the_asks_were_made_from(studio: Any, given_set: Any) -> None:
    setup = random_setup(studio, given_set)
    plan = studio.plan(setup)
    asked = without_powers(plan, setup)
    solved = with_powers(studio.plan(asked))
    assert solved.solved == {"one": frozenset("ABCD")}
    light = predict(solved, solved.setups["one"])
    for ask in light.asks:
        assert ask.left_over_stops == pytest.approx(0.0, abs=1 / 9)
    for power, made_from in zip(powers_of(solved.setups["one"]), powers_of(setup), strict=True):
        assert power.below_full is not None
        assert made_from.below_full is not None
        assert abs(power.below_full - made_from.below_full) <= THIRD / 3
    again = with_powers(replace(plan, setups={"one": asked}))
    assert powers_of(again.setups["one"]) == powers_of(solved.setups["one"])


@settings(max_examples=30, deadline=None)
@given(
    sets,
    st.fixed_dictionaries(
        {
            "left_out": st.sets(st.sampled_from("ABCD")),
            "whole": st.one_of(st.none(), st.floats(-6, 4)),
            "behind": st.one_of(st.none(), st.floats(-6, 4)),
            "key_f": st.one_of(st.none(), st.sampled_from([2.0, 4.0, 8.0, 22.0])),
            "follow": st.booleans(),
        }
    ),
)
def test_dialling_all_that_is_shown_makes_every_ask_true_or_leaves_over_what_is_given(studio, given_set, asked):
    left_out, whole, behind = asked["left_out"], asked["whole"], asked["behind"]
    assume(whole is not None or behind is not None or not left_out)
    setup = random_setup(studio, given_set)
    lights = [
        replace(
            light,
            power=SOLVE if light.head in left_out else light.power,
            aim_reading_f=asked["key_f"] if light.role == "key" else None,
            under_key_stops=1.0 if asked["follow"] and light.role in ("fill", "rim") else None,
        )
        for light in setup.lights
    ]
    setup = replace(
        setup,
        lights=tuple(lights),
        exposure=Exposure(4.0, "1/160", whole_over_stops=whole),
        background=Background(2.0, over_stops=behind),
    )
    plan = with_powers(studio.plan(setup))
    shown = predict(plan, plan.setups["one"])
    dials = {head.head: head.dial.power for head in shown.heads if head.dial}
    lights = [replace(one, power=dials.get(one.head, one.power)) for one in plan.setups["one"].lights]
    dialled = replace(setup, lights=tuple(lights))
    after = predict(plan, dialled)
    assert [ask.left_over_stops for ask in after.asks] == pytest.approx([ask.left_over_stops for ask in shown.asks])
    levels = {"whole": after.whole_stops, "background": after.background_reads_stops}
    for ask in after.asks:
        assert levels[ask.of] == pytest.approx(ask.wanted_stops + ask.left_over_stops)
    for head in after.heads:
        if head.dial is not None:
            assert head.dial.power == head.power
        if head.dial is not None and head.asked_stops is not None:
            assert head.reads_stops == pytest.approx(head.asked_stops + head.dial.left_over_stops)


@pytest.mark.parametrize(("whole", "behind", "under"), [(0.0, -1.0, 1.0), (-0.7, 1.4, 3.0), (0.4, 0.2, -1.0)])
def test_no_other_clicks_have_a_smaller_error(studio: Any, whole: float, behind: float, under: float) -> None:
    """Every pair of powers is tried."""
    lights = (
        replace(studio.light("A", role="key"), power=SOLVE),
        replace(studio.light("B", role="fill", side="right"), power=SOLVE, under_key_stops=under),
        replace(background_head(studio), power=Power(Fraction(4))),
    )
    exposure = Exposure(4.0, "1/160", whole_over_stops=whole)
    setup = studio.setup(*lights, exposure=exposure, background=Background(2.0, over_stops=behind))
    plan = studio.plan(setup)
    reads = {head.head: head.reads_stops + float(head.power.below_full) for head in predict(plan, setup).heads}
    at_full = {name: replace(setup, lights=tuple(
        replace(light, power=Power(Fraction(0)) if light.head == name else OFF) for light in lights
    )) for name in "ABD"}  # fmt: skip
    gives = {name: predict(plan, one) for name, one in at_full.items()}

    def total(level: str, below: dict[str, float]) -> float:
        each = [getattr(gives[name], level) for name in below]
        lit = [2.0 ** (stops - less) for stops, less in zip(each, below.values(), strict=True) if stops is not None]
        return log2(sum(lit))

    errors = {}
    clicks = [Fraction(n, 3) for n in range(22)]
    for a, b in product(clicks, repeat=2):
        below = {"A": float(a), "B": float(b), "D": 4.0}
        errors[a, b] = (
            (total("whole_stops", below) - 4.0 - whole) ** 2
            + (total("background_reads_stops", below) - 4.0 - behind) ** 2
            + (reads["B"] - below["B"] - reads["A"] + below["A"] + under) ** 2
        )
    a, b, _ = powers_of(with_powers(plan).setups["one"])
    assert a.below_full is not None
    assert b.below_full is not None
    assert errors[a.below_full, b.below_full] == pytest.approx(min(errors.values()))


@pytest.mark.parametrize("over", [0.0, 0.6, 1.0, 2.5, 3.3])
def test_two_heads_on_one_background_stay_even(studio: Any, over: float) -> None:
    pair = [background_head(studio, head=name, side=side) for name, side in (("C", "left"), ("D", "right"))]
    lights = [studio.light("A", role="key", aim_reading_f=4.0), *(replace(one, power=SOLVE) for one in pair)]
    setup = studio.setup(*lights, background=Background(2.0, over_stops=over))
    plan = with_powers(studio.plan(setup))
    _, one, other = powers_of(plan.setups["one"])
    assert one.below_full is not None
    assert other.below_full is not None
    assert abs(one.below_full - other.below_full) <= THIRD
    (ask,) = predict(plan, plan.setups["one"]).asks
    assert ask.left_over_stops == pytest.approx(0.0, abs=1 / 9)


def head_of(light: Prediction, name: str) -> HeadLight:
    return next(head for head in light.heads if head.head == name)


def test_a_reading_of_the_key_changes_the_powers_that_are_worked_out_with_it(studio: Any) -> None:
    lights = (replace(studio.light("A", role="key"), power=SOLVE), replace(background_head(studio), power=SOLVE))
    exposure = Exposure(4.0, "1/160", whole_over_stops=0.0)
    setup = studio.setup(*lights, exposure=exposure, background=Background(2.0, over_stops=1.0))
    plan = with_powers(studio.plan(setup))
    before = predict(plan, plan.setups["one"])
    assert [head.dial and head.dial.power for head in before.heads] == powers_of(plan.setups["one"])
    reads = head_of(before, "A").reads_stops
    assert reads is not None
    # the key really gives a stop more than planned
    row = Measured("A", str(head_of(before, "A").power), 1.4, f_number(reads + 1), "octa-90")
    after = predict(plan, plan.setups["one"], (row,))
    dial, planned = head_of(after, "A").dial, head_of(before, "A").power.below_full
    assert dial is not None
    assert planned is not None
    assert dial.power.below_full == planned + 1
    assert [ask.left_over_stops for ask in after.asks] == pytest.approx(
        [ask.left_over_stops for ask in before.asks], abs=1 / 6
    )


def test_what_cannot_be_reached_is_a_finding(studio: Any) -> None:
    key = studio.light("A", 3, role="key")
    bright = studio.setup(key, exposure=Exposure(4.0, "1/160", whole_over_stops=3.0))
    codes = {problem.code: problem for problem in audit_light(studio.plan(bright))}
    assert {"whole-under"} <= codes.keys()
    dark = studio.setup(key, background=Background(2.0, over_stops=0.0))
    assert "background-under" in {problem.code for problem in audit_light(studio.plan(dark))}
    off = studio.setup(replace(key, power=OFF), background=Background(2.0, over_stops=0.0))
    assert "background-unlit" in {problem.code for problem in audit_light(studio.plan(off))}
    # a head behind a wall that only the background's level asks something of
    away = replace(studio.light("B", role="hair", angle_deg=0.0, modifier="dish", feather_deg=90.0), power=SOLVE)
    lost = studio.setup(key, replace(away, feather_to="left"), background=Background(2.0, over_stops=-3.0))
    plan = with_powers(studio.plan(lost))
    assert plan.setups["one"].light["B"].power == plan.kit.head["B"].dial.lowest
    assert "power-unknown" in {problem.code for problem in audit_light(plan)}


def test_asks_that_do_not_fit_together_are_a_finding(studio: Any) -> None:
    key = replace(studio.light("A", role="key"), power=SOLVE)
    fill = replace(studio.light("B", role="fill", side="right"), power=SOLVE, under_key_stops=-6.0)
    exposure = Exposure(4.0, "1/160", whole_over_stops=0.0)
    # the background sees the key best, and asks it to be bright
    setup = studio.setup(key, fill, exposure=exposure, background=Background(0.2, over_stops=3.0))
    plan = with_powers(studio.plan(setup))
    codes = {problem.code for problem in audit_light(plan)}
    assert codes & {"asks-conflict", "background-under", "whole-over"}


def test_the_level_of_the_background_is_by_a_flat_meter_and_its_reflectance(studio: Any) -> None:
    light = studio.light("A", 2, role="key", angle_deg=0.0, height_m=1.5, distance_m=2.0, modifier="tube")
    setup = studio.setup(light, background=Background(2.0, reflectance=0.9))
    setup = replace(setup, subject=replace(setup.subject, face_height_m=1.5))
    shown = predict(studio.plan(setup), setup)
    # straight on at twice the distance: two stops under the face
    assert shown.heads[0].reads_stops is not None
    assert shown.background_reads_stops == pytest.approx(shown.heads[0].reads_stops - 2.0)
    assert shown.background_level_stops == pytest.approx(
        shown.background_reads_stops - shown.aperture_stops + log2(0.9 / 0.18)  # type: ignore[operator]
    )
    # from the side its light comes in at a slant
    aside = replace(light, side="left", angle_deg=90.0)
    slant = replace(setup, lights=(aside,))
    at = predict(studio.plan(slant), slant)
    assert at.heads[0].reads_stops is not None
    expected = at.heads[0].reads_stops + log2(2.0**2 / (2.0**2 + 2.0**2)) + log2(cos(pi / 4))
    assert at.background_reads_stops == pytest.approx(expected)


def test_what_a_panel_sends_to_the_background_is_its_patches_by_two_cosines(studio: Any) -> None:
    """A fine grid over the panel, each patch lit as a meter turned to the lamp would be."""
    face, turn, away = 1.5, radians(60), 1.2
    normal = np.array([-sin(turn), -cos(turn), 0.0])
    middle, across = np.array([away * sin(turn), away * cos(turn), face]), np.array([cos(turn), -sin(turn), 0.0])
    lamp = np.array([-1.5, 0.0, face])
    light = studio.light("A", 0, role="effect", angle_deg=90.0, distance_m=1.5, height_m=face, modifier="tube")
    panel = studio.place(side="right", angle_deg=60.0, distance_m=away, height_m=face)
    setup = studio.setup(replace(light, aim="flat-1"), panels=(panel,), background=Background(2.0))
    setup = replace(setup, subject=replace(setup.subject, face_height_m=face))
    bare = replace(setup, panels=(), lights=(light,))
    with_panel, without = (predict(studio.plan(one), one) for one in (setup, bare))
    assert without.heads[0].reads_stops is not None
    at_a_metre = 2.0 ** without.heads[0].reads_stops * 1.5**2
    u, v = np.meshgrid((np.arange(240) + 0.5) / 240 - 0.5, (np.arange(240) + 0.5) / 240 - 0.5)
    patches = middle + 1.2 * u[..., None] * across + 2.4 * v[..., None] * np.array([0.0, 0.0, 1.0])
    to_lamp, to_wall = lamp - patches, np.array([0.0, -2.0, face]) - patches
    far, off = np.linalg.norm(to_lamp, axis=-1), np.linalg.norm(to_wall, axis=-1)
    falls = at_a_metre / far**2 * np.clip(to_lamp @ normal / far, 0, None)
    leaves = 0.85 / pi * falls * np.clip(to_wall @ normal / off, 0, None) / off**2
    expected = (leaves * -to_wall[..., 1] / off).sum() * 1.2 * 2.4 / 240**2
    assert with_panel.background_reads_stops is not None
    assert without.background_reads_stops is not None
    sent = 2.0**with_panel.background_reads_stops - 2.0**without.background_reads_stops
    assert sent == pytest.approx(expected, rel=0.01)


@pytest.mark.parametrize(("side", "angle", "to"), [
    ("left", 90.0, "camera"), ("left", 90.0, "background"), ("right", 90.0, "camera"),
    ("right", 45.0, "background"), ("left", 0.0, "left"), ("left", 180.0, "right"),
])  # fmt: skip
def test_a_feathered_beam_passes_its_aim_on_that_side(studio: Any, side: str, angle: float, to: str) -> None:
    light = studio.light(side=side, angle_deg=angle, feather_deg=20.0, feather_to=to)
    plain, where = replace(light, feather_deg=0.0), scene(studio.setup(light))
    straight, turned = beam_axis(where, plain), beam_axis(where, light)
    assert turned.z == pytest.approx(straight.z)
    level = hypot(straight.x, straight.y)
    assert (straight.x * turned.x + straight.y * turned.y) / level**2 == pytest.approx(cos(radians(20)))
    to_x, to_y = {"camera": (0, 1), "background": (0, -1), "left": (-1, 0), "right": (1, 0)}[to]
    assert (turned.x - straight.x * cos(radians(20))) * to_x + (turned.y - straight.y * cos(radians(20))) * to_y > 0
    reads = [predict(studio.plan(one), one).heads[0].reads_stops for one in map(studio.setup, (light, plain))]
    assert reads[0] == pytest.approx(reads[1] + log2(field_falloff(dot(straight, turned), field_exponent(150))))


@pytest.mark.parametrize(("angle", "to"), [(0.0, "camera"), (180.0, "background"), (90.0, "left"), (45.0, None)])
def test_a_side_that_a_beam_does_not_have_is_refused(studio: Any, angle: float, to: str | None) -> None:
    setup = studio.setup(studio.light(angle_deg=angle, feather_deg=20.0, feather_to=to))
    with pytest.raises(ValueError, match="; write "):
        predict(studio.plan(setup), setup)
