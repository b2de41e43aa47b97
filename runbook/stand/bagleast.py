"""The least that sharing bags can leave missing, found and proven. Tenths of a kilogram."""

from __future__ import annotations

from math import ceil
from typing import Final

from runbook.plan.tuples import NamedTuple
from runbook.stand.bagprices import ZERO, priced
from runbook.stand.bagstock import Stock, TooMuch, missing
from runbook.stand.bagwalk import Walk

_FIRST_WALK: Final = 4_000  # loads looked at without prices
_ENOUGH: Final = 500_000  # in all, where nobody says how many


class _Known(NamedTuple):
    """The best sharing so far, what it leaves missing, and the least that is not ruled out."""

    loads: list[list[int]]
    short: int
    certain: int

    @property
    def proven(self) -> bool:
        return self.certain >= self.short


def least(
    needs: list[int],
    bags: list[int],
    loads: list[list[int]],
    certain: int,
    allowance: int | None = None,
) -> tuple[list[list[int]], bool]:
    """For each stand the masses on it, and whether it is proven that no sharing leaves less.

    ``loads`` is a sharing to better, ``certain`` what is missing in any. Every need, and every
    bag, weighs something. With an ``allowance`` so many loads are looked at, and no more.
    """
    known = _Known(loads, missing(needs, loads), certain)
    if known.proven:
        return loads, True
    stock = Stock(bags)
    walk = Walk(needs, stock)
    looks = _ENOUGH if allowance is None else allowance
    known = _walked(needs, walk, min(looks, _FIRST_WALK), known)
    if looks > _FIRST_WALK and not known.proven:
        known = _priced(needs, walk, known)
        known = _walked(needs, walk, looks - _FIRST_WALK, known)
    return known.loads, known.proven


def _walked(needs: list[int], walk: Walk, allowance: int, known: _Known) -> _Known:
    """Up from the least that could be, in longer and longer strides, until there is a sharing.

    From there down until there is none.
    """
    best, short, certain = known
    walk.left = allowance
    stride, up = 1, True
    while certain < short:
        aim = min(certain + stride, short) - 1 if up else short - 1
        try:
            found = walk.with_missing(aim)
        except TooMuch:
            break
        if found is None:
            certain = aim + 1
            stride *= 2
        else:
            best, short, up = found, missing(needs, found), False
    return _Known(best, short, certain)


def _priced(needs: list[int], walk: Walk, known: _Known) -> _Known:
    """What the prices of the bags prove, by which the walk then goes."""
    best, short, certain = known
    try:
        found = priced(needs, walk.stock, [walk.stock.load_of(load) for load in best], short - 1)
    except TooMuch:
        return known
    walk.go_by(found)
    return _Known(best, short, min(short, max(certain, ceil(found.bound - ZERO))))
