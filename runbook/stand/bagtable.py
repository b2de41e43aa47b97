"""What loads of each mass are worth at prices of the kinds of bags. Masses in tenths of a kg."""

from __future__ import annotations

from math import inf

from runbook.stand.bagstock import Stock


class Table:
    """For each mass up to ``most`` what the cheapest load is worth; infinity where there is none.

    Row after row: with none of the bags, with the lightest, and on to all of them.
    """

    def __init__(self, stock: Stock, prices: list[float], most: int) -> None:
        self.bags = [
            (kind, mass)
            for kind, (mass, count) in enumerate(zip(stock.kinds, stock.counts, strict=True))
            for _ in range(count)
        ]
        row = [0.0] + [inf] * most
        self.rows = [row]
        for kind, mass in self.bags:
            price = prices[kind]
            with_it = [worth + price for worth in row]
            row = row[:mass] + [
                a if a <= b else b
                for a, b in zip(row[mass:], with_it)  # noqa: B905 hot
            ]
            self.rows.append(row)

    def costs(self, need: int, low: int, high: int) -> list[float]:
        """What a stand lacks with each mass from ``low`` to ``high``, and its load's worth."""
        row = self.rows[-1]
        lacking = range(need - low, 0, -1)
        under = [worth + lack for worth, lack in zip(row[low:need], lacking)]  # noqa: B905 hot
        return under + row[need : high + 1]

    def cheapest(self, mass: int) -> tuple[int, ...]:
        """The kinds in the load of such a mass that is worth least, the lightest first."""
        kinds = []
        for at in range(len(self.bags) - 1, -1, -1):
            if self.rows[at][mass] > self.rows[at + 1][mass]:
                kind, weighs = self.bags[at]
                kinds.append(kind)
                mass -= weighs
        return tuple(reversed(kinds))
