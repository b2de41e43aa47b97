"""The command line: its outputs, its exit status, what it imports, and that it never shows a traceback."""

import json
import os
import re
import shutil
import subprocess
import sys
import types
from pathlib import Path

import pytest

from runbook import __version__, cli
from runbook.cli import COMMANDS, main
from runbook.commands.output import print_json, table
from tests.day.days import DEMO
from tests.days import SMALL, change

Capture = pytest.CaptureFixture[str]
RUN = [sys.executable, "-m", "runbook"]


def run(*words: str, **env: str) -> subprocess.CompletedProcess[bytes]:
    """The program as a process of its own, with no terminal."""
    return subprocess.run(
        [*RUN, *words], capture_output=True, stdin=subprocess.DEVNULL, env=os.environ | env, check=False
    )


def test_exit_status_and_json_have_the_same_facts_as_the_text(tmp_path: Path, capsys: Capture) -> None:
    assert main(["new", str(tmp_path)]) == 0
    assert main(["check", str(tmp_path)]) == 0
    assert "no problems" in capsys.readouterr().out
    change(tmp_path, "one.toml", "frames = 100\n", "")
    assert main(["check", str(tmp_path)]) == 0
    out, err = capsys.readouterr()
    assert out.endswith(f"\n{tmp_path.name}, 2 setups: 1 note\n")
    assert err == ""
    change(tmp_path, "two.toml", "shoot_min = 20\n", "shoot_min = 0\n")
    assert main(["check", str(tmp_path)]) == 1
    text = capsys.readouterr().out.splitlines()
    assert main(["check", str(tmp_path), "--json"]) == 1
    problems = json.loads(capsys.readouterr().out)["problems"]
    assert [(problem["level"], problem["code"]) for problem in problems] == [("warn", "no-time"), ("note", "no-frames")]
    assert set(problems[0]) == {"level", "code", "setup", "item", "what", "do"}
    for line, problem in zip(text[:-1], problems, strict=True):
        assert line.split()[:2] == [problem["level"], problem["setup"]]
        assert line.endswith(f"{problem['what']}; {problem['do']}")


@pytest.mark.parametrize("more", [[], ["--json"]])
def test_faults_go_to_standard_error_and_exit_is_2(day: Path, capsys: Capture, more: list[str]) -> None:
    first = change(day, "window.toml", "angle_deg = 45", 'angle_deg = "45"')
    second = change(day, "window.toml", "distance_m = 0.8", "distance_m = -1")
    assert main(["check", str(day), *more]) == 2
    out, err = capsys.readouterr()
    assert out == ""
    file = day / "window.toml"
    assert err.splitlines() == [
        f'{file}:{first}: light.A.angle_deg: "45" is text; write a number, without quotes',
        f"{file}:{second}: place_panel.flat.distance_m: -1 is too little; it must be more than 0",
    ]


def test_every_command_has_a_module_and_help(capsys: Capture) -> None:
    for command in COMMANDS:
        module = __import__(f"runbook.commands.{command.name}", fromlist=["run"])
        assert callable(module.run)
        assert main([command.name, "--help"]) == 0
    assert "DAY" in capsys.readouterr().out


def test_the_version_and_an_unknown_command(capsys: Capture) -> None:
    assert main(["--version"]) == 0
    assert capsys.readouterr().out == f"runbook {__version__}\n"
    assert main(["chek"]) == 2
    assert "invalid choice" in capsys.readouterr().err


def breaking(monkeypatch: pytest.MonkeyPatch, problem: BaseException) -> None:
    """Make ``check`` fail in an unexpected way."""

    def fail(_: object) -> int:
        raise problem

    module = types.ModuleType("runbook.commands.check")
    monkeypatch.setattr(module, "run", fail, raising=False)
    monkeypatch.setitem(sys.modules, "runbook.commands.check", module)


def test_an_unexpected_error_is_one_line_with_its_details_in_a_file(monkeypatch, capsys, tmp_path):
    monkeypatch.setattr("tempfile.tempdir", str(tmp_path))
    monkeypatch.delenv(cli.DEBUG, raising=False)
    breaking(monkeypatch, ZeroDivisionError("by\nzero"))
    assert main(["check"]) == 2
    out, err = capsys.readouterr()
    (details,) = tmp_path.iterdir()
    assert out == ""
    assert err == f"runbook: unexpected ZeroDivisionError: by zero; details in {details}\n"
    assert "in fail" in details.read_text()
    monkeypatch.setattr("tempfile.tempdir", str(tmp_path / "nowhere"))
    assert main(["check"]) == 2
    assert f"set {cli.DEBUG}=1" in capsys.readouterr().err
    monkeypatch.setenv(cli.DEBUG, "1")
    with pytest.raises(ZeroDivisionError):
        main(["check"])


def test_control_c_exits_with_130_and_prints_nothing(monkeypatch: pytest.MonkeyPatch, capsys: Capture) -> None:
    breaking(monkeypatch, KeyboardInterrupt())
    assert main(["check"]) == 130
    assert capsys.readouterr() == ("", "")


def test_a_closed_pipe_is_no_error(day: Path) -> None:
    read, write = os.pipe()
    os.close(read)
    with os.fdopen(write, "wb") as closed:
        done = subprocess.run([*RUN, "check", str(day)], stdout=closed, stderr=subprocess.PIPE, check=False)
    assert (done.returncode, done.stderr) == (cli.PIPE_CLOSED, b"")


def test_output_is_ascii_where_the_encoding_is(day: Path) -> None:
    change(day, "day.toml", 'name = "A day"', 'name = "Café ½ → 日"')
    done = run("check", str(day), PYTHONIOENCODING="ascii", PYTHONUTF8="0")
    assert done.returncode == 1
    assert b"Caf? 1/2 -> ?, 2 setups" in done.stdout
    assert done.stderr == b""
    change(day, "window.toml", 'title = "At', 'títle = "At')
    done = run("check", str(day), PYTHONIOENCODING="ascii", PYTHONUTF8="0")
    assert (done.returncode, done.stdout) == (2, b"")
    assert b"Traceback" not in done.stderr


def test_json_is_always_ascii(capsys: Capture) -> None:
    print_json({"what": "½ → 日 \udcff"})
    out = capsys.readouterr().out
    assert out.isascii()
    assert json.loads(out) == {"what": "½ → 日 \udcff"}


def test_a_table_lines_up() -> None:
    assert table([("a", "bb", "c"), ("aaa", "b", "long")]) == ["a    bb  c", "aaa  b   long"]
    assert table([]) == []


SLOW = {"asyncio", "difflib", "rich", "sqlite3", "textual", "runbook.files.toml_edit", "runbook.journal.journal"}
IMPORTED = """
import io, sys
from contextlib import redirect_stdout
from runbook.cli import main
with redirect_stdout(io.StringIO()) as output:
    status = main(sys.argv[1:])
assert output.getvalue()
print(status, *sys.modules)
"""


@pytest.mark.parametrize(
    ("words", "folder", "slow"),
    # what panels send on, and powers that are left out, are calculated with numpy
    [
        (["check"], DEMO, SLOW),
        (["steps"], DEMO, SLOW),
        (["steps"], str(SMALL), SLOW | {"numpy"}),
        (["steps", "--json"], str(SMALL), SLOW | {"numpy"}),
    ],
)
def test_a_quick_command_imports_nothing_slow(words: list[str], folder: str, slow: set[str]) -> None:
    ran = subprocess.run([sys.executable, "-c", IMPORTED, *words, folder], capture_output=True, text=True, check=True)
    status, *imported = ran.stdout.split()
    assert status in ("0", "1")
    assert "runbook.files.load" in imported
    assert slow & set(imported) == set()


def test_a_file_with_thousands_of_faults_shows_the_first_and_counts_the_rest(day: Path, capsys: Capture) -> None:
    kit = day / "kit.toml"
    kit.write_text(kit.read_text("utf-8") + "[[bag]]\n" * 700, "utf-8")
    assert main(["check", str(day)]) == 2
    lines = capsys.readouterr().err.splitlines()
    assert len(lines) == 101
    rest = re.fullmatch(r"and ([\d,]+) more faults; correct these first", lines[-1])
    assert rest
    assert int(rest[1].replace(",", "")) > 1000


@pytest.mark.parametrize(
    ("lux", "meant", "expected"),
    [(80, False, (0, "note")), (80, True, (0, "meant")), (600, True, (1, "meant")), (600, False, (1, "warn"))],
)
def test_a_finding_that_is_meant_is_no_warning(lux, meant, expected, tmp_path, capsys):
    folder = Path(shutil.copytree(DEMO, tmp_path / "day"))
    day, setup = folder / "day.toml", folder / "seamstress-thread.toml"
    day.write_text(re.sub(r"ambient_lux = [\d.]+", f"ambient_lux = {lux}", day.read_text("utf-8")), "utf-8")
    if meant:
        setup.write_text(f'meant = ["ambient-shows"]\n{setup.read_text("utf-8")}', "utf-8")
    status = main(["check", str(folder), "--json"])
    problems = json.loads(capsys.readouterr().out)["problems"]
    (level,) = (p["level"] for p in problems if (p["code"], p["setup"]) == ("ambient-shows", "seamstress-thread"))
    assert (status, level) == expected
