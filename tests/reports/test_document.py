"""The page is whole by itself: nothing is fetched, and no text of a person's becomes HTML or Markdown."""

import re
from html.parser import HTMLParser

import pytest
from hypothesis import given
from hypothesis import strategies as st

from runbook.changeover.checklist import CAUTIONS
from runbook.day.changeovers import Changeovers
from runbook.reports.document import (
    Checklist,
    Group,
    Heading,
    Page,
    Pairs,
    Picture,
    Table,
    Text,
    Tick,
    html_page,
    html_text,
    markdown_page,
    markdown_text,
)
from tests.day.days import demo
from tests.reports.pages import demo_document

_VOID = {"meta", "input", "img"}


class Reader(HTMLParser):
    """Every tag with its attributes, the text, and whether all tags close in order."""

    def __init__(self) -> None:
        super().__init__()
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.open: list[str] = []
        self.text = ""

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))
        if tag not in _VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag

    def handle_data(self, data: str) -> None:
        self.text += data


def read(text: str) -> Reader:
    reader = Reader()
    reader.feed(text)
    reader.close()
    assert reader.open == []
    return reader


@pytest.fixture(scope="module")
def demo_page() -> str:
    return html_page(demo_document())


def test_every_tag_is_closed_in_order(demo_page: str) -> None:
    assert demo_page.startswith("<!DOCTYPE html>\n")
    assert len(read(demo_page).tags) > 500


def test_nothing_is_fetched_and_nothing_runs(demo_page: str) -> None:
    tags = read(demo_page).tags
    assert {name for name, _ in tags}.isdisjoint({"script", "link", "iframe", "a", "object"})
    for name, has in tags:
        assert has.keys().isdisjoint({"href", "srcset", "style", "data", "action"}), name
        assert str(has.get("src", "data:")).startswith("data:")
        assert not any(key.startswith("on") for key in has)
    rest = demo_page.replace("http://www.w3.org/2000/svg", "")
    assert "http" not in rest.replace('http-equiv="Content-Security-Policy"', "")
    assert "url(" not in demo_page
    assert "@import" not in demo_page
    policy = next(has for _, has in tags if "http-equiv" in has)
    assert str(policy["content"]).startswith("default-src 'none'")


def test_each_setup_is_a_sheet_of_paper_with_its_floor_and_the_cautions(demo_page: str) -> None:
    pages = re.split(r'<div class="(?:page|crew|sheet)[ \d\w]*">', demo_page)[1:]
    assert len(pages) == 4 + len(demo().order)  # the crew, the kit, the checklist, and the wrap
    for page in pages:
        for caution in CAUTIONS:
            assert html_text(caution) in page
    for setup, page in zip(demo().order, pages[3:], strict=False):
        assert page.startswith(f"\n<h2>{html_text(f'{setup.id}: {setup.title}')}")
        assert page.count("<svg xmlns") == 1


def test_every_step_has_a_box_to_tick(demo_page: str) -> None:
    steps = [step for change in Changeovers(demo()).all for step in change.steps]
    boxes = [name for name, has in read(demo_page).tags if has.get("type") == "checkbox"]
    assert len(boxes) > len(steps) > 100
    for step in steps:
        assert f"<b>{step.n}</b><span>{html_text(step.text)}" in demo_page


def test_paper_is_black_on_white_whatever_the_screen_is(demo_page: str) -> None:
    style = demo_page[demo_page.index("<style>") : demo_page.index("</style>")]
    on_paper = style[style.index("@media print") :]
    assert "--ink: #000; --paper: #fff" in on_paper
    dark = style.index("prefers-color-scheme: dark")
    assert style[:dark].rstrip().endswith("@media screen and (")
    assert "break-before: page" in on_paper
    assert "size:" not in re.sub("font-size:", "", style)  # A4 and Letter alike


def test_the_running_head_is_the_title_and_cannot_end_its_style() -> None:
    text = html_page(Page('A "day" </style><script>\\', []))
    assert {name for name, _ in read(text).tags}.isdisjoint({"script"})
    head = re.search(r'@top-left \{ content: "(.*?)"; \}', text)
    assert head is not None
    shown = re.sub(r"\\([0-9a-f]+) ", lambda match: chr(int(match[1], 16)), head[1])
    assert shown == 'A "day" </style><script>\\'


def test_a_picture_is_in_the_page_itself_and_its_text_stands_for_it() -> None:
    page = Page("", [Picture("data:image/png;base64,iVBORw==", "a <face>")])
    ((_, has),) = [tag for tag in read(html_page(page)).tags if tag[0] == "img"]
    assert has == {"src": "data:image/png;base64,iVBORw==", "alt": "a <face>"}
    assert markdown_page(page) == "a \\<face\\>\n"


@given(st.text())
def test_any_text_comes_back_as_it_was_but_on_one_line(text: str) -> None:
    page = Page(
        text,
        [
            Heading(text), Text(text), Pairs([(text, text)]), Table((text,), [(text,)]),
            Checklist(text, [Tick(text, text, (text,))]), Group("tile", [Picture("<svg></svg>", text), Text(text)]),
        ],
    )  # fmt: skip
    written = html_page(page)
    shown = "".join(char if char.isprintable() else " " for char in text)
    assert read(written).text.count(shown) >= 10
    assert "\n" not in html_text(text)
    written.encode()


# -- Markdown --------------------------------------------------------------------------------------


def bare(text: str) -> str:
    """What a reader of Markdown shows of a line: the backslashes gone."""
    return re.sub(r"\\(.)", r"\1", text)


def test_every_setup_head_and_step_is_there() -> None:
    plan = demo()
    shown = bare(markdown_page(demo_document()))
    for setup, change in zip(plan.order, Changeovers(plan).all, strict=False):
        assert f"## {setup.id}: {setup.title}" in shown
        for light in setup.lights:
            assert f"| {light.head} | {light.power} |" in shown
        for step in change.steps:
            assert f" {step.n}: {step.text}" in shown
        assert f"runbook sheet --floor {setup.id} -o {setup.id}.svg" in shown
    assert shown.count(CAUTIONS[0]) == 5 + len(plan.order)


def test_tables_are_as_wide_as_their_heads() -> None:
    rows = [line for line in markdown_page(demo_document()).split("\n") if line.startswith("|")]
    widths = [len(re.findall(r"(?<!\\)\|", row)) for row in rows]
    for n, row in enumerate(rows):
        if set(row) <= {"|", "-"}:
            assert widths[n - 1] == widths[n] == widths[n + 1]


@given(st.text())
def test_any_text_stays_one_line_and_the_same(text: str) -> None:
    written = markdown_text(text)
    assert "\n" not in written
    shown = " ".join("".join(c if c.isprintable() else " " for c in text).split())
    assert bare(written) == shown
    assert re.search(r"(?<!\\)(?:\\\\)*[|`*_<\[\]#~]", written) is None


@given(st.text(alphabet="|`#*-+1.>=: []()x\\\n", max_size=12))
def test_a_cell_a_heading_or_a_box_stays_what_it_is(text: str) -> None:
    page = Page(
        text,
        [Heading(text, 1), Text(text), Table(("a", "b"), [(text, text)]), Checklist("", [Tick(text)])],
    )  # fmt: skip
    lines = markdown_page(page).split("\n")
    assert sum(line.startswith("- ") for line in lines) == 1
    assert sum(re.match(r"\d+[.)]", line) is not None for line in lines) == 0
    assert len([line for line in lines if line.startswith("| ")]) == 2
