"""A day larger than any real one: as many setups and heads as asked, no two setups alike.

By hand: ``python -m tests.bench.big_day FOLDER [SETUPS [HEADS]]``.
"""

from __future__ import annotations

import sys
from pathlib import Path

KIT = """
[[head]]
id = "H{n}"
energy_ws = 400
guide_number_m = 60.0
power_min = "1/128"
power_step = "1/3"
mass_kg = 2.4
recycle_full_s = 1.5
recycle_min_s = 0.1

[[modifier]]
id = "M{n}"
shape = "round"
width_m = 0.9
height_m = 0.9
depth_m = 0.4
mass_kg = 1.1
loss_stops = 2.0
loss_at_m = 2.0
spread_deg = 120

[[stand]]
id = "S{n}"
kind = "stand"
legs = 3
foot_radius_m = 0.5
mass_kg = 3.0
load_max_kg = 10.0
height_min_m = 1.0
height_max_m = 3.0

[[bag]]
id = "B{n}"
mass_kg = 7.0
"""
CAMERA = """
[camera]
sensor_mm = [36.0, 24.0]
sync = "1/200"
iso_min = 100

[[lens]]
id = "85"
focal_mm = 85
f_min = 1.8
f_max = 16.0
"""
DAY = """
name = "The big day"
date = 2026-12-04
call = 08:00:00
wrap = 23:00:00
order = [{order}]

[[crew]]
id = "photo"
[[crew]]
id = "first"
[[look]]
id = "look"
prep_min = 20
talent = "T1"
[place]
indoors = true
ambient_lux = 60.0
tilt_limit_deg = 10.0
reach_m = 1.9
"""
SETUP = """
title = "Setup {n}"
look = "look"
frames = 100
shoot_min = 5
[exposure]
f = {f}
shutter = "1/160"
iso = 100
[view]
lens = "85"
distance_m = {far}
height_m = 1.5
[subject]
face_height_m = 1.3
[background]
distance_m = 2.0
"""
LIGHT = """
[[light]]
head = "H{head}"
role = "{role}"
stand = "S{stand}"
modifier = "M{modifier}"
power = "1/{power}"
side = "{side}"
angle_deg = {angle}
distance_m = {far}
height_m = {high}
bags = ["B{stand}"]
"""


def write_big_day(folder: Path, setups: int = 40, heads: int = 8) -> Path:
    """Write the day's files and give the folder back; most things change from setup to setup."""
    folder.mkdir(parents=True, exist_ok=True)
    kit = "".join(KIT.format(n=n) for n in range(heads)) + CAMERA
    (folder / "kit.toml").write_text(kit, "utf-8")
    order = ", ".join(f'"s{n:03}"' for n in range(setups))
    (folder / "day.toml").write_text(DAY.format(order=order), "utf-8")
    for n in range(setups):
        head = SETUP.format(n=n, f=(4.0, 5.6, 8.0)[n % 3], far=2.5 + n % 5 / 10)
        lights = (_light(n, each, heads) for each in range(heads))
        (folder / f"s{n:03}.toml").write_text(head + "".join(lights), "utf-8")
    return folder


def _light(n: int, head: int, heads: int) -> str:
    return LIGHT.format(
        head=head,
        role="key" if head == 0 else "rim",
        stand=(head + n // 4) % heads,
        modifier=(head + n // 2) % heads,
        power=2 ** ((n + head) % 7),
        side="left" if (n + head) % 2 else "right",
        angle=20 + 15 * head,
        far=1.6 + (n * 3 + head) % 7 / 10,
        high=1.4 + (n + head) % 6 / 5,
    )


if __name__ == "__main__":
    where, *sizes = sys.argv[1:]
    print(write_big_day(Path(where), *map(int, sizes)))
