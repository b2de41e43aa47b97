"""The set screen in words: the setups, the heads, and what the steps come to.

Pure: a session and a width in, painted lines out.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import Final

from rich.cells import cell_len
from rich.text import Text

from runbook.day.actions import Session
from runbook.day.day_audit import warnings_of
from runbook.day.stand_view import alarms
from runbook.day.view_lines import CrewLine, HeadLine, SetupLine
from runbook.model.units import length
from runbook.screens.text import Glyphs, cut, fit, lines, rule
from runbook.screens.widgets.lists import Row, first_open

MOST_HEADS: Final = 8
_MOST_ALARMS: Final = 2
WIDE_TABLE: Final = 100
STATE_WORD: Final = {"to do": "", "changing": "changing", "ready": "READY", "shot": "shot", "skipped": "skipped"}
# What a step can be read without, in this order: after a comma, where from, where to.
_FIGURES: Final = (", .*", " from .*(?= to )", " to .*")
# Lines of the set screen that are neither heads nor steps.
_AROUND_STEPS: Final = 7
# Narrow columns have no room for every role's whole word.
_ROLE: Final = {"background": "backgd"}


def _sign(line: SetupLine, glyphs: Glyphs) -> str:
    return {
        "shot": glyphs.done,
        "skipped": glyphs.skipped,
        "changing": glyphs.here,
        "ready": glyphs.here,
        "to do": glyphs.to_do,
    }[line.state]


def column(session: Session, width: int, glyphs: Glyphs) -> Text:
    """The setups as a column, where the screen is wide."""
    if width <= 0:
        return Text()
    parts = []
    for n, line in enumerate(session.view.setups, 1):
        counted = f"{line.frames}/{line.frames_planned}" if line.frames or line.now else ""
        word = STATE_WORD[line.state] + (", NOT SAFE" if line.now and alarms(session.view) else "")
        text = f"{_sign(line, glyphs)} {n:>2} {line.title}"
        style = "bold" if line.now else ("dim" if line.state in ("shot", "skipped") else "")
        parts.append((fit(text, width, glyphs), style))
        if line.now or counted or word:
            parts.append((fit(f"     {word}  {counted}".rstrip(), width, glyphs), style))
    return lines(*parts)


def crew(busy: Sequence[CrewLine], width: int, glyphs: Glyphs) -> Text:
    """Who does what now and who is free, side by side.

    Where that is too much, the longest leave their figures out first; what is still too long is
    cut.
    """
    said = [each.text for each in busy]
    room = width - 2 * max(len(said) - 1, 0)
    for figures in _FIGURES:
        for n in sorted(range(len(said)), key=lambda n: -cell_len(said[n])):
            if sum(map(cell_len, said)) > room:
                said[n] = re.sub(figures, "", said[n])
    for done, n in enumerate(sorted(range(len(said)), key=lambda n: cell_len(said[n]))):
        said[n] = cut(said[n], room // (len(said) - done), glyphs)
        room -= cell_len(said[n])
    return Text("  ".join(said), no_wrap=True, end="")


def strip(session: Session, width: int, glyphs: Glyphs) -> Text:
    """The setups on one line, and the one at work by name."""
    signs = " ".join(f"{_sign(line, glyphs)}{n}" for n, line in enumerate(session.view.setups, 1))
    return lines((cut(signs, width, glyphs), ""), (cut(at_work(session), width, glyphs), "bold"))


def at_work(session: Session) -> str:
    """The setup at work, how it stands with it and how many frames it has."""
    now = next((line for line in session.view.setups if line.now), None)
    if now is not None:
        counted = f"frames {now.frames}/{now.frames_planned}"
        state = STATE_WORD[now.state] + (", NOT SAFE" if alarms(session.view) else "")
        return f"{now.title}  {state}  {counted}"
    if session.state.wrapping:
        return "The wrap: everything goes home"
    if session.state.begun:
        return "The setup at work is no more in the plan: n begins the next"
    return "Load-in: n begins the first setup"


def heads(session: Session, picked: int, size: tuple[int, int], glyphs: Glyphs) -> Text:
    """The heads of the setup at hand: what to dial, what it will read and how far off that is.

    What the picked head wears goes on in a second line where one is too short. ``size`` is the
    width of the table and the height of the window, a third of which at the least is left to the
    steps: a low one shows the head picked and as many of the next as fit.
    """
    width, height = size
    found = session.view.heads[:MOST_HEADS]
    parts: list[list[tuple[str, str]]] = []
    for n, head in enumerate(found):
        style = "bold" if n == picked else ""
        here = n == picked
        two = height >= 20 and (here or width >= WIDE_TABLE)
        told = _head(session, n, head, width, glyphs, here=here, two=two)
        parts.append([(cut(line, width, glyphs), style) for line in told])
    room = height - _AROUND_STEPS - max(3, height // 3)
    while len(parts) > 1 and sum(map(len, parts)) > room:
        parts.pop(0 if picked == len(found) - 1 or len(found) - len(parts) < picked else -1)
    return lines(*(line for part in parts for line in part))


def _head(session: Session, n: int, head: HeadLine, width: int, glyphs: Glyphs, *, here: bool, two: bool) -> list[str]:
    """What to dial first, then what it will read, what it wears and where it stands."""
    wide = width >= WIDE_TABLE
    state = glyphs.done if head.state == "set" else glyphs.to_do
    role = f"{head.role:<10}" if wide else f"{_ROLE.get(head.role, head.role):<6}"
    power = str(head.power) if head.up else "not up"
    if head.up and head.power != head.planned:
        power += f" (plan {head.planned})" if wide else "*"
    sign = glyphs.here if here else " "
    text = f"{sign}{n + 1} {state} {head.head:<2} {role} {power:<{21 if wide else 9}}"
    metered = "#" if head.reading else " "  # no letter: beside distances it would be a unit
    text += f" {head.predicted:>11} {head.over:>4}{metered}"
    high = length(head.height_m, session.plan.day.units)
    where = f"{head.place}, {high} up, {head.stand}" if head.up else "left out: see the journal"
    room = width - cell_len(text) - 1
    wears = glyphs.shown(head.modifier)
    if cell_len(wears) + 2 + cell_len(glyphs.shown(where)) <= room:
        column = max(cell_len(wears), min(34, room - cell_len(glyphs.shown(where)) - 2))
        return [f"{text} {fit(wears, column, glyphs)}  {where}"]
    if two:
        return [f"{text} {where}", f"       {wears}"]
    return [f"{text} {where}"]


def danger(session: Session, width: int, glyphs: Glyphs) -> Text:
    """What is dangerous as it stands, a line each; empty where nothing is."""
    told = alarms(session.view)
    shown = [f"! {each}" for each in told[:_MOST_ALARMS]]
    if len(told) > _MOST_ALARMS:
        shown[-1] += f"; and {len(told) - _MOST_ALARMS} more (t)"
    return lines(*((cut(each, width, glyphs), "bold red") for each in shown))


def warnings(session: Session, width: int, most: int, glyphs: Glyphs) -> Text:
    """What a check finds wrong with the setup at work, else with the next; empty for nothing."""
    found = warnings_of(session.problems, session.state.at_work or session.view.next_setup)
    shown = [
        f"{problem.level.upper()} {': '.join(filter(None, (problem.item, problem.what)))}" for problem in found[:most]
    ]
    if len(found) > most:
        more = f"; {len(found) - most} more: runbook check"
        shown[-1] = cut(shown[-1], max(width - len(more), 1), glyphs) + more
    return lines(*((cut(each, width, glyphs), "yellow") for each in shown))


def title(session: Session, width: int, glyphs: Glyphs) -> Text:
    """A line over the steps: how far, what is open, and whatever is not as planned."""
    told = session.view.lines
    over = sum(line.state in ("done", "skipped") for line in told)
    open_checks = sum(hold.open for hold in session.view.holds)
    said = [f"steps {over} of {len(told)}" if told else "steps"]
    if session.state.on_break is not None:
        said.insert(0, "ON A BREAK (b ends it)")
    if session.state.floor.in_hands:
        said.insert(0, held_said(session))
    if open_checks:
        said.append(f"{open_checks} check{'s' if open_checks > 1 else ''} open")
    if any(head.up and head.power != head.planned for head in session.view.heads):
        said.append("* power not as planned")
    if session.view.other_than_planned:
        said.append("not all as planned (j)")
    if any(head.reading for head in session.view.heads):
        said.append("# metered")
    ahead = len(session.view.ahead.todo)
    if ahead:
        said.append(f"{ahead} can be done ahead (a)")
    return Text(rule(", ".join(said), width, glyphs), style="dim", no_wrap=True)


def held_said(session: Session) -> str:
    """Which stands nobody may let go of now."""
    return f"HOLD {', '.join(sorted(session.state.floor.in_hands))}"


def nothing_to_do(session: Session) -> str:
    """What is said where no step is left; with entries lost, nothing of what stands."""
    if session.state.on_break is not None:
        return "On a break: b ends it."
    if session.gaps:
        return f"{session.gap_text[0].upper()}{session.gap_text[1:]}: check what really stands."
    return _no_step_left(session)


def _no_step_left(session: Session) -> str:
    state = session.state
    if not state.begun:
        return "Nothing stands yet. n begins the first setup, g any other."
    if state.wrapping:
        return "Everything is struck. e counts the kit home, q leaves the day."
    if state.at_work in state.shot:
        return "Shot. n goes on."
    if alarms(session.view):
        return "NOT SAFE as it stands: put that right before anybody shoots. t tells more."
    return "It stands: shoot. f counts frames, c calls it shot, n goes on."


def now(session: Session, listed: list[Row], glyphs: Glyphs) -> Text:
    """The step at hand in one or two lines: all that a very small window shows."""
    row = listed[first_open(listed)] if listed else None
    text = nothing_to_do(session)
    if row is not None and not row.over:
        text = f"CHECK {row.text}" if row.check is not None else row.text
    return Text(glyphs.shown(text), style="bold")
