"""``runbook handover`` and ``runbook resume``: the day goes over whole, or not at all."""

import builtins
import datetime as dt
import errno
import itertools
import os
import shutil
from base64 import b64encode
from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path

import pytest

from runbook.cli import main
from runbook.commands import handover, resume
from runbook.commands import open as commands_open
from runbook.day.actions import Refused, Session
from runbook.day.frame_actions import FrameActions
from runbook.day.handover_file import pack, unpack
from runbook.day.load_plan import read_day
from runbook.files.editor import keep_measured
from runbook.files.load import day_bytes
from runbook.files.pictures import read_picture
from runbook.files.watch import Arrival
from runbook.journal.journal import Journal, journal_path
from runbook.model.kit import Measured
from tests.day.days import SetClock, begun
from tests.day.test_handover_file import built, resealed
from tests.pictures import write
from tests.played import SECOND, half_shot

Capture = pytest.CaptureFixture[str]


@pytest.fixture(scope="module")
def given(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A handover of half a day, and the day it is of."""
    folder = half_shot(tmp_path_factory.mktemp("given") / "posters")
    assert main(["handover", str(folder), "--to", "Kim", "-o", str(folder) + ".handover"]) == 0
    return folder


@pytest.fixture
def shown(monkeypatch: pytest.MonkeyPatch) -> Iterator[list[tuple[Path, str]]]:
    """Resume as on a terminal; which day was then opened, and as whom."""
    opened: list[tuple[Path, str]] = []

    def show(folder: Path, _plan: object, who: str) -> int:
        opened.append((folder, who))
        return 0

    monkeypatch.setattr(resume, "is_terminal", lambda: True)
    monkeypatch.setattr(resume, "show_day", show)
    yield opened


def answering(monkeypatch: pytest.MonkeyPatch, answers: Callable[[str], str]) -> list[str]:
    asked: list[str] = []

    def answer(question: str) -> str:
        asked.append(question)
        return answers(question)

    monkeypatch.setattr(builtins, "input", answer)
    return asked


def full(*_: object) -> None:
    raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))


def archive_of(given: Path) -> Path:
    return Path(f"{given}.handover")


def taken(given: Path, into: Path, *more: str) -> int:
    return main(["resume", str(archive_of(given)), "--into", str(into), *more])


def test_once_confirmed_it_lands_on_the_same_step(given, tmp_path, monkeypatch, shown):
    into = tmp_path / "mine"

    def answer(_: str) -> str:
        assert list(tmp_path.iterdir()) == []  # killed here, it leaves nothing
        return "yes"

    answering(monkeypatch, answer)
    assert taken(given, into, "--as", "Kim") == 0
    assert shown == [(into, "Kim")]
    assert [path.name for path in tmp_path.iterdir()] == ["mine"]
    clock = SetClock()
    sessions = []
    for folder in (given, into):
        with Journal.open(journal_path(folder), clock=clock, who="x") as journal:
            sessions.append(Session(read_day(folder), journal, "x", clock))
    theirs, ours = sessions
    assert ours.state.at_work == theirs.state.at_work == SECOND
    assert ours.view.next_step == theirs.view.next_step
    assert ours.state.floor == theirs.state.floor
    assert ours.state.changes.keys() == theirs.state.changes.keys()
    last = ours.entries[-1]
    assert (last.kind, last.who, last.data.giver) == ("resumed", "Kim", "photo")
    shown_text = [entry for entry in ours.entries if entry.kind == "check-ticked" and entry.who == "Kim"]
    assert len(shown_text) > 10
    assert all(entry.data.answer for entry in shown_text)


def test_a_safety_line_is_not_passed_over_without_a_reason(given, tmp_path, monkeypatch, shown, capsys):
    tries = itertools.cycle(["", "no", "n", "the guard saw to it"])
    asked = answering(monkeypatch, lambda q: next(tries) if "why not" in q else "")
    assert taken(given, tmp_path / "mine", "--as", "Kim") == 0
    printed = capsys.readouterr().out
    safety = printed.count("  SAFETY\n")
    assert safety > 0
    assert sum("why not" in each for each in asked) == 4 * safety
    assert printed.count("Type yes, or why") == 3 * safety
    entries = Journal.read(journal_path(tmp_path / "mine")).entries
    passed = [each.data for each in entries if each.kind == "skipped" and each.who == "Kim"]
    assert len(passed) == safety
    assert {each.reason for each in passed} == {"the guard saw to it"}
    assert shown


@pytest.mark.parametrize("leaving", ["q", "ctrl-d", "ctrl-c"])
def test_stopped_half_way_nothing_was_taken_over(leaving, given, tmp_path, monkeypatch, shown):
    answers = iter(["", "", ""])

    def answer(_: str) -> str:
        typed = next(answers, None)
        if typed is not None:
            return typed
        if leaving == "q":
            return "q"
        raise EOFError if leaving == "ctrl-d" else KeyboardInterrupt

    answering(monkeypatch, answer)
    assert taken(given, tmp_path / "mine", "--as", "Kim") in (2, 130)
    assert list(tmp_path.iterdir()) == []
    assert shown == []


def test_who_takes_over_is_asked_until_there_is_a_name(given, tmp_path, monkeypatch, shown):
    names = iter(["", "  ", "Kim  R"])
    answering(monkeypatch, lambda q: next(names) if q.startswith("Who") else "yes")
    assert taken(given, tmp_path / "mine") == 0
    assert shown == [(tmp_path / "mine", "Kim R")]


def test_what_is_there_is_never_written_over(given, tmp_path, monkeypatch, shown, capsys):
    answering(monkeypatch, lambda _: "yes")
    monkeypatch.chdir(tmp_path)
    (tmp_path / "posters").mkdir()
    (tmp_path / "posters-2").symlink_to(tmp_path / "nowhere")
    assert main(["resume", str(archive_of(given)), "--into", "posters", "--as", "Kim"]) == 2
    assert "already exists" in capsys.readouterr().err
    assert main(["resume", str(archive_of(given)), "--as", "Kim"]) == 0
    assert shown == [(Path("posters-3"), "Kim")]
    assert list((tmp_path / "posters").iterdir()) == []


def test_a_spoiled_archive_is_refused_before_anything_is_asked_or_written(given, tmp_path, monkeypatch, shown, capsys):
    answering(monkeypatch, lambda _: pytest.fail("somebody was asked about it"))
    raw = archive_of(given).read_bytes()
    spoiled, middle = tmp_path / "day.handover", len(raw) // 2
    flipped = raw[:middle] + bytes([raw[middle] ^ 0xFF]) + raw[middle + 1 :]
    evil = built("../evil.toml", b"x = 1"), built("plan/x.toml", b"/etc/passwd", mode=0o120777)
    for data in (b"", b"hello", flipped, resealed(flipped), raw[:middle], raw + raw, *evil):
        spoiled.write_bytes(data)
        assert main(["resume", str(spoiled), "--into", str(tmp_path / "mine"), "--as", "Kim"]) == 2
        out, err = capsys.readouterr()
        assert (out, err.count("\n")) == ("", 1)
        assert "day.handover" in err
        assert list(tmp_path.iterdir()) == [spoiled]
    assert shown == []


@pytest.mark.parametrize("broken", [
    ("plan/day.toml", b"name = 3", "the plan in it cannot be read"),
    ("journal.runlog", b"no journal", "the journal in it"),
])  # fmt: skip
def test_an_honest_archive_of_a_broken_day_is_refused(broken, given, tmp_path, monkeypatch, capsys):
    monkeypatch.setattr(resume, "is_terminal", lambda: True)
    answering(monkeypatch, lambda _: "yes")
    name, data, shown_text = broken
    found = unpack(archive_of(given).read_bytes())
    about = found.manifest
    spoiled = tmp_path / "spoiled.handover"
    spoiled.write_bytes(pack(about, {**found.files, name: data}))
    assert main(["resume", str(spoiled), "--into", str(tmp_path / "x"), "--as", "Kim"]) == 2
    assert shown_text in capsys.readouterr().err
    assert [path.name for path in tmp_path.iterdir()] == ["spoiled.handover"]


def test_nothing_out_of_the_file_reaches_the_terminal_as_a_command(given, tmp_path, monkeypatch, shown, capsys):
    answering(monkeypatch, lambda _: "yes")
    found = unpack(archive_of(given).read_bytes())
    about = replace(found.manifest, day="\x1b[2J", giver="\x1b]0;x\x07", to="a\nb")
    file = tmp_path / "odd.handover"
    file.write_bytes(pack(about, found.files))
    assert main(["resume", str(file), "--into", str(tmp_path / "x"), "--as", "Kim"]) == 0
    out, err = capsys.readouterr()
    assert shown
    assert all(char.isprintable() or char == "\n" for char in out + err)


def test_without_a_whole_file_and_a_terminal_nothing_is_taken(given: Path, tmp_path: Path, capsys: Capture) -> None:
    big = tmp_path / "big.handover"
    with big.open("wb") as file:
        file.truncate(33 * 1024 * 1024)
    for path, message in (
        (tmp_path / "none.handover", "does not exist"),
        (tmp_path, "is not a regular file"),
        (big, "is over 32 MiB"),
        (archive_of(given), "needs a terminal"),
    ):
        assert main(["resume", str(path), "--into", str(tmp_path / "mine"), "--as", "Kim"]) == 2
        out, err = capsys.readouterr()
        assert (out, err.count("\n")) == ("", 1)
        assert message in err
    assert list(tmp_path.iterdir()) == [big]


@pytest.mark.parametrize(("words", "message"), [
    (["Kim", "day.zip"], "name a file like day.handover"),
    (["Kim", "day"], "name a file like day.handover"),
    (["Kim", "day.handover.txt"], "name a file like day.handover.handover"),
    ([" ", "day.handover"], "--to NAME"),
    (["Kim", "no/day.handover"], "cannot be written"),
])  # fmt: skip
def test_a_handover_that_cannot_be_is_refused_and_not_recorded(words, message, given, tmp_path, capsys):
    before = len(Journal.read(journal_path(given)).entries)
    to, name = words
    assert main(["handover", str(given), "--to", to, "-o", str(tmp_path / name)]) == 2
    assert message in capsys.readouterr().err
    assert list(tmp_path.iterdir()) == []
    assert len(Journal.read(journal_path(given)).entries) == before


def test_a_day_handed_on_twice_keeps_the_whole_chain(given, tmp_path, monkeypatch, shown):
    answering(monkeypatch, lambda _: "yes")
    first, file = tmp_path / "first", tmp_path / "on.handover"
    assert taken(given, first, "--as", "Kim") == 0
    words = ["handover", str(first), "--to", "Noor", "--as", "Kim", "-o", str(file)]
    assert main(words) == 0
    second = tmp_path / "second"
    assert main(["resume", str(file), "--into", str(second), "--as", "Noor"]) == 0
    chain = [
        (each.who, each.data.giver) for each in Journal.read(journal_path(second)).entries if each.kind == "resumed"
    ]
    assert shown == [(first, "Kim"), (second, "Noor")]
    assert chain == [("Kim", "photo"), ("Noor", "Kim")]


def running(folder: Path) -> Session:
    """The session of a program that has had a day open since before its files changed."""
    session = begun(read_day(folder), entries=Journal.read(journal_path(folder)).entries, folder=folder)
    session.plan_files = day_bytes(folder)
    return session


@pytest.mark.usefixtures("shown")
@pytest.mark.parametrize("damage", ["broken", "edited", "gone", "a kept reading"])
def test_a_handover_holds_the_plan_that_runs_whatever_is_on_disk(damage, given, tmp_path, monkeypatch):
    day = Path(shutil.copytree(given, tmp_path / "day"))
    session = running(day)
    setup = next(iter(session.plan.setups))
    if damage == "broken":
        (day / f"{setup}.toml").write_text("no TOML", "utf-8")
    elif damage == "gone":
        shutil.rmtree(day)
    elif damage == "edited":
        text = (day / "day.toml").read_text("utf-8")
        (day / "day.toml").write_text(text.replace("wrap = 18", "wrap = 19"), "utf-8")
    else:
        head, modifier = session.plan.kit.heads[0].id, session.plan.kit.modifiers[0].id
        row = Measured(head, "1/4", 3.3, 4.0, modifier)
        assert keep_measured(day, row, "stamp")
    file, into = tmp_path / "kim.handover", tmp_path / "kim"
    handover.give(session, "Kim", file)
    answering(monkeypatch, lambda _: "yes")
    assert main(["resume", str(file), "--into", str(into), "--as", "Kim"]) == 0
    taken = read_day(into)
    kept = [each for each in taken.kit.measured if each not in session.plan.kit.measured]
    assert len(kept) == (damage == "a kept reading")
    assert replace(taken, kit=session.plan.kit) == session.plan


def test_a_plan_that_is_nowhere_any_more_is_not_handed_over(given: Path, tmp_path: Path) -> None:
    day = Path(shutil.copytree(given, tmp_path / "day"))
    session = running(day)
    session.plan_files = {}
    (day / "day.toml").write_text("no TOML", "utf-8")
    file = tmp_path / "kim.handover"
    with pytest.raises(Refused):
        handover.give(session, "Kim", file)
    assert not file.exists()


def test_a_full_disk_is_a_plain_fault_when_a_day_is_taken_over(given, tmp_path, monkeypatch, capsys):
    monkeypatch.setattr("runbook.files.atomic_write.write_folder", full)
    monkeypatch.setattr(resume, "is_terminal", lambda: True)
    answering(monkeypatch, lambda _: "yes")
    assert taken(given, tmp_path / "kim", "--as", "Kim") == 2
    (line,) = capsys.readouterr().err.splitlines()
    assert line.startswith("runbook resume: --into: ")
    assert "no space left on device" in line
    assert "[" not in line
    assert "(" not in line
    assert list(tmp_path.iterdir()) == []


@pytest.mark.usefixtures("shown")
def test_who_took_the_day_over_is_at_work_when_it_opens_again(given, tmp_path, monkeypatch, capsys):
    into = tmp_path / "mine"
    answering(monkeypatch, lambda _: "yes")
    assert taken(given, into, "--as", "Kim") == 0
    opened: list[str] = []

    def show(_folder: Path, _plan: object, who: str, **_: object) -> int:
        opened.append(who)
        return 0

    monkeypatch.setattr(commands_open, "is_terminal", lambda: True)
    monkeypatch.setattr(commands_open, "show_day", show)
    for words in ([], ["--as", "Kim"], ["--as", "photo"]):
        assert main(["open", str(into), *words]) == 0
    assert main(["open", str(given)]) == 0
    assert opened == ["Kim", "Kim", "photo", "photo"]
    assert main(["open", str(given), "--as", "Kim"]) == 2
    assert "not in the crew" in capsys.readouterr().err
    assert main(["handover", str(into), "--to", "Ada", "-o", str(tmp_path / "on.handover")]) == 0
    last = Journal.read(journal_path(into)).entries[-1]
    assert (last.who, last.data.to) == ("Kim", "Ada")


@pytest.mark.usefixtures("shown")
def test_the_next_shooter_gets_the_select_in_the_folder_in_the_sheet_and_as_a_line(
    given: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: Capture
) -> None:
    day, frames = Path(shutil.copytree(given, tmp_path / "day")), tmp_path / "frames"
    session = running(day)
    actions = FrameActions(session, frames)
    session.left_file = journal_path(day)
    path = write(frames, "1.jpg", dt.datetime(2026, 12, 4, 9), size=(1200, 800))
    actions.take([Arrival("1.jpg", read_picture(path), session.clock(), None)])
    shot = actions.to_select()
    actions.select(shot, actions.small_of(shot))
    (small,) = day.glob("select-*.jpg")
    handover.give(session, "Kim", archive := tmp_path / "x.handover")
    session.journal.close()
    assert unpack(archive.read_bytes()).selects == {small.name: small.read_bytes()}
    assert archive.stat().st_size < 5_000_000
    picture = f"data:image/jpeg;base64,{b64encode(small.read_bytes()).decode()}"
    asked = answering(monkeypatch, lambda _: "yes")
    assert main(["resume", str(archive), "--as", "Kim", "--into", str(tmp_path / "new")]) == 0
    assert asked
    assert "MATCH BY EYE" in capsys.readouterr().out
    assert (tmp_path / "new" / small.name).read_bytes() == small.read_bytes()
    assert main(["sheet", str(tmp_path / "new"), "--record", "-o", str(tmp_path / "record.html")]) == 0
    for page in (tmp_path / "new" / "sheet.html", tmp_path / "record.html"):
        assert picture in page.read_text("utf-8")
