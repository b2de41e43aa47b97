"""The plan on the screen: the setups, the day and the kit, and the form of one of them."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from contextlib import suppress
from dataclasses import replace
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any, ClassVar, Final, TypeVar

from textual import events
from textual.binding import BindingType
from textual.containers import Horizontal
from textual.widget import Widget
from textual.widgets import OptionList

from runbook import __version__
from runbook.day.actions import Refused
from runbook.day.edit_preview import edit_preview
from runbook.day.light import measurement_text
from runbook.day.parse_input import reading_options
from runbook.files.editor import Editor, ordered, stamp_of
from runbook.files.errors import Unreadable
from runbook.files.form import Field, field_to_edit, read_id, shown_field
from runbook.files.form_editor import MEASURED, READING_KEYS, FormEditor, Thing, Tried
from runbook.files.load import digest_of
from runbook.files.toml_edit import NotEdited
from runbook.journal.errors import JournalError
from runbook.light.solve import with_powers
from runbook.model.units import Units, length, mass
from runbook.screens.base import DayScreen, PreviewText, asking, numbered
from runbook.screens.keys import key
from runbook.screens.lists import PickList
from runbook.screens.text import Line

if TYPE_CHECKING:
    from runbook.screens.app import RunbookApp

_LABEL: Final = 17
_BOTH: Final = 64  # from so many columns on the list and the form stand side by side
_ALONE: Final = ("day", "camera")
_PARTS: Final = ("light", "place_panel", "hang")
_UNFINISHED: Final = "finish this one first; escape discards it"
T = TypeVar("T")


def outline_lines(things: Sequence[Thing]) -> list[Line]:
    """Return the outline: the kinds in capitals, their things under them."""
    return [
        (f"{thing.title.upper()}", "bold")
        if thing.path is None
        else (f"{' ' if thing.kind in _ALONE else '   '}{thing.title}", "")
        for thing in things
    ]


def form_line(field: Field, units: Units) -> Line:
    """Return a key of a form with its value, and where that comes from."""
    if field.kind == "heading":
        title = field.label.upper() if field.label.islower() else field.label
        note = f"  (from {field.source})" if field.source else "" if field.value else "  (none)"
        return f"{title}{note}", "bold"
    shown = shown_field(field, units) or "-"
    if field.origin == "none":
        return f"   {field.label:<{_LABEL}} {'required' if field.must else '-'}", "bold" if field.must else ""
    note = {"inherited": f"  (from {field.source})", "default": "  (default)"}.get(field.origin, "")
    return f"   {field.label:<{_LABEL}} {shown}{note}", ""


def value_text(field: Field, value: Any, units: Units) -> str:
    """Return a typed value as it will be saved, a measure in the other units too, and what else could be chosen."""
    other: Units = "imperial" if units == "metric" else "metric"
    if value is None or (value == "" and not field.must):
        text = "cleared"
    elif field.kind in ("length", "mass"):
        measure = length if field.kind == "length" else mass
        text = f"{measure(value, units)} ({measure(value, other)})"
    else:
        text = shown_field(replace(field, value=value), units) or "none"
    return f"= {text}  {choices_text(field)}".rstrip()


def choices_text(field: Field) -> str:
    """Return what a field that refers to the kit can be set to; empty for other fields."""
    return f"one of {', '.join(field.choices) or 'none: the kit has none'}" if field.what else ""


def open_editor(app: RunbookApp) -> bool:
    """Read the day's folder for editing, or look again whether somebody else changed it.

    Return whether that worked; what is wrong is shown in a line.
    """
    folder = app.session.folder
    if folder is None:
        app.show_message("this day has no folder to edit")
        return False
    try:
        if app.editor is None:
            app.editor = Editor(folder, stamp_of(app.clock()), with_powers)
        else:
            app.editor.look_again()
    except Unreadable as why:
        more = f" (and {len(why.faults) - 1} more)" if len(why.faults) > 1 else ""
        fault = why.faults[0]
        app.show_message(f"{replace(fault, file=Path(fault.file).name)}{more}")
        return False
    return True


def put_in_order(app: RunbookApp, order: Sequence[str]) -> bool:
    """Write the day's setups in another order and go on with it; return whether that worked."""
    editor = app.editor
    assert editor is not None
    try:
        editor.apply(ordered(editor.texts, order), "the order that ends the day sooner")
    except NotEdited as why:
        app.show_message(str(why))
        return False
    app.do(lambda: app.session.replan(editor.plan, editor.files), str)
    app.show_message("written into day.toml; u on the plan (l) undoes it")
    return True


class PlanningScreen(DayScreen):
    """The plan as a form, and what a change leads to."""

    BINDING_GROUP_TITLE = "The plan: setups, day and kit"
    HELP = (
        "Lengths and masses are taken either way: 1.4 m, 1,4, 140 cm, 4 ft 6 in, 4'6\", 7 kg, 15 lb. A bare number is "
        "in the units of the day. Before the first edit the files are copied to .backup-* in the day's folder. A setup "
        "like another saves only what differs from it."
    )
    FOOTER = ("new", "delete", "undo", "keys")
    BINDINGS: ClassVar[list[BindingType]] = [
        key("left", "side(False)", "list", "list and form"),
        key("right", "side(True)", "form", "list and form"),
        key("escape,l", "back", "back", "back: form, plan (or l)", shown="esc"),
        key("n", "new", "new", "new: of its kind; in a setup, a light"),
        key("r", "calibrate", "meter", "meter a head: a reading for the kit"),
        key("c", "copy", "copy", "copy a setup, thing, light, panel"),
        key("x", "delete", "delete", "delete a value, part or thing"),
        key("left_square_bracket", "move(-1)", "earlier", "move it earlier or later", shown="["),
        key("right_square_bracket", "move(1)", "later", "move it earlier or later", shown="]"),
    ]

    def __init__(self) -> None:
        super().__init__()
        assert self.day.editor is not None
        self.desk = FormEditor(self.day.editor)
        self.fields = self.desk.fields
        self.at = 0  # the line of the form picked
        self.on_form = False
        self.outline, self.form = PickList(self.glyphs, "outline"), PickList(self.glyphs, "form")
        self.saved = digest_of(self.desk.editor.folder)

    def compose_body(self) -> Iterable[Widget]:
        yield Horizontal(self.outline, self.form, id="planning")
        yield self.lines("figures")

    def on_mount(self) -> None:
        if self.desk.plan != self.session.plan:
            self.day.do(lambda: self.session.replan(self.desk.plan, self.desk.editor.files), str)
        at_work = self.session.state.at_work
        places = [n for n, thing in enumerate(self.desk.things) if thing.kind == "setup" and thing.id == at_work]
        if at_work is not None and places:
            self.desk.pick(places[-1])

    def on_unmount(self, _event: events.Unmount) -> None:
        """Record in the journal that the day goes on with other files."""
        digest = digest_of(self.desk.editor.folder)
        if digest != self.saved:
            with suppress(JournalError):  # the change is found when the day is next opened
                self.session.open(digest, __version__)

    # -- painting ---------------------------------------------------------------------------

    def repaint(self) -> None:
        """Paint the outline, the form, and what it leads to."""
        super().repaint()
        desk = self.desk
        self.fields = desk.fields
        self.at = min(max(self.at, 0), max(len(self.fields) - 1, 0))
        on_form, both = self.in_form, self.size.width >= _BOTH
        self.outline.show(outline_lines(desk.things), desk.place)
        self.form.show([form_line(field, desk.units) for field in self.fields], self.at)
        self.outline.display = both or not on_form
        self.form.display = both or on_form
        (self.form if on_form else self.outline).focus()
        field = self.field
        means = f"{field.label}: {field.means}" if field and field.means else ""
        shown = Tried(None, desk.plan if desk.draft is None else None, desk.thing, field.path if field else ())
        self.show_lines("figures", means, *((line, "bold") for line in self._figures(shown)))

    def _figures(self, tried: Tried) -> tuple[str, ...]:
        """Return the light and the stand that a plan leads to."""
        plan, thing = tried.plan, tried.thing
        if plan is None or thing.path is None or (thing.kind == "setup" and thing.id not in plan.setups):
            return ()
        return edit_preview(plan, thing.kind, thing.id, tried.path, self.session.state.anchors)

    @property
    def in_form(self) -> bool:
        """Whether the cursor is in the form."""
        return self.on_form or self.desk.draft is not None

    @property
    def field(self) -> Field | None:
        """The line of the form the cursor is on; None while it is in the list."""
        return self.fields[min(self.at, len(self.fields) - 1)] if self.fields and self.in_form else None

    # -- going about -------------------------------------------------------------------------

    def on_option_list_option_highlighted(self, event: OptionList.OptionHighlighted) -> None:
        """Go along with the cursor of the list or the form."""
        if event.option_list is self.form:
            moved, self.at = self.at != event.option_index, event.option_index
        elif moved := self.desk.place != event.option_index and self.desk.draft is None:
            self.desk.pick(event.option_index)
            self.at = 0
        if moved:
            self.repaint()

    def action_side(self, form: bool) -> None:
        self.on_form = form and bool(self.fields)
        self.repaint()

    def on_option_list_option_selected(self) -> None:
        """Change the line that was chosen."""
        self.action_change()

    def on_descendant_focus(self, event: events.DescendantFocus) -> None:
        """The form and the list can be clicked, too."""
        if (event.widget is self.form) != self.in_form:
            self.action_side(event.widget is self.form)

    @asking
    async def action_back(self) -> None:
        """Leave the draft, the form, the screen: one after the other."""
        if self.desk.draft is not None:
            await self._discard()
        elif self.on_form:
            self.action_side(False)
        else:
            self.app.pop_screen()

    # -- changing one value ------------------------------------------------------------------

    def _attempt(self, act: Callable[[], T]) -> T:
        """Do what the files may not allow. Raises Refused."""
        try:
            return act()
        except NotEdited as why:
            raise Refused(str(why)) from why

    def _edit(self, act: Callable[[], str]) -> None:
        """Change the plan and go on with it. Raises Refused."""
        path = self.field.path if self.field else None
        done = self._attempt(act)
        self.fields = self.desk.fields
        paths = [field.path for field in self.fields]
        if path in paths:
            self.at = paths.index(path)
        gone = ""
        if self.desk.plan is not self.session.plan:
            gone = self.session.replan(self.desk.plan, self.desk.editor.files)
        self.day.show_message(f"{done}; {gone}" if gone else done)

    async def _edit_asked(self, losses: Callable[[], Sequence[str]], act: Callable[[], str]) -> None:
        """Change the plan; asked first where setups like the one edited would lose something."""
        lost = self._attempt(losses)
        if lost:
            choices = [("k", "leave it unchanged", None), ("w", "save it; u undoes it", True)]
            await self.choose(" ".join(f"{line}." for line in lost), choices)
        self._edit(act)

    @asking
    async def action_change(self) -> None:
        """Change the line at the cursor; in the list, go to the form."""
        if self.in_form:
            await self._change()
        elif self.fields:
            self.action_side(True)
        else:
            raise Refused("n adds one")

    async def _change(self) -> None:
        """Change the line at the cursor; in a draft, then the next required line that is empty."""
        drafting = True
        while drafting:
            field = self.field
            if field is None or field.kind == "heading":
                raise Refused("pick a line with a value; x deletes this whole part")
            value = await self._new_value(field)
            drafting = self.desk.draft is not None
            await self._edit_asked(partial(self.desk.losses, field, value), partial(self.desk.take, field, value))
            drafting = drafting and self._to_missing()

    async def _new_value(self, field: Field) -> Any:
        """Ask for the value of a field. Raises Cancelled, and Refused where it stays as it is."""
        if field.kind == "yes":
            return not field.value
        if field.kind in ("choice", "ref"):
            choices = numbered((choice, (choice,)) for choice in field.choices)
            if not field.must and field.origin == "own":
                choices.append(("0", "none", (None,)))
            at = field.choices.index(field.value) if field.value in field.choices else 0
            none = f"no {field.what} to choose; add one first"
            return (await self.choose_of(f"{field.label}:", choices, none, at))[0]
        given = field_to_edit(field, self.desk.units)
        line = PreviewText(f"{field.label}:", given, self._preview, self.glyphs)
        text = await line.answer_on(self.app)
        if field.path[0] == MEASURED and field.key == "reads_f" and text != given:
            options = numbered((option.text, option.f) for option in reading_options(text))
            return await self.choose("Which does the meter show?", options) if len(options) > 1 else options[0][2]
        if text == given and self.desk.draft is None:
            raise Refused("unchanged")
        return self.desk.attempt(field, text).value

    def _preview(self, text: str) -> list[str]:
        """Return what a typed value will be saved as and lead to. Raises ValueError with what is wrong with it."""
        field = self.field
        assert field is not None
        try:
            if field.path[0] == MEASURED and field.key == "reads_f":
                text = str(reading_options(text)[0].f)
            tried = self.desk.attempt(field, text)
        except (ValueError, NotEdited) as wrong:
            raise ValueError(choices_text(field) if field.what and not text.strip() else str(wrong)) from wrong
        return [value_text(field, tried.value, self.desk.units), *self._figures(tried)]

    def _to_missing(self) -> bool:
        """Put the cursor on the first required line of the draft that is empty; return whether there is one."""
        missing = self.desk.draft.missing if self.desk.draft else []
        self._to_line(missing)
        return bool(missing)

    def _to_line(self, keys: Sequence[str]) -> None:
        """Put the cursor on the first line of the form with one of these keys."""
        self.fields = self.desk.fields
        self.at = next((n for n, field in enumerate(self.fields) if field.key in keys), self.at)
        self.repaint()

    # -- new, copy, delete, move -------------------------------------------------------------

    def _need_no_draft(self) -> None:
        if self.desk.draft is not None:
            raise Refused(_UNFINISHED)

    @asking
    async def action_new(self) -> None:
        """Write a new thing of the kind at the cursor; in a setup, a light, a panel or a hung cloth."""
        self._need_no_draft()
        kind = self.desk.thing.kind
        if kind == "setup" and not self.on_form:
            await self._new_setup(copied=False)
            return
        if kind in _ALONE:
            raise Refused("n adds to a list: pick heads, stands, crew or another")
        if kind == "setup":
            choices = [("l", "a light", "light"), ("p", "a panel", "place_panel"), ("h", "a hung cloth", "hang")]
            kind = await self.choose("New in this setup:", choices)
        self.desk.begin(kind)
        await self._fill_draft()

    @asking
    async def action_calibrate(self) -> None:
        """Ask for what the meter shows of a head, and save it in the kit: the light is predicted from it."""
        self._need_no_draft()
        self.desk.begin_reading(self.field.path if self.field else ())
        self.on_form = True
        rows = self.desk.plan.kit.measured
        for name in READING_KEYS:
            self._to_line((name,))
            field = self.field
            assert field is not None
            value = [] if field.kind == "ids" and not field.choices else await self._new_value(field)
            self._edit(partial(self.desk.take, field, value))
        kit = self.desk.plan.kit
        row = kit.measured[int(self.desk.thing.id)]
        instead = ", in place of another" if len(kit.measured) == len(rows) else ""
        self.day.show_message(f"saved: {measurement_text(row, self.desk.units)}{instead}")

    async def _fill_draft(self) -> None:
        self.on_form, self.at = True, 0
        self.day.show_message("a draft: it is saved once every required value is there")
        if self._to_missing():
            await self._change()

    async def _discard(self) -> None:
        await self.choose("This is not saved yet.", [("k", "keep editing", None), ("d", "discard it", True)])
        self.desk.drop_draft()
        self.at = 0
        self.day.show_message("discarded; nothing was saved")

    async def _new_setup(self, *, copied: bool) -> None:
        thing = self.desk.thing
        base = thing.id if thing.path is not None else [*self.desk.plan.setups][-1]
        question = f"A new setup, {'a copy of' if copied else 'like'} {base}. Its id:"
        name = await self.ask(question, "the file's name: letters, digits, - and _", read_id)
        self._edit(lambda: self.desk.add_setup(name, like=base, copied=copied))

    @asking
    async def action_copy(self) -> None:
        """Copy the thing picked, or the light or panel the cursor is in."""
        self._need_no_draft()
        thing, field = self.desk.thing, self.field
        if thing.kind == "setup" and field is not None:
            if field.path[0] not in _PARTS:
                raise Refused("pick a light or a panel to copy; left goes to the setups")
            self.desk.begin_copy(field.path)
            await self._fill_draft()
        elif thing.kind == "setup":
            await self._new_setup(copied=True)
        elif thing.path is None or thing.kind in _ALONE:
            raise Refused("pick a thing of a list to copy")
        else:
            question, hint = f"A copy of {thing.title}. Its id:", "the label on it: letters, digits, - and _"
            name = "" if thing.kind == "measured" else await self.ask(question, hint, read_id)
            self._edit(lambda: self.desk.copy(name))

    @asking
    async def action_delete(self) -> None:
        """Delete the value, the part or the thing at the cursor; the last two are asked first."""
        field, thing, desk = self.field, self.desk.thing, self.desk
        if field is not None and field.kind != "heading":
            await self._edit_asked(lambda: desk.losses(field, None), lambda: desk.clear(field))
        elif desk.draft is not None:
            await self._discard()
        elif field is not None:
            losses = self._attempt(lambda: desk.losses(field, None))
            await self._delete(field.label, lambda: desk.remove_part(field), losses)
        elif thing.path is None or thing.kind == "day":
            raise Refused("pick a setup or a thing of the kit to delete")
        else:
            await self._delete(thing.title, desk.remove)

    async def _delete(self, name: str, act: Callable[[], str], losses: Sequence[str] = ()) -> None:
        choices = [("k", "keep it", None), ("x", "delete it; u undoes it", True)]
        await self.choose(" ".join([*(f"{line}." for line in losses), f"Delete {name}?"]), choices)
        self._edit(act)

    @asking
    async def action_move(self, by: int) -> None:
        """Move it one place earlier or later: a setup in the day, a thing among its kind, a light."""
        self._need_no_draft()
        field = self.field
        if field is not None and field.path[0] not in _PARTS:
            raise Refused("only a light or a panel can move here; left goes to the list")
        self._edit(lambda: self.desk.move_part(field, by) if field else self.desk.move(by))

    @asking
    async def action_undo(self) -> None:
        """Put the files back as they were before the last edit."""
        self._edit(self.desk.undo)

    @asking
    async def action_redo(self) -> None:
        """Make the edit again that was undone last."""
        self._edit(self.desk.redo)
