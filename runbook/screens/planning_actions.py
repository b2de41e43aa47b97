"""What a person does to the things of the plan: new, copy, take out, move, undo."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import ClassVar

from textual.binding import Binding, BindingType

from runbook.files.form import Field
from runbook.files.form_editor import FormEditor
from runbook.files.parse_input import read_id
from runbook.files.toml_edit import NotEdited
from runbook.screens.base import DayScreen

_ALONE = ("day", "camera")
_PARTS = ("light", "place_panel")


class PlanningActions(DayScreen):
    """The keys that add to the plan and take from it. ``at`` is the line of the form picked."""

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("n", "new", "new", show=False),
        Binding("c", "copy", "copy", show=False),
        Binding("x", "take_out", "take out", show=False),
        Binding("left_square_bracket", "move(-1)", "earlier", show=False),
        Binding("right_square_bracket", "move(1)", "later", show=False),
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
            self.day.show_message("write this one first; escape drops it")
        elif thing.kind == "setup" and self.on_form:
            choices = [("l", "a light", "light"), ("p", "a panel", "place_panel")]
            self.choose("New in this setup:", choices, self._begin)
        elif thing.kind == "setup":
            self._ask_new_setup(copied=False)
        elif thing.kind in _ALONE:
            self.day.show_message("n adds to a list: pick heads, stands, crew or another")
        else:
            self._begin(thing.kind)

    def _begin(self, key: str) -> None:
        self.desk.begin(key)
        self._draft_begun()

    def _draft_begun(self) -> None:
        self.on_form, self.at = True, 0
        self.day.show_message("a draft: it is in the files once all that must be written is")
        self.next_missing()

    def next_missing(self) -> None:
        """Put the cursor on the first line that must still be written, and open it."""
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

    def ask_to_drop(self) -> None:
        """Whether to forget a draft."""

        def answered(drop: bool) -> None:
            if drop:
                self.desk.drop_draft()
                self.at = 0
                self.day.show_message("the draft is dropped; nothing was written")

        choices = [("k", "keep writing", False), ("d", "drop it", True)]
        self.choose("This is not written yet.", choices, answered)

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

    # -- copy, take out, move ----------------------------------------------------------------

    def action_copy(self) -> None:
        """Copy the thing picked, or the light or panel the cursor is in."""
        thing, field = self.desk.thing, self.field
        if self.desk.draft is not None:
            self.day.show_message("write this one first; escape drops it")
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

    def action_take_out(self) -> None:
        """Take out the value, the part or the thing at the cursor; the last two are asked."""
        field, thing = self.field, self.desk.thing
        if field is not None and field.kind != "heading":
            self.edit_asked(lambda: self.desk.losses(field, None), lambda: self.desk.clear(field))
        elif self.desk.draft is not None:
            self.ask_to_drop()
        elif field is not None:
            self._ask_part_out(field)
        elif thing.path is None or thing.kind == "day":
            self.day.show_message("pick a setup or a thing of the kit to take out")
        else:
            self._ask_out(thing.title, self.desk.remove)

    def _ask_part_out(self, field: Field) -> None:
        try:
            losses = self.desk.losses_of_part(field)
        except NotEdited as why:
            self.day.show_message(str(why))
            return
        self._ask_out(field.label, lambda: self.desk.remove_part(field), losses)

    def _ask_out(self, name: str, act: Callable[[], str], losses: Sequence[str] = ()) -> None:
        choices = [("k", "keep it", False), ("x", "delete it; u brings it back", True)]
        question = " ".join([*(f"{line}." for line in losses), f"Delete {name}?"])
        self.choose(question, choices, lambda out: self.edit(act) if out else None)

    def edit_asked(
        self, losses: Callable[[], Sequence[str]], act: Callable[[], str], then: Callable[[], object] = lambda: None
    ) -> None:
        """Change the plan; asked first where setups like the one edited would lose something."""

        def answered(write: bool) -> None:
            if write:
                self.edit(act)
                then()

        try:
            lost = losses()
        except NotEdited as why:
            self.day.show_message(str(why))
            return
        if not lost:
            answered(True)
            return
        choices = [("k", "leave it unchanged", False), ("w", "write it; u undoes it", True)]
        self.choose(" ".join(f"{line}." for line in lost), choices, answered)

    def action_move(self, by: int) -> None:
        """One place earlier or later: a setup in the day, a thing among its kind, a light."""
        field = self.field
        if self.desk.draft is not None:
            self.day.show_message("write this one first; escape drops it")
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
