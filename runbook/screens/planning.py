"""The plan on the screen: the setups, the day and the kit, and the form of one of them."""

from __future__ import annotations

from collections.abc import Sequence
from contextlib import suppress
from dataclasses import replace
from pathlib import Path
from typing import Any, ClassVar

from rich.text import Text
from textual import events
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Horizontal, Vertical
from textual.widgets import Input, Static

from runbook import __version__
from runbook.day.edit_preview import edit_preview
from runbook.files.editor import Editor, stamp_of
from runbook.files.edits import ordered
from runbook.files.errors import Unreadable
from runbook.files.form import Field, field_to_edit, shown_field
from runbook.files.form_editor import FormEditor, Thing
from runbook.files.load import digest_of
from runbook.files.toml_edit import NotEdited
from runbook.journal.trouble import JournalTrouble
from runbook.model.day import Plan
from runbook.model.units import Units, length, mass
from runbook.screens.base import CURSOR, DayApp
from runbook.screens.dialogs import ReadPage
from runbook.screens.keys import PLANNING, PLANNING_KEYS
from runbook.screens.planning_actions import PlanningActions
from runbook.screens.text import Words, cut, lines
from runbook.screens.widgets.lists import PickLine, PickList

_LABEL = 17


def outline_lines(things: Sequence[Thing]) -> list[PickLine]:
    """The outline: the kinds in capitals, their things under them."""
    found = []
    for thing in things:
        if thing.path is None:
            found.append(PickLine(thing.title.upper(), "dim"))
        else:
            alone = thing.kind in ("day", "camera")
            found.append(PickLine(thing.title if alone else f"  {thing.title}"))
    return found


def form_lines(fields: Sequence[Field], units: Units) -> list[PickLine]:
    """A form: each key with its value, and in words where that comes from."""
    return [_line(field, units) for field in fields]


def _line(field: Field, units: Units) -> PickLine:
    if field.kind == "heading":
        title = field.label.upper() if field.label.islower() else field.label
        said = f"{title}  (from {field.source})" if field.source else title
        return PickLine(said if field.value else f"{title}  (none)", "dim")
    shown = shown_field(field, units) or "-"
    if field.origin == "inherited":
        return PickLine(f"  {field.label:<{_LABEL}} {shown}  (from {field.source})", "dim")
    if field.origin == "default":
        return PickLine(f"  {field.label:<{_LABEL}} {shown}  (unless written)", "dim")
    if field.origin == "none":
        shown, style = ("must be written", "bold") if field.must else ("-", "dim")
        return PickLine(f"  {field.label:<{_LABEL}} {shown}", style)
    return PickLine(f"  {field.label:<{_LABEL}} {shown}")


def kept_said(field: Field, value: Any, units: Units) -> str:
    """A typed value as it will be kept; a measure in the other units too."""
    if value is None or (value == "" and not field.must):
        return "cleared"
    other: Units = "imperial" if units == "metric" else "metric"
    if field.kind == "length":
        return f"{length(value, units)} ({length(value, other)})"
    if field.kind == "mass":
        return f"{mass(value, units)} ({mass(value, other)})"
    return shown_field(replace(field, value=value), units) or "nothing"


def offered(field: Field) -> str:
    """What can be written into a field that takes of a list."""
    return f"of {', '.join(field.choices) or 'nothing: the kit has none'}" if field.what else ""


# from here on the list and the form stand side by side
_BOTH = 64
# a word typed in one go is worked out once
_PAUSE_S = 0.05


def opened(app: DayApp) -> bool:
    """Read the day's folder to edit it, or look again whether somebody else changed it.

    What is in the way is said in a line.
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
    """Write the day's setups in another order, and go on with it; whether that could be done."""
    editor = app.editor
    assert editor is not None
    try:
        editor.apply(ordered(editor.texts, order), "the order that ends the day sooner")
    except NotEdited as why:
        app.show_message(str(why))
        return False
    app.do(lambda: app.session.replan(editor.plan, editor.files), str)
    app.check_plan()
    app.show_message("written into day.toml; u on the plan (l) takes it back")
    return True


class PlanningScreen(PlanningActions):
    """What is to be, and what it will come to."""

    KEYS = PLANNING
    AUTO_FOCUS = ""  # the keys are the screen's until a line is opened
    BINDINGS: ClassVar[list[BindingType]] = [
        *CURSOR,
        Binding("home", "cursor(-9999)", "first", show=False),
        Binding("end", "cursor(9999)", "last", show=False),
        Binding("left", "side(False)", "the list", show=False),
        Binding("right", "side(True)", "the form", show=False),
        Binding("enter", "change", "change", show=False),
        Binding("escape,l", "back", "back", show=False),
        Binding("question_mark", "planning_keys", "keys", show=False),
    ]

    def __init__(self) -> None:
        super().__init__()
        self.typing: Field | None = None
        self.given = ""

    def compose(self) -> ComposeResult:
        yield Words(id="top")
        with Horizontal(id="planning"):
            yield PickList(self.glyphs, "outline")
            yield PickList(self.glyphs, "form")
        yield Words(id="figures")
        with Vertical(id="edit"):
            with Horizontal(id="edit-line"):
                yield Words(id="edit-label")
                yield Input(compact=True, select_on_focus=False)
            yield Words(id="verdict")
        yield Words(id="message")
        yield Words(id="keys")

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

    # -- painting ---------------------------------------------------------------------------

    def repaint(self) -> None:
        """Paint the outline, the form, and what it comes to."""
        super().repaint()
        desk = self.desk
        self.fields = desk.fields
        self.at = min(max(self.at, 0), max(len(self.fields) - 1, 0))
        outline = outline_lines(desk.things)
        drafting = desk.draft is not None
        on_form = self.on_form or drafting
        self.query_one("#outline", PickList).show(outline, desk.place, active=not on_form)
        form = form_lines(self.fields, desk.units)
        self.query_one("#form", PickList).show(form, self.at, active=on_form)
        both = self.size.width >= _BOTH
        self.query_one("#outline").display = both or not on_form
        self.query_one("#form").display = both or on_form
        if self.typing is None:
            self.show_figures(desk.plan)

    def show_figures(self, plan: Plan | None) -> None:
        """What the line means; the light and the stand of what is edited, as it is or would be."""
        thing, field = self.desk.thing, self.field
        said: tuple[str, ...] = ()
        known = thing.path is not None and (thing.kind != "setup" or thing.id in (plan.setups if plan else ()))
        if plan is not None and self.desk.draft is None and known:
            path = field.path if field else ()
            said = edit_preview(plan, thing.kind, thing.id, path, self.session.state.anchors)
        means = f"{field.label}: {field.means}" if field and field.means else ""
        painted = [(means, "dim"), *((line, "bold") for line in said)]
        width, glyphs = self.size.width, self.glyphs
        self.query_one("#figures", Static).update(
            lines(*((cut(text, width, glyphs), style) for text, style in painted))
        )

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

    def on_pick_list_pressed(self, message: PickList.Pressed) -> None:
        """A click picks; on the picked line of the form it is as enter."""
        if self.typing is not None:
            return
        if message.pick.id == "form":
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
        """Out of the line, the draft, the form, the screen: one after the other."""
        if self.typing is not None:
            self._close_line()
            self.day.show_message("left as it was")
        elif self.desk.draft is not None:
            self.ask_to_drop()
        elif self.on_form:
            self.on_form = False
            self.repaint()
        else:
            self.app.pop_screen()

    def action_planning_keys(self) -> None:
        """The keys of this screen, on one page."""
        self.app.push_screen(ReadPage(Text(self.glyphs.shown_lines(PLANNING_KEYS))))

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
                self.day.show_message("n writes a new one of this kind")
        elif field is None or field.kind == "heading":
            self.day.show_message("pick a line with a value; x takes this whole part out")
        elif field.kind == "yes":
            self.write(field, not field.value)
        elif field.kind in ("choice", "ref"):
            self._choose_value(field)
        else:
            self._open_line(field)

    def _choose_value(self, field: Field) -> None:
        choices: list[tuple[str, str, tuple[str, ...]]] = [
            (str(n) if n < 10 else "", choice, (choice,)) for n, choice in enumerate(field.choices, 1)
        ]
        if not field.must and field.origin == "own":
            choices.append(("0", "nothing: take it out", ()))
        if not choices:
            self.day.show_message(f"there is no {field.what} to choose; write one first")
            return
        at = field.choices.index(field.value) if field.value in field.choices else 0
        self.choose(f"{field.label}:", choices, lambda chosen: self.write(field, chosen[0] if chosen else None), at)

    def _open_line(self, field: Field) -> None:
        self.typing = field
        self.given = field_to_edit(field, self.desk.units)
        line = self.query_one(Input)
        self.query_one("#edit").display = True
        self.query_one("#edit-label", Static).update(Text(self.glyphs.shown(f"{field.label}: "), style="bold"))
        line.value = self.given
        line.cursor_position = len(self.given)
        self.set_focus(line)
        self._judge(self.given)

    def _close_line(self) -> None:
        self.typing = None
        self.set_focus(None)
        self.query_one("#edit").display = False
        self.repaint()

    def on_input_changed(self, event: Input.Changed) -> None:
        """Each time a key is typed: what it will be kept as, or what is wrong with it."""
        event.stop()
        if self.typing is not None:
            text = event.value
            self.set_timer(_PAUSE_S, lambda: self._judge_if_still(text))

    def _judge_if_still(self, text: str) -> None:
        if self.typing is not None and self.query_one(Input).value == text:
            self._judge(text)

    def _judge(self, text: str) -> None:
        field = self.typing
        assert field is not None
        verdict = self.query_one("#verdict", Static)
        try:
            tried = self.desk.attempt(field, text)
        except (ValueError, NotEdited) as wrong:
            said, style = str(wrong), "bold yellow"
            if field.what and text.strip() == "":
                said = offered(field)
        else:
            said = f"= {kept_said(field, tried.value, self.desk.units)}"
            style = ""
            if field.what:
                said += f"  {offered(field)}"
            self.show_figures(tried.plan)
        verdict.update(Text(cut(said, self.size.width, self.glyphs), style=style))

    def on_input_submitted(self, event: Input.Submitted) -> None:
        """Enter: keep the line, or say what is wrong with it."""
        event.stop()
        field = self.typing
        if field is None:
            return
        if event.value == self.given and self.desk.draft is None:
            self._close_line()
            self.day.show_message("left as it was")
            return
        try:
            value = self.desk.attempt(field, event.value).value
        except (ValueError, NotEdited):
            self._judge(event.value)
            return
        self._close_line()
        self.write(field, value)

    def write(self, field: Field, value: object) -> None:
        """Write a value; in a draft, go on to the next line that must be written."""
        drafting = self.desk.draft is not None

        def next_line() -> None:
            if drafting and self.desk.draft is not None:
                self.next_missing()

        self.edit_asked(lambda: self.desk.losses(field, value), lambda: self.desk.take(field, value), next_line)

    # -- leaving -----------------------------------------------------------------------------

    def on_unmount(self, _event: events.Unmount) -> None:
        """The journal notes that the day goes on with other files."""
        digest = digest_of(self.desk.editor.folder)
        if digest != self.noted:
            with suppress(JournalTrouble):  # the files say it too, the next time the day is opened
                self.session.open(digest, __version__)
