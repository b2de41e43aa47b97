"""The keys: five in the footer of each screen, every one on the help page."""

from __future__ import annotations

from typing import Final

SET: Final = "space done  x skip  u undo  n next  ? keys"
SET_BEGIN: Final = "n begin  g go to  l the plan  ? keys"
SET_BREAK: Final = "b break is over  u undo  ? keys"
SET_READY: Final = "r meter  f frames  c shot  n next  ? keys"
SET_SHOT: Final = "n next  a ahead  u undo  ? keys"
SET_STRUCK: Final = "e kit home  u undo  q leave  ? keys"
STANDS: Final = "space tick  x set aside  v stands or checks  s set  ? keys"
STANDS_OUTDOORS: Final = "space tick  x set aside  v stands or checks  o wind  ? keys"
JOURNAL: Final = "up/down read  w note  u undo  s set  ? keys"
JOURNAL_GAPS: Final = "up/down read  a what stands is checked  w note  ? keys"
FLOOR: Final = "left/right look on  u undo  d back  ? keys"
PLANNING: Final = "enter change  n new  x take out  u undo  ? keys"
HANDOVER: Final = "up/down read  enter hand over  w note  s set  ? keys"
HOME: Final = "space all home  x missing  u undo  s set  ? keys"
HOURS: Final = "space work out again  o take the order  s set  ? keys"
FAR: Final = "space done  u undo  z back  ? keys"

PLANNING_KEYS: Final = """\
THE PLAN: SETUPS, DAY AND KIT
up down     move; left and right change between the list and the form
enter       change the line: what it will be kept as, the reading and the
            stand are shown while you type; enter again writes it
n           new: of the kind in the list; in a setup, a light or a panel
c           copy: a setup, a thing of the kit; in a setup, a light or panel
x           take out: a value, a light or panel, a whole thing (asked)
[ ]         one place earlier or later: a setup, a thing, a light
u U         undo an edit, and bring it back
escape l    back: out of the line, the form, the plan

Lengths and masses are taken either way: 1.4 m, 1,4, 140 cm, 4 ft 6 in,
4'6", 7 kg, 15 lb. A bare number is in the units of the day.

The files are kept as they were, before the first edit, in .backup-* in the
day's folder. A setup like another writes only what differs from it.
"""

_Section = tuple[str, tuple[tuple[str, str], ...]]  # its title, and keys with what they do

_STEP: Final[_Section] = (
    "THE STEP AT HAND",
    (
        ("space", "done: step, block or check"),
        ("x", "skip or set aside, and why"),
        ("right", "or enter: open; left closes"),
        ("up down", "move; home goes to now"),
        ("pgup pgdn", "ten at once; end: the last"),
        ("a", "do the next setup's ahead"),
        ("u U", "undo, and bring back"),
    ),
)
_SETUP: Final[_Section] = (
    "THE SETUP",
    (
        ("n", "begin the next setup"),
        ("g", "go to any, forward or back"),
        ("c", "call it shot"),
        ("k", "skip a setup, and why"),
        ("b v", "break; late talent, battery"),
        ("e", "count the kit home at wrap"),
        ("i", "who is at the keyboard"),
    ),
)
_LIGHT: Final[_Section] = (
    "LIGHT AND CAMERA",
    (
        ("1-9 + -", "pick a head; click up, down"),
        ("o", "any other target, as it is"),
        ("r R", "meter it; all together"),
        ("p", "dial what the plan asks for"),
        ("m", "keep a reading in kit.toml"),
        ("f", "frames taken"),
        ("w", "a note"),
        ("l", "the plan: edit setups, kit"),
        ("esc", "out of a question, d and z"),
        ("q", "leave; it stays on its step"),
        ("ctrl+z", "to the shell; fg comes back"),
    ),
)
_SCREENS: Final[_Section] = (
    "SCREENS",
    (
        ("s", "set"),
        ("d", "floor: drawn from above"),
        ("[ ]", "there, left right: another"),
        ("t", "stands and checklist"),
        ("v tab o", "there: stand by stand; wind"),
        ("h", "hours, and what they cost"),
        ("space o", "there: anew; sooner order"),
        ("j", "journal"),
        ("y", "hand the day over: enter"),
        ("z", "far: big letters, and back"),
        ("?", "this page"),
    ),
)
_CARE: Final = """\
Figures here are for planning, never a clearance. Local rules and the
makers' limits come first; a competent person on the spot decides."""
_KEY: Final = 11  # the longest key and a gap
_SHORT_KEY: Final = 9  # of the right column's
_LEFT: Final = 40
PAGE_WIDTH: Final = 76  # of two columns


def all_keys(width: int) -> str:
    """Every key: in two columns where there is room for them, else in one."""
    pairs = ((_STEP, _SETUP), (_LIGHT, _SCREENS))
    if width >= PAGE_WIDTH:
        parts = [_beside(_lines(left, _KEY), _lines(right, _SHORT_KEY)) for left, right in pairs]
    else:
        parts = [_lines(section, _KEY) for pair in pairs for section in pair]
    return "\n\n".join([*("\n".join(part) for part in parts), _CARE])


def _lines(section: _Section, key: int) -> list[str]:
    title, rows = section
    return [title, *(f"{keys:<{key}}{does}" for keys, does in rows)]


def _beside(left: list[str], right: list[str]) -> list[str]:
    return [f"{one:<{_LEFT}}{other}" for one, other in zip(left, right, strict=True)]


ALL_KEYS: Final = all_keys(PAGE_WIDTH)
