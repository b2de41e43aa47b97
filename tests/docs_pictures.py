"""The pictures of docs/screens, taken of the real screens through Chromium: ``python -m tests.docs_pictures``."""

import asyncio
import os
import shutil
import subprocess
import tempfile
from pathlib import Path

from PIL import Image

from runbook.day.actions import Session
from runbook.day.load_plan import read_day
from runbook.journal.journal import Journal
from runbook.screens.app import RunbookApp
from runbook.screens.text import UNICODE
from tests.day.days import DEMO, SetClock
from tests.screens.screen_text import settled
from tests.screens.test_set import mid_change

PICTURES = Path(__file__).parents[1] / "docs" / "screens"
SIZES = ((140, 45), (80, 24))
# a picture's name, and the keys that lead to what it shows
SCREENS = {
    "set": "", "power": "+++", "floor": "d", "face": "dd", "stands": "t", "hours": "h", "journal": "j",
    "handover": "y", "far": "z", "plan": "l\nA", "keys": "?", "lit-room": "T", "dim-red": "TT",
}  # fmt: skip


async def picture(folder: Path, name: str, keys: str, size: tuple[int, int]) -> Path:
    """Open the demo day in the middle of its second change, press keys, and save the screen as an SVG."""
    clock = SetClock()
    journal = Journal.open(folder / "journal.runlog", clock=clock, who="photo")
    session = Session(read_day(folder), journal, "photo", clock, folder)
    mid_change(session)
    session.work_out()
    app = RunbookApp(session, clock, UNICODE)
    async with app.run_test(size=size) as pilot:
        for key in keys:
            await pilot.press({"?": "question_mark", "+": "plus", "\n": "enter"}.get(key, key))
        await settled(pilot)
        await pilot.pause(8.0 if keys == "h" else 2.0)  # what is worked out in the background
        path = Path(app.save_screenshot(f"{name}-{size[0]}x{size[1]}.svg", str(folder.parent)))
    journal.close()
    return path


def as_png(svg: Path, size: tuple[int, int]) -> None:
    """Let Chromium paint an SVG, and keep it in few colours: it is text."""
    png = PICTURES / f"{svg.stem}.png"
    window = f"--window-size={int(size[0] * 12.2) + 20},{int(size[1] * 24.4) + 52}"
    command = ["chromium", "--headless", "--no-sandbox", "--disable-gpu", f"--screenshot={png}", window, svg.as_uri()]
    subprocess.run(command, check=True, capture_output=True)
    Image.open(png).convert("RGB").quantize(200).save(png, optimize=True)


def main() -> None:
    """Take every picture anew."""
    os.environ["COLORTERM"] = "truecolor"
    PICTURES.mkdir(exist_ok=True)
    for size in SIZES:
        for name, keys in SCREENS.items():
            with tempfile.TemporaryDirectory() as scratch:
                os.environ["XDG_CONFIG_HOME"] = scratch
                folder = Path(shutil.copytree(DEMO, Path(scratch) / "day"))
                as_png(asyncio.run(picture(folder, name, keys, size)), size)


if __name__ == "__main__":
    main()
