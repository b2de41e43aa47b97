"""A crowded day: six heads go up, and four of them change for the next setup."""

from dataclasses import replace
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory

from runbook.day.load_plan import read_day
from runbook.model.day import Crew, Plan
from tests.bench.big_day import write_big_day


@cache
def crowded(people: int = 6) -> Plan:
    with TemporaryDirectory() as folder:
        plan = read_day(write_big_day(Path(folder) / "day", setups=2, heads=6))
    first, second = plan.order
    second = replace(second, lights=(*second.lights[:4], *first.lights[4:]))
    crew = tuple(Crew(f"person-{n}", "A person of the crew") for n in range(people))
    return replace(plan, day=replace(plan.day, crew=crew), setups={first.id: first, second.id: second})
