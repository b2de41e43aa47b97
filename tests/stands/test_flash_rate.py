from __future__ import annotations

import pytest
from hypothesis import given

from runbook.model.power import OFF
from runbook.stands.flash_rate import flash_problems, flashes_in_a_second
from tests.stands.rigs import a_light, a_setup, numbers


@given(numbers(0.5, 12))
def test_the_rate_agrees_with_the_times(rate: float) -> None:
    times = [n / rate for n in range(40)]
    assert flashes_in_a_second(rate) == sum(at < 1 - 1e-9 for at in times)


@pytest.mark.parametrize(
    ("rate", "code"),
    [(3.0, None), (3.5, "flashes-fast"), (4.0, "flashes-fast"), (4.5, "flashes-very-fast"), (5.0, "flashes-very-fast")],
)
def test_a_burst_over_a_limit_warns(rate: float, code: str | None) -> None:
    codes = [problem.code for problem in flash_problems(a_setup(a_light(), burst_per_s=rate))]
    assert codes == ([code] if code else [])
    assert not [*flash_problems(a_setup(a_light(power=OFF), burst_per_s=rate))]


def test_a_burst_in_words() -> None:
    (problem,) = flash_problems(a_setup(a_light(), burst_per_s=4.0))
    assert problem.what == "4 flashes in a second, more than the 3 allowed on screens (borrowed limits)"
    assert problem.do == "slow the burst, or ask everyone present about photosensitive epilepsy first"
