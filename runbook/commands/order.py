"""``runbook order``: the order of the setups with the least changing; written only when asked."""

from __future__ import annotations

from argparse import Namespace
from collections.abc import Iterator
from math import ceil
from pathlib import Path

from runbook.clock.timetable import DayClock, day_clock
from runbook.commands.load_session import now, session_now
from runbook.commands.output import FINE, WRONG, print_error, print_json, print_line
from runbook.day.hours_text import minutes_text
from runbook.day.order_proposal import CannotOrder, OrderRequest, Proposal, best_order, proposal_data
from runbook.files.editor import Editor, ordered, stamp_of
from runbook.files.errors import Fault, Unreadable, shown_path
from runbook.files.load import read_day
from runbook.files.paths import find_day, records_of
from runbook.files.toml_edit import NotEdited


def run(args: Namespace) -> int:
    """Print the order. 1 when the rules contradict each other, 2 when it cannot be written."""
    folder = find_day(args.day, to_write=args.write)
    plan = read_day(folder)
    session = session_now(plan, records_of(folder), now())
    request = OrderRequest(args.first, args.last, args.apart, args.soonest)
    try:
        proposal = best_order(session.moment, session.changes, request)
    except CannotOrder as why:
        print_error(f"runbook order: {why}")
        return WRONG
    changed = proposal.order != proposal.given
    if args.write and changed:
        _write(folder, proposal)
    if args.json:
        print_json(proposal_data(proposal))
        return FINE
    for line in _lines(proposal, request, day_clock(plan.day, session.moment.now)):
        print_line(line)
    if proposal.order:
        file = shown_path(folder / "day.toml")
        if args.write:
            print_line(f"written into {file}" if changed else f"{file} unchanged: it has this order already")
        elif changed and (request.first or request.last or not _as_good(proposal)):
            print_line(f"to write it into {file}, run this again with --write")
    return FINE


def _write(folder: Path, proposal: Proposal) -> None:
    """Write the order into the day's file, keeping everything else in it. Raises Unreadable."""
    editor = Editor(folder, stamp_of(now()))
    try:
        editor.apply(ordered(editor.texts, proposal.whole), "the order")
    except NotEdited as why:
        fault = Fault(shown_path(folder / "day.toml"), None, "order", str(why), "nothing was changed")
        raise Unreadable([fault]) from None


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
    changing = f"{_minutes(proposal.changing_s)} min of changing"
    ends = f"the day would end at {clock.short(proposal.finish_s)}"
    if request.soonest:
        yield f"{ends}, the soonest found; {changing}"
    elif proposal.proven:
        yield f"{changing}, the least possible"
    else:
        yield f"{changing}; at most {ceil(100 * proposal.gap)} % of it might be saved"
    if proposal.together:
        yield "the setups of a look are kept together"
    elif proposal.kept:
        names = " and of ".join(proposal.kept)
        yield f"the setups of {names} are kept together; day.toml has those of other looks apart"
    yield from _against_given(proposal, request, clock)


def _against_given(proposal: Proposal, request: OrderRequest, clock: DayClock) -> Iterator[str]:
    """Yield how the order compares with the one in day.toml."""
    if proposal.order == proposal.given:
        yield "day.toml has this order already"
        return
    if _as_good(proposal):
        yield "the order in day.toml is as good, to the minute"
        return
    given, here = _minutes(proposal.given_changing_s), _minutes(proposal.changing_s)
    if _matters(proposal.given_changing_s - proposal.changing_s):
        yield f"the order in day.toml has {given} min: {abs(given - here)} min {'more' if given > here else 'less'}"
    else:
        yield "the order in day.toml has as much, to the minute"
    later_s = proposal.finish_s - proposal.given_finish_s
    if not _matters(later_s):
        yield f"the day would end at {clock.short(proposal.finish_s)} either way"
        return
    ends, given_ends = clock.short(proposal.finish_s), clock.short(proposal.given_finish_s)
    moved = f"{minutes_text(_minutes(abs(later_s)))} {'later' if later_s > 0 else 'sooner'}"
    yield f"the day would end at {ends} instead of {given_ends}: {moved}"
    if not request.soonest and later_s > 0:
        yield "less changing does not always end sooner: see runbook order --soonest"


def _as_good(proposal: Proposal) -> bool:
    """Return whether the order given is as good, to the minute."""
    changing, finish = proposal.given_changing_s - proposal.changing_s, proposal.finish_s - proposal.given_finish_s
    return not (_matters(changing) or _matters(finish))


def _matters(seconds: float) -> bool:
    """Return whether a difference is worth a word: estimates are not good to less than a minute."""
    return abs(seconds) >= 60


def _minutes(seconds: float) -> int:
    """Return whole minutes, a half rounded up: times a minute apart then differ in minutes too."""
    return int(seconds / 60 + 0.5)
