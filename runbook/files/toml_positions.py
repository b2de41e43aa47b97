"""Where in a TOML text each value is written: its line, and from which character to which.

The reader of the standard library gives no positions. This one gives nothing else: it walks a text
that is known to parse, and is only called when there is a fault to point at, or a value to change.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Final

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


@dataclass(frozen=True, slots=True)
class _Token:
    kind: str
    text: str
    line: int
    start: int

    @property
    def end(self) -> int:
        return self.start + len(self.text)


def _tokens(text: str) -> Iterator[_Token]:
    line = 1
    for found in _TOKEN.finditer(text):
        kind = found.lastgroup or ""
        if kind != "comment":
            yield _Token(kind, found[0], line, found.start())
        line += found[0].count("\n")


def _names(tokens: list[_Token]) -> tuple[str, ...]:
    """The parts of a key: ``a."b.c".d`` is three."""
    names: list[str] = []
    for token in tokens:
        if token.kind == "text":
            names.append(_unquoted(token.text))
        else:
            names.extend(part for part in token.text.split(".") if part)
    return tuple(names)


def _unquoted(text: str) -> str:
    import tomllib

    return next(iter(tomllib.loads(f"{text} = 0")))


@dataclass(frozen=True, slots=True)
class _Open:
    """A list or inline table that is not closed yet."""

    closer: str
    path: Path


@dataclass(frozen=True, slots=True)
class Span:
    """From which character of a text to which."""

    start: int
    end: int


@dataclass(frozen=True, slots=True)
class Header:
    """A ``[table]`` or ``[[table]]``: whose it is, and where its line begins and ends."""

    path: Path
    span: Span
    many: bool


@dataclass(frozen=True, slots=True)
class Line:
    """A ``key = value`` that stands by itself: in which table, its key, and where it begins."""

    table: Path
    path: Path
    start: int


class Walk:
    """One pass over the tokens, keeping the table and the brackets it stands in.

    ``lines`` and ``values`` are of every key and list item; ``headers`` and ``keys`` are what
    stands on lines of its own, in order; ``inner`` is where each key inside an inline table begins.
    """

    def __init__(self) -> None:
        self.lines: dict[Path, int] = {}
        self.values: dict[Path, Span] = {}
        self.headers: list[Header] = []
        self.keys: list[Line] = []
        self.inner: dict[Path, int] = {}
        self.table: Path = ()
        self.last: dict[Path, int] = {}  # of each array of tables, its latest member
        self.open: list[_Open] = []
        self.count: list[int] = []
        self.words: list[_Token] = []
        self.in_value = False
        self.value_path: Path = ()

    def take(self, token: _Token) -> None:
        if self.open:
            self._inside(token)
        elif token.kind == "newline":
            self._end_of_line()
        elif token.text == "=" and token.kind == "mark" and not self.in_value:
            self._key(self.table)
        elif self.in_value:
            self._value(token, self.value_path)
        else:
            self.words.append(token)

    def _end_of_line(self) -> None:
        if self.words:
            self._header(self.words)
        self.words, self.in_value = [], False

    def _header(self, words: list[_Token]) -> None:
        opened = sum(1 for token in words if token.text == "[" and token.kind == "mark")
        *outer, name = _names([token for token in words if token.kind != "mark"])
        path: Path = ()
        for part in outer:
            path += (part,)
            self.lines.setdefault(path, words[0].line)
            path += (self.last[path],) if path in self.last else ()
        path += (name,)
        self.lines.setdefault(path, words[0].line)
        if opened == 2:
            self.last[path] = self.last.get(path, -1) + 1
            path += (self.last[path],)
        self.lines.setdefault(path, words[0].line)
        self.headers.append(Header(path, Span(words[0].start, words[-1].end), opened == 2))
        self.table = path

    def _key(self, path: Path) -> None:
        for name in _names(self.words):
            path += (name,)
            self.lines.setdefault(path, self.words[0].line)
        if self.open:
            self.inner[path] = self.words[0].start
        else:
            self.keys.append(Line(self.table, path, self.words[0].start))
        self.words, self.in_value, self.value_path = [], True, path

    def _value(self, token: _Token, path: Path) -> None:
        # a date and its time are two words of one value
        begun = self.values.get(path)
        self.values[path] = Span(begun.start if begun else token.start, token.end)
        if token.kind == "mark" and token.text in "[{":
            self.open.append(_Open("]" if token.text == "[" else "}", path))
            self.count.append(0)
            self.in_value = token.text == "["

    def _inside(self, token: _Token) -> None:
        closer, path = self.open[-1].closer, self.open[-1].path
        in_list = closer == "]"
        if token.kind == "newline":
            return
        if token.kind == "mark" and token.text == closer:
            self.values[path] = replace(self.values[path], end=token.end)
            self.open.pop()
            self.count.pop()
            self.words, self.in_value = [], True
        elif token.kind == "mark" and token.text == ",":
            self.count[-1] += 1
            self.words, self.in_value = [], in_list
        elif in_list:
            item = (*path, self.count[-1])
            self.lines.setdefault(item, token.line)
            self._value(token, item)
        elif self.in_value:
            self._value(token, self.value_path)
        elif token.kind == "mark" and token.text == "=":
            self._key(path)
        else:
            self.words.append(token)


def key_lines(text: str) -> dict[Path, int]:
    """The line of every table, key and list item of a TOML text that parses; lines count from 1.

    Members of arrays, of tables or of values, are counted from 0: ``("head", 1, "mass_kg")``.
    """
    return walk(text.replace("\r\n", "\n")).lines


def walk(text: str) -> Walk:
    """Where everything is in a TOML text that parses."""
    walked = Walk()
    for token in _tokens(text + "\n"):
        walked.take(token)
    return walked
