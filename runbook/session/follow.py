"""What stands follows a target that was changed on the spot."""

from __future__ import annotations

from collections.abc import Container
from typing import Any, Final

from runbook.change.floor import Floor
from runbook.session.state import StepKey

# what a skipped step leaves as it was, by what the step is done to
_LEFT: Final[dict[str, tuple[str, dict[str, tuple[str, ...]]]]] = {
    "stand": (
        "stands",
        {
            "spot": ("place", "move"),
            "height_m": ("place", "raise", "lower"),
        },
    ),
    "head": ("heads", {"power": ("power",)}),
}
_LEFT_SINGLE: Final = {
    "exposure": ("expose", "camera", "camera"),
    "view": ("view", "camera", "camera"),
    "lens": ("lens", "camera", "camera"),
    "subject": ("turn", "subject", "subject"),
}


def set_by_change(floor: Floor, before: Floor, after: Floor, skipped: Container[StepKey]) -> Floor:
    """The floor with what a change says of things whose own step was skipped.

    Nobody comes to set those any more: what is said of them now is how they are.
    """
    changed: dict[str, Any] = {}
    for kind, (table, fields) in _LEFT.items():
        now, old, new = getattr(floor, table), getattr(before, table), getattr(after, table)
        changed[table] = {
            item: at._replace(
                **{
                    field: getattr(new[item], field)
                    for field, verbs in fields.items()
                    if getattr(old[item], field) != getattr(new[item], field)
                    and any((verb, kind, item) in skipped for verb in verbs)
                }
            )
            if item in old and item in new
            else at
            for item, at in now.items()
        }
    for single, key in _LEFT_SINGLE.items():
        if getattr(before, single) != getattr(after, single) and key in skipped:
            changed[single] = getattr(after, single)
    return floor._replace(**changed)


def followed(floor: Floor, before: Floor, after: Floor) -> Floor:
    """The floor with everything that equals the old target set to the new one."""
    changed: dict[str, Any] = {"stands": dict(floor.stands)}
    for stand in floor.stands.keys() & before.stands.keys() & after.stands.keys():
        at, old, new = floor.stands[stand], before.stands[stand], after.stands[stand]
        # one that is at its spot and not up yet is at the spot that is said now
        changed["stands"][stand] = at._replace(
            spot=new.spot if at.spot == old.spot else at.spot,
            height_m=new.height_m if at.height_m == old.height_m else at.height_m,
        )
    for table in ("panels", "cloths", "bags"):
        now, old, new = getattr(floor, table), getattr(before, table), getattr(after, table)
        changed[table] = {
            key: new[key] if key in new and old.get(key) == value else value
            for key, value in now.items()
        }
    changed["heads"] = {
        head: at._replace(
            power=after.heads[head].power if at.power == before.heads[head].power else at.power,
            aim=after.heads[head].aim if at.aim == before.heads[head].aim else at.aim,
            # one dialled off fires no more; nobody has armed what was off, or in somebody's hands
            armed=at.armed and after.heads[head].armed,
        )
        if head in before.heads and head in after.heads
        else at
        for head, at in floor.heads.items()
    }
    for single in ("lens", "exposure", "view", "subject"):
        if getattr(floor, single) == getattr(before, single):
            changed[single] = getattr(after, single)
    return floor._replace(**changed)
