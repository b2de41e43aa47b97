"""A page as one self-contained HTML file: no network, no script, no font.

On a screen it follows the reader's dark or light mode; on paper it is black on white, A4 or Letter,
each setup on its own sheet.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from html import escape
from typing import Final

from runbook.reports.document import CheckGroup, Checklist, Drawing, Heading, Page, Pairs, Part, Table, Text

_STYLE: Final = """\
:root { color-scheme: light dark; --ink: #111; --paper: #fff; --soft: #555; --line: #bbb; }
@media screen and (prefers-color-scheme: dark) {
  :root { --ink: #ddd; --paper: #111; --soft: #9a9a9a; --line: #444; }
  .beside > svg { filter: invert(0.9); }
}
* { box-sizing: border-box; }
body { margin: 0 auto; padding: 1.2em; max-width: 62em; color: var(--ink);
  background: var(--paper); font: 15px/1.4 sans-serif; }
h1, h2, h3 { line-height: 1.2; margin: 1.3em 0 0.4em; break-after: avoid; }
h1 { margin-top: 0; }
h2 { border-bottom: 2px solid var(--ink); padding-bottom: 0.15em; }
p { margin: 0.3em 0 0.6em; }
.caution { color: var(--soft); font-size: 0.85em; }
.warn { border: 2px solid var(--ink); padding: 0.3em 0.6em; font-weight: bold; }
table { border-collapse: collapse; margin: 0.5em 0; width: 100%; break-inside: avoid; }
th, td { text-align: left; vertical-align: top; padding: 0.2em 0.7em 0.2em 0;
  border-bottom: 1px solid var(--line); }
th { font-weight: normal; font-size: 0.85em; color: var(--soft); }
td.is { font-weight: bold; }
td { overflow-wrap: anywhere; }
td.is, td.nb { white-space: nowrap; }
.wide { overflow-x: auto; }
dl { display: grid; grid-template-columns: max-content 1fr; gap: 0.15em 0.9em; margin: 0.4em 0; }
dt { color: var(--soft); }
dd { margin: 0; overflow-wrap: anywhere; }
.beside { display: flex; flex-wrap: wrap; gap: 1.2em; align-items: flex-start; }
.beside > svg { max-width: 100%; height: auto; flex: none; }
.beside > div { flex: 1 1 14em; }
.boxes { columns: 24em; column-gap: 2em; }
.boxes h4 { margin: 0 0 0.15em; font-size: 1em; break-after: avoid; }
.boxes section { margin: 0 0 0.7em; }
.boxes section.short { break-inside: avoid; }
label { display: flex; gap: 0.6em; margin: 0.12em 0; break-inside: avoid; overflow-wrap: anywhere; }
label small { color: var(--soft); }
input { appearance: none; -webkit-appearance: none; flex: none; width: 1em; height: 1em;
  margin: 0.18em 0 0; border: 1.5px solid var(--ink); font: inherit; line-height: 0.8; }
input:checked::before { content: "x"; display: block; text-align: center; font-weight: bold; }
@page { margin: 12mm; }
@media print {
  :root { --ink: #000; --paper: #fff; --soft: #333; --line: #999; color-scheme: light; }
  body { padding: 0; max-width: none; font-size: 9.5pt; line-height: 1.3; }
  .page { break-before: page; margin-top: 0; }
  h3 { margin: 0.8em 0 0.3em; }
  .wide { overflow: visible; }
  .beside { flex-wrap: nowrap; }
  .beside > div { flex: 1 1 auto; }
  .boxes { columns: 2; column-gap: 7mm; font-size: 8.8pt; }
  .boxes section { margin-bottom: 0.5em; }
}
"""
# nothing may be fetched or run, whatever a text contains
_POLICY: Final = "default-src 'none'; style-src 'unsafe-inline'"
_SHORT: Final = 4  # lines of a group that are kept together on paper


def html_page(page: Page) -> str:
    """The page as a whole HTML document."""
    return "\n".join(
        [
            "<!DOCTYPE html>",
            '<html lang="en">',
            "<head>",
            '<meta charset="utf-8">',
            f'<meta http-equiv="Content-Security-Policy" content="{_POLICY}">',
            '<meta name="viewport" content="width=device-width, initial-scale=1">',
            f"<title>{safe(page.title)}</title>",
            f"<style>\n{_STYLE}</style>",
            "</head>",
            "<body>",
            *_parts_html(page.parts),
            "</body>",
            "</html>",
            "",
        ]
    )


def safe(text: str) -> str:
    """Escape a text for HTML, on one line."""
    return escape("".join(char if char.isprintable() else " " for char in text))


def _parts_html(parts: Sequence[Part]) -> Iterator[str]:
    for part in parts:
        yield from _part_html(part)


def _part_html(part: Part) -> Iterator[str]:
    match part:
        case Heading():
            page = ' class="page"' if part.new_page else ""
            yield f"<h{part.level}{page}>{safe(part.text)}</h{part.level}>"
        case Text():
            kind = f' class="{part.kind}"' if part.kind else ""
            yield f"<p{kind}>{safe(part.text)}</p>"
        case Pairs():
            yield "<dl>"
            yield from (f"<dt>{safe(label)}</dt><dd>{safe(text)}</dd>" for label, text in part.rows)
            yield "</dl>"
        case Table():
            yield from _table_html(part)
        case Checklist():
            yield '<div class="boxes">'
            for group in part.groups:
                yield from _group_html(group)
            yield "</div>"
        case Drawing():
            yield '<div class="beside">'
            yield part.svg
            yield "<div>"
            yield from _parts_html(part.beside)
            yield "</div></div>"


def _table_html(table: Table) -> Iterator[str]:
    yield '<div class="wide"><table>'
    yield f"<thead><tr>{''.join(f'<th>{safe(name)}</th>' for name in table.columns)}</tr></thead>"
    yield "<tbody>"
    for row in table.rows:
        cells = "".join(
            f"<td{_cell_class(n < table.key_columns, cell)}>{safe(cell)}</td>" for n, cell in enumerate(row)
        )
        yield f"<tr>{cells}</tr>"
    yield "</tbody></table></div>"


def _cell_class(key: bool, cell: str) -> str:
    """Return the class of a cell: key columns are bold, short values stay on one line."""
    if key:
        return ' class="is"'
    return ' class="nb"' if len(cell) <= 12 else ""


def _group_html(group: CheckGroup) -> Iterator[str]:
    short = ' class="short"' if len(group.lines) <= _SHORT else ""
    yield f"<section{short}>"
    if group.title:
        yield f"<h4>{safe(group.title)}</h4>"
    for text, note in group.lines:
        note_html = f" <small>{safe(note)}</small>" if note else ""
        yield f'<label><input type="checkbox" autocomplete="off"><span>{safe(text)}{note_html}</span></label>'
    yield "</section>"
