"""On an imperial day every text has feet, pounds and miles an hour, and none kilograms.

The files stay SI, and so do the keys of ``--json``; a focal length is in mm everywhere.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import replace
from functools import cache
from html import unescape
from itertools import chain
from pathlib import Path

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
from tests.screens.screen_text import app_of, line_with, press, shown

METRIC = re.compile(r"\d ?(?:kg|kgf|m/s|N|cm|m)\b")
IMPERIAL = re.compile(r"\d ?(?:lb|lbf|mph|ft|in)\b")


def metric_in(text: str) -> list[str]:
    """The lines of a text with a metric unit."""
    return [line for line in text.splitlines() if METRIC.search(line)]


def in_units(plan: Plan, units: Units) -> Plan:
    return replace(plan, day=replace(plan.day, units=units))


# -- the commands, on the demo day ----------------------------------------------------------------


@pytest.fixture(scope="module")
def imperial_day(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The demo day, outdoors and imperial, without its author's names ("90 cm octabox")."""
    folder = tmp_path_factory.mktemp("imperial")
    for path in DEMO.glob("*.toml"):
        text = path.read_text("utf-8")
        if path.stem == "kit":
            text = re.sub(r"^name = .*\n", "", text, flags=re.MULTILINE)
        text = text.replace('units = "metric"', 'units = "imperial"')
        text = text.replace("indoors = true", "indoors = false\ngust_ms = 4.0")
        (folder / path.name).write_text(text, "utf-8")
    return folder


@pytest.mark.parametrize("command", ["check", "stands", "steps"])
def test_no_command_shows_a_metric_unit_on_an_imperial_day(
    command: str, imperial_day: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main([command, str(imperial_day)]) in (0, 1)
    text = capsys.readouterr().out
    assert IMPERIAL.search(text)
    assert metric_in(text) == []


@pytest.mark.parametrize("name", ["day.md", "day.html"])
def test_no_sheet_shows_a_metric_unit_on_an_imperial_day(name: str, imperial_day: Path, tmp_path: Path) -> None:
    assert main(["sheet", str(imperial_day), "-o", str(tmp_path / name)]) == 0
    text = read_as_text((tmp_path / name).read_text("utf-8"))
    assert IMPERIAL.search(text)
    assert metric_in(text) == []


def read_as_text(page: str) -> str:
    """A page as it is read: no style, no tags."""
    return unescape(re.sub(r"<[^>]+>", "\n", re.sub(r"<style>.*</style>", "", page, flags=re.S)))


# -- every text of a faulty day ----------------------------------------------------


def every_light(plan: Plan, **changed: object) -> Plan:
    setups = {
        name: replace(setup, lights=tuple(replace(each, **changed) for each in setup.lights))  # type: ignore[arg-type]
        for name, setup in plan.setups.items()
    }
    return replace(plan, setups=setups)


def placed(plan: Plan, **changed: object) -> Plan:
    place = replace(plan.day.place, **changed)  # type: ignore[arg-type]
    return replace(plan, day=replace(plan.day, place=place))


def bare() -> Plan:
    """No bag hung, and none in the kit that holds anything."""
    plan = every_light(demo(), bags=())
    bags = tuple(replace(each, mass_kg=0.05) for each in plan.kit.bags)
    return replace(plan, kit=replace(plan.kit, bags=bags))


def windy(gust_ms: float) -> Plan:
    return placed(demo(), indoors=False, wind_ms=2.0, gust_ms=gust_ms)


def heavy() -> Plan:
    """One person, and everything eight times as heavy."""
    plan = demo()
    kit = replace(
        plan.kit,
        heads=tuple(replace(each, mass_kg=8 * each.mass_kg) for each in plan.kit.heads),
        modifiers=tuple(replace(each, mass_kg=8 * each.mass_kg) for each in plan.kit.modifiers),
    )
    return replace(plan, kit=kit, day=replace(plan.day, crew=plan.day.crew[:1]))


def weighted(counterweight_kg: float) -> Plan:
    """Another weight on the boom, and stands that are made for little."""
    plan = demo()
    stands = tuple(
        replace(each, load_max_kg=each.load_max_kg / 4, counterweight_kg=counterweight_kg) for each in plan.kit.stands
    )
    return replace(plan, kit=replace(plan.kit, stands=stands))


def deep() -> Plan:
    """Modifiers two metres deep, a short crew's reach, and no bag on what is over it."""
    plan = every_light(placed(demo(), reach_m=1.0), bags=())
    boxes = tuple(replace(each, depth_m=2.0) for each in plan.kit.modifiers)
    return replace(plan, kit=replace(plan.kit, modifiers=boxes))


def asked(f: float) -> Plan:
    """Every head asked for a reading that its dial may not reach."""
    return every_light(demo(), aim_reading_f=f, under_key_stops=None)


SPOILED: dict[str, Callable[[], Plan]] = {
    "bare": bare,
    "a breath of wind": lambda: windy(3.0),
    "a wind": lambda: windy(3.8),
    "a gale": lambda: windy(12.0),
    "heavy": heavy,
    "a light boom": lambda: weighted(2.0),
    "a heavy boom": lambda: weighted(20.0),
    "deep": deep,
    "dim": lambda: asked(16.0),
    "bright": lambda: asked(1.0),
}
# the kinds of problem whose words have a length, a mass, a push or a wind in them
MEASURED = {
    "bags-too-few",
    "counterweight-large",
    "counterweight-small",
    "dial-too-high",
    "dial-too-low",
    "held-alone",
    "high-without-bag",
    "lift-alone",
    "over-reach",
    "stand-overloaded",
    "stand-tips",
    "too-close",
    "wind-act",
    "wind-past-limit",
    "wind-watch",
}


@cache
def problems(spoiled: str, units: Units) -> tuple[Problem, ...]:
    return problems_of(in_units(SPOILED[spoiled](), units))


def text_of(problem: Problem) -> str:
    return f"{problem.what}; {problem.do}"


def place_of(problem: Problem) -> tuple[str | None, ...]:
    return problem.level, problem.code, problem.setup, problem.item


@pytest.mark.parametrize("spoiled", SPOILED)
def test_problems_differ_between_units_only_in_figures(spoiled: str) -> None:
    metric, imperial = problems(spoiled, "metric"), problems(spoiled, "imperial")
    assert [place_of(problem) for problem in metric] == [place_of(problem) for problem in imperial]
    for one, other in zip(metric, imperial, strict=True):
        assert bool(METRIC.search(text_of(one))) == bool(IMPERIAL.search(text_of(other)))
        assert not METRIC.search(text_of(other))
        assert not IMPERIAL.search(text_of(one))


def test_all_problems_with_a_measure_are_covered() -> None:
    everything = chain.from_iterable(problems(spoiled, "metric") for spoiled in SPOILED)
    assert {problem.code for problem in everything if METRIC.search(text_of(problem))} == MEASURED


@pytest.mark.parametrize("spoiled", SPOILED)
def test_no_text_of_a_faulty_day_shows_a_metric_unit(spoiled: str) -> None:
    plan = in_units(unnamed(SPOILED[spoiled]()), "imperial")
    page, session = day_page(plan), begun(plan)
    now = stands_view(session.view)
    session.begin(plan.day.order[0])
    steps = [step for each in Changeovers(plan).all for step in each.steps]
    texts = [
        markdown_page(page),
        read_as_text(html_page(page)),
        *(f"{step.text} ({step.why_hands})" for step in steps),
        *(line for each in now.rows for line in each.words),
        *now.wind,
        *(line.text for line in handover_lines(session, session.clock())),
    ]
    assert [line for text in texts for line in metric_in(text)] == []


def unnamed(plan: Plan) -> Plan:
    """The kit without what its author calls things."""
    boxes = tuple(replace(each, name="") for each in plan.kit.modifiers)
    cloths = tuple(replace(each, name="") for each in plan.kit.cloths)
    return replace(plan, kit=replace(plan.kit, modifiers=boxes, cloths=cloths))


# -- the screen -----------------------------------------------------------------------------------


async def test_the_stands_screen_shows_no_metric_unit_on_an_imperial_day() -> None:
    plan = in_units(every_light(windy(3.8), bags=()), "imperial")
    async with app_of(begun(plan)).run_test(size=(140, 45)) as pilot:
        await press(pilot, "t")
        assert metric_in(shown(pilot)) == []
        assert "gusts 8.5 mph" in shown(pilot)
        assert "lbf" in line_with(pilot, "S1 ")
