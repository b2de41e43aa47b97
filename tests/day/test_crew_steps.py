"""Everybody's own list of steps, with what others must have done before."""

from runbook.day.changeovers import Changeover, Changeovers
from runbook.day.crew_steps import ALL, crew_steps
from tests.day.days import demo, short
from tests.day.plans import with_day


def earlier(change: Changeover, numbers: set[int]) -> set[int]:
    """These steps and all that come before them, however far back."""
    steps = {step.n: step for step in change.steps}
    todo, found = [*numbers], set[int]()
    while todo:
        if (n := todo.pop()) not in found:
            found.add(n)
            todo += steps[n].after
    return found


def test_who_keeps_to_their_own_list_is_never_too_soon_and_each_step_is_led_by_one_and_listed_for_all() -> None:
    for change in Changeovers(demo()).all:
        lists = crew_steps(change)
        for steps in lists.values():
            before: set[int] = set()
            for mine in steps:
                assert not set(mine.waits_for) & before  # no wait for what is done anyway
                before = earlier(change, before | set(mine.waits_for))
                assert set(mine.step.after) <= before
                before.add(mine.step.n)
        led = sorted(mine.step.n for steps in lists.values() for mine in steps if mine.leads)
        assert led == [step.n for step in change.steps]
        for shared in change.shared:
            who = {name for name, steps in lists.items() if shared.step in [mine.step for mine in steps]}
            assert who == {*shared.crew}


def test_a_day_that_names_no_crew_has_one_list() -> None:
    plan = short("keeper-window")
    change = next(Changeovers(with_day(plan, crew=())).all)
    ((name, steps),) = crew_steps(change).items()
    assert name == ALL
    assert [mine.step.n for mine in steps] == [step.n for step in change.steps]
    assert not any(mine.waits_for or mine.others for mine in steps)
