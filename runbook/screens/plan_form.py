"""The form of one thing of the plan: a row a key, in the library's inputs, with what is wrong below it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any, ClassVar, Final

from textual import events
from textual.app import ComposeResult
from textual.binding import BindingType
from textual.containers import VerticalScroll
from textual.content import Content
from textual.message import Message
from textual.timer import Timer
from textual.widget import Widget
from textual.widgets import Button, Checkbox, Input, Select, Static
from textual.widgets._select import SelectCurrent, SelectOverlay

from runbook.files.errors import Path
from runbook.files.form import Field, field_to_edit
from runbook.model.units import Units
from runbook.screens.keys import key
from runbook.screens.lists import Paged, content
from runbook.screens.text import Glyphs

_NONE: Final = "none"
LABEL: Final = 21
_BUILD_S: Final = 0.05  # while one goes through the list, rows are made only of what one stops at
_OPEN: Final = ("choice", "ref")


def is_set(field: Field) -> bool:
    """Whether a key is shown without asking for more."""
    return field.must or field.kind == "power" or field.origin in ("own", "inherited")


class ChoiceList(Paged, SelectOverlay):
    """The list of a choice."""


class Choices(Select[str]):
    """A choice; a letter typed opens it and searches."""

    def compose(self) -> ComposeResult:
        yield SelectCurrent(self.prompt)
        yield ChoiceList().data_bind(compact=Select.compact)

    async def on_key(self, event: events.Key) -> None:
        """Open the list for what is typed."""
        if event.is_printable and event.character != " " and not self.expanded:
            event.stop()
            self.action_show_overlay()
            self.query_one(ChoiceList).post_message(events.Key(event.key, event.character))


class YesNo(Checkbox):
    """A box that says its state in a word."""

    def render(self) -> Content:
        """Draw the box and the word; the library's own box tells by its colour alone."""
        return Content("[x] yes" if self.value else "[ ] no")


class FieldRow(Widget):
    """One key of a form: its name, its value to change, and below it what is wrong with it or what it means."""

    @dataclass
    class Typed(Message):
        """Something is typed and not saved yet; ``row.text`` is it."""

        row: FieldRow

    @dataclass
    class Entered(Message):
        """A value is to be saved: a text as typed, or a choice."""

        row: FieldRow
        value: Any
        go_on: bool

    def __init__(self, field: Field, units: Units, glyphs: Glyphs) -> None:
        super().__init__()
        self.field, self.units, self.glyphs = field, units, glyphs
        self.control: Widget = self._control()
        self.source = " inherited" if field.origin == "inherited" else ""  # from where: in its hint
        self.control.styles.margin = (0, len(self.source), 0, LABEL)
        self._hint: tuple[tuple[str, ...], bool] = ((), False)

    def _control(self) -> Widget:
        field = self.field
        if field.kind == "yes":
            return YesNo(value=bool(field.value), compact=True)
        if field.kind in _OPEN:
            blank = not field.must or field.value is None
            value = field.value if field.value in field.choices else Select.NULL
            if value is Select.NULL:
                blank = True
            options = [(self.glyphs.shown(choice), choice) for choice in field.choices]
            return Choices(options, prompt=_NONE, allow_blank=blank, value=value, compact=True)
        return Input(self.saved_text, compact=True, placeholder=self._placeholder, select_on_focus=True)

    @property
    def _placeholder(self) -> str:
        return "required" if self.field.must else ", ".join(self.field.choices[:4]) or _NONE

    @property
    def saved_text(self) -> str:
        """The value as it is saved, to be typed over."""
        return self.glyphs.shown(field_to_edit(self.field, self.units))

    @property
    def text(self) -> str:
        """What is typed."""
        return self.control.value if isinstance(self.control, Input) else ""

    @property
    def typed(self) -> bool:
        """Whether something else is typed than is saved."""
        return isinstance(self.control, Input) and self.text != self.saved_text

    def compose(self) -> ComposeResult:
        yield self.control

    def render(self) -> Content:
        """Draw what is beside the control and below it."""
        lines, wrong = self._hint
        first = f"{self.glyphs.fit(self.field.label, LABEL)}{self.source:>{max(self.size.width - LABEL, 0)}}"
        below = [(f"  {line}", "bold $warning" if wrong else "") for line in self._wrapped(lines)]
        return content([(first, ""), *below], self.glyphs)

    def _wrapped(self, lines: Sequence[str]) -> list[str]:
        return self.glyphs.wrap(*lines, width=(self.size.width or 40) - 2) if lines else []

    def show(self, field: Field) -> None:
        """Show the key as it now is; what is being typed stays."""
        was, self.field = self.field, field
        if field.value == was.value:
            return
        control = self.control
        if isinstance(control, Input):
            control.value = self.saved_text
        elif isinstance(control, Checkbox):
            control.value = bool(field.value)
        elif isinstance(control, Select):
            control.value = field.value if field.value in field.choices else Select.NULL
        self.hint()

    def hint(self, *lines: str, wrong: bool = False) -> None:
        """Show lines below the key; with none, no line."""
        if (lines, wrong) != self._hint:
            self._hint = (lines, wrong)
            self.styles.height = 1 + len(self._wrapped(lines))
            self.refresh()

    def restore(self) -> None:
        """Take back what is typed."""
        if isinstance(self.control, Input):
            self.control.value = self.saved_text
        self.hint()

    def enter(self, value: Any, *, go_on: bool) -> None:
        """Ask for a value to be saved."""
        self.post_message(self.Entered(self, value, go_on))

    def on_input_changed(self, event: Input.Changed) -> None:
        event.stop()
        if self.typed:
            self.post_message(self.Typed(self))
        else:
            self.hint()

    def on_input_submitted(self, event: Input.Submitted) -> None:
        event.stop()
        self.enter(event.value, go_on=True)

    def on_input_blurred(self, event: Input.Blurred) -> None:
        event.stop()
        if self.typed and self.is_attached and self.screen.is_active:
            self.enter(event.value, go_on=False)

    def on_checkbox_changed(self, event: Checkbox.Changed) -> None:
        event.stop()
        if event.value != bool(self.field.value):
            self.enter(event.value, go_on=False)

    def on_select_changed(self, event: Select.Changed) -> None:
        event.stop()
        value = None if event.value is Select.NULL else event.value
        if value != (self.field.value if self.field.value in self.field.choices else None):
            self.enter(value, go_on=True)


class PlanForm(VerticalScroll, can_focus=False):
    """The keys that are set, and behind one more row the rest."""

    BINDING_GROUP_TITLE = "The form"
    BINDINGS: ClassVar[list[BindingType]] = [
        key("tab,down", "go(1)", "next field", "save, and go to the next field; enter too"),
        key("shift+tab,up", "go(-1)", "field before", "save, and go to the field before"),
    ]

    def __init__(self, glyphs: Glyphs) -> None:
        super().__init__(id="form")
        self.glyphs = glyphs
        self.of: object = None  # what the form is of
        self.more = False
        self.fields: list[Field] = []
        self.rows: list[FieldRow] = []
        self.buttons: list[Widget] = []
        self._shown: tuple[Path, ...] = ()
        self._to_make: list[Field] | None = None  # what rows are still to be made of
        self._units: Units = "metric"
        self._making: Timer

    def on_mount(self) -> None:
        self._making = self.set_timer(_BUILD_S, self._make_seen)

    async def _make_seen(self) -> None:
        if self.display:
            await self.make()

    def show(self, of: object, fields: Sequence[Field], units: Units) -> None:
        """Show the form of something; rows are made anew only for another thing, and for keys that are set anew."""
        self.fields, self._units = [*fields], units
        before = self._shown if of == self.of else ()
        shown = [field for field in fields if self.more or is_set(field) or field.path in before]
        headed = {field.path[:-1] for field in shown if field.kind != "heading"}
        shown = [field for field in shown if field.kind != "heading" or field.path in headed]
        if (tuple(field.path for field in shown), of) != (self._shown, self.of):
            self._shown, self.of, self._to_make = tuple(field.path for field in shown), of, shown
            if self.row is not None:
                self.call_next(self.make)
            else:
                self._making.stop()
                self._making = self.set_timer(_BUILD_S, self._make_seen)
        elif self._to_make is not None:
            self._to_make = shown
        else:
            by_path = {field.path: field for field in shown}
            for row in self.rows:
                row.show(by_path[row.field.path])

    async def make(self) -> None:
        """Make the rows that are waited for."""
        shown, self._to_make = self._to_make, None
        if shown is None:
            return
        focused = self.row.field.path if self.row is not None else None
        made = [*self._made(shown, self._units)]
        self.rows = [row for row in made if isinstance(row, FieldRow)]
        self.buttons = [button for button in made if isinstance(button, Button)]
        async with self.batch():
            await self.remove_children()
            await self.mount_all(made)
        if focused is not None:
            self.focus_field(focused)

    def _made(self, shown: Sequence[Field], units: Units) -> Iterator[Widget]:
        for field in shown:
            if field.kind == "heading":
                note = f" (from {field.source})" if field.source else ""
                yield Static(content([(f"{field.label.upper()}{note}", "bold")], self.glyphs), classes="heading")
            else:
                yield FieldRow(field, units, self.glyphs)
        hidden = sum(field.kind != "heading" for field in self.fields) - len([*filter(_is_row, shown)])
        if hidden:
            yield Button(f"{hidden} more (m)", compact=True)

    @property
    def row(self) -> FieldRow | None:
        """The row with the keys."""
        focused = self.screen.focused if self.is_attached else None
        return next((row for row in self.rows if focused is not None and row in focused.ancestors), None)

    def focus_field(self, *paths: Path) -> None:
        """Give the keys to the first row of these paths that there is, else to the first row."""
        rows = {row.field.path: row for row in self.rows}
        row = next((rows[path] for path in paths if path in rows), next(iter(rows.values()), None))
        if row is not None:
            self.screen.set_focus(row.control)

    def action_go(self, by: int) -> None:
        """Go to the next row, or the row before; after the last comes the first."""
        stops = [row.control for row in self.rows] + self.buttons
        focused = self.screen.focused
        inside = focused.ancestors_with_self if focused is not None else []
        at = next((n for n, stop in enumerate(stops) if stop in inside), -by)
        if stops:
            stops[(at + by) % len(stops)].focus()

    def on_button_pressed(self, event: Button.Pressed) -> None:
        """Show every key."""
        event.stop()
        self.more = True
        self.post_message(self.More())

    class More(Message):
        """Every key is to be shown."""

    def on_descendant_focus(self) -> None:
        """Show what the key at hand means."""
        for row in self.rows:
            if row is self.row and not row.typed:
                row.hint(*filter(None, (row.field.means, _choices(row.field), _source(row.field))))
            elif row is not self.row and not row.typed:
                row.hint()

    def on_key(self, event: events.Key) -> None:
        """Keep letters in the form: here they are typed, and no commands."""
        if event.is_printable:
            event.stop()


def _is_row(field: Field) -> bool:
    return field.kind != "heading"


def _source(field: Field) -> str:
    return f"inherited from {field.source}" if field.origin == "inherited" else ""


def _choices(field: Field) -> str:
    return f"of: {', '.join(field.choices)}" if field.kind == "ids" and field.choices else ""
