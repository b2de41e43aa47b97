"""Everything a day's files hold, thing by thing."""

from __future__ import annotations

import tomllib
from pathlib import Path

from runbook.files.form_editor import form_of, ids_of, outline

DEMO = Path(__file__).parents[2] / "setups" / "lantern-row"
TEXTS = {path.name: path.read_text("utf-8") for path in sorted(DEMO.glob("*.toml"))}


def test_every_table_of_every_file_is_there_once() -> None:
    things = outline(TEXTS)
    assert len({(each.kind, each.file, each.path) for each in things}) == len(things)
    for name in ("day.toml", "kit.toml"):
        for key, items in tomllib.loads(TEXTS[name]).items():
            if isinstance(items, list) and isinstance(items[0], dict):
                listed = [each for each in things if each.kind == key and each.path]
                assert len(listed) == len(items)
                assert any(each.kind == key and each.path is None for each in things)


def test_setups_come_in_the_order_of_the_day_and_the_rest_after() -> None:
    order = tomllib.loads(TEXTS["day.toml"])["order"]
    texts = TEXTS | {"apart.toml": 'like = "keeper-lamp"\n'}
    setups = [each for each in outline(texts) if each.kind == "setup" and each.path is not None]
    assert [each.id for each in setups] == [*order, "apart"]
    assert setups[-1].title == "apart (not in the order)"


def test_a_section_that_is_not_written_has_a_form_all_the_same() -> None:
    texts = TEXTS | {"kit.toml": TEXTS["kit.toml"].replace("[camera]", "[camera]\n# nothing\n")}
    table = tomllib.loads(texts["kit.toml"])
    del table["camera"]
    import tomli_w

    texts["kit.toml"] = tomli_w.dumps(table)
    camera = next(each for each in outline(texts) if each.kind == "camera")
    found = {field.key: field for field in form_of(texts, camera)}
    assert found["sync"].value == "1/200"
    assert {field.origin for field in found.values()} == {"default"}


def test_bare_is_a_modifier_without_an_entry() -> None:
    assert ids_of(TEXTS)["modifier"][0] == "bare"
    assert ids_of(TEXTS)["look"][0] == "keeper"
