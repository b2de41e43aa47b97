"""Letters big enough to read across a studio: a 5 x 7 face of our own, painted with blocks."""

from __future__ import annotations

from typing import Final

from runbook.screens.text import Glyphs

HEIGHT: Final = 7
_ROWS: Final = {
    " ": "..... ..... ..... ..... ..... ..... .....",
    "0": ".###. #...# #..## #.#.# ##..# #...# .###.",
    "1": "..#.. .##.. ..#.. ..#.. ..#.. ..#.. .###.",
    "2": ".###. #...# ....# ..##. .#... #.... #####",
    "3": ".###. #...# ....# ..##. ....# #...# .###.",
    "4": "...#. ..##. .#.#. #..#. ##### ...#. ...#.",
    "5": "##### #.... ####. ....# ....# #...# .###.",
    "6": "..##. .#... #.... ####. #...# #...# .###.",
    "7": "##### ....# ...#. ..#.. ..#.. ..#.. ..#..",
    "8": ".###. #...# #...# .###. #...# #...# .###.",
    "9": ".###. #...# #...# .#### ....# ...#. .##..",
    "A": ".###. #...# #...# ##### #...# #...# #...#",
    "B": "####. #...# #...# ####. #...# #...# ####.",
    "C": ".###. #...# #.... #.... #.... #...# .###.",
    "D": "####. #...# #...# #...# #...# #...# ####.",
    "E": "##### #.... #.... ####. #.... #.... #####",
    "F": "##### #.... #.... ####. #.... #.... #....",
    "G": ".###. #...# #.... #.### #...# #...# .###.",
    "H": "#...# #...# #...# ##### #...# #...# #...#",
    "I": ".###. ..#.. ..#.. ..#.. ..#.. ..#.. .###.",
    "J": "..### ...#. ...#. ...#. ...#. #..#. .##..",
    "K": "#...# #..#. #.#.. ##... #.#.. #..#. #...#",
    "L": "#.... #.... #.... #.... #.... #.... #####",
    "M": "#...# ##.## #.#.# #.#.# #...# #...# #...#",
    "N": "#...# ##..# ##..# #.#.# #..## #..## #...#",
    "O": ".###. #...# #...# #...# #...# #...# .###.",
    "P": "####. #...# #...# ####. #.... #.... #....",
    "Q": ".###. #...# #...# #...# #.#.# #..#. .##.#",
    "R": "####. #...# #...# ####. #.#.. #..#. #...#",
    "S": ".#### #.... #.... .###. ....# ....# ####.",
    "T": "##### ..#.. ..#.. ..#.. ..#.. ..#.. ..#..",
    "U": "#...# #...# #...# #...# #...# #...# .###.",
    "V": "#...# #...# #...# #...# #...# .#.#. ..#..",
    "W": "#...# #...# #...# #.#.# #.#.# ##.## #...#",
    "X": "#...# #...# .#.#. ..#.. .#.#. #...# #...#",
    "Y": "#...# #...# .#.#. ..#.. ..#.. ..#.. ..#..",
    "Z": "##### ....# ...#. ..#.. .#... #.... #####",
    "/": "....# ....# ...#. ..#.. .#... #.... #....",
    ".": "..... ..... ..... ..... ..... .##.. .##..",
    ",": "..... ..... ..... ..... .##.. .##.. .#...",
    ":": "..... .##.. .##.. ..... .##.. .##.. .....",
    "+": "..... ..#.. ..#.. ##### ..#.. ..#.. .....",
    "-": "..... ..... ..... ##### ..... ..... .....",
    "%": "##..# ##.#. ...#. ..#.. .#... .#.## #..##",
    "(": "...#. ..#.. .#... .#... .#... ..#.. ...#.",
    ")": ".#... ..#.. ...#. ...#. ...#. ..#.. .#...",
    "'": "..#.. ..#.. ..... ..... ..... ..... .....",
    "°": ".##.. #..#. .##.. ..... ..... ..... .....",
    "?": ".###. #...# ....# ...#. ..#.. ..... ..#..",
}
_FACE: Final = {char: rows.split() for char, rows in _ROWS.items()}


def wrapped(text: str, width: int) -> list[str]:
    """Words on lines of at most so many letters; a longer word is broken."""
    lines = [""]
    for word in text.split():
        if lines[-1] and len(lines[-1]) + 1 + len(word) <= width:
            lines[-1] += f" {word}"
            continue
        pieces = [word[n : n + width] for n in range(0, len(word), width)]
        lines += pieces
    return [line for line in lines if line]


def letters_that_fit(cells: int, size: int = 1) -> int:
    """How many big letters, so many times as big again, fit side by side in so many cells."""
    return max((cells + size) // (6 * size), 1)


def rows_of(glyphs: Glyphs, size: int = 1) -> int:
    """Terminal rows of one big line, without the gap under it."""
    return HEIGHT * size if glyphs.ascii else (HEIGHT * size + 1) // 2


def big(text: str, glyphs: Glyphs, size: int = 1) -> list[str]:
    """One line of big letters as rows of blocks; ``size`` 2 is twice as wide and as high."""
    shown = [_FACE.get(char, _FACE["?"]) for char in text.upper()]
    small = [".".join(letter[row] for letter in shown).replace(".", " ") for row in range(HEIGHT)]
    pixels = ["".join(dot * size for dot in row) for row in small for _ in range(size)]
    if glyphs.ascii:
        return [row.replace("#", glyphs.full) for row in pixels]
    if len(pixels) % 2:
        pixels.append(" " * len(pixels[0]))
    half = {("#", "#"): glyphs.full, ("#", " "): glyphs.upper, (" ", "#"): glyphs.lower, (" ", " "): " "}
    return [
        "".join(half[above, below] for above, below in zip(upper, lower, strict=True))
        for upper, lower in zip(pixels[::2], pixels[1::2], strict=True)
    ]
