"""Frames taken in as they arrive: each once, in its setup; what a person does with them."""

import datetime as dt
from dataclasses import replace
from io import BytesIO
from pathlib import Path
from typing import Any

import pytest
from PIL import Image
from PIL.TiffImagePlugin import IFDRational

from runbook.day.actions import Session
from runbook.day.frame_actions import FrameActions, ambient_lux
from runbook.day.remaining_day import day_from_now
from runbook.files.load import day_bytes
from runbook.files.pictures import read_picture
from runbook.files.watch import Arrival
from runbook.journal.events import Frame, FrameFile
from runbook.journal.journal import Journal, journal_path
from runbook.light.stops import ambient_stops
from runbook.model.nominal_values import aperture_stops
from tests.day.days import FIRST, SECOND, SetClock, begun, demo, refused
from tests.pictures import write
from tests.played import copied


class Cart:
    """A day at work, and the folder its frames arrive in a second after they are taken."""

    def __init__(self, folder: Path, session: Session | None = None, clock: SetClock | None = None) -> None:
        self.clock = clock or SetClock(10)
        self.session = session or begun(clock=self.clock)
        self.folder = folder
        self.actions = FrameActions(self.session, folder)

    def arrival(self, name: str, *, delay_s: float | None = 1.0, ahead_s: float = 0.0, **tags: Any) -> Arrival:
        """A frame taken now, written to the folder."""
        now = self.clock()
        taken = (now + dt.timedelta(seconds=ahead_s)).replace(tzinfo=None)
        path = write(self.folder, name, tags.pop("taken", taken), **tags)
        seen = None if delay_s is None else now + dt.timedelta(seconds=delay_s)
        return Arrival(name, read_picture(path), now, seen)

    def shoot(self, *names: str, **more: Any) -> str:
        text = ""
        for name in names:
            text = self.actions.take([self.arrival(name, **more)])
            self.clock.move(0.25)
        return text

    def select(self, n: int | None = None) -> str:
        shot = self.actions.to_select(n)
        return self.actions.select(shot, self.actions.small_of(shot))

    @property
    def counts(self) -> dict[str, int]:
        return {setup: count for setup, count in self.session.state.frames.items() if count}


@pytest.fixture
def cart(tmp_path: Path) -> Cart:
    cart = Cart(tmp_path)
    cart.session.begin(FIRST)
    return cart


def of_kind(session: Session, kind: type) -> list[Any]:
    return [entry.data for entry in session.entries if isinstance(entry.data, kind)]


# -- counting ------------------------------------------------------------------------------------


def test_frames_count_in_the_setup_at_work_when_they_were_taken(cart: Cart) -> None:
    cart.shoot("1.jpg", "2.jpg")
    late = cart.arrival("3.jpg")
    cart.clock.move(1)
    cart.session.begin(SECOND)
    cart.actions.take([late])
    cart.shoot("4.jpg")
    assert cart.counts == {FIRST: 3, SECOND: 1}
    cart.session.frames(-1)
    assert cart.counts == {FIRST: 3}
    assert [line.frames for line in cart.session.view.setups[:2]] == [3, 0]


def test_a_raw_file_and_its_jpeg_are_one_frame_in_whatever_order_they_come(cart: Cart) -> None:
    both = [cart.arrival("raw/1.NEF"), cart.arrival("jpg/1.JPG")]
    cart.actions.take(both)
    cart.clock.move(1)
    second = cart.arrival("2.NEF")
    cart.actions.take([second])
    cart.actions.take([replace(cart.arrival("2.jpg"), picture=replace(second.picture, fingerprint="other"))])
    cart.clock.move(1)
    blank = cart.arrival("3.jpg", taken=None)
    cart.actions.take([blank, cart.arrival("3.dng")])
    assert cart.counts == {FIRST: 3}
    assert [(each.frame, each.name) for each in of_kind(cart.session, FrameFile)] == [
        (2, "jpg/1.JPG"), (4, "2.jpg"), (6, "3.dng"),
    ]  # fmt: skip


def test_no_file_counts_twice_renamed_moved_or_after_the_day_was_opened_again(cart: Cart) -> None:
    first = cart.arrival("1.jpg")
    cart.actions.take([first, first])
    cart.actions.take([replace(first, name="keep/other.jpg")])
    again = FrameActions(cart.session, cart.folder)
    again.take([replace(first, seen=None)])
    assert (cart.counts, len(of_kind(cart.session, Frame))) == ({FIRST: 1}, 1)
    assert of_kind(cart.session, FrameFile) == []


def test_what_was_counted_by_hand_is_not_counted_again_when_its_pictures_are_found(cart: Cart) -> None:
    taken = cart.clock().replace(tzinfo=None)
    cart.clock.move(1)
    cart.session.frames(3)

    def find(*names: str, minutes: float = 0.0) -> int:
        for n, name in enumerate(names):
            cart.shoot(name, delay_s=None, taken=taken + dt.timedelta(minutes=minutes, seconds=n))
        return cart.counts[FIRST]

    assert find("1.jpg", "2.jpg") == 3
    assert find("3.jpg", "4.jpg") == 4
    cart.session.frames(1)  # a correction, after the pictures
    assert cart.counts[FIRST] == 5
    assert find("after.jpg", minutes=30) == 6  # taken after the last count: not one of those
    numbers = [shot.n for shot in cart.session.view.frames.of(FIRST)]
    cart.actions.place(numbers[:2], SECOND)
    assert (cart.counts[FIRST], cart.counts[SECOND]) == (6, 2)
    cart.session.undo()
    assert cart.counts == {FIRST: 6}


def test_a_name_used_again_later_or_by_another_body_is_another_frame(cart: Cart) -> None:
    cart.shoot("1.jpg")
    cart.clock.move(5)
    cart.actions.take([cart.arrival("1.jpg", size=(32, 32)), cart.arrival("b/1.jpg", tA431="2")])
    assert cart.counts == {FIRST: 3}


def test_a_picture_without_a_time_counts_by_that_of_its_file_and_is_marked(cart: Cart) -> None:
    cart.shoot("1.jpg", taken=None)
    (frame,) = of_kind(cart.session, Frame)
    assert (frame.by_file, frame.delay_s, cart.counts) == (True, None, {FIRST: 1})


def test_the_first_frame_keeps_the_setup_as_it_is_shot(cart: Cart) -> None:
    cart.shoot("1.jpg", "2.jpg")
    first, second = of_kind(cart.session, Frame)
    assert first.stood is not None
    assert second.stood is None
    cart.session.change(cart.session.targets(None, "iso 200"))
    cart.shoot("3.jpg")
    assert cart.session.state.frozen[FIRST].stood.setup.exposure.iso == 200


def test_undo_and_redo_pass_over_frames(cart: Cart) -> None:
    cart.session.note("a word")
    cart.shoot("1.jpg")
    assert cart.session.undo() == "note: a word"
    cart.shoot("2.jpg")
    assert cart.session.redo() == "note: a word"
    assert cart.counts == {FIRST: 2}


def test_undoing_the_beginning_of_a_setup_gives_its_frames_back(cart: Cart) -> None:
    cart.shoot("1.jpg")
    cart.session.begin(SECOND)
    cart.shoot("2.jpg")
    assert cart.counts == {FIRST: 1, SECOND: 1}
    cart.session.undo()
    assert cart.counts == {FIRST: 2}


def test_the_log_has_frames_in_a_row_on_one_line(cart: Cart) -> None:
    cart.shoot("1.jpg", "2.jpg", "3.jpg")
    cart.session.note("a word")
    cart.shoot("4.jpg")
    texts = [line.text for line in cart.session.view.log_lines]
    assert texts[1:] == ["frames: 3, 1.jpg to 3.jpg", "note: a word", "frame: 4.jpg f/4, 1/160 s, ISO 100, 85 mm"]


def test_the_pace_of_the_frames_feeds_the_forecast(cart: Cart) -> None:
    """Half the frames in twice the time planned for them: the rest takes longer than planned, but not twice as long."""
    while (line := cart.session.view.next_step) is not None:
        cart.session.skip_step(line.step, "stands")
    setup = cart.session.plan.setups[FIRST]
    cart.clock.move(setup.shoot_min)
    cart.session.frames(setup.frames // 2 - 1)
    planned_s = 60 * setup.shoot_min / 2

    def shoot_left_s() -> float:
        return day_from_now(cart.session.moment, cart.session.changes).setups[0].shoot.scale

    assert shoot_left_s() == pytest.approx(planned_s + 60 * setup.shoot_min / setup.frames)
    cart.shoot("1.jpg")
    assert 1.3 * planned_s < shoot_left_s() < 1.5 * planned_s


# -- placing -------------------------------------------------------------------------------------


def test_frames_of_before_and_of_a_break_are_in_no_setup_until_they_are_put_there(cart: Cart) -> None:
    cart.actions.take([cart.arrival("0.jpg", delay_s=None, ahead_s=-3600)])
    cart.session.pause("meal")
    cart.shoot("1.jpg")
    cart.session.resume()
    view = cart.session.view.frames
    assert [shot.frame.name for shot in view.unplaced] == ["0.jpg", "1.jpg"]
    cart.actions.place([shot.n for shot in view.unplaced], SECOND)
    assert (cart.counts, cart.session.view.frames.unplaced) == ({SECOND: 2}, ())
    cart.actions.place([view.unplaced[0].n], None)
    assert cart.counts == {SECOND: 1}
    cart.session.undo()
    cart.session.undo()
    assert cart.counts == {}
    assert "no setup" in refused(cart.actions.place, [2], "nowhere")


def test_two_cameras_have_two_clocks_and_frames_move_once_those_are_known(cart: Cart) -> None:
    cart.clock.move(2)
    for n in range(4):
        cart.shoot(f"a{n}.jpg", ahead_s=-7200)
        cart.shoot(f"b{n}.jpg", ahead_s=3600, tA431="2")
        if n == 0:
            assert cart.counts == {FIRST: 1}  # one camera's clock is before the day began
    clocks = {camera: clock.ahead_s() for camera, clock in cart.session.view.frames.clocks.items()}
    assert clocks == {"Maker M1": -7201, "Maker M1 2": 3599}
    assert cart.counts == {FIRST: 8}
    cart.session.begin(SECOND)
    cart.actions.set_clock("Maker M1", 0.0)
    assert cart.counts == {FIRST: 4}
    cart.actions.set_clock("Maker M1", None)
    assert cart.counts == {FIRST: 8}
    assert "M9" in refused(cart.actions.set_clock, "M9", 1.0)
    assert cart.session.view.frames.clock_lines[0] == "Maker M1: clock 7201 s behind (from arrivals)"


# -- what differs --------------------------------------------------------------------------------


def test_what_differs_is_said_at_once_and_stays_until_it_is_dealt_with(cart: Cart) -> None:
    view = cart.session.view
    assert cart.shoot("1.jpg") == ""
    assert cart.shoot("2.jpg", t8827=400) == "2.jpg: ISO 400, set 100"
    cart.shoot("3.jpg", t8827=400)
    view = cart.session.view.frames
    assert [(one.difference.code, one.frames, one.still) for one in view.open_differences(FIRST)] == [("iso", 2, True)]
    cart.shoot("4.jpg")
    (one,) = cart.session.view.frames.open_differences(FIRST)
    assert (one.still, one.text) == (False, "ISO 400, set 100: 2 frames, not the last")
    cart.actions.dismiss()
    assert cart.session.view.frames.open_differences(FIRST) == ()
    assert [bool(shot.differs) for shot in cart.session.view.frames.of(FIRST)] == [False, True, True, False]


def test_what_the_camera_says_can_be_taken_as_shot(cart: Cart) -> None:
    five_six = {"t829D": IFDRational(56, 10), "t8827": 200, "t920A": IFDRational(50)}
    cart.shoot("1.jpg", **five_six)
    cart.actions.take_as_shot()
    setup = cart.session.view.setup
    assert setup is not None
    assert (setup.exposure.f, setup.exposure.iso, setup.view.lens) == (5.6, 200, "50")
    assert cart.session.view.frames.open_differences(FIRST) == ()
    assert cart.shoot("2.jpg", **five_six) == ""
    assert "the settings" in refused(cart.actions.take_as_shot)


def test_a_shutter_over_sync_is_not_taken_as_shot(cart: Cart) -> None:
    assert "1/320 s is over the sync 1/200" in cart.shoot("1.jpg", t829A=IFDRational(1, 320))
    assert "set the camera" in refused(cart.actions.take_as_shot)


def test_a_flash_that_did_not_fire_is_only_told_of_a_body_that_knows(cart: Cart) -> None:
    assert cart.shoot("1.jpg", t9209=0x10) == ""
    assert cart.shoot("2.jpg", t9209=0x0F) == ""
    assert cart.shoot("3.jpg", t9209=0x10) == "3.jpg: the flash did not fire"
    assert cart.shoot("4.jpg", t9209=0x10, tA431="another body") == ""


def test_nothing_is_done_with_frames_that_are_not_there(cart: Cart) -> None:
    for action in (cart.actions.dismiss, cart.actions.take_as_shot, cart.select):
        assert "no frame of keeper-window" in refused(action)
    assert "no frame" in refused(cart.actions.compare, "ambient")


# -- the select ----------------------------------------------------------------------------------


@pytest.fixture
def kept(tmp_path: Path) -> Cart:
    """A day on disk."""
    folder, clock = copied(tmp_path / "day"), SetClock(10)
    with Journal.open(journal_path(folder), clock=clock, who="photo") as journal:
        session = Session(demo(), journal, "photo", clock, folder)
        session.plan_files = day_bytes(folder)
        session.begin(FIRST)
        yield Cart(tmp_path / "frames", session, clock)


def test_a_select_keeps_a_small_picture_beside_the_journal(kept: Cart) -> None:
    kept.shoot("1.jpg", "2.jpg", size=(1600, 1000))
    assert kept.select().startswith("select of keeper-window: 2.jpg")
    records, view = kept.actions.records, kept.session.view.frames
    path = view.select_files(records)[FIRST]
    assert Image.open(BytesIO(path.read_bytes())).size == (640, 400)
    kept.select(view.of(FIRST)[0].n)
    assert kept.session.view.frames.select(FIRST) == kept.session.view.frames.of(FIRST)[0]
    kept.session.undo()
    assert kept.session.view.frames.select(FIRST) == view.of(FIRST)[1]
    assert kept.session.view.frames.select_files(records) == {FIRST: path}
    kept.session.undo()
    assert kept.session.view.frames.select_files(records) == {}


def test_the_select_of_a_raw_file_is_the_picture_of_its_jpeg(kept: Cart) -> None:
    kept.actions.take([kept.arrival("raw/1.NEF")])
    kept.actions.take([kept.arrival("jpg/1.JPG", size=(320, 200))])
    kept.select()
    (path,) = kept.session.view.frames.select_files(kept.actions.records).values()
    assert Image.open(path).size == (320, 200)


def test_a_frame_that_is_gone_or_in_no_setup_is_no_select(kept: Cart) -> None:
    kept.shoot("1.jpg")
    (kept.folder / "1.jpg").unlink()
    assert "no small picture of 1.jpg" in refused(kept.select)
    kept.actions.place([2], None)
    assert "no setup" in refused(kept.select, 2)
    assert "no folder" in refused(Cart(kept.folder).actions.__getattribute__, "records")


# -- light by camera -----------------------------------------------------------------------------


def test_an_ambient_test_is_told_beside_the_prediction_and_can_be_kept(kept: Cart) -> None:
    kept.session.begin(SECOND)
    kept.shoot("flash.jpg", code=118, size=(160, 160))
    kept.shoot("room.jpg", code=17, size=(160, 160))
    flash, room = kept.session.view.frames.of(SECOND)
    text = kept.actions.record(kept.actions.compare("ambient"))
    assert text.startswith(f"by camera, ambient light: entry {room.n} about")
    assert f"entry {flash.n}" in text
    # log2(lut[17] / lut[118]) = -5.014, and the room's light taken off the frame with flash
    assert "about 5.0 stops under" in text
    assert "may be a stop off" in text
    assert "predicted" in text
    words = kept.actions.keep_ambient()
    assert "ambient_lux" in words
    lux = kept.session.plan.day.place.ambient_lux
    assert ambient_stops(lux, "1/160", 100) == pytest.approx(aperture_stops(4) - 4.97, abs=0.1)


def test_a_grey_card_in_two_frames_gives_the_stops_between(kept: Cart) -> None:
    kept.shoot("a.jpg", code=118, size=(160, 160))
    kept.shoot("b.jpg", code=100, size=(160, 160))
    text = kept.actions.record(kept.actions.compare("grey card"))
    assert "grey card: entry 3 about 0.5 stops under entry 2" in text
    kept.shoot("c.jpg", code=40, size=(160, 160))
    assert "too far for a camera" in refused(kept.actions.compare, "grey card")
    kept.shoot("d.jpg", code=60, t8827=200)
    assert "differ in ISO" in refused(kept.actions.compare, "grey card")


def test_the_room_light_of_a_frame_that_says_nothing_is_not_known() -> None:
    frame = Frame(name="a", bytes=1, fingerprint="", taken="2026-12-04T10:00:00+01:00", f=4.0, iso=100.0)
    assert "how it was exposed" in refused(ambient_lux, frame, -5.0)
    # 250 lux at ISO 100 for 1 s is f/1 by N² = t · ISO · E / 250, times 100 / 250 ... (ISO 2720)
    assert ambient_lux(replace(frame, f=1.0, shutter_s=1.0), 0.0) == pytest.approx(2.5)
