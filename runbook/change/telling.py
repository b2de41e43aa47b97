"""A changeover made ready to be told: words, hands and seconds on every step."""

from __future__ import annotations

from collections.abc import Callable

from runbook.change.changeover import changeover
from runbook.change.durations import default_seconds
from runbook.change.floor import Floor
from runbook.change.steps import Step, apply
from runbook.change.words import Scene, text_of
from runbook.plan.day import Place
from runbook.plan.kit import Kit

_TWO_ON_A_BOOM = "a boom swings and tips when one hand slips"


def hands_of(step: Step, kit: Kit) -> tuple[int, str]:
    """How many people a step needs, and why where it is more than one."""
    stand = step.on if step.kind == "head" else step.item
    on_stand = step.kind in ("stand", "counterweight", "head") and stand in kit.stand
    if on_stand and kit.stand[str(stand)].is_boom and step.verb not in ("place", "strike"):
        return 2, _TWO_ON_A_BOOM
    return 1, ""


def seconds_of(step: Step, kit: Kit) -> float:
    """The default duration of a step, in seconds."""
    kind = step.kind
    if kind == "stand" and kit.stand[step.item].is_boom:
        return default_seconds(step.verb, "boom")
    return default_seconds(step.verb, kind)


def told(
    start: Floor,
    goal: Floor,
    scene: Scene,
    place: Place,
    seconds: Callable[[Step, Kit], float] = seconds_of,
) -> tuple[Step, ...]:
    """The changeover from one floor to another with its words, hands and seconds."""
    now = start
    said: list[Step] = []
    for step in changeover(start, goal, scene.kit, place):
        hands, why = hands_of(step, scene.kit)
        said.append(
            step._replace(
                text=text_of(step, now, scene),
                seconds=seconds(step, scene.kit),
                hands=hands,
                why_hands=why,
            )
        )
        now = apply(now, step)
    return tuple(said)
