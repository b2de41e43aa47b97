"""Small sharings of bags, and the least they leave missing, found by trying everything."""

from __future__ import annotations

from itertools import product
from typing import TypeVar

from hypothesis import strategies as st

NEED = st.integers(1, 60)
ALIKE = st.tuples(NEED, st.integers(2, 3)).map(lambda pair: [pair[0]] * pair[1])
NEEDS = st.lists(NEED, min_size=1, max_size=3) | ALIKE
BAGS = st.lists(st.integers(5, 40) | st.sampled_from([7, 12, 20]), min_size=1, max_size=6)


Mass = TypeVar("Mass", int, float)


def least_missing(needs: list[Mass], bags: list[Mass]) -> Mass:
    """What the best of all sharings leaves missing; whole numbers in, whole numbers out."""
    best = sum(needs)
    for places in product(range(len(needs)), repeat=len(bags)):
        lacks = list(needs)
        for place, bag in zip(places, bags, strict=True):
            lacks[place] -= bag
        best = min(best, sum(lack for lack in lacks if lack > 0))
    return best
