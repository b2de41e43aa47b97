"""Journals of neighbouring days are read with care: whatever lies there, nothing hangs or grows."""

from __future__ import annotations

import os
import sqlite3
from collections.abc import Callable
from pathlib import Path

import pytest

from runbook.cli import main
from runbook.commands import resume
from runbook.day import timings
from runbook.day.changeovers import NO_TIMINGS
from runbook.day.handover_file import Manifest, pack
from runbook.day.timings import timings_near
from runbook.journal.errors import JournalError
from runbook.journal.journal import Journal, journal_path
from runbook.journal.journal_file import APPLICATION_ID, PAGE_SIZE, SCHEMA
from tests.day.days import SetClock
from tests.played import half_shot

_ENDLESS = (
    "WITH RECURSIVE more(n) AS (SELECT 1 UNION ALL SELECT n + 1 FROM more) "
    "SELECT n, '' AS at, 0 AS offset_s, '' AS who, '' AS kind, '' AS data, 0 AS crc FROM more"
)


def _pipe(path: Path) -> None:
    os.mkfifo(path)


def _device(path: Path) -> None:
    path.symlink_to("/dev/zero")


def _loop(path: Path) -> None:
    path.symlink_to(path)


def _pipe_beside(path: Path) -> None:
    Journal.open(path, clock=SetClock(), who="").close()
    os.mkfifo(f"{path}-journal")


def _database(path: Path, *statements: str) -> None:
    connection = sqlite3.connect(path)
    connection.execute(f"PRAGMA page_size={PAGE_SIZE}")
    connection.execute(f"PRAGMA application_id={APPLICATION_ID}")
    for statement in statements:
        connection.execute(statement)
    connection.execute("PRAGMA user_version=1")
    connection.commit()
    connection.close()


def _endless_view(path: Path) -> None:
    _database(path, f"CREATE VIEW entry AS {_ENDLESS}")


def _endless_trigger(path: Path) -> None:
    trigger = f"CREATE TRIGGER more AFTER INSERT ON entry BEGIN INSERT INTO other SELECT n FROM ({_ENDLESS}); END"
    _database(path, *SCHEMA, "CREATE TABLE other (n)", trigger)


_STRANGE = (_pipe, _device, _loop, _pipe_beside, _endless_view, _endless_trigger)


@pytest.mark.parametrize("strange", _STRANGE)
def test_a_strange_neighbour_teaches_nothing_and_stops_nothing(tmp_path: Path, strange: Callable[[Path], None]) -> None:
    (tmp_path / "today").mkdir()
    (tmp_path / "other").mkdir()
    strange(journal_path(tmp_path / "other"))
    assert timings_near(tmp_path / "today") == NO_TIMINGS


@pytest.mark.parametrize("strange", [_pipe, _device, _endless_view, _endless_trigger])
def test_a_strange_journal_of_the_day_itself_is_refused(tmp_path: Path, strange: Callable[[Path], None]) -> None:
    path = journal_path(tmp_path)
    strange(path)
    with pytest.raises(JournalError):
        Journal.read(path)
    with pytest.raises(JournalError):
        Journal.open(path, clock=SetClock(), who="")


def test_a_neighbour_too_big_is_not_read(tmp_path: Path) -> None:
    folder = tmp_path / "today"
    folder.mkdir()
    path = journal_path(folder)
    Journal.open(path, clock=SetClock(), who="").close()
    assert Journal.read(path, path.stat().st_size).entries == ()
    with pytest.raises(JournalError, match="MiB"):
        Journal.read(path, path.stat().st_size - 1)
    with path.open("r+b") as file:
        file.truncate(timings._SIZE_MAX + PAGE_SIZE)  # a sparse file: no room taken
    assert timings_near(folder) == NO_TIMINGS


def test_a_sealed_handover_with_an_endless_journal_is_refused_at_once(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    folder = half_shot(tmp_path / "posters")
    _endless_view(tmp_path / "endless")
    files = {f"plan/{path.name}": path.read_bytes() for path in folder.glob("*.toml")}
    files |= {"journal.runlog": (tmp_path / "endless").read_bytes(), "sheet.html": b"x"}
    about = Manifest("0.1.0", "Posters", "posters", "photo", "Kim", "2026-12-04T12:00:00+00:00")
    sealed = tmp_path / "posters.handover"
    sealed.write_bytes(pack(about, files))
    monkeypatch.setattr(resume, "is_terminal", lambda: True)
    monkeypatch.setattr("builtins.input", lambda _: "yes")
    assert main(["resume", str(sealed), "--into", str(tmp_path / "mine"), "--as", "Kim"]) == 2
    assert "journal" in capsys.readouterr().err
    assert not (tmp_path / "mine").exists()
