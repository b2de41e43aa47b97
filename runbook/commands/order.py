"""``runbook order``: the order of the setups with the least changing; written only when asked."""

from __future__ import annotations

from argparse import Namespace
from collections.abc import Iterator
from datetime import datetime
from pathlib import Path

from runbook.commands.now import session_now
from runbook.commands.out import FINE, WRONG, complain, say, say_json
from runbook.plan.changes import ordered
from runbook.plan.edit import Editor
from runbook.plan.faults import Fault, Unreadable
from runbook.plan.files import read_day
from runbook.plan.rewrite import NotEdited
from runbook.plan.source import shown_path
from runbook.plan.where import find_day, records_of
from runbook.session.ending import span_said
from runbook.session.hours_said import clock_short
from runbook.session.ordering import Asked, CannotOrder, Proposal, best_order, facts


def run(args: Namespace) -> int:
    """Print the order. 1 when the rules contradict each other, 2 when it cannot be written."""
    folder = find_day(args.day, to_write=args.write)
    plan = read_day(folder)
    session = session_now(plan, records_of(folder), datetime.now().astimezone())
    asked = Asked(args.first, args.last, args.apart, args.soonest)
    try:
        found = best_order(session.moment, session.changes, asked)
    except CannotOrder as why:
        complain(f"runbook order: {why}")
        return WRONG
    if args.write:
        _write(folder, found)
    if args.json:
        say_json(facts(found))
        return FINE
    for line in _told(found, asked):
        say(line)
    if found.order:
        file = shown_path(folder / "day.toml")
        if args.write:
            say(f"written into {file}")
        elif found.order != found.given:
            say(f"to write it into {file}, ask again with --write")
    return FINE


def _write(folder: Path, found: Proposal) -> None:
    """Put the order into the day's file, everything else in it kept. Raises Unreadable."""
    editor = Editor(folder, f"{datetime.now():%Y%m%d-%H%M%S}")
    try:
        editor.apply(ordered(editor.texts, found.whole), "the order")
    except NotEdited as why:
        fault = Fault(
            shown_path(folder / "day.toml"), None, "order", str(why), "nothing was changed"
        )
        raise Unreadable([fault]) from None


def _told(found: Proposal, asked: Asked) -> Iterator[str]:
    if not found.order:
        yield "no setup is left to order"
        return
    for name in found.settled:
        yield f"  -  {name}"
    for n, name in enumerate(found.order, len(found.settled) + 1):
        was = found.given.index(name) + len(found.settled) + 1
        yield f"{n:>3}  {name}" + ("" if was == n else f"  (was {was})")
    yield ""
    changing = f"{found.changing_s / 60:.0f} min of changing"
    ends = f"the day would end at {clock_short(found.finish_s)}"
    if asked.soonest:
        yield f"{ends}, the soonest found; {changing}"
    elif found.proven:
        yield f"{changing}; no order has less"
    else:
        yield f"{changing}; within {100 * found.gap:.0f} % of the least"
    if found.together:
        yield "the setups of a look are kept together"
    elif found.kept:
        names = " and of ".join(found.kept)
        yield f"the setups of {names} are kept together; the order given has others apart"
    if found.order == found.given:
        yield "that is the order as it is"
        return
    more = round(found.given_changing_s / 60) - round(found.changing_s / 60)
    moved = _moved(found.finish_s - found.given_finish_s)
    if more == 0 and not moved:
        yield "the order in day.toml is as good, to the minute"
        return
    differs = f"{abs(more)} min {'more' if more > 0 else 'less'}" if more else "as much"
    yield f"the order in day.toml has {found.given_changing_s / 60:.0f} min: {differs}"
    yield f"{ends} instead of {clock_short(found.given_finish_s)}" + (f": {moved}" if moved else "")
    if not asked.soonest and found.finish_s > found.given_finish_s:
        yield "less changing is not always the sooner end: runbook order --soonest"


def _moved(seconds: float) -> str:
    """``12 min later``, ``5 min sooner``; empty within the minute."""
    minutes = round(seconds / 60)
    return f"{span_said(abs(minutes))} {'later' if minutes > 0 else 'sooner'}" if minutes else ""
