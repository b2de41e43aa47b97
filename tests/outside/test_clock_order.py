"""The order of the setups against published instances."""

from runbook.clock.order import Costs, Rules, least_changing
from tests.outside.published import instance


def test_a_published_path_with_precedences() -> None:
    rows, inner = instance("esc07"), range(1, 8)
    between = [[max(rows[i][j], 0) for j in inner] for i in inner]
    before = [(j - 1, i - 1) for i in inner for j in inner if rows[i][j] < 0]
    costs = Costs([rows[0][j] for j in inner], between, [rows[i][8] for i in inner])
    answer = least_changing(costs, Rules(len(costs.start), before))
    assert answer.changing_s == 2125
    assert answer.proven


def test_a_published_tour_is_a_path_from_a_setup_back_to_it() -> None:
    rows = instance("br17")
    answer = least_changing(Costs(rows[0][1:], [row[1:] for row in rows[1:]], [row[0] for row in rows[1:]]))
    # sixteen setups: past the range where a proof is promised, so only the tour itself is checked
    assert answer.changing_s == 39
    assert answer.bound_s <= 39
