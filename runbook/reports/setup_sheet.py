"""The sheet of one setup on one page: floor, face, camera, heads, stands, panels, and the changeover to it."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import groupby
from math import ceil
from typing import Final

from runbook.changeover.floor import panel_spot
from runbook.changeover.step_text import cloth_text, holder_text, panel_text, short_place_text
from runbook.day.changeovers import LOAD_IN, WRAP, Changeover, summary_text
from runbook.day.crew_steps import ALL, CrewStep, crew_steps
from runbook.day.gates import Hold
from runbook.day.light import face_caption, in_shot_text, light_summary, stops_text, target_text, under_key_text
from runbook.day.planned_times import PlannedTimes
from runbook.day.stand_view import counterweight_text, stand_state, verdict_row, worst_first
from runbook.drawing.face_drawing import face_data_uri
from runbook.drawing.floor_drawing import camera_place_text, fitted_text
from runbook.light.prediction import HeadLight, LitSetup, PanelLight, Prediction
from runbook.light.stops import meter_text
from runbook.model.day import Plan, Problem
from runbook.model.setup import Light, Setup
from runbook.model.units import figure, length
from runbook.reports.document import CAUTION, Checklist, Group, Heading, Pairs, Part, Picture, Table, Text, Tick
from runbook.reports.svg import floor_drawing_svg
from runbook.stands.statics import Rig
from runbook.stands.verdict import Verdict, has_wind, judge_panels, judge_setup, rigs_of
from runbook.stands.verdict_text import bag_place_text, panel_limit_text, panel_state, rig_turn_text

_HEAD_COLUMNS = (
    "head", "power", "meter at face", "role", "modifier", "place", "height", "stand", "over f", "under key", "",
)  # fmt: skip
# The page is as wide as A4 and as high as Letter, without margins, in mm; page.css has the same figures.
_PAGE_HIGH: Final = 256.0
# by density: the size of the type, the height of a line to tick in sizes, and the columns of those lines
_TYPE: Final = ((3.2, 1.45, 2), (2.85, 1.45, 2), (2.6, 1.3, 2), (2.4, 1.25, 2), (2.4, 1.25, 3))
_COLUMN_WIDE: Final = {2: 93.0, 3: 60.6}
_FLOOR_HIGH: Final = 70.0  # what the drawing should have, and gets unless the smallest type leaves less
_FLOOR_LEAST: Final = 42.0
_TALL: Final = 100.0  # with as much, face and facts stand below each other
_FLOOR_WIDE: Final = (84.0, 122.0)  # beside both, or beside the taller of both


@dataclass(frozen=True, slots=True)
class PlannedChange:
    """A changeover with when it begins, the checks that hold its steps, and the day's times."""

    change: Changeover
    start_s: float
    checks: Sequence[Hold]
    times: PlannedTimes


def setup_sheet(
    setup: Setup, light: Prediction, face: Picture, planned: PlannedChange, problems: Iterable[Problem]
) -> Group:
    """Return a setup's sheet, set as large as fits on one page. Raises ValueError when a place is not real."""
    plan = planned.change.plan
    problems, shot = tuple(problems), setup.exposure
    top: list[Part] = [
        Heading(f"{setup.id}: {setup.title or setup.id}"),
        Text(_times_text(plan, setup, planned), "times"),
        *problem_warnings(problems, setup.id),
    ]
    heads = [_head_row(plan, setup, *each) for each in zip(setup.lights, light.heads, strict=True)]
    below: list[Part] = [Table(_HEAD_COLUMNS, heads, 3, large=True)]
    supports: list[Part] = []
    rigs, verdicts = rigs_of(plan.kit, setup), worst_first(judge_setup(plan, setup))
    if stands := [_stand_row(plan, rigs[verdict.stand], verdict) for verdict in verdicts]:
        supports.append(Table(("stand", "carries", "bags", "tips at", "push", "load", ""), stands))
    if panels := [*_panel_rows(plan, setup, light), *_cloth_rows(plan, setup, light)]:
        kinds = ("panel", setup.panels), ("cloth", setup.hung_cloths)
        first = ", ".join(kind for kind, placed in kinds if placed)
        supports.append(Table((first, "place", "height", "reads", "bags", ""), panels))
    below += [Group("tables", supports), *change_parts(planned), *_small_findings(problems, setup.id), CAUTION]
    density, left = _fitted([*top, *below])
    tall = left >= _TALL
    floor = Picture(
        floor_drawing_svg(plan, setup, _FLOOR_WIDE[tall], max(left, _FLOOR_LEAST), 1.2 * _TYPE[density][0]),
        f"The floor from above: runbook sheet --floor {setup.id} -o {setup.id}.svg",
    )
    summary = [("" if n else "light", text) for n, text in enumerate(light_summary(light, plan.day.units))]
    camera = [("camera", camera_place_text(plan, setup)), ("subject", _subject_text(plan, setup))]
    settings = f"f/{shot.f:g}, {shot.shutter}, ISO {shot.iso:g}, {setup.view.orientation}"
    facts = Group("column", [Text(settings, "figures"), Pairs([*camera, *summary])])
    return Group("sheet", [*top, Group("tall" if tall else "beside", [floor, face, facts]), *below], density)


def face_picture(plan: Plan, setup: Setup, light: Prediction, wide_px: int) -> Picture:
    """Return the face in a setup's light, so many pixels wide; 0 for text only.

    Raises ValueError when a place is not real.
    """
    text = f"The face in this light: {face_caption(light) or 'no key'}"
    return Picture(face_data_uri(LitSetup(plan.kit, setup, light), wide_px) if wide_px else "", text)


def _times_text(plan: Plan, setup: Setup, planned: PlannedChange) -> str:
    """When a setup is changed to and shot, and what is shot."""
    order, times = plan.day.order, planned.times
    index, short = order.index(setup.id), times.clock.short
    slot = times.run.slots[index]
    look = f"look {setup.look}, " if setup.look else ""
    return (
        f"setup {index + 1} of {len(order)}; change from {short(slot.start_s)}, "
        f"shoot {short(slot.shoot_at_s)} to {short(slot.end_s)} as planned; {look}{setup.frames} frames"
    )


def problem_warnings(problems: Iterable[Problem], setup_id: str | None) -> Iterator[Text]:
    """The stops and warnings of a setup, or of the day (None)."""
    for problem in problems:
        if problem.setup == setup_id and problem.level in ("stop", "warn"):
            yield Text(_problem_text(problem), "warn")


def _small_findings(problems: Iterable[Problem], setup_id: str) -> Iterator[Text]:
    """The notes of a setup, and the findings that it intends, in one small paragraph."""
    texts = [_problem_text(one) for one in problems if one.setup == setup_id and one.level in ("note", "meant")]
    if texts:
        yield Text(". ".join(texts), "small")


def _problem_text(problem: Problem) -> str:
    item = f"{problem.item}: " if problem.item else ""
    return f"{problem.level}: {item}{problem.what}; {problem.do}"


def _fitted(parts: Sequence[Part]) -> tuple[int, float]:
    """Return the least density with which parts leave enough of a page to the drawing, and what they leave, in mm.

    Where none does, it is the one that leaves most.
    """
    left = [_PAGE_HIGH - sum(_high(part, *setting) for part in parts) for setting in _TYPE]
    density = next((n for n, rest in enumerate(left) if rest >= _FLOOR_HIGH), left.index(max(left)))
    return density, left[density]


def _high(part: Part, size: float, line: float, columns: int) -> float:
    """Return about how high a part is on paper, in mm, with this type; see ``_TYPE``."""
    match part:
        case Heading() | Text():
            return size * (2.2 + 1.2 * (len(part.text) * size // 390))
        case Table():
            return size * (1.8 + line * (1.7 if part.large else 1.17) * len(part.rows))
        case Checklist():
            letters = (_COLUMN_WIDE[columns] - 6.2 * size) / (0.46 * size)
            lines = sum(ceil((len(tick.text) + 0.85 * len(tick.note)) / letters) for tick in part.lines)
            return size * (line * lines + 0.4 + (1.6 if part.title else 0)) / columns
        case Group():  # side by side
            return max((_high(inner, size, line, columns) for inner in part.parts), default=0.0)
    return 0.0


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


def _head_row(plan: Plan, setup: Setup, light: Light, lit: HeadLight) -> tuple[str, ...]:
    misses = lit.dial is not None and not (lit.dial.in_range and lit.dial.power == light.power)
    notes = target_text(lit) if misses else "", "lens flare" if lit.flare else "", in_shot_text(lit).lower()
    return (
        light.head,
        str(light.power),
        _reading(lit),
        light.role,
        fitted_text(setup, light),
        short_place_text(light, plan.day.units),
        length(light.height_m, plan.day.units),
        light.stand,
        stops_text(lit.over_stops, nothing=""),
        under_key_text(lit.under_key_stops, nothing=""),
        ", ".join(filter(None, notes)),
    )


def _panel_rows(plan: Plan, setup: Setup, light: Prediction) -> Iterator[tuple[str, ...]]:
    """Yield a row for each panel; the last cell is its role, what is wrong, and its gust limit in a wind."""
    units, windy = plan.day.units, has_wind(plan.day.place)
    for place, lit, verdict in zip(setup.panels, light.panels, judge_panels(plan, setup), strict=True):
        state, limit = "" if verdict.ok else panel_state(verdict), panel_limit_text(verdict, units) if windy else ""
        spot = panel_spot(plan.kit.panel.get(place.panel), place, setup)
        parts = short_place_text(place, units), panel_text(place, spot), holder_text(place, plan.kit)
        where = ", ".join(filter(None, parts))
        notes = ", ".join(filter(None, (place.role, in_shot_text(lit).lower(), state, limit)))
        yield place.panel, where, length(place.height_m, units), _reading(lit), ", ".join(place.bags), notes


def _cloth_rows(plan: Plan, setup: Setup, light: Prediction) -> Iterator[tuple[str, ...]]:
    """Yield a row for each hung cloth as for a panel; it reads what it scatters, else what it reflects."""
    units = plan.day.units
    for hung, lit in zip(setup.hung_cloths, light.cloths, strict=True):
        up = f"{figure(length(hung.hem_m, units))} to {length(hung.rail_m(plan.kit.cloth[hung.cloth]), units)}"
        on = f"on {' and '.join(hung.held_by)}" if hung.held_by else "held by the building"
        shot = "between lens and face" if lit.veils else in_shot_text(lit).lower()
        place = f"{short_place_text(hung, units)}{cloth_text(hung)}"
        reads = "" if lit.reads_stops is None else meter_text(lit.reads_stops)
        yield hung.cloth, place, up, reads, ", ".join(hung.bags), ", ".join(filter(None, (on, shot)))


def _stand_row(plan: Plan, rig: Rig, verdict: Verdict) -> tuple[str, ...]:
    units = plan.day.units
    stand, carries, lean, push, _, bags, limit, load = verdict_row(verdict, units)
    if rig.bags:
        bags = f"{', '.join(bag.id for bag in rig.bags)}: {bags}, {bag_place_text(rig)}"
    elif verdict.bags_needed_kg != 0:
        bags += f" at the {rig.bags_at}"
    state = stand_state(verdict) + counterweight_text(verdict, units)
    gusts = "" if plan.day.place.indoors else f"gust limit {limit}"
    return stand, carries, bags, lean, push, load, ", ".join(filter(None, (state, rig_turn_text(rig), gusts)))


# -- the changeover ------------------------------------------------------------------------------


def change_parts(planned: PlannedChange) -> Iterator[Part]:
    """A changeover to tick: the steps of each person by clock time, then the checks that hold steps."""
    change, plan = planned.change, planned.change.plan
    yield Heading(f"From {change.start or LOAD_IN} to {change.goal or WRAP}: {summary_text(change)}", 3)
    names = {member.id: member.name for member in plan.day.crew}
    for person, steps in crew_steps(change).items():
        title = ": ".join(filter(None, (person, names.get(person)))) if person != ALL else ""
        shown = reason = ""
        # what is done to one thing stays together
        for _, group in groupby(steps, key=lambda mine: mine.step.thing):
            lines = []
            for mine in group:
                clock = planned.times.clock.short(planned.times.step_s(planned.start_s, mine.start_s))
                note = "; ".join(_step_notes(change, mine, reason))
                lines.append(Tick(mine.step.text, note, ("" if clock == shown else clock, str(mine.step.n))))
                shown, reason = clock, mine.step.why_hands
            yield Checklist(title, lines)
            title = ""
    if planned.checks:
        first = {step.key: step.n for step in reversed(change.steps)}
        ticks = [(min(first[key] for key in hold.steps), hold.check.text) for hold in planned.checks]
        yield Checklist("Checks: tick each before its step", [Tick(t, "", ("before", str(n))) for n, t in ticks])


def _step_notes(change: Changeover, mine: CrewStep, reason: str) -> Iterator[str]:
    """Yield whom a step is done with, what comes first, and what to mind.

    Why it takes more than one is for the first of them to read, and is no news after a step with the same ``reason``.
    """
    if mine.others:
        yield f"with {' and '.join(mine.others)}"
    if mine.waits_for:
        yield f"after {', '.join(map(str, mine.waits_for))}"
    known = mine.others and (not mine.leads or mine.step.why_hands == reason)
    why = f"{mine.step.hands} people: "
    yield from (note for note in change.notes[mine.step.n] if not (known and note.startswith(why)))
