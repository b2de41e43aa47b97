"""Plans like another, with something changed."""

from dataclasses import replace
from typing import Any

from runbook.model.day import Crew, Plan
from runbook.model.setup import PanelPlace, Setup


def with_day(plan: Plan, **changed: Any) -> Plan:
    """The plan with other values in its day."""
    return replace(plan, day=replace(plan.day, **changed))


def with_place(plan: Plan, **changed: Any) -> Plan:
    """The plan with another place."""
    return with_day(plan, place=replace(plan.day.place, **changed))


def with_setup(plan: Plan, setup: Setup) -> Plan:
    """The plan with a setup in place of the one of its name."""
    return replace(plan, setups=plan.setups | {setup.id: setup})


def with_lights(plan: Plan, setup_id: str = "", **changed: Any) -> Plan:
    """The plan with other values in every light of a setup, the first if none is named."""
    setup = plan.setups[setup_id or plan.day.order[0]]
    return with_setup(plan, replace(setup, lights=tuple(replace(light, **changed) for light in setup.lights)))


def with_crew(plan: Plan, *crew: Crew) -> Plan:
    """The plan with another crew; what somebody held who is not in it stands by itself.

    A plan that is read from files never names a holder who is not there.
    """
    gone = {member.id for member in plan.day.crew} - {member.id for member in crew}

    def standing(place: PanelPlace) -> PanelPlace:
        return replace(place, held_by=None) if place.held_by in gone else place

    setups = {name: replace(setup, panels=tuple(map(standing, setup.panels))) for name, setup in plan.setups.items()}
    return with_day(replace(plan, setups=setups), crew=crew)
