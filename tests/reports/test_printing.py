"""Printed by a real browser, on A4 and on Letter, each sheet is one page."""

import re
import shutil
import subprocess
from collections.abc import Sequence
from pathlib import Path

import pytest

from runbook.reports.day_page import day_page
from runbook.reports.document import Group, Page, html_page
from tests.day.days import demo
from tests.reports.crowded import crowded
from tests.reports.pages import demo_document

CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser") or shutil.which("google-chrome")
SETUPS = {"demo": len(demo().day.order), "crowded": 2}
FRONT, CREW, KIT, CHECKLIST, WRAP = 1, 1, 1, 1, 1


@pytest.mark.skipif(CHROMIUM is None, reason="prints with Chromium, which is not here")
def test_each_setup_of_the_demo_day_and_of_a_crowded_one_is_one_page(tmp_path: Path) -> None:
    sheets = [
        part for part in day_page(crowded(), face_px=12).parts if isinstance(part, Group) and part.kind == "sheet"
    ]
    document = Page("Two days", [*demo_document().parts, *sheets])
    # each sheet begins a page, so any that needs two makes the number larger
    whole = FRONT + CREW + KIT + CHECKLIST + SETUPS["demo"] + WRAP + SETUPS["crowded"]
    assert printed(document, ("A4", "letter"), tmp_path / "days.html") == 2 * whole


def printed(document: Page, papers: Sequence[str], path: Path) -> int:
    """The number of pages that a browser makes of it, on each of these papers."""
    before, body, after = re.split(r"(?s)(?<=<body>)(.*)(?=</body>)", html_page(document))
    sizes = "".join(f"@page {paper} {{ size: {paper}; }} .{paper} {{ page: {paper}; }}" for paper in papers)
    copies = "".join(f'<div class="{paper}">{body}</div>' for paper in papers)
    path.write_text(before.replace("</style>", f"{sizes}</style>") + copies + after, "utf-8")
    pdf = path.with_suffix(".pdf")
    flags = ["--headless", "--no-sandbox", "--no-pdf-header-footer", f"--user-data-dir={path.parent / 'browser'}"]
    command = [str(CHROMIUM), *flags, f"--print-to-pdf={pdf}", path.as_uri()]
    subprocess.run(command, check=True, capture_output=True, timeout=60)
    return len(re.findall(rb"/Type\s*/Page\b", pdf.read_bytes()))
