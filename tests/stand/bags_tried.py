"""Small sharings of bags, and the least they leave missing, found by trying everything."""

from __future__ import annotations

from itertools import product

from hypothesis import strategies as st

NEEDS = st.lists(st.integers(1, 60), min_size=1, max_size=3)
BAGS = st.lists(st.integers(5, 40) | st.sampled_from([7, 12, 20]), min_size=1, max_size=6)


def least_missing(needs: list[int], bags: list[int]) -> int:
    """What the best of all sharings leaves missing, whole numbers in and out."""
    return min(
        sum(
            max(0, need - sum(bag for bag, place in zip(bags, places, strict=True) if place == n))
            for n, need in enumerate(needs)
        )
        for places in product(range(len(needs) + 1), repeat=len(bags))
    )
