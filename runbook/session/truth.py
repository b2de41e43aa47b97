"""What is true now: the journal's entries folded, one by one, over the plan.

A pure fold, so that the day looks the same after a crash as before it: ``truth_of`` reads all of
the entries that still count, ``advance`` takes in one more.
"""

from __future__ import annotations

from collections.abc import Callable, Container, Iterable, Mapping
from typing import Any, Final, Literal, TypeVar

from runbook.change.changeover import changeover
from runbook.change.floor import EMPTY, Floor, floor_of
from runbook.change.steps import CannotBeDone, Step, apply, from_plain
from runbook.journal import entries as told
from runbook.journal.as_shot import as_shot
from runbook.journal.as_stood import Stood, as_stood, floor_left
from runbook.journal.entries import Entry
from runbook.plan.day import Place, Plan
from runbook.plan.kit import Kit, Measured
from runbook.plan.setup import Setup
from runbook.plan.tuples import NamedTuple
from runbook.session.light import anchor

StepKey = tuple[str, str, str]
State = Literal["to do", "changing", "ready", "shot", "skipped"]
V = TypeVar("V")

CHANGE: Final = "change"


class Tick(NamedTuple):
    """Who ticked a check and when, in which setup, or why it was set aside."""

    by: str
    at: str
    aside: str | None = None
    setup: str | None = None


class Done(NamedTuple):
    """A step done: what, who, when (``HH:MM``), and its entry's number."""

    step: Step
    by: str
    at: str
    entry: int


class Truth(NamedTuple):
    """The running day.

    ``floor`` is what stands for the setup at work; ``ahead`` are steps already done for later
    ones, by setup. ``at_work`` is the setup begun last; ``lit`` once a test pop was made (or left
    out); ``wrapping`` once the strike has begun. ``change_checks`` were ticked in this changeover,
    ``ahead_checks`` for steps of a later one. ``stood`` is what stood of each setup gone by that
    had steps skipped. ``handed_to`` names who has the day now, if it was handed over. ``wind`` is
    the last wind entered. ``odd`` says which entries make no sense any more.
    """

    floor: Floor = EMPTY
    at_work: str | None = None
    begun: bool = False
    lit: bool = False
    wrapping: bool = False
    done: tuple[Done, ...] = ()
    ahead: tuple[tuple[str | None, Done], ...] = ()
    steps_skipped: dict[StepKey, str] = {}  # noqa: RUF012 - never changed in place
    setups_skipped: dict[str, str] = {}  # noqa: RUF012
    checks: dict[str, Tick] = {}  # noqa: RUF012
    change_checks: dict[str, Tick] = {}  # noqa: RUF012
    ahead_checks: dict[str, Tick] = {}  # noqa: RUF012
    changes: dict[str, tuple[Entry, ...]] = {}  # noqa: RUF012
    stood: dict[str, Floor] = {}  # noqa: RUF012
    frames: dict[str, int] = {}  # noqa: RUF012
    readings: dict[str, dict[str | None, Entry]] = {}  # noqa: RUF012
    anchors: tuple[Measured, ...] = ()
    shot: frozenset[str] = frozenset()
    on_break: str | None = None
    breaks: frozenset[str] = frozenset()
    handed_to: str | None = None
    wind: Entry | None = None
    odd: tuple[str, ...] = ()

    @property
    def real_floor(self) -> Floor:
        """What really stands there, the steps done ahead included."""
        floor = self.floor
        for _, done in self.ahead:
            floor = apply(floor, done.step)
        return floor


def clock_text(entry: Entry) -> str:
    """The time of day an entry was made, as its writer's clock showed it."""
    return entry.at.strftime("%H:%M")


def setup_asked(plan: Plan, truth: Truth, setup_id: str) -> Setup:
    """What a setup asks for today: the plan with every target the crew changed on it so far."""
    return as_shot(plan.setups[setup_id], truth.changes.get(setup_id, ()), plan.kit.dials)


def setup_stood(plan: Plan, truth: Truth, setup_id: str) -> Stood:
    """A setup as it really stood, or stands: what is asked, but for what skipped steps left undone.

    Steps that are neither done nor skipped are taken as still to be done.
    """
    asked = setup_asked(plan, truth, setup_id)
    floor = truth.stood.get(setup_id)
    if truth.begun and setup_id == truth.at_work:
        floor = _floor_left(plan, truth) if truth.steps_skipped else None
    if floor is None:
        return Stood(asked)
    return as_stood(asked, floor, floor_of(asked, plan.kit), plan.kit)


def setup_as_shot(plan: Plan, truth: Truth, setup_id: str) -> Setup:
    """A setup as it was really shot, as far as a setup can say it; see ``setup_stood``."""
    return setup_stood(plan, truth, setup_id).setup


def _floor_left(plan: Plan, truth: Truth) -> Floor:
    """What stands of the setup at work once every step that nobody skipped is done."""
    goal = goal_of(plan, truth, truth.at_work)
    steps = changeover(truth.floor, goal, plan.kit, plan.day.place)
    left = (step for step in steps if step.key not in truth.steps_skipped)
    return floor_left(truth.floor, left)


def goal_of(plan: Plan, truth: Truth, setup_id: str | None) -> Floor:
    """The floor a setup asks for as it is shot today; None is the empty floor."""
    if setup_id is None:
        return EMPTY
    return floor_of(setup_asked(plan, truth, setup_id), plan.kit)


def place_now(place: Place, truth: Truth) -> Place:
    """Return the day's place; outdoors with the wind that was entered last, if any was."""
    if place.indoors or truth.wind is None:
        return place
    return place._replace(wind_ms=0.0, gust_ms=truth.wind.data.gust_ms)


def _put(table: dict[Any, V], key: Any, value: V) -> dict[Any, V]:
    return table | {key: value}


def advance(plan: Plan, truth: Truth, entry: Entry) -> Truth:
    """The truth after one more entry that counts."""
    fold = _FOLDS.get(type(entry.data))
    return truth if fold is None else fold(plan, truth, entry)


def _begun(plan: Plan, truth: Truth, entry: Entry) -> Truth:
    setup_id, odd = entry.data.setup, truth.odd
    if setup_id is not None and setup_id not in plan.setups:
        odd = (*odd, f"entry {entry.n}: no setup {setup_id}")
    mine = tuple(done for setup, done in truth.ahead if setup == setup_id)
    stood = {key: floor for key, floor in truth.stood.items() if key != setup_id}
    gone = truth.at_work
    if gone in plan.setups and gone != setup_id:
        stood.pop(gone, None)
        if truth.steps_skipped:
            stood[gone] = _floor_left(plan, truth)
    skipped = {key: why for key, why in truth.setups_skipped.items() if key != setup_id}
    return truth._replace(
        floor=truth.real_floor,
        at_work=setup_id,
        begun=True,
        wrapping=setup_id is None,
        done=mine,
        ahead=(),
        steps_skipped={},
        setups_skipped=skipped,
        change_checks={},
        ahead_checks={},
        stood=stood,
        odd=odd,
        shot=truth.shot - {setup_id} if setup_id else truth.shot,
    )


def _stepped(plan: Plan, truth: Truth, entry: Entry) -> Truth:
    data = entry.data
    try:
        step = from_plain(data.step)
        known(plan.kit, step)
        done = Done(step, entry.who, clock_text(entry), entry.n)
        if not truth.begun or data.setup != truth.at_work:
            apply(truth.real_floor, step)
            return truth._replace(ahead=(*truth.ahead, (data.setup, done)))
        floor = floor_after(truth, step)
    except CannotBeDone as odd:
        return truth._replace(odd=(*truth.odd, f"entry {entry.n}: {odd}"))
    skipped = {key: why for key, why in truth.steps_skipped.items() if key != step.key}
    lit = truth.lit or step.verb == "test"
    return truth._replace(floor=floor, done=(*truth.done, done), steps_skipped=skipped, lit=lit)


def floor_after(truth: Truth, step: Step) -> Floor:
    """The floor of the setup at work after one of its steps.

    Raises CannotBeDone where the step makes no sense, or what was done ahead stands in its way.
    """
    floor = apply(truth.floor, step)
    _ = truth._replace(floor=floor).real_floor
    return floor


def known(kit: Kit, step: Step) -> None:
    """Raises CannotBeDone for a step with something that the kit holds no more."""
    of_kind: dict[str, Mapping[str, object]] = {
        "stand": kit.stand,
        "counterweight": kit.stand,
        "panel": kit.panel,
        "head": kit.head,
        "modifier": kit.modifier,
        "accessory": kit.accessory,
        "cloth": kit.cloth,
        "bag": kit.bag,
    }
    item = step.to if step.verb == "lens" else step.item
    names = kit.lens if step.verb == "lens" else of_kind.get(step.kind)
    if names is not None and item is not None and item not in names:
        raise CannotBeDone(f"the kit has no {item}")


def _answered(_: Plan, truth: Truth, entry: Entry) -> Truth:
    data = entry.data
    tick = Tick(data.by, clock_text(entry), None, data.setup)
    return _checked(truth, data, data.check, tick)


def _checked(truth: Truth, data: told.CheckTicked | told.Skipped, check: str, tick: Tick) -> Truth:
    if data.stage != CHANGE:
        return truth._replace(checks=_put(truth.checks, check, tick))
    if truth.begun and data.setup != truth.at_work:
        return truth._replace(ahead_checks=_put(truth.ahead_checks, check, tick))
    return truth._replace(change_checks=_put(truth.change_checks, check, tick))


def _skipped(_: Plan, truth: Truth, entry: Entry) -> Truth:
    data = entry.data
    if data.what == "setup":
        return truth._replace(setups_skipped=_put(truth.setups_skipped, data.id, data.reason))
    if data.what == "check":
        tick = Tick(entry.who, clock_text(entry), data.reason, data.setup)
        return _checked(truth, data, data.id or "", tick)
    step = data.step or {}
    key = (str(step.get("verb")), str(step.get("kind")), str(step.get("item")))
    lit = truth.lit or key[0] == "test"
    return truth._replace(steps_skipped=_put(truth.steps_skipped, key, data.reason), lit=lit)


def _changed(plan: Plan, truth: Truth, entry: Entry) -> Truth:
    """A target changed on the spot: what already stood as the old target follows it."""
    data = entry.data
    if data.setup not in plan.setups:
        return truth._replace(odd=(*truth.odd, f"entry {entry.n}: no setup {data.setup}"))
    before = goal_of(plan, truth, data.setup)
    changes = (*truth.changes.get(data.setup, ()), entry)
    truth = truth._replace(changes=_put(truth.changes, data.setup, changes))
    if data.setup != truth.at_work:
        return truth
    after = goal_of(plan, truth, data.setup)
    floor = _said(truth.floor, before, after, truth.steps_skipped)
    return truth._replace(floor=_followed(floor, before, after))


# what a skipped step leaves as it was, by what the step is done to
_LEFT: Final[dict[str, tuple[str, dict[str, tuple[str, ...]]]]] = {
    "stand": (
        "stands",
        {
            "spot": ("place", "move"),
            "height_m": ("place", "raise", "lower"),
        },
    ),
    "head": ("heads", {"power": ("power",)}),
}
_LEFT_SINGLE: Final = {
    "exposure": ("expose", "camera", "camera"),
    "view": ("view", "camera", "camera"),
    "lens": ("lens", "camera", "camera"),
    "subject": ("turn", "subject", "subject"),
}


def _said(floor: Floor, before: Floor, after: Floor, skipped: Container[StepKey]) -> Floor:
    """The floor with what a change says of things whose own step was skipped.

    Nobody comes to set those any more: what is said of them now is how they are.
    """
    changed: dict[str, Any] = {}
    for kind, (table, fields) in _LEFT.items():
        now, old, new = getattr(floor, table), getattr(before, table), getattr(after, table)
        changed[table] = {
            item: at._replace(
                **{
                    field: getattr(new[item], field)
                    for field, verbs in fields.items()
                    if getattr(old[item], field) != getattr(new[item], field)
                    and any((verb, kind, item) in skipped for verb in verbs)
                }
            )
            if item in old and item in new
            else at
            for item, at in now.items()
        }
    for single, key in _LEFT_SINGLE.items():
        if getattr(before, single) != getattr(after, single) and key in skipped:
            changed[single] = getattr(after, single)
    return floor._replace(**changed)


def _followed(floor: Floor, before: Floor, after: Floor) -> Floor:
    """The floor with everything that equals the old target set to the new one."""
    changed: dict[str, Any] = {"stands": dict(floor.stands)}
    for stand in floor.stands.keys() & before.stands.keys() & after.stands.keys():
        at, old, new = floor.stands[stand], before.stands[stand], after.stands[stand]
        # one that is at its spot and not up yet is at the spot that is said now
        changed["stands"][stand] = at._replace(
            spot=new.spot if at.spot == old.spot else at.spot,
            height_m=new.height_m if at.height_m == old.height_m else at.height_m,
        )
    for table in ("panels", "cloths", "bags"):
        now, old, new = getattr(floor, table), getattr(before, table), getattr(after, table)
        changed[table] = {
            key: new[key] if key in new and old.get(key) == value else value
            for key, value in now.items()
        }
    changed["heads"] = {
        head: at._replace(
            power=after.heads[head].power if at.power == before.heads[head].power else at.power,
            aim=after.heads[head].aim if at.aim == before.heads[head].aim else at.aim,
            # one dialled off fires no more; nobody has armed what was off, or in somebody's hands
            armed=at.armed and after.heads[head].armed,
        )
        if head in before.heads and head in after.heads
        else at
        for head, at in floor.heads.items()
    }
    for single in ("lens", "exposure", "view", "subject"):
        if getattr(floor, single) == getattr(before, single):
            changed[single] = getattr(after, single)
    return floor._replace(**changed)


def _read(plan: Plan, truth: Truth, entry: Entry) -> Truth:
    """A reading: kept with its setup, and from now on what that head's light is carried from."""
    data = entry.data
    of_setup = truth.readings.get(data.setup, {}) | {data.head: entry}
    truth = truth._replace(readings=_put(truth.readings, data.setup, of_setup))
    if data.head is None or data.setup not in plan.setups:
        return truth
    setup = setup_as_shot(plan, truth, data.setup)
    light = setup.light.get(data.head)
    row = anchor(plan.kit, setup, light, data.stops) if light else None
    return truth._replace(anchors=(*truth.anchors, row)) if row else truth


def _counted(_: Plan, truth: Truth, entry: Entry) -> Truth:
    setup_id, added = entry.data.setup, entry.data.added
    frames = _put(truth.frames, setup_id, truth.frames.get(setup_id, 0) + added)
    return truth._replace(frames=frames)


def _break_begun(_: Plan, truth: Truth, entry: Entry) -> Truth:
    return truth._replace(on_break=entry.data.id, breaks=truth.breaks | {entry.data.id})


_FOLDS: Final[dict[type, Callable[[Plan, Truth, Entry], Truth]]] = {
    told.SetupBegun: _begun,
    told.StepTicked: _stepped,
    told.CheckTicked: _answered,
    told.Skipped: _skipped,
    told.Changed: _changed,
    told.Reading: _read,
    told.Frames: _counted,
    told.Wind: lambda _, truth, entry: truth._replace(wind=entry),
    told.SetupShot: lambda _, truth, entry: truth._replace(shot=truth.shot | {entry.data.setup}),
    told.BreakBegun: _break_begun,
    told.BreakEnded: lambda _, truth, _entry: truth._replace(on_break=None),
    told.HandedOver: lambda _, truth, entry: truth._replace(handed_to=entry.data.to),
    told.Resumed: lambda _, truth, _entry: truth._replace(handed_to=None),
}


def truth_of(plan: Plan, entries: Iterable[Entry]) -> Truth:
    """The running day after all the entries that still count."""
    truth = Truth()
    for entry in entries:
        truth = advance(plan, truth, entry)
    return truth


def truths_before(plan: Plan, entries: Iterable[Entry], places: Container[int]) -> dict[int, Truth]:
    """The running day as it was before the entries at some places, counted from 0."""
    truth, found = Truth(), {}
    for n, entry in enumerate(entries):
        if n in places:
            found[n] = truth
        truth = advance(plan, truth, entry)
    return found
