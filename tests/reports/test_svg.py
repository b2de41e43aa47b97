"""A floor plan on paper."""

import re
from dataclasses import replace
from itertools import combinations
from math import dist
from xml.etree import ElementTree as ET

import pytest
from hypothesis import given
from hypothesis import strategies as st

from runbook.changeover.checklist import CAUTIONS
from runbook.model.setup import Setup
from runbook.reports.svg import setup_floor_svg
from tests.day import sets

SVG = "{http://www.w3.org/2000/svg}"
ONE = sets.setup(
    sets.light(),
    sets.light("D", "boom", side="right", angle_deg=120.0, distance_m=2.0, modifier="strip"),
    panels=(sets.panel(),),
)


def page(setup: Setup = ONE, units: str = "metric") -> str:
    return setup_floor_svg(sets.plan(setup, units=units), setup)


def tree(text: str) -> ET.Element:
    return ET.fromstring(text.encode())


def texts(root: ET.Element) -> list[str]:
    return [each.text or "" for each in root.iter(f"{SVG}text")]


def points(root: ET.Element, role: str) -> list[list[tuple[float, float]]]:
    found = [each for each in root.iter() if each.get("class") == role]
    return [
        [(float(x), float(y)) for x, y in re.findall(r"([-\d.]+),([-\d.]+)", each.get("points", ""))] for each in found
    ]


def bar_mm(root: ET.Element) -> float:
    """How long the scale bar is."""
    (bar,) = [line.get("d", "") for line in root.iter() if line.get("class") == "scale"]
    return float(bar.split("H")[1].split("V")[0])


@pytest.mark.parametrize(("units", "bar_m", "words"), [("metric", 1.0, "1 m"), ("imperial", 0.9144, "3 ft")])
def test_it_is_to_the_scale_of_its_bar(units: str, bar_m: float, words: str) -> None:
    root = tree(page(units=units))
    mm = bar_mm(root) / bar_m
    assert root.get("width") == f"{root.get('viewBox', '').split()[2]}mm"
    _, left, right, _ = points(root, "modifier")[0]
    assert dist(left, right) == pytest.approx(0.9 * mm, abs=0.03)
    edge = points(root, "panel")[0]
    assert dist(edge[0], edge[-1]) == pytest.approx(1.2 * mm, abs=0.03)
    assert words in texts(root)


def test_the_camera_is_at_the_bottom_and_camera_left_at_the_left() -> None:
    root = tree(page())
    lens = points(root, "picture")[0][1]
    wall = points(root, "background")[0]
    head = points(root, "modifier")[0]
    assert all(y < lens[1] for _, y in wall)
    assert all(x < lens[0] for x, _ in head)
    assert "camera-left is at the left" in texts(root)


@given(st.text(max_size=200))
def test_whatever_a_title_holds_the_page_is_well_formed(title: str) -> None:
    root = tree(page(replace(ONE, title=title)))
    assert root.tag == f"{SVG}svg"


def test_a_title_is_shown_as_it_is_written() -> None:
    text = page(replace(ONE, title='a <b> & "c" \' <script>'))
    assert "<script>" not in text
    assert 'a <b> & "c" \' <script>' in texts(tree(text))


def test_nothing_is_fetched_and_nothing_runs() -> None:
    root = tree(page())
    assert {each.tag.removeprefix(SVG) for each in root.iter()} <= {
        "svg", "title", "rect", "text", "path", "polyline", "polygon",
    }  # fmt: skip
    known = "http://www.w3.org/2000/svg"
    values = [value for each in root.iter() for value in each.attrib.values()]
    assert not any("url(" in value or "://" in value for value in values)
    assert not any(name.startswith(("on", "href")) for each in root.iter() for name in each.attrib)
    assert page().replace(known, "").count("://") == 0


def test_it_prints_in_black_and_greys() -> None:
    root = tree(page())
    for each in root.iter():
        for key in ("fill", "stroke"):
            colour = each.get(key, "none")
            assert colour == "none" or re.fullmatch(r"#([0-9a-f])\1\1", colour)


def test_it_names_what_is_there_with_the_cautions() -> None:
    shown = texts(tree(page()))
    assert {"flat-1", "camera-left is at the left"} <= set(shown)
    assert all(caution in shown for caution in CAUTIONS)
    assert "A day, 2026-12-04: one, the floor from above" in shown


def test_names_on_the_drawing_do_not_meet() -> None:
    crowd = sets.setup(
        *(
            sets.light(name, stand, angle_deg=angle)
            for name, stand, angle in zip("ABC", ("S1", "S2", "S3"), (40.0, 45.0, 50.0), strict=True)
        ),
        panels=(sets.panel(side="left", angle_deg=42.0, distance_m=1.5),),
    )
    (drawing,) = tree(page(crowd)).findall(f"{SVG}svg")
    boxes = []
    for each in drawing.iter(f"{SVG}text"):
        size, x, y = (float(each.get(key, "")) for key in ("font-size", "x", "y"))
        # two thirds of its height is more than a letter of a sans-serif is wide, on the average
        boxes.append((x, y - size, x + len(each.text or "") * size * 0.6, y))
    assert len(boxes) == 6
    for one, other in combinations(boxes, 2):
        apart = one[2] <= other[0] or other[2] <= one[0] or one[3] <= other[1] or other[3] <= one[1]
        assert apart


def test_a_long_line_stays_on_the_page() -> None:
    root = tree(page(replace(ONE, title="The keeper " * 20)))
    (title,) = [each for each in root.iter(f"{SVG}text") if (each.text or "").startswith("The keeper")]
    assert float(title.get("x", "")) + float(title.get("textLength", "")) <= 190


def test_what_runs_far_off_the_page_costs_nothing_and_hides_no_name() -> None:
    plan = sets.plan(ONE)
    stands = tuple(replace(each, foot_radius_m=1e8) for each in plan.kit.stands)
    root = tree(setup_floor_svg(replace(plan, kit=replace(plan.kit, stands=stands)), ONE))
    assert set(texts(tree(page()))) <= set(texts(root))


@pytest.mark.parametrize("far_m", [60.0, 2e6])
def test_a_set_as_large_as_a_hall_or_a_slip_of_the_pen_still_fits(far_m: float) -> None:
    far = sets.setup(sets.light(distance_m=far_m), sets.light("B", "S2", side="right", distance_m=far_m))
    root = tree(page(far))
    (drawing,) = root.findall(f"{SVG}svg")
    high = float(drawing.get("height", ""))
    for x, y in (point for line in points(root, "head") for point in line):
        assert 0 <= x <= 190
        assert 0 <= y <= high
