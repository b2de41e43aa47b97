"""The handover file: one zip archive that holds a whole day, and trusts nothing it is given.

A handover is a plain zip, so that it can be looked into anywhere. Its comment, the last bytes of
the file, is the SHA-256 of everything before it, in hexadecimal: what was cut short or changed on
the way is known before anything in it is believed. ``handover.json`` names every other member with
its size and its SHA-256. Members are ``plan/ID.toml``, ``journal.runlog`` and ``sheet.html``;
anything else, and anything a path, a link or a second copy could do, is refused.
"""

from __future__ import annotations

import json
import stat
import zipfile
import zlib
from collections.abc import Iterator, Mapping
from hashlib import sha256
from io import BytesIO
from struct import error as struct_error
from typing import Annotated, Final, NamedTuple

from pydantic import Field, StringConstraints
from pydantic_core import ValidationError

from runbook.files.validate import parse_json
from runbook.model.fields import is_id

VERSION: Final = 1
FORMAT: Final = "runbook-handover"
SUFFIX: Final = ".handover"
MANIFEST, JOURNAL, SHEET, PLAN = "handover.json", "journal.runlog", "sheet.html", "plan/"

FILE_MAX: Final = 32 * 1024 * 1024
_MEMBERS_MAX: Final = 1000
_TOTAL_MAX: Final = 128 * 1024 * 1024
_LIMITS: Final = {MANIFEST: 1024 * 1024, JOURNAL: 64 * 1024 * 1024, SHEET: 32 * 1024 * 1024}
_SETUP_MAX: Final = 1024 * 1024
_SUM: Final = 64  # characters of a SHA-256 in hexadecimal
_ZIP: Final = b"PK\x03\x04"
# what the standard library raises about archives that are not what they say
_BROKEN: Final = (
    zipfile.BadZipFile, zlib.error, struct_error, OSError, EOFError, ValueError, RuntimeError,
    NotImplementedError, LookupError, OverflowError,
)  # fmt: skip


class BadArchive(ValueError):
    """A file that is no whole handover; the text says why, and what would be right."""


class Member(NamedTuple):
    """One file of the archive as the manifest has it."""

    name: str
    size: Annotated[int, Field(ge=0)]
    sha256: Annotated[str, StringConstraints(strict=True, pattern=r"^[0-9a-f]{64}$")]


class Manifest(NamedTuple):
    """What a handover says of itself. ``at`` is when it was given, with the offset from UTC."""

    format: str
    version: int
    program: str
    day: str
    folder: str
    giver: str
    to: str
    at: str
    members: tuple[Member, ...]


class About(NamedTuple):
    """Who hands which day to whom, and when; ``folder`` is the name the day's folder had."""

    program: str
    day: str
    folder: str
    giver: str
    to: str
    at: str


class Archive(NamedTuple):
    """A whole handover: what it says of itself, and its files by name."""

    manifest: Manifest
    files: Mapping[str, bytes]


def pack(about: About, files: Mapping[str, bytes]) -> bytes:
    """The archive as bytes. Raises BadArchive when it would be one that ``unpack`` refuses."""
    members = [{"name": name, "size": len(data), "sha256": sha256(data).hexdigest()} for name, data in files.items()]
    said = {"format": FORMAT, "version": VERSION, **about._asdict(), "members": members}
    out = BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.comment = b"0" * _SUM
        archive.writestr(MANIFEST, json.dumps(said, indent=1))
        for name, data in files.items():
            archive.writestr(name, data)
    whole = out.getvalue()[:-_SUM]
    packed = whole + sha256(whole).hexdigest().encode()
    unpack(packed)
    return packed


def unpack(data: bytes) -> Archive:
    """Everything in an archive, checked. Raises BadArchive; reads no more than the limits."""
    if len(data) > FILE_MAX:
        raise BadArchive(f"it is over {FILE_MAX // 2**20} MiB; no handover is so big")
    if not data.startswith(_ZIP):
        raise BadArchive("it is no handover; name a file that runbook handover wrote")
    if sha256(data[:-_SUM]).hexdigest().encode() != data[-_SUM:]:
        raise BadArchive("it is damaged, cut short, or no handover; ask for it again")
    try:
        with zipfile.ZipFile(BytesIO(data)) as archive:
            infos = archive.infolist()
            _check(infos)
            files = {info.filename: _read(archive, info) for info in infos}
    except BadArchive:
        raise
    except _BROKEN as problem:
        why = " ".join(str(problem).split())[:80] or type(problem).__name__
        raise BadArchive(f"it cannot be unpacked ({why}); ask for it again") from None
    manifest = _manifest(files.pop(MANIFEST))
    _compare(manifest, files)
    return Archive(manifest, files)


def _check(infos: list[zipfile.ZipInfo]) -> None:
    """Refuse, from the list alone, whatever is not one of ours."""
    if len(infos) > _MEMBERS_MAX:
        raise BadArchive(f"it holds over {_MEMBERS_MAX} files; no handover does")
    seen: set[str] = set()
    for info in infos:
        shown = _shown(info.filename)
        # where case makes no difference, two such names would be one file
        if info.filename.casefold() in seen:
            raise BadArchive(f"it holds {shown} twice; it was not written by runbook handover")
        seen.add(info.filename.casefold())
        kind = stat.S_IFMT(info.external_attr >> 16)
        if info.orig_filename != info.filename or not _is_ours(info.filename):
            raise BadArchive(f"it holds {shown}, which no handover does; nothing was unpacked")
        if kind not in (0, stat.S_IFREG):
            raise BadArchive(f"in it {shown} is no plain file; nothing was unpacked")
        if info.flag_bits & 0x1:
            raise BadArchive(f"in it {shown} is encrypted; ask for one that is not")
        if info.compress_type not in (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED):
            raise BadArchive(f"in it {shown} is packed in a way no handover is")
        if info.file_size > _limit(info.filename):
            raise BadArchive(f"in it {shown} is too big; nothing was unpacked")
    if sum(info.file_size for info in infos) > _TOTAL_MAX:
        raise BadArchive("it is too big once unpacked; nothing was unpacked")
    needed = (MANIFEST, JOURNAL, SHEET, f"{PLAN}day.toml", f"{PLAN}kit.toml")
    lacking = [name for name in needed if name not in seen]
    if lacking:
        raise BadArchive(f"it lacks {lacking[0]}; ask for it again")


def _is_ours(name: str) -> bool:
    if name in _LIMITS:
        return True
    stem = name.removeprefix(PLAN).removesuffix(".toml")
    return name == f"{PLAN}{stem}.toml" and is_id(stem)


def _limit(name: str) -> int:
    return _LIMITS.get(name, _SETUP_MAX)


def _read(archive: zipfile.ZipFile, info: zipfile.ZipInfo) -> bytes:
    """One member; a size it only claims to have cannot make us read more."""
    with archive.open(info) as member:
        data = member.read(_limit(info.filename) + 1)
    if len(data) != info.file_size:
        raise BadArchive(f"in it {_shown(info.filename)} is not as long as it says")
    return data


def _manifest(data: bytes) -> Manifest:
    try:
        found = json.loads(data)
        version = found.get("version") if isinstance(found, dict) else None
        newer = isinstance(version, int) and version > VERSION
        # a newer one may say more, and all we need of it is that it is newer
        manifest = None if newer else parse_json(Manifest, data)
    except (ValidationError, ValueError, RecursionError):
        raise BadArchive(f"its {MANIFEST} cannot be read; ask for it again") from None
    if manifest is None:
        raise BadArchive(
            f"a newer program wrote it (format {version}, this one knows {VERSION}); take it with that one"
        )
    if manifest.format != FORMAT or manifest.version != VERSION:
        raise BadArchive("it is no handover; name a file that runbook handover wrote")
    return Manifest(*manifest)


def _compare(manifest: Manifest, files: Mapping[str, bytes]) -> None:
    """Hold every file to the manifest, and the manifest to the files."""
    listed = {member.name: member for member in manifest.members}
    if len(listed) != len(manifest.members) or listed.keys() != files.keys():
        raise BadArchive(f"its files are not those its {MANIFEST} names; ask for it again")
    for name, data in files.items():
        member = listed[name]
        if len(data) != member.size or sha256(data).hexdigest() != member.sha256:
            raise BadArchive(f"in it {_shown(name)} is not what was packed; ask for it again")


def _shown(name: str) -> str:
    clean = "".join(char if char.isprintable() else "?" for char in name)
    return repr(clean if len(clean) <= 40 else f"{clean[:39]}…")


def plan_files(files: Mapping[str, bytes]) -> Iterator[tuple[str, bytes]]:
    """The files of the day's folder, by the name they have there."""
    for name, data in files.items():
        if name.startswith(PLAN):
            yield name.removeprefix(PLAN), data
