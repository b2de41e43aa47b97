"""What the stands cannot bear, or should not, before anyone is on the clock."""

from __future__ import annotations

from collections.abc import Iterator
from math import inf
from typing import Final

from runbook.plan.day import Plan
from runbook.plan.problems import Level, Problem
from runbook.plan.setup import Light, Setup
from runbook.plan.units import figure, force, length, mass, speed
from runbook.stand.bagshare import share_bags
from runbook.stand.boom import balance_kg, turning_kgm
from runbook.stand.electrical import (
    APPROVED_SPARES,
    air_class,
    approval_spares,
    circuit_load,
)
from runbook.stand.flashing import flash_level, limit_words, most_at_rate
from runbook.stand.judge import Verdict, better_hung, judge
from runbook.stand.lifting import WORK_M, Hands, hands_for
from runbook.stand.panel import FELT_MS, PanelVerdict, judge_panels
from runbook.stand.panel_words import feet_words, over_words, pushed_words
from runbook.stand.reach import reach_of
from runbook.stand.rig import Rig, arm_loads, rig_of
from runbook.stand.stability import WARN_FACTOR
from runbook.stand.wind import beaufort, blowing, gust_of
from runbook.stand.words import at_least, wanted_words

# Our own tolerances: a weight that hangs this close to balance is set by sliding it.
_BALANCE_KG: Final = 0.25
_BALANCE_SHARE: Final = 0.05
_SHOWN_KG: Final = 0.05


def audit_stands(plan: Plan) -> tuple[Problem, ...]:
    """Every problem of stands, bags, wind, lifts, mains and flashes.

    In the day's order; then what concerns the whole day. Raises KeyError when a setup names a
    thing that the kit lacks.
    """
    problems: list[Problem] = []
    for setup in plan.order:
        verdicts = []
        for light in setup.lights:
            rig = rig_of(plan.kit, light)
            if rig.stand.is_boom and not (rig.stand.arm_m and rig.stand.arm_back_m):
                problems.append(_no_arm(setup, rig))
                continue
            verdict = judge(rig, plan.day.place)
            verdicts.append((light, verdict))
            problems += _upright(plan, setup, rig, verdict)
            problems += _carrying(plan, setup, rig, verdict)
            problems += _in_wind(plan, setup, verdict)
            problems += _in_reach(plan, setup, rig)
        problems += _bags(plan, setup, verdicts)
        blown = (_panel_in_wind(plan, setup, panel) for panel in judge_panels(plan, setup))
        problems += [problem for problem in blown if problem is not None]
        problems += _mains(plan, setup)
        problems += _flashes(setup)
    return (*problems, *_lifts(plan), *_unknown_circuit(plan), *_flying(plan))


def _no_arm(setup: Setup, rig: Rig) -> Problem:
    return Problem(
        "stop",
        "boom-without-arm",
        setup.id,
        rig.stand.id,
        "a boom's balance cannot be worked out without its arm",
        "measure arm_m (pivot to head) and arm_back_m (pivot to counterweight) for the kit",
    )


def _remedy(plan: Plan, rig: Rig, verdict: Verdict) -> str:
    """What would make it stand: more bags in place, else the bags or a leg elsewhere."""
    more, units, place = verdict.bags_needed_kg, plan.day.units, plan.day.place
    if more is not None and more > verdict.bags_kg:
        wanted = f"{wanted_words(verdict, units)} in all at the {rig.bags_at}"
        other = better_hung(rig, place, [bag.mass_kg for bag in plan.kit.bags])
        if other == rig:
            return f"hang {wanted}, or lower it"
        column = wanted_words(judge(other, place), units)
        return f"hang {column} in all at the column, or lower it; no bags here make {wanted}"
    ways = (
        (rig._replace(bags_at="column"), "at the column"),
        (rig._replace(leg_under_load=True), f"at the {rig.bags_at} with a leg under the load"),
        (
            rig._replace(bags_at="far legs", leg_under_load=True),
            "at the far legs with a leg under the load",
        ),
    )
    for other, where in ways:
        would = judge(other, place)
        if rig.bags and not {"lean", "factor"} & set(would.faults):
            return f"hang its bags {where}, or lower it"
        if would.bags_needed_kg is not None:
            return f"hang {wanted_words(would, units)} {where}, or lower it"
    return "no bag holds it there: lower it, lighten it, or take a wider stand"


def _upright(plan: Plan, setup: Setup, rig: Rig, verdict: Verdict) -> Iterator[Problem]:
    limit = plan.day.place.tilt_limit_deg
    if "lean" in verdict.faults:
        what = (
            f"a lean of {verdict.lean_deg:.1f} deg tips it, {limit:g} are wanted; "
            f"a push of {force(verdict.push_n, plan.day.units)} at the load is enough"
            if verdict.lean_deg > 0
            else "it falls by itself"
        )
        yield Problem(
            "stop", "stand-tips", setup.id, verdict.stand, what, _remedy(plan, rig, verdict)
        )
    elif verdict.factor is not None and verdict.factor < WARN_FACTOR - 1e-9:
        stops = "factor" in verdict.faults
        yield Problem(
            "stop" if stops else "warn",
            "stand-tips" if stops else "stand-barely-stands",
            setup.id,
            verdict.stand,
            f"what holds it is {verdict.factor:.2f} times what tips it; {WARN_FACTOR} is wanted",
            _remedy(plan, rig, verdict),
        )


def _carrying(plan: Plan, setup: Setup, rig: Rig, verdict: Verdict) -> Iterator[Problem]:
    units = plan.day.units
    if "load" in verdict.faults:
        load, most = verdict.load_kg, verdict.load_max_kg
        yield Problem(
            "stop",
            "stand-overloaded",
            setup.id,
            verdict.stand,
            f"it carries {mass(load, units, '.1f')} and is made for "
            f"{figure(mass(most, units, 'g'))}",
            f"take {mass(load - most, units, '.1f')} off it, or a stronger stand",
        )
    needed, given = verdict.counterweight_needed_kg, rig.stand.counterweight_kg
    if needed is None or abs(given - needed) <= max(_BALANCE_KG, _BALANCE_SHARE * needed):
        return
    small = given < needed
    hung, balance = mass(given, units, "g"), mass(needed, units, ".1f")
    if turning_kgm(arm_loads(rig)) < 0:
        do = "shorten the back of the arm: it is heavier than the head side"
    else:
        do = f"hang {balance} at {length(rig.stand.arm_back_m or 0.0, units, 'g')}"
        if not small:
            # The same weight balances closer to the pivot.
            at = balance_kg(arm_loads(rig), 1.0) / given
            do += f", or slide the {hung} in to {length(at, units, '.2f')}"
    yield Problem(
        "warn",
        "counterweight-small" if small else "counterweight-large",
        setup.id,
        verdict.stand,
        f"{hung} on the back of the arm; {balance} balance it",
        do,
    )


def _in_wind(plan: Plan, setup: Setup, verdict: Verdict) -> Iterator[Problem]:
    gust, units = gust_of(plan.day.place), plan.day.units
    limits = verdict.wind
    if gust <= limits.watch:
        return
    what = (
        f"{blowing(plan.day.place)} of {speed(gust, units)} ({beaufort(gust).name}); its limit is "
        f"{figure(speed(limits.limit, units))}, it tips at {figure(speed(limits.tips, units))}"
    )
    level: Level = "note"
    code, do = "wind-watch", "past 60 % of its limit: name somebody to watch the wind"
    if gust > limits.limit:
        level, code, do = "stop", "wind-past-limit", "take the modifier off, lower it, or tie it"
    elif gust > limits.act:
        level, code, do = "warn", "wind-act", "past 80 % of its limit: a person on it, or lower it"
    yield Problem(level, code, setup.id, verdict.stand, what, do)


def _panel_in_wind(plan: Plan, setup: Setup, panel: PanelVerdict) -> Problem | None:
    """A panel that is blown at; a warning where it goes over, or nothing holds it but itself."""
    if panel.gust_ms < FELT_MS or panel.over_ms == inf:
        return None
    units = plan.day.units
    what = f"{pushed_words(panel, units)}; {over_words(panel, units)}"
    level: Level = "note" if panel.bags_kg and panel.mass_kg else "warn"
    code, do = "panel-in-wind", "tie it, put a person on it, or lay it down"
    if panel.fate == "goes over":
        level, code = "warn", "panel-goes-over"
        do = "take it down: what it weighs cannot hold it, whatever its feet"
    elif feet := feet_words(panel, units):
        do += f"; {feet}"
    else:
        do += ", and weigh it" if panel.over_ms is None else ""
    return Problem(level, code, setup.id, panel.panel, what, do)


def _in_reach(plan: Plan, setup: Setup, rig: Rig) -> Iterator[Problem]:
    reach = reach_of(rig.stand, rig.height_m, plan.day.place.reach_m, plan.day.units)
    if reach.how == "use a step":
        yield Problem(
            "warn",
            "over-reach",
            setup.id,
            rig.stand.id,
            reach.why,
            "bring a step or platform, or take a stand that comes down further",
        )


def _bags(plan: Plan, setup: Setup, verdicts: list[tuple[Light, Verdict]]) -> Iterator[Problem]:
    """Whether the bags of the kit, less those on panels, could hold all stands at once."""
    needs = {
        verdict.stand: verdict.bags_needed_kg
        for _, verdict in verdicts
        if verdict.bags_needed_kg is not None
    }
    if all(
        verdict.bags_kg >= (verdict.bags_needed_kg or 0.0) - _SHOWN_KG for _, verdict in verdicts
    ):
        return
    on_panels = {bag for placed in setup.panels for bag in placed.bags}
    at_hand = [bag for bag in plan.kit.bags if bag.id not in on_panels]
    units = plan.day.units
    sharing = share_bags(list(needs.values()), [bag.mass_kg for bag in at_hand])
    lacking = [
        f"{stand} lacks {at_least(short, units)}"
        for stand, short in zip(needs, sharing.short_kg, strict=True)
        if short > _SHOWN_KG
    ]
    if lacking:
        short = at_least(sharing.total_short_kg, units)
        how = "however they are shared" if sharing.proven else "in the best sharing found"
        yield Problem(
            "stop",
            "bags-too-few",
            setup.id,
            None,
            f"the bags at hand leave {short} wanting {how}: {', '.join(lacking)}",
            f"bring {short} more in bags, or lower or lighten a stand",
        )


def _mains(plan: Plan, setup: Setup) -> Iterator[Problem]:
    place = plan.day.place
    if place.circuit_a is None:
        return
    heads = [(plan.kit.head[light.head], light.power.share) for light in setup.lights]
    load = circuit_load(heads, place.circuit_a, place.mains_v)
    if load.of_breaker > 1.0:
        yield Problem(
            "stop",
            "circuit-overloaded",
            setup.id,
            None,
            f"{load.lasting_w:.0f} W of modelling lamps and {load.passing_w:.0f} W of recycling "
            f"ask for {load.needs_a:.1f} A; the circuit has {place.circuit_a:g}",
            "turn modelling lamps down, or put heads on another circuit",
        )


def _unknown_circuit(plan: Plan) -> Iterator[Problem]:
    used = {light.head for setup in plan.order for light in setup.lights}
    mains = [head.id for head in plan.kit.heads if head.mains and head.id in used]
    if mains and plan.day.place.circuit_a is None:
        yield Problem(
            "note",
            "circuit-unknown",
            None,
            mains[0],
            f"{', '.join(mains)} on the mains, and the circuit is not known",
            "ask for the breaker and write circuit_a under [place]",
        )


def _flying(plan: Plan) -> Iterator[Problem]:
    if not plan.day.place.travel_by_air:
        return
    for head in plan.kit.heads:
        if head.mains:
            continue
        if head.battery_wh is None:
            yield Problem(
                "note",
                "battery-unknown",
                None,
                head.id,
                "its battery's energy is not known, and airlines ask for it",
                "read the Wh off the battery and write battery_wh",
            )
            continue
        kind = air_class(head.battery_wh)
        if kind == "refused":
            yield Problem(
                "stop",
                "battery-refused",
                None,
                head.id,
                f"a battery of {head.battery_wh:g} Wh is over 160 and does not fly as baggage",
                "send it as freight, or hire there; check your airline's current rule",
            )
        elif kind == "approval":
            yield Problem(
                "warn",
                "battery-needs-approval",
                None,
                head.id,
                f"a battery of {head.battery_wh:g} Wh flies only with the airline's approval",
                "ask the airline before the day; spares in the cabin, terminals covered",
            )
    spares = approval_spares(plan.kit.heads)
    if spares > APPROVED_SPARES:
        yield Problem(
            "stop",
            "battery-spares",
            None,
            None,
            f"{spares} spare batteries of 100 to 160 Wh; a passenger takes {APPROVED_SPARES}",
            "share them over passengers, or leave some; check your airline's current rule",
        )


def _flashes(setup: Setup) -> Iterator[Problem]:
    if not any(light.power.fires for light in setup.lights):
        return
    # Heads fired by one frame go off as one flash.
    most = most_at_rate(setup.burst_per_s)
    level = flash_level(most)
    if level == "fine":
        return
    code, ask = "flashes-fast", "ask everyone present about light-triggered seizures first"
    if level == "ask everyone":
        code, ask = "flashes-very-fast", f"do not fire it yet: {ask}"
    yield Problem(
        "warn",
        code,
        setup.id,
        None,
        f"{most} flashes in a second: {limit_words(most)} (borrowed)",
        f"slow the burst, or {ask}",
    )


def _onto(plan: Plan, light: Light) -> dict[str, Hands]:
    """The lifts that put up a light: stand, counterweight, head, modifier, each at its lowest."""
    kit, units = plan.kit, plan.day.units
    stand, modifier = kit.stand[light.stand], kit.modifier[light.modifier]
    high_m = max(WORK_M, stand.height_min_m)
    up = [hands_for("place", stand.mass_kg, boom=stand.is_boom, units=units)]
    if stand.is_boom:
        weight = stand.counterweight_kg
        up.append(hands_for("fit", weight, high_m=high_m, boom=True, units=units))
    lifts = {stand.id: max(up, key=lambda hands: hands.people)}
    head_kg = kit.head[light.head].mass_kg
    lifts[light.head] = hands_for("fit", head_kg, high_m=high_m, units=units)
    if not modifier.is_nothing:
        lifts[modifier.id] = hands_for("fit", modifier.mass_kg, high_m=high_m, units=units)
    return lifts


def _lifts(plan: Plan) -> Iterator[Problem]:
    crew, kit, units = max(1, len(plan.day.crew)), plan.kit, plan.day.units
    lifts: dict[str, Hands] = {}
    for setup in plan.order:
        for light in setup.lights:
            for item, hands in _onto(plan, light).items():
                lifts[item] = max(lifts.get(item, hands), hands, key=lambda each: each.people)
            for name in light.bags:
                lifts[name] = hands_for("bag", kit.bag[name].mass_kg, units=units)
        for placed in setup.panels:
            panel_kg = kit.panel[placed.panel].mass_kg
            lifts[placed.panel] = hands_for("place", panel_kg, units=units)
            for name in placed.bags:
                lifts[name] = hands_for("bag", kit.bag[name].mass_kg, units=units)
    for item, hands in lifts.items():
        if hands.people > crew:
            yield Problem(
                "warn",
                "lift-alone",
                None,
                item,
                f"{hands.why}; {hands.people} people are wanted, the crew is {crew}",
                "get help for that lift, bring it on wheels, or take something lighter",
            )
