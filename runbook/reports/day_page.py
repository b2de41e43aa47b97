"""The printed runbook: the day, the kit to pack, the checklist, and a sheet for each setup."""

from __future__ import annotations

from collections.abc import Iterator

from runbook.changeover.checklist import CAUTIONS
from runbook.day.kit_list import KitLine
from runbook.model.day import Plan
from runbook.reports.document import ChangeFacts, DayFacts, SetupFacts, StepFacts, totals
from runbook.reports.parts import Boxes, Drawing, Group, Heading, Page, Pairs, Part, Table, Text
from runbook.reports.svg import floor_drawing_svg

CARE = Text(" ".join(CAUTIONS), "care")
# beside the drawing there is room for the camera and the light on the narrower of the two papers
_WIDE_MM, _DEEP_MM = 112.0, 105.0


def day_page(plan: Plan, facts: DayFacts) -> Page:
    """The day on paper. Raises ValueError when a place is not real."""
    parts: list[Part] = [*_front(facts), *_pack(facts), *_checks(facts)]
    for setup in facts.setups:
        parts += _setup(plan, setup)
    parts += _wrap(facts)
    return Page(f"{facts.name}, {facts.date}", parts)


def _front(facts: DayFacts) -> Iterator[Part]:
    yield Heading(facts.name, 1)
    yield Pairs([("date", facts.date), *facts.about])
    yield CARE
    for problem in facts.problems:
        yield Text(problem, "warn")
    yield Heading("Setups, in order")
    rows = [
        (f"{n}", setup_id, title, frames, minutes)
        for n, (setup_id, title, frames, minutes) in enumerate(facts.order, 1)
    ]
    yield Table(("", "setup", "", "frames", "shooting"), rows, 2)
    if facts.batteries:
        yield Heading("Batteries")
        yield Boxes([Group("", [(line, "") for line in facts.batteries])])


def _pack(facts: DayFacts) -> Iterator[Part]:
    used = [line for line in facts.packed if line.used]
    rest = [line for line in facts.packed if not line.used]
    yield Heading("The kit to pack", new_page=True)
    yield CARE
    yield Boxes(list(_packed(used)))
    if rest:
        yield Heading("Also in the cases, not used today", 3)
        yield Boxes(list(_packed(rest)))


def _packed(lines: list[KitLine]) -> Iterator[Group]:
    for kind, count in totals(lines):
        plural = {"battery": "batteries", "accessory": "accessories", "lens": "lenses"}
        name = kind if count == 1 else plural.get(kind, f"{kind}s")
        yield Group(
            f"{count} {name}",
            [(f"{line.many} × {line.what}", ", ".join(line.ids)) for line in lines if line.kind == kind],
        )


def _checks(facts: DayFacts) -> Iterator[Part]:
    yield Heading("The checklist", new_page=True)
    yield CARE
    yield Boxes([Group(stage, [(text, "") for text in texts]) for stage, texts in facts.checks])


def _setup(plan: Plan, facts: SetupFacts) -> Iterator[Part]:
    yield Heading(f"{facts.id}: {facts.title}", new_page=True)
    yield Text(facts.said)
    for problem in facts.problems:
        yield Text(problem, "warn")
    yield Drawing(
        floor_drawing_svg(plan, plan.setups[facts.id], _WIDE_MM, _DEEP_MM),
        list(_beside(facts)),
        f"The floor from above: runbook sheet --floor {facts.id} -o {facts.id}.svg",
    )
    yield Table(
        ("head", "power", "role", "through", "place", "height", "stand", "reads", "over",
         "under key", ""),
        [
            (head.head, head.power, head.role, head.fitted, head.place, head.height, head.stand,
             head.reads, head.over, head.under_key, head.said)
            for head in facts.heads
        ],
        2,
    )  # fmt: skip
    yield from _stands(facts)
    yield from _change(facts.change)
    yield CARE


def _beside(facts: SetupFacts) -> Iterator[Heading | Text | Pairs | Table | Boxes]:
    yield Pairs(
        [
            ("camera", facts.camera),
            ("", facts.camera_place),
            ("subject", facts.subject),
            *(("light" if n == 0 else "", said) for n, said in enumerate(facts.light)),
        ]
    )


def _stands(facts: SetupFacts) -> Iterator[Part]:
    if facts.stands:
        yield Table(
            ("stand", "head", "bags", "tips at", "push", "load", ""),
            [(each.stand, each.head, each.bags, each.lean, each.push, each.load, each.said) for each in facts.stands],
        )
    if facts.panels:
        yield Table(("panel", "place", "height", "reads", "bags", ""), facts.panels)


def _change(facts: ChangeFacts) -> Iterator[Part]:
    yield Heading(f"From {facts.start} to {facts.goal}: {facts.said}", 3)
    groups: list[Group] = []
    for block in facts.blocks:
        lines = [(step.text, _noted(step)) for step in block.steps]
        title = block.title if len(lines) > 1 else ""
        if title or not groups or groups[-1].title:
            groups.append(Group(title, lines))
        else:  # single steps that follow each other stand together
            groups[-1] = Group("", [*groups[-1].lines, *lines])
    yield Boxes(groups)


def _noted(step: StepFacts) -> str:
    return "; ".join([" + ".join(step.crew), f"{step.seconds:.0f} s", *step.notes]).strip("; ")


def _wrap(facts: DayFacts) -> Iterator[Part]:
    yield Heading("The wrap", new_page=True)
    yield from _change(facts.wrap)
    yield Heading("Counted home", 3)
    yield Boxes(list(_packed([*facts.packed])))
    yield CARE
