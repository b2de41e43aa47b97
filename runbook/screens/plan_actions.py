"""What is made, copied, deleted and put in order on the plan."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from functools import partial
from typing import Any, ClassVar, Final, Literal

from textual.binding import BindingType

from runbook.day.actions import Refused
from runbook.day.edit_preview import edit_preview
from runbook.day.placing import (
    Place,
    Values,
    bags_text,
    cloth_place,
    cloths_for,
    free,
    holder_text,
    holders_for,
    label_of_part,
    missing_bags,
    modifiers_for,
    new_light,
    new_panel,
    next_roles,
    other_side,
    panel_place,
    parts_of,
    place_text,
    place_values,
    read_place,
    usual_place,
)
from runbook.files.errors import Path
from runbook.files.form import read_id
from runbook.files.form_editor import DRAFT, MEASURED
from runbook.files.inherit import NAMED_BY
from runbook.files.toml_edit import NotEdited
from runbook.model.setup import Setup
from runbook.screens.base import EnterText, PreviewText, asking, numbered
from runbook.screens.keys import key
from runbook.screens.plan_edit import PlanEdits

ALONE: Final = ("day", "camera")  # what there is one of, under no heading
_NOT_COPIED: Final = ("stand", "bags", "held_by", "accessories", "through")  # what two lights or panels cannot share
_WHERE: Final = "type what differs: side, angle, distance, height; the arrows move it later"
At = Literal["list", "floor", "form"]


class PlanActions(PlanEdits):
    """New, copy, delete, order, bags and calibration."""

    BINDINGS: ClassVar[list[BindingType]] = [
        key("n", "new", "new", "new: of this kind; on the floor, a light, panel or cloth"),
        key("c", "copy", "copy", "copy a setup, a thing of the kit, a light or a panel"),
        key("x", "delete", "delete", "delete what is picked, or drop a draft"),
        key("left_square_bracket", "move(-1)", "earlier", "move it one place earlier", shown="["),
        key("right_square_bracket", "move(1)", "later", "move it one place later", shown="]"),
        key("b", "bags", "bags", "add the bags that the stands of this setup still need"),
        key("r", "calibrate", "meter", "enter a meter reading of a head for the kit"),
    ]
    setup_id: str | None  # whose floor is shown
    at: At = "list"  # what has the keys

    @property
    def part(self) -> Path | None:
        """The thing picked on the floor, where its setup is picked in the list."""
        return self.floor.part if self.desk.thing.kind == "setup" and self.desk.thing.id == self.setup_id else None

    @property
    def on_floor(self) -> bool:
        """Whether keys go to the floor of the setup that is picked."""
        return self.at == "floor" and self.desk.thing.kind == "setup" and self.desk.thing.id == self.setup_id

    @property
    def setup(self) -> Setup:
        """The setup picked. Raises Refused where there is none."""
        setup = self.desk.plan.setups.get(self.setup_id or "")
        if setup is None:
            raise Refused("pick a setup in the list first")
        return setup

    async def to_form(self, *paths: Path) -> None:
        """Give the keys to the form, at the first of these keys that it has."""
        raise NotImplementedError

    # -- new ---------------------------------------------------------------------------------

    @asking
    async def action_new(self) -> None:
        """Begin a new thing of the kind in the list; on the floor, a light or a panel."""
        kind = self.desk.thing.kind
        if self.on_floor:
            choices = [
                ("l", "a light", self._new_light),
                ("p", "a panel", self._new_panel),
                ("c", "a cloth that hangs", self._new_cloth),
            ]
            begin = await self.choose(f"New in {self.setup_id}:", choices)
            await begin()
        elif kind == "setup":
            await self._new_setup(copied=False)
        elif kind == DRAFT:
            await self.to_draft()
        elif kind in ALONE:
            raise Refused("n adds to a list: pick setups, heads, stands, crew or another")
        else:
            await self._need_no_draft()
            self.settle()
            self.desk.begin()
            await self.to_draft()

    async def _need_no_draft(self) -> None:
        """Ask whether a draft may go. Raises Cancelled where it is kept."""
        if self.desk.draft is not None:
            question = f"There is a draft of a new {self.desk.draft.key} already."
            await self.choose(question, [("k", "keep it", None), ("d", "drop it", True)])
            self.desk.drop_draft()

    async def to_draft(self) -> None:
        """Go to the first key of the draft that is missing."""
        draft = self.desk.draft
        assert draft is not None
        self.repaint()
        self.day.show_message(
            "draft: it is saved when every required value is entered; escape keeps the draft, x drops it"
        )
        await self.to_form(*((draft.key, "new", name) for name in draft.missing))

    async def _new_setup(self, *, copied: bool) -> None:
        thing, plan = self.desk.thing, self.desk.plan
        base = thing.id if thing.path is not None else [*plan.setups][-1]
        question = f"A new setup, {'a copy of' if copied else 'like'} {base}. Its id:"
        line = EnterText(question, "the file's name: letters, digits, - and _", read_id, self.glyphs)
        line.given = next(name for n in range(2, 1000) if (name := f"{base[:20]}-{n}") not in plan.setups)
        name = await line.answer_on(self.app)
        self.edit(lambda: self.desk.add_setup(name, like=base, copied=copied))

    async def _new_light(self) -> None:
        setup, kit = self.setup, self.desk.plan.kit
        role = await self.choose("New light: which role?", numbered((role, role) for role in next_roles(setup)))
        head = await self._thing("Which head?", "head", free(kit, setup, "head"))
        modifier = await self._thing("Which modifier?", "modifier", modifiers_for(kit, setup, role))

        def made(place: Place) -> tuple[Mapping[str, Any], Values]:
            return new_light(kit, setup, role, (head, modifier), place)

        await self._put("light", f"{head}, {role}", usual_place(setup, role), made)

    async def _new_panel(self) -> None:
        setup, kit = self.setup, self.desk.plan.kit
        panel = await self._thing("Which panel?", "panel", free(kit, setup, "panel"))
        await self._put(
            "place_panel", panel, panel_place(kit, setup, panel), lambda place: (new_panel(panel, place), {})
        )

    async def _new_cloth(self) -> None:
        setup = self.setup
        none = "no free cloth has a width and a height; enter both in the form of a cloth"
        cloth = await self._thing("Which cloth?", "cloth", cloths_for(self.desk.plan.kit, setup), none)
        await self._put(
            "hang", cloth, cloth_place(setup), lambda place: ({"cloth": cloth} | place_values(place, "hem_m"), {})
        )

    async def _thing(self, question: str, kind: str, names: Sequence[str], none: str = "") -> str:
        """Ask for one of the free things of a kind. Raises Refused where there is none."""
        things = getattr(self.desk.plan.kit, kind)
        texts = {name: f"{name}  {getattr(things.get(name), 'name', '')}".rstrip() for name in names}
        none = none or f"every {kind} of the kit is in use in this setup"
        return str(await self.choose_of(question, numbered((texts[name], name) for name in names), none))

    async def _put(self, part: str, name: str, usual: Place, made: Any) -> None:
        """Ask where a light or panel goes, shown on the floor as it is typed; then add it and hold it."""
        desk, units = self.desk, self.desk.units

        def tables(place: Place) -> tuple[list[dict[str, Any]], Values]:
            table, values = made(place)
            holders = holders_for(desk.plan.kit, self.setup, part, table)
            return [{**table, **holder} for holder in holders], values

        def preview(text: str) -> list[str]:
            place = read_place(text, usual, units)
            try:
                plan, path = desk.try_part(part, *tables(place))
            except NotEdited as why:
                raise ValueError(str(why)) from why
            self.show_sight(plan)
            setup = plan.setups[self.setup.id]
            if part == "light":
                shown = edit_preview(plan, "setup", setup.id, path, self.session.state.anchors)
            else:
                shown = (f"held by {holder_text(parts_of(setup)[path])}",)
            return [*shown, f"{_WHERE}  (enter: save, escape: cancel)"]

        self.settle()
        line = PreviewText(f"{name}: where?", place_text(usual, units), preview, self.glyphs)
        try:
            place = read_place(await line.answer_on(self.app), usual, units)
        finally:
            self.show_sight()
        path = self.edit(
            lambda: desk.add_part(
                part, *tables(place), lambda plan: missing_bags(plan, plan.setups[desk.thing.id], desk.heirs)
            )
        )
        self.floor.pick(path, hold=True)
        self.floor.focus()
        self.day.show_message(f"saved: {name}. Arrows turn and move it, page up and down its height.")

    # -- copy, delete, order -------------------------------------------------------------------

    @asking
    async def action_copy(self) -> None:
        """Copy the thing picked, or the light or panel picked on the floor."""
        thing = self.desk.thing
        if self.on_floor:
            if self.part is None or self.part[0] not in NAMED_BY:
                raise Refused("pick a light, a panel or a cloth to copy; the list copies setups")
            await self._copy_part(self.part)
        elif thing.kind == "setup":
            await self._new_setup(copied=True)
        elif thing.path is None or thing.kind in (*ALONE, DRAFT):
            raise Refused("pick a thing of a list to copy")
        else:
            question, hint = f"A copy of {thing.title}. Its id:", "its label: letters, digits, - and _"
            name = "" if thing.kind == MEASURED else await self.ask(question, hint, read_id)
            self.edit(lambda: self.desk.copy(name))

    async def _copy_part(self, path: Path) -> None:
        """Put a light or panel like another on the other side."""
        part, kit, setup = str(path[0]), self.desk.plan.kit, self.setup
        kind = NAMED_BY[part]
        name = await self._thing(f"A copy of {path[1]}. Which {kind}?", kind, free(kit, setup, kind))
        table = {key: value for key, value in self.desk.part_table(path).items() if key not in _NOT_COPIED}
        table[kind] = name
        modifiers = free(kit, setup, "modifier")
        if part == "light" and table.get("modifier", "bare") not in modifiers:
            table["modifier"] = await self._thing("Which modifier?", "modifier", modifiers)
        at, height = parts_of(setup)[path], "hem_m" if part == "hang" else "height_m"
        usual = Place(other_side(at.side), at.angle_deg, at.distance_m, getattr(at, height))
        await self._put(part, name, usual, lambda place: (table | place_values(place, height), {}))

    @asking
    async def action_delete(self) -> None:
        """Delete what is picked, asked first; drop a draft."""
        desk, part = self.desk, self.part
        if desk.drafting is not None:
            desk.drop_draft()
            self.repaint()
            self.day.show_message("draft dropped; nothing was saved")
        elif self.on_floor:
            if part is None or part[0] in ("view", "subject"):
                raise Refused("pick a light, a panel, a cloth or the background to delete")
            self.settle()
            losses = self.attempt(lambda: desk.losses(part, desk.removed(part)))
            await self._delete(label_of_part(part), partial(desk.remove_part, part), losses)
        elif desk.thing.path is None or desk.thing.kind == "day":
            raise Refused("pick a setup or a thing of the kit to delete")
        else:
            await self._delete(desk.thing.title, desk.remove)

    async def _delete(self, name: str, act: Any, losses: Sequence[str] = ()) -> None:
        choices = [("k", "keep it", None), ("x", "delete it; u undoes it", True)]
        await self.choose(" ".join([*(f"{line}." for line in losses), f"Delete {name}?"]), choices)
        self.edit(act)

    @asking
    async def action_move(self, by: int) -> None:
        """Move it one place earlier or later: a setup in the day, a thing among its kind, a light."""
        part = self.part
        if not self.on_floor:
            self.edit(lambda: self.desk.reorder(by))
        elif part is None or part[0] not in NAMED_BY:
            raise Refused("pick a light, a panel or a cloth to move it among the others; in the list, setups move")
        else:
            self.edit(lambda: self.desk.reorder_part(part, by))

    # -- bags and readings -----------------------------------------------------------------------

    @asking
    async def action_bags(self) -> None:
        """Hang the bags that the stands of the setup need more, as far as the kit has them."""
        self.settle()
        values = missing_bags(self.desk.plan, self.setup, self.desk.heirs)
        if not values:
            raise Refused("no bag of the kit would help; see the lines below the floor")
        self.edit(lambda: f"saved: {self.desk.put(values, 'bags')}: {'; '.join(bags_text(values))}")

    @asking
    async def action_calibrate(self) -> None:
        """Begin a meter reading of a head for the kit: the light is predicted from it."""
        await self._need_no_draft()
        self.settle()
        self.desk.begin_reading(self.part or ())
        await self.to_draft()
