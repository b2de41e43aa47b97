from __future__ import annotations

import pytest

from runbook.stands.mains import breaker_a, circuit_load
from tests.stands.rigs import a_head


def test_batteries_do_not_load_the_mains() -> None:
    assert circuit_load([(a_head(modelling_w=10), 1.0)], 230).needs_a == 0.0


def test_lamps_last_and_recycling_passes() -> None:
    head = a_head(mains=True, modelling_w=250)
    load = circuit_load([(head, 1.0), (head, 0.0)], 230)
    assert load.lasting_w == 500
    assert load.passing_w == pytest.approx(200 / (1.8 * 0.8))
    assert load.needs_a == pytest.approx(breaker_a(500 / 230, load.passing_w / 230))
