"""The plan as forms: the outline of everything in it, and the thing being edited.

A new thing of the kit or the day is a draft until every required key is there; only then is it in the files. What is
moved on the floor is tried at once and written once it rests, so that a burst of moves is one edit.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
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

Values = Mapping[Path, Any]  # of a setup's file, by path
DRAFT: Final = "draft"


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


def outline(files: Files, draft: Draft | None = None) -> list[Thing]:
    """The setups in order, those that are in none, then the day and the kit by kind; a draft first of its kind."""
    order = [name for name in table_of(files[DAY_FILE]).get("order", []) if isinstance(name, str)]
    there = setups_of(files)
    titles = {name: name for name in order if name in there}
    titles |= {name: f"unused: {name}" for name in sorted(there.keys() - titles.keys())}
    things = [Thing("setup", DAY_FILE, None, "setups", Setup)]
    things += [Thing("setup", there[name], (), title, Setup) for name, title in titles.items()]
    things.append(Thing("day", DAY_FILE, (), "the day", Day, listed=False))
    for file, cls in ((DAY_FILE, Day), (KIT_FILE, Kit)):
        for member in members(cls):
            key = member.key
            if member.shape and member.many:
                things.append(Thing(key, file, None, member.name, member.shape))
                if draft is not None and draft.key == key:
                    things.append(Thing(DRAFT, file, (key, "new"), f"new {key} (draft)", draft.shape))
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


@dataclass(frozen=True, slots=True)
class Draft:
    """A thing that is not whole yet: ``[[key]]`` of a file, and what is known of it so far."""

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
        self._moved: tuple[Change, Plan, str] | None = None  # what is tried and not written yet, and what it is
        self.things = outline(editor.texts)
        self.thing = next(thing for thing in self.things if thing.path is not None)  # what is picked

    @property
    def plan(self) -> Plan:
        """The plan, with what was moved and is not written yet."""
        return self._moved[1] if self._moved else self.editor.plan

    @property
    def texts(self) -> Files:
        """The files, with what was moved and is not written yet."""
        if self._moved is None:
            return self.editor.texts
        return {name: text for name, text in {**self.editor.texts, **self._moved[0]}.items() if text is not None}

    @property
    def units(self) -> Units:
        return self.plan.day.units

    @property
    def drafting(self) -> Draft | None:
        """The draft, where it is picked."""
        return self.draft if self.thing.kind == DRAFT else None

    def pick(self, thing: Thing) -> None:
        """Look at another thing."""
        self.thing = thing

    def refresh(self, picked: Thing | None = None) -> None:
        """Read the outline again, and pick a thing if it is there."""
        key = (picked or self.thing).key
        self.things = outline(self.texts, self.draft)
        first = next(thing for thing in self.things if thing.path is not None)
        self.thing = next((thing for thing in self.things if thing.key == key), first)

    def _apply(self, change: Change, what: str, picked: Thing | None = None) -> str:
        """Write a change and pick a thing; returns what was done. Raises NotEdited."""
        self.editor.apply(change, what)
        self.refresh(picked)
        return what

    @property
    def fields(self) -> list[Field]:
        """The form of what is picked."""
        draft = self.drafting
        if draft is None:
            return form_of(self.texts, self.thing)
        modifier = draft.table.get("modifier", BARE)
        fitting = tuple(each.id for each in self.plan.kit.accessories if modifier in each.fits)
        on = Reading(draft.file, ids_of(self.texts))
        return [
            replace(field, choices=fitting) if field.key == "accessories" else field
            for field in fields_of(draft.shape, draft.table, on, (draft.key, "new"))
        ]

    @property
    def heirs(self) -> tuple[str, ...]:
        """The setups that are like the one picked, at some remove."""
        merged, picked = merged_setups(self.texts), self.thing.id
        return tuple(name for name, each in merged.items() if picked in (setup for setup, _ in each.chain[1:]))

    # -- moved on the floor --------------------------------------------------------------------

    def _with(self, values: Values, change: Change | None = None) -> Change:
        """A change, and these values in the file of the setup picked; a value of None clears its key."""
        change = dict(change or {})
        for path, value in values.items():
            texts = {name: text for name, text in {**self.texts, **change}.items() if text is not None}
            write = edits.clear(texts, self.thing.file, path) if value is None else None
            change |= edits.put(texts, self.thing.file, path, value) if write is None else write
        return change

    def move(self, values: Values, what: str) -> None:
        """Try values in the setup picked; ``settle`` writes them. Raises NotEdited, and then nothing is moved."""
        change = {**(self._moved[0] if self._moved else {}), **self._with(values)}
        self._moved = (change, self.editor.preview(change), what)

    def settle(self) -> str:
        """Write what was moved, as one edit; returns what it was, or nothing. Raises NotEdited."""
        moved, self._moved = self._moved, None
        return self._apply(moved[0], moved[2]) if moved else ""

    # -- one value -----------------------------------------------------------------------------

    def _dial(self, field: Field) -> Dial | None:
        """The dial a power is read with: that of the head it is for."""
        kit, head = self.plan.kit, None
        if self.drafting is not None:
            head = self.drafting.table.get("head")
        elif field.path[0] == "light":
            head = field.path[1]
        elif field.path[0] == MEASURED:
            head = kit.measured[field.path[1]].head
        return kit.dials.get(str(head))

    def read(self, field: Field, text: str) -> Any:
        """A typed text as a value. Raises ValueError with what would be right."""
        return read_field(field, text, self.units, self._dial(field))

    def attempt(self, field: Field, value: Any) -> Tried:
        """What this value would come to. Raises NotEdited, and changes nothing."""
        if self.drafting is None:
            return Tried(value, self.editor.preview(self._change(field, value)), self.thing, field.path)
        draft = self.drafting.with_value(field, value)
        wrong = wrong_with(draft.shape, draft.table, field.key)
        if wrong:
            raise NotEdited(wrong)
        if draft.missing:
            return Tried(value, None, self.thing)
        change, thing = self._written(draft)
        return Tried(value, self.editor.preview(change), thing)

    def losses(self, path: Path, change: Change) -> tuple[str, ...]:
        """What setups like the one picked would lose by a change, a line a setup."""
        if self.thing.kind != "setup" or path == ("id",):
            return ()
        return edits.losses(self.texts, change, self.thing.id)

    def value_losses(self, field: Field, value: Any) -> tuple[str, ...]:
        """What setups like the one picked would lose if this value were written."""
        return () if self.drafting is not None else self.losses(field.path, self._change(field, value))

    def take(self, field: Field, value: Any) -> str:
        """Write a value, or keep it in the draft; returns what was done. Raises NotEdited."""
        if self.drafting is not None:
            self.draft = self.drafting.with_value(field, value)
            return self._finish(self.draft)
        picked = self.thing
        if field.key == "id" and picked.kind == "setup":
            picked = replace(picked, file=f"{value}.toml")
        elif field.key == "id":
            picked = replace(picked, path=(picked.kind, value))
        what = f"{self._name(field.path)}{field.label}"
        return f"saved: {self._apply(self._change(field, value), what, picked)}"

    def _change(self, field: Field, value: Any) -> Change:
        files, thing = self.texts, self.thing
        if field.key == "id" and value in (None, ""):
            raise NotEdited("the id is required; type another one")
        if field.key == "id":
            return edits.rename(files, thing.kind, thing.id, str(value))
        empty = value is None or (value in ("", []) and not field.must)
        if empty and field.must and not self._is_inherited(field):
            raise NotEdited(f"{field.label} is required; it has no default")
        if not empty or (value == [] and self._is_inherited(field)):
            return edits.put(files, field.file, field.path, value)
        if field.origin in ("own", "inherited"):
            return edits.clear(files, field.file, field.path)
        return {}

    def _is_inherited(self, field: Field) -> bool:
        """Whether a setup is like another, which may hold this for it."""
        like = self.thing.kind == "setup" and len(merged_setups(self.texts)[self.thing.id].chain) > 1
        return like and field.path != ("drop",)

    def _name(self, path: Path) -> str:
        """Whose key it is, in front of its name."""
        named = path[1:-1] if len(path) > 1 and path[0] in NAMED_BY else path[:-1]
        parts = [self.thing.title.split(" (")[0], *map(str, named)]
        return f"{' '.join(dict.fromkeys(parts))} "

    # -- drafts --------------------------------------------------------------------------------

    def _finish(self, draft: Draft) -> str:
        """Write the draft once it is whole."""
        if draft.missing:
            return ""
        change, picked = self._written(draft)
        self.draft = None
        try:
            what = self._apply(change, f"new {draft.key} {draft.name}".rstrip(), picked)
        except NotEdited:
            self.draft = draft
            raise
        return f"saved: {what}"

    def _written(self, draft: Draft) -> tuple[Change, Thing]:
        """What writes a whole draft, and what is picked then."""
        texts, picked = self.texts, replace(self.thing, kind=draft.key, path=(draft.key, draft.name))
        if draft.key == MEASURED:
            row = parse(Measured, draft.table)
            change, place = edits.with_reading(texts, self.plan.kit.measured, row)
            return change, replace(picked, path=(MEASURED, place))
        return edits.add(texts, draft.file, draft.key, draft.table), picked

    def begin(self, table: dict[str, Any] | None = None) -> None:
        """Begin a draft of the kind picked, in place of another."""
        thing = self.thing
        self.draft = Draft(thing.file, thing.kind, thing.shape, table or {})
        self.refresh(Thing(DRAFT, thing.file, (thing.kind, "new"), "", thing.shape))

    def begin_reading(self, part: Path = ()) -> None:
        """Begin a measured row, with what the thing picked, or a light of its setup, has of it."""
        thing, table = self.thing, {}
        if thing.kind in ("head", "modifier") and thing.path:
            table = {thing.kind: thing.id}
        elif thing.kind == "setup" and part[:1] == ("light",):
            setup = self.plan.setups[thing.id]
            light = plain(setup.light[part[1]]) | {"iso": setup.exposure.iso}
            table = {key: light[key] for key in READING_KEYS if light.get(key) not in ("off", None, [])}
        self.thing = next(thing for thing in self.things if thing.kind == MEASURED)
        self.begin(table)

    def drop_draft(self) -> None:
        """Forget the draft."""
        draft, self.draft = self.draft, None
        assert draft is not None
        self.refresh(Thing(draft.key, draft.file, None, "", draft.shape))

    # -- things --------------------------------------------------------------------------------

    def add_setup(self, name: str, *, like: str, copied: bool) -> str:
        """A setup after the one it starts from: like it, or a copy of its file."""
        texts = self.texts
        text = texts[f"{like}.toml"] if copied else f'like = "{like}"\n'
        picked = Thing("setup", f"{name}.toml", (), name, Setup)
        self._apply(edits.add_setup(texts, name, text, like), f"new setup {name}", picked)
        return f"saved: {name}.toml, {'a copy of' if copied else 'like'} {like}"

    def part_table(self, path: Path) -> dict[str, Any]:
        """A light or panel of the setup picked, as its file has it with what it inherits."""
        table: Any = merged_setups(self.texts)[self.thing.id].table
        return dict(next(each for each in table[path[0]] if name_of(str(path[0]), each) == path[1]))

    def _with_part(self, key: str, tables: Iterable[Mapping[str, Any]], values: Values) -> tuple[Change, Plan, Path]:
        shape = next(member.shape for member in members(Setup) if member.key == key)
        why = NotEdited("nothing that can hold it is free in this setup")
        for table in tables:
            ordered = {each.key: table[each.key] for each in members(shape) if each.key in table}
            try:
                change = self._with(values, edits.add(self.texts, self.thing.file, key, ordered))
                return change, self.editor.preview(change), (key, str(table[NAMED_BY[key]]))
            except NotEdited as wrong:
                why = wrong
        raise why

    def try_part(self, key: str, tables: Iterable[Mapping[str, Any]], values: Values) -> tuple[Plan, Path]:
        """Return the day with one more light or panel in the setup picked, as ``add_part`` adds it, and its path."""
        return self._with_part(key, tables, values)[1:]

    def add_part(
        self, key: str, tables: Iterable[Mapping[str, Any]], values: Values, finish: Callable[[Plan], Values]
    ) -> Path:
        """Add a light or panel to the setup picked: the first of these tables that the plan can be read with.

        ``values`` are written with it, then what ``finish`` returns of the plan with it. Returns the path of the part.
        Raises NotEdited.
        """
        change, plan, path = self._with_part(key, tables, values)
        self._apply(self._with(finish(plan), change), f"new {CALLED.get(key, key)} {path[1]}")
        return path

    def put(self, values: Values, what: str) -> str:
        """Write values in the setup picked. Raises NotEdited."""
        return self._apply(self._with(values), what)

    def copy(self, name: str) -> str:
        """The thing picked once more, under another id (a measured row has none)."""
        thing, texts = self.thing, self.texts
        if not thing.path or not thing.listed:
            raise NotEdited(f"there is one {thing.title} and no more")
        picked = replace(thing, path=(thing.kind, name or len(table_of(texts[thing.file])[thing.kind])))
        change = edits.copy(texts, thing.file, thing.path, name)
        return f"saved: {self._apply(change, f'copy of {thing.title}', picked)}"

    def remove(self) -> str:
        """Delete the thing picked from the files."""
        thing, place = self.thing, self.things.index(self.thing)
        if thing.kind == "setup" and thing.path is not None:
            change = edits.remove_setup(self.texts, thing.id)
        elif thing.path:
            change = edits.remove(self.texts, thing.file, thing.path)
        else:
            raise NotEdited("pick a setup or a thing of the kit")
        what = self._apply(change, f"{thing.title} deleted")
        place = min(place, len(self.things) - 1)
        self.pick(self.things[place if self.things[place].kind == thing.kind else place - 1])
        return what

    def removed(self, path: Path) -> Change:
        """What deletes a table of the setup picked: a light, a panel, a section."""
        return edits.remove(self.texts, self.thing.file, path)

    def remove_part(self, path: Path) -> str:
        """Delete a table of the setup picked."""
        return self._apply(self.removed(path), f"{self._name((*path, ''))}deleted")

    def reorder(self, by: int) -> str:
        """The thing picked one place up or down: a setup in the day, else among its kind."""
        thing, texts = self.thing, self.texts
        if thing.kind == "setup" and thing.path is not None:
            change = edits.reorder(texts, thing.id, by)
        elif thing.path and thing.listed:
            change = edits.move(texts, thing.file, thing.path, by)
        else:
            raise NotEdited("only a thing of a list can move")
        picked = thing
        if thing.kind == MEASURED and thing.path:
            picked = replace(thing, path=(MEASURED, thing.path[1] + by))
        return self._apply(change, f"{thing.title} moved", picked)

    def reorder_part(self, path: Path, by: int) -> str:
        """A light or panel one place up or down in its setup."""
        return self._apply(edits.move(self.texts, self.thing.file, path, by), f"{path[1]} moved")

    def undo(self) -> str:
        """Put the files back as they were before the last edit."""
        what = self.editor.undo()
        self.refresh()
        return f"undone: {what}"

    def redo(self) -> str:
        """Make the edit again that was undone last."""
        what = self.editor.redo()
        self.refresh()
        return f"redone: {what}"
