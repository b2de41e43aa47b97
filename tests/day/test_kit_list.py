"""The kit to pack and to count home: everything once, alike things together."""

from runbook.day.kit_list import KINDS, items_on_floor, kit_count, kit_list
from tests.day.days import begun, demo, make_ready, short


def test_everything_in_the_kit_is_packed_once() -> None:
    kit = demo().kit
    packed = kit_list(demo())
    things = [(line.kind, item) for line in packed for item in line.ids]
    assert len(things) == len(set(things))
    for kind in ("head", "accessory", "stand", "panel", "cloth", "bag", "lens"):
        assert {item for of, item in things if of == kind} == {*getattr(kit, kind)}
    flats = next(line for line in packed if "flat-1" in line.ids)  # alike things share a line
    assert (flats.what, flats.ids) == ("V-flat, white side", ("flat-1", "flat-2", "flat-3"))
    assert ("counterweight", "boom") in things
    assert [item for of, item in things if of == "battery"] == ["A-spare-1", "C-spare-1"]


def test_what_the_day_does_not_use_comes_last_of_its_kind() -> None:
    """Only the first setup: of twelve bags three are used, of the lenses one."""
    packed = kit_list(short("keeper-window"))
    used = {(line.kind, item) for line in packed if line.used for item in line.ids}
    for kind, ids in {"bag": {"B1", "B2", "B7"}, "lens": {"85"}, "head": {"A", "B"}, "battery": {"A-spare-1"}}.items():
        assert {item for of, item in used if of == kind} == ids
    places = [(KINDS.index(line.kind), not line.used) for line in packed]
    assert places == sorted(places)


def test_the_count_names_what_is_missing_and_what_is_not_counted() -> None:
    session = begun()
    before = kit_count(session.plan, session.entries)
    assert before.missing == ()
    assert ("bag", "B3") in before.uncounted
    session.count_kit("bag", ("B1", "B2"), ("B3",))
    session.count_kit("head", ("A", "B", "C", "D"))
    after = kit_count(session.plan, session.entries)
    assert after.missing == (("bag", "B3"),)
    assert len(after.uncounted) == len(before.uncounted) - 7
    session.count_kit("bag", ("B3",))  # it was in the van
    assert kit_count(session.plan, session.entries).missing == ()
    session.undo()
    assert kit_count(session.plan, session.entries).missing == (("bag", "B3"),)


def test_everything_out_of_its_case_is_on_the_set() -> None:
    session = begun()
    assert items_on_floor(session.state.floor) == set()
    on_set = []
    for setup_id in ("keeper-lamp", "seamstress-veil", "widow-letter"):
        make_ready(session, setup_id)
        items = items_on_floor(session.state.floor)
        on_set.append({kind: {item for of, item in items if of == kind} for kind in KINDS})
    lamp, veil, letter = on_set
    assert {kind for kind in KINDS if not lamp[kind]} == {"battery", "panel", "cloth"}
    assert lamp["counterweight"] == {"boom"} < lamp["stand"]
    assert (lamp["lens"], veil["cloth"], letter["panel"]) == ({"85"}, {"voile"}, {"vee"})
