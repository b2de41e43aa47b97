"""Values of a setup's keys as a crew says them."""

from __future__ import annotations

from typing import Any

from runbook.model.units import Units, length


def word_of(key: str) -> str:
    """A key as a crew says it: ``height``, ``angle``."""
    return key.removesuffix("_m").removesuffix("_deg").replace("_", " ")


def value_said(key: str, value: Any, units: Units = "metric") -> str:
    """A value of a key: ``2.1 m``, ``40°``, ``1/8``, ``grid + gel``."""
    if isinstance(value, tuple | list):
        return " + ".join(map(str, value)) or "nothing"
    if value is None:
        return "nothing"
    if isinstance(value, bool):
        return "yes" if value else "no"
    if not isinstance(value, int | float):
        return str(value)
    if key.endswith("_m"):
        return length(value, units)
    return f"{value:g}°" if key.endswith("_deg") else f"{value:g}"
