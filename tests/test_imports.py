"""The commands that are typed with somebody waiting import nothing slow."""

import subprocess
import sys
from pathlib import Path

import pytest

HERE = Path(__file__).parents[1]
SLOW = {"asyncio", "rich", "sqlite3", "textual"}
ASK = """
import io, sys
from contextlib import redirect_stdout
from runbook.cli import main
with redirect_stdout(io.StringIO()) as said:
    status = main({words})
assert said.getvalue(), "nothing was said"
print(status, *sorted({{name.partition(".")[0] for name in sys.modules}}))
"""


@pytest.mark.parametrize(
    ("words", "slow"),
    # what panels send to the face is worked out with numpy
    [(["check"], SLOW), (["steps", "--json"], SLOW | {"numpy"}), (["steps"], SLOW | {"numpy"})],
)
def test_a_quick_command_imports_nothing_slow(words: list[str], slow: set[str]) -> None:
    demo = str(HERE / "setups" / "lantern-row")
    ran = subprocess.run(
        [sys.executable, "-c", ASK.format(words=[*words, demo])], capture_output=True, text=True, cwd=HERE, check=True
    )
    status, *imported = ran.stdout.split()
    assert status in ("0", "1")
    assert "runbook" in imported
    assert slow & set(imported) == set()
