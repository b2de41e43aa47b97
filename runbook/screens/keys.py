"""The keys: five in the footer of each screen, every one on the help page."""

from __future__ import annotations

from typing import Final

SET: Final = "space done  x skip  u undo  n next  ? keys"
STANDS: Final = "space tick  x set aside  v stands or checks  s set  ? keys"
STANDS_OUTDOORS: Final = "space tick  x set aside  v stands or checks  o wind  ? keys"
JOURNAL: Final = "up/down read  w note  u undo  s set  ? keys"
FLOOR: Final = "left/right look on  u undo  d back  ? keys"
PLANNING: Final = "enter change  n new  c copy  x take out  [ ] move  u undo  l back"
HANDOVER: Final = "up/down read  enter hand over  w note  s set  ? keys"
HOME: Final = "space all home  x missing  u undo  s set  ? keys"
HOURS: Final = "space work out again  up/down read  s set  ? keys"
FAR: Final = "space done  u undo  z back  ? keys"

ALL_KEYS: Final = """\
THE STEP AT HAND                     THE SETUP
space   done: step, block or check   n  begin the next setup
x       skip or set aside, and why   g  go to any, forward or back
right   open a block; left closes    c  call it shot
up down move; home goes to now       k  leave a setup out, and why
a       do the next setup's ahead    b  a break begins, or is over
u U     undo, and bring back         e  count the kit home at wrap

LIGHT AND CAMERA                     SCREENS
1-9     pick a head                  s  set
+ -     one click up, down           d  floor: drawn from above
r       a reading from the meter     t  stands and checklist
p       dial what the plan asks for  j  journal
m       keep a reading in kit.toml   v o  there: stand by stand; wind
f       frames taken                 h  hours, and what they cost
w       a note                       y  hand the day over
i       who is at the keyboard       z  far: big letters, and back
l       the plan: edit setups, kit   ?  this page
                                     q  leave; it stays on its step

Figures here are for planning, never a clearance. Local rules and the
makers' limits come first; a competent person on the spot decides.
"""
