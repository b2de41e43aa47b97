"""The pages say what the program says."""

import re
import tomllib
from pathlib import Path
from typing import get_args

import pytest

from runbook.change.checks import CAUTIONS
from runbook.plan.day import Day
from runbook.plan.kit import Kit
from runbook.plan.setup import Setup
from runbook.plan.shape import is_shape, members, validator

HERE = Path(__file__).parents[1]
README = (HERE / "README.md").read_text("utf-8")
DEMO = HERE / "setups" / "lantern-row"


def keys_of(cls: type) -> set[str]:
    """Every key of a shape and of the shapes inside it."""
    found = set()
    for member in members(cls):
        found.add(member.key)
        stack = [member.hint]
        while stack:
            hint = stack.pop()
            if is_shape(hint) and not hasattr(hint, "below_full"):
                found |= keys_of(hint)
            stack.extend(get_args(hint))
    return found


@pytest.mark.parametrize("cls", [Kit, Day, Setup])
def test_the_file_reference_names_every_key(cls: type) -> None:
    page = (HERE / "docs" / "day-files.md").read_text("utf-8")
    named = {part.strip("[]") for part in re.findall(r"`([^`\n]+)`", page)}
    named |= {row.split("|")[1].strip() for row in page.splitlines() if row.startswith("| ")}
    assert keys_of(cls) - {"setups", "id"} <= named


def test_the_readme_shows_setups_of_the_demo_day_as_they_are() -> None:
    shown = [tomllib.loads(block) for block in re.findall(r"```toml\n(.*?)```", README, re.S)]
    first, second = shown
    check = validator(Setup).validate_python
    on_disk = tomllib.loads((DEMO / "widow-letter.toml").read_text("utf-8"))
    assert check({"id": "x"} | first) == check({"id": "x"} | on_disk)
    answer = tomllib.loads((DEMO / "widow-answer.toml").read_text("utf-8"))
    assert answer["like"] == second["like"] == "widow-letter"
    (panel,) = answer.pop("place_panel")
    (said,) = second.pop("place_panel")
    assert panel == {"face_to": "face"} | said
    assert answer == second


@pytest.mark.parametrize("page", ["README.md", "docs/stands.md", "docs/safety.md"])
def test_the_pages_give_every_caution(page: str) -> None:
    text = (HERE / page).read_text("utf-8")
    assert [caution for caution in CAUTIONS if f"- {caution}\n" not in text] == []
