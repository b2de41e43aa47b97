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

ALL_KEYS: Final = """\
THE STEP AT HAND                     THE SETUP
space   done: step, block or check   n  begin the next setup
x       skip or set aside, and why   g  go to any, forward or back
right   open a block; left closes    c  call it shot
up down move; home goes to now       k  skip a setup, and why
a       do the next setup's ahead    b  a break begins, or is over
u U     undo, and bring back         e  count the kit home at wrap

LIGHT AND CAMERA                     SCREENS
1-9     pick a head                  s  set
+ -     one click up, down           d  floor: drawn from above
r       a reading from the meter     t  stands and checklist
p       dial what the plan asks for  j  journal
m       keep a reading in kit.toml   v o  there: stand by stand; wind
f       frames taken                 h  hours, and what they cost
w       a note                       o  there: take the sooner order
i       who is at the keyboard       y  hand the day over
l       the plan: edit setups, kit   z  far: big letters, and back
q       leave; it stays on its step  ?  this page

Figures here are for planning, never a clearance. Local rules and the
makers' limits come first; a competent person on the spot decides.
"""
