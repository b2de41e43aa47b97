"""A small right day on disk, and one change at a time to make it wrong."""

from __future__ import annotations

from pathlib import Path

from runbook.files.errors import Fault, Unreadable
from runbook.files.load import read_day

_HEAD = """\
[[head]]
id = "{id}"
energy_ws = 200
guide_number_m = 52.0
power_min = "1/128"
power_step = "{step}"
mass_kg = 2.0
recycle_full_s = 1.8
recycle_min_s = 0.1
flashes_full = 450
"""

KIT = (
    _HEAD.format(id="A", step="1/3")
    + _HEAD.format(id="B", step="1/3")
    + _HEAD.format(id="C", step="1/10")
    + """\
[[modifier]]
id = "octa"
shape = "round"
width_m = 0.9
height_m = 0.9
depth_m = 0.45
mass_kg = 1.3
[[modifier]]
id = "strip"
shape = "rectangle"
width_m = 0.3
height_m = 1.2
depth_m = 0.35
mass_kg = 1.1
[[accessory]]
id = "grid"
kind = "grid"
fits = ["octa"]
mass_kg = 0.4
[[accessory]]
id = "gel"
kind = "gel"
fits = ["bare", "strip", "octa"]
[[stand]]
id = "S1"
foot_radius_m = 0.52
mass_kg = 3.1
load_max_kg = 9.0
height_min_m = 1.05
height_max_m = 2.8
[[stand]]
id = "S2"
foot_radius_m = 0.52
mass_kg = 3.1
load_max_kg = 9.0
height_min_m = 1.05
height_max_m = 2.8
[[stand]]
id = "boom"
kind = "boom"
foot_radius_m = 0.6
mass_kg = 9.0
load_max_kg = 12.0
height_min_m = 1.2
height_max_m = 3.0
arm_m = 1.6
arm_back_m = 0.8
arm_mass_kg = 1.5
counterweight_kg = 6.0
[[panel]]
id = "flat"
width_m = 1.2
height_m = 2.4
reflectance = 0.85
mass_kg = 9.0
[[cloth]]
id = "voile"
loss_stops = 1.0
[[bag]]
id = "B1"
mass_kg = 7.0
[[bag]]
id = "B2"
mass_kg = 7.0
[[bag]]
id = "B3"
mass_kg = 7.0
[[lens]]
id = "85"
focal_mm = 85
f_min = 1.8
f_max = 16.0
[camera]
sync = "1/200"
iso_min = 100
[[measured]]
head = "A"
modifier = "octa"
accessories = ["grid"]
power = "1/4"
distance_m = 1.5
reads_f = 5.6
"""
)

DAY = """\
name = "A day"
date = 2026-12-04
call = 08:00:00
wrap = 18:00:00
order = ["window", "lamp"]
[[crew]]
id = "photo"
[[crew]]
id = "first"
[[look]]
id = "keeper"
prep_min = 50
talent = "T1"
[[break]]
id = "meal"
minutes = 45
earliest = 12:00:00
latest = 13:30:00
[place]
reach_m = 1.9
"""

WINDOW = """\
title = "At the window"
look = "keeper"
frames = 120
shoot_min = 25
[exposure]
f = 4.0
shutter = "1/160"
iso = 100
[view]
lens = "85"
distance_m = 2.6
height_m = 1.5
[subject]
face_height_m = 1.25
looks_at = "A"
[background]
distance_m = 2.4
[[light]]
head = "A"
role = "key"
stand = "S1"
modifier = "octa"
accessories = ["grid"]
power = "1/8"
aim_reading_f = 4.0
side = "left"
angle_deg = 45
distance_m = 1.4
height_m = 1.85
through = ["voile"]
bags = ["B1"]
[[light]]
head = "B"
role = "background"
stand = "S2"
power = "1/8+0.3"
under_key_stops = 1.0
side = "right"
angle_deg = 130
distance_m = 2.0
height_m = 1.7
aim = "background"
bags = ["B2"]
[[place_panel]]
panel = "flat"
side = "right"
angle_deg = 80
distance_m = 0.8
height_m = 1.2
face_to = "A"
bags = ["B3"]
"""

LAMP = """\
title = "By the lamp"
like = "window"
drop = ["flat"]
[exposure]
f = 2.8
[[light]]
head = "A"
power = "1/32+0.7"
aim_reading_f = 2.8
[[light]]
head = "C"
role = "hair"
stand = "boom"
modifier = "strip"
power = "1/64+0.7"
side = "right"
angle_deg = 165
distance_m = 1.3
height_m = 2.4
"""

FILES = {"kit.toml": KIT, "day.toml": DAY, "window.toml": WINDOW, "lamp.toml": LAMP}


def write_day(folder: Path, **more: str) -> Path:
    """Write the right day; ``more`` adds setups by id."""
    folder.mkdir(exist_ok=True)
    for name, text in (FILES | {f"{name}.toml": text for name, text in more.items()}).items():
        (folder / name).write_text(text, encoding="utf-8")
    return folder


def change(folder: Path, file: str, old: str, new: str) -> int:
    """Write ``new`` in place of the one ``old`` of a file; the line where it begins."""
    path = folder / file
    text = path.read_text(encoding="utf-8")
    assert text.count(old) == 1, f"{old!r} is {text.count(old)} times in {file}"
    path.write_text(text.replace(old, new), encoding="utf-8")
    return text[: text.index(old)].count("\n") + 1


def faults_of(folder: Path) -> tuple[Fault, ...]:
    """What is wrong with a day; nothing when it can be read."""
    try:
        read_day(folder)
    except Unreadable as problem:
        return problem.faults
    return ()
