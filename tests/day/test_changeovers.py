"""The day's changeovers as planned, and shared over the crew."""

from __future__ import annotations

import json

import pytest

from runbook.day.changeovers import Changeovers, changeovers_data
from tests.day.days import demo


def test_the_day_goes_from_load_in_over_every_setup_to_the_wrap() -> None:
    ends = [(change.start, change.goal) for change in Changeovers(demo()).all]
    order = demo().day.order
    assert ends == list(zip((None, *order), (*order, None), strict=True))


@pytest.mark.parametrize(
    ("start", "goal", "found"),
    [
        ("keeper-window", None, ("keeper-window", "keeper-lamp")),
        (None, "keeper-lamp", ("keeper-window", "keeper-lamp")),
        (None, "keeper-window", (None, "keeper-window")),
        ("load-in", None, (None, "keeper-window")),
        ("widow-answer", None, ("widow-answer", None)),
        (None, "wrap", ("widow-answer", None)),
        ("load-in", "wrap", (None, None)),
        ("captain-deck", "keeper-window", ("captain-deck", "keeper-window")),
    ],
)
def test_a_name_left_out_is_the_neighbour_in_the_order(
    start: str | None, goal: str | None, found: tuple[str | None, str | None]
) -> None:
    asked = Changeovers(demo()).named(start, goal)
    assert (asked.start, asked.goal) == found


def test_a_setup_needs_nothing_to_become_itself() -> None:
    nothing = Changeovers(demo()).between("keeper-window", "keeper-window")
    assert (nothing.steps, nothing.alone_s, nothing.people) == ((), 0.0, 0)


def test_the_facts_are_plain_and_add_up() -> None:
    told = json.loads(json.dumps(changeovers_data(Changeovers(demo()).all, lambda _: {})))["changeovers"]
    assert told[0]["from"] is None
    crew = {member.id for member in demo().day.crew}
    for each in told:
        assert [step["n"] for step in each["steps"]] == list(range(1, len(each["steps"]) + 1))
        for step in each["steps"]:
            assert all(n < step["n"] for n in step["after"])
            assert len(step["crew"]) == step["hands"] <= each["people"]
            assert len(set(step["crew"])) == len(step["crew"])
            assert set(step["crew"]) <= crew
            assert step["start_s"] + step["seconds"] <= each["total_s"]
