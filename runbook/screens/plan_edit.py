"""The plan being edited: opened, tried, saved from the form and the floor, and undone."""

from __future__ import annotations

from asyncio import sleep
from collections.abc import Callable, Sequence
from dataclasses import replace
from pathlib import Path as FilePath
from typing import TYPE_CHECKING, Any, ClassVar, TypeVar

from textual import work
from textual.timer import Timer
from textual.widgets import Input

from runbook.day.actions import Refused
from runbook.day.parse_input import reading_options
from runbook.files.editor import Editor, ordered, stamp_of
from runbook.files.errors import Unreadable
from runbook.files.form import Field, shown_field
from runbook.files.form_editor import MEASURED, FormEditor, Tried
from runbook.files.toml_edit import NotEdited
from runbook.light.solve import with_powers
from runbook.model.day import Plan
from runbook.model.units import Units, length, mass
from runbook.screens.base import TYPING_S, DayScreen, asking, numbered
from runbook.screens.plan_floor import PlanFloor
from runbook.screens.plan_form import FieldRow, PlanForm

if TYPE_CHECKING:
    from runbook.screens.app import RunbookApp

T = TypeVar("T")


def open_editor(app: RunbookApp) -> bool:
    """Read the day's folder for editing, or look again whether somebody else changed it.

    Return whether that worked; what is wrong is shown in a line.
    """
    folder = app.session.folder
    if folder is None:
        app.show_message("this day has no folder to edit")
        return False
    try:
        if app.desk is None:
            app.desk = FormEditor(Editor(folder, stamp_of(app.clock()), with_powers))
        elif app.desk.editor.look_again():
            app.desk.refresh()
    except Unreadable as why:
        more = f" (and {len(why.faults) - 1} more)" if len(why.faults) > 1 else ""
        fault = why.faults[0]
        app.show_message(f"{replace(fault, file=FilePath(fault.file).name)}{more}")
        return False
    return True


def put_in_order(app: RunbookApp, order: Sequence[str]) -> bool:
    """Write the day's setups in another order and go on with it; return whether that worked."""
    assert app.desk is not None
    editor = app.desk.editor
    try:
        editor.apply(ordered(editor.texts, order), "the order that ends the day sooner")
    except NotEdited as why:
        app.show_message(str(why))
        return False
    app.desk.refresh()
    app.do(lambda: app.session.replan(editor.plan, editor.files), str)
    app.show_message("written into day.toml; u on the plan (l) undoes it")
    return True


def value_text(field: Field, value: Any, units: Units) -> str:
    """Return a typed value as it will be saved, a measure in the other units too."""
    other: Units = "imperial" if units == "metric" else "metric"
    if value is None or (value == "" and not field.must):
        return "= cleared"
    if field.kind in ("length", "mass"):
        measure = length if field.kind == "length" else mass
        return f"= {measure(value, units)} ({measure(value, other)})"
    return f"= {shown_field(replace(field, value=value), units) or 'none'}"


class PlanEdits(DayScreen):
    """What changes the files from the form and the floor."""

    REST_S: ClassVar[float] = 0.3  # moves that follow each other faster are written as one edit
    floor: PlanFloor
    form: PlanForm

    def __init__(self) -> None:
        super().__init__()
        assert self.day.desk is not None
        self.desk = self.day.desk
        self._settling: Timer | None = None

    def show_sight(self, tried: Tried | Plan | None = None) -> None:
        """Show the floor, the face and the figures of the plan, or of what is being tried."""
        raise NotImplementedError

    # -- writing -----------------------------------------------------------------------------

    def attempt(self, act: Callable[[], T]) -> T:
        """Do what the files may not allow. Raises Refused."""
        try:
            return act()
        except NotEdited as why:
            raise Refused(str(why)) from why

    def edit(self, act: Callable[[], T]) -> T:
        """Change the plan and go on with it. Raises Refused."""
        self.settle()
        result = self.attempt(act)
        self.replan(result if isinstance(result, str) else "")
        return result

    def replan(self, done: str = "") -> None:
        """Go on with the plan as it now is, and show what was done."""
        gone = ""
        if self.desk.plan is not self.session.plan:
            gone = self.session.replan(self.desk.plan, self.desk.editor.files)
        self.day.show_message("; ".join(filter(None, (done, gone))))

    def settle_later(self) -> None:
        """Write what was moved once the keys rest."""
        if self._settling is None:
            self._settling = self.set_timer(self.REST_S, self._settle_now)
        else:
            self._settling.reset()

    @asking
    async def _settle_now(self) -> None:
        self.settle()

    def settle(self) -> None:
        """Write what was moved. Raises Refused."""
        if self._settling is not None:
            self._settling.stop()
            self._settling = None
        if moved := self.attempt(self.desk.settle):
            self.replan(f"saved: {moved}")

    @asking
    async def action_undo(self) -> None:
        """Put the files back as they were before the last edit."""
        self.edit(self.desk.undo)

    @asking
    async def action_redo(self) -> None:
        """Make the edit again that was undone last."""
        self.edit(self.desk.redo)

    # -- moved on the floor --------------------------------------------------------------------

    def on_plan_floor_refused(self, event: PlanFloor.Refused) -> None:
        """Show why a thing does not move so."""
        self.day.show_message(event.why)

    def on_plan_floor_moved(self, event: PlanFloor.Moved) -> None:
        """Try a move at once; it is written once the keys rest."""
        try:
            self.desk.move(event.values, event.what)
        except NotEdited as why:
            self.day.show_message(str(why))
            return
        self.show_sight()
        self.show_form()
        self.settle_later()

    def show_form(self) -> None:
        """Show the form of what is picked."""
        raise NotImplementedError

    # -- typed in the form ---------------------------------------------------------------------

    def on_field_row_typed(self, event: FieldRow.Typed) -> None:
        """Show what is typed once the typing pauses."""
        self._preview(event.row)

    @work(exclusive=True, group="typed")
    async def _preview(self, row: FieldRow) -> None:
        await sleep(TYPING_S)
        if not (row.typed and row.is_attached):
            return
        try:
            (_, value), *_ = self._values(row, row.text)
            tried = self.desk.attempt(row.field, value)
        except (ValueError, NotEdited) as wrong:
            row.hint(str(wrong), wrong=True)
            return
        row.hint(value_text(row.field, value, self.desk.units))
        self.show_sight(tried)

    def _values(self, row: FieldRow, value: Any) -> list[tuple[str, Any]]:
        """Return what was entered as a value, with words for each where it has two meanings. Raises ValueError."""
        field = row.field
        if not isinstance(row.control, Input):
            return [("", value)]
        if field.path[0] == MEASURED and field.key == "reads_f":
            return [(option.text, option.f) for option in reading_options(value)]
        return [("", self.desk.read(field, value))]

    def on_field_row_entered(self, event: FieldRow.Entered) -> None:
        """Save a value; asked first where it has two meanings, or setups like this one would lose something."""
        row, field = event.row, event.row.field
        if isinstance(row.control, Input) and not row.typed and (row.text or not field.must):
            self._go_on(row, event.go_on)
            return
        try:
            values = self._values(row, event.value)
            lost = self.desk.value_losses(field, values[0][1])
        except (ValueError, NotEdited) as wrong:
            row.hint(str(wrong), wrong=True)
            return
        if lost or len(values) > 1:
            self._ask_and_save(row, values, lost, event.go_on)
        else:
            self._save(row, values[0][1], event.go_on)

    @asking
    async def _ask_and_save(
        self, row: FieldRow, values: list[tuple[str, Any]], lost: Sequence[str], go_on: bool
    ) -> None:
        value = values[0][1]
        if len(values) > 1:
            value = await self.choose("Which does the meter show?", numbered(values))
        if lost:
            question = " ".join(f"{line}." for line in lost)
            row.restore()
            await self.choose(question, [("k", "leave it unchanged", None), ("w", "save it; u undoes it", True)])
        self._save(row, value, go_on)

    def _save(self, row: FieldRow, value: Any, go_on: bool) -> None:
        """Save a value; where the plan does not allow it, say why below it."""
        try:
            self.edit(lambda: self.desk.take(row.field, value))
        except Refused as why:
            row.hint(str(why), wrong=True)
            self.show_sight()
            return
        row.restore()
        if row.is_attached and row.field.path in [field.path for field in self.form.fields]:
            self._go_on(row, go_on)
        elif go_on:
            self.form.call_next(self.form.focus_field)

    def _go_on(self, row: FieldRow, go_on: bool) -> None:
        """Go to the next row; in a draft, to the first that is missing."""
        if not go_on or row is not self.form.row:
            return
        draft = self.desk.drafting
        if draft is None:
            self.form.action_go(1)
        elif draft.missing:
            self.form.focus_field((draft.key, "new", draft.missing[0]))
