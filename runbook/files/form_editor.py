"""The plan as forms: the outline of everything in it, and the thing being edited.

A new thing is a draft until every required key is written; only then is it in the files.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any, Final

from runbook.files import editor as edits
from runbook.files.editor import Change, Editor, Files, merged_setups, setups_of, table_of
from runbook.files.errors import Path
from runbook.files.form import Field, Ids, Reading, fields_of, missing, read_field, wrong_with
from runbook.files.inherit import CALLED, NAMED_BY, Merged, name_of, place_of
from runbook.files.paths import DAY_FILE, KIT_FILE
from runbook.files.rules import HOLDER, KIT_KINDS
from runbook.files.toml_edit import NotEdited
from runbook.files.validate import members, parse, plain
from runbook.model.day import Day, Plan
from runbook.model.kit import BARE, Kit, Measured
from runbook.model.power import Dial
from runbook.model.setup import Setup
from runbook.model.units import Units


@dataclass(frozen=True, slots=True)
class Thing:
    """One entry of the outline: a file, a table of it, or (``path`` None) the name of a kind.

    ``kind`` is the key of its table; ``day`` and ``setup`` are whole files. ``listed`` is whether there may be several.
    """

    kind: str
    file: str
    path: Path | None
    title: str
    shape: type
    listed: bool = True

    @property
    def id(self) -> str:
        """A setup's id, or that of a thing of the kit or the day."""
        if self.kind == "setup":
            return self.file.removesuffix(".toml")
        return str(self.path[-1]) if self.path else ""

    @property
    def key(self) -> tuple[str, str, Path | None]:
        """What tells it from the others."""
        return self.kind, self.file, self.path


def outline(files: Files) -> list[Thing]:
    """The setups in order, those that are in none, then the day and the kit by kind."""
    order = [name for name in table_of(files[DAY_FILE]).get("order", []) if isinstance(name, str)]
    there = setups_of(files)
    titles = {name: name for name in order if name in there}
    titles |= {name: f"{name} (not in the order)" for name in sorted(there.keys() - titles.keys())}
    things = [Thing("setup", DAY_FILE, None, "setups", Setup)]
    things += [Thing("setup", there[name], (), title, Setup) for name, title in titles.items()]
    things.append(Thing("day", DAY_FILE, (), "the day", Day, listed=False))
    for file, cls in ((DAY_FILE, Day), (KIT_FILE, Kit)):
        for member in members(cls):
            key = member.key
            if member.shape and member.many:
                things.append(Thing(key, file, None, member.name, member.shape))
                for place, item in enumerate(table_of(files[file]).get(key, [])):
                    title = item.get("id") or f"{item.get('head')} {item.get('modifier', BARE)}"
                    things.append(Thing(key, file, (key, item.get("id", place)), title, member.shape))
            elif member.shape and cls is Kit:
                things.append(Thing(key, file, (key,), key, member.shape, listed=False))
    return things


def ids_of(files: Files) -> Ids:
    """The ids of everything, by kind, in the order they are written."""
    kit, day = table_of(files[KIT_FILE]), table_of(files[DAY_FILE])
    ids = {kind: _ids(kit, kind) for kind in KIT_KINDS}
    ids["modifier"] = tuple(dict.fromkeys((BARE, *ids["modifier"])))
    ids[HOLDER] = (*ids["stand"], *_ids(day, "crew"))
    return ids | {"look": _ids(day, "look"), "setup": tuple(setups_of(files))}


def _ids(table: Mapping[str, Any], kind: str) -> tuple[str, ...]:
    return tuple(item["id"] for item in table.get(kind, []))


def form_of(files: Files, thing: Thing) -> list[Field]:
    """The lines of a thing's form; none for the name of a kind."""
    if thing.path is None:
        return []
    merged: Merged | None = None
    table: Any = table_of(files[thing.file])
    if thing.kind == "setup":
        merged = merged_setups(files)[thing.id]
        table = merged.table
    place = place_of(table, thing.path)
    for part in place or ():
        table = table[part]
    if place is None:
        table = {}  # a section that is not written: all of it is as it is without
    return list(fields_of(thing.shape, table, Reading(thing.file, ids_of(files), merged), thing.path))


MEASURED: Final = "measured"
# of a measured row, in the order in which they are asked
READING_KEYS: Final = ("head", "modifier", "accessories", "power", "distance_m", "iso", "reads_f")
# what a second light, panel or hung cloth cannot share with the first
_NOT_COPIED = ("head", "panel", "cloth", "stand", "held_by", "modifier", "accessories", "through", "bags")


@dataclass(frozen=True, slots=True)
class Draft:
    """A thing that is not whole yet: ``[[key]]`` of a file, and what is written of it so far."""

    file: str
    key: str
    shape: type
    table: dict[str, Any]

    @property
    def missing(self) -> list[str]:
        return missing(self.shape, self.table)

    @property
    def name(self) -> str:
        """What it is called; a measured row has no name."""
        return str(self.table.get(NAMED_BY.get(self.key, "id"), ""))

    def with_value(self, field: Field, value: Any) -> Draft:
        """The draft with a value written, or without it where it is empty."""
        table = {key: each for key, each in self.table.items() if key != field.key}
        if value is not None and (value not in ("", []) or field.must):
            table[field.key] = value
        order = [member.key for member in members(self.shape)]
        return replace(self, table={key: table[key] for key in order if key in table})


@dataclass(frozen=True, slots=True)
class Tried:
    """A text typed into a field: its value, and the day as it would be, which only a measured row has as a draft.

    ``thing`` and ``path`` say what is edited in that day, and where.
    """

    value: Any
    plan: Plan | None
    thing: Thing
    path: Path = ()


class FormEditor:
    """A day's plan while it is looked at and edited. Things are picked by their place."""

    def __init__(self, editor: Editor) -> None:
        self.editor = editor
        self.draft: Draft | None = None
        self.things = outline(editor.texts)
        self.thing = next(thing for thing in self.things if thing.path is not None)  # what is picked

    @property
    def plan(self) -> Plan:
        return self.editor.plan

    @property
    def units(self) -> Units:
        return self.plan.day.units

    @property
    def place(self) -> int:
        """Where in the outline the thing picked is."""
        return self.things.index(self.thing)

    def pick(self, place: int) -> None:
        """Look at another thing."""
        self.thing = self.things[min(max(place, 0), len(self.things) - 1)]

    def _refresh(self, picked: Thing) -> None:
        """Read the outline again, and pick a thing if it is there."""
        self.things = outline(self.editor.texts)
        first = next(thing for thing in self.things if thing.path is not None)
        self.thing = next((thing for thing in self.things if thing.key == picked.key), first)

    def _apply(self, change: Change, what: str, picked: Thing | None = None) -> str:
        """Write a change and pick a thing; returns what was done. Raises NotEdited."""
        self.editor.apply(change, what)
        self._refresh(picked or self.thing)
        return what

    @property
    def fields(self) -> list[Field]:
        """The form of what is picked, or of the draft."""
        draft = self.draft
        if draft is None:
            return form_of(self.editor.texts, self.thing)
        merged = merged_setups(self.editor.texts).get(draft.file.removesuffix(".toml"))
        on = Reading(draft.file, ids_of(self.editor.texts), merged)
        modifier = draft.table.get("modifier", BARE)
        fitting = tuple(each.id for each in self.plan.kit.accessories if modifier in each.fits)
        return [
            replace(field, choices=fitting) if field.key == "accessories" else field
            for field in fields_of(draft.shape, draft.table, on, (draft.key, "new"))
        ]

    # -- one value -----------------------------------------------------------------------------

    def _dial(self, field: Field) -> Dial | None:
        """The dial a power is read with: that of the head it is for."""
        kit, head = self.plan.kit, None
        if self.draft is not None:
            head = self.draft.table.get("head")
        elif field.path[0] == "light":
            head = field.path[1]
        elif field.path[0] == "measured":
            head = kit.measured[field.path[1]].head
        return kit.dials.get(str(head))

    def read(self, field: Field, text: str) -> Any:
        """A typed text as a value. Raises ValueError with what would be right."""
        return read_field(field, text, self.units, self._dial(field))

    def attempt(self, field: Field, text: str) -> Tried:
        """What typing this would come to. Raises ValueError or NotEdited, and changes nothing."""
        value = self.read(field, text)
        if self.draft is None:
            return Tried(value, self.editor.preview(self._change(field, value)), self.thing, field.path)
        draft = self.draft.with_value(field, value)
        wrong = wrong_with(draft.shape, draft.table, field.key)
        if wrong:
            raise NotEdited(wrong)
        if draft.missing or draft.key != MEASURED:
            return Tried(value, None, self.thing)
        change, thing = self._written(draft)
        return Tried(value, self.editor.preview(change), thing)

    def losses(self, field: Field, value: Any) -> tuple[str, ...]:
        """What setups like this one would lose if this value were written, a line a setup.

        Of the heading of a light, panel or section: if that were deleted.
        """
        if self.draft is not None or self.thing.kind != "setup" or field.key == "id":
            return ()
        texts, whole = self.editor.texts, field.kind == "heading"
        change = edits.remove(texts, field.file, field.path) if whole else self._change(field, value)
        return edits.losses(texts, change, self.thing.id)

    def take(self, field: Field, value: Any) -> str:
        """Write a value, or keep it in the draft; returns what was done. Raises NotEdited."""
        if self.draft is not None:
            self.draft = self.draft.with_value(field, value)
            return self._finish(self.draft)
        picked = self.thing
        if field.key == "id" and picked.kind == "setup":
            picked = replace(picked, file=f"{value}.toml")
        elif field.key == "id":
            picked = replace(picked, path=(picked.kind, value))
        what = f"{self._name(field.path)}{field.label}"
        return f"saved: {self._apply(self._change(field, value), what, picked)}"

    def _change(self, field: Field, value: Any) -> Change:
        files, thing = self.editor.texts, self.thing
        if field.key == "id":
            return edits.rename(files, thing.kind, thing.id, str(value))
        empty = value is None or (value in ("", []) and not field.must)
        if not empty or (value == [] and self._is_inherited(field)):
            return edits.put(files, field.file, field.path, value)
        if field.origin in ("own", "inherited"):
            return edits.clear(files, field.file, field.path)
        return {}

    def _is_inherited(self, field: Field) -> bool:
        """Whether a setup is like another, which may hold this for it."""
        like = self.thing.kind == "setup" and len(merged_setups(self.editor.texts)[self.thing.id].chain) > 1
        return like and field.path != ("drop",)

    def clear(self, field: Field) -> str:
        """Delete a key. Raises NotEdited for one that is required."""
        if field.key == "id":
            raise NotEdited("everything has an id; enter gives it another")
        if field.must and not self._is_inherited(field):
            raise NotEdited(f"{field.label} is required; it has no default")
        return self.take(field, None)

    def _name(self, path: Path) -> str:
        """Whose key it is, in front of its name."""
        parts = [self.thing.title.split(" (")[0], *map(str, path[:-1])]
        return f"{' '.join(dict.fromkeys(parts))} "

    # -- things --------------------------------------------------------------------------------

    def _finish(self, draft: Draft) -> str:
        """Write the draft once it is whole."""
        if draft.missing:
            return f"a new {draft.key}: {len(draft.missing)} more to write before it is in the files"
        change, picked = self._written(draft)
        what = self._apply(change, f"new {CALLED.get(draft.key, draft.key)} {draft.name}".rstrip(), picked)
        self.draft = None
        return f"saved: {what}"

    def _written(self, draft: Draft) -> tuple[Change, Thing]:
        """What writes a whole draft, and what is picked then."""
        texts, picked = self.editor.texts, self.thing
        if draft.key == MEASURED:
            row = parse(Measured, draft.table)
            change, place = edits.with_reading(texts, self.plan.kit.measured, row)
            return change, replace(picked, path=(MEASURED, place))
        if picked.kind != "setup":
            picked = replace(picked, path=(draft.key, draft.name))
        return edits.add(texts, draft.file, draft.key, draft.table), picked

    def begin(self, key: str, table: dict[str, Any] | None = None) -> None:
        """Begin a draft: a thing of the kind picked, or a light or a panel of the setup picked."""
        shape = self.thing.shape
        if self.thing.kind == "setup":
            shape = next(member.shape for member in members(Setup) if member.key == key)
        self.draft = Draft(self.thing.file, key, shape, table or {})

    def begin_copy(self, path: Path) -> None:
        """Begin a light or panel like another, without what the two cannot share."""
        merged = merged_setups(self.editor.texts)[self.thing.id].table
        item = next(each for each in merged[path[0]] if name_of(path[0], each) == path[1])
        self.begin(path[0], {k: v for k, v in item.items() if k not in _NOT_COPIED})

    def begin_reading(self, at: Path = ()) -> None:
        """Begin a measured row, with what the thing picked, or the light ``at`` a path of its form, has of it."""
        thing, table = self.thing, {}
        if thing.kind in ("head", "modifier") and thing.path:
            table = {thing.kind: thing.id}
        elif thing.kind == "setup" and at[:1] == ("light",):
            setup = self.plan.setups[thing.id]
            light = plain(setup.light[at[1]]) | {"iso": setup.exposure.iso}
            table = {key: light[key] for key in READING_KEYS if light.get(key) not in ("off", None, [])}
        self.thing = next(thing for thing in self.things if thing.kind == MEASURED)
        self.begin(MEASURED, table)

    def drop_draft(self) -> None:
        """Forget the draft."""
        self.draft = None

    def add_setup(self, name: str, *, like: str, copied: bool) -> str:
        """A setup after the one it starts from: like it, or a copy of its file."""
        texts = self.editor.texts
        text = texts[f"{like}.toml"] if copied else f'like = "{like}"\n'
        picked = Thing("setup", f"{name}.toml", (), name, Setup)
        self._apply(edits.add_setup(texts, name, text, like), f"new setup {name}", picked)
        return f"saved: {name}.toml, {'a copy of' if copied else 'like'} {like}"

    def copy(self, name: str) -> str:
        """The thing picked once more, under another id (a measured row has none)."""
        thing, texts = self.thing, self.editor.texts
        if not thing.path or not thing.listed:
            raise NotEdited(f"there is one {thing.title} and no more")
        picked = replace(thing, path=(thing.kind, name or len(table_of(texts[thing.file])[thing.kind])))
        return (
            f"saved: {self._apply(edits.copy(texts, thing.file, thing.path, name), f'copy of {thing.title}', picked)}"
        )

    def remove(self) -> str:
        """Delete the thing picked from the files."""
        thing, place = self.thing, self.place
        if thing.kind == "setup" and thing.path is not None:
            change = edits.remove_setup(self.editor.texts, thing.id)
        elif thing.path:
            change = edits.remove(self.editor.texts, thing.file, thing.path)
        else:
            raise NotEdited("pick a setup or a thing of the kit")
        what = self._apply(change, f"{thing.title} deleted")
        self.pick(place if self.things[min(place, len(self.things) - 1)].path else place - 1)
        return what

    def remove_part(self, field: Field) -> str:
        """Delete a table of the form: a light, a panel, a section."""
        change = edits.remove(self.editor.texts, field.file, field.path)
        return self._apply(change, f"{self._name((*field.path, field.key))}deleted")

    def move(self, by: int) -> str:
        """The thing picked one place up or down: a setup in the day, else among its kind."""
        thing, texts = self.thing, self.editor.texts
        if thing.kind == "setup" and thing.path is not None:
            change = edits.reorder(texts, thing.id, by)
        elif thing.path and thing.listed:
            change = edits.move(texts, thing.file, thing.path, by)
        else:
            raise NotEdited("only a thing of a list can move")
        picked = thing
        if thing.kind == "measured" and thing.path:
            picked = replace(thing, path=("measured", thing.path[1] + by))
        return self._apply(change, f"{thing.title} moved", picked)

    def move_part(self, field: Field, by: int) -> str:
        """A light or panel one place up or down in its setup."""
        change = edits.move(self.editor.texts, field.file, field.path[:2], by)
        return self._apply(change, f"{field.path[1]} moved")

    def undo(self) -> str:
        """Put the files back as they were before the last edit."""
        self.draft = None
        what = self.editor.undo()
        self._refresh(self.thing)
        return f"undone: {what}"

    def redo(self) -> str:
        """Make the edit again that was undone last."""
        what = self.editor.redo()
        self._refresh(self.thing)
        return f"redone: {what}"
