"""The light of a large day with panels and hung cloths, and its preview while typing: held to bounds.

By hand, on a quiet machine: ``python -m tests.bench.bench_light``.
"""

import resource
import subprocess
import sys
import tempfile
import tomllib
from dataclasses import replace
from pathlib import Path
from statistics import median
from typing import Any

import tomli_w

from runbook.day.edit_preview import edit_preview
from runbook.day.load_plan import read_day
from runbook.model.day import Plan
from tests.bench.big_day import write_big_day
from tests.bench.measure import keeps, seconds

LIGHT_S, PREVIEW_MS = 2.0, 100.0  # on the processor, and by the clock
_KIT = {
    "panel": [
        {"id": "flat-1", "width_m": 1.2, "height_m": 2.4, "reflectance": 0.85, "wings": 2, "mass_kg": 9},
        {"id": "flat-2", "width_m": 1.2, "height_m": 2.4, "reflectance": 0.85, "wings": 2, "mass_kg": 9},
        {"id": "silver", "width_m": 0.8, "height_m": 0.6, "reflectance": 0.9, "foot_radius_m": 0.3, "mass_kg": 1},
        {"id": "flag", "width_m": 0.6, "height_m": 0.9, "reflectance": 0.0, "foot_radius_m": 0.3, "mass_kg": 1},
    ],
    "cloth": [
        {"id": name, "width_m": 3.0, "height_m": 2.6, "loss_stops": 1.0, "scatter": 0.7, "reflectance": 0.25}
        for name in ("voile-1", "voile-2")
    ],
}


def write_hung_day(folder: Path, setups: int = 40, heads: int = 8) -> Path:
    """Write the big day with four panels and two hung cloths in each setup; return the folder."""
    write_big_day(folder, setups, heads)
    _add(folder / "kit.toml", _KIT)
    for n in range(setups):
        places = [
            {"panel": "flat-1", "side": "left", "angle_deg": 70 + n % 5, "distance_m": 1.1, "height_m": 1.2},
            {"panel": "flat-2", "side": "right", "angle_deg": 80 + n % 7, "distance_m": 1.2, "height_m": 1.2},
            {"panel": "silver", "side": "left", "angle_deg": 5 + n % 3, "distance_m": 0.7, "height_m": 0.9},
            {"panel": "flag", "side": "right", "angle_deg": 30 + n % 9, "distance_m": 1.0, "height_m": 1.7},
        ]
        hung = [
            {"cloth": "voile-1", "side": "left", "angle_deg": 130 + n % 8, "distance_m": 1.4, "hem_m": 0.1},
            {"cloth": "voile-2", "side": "right", "angle_deg": 140 + n % 6, "distance_m": 1.5, "hem_m": 0.1},
        ]
        _add(folder / f"s{n:03}.toml", {"place_panel": places, "hang": hung})
    return folder


def _add(file: Path, more: dict[str, Any]) -> None:
    file.write_text(tomli_w.dumps(tomllib.loads(file.read_text("utf-8")) | more), "utf-8")


def light_s(folder: Path) -> float:
    """Return the seconds on the processor that ``runbook light`` takes."""
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    subprocess.run([sys.executable, "-m", "runbook", "light", str(folder), "--json"], check=True, capture_output=True)
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    return after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime


def preview_ms(plan: Plan, step_m: float) -> float:
    """Return how long the preview takes of a head that is moved by this much."""
    setup = plan.order[0]
    moved = replace(setup.lights[0], distance_m=setup.lights[0].distance_m + step_m)
    edited = replace(plan, setups=plan.setups | {setup.id: replace(setup, lights=(moved, *setup.lights[1:]))})
    path = ("light", moved.head, "distance_m")
    return 1000 * seconds(lambda: edit_preview(edited, "setup", setup.id, path))


def main() -> int:
    """Return 0 where the bounds are kept."""
    with tempfile.TemporaryDirectory() as folder:
        day = write_hung_day(Path(folder) / "day")
        taken, plan = min(light_s(day) for _ in range(3)), read_day(day)
    preview_ms(plan, 0.0)
    typed = median(preview_ms(plan, n / 100) for n in range(1, 12))
    kept = keeps("runbook light, 40 setups", taken, "s", LIGHT_S)
    return 0 if keeps("preview of one setup", typed, "ms", PREVIEW_MS) and kept else 1


if __name__ == "__main__":
    sys.exit(main())
