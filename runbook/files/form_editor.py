"""The plan as forms: the outline of everything in it, and the thing being edited.

A new thing is a draft until every required key is written; only then is it in the files.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any, Final

from runbook.files import edits
from runbook.files.children import losses
from runbook.files.editor import Editor
from runbook.files.edits import DAY, KIT, Change, Files, at, merged_setups, setups_of, table_of
from runbook.files.errors import Path
from runbook.files.form import Field, Ids, Reading, fields_of, missing, read_field, shape_of, wrong_with
from runbook.files.inherit import NAMED_BY, Merged, name_of
from runbook.files.rules import KIT_KINDS
from runbook.files.toml_edit import NotEdited
from runbook.files.validate import members
from runbook.model.day import Day, Plan
from runbook.model.kit import BARE, Kit
from runbook.model.power import Dial
from runbook.model.setup import Setup
from runbook.model.units import Units

_MANY: Final = {
    "crew": "crew", "look": "looks", "break": "breaks", "head": "heads", "modifier": "modifiers",
    "accessory": "accessories", "stand": "stands", "panel": "panels", "cloth": "cloths",
    "bag": "bags", "lens": "lenses", "measured": "measured",
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Thing:
    """One entry of the outline: a file, a table of it, or (``path`` None) the name of a kind.

    ``kind`` is the key of its table; ``day`` and ``setup`` are whole files.
    """

    kind: str
    file: str
    path: Path | None
    title: str
    shape: type

    @property
    def id(self) -> str:
        """A setup's id, or that of a thing of the kit or the day."""
        if self.kind == "setup":
            return self.file.removesuffix(".toml")
        return str(self.path[-1]) if self.path else ""


def outline(files: Files) -> list[Thing]:
    """The setups in order, those that are in none, then the day and the kit by kind."""
    order = [name for name in table_of(files[DAY]).get("order", []) if isinstance(name, str)]
    there = setups_of(files)
    names = [name for name in order if name in there]
    names += sorted(set(there) - set(order))
    things = [Thing("setup", DAY, None, "setups", Setup)]
    for name in names:
        title = name if name in order else f"{name} (not in the order)"
        things.append(Thing("setup", there[name], (), title, Setup))
    for file, cls, whole in ((DAY, Day, "day"), (KIT, Kit, "")):
        if whole:
            things.append(Thing(whole, file, (), "the day", cls))
        table = table_of(files[file])
        for member in members(cls):
            found = shape_of(member)
            if found is None:
                continue
            shape, many = found
            if not many:
                if not whole:
                    things.append(Thing(member.key, file, (member.key,), member.key, shape))
                continue
            things.append(Thing(member.key, file, None, _MANY[member.key], shape))
            for place, item in enumerate(table.get(member.key, [])):
                title = item.get("id") or f"{item.get('head')} {item.get('modifier', BARE)}"
                path = (member.key, item.get("id", place))
                things.append(Thing(member.key, file, path, title, shape))
    return things


def ids_of(files: Files) -> Ids:
    """The ids of everything, by kind, in the order they are written."""
    kit, day = table_of(files[KIT]), table_of(files[DAY])
    ids = {kind: _ids(kit, kind) for kind in KIT_KINDS}
    ids["modifier"] = tuple(dict.fromkeys((BARE, *ids["modifier"])))
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
    for part in at(table, thing.path) or ():
        table = table[part]
    if thing.path and at(table_of(files[thing.file]), thing.path) is None:
        table = {}  # a section that is not written: all of it is as it is without
    return list(fields_of(thing.shape, table, Reading(thing.file, ids_of(files), merged), thing.path))


# what a second light or panel cannot share with the first
_NOT_COPIED = ("head", "panel", "stand", "modifier", "accessories", "through", "bags")


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


@dataclass(frozen=True, slots=True)
class Tried:
    """A text typed into a field: its value, and the day as it would be; None while a draft."""

    value: Any
    plan: Plan | None


class FormEditor:
    """A day's plan while it is looked at and edited. Things are picked by their place."""

    def __init__(self, editor: Editor) -> None:
        self.editor = editor
        self.picked: Thing | None = None
        self.draft: Draft | None = None
        self.refresh()

    @property
    def plan(self) -> Plan:
        return self.editor.plan

    @property
    def units(self) -> Units:
        return self.plan.day.units

    def refresh(self) -> None:
        """Read the outline anew; what is picked stays so, if it is still there."""
        self.things = outline(self.editor.texts)
        keys = [self._key(thing) for thing in self.things]
        if self.picked is None or self._key(self.picked) not in keys:
            self.picked = next(thing for thing in self.things if thing.path is not None)
        else:
            self.picked = self.things[keys.index(self._key(self.picked))]

    @staticmethod
    def _key(thing: Thing) -> tuple[str, str, Path | None]:
        return thing.kind, thing.file, thing.path

    @property
    def thing(self) -> Thing:
        """What is picked."""
        assert self.picked is not None
        return self.picked

    @property
    def place(self) -> int:
        """Where in the outline it is."""
        return self.things.index(self.thing)

    def pick(self, place: int) -> None:
        """Look at another thing."""
        self.picked = self.things[min(max(place, 0), len(self.things) - 1)]

    @property
    def fields(self) -> list[Field]:
        """The form of what is picked, or of the draft."""
        draft = self.draft
        if draft is None:
            return form_of(self.editor.texts, self.thing)
        merged = merged_setups(self.editor.texts).get(draft.file.removesuffix(".toml"))
        on = Reading(draft.file, ids_of(self.editor.texts), merged)
        return list(fields_of(draft.shape, draft.table, on, (draft.key, "new")))

    # -- one value -----------------------------------------------------------------------------

    def dial(self, field: Field) -> Dial | None:
        """The dial a power is read with: that of the head it is for."""
        if self.draft is not None:
            return self.plan.kit.dials.get(str(self.draft.table.get("head")))
        if field.path[0] == "light":
            return self.plan.kit.dials.get(str(field.path[1]))
        if field.path[0] == "measured":
            return self.plan.kit.dials.get(self.plan.kit.measured[int(field.path[1])].head)
        return None

    def read(self, field: Field, text: str) -> Any:
        """A typed text as a value. Raises ValueError with what would be right."""
        return read_field(field, text, self.units, self.dial(field))

    def attempt(self, field: Field, text: str) -> Tried:
        """What typing this would come to. Raises ValueError or NotEdited, and changes nothing."""
        value = self.read(field, text)
        if self.draft is not None:
            wrong = wrong_with(self.draft.shape, self._drafted(field, value).table, field.key)
            if wrong:
                raise NotEdited(wrong)
            return Tried(value, None)
        return Tried(value, self.editor.preview(self._change(field, value)))

    def losses(self, field: Field, value: Any) -> tuple[str, ...]:
        """What setups like this one would lose if this value were written, a line a setup."""
        if self.draft is not None or self.thing.kind != "setup" or field.key == "id":
            return ()
        return losses(self.editor.texts, self._change(field, value), self.thing.id)

    def losses_of_part(self, field: Field) -> tuple[str, ...]:
        """What setups like this one would lose without this light, panel or section."""
        if self.draft is not None or self.thing.kind != "setup":
            return ()
        change = edits.remove(self.editor.texts, field.file, field.path)
        return losses(self.editor.texts, change, self.thing.id)

    def take(self, field: Field, value: Any) -> str:
        """Write a value, or keep it in the draft; returns what was done. Raises NotEdited."""
        if self.draft is not None:
            self.draft = self._drafted(field, value)
            return self._finish()
        said = f"{self._name(field.path)}{field.label}"
        self.editor.apply(self._change(field, value), said)
        if field.key == "id":
            old = self.thing
            path = old.path if old.kind == "setup" else (old.kind, value)
            file = f"{value}.toml" if old.kind == "setup" else old.file
            self.picked = replace(old, file=file, path=path)
        self.refresh()
        return f"written: {said}"

    def _change(self, field: Field, value: Any) -> Change:
        files, thing = self.editor.texts, self.thing
        if field.key == "id":
            return edits.rename(files, thing.kind, thing.id, str(value))
        empty = value is None or (value in ("", []) and not field.must)
        if not empty or (value == [] and self._is_inherited(field)):
            return edits.put(files, field.file, field.path, value)
        if field.origin == "own":
            return edits.clear(files, field.file, field.path)
        if field.origin == "inherited":
            raise NotEdited(f"it comes from {field.source}; write another value, or clear it there")
        return {}

    def _is_inherited(self, field: Field) -> bool:
        """Whether a setup is like another, which may say this for it."""
        return self.thing.kind == "setup" and len(self._chain()) > 1 and field.path != ("drop",)

    def _chain(self) -> tuple[Any, ...]:
        return merged_setups(self.editor.texts)[self.thing.id].chain

    def clear(self, field: Field) -> str:
        """Take a key out. Raises NotEdited for one that must be there."""
        if field.key == "id":
            raise NotEdited("everything has an id; enter gives it another")
        if field.must and not self._is_inherited(field):
            raise NotEdited(f"{field.label} must be there; it has no default")
        return self.take(field, None)

    def _name(self, path: Path) -> str:
        """Whose key it is, in front of its name."""
        parts = [self.thing.title.split(" (")[0], *map(str, path[:-1])]
        return f"{' '.join(dict.fromkeys(parts))} "

    # -- things --------------------------------------------------------------------------------

    def _drafted(self, field: Field, value: Any) -> Draft:
        assert self.draft is not None
        table = {key: each for key, each in self.draft.table.items() if key != field.key}
        if value is not None and (value not in ("", []) or field.must):
            table[field.key] = value
        order = [member.key for member in members(self.draft.shape)]
        return replace(self.draft, table={key: table[key] for key in order if key in table})

    def _finish(self) -> str:
        """Write the draft once it is whole."""
        draft = self.draft
        assert draft is not None
        if draft.missing:
            left = len(draft.missing)
            return f"a new {draft.key}: {left} more to write before it is in the files"
        name = draft.table.get(NAMED_BY.get(draft.key, "id"), "")
        said = f"new {draft.key.replace('place_', '')} {name}".rstrip()
        change = edits.add(self.editor.texts, draft.file, draft.key, draft.table)
        self.editor.apply(change, said)
        self.draft = None
        if draft.file.removesuffix(".toml") != self.thing.id or self.thing.kind != "setup":
            place = len(table_of(self.editor.texts[draft.file])[draft.key]) - 1
            self.picked = replace(self.thing, path=(draft.key, name or place))
        self.refresh()
        return f"written: {said}"

    def begin(self, key: str, table: dict[str, Any] | None = None) -> None:
        """Begin a draft: a thing of the kind picked, or a light or a panel of the setup picked."""
        thing, shape = self.thing, self.thing.shape
        if thing.kind == "setup":
            found = next(member for member in members(Setup) if member.key == key)
            shape = (shape_of(found) or (Setup, False))[0]
        self.draft = Draft(thing.file, key, shape, table or {})

    def begin_copy(self, path: Path) -> None:
        """Begin a light or panel like another, without what the two cannot share."""
        merged = merged_setups(self.editor.texts)[self.thing.id].table
        item = next(each for each in merged[path[0]] if name_of(path[0], each) == path[1])
        self.begin(path[0], {k: v for k, v in item.items() if k not in _NOT_COPIED})

    def drop_draft(self) -> None:
        """Forget the draft."""
        self.draft = None

    def add_setup(self, name: str, *, like: str, copied: bool) -> str:
        """A setup after the one it starts from: like it, or a copy of its file."""
        texts = self.editor.texts
        text = texts[f"{like}.toml"] if copied else f'like = "{like}"\n'
        self.editor.apply(edits.add_setup(texts, name, text, like), f"new setup {name}")
        self.picked = next(t for t in outline(self.editor.texts) if t.file == f"{name}.toml")
        self.refresh()
        return f"written: {name}.toml, {'a copy of' if copied else 'like'} {like}"

    def copy(self, name: str) -> str:
        """The thing picked once more, under another id (a measured row has none)."""
        thing = self.thing
        if thing.path is None or thing.kind not in _listed(thing):
            raise NotEdited(f"there is one {thing.title} and no more")
        said = f"copy of {thing.title}"
        self.editor.apply(edits.copy(self.editor.texts, thing.file, thing.path, name), said)
        last = len(table_of(self.editor.texts[thing.file])[thing.kind]) - 1
        self.picked = replace(thing, path=(thing.kind, name or last))
        self.refresh()
        return f"written: {said}"

    def remove(self) -> str:
        """Take the thing picked out of the files."""
        thing, texts, place = self.thing, self.editor.texts, self.place
        if thing.kind == "setup" and thing.path is not None:
            change = edits.remove_setup(texts, thing.id)
        elif thing.path:
            change = edits.remove(texts, thing.file, thing.path)
        else:
            raise NotEdited("pick a setup or a thing of the kit")
        self.editor.apply(change, f"{thing.title} taken out")
        self.refresh()
        self.pick(place if self.things[min(place, len(self.things) - 1)].path else place - 1)
        return f"taken out: {thing.title}"

    def remove_part(self, field: Field) -> str:
        """Take a table of the form out: a light, a panel, a section."""
        said = f"{self._name((*field.path, field.key))}taken out"
        change = edits.remove(self.editor.texts, field.file, field.path)
        self.editor.apply(change, said)
        self.refresh()
        return said

    def move(self, by: int) -> str:
        """The thing picked one place up or down: a setup in the day, else among its kind."""
        thing, texts = self.thing, self.editor.texts
        if thing.kind == "setup" and thing.path is not None:
            change = edits.reorder(texts, thing.id, by)
        elif thing.path and thing.kind in _listed(thing):
            change = edits.move(texts, thing.file, thing.path, by)
        else:
            raise NotEdited("only a thing of a list can move")
        self.editor.apply(change, f"{thing.title} moved")
        if thing.kind == "measured" and thing.path:
            self.picked = replace(thing, path=("measured", thing.path[1] + by))
        self.refresh()
        return f"moved: {thing.title}"

    def move_part(self, field: Field, by: int) -> str:
        """A light or panel one place up or down in its setup."""
        change = edits.move(self.editor.texts, field.file, field.path[:2], by)
        self.editor.apply(change, f"{field.path[1]} moved")
        self.refresh()
        return f"moved: {field.path[1]}"

    def undo(self) -> str:
        """Put the files back as they were before the last edit."""
        self.draft = None
        said = self.editor.undo()
        self.refresh()
        return f"undone: {said}"

    def redo(self) -> str:
        """Make the edit again that was undone last."""
        said = self.editor.redo()
        self.refresh()
        return f"brought back: {said}"


def _listed(thing: Thing) -> tuple[str, ...]:
    """The kinds a thing's file has lists of."""
    whole = Kit if thing.file == KIT else Day
    found = ((member.key, shape_of(member)) for member in members(whole))
    return tuple(key for key, shape in found if shape is not None and shape[1])
