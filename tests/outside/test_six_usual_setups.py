"""Six usual setups written as they are built, with no power given: their light is what a photographer would set up.

What is usual is common practice: ratios, the level of a white wall and of a dark one, what lights the face from where.
"""

import json
from dataclasses import replace
from pathlib import Path

import pytest

from runbook.cli import main
from runbook.day.load_plan import read_day
from runbook.light.prediction import Prediction, predict
from runbook.model.day import Plan
from runbook.model.setup import Setup

FOLDER = Path(__file__).parent / "six_setups"
NAMES = ("veils", "bounced", "boomed", "leaves", "turned", "caught")
CLICK = 0.1  # of a stop, on these heads


@pytest.fixture(scope="module")
def plan() -> Plan:
    return read_day(FOLDER)


@pytest.fixture(scope="module")
def light(plan: Plan) -> dict[str, Prediction]:
    return {name: predict(plan, setup) for name, setup in plan.setups.items()}


def reads(light: Prediction, name: str) -> float:
    """Stops under the working aperture, plus is darker."""
    (one,) = [
        one for one in (*light.heads, *light.panels) if name in {getattr(one, "head", ""), getattr(one, "panel", "")}
    ]
    assert one.over_stops is not None
    return -one.over_stops


@pytest.mark.parametrize("name", NAMES)
def test_a_setup_takes_less_than_forty_lines_and_no_power(name: str) -> None:
    text = (FOLDER / f"{name}.toml").read_text("utf-8")
    assert len(text.splitlines()) < 40
    assert "power" not in text


def test_the_check_finds_only_what_a_photographer_would_want_to_hear(capsys: pytest.CaptureFixture[str]) -> None:
    """A head on a boom over the subject needs a second fixing; a box that is the background is meant to be in shot."""
    assert main(["check", str(FOLDER), "--json"]) == 0
    problems = json.loads(capsys.readouterr().out)["problems"]
    told = {(one["level"], one["code"], one["setup"], one["item"]) for one in problems}
    assert told == {
        ("note", "overhead", "boomed", "boom"),
        ("meant", "in-frame", "bounced", "A"),
        ("meant", "flare", "bounced", "A"),
    }


@pytest.mark.parametrize("name", NAMES)
def test_all_that_is_asked_is_met_to_half_a_click(light: dict[str, Prediction], name: str) -> None:
    got = light[name]
    left = [ask.left_over_stops for ask in got.asks]
    left += [one.dial.left_over_stops for one in got.heads if one.dial is not None and one.asked_stops is not None]
    assert all(one.solved for one in got.heads)
    assert left and all(each is not None and abs(each) <= CLICK / 2 + 1e-6 for each in left)


def test_white_on_white_with_rims_through_hung_muslin(light: dict[str, Prediction]) -> None:
    """The wall goes white, two and a half stops over mid grey; the rims are soft, most of them out of the muslin."""
    got = light["veils"]
    assert got.background_level_stops == pytest.approx(2.5, abs=0.15)
    assert [reads(got, head) for head in "ABC"] == pytest.approx([0.0, 0.3, 0.3], abs=0.1)
    assert got.pattern == "loop"
    for head, cloth in zip("BC", got.cloths, strict=True):
        assert cloth.scattered_stops is not None
        rim = got.aperture_stops - reads(got, head)
        assert rim - 0.3 < cloth.scattered_stops < rim
        assert cloth.size_deg > 60  # and the strip behind it 27
    assert not any(one.flare or one.in_shot for one in got.heads)


def test_a_box_behind_into_two_flats_with_a_card_under_the_chin(light: dict[str, Prediction]) -> None:
    """The box is the whole background; the flats light the face from both sides, 1.6 to 1; the card fills."""
    got = light["bounced"]
    box = got.heads[0]
    assert box.in_shot is not None and box.in_shot.share > 0.95
    assert reads(got, "A") < -1.5  # burnt out
    assert got.key is not None and got.key.panel == "flat-left"
    assert got.pattern == "Rembrandt"
    assert reads(got, "flat-right") - reads(got, "flat-left") == pytest.approx(0.7, abs=0.2)
    assert 0.5 < reads(got, "card") - reads(got, "flat-left") < 1.5
    assert not any(panel.in_shot for panel in got.panels)
    assert got.whole_over_stops == pytest.approx(0.0, abs=CLICK / 2)


def test_an_umbrella_with_a_fill_overhead(light: dict[str, Prediction]) -> None:
    """Three to one and softer the usual way: key, and a fill a stop and a half under it; the wall is dark grey."""
    got = light["boomed"]
    assert [reads(got, head) for head in "AB"] == pytest.approx([0.0, 1.5], abs=0.1)
    assert got.pattern == "loop"
    assert got.background_level_stops is not None and -2 < got.background_level_stops < -1
    assert got.whole_over_stops == pytest.approx(0.2, abs=0.2)


def test_hard_light_through_a_cut_out_on_a_stand(plan: Plan, light: dict[str, Prediction]) -> None:
    """A point of light: the leaves have edges. Eight to one; the board takes more than half of it, and no more."""
    got = light["leaves"]
    assert got.heads[0].size_deg == 0
    assert [reads(got, head) for head in "AB"] == pytest.approx([0.0, 3.0], abs=0.1)
    board = plan.kit.panel["leaves"]
    (key,) = [one for one in predict(plan, replace(plan.setups["leaves"], panels=())).heads if one.head == "A"]
    assert key.reads_stops is not None and got.heads[0].reads_stops is not None
    assert 2 ** (got.heads[0].reads_stops - key.reads_stops) == pytest.approx(board.open_share, rel=0.01)
    assert plan.setups["leaves"].panels[0].held_by == "S3"


def test_a_feathered_umbrella_with_the_face_turned_to_it(plan: Plan, light: dict[str, Prediction]) -> None:
    """The face that looks at its key has a butterfly; feathered to the camera, the wall behind falls to black."""
    got = light["turned"]
    assert reads(got, "A") == pytest.approx(0.0, abs=CLICK / 2)
    assert got.pattern == "butterfly"
    assert got.background_level_stops is not None and got.background_level_stops < -2
    straight = predict(plan, unfeathered(plan.setups["turned"]))
    assert straight.background_reads_stops is not None and got.background_reads_stops is not None
    assert straight.background_reads_stops > got.background_reads_stops + 0.5


def unfeathered(setup: Setup) -> Setup:
    return replace(setup, lights=tuple(replace(one, feather_deg=0.0, feather_to=None) for one in setup.lights))


def test_a_card_that_catches_the_umbrella_fills_the_far_cheek(light: dict[str, Prediction]) -> None:
    """Two and a half to three stops under the key, some seven to one: a dark side that still has detail."""
    got, before = light["caught"], light["turned"]
    assert 2.0 < reads(got, "card") - reads(got, "A") < 3.2
    assert got.heads[0].power == before.heads[0].power
    assert got.whole_over_stops is not None and before.whole_over_stops is not None
    assert got.whole_over_stops > before.whole_over_stops + 0.1
