"""The lines of the planning screen: the outline of the day, and the form of one thing."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

from runbook.files.form import Field, shown_field
from runbook.files.form_editor import Thing
from runbook.model.units import Units, length, mass
from runbook.screens.pick_list import PickLine

_LABEL = 17


def outline_lines(things: Sequence[Thing]) -> list[PickLine]:
    """The outline: the kinds in capitals, their things under them."""
    found = []
    for thing in things:
        if thing.path is None:
            found.append(PickLine(thing.title.upper(), "dim"))
        else:
            alone = thing.kind in ("day", "camera")
            found.append(PickLine(thing.title if alone else f"  {thing.title}"))
    return found


def form_lines(fields: Sequence[Field], units: Units) -> list[PickLine]:
    """A form: each key with its value, and in words where that comes from."""
    return [_line(field, units) for field in fields]


def _line(field: Field, units: Units) -> PickLine:
    if field.kind == "heading":
        title = field.label.upper() if field.label.islower() else field.label
        said = f"{title}  (from {field.source})" if field.source else title
        return PickLine(said if field.value else f"{title}  (none)", "dim")
    shown = shown_field(field, units) or "-"
    if field.origin == "inherited":
        return PickLine(f"  {field.label:<{_LABEL}} {shown}  (from {field.source})", "dim")
    if field.origin == "default":
        return PickLine(f"  {field.label:<{_LABEL}} {shown}  (unless written)", "dim")
    if field.origin == "none":
        shown, style = ("must be written", "bold") if field.must else ("-", "dim")
        return PickLine(f"  {field.label:<{_LABEL}} {shown}", style)
    return PickLine(f"  {field.label:<{_LABEL}} {shown}")


def kept_said(field: Field, value: Any, units: Units) -> str:
    """A typed value as it will be kept; a measure in the other units too."""
    if value is None or (value == "" and not field.must):
        return "cleared"
    other: Units = "imperial" if units == "metric" else "metric"
    if field.kind == "length":
        return f"{length(value, units)} ({length(value, other)})"
    if field.kind == "mass":
        return f"{mass(value, units)} ({mass(value, other)})"
    return shown_field(replace(field, value=value), units) or "nothing"


def offered(field: Field) -> str:
    """What can be written into a field that takes of a list."""
    return f"of {', '.join(field.choices) or 'nothing: the kit has none'}" if field.what else ""
