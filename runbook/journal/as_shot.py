"""A setup as the journal says it really was."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any, Final

from runbook.journal.entries import Changed, Entry, Frames, Note, Reading, live
from runbook.plan.power import Dial
from runbook.plan.setup import Exposure, Setup
from runbook.plan.shape import validator
from runbook.plan.tuples import NamedTuple


class Shot(NamedTuple):
    """What came of a setup: as shot, frames shot, the last readings by head, and remarks.

    The reading of the whole set is under None.
    """

    setup: Setup
    frames: int
    readings: dict[str | None, Reading]
    notes: tuple[str, ...]


_NO_DIALS: Final[Mapping[str, Dial]] = {}
_NAMES_IT: Final = ("head", "panel")  # another name would be another thing


def as_shot(setup: Setup, entries: Iterable[Entry], dials: Mapping[str, Dial] = _NO_DIALS) -> Setup:
    """The setup with every change the journal holds for it that was not undone, in order.

    ``dials`` are the heads' own, by head: 0.3 of a stop is a third only on a third-stop dial, which
    is what a head without one is taken to have. What does not fit is left out; see ``misfits``.
    """
    return _applied(setup, entries, dials)[0]


def misfits(
    setup: Setup, entries: Iterable[Entry], dials: Mapping[str, Dial] = _NO_DIALS
) -> tuple[Entry, ...]:
    """The changes that do not fit the setup: of a head it has no more, or to no value it can have.

    There are none unless the plan was changed after the journal was begun.
    """
    return _applied(setup, entries, dials)[1]


def shot(setup: Setup, entries: Iterable[Entry], dials: Mapping[str, Dial] = _NO_DIALS) -> Shot:
    """What the journal holds about a setup: how it was set, metered and shot."""
    counted = live(entries)
    about = [entry.data for entry in counted if getattr(entry.data, "setup", None) == setup.id]
    return Shot(
        as_shot(setup, counted, dials),
        sum(data.added for data in about if isinstance(data, Frames)),
        {data.head: data for data in about if isinstance(data, Reading)},
        tuple(data.text for data in about if isinstance(data, Note)),
    )


def _applied(
    setup: Setup, entries: Iterable[Entry], dials: Mapping[str, Dial]
) -> tuple[Setup, tuple[Entry, ...]]:
    misfit: list[Entry] = []
    for entry in live(entries):
        if isinstance(entry.data, Changed) and entry.data.setup == setup.id:
            try:
                setup = _changed(setup, entry.data, dials)
            except (LookupError, ValueError):
                misfit.append(entry)
    return setup, tuple(misfit)


def _changed(setup: Setup, change: Changed, dials: Mapping[str, Dial]) -> Setup:
    """Raises LookupError when there is no such thing, ValueError when the value does not fit."""
    key, now = change.key, change.now
    if change.of == "head":
        old = setup.light[change.item]
        dial = dials.get(old.head)
        value = dial.read(str(now)) if key == "power" and dial is not None else now
        new = _with(old, key, value)
        return setup._replace(lights=tuple(new if one is old else one for one in setup.lights))
    if change.of == "panel":
        was = setup.panel[change.item]
        place = _with(was, key, now)
        return setup._replace(panels=tuple(place if one is was else one for one in setup.panels))
    in_camera = "exposure" if key in Exposure._fields else "view"
    field = in_camera if change.of == "camera" else change.of
    return setup._replace(**{field: _with(getattr(setup, field), key, now)})


def _with(shape: Any, key: str, value: Any) -> Any:
    """A named tuple with one field changed, checked like one read from a file."""
    if key in _NAMES_IT or key not in getattr(shape, "_fields", ()):
        raise LookupError(f"there is no {key} to change")
    cls: type = type(shape)
    return validator(cls).validate_python(shape._asdict() | {key: value})
