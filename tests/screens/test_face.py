import threading
from dataclasses import replace
from typing import Any

import pytest
from textual.app import App, ComposeResult
from textual.pilot import Pilot
from textual.theme import Theme

from runbook.light.prediction import LitSetup, predict
from runbook.screens import face as face_screen
from runbook.screens.face import TINT, FaceJob, FacePicture
from runbook.screens.text import ASCII, UNICODE, Glyphs
from tests.day.days import demo
from tests.screens.screen_text import screen_lines


def lit(name: str, f: float | None = None) -> LitSetup:
    plan = demo()
    setup = plan.setups[name]
    if f is not None:
        setup = replace(setup, exposure=replace(setup.exposure, f=f))
    return LitSetup(plan.kit, setup, predict(plan, setup))


class FaceApp(App[None]):
    """Nothing but the face."""

    def __init__(self, glyphs: Glyphs = UNICODE) -> None:
        super().__init__()
        self.picture = FacePicture(glyphs)

    def compose(self) -> ComposeResult:
        yield self.picture

    @property
    def lines(self) -> list[str]:
        return screen_lines(self)

    def colour_at(self, x: int, y: int) -> tuple[int, int, int]:
        """The colour of a cell's upper half."""
        (cell,) = self.picture.render_line(y).crop(x, x + 1)
        colour = (cell.style and (cell.style.bgcolor if cell.text == " " else cell.style.color)) or None
        assert colour is not None and colour.triplet is not None
        return tuple(colour.triplet)

    def brightest(self, left: int, right: int) -> int:
        return max(max(self.colour_at(x, y)) for y in range(2, 20) for x in range(left, right, 2))


@pytest.fixture(autouse=True)
def _full_colour(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("textual.constants.COLOR_SYSTEM", "truecolor")
    monkeypatch.setattr("runbook.screens.face._REST_S", 0.001)
    monkeypatch.delenv("NO_COLOR", raising=False)


async def drawn(app: FaceApp, pilot: Pilot[Any]) -> None:
    await pilot.pause(0.01)  # a picture begins with a timer
    await app.workers.wait_for_complete()
    await pilot.pause()


async def test_face_is_drawn_with_its_caption_and_nothing_without_light() -> None:
    app = FaceApp()
    async with app.run_test(size=(48, 28)) as pilot:
        app.picture.show(lit("keeper-window"))
        await drawn(app, pilot)
        assert "▀" in "".join(app.lines[:27]) and app.lines[27].strip().startswith("loop, key to fill ")
        assert 100 < app.brightest(10, 40) < 170
        app.picture.show(None)
        await pilot.pause()
        assert not any(app.lines)


async def test_new_size_is_drawn_anew() -> None:
    app = FaceApp()
    async with app.run_test(size=(48, 28)) as pilot:
        app.picture.show(lit("captain-deck"))
        await drawn(app, pilot)
        await pilot.resize_terminal(24, 12)
        await drawn(app, pilot)
        assert app.lines[11].strip() == "butterfly" and "▀" in "".join(app.lines[:11])
        await pilot.resize_terminal(1, 1)
        await drawn(app, pilot)


async def test_before_and_after_stand_side_by_side() -> None:
    app = FaceApp()
    async with app.run_test(size=(61, 24)) as pilot:
        app.picture.show_pair(lit("keeper-window"), lit("keeper-window", f=11.0))
        await drawn(app, pilot)
        assert app.lines[0].split() == ["before", "after"] and app.lines[0].index("after") > 30
        assert app.brightest(0, 30) > app.brightest(31, 60) + 40
        app.picture.show(lit("keeper-window"))
        await drawn(app, pilot)
        assert "before" not in app.lines[0]


async def test_last_picture_stays_until_the_new_one_is_there(monkeypatch: pytest.MonkeyPatch) -> None:
    app, go, made = FaceApp(), threading.Event(), []
    whole = FaceJob.strips

    def slow(job: FaceJob) -> Any:
        made.append(job.panes[0][1].light.aperture_stops)
        if len(made) > 1:
            assert go.wait(5)
        return whole(job)

    monkeypatch.setattr(FaceJob, "strips", slow)
    async with app.run_test(size=(48, 28)) as pilot:
        app.picture.show(lit("keeper-window"))
        await drawn(app, pilot)
        first = app.brightest(10, 40)
        for f in (5.6, 8.0, 11.0, 16.0):
            app.picture.show(lit("keeper-window", f))
            await pilot.pause()
        assert app.brightest(10, 40) == first
        go.set()
        await drawn(app, pilot)
        await drawn(app, pilot)
        assert app.brightest(10, 40) < first
        assert made == [4.0, 5.0, 8.0]  # what was wanted between is never drawn


async def test_picture_that_cannot_be_made_does_not_end_the_day(monkeypatch: pytest.MonkeyPatch) -> None:
    def broken(*_: object) -> None:
        raise ValueError("no such place")

    monkeypatch.setattr(face_screen, "_face", broken)
    app = FaceApp()
    async with app.run_test(size=(48, 28)) as pilot:
        app.picture.show(lit("keeper-window"))
        await drawn(app, pilot)
        assert app.lines[0] == "no picture: no such place"


async def test_theme_tints_the_face() -> None:
    app = FaceApp()
    async with app.run_test(size=(48, 28)) as pilot:
        app.picture.show(lit("captain-deck"))
        await drawn(app, pilot)
        app.register_theme(Theme("red", "#a03020", background="#000000", variables={TINT: "#a03020"}))
        app.theme = "red"
        await pilot.pause()
        await drawn(app, pilot)
        red, green, blue = app.colour_at(24, 6)
        assert red > 2 * green > 0 and red > 2 * blue and red < 160


@pytest.mark.parametrize(("system", "tint", "signs"), [
    ("standard", "#d8d8d8", "░▒▓"), ("256", "#a03020", "░▒▓"), ("256", "#d8d8d8", "▀"),
    ("truecolor", "#a03020", "▀"), ("none", "#d8d8d8", "░▒▓"), ("ascii", "#d8d8d8", "*"),
])  # fmt: skip
async def test_few_colours_or_plain_signs_show_shades(monkeypatch, system, tint, signs):
    if system == "none":
        monkeypatch.setenv("NO_COLOR", "1")
    elif system != "ascii":
        monkeypatch.setattr("textual.constants.COLOR_SYSTEM", system)
    app = FaceApp(ASCII if system == "ascii" else UNICODE)
    app.register_theme(Theme("tinted", "#a03020", variables={TINT: tint}))
    app.theme = "tinted"
    async with app.run_test(size=(48, 28)) as pilot:
        app.picture.show(lit("captain-deck"))
        await drawn(app, pilot)
        text = "".join(app.lines)
        assert set(signs) <= set(text) and ("▀" in signs or "▀" not in text)
        assert text.isascii() or system != "ascii"
