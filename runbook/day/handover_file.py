"""The handover file: one zip archive with a whole day, checked before anything in it is used.

The zip's comment, the last bytes of the file, is the SHA-256 of everything before it, in
hexadecimal, so a truncated or changed file is detected first. ``handover.json`` names every other
member with its size and SHA-256. Members are ``plan/ID.toml``, ``journal.runlog`` and
``sheet.html``; anything else, and any path, link or duplicate, is refused.
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
_SUM_LENGTH: Final = 64  # characters of a SHA-256 in hexadecimal
_ZIP_START: Final = b"PK\x03\x04"
# what the standard library raises about malformed archives
_ZIP_ERRORS: Final = (
    zipfile.BadZipFile, zlib.error, struct_error, OSError, EOFError, ValueError, RuntimeError,
    NotImplementedError, LookupError, OverflowError,
)  # fmt: skip


class BadArchive(ValueError):
    """A file that is not a complete handover; the text says why, and what to do."""


class Member(NamedTuple):
    """One file of the archive, as listed in the manifest."""

    name: str
    size: Annotated[int, Field(ge=0)]
    sha256: Annotated[str, StringConstraints(strict=True, pattern=r"^[0-9a-f]{64}$")]


class Manifest(NamedTuple):
    """The content of ``handover.json``; ``at`` is when it was given, with the offset from UTC."""

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
    """A complete handover: its manifest, and its files by name."""

    manifest: Manifest
    files: Mapping[str, bytes]


def pack(about: About, files: Mapping[str, bytes]) -> bytes:
    """The archive as bytes. Raises BadArchive when ``unpack`` would refuse it."""
    members = [{"name": name, "size": len(data), "sha256": sha256(data).hexdigest()} for name, data in files.items()]
    manifest = {"format": FORMAT, "version": VERSION, **about._asdict(), "members": members}
    out = BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.comment = b"0" * _SUM_LENGTH
        archive.writestr(MANIFEST, json.dumps(manifest, indent=1))
        for name, data in files.items():
            archive.writestr(name, data)
    whole = out.getvalue()[:-_SUM_LENGTH]
    packed = whole + sha256(whole).hexdigest().encode()
    unpack(packed)
    return packed


def unpack(data: bytes) -> Archive:
    """Unpack and check everything in an archive, within the limits. Raises BadArchive."""
    if len(data) > FILE_MAX:
        raise BadArchive(f"it is over {FILE_MAX // 2**20} MiB; no handover is so large")
    if not data.startswith(_ZIP_START):
        raise BadArchive("it is not a handover; name a file that runbook handover wrote")
    if sha256(data[:-_SUM_LENGTH]).hexdigest().encode() != data[-_SUM_LENGTH:]:
        raise BadArchive("it is damaged, truncated, or not a handover; ask for it again")
    try:
        with zipfile.ZipFile(BytesIO(data)) as archive:
            infos = archive.infolist()
            _check(infos)
            files = {info.filename: _read(archive, info) for info in infos}
    except BadArchive:
        raise
    except _ZIP_ERRORS as problem:
        why = " ".join(str(problem).split())[:80] or type(problem).__name__
        raise BadArchive(f"it cannot be unpacked ({why}); ask for it again") from None
    manifest = _manifest(files.pop(MANIFEST))
    _compare(manifest, files)
    return Archive(manifest, files)


def _check(infos: list[zipfile.ZipInfo]) -> None:
    """Check the list of members; raise BadArchive for any that no handover has."""
    if len(infos) > _MEMBERS_MAX:
        raise BadArchive(f"it holds over {_MEMBERS_MAX} files; no handover does")
    seen: set[str] = set()
    for info in infos:
        shown = _quoted(info.filename)
        # where case makes no difference, two such names would be one file
        if info.filename.casefold() in seen:
            raise BadArchive(f"it holds {shown} twice; it was not written by runbook handover")
        seen.add(info.filename.casefold())
        kind = stat.S_IFMT(info.external_attr >> 16)
        if info.orig_filename != info.filename or not _is_known(info.filename):
            raise BadArchive(f"it holds {shown}, which no handover does; nothing was unpacked")
        if kind not in (0, stat.S_IFREG):
            raise BadArchive(f"in it {shown} is not a regular file; nothing was unpacked")
        if info.flag_bits & 0x1:
            raise BadArchive(f"in it {shown} is encrypted; ask for one that is not")
        if info.compress_type not in (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED):
            raise BadArchive(f"in it {shown} has a compression that no handover has")
        if info.file_size > _limit(info.filename):
            raise BadArchive(f"in it {shown} is too big; nothing was unpacked")
    if sum(info.file_size for info in infos) > _TOTAL_MAX:
        raise BadArchive("it is too big once unpacked; nothing was unpacked")
    needed = (MANIFEST, JOURNAL, SHEET, f"{PLAN}day.toml", f"{PLAN}kit.toml")
    lacking = [name for name in needed if name not in seen]
    if lacking:
        raise BadArchive(f"it lacks {lacking[0]}; ask for it again")


def _is_known(name: str) -> bool:
    if name in _LIMITS:
        return True
    stem = name.removeprefix(PLAN).removesuffix(".toml")
    return name == f"{PLAN}{stem}.toml" and is_id(stem)


def _limit(name: str) -> int:
    return _LIMITS.get(name, _SETUP_MAX)


def _read(archive: zipfile.ZipFile, info: zipfile.ZipInfo) -> bytes:
    """Read one member, at most up to its limit, whatever size it claims."""
    with archive.open(info) as member:
        data = member.read(_limit(info.filename) + 1)
    if len(data) != info.file_size:
        raise BadArchive(f"in it {_quoted(info.filename)} does not have the size it claims")
    return data


def _manifest(data: bytes) -> Manifest:
    try:
        content = json.loads(data)
        version = content.get("version") if isinstance(content, dict) else None
        newer = isinstance(version, int) and version > VERSION
        # a newer format may have other keys: only its version is read
        manifest = None if newer else parse_json(Manifest, data)
    except (ValidationError, ValueError, RecursionError):
        raise BadArchive(f"its {MANIFEST} cannot be read; ask for it again") from None
    if manifest is None:
        raise BadArchive(
            f"a newer program wrote it (format {version}, this one knows {VERSION}); take it with that one"
        )
    if manifest.format != FORMAT or manifest.version != VERSION:
        raise BadArchive("it is not a handover; name a file that runbook handover wrote")
    return Manifest(*manifest)


def _compare(manifest: Manifest, files: Mapping[str, bytes]) -> None:
    """Check that the files are exactly those of the manifest."""
    listed = {member.name: member for member in manifest.members}
    if len(listed) != len(manifest.members) or listed.keys() != files.keys():
        raise BadArchive(f"its files are not those its {MANIFEST} names; ask for it again")
    for name, data in files.items():
        member = listed[name]
        if len(data) != member.size or sha256(data).hexdigest() != member.sha256:
            raise BadArchive(f"in it {_quoted(name)} is not what was packed; ask for it again")


def _quoted(name: str) -> str:
    clean = "".join(char if char.isprintable() else "?" for char in name)
    return repr(clean if len(clean) <= 40 else f"{clean[:39]}…")


def plan_files(files: Mapping[str, bytes]) -> Iterator[tuple[str, bytes]]:
    """The files of the day's folder, by the name they have there."""
    for name, data in files.items():
        if name.startswith(PLAN):
            yield name.removeprefix(PLAN), data
