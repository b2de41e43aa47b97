"""The checklist: what is to be true at each stage of the day, and what holds a step back.

A check is said out loud and ticked. One that ``holds`` stops the day until it is ticked, or set
aside with a reason. ``docs/safety.md`` prints the same lines, with what each source says and how
far it was read. Nothing here clears anybody to do anything.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Final, Literal, NamedTuple

Stage = Literal["load-in", "pre-light", "change", "talent", "meal", "wrap"]
Basis = Literal["published", "derived", "common practice"]
Only = Literal["outdoors", "mains", "boom"]
Trait = Literal["bags", "boom", "high", "overhead", "first-pop", "new-talent"]

HABIT: Final = "no source"
_STATICS: Final = "statics of a stand"

CAUTIONS: Final[tuple[str, ...]] = (
    "Planning figures, never a clearance: no structural or legal approval.",
    "Local rules and the makers' limits stand above every figure here.",
    "A competent person on the spot decides; when in doubt, it comes down.",
    "Borrowed from other trades: tilt levels, safety factors, wind limits.",
)


class Check(NamedTuple):
    """One line of the checklist.

    ``text`` is at most 70 characters, so that it fits 80 columns. ``only`` is what the day must
    have for the line to matter.
    """

    id: str
    stage: Stage
    text: str
    why: str
    holds: bool
    basis: Basis
    source: str
    only: Only | None = None


class Gate(NamedTuple):
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
        """The check for one stand or person: its id, the weight as the screen says it, and where it
        hangs."""
        return Check(
            id=self.id.format(stand=stand),
            stage=self.stage,
            text=self.text.format(stand=stand, kg=kg, where=where),
            why=self.why,
            holds=True,
            basis=self.basis,
            source=self.source,
        )


def checks_for(stage: Stage, *, outdoors: bool, mains: bool, booms: bool) -> tuple[Check, ...]:
    """The lines of one stage that matter on a day with these things, in the order to call them."""
    there = {"outdoors": outdoors, "mains": mains, "boom": booms}
    return tuple(check for check in CHECKS if check.stage == stage and (check.only is None or there[check.only]))


def gates_for(verb: str, kind: str, traits: Iterable[Trait]) -> tuple[Gate, ...]:
    """The gates that hold back a step of this verb and kind on a thing with these traits."""
    has = set(traits)
    return tuple(
        gate
        for gate in GATES
        if verb in gate.before and (not gate.kinds or kind in gate.kinds) and has & {*gate.applies}
    )


GATES: Final[tuple[Gate, ...]] = (
    Gate(
        "bagged-{stand}",
        "{stand} bagged: {kg} {where}",
        "the bag is on before the load is out of reach",
        before=("raise",),
        applies=("bags",),
        basis="derived",
        source=_STATICS,
    ),
    Gate(
        "balanced-{stand}",
        "{stand} balanced by hand before let go, weight on",
        "an arm out of balance swings, or takes the stand with it",
        before=("raise", "test"),
        applies=("boom",),
        kinds=("stand", "boom", "set"),
        basis="derived",
        source=_STATICS,
    ),
    Gate(
        "second-fixing-{stand}",
        "{stand}: second fixing on the head, no slack",
        "the first one depends on whoever did it up",
        before=("raise", "test"),
        applies=("overhead",),
        kinds=("stand", "boom", "set"),
        basis="published",
        source="DGUV 215-313",
    ),
    Gate(
        "clear-{stand}",
        "Nobody under {stand} or in its swing",
        "a load on the move is not over people",
        before=("lower", "move"),
        applies=("boom", "high"),
        kinds=("stand", "boom"),
        basis="published",
        source="DIN 56950-3",
    ),
    Gate(
        "clear-up-{stand}",
        "Nobody under {stand} as it goes up",
        "whoever worked on it has stepped out",
        before=("raise",),
        applies=("boom", "high"),
        kinds=("stand", "boom"),
        basis="published",
        source="DIN 56950-3",
    ),
    Gate(
        "arm-held-{stand}",
        "{stand}: arm in hands before its weight comes off",
        "the balance goes in one move",
        before=("free",),
        applies=("boom",),
        kinds=("counterweight",),
        basis="derived",
        source=_STATICS,
    ),
    Gate(
        "light-sensitivity-asked",
        "Everyone asked about seizures set off by light",
        "ages 7 to 20 are the most easily affected; parents answer for minors",
        before=("test",),
        applies=("first-pop",),
        kinds=("set",),
        basis="published",
        source="Wilkins et al.",
        stage="talent",
    ),
    Gate(
        "light-sensitivity-asked-{stand}",
        "{stand} asked about seizures set off by light",
        "whoever comes later was not there when everyone was asked",
        before=("test",),
        applies=("new-talent",),
        kinds=("set",),
        basis="published",
        source="Wilkins et al.",
        stage="talent",
    ),
)

CHECKS: Final[tuple[Check, ...]] = (
    Check(
        "exits-free",
        "load-in",
        "Exits and the ways to them free, doors unlocked",
        "everyone gets out",
        holds=True,
        basis="published",
        source="Fire Safety Order 2005, art. 14",
    ),
    Check(
        "first-aid-known",
        "load-in",
        "First aider named; kit and extinguisher seen; address on the wall",
        "minutes count when somebody is hurt",
        holds=True,
        basis="published",
        source="First-Aid Regulations 1981",
    ),
    Check(
        "floor-sound",
        "load-in",
        "Floor dry and level, bears the stands; rugs and ramps noted",
        "a slope eats the tipping angle",
        holds=False,
        basis="published",
        source="DGUV 215-314",
    ),
    Check(
        "heavy-lifts-shared",
        "load-in",
        "Heavy cases on wheels or carried by two",
        "backs go at load-in",
        holds=False,
        basis="published",
        source="HSE L23 filter",
    ),
    Check(
        "circuits-mapped",
        "load-in",
        "Circuits known: rating, what else hangs on them, RCD tested",
        "overload and shock",
        holds=False,
        basis="published",
        source="HSE GS50",
        only="mains",
    ),
    Check(
        "reels-unwound",
        "load-in",
        "Cable reels fully unwound, plugs and leads sound",
        "a wound reel overheats",
        holds=False,
        basis="published",
        source="RoSPA",
        only="mains",
    ),
    Check(
        "bags-counted",
        "load-in",
        "Bags counted and weighed, none leaks",
        "every stand's figure counts on its bag",
        holds=False,
        basis="common practice",
        source=HABIT,
    ),
    Check(
        "batteries-sound",
        "load-in",
        "Batteries whole and charged, spare terminals covered",
        "a damaged or shorted cell burns",
        holds=False,
        basis="published",
        source="Lithium Batteries 2024",
    ),
    Check(
        "headroom-measured",
        "load-in",
        "Ceiling and anything at head height measured",
        "a boom needs room to swing",
        holds=False,
        basis="published",
        source="Riyadh access code",
    ),
    Check(
        "gusts-forecast",
        "load-in",
        "Forecast read for gusts, not only the mean wind",
        "the gust tips the stand",
        holds=False,
        basis="published",
        source="DGUV 215-314",
        only="outdoors",
    ),
    Check(
        "loads-in-limit",
        "pre-light",
        "Every stand under its load limit: head, arm and counterweight",
        "a boom puts four times its head's mass on the stand, and more",
        holds=True,
        basis="derived",
        source=_STATICS,
    ),
    Check(
        "stands-bagged",
        "pre-light",
        "Every stand as planned: lean and factor good, bags where they go",
        "a head at two metres tips at the push of a hand",
        holds=True,
        basis="derived",
        source=_STATICS,
    ),
    Check(
        "legs-spread",
        "pre-light",
        "Legs right out, one under the load or as the step says; castors locked",
        "a leg under the load doubles a tripod's reach",
        holds=False,
        basis="derived",
        source=_STATICS,
    ),
    Check(
        "booms-balanced",
        "pre-light",
        "Booms balanced by hand before they are let go; weights secured",
        "an arm out of balance falls",
        holds=True,
        basis="derived",
        source=_STATICS,
        only="boom",
    ),
    Check(
        "second-fixings",
        "pre-light",
        "Second, separate, slack-free fixing on everything above people",
        "one fixing is one mistake away",
        holds=True,
        basis="published",
        source="DGUV 215-314",
    ),
    Check(
        "collars-tight",
        "pre-light",
        "Collars and grip heads tight, load turning the screw tighter",
        "they creep, then drop",
        holds=False,
        basis="published",
        source="fastener thread rule",
    ),
    Check(
        "ends-padded",
        "pre-light",
        "Boom ends and knobs away from walkways, or padded",
        "eyes and foreheads come by at that height",
        holds=False,
        basis="published",
        source="Riyadh access code",
    ),
    Check(
        "cables-down",
        "pre-light",
        "Cables along walls, slack at each stand, taped where crossed",
        "a trip, or a snag that pulls a stand",
        holds=False,
        basis="published",
        source="HSE slips guidance",
    ),
    Check(
        "lamps-off-fabric",
        "pre-light",
        "Lamps and modelling lights as far from cloth and gel as labelled",
        "hot fabric burns",
        holds=False,
        basis="published",
        source="IEC 60598-1",
    ),
    Check(
        "steps-ready",
        "pre-light",
        "Steps or a platform there for whatever is out of reach",
        "nobody fits a head on tiptoe",
        holds=False,
        basis="published",
        source="HSE INDG402",
    ),
    Check(
        "circuits-in-limit",
        "pre-light",
        "Circuits in their limit with every modelling lamp on",
        "a tripped breaker, or a hot one",
        holds=False,
        basis="published",
        source="NEC 210.19",
        only="mains",
    ),
    Check(
        "fall-circle-clear",
        "change",
        "Talent and crew out of the fall circle: head height plus arm",
        "a falling head lands inside it",
        holds=True,
        basis="derived",
        source=_STATICS,
    ),
    Check(
        "moves-called",
        "change",
        "Called before it goes up, comes down or swings",
        "nobody walks under it",
        holds=False,
        basis="common practice",
        source=HABIT,
    ),
    Check(
        "down-before-work",
        "change",
        "Head down and disarmed before anything on it is changed",
        "reach, shock, a flash in the face",
        holds=False,
        basis="common practice",
        source=HABIT,
    ),
    Check(
        "hands-before-locks",
        "change",
        "Hands on the arm or column before a lock is opened",
        "it moves when it is freed",
        holds=True,
        basis="common practice",
        source=HABIT,
    ),
    Check(
        "figures-renewed",
        "change",
        "New reach, height or modifier: its new figures looked at",
        "the margin moved with it",
        holds=True,
        basis="derived",
        source=_STATICS,
    ),
    Check(
        "bag-first-bag-last",
        "change",
        "Bag first on, last off",
        "no head up without its bag",
        holds=False,
        basis="common practice",
        source=HABIT,
    ),
    Check(
        "fixings-back",
        "change",
        "Second fixings back on before people return",
        "the load hangs over them again",
        holds=False,
        basis="published",
        source="DGUV 215-314",
    ),
    Check(
        "cables-still-down",
        "change",
        "Cables still slack and still taped",
        "a moved stand pulls its cable",
        holds=False,
        basis="common practice",
        source=HABIT,
    ),
    Check(
        "light-sensitivity-asked",
        "talent",
        "Everyone asked about seizures set off by light",
        "ages 7 to 20 are the most easily affected; parents answer for minors",
        holds=True,
        basis="published",
        source="Wilkins et al.",
    ),
    Check(
        "three-flashes",
        "talent",
        "No more than three flashes in any second, all heads together",
        "faster flashing can set off a seizure",
        holds=False,
        basis="published",
        source="WCAG 2.3.1",
    ),
    Check(
        "floor-shown",
        "talent",
        "Talent shown cables, arms and edges; shoes or bare feet thought of",
        "they look at the lens, not the floor",
        holds=False,
        basis="published",
        source="HSE slips guidance",
    ),
    Check(
        "nothing-overhead",
        "talent",
        "Nothing straight above the talent; if it must be, fixed twice",
        "one fixing is one mistake away",
        holds=False,
        basis="published",
        source="DGUV 215-314",
    ),
    Check(
        "heat-easy",
        "talent",
        "Not too warm; modelling lights low",
        "burns and drooping make-up",
        holds=False,
        basis="common practice",
        source=HABIT,
    ),
    Check(
        "hair-off-heat",
        "talent",
        "Hair, cloth and fan clear of hot lamps; fan not on a modifier",
        "fire; a fan is wind on a box",
        holds=False,
        basis="published",
        source="DGUV 215-314",
    ),
    Check(
        "small-ones-minded",
        "talent",
        "Babies and animals: their person in reach, no close flash in eyes",
        "no published limit is known",
        holds=False,
        basis="common practice",
        source=HABIT,
    ),
    Check(
        "way-off-lit",
        "talent",
        "The way off the set free and lit",
        "trips, and the way out",
        holds=False,
        basis="published",
        source="Fire Safety Order 2005, art. 14",
    ),
    Check(
        "wind-watched",
        "talent",
        "Someone named to watch the wind, acting at 60 % and 80 %",
        "late is too late",
        holds=False,
        basis="published",
        source="Bute Park guide 2020",
        only="outdoors",
    ),
    Check(
        "lamps-off",
        "meal",
        "Lamps and modelling lights off, chargers watched",
        "fire while nobody looks",
        holds=False,
        basis="published",
        source="DGUV 215-314",
    ),
    Check(
        "big-ones-down",
        "meal",
        "Big modifiers down or somebody left with them",
        "gusts come while nobody looks",
        holds=True,
        basis="published",
        source="DGUV 215-314",
        only="outdoors",
    ),
    Check(
        "booms-turned-in",
        "meal",
        "Booms over walkways lowered or turned in",
        "heads",
        holds=False,
        basis="common practice",
        source=HABIT,
        only="boom",
    ),
    Check(
        "set-minded",
        "meal",
        "Somebody in charge of the set, or the set closed off",
        "people with plates knock stands",
        holds=False,
        basis="published",
        source="DGUV 215-314",
    ),
    Check(
        "exits-still-free",
        "meal",
        "Exits still free",
        "catering tables move in",
        holds=False,
        basis="published",
        source="Fire Safety Order 2005, art. 14",
    ),
    Check(
        "lifts-shared-out",
        "meal",
        "Hours and lifts so far looked at; heavy work changes hands",
        "tired people drop things",
        holds=False,
        basis="published",
        source="NIOSH 94-110",
    ),
    Check(
        "heads-cold",
        "wrap",
        "Heads off, discharged and cool before they go in their cases",
        "shock, burns, fire",
        holds=False,
        basis="common practice",
        source=HABIT,
    ),
    Check(
        "head-before-bag",
        "wrap",
        "Arm held before its weight comes off; head off before its bag",
        "the balance goes in one move",
        holds=True,
        basis="derived",
        source=_STATICS,
    ),
    Check(
        "fixing-last",
        "wrap",
        "Second fixing off only when the head is in hands",
        "the first fixing may be open",
        holds=False,
        basis="published",
        source="DGUV 215-313",
    ),
    Check(
        "stands-down",
        "wrap",
        "Stands down section by section, fingers clear",
        "pinched fingers",
        holds=False,
        basis="common practice",
        source=HABIT,
    ),
    Check(
        "heavy-by-two",
        "wrap",
        "Heavy lifts by two, as at load-in",
        "everyone is tired by now",
        holds=False,
        basis="published",
        source="HSE L23 filter",
    ),
    Check(
        "cables-coiled",
        "wrap",
        "Power off, then cables coiled; damaged ones tagged out",
        "shock today or tomorrow",
        holds=False,
        basis="published",
        source="HSE GS50",
        only="mains",
    ),
    Check(
        "terminals-covered",
        "wrap",
        "Battery terminals covered, nothing charging alone",
        "fire; airlines have rules of their own",
        holds=False,
        basis="published",
        source="Lithium Batteries 2024",
    ),
    Check(
        "damage-noted",
        "wrap",
        "Leaking bags, bent legs, worn collars, lost pins written down",
        "they fail tomorrow",
        holds=False,
        basis="published",
        source="DGUV 215-313",
    ),
    Check(
        "place-as-found",
        "wrap",
        "Near misses noted; exits, floor and tape as found",
        "learn, and come back welcome",
        holds=False,
        basis="common practice",
        source=HABIT,
    ),
)
