"""Changes worked out on a day's texts: what a setup inherits and loses, who refers to whom, the order."""

import re
import tomllib
from dataclasses import replace

import pytest

from runbook.files import editor as edits
from runbook.files.editor import ordered
from runbook.files.paths import DAY_FILE as DAY
from runbook.files.paths import KIT_FILE as KIT
from runbook.files.toml_edit import NotEdited
from runbook.model.setup import Subject
from tests.days import FILES
from tests.files.demo import TEXTS, after, plan_of

ANSWER = "widow-answer.toml"  # like widow-letter


def test_a_setup_that_is_like_another_gets_only_what_differs() -> None:
    power = ("light", "A", "power")
    texts = after(edits.put(TEXTS, ANSWER, power, "1/8"))
    assert tomllib.loads(texts[ANSWER])["light"] == [{"head": "A", "power": "1/8"}]
    assert texts[ANSWER].startswith(TEXTS[ANSWER])
    assert str(plan_of(texts).setups["widow-answer"].light["A"].power) == "1/8"
    # back to what it inherits: the key goes again
    back = after(edits.put(texts, ANSWER, power, "1/32+0.7"), texts)
    assert tomllib.loads(back[ANSWER])["light"] == [{"head": "A"}]
    assert plan_of(back) == plan_of(TEXTS)
    assert edits.put(TEXTS, ANSWER, power, "1/32+0.7") == {}


def test_what_is_inherited_is_cleared_where_it_is_written() -> None:
    with pytest.raises(NotEdited, match="inherited from widow-letter"):
        edits.clear(TEXTS, ANSWER, ("light", "A", "aim_reading_f"))
    with pytest.raises(NotEdited, match="inherited; copy it"):
        edits.put(TEXTS, ANSWER, ("light", "A", "head"), "B")


def test_of_two_ways_to_ask_for_a_reading_one_replaces_the_other() -> None:
    texts = after(edits.put(TEXTS, "widow-letter.toml", ("light", "A", "under_key_stops"), 1.0))
    light = tomllib.loads(texts["widow-letter.toml"])["light"][0]
    assert light["under_key_stops"] == 1.0
    assert "aim_reading_f" not in light


def test_where_the_face_points_is_by_a_head_or_by_an_angle() -> None:
    turned = after(edits.put(TEXTS, "widow-letter.toml", ("subject", "facing_deg"), 20.0))
    assert plan_of(turned).setups["widow-letter"].subject == Subject(1.25, "left", 20.0)
    looking = after(edits.put(TEXTS, "keeper-window.toml", ("subject", "looks_at"), "A"))
    assert plan_of(looking).setups["keeper-window"].subject == Subject(1.25, looks_at="A")


def test_a_light_that_is_inherited_is_dropped() -> None:
    texts = after(edits.remove(TEXTS, ANSWER, ("light", "A")))
    assert tomllib.loads(texts[ANSWER])["drop"] == ["A"]
    texts = after(edits.remove(TEXTS, ANSWER, ("place_panel", "card")))
    assert "place_panel" not in tomllib.loads(texts[ANSWER])
    assert set(plan_of(texts).setups["widow-answer"].panel) == {"vee"}


def test_a_new_name_is_followed_wherever_it_is_written() -> None:
    for kind, old in (("stand", "S1"), ("head", "A"), ("panel", "vee"), ("modifier", "octa-90"),
                      ("bag", "B1"), ("lens", "85"), ("accessory", "grid-octa"), ("look", "keeper"),
                      ("crew", "first"), ("cloth", "voile")):  # fmt: skip
        texts = after(edits.rename(TEXTS, kind, old, "Other"))
        quoted = re.compile(rf'"{re.escape(old)}"')
        assert len(quoted.findall("".join(TEXTS.values()))) > 0
        assert not quoted.findall("".join(texts.values()))
        back = after(edits.rename(texts, kind, "Other", old), texts)
        assert back == TEXTS


@pytest.mark.parametrize(("kind", "old"), [("stand", "boom"), ("crew", "first")])
def test_what_holds_a_panel_follows_a_new_name(kind: str, old: str) -> None:
    held = FILES["window.toml"].replace('face_to = "A"', f'held_by = "{old}"')
    change = edits.rename(FILES | {"window.toml": held}, kind, old, "Other")
    assert 'held_by = "Other"' in str(change["window.toml"])


def test_a_setup_takes_its_new_name_everywhere() -> None:
    change = edits.rename(TEXTS, "setup", "widow-letter", "letter")
    texts = after(change)
    assert change["widow-letter.toml"] is None
    assert texts["letter.toml"] == TEXTS["widow-letter.toml"]
    assert tomllib.loads(texts[ANSWER])["like"] == "letter"
    assert "letter" in plan_of(texts).day.order
    for name in ("keeper-lamp", "Keeper-Lamp", "kit", "a b", ""):
        with pytest.raises(NotEdited):
            edits.rename(TEXTS, "setup", "widow-letter", name)


def test_what_is_in_use_is_not_deleted() -> None:
    with pytest.raises(NotEdited, match=r"S1 is used by .*keeper-window.*; delete it there first"):
        edits.remove(TEXTS, KIT, ("stand", "S1"))
    with pytest.raises(NotEdited, match="widow-letter is named in widow-answer"):
        edits.remove_setup(TEXTS, "widow-letter")
    texts = after(edits.remove_setup(TEXTS, "widow-answer"))
    assert "widow-answer" not in plan_of(texts).day.order
    texts = after(edits.remove(TEXTS, DAY, ("break", "meal")))
    assert plan_of(texts).day.breaks == ()


def test_setups_move_in_the_order_and_come_after_the_one_they_start_from() -> None:
    order = plan_of(TEXTS).day.order
    texts = after(edits.reorder(TEXTS, order[0], 1))
    assert plan_of(texts).day.order == (order[1], order[0], *order[2:])
    with pytest.raises(NotEdited, match="first already"):
        edits.reorder(TEXTS, order[0], -1)
    texts = after(edits.add_setup(TEXTS, "new", f'like = "{order[0]}"\n', order[0]))
    assert plan_of(texts).day.order == (order[0], "new", *order[1:])
    with pytest.raises(NotEdited, match="already exists"):
        edits.add_setup(TEXTS, "Kit", "")


def test_things_are_copied_and_moved() -> None:
    texts = after(edits.copy(TEXTS, KIT, ("stand", "S1"), "S9"))
    kit = plan_of(texts).kit
    assert kit.stand["S9"] == replace(kit.stand["S1"], id="S9")
    texts = after(edits.move(TEXTS, KIT, ("stand", "S1"), 1))
    assert [stand.id for stand in plan_of(texts).kit.stands][:2] == ["S2", "S1"]
    with pytest.raises(NotEdited, match="is inherited; move it in the setup"):
        edits.move(TEXTS, ANSWER, ("light", "A"), 1)
    with pytest.raises(NotEdited, match="first already"):
        edits.move(TEXTS, KIT, ("stand", "S1"), -1)
    texts = after(edits.copy(TEXTS, KIT, ("measured", 0), ""))
    assert len(plan_of(texts).kit.measured) == len(plan_of(TEXTS).kit.measured) + 1


def test_a_new_order_keeps_comments_with_their_setups_and_changes_nothing_else() -> None:
    listed = (
        'name = "x"  # order = [\n'
        'order = [\n    "one",    # the first ] of them\n    "two",\n'
        "    'three',  # \"quoted\"\n]   # all\n"
        'units = "metric" # order\n'
    )
    assert ordered({DAY: listed}, ["three", "one", "two"]) == {
        DAY: 'name = "x"  # order = [\n'
        "order = [\n    'three',  # \"quoted\"\n"
        '    "one",    # the first ] of them\n    "two",\n]   # all\n'
        'units = "metric" # order\n'
    }
    with pytest.raises(NotEdited, match="setups of the day have changed"):
        ordered({DAY: listed}, ["one", "two"])


def test_before_is_written_even_where_the_setup_it_is_like_has_the_same() -> None:
    before = ["captain-deck"]
    texts = after(edits.put(TEXTS, "widow-letter.toml", ("before",), before))
    texts = after(edits.put(texts, ANSWER, ("before",), before), texts)
    setups = plan_of(texts).setups
    assert setups["widow-letter"].before == setups["widow-answer"].before == ("captain-deck",)


# -- what setups like another lose -------------------------------------------------------------

LIGHT = '[[light]]\nhead = "{}"\nrole = "{}"\nstand = "S1"\n{}'


def files(base: str, child: str) -> dict[str, str]:
    return {
        "day.toml": 'name = "d"\norder = ["base", "child"]\n',
        "kit.toml": FILES["kit.toml"],
        "base.toml": base,
        "child.toml": child,
    }


@pytest.mark.parametrize(("more", "child", "key", "value", "lost"), [
    ("", LIGHT.format("B", "fill", ""), "head", "B", ("child loses its key (A)",)),  # hidden by its own light
    ("", LIGHT.format("B", "fill", ""), "head", "C", ()),
    ("", 'drop = ["B"]\n', "head", "B", ("child loses its key (A)",)),
    # one way to ask for a power takes the other's place
    ("aim_reading_f = 4.0\n", "", "under_key_stops", 2.0, ()),
])  # fmt: skip
def test_what_a_child_loses_by_a_change_of_what_it_is_like(more, child, key, value, lost):
    before = files(LIGHT.format("A", "key", more), 'like = "base"\n' + child)
    change = edits.put(before, "base.toml", ("light", "A", key), value)
    assert edits.losses(before, change, "base") == lost


def test_a_value_or_a_part_that_goes_is_named_for_every_child_that_has_it() -> None:
    base = LIGHT.format("A", "key", 'aim = "face"\nbags = ["B1"]\n')
    before = files(base, 'like = "base"\n') | {
        "grandchild.toml": 'like = "child"\n[[light]]\nhead = "A"\nbags = []\n',
        "alone.toml": base,
    }
    bags = edits.put(before, "base.toml", ("light", "A", "bags"), [])
    assert edits.losses(before, bags, "base") == ("child loses B1 of A",)
    gone = edits.remove(before, "base.toml", ("light", "A"))
    assert edits.losses(before, gone, "base") == ("child loses its key (A)", "grandchild loses its key (A)")
