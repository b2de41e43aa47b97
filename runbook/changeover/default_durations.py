"""How long a step takes before anyone has timed it.

The seconds are our own estimates for a practised crew (common practice, no source), to the nearest
5 s: nobody plans finer, and shares are proven sooner. A timed step of the same verb and kind always
beats them; ``docs/durations.md`` prints the same table.
"""

from __future__ import annotations

from typing import Final

DEFAULT_S: Final[dict[tuple[str, str], float]] = {
    ("place", "stand"): 40.0,
    ("place", "boom"): 120.0,
    ("place", "panel"): 30.0,
    ("strike", "stand"): 30.0,
    ("strike", "boom"): 90.0,
    ("strike", "panel"): 25.0,
    ("move", "stand"): 25.0,
    ("move", "boom"): 75.0,
    ("move", "panel"): 20.0,
    ("raise", "stand"): 15.0,
    ("raise", "boom"): 30.0,
    ("lower", "stand"): 10.0,
    ("lower", "boom"): 25.0,
    ("fit", "head"): 25.0,
    ("fit", "modifier"): 40.0,
    ("fit", "accessory"): 20.0,
    ("fit", "cloth"): 120.0,
    ("fit", "counterweight"): 30.0,
    ("free", "head"): 20.0,
    ("free", "modifier"): 20.0,
    ("free", "accessory"): 10.0,
    ("free", "cloth"): 60.0,
    ("free", "counterweight"): 25.0,
    ("bag", "bag"): 10.0,
    ("unbag", "bag"): 10.0,
    ("aim", "head"): 10.0,
    ("power", "head"): 10.0,
    ("arm", "head"): 5.0,
    ("disarm", "head"): 5.0,
    ("lens", "camera"): 40.0,
    ("expose", "camera"): 10.0,
    ("view", "camera"): 40.0,
    ("turn", "subject"): 25.0,
    ("test", "set"): 40.0,
}


def default_seconds(verb: str, kind: str) -> float:
    """Seconds of one step nobody has timed; ``kind`` tells a ``boom`` from a ``stand``.

    Raises KeyError when no such step exists.
    """
    return DEFAULT_S[verb, kind]
