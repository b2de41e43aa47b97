"""The powers that make everything asked of a setup come true together.

Readings are in stops (``log2 N²``). A reading asked of a head itself, or so far under a key whose own reading is asked,
depends on no other head: it takes its nearest click. All else is worked out jointly, for the least sum of squared
errors over the clicks of the dials: the level of the background, the whole reading, and the heads that follow a key
without a reading of its own.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from itertools import combinations, product
from typing import TYPE_CHECKING, Any, Final

from runbook.light.heads import DialSetting, LitHead, light_heads
from runbook.light.scene import scene
from runbook.light.stops import DARK, METER_LEAST, add_light
from runbook.model.day import Plan
from runbook.model.kit import Kit, Measured
from runbook.model.nominal_values import aperture_stops
from runbook.model.power import FULL, OFF, SOLVE, Power
from runbook.model.setup import Setup

if TYPE_CHECKING:
    from numpy.typing import NDArray

_SLACK: Final = 1e-9
_ROUNDS: Final = 60
_GAIN: Final = 1e-9  # of the squared error, in stops: less moves no click
_ENUMERATED: Final = 10  # unknown powers of which every rounding is tried


@dataclass(frozen=True, slots=True)
class Ask:
    """A reading that is asked for: ``gives`` is what each head adds to it at full power, in stops.

    ``wanted`` is in stops; where it counts ``from_key``, in stops over the key.
    """

    of: str
    gives: tuple[float, ...]
    wanted: float
    from_key: bool = False


@dataclass(frozen=True, slots=True)
class Solution:
    """What is the key; of each head the reading asked for, the power to dial, and its power after that.

    ``key`` is a head, by place, or ``key_panel`` a panel. ``asked`` and ``dials`` are None where nothing is asked of a
    head; there is no power to dial where no meter would show its light in what is asked. ``asks`` are those of the set
    and its panels as they then are, and ``left_over`` is by how much each then reads too bright (plus).
    """

    key: int | None
    asked: tuple[float | None, ...]
    dials: tuple[DialSetting | None, ...]
    powers: tuple[Power, ...]
    key_panel: str | None = None
    asks: tuple[Ask, ...] = ()
    left_over: tuple[float | None, ...] = ()


def reading_of(gives: Sequence[float], powers: Sequence[Power]) -> float:
    """Return what heads at these powers add up to, in stops, from what each gives at full power."""
    return add_light(
        DARK if power.below_full is None else full - float(power.below_full)
        for full, power in zip(gives, powers, strict=True)
    )


def solve(
    heads: Sequence[LitHead], left_out: Collection[str] = (), asks: Sequence[Ask] = (), key_panel: str | None = None
) -> Solution:
    """Return the key, and what each head is asked to read and to be set to.

    The powers of ``left_out`` heads are not set; ``asks`` are those of panels, the background and the whole set.
    ``key_panel`` is a panel whose role is key: it is the key where a meter at the face would show it.
    """
    free = {n for n, head in enumerate(heads) if head.light.head in left_out or head.light.power == SOLVE}
    of_panel = tuple(head.bounced.get(key_panel or "", DARK) for head in heads)
    if add_light(of_panel) < METER_LEAST:
        key_panel = None
    key = None if key_panel else _key(heads, free)
    of_key = of_panel if key_panel else tuple(head.as_key if n == key else DARK for n, head in enumerate(heads))
    base = _base(heads, asks, key, key_panel)
    asked = [_asked(head, base, is_key=n == key) for n, head in enumerate(heads)]
    dials = [head.dial_for(target) for head, target in zip(heads, asked, strict=True)]
    powers = [_power(head, dial) for head, dial in zip(heads, dials, strict=True)]
    has_key = key is not None or key_panel is not None
    follows = [n for n, head in enumerate(heads) if has_key and n != key and asked[n] is None and head.follows]
    unknown = [n for n in {*free, *follows} if asked[n] is None and heads[n].light.power.fires]
    if base is not None:
        asks = _counted_from(base, asks)
    elif not has_key:
        asks = [ask for ask in asks if not ask.from_key]
    if asks or key in unknown or key_panel:
        rows = [_own_ask(heads, n) for n in unknown if n in follows] + list(asks)
        reached = [n for n in sorted(unknown) if any(row.gives[n] >= METER_LEAST for row in rows)]
        for n, dial in zip(reached, _Joint(heads, of_key, reached, powers, rows).dials(), strict=True):
            dials[n] = dial
            powers[n] = _power(heads[n], dial)
    reads = reading_of(of_key, powers)
    for n in follows if reads != DARK else ():
        target = asked[n] = reads - (heads[n].light.under_key_stops or 0.0)
        dials[n] = _followed(heads[n], dials[n], target)
        powers[n] = _power(heads[n], dials[n])
    asks = _counted_from(reads, asks)
    left_over = tuple(None if (got := reading_of(ask.gives, powers)) == DARK else got - ask.wanted for ask in asks)
    return Solution(key, tuple(asked), tuple(dials), tuple(powers), key_panel, tuple(asks), left_over)


def _base(heads: Sequence[LitHead], asks: Sequence[Ask], key: int | None, key_panel: str | None) -> float | None:
    """Return the reading that is asked of the key itself."""
    if key_panel is None:
        return None if key is None else heads[key].asked
    return next((ask.wanted for ask in asks if ask.of == key_panel and not ask.from_key), None)


def _counted_from(key: float, asks: Sequence[Ask]) -> list[Ask]:
    """Return asks with those that count from the key as readings."""
    return [replace(ask, wanted=key + ask.wanted, from_key=False) if ask.from_key else ask for ask in asks]


def _followed(head: LitHead, worked_out: DialSetting | None, target: float) -> DialSetting | None:
    """Return the power of a head for a reading under the key: the nearest, or as it is worked out with others."""
    if worked_out is None:
        return head.dial_for(target)
    return _at(head, worked_out.power, reading_of([head.at_full], [worked_out.power]) - target)


def _power(head: LitHead, dial: DialSetting | None) -> Power:
    """Return the power of a head once all that is shown is dialled; its least where nothing tells a power left out."""
    set_to = head.light.power
    if not set_to.fires:
        return OFF
    if dial is not None:
        return dial.power
    return head.dial.lowest if set_to == SOLVE else set_to


def _key(heads: Sequence[LitHead], free: Collection[int]) -> int | None:
    """Return the first head whose role is key; without one, the brightest as asked.

    One that no meter at the face would show is neither. A head that follows the key, or whose power depends on others,
    is the key only where nothing else is; of those that follow, then the one asked to be the least under it.
    """
    unknown = {n for n in free if heads[n].asked is None}
    reads = [head.as_key if n in unknown else head.as_asked for n, head in enumerate(heads)]
    shown = [n for n, head in enumerate(heads) if head.light.power.fires and reads[n] >= METER_LEAST]
    if keys := [n for n in shown if heads[n].light.role == "key"]:
        return keys[0]
    leading = [n for n in shown if not heads[n].follows]
    if known := [n for n in leading if n not in unknown] or leading:
        return max(known, key=reads.__getitem__)
    return min(shown, key=lambda n: heads[n].light.under_key_stops or 0.0, default=None)


def _asked(head: LitHead, base: float | None, *, is_key: bool) -> float | None:
    """Return the reading asked of a head that depends on no other: its own, or so far under that asked of the key."""
    under = head.light.under_key_stops
    return head.asked if head.asked is not None or is_key or base is None or under is None else base - under


def _own_ask(heads: Sequence[LitHead], n: int) -> Ask:
    """Return what is asked of a head that follows the key."""
    one = heads[n]
    gives = tuple(one.at_full if at == n else DARK for at in range(len(heads)))
    return Ask(one.light.head, gives, -(one.light.under_key_stops or 0.0), from_key=True)


def _at(head: LitHead, power: Power, left_over: float) -> DialSetting:
    """Return a power that is worked out with others: out of range only at an end of the dial."""
    in_range = power not in (head.dial.lowest, FULL) or abs(left_over) <= float(head.dial.step) / 2 + _SLACK
    return DialSetting(power, left_over, in_range)


class _Joint:
    """Several powers that are worked out together, and the readings that are asked of them."""

    def __init__(
        self,
        heads: Sequence[LitHead],
        of_key: Sequence[float],
        unknown: list[int],
        powers: Sequence[Power],
        asks: list[Ask],
    ) -> None:
        import numpy as np

        self.np, self.heads = np, [heads[n] for n in unknown]
        asks = [ask for ask in asks if any(ask.gives[n] != DARK for n in unknown)]
        light = 2.0 ** np.array([*(ask.gives for ask in asks), of_key])
        shares = np.array([power.share for power in powers])
        shares[unknown] = 0.0
        self.fixed, self.each = light @ shares, light[:, unknown]
        self.wanted = np.array([ask.wanted for ask in asks])
        self.from_key = np.array([float(ask.from_key) for ask in asks])
        self.steps = np.array([float(head.dial.step) for head in self.heads])
        # where several heads could do it, what is within a third of a click is as good: they stay even
        self.as_good = (self.steps.min() / 3) ** 2 if len(asks) < len(unknown) else 0.0
        self.most = np.array([float(head.dial.lowest.below_full or 0) for head in self.heads])

    def dials(self) -> list[DialSetting]:
        """Return the power to dial of each unknown head, and what is left over of the ask it does most for."""
        if not self.heads:
            return []
        below = self._descend(self.most / 2)
        if self._error(below) > _GAIN:  # else nothing is better
            below = min(below, *map(self._descend, (0 * self.most, self.most)), key=self._error)
        clicks = self._clicks(below)
        errors, weights = self._errors(clicks * self.steps), self._weights(clicks * self.steps)
        most_for = abs(weights).argmax(axis=0)
        return [
            _at(head, Power(int(clicks[n]) * head.dial.step), float(errors[most_for[n]]))
            for n, head in enumerate(self.heads)
        ]

    def _light(self, below: Any) -> Any:
        """Return the light of each ask, and of the key, with the unknown heads so many stops below full."""
        return self.fixed + (2.0**-below) @ self.each.T

    def _errors(self, below: Any) -> Any:
        """Return how much brighter than wanted each ask reads."""
        stops = self.np.log2(self.np.maximum(self._light(below), 1e-300))
        return stops[..., :-1] - self.wanted - self.from_key * stops[..., -1:]

    def _error(self, below: Any) -> Any:
        return (self._errors(below) ** 2).sum(axis=-1)

    def _weights(self, below: Any) -> Any:
        """Return by how much each ask darkens with each head, a stop for a stop."""
        shares = self.each * 2.0**-below / self.np.maximum(self._light(below), 1e-300)[:, None]
        return shares[:-1] - self.from_key[:, None] * shares[-1]

    def _descend(self, start: NDArray[Any]) -> NDArray[Any]:
        """Return the powers between clicks with the least error near a start: damped least squares within the dials."""
        np = self.np
        below, error, damping = start, self._error(start), 1e-3
        for _ in range(_ROUNDS):
            weights = self._weights(below)
            normal = weights.T @ weights + damping * np.eye(len(below))
            there = np.clip(below + np.linalg.solve(normal, weights.T @ self._errors(below)), 0.0, self.most)
            new = self._error(there)
            if new < error:
                gain, below, error, damping = error - new, there, new, max(damping / 10, 1e-9)
                if gain < _GAIN:
                    break
            elif damping > 1e6:
                break
            else:
                damping *= 10
        return below

    def _clicks(self, below: NDArray[Any]) -> NDArray[Any]:
        """Return the clicks with the least error round these powers."""
        np = self.np
        count, most = len(below), np.rint(self.most / self.steps)
        near = below / self.steps
        tried = [np.rint(near)]
        if count <= _ENUMERATED:
            tried = [np.floor(near) + up for up in product((0, 1), repeat=count)]
        best = self._best(np.clip(np.array(tried), 0, most), near)
        unit = np.eye(count)
        moves = [np.zeros(count), *unit, *-unit]
        moves += [
            a * unit[i] + b * unit[j] for i, j in combinations(range(count), 2) for a, b in product((1, -1), repeat=2)
        ]
        while (error := self._error(best * self.steps)) > self.as_good:
            better = self._best(np.clip(best + np.array(moves), 0, most), near)
            if self._error(better * self.steps) >= error - 1e-12:
                break
            best = better
        return best

    def _best(self, clicks: NDArray[Any], near: NDArray[Any]) -> NDArray[Any]:
        """Return the clicks with the least error, the nearest of those that tie."""
        errors = self._error(clicks * self.steps)
        tied = clicks[errors <= max(errors.min() + 1e-12, self.as_good)]
        nearest: NDArray[Any] = tied[((tied - near) ** 2).sum(axis=1).argmin()]
        return nearest


# -- of a plan -----------------------------------------------------------------------------------


def heads_of(kit: Kit, setup: Setup, measured: Sequence[Measured] = ()) -> tuple[LitHead, ...]:
    """Return the heads of a setup; ``measured`` are readings that beat the kit's rows."""
    lights = (replace(light, power=SOLVE) if light.power.fires else light for light in setup.lights)
    heads = _heads_at_full(kit, replace(setup, lights=tuple(lights)), tuple(measured))
    return tuple(replace(head, light=light) for head, light in zip(heads, setup.lights, strict=True))


@lru_cache(maxsize=512)  # what heads give at full power stays while they are dialled, and while other setups are edited
def _heads_at_full(kit: Kit, setup: Setup, measured: tuple[Measured, ...]) -> tuple[LitHead, ...]:
    return light_heads(kit, setup, scene(setup), measured)


def key_panel_of(setup: Setup) -> str | None:
    """Return the first panel whose role is key."""
    return next((place.panel for place in setup.panels if place.role == "key"), None)


def set_asks(setup: Setup, lit: Sequence[LitHead]) -> tuple[Ask, ...]:
    """Return what is asked of the panels, the background and the whole set."""
    aperture, behind, over = aperture_stops(setup.exposure.f), setup.background, setup.exposure.whole_over_stops
    asks = []
    for place in setup.panels:
        gives = tuple(one.bounced.get(place.panel, DARK) for one in lit)
        if place.aim_reading_f is not None:
            asks.append(Ask(place.panel, gives, aperture_stops(place.aim_reading_f)))
        elif place.under_key_stops is not None and place.role != "key":
            asks.append(Ask(place.panel, gives, -place.under_key_stops, from_key=True))
    if behind is not None and behind.over_stops is not None:
        asks.append(Ask("background", tuple(one.background for one in lit), aperture + behind.over_stops))
    if over is not None:
        asks.append(Ask("whole", tuple(one.whole for one in lit), aperture + over))
    return tuple(asks)


def with_powers(plan: Plan) -> Plan:
    """Return a plan with every power that is left out worked out from what is asked."""
    left_out = {
        name: frozenset(light.head for light in setup.lights if light.power == SOLVE)
        for name, setup in plan.setups.items()
    }
    solved = {name: heads for name, heads in left_out.items() if heads}
    setups = {name: _filled(plan.kit, setup) if name in solved else setup for name, setup in plan.setups.items()}
    return replace(plan, setups=setups, solved=solved) if solved else plan


@lru_cache(maxsize=512)  # while a day is edited, most of its setups are worked out again and again as they are
def _filled(kit: Kit, setup: Setup) -> Setup:
    lit = heads_of(kit, setup)
    powers: Mapping[str, Power] = {
        one.light.head: power
        for one, power in zip(lit, solve(lit, (), set_asks(setup, lit), key_panel_of(setup)).powers, strict=True)
    }
    lights = (replace(one, power=powers[one.head]) if one.power == SOLVE else one for one in setup.lights)
    return replace(setup, lights=tuple(lights))
