"""What a verdict means, in words one person can say to another."""

from __future__ import annotations

from typing import Final

from runbook.plan.day import Place
from runbook.plan.kit import Bag
from runbook.stand.judge import Verdict, judge
from runbook.stand.rig import Rig
from runbook.stand.stability import kgf, rounded_up_kg

_NUMBERS: Final = ("no", "one", "two", "three", "four", "five", "six")


def counted(bags: tuple[Bag, ...]) -> str:
    """``one 7 kg bag``, ``two 7 kg bags``, or ``three bags, 19 kg``."""
    masses = {bag.mass_kg for bag in bags}
    number = _NUMBERS[len(bags)] if len(bags) < len(_NUMBERS) else str(len(bags))
    ending = "" if len(bags) == 1 else "s"
    if len(masses) == 1:
        return f"{number} {bags[0].mass_kg:g} kg bag{ending}"
    return f"{number} bag{ending}, {sum(bag.mass_kg for bag in bags):g} kg"


def push_words(rig: Rig, place: Place, more: tuple[Bag, ...] = ()) -> str:
    """What push tips it, and what it would be with ``more`` bags hung in the same place."""
    load = "head" if rig.modifier is None or rig.modifier.is_nothing else "modifier"
    now = judge(rig, place)
    if now.push_n <= 0:
        said = "it falls by itself"
    else:
        said = f"a push of {kgf(now.push_n):.1f} kgf at the {load} tips it"
    if not more:
        return said
    then = judge(rig._replace(bags=rig.bags + more), place)
    verb = "makes" if len(more) == 1 else "make"
    if then.push_n <= 0:
        return f"{said}; {counted(more)} at the {_spot(rig)} cannot hold it there"
    return f"{said}; {counted(more)} {verb} it {kgf(then.push_n):.1f}"


def _spot(rig: Rig) -> str:
    return "column" if rig.bags_at == "column" else "far legs"


def hang_words(rig: Rig) -> str:
    """Where its bags hang, and why there."""
    if rig.bags_at == "column":
        where = "at the column, off the floor"
        why = "only what hangs counts, and there it holds against a push from any side"
    elif rig.leg_under_load and rig.stand.legs == 3:
        where = "shared by the two legs away from the load, off the floor"
        why = "out there they pull hardest against the load; on the leg under it, hardly at all"
    else:
        where = "on the leg away from the load, off the floor"
        why = "out there it pulls hardest against the load, but does less for a push the other way"
    return f"hang it {where}: {why}"


def verdict_words(rig: Rig, verdict: Verdict, place: Place) -> str:
    """One line on a stand: what it stands, and what it lacks."""
    lean = f"stands a lean of {verdict.lean_deg:.1f} deg, {place.tilt_limit_deg:g} wanted"
    if verdict.lean_deg <= 0:
        lean = "falls by itself"
    parts = [lean, push_words(rig, place)]
    if verdict.bags_needed_kg is None:
        parts.append(f"no bag at the {_spot(rig)} is enough: lower it, or turn a leg to the load")
    elif verdict.bags_needed_kg > verdict.bags_kg + 0.005:
        parts.append(f"needs {rounded_up_kg(verdict.bags_needed_kg):g} kg at the {_spot(rig)}")
    if "load" in verdict.faults:
        parts.append(f"carries {verdict.load_kg:.1f} kg of {verdict.load_max_kg:g}")
    return f"{verdict.stand}: " + "; ".join(parts)
