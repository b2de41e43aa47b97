"""What a rule does where it would need a value that is wrong already: it says no more."""

from __future__ import annotations

from collections.abc import Iterator

from runbook.plan.faults import Wrong


class Unsaid(Exception):
    """A value was asked for that is wrong, or not known; that is told already."""


def as_far_as_known(rule: Iterator[Wrong]) -> Iterator[Wrong]:
    """What a rule finds, up to where it asks for a value that is not known."""
    try:
        yield from rule
    except Unsaid:
        return
