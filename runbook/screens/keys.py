"""The keys: five in the footer of each screen, every one on the help page."""

from __future__ import annotations

from typing import Final

SET: Final = "space done  x skip  u undo  n next  ? keys"
STANDS: Final = "space tick  x set aside  v stands or checks  s set  ? keys"
STANDS_OUTDOORS: Final = "space tick  x set aside  v stands or checks  o wind  ? keys"
JOURNAL: Final = "up/down read  w note  u undo  s set  ? keys"
FLOOR: Final = "left/right look on  u undo  d back  ? keys"
HOURS: Final = "space work out again  up/down read  s set  ? keys"
FAR: Final = "space done  u undo  z back  ? keys"

ALL_KEYS: Final = """\
THE STEP AT HAND                     THE SETUP
space   done: step, block or check   n  begin the next setup
x       skip or set aside, and why   g  go to any, forward or back
right   open a block; left closes    c  call it shot
up down move; home goes to now       k  leave a setup out, and why
a       do the next setup's ahead    b  a break begins, or is over
u U     undo, and bring back         h  hours: when are we done

LIGHT AND CAMERA                     SCREENS
1-9     pick a head                  s  set
+ -     one click up, down           d  floor: drawn from above
r       a reading from the meter     t  stands and checklist
p       dial what the plan asks for  j  journal
m       keep a reading in kit.toml   z  far: big letters, and back
f       frames taken                 ?  this page
w       a note                       q  leave; it stays on its step
i       who is at the keyboard       v o  there: stand by stand; wind

Figures here are for planning, never a clearance. Local rules and the
makers' limits come first; a competent person on the spot decides.
"""
