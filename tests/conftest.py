"""What tests of several modules share."""

import os
import shutil
import tempfile
from pathlib import Path

import pytest
from hypothesis import settings

from tests.days import write_day

# Folders of tests are in memory where there is plenty: what is written safely waits for the disk, file by file.
_MEMORY = Path("/dev/shm")
_PLENTY = _MEMORY.is_dir() and shutil.disk_usage(_MEMORY).free > 4e9
if "TMPDIR" not in os.environ and _PLENTY and not os.statvfs(_MEMORY).f_flag & os.ST_NOEXEC:
    os.environ["TMPDIR"] = tempfile.tempdir = str(_MEMORY)


def pytest_xdist_auto_num_workers() -> int:
    """One worker more than cores: tests of programs on a terminal wait for them more than they calculate."""
    return (os.cpu_count() or 2) + 1


@pytest.fixture(scope="session", autouse=True)
def _environment(tmp_path_factory: pytest.TempPathFactory) -> None:
    """Programs that tests start are this checkout's, and leave a day that is open elsewhere alone."""
    os.environ["XDG_STATE_HOME"] = str(tmp_path_factory.mktemp("state"))
    os.environ["PYTHONPATH"] = str(Path(__file__).parents[1])
    if os.environ.pop("PYTHONDONTWRITEBYTECODE", ""):  # the many programs need not compile everything again
        base = tmp_path_factory.getbasetemp()
        shared = base.parent if "PYTEST_XDIST_WORKER" in os.environ else base
        os.environ["PYTHONPYCACHEPREFIX"] = str(shared / "bytecode")


@pytest.fixture
def day(tmp_path: Path) -> Path:
    """The folder of a small day that can be read."""
    return write_day(tmp_path / "day")


# laws are about what is true, not how fast: the machine that runs them may be busy; the same examples every time,
# so that a run says something about the change before it, and others with RUNBOOK_RANDOM=1
settings.register_profile("runbook", deadline=None, max_examples=50, derandomize=not os.environ.get("RUNBOOK_RANDOM"))
settings.load_profile("runbook")
