"""A first day's folder: a small kit, the hours, and two setups, all to be written over."""

from __future__ import annotations

import datetime as dt
import os
import shutil
import tempfile
from pathlib import Path
from typing import Final

from runbook.plan.faults import Fault, Unreadable
from runbook.plan.source import shown_path

_ASIDE: Final = ".new-"  # how the name of a folder begins in which files are written first

_KIT: Final = """\
# Everything in the cases. An id is the label taped on the thing. Masses: weigh them.
# Lengths in metres, masses in kilograms, times in seconds, light in stops.

[[head]]
id = "A"
name = "200 Ws battery head"
energy_ws = 200
guide_number_m = 52.0       # at ISO 100, full power, in its standard reflector
power_min = "1/128"
power_step = "1/3"          # one click of the dial: "1/3" or "1/10" of a stop
mass_kg = 2.0
recycle_full_s = 1.8
recycle_min_s = 0.1
flashes_full = 450          # full flashes on one charge; leave it out for a mains head

[[head]]
id = "B"
name = "200 Ws battery head"
energy_ws = 200
guide_number_m = 52.0
power_min = "1/128"
power_step = "1/3"
mass_kg = 2.0
recycle_full_s = 1.8
recycle_min_s = 0.1
flashes_full = 450

[[modifier]]                # a head with nothing on it has the modifier "bare"
id = "octa"
name = "90 cm octabox"
shape = "round"             # "round", "rectangle" or "bare"
width_m = 0.90
height_m = 0.90
depth_m = 0.45
mass_kg = 1.3
loss_stops = 2.0            # below the guide number, metered on axis ...
loss_at_m = 2.0             # ... at this distance
spread_deg = 150            # the full angle; at half of it a tenth of the light is left

[[modifier]]
id = "strip"
name = "30 x 120 strip box"
shape = "rectangle"
width_m = 0.30
height_m = 1.20
depth_m = 0.35
mass_kg = 1.1
loss_stops = 2.2
loss_at_m = 2.0
spread_deg = 140

[[accessory]]
id = "grid-strip"
kind = "grid"               # "grid", "gel", "diffuser", "barn-doors", "gobo" or "snoot"
fits = ["strip"]
mass_kg = 0.3
loss_stops = 0.7
spread_deg = 50

[[stand]]
id = "S1"
foot_radius_m = 0.52        # from the column to a foot
mass_kg = 3.1
load_max_kg = 9.0
height_min_m = 1.05
height_max_m = 2.80

[[stand]]
id = "S2"
foot_radius_m = 0.52
mass_kg = 3.1
load_max_kg = 9.0
height_min_m = 1.05
height_max_m = 2.80

[[panel]]
id = "flat"
name = "V-flat, white side"
width_m = 1.2
height_m = 2.4
reflectance = 0.85          # 0 is a flag
mass_kg = 9.0
foot_radius_m = 0.25        # how far its feet reach in front and behind

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
sensor_mm = [36.0, 24.0]
sync = "1/200"              # the shortest time flash allows
iso_min = 100

# Your own meter beats the guide number. Uncomment, and write what it showed:
# [[measured]]
# head = "A"
# modifier = "octa"
# power = "1/4"
# distance_m = 1.5
# reads_f = 5.6
"""

_DAY: Final = """\
name = "{name}"
date = {date}
call = 09:00:00
wrap = 17:00:00             # of the same day
order = ["one", "two"]      # the setups as they are to be shot; each is a file of that name
units = "metric"            # or "imperial": what the screens show; the files stay metric

[[crew]]
id = "photo"
name = "Photographer"

[[crew]]
id = "first"
name = "First assistant"

[[look]]
id = "look"
name = "Hair, make-up, wardrobe"
prep_min = 0
talent = "T1"               # who is in the chair cannot be on the set

[[break]]
id = "meal"
minutes = 45
earliest = 12:00:00
latest = 13:30:00

[place]
indoors = true
ambient_lux = 60.0          # the room's own light at the subject
tilt_limit_deg = 10.0       # how far a stand must lean before it goes
reach_m = 1.9               # what a standing person reaches

# [rate]
# day = 1800.0
# overtime_per_hour = 320.0
# currency = "EUR"
"""

_ONE: Final = """\
# One lighting setup. The file's name is its id: one.
title = "A key and a white flat"
look = "look"
frames = 100
shoot_min = 25

[exposure]
f = 5.6
shutter = "1/160"
iso = 100

[view]
lens = "85"
distance_m = 2.6            # lens to face
height_m = 1.5
orientation = "portrait"    # or "landscape"

[subject]
face_height_m = 1.25
facing_side = "left"        # camera-left or camera-right, by so many degrees off the camera
facing_deg = 10.0

[background]
distance_m = 2.4            # behind the face

# Things are placed round the face: 0 degrees at the camera, 90 side-on, 180 behind. The distance
# is the tape, straight from the face.
[[light]]
head = "A"
role = "key"                # "key", "fill", "rim", "hair", "background" or "effect"
stand = "S1"
modifier = "octa"
power = "1/16+0.7"          # as the dial says it: "full", "1/8", "1/8+0.3", "off"
aim_reading_f = 5.6         # what the meter should show; or: under_key_stops
side = "left"
angle_deg = 45
distance_m = 1.4            # to the front of the modifier
height_m = 1.85             # to the middle of it
bags = ["B1"]

[[place_panel]]
panel = "flat"
side = "right"
angle_deg = 90
distance_m = 1.2            # to the middle of the panel
height_m = 1.2
face_to = "face"
bags = ["B3"]
"""

_TWO: Final = """\
# Starts from setup one; only what changes is written here.
title = "The flat goes, a rim comes"
like = "one"
drop = ["flat"]
frames = 80
shoot_min = 20

[[light]]
head = "B"
role = "rim"
stand = "S2"
modifier = "strip"
accessories = ["grid-strip"]
power = "1/4"
side = "right"
angle_deg = 140
distance_m = 1.9
height_m = 1.85
bags = ["B2"]
"""


def start_day(folder: Path, date: dt.date) -> list[Path]:
    """Write a day that ``runbook check`` finds fine into a new or empty folder.

    Returns the files written. A kill leaves a folder that can be written again, or a whole day.
    Raises Unreadable, with nothing left behind, when the folder holds something already or cannot
    be written.
    """
    name = "".join(c for c in folder.absolute().name if c.isprintable() and c not in '"\\')
    texts = {
        "kit.toml": _KIT,
        "one.toml": _ONE,
        "two.toml": _TWO,
        "day.toml": _DAY.format(name=name or "A day", date=date.isoformat()),
    }
    try:
        fresh = not folder.exists()
        if not fresh and any(not _is_leftover(path, texts) for path in folder.iterdir()):
            raise Unreadable(
                [Fault(shown_path(folder), None, "", "is not empty", "name a new one")]
            )
        folder.mkdir(parents=True, exist_ok=True)
        for left in folder.glob(f"{_ASIDE}*"):
            shutil.rmtree(left)
        return _write(folder, texts, fresh)
    except (OSError, ValueError) as problem:
        raise _unwritable(folder, problem) from None


def _is_leftover(path: Path, texts: dict[str, str]) -> bool:
    """Whether a file or folder is what a killed ``start_day`` left: day.toml is written last."""
    if path.name.startswith(_ASIDE) and path.is_dir():
        return all(each.name in texts for each in path.iterdir())
    if path.name not in texts or path.name == "day.toml":
        return False
    return path.is_file() and path.read_bytes() == texts[path.name].encode()


def _write(folder: Path, texts: dict[str, str], fresh: bool) -> list[Path]:
    """Write everything beside, then move it into place; take all of it away if one fails."""
    moved: list[Path] = []
    aside = Path(tempfile.mkdtemp(prefix=_ASIDE, dir=folder))
    try:
        for name, text in texts.items():
            (aside / name).write_text(text, encoding="utf-8", newline="\n")
        for name in texts:
            os.replace(aside / name, folder / name)  # noqa: PTH105 (as one step, on any system)
            moved.append(folder / name)
    except BaseException:
        for path in (*moved, *aside.iterdir()):
            path.unlink()
        aside.rmdir()
        if fresh:
            folder.rmdir()
        raise
    aside.rmdir()
    return moved


def _unwritable(folder: Path, problem: Exception) -> Unreadable:
    """Why a day cannot be written: told of the last folder on the way to it that is there."""
    way = (folder.absolute(), *folder.absolute().parents)
    there = next(path for path in way if os.path.lexists(path))
    elsewhere = "name a folder that can be made"
    if not there.exists():
        what, do = "points at a folder that is not there", f"mend the link, or {elsewhere}"
    elif not there.is_dir():
        what, do = "is no folder", elsewhere
    elif isinstance(problem, PermissionError):
        what, do = "may not be written", "ask for the right to write there"
    elif isinstance(problem, FileNotFoundError):  # a folder that takes no other, as /proc
        what, do = "cannot be written: it takes no new folder", elsewhere
    else:
        reason = problem.strerror if isinstance(problem, OSError) else None
        what, do = f"cannot be written: {reason or problem}".lower(), elsewhere
    return Unreadable([Fault(shown_path(there), None, "", what, do)])
