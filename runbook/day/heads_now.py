"""The heads of the setup at hand: what each is to do, what is predicted of it, what it read."""

from __future__ import annotations

from collections.abc import Container
from typing import NamedTuple

from runbook.changeover.steps import Step
from runbook.changeover.words import place_short
from runbook.day.light import metered_at, over_said, reads_said
from runbook.day.said import reading_said
from runbook.day.state import DayState
from runbook.light.audit import OFF_ASKED_STOPS
from runbook.light.prediction import HeadLight, Prediction
from runbook.light.stops import meter_text
from runbook.model.day import Plan
from runbook.model.kit import Measured
from runbook.model.power import Power
from runbook.model.setup import Light, Setup


class HeadLine(NamedTuple):
    """A head of the setup at hand: its targets, what the plan said, and what it read.

    One that is not ``up`` is no part of the setup as it stands: only its label and role are true.
    """

    head: str
    role: str
    power: Power
    planned: Power
    modifier: str
    place: str
    stand: str
    height_m: float
    reading: str
    state: str
    predicted: str = ""
    over: str = ""
    up: bool = True


def head_lines(
    plan: Plan, truth: DayState, asked: Setup, setup: Setup, light: Prediction, *, changing: Container[str]
) -> tuple[HeadLine, ...]:
    """The heads ``asked`` for, as they are in the ``setup`` that really stands.

    ``changing`` are the things with steps to do.
    """
    planned = plan.setups[setup.id].light
    lit = {each.head: each for each in light.heads}
    return tuple(
        HeadLine(
            each.head,
            each.role,
            each.power,
            planned[each.head].power if each.head in planned else each.power,
            " + ".join((each.modifier, *each.accessories)),
            place_short(each, plan.day.units),
            each.stand,
            each.height_m,
            reading_of(truth, setup.id, each.head),
            "changing" if each.head in changing else "set",
            *_predicted(each, lit.get(each.head)),
            each.head in setup.light,
        )
        for each in (setup.light.get(one.head, one) for one in asked.lights)
    )


def _predicted(light: Light, found: HeadLight | None) -> tuple[str, str]:
    """What a head that fires reads, and how far over that is, or where else it is metered."""
    if found is None or not found.power.fires:
        return "", ""
    where = metered_at(light)
    if where != "face":  # what it does where it points says more than its spill on the face
        return reads_said(found.at_aim_stops), "bg" if where == "background" else "pnl"
    return reads_said(found.reads_stops), over_said(found.over_stops)


def power_note(step: Step, light: Prediction | None, metered: Container[Measured]) -> str:
    """What a power step should dial instead, by the day's meter readings; empty where it is right.

    ``light`` is the prediction of the setup the step leads to.
    """
    heads = () if light is None or (step.verb, step.kind) != ("power", "head") else light.heads
    head = next((one for one in heads if one.head == step.item), None)
    if head is None or head.measured not in metered or not head.power.fires:
        return ""
    asked, reads, dial = head.asked_stops, head.reads_stops, head.dial
    if asked is None or reads is None or dial is None or abs(reads - asked) <= OFF_ASKED_STOPS:
        return ""
    return f"metered today: {meter_text(asked)} asked is {dial.power}"


def reading_of(truth: DayState, setup_id: str, head: str | None) -> str:
    """The last reading of a head, or of the whole set (None), as a meter shows it."""
    entry = truth.readings.get(setup_id, {}).get(head)
    return reading_said(entry.data.stops) if entry else ""
