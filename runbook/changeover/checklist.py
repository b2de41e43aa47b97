"""The checklist: what must be true at each stage of the day, and what holds a step back.

A check is called out and ticked. One that ``holds`` stops the day until it is ticked, or set aside
with a reason. The lines are in ``checklist.toml``; ``docs/safety.md`` prints the same lines, with
what each source says and how far it was read. Nothing here clears anyone to do anything.
"""

from __future__ import annotations

import tomllib
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path
from typing import Final, Literal

from runbook.files.validate import parse

Stage = Literal["load-in", "pre-light", "change", "talent", "meal", "wrap"]
Basis = Literal["published", "derived", "common practice"]
Only = Literal["outdoors", "mains", "boom", "frames"]
Trait = Literal["bags", "boom", "high", "overhead", "rail", "first-pop", "new-talent"]


@dataclass(frozen=True, slots=True)
class Check:
    """One line of the checklist.

    ``text`` is at most 70 characters, so that it fits 80 columns. ``only`` is what the day must
    have for the line to matter.
    """

    id: str
    stage: Stage
    text: str
    why: str
    basis: Basis
    source: str
    holds: bool = False
    only: Only | None = None


@dataclass(frozen=True, slots=True)
class Gate:
    """A check that belongs to one thing and holds a step back until it is ticked.

    ``before`` are the verbs it holds, ``kinds`` the kinds of step (all when empty), ``applies``
    what the thing must have, any one of them.
    """

    id: str
    text: str
    why: str
    before: tuple[str, ...]
    applies: tuple[Trait, ...]
    basis: Basis
    source: str
    kinds: tuple[str, ...] = ()
    stage: Stage = "change"

    def on(self, stand: str = "", kg: str = "", where: str = "on the column") -> Check:
        """Return the check for one stand or person, with the bag's weight and place as text."""
        text = self.text.format(stand=stand, kg=kg, where=where)
        return Check(self.id.format(stand=stand), self.stage, text, self.why, self.basis, self.source, holds=True)


@dataclass(frozen=True, slots=True)
class Checklist:
    """All of ``checklist.toml``."""

    cautions: tuple[str, ...]
    gate: tuple[Gate, ...]
    check: tuple[Check, ...]


_FILE: Final = Path(__file__).with_name("checklist.toml")
_CHECKLIST: Final = parse(Checklist, tomllib.loads(_FILE.read_text("utf-8")))
CAUTIONS: Final = _CHECKLIST.cautions
GATES: Final = _CHECKLIST.gate
CHECKS: Final = _CHECKLIST.check


def checks_for(stage: Stage, *, outdoors: bool, mains: bool, booms: bool, frames: bool) -> tuple[Check, ...]:
    """Return the lines of one stage that matter on a day with these things, in calling order."""
    present = {"outdoors": outdoors, "mains": mains, "boom": booms, "frames": frames}
    return tuple(check for check in CHECKS if check.stage == stage and (check.only is None or present[check.only]))


def gates_for(verb: str, kind: str, traits: Iterable[Trait]) -> tuple[Gate, ...]:
    """Return the gates that hold back a step of this verb and kind on a thing with these traits."""
    has = set(traits)
    return tuple(
        gate
        for gate in GATES
        if verb in gate.before and (not gate.kinds or kind in gate.kinds) and has & {*gate.applies}
    )
