"""The plan: what there is on the left, the floor and the face in the middle, and the form of what is picked."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from contextlib import suppress
from typing import Any, ClassVar, Final

from rich.text import Text
from textual import events
from textual.binding import BindingType
from textual.containers import Container, Horizontal, Vertical
from textual.widget import Widget
from textual.widgets import Tree
from textual.widgets.tree import TreeNode

from runbook import __version__
from runbook.day.actions import Refused
from runbook.day.edit_preview import edit_preview, setup_problems
from runbook.day.placing import label_of_part
from runbook.drawing.floor_drawing import floor_plan
from runbook.files.errors import Path
from runbook.files.form_editor import DRAFT, Thing, Tried
from runbook.files.inherit import NAMED_BY
from runbook.files.load import digest_of
from runbook.journal.errors import JournalError
from runbook.light.prediction import LitSetup, predict
from runbook.model.day import Plan
from runbook.screens.base import WIDE
from runbook.screens.face import FacePicture
from runbook.screens.keys import key
from runbook.screens.lists import Paged
from runbook.screens.plan_actions import At, PlanActions
from runbook.screens.plan_floor import PlanFloor
from runbook.screens.plan_form import PlanForm
from runbook.screens.text import Glyphs, Line

_TITLE: Final = 21  # cells of a title in the list
_BOTH: Final = 64  # from so many columns on the list stands beside the floor
_MOST_PROBLEMS: Final = 3


class Outline(Paged, Tree[Thing]):
    """The setups, the day, and the kit by kind; a kind is opened to see its things."""

    BINDING_GROUP_TITLE = "The list"
    BINDINGS: ClassVar[list[BindingType]] = [
        key("right", "select_cursor", "open", "open a kind, or go to the floor or the form; enter too"),
        key("left", "screen.fold", "close", "close the kind"),
    ]

    def __init__(self, glyphs: Glyphs) -> None:
        super().__init__("", id="outline")
        self.show_root = self.show_guides = False
        self.guide_depth, self.glyphs = 2, glyphs
        self.ICON_NODE, self.ICON_NODE_EXPANDED = f"{glyphs.folded} ", f"{glyphs.unfolded} "
        self.nodes: dict[Thing, TreeNode[Thing]] = {}

    def show(self, things: Sequence[Thing], picked: Thing) -> None:
        """Show these things, with the cursor on the one that is picked and its kind open."""
        if things != [*self.nodes]:
            self.clear()
            before, self.nodes, kind = self.nodes, {}, self.root
            for each in things:
                label = Text(self.glyphs.cut(each.title, _TITLE), "bold" if each.kind == DRAFT else "")
                if each.path is None:
                    label = Text(f"{each.title} {sum(one.kind == each.kind for one in things) - 1}", "bold")
                    opened = before[each].is_expanded if each in before else each.kind == "setup"
                    kind = self.nodes[each] = self.root.add(label, each, expand=opened)
                else:
                    self.nodes[each] = (kind if each.listed else self.root).add_leaf(label, each)
        node = self.nodes[picked]
        if node.parent is not None and node.parent.is_collapsed:
            node.parent.expand()
        if self.last_line >= 0 and node is not self.cursor_node:  # a node has no line until one is asked for
            self.cursor_line = node.line
            self.call_after_refresh(self._show_cursor_line)  # only then there is room to scroll in

    def on_resize(self) -> None:
        """Keep the cursor in view."""
        self._show_cursor_line()

    def _show_cursor_line(self) -> None:
        self.scroll_to_line(self.cursor_line, animate=False)


class PlanningScreen(PlanActions):
    """Planning on the floor, with the form beside it."""

    BINDING_GROUP_TITLE = "The plan: setups, day and kit"
    BINDINGS: ClassVar[list[BindingType]] = [
        key("escape", "back", "back", "back: from the form, the floor, the list", shown="esc"),
        key("l", "leave_plan", "leave the plan", "back to the set"),
        key("enter", "go_in", "form", "the form of what is picked"),
        key("m", "more", "more", "show every field of the form, or only those that are set"),
        key("d", "look", "floor, face", "in a small window: the floor or the face"),
    ]

    def __init__(self) -> None:
        super().__init__()
        self.setup_id = None
        self.outline = Outline(self.glyphs)
        self.floor, self.form = PlanFloor(), PlanForm(self.glyphs)
        self.face = FacePicture(self.glyphs, "face")
        self.saved = digest_of(self.desk.editor.folder)
        self._seen: tuple[Any, ...] = ()  # what the floor and the face show

    def compose_body(self) -> Iterable[Widget]:
        with Horizontal(id="planning"):
            yield self.outline
            with Container(id="plan-work"):
                with Vertical(id="plan-sight"):
                    yield self.floor
                    yield self.lines("figures")
                    yield self.face
                yield self.form

    def on_mount(self) -> None:
        if self.desk.plan != self.session.plan:
            self.day.do(lambda: self.session.replan(self.desk.plan, self.desk.editor.files), str)
        at_work = self.session.state.at_work
        thing = next((each for each in self.desk.things if each.kind == "setup" and each.id == at_work), None)
        if thing is not None and thing.path is not None:
            self.desk.pick(thing)
        self.outline.focus()

    def on_unmount(self, _event: events.Unmount) -> None:
        """Write what was moved last, and record in the journal that the day goes on with other files."""
        with suppress(Refused):
            self.settle()
        digest = digest_of(self.desk.editor.folder)
        if digest != self.saved:
            with suppress(JournalError):  # the change is found when the day is next opened
                self.session.open(digest, __version__)
        self.day.refresh_screens()

    # -- painting ---------------------------------------------------------------------------

    def repaint(self) -> None:
        """Paint the outline, the floor, the face and the form."""
        super().repaint()
        self.show_title(self.outline, "the plan")
        self.outline.show(self.desk.things, self.desk.thing)
        self._show_parts()
        self.show_sight()
        self.show_form()

    def _show_parts(self) -> None:
        """Show the list, the floor, the face and the form, or in a small window what has the keys."""
        width, wide, with_face = self.size.width, self.size.width >= WIDE, self.has_class("-see-face")
        self.outline.display = width >= _BOTH or self.at == "list"
        self.query_one("#plan-work").display = width >= _BOTH or self.at != "list"
        self.form.display = wide or self.at == "form"
        self.floor.display = wide or not (self.at == "form" or with_face)
        self.face.display = wide or (with_face and self.at != "form")
        self.set_class(self.at == "form", "-in-form")

    def show_form(self) -> None:
        desk, part = self.desk, self.part
        fields = desk.fields
        title = desk.thing.title
        if desk.thing.kind == "setup" and desk.thing.path is not None:
            wanted = {("view",): ("view", "exposure")}.get(part or (), part and part[:1])
            if part is None:
                fields = [field for field in fields if field.path[0] not in NAMED_BY]
            elif len(part) > 1:
                fields = [field for field in fields if field.path[:2] == part and field.kind != "heading"]
            else:
                fields = [field for field in fields if wanted and field.path[0] in wanted]
            title = f"{title}: {label_of_part(part)}" if part else title
        self.form.show((desk.thing.key, part, self.form.more), fields, desk.units)
        self.show_title(self.form, title)

    def show_sight(self, tried: Tried | Plan | None = None) -> None:
        """Show the floor, the face and the figures of the plan, or of what is being tried."""
        desk, anchors = self.desk, tuple(self.session.state.anchors)
        plan = (tried.plan if isinstance(tried, Tried) else tried) or desk.plan
        if desk.thing.kind == "setup" and desk.thing.path is not None:
            self.setup_id = desk.thing.id
        if self.setup_id not in plan.setups:
            self.setup_id = next(iter(plan.day.order), None)
        thing, path = (tried.thing, tried.path) if isinstance(tried, Tried) else (desk.thing, self.part or ())
        seen = (plan, self.setup_id, thing, path, self.floor.held, anchors)
        if seen == self._seen or not self.query("#figures"):  # the last is so while it is left
            return
        self._seen = seen
        setup = plan.setups.get(self.setup_id or "")
        if setup is None:
            self.floor.show_setup(None, None)
            self.face.show(None)
            self.show_lines("figures")
            return
        self.floor.show_setup(setup, floor_plan(plan, setup))
        light = predict(plan, setup, anchors)
        self.face.show(LitSetup(plan.kit, setup, light, anchors))
        problems = setup_problems(plan, setup, light)
        lines: list[Line] = [(line, "bold" if path else "") for line in self._figures(plan, thing, path)]
        lines += [
            (f"{each.level.upper()}  {': '.join(filter(None, (each.item, each.what)))}",
             "bold $error" if each.level == "stop" else "$warning")
            for each in problems[:_MOST_PROBLEMS]
        ]  # fmt: skip
        if len(problems) > _MOST_PROBLEMS:
            lines.append((f"and {len(problems) - _MOST_PROBLEMS} more: runbook check", ""))
        self.show_lines("figures", *lines)
        held = f": {label_of_part(self.part)} {'held' if self.floor.held else 'picked'}" if self.part else ""
        self.show_title(self.floor, f"{setup.id}{held}")

    def _figures(self, plan: Plan, thing: Thing, path: Path) -> tuple[str, ...]:
        """Return the light and the stand that a plan leads to."""
        if thing.path is None or thing.kind == DRAFT or (thing.kind == "setup" and thing.id not in plan.setups):
            return ()
        return edit_preview(plan, thing.kind, thing.id, path, self.session.state.anchors)

    @property
    def footer(self) -> tuple[str, ...]:
        if self.at == "form":
            return ("go(1)", "back")
        if self.at == "list":
            return ("select_cursor", "new", "copy", "delete", "undo", "keys")
        if self.floor.held:
            return ("way('left')", "way('up')", "higher(1)", "feather(1)", "bags", "go_in", "undo", "back", "keys")
        return ("next(1)", "hold", "new", "delete", "bags", "go_in", "undo", "back", "keys")

    # -- going about -------------------------------------------------------------------------

    def on_tree_node_highlighted(self, event: Tree.NodeHighlighted[Thing]) -> None:
        """Go along with the cursor of the list, unless it is elsewhere by now."""
        thing = event.node.data
        if thing and thing != self.desk.thing and event.node is self.outline.cursor_node and self.outline.has_focus:
            self.settle()
            self.desk.pick(thing)
            self.floor.pick(None)
            self.repaint()

    async def on_tree_node_selected(self, event: Tree.NodeSelected[Thing]) -> None:
        """Go to what was chosen in the list; a kind is opened or closed by the list itself."""
        if not event.node.allow_expand:
            await self.action_go_in()

    def on_tree_node_collapsed(self, event: Tree.NodeCollapsed[Thing]) -> None:
        """Go to a kind that was closed over what is picked."""
        if event.node.data and self.desk.thing in [each.data for each in event.node.children]:
            self.desk.pick(event.node.data)
            self.repaint()

    def on_descendant_focus(self, event: events.DescendantFocus) -> None:
        """Show what has the keys."""
        parts: dict[Widget, At] = {self.outline: "list", self.floor: "floor", self.form: "form"}
        at = next((parts[each] for each in event.widget.ancestors_with_self if each in parts), self.at)
        if at != self.at:
            self.at = at
            self.repaint()

    async def action_go_in(self) -> None:
        """Go to the floor of a setup, or to the form."""
        if self.at == "list" and self.desk.thing.kind == "setup":
            self.to_floor()
        elif self.desk.thing.path is not None:
            await self.to_form()

    def action_fold(self) -> None:
        """Close the kind of the thing picked."""
        node = self.outline.nodes[self.desk.thing]
        (node.parent if node.parent and node.parent.data else node).collapse()

    def to_list(self) -> None:
        """Give the keys to the list."""
        self.at = "list"
        self._show_parts()
        self.outline.focus()

    def to_floor(self) -> None:
        """Give the keys to the floor."""
        self.at = "floor"
        self._show_parts()
        self.floor.focus()

    async def to_form(self, *paths: Path) -> None:
        """Give the keys to the form, at the first of these keys that it has."""
        self.at = "form"
        self._show_parts()
        await self.form.make()
        self.form.focus_field(*paths)

    def action_back(self) -> None:
        """Back: from the form to the floor, from what is held to the floor, from the floor to the list, to the set."""
        if self.at == "form":
            if self.form.row is not None:
                self.form.row.restore()
            self.show_sight()
            if self.desk.thing.kind == "setup":
                self.to_floor()
            else:
                self.to_list()
        elif self.at == "floor" and self.part is not None:
            self.floor.pick(self.part if self.floor.held else None)
            self.repaint()
        elif self.at == "floor":
            self.to_list()
        else:
            self.app.pop_screen()

    def action_leave_plan(self) -> None:
        """Back to the set."""
        self.app.pop_screen()

    def action_more(self) -> None:
        """Show every key of the form, or only those that are set."""
        self.form.more = not self.form.more
        self.show_form()

    def on_key(self, event: events.Key) -> None:
        """Keep letters out of the commands while a form is made anew."""
        if self.at == "form" and event.is_printable:
            event.stop()

    def on_plan_form_more(self) -> None:
        self.show_form()
        self.call_after_refresh(self.form.focus_field)

    def action_look(self) -> None:
        """Show the face instead of the floor, and back."""
        self.toggle_class("-see-face")
        self._show_parts()

    # -- the floor ---------------------------------------------------------------------------

    def on_plan_floor_picked(self) -> None:
        """Show what was picked on the floor."""
        setup = next((each for each in self.desk.things if each.kind == "setup" and each.id == self.setup_id), None)
        if setup is not None and self.desk.thing != setup and self.floor.part is not None:
            self.desk.pick(setup)
        self.repaint()
