"""The sheet of one setup: floor, camera, heads, stands, panels and the changeover to it."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from itertools import groupby

from runbook.changeover.floor import panel_spot
from runbook.changeover.step_text import blocks, panel_text, short_place_text
from runbook.changeover.steps import Step
from runbook.day.changeovers import LOAD_IN, WRAP, Changeover, people_of, scene_of
from runbook.day.light import in_shot_text, light_summary, stops_text, under_key_text
from runbook.day.stand_view import counterweight_text, stand_state, worst_first
from runbook.drawing.floor_drawing import floor_rows
from runbook.light.prediction import HeadLight, PanelLight, Prediction
from runbook.light.stops import meter_text
from runbook.model.day import Plan, Problem
from runbook.model.setup import Light, Setup
from runbook.model.units import force, length, mass
from runbook.reports.document import Checklist, Drawing, Heading, Pairs, Part, Table, Text
from runbook.reports.svg import floor_drawing_svg
from runbook.stands.statics import rig_of
from runbook.stands.verdict import Verdict, has_wind, judge_panels, judge_setup
from runbook.stands.verdict_text import bag_place_text, bags_needed_text, panel_limit_text, panel_state, rig_turn_text
from runbook.stands.wind import limit_text

# beside the drawing there is room for the camera and the light on the narrower of A4 and Letter
_DRAWING_WIDTH_MM, _DRAWING_HEIGHT_MM = 112.0, 105.0
_HEAD_COLUMNS = (
    "head", "power", "role", "through", "place", "height", "stand", "reads", "over", "under key", "",
)  # fmt: skip


def setup_parts(
    plan: Plan, setup: Setup, light: Prediction, change: Changeover, problems: Iterable[Problem]
) -> Iterator[Part]:
    """The parts of a setup's sheet. Raises ValueError when a place is not real."""
    rows = floor_rows(plan, setup)
    look = f"look {setup.look}, " if setup.look else ""
    yield Heading(f"{setup.id}: {setup.title or setup.id}", new_page=True)
    yield Text(f"{look}{setup.frames} frames, {setup.shoot_min:g} min")
    yield from problem_warnings(problems, setup.id)
    summary = [("" if n else "light", text) for n, text in enumerate(light_summary(light, plan.day.units))]
    camera = [("camera", rows.camera_set), ("", rows.camera_place), ("subject", _subject_text(plan, setup))]
    yield Drawing(
        floor_drawing_svg(plan, setup, _DRAWING_WIDTH_MM, _DRAWING_HEIGHT_MM),
        Pairs([*camera, *summary]),
        f"The floor from above: runbook sheet --floor {setup.id} -o {setup.id}.svg",
    )
    each = zip(setup.lights, rows.heads, light.heads, strict=True)
    yield Table(_HEAD_COLUMNS, [_head_row(plan, placed, row.fitted, lit) for placed, row, lit in each], 2)
    stands = [_stand_row(plan, setup, verdict) for verdict in worst_first(judge_setup(plan, setup))]
    if stands:
        yield Table(("stand", "head", "bags", "tips at", "push", "load", ""), stands)
    if setup.panels:
        yield Table(("panel", "place", "height", "reads", "bags", ""), [*_panel_rows(plan, setup, light)])
    yield from change_parts(plan, change)


def problem_warnings(problems: Iterable[Problem], setup_id: str | None) -> Iterator[Text]:
    """The stops and warnings of a setup, or of the day (None)."""
    for problem in problems:
        if problem.setup == setup_id and problem.level != "note":
            item = f"{problem.item}: " if problem.item else ""
            yield Text(f"{problem.level}: {item}{problem.what}; {problem.do}", "warn")


def _subject_text(plan: Plan, setup: Setup) -> str:
    subject, units = setup.subject, plan.day.units
    facing = "looking at the camera"
    if subject.looks_at:
        facing = f"looking at {subject.looks_at}"
    elif subject.facing_deg:
        facing = f"turned {subject.facing_deg:g}° camera-{subject.facing_side}"
    text = f"face {length(subject.face_height_m, units)} up, {facing}"
    if setup.background is not None:
        text += f", background {length(setup.background.distance_m, units)} behind"
    return text


def _reading(light: HeadLight | PanelLight) -> str:
    return "" if light.reads_stops is None else meter_text(light.reads_stops)


def _head_row(plan: Plan, light: Light, fitted: str, lit: HeadLight) -> tuple[str, ...]:
    notes = []
    dial = lit.dial
    if dial is not None and not dial.in_range:
        notes.append(f"target is {stops_text(dial.left_over_stops, nothing='')} off the dial")
    elif dial is not None and dial.power != light.power:
        notes.append(f"{dial.power} is nearer the target")
    notes += [
        word for word, present in (("lens flare", lit.flare), (in_shot_text(lit).lower(), lit.in_frame)) if present
    ]
    return (
        light.head,
        str(light.power),
        light.role,
        fitted,
        short_place_text(light, plan.day.units),
        length(light.height_m, plan.day.units),
        light.stand,
        _reading(lit),
        stops_text(lit.over_stops, nothing=""),
        under_key_text(lit.under_key_stops, nothing=""),
        ", ".join(notes),
    )


def _panel_rows(plan: Plan, setup: Setup, light: Prediction) -> Iterator[tuple[str, ...]]:
    """Yield a row for each panel; the last cell is what is wrong, and its gust limit where there is a wind."""
    units, windy = plan.day.units, has_wind(plan.day.place)
    for place, lit, verdict in zip(setup.panels, light.panels, judge_panels(plan, setup), strict=True):
        notes = ["" if verdict.ok else panel_state(verdict), panel_limit_text(verdict, units) if windy else ""]
        spot = panel_spot(plan.kit.panel.get(place.panel), place, setup)
        where = ", ".join(filter(None, (short_place_text(place, units), panel_text(place, spot))))
        height, shot = length(place.height_m, units), in_shot_text(lit).lower()
        notes.insert(0, shot)
        yield place.panel, where, height, _reading(lit), ", ".join(place.bags), ", ".join(filter(None, notes))


def _stand_row(plan: Plan, setup: Setup, verdict: Verdict) -> tuple[str, ...]:
    units, needed = plan.day.units, verdict.bags_needed_kg
    light = next(light for light in setup.lights if light.stand == verdict.stand)
    rig, bags = rig_of(plan.kit, light), mass(verdict.bags_kg, units)
    if light.bags:
        bags = f"{', '.join(light.bags)}: {bags}, {bag_place_text(rig)}"
    notes = [stand_state(verdict) + counterweight_text(verdict, units), rig_turn_text(rig)]
    if needed is None:
        notes.append("no mass there is enough")
    elif needed > verdict.bags_kg:
        notes.append(f"needs {bags_needed_text(verdict, units)} at the {light.bags_at}")
    if not plan.day.place.indoors:
        notes.append(f"gust limit {limit_text(verdict.wind_limit_ms, units)}")
    load = f"{mass(verdict.load_kg, units)} of {mass(verdict.load_max_kg, units)}"
    lean, push = f"{verdict.lean_deg:.1f}°", force(verdict.push_n, units)
    return verdict.stand, verdict.head or "", bags, lean, push, load, ", ".join(filter(None, notes))


# -- the changeover ------------------------------------------------------------------------------


def _duration_text(seconds: float) -> str:
    return f"{seconds:.0f} s" if seconds < 90 else f"{seconds / 60:.0f} min"


def _change_summary(plan: Plan, change: Changeover) -> str:
    """How many steps a changeover has, how long it takes the crew, and how many it needs."""
    count, crew = len(change.steps), people_of(plan)
    text = f"{count} step{'' if count == 1 else 's'}, about {_duration_text(change.total_s)}"
    if crew > 1:
        text += f" shared over {crew}"
        if change.people <= 1:
            text += f", {_duration_text(change.alone_s)} alone"
    return f"{text}; {change.people} people needed" if change.people > 1 else text


def change_parts(plan: Plan, change: Changeover) -> Iterator[Part]:
    """A changeover to tick, step by step: who does it, how long it takes, what to mind."""
    crew, notes = {shared.step.n: shared.crew for shared in change.shared}, change.notes
    summary = _change_summary(plan, change)
    yield Heading(f"From {change.start or LOAD_IN} to {change.goal or WRAP}: {summary}", 3)
    goal = plan.setups[change.goal] if change.goal else None

    def tick(step: Step) -> tuple[str, str]:
        return step.text, "; ".join(filter(None, (" + ".join(crew[step.n]), f"{step.seconds:.0f} s", *notes[step.n])))

    # consecutive single steps share a list
    for single, group in groupby(blocks(change.steps, scene_of(plan, goal)), key=lambda block: len(block.steps) == 1):
        if single:
            yield Checklist("", [tick(block.steps[0]) for block in group])
        else:
            yield from (Checklist(block.title, [tick(step) for step in block.steps]) for block in group)
