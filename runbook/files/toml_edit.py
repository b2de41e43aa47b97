"""Changing one thing in a TOML text and leaving every other character as it is.

Comments, order, spacing and the ends of lines stay. After each change the text is read again and
held against the same change made to the plain table, so a layout this module does not know is
refused, and never damaged. Paths are those of ``lines``: ``("light", 0, "power")``.
"""

from __future__ import annotations

import copy
import re
import tomllib
from collections.abc import Callable
from typing import Any, Final

from runbook.files.errors import Path
from runbook.files.toml_positions import Span, Walk, walk

_BARE: Final = re.compile(r"[A-Za-z0-9_-]+")


class NotEdited(Exception):
    """A change that is not made: what is wrong, and what would be right, in a line."""


def written(value: Any) -> str:
    """A value as TOML, on one line."""
    if isinstance(value, list | tuple):
        return f"[{', '.join(written(item) for item in value)}]"
    if isinstance(value, dict):
        inner = ", ".join(f"{_key(key)} = {written(item)}" for key, item in value.items())
        return f"{{ {inner} }}" if inner else "{}"
    import tomli_w

    return tomli_w.dumps({"v": value}).removeprefix("v = ").removesuffix("\n")


def _key(name: str) -> str:
    return name if _BARE.fullmatch(name) else written(name)


def set_value(text: str, path: Path, value: Any) -> str:
    """The text with a key set: its value replaced where it stands, else a line added."""

    def change(table: Any) -> None:
        *outer, last = path
        for part in outer:
            table = table.setdefault(part, {}) if isinstance(table, dict) else table[part]
        table[last] = value

    layout = walk(text)
    span = layout.values.get(path)
    if span is not None:
        return _checked(text, _in_place(text, layout, path, value), change)
    return _checked(text, _with_key(text, layout, path, value), change)


def remove_key(text: str, path: Path) -> str:
    """The text without a key, its line and the comment on that line."""

    def change(table: Any) -> None:
        for part in path[:-1]:
            table = table[part]
        del table[path[-1]]

    layout = walk(text)
    line = next((line for line in layout.keys if line.path == path), None)
    if line is not None:
        start = text.rfind("\n", 0, line.start) + 1
        after = text[:start] + text[_line_end(text, layout.values[path].end) :]
    elif path in layout.inner:
        after = _without_item(text, Span(layout.inner[path], layout.values[path].end))
    else:
        raise NotEdited(f"{path[-1]} is written in several lines; take it out by hand")
    return _checked(text, after, change)


def add_table(text: str, key: str, table: dict[str, Any]) -> str:
    """The text with one more ``[[key]]``, after the last of its kind or at the end."""

    def change(whole: Any) -> None:
        whole.setdefault(key, []).append(table)

    layout = walk(text)
    if (key,) in layout.values:  # written as a list of inline tables
        old = tomllib.loads(text)[key]
        return _checked(text, _in_place(text, layout, (key,), [*old, table]), change)
    nl = _newline(text)
    lines = [f"[[{_key(key)}]]", *(f"{_key(name)} = {written(v)}" for name, v in table.items())]
    return _checked(text, _placed(text, layout, key, nl.join(lines) + nl), change)


def copy_table(text: str, key: str, index: int, fresh: dict[str, Any]) -> str:
    """The text with the ``index``-th ``[[key]]`` once more, after the last of its kind.

    ``fresh`` are the keys the copy has otherwise. Comments inside go with it.
    """
    layout = walk(text)
    item = tomllib.loads(text)[key][index]
    if (key,) in layout.values:
        return add_table(text, key, item | fresh)
    block = _block(text, layout, (key, index))
    header = next(each.span.start for each in layout.headers if each.path == (key, index))
    body = text[_line_start(text, header) : block.end]
    body = body if body.endswith("\n") else body + _newline(text)

    def change(whole: Any) -> None:
        whole[key].append(copy.deepcopy(item))

    after = _checked(text, _placed(text, layout, key, body), change)
    at = len(tomllib.loads(after)[key]) - 1
    for name, value in fresh.items():
        after = set_value(after, (key, at, name), value)
    return after


def remove_table(text: str, path: Path) -> str:
    """The text without a table: a ``[section]`` or the n-th of its kind, and what is said on it."""

    def change(whole: Any) -> None:
        for part in path[:-1]:
            whole = whole[part]
        del whole[path[-1]]
        if isinstance(path[-1], int) and not whole:
            gone.append(path[0])

    gone: list[str] = []

    def change_all(whole: Any) -> None:
        change(whole)
        for key in gone:  # without its last member, a kind is not written at all
            del whole[key]

    layout = walk(text)
    span = layout.values.get(path)
    if span is not None and isinstance(path[-1], int):
        return _checked(text, _without_item(text, span), change)
    if span is not None:
        return remove_key(text, path)
    block = _block(text, layout, path)
    end = block.end
    while text[end : end + 1].isspace() and (rest := _line_end(text, end)) > end:
        if text[end:rest].strip():
            break
        end = rest
    before = text[: block.start]
    if end >= len(text):
        before = before.rstrip() + _newline(text) if before.strip() else before
    return _checked(text, before + text[end:], change_all)


def move_table(text: str, key: str, index: int, to: int) -> str:
    """The text with two neighbours of a kind in each other's place, their comments with them."""

    def change(whole: Any) -> None:
        items = whole[key]
        items[index], items[to] = items[to], items[index]

    layout = walk(text)
    low, high = sorted((index, to))
    if (key,) in layout.values:
        items = tomllib.loads(text)[key]
        items[index], items[to] = items[to], items[index]
        return _checked(text, _in_place(text, layout, (key,), items), change)
    one, other = (_block(text, layout, (key, n)) for n in (low, high))
    nl = _newline(text)
    bodies = [text[each.start : each.end] for each in (one, other)]
    first, second = (each if each.endswith("\n") else each + nl for each in bodies)
    after = text[: one.start] + second + text[one.end : other.start] + first + text[other.end :]
    return _checked(text, after, change)


# -- holding the change to its meaning ---------------------------------------------------------


def _checked(before: str, after: str, change: Callable[[Any], None]) -> str:
    """The text after, if it says what the table before says with the change made."""
    wanted = tomllib.loads(before)
    change(wanted)
    try:
        found = tomllib.loads(after)
    except (tomllib.TOMLDecodeError, RecursionError):
        found = None
    if found is None or found != _plain(wanted):
        raise NotEdited("the file is laid out in a way the forms cannot keep; change it by hand")
    return after


def _plain(value: Any) -> Any:
    """The same with lists for tuples, as a file gives them back."""
    if isinstance(value, dict):
        return {key: _plain(item) for key, item in value.items()}
    return [_plain(item) for item in value] if isinstance(value, list | tuple) else value


# -- where things are --------------------------------------------------------------------------


def _newline(text: str) -> str:
    first = text.find("\n")
    return "\r\n" if first > 0 and text[first - 1] == "\r" else "\n"


def _line_start(text: str, at: int) -> int:
    return text.rfind("\n", 0, at) + 1


def _line_end(text: str, at: int) -> int:
    """The character after the end of a line."""
    found = text.find("\n", at)
    return len(text) if found < 0 else found + 1


def _said_above(text: str, start: int) -> int:
    """Where the comment straight above a header begins; one at the top is the whole file's."""
    at = start
    while at > 0 and text[(above := _line_start(text, at - 1)) : at].lstrip().startswith("#"):
        at = above
    return at if at > 0 else start


def _tables(layout: Walk, path: Path) -> Span | None:
    return next((each.span for each in layout.headers if each.path == path), None)


def _last_line(text: str, layout: Walk, path: Path) -> int | None:
    """The character after the last ``key = value`` line of a table."""
    ends = [layout.values[line.path].end for line in layout.keys if line.table == path]
    return _line_end(text, max(ends)) if ends else None


def _block(text: str, layout: Walk, path: Path) -> Span:
    """A table with the comments straight above it and straight below its last line."""
    header = _tables(layout, path)
    if header is None:
        raise NotEdited(f"{path[0]} has no line of its own; change it by hand")
    start = _said_above(text, _line_start(text, header.start))
    end = _last_line(text, layout, path) or _line_end(text, header.end)
    following = [each.span.start for each in layout.headers if each.span.start > header.start]
    stop = _said_above(text, _line_start(text, min(following))) if following else len(text)
    while end < stop and text[end : _line_end(text, end)].lstrip().startswith("#"):
        end = _line_end(text, end)
    return Span(start, end)


def _placed(text: str, layout: Walk, key: str, body: str) -> str:
    """The text with a table's lines put after the last table of its kind, or at the end."""
    last = max((n for n, each in enumerate(layout.headers) if each.many and each.path[0] == key), default=None)
    if last is None:
        return _at_end(text, body)
    nl = _newline(text)
    end = _block(text, layout, layout.headers[last].path).end
    head, tail = text[:end], text[end:]
    if not head.endswith("\n"):
        head += nl
    gap = nl if _spaced(text, layout, key) else ""
    return head + gap + body + tail


def _spaced(text: str, layout: Walk, key: str) -> bool:
    """Whether a blank line stands before the later tables of a kind; yes where there is but one."""
    same = [each for each in layout.headers if each.many and each.path[0] == key]
    if len(same) < 2:
        return True
    start = _block(text, layout, same[-1].path).start
    above = text[_line_start(text, start - 1) : start]
    return not above.strip()


def _at_end(text: str, body: str) -> str:
    nl = _newline(text)
    if text and not text.endswith("\n"):
        text += nl
    return text + (nl if text.strip() else "") + body


def _with_key(text: str, layout: Walk, path: Path, value: Any) -> str:
    """The text with a line, or a part of an inline table, for a key that is not there yet."""
    table, key = path[:-1], path[-1]
    if table in layout.values:
        return _into_inline(text, layout.values[table], f"{_key(key)} = {written(value)}")
    nl = _newline(text)
    end = _last_line(text, layout, table)
    if end is None:
        header = _tables(layout, table)
        if header is not None:
            end = _line_end(text, header.end)
        elif not table:
            first = [each.span.start for each in layout.headers][:1]
            end = _said_above(text, _line_start(text, first[0])) if first else len(text)
        else:
            dotted = [line for line in layout.keys if line.path[: len(table)] == table]
            if not dotted:
                return _at_end(text, f"[{'.'.join(map(_key, table))}]{nl}{_key(key)} = "
                               f"{written(value)}{nl}")  # fmt: skip
            end = _line_end(text, max(layout.values[line.path].end for line in dotted))
            key_text = ".".join(map(_key, (*table[len(dotted[-1].table) :], key)))
            return _line_in(text, end, f"{key_text} = {written(value)}", nl)
    return _line_in(text, end, f"{_key(key)} = {written(value)}", nl)


def _line_in(text: str, at: int, line: str, nl: str) -> str:
    head = text[:at]
    if head and not head.endswith("\n"):
        head += nl
    return f"{head}{line}{nl}{text[at:]}"


def _into_inline(text: str, span: Span, pair: str) -> str:
    inner = text[span.start + 1 : span.end - 1]
    kept = inner.rstrip()
    joined = f"{kept}, {pair}" if kept.strip() else f" {pair}"
    closing = inner[len(kept) :] or (" " if not kept.strip() else "")
    return f"{text[: span.start + 1]}{joined}{closing}{text[span.end - 1 :]}"


def _without_item(text: str, span: Span) -> str:
    """The text without one member of an inline table or a list, and with one comma less."""
    after = re.match(r"[ \t]*,[ \t]*", text[span.end :])
    if after:
        return text[: span.start] + text[span.end + after.end() :]
    before = re.search(r",\s*$", text[: span.start])
    return text[: before.start() if before else span.start] + text[span.end :]


# -- one value ---------------------------------------------------------------------------------


def _in_place(text: str, layout: Walk, path: Path, value: Any) -> str:
    span = layout.values[path]
    old = text[span.start : span.end]
    new = written(value)
    if isinstance(value, list | tuple) and "\n" in old:
        new = _relisted(text, layout, path, [written(item) for item in value])
    elif isinstance(value, float) and value.is_integer() and re.fullmatch(r"\d+", old):
        new = str(int(value))  # 100 stays a whole number where one stood
    return text[: span.start] + new + text[span.end :]


def _relisted(text: str, layout: Walk, path: Path, items: list[str]) -> str:
    """A list of several lines with other items: those that stay keep their line and comment."""
    span, nl = layout.values[path], _newline(text)
    chunks: list[tuple[str, str]] = []
    at, n = span.start + 1, 0
    while (*path, n) in layout.values:
        item = layout.values[(*path, n)]
        lead, body = text[at : item.start], text[item.start : item.end]
        more = re.match(r"[ \t]*,", text[item.end : span.end])
        end = item.end + (more.end() if more else 0)
        note = re.match(r"[ \t]*#[^\r\n]*", text[end : span.end])
        at = end + (note.end() if note else 0)
        chunks.append((written(_read(body)), f"{lead}{body},{note[0] if note else ''}"))
        n += 1
    closing = text[at : span.end]
    found = re.search(r"\r?\n[ \t]*$", chunks[0][1][: chunks[0][1].find(chunks[0][0])] or "") \
        if chunks else None  # fmt: skip
    indent = found[0] if found else f"{nl}    "
    parts: list[str] = []
    for item_text in items:
        kept = next((chunk for chunk in chunks if chunk[0] == item_text), None)
        if kept is not None:
            chunks.remove(kept)
        part = kept[1] if kept else f"{indent}{item_text},"
        if parts and "#" in parts[-1] and not part.lstrip(" \t").startswith(("\n", "\r")):
            part = f"{indent}{part.lstrip()}"
        parts.append(part)
    if parts and "#" in parts[-1] and not closing.lstrip(" \t").startswith(("\n", "\r")):
        closing = nl + closing
    return "[" + "".join(parts) + closing


def _read(text: str) -> Any:
    return tomllib.loads(f"v = {text}")["v"]
