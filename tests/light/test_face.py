from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from runbook.light.face import Face, encoded, light_sources, render_face
from runbook.light.prediction import LitSetup, predict
from runbook.light.scene import surfaces_of
from runbook.light.shade import Shade
from runbook.model.kit import Measured
from runbook.model.power import SOLVE
from runbook.model.setup import Background, Setup, Subject
from tests.light.conftest import Studio


def lit_setup(studio: Studio, setup: Setup, *measured: Measured, lux: float = 0.0) -> LitSetup:
    plan = studio.plan(setup, lux=lux)
    return LitSetup(plan.kit, setup, predict(plan, setup, measured), measured)


def mean(face: Face) -> float:
    return float(face.greys[face.cover == 1].mean())


def test_picture_has_the_size_asked_for(studio: Studio) -> None:
    face = render_face(lit_setup(studio, studio.setup(studio.light())), 31, 47)
    assert face.greys.shape == face.cover.shape == (47, 31)
    assert 0.2 < face.cover.mean() < 0.8


@pytest.mark.parametrize(("columns", "rows"), [(1, 1), (2, 60), (80, 3)])
def test_any_size_can_be_drawn(studio: Studio, columns: int, rows: int) -> None:
    assert render_face(lit_setup(studio, studio.setup(studio.light())), columns, rows).greys.shape == (rows, columns)


def test_head_fits_into_the_picture(studio: Studio) -> None:
    cover = render_face(lit_setup(studio, studio.setup(studio.light())), 50, 60).cover
    assert not cover[0].any() and not cover[:, 0].any() and not cover[:, -1].any()


def test_without_light_the_head_is_black(studio: Studio) -> None:
    face = render_face(lit_setup(studio, studio.setup(studio.light(below=None))), 20, 24)
    assert not face.greys.any() and face.cover.any()


def test_power_worked_out_lights_the_head(studio: Studio) -> None:
    setup = studio.setup(replace(studio.light(), power=SOLVE, aim_reading_f=4.0))
    light = predict(studio.plan(setup), setup)
    set_by_hand = replace(setup, lights=(replace(setup.lights[0], power=light.heads[0].power),))
    kit = studio.plan(setup).kit
    one, other = (render_face(LitSetup(kit, each, light), 20, 24) for each in (setup, set_by_hand))
    assert one.greys.any() and (one.greys == other.greys).all()


def test_reading_of_the_day_counts(studio: Studio) -> None:
    setup = studio.setup(studio.light())
    read = Measured(head="A", power="1/8", distance_m=1.4, reads_f=16.0, modifier="octa-90")
    assert mean(render_face(lit_setup(studio, setup, read), 20, 24)) > mean(
        render_face(lit_setup(studio, setup), 20, 24)
    )


def test_background_is_as_bright_as_it_will_be(studio: Studio) -> None:
    unknown = lit_setup(studio, studio.setup(studio.light()))
    assert render_face(unknown, 4, 4).background is None
    level = replace(unknown, light=replace(unknown.light, background_level_stops=0.0))
    assert render_face(level, 4, 4).background == 118
    grey = lit_setup(studio, studio.setup(studio.light(), background=Background(2.0, reflectance=0.5)))
    assert grey.light.background_level_stops is not None
    assert render_face(grey, 4, 4).background == int(encoded(0.18 * 2.0**grey.light.background_level_stops))


def test_white_panel_fills_the_far_side(studio: Studio) -> None:
    setup = studio.setup(studio.light(side="left", angle_deg=70.0), subject=Subject(1.4))
    with_panel = replace(setup, panels=(studio.place(),))
    bare, filled = (render_face(lit_setup(studio, each), 40, 48) for each in (setup, with_panel))
    far = (slice(None), slice(24, None))
    assert filled.greys[far].mean() > bare.greys[far].mean() + 5


def test_each_part_of_a_panel_sends_what_all_of_it_sends(studio: Studio) -> None:
    setup = studio.setup(studio.light(side="left", angle_deg=70.0), panels=(studio.place(angle_deg=60.0),))
    lit = lit_setup(studio, setup)
    *_, panel = light_sources(lit, Shade(surfaces_of(lit.kit, setup)))
    at_face = panel.strengths(np.array(((0.0, 0.0, setup.subject.face_height_m),), np.float32)).sum()
    assert np.log2(at_face) == pytest.approx(lit.light.panels[0].reads_stops, abs=0.1)


@settings(max_examples=15, deadline=None)
@given(
    turn=st.floats(0, 180),
    far=st.floats(0.7, 4),
    up=st.floats(-0.5, 0.5),
    modifier=st.sampled_from(["octa-90", "strip"]),
)
def test_more_power_never_darkens_a_pixel(turn: float, far: float, up: float, modifier: str) -> None:
    studio = Studio()

    def drawn(below: int) -> Face:
        light = studio.light(below=below, angle_deg=turn, distance_m=far, height_m=1.4 + up, modifier=modifier)
        return render_face(lit_setup(studio, studio.setup(light)), 16, 20)

    assert (drawn(3).greys >= drawn(4).greys).all()
