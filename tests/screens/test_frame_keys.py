"""The camera's frames on the screens: what stays until it is dealt with, the select beside the face, and the menu."""

from collections.abc import Iterator
from typing import Any

import pytest
from PIL.TiffImagePlugin import IFDRational

from runbook.files.watch import FolderWatch
from runbook.screens.face import FacePicture
from tests.day.days import FIRST, SECOND
from tests.day.test_frame_actions import Cart, kept
from tests.screens.screen_text import app_of, line_with, paint, press, shown, until

__all__ = ["kept"]
ISO_400: dict[str, Any] = {"t8827": 400}


@pytest.fixture
def cart(kept: Cart, monkeypatch: pytest.MonkeyPatch) -> Iterator[Cart]:
    """A day on disk whose frames arrive."""
    monkeypatch.setattr("textual.constants.COLOR_SYSTEM", "truecolor")
    monkeypatch.delenv("NO_COLOR", raising=False)
    kept.session.pictures = kept.actions
    kept.actions.watched = FolderWatch(kept.folder)
    yield kept


def setup_iso(cart: Cart) -> float:
    assert cart.session.view.setup is not None
    return cart.session.view.setup.exposure.iso


async def test_what_differs_stays_in_view_on_every_screen(cart: Cart) -> None:
    async with app_of(cart.session).run_test(size=(80, 24)) as pilot:
        assert "FRAMES" not in shown(pilot)
        cart.shoot("1.jpg", **ISO_400)
        cart.shoot("2.jpg")
        for key, counted in (("h", "2 of 120 frames"), ("s", "frames 2/120"), ("z", "")):
            await press(pilot, key)
            assert "ISO 400, set 100: 1 frame, not the last (set: o)" in line_with(pilot, "FRAMES")
            assert counted in shown(pilot)


async def test_o_takes_what_the_camera_says_as_shot(cart: Cart) -> None:
    cart.shoot("1.jpg", **ISO_400)
    async with app_of(cart.session).run_test(size=(80, 24)) as pilot:
        await press(pilot, "o", "t")
        assert setup_iso(cart) == 400
        assert "FRAMES" not in shown(pilot)
        await press(pilot, "o")
        assert "as shot:" in line_with(pilot, "Change")  # nothing differs: straight to any other value


async def test_o_dismisses_what_was_set_right_and_offers_any_other_value(cart: Cart) -> None:
    cart.shoot("1.jpg", t829A=IFDRational(1, 320))
    async with app_of(cart.session).run_test(size=(80, 24)) as pilot:
        await press(pilot, "o")
        assert "over the sync" in line_with(pilot, "Frames differ")
        assert "as shot" not in shown(pilot)  # a shutter over sync is never taken
        await press(pilot, "o", *"iso 200\n")
        assert (setup_iso(cart), "FRAMES" in shown(pilot)) == (200, True)
        await press(pilot, "o", "d")
        assert (setup_iso(cart), "FRAMES" in shown(pilot)) == (200, False)


async def test_the_select_is_shown_beside_the_prediction(cart: Cart) -> None:
    cart.shoot("1.jpg", "2.jpg", size=(64, 48))
    async with app_of(cart.session).run_test(size=(140, 45)) as pilot:
        face = pilot.app.screen.query_one(FacePicture)
        assert "before: select" not in shown(pilot)
        await press(pilot, "S")
        await until(pilot, lambda: "before: select" in shown(pilot))
        assert "now: prediction" in line_with(pilot, "before: select")
        (mid,) = face.render_line(face.size.height // 2).crop(8, 9)
        assert mid.style is not None and mid.style.bgcolor is not None and mid.style.bgcolor.triplet is not None
        red, green, blue = mid.style.bgcolor.triplet
        assert red == green == blue > 60  # one grey, as 2.jpg is
        await press(pilot, "T", "T")
        await until(pilot, lambda: face.render_line(face.size.height // 2) and _reddish(face))
        cart.session.begin(SECOND)
        await paint(pilot)
        await until(pilot, lambda: "before: select" not in shown(pilot))
        await press(pilot, "left_square_bracket")
        await until(pilot, lambda: "before: select" in shown(pilot))
    assert cart.session.state.selects[FIRST].frame == cart.session.view.frames.of(FIRST)[1].n


def _reddish(face: FacePicture) -> bool:
    (cell,) = face.render_line(face.size.height // 2).crop(8, 9)
    colour = cell.style and cell.style.bgcolor and cell.style.bgcolor.triplet
    return colour is not None and colour[0] > 2 * colour[1] > 0


async def test_few_colours_say_the_select_in_words(cart: Cart, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("textual.constants.COLOR_SYSTEM", "standard")
    cart.shoot("1.jpg")
    cart.select()
    async with app_of(cart.session).run_test(size=(140, 45)) as pilot:
        await until(pilot, lambda: "too few" in shown(pilot))
        assert "before: select" in shown(pilot) and "▀" not in shown(pilot)


async def test_the_next_shooter_sees_the_select_without_any_folder(cart: Cart) -> None:
    cart.shoot("1.jpg")
    cart.select()
    cart.session.pictures = None
    async with app_of(cart.session).run_test(size=(140, 45)) as pilot:
        await press(pilot, "y")
        await paint(pilot)  # the pilot lays a screen out before its parts know their size; a terminal does not
        await until(pilot, lambda: "now: prediction" in shown(pilot))
        assert "match by eye" in shown(pilot)
        await press(pilot, "s", "S")
        assert "not watched" in shown(pilot)
        await until(pilot, lambda: "before: select" in shown(pilot))


async def test_the_menu_places_frames_sets_a_clock_and_changes_the_select(cart: Cart) -> None:
    cart.shoot("0.jpg", ahead_s=-7200)
    cart.shoot("1.jpg", "2.jpg")
    async with app_of(cart.session).run_test(size=(80, 24)) as pilot:
        assert f"watching {cart.folder.name}: 3, 1 in no setup (F)" in line_with(pilot, "steps")
        await press(pilot, "F")
        assert "3 arrived, 1 of them in no setup; last: 2.jpg" in " ".join(shown(pilot).split())
        await press(pilot, "2", "1", "2")
        assert cart.counts == {FIRST: 2, SECOND: 1}
        await press(pilot, "F", "2", "1", "1")  # from the last on
        assert cart.counts == {FIRST: 2, SECOND: 1}
        await press(pilot, "F", "1", "2")
        assert cart.session.state.selects[FIRST].frame == cart.session.view.frames.of(FIRST)[0].n
        await press(pilot, "F", "3", *"-7200\n")
        assert cart.session.view.frames.clocks["Maker M1"].set_s == -7200
        await press(pilot, "F", "3", "\n")
        assert cart.session.view.frames.clocks["Maker M1"].set_s is None


async def test_two_frames_are_compared_and_the_room_light_is_kept(cart: Cart) -> None:
    cart.session.begin(SECOND)
    cart.shoot("flash.jpg", code=118, size=(160, 160))
    async with app_of(cart.session).run_test(size=(80, 24)) as pilot:
        await press(pilot, "F", "4")
        await until(pilot, lambda: "only one frame" in shown(pilot))
        cart.shoot("room.jpg", code=17, size=(160, 160))
        await press(pilot, "F", "4")
        await until(pilot, lambda: "leave day.toml unchanged" in shown(pilot))
        assert "about 5.0 stops under" in " ".join(shown(pilot).split())
        await press(pilot, "y")
        assert "ambient_lux" in shown(pilot)
    assert "ambient_lux" in (cart.session.folder / "day.toml").read_text("utf-8")  # type: ignore[operator]


async def test_a_folder_that_is_gone_stays_in_view(cart: Cart) -> None:
    watched = cart.actions.watched = FolderWatch(cart.folder / "card")
    async with app_of(cart.session).run_test(size=(80, 24)) as pilot:
        watched.look(cart.clock())
        await paint(pilot)
        assert "frames are not counted" in line_with(pilot, "FRAMES")
        watched.folder.mkdir(parents=True)
        watched.look(cart.clock())
        assert "FRAMES" not in await paint(pilot)
