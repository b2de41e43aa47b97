from __future__ import annotations

from itertools import product

from hypothesis import given, settings
from hypothesis import strategies as st

from runbook.stand.bagshare import share_bags

TENTHS = st.integers(1, 150).map(lambda tenth: tenth / 10)
KINDS = st.sampled_from([4.5, 6.8, 7.0, 9.0, 11.3])


def by_trying_all(needs: list[float], bags: list[float]) -> float:
    best = sum(needs)
    for places in product(range(len(needs)), repeat=len(bags)):
        held = [0.0] * len(needs)
        for place, bag in zip(places, bags, strict=True):
            held[place] += bag
        best = min(best, sum(max(0.0, n - h) for n, h in zip(needs, held, strict=True)))
    return best


@settings(max_examples=40)
@given(st.lists(TENTHS, min_size=1, max_size=4), st.lists(TENTHS | KINDS, max_size=6))
def test_no_sharing_at_all_leaves_less(needs: list[float], bags: list[float]) -> None:
    sharing = share_bags(needs, bags)
    assert sharing.proven
    assert abs(sharing.total_short_kg - by_trying_all(needs, bags)) < 1e-6


@settings(max_examples=40)
@given(
    st.lists(st.integers(30, 200), min_size=6, max_size=10),
    st.lists(KINDS, min_size=10, max_size=20),
)
def test_what_is_not_proven_is_never_better_than_what_is(
    needs: list[int], bags: list[float]
) -> None:
    tenths = [need / 10 for need in needs]
    whole, quick = share_bags(tenths, bags), share_bags(tenths, bags, allowance=0)
    assert whole.proven
    assert whole.total_short_kg <= quick.total_short_kg + 1e-9
    assert whole.total_short_kg >= max(0.0, sum(tenths) - sum(bags)) - 1e-6


@settings(max_examples=20)
@given(st.data())
def test_ten_stands_and_twenty_bags_all_different_that_nearly_match(data: st.DataObject) -> None:
    bags = data.draw(st.lists(st.integers(30, 120), min_size=20, max_size=20, unique=True))
    parts = data.draw(st.lists(st.integers(1, 10), min_size=10, max_size=10))
    ratio = data.draw(st.sampled_from([0.6, 0.8, 0.9, 0.94, 1.06, 1.1, 1.5, 2.5]))
    needs = [part / sum(parts) * sum(bags) / 10 * ratio for part in parts]
    sharing = share_bags(needs, [bag / 10 for bag in bags])
    assert sharing.proven


@given(st.lists(TENTHS, max_size=8), st.lists(TENTHS | KINDS, max_size=12))
def test_a_bag_hangs_once_and_none_is_needless(needs: list[float], bags: list[float]) -> None:
    sharing = share_bags(needs, bags, allowance=2000)
    used = [n for mine in sharing.given for n in mine]
    assert len(used) == len(set(used))
    assert len(sharing.given) == len(needs)
    for need, mine, short in zip(needs, sharing.given, sharing.short_kg, strict=True):
        held = sum(bags[n] for n in mine)
        assert abs(short - max(0.0, need - held)) < 1e-9
        assert all(held - bags[n] < need - 1e-9 for n in mine)


def test_looking_on_finds_what_the_first_look_misses() -> None:
    needs = [12.0, 23.3, 8.0, 6.1, 24.9, 11.9]
    bags = [4.5] * 2 + [6.8] * 4 + [7.0] * 2 + [9.0] * 4
    sharing, quick = share_bags(needs, bags), share_bags(needs, bags, allowance=0)
    assert (sharing.proven, quick.proven) == (True, False)
    assert round(sharing.total_short_kg, 1) == 1.7
    assert round(quick.total_short_kg, 1) == 2.2


def test_needs_of_nothing_get_nothing() -> None:
    assert share_bags([0.0, -2.0], [7.0]).given == ((), ())
    assert share_bags([], [7.0]).total_short_kg == 0.0
