"""A day larger than any real one, made of the small day's things: no two setups alike.

By hand: ``python -m tests.bench.big_day FOLDER [SETUPS [HEADS]]``.
"""

import sys
import tomllib
from pathlib import Path
from typing import Any

import tomli_w

from tests.days import FILES

NUMBERED = {"head": "H", "modifier": "M", "stand": "S", "bag": "B"}
SMALL_KIT, SMALL_DAY, SMALL_SETUP = (tomllib.loads(FILES[f"{name}.toml"]) for name in ("kit", "day", "window"))


def write_big_day(folder: Path, setups: int = 40, heads: int = 8) -> Path:
    """Write the day's files and return the folder; most things change from setup to setup."""
    folder.mkdir(parents=True, exist_ok=True)
    kit: dict[str, Any] = {
        kind: [SMALL_KIT[kind][0] | {"id": f"{letter}{n}"} for n in range(heads)] for kind, letter in NUMBERED.items()
    }
    for modifier in kit["modifier"]:
        modifier |= {"loss_stops": 2.0, "loss_at_m": 2.0, "spread_deg": 120}
    names = [f"s{n:03}" for n in range(setups)]
    files = {
        "kit": kit | {key: SMALL_KIT[key] for key in ("camera", "lens")},
        "day": SMALL_DAY | {"name": "The big day", "order": names, "wrap": SMALL_DAY["wrap"].replace(hour=23)},
    } | {name: _setup(n, heads) for n, name in enumerate(names)}
    for name, values in files.items():
        (folder / f"{name}.toml").write_text(tomli_w.dumps(values), "utf-8")
    return folder


def _setup(n: int, heads: int) -> dict[str, Any]:
    same = {key: SMALL_SETUP[key] for key in ("look", "frames", "view", "background")}
    return same | {
        "title": f"Setup {n}", "shoot_min": 5, "exposure": SMALL_SETUP["exposure"] | {"f": (4.0, 5.6, 8.0)[n % 3]},
        "subject": {"face_height_m": 1.3}, "light": [_light(n, head, heads) for head in range(heads)],
    }  # fmt: skip


def _light(n: int, head: int, heads: int) -> dict[str, Any]:
    stand = (head + n // 4) % heads
    return {
        "head": f"H{head}", "role": "rim" if head else "key", "stand": f"S{stand}",
        "modifier": f"M{(head + n // 2) % heads}", "power": f"1/{2 ** ((n + head) % 7)}",
        "side": "left" if (n + head) % 2 else "right", "angle_deg": 20 + 15 * head,
        "distance_m": 1.6 + (n * 3 + head) % 7 / 10, "height_m": 1.4 + (n + head) % 6 / 5, "bags": [f"B{stand}"],
    }  # fmt: skip


if __name__ == "__main__":
    where, *sizes = sys.argv[1:]
    print(write_big_day(Path(where), *map(int, sizes)))
