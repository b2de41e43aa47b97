"""The handover file: one zip archive with a whole day, checked before anything in it is used.

The zip's comment, the last bytes of the file, is the SHA-256 of everything before it, in
hexadecimal, so a truncated or changed file is detected first. ``handover.json`` names every other
member with its size and SHA-256. Members are ``plan/ID.toml``, ``journal.runlog``, ``sheet.html`` and the small
pictures of the selects; anything else, and any path, link or duplicate, is refused.
"""

from __future__ import annotations

import json
import re
import stat
import zipfile
import zlib
from collections.abc import Mapping
from dataclasses import asdict, dataclass, replace
from hashlib import sha256
from io import BytesIO
from struct import error as struct_error
from typing import Final

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
_SELECT: Final = re.compile(r"select-[A-Za-z0-9_-]{1,24}-[0-9]{1,9}\.jpg")
_SUM_LENGTH: Final = 64  # characters of a SHA-256 in hexadecimal
_COMPRESSIONS: Final = (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED)
_ZIP_START: Final = b"PK\x03\x04"
# what the standard library raises about malformed archives
_ZIP_ERRORS: Final = (
    zipfile.BadZipFile, zlib.error, struct_error, OSError, EOFError, ValueError, RuntimeError, LookupError,
    OverflowError,
)  # fmt: skip


class BadArchive(Exception):
    """A file that is not a complete handover; the text says why, and what to do."""


@dataclass(frozen=True, slots=True)
class Member:
    """One file of the archive, as listed in the manifest."""

    name: str
    size: int
    sha256: str


@dataclass(frozen=True, slots=True)
class Manifest:
    """Who hands which day to whom, and when (with the offset from UTC): the content of ``handover.json``.

    ``folder`` is the name the day's folder had.
    """

    program: str
    day: str
    folder: str
    giver: str
    to: str
    at: str
    format: str = FORMAT
    version: int = VERSION
    members: tuple[Member, ...] = ()


@dataclass(frozen=True, slots=True)
class Archive:
    """A complete handover: its manifest, and its files by name."""

    manifest: Manifest
    files: Mapping[str, bytes]

    @property
    def plan_files(self) -> dict[str, bytes]:
        """The files of the day's folder, by the name they have there."""
        return {name.removeprefix(PLAN): data for name, data in self.files.items() if name.startswith(PLAN)}

    @property
    def selects(self) -> dict[str, bytes]:
        """The small pictures of the frames to match setups by, by the name they have beside the journal."""
        return {name: data for name, data in self.files.items() if _SELECT.fullmatch(name)}


def pack(manifest: Manifest, files: Mapping[str, bytes]) -> bytes:
    """Return the archive as bytes. Raises BadArchive when ``unpack`` would refuse it."""
    listed = json.dumps(asdict(replace(manifest, members=_members(files))), indent=1)
    out = BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.comment = b"0" * _SUM_LENGTH
        for name, data in {MANIFEST: listed.encode(), **files}.items():
            archive.writestr(name, data)
    whole = out.getvalue()[:-_SUM_LENGTH]
    packed = whole + sha256(whole).hexdigest().encode()
    unpack(packed)
    return packed


def _members(files: Mapping[str, bytes]) -> tuple[Member, ...]:
    return tuple(Member(name, len(data), sha256(data).hexdigest()) for name, data in files.items())


def unpack(data: bytes) -> Archive:
    """Unpack and check everything in an archive, within the limits. Raises BadArchive."""
    if len(data) > FILE_MAX:
        raise BadArchive(f"it is over {FILE_MAX // 2**20} MiB; no handover is that large")
    if not data.startswith(_ZIP_START):
        raise BadArchive("it is not a handover; name a file that runbook handover wrote")
    if sha256(data[:-_SUM_LENGTH]).hexdigest().encode() != data[-_SUM_LENGTH:]:
        raise BadArchive("it is damaged, truncated, or not a handover; ask for a new one")
    try:
        with zipfile.ZipFile(BytesIO(data)) as archive:
            infos = archive.infolist()
            _check(infos)
            files = {info.filename: _read(archive, info) for info in infos}
    except _ZIP_ERRORS as problem:
        why = " ".join(str(problem).split())[:80] or type(problem).__name__
        raise BadArchive(f"it cannot be unpacked ({why}); ask for a new one") from None
    manifest = _manifest(files.pop(MANIFEST))
    if len(manifest.members) != len(files) or {*manifest.members} != {*_members(files)}:
        raise BadArchive(f"its files are not those its {MANIFEST} names; ask for a new one")
    return Archive(manifest, files)


def _check(infos: list[zipfile.ZipInfo]) -> None:
    """Check the list of members; raise BadArchive for any that no handover has."""
    if len(infos) > _MEMBERS_MAX:
        raise BadArchive(f"it holds over {_MEMBERS_MAX} files; no handover does")
    seen: set[str] = set()
    for info in infos:
        name, kind = info.filename, stat.S_IFMT(info.external_attr >> 16)
        faults = {
            "twice": name.casefold() in seen,  # where case makes no difference, two such names would be one file
            "which no handover does": info.orig_filename != name or not _is_known(name),
            "which is not a regular file": kind not in (0, stat.S_IFREG),
            "which is encrypted": info.flag_bits & 0x1,
            "with a compression that no handover has": info.compress_type not in _COMPRESSIONS,
            "which is too big": info.file_size > _LIMITS.get(name, _SETUP_MAX),
        }
        for fault in (text for text, found in faults.items() if found):
            raise BadArchive(f"it holds {_quoted(name)} {fault}; nothing was unpacked")
        seen.add(name.casefold())
    if sum(info.file_size for info in infos) > _TOTAL_MAX:
        raise BadArchive("it is too big once unpacked; nothing was unpacked")
    for name in (MANIFEST, JOURNAL, SHEET, f"{PLAN}day.toml", f"{PLAN}kit.toml"):
        if name not in seen:
            raise BadArchive(f"it lacks {name}; ask for a new one")


def _is_known(name: str) -> bool:
    stem = name.removeprefix(PLAN).removesuffix(".toml")
    return name in _LIMITS or (name == f"{PLAN}{stem}.toml" and is_id(stem)) or bool(_SELECT.fullmatch(name))


def _read(archive: zipfile.ZipFile, info: zipfile.ZipInfo) -> bytes:
    """Read one member, at most one byte over the size it claims, which was checked."""
    with archive.open(info) as member:
        data = member.read(info.file_size + 1)
    if len(data) != info.file_size:
        raise BadArchive(f"it holds {_quoted(info.filename)} with another size than it claims; ask for a new one")
    return data


def _manifest(data: bytes) -> Manifest:
    """Return a manifest of this format. Of a newer one, which may have other keys, only the version is read."""
    try:
        content = json.loads(data)
        version, name = content["version"], content["format"]
        if isinstance(version, int) and version > VERSION:
            raise BadArchive(f"a newer program wrote it (format {version}, not {VERSION}); take it with that one")
        if version != VERSION or name != FORMAT:
            raise BadArchive("it is not a handover; name a file that runbook handover wrote")
        return parse_json(Manifest, data)
    except (ValueError, LookupError, TypeError, RecursionError):
        raise BadArchive(f"its {MANIFEST} cannot be read; ask for a new one") from None


def _quoted(name: str) -> str:
    clean = "".join(char if char.isprintable() else "?" for char in name)
    return repr(clean if len(clean) <= 40 else f"{clean[:39]}…")
