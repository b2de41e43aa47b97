"""Frames of a day as a camera would write them: the face in each setup's light, with EXIF.

By hand: ``python -m tests.demo_frames DAY FOLDER`` writes eight of each setup, taken as the day is planned, with a raw
file beside each second one. ``python -m tests.demo_frames DAY FOLDER SETUP`` goes on writing one of a setup every three
seconds, as a tethered camera does; every tenth is shot at another ISO. Ctrl-C ends it.
"""

import datetime as dt
import sys
from collections.abc import Iterator
from io import BytesIO
from itertools import count
from pathlib import Path
from time import sleep

from PIL import Image
from PIL.TiffImagePlugin import IFDRational

from runbook.day.changeovers import Changeovers
from runbook.day.load_plan import read_day
from runbook.day.planned_times import planned_times
from runbook.drawing.face_drawing import face_png
from runbook.light.face import render_face
from runbook.light.prediction import LitSetup, predict
from runbook.model.day import Plan
from runbook.model.nominal_values import shutter_stops
from runbook.model.setup import Setup
from tests.pictures import tags

EACH = 8
EVERY_S = 3.0
ODD = 10  # one of so many is not shot as set


def face_of(plan: Plan, setup: Setup, wide_px: int = 480) -> Image.Image:
    """The face as the setup lights it, as a camera in portrait would frame it."""
    face = render_face(LitSetup(plan.kit, setup, predict(plan, setup)), wide_px // 2, wide_px * 3 // 4)
    return Image.open(BytesIO(face_png(face, wide_px))).convert("RGBA")


def shoot(stem: Path, plan: Plan, setup: Setup, face: Image.Image, *, taken: dt.datetime, n: int) -> None:
    """Write one frame, shot as set but for one in ten; a raw file beside each second one."""
    seconds = 2 ** -shutter_stops(setup.exposure.shutter)
    exif = tags(
        taken,
        t829A=IFDRational(1, round(1 / seconds)),
        t829D=IFDRational(round(10 * setup.exposure.f), 10),
        t8827=round(setup.exposure.iso) * (4 if n % ODD == ODD - 1 else 1),
        t920A=IFDRational(round(plan.kit.lens[setup.view.lens].focal_mm)),
    )
    picture = Image.new("RGB", face.size, (70, 70, 70))
    picture.paste(face, ((n % 5) - 2, n % 3), face)
    stem.parent.mkdir(parents=True, exist_ok=True)
    jpeg = stem.with_suffix(".JPG")
    picture.save(jpeg, quality=90, exif=exif)
    if n % 2:
        stem.with_suffix(".DNG").write_bytes(exif.tobytes()[6:] + jpeg.read_bytes())


def shoot_day(plan: Plan, folder: Path, wide_px: int = 480) -> Iterator[str]:
    """Write frames of every setup, taken as the day is planned; yield their names."""
    times, numbers = planned_times(Changeovers(plan), dt.UTC), count(1)
    for setup, slot in zip(plan.order, times.run.slots, strict=True):
        face = face_of(plan, setup, wide_px)
        for n in range(EACH):
            seconds = slot.shoot_at_s + (slot.end_s - slot.shoot_at_s) * (n + 0.5) / EACH
            taken = dt.datetime.combine(plan.day.date, dt.time()) + dt.timedelta(seconds=seconds)
            name = f"DEMO{next(numbers):04}"
            shoot(folder / name, plan, setup, face, taken=taken, n=n)
            yield name


def main(day: Path, folder: Path, *setups: str) -> None:
    """Write the frames of a day, or go on with those of one setup."""
    plan = read_day(day)
    for name in () if setups else shoot_day(plan, folder):
        print(folder / name)
    for setup in (plan.setups[setup_id] for setup_id in setups):
        face = face_of(plan, setup)
        for n in count():
            now = dt.datetime.now()
            shoot(folder / f"{now:%H%M%S}", plan, setup, face, taken=now, n=n)
            sleep(EVERY_S)


if __name__ == "__main__":
    main(Path(sys.argv[1]), Path(sys.argv[2]), *sys.argv[3:])
