"""What the benches share: things measured in turn, and figures printed against their bounds."""

import time
from collections.abc import Callable, Mapping
from statistics import median


def seconds(work: Callable[[], object], timer: Callable[[], float] = time.perf_counter) -> float:
    """Return how long a piece of work takes by a timer."""
    start = timer()
    work()
    return timer() - start


def medians(measured: Mapping[str, Callable[[], float]], runs: int) -> dict[str, float]:
    """Measure everything in turn, so that a busy moment meets all alike; the first round does not count."""
    rounds = [{name: measure() for name, measure in measured.items()} for _ in range(runs + 1)]
    return {name: median(taken[name] for taken in rounds[1:]) for name in measured}


def keeps(name: str, value: float, unit: str, bound: float | None = None) -> bool:
    """Print a figure and its bound; return whether it keeps the bound."""
    print(f"{name:<32} {value:7.2f} {unit}" + (f", bound {bound:g}" if bound else ""))
    return bound is None or value <= bound
