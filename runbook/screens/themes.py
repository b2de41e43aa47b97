"""How the screens are coloured: for a lit room, for the dark, and in a dim red that spares the eyes behind a camera.

A theme is kept for the next time in ``runbook/theme`` under the folder for settings (``XDG_CONFIG_HOME``, else
``~/.config``). Colour only repeats what a word or a sign says.
"""

from __future__ import annotations

import os
from contextlib import suppress
from dataclasses import replace
from pathlib import Path
from typing import Any, Final

from rich.style import Style
from textual.theme import Theme

# What own drawings are painted in: a name for what is drawn, and the theme's colours for it.
TONES: Final = ("plain", "faint", "light", "thing", "camera", "cloth", "move", "marked")


def _theme(name: str, *, dark: bool, face: str, cursor: str, tones: tuple[str, ...], **colours: Any) -> Theme:
    variables = {f"tone-{tone}": colour for tone, colour in zip(TONES, tones, strict=True)}
    variables |= {"face-tint": face, "block-cursor-text-style": "bold", "footer-key-foreground": colours["accent"]}
    # every colour of a text can be read on the cursor
    variables |= {"block-cursor-background": cursor, "block-cursor-foreground": colours["foreground"]}
    variables |= {"block-cursor-blurred-background": colours["panel"]}  # weaker than where the keys are
    return Theme(name, dark=dark, variables=variables, **colours)


THEMES: Final = (
    _theme(
        "dark",
        dark=True,
        face="#d8d8d8",
        cursor="#24485a",
        tones=("#d8d8d8", "#8a8a8a", "#e8c860", "#ffffff", "#7fc8d8", "#c8a0d8", "#f0a0e0", "#ff9040"),
        primary="#7fb0c8",
        secondary="#a8a8a8",
        accent="#e8c860",
        warning="#f0b040",
        error="#e05050",
        success="#80c080",
        foreground="#d8d8d8",
        background="#000000",
        surface="#101010",
        panel="#242424",
    ),
    _theme(
        "lit room",
        dark=False,
        face="#ffffff",
        cursor="#c4dcea",
        tones=("#101010", "#606060", "#8a5a00", "#000000", "#005f87", "#6a3090", "#a00080", "#c03000"),
        primary="#005f87",
        secondary="#404040",
        accent="#8a4a00",
        warning="#8a5a00",
        error="#b00020",
        success="#1e6e2e",
        foreground="#101010",
        background="#ffffff",
        surface="#f4f4f2",
        panel="#e2e2de",
    ),
    _theme(
        "dim red",
        dark=True,
        face="#a03020",
        cursor="#4a120a",
        tones=("#b03428", "#80241c", "#d05038", "#e06048", "#b84030", "#a03c30", "#f07058", "#ff8060"),
        primary="#a03020",
        secondary="#80241c",
        accent="#e06048",
        warning="#e06048",
        error="#ff6050",
        success="#b84030",
        foreground="#b83428",
        background="#000000",
        surface="#0c0201",
        panel="#240806",
    ),
)
NAMES: Final = tuple(theme.name for theme in THEMES)


def with_reversed_cursor(theme: Theme) -> Theme:
    """Return a theme for a terminal that has no colour near the cursor's: the cursor is in reverse."""
    styles = {"block-cursor-text-style": "bold reverse", "block-cursor-blurred-text-style": "bold underline"}
    return replace(theme, variables=theme.variables | styles)


# where a terminal is asked to show no colour, the library leaves all of it out
NO_COLOUR: Final = with_reversed_cursor(replace(THEMES[0], name="no colour"))


def tone_styles(variables: dict[str, str], *, colour: bool) -> dict[str, Style]:
    """Return the style of each tone in a theme; without colour, bold and dim alone."""
    if not colour:
        return {tone: Style(bold=tone in ("thing", "marked"), reverse=tone == "marked") for tone in TONES}
    styles = {tone: Style(color=variables[f"tone-{tone}"]) for tone in TONES}
    return styles | {tone: styles[tone] + Style(bold=True) for tone in ("thing", "marked", "move")}


def _file() -> Path:
    return Path(os.environ.get("XDG_CONFIG_HOME") or Path.home() / ".config") / "runbook" / "theme"


def kept_theme() -> str:
    """Return the theme kept last time, or the one for the dark."""
    with suppress(OSError, RuntimeError, UnicodeDecodeError):
        name = _file().read_text("utf-8").strip()
        if name in NAMES:
            return name
    return NAMES[0]


def keep_theme(name: str) -> None:
    """Keep a theme for the next time, where a file for it can be written."""
    with suppress(OSError, RuntimeError):
        _file().parent.mkdir(parents=True, exist_ok=True)
        _file().write_text(f"{name}\n", "utf-8")
