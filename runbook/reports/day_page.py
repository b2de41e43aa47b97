"""The printed runbook: the day as a storyboard, the crew, the kit to pack, the checklist, and a sheet a setup."""

from __future__ import annotations

import datetime as dt
from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from typing import Final

from runbook.changeover.checklist import Stage
from runbook.day.changeovers import NO_TIMINGS, Changeovers, Timings
from runbook.day.day_audit import problems_of
from runbook.day.gates import planned_checks, stage_checks
from runbook.day.kit_list import KitLine, kit_list
from runbook.day.planned_times import planned_times
from runbook.light.battery import batteries
from runbook.light.prediction import predict
from runbook.model.day import Plan
from runbook.model.kit import Measured
from runbook.model.progress import Tell, silent
from runbook.model.units import length, speed
from runbook.reports.document import CAUTION, Checklist, Group, Heading, Page, Pairs, Part, Tick
from runbook.reports.overview import crew_page, storyboard
from runbook.reports.setup_sheet import PlannedChange, change_parts, face_picture, problem_warnings, setup_sheet

_STAGES: Final[tuple[Stage, ...]] = ("load-in", "pre-light", "change", "talent", "meal", "wrap")
_PLURALS: Final = {"battery": "batteries", "accessory": "accessories", "lens": "lenses"}


def day_page(
    plan: Plan,
    measured: Sequence[Measured] = (),
    *,
    zone: dt.tzinfo = dt.UTC,
    timings: Timings = NO_TIMINGS,
    face_px: int = 0,
    more: Sequence[Part] = (),
    tell: Tell = silent,
) -> Page:
    """Return the day on paper; ``measured`` are the day's meter readings so far, ``zone`` that of its hours.

    Faces are ``face_px`` pixels wide, 0 for none. ``more`` comes after the storyboard. ``tell`` is called with what is
    being worked on. Raises ValueError when a place is not real.
    """
    problems, kit, changes = problems_of(plan, measured, zone, tell), kit_list(plan), Changeovers(plan, timings)
    times = planned_times(changes, zone)
    whole, checks = tuple(changes.all), planned_checks(plan, changes.all)
    planned = [PlannedChange(*one, times) for one in zip(whole, times.change_starts_s, checks, strict=True)]
    lights = [predict(plan, setup, measured) for setup in plan.order]
    faces = []
    for setup, light in zip(plan.order, lights, strict=True):
        tell(f"the face of {setup.id}")
        faces.append(face_picture(plan, setup, light, face_px))
    parts: list[Part] = [*_front(plan), CAUTION, *problem_warnings(problems, None)]
    parts += [storyboard(plan, times, faces), *more, crew_page(plan, planned, times)]
    parts.append(Group("page", [*_packing(kit), *_batteries(plan)]))
    stages = [Checklist(stage, [Tick(check.text) for check in stage_checks(plan, stage)]) for stage in _STAGES]
    parts.append(Group("page", [Heading("The checklist"), CAUTION, *stages]))
    for setup, light, face, change in zip(plan.order, lights, faces, planned, strict=False):
        parts.append(setup_sheet(setup, light, face, change, problems))
    wrap = [Heading("The wrap"), *change_parts(planned[-1])]
    parts.append(Group("page", [*wrap, Heading("Kit count", 3), *_kit_checklists(kit), CAUTION]))
    return Page(f"{plan.day.name}, {plan.day.date.isoformat()}", parts)


def _front(plan: Plan) -> Iterator[Part]:
    day, place, units = plan.day, plan.day.place, plan.day.units
    hours = [f"call {day.call:%H:%M}", f"wrap {day.wrap:%H:%M}"]
    hours += [
        f"{name} {minutes:g} min"
        for name, minutes in (("load-in", day.load_in_min), ("packing", day.wrap_min))
        if minutes
    ]
    rows = [("date", day.date.isoformat()), ("hours", ", ".join(hours))]
    if day.crew:
        rows.append(("crew", ", ".join(f"{one.id}: {one.name}" if one.name else one.id for one in day.crew)))
    for pause in day.breaks:
        start = f"between {pause.earliest:%H:%M} and {pause.latest:%H:%M}"
        rows.append((pause.name or pause.id, f"{pause.minutes:g} min, starts {start}"))
    for look in day.looks:
        who = f" ({look.talent})" if look.talent else ""
        call = f", called {look.call:%H:%M}" if look.call else ""
        rows.append((f"look {look.id}", f"{look.name or look.id}{who}: {look.prep_min:g} min{call}"))
    where = "indoors" if place.indoors else f"outdoors, wind {speed(place.wind_ms, units, 'g')}"
    gust = f", gusts {speed(place.gust_ms, units, 'g')}" if place.gust_ms else ""
    limits = f"stands stable to a lean of {place.tilt_limit_deg:g}°, reach {length(place.reach_m, units)}"
    carried = f"loads above {length(place.carry_m, units)} lowered before a move"
    rows.append(("place", f"{where}{gust}, {place.ambient_lux:g} lux; {limits}, {carried}"))
    yield from (Heading(day.name, 1), Pairs(rows))


def _batteries(plan: Plan) -> Iterator[Part]:
    lines = []
    for battery in batteries(plan):
        text = f"{battery.head}: {battery.spent:.0f} full flashes of {battery.of:g} per charge"
        if battery.changes:
            text += f"; change before {', '.join(battery.changes)}"
        if not battery.lasts:
            text += f"; {battery.charges} charges needed, {1 + battery.spares} available"
        lines.append(Tick(text))
    if lines:
        yield from (Heading("Batteries"), Checklist("", lines))


def _packing(kit: Sequence[KitLine]) -> Iterator[Part]:
    spare = [line for line in kit if not line.used]
    yield from (Heading("The kit to pack"), CAUTION)
    yield from _kit_checklists(line for line in kit if line.used)
    if spare:
        yield Heading("Also in the cases, not used today", 3)
        yield from _kit_checklists(spare)


def _kit_checklists(lines: Iterable[KitLine]) -> Iterator[Checklist]:
    """Yield the kit to tick, a list for each kind with the number of its things."""
    lines = list(lines)
    counts: Counter[str] = Counter()
    for line in lines:
        counts[line.kind] += len(line.ids)
    for kind, count in counts.items():
        title = f"{count} {kind if count == 1 else _PLURALS.get(kind, f'{kind}s')}"
        ticks = [Tick(f"{len(line.ids)} × {line.what}", ", ".join(line.ids)) for line in lines if line.kind == kind]
        yield Checklist(title, ticks)
