"""``runbook order``: the order of the setups with the least changing; written only when asked."""

from __future__ import annotations

from argparse import Namespace
from collections.abc import Iterator

from runbook.clock.order import NoOrder
from runbook.commands.out import FINE, WRONG, complain, say, say_json
from runbook.plan.day import Plan
from runbook.plan.faults import Fault, Unreadable
from runbook.plan.files import read_day
from runbook.plan.source import shown_path
from runbook.plan.where import find_day, records_of
from runbook.session.hours_said import clock_short, late_said
from runbook.session.ordering import Proposal, best_order, facts
from runbook.session.planned_day import Changes
from runbook.session.reorder import CannotReorder, write_order
from runbook.session.timings import known_beside


def run(args: Namespace) -> int:
    """Print the order. 1 when the rules contradict each other, 2 when it cannot be written."""
    folder = find_day(args.day)
    plan = read_day(folder)
    changes = Changes(plan, known_beside(records_of(folder)))
    try:
        found = best_order(plan, changes)
    except NoOrder as why:
        names = ", ".join(plan.day.order[n] for n in why.setups)
        complain(f"runbook order: no order keeps every before: {names} go round in a circle")
        return WRONG
    if args.write:
        path = folder / "day.toml"
        try:
            write_order(path, found.order)
        except (CannotReorder, OSError) as why:
            said = why.strerror if isinstance(why, OSError) else why
            do = "nothing was changed"
            raise Unreadable([Fault(shown_path(path), None, "order", f"{said}", do)]) from None
    if args.json:
        say_json(facts(plan, found))
        return FINE
    for line in _told(plan, found, written=args.write):
        say(line)
    return FINE


def _told(plan: Plan, found: Proposal, *, written: bool) -> Iterator[str]:
    same = found.order == plan.day.order
    for n, name in enumerate(found.order, 1):
        was = plan.day.order.index(name) + 1
        yield f"{n:>3}  {name}" + ("" if was == n else f"  (was {was})")
    yield ""
    least = "no order has less" if found.proven else f"within {100 * found.gap:.0f} % of the least"
    yield f"{found.changing_s / 60:.0f} min of changing; {least}"
    if found.together:
        yield "the setups of a look are kept together"
    if same:
        yield "that is the order as it is"
        return
    won = (found.given_changing_s - found.changing_s) / 60
    yield f"the order in day.toml has {found.given_changing_s / 60:.0f} min: {won:.0f} min more"
    yield (
        f"as planned the day would end at {clock_short(found.finish_s)} instead of "
        f"{clock_short(found.given_finish_s)}: {late_said(found.finish_s - found.given_finish_s)}"
    )
    yield "written into day.toml" if written else "to write it into day.toml: runbook order --write"
