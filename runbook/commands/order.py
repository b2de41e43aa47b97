"""``runbook order``: the order of the setups with the least changing; written only when asked."""

from __future__ import annotations

from argparse import Namespace
from collections.abc import Iterator
from pathlib import Path

from runbook.commands.now import session_now
from runbook.commands.out import FINE, WRONG, complain, say, say_json
from runbook.commands.wall_clock import now
from runbook.day.hours_text import minutes_text
from runbook.day.order_proposal import CannotOrder, OrderRequest, Proposal, best_order, proposal_data
from runbook.day.timeline import DayClock, day_clock
from runbook.files.editor import Editor, stamp_of
from runbook.files.edits import ordered
from runbook.files.errors import Fault, Unreadable
from runbook.files.load import read_day
from runbook.files.paths import find_day, records_of
from runbook.files.toml_edit import NotEdited
from runbook.files.toml_file import shown_path


def run(args: Namespace) -> int:
    """Print the order. 1 when the rules contradict each other, 2 when it cannot be written."""
    folder = find_day(args.day, to_write=args.write)
    plan = read_day(folder)
    session = session_now(plan, records_of(folder), now())
    asked = OrderRequest(args.first, args.last, args.apart, args.soonest)
    try:
        found = best_order(session.moment, session.changes, asked)
    except CannotOrder as why:
        complain(f"runbook order: {why}")
        return WRONG
    changed = found.order != found.given
    if args.write and changed:
        _write(folder, found)
    if args.json:
        say_json(proposal_data(found))
        return FINE
    for line in _told(found, asked, day_clock(plan.day, session.moment.now)):
        say(line)
    if found.order:
        file = shown_path(folder / "day.toml")
        if args.write:
            say(f"written into {file}" if changed else f"{file} has it already")
        elif changed and (asked.first or asked.last or not _as_good(found)):
            say(f"to write it into {file}, ask again with --write")
    return FINE


def _write(folder: Path, found: Proposal) -> None:
    """Put the order into the day's file, everything else in it kept. Raises Unreadable."""
    editor = Editor(folder, stamp_of(now()))
    try:
        editor.apply(ordered(editor.texts, found.whole), "the order")
    except NotEdited as why:
        fault = Fault(shown_path(folder / "day.toml"), None, "order", str(why), "nothing was changed")
        raise Unreadable([fault]) from None


def _told(found: Proposal, asked: OrderRequest, clock: DayClock) -> Iterator[str]:
    if not found.order:
        yield "no setup is left to order"
        return
    for name in found.settled:
        yield f"  -  {name}"
    for n, name in enumerate(found.order, len(found.settled) + 1):
        was = found.given.index(name) + len(found.settled) + 1
        yield f"{n:>3}  {name}" + ("" if was == n else f"  (was {was})")
    yield ""
    changing = f"{_minutes(found.changing_s)} min of changing"
    ends = f"the day would end at {clock.short(found.finish_s)}"
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
    if _as_good(found):
        yield "the order in day.toml is as good, to the minute"
        return
    yield _changing_against(found)
    later_s = found.finish_s - found.given_finish_s
    if not _tells(later_s):
        yield f"{ends} either way"
        return
    moved = f"{minutes_text(_minutes(abs(later_s)))} {'later' if later_s > 0 else 'sooner'}"
    yield f"{ends} instead of {clock.short(found.given_finish_s)}: {moved}"
    if not asked.soonest and later_s > 0:
        yield "less changing is not always the sooner end: runbook order --soonest"


def _changing_against(found: Proposal) -> str:
    """The changing of the order given, beside that of the one found."""
    given, here = _minutes(found.given_changing_s), _minutes(found.changing_s)
    if not _tells(found.given_changing_s - found.changing_s):
        return "the order in day.toml has as much, to the minute"
    return f"the order in day.toml has {given} min: {abs(given - here)} min {'more' if given > here else 'less'}"


def _as_good(found: Proposal) -> bool:
    """Whether the order given is as good, to the minute."""
    return not (_tells(found.given_changing_s - found.changing_s) or _tells(found.finish_s - found.given_finish_s))


def _tells(seconds: float) -> bool:
    """Whether a difference is worth a word: estimates are not good to less than a minute."""
    return abs(seconds) >= 60


def _minutes(seconds: float) -> int:
    """Whole minutes, a half rounded up: what is a minute apart differs in what is said too."""
    return int(seconds / 60 + 0.5)
