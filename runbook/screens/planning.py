"""The plan on the screen: the setups, the day and the kit, and the form of one of them."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from contextlib import suppress
from dataclasses import replace
from pathlib import Path
from typing import Any, ClassVar

from textual import events
from textual.binding import BindingType
from textual.containers import Horizontal, Vertical
from textual.widget import Widget
from textual.widgets import Input

from runbook import __version__
from runbook.day.edit_preview import edit_preview
from runbook.files.editor import Editor, ordered, stamp_of
from runbook.files.errors import Unreadable
from runbook.files.form import Field, field_to_edit, shown_field
from runbook.files.form_editor import FormEditor, Thing
from runbook.files.load import digest_of
from runbook.files.toml_edit import NotEdited
from runbook.journal.errors import JournalError
from runbook.model.day import Plan
from runbook.model.units import Units, length, mass
from runbook.screens.base import CURSOR, DayApp, numbered
from runbook.screens.help import key
from runbook.screens.planning_actions import PlanningActions
from runbook.screens.text import Line
from runbook.screens.widgets.lines import CursorList, Lines

_LABEL = 17


def outline_lines(things: Sequence[Thing]) -> list[Line]:
    """Return the outline: the kinds in capitals, their things under them."""
    lines = []
    for thing in things:
        if thing.path is None:
            lines.append((f" {thing.title.upper()}", "dim"))
        else:
            alone = thing.kind in ("day", "camera")
            lines.append((f" {thing.title}" if alone else f"   {thing.title}", ""))
    return lines


def form_line(field: Field, units: Units) -> Line:
    """Return a key of a form with its value, and where that comes from."""
    if field.kind == "heading":
        title = field.label.upper() if field.label.islower() else field.label
        if not field.value:
            return f" {title}  (none)", "dim"
        return f" {title}  (from {field.source})" if field.source else f" {title}", "dim"
    shown, style = shown_field(field, units) or "-", ""
    if field.origin == "inherited":
        shown, style = f"{shown}  (from {field.source})", "dim"
    elif field.origin == "default":
        shown, style = f"{shown}  (default)", "dim"
    elif field.origin == "none":
        shown, style = ("required", "bold") if field.must else ("-", "dim")
    return f"   {field.label:<{_LABEL}} {shown}", style


def value_text(field: Field, value: Any, units: Units) -> str:
    """Return a typed value as it will be saved; a measure in the other units too."""
    if value is None or (value == "" and not field.must):
        return "cleared"
    other: Units = "imperial" if units == "metric" else "metric"
    if field.kind == "length":
        return f"{length(value, units)} ({length(value, other)})"
    if field.kind == "mass":
        return f"{mass(value, units)} ({mass(value, other)})"
    return shown_field(replace(field, value=value), units) or "none"


def choices_text(field: Field) -> str:
    """Return what a field that refers to the kit can be set to; empty for other fields."""
    return f"one of {', '.join(field.choices) or 'none: the kit has none'}" if field.what else ""


def open_editor(app: DayApp) -> bool:
    """Read the day's folder for editing, or look again whether somebody else changed it.

    Return whether that worked; what is wrong is shown in a line.
    """
    folder = app.session.folder
    if folder is None:
        app.show_message("this day has no folder to edit")
        return False
    try:
        if app.editor is None:
            app.editor = Editor(folder, stamp_of(app.clock()))
        else:
            app.editor.look_again()
    except Unreadable as why:
        more = f" (and {len(why.faults) - 1} more)" if len(why.faults) > 1 else ""
        fault = why.faults[0]
        app.show_message(f"{replace(fault, file=Path(fault.file).name)}{more}")
        return False
    return True


def put_in_order(app: DayApp, order: Sequence[str]) -> bool:
    """Write the day's setups in another order and go on with it; return whether that worked."""
    editor = app.editor
    assert editor is not None
    try:
        editor.apply(ordered(editor.texts, order), "the order that ends the day sooner")
    except NotEdited as why:
        app.show_message(str(why))
        return False
    app.do(lambda: app.session.replan(editor.plan, editor.files), str)
    app.check_plan()
    app.show_message("written into day.toml; u on the plan (l) undoes it")
    return True


_BOTH = 64  # from so many columns on the list and the form stand side by side
_PAUSE_S = 0.05  # a word typed in one go is previewed once


class PlanningScreen(PlanningActions):
    """The plan as a form, and what a change leads to."""

    KEYS_TITLE = "The plan: setups, day and kit"
    HELP_NOTE = (
        "Lengths and masses are taken either way: 1.4 m, 1,4, 140 cm, 4 ft 6 in, 4'6\", 7 kg, 15 lb. A bare number is "
        "in the units of the day. Before the first edit the files are copied to .backup-* in the day's folder. A setup "
        "like another saves only what differs from it."
    )
    AUTO_FOCUS = ""  # the keys are the screen's until a line is opened
    BINDINGS: ClassVar[list[BindingType]] = [
        *CURSOR,
        key("home", "cursor(-9999)", "first", "first and last line"),
        key("end", "cursor(9999)", "last", "first and last line"),
        key("left", "side(False)", "list", "list and form"),
        key("right", "side(True)", "form", "list and form"),
        key("enter", "change", "change", "change the line; enter saves it"),
        key("escape,l", "back", "back", "back: line, form, plan (or l)", shown="esc"),
    ]

    def __init__(self) -> None:
        super().__init__()
        self.typing: Field | None = None
        self.given = ""

    def compose_body(self) -> Iterable[Widget]:
        yield Horizontal(CursorList(self.glyphs, "outline"), CursorList(self.glyphs, "form"), id="planning")
        yield self.lines("figures")
        with Vertical(id="edit"):
            with Horizontal(id="edit-line"):
                yield self.lines("edit-label")
                yield Input(compact=True, select_on_focus=False)
            yield self.lines("verdict")

    def on_mount(self) -> None:
        assert self.day.editor is not None
        self.desk = FormEditor(self.day.editor)
        if self.desk.plan != self.session.plan:
            self.day.do(lambda: self.session.replan(self.desk.plan, self.desk.editor.files), str)
            self.day.check_plan()
        self.noted = digest_of(self.desk.editor.folder)
        at_work = self.session.state.at_work
        for place, thing in enumerate(self.desk.things):
            if at_work is not None and thing.kind == "setup" and thing.id == at_work:
                self.desk.pick(place)
        super().on_mount()

    @property
    def footer(self) -> tuple[str, ...]:
        return ("change", "new", "delete", "undo", "keys") if self.typing is None else ("back",)

    # -- painting ---------------------------------------------------------------------------

    def repaint(self) -> None:
        """Paint the outline, the form, and what it leads to."""
        super().repaint()
        desk = self.desk
        self.fields = desk.fields
        self.at = min(max(self.at, 0), max(len(self.fields) - 1, 0))
        on_form = self.on_form or desk.draft is not None
        outline, form = self.query_one("#outline", CursorList), self.query_one("#form", CursorList)
        outline.show(outline_lines(desk.things), desk.place, active=not on_form)
        form.show([form_line(field, desk.units) for field in self.fields], self.at, active=on_form)
        both = self.size.width >= _BOTH
        outline.display = both or not on_form
        form.display = both or on_form
        if self.typing is None:
            self.show_figures(desk.plan)

    def show_figures(self, plan: Plan | None) -> None:
        """Show what the key means, and the light and the stand it leads to."""
        thing, field = self.desk.thing, self.field
        figures: tuple[str, ...] = ()
        known = thing.path is not None and (thing.kind != "setup" or thing.id in (plan.setups if plan else ()))
        if plan is not None and self.desk.draft is None and known:
            path = field.path if field else ()
            figures = edit_preview(plan, thing.kind, thing.id, path, self.session.state.anchors)
        means = f"{field.label}: {field.means}" if field and field.means else ""
        self.show_lines("figures", (means, "dim"), *((line, "bold") for line in figures))

    # -- going about -------------------------------------------------------------------------

    def action_cursor(self, by: int) -> None:
        if self.typing is not None:
            return
        if self.on_form or self.desk.draft is not None:
            self.at += by
        else:
            self.desk.pick(self.desk.place + by)
            self.at = 0
        self.repaint()

    def action_side(self, form: bool) -> None:
        if self.typing is None and (self.fields or not form):
            self.on_form = form
            self.repaint()

    def on_cursor_list_pressed(self, message: CursorList.Pressed) -> None:
        """Pick the line that was clicked; a click on the picked line of the form changes it."""
        if self.typing is not None:
            return
        if message.list.id == "form":
            again = self.on_form and message.at == self.at
            self.on_form, self.at = True, message.at
            self.repaint()
            if again:
                self.action_change()
        elif self.desk.draft is None:
            self.on_form, self.at = False, 0
            self.desk.pick(message.at)
            self.repaint()

    def action_back(self) -> None:
        """Leave the line, the draft, the form, the screen: one after the other."""
        if self.typing is not None:
            self._close_line()
            self.day.show_message("unchanged")
        elif self.desk.draft is not None:
            self.ask_to_discard()
        elif self.on_form:
            self.on_form = False
            self.repaint()
        else:
            self.app.pop_screen()

    # -- changing one value ------------------------------------------------------------------

    def action_change(self) -> None:
        """Change the line at the cursor; in the list, go to the form."""
        field = self.field
        if self.typing is not None:
            return
        if not self.on_form and self.desk.draft is None:
            if self.fields:
                self.on_form = True
                self.repaint()
            else:
                self.day.show_message("n adds one")
        elif field is None or field.kind == "heading":
            self.day.show_message("pick a line with a value; x deletes this whole part")
        elif field.kind == "yes":
            self.write(field, not field.value)
        elif field.kind in ("choice", "ref"):
            self._choose_value(field)
        else:
            self._open_line(field)

    def _choose_value(self, field: Field) -> None:
        choices = numbered((choice, (choice,)) for choice in field.choices)
        if not field.must and field.origin == "own":
            choices.append(("0", "none", ()))
        if not choices:
            self.day.show_message(f"no {field.what} to choose; add one first")
            return
        at = field.choices.index(field.value) if field.value in field.choices else 0
        self.choose(f"{field.label}:", choices, lambda chosen: self.write(field, chosen[0] if chosen else None), at)

    def _open_line(self, field: Field) -> None:
        self.typing = field
        self.given = field_to_edit(field, self.desk.units)
        line = self.query_one(Input)
        self.query_one("#edit").display = True
        label = self.query_one("#edit-label", Lines)
        label.styles.width = len(field.label) + 2
        label.show((f"{field.label}: ", "bold"))
        line.value = self.given
        line.cursor_position = len(self.given)
        self.set_focus(line)
        self._preview(self.given)

    def _close_line(self) -> None:
        self.typing = None
        self.set_focus(None)
        self.query_one("#edit").display = False
        self.repaint()

    def on_input_changed(self, event: Input.Changed) -> None:
        """Show at each key typed what it will be saved as, or what is wrong with it."""
        event.stop()
        if self.typing is not None:
            text = event.value
            self.set_timer(_PAUSE_S, lambda: self._preview_unless_changed(text))

    def _preview_unless_changed(self, text: str) -> None:
        if self.typing is not None and self.query_one(Input).value == text:
            self._preview(text)

    def _preview(self, text: str) -> None:
        """Show what a typed value will be saved as and lead to, or what is wrong with it."""
        field = self.typing
        assert field is not None
        try:
            tried = self.desk.attempt(field, text)
        except (ValueError, NotEdited) as wrong:
            message = choices_text(field) if field.what and not text.strip() else str(wrong)
            self.show_lines("verdict", (message, "bold yellow"))
        else:
            value = value_text(field, tried.value, self.desk.units)
            self.show_lines("verdict", f"= {value}  {choices_text(field)}".rstrip())
            self.show_figures(tried.plan)

    def on_input_submitted(self, event: Input.Submitted) -> None:
        """Save the line, or say what is wrong with it."""
        event.stop()
        field = self.typing
        if field is None:
            return
        if event.value == self.given and self.desk.draft is None:
            self._close_line()
            self.day.show_message("unchanged")
            return
        try:
            value = self.desk.attempt(field, event.value).value
        except (ValueError, NotEdited):
            self._preview(event.value)
            return
        self._close_line()
        self.write(field, value)

    def write(self, field: Field, value: object) -> None:
        """Save a value; in a draft, go on to the next required line."""
        drafting = self.desk.draft is not None

        def next_line() -> None:
            if drafting and self.desk.draft is not None:
                self.next_missing()

        self.edit_asked(lambda: self.desk.losses(field, value), lambda: self.desk.take(field, value), next_line)

    # -- leaving -----------------------------------------------------------------------------

    def on_unmount(self, _event: events.Unmount) -> None:
        """Record in the journal that the day goes on with other files."""
        digest = digest_of(self.desk.editor.folder)
        if digest != self.noted:
            with suppress(JournalError):  # the change is found when the day is next opened
                self.session.open(digest, __version__)
