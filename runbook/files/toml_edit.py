"""Changing one thing in a TOML text and leaving every other character as it is.

Comments, order, spacing and the ends of lines stay. After each change the text is parsed again and compared with the
same change made to the plain table, so a layout this module does not know is refused and never damaged. Members of
lists are counted from 0 in a path: ``("light", 0, "power")``.
"""

from __future__ import annotations

import re
import tomllib
from bisect import bisect_right
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from typing import Any, Final

from runbook.files.errors import Path

_TOKEN: Final = re.compile(
    r"""
    (?P<text>\"{3}(?:[^"\\]|\\.|\"{1,2}(?!\"))*\"{3,5}|'{3}(?:[^']|'{1,2}(?!'))*'{3,5}
      |"(?:[^"\\\n]|\\.)*"|'[^'\n]*')
    |(?P<comment>\#[^\n]*)
    |(?P<newline>\n)
    |(?P<mark>[\[\]{}=,])
    |(?P<bare>[^\s\[\]{}=,"'\#]+)
    """,
    re.VERBOSE | re.DOTALL,
)
_BARE_KEY: Final = re.compile(r"[A-Za-z0-9_-]+")


class NotEdited(Exception):
    """A change that is not made: what is wrong and what would be right, in a line."""


# -- where everything is -----------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Span:
    """From which character of a text to which."""

    start: int
    end: int


@dataclass(frozen=True, slots=True)
class Header:
    """A ``[table]`` or, where ``many``, a ``[[table]]``, without the rest of its line."""

    path: Path
    span: Span
    many: bool


@dataclass(slots=True)
class Layout:
    """Where a text has its keys (``starts``), values, headers, and ``key = value`` lines by table."""

    starts: dict[Path, int] = field(default_factory=dict)
    values: dict[Path, Span] = field(default_factory=dict)
    headers: list[Header] = field(default_factory=list)
    lines: dict[Path, list[Path]] = field(default_factory=dict)


class _Parser:
    """Walks the tokens of a text that is known to parse."""

    def __init__(self, text: str) -> None:
        self.tokens = [found for found in _TOKEN.finditer(f"{text}\n") if found.lastgroup != "comment"]
        self.at = 0
        self.layout = Layout()

    def mark(self, at: int | None = None) -> str:
        """The bracket, comma, equals sign or end of line that comes next; empty where it is a word."""
        token = self.tokens[self.at if at is None else at]
        return token[0] if token.lastgroup in ("mark", "newline") else ""

    def run(self) -> Layout:
        table: Path = ()
        last: dict[Path, int] = {}  # of each array of tables, its latest member
        while self.at < len(self.tokens):
            if self.mark() == "\n":
                self.at += 1
            elif self.mark() == "[":
                table = self.header(last)
            else:
                self.layout.lines.setdefault(table, []).append(self.pair(table))
        return self.layout

    def header(self, last: dict[Path, int]) -> Path:
        start, many = self.tokens[self.at].start(), self.mark(self.at + 1) == "["
        self.at += 2 if many else 1
        *outer, name = self.names()
        path: Path = ()
        for part in outer:
            path += (part,)
            self.layout.starts.setdefault(path, start)
            path += (last[path],) if path in last else ()
        path += (name,)
        self.layout.starts.setdefault(path, start)
        if many:
            last[path] = last.get(path, -1) + 1
            path += (last[path],)
            self.layout.starts[path] = start
        self.at += 2 if many else 1
        self.layout.headers.append(Header(path, Span(start, self.tokens[self.at - 1].end()), many))
        return path

    def names(self) -> tuple[str, ...]:
        """The parts of a key: ``a."b.c".d`` is three."""
        names: list[str] = []
        while not self.mark():
            token = self.tokens[self.at]
            if token.lastgroup == "text":
                names.append(next(iter(tomllib.loads(f"{token[0]} = 0"))))
            else:
                names.extend(filter(None, token[0].split(".")))
            self.at += 1
        return tuple(names)

    def pair(self, table: Path) -> Path:
        """A key with its value; returns its path."""
        start, path = self.tokens[self.at].start(), table
        for name in self.names():
            path += (name,)
            self.layout.starts.setdefault(path, start)
        self.at += 1
        self.value(path)
        return path

    def value(self, path: Path) -> None:
        start, opener = self.tokens[self.at].start(), self.mark()
        self.layout.starts.setdefault(path, start)
        if opener:
            self.at += 1
            self.members(path, in_list=opener == "[")
        else:
            while not self.mark():  # a date and its time are two words of one value
                self.at += 1
        self.layout.values[path] = Span(start, self.tokens[self.at - 1].end())

    def members(self, path: Path, *, in_list: bool) -> None:
        count = 0
        while (mark := self.mark()) not in ("]", "}"):
            if mark in ("\n", ","):
                self.at += 1
            elif in_list:
                self.value((*path, count))
                count += 1
            else:
                self.pair(path)
        self.at += 1


def layout_of(text: str) -> Layout:
    """Where everything is in a TOML text that parses."""
    return _Parser(text).run()


def key_lines(text: str) -> dict[Path, int]:
    """The line of every table, key and list item of a TOML text that parses; lines count from 1.

    None where brackets are nested so deeply that the text can only just be parsed.
    """
    ends = [found.start() for found in re.finditer("\n", text)]
    try:
        return {path: bisect_right(ends, start) + 1 for path, start in layout_of(text).starts.items()}
    except RecursionError:
        return {}


# -- changes -----------------------------------------------------------------------------------


def as_toml(value: Any) -> str:
    """A value as TOML, on one line."""
    if isinstance(value, list | tuple):
        return f"[{', '.join(map(as_toml, value))}]"
    if isinstance(value, dict):
        return f"{{ {', '.join(_pairs(value))} }}" if value else "{}"
    import tomli_w

    return tomli_w.dumps({"v": value}).removeprefix("v = ").removesuffix("\n")


def _pairs(table: dict[str, Any]) -> Iterable[str]:
    return (f"{_key(name)} = {as_toml(value)}" for name, value in table.items())


def _key(name: str) -> str:
    return name if _BARE_KEY.fullmatch(name) else as_toml(name)


def set_value(text: str, path: Path, value: Any) -> str:
    """The text with a key set: its value replaced where it is, else a line added."""

    def change(table: Any) -> None:
        *outer, last = path
        for part in outer:
            table = table.setdefault(part, {}) if isinstance(table, dict) else table[part]
        table[last] = value

    return _changed(text, change, path, lambda layout: _with_key(text, layout, path, value))


def remove_key(text: str, path: Path) -> str:
    """The text without a key, its line and the comment on that line."""

    def without_line(layout: Layout) -> str:
        if path not in layout.values:
            raise NotEdited(f"{path[-1]} is written in several lines; delete it by hand")
        return text[: _line_start(text, layout.starts[path])] + text[_line_end(text, layout.values[path].end) :]

    def change(table: Any) -> None:
        del _at(table, path[:-1])[path[-1]]

    return _changed(text, change, path[:-1], without_line)


def add_table(text: str, key: str, table: dict[str, Any]) -> str:
    """The text with one more ``[[key]]``, after the last of its kind or at the end."""

    def change(whole: Any) -> None:
        whole.setdefault(key, []).append(table)

    nl = _newline(text)
    body = "".join(f"{line}{nl}" for line in (f"[[{_key(key)}]]", *_pairs(table)))
    return _changed(text, change, (key,), lambda layout: _after_last(text, layout, key, body))


def remove_table(text: str, path: Path) -> str:
    """The text without a ``[section]`` or the n-th table of its kind, and the comments on it."""

    def change(whole: Any) -> None:
        del _at(whole, path[:-1])[path[-1]]
        if isinstance(path[-1], int) and not whole[path[0]] and path[:1] not in layout.values:
            del whole[path[0]]  # without its last member, a kind is not written at all

    def removed(layout: Layout) -> str:
        block = _block(text, layout, path)
        before, rest = text[: block.start], text[block.end :]
        rest = rest[len(re.match(r"(?:[ \t]*\r?\n)*", rest)[0]) :]  # type: ignore[index]  # it always matches
        return before + rest if rest.strip() or not before.strip() else before.rstrip() + _newline(text)

    layout = layout_of(text)
    if isinstance(path[-1], str) and path in layout.values:
        return remove_key(text, path)
    return _changed(text, change, path[:-1], removed)


def move_table(text: str, key: str, index: int, to: int) -> str:
    """The text with two tables of a kind in each other's place, their comments with them."""

    def change(whole: Any) -> None:
        items = whole[key]
        items[index], items[to] = items[to], items[index]

    def moved(layout: Layout) -> str:
        one, other = (_block(text, layout, (key, n)) for n in sorted((index, to)))
        first, second = (_whole_lines(text[block.start : block.end], _newline(text)) for block in (one, other))
        return text[: one.start] + second + text[one.end : other.start] + first + text[other.end :]

    return _changed(text, change, (key,), moved)


def _changed(text: str, change: Callable[[Any], None], path: Path, edit: Callable[[Layout], str]) -> str:
    """The text with a change made to its table, where it then says exactly that.

    Where the path is inside a value, that value is written anew; elsewhere ``edit`` makes the new text.
    """
    layout, wanted = layout_of(text), tomllib.loads(text)
    change(wanted)
    inside = next((path[:n] for n in range(len(path), 0, -1) if path[:n] in layout.values), None)
    after = edit(layout) if inside is None else _in_place(text, layout, inside, _at(wanted, inside))
    try:
        found = tomllib.loads(after)
    except (tomllib.TOMLDecodeError, RecursionError):
        found = None
    if found is None or found != _plain(wanted):
        raise NotEdited("the file is laid out in a way the forms cannot keep; change it by hand")
    return after


def _at(table: Any, path: Path) -> Any:
    for part in path:
        table = table[part]
    return table


def _plain(value: Any) -> Any:
    """The same with lists for tuples, as a file gives them back."""
    if isinstance(value, dict):
        return {key: _plain(item) for key, item in value.items()}
    return [_plain(item) for item in value] if isinstance(value, list | tuple) else value


# -- lines and tables --------------------------------------------------------------------------


def _newline(text: str) -> str:
    return "\r\n" if re.match(r"[^\n]*\r\n", text) else "\n"


def _line_start(text: str, at: int) -> int:
    return text.rfind("\n", 0, at) + 1


def _line_end(text: str, at: int) -> int:
    """The character after the end of a line."""
    return text.find("\n", at) + 1 or len(text)


def _whole_lines(text: str, nl: str) -> str:
    return text if not text or text.endswith("\n") else text + nl


def _comment_start(text: str, start: int) -> int:
    """Where the comment straight above a header begins; one at the top is the whole file's."""
    at = start
    while at > 0 and text[(above := _line_start(text, at - 1)) : at].lstrip().startswith("#"):
        at = above
    return at if at > 0 else start


def _last_line(text: str, layout: Layout, table: Path) -> int | None:
    """The character after the last ``key = value`` line of a table."""
    ends = [layout.values[path].end for path in layout.lines.get(table, ())]
    return _line_end(text, max(ends)) if ends else None


def _block(text: str, layout: Layout, path: Path) -> Span:
    """A table with the comments straight above it and straight below its last line."""
    at = next((n for n, header in enumerate(layout.headers) if header.path == path), None)
    if at is None:
        raise NotEdited(f"{path[0]} has no line of its own; change it by hand")
    header, following = layout.headers[at], layout.headers[at + 1 :]
    end = _last_line(text, layout, path) or _line_end(text, header.span.end)
    stop = _comment_start(text, _line_start(text, following[0].span.start)) if following else len(text)
    while end < stop and text[end : _line_end(text, end)].lstrip().startswith("#"):
        end = _line_end(text, end)
    return Span(_comment_start(text, _line_start(text, header.span.start)), end)


def _after_last(text: str, layout: Layout, key: str, body: str) -> str:
    """The text with a table's lines after the last of its kind, a blank line between; else at the end."""
    same = [_block(text, layout, header.path) for header in layout.headers if header.many and header.path[0] == key]
    end = same[-1].end if same else len(text)
    above = text[_line_start(text, same[-1].start - 1) : same[-1].start] if len(same) > 1 else ""
    nl = _newline(text)
    gap = "" if above.strip() or not text.strip() else nl
    return _whole_lines(text[:end], nl) + gap + body + text[end:]


def _with_key(text: str, layout: Layout, path: Path, value: Any) -> str:
    """The text with a line for a key that is not there yet: below the last of its table."""
    table, nl = path[:-1], _newline(text)
    header = next((each for each in layout.headers if each.path == table), None)
    line = f"{_key(path[-1])} = {as_toml(value)}"
    end = _last_line(text, layout, table)
    if end is None and header is not None:
        end = _line_end(text, header.span.end)
    elif end is None and not table:
        first = layout.headers[0].span.start if layout.headers else len(text)
        end = _comment_start(text, _line_start(text, first))
    elif end is None:
        size = len(table)
        dotted = [(each, n) for n in range(size) for each in layout.lines.get(table[:n], ()) if each[:size] == table]
        if not dotted:
            gap = nl if text.strip() else ""
            return f"{_whole_lines(text, nl)}{gap}[{'.'.join(map(_key, table))}]{nl}{line}{nl}"
        last, outer = dotted[-1]
        end = _line_end(text, layout.values[last].end)
        line = f"{'.'.join(map(_key, table[outer:]))}.{line}"
    return f"{_whole_lines(text[:end], nl)}{line}{nl}{text[end:]}"


# -- one value ---------------------------------------------------------------------------------


def _in_place(text: str, layout: Layout, path: Path, value: Any) -> str:
    span = layout.values[path]
    old, new = text[span.start : span.end], as_toml(value)
    if isinstance(value, list | tuple) and "\n" in old:
        new = _relisted(text, layout, path, [as_toml(item) for item in value])
    elif isinstance(value, float) and value.is_integer() and re.fullmatch(r"\d+", old):
        new = str(int(value))  # 100 stays a whole number where one was written
    return text[: span.start] + new + text[span.end :]


def _relisted(text: str, layout: Layout, path: Path, items: list[str]) -> str:
    """A list of several lines with other items: those that stay keep their line and comment."""
    span, nl = layout.values[path], _newline(text)
    kept: list[tuple[str, str]] = []  # each item, and its text with what is before it and its comment
    at, indent = span.start + 1, f"{nl}    "
    while (item := layout.values.get((*path, len(kept)))) is not None:
        lead, body = text[at : item.start], text[item.start : item.end]
        if not kept and (found := re.search(r"\r?\n[ \t]*$", lead)):
            indent = found[0]
        more = re.compile(r"[ \t]*,?([ \t]*#[^\r\n]*)?").match(text, item.end, span.end - 1)
        at = more.end() if more else item.end
        comment = more[1] if more and more[1] else ""
        kept.append((as_toml(tomllib.loads(f"v = {body}")["v"]), f"{lead}{body},{comment}"))
    new = "["
    for item_text in (*items, None):
        part = f"{indent}{item_text}," if item_text is not None else text[at : span.end]
        stays = next((each for each in kept if each[0] == item_text), None)
        if stays:
            kept.remove(stays)
            part = stays[1]
        if "#" in new.rsplit("\n", 1)[-1] and not part.lstrip(" \t").startswith(("\n", "\r")):
            part = f"{indent if item_text is not None else nl}{part.lstrip()}"
        new += part
    return new
