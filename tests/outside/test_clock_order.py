"""The order of the setups against published instances."""

from __future__ import annotations

from runbook.clock.order import Costs, Rules, least_changing

# ESC07 of TSPLIB 95 (G. Reinelt, ORSA Journal on Computing 3, 1991; data N. Ascheuer, L. Escudero):
# the path goes from the first node to the last; -1 means that the column must come before the row.
# Optimum 2125, table 3 of the collection's document. Seen, both.
_ESC07 = """
    0    0    0    0    0    0    0    0 1000000
   -1    0  100  200   75    0  300  100    0
   -1  400    0  500  325  400  600    0    0
   -1  700  800    0  550  700  900  800    0
   -1   -1  250  225    0  275  525  250    0
   -1   -1  100  200   -1    0   -1   -1    0
   -1   -1 1100 1200 1075 1000    0 1100    0
   -1   -1    0  500  325  400  600    0    0
   -1   -1   -1   -1   -1   -1   -1   -1    0
"""

# br17 of TSPLIB 95 (data Repetto): a closed tour, optimum 39, table 2 of the same document. Seen.
_BR17 = """
0 3 5 48 48 8 8 5 5 3 3 0 3 5 8 8 5
3 0 3 48 48 8 8 5 5 0 0 3 0 3 8 8 5
5 3 0 72 72 48 48 24 24 3 3 5 3 0 48 48 24
48 48 74 0 0 6 6 12 12 48 48 48 48 74 6 6 12
48 48 74 0 0 6 6 12 12 48 48 48 48 74 6 6 12
8 8 50 6 6 0 0 8 8 8 8 8 8 50 0 0 8
8 8 50 6 6 0 0 8 8 8 8 8 8 50 0 0 8
5 5 26 12 12 8 8 0 0 5 5 5 5 26 8 8 0
5 5 26 12 12 8 8 0 0 5 5 5 5 26 8 8 0
3 0 3 48 48 8 8 5 5 0 0 3 0 3 8 8 5
3 0 3 48 48 8 8 5 5 0 0 3 0 3 8 8 5
0 3 5 48 48 8 8 5 5 3 3 0 3 5 8 8 5
3 0 3 48 48 8 8 5 5 0 0 3 0 3 8 8 5
5 3 0 72 72 48 48 24 24 3 3 5 3 0 48 48 24
8 8 50 6 6 0 0 8 8 8 8 8 8 50 0 0 8
8 8 50 6 6 0 0 8 8 8 8 8 8 50 0 0 8
5 5 26 12 12 8 8 0 0 5 5 5 5 26 8 8 0
"""


def _rows(text: str) -> list[list[int]]:
    return [[int(word) for word in line.split()] for line in text.strip().splitlines()]


def test_a_published_path_with_precedences():
    rows = _rows(_ESC07)
    inner = range(1, 8)
    between = [[max(rows[i][j], 0) for j in inner] for i in inner]
    before = [(j - 1, i - 1) for i in inner for j in inner if rows[i][j] < 0]
    costs = Costs([rows[0][j] for j in inner], between, [rows[i][8] for i in inner])
    found = least_changing(costs, Rules(len(costs.start), before))
    assert found.changing_s == 2125
    assert found.proven


def test_a_published_tour_is_a_path_from_a_setup_back_to_it():
    rows = _rows(_BR17)
    costs = Costs(rows[0][1:], [row[1:] for row in rows[1:]], [row[0] for row in rows[1:]])
    found = least_changing(costs)
    # sixteen setups: past the range where a proof is promised, so only the tour itself is checked
    assert found.changing_s == 39
    assert found.bound_s <= 39
