"""The pages agree with the program."""

import re
import tomllib
from pathlib import Path

import pytest

from runbook.changeover.checklist import CAUTIONS
from runbook.files.validate import members, parse
from runbook.model.kit import Kit
from runbook.model.setup import Setup
from tests.day_files_page import MODELS, PAGE, with_tables

HERE = Path(__file__).parents[1]
README = (HERE / "README.md").read_text("utf-8")
DEMO = HERE / "setups" / "lantern-row"


def test_the_file_reference_agrees_with_the_models() -> None:
    page = PAGE.read_text("utf-8")
    assert page == with_tables(page), "write it again: python -m tests.day_files_page"


def test_every_model_of_the_files_has_its_table_and_every_key_its_meaning() -> None:
    tables = re.findall(r"<!-- keys: (\w+) -->", PAGE.read_text("utf-8"))
    assert sorted(tables) == sorted(cls.__name__ for cls in MODELS if cls is not Kit)
    for cls in MODELS:
        assert [member.key for member in members(cls) if not member.means] == (["id"] if cls is Setup else [])


def test_the_readme_shows_setups_of_the_demo_day_as_they_are() -> None:
    first, second = (tomllib.loads(block) for block in re.findall(r"```toml\n(.*?)```", README, re.S))
    letter, answer = (tomllib.loads((DEMO / f"widow-{name}.toml").read_text("utf-8")) for name in ("letter", "answer"))
    assert parse(Setup, {"id": "x"} | first) == parse(Setup, {"id": "x"} | letter)
    assert answer["like"] == "widow-letter"
    assert answer == second


@pytest.mark.parametrize("page", ["README.md", "docs/stands.md", "docs/safety.md"])
def test_the_pages_give_every_caution(page: str) -> None:
    text = (HERE / page).read_text("utf-8")
    assert [caution for caution in CAUTIONS if f"- {caution}\n" not in text] == []


@pytest.mark.parametrize(
    "page", [HERE / "README.md", HERE / "DEVELOPERS.md", *sorted(PAGE.parent.glob("*.md"))], ids=lambda page: page.name
)
def test_links_lead_somewhere(page: Path) -> None:
    targets = re.findall(r"\]\(((?!https?:)[^)#]+)\)", page.read_text("utf-8"))
    assert [target for target in targets if not (page.parent / target).exists()] == []
