"""The actions on the things of the plan: new, copy, delete, move, undo."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import ClassVar

from textual.binding import BindingType

from runbook.files.form import Field
from runbook.files.form_editor import FormEditor
from runbook.files.parse_input import read_id
from runbook.files.toml_edit import NotEdited
from runbook.screens.base import DayScreen
from runbook.screens.help import key

_ALONE = ("day", "camera")
_PARTS = ("light", "place_panel")


class PlanningActions(DayScreen):
    """The keys that add to the plan and take from it. ``at`` is the line of the form picked."""

    KEYS_TITLE = "Editing"
    BINDINGS: ClassVar[list[BindingType]] = [
        key("n", "new", "new", "new: of its kind; in a setup, a light"),
        key("c", "copy", "copy", "copy a setup, thing, light, panel"),
        key("x", "delete", "delete", "delete a value, part or thing"),
        key("left_square_bracket", "move(-1)", "earlier", "move it earlier or later", shown="["),
        key("right_square_bracket", "move(1)", "later", "move it earlier or later", shown="]"),
    ]
    desk: FormEditor

    def __init__(self) -> None:
        super().__init__()
        self.fields: list[Field] = []
        self.at = 0
        self.on_form = False

    @property
    def field(self) -> Field | None:
        """The line of the form the cursor is on; None while it is in the list."""
        if not self.fields or not (self.on_form or self.desk.draft is not None):
            return None
        return self.fields[min(self.at, len(self.fields) - 1)]

    def edit(self, act: Callable[[], str]) -> bool:
        """Change the plan and go on with it; a change that is refused is told in a line."""
        path = self.field.path if self.field else None
        try:
            said = act()
        except NotEdited as why:
            self.day.show_message(str(why))
            return False
        self.fields = self.desk.fields
        paths = [field.path for field in self.fields]
        if path in paths:
            self.at = paths.index(path)
        gone = ""
        if self.desk.plan is not self.session.plan:
            gone = self.session.replan(self.desk.plan, self.desk.editor.files)
            self.day.check_plan()
        self.day.show_message(f"{said}; {gone}" if gone else said)
        return True

    # -- new ---------------------------------------------------------------------------------

    def action_new(self) -> None:
        """Write a new thing of the kind at the cursor; in a setup, a light or a panel."""
        desk, thing = self.desk, self.desk.thing
        if desk.draft is not None:
            self.day.show_message("finish this one first; escape discards it")
        elif thing.kind == "setup" and self.on_form:
            choices = [("l", "a light", "light"), ("p", "a panel", "place_panel")]
            self.choose("New in this setup:", choices, self._begin)
        elif thing.kind == "setup":
            self._ask_new_setup(copied=False)
        elif thing.kind in _ALONE:
            self.day.show_message("n adds to a list: pick heads, stands, crew or another")
        else:
            self._begin(thing.kind)

    def _begin(self, part: str) -> None:
        self.desk.begin(part)
        self._draft_begun()

    def _draft_begun(self) -> None:
        self.on_form, self.at = True, 0
        self.day.show_message("a draft: it is saved once every required value is there")
        self.next_missing()

    def next_missing(self) -> None:
        """Put the cursor on the first required line that is empty, and open it."""
        draft = self.desk.draft
        self.fields = self.desk.fields
        left = draft.missing if draft else []
        for place, field in enumerate(self.fields):
            if field.key in left:
                self.at = place
                break
        self.repaint()
        if left:
            self.action_change()

    def action_change(self) -> None:
        """Change the line at the cursor."""
        raise NotImplementedError

    def ask_to_discard(self) -> None:
        """Ask whether to discard a draft."""

        def discard(_: object) -> None:
            self.desk.drop_draft()
            self.at = 0
            self.day.show_message("discarded; nothing was saved")

        self.choose("This is not saved yet.", [("k", "keep editing", None), ("d", "discard it", True)], discard)

    def _ask_new_setup(self, *, copied: bool) -> None:
        setups = list(self.desk.plan.setups)
        base = self.desk.thing.id if self.desk.thing.path is not None else setups[-1]
        how = "a copy of" if copied else "like"
        self.ask(
            f"A new setup, {how} {base}. Its id:",
            "the file's name: letters, digits, - and _",
            read_id,
            lambda name: self.edit(lambda: self.desk.add_setup(name, like=base, copied=copied)),
        )

    # -- copy, delete, move ------------------------------------------------------------------

    def action_copy(self) -> None:
        """Copy the thing picked, or the light or panel the cursor is in."""
        thing, field = self.desk.thing, self.field
        if self.desk.draft is not None:
            self.day.show_message("finish this one first; escape discards it")
        elif thing.kind == "setup" and field is not None:
            if field.path[0] in _PARTS:
                self.desk.begin_copy(field.path)
                self._draft_begun()
            else:
                self.day.show_message("pick a light or a panel to copy; left goes to the setups")
        elif thing.kind == "setup":
            self._ask_new_setup(copied=True)
        elif thing.path is None or thing.kind in _ALONE:
            self.day.show_message("pick a thing of a list to copy")
        elif thing.kind == "measured":
            self.edit(lambda: self.desk.copy(""))
        else:
            self.ask(
                f"A copy of {thing.title}. Its id:",
                "the label on it: letters, digits, - and _",
                read_id,
                lambda name: self.edit(lambda: self.desk.copy(name)),
            )

    def action_delete(self) -> None:
        """Delete the value, the part or the thing at the cursor; the last two are asked first."""
        field, thing = self.field, self.desk.thing
        if field is not None and field.kind != "heading":
            self.edit_asked(lambda: self.desk.losses(field, None), lambda: self.desk.clear(field))
        elif self.desk.draft is not None:
            self.ask_to_discard()
        elif field is not None:
            losses = self._losses(lambda: self.desk.losses_of_part(field))
            if losses is not None:
                self._ask_to_delete(field.label, lambda: self.desk.remove_part(field), losses)
        elif thing.path is None or thing.kind == "day":
            self.day.show_message("pick a setup or a thing of the kit to delete")
        else:
            self._ask_to_delete(thing.title, self.desk.remove)

    def _losses(self, losses: Callable[[], Sequence[str]]) -> Sequence[str] | None:
        """Return what setups like the one edited would lose; None, with a message, where it cannot be edited."""
        try:
            return losses()
        except NotEdited as why:
            self.day.show_message(str(why))
            return None

    def _ask_to_delete(self, name: str, act: Callable[[], str], losses: Sequence[str] = ()) -> None:
        choices = [("k", "keep it", None), ("x", "delete it; u undoes it", True)]
        question = " ".join([*(f"{line}." for line in losses), f"Delete {name}?"])
        self.choose(question, choices, lambda _: self.edit(act))

    def edit_asked(
        self, losses: Callable[[], Sequence[str]], act: Callable[[], str], then: Callable[[], object] = lambda: None
    ) -> None:
        """Change the plan; asked first where setups like the one edited would lose something."""

        def write(_: object) -> None:
            self.edit(act)
            then()

        lost = self._losses(losses)
        if lost:
            choices = [("k", "leave it unchanged", None), ("w", "save it; u undoes it", True)]
            self.choose(" ".join(f"{line}." for line in lost), choices, write)
        elif lost is not None:
            write(True)

    def action_move(self, by: int) -> None:
        """One place earlier or later: a setup in the day, a thing among its kind, a light."""
        field = self.field
        if self.desk.draft is not None:
            self.day.show_message("finish this one first; escape discards it")
        elif field is None:
            self.edit(lambda: self.desk.move(by))
        elif field.path[0] in _PARTS:
            self.edit(lambda: self.desk.move_part(field, by))
        else:
            self.day.show_message("only a light or a panel can move here; left goes to the list")

    def action_undo(self) -> None:
        """Put the files back as they were before the last edit."""
        self.edit(self.desk.undo)

    def action_redo(self) -> None:
        """Make the edit again that was undone last."""
        self.edit(self.desk.redo)
