"""The program as it is installed: from a wheel, away from the checkout."""

import json
import os
import subprocess
import sys
import tarfile
import zipfile
from collections.abc import Sequence
from pathlib import Path

import pytest

from tests.terminal import HERE, Terminal, clean_env


def run(words: Sequence[str], cwd: Path, env: dict[str, str] | None = None) -> str:
    ran = subprocess.run(words, cwd=cwd, env=env, capture_output=True, text=True, check=False, timeout=100)
    assert ran.returncode in (0, 1), ran.stdout + ran.stderr
    return ran.stdout


@pytest.fixture(scope="module")
def built(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The sdist, and the wheel that is built out of it and nothing else."""
    out = tmp_path_factory.mktemp("built")
    build = "import hatchling.build as b, sys; print(getattr(b, sys.argv[1])(sys.argv[2]))"
    run([sys.executable, "-c", build, "build_sdist", str(out)], HERE)
    (sdist,) = out.glob("*.tar.gz")
    with tarfile.open(sdist) as archive:
        archive.extractall(out, filter="data")
    (source,) = out.glob("runbook-*/")
    run([sys.executable, "-c", build, "build_wheel", str(out)], source)
    return out


@pytest.fixture(scope="module")
def installed(built: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder of installed packages with a ``bin`` in it."""
    target = tmp_path_factory.mktemp("installed")
    (wheel,) = built.glob("*.whl")
    pip = [sys.executable, "-m", "pip", "install", "--no-deps", "--no-index", "--quiet"]
    run([*pip, "--target", str(target), str(wheel)], target)
    return target


def elsewhere(installed: Path, home: Path) -> dict[str, str]:
    """An environment that finds what is installed, and the checkout nowhere."""
    return clean_env() | {
        "PYTHONPATH": str(installed), "HOME": str(home), "XDG_STATE_HOME": str(home / "state"), "PYTHONSAFEPATH": "1",
    }  # fmt: skip


def test_the_wheel_holds_the_program_its_styles_and_the_demo_day(built: Path) -> None:
    (wheel,) = built.glob("*.whl")
    names = {name for name in zipfile.ZipFile(wheel).namelist() if "dist-info" not in name}
    assert all(name.startswith("runbook/") for name in names)
    source = {str(path.relative_to(HERE)) for path in (HERE / "runbook").rglob("*.*") if path.suffix != ".pyc"}
    demo = {f"runbook/demo/{path.relative_to(HERE / 'setups')}" for path in (HERE / "setups").rglob("*.toml")}
    assert {"runbook/screens/runbook.tcss", "runbook/demo/lantern-row/day.toml"} <= source | demo
    assert (source | demo) - names == set()


def test_the_installed_commands_show_the_demo_day(installed: Path, tmp_path: Path) -> None:
    env = elsewhere(installed, tmp_path)
    runbook = str(installed / "bin" / "runbook")
    where = "import runbook; print(runbook.__file__)"
    assert run([sys.executable, "-c", where], tmp_path, env).startswith(str(installed))
    assert "Lantern Row" in run([runbook, "check"], tmp_path, env)
    changes = json.loads(run([runbook, "steps", "--json"], tmp_path, env))["changeovers"]
    assert changes[0]["from"] is None
    assert changes[-1]["to"] is None
    assert os.listdir(tmp_path) == []  # noqa: PTH208


def test_the_installed_program_opens_the_demo_day(installed: Path, tmp_path: Path) -> None:
    env = elsewhere(installed, tmp_path)
    runbook = str(installed / "bin" / "runbook")
    with Terminal([runbook], env=env, cwd=tmp_path) as terminal:
        terminal.wait_for("Lantern Row")
        terminal.press("n", "begun: The keeper at the window")
        terminal.press("q", "Leave the day?")
        terminal.send("y")
        assert terminal.end() == 0
        assert terminal.as_it_was
    log = run([runbook, "log"], tmp_path, env)
    assert [part in log for part in ("begun", "left")] == [True, True]
    assert list((tmp_path / "state").rglob("*.runlog"))
