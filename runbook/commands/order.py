"""``runbook order``: the order of the setups with the least changing; written only when asked."""

from __future__ import annotations

from argparse import Namespace
from collections.abc import Iterator
from math import ceil

from runbook.clock.timetable import DayClock, day_clock
from runbook.commands.load_session import now, session_now
from runbook.commands.output import FINE, WRONG, print_error, print_json, print_line, show_progress
from runbook.day.load_plan import read_day
from runbook.day.order_proposal import CannotOrder, OrderRequest, Proposal, best_order, proposal_data
from runbook.files.editor import Editor, ordered, stamp_of
from runbook.files.errors import Fault, Unreadable, shown_path
from runbook.files.paths import find_day
from runbook.files.toml_edit import NotEdited


def run(args: Namespace) -> int:
    """Print the order. 1 when the rules contradict each other, 2 when it cannot be written."""
    folder = find_day(args.day, to_write=args.write)
    plan = read_day(folder)
    session = session_now(plan, folder, now())
    request = OrderRequest(args.first, args.last, args.apart, args.soonest)
    try:
        proposal = best_order(session.moment, session.changes, request, show_progress)
    except CannotOrder as why:
        print_error(f"runbook order: {why}")
        return WRONG
    changed, file = proposal.order != proposal.given, shown_path(folder / "day.toml")
    if args.write and changed:
        editor = Editor(folder, stamp_of(now()))
        try:
            editor.apply(ordered(editor.texts, proposal.whole), "the order")
        except NotEdited as why:
            raise Unreadable([Fault(file, None, "order", str(why), "nothing was changed")]) from None
    if args.json:
        print_json(proposal_data(proposal))
        return FINE
    for line in _lines(proposal, request, day_clock(plan.day, session.moment.now)):
        print_line(line)
    if args.write and proposal.order:
        print_line(f"written into {file}" if changed else f"{file} unchanged: it already has this order")
    elif changed and (request.first or request.last or not _as_good(proposal)):
        print_line(f"to write it into {file}, run this again with --write")
    return FINE


def _lines(proposal: Proposal, request: OrderRequest, clock: DayClock) -> Iterator[str]:
    if not proposal.order:
        yield "no setup is left to order"
        return
    for name in proposal.settled:
        yield f"  -  {name}"
    for n, name in enumerate(proposal.order, len(proposal.settled) + 1):
        was = proposal.given.index(name) + len(proposal.settled) + 1
        yield f"{n:>3}  {name}" + ("" if was == n else f"  (was {was})")
    yield ""
    ends = f"the day would end at {clock.short(proposal.finish_s)}"
    if request.soonest:
        yield f"{_changing(proposal.changing_s)}; {ends}, the earliest end found"
    else:
        saved = f"at most {ceil(100 * proposal.gap)} % of it could be saved"
        yield f"{_changing(proposal.changing_s)}, {'the least possible' if proposal.proven else saved}; {ends}"
    if proposal.together:
        yield "the setups of a look are kept together"
    elif proposal.kept:
        yield f"the setups of {' and of '.join(proposal.kept)} are kept together; those of other looks are apart"
    if proposal.order == proposal.given:
        yield "day.toml already has this order"
    elif _as_good(proposal):
        yield "the order in day.toml is as good, to the minute"
    else:
        given_ends = clock.short(proposal.given_finish_s)
        yield f"the order in day.toml: {_changing(proposal.given_changing_s)}; the day would end at {given_ends}"
        if not request.soonest and proposal.finish_s > proposal.given_finish_s + 60:
            yield "shorter changeovers do not always end the day sooner: see runbook order --soonest"


def _as_good(proposal: Proposal) -> bool:
    """Return whether the order given is as good: estimates are not good to less than a minute."""
    changing, finish = proposal.given_changing_s - proposal.changing_s, proposal.finish_s - proposal.given_finish_s
    return abs(changing) < 60 and abs(finish) < 60


def _changing(seconds: float) -> str:
    """Return whole minutes, a half rounded up: times a minute apart then differ in minutes too."""
    return f"{int(seconds / 60 + 0.5)} min of changeovers"
