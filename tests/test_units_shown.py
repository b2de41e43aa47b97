"""On an imperial day every text has feet, pounds and miles an hour, and none kilograms.

The files stay SI, and so do the keys of ``--json``; a focal length is in mm everywhere.
"""

import re
from dataclasses import replace
from functools import cache
from html import unescape
from pathlib import Path
from typing import Any

import pytest

from runbook.cli import main
from runbook.day.changeovers import Changeovers
from runbook.day.day_audit import problems_of
from runbook.day.handover_lines import handover_lines
from runbook.day.stand_view import stands_view
from runbook.model.day import Plan, Problem
from runbook.model.units import Units
from runbook.reports.day_page import day_page
from runbook.reports.document import html_page, markdown_page
from tests.day.days import DEMO, begun, demo
from tests.day.plans import with_crew, with_day, with_lights, with_place
from tests.screens.screen_text import app_of, line_with, press, shown

METRIC = re.compile(r"\d ?(?:kg|kgf|m/s|N|cm|m)\b")
IMPERIAL = re.compile(r"\d ?(?:lb|lbf|mph|ft|in)\b")


def metric_in(text: str) -> list[str]:
    """The lines of a text with a metric unit."""
    return [line for line in text.splitlines() if METRIC.search(line)]


def read_as_text(page: str) -> str:
    """A page as it is read: no style, no tags."""
    return unescape(re.sub(r"<[^>]+>", "\n", re.sub(r"<style>.*</style>", "", page, flags=re.S)))


# -- the commands, on the demo day ----------------------------------------------------------------


@pytest.fixture(scope="module")
def imperial_day(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The demo day, outdoors and imperial, without its author's names ("90 cm octabox")."""
    folder = tmp_path_factory.mktemp("imperial")
    for path in DEMO.glob("*.toml"):
        text = path.read_text("utf-8").replace('units = "metric"', 'units = "imperial"')
        text = text.replace("indoors = true", "indoors = false\ngust_ms = 4.0")
        if path.stem == "kit":
            text = re.sub(r"^name = .*\n", "", text, flags=re.MULTILINE)
        (folder / path.name).write_text(text, "utf-8")
    return folder


@pytest.mark.parametrize("command", ["check", "stands", "steps", "sheet day.md", "sheet day.html"])
def test_no_command_shows_a_metric_unit_on_an_imperial_day(command, imperial_day, tmp_path, capsys, monkeypatch):
    monkeypatch.setattr("runbook.commands.sheet.FACE_PX", 6)
    name, *files = command.split()
    paths = [tmp_path / file for file in files]
    assert main([name, str(imperial_day), *(word for path in paths for word in ("-o", str(path)))]) in (0, 1)
    text = read_as_text(paths[0].read_text("utf-8")) if paths else capsys.readouterr().out
    assert IMPERIAL.search(text)
    assert metric_in(text) == []


# -- every text of a faulty day ----------------------------------------------------


def kit_of(plan: Plan, kind: str, **factors: float) -> Plan:
    """The day with every thing of a kind so many times as heavy, as deep and so on."""
    things = tuple(
        replace(thing, **{field: factor * getattr(thing, field) for field, factor in factors.items()})
        for thing in getattr(plan.kit, kind)
    )
    return replace(plan, kit=replace(plan.kit, **{kind: things}))


def lights_of(plan: Plan, **fields: Any) -> Plan:
    """The day with other values in every light."""
    for name in plan.setups:
        plan = with_lights(plan, name, **fields)
    return plan


def day_of(plan: Plan, crew: int | None = None, units: Units = "metric", **place: Any) -> Plan:
    """The day with another crew, other units and another place."""
    return with_place(with_day(with_crew(plan, *plan.day.crew[:crew]), units=units), **place)


def windy(gust_ms: float) -> Plan:
    return day_of(demo(), indoors=False, wind_ms=2.0, gust_ms=gust_ms)


def weighted(factor: float) -> Plan:
    """Another weight on the boom, and stands that are made for little."""
    return kit_of(demo(), "stands", load_max_kg=0.25, counterweight_kg=factor)


FAULTY = {
    "bags that hold nothing": kit_of(lights_of(demo(), bags=()), "bags", mass_kg=0.01), "a breath of wind": windy(3.0),
    "a wind": windy(3.8), "a gale": windy(12.0),
    "one person for heavy things": day_of(kit_of(kit_of(demo(), "heads", mass_kg=8), "modifiers", mass_kg=8), crew=1),
    "a light boom": weighted(0.3), "a heavy boom": weighted(3.0),
    "deep modifiers in a short reach": day_of(kit_of(lights_of(demo(), bags=()), "modifiers", depth_m=5), reach_m=1.0),
    "readings over the dials": lights_of(demo(), aim_reading_f=16.0, under_key_stops=None),
    "readings under the dials": lights_of(demo(), aim_reading_f=1.0, under_key_stops=None),
}  # fmt: skip
# the kinds of problem with a length, a mass, a push or a wind in their words
MEASURED = (
    "bags-too-few cloth-in-wind counterweight-large counterweight-small dial-too-high dial-too-low held-alone "
    "held-in-wind high-without-bag lift-alone over-reach stand-overloaded stand-tips too-close "
    "wind-act wind-past-limit wind-watch"
)


@cache
def problems(fault: str, units: Units) -> tuple[Problem, ...]:
    plan = FAULTY[fault]
    return problems_of(with_day(plan, units=units))


def text_of(problem: Problem) -> str:
    return f"{problem.what}; {problem.do}"


@pytest.mark.parametrize("fault", FAULTY)
def test_problems_differ_between_units_only_in_figures(fault: str) -> None:
    for one, other in zip(problems(fault, "metric"), problems(fault, "imperial"), strict=True):
        assert replace(one, what="", do="") == replace(other, what="", do="")
        assert bool(METRIC.search(text_of(one))) == bool(IMPERIAL.search(text_of(other)))
        assert not METRIC.search(text_of(other))
        assert not IMPERIAL.search(text_of(one))


def test_all_problems_with_a_measure_are_covered() -> None:
    everything = (problem for fault in FAULTY for problem in problems(fault, "metric"))
    codes = {problem.code for problem in everything if METRIC.search(text_of(problem))}
    assert " ".join(sorted(codes)) == MEASURED


@pytest.mark.parametrize("fault", FAULTY)
def test_no_text_of_a_faulty_day_shows_a_metric_unit(fault: str) -> None:
    plan = FAULTY[fault]
    # the kit without what its author calls things
    names = {
        kind: tuple(replace(thing, name="") for thing in getattr(plan.kit, kind)) for kind in ("modifiers", "cloths")
    }
    plan = replace(plan, kit=replace(plan.kit, **names), day=replace(plan.day, units="imperial"))
    page, session = day_page(plan), begun(plan)
    stands = stands_view(session.view)
    session.begin(plan.day.order[0])
    texts = [
        markdown_page(page),
        read_as_text(html_page(page)),
        *(f"{step.text} ({step.why_hands})" for change in Changeovers(plan).all for step in change.steps),
        *(line for row in stands.rows for line in row.words),
        *stands.wind,
        *(line.text for line in handover_lines(session, session.clock())),
    ]
    assert [line for text in texts for line in metric_in(text)] == []


# -- the screen -----------------------------------------------------------------------------------


async def test_the_stands_screen_shows_no_metric_unit_on_an_imperial_day() -> None:
    plan = day_of(lights_of(windy(3.8), bags=()), units="imperial")
    async with app_of(begun(plan)).run_test(size=(140, 45)) as pilot:
        await press(pilot, "t")
        assert metric_in(shown(pilot)) == []
        assert "gusts 8.5 mph" in shown(pilot)
        assert "lbf" in line_with(pilot, "S1 ")
