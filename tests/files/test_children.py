"""What setups that are like another lose by a change of it."""

from __future__ import annotations

from runbook.files.editor import losses, put, remove
from tests.days import KIT

DAY = 'name = "d"\norder = ["base", "child"]\n'
LIGHT = '[[light]]\nhead = "{}"\nrole = "{}"\nstand = "S1"\n{}'


def files(base: str, child: str) -> dict[str, str]:
    return {"day.toml": DAY, "kit.toml": KIT, "base.toml": base, "child.toml": child}


def test_a_child_whose_own_light_hides_the_new_head_loses_its_key() -> None:
    base = LIGHT.format("A", "key", "")
    child = 'like = "base"\n' + LIGHT.format("B", "fill", "")
    before = files(base, child)
    change = put(before, "base.toml", ("light", "A", "head"), "B")
    assert losses(before, change, "base") == ("child loses its key (A)",)
    other = put(before, "base.toml", ("light", "A", "head"), "C")
    assert losses(before, other, "base") == ()


def test_a_child_that_drops_the_new_head_loses_its_key() -> None:
    before = files(LIGHT.format("A", "key", ""), 'like = "base"\ndrop = ["B"]\n')
    change = put(before, "base.toml", ("light", "A", "head"), "B")
    assert losses(before, change, "base") == ("child loses its key (A)",)


def test_a_value_or_a_part_that_goes_is_named_for_every_child_that_has_it() -> None:
    base = LIGHT.format("A", "key", 'aim = "face"\nbags = ["B1"]\n')
    before = files(base, 'like = "base"\n') | {
        "grandchild.toml": 'like = "child"\n[[light]]\nhead = "A"\nbags = []\n',
        "alone.toml": base,
    }
    bags = put(before, "base.toml", ("light", "A", "bags"), [])
    assert losses(before, bags, "base") == ("child loses B1 of A",)
    gone = remove(before, "base.toml", ("light", "A"))
    assert losses(before, gone, "base") == ("child loses its key (A)", "grandchild loses its key (A)")


def test_one_way_to_ask_for_a_power_takes_the_others_place() -> None:
    before = files(LIGHT.format("A", "key", "aim_reading_f = 4.0\n"), 'like = "base"\n')
    change = put(before, "base.toml", ("light", "A", "under_key_stops"), 2.0)
    assert losses(before, change, "base") == ()
