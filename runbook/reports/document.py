"""The day as it is printed: every fact of the plan gathered once, in the words it is read in."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from typing import Final, NamedTuple

from runbook.changeover.checklist import Stage
from runbook.changeover.words import blocks, place_short
from runbook.day.changeovers import (
    LOAD_IN,
    WRAP,
    Change,
    all_changes,
    held_from_start,
    people_of,
    scene_of,
    share,
    step_notes,
)
from runbook.day.day_audit import problems_of
from runbook.day.gates import stage_checks
from runbook.day.kit_list import KitLine, kit_list
from runbook.day.light import light_summary, predictions, stops_text, under_key_text
from runbook.day.stand_facts import counterweight_text, stand_state, worst_first
from runbook.drawing.floor_drawing import floor_rows
from runbook.light.battery import batteries
from runbook.light.prediction import HeadLight, PanelLight, Prediction
from runbook.light.stops import meter_text
from runbook.model.day import Plan
from runbook.model.kit import Measured
from runbook.model.problems import Problem
from runbook.model.setup import Light, Setup
from runbook.model.units import force, length, mass, speed
from runbook.stands.verdict import PanelVerdict, Verdict, has_wind, judge_panels, judge_setup
from runbook.stands.verdict_text import bags_needed_text, far_legs_text, panel_limit_text, panel_state, turn_text
from runbook.stands.wind import limit_text

_STAGES: Final[tuple[Stage, ...]] = ("load-in", "pre-light", "change", "talent", "meal", "wrap")


class HeadFacts(NamedTuple):
    """A head as it is set up, and what the meter should show."""

    head: str
    role: str
    power: str
    fitted: str
    place: str
    height: str
    stand: str
    reads: str
    over: str
    under_key: str
    said: str


class PanelFacts(NamedTuple):
    """A panel, where it stands, what it sends back, its bags, and what the wind does to it."""

    panel: str
    place: str
    height: str
    reads: str
    bags: str
    said: str


class StandFacts(NamedTuple):
    """A stand: what keeps it upright, and whether that is enough."""

    stand: str
    head: str
    lean: str
    push: str
    bags: str
    load: str
    said: str


class StepFacts(NamedTuple):
    """A step to tick: ``crew`` are ids, ``notes`` says what else must be known."""

    text: str
    seconds: float
    hands: int
    crew: tuple[str, ...]
    notes: tuple[str, ...]


class BlockFacts(NamedTuple):
    """The steps of one thing, and what a crew would call them together."""

    title: str
    steps: tuple[StepFacts, ...]


class ChangeFacts(NamedTuple):
    """A changeover: from what, to what, how much of it there is, block by block."""

    start: str
    goal: str
    said: str
    blocks: tuple[BlockFacts, ...]


class SetupFacts(NamedTuple):
    """A setup: its changeover, its light as predicted, its stands, and what is wrong with it."""

    id: str
    title: str
    said: str
    camera: str
    camera_place: str
    subject: str
    light: tuple[str, ...]
    heads: tuple[HeadFacts, ...]
    panels: tuple[PanelFacts, ...]
    stands: tuple[StandFacts, ...]
    change: ChangeFacts
    problems: tuple[str, ...]


class DayFacts(NamedTuple):
    """The whole day. ``about`` are pairs of a word and what it says; ``checks`` go by stage."""

    name: str
    date: str
    about: tuple[tuple[str, str], ...]
    order: tuple[tuple[str, str, str, str], ...]
    packed: tuple[KitLine, ...]
    batteries: tuple[str, ...]
    checks: tuple[tuple[str, tuple[str, ...]], ...]
    problems: tuple[str, ...]
    setups: tuple[SetupFacts, ...]
    wrap: ChangeFacts


def day_facts(plan: Plan, measured: Sequence[Measured] = ()) -> DayFacts:
    """Everything the printed runbook says; ``measured`` are the day's meter readings so far.

    Raises ValueError when a place is not real.
    """
    day = plan.day
    found = problems_of(plan, measured)
    changes = list(all_changes(plan))
    setups = tuple(
        _setup(plan, setup, light, change, _problems(found, setup.id))
        for setup, light, change in zip(plan.order, predictions(plan, plan.order, measured), changes, strict=False)
    )
    return DayFacts(
        day.name,
        day.date.isoformat(),
        tuple(_about(plan)),
        tuple((setup.id, setup.title, f"{setup.frames}", f"{setup.shoot_min:g} min") for setup in plan.order),
        kit_list(plan),
        tuple(_batteries(plan)),
        tuple((stage, tuple(check.text for check in stage_checks(plan, stage))) for stage in _STAGES),
        _problems(found, None),
        setups,
        change_facts(plan, changes[-1]),
    )


def _problems(found: Iterable[Problem], setup_id: str | None) -> tuple[str, ...]:
    """What must be known of what is wrong with a setup, or with the day (None)."""
    return tuple(
        f"{each.level}: {each.item + ': ' if each.item else ''}{each.what}; {each.do}"
        for each in found
        if each.setup == setup_id and each.level != "note"
    )


def _about(plan: Plan) -> Iterator[tuple[str, str]]:
    day = plan.day
    around = "".join(
        f", {name} {minutes:g} min"
        for name, minutes in (("load-in", day.load_in_min), ("packing", day.wrap_min))
        if minutes
    )
    yield "hours", f"call {day.call:%H:%M}, wrap {day.wrap:%H:%M}{around}"
    if day.crew:
        yield ("crew", ", ".join(f"{each.id}: {each.name}" if each.name else each.id for each in day.crew))
    for each in day.breaks:
        yield (each.name or each.id, f"{each.minutes:g} min, to begin {each.earliest:%H:%M} to {each.latest:%H:%M}")
    for look in day.looks:
        who = f" ({look.talent})" if look.talent else ""
        call = f", called {look.call:%H:%M}" if look.call else ""
        yield f"look {look.id}", f"{look.name or look.id}{who}: {look.prep_min:g} min{call}"
    place, units = day.place, day.units
    inside = "indoors" if place.indoors else f"outdoors, wind {speed(place.wind_ms, units, 'g')}"
    gust = f", gusts {speed(place.gust_ms, units, 'g')}" if place.gust_ms else ""
    yield (
        "place",
        f"{inside}{gust}, {place.ambient_lux:g} lux; stands to stand a lean of "
        f"{place.tilt_limit_deg:g}°, reach {length(place.reach_m, units)}, "
        f"carried up to {length(place.carry_m, units)}",
    )


def _batteries(plan: Plan) -> Iterator[str]:
    for each in batteries(plan):
        said = f"{each.head}: {each.spent:.0f} full flashes of {each.of:g} a charge"
        if each.changes:
            said += f"; change before {', '.join(each.changes)}"
        if not each.lasts:
            said += f"; {each.charges} charges needed, {1 + each.spares} at hand"
        yield said


def _setup(plan: Plan, setup: Setup, light: Prediction, change: Change, problems: tuple[str, ...]) -> SetupFacts:
    rows = floor_rows(plan, setup)
    look = f"look {setup.look}, " if setup.look else ""
    lit = {each.head: each for each in light.heads}
    bounced = {each.panel: each for each in light.panels}
    units = plan.day.units
    return SetupFacts(
        setup.id,
        setup.title or setup.id,
        f"{look}{setup.frames} frames, {setup.shoot_min:g} min",
        rows.camera_set,
        rows.camera_place,
        _subject(plan, setup),
        tuple(light_summary(light, units)),
        tuple(
            _head(plan, each, row.fitted, lit[each.head]) for each, row in zip(setup.lights, rows.heads, strict=True)
        ),
        tuple(
            PanelFacts(
                each.panel,
                place_short(each, units),
                length(each.height_m, units),
                _reads(bounced[each.panel]),
                ", ".join(each.bags),
                _blown(plan, verdict),
            )
            for each, verdict in zip(setup.panels, judge_panels(plan, setup), strict=True)
        ),
        tuple(_stand(plan, setup, each) for each in worst_first(judge_setup(plan, setup))),
        change_facts(plan, change),
        problems,
    )


def _blown(plan: Plan, panel: PanelVerdict) -> str:
    """What is wrong with a panel, and its limit where there is a wind."""
    limit = panel_limit_text(panel, plan.day.units) if has_wind(plan.day.place) else ""
    state = "" if panel.ok else panel_state(panel)
    return ", ".join(text for text in (state, limit) if text)


def _subject(plan: Plan, setup: Setup) -> str:
    subject, units = setup.subject, plan.day.units
    if subject.looks_at:
        way = f"looking at {subject.looks_at}"
    elif subject.facing_deg:
        way = f"turned {subject.facing_deg:g}° camera-{subject.facing_side}"
    else:
        way = "looking at the camera"
    said = f"face {length(subject.face_height_m, units)} up, {way}"
    if setup.background is not None:
        said += f", background {length(setup.background.distance_m, units)} behind"
    return said


def _reads(light: HeadLight | PanelLight) -> str:
    return "" if light.reads_stops is None else meter_text(light.reads_stops)


def _head(plan: Plan, light: Light, fitted: str, lit: HeadLight) -> HeadFacts:
    units = plan.day.units
    said = []
    dial = lit.dial
    if dial is not None and not dial.in_range:
        said.append(f"asked for is off the dial by {stops_text(dial.left_over_stops, nothing='')}")
    elif dial is not None and dial.power != light.power:
        said.append(f"{dial.power} would be nearer what is asked")
    said += [word for word, true in (("flare", lit.flare), ("in the frame", lit.in_frame)) if true]
    return HeadFacts(
        light.head,
        light.role,
        str(light.power),
        fitted,
        place_short(light, units),
        length(light.height_m, units),
        light.stand,
        _reads(lit),
        stops_text(lit.over_stops, nothing=""),
        under_key_text(lit.under_key_stops, nothing=""),
        ", ".join(said),
    )


def _stand(plan: Plan, setup: Setup, verdict: Verdict) -> StandFacts:
    units = plan.day.units
    light = next((each for each in setup.lights if each.stand == verdict.stand), None)
    hung = ", ".join(light.bags) if light else ""
    bags = mass(verdict.bags_kg, units)
    legs = plan.kit.stand[verdict.stand].legs
    if hung and light:
        where = "at the column"
        if light.bags_at == "far legs":
            where = far_legs_text(legs, light.leg_under_load)
        bags = f"{hung}: {bags}, {where}"
    needed = verdict.bags_needed_kg
    said = [stand_state(verdict) + counterweight_text(verdict, units)]
    if light and (turn := turn_text(legs, light.leg_under_load, light.bags_at)):
        said.append(turn)
    if needed is None:
        said.append("no mass there is enough")
    elif needed > verdict.bags_kg:
        at = light.bags_at if light else "column"
        said.append(f"needs {bags_needed_text(verdict, units)} at the {at}")
    if not plan.day.place.indoors:
        said.append(f"gust limit {limit_text(verdict.wind_limit_ms, units)}")
    return StandFacts(
        verdict.stand,
        verdict.head or "",
        f"{verdict.lean_deg:.1f}°",
        force(verdict.push_n, units),
        bags,
        f"{mass(verdict.load_kg, units)} of {mass(verdict.load_max_kg, units)}",
        ", ".join(said),
    )


def minutes_said(seconds: float) -> str:
    """``40 s``, ``14 min``."""
    return f"{seconds:.0f} s" if seconds < 90 else f"{seconds / 60:.0f} min"


def change_facts(plan: Plan, change: Change) -> ChangeFacts:
    """A changeover in the order it is called, block by block."""
    setup = plan.setups[change.goal] if change.goal else None
    shares = share(change.steps, plan)
    crew = {each.step.n: each.crew for each in shares.steps}
    folded = blocks(change.steps, scene_of(plan, setup))
    count = len(change.steps)
    marks = step_notes(change.steps, held_from_start(plan, change))
    crew_by_step = people_of(plan)
    shared = f" shared over {crew_by_step}" if crew_by_step > 1 else ""
    if crew_by_step > 1 and change.people <= 1:
        shared += f", {minutes_said(change.alone_s)} alone"
    people = f"; {change.people} people needed" if change.people > 1 else ""
    said = f"{count} step{'' if count == 1 else 's'}, about {minutes_said(shares.total_s)}{shared}"
    return ChangeFacts(
        change.start or LOAD_IN,
        change.goal or WRAP,
        said + people,
        tuple(
            BlockFacts(
                block.title,
                tuple(
                    StepFacts(step.text, step.seconds, step.hands, crew[step.n], marks[step.n]) for step in block.steps
                ),
            )
            for block in folded
        ),
    )


def totals(packed: Iterable[KitLine]) -> tuple[tuple[str, int], ...]:
    """How many things of each kind, in the order of the kinds."""
    counts: dict[str, int] = {}
    for line in packed:
        counts[line.kind] = counts.get(line.kind, 0) + line.many
    return tuple(counts.items())
