"""What the set screen shows, as lines and rows: setups, heads, crew, and what to do next."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Final

from rich.cells import cell_len

from runbook.day.actions import Session
from runbook.day.day_view import CrewLine, HeadLine, SetupLine
from runbook.day.light import stops_text
from runbook.day.stand_view import alarms
from runbook.drawing.floor_drawing import camera_place_text, on_head_text
from runbook.light.stops import meter_text
from runbook.model.setup import HungCloth, Light, PanelPlace
from runbook.model.units import Units, count_text, length
from runbook.screens.actions import STATE_WORD
from runbook.screens.lists import Row, open_row
from runbook.screens.text import Glyphs, Line

_BEFORE: Final = 2  # setups before the current one, where not all fit on a line
_COLUMNS: Final = ("head", "role", "set to", "reads", "over f", "where", "away", "up", "stand", "modifier")


def _sign(line: SetupLine, glyphs: Glyphs) -> str:
    return {"shot": glyphs.done, "skipped": glyphs.skipped, "to do": glyphs.to_do}.get(line.state, glyphs.here)


def _state(line: SetupLine, session: Session) -> str:
    return STATE_WORD[line.state] + (", NOT SAFE" if line.now and alarms(session.view) else "")


def setup_line(n: int, line: SetupLine, session: Session, glyphs: Glyphs) -> Line:
    """Return a setup with its state, and its frames once there are any."""
    counted = f"{line.frames}/{line.frames_planned}" if line.frames or line.now else ""
    text = "  ".join(filter(None, (f"{_sign(line, glyphs)} {n} {line.title}", _state(line, session), counted)))
    return text, "bold" if line.now else ""


def crew_line(busy: Iterable[CrewLine], width: int, glyphs: Glyphs) -> list[str]:
    """Return who does what now, side by side, the long texts cut; nothing where one person works alone."""
    texts = [person.text for person in busy]
    room = width - 2 * max(len(texts) - 1, 0)
    for placed, n in enumerate(sorted(range(len(texts)), key=lambda n: cell_len(texts[n]))):
        texts[n] = glyphs.cut(texts[n], room // (len(texts) - placed))
        room -= cell_len(texts[n])
    return ["  ".join(texts)] if texts else []


def setup_strip(session: Session, width: int, glyphs: Glyphs) -> str:
    """Return what is current, then the setups; of more than fit in ``width``, those round the current one."""
    setups, state = session.view.setups, session.state
    parts = [f"{_sign(line, glyphs)}{n}" for n, line in enumerate(setups, 1)]
    here = next((n for n, line in enumerate(setups) if line.now), 0)
    if setups and (line := setups[here]).now:
        parts[here] += f" {_state(line, session)}, frames {line.frames}/{line.frames_planned}: {line.title} "
    if state.wrapping:
        parts.insert(0, "Wrap: strike everything ")
    elif not state.begun:
        parts.insert(0, "Load-in: n begins the first setup ")
    elif session.view.setup is None:
        parts.insert(0, "The current setup is no longer in the plan: n begins the next ")
    if here > _BEFORE and cell_len(" ".join(parts)) > width:
        parts = [glyphs.shown("…"), *parts[here - _BEFORE :]]
    return " ".join(parts)


def camera_title(session: Session) -> str:
    """Return what the camera is set to for the setup as it is shot, and what of the heads needs a word."""
    view, setup = session.view, session.view.setup
    if setup is None:
        return "heads"
    place, shot = camera_place_text(session.plan, setup), setup.exposure
    notes = {
        "* not as planned": any(head.up and head.power != head.planned for head in view.heads),
        "# metered": any(head.reading for head in view.heads),
        "P: powers off target": view.powers_not_as_asked,
        "bg: at the background": any(head.over == "bg" for head in view.heads),
    }
    camera = f"f/{shot.f:g}, {shot.shutter}, ISO {shot.iso:g}, {place}"
    return "  ".join((camera, *(text for text, holds in notes.items() if holds)))


def head_table(session: Session, glyphs: Glyphs) -> list[tuple[str, ...]]:
    """Return the column heads, a row for each head of the setup, then one for each of its panels and hung cloths."""
    view, units = session.view, session.plan.day.units
    table = [_COLUMNS, *(_head_row(n, head, session, glyphs) for n, head in enumerate(view.heads, 1))]
    if view.setup is not None and view.prediction is not None:
        light, cloths = view.prediction, session.plan.kit.cloth
        panel_reads = {one.panel: one.reads_stops for one in light.panels}
        cloth_reads = {one.cloth: one.reads_stops for one in light.cloths}
        for at in view.setup.panels:
            reads = _reads(panel_reads.get(at.panel), light.aperture_stops)
            where = _where(at, at.height_m, units)
            table.append((at.panel, at.role or "panel", "", *reads, *where, at.held_by or "", ""))
        for hung in view.setup.hung_cloths:
            reads = _reads(cloth_reads.get(hung.cloth), light.aperture_stops)
            where = _where(hung, hung.rail_m(cloths[hung.cloth]), units)
            table.append((hung.cloth, "cloth", "", *reads, *where, " ".join(hung.held_by), ""))
    return [tuple(map(glyphs.shown, row)) for row in table]


def _reads(stops: float | None, aperture: float) -> tuple[str, str]:
    return ("", "") if stops is None else (meter_text(stops), stops_text(stops - aperture))


def _where(at: Light | PanelPlace | HungCloth, up_m: float, units: Units) -> tuple[str, ...]:
    return f"{at.side} {at.angle_deg:g}°", length(at.distance_m, units), length(up_m, units)


def _head_row(n: int, head: HeadLine, session: Session, glyphs: Glyphs) -> tuple[str, ...]:
    light = head.light
    return (
        f"{n} {glyphs.to_do if head.changing else glyphs.done} {head.head}",
        light.role,
        f"{head.power}{'' if head.power == head.planned else '*'}" if head.up else "not up",
        head.predicted,
        f"{head.over}{'#' if head.reading else ''}",
        *(_where(light, light.height_m, session.plan.day.units) if head.up else ("skipped", "", "")),
        light.stand,
        on_head_text(light),
    )


def fitted_lines(heads: Sequence[HeadLine], picked: int) -> list[str]:
    """Return what is on the head picked, for a table too narrow to tell."""
    return [f"{heads[picked].head}: {on_head_text(heads[picked].light)}"] if heads else []


def steps_title(session: Session) -> str:
    """Return how far the steps are, what is open, and whatever is not as planned."""
    view, state = session.view, session.state
    over = sum(line.state in ("done", "skipped") for line in view.lines)
    open_checks = sum(hold.open for hold in view.holds)
    ahead = len(view.ahead.todo)
    parts = {
        held_text(session): state.floor.in_hands,
        "ON A BREAK (b ends it)": state.on_break is not None,
        f"steps {over} of {len(view.lines)}" if view.lines else "steps": True,
        f"{count_text(open_checks, 'check')} open": open_checks,
        "not all as planned (j)": view.other_than_planned,
        f"{ahead} can be done ahead (a)": ahead,
        _arrived(session): True,
    }
    return ", ".join(text for text, holds in parts.items() if text and holds)


def _arrived(session: Session) -> str:
    """Return which folder is watched, and how many frames arrived; empty where none is and all is well."""
    frames, watched = session.view.frames, session.pictures
    folder = watched.folder if watched else None
    unplaced = f"{len(frames.unplaced)} in no setup (F)" if frames.unplaced else ""
    return ", ".join(filter(None, (f"watching {folder.name}: {len(frames.all)}" if folder else "", unplaced)))


def held_text(session: Session) -> str:
    """Return which stands nobody may let go of now."""
    return f"HOLD {', '.join(sorted(session.state.floor.in_hands))}"


def nothing_to_do(session: Session) -> str:
    """Return what to do where no step is left; after entries were lost, to check the set."""
    state = session.state
    situations = (
        (state.on_break is not None, "On a break: b ends it."),
        (session.gaps, f"{session.gap_text[:1].upper()}{session.gap_text[1:]}: check what really stands."),
        (not state.begun, "Nothing is set up yet. n begins the first setup, g any other; l edits the plan."),
        (state.wrapping, "Everything is struck. e counts the kit, q leaves the day."),
        (state.at_work in state.shot, "Shot. n begins the next setup."),
        (alarms(session.view), "NOT SAFE: fix this before anybody shoots. t shows more."),
    )
    ready = "Ready to shoot. f counts frames, c marks the setup as shot, n begins the next."
    return next((text for holds, text in situations if holds), ready)


def next_action(session: Session, listed: list[Row]) -> str:
    """Return the next row to do: all that a very small window shows."""
    row = listed[open_row(listed)] if listed else None
    if row is None or row.over:
        return nothing_to_do(session)
    return f"CHECK {row.text}" if row.check is not None else row.text
