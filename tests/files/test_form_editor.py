"""The plan on the desk, without a screen: what is picked, drafts, and what is typed."""

import shutil
import tomllib
from contextlib import suppress
from pathlib import Path

import pytest
import tomli_w

from runbook.day.load_plan import read_day
from runbook.files.editor import Editor
from runbook.files.form import Field
from runbook.files.form_editor import FormEditor, form_of, ids_of, outline
from runbook.files.toml_edit import NotEdited
from runbook.light.solve import with_powers
from tests.files.demo import DEMO, TEXTS


@pytest.fixture
def desk(tmp_path: Path) -> FormEditor:
    return FormEditor(Editor(Path(shutil.copytree(DEMO, tmp_path / "day")), "then", with_powers))


def pick(desk: FormEditor, title: str) -> None:
    desk.pick(next(thing for thing in desk.things if thing.title == title))


def field(desk: FormEditor, *path: object) -> Field:
    return next(each for each in desk.fields if each.path == path)


def fill(desk: FormEditor, **texts: str) -> str:
    done = ""
    for key, text in texts.items():
        line = next(each for each in desk.fields if each.key == key)
        done = desk.take(line, desk.read(line, text))
    return done


def test_typing_changes_nothing_until_it_is_taken(desk: FormEditor) -> None:
    pick(desk, "keeper-window")
    line = field(desk, "light", "A", "power")
    before = read_day(desk.editor.folder)
    tried = desk.attempt(line, desk.read(line, "1/4"))
    assert str(tried.plan.setups["keeper-window"].light["A"].power) == "1/4"
    assert read_day(desk.editor.folder) == before == desk.plan
    assert desk.take(line, tried.value) == "saved: keeper-window A power"
    assert desk.plan == tried.plan == read_day(desk.editor.folder)


def test_a_power_is_held_to_its_own_heads_dial(desk: FormEditor) -> None:
    pick(desk, "keeper-window")
    with pytest.raises(ValueError, match="not on this head's dial"):
        desk.read(field(desk, "light", "A", "power"), "1/4+0.5")
    pick(desk, next(thing.title for thing in desk.things if thing.kind == "measured" and thing.path))
    with pytest.raises(ValueError, match="not on this head's dial"):
        desk.read(field(desk, "measured", 0, "power"), "1/4+0.5")


@pytest.mark.parametrize(("kind", "texts"), [
    ("crew", {"id": "third"}),
    ("look", {"id": "bride", "talent": "T9"}),
    ("break", {"id": "tea", "minutes": "15 min", "earliest": "4 pm", "latest": "16.30"}),
    ("modifier", {"id": "ball", "shape": "round", "width_m": "2 ft"}),
    ("accessory", {"id": "snoot", "kind": "snoot", "fits": "bare"}),
    ("panel", {"id": "foil", "width_m": "1", "height_m": "2", "reflectance": "0,9"}),
    ("cloth", {"id": "silk", "loss_stops": "0.5 stops"}),
    ("bag", {"id": "B99", "mass_kg": "15 lb"}),
    ("lens", {"id": "135", "focal_mm": "135", "f_min": "f/2", "f_max": "16"}),
    ("measured", {"head": "A", "power": "1/4", "distance_m": "5 ft", "reads_f": "5.6"}),
])  # fmt: skip
def test_everything_of_a_list_can_be_written_new(desk: FormEditor, kind: str, texts: dict[str, str]) -> None:
    before = dict(desk.editor.texts)
    desk.pick(next(thing for thing in desk.things if thing.kind == kind))
    desk.begin()
    done = ""
    for key, text in texts.items():
        if desk.draft is None:  # whole with its id alone: the rest is written into it
            break
        with suppress(NotEdited):  # whole, and still in need of a size
            done = fill(desk, **{key: text})
    assert done.startswith("saved: new")
    assert desk.thing.kind == kind
    assert desk.thing.path is not None
    assert len([t for t in desk.things if t.kind == kind]) > 0
    assert desk.plan == read_day(desk.editor.folder)
    desk.undo()
    assert dict(desk.editor.texts) == before


def test_a_draft_stays_while_another_thing_is_looked_at(desk: FormEditor) -> None:
    pick(desk, "S1")
    desk.begin()
    assert fill(desk, id="S9") == ""
    with pytest.raises(NotEdited, match="at most 12"):
        desk.attempt(next(each for each in desk.fields if each.key == "legs"), 99)
    assert desk.plan == read_day(DEMO)
    pick(desk, "S1")
    assert desk.drafting is None
    pick(desk, "new stand (draft)")
    assert desk.drafting is not None
    assert desk.drafting.missing == ["foot_radius_m", "mass_kg", "load_max_kg", "height_min_m", "height_max_m"]
    desk.drop_draft()
    assert "new stand (draft)" not in [thing.title for thing in desk.things]


def test_a_light_goes_on_the_first_stand_that_carries_it(desk: FormEditor) -> None:
    pick(desk, "keeper-window")
    before = dict(desk.editor.texts)
    place = {"side": "right", "angle_deg": 20.0, "distance_m": 2.0, "height_m": 2.0}
    light = {"head": "D", "role": "fill", "under_key_stops": 2.0, **place}
    tables = [{**light, "stand": stand} for stand in ("low", "roller", "boom")]
    plan, path = desk.try_part("light", tables, {})
    assert dict(desk.editor.texts) == before
    assert desk.add_part("light", tables, {}, lambda _: {("light", "D", "bags"): ["B9"]}) == path == ("light", "D")
    added = desk.plan.setups["keeper-window"].light["D"]
    assert plan.setups["keeper-window"].light["D"].stand == added.stand == "roller"  # the low stand is too low
    assert added.bags == ("B9",)
    assert "keeper-window" in desk.plan.solved
    desk.undo()
    assert dict(desk.editor.texts) == before
    with pytest.raises(NotEdited, match="over the most"):
        desk.add_part("light", tables[:1], {}, lambda _: {})


def test_moves_are_tried_at_once_and_written_as_one_edit(desk: FormEditor) -> None:
    pick(desk, "widow-answer")  # its lights are those of widow-letter
    before = dict(desk.editor.texts)
    for angle in (50.0, 55.0):
        desk.move({("light", "A", "angle_deg"): angle}, "A moved")
    assert desk.plan.setups["widow-answer"].light["A"].angle_deg == 55
    assert dict(desk.editor.texts) == before
    assert desk.settle() == "A moved"
    assert desk.plan == read_day(desk.editor.folder)
    assert desk.plan.setups["widow-letter"] == read_day(DEMO).setups["widow-letter"]
    with pytest.raises(NotEdited, match="tape"):
        desk.move({("light", "A", "height_m"): 9.0}, "A moved")
    assert desk.settle() == ""
    assert desk.undo() == "undone: A moved"
    assert dict(desk.editor.texts) == before


def test_a_cloth_with_a_size_is_hung_in_a_setup(desk: FormEditor) -> None:
    pick(desk, "widow-letter")
    tables = [{"cloth": "voile", "side": "left", "angle_deg": 120.0, "distance_m": 2.0, "hem_m": 0.1}]
    assert desk.add_part("hang", tables, {}, lambda _: {}) == ("hang", "voile")
    assert desk.plan.setups["widow-letter"].hung["voile"].hem_m == 0.1
    assert field(desk, "hang", "voile", "held_by").choices == tuple(stand.id for stand in desk.plan.kit.stands)


def test_a_part_is_deleted_and_moved(desk: FormEditor) -> None:
    pick(desk, "captain-deck")
    heads = [light.head for light in desk.plan.setups["captain-deck"].lights]
    desk.reorder_part(("light", heads[0]), 1)
    moved = [light.head for light in desk.plan.setups["captain-deck"].lights]
    assert moved == [heads[1], heads[0], *heads[2:]]
    pick(desk, "the day")
    desk.remove_part(("rate",))
    assert desk.plan.day.rate is None
    assert desk.undo().startswith("undone: the day rate")


def test_what_must_be_there_cannot_be_cleared(desk: FormEditor) -> None:
    pick(desk, "S1")
    with pytest.raises(NotEdited, match="mass is required"):
        desk.take(field(desk, "stand", "S1", "mass_kg"), None)
    desk.take(field(desk, "stand", "S1", "name"), None)
    assert desk.plan.kit.stand["S1"].name == ""
    with pytest.raises(NotEdited, match="there is one camera"):
        pick(desk, "camera")
        desk.copy("x")


def test_an_inherited_list_can_be_emptied(desk: FormEditor) -> None:
    pick(desk, "widow-answer")
    line = field(desk, "place_panel", "vee", "bags")
    assert line.source == "widow-letter"
    desk.take(line, [])
    assert desk.plan.setups["widow-answer"].panel["vee"].bags == ()
    assert desk.plan.setups["widow-letter"].panel["vee"].bags == ("B8",)


def test_an_id_is_never_deleted(desk: FormEditor) -> None:
    before = read_day(desk.editor.folder)
    for title in ("keeper-window", "keeper-lamp"):
        pick(desk, title)
        with pytest.raises(NotEdited):
            desk.take(field(desk, "id"), None)
    assert read_day(desk.editor.folder) == before


# -- the outline -------------------------------------------------------------------------------


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
    assert setups[-1].title == "unused: apart"


def test_a_section_that_is_not_written_has_a_form_all_the_same() -> None:
    kit = tomllib.loads(TEXTS["kit.toml"])
    texts = TEXTS | {"kit.toml": tomli_w.dumps({key: value for key, value in kit.items() if key != "camera"})}
    camera = next(each for each in outline(texts) if each.kind == "camera")
    found = {field.key: field for field in form_of(texts, camera)}
    assert found["sync"].value == "1/200"
    assert {field.origin for field in found.values()} == {"default"}


def test_bare_is_a_modifier_without_an_entry() -> None:
    assert ids_of(TEXTS)["modifier"][0] == "bare"
    assert ids_of(TEXTS)["look"][0] == "keeper"


@pytest.mark.parametrize(("thing", "at", "table"), [
    ("A", (), {"head": "A"}),
    ("octa-90", (), {"modifier": "octa-90"}),
    ("S1", (), {}),
    ("keeper-window", ("frames",), {}),
    (
        "keeper-window",
        ("light", "B", "role"),
        {"head": "B", "modifier": "bare", "accessories": ["gobo-window"], "power": "1/8", "distance_m": 2.0,
         "iso": 100.0},
    ),
])  # fmt: skip
def test_a_reading_begins_with_what_is_picked(desk, thing, at, table):
    pick(desk, thing)
    desk.begin_reading(at)
    assert desk.draft is not None
    assert desk.draft.table == table
    assert desk.drafting is desk.draft
