"""Texts that lay the screen out anew only where they take other room."""

from __future__ import annotations

import pytest
from rich.text import Text
from textual.app import App, ComposeResult

from runbook.screens.text import Words


class Page(App[None]):
    CSS = """
    Words { width: 100%; height: auto; }
    #line { height: 1; }
    #hidden { display: none; }
    """

    def compose(self) -> ComposeResult:
        yield Words(Text("one line"), id="line")
        yield Words(Text("one line"), id="text")
        yield Words(Text("one line"), id="hidden")


@pytest.mark.parametrize(
    ("name", "text", "again"),
    [
        ("text", "other words", False),
        ("text", "two\nlines", True),
        ("text", "", True),
        ("text", "far " * 40, True),
        ("line", "", False),
        ("line", "two\nlines", False),
        ("hidden", "two\nlines", False),
    ],
)
async def test_the_screen_is_laid_out_anew_where_a_text_takes_other_room(
    name: str, text: str, again: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    async with Page().run_test(size=(80, 24)) as pilot:
        laid_out: list[bool] = []
        words = pilot.app.query_one(f"#{name}", Words)
        refresh = words.refresh

        def noted(*regions: object, layout: bool = False, **rest: bool) -> object:
            laid_out.append(layout)
            return refresh(*regions, layout=layout, **rest)  # type: ignore[arg-type]

        monkeypatch.setattr(words, "refresh", noted)
        words.update(Text(text))
        await pilot.pause()
        assert (True in laid_out) == again


async def test_a_hidden_text_has_its_room_once_it_is_shown() -> None:
    async with Page().run_test(size=(80, 24)) as pilot:
        words = pilot.app.query_one("#hidden", Words)
        words.update(Text("two\nlines"))
        words.display = True
        await pilot.pause()
        assert words.size.height == 2


async def test_what_is_said_already_is_not_painted_again(monkeypatch: pytest.MonkeyPatch) -> None:
    async with Page().run_test(size=(80, 24)) as pilot:
        words = pilot.app.query_one("#text", Words)
        painted: list[object] = []
        monkeypatch.setattr(words, "refresh", lambda *_, **__: painted.append(None))
        words.update(Text("one line"))
        assert not painted
        words.update(Text("one line", style="bold"))
        assert painted
