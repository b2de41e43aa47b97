"""Markdown says the same as the page, and no text of a person's becomes Markdown."""

import re

from hypothesis import given
from hypothesis import strategies as st

from runbook.changeover.checklist import CAUTIONS
from runbook.day.changeovers import Changeovers
from runbook.reports.day_page import day_page
from runbook.reports.document import CheckGroup, Checklist, Heading, Page, Table, Text
from runbook.reports.markdown import markdown_page, safe
from tests.day.days import demo


def bare(text: str) -> str:
    """What a reader of Markdown shows of a line: the backslashes gone."""
    return re.sub(r"\\(.)", r"\1", text)


def test_every_setup_head_and_step_is_there() -> None:
    plan = demo()
    shown = bare(markdown_page(day_page(plan)))
    for setup, change in zip(plan.order, Changeovers(plan).all, strict=False):
        assert f"## {setup.id}: {setup.title}" in shown
        for light in setup.lights:
            assert f"| {light.head} | {light.power} | {light.role} |" in shown
        for step in change.steps:
            assert f"- [ ] {step.text} (" in shown
        assert f"runbook sheet --floor {setup.id} -o {setup.id}.svg" in shown
    assert shown.count(CAUTIONS[0]) == 4 + len(plan.order)


def test_tables_are_as_wide_as_their_heads() -> None:
    plan = demo()
    rows = [line for line in markdown_page(day_page(plan)).split("\n") if line.startswith("|")]
    widths = [len(re.findall(r"(?<!\\)\|", row)) for row in rows]
    for n, row in enumerate(rows):
        if set(row) <= {"|", "-"}:
            assert widths[n - 1] == widths[n] == widths[n + 1]


@given(st.text())
def test_any_text_stays_one_line_and_the_same(text: str) -> None:
    written = safe(text)
    assert "\n" not in written
    shown = " ".join("".join(c if c.isprintable() else " " for c in text).split())
    assert bare(written) == shown
    assert re.search(r"(?<!\\)(?:\\\\)*[|`*_<\[\]#~]", written) is None


@given(st.text(alphabet="|`#*-+1.>=: []()x\\\n", max_size=12))
def test_a_cell_a_heading_or_a_box_stays_what_it_is(text: str) -> None:
    page = Page(
        text,
        [
            Heading(text, 1), Text(text), Table(("a", "b"), [(text, text)]),
            Checklist([CheckGroup("", [(text, "")])]),
        ],
    )  # fmt: skip
    lines = markdown_page(page).split("\n")
    assert sum(line.startswith("- ") for line in lines) == 1
    assert sum(re.match(r"\d+[.)]", line) is not None for line in lines) == 0
    assert len([line for line in lines if line.startswith("| ")]) == 2
