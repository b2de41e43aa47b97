"""How long the paper and the handover take: 40 setups on a page, half a day handed over and read.

Run it by itself: ``python tests/bench/bench_sheet.py``. Bounds: 1.5 s for the page, 1 s each for
the handover file and for taking it, on two slow cores with nothing else to do.
"""

from __future__ import annotations

import sys
import tempfile
import time
from collections.abc import Callable
from contextlib import redirect_stdout
from dataclasses import replace
from io import StringIO
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[2]))

from runbook.commands.handover import packed
from runbook.commands.resume import read_archive, take
from runbook.day.actions import Session
from runbook.day.handover_file import unpack
from runbook.day.handover_lines import estimate_finish, handover_lines
from runbook.files.load import read_day
from runbook.journal.journal import Journal, journal_path
from runbook.reports.day_page import day_page
from runbook.reports.document import html_page
from tests.day.days import SetClock, demo
from tests.played import half_shot


def timed(what: str, work: Callable[[], object]) -> None:
    began, cpu = time.perf_counter(), time.process_time()
    work()
    took, used = time.perf_counter() - began, time.process_time() - cpu
    print(f"{what}: {took * 1000:.0f} ms, {used * 1000:.0f} ms of them ours")


def main() -> None:
    plan = demo()
    order = tuple(f"s{n}" for n in range(40))
    setups = {each: replace(plan.order[n % 9], id=each) for n, each in enumerate(order)}
    many = replace(plan, day=replace(plan.day, order=order), setups=setups)
    timed("40 setups as a page", lambda: html_page(day_page(many)))
    with tempfile.TemporaryDirectory() as aside:
        folder, clock = half_shot(Path(aside) / "day"), SetClock(10)
        with Journal.open(journal_path(folder), clock=clock, who="photo") as journal:
            session = Session(read_day(folder), journal, "photo", clock, folder)
            raw = packed(session, folder, "Kim")
            timed("the handover file", lambda: packed(session, folder, "Kim"))
            timed("when the day ends", lambda: estimate_finish(session))
            timed("its lines", lambda: handover_lines(session, clock()))
            timed("its checks when taken", lambda: unpack(raw))
            print(f"{len(raw) / 1000:.0f} kB")
        file = Path(aside) / "day.handover"
        file.write_bytes(raw)

        def resumed() -> None:
            with redirect_stdout(StringIO()):
                take(read_archive(file), Path(aside) / "taken", file, "Kim", lambda _: "yes")

        timed("taken over, every line answered at once", resumed)


if __name__ == "__main__":
    main()
