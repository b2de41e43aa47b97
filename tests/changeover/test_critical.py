"""The critical path and the slack around it."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from runbook.changeover.critical import critical_path


def test_the_longest_chain_has_no_slack():
    found = critical_path({1: 10, 2: 30, 3: 5}, {3: (1, 2)})
    assert found[2].slack_s == 0
    assert found[1].slack_s == 20
    assert (found[3].earliest_s, found[3].latest_s) == (30, 30)


def test_a_loop_is_named():
    with pytest.raises(ValueError, match=r"cycle.*2, 3"):
        critical_path({1: 1, 2: 1, 3: 1}, {2: (1, 3), 3: (2,)})


def test_nothing_to_do_has_no_path():
    assert critical_path({}, {}) == {}


@given(st.lists(st.tuples(st.integers(0, 60), st.sets(st.integers(0, 11))), max_size=12))
def test_starts_keep_the_order_and_some_chain_is_critical(rows):
    seconds = {n: length for n, (length, _) in enumerate(rows)}
    after = {n: tuple(p for p in before if p < n) for n, (_, before) in enumerate(rows)}
    found = critical_path(seconds, after)
    for n, before in after.items():
        for p in before:
            assert found[p].earliest_s + seconds[p] <= found[n].earliest_s
            assert found[p].latest_s + seconds[p] <= found[n].latest_s
    assert all(one.slack_s >= 0 for one in found.values())
    assert not rows or any(one.slack_s == 0 for one in found.values())
