"""The wrap's line that every frame is in two copies."""

from pathlib import Path

import pytest

from runbook.changeover.checklist import CHECKS
from runbook.day.actions import Session
from runbook.day.copies import files_of, save_report
from runbook.day.gates import FRAMES_COPIED as CHECK
from runbook.files.copies import Copy
from runbook.journal.events import CheckTicked, Frame, FrameFile
from runbook.journal.journal import Journal, journal_path
from tests.day.days import FIRST, SetClock, demo, refused

FRAMES = [
    Frame("1.jpg", 10, "one", "2026-12-04T10:00:00+01:00"),
    Frame("2.jpg", 10, "two", "2026-12-04T10:00:01+01:00"),
]
LINE = next(check for check in CHECKS if check.id == CHECK)


@pytest.fixture
def day(tmp_path: Path) -> Session:
    clock = SetClock(10)
    session = Session(demo(), Journal.open(journal_path(tmp_path), clock=clock, who="photo"), "photo", clock)
    session.begin(FIRST)
    return session


def report(session: Session, *lacking: str) -> None:
    """Two copies were compared, and the second lacks these files."""
    wanted = files_of(session.counted)
    copies = [Copy(Path(name), frozenset(wanted) - {*lacking[: 9 * n]}, (), ()) for n, name in enumerate("AB")]
    assert session.journal.path is not None
    save_report(session.journal.path.parent, copies, wanted.values(), "2026-12-04T19:00+01:00")


def test_the_line_is_asked_where_frames_came_in_and_can_be_set_aside_with_a_reason(day: Session) -> None:
    day.begin(None)
    assert CHECK not in {check.id for check, _ in day.view.checks}
    day._write(*FRAMES)
    assert CHECK in {check.id for check, _ in day.view.checks}
    day.set_check_aside(LINE, "the second disk is on its way")
    assert dict(day.view.checks)[LINE] is not None


def test_it_cannot_be_ticked_before_every_file_of_every_frame_was_found_twice(day: Session) -> None:
    day._write(*FRAMES)
    assert "--copies" in refused(day.tick_check, LINE)
    report(day, "2.jpg")
    assert "1 of 2 files" in refused(day.tick_check, LINE)
    report(day)
    day._write(FrameFile(2, "1.nef", 30, "raw"))  # which no copy was asked for
    assert "1.nef" in refused(day.tick_check, LINE)
    report(day)
    day.tick_check(LINE)
    (tick,) = (entry.data for entry in day.entries if isinstance(entry.data, CheckTicked))
    assert tick.answer == "3 files identical in A and B, 2026-12-04T19:00+01:00"


def test_another_picture_of_the_same_name_needs_another_proof(day: Session) -> None:
    day._write(*FRAMES)
    report(day)
    day._write(Frame("1.jpg", 10, "another", "2026-12-04T11:00:00+01:00"))
    assert "1.jpg" in refused(day.tick_check, LINE)
