"""The day at a glance: a storyboard of its setups, and what each of the crew does by the clock."""

from __future__ import annotations

from base64 import b64encode
from collections.abc import Iterator, Mapping, Sequence
from itertools import groupby

from runbook.changeover.step_text import blocks
from runbook.day.changeovers import WRAP, scene_of
from runbook.day.crew_steps import crew_steps
from runbook.day.frame_view import FramesView
from runbook.day.frames import frame_text
from runbook.day.planned_times import PlannedTimes
from runbook.model.day import Plan
from runbook.model.setup import Setup
from runbook.reports.document import CAUTION, Cell, Group, Heading, Part, Picture, Table, Text
from runbook.reports.setup_sheet import PlannedChange
from runbook.reports.svg import floor_drawing_svg

_TILE_FLOOR_MM = (36.0, 44.0)
_TILE_TEXT_MM = 2.2


def storyboard(plan: Plan, times: PlannedTimes, faces: Sequence[Picture]) -> Group:
    """Return every setup in order: its times, its title, its floor and its face."""
    return Group("story", [_tile(plan, setup, n, times, faces[n]) for n, setup in enumerate(plan.order)])


def _tile(plan: Plan, setup: Setup, index: int, times: PlannedTimes, face: Picture) -> Group:
    short, slot = times.clock.short, times.run.slots[index]
    floor = Picture(floor_drawing_svg(plan, setup, *_TILE_FLOOR_MM, _TILE_TEXT_MM), "")
    return Group(
        "tile",
        [
            Heading(f"{short(slot.shoot_at_s)} {setup.id}", 3),
            Text(f"{index + 1}: {setup.title}" if setup.title else f"{index + 1}", "small"),
            Text(f"{setup.frames} frames, until {short(slot.end_s)}", "small"),
            Group("beside", [floor, face]),
        ],
    )


def crew_table(plan: Plan, planned: Sequence[PlannedChange], times: PlannedTimes) -> Table:
    """Return the day by the clock, with a column for each of the crew."""
    names = [": ".join(filter(None, (member.id, member.name))) for member in plan.day.crew]
    rows = sorted(_crew_rows(plan, planned, times), key=lambda row: row[0])
    return Table(("", *(names or ["steps"])), [cells for _, cells in rows])


def _crew_rows(
    plan: Plan, planned: Sequence[PlannedChange], times: PlannedTimes
) -> Iterator[tuple[float, tuple[Cell, ...]]]:
    """Yield when something begins, and what it is: for everybody in one cell, or for each in a cell of their own."""
    day, short = plan.day, times.clock.short
    if day.load_in_min:
        yield times.clock.seconds_of(day.call), (f"{day.call:%H:%M} call, load-in {day.load_in_min:g} min",)
    slots = {slot.id: slot for slot in times.run.slots}
    for one in planned:
        if one.change.goal:
            slot = slots[one.change.goal]
            what = [("change", slot.start_s), ("shoot", slot.shoot_at_s), ("end", slot.end_s)]
        else:
            what = [("strike", one.start_s), ("end", times.run.finish_s)]
        lines = (one.change.goal or WRAP, *(f"{short(at)} {text}" for text, at in what))
        yield one.start_s, (lines, *_crew_cells(plan, one))
    names = {pause.id: pause.name or pause.id for pause in day.breaks}
    for pause in times.run.pauses:
        yield pause.start_s, (f"{short(pause.start_s)} to {short(pause.end_s)} {names[pause.id]}",)


def _crew_cells(plan: Plan, one: PlannedChange) -> Iterator[Cell]:
    """Yield what everybody does in a changeover, thing by thing, with the time each begins.

    Whoever helps reads the details with the one who leads.
    """
    scene, short = scene_of(plan, plan.setups.get(one.change.goal or "")), one.times.clock.short
    for person, steps in crew_steps(one.change).items():
        lines, shown = [], ""
        for (thing, others, leads), group in groupby(steps, lambda mine: (mine.step.thing, mine.others, mine.leads)):
            mine = tuple(group)
            clock = short(one.times.step_s(one.start_s, mine[0].start_s))
            title = blocks((each.step for each in mine), scene)[0].title if leads else thing
            with_ = f", with {' and '.join(others)}" if others else ""
            lines.append(f"{'' if clock == shown else clock} {title}{with_}".strip())
            shown = clock
        yield (*lines, *one.change.holds(person)) or "-"


def crew_page(plan: Plan, planned: Sequence[PlannedChange], times: PlannedTimes) -> Group:
    """Return the page that says what each of the crew does through the day."""
    parts: list[Part] = [Heading("Who does what, by the clock"), crew_table(plan, planned, times), CAUTION]
    return Group("crew", parts)


def selects_page(view: FramesView, pictures: Mapping[str, bytes]) -> Group:
    """Return the page of the frames to match setups by; ``pictures`` are their JPEGs, by setup."""
    tiles: list[Part] = []
    for setup_id, jpeg in pictures.items():
        shot = view.select(setup_id)
        image = Picture(f"data:image/jpeg;base64,{b64encode(jpeg).decode()}", f"The picture to match {setup_id} by")
        words = Text(frame_text(shot.frame) if shot else "", "small")
        tiles.append(Group("tile", [Heading(setup_id, 3), words, image]))
    return Group("page", [Heading("Match by eye"), Group("story", tiles)] if tiles else [])
