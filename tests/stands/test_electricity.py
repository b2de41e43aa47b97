import pytest
from hypothesis import given

from runbook.model.power import OFF
from runbook.stands.electricity import circuit_load_w, flash_problems, flashes_in_a_second
from tests.stands.rigs import a_head, a_light, a_setup, numbers


@pytest.mark.parametrize(("mains", "load"), [(False, (0, 0)), (True, (500, 200 / (1.8 * 0.8)))])
def test_lamps_last_and_recycling_passes_and_batteries_load_nothing(mains: bool, load: tuple[float, float]) -> None:
    head = a_head(mains=mains, modelling_w=250)
    assert circuit_load_w([(head, 1.0), (head, 0.0)]) == pytest.approx(load)


@given(numbers(0.5, 12))
def test_the_rate_agrees_with_the_times(rate: float) -> None:
    assert flashes_in_a_second(rate) == sum(n / rate < 1 - 1e-9 for n in range(40))


@pytest.mark.parametrize(
    ("rate", "code"),
    [(3.0, None), (3.5, "flashes-fast"), (4.0, "flashes-fast"), (4.5, "flashes-very-fast"), (5.0, "flashes-very-fast")],
)
def test_a_burst_over_a_published_limit_warns(rate: float, code: str | None) -> None:
    problems = [*flash_problems(a_setup(a_light(), burst_per_s=rate))]
    assert [(problem.level, problem.code) for problem in problems] == ([("warn", code)] if code else [])
    assert not [*flash_problems(a_setup(a_light(power=OFF), burst_per_s=rate))]
