"""A handover file is complete or refused, whatever somebody makes of it."""

import io
import json
import stat
import zipfile
from collections.abc import Callable
from dataclasses import asdict, replace
from functools import partial
from hashlib import sha256
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from runbook.day import handover_file
from runbook.day.handover_file import BadArchive, Manifest, pack, unpack

ABOUT = Manifest("0.1", "A day", "a-day", "photo", "Kim", "2026-12-04T15:00:00+01:00")
FILES = {
    "plan/day.toml": b"name = 'A day'\n" * 20, "plan/kit.toml": b"", "plan/one.toml": b"title = 'x'",
    "journal.runlog": bytes(range(256)) * 30, "sheet.html": b"<p>",
}  # fmt: skip


def resealed(raw: bytes) -> bytes:
    """Bytes with the checksum of the whole put right, as somebody who knows the format could."""
    return raw[:-64] + sha256(raw[:-64]).hexdigest().encode()


def built(
    name: str | None = None,
    data: bytes = b"x",
    change: Callable[[dict[str, Any]], object] = lambda _: None,
    *,
    mode: int = 0,
    compression: int = zipfile.ZIP_DEFLATED,
    manifest: bytes | None = None,
    without: str | None = None,
) -> bytes:
    """A sealed archive: with one more member by ``name``, its manifest changed, other members, or one left out."""
    members = [*FILES.items(), *([] if name is None else [(name, data)])]
    listed = [{"name": name, "size": len(data), "sha256": sha256(data).hexdigest()} for name, data in members]
    content = asdict(ABOUT) | {"members": listed}
    change(content)
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as archive:
        archive.comment = b"0" * 64
        for file, text in (("handover.json", manifest or json.dumps(content).encode()), *members):
            info = zipfile.ZipInfo(file)
            info.external_attr, info.compress_type = mode << 16, compression
            if file != without:
                archive.writestr(info, text)
    return resealed(out.getvalue())


def refused(raw: bytes) -> str:
    with pytest.raises(BadArchive) as caught:
        unpack(raw)
    text = str(caught.value)
    assert text.isprintable()
    return text


def test_a_plain_zip_with_its_checksum_gives_back_what_was_packed() -> None:
    raw = pack(ABOUT, FILES)
    archive = unpack(raw)
    assert archive.files == FILES
    assert replace(archive.manifest, members=()) == ABOUT
    assert archive.plan_files.keys() == {"day.toml", "kit.toml", "one.toml"}
    with zipfile.ZipFile(io.BytesIO(raw)) as made:
        assert made.testzip() is None
        assert made.comment == sha256(raw[:-64]).hexdigest().encode()


@given(st.data())
def test_a_byte_changed_cut_off_or_added_is_detected(data: st.DataObject) -> None:
    raw = pack(ABOUT, FILES)
    at = data.draw(st.integers(0, len(raw) - 1))
    changed = bytearray(raw)
    changed[at] ^= data.draw(st.integers(1, 255))
    refused(bytes(changed))
    refused(raw[:at])
    refused(raw + data.draw(st.binary(min_size=1, max_size=70)))


@given(st.data())
def test_one_changed_and_resealed_is_whole_or_refused(data: st.DataObject) -> None:
    """Whatever a byte changed inside does, only the same files ever come out."""
    raw = bytearray(pack(ABOUT, FILES))
    for _ in range(data.draw(st.integers(1, 4))):
        raw[data.draw(st.integers(0, len(raw) - 65))] ^= data.draw(st.integers(1, 255))
    try:
        archive = unpack(resealed(bytes(raw)))
    except BadArchive as why:
        assert "\n" not in str(why)
    else:
        assert archive.files == FILES


def with_bytes(raw: bytes, at: int, new: bytes) -> bytes:
    return resealed(raw[:at] + new + raw[at + len(new) :])


def with_nul() -> bytes:
    """zipfile cuts a name at its NUL: what is seen would not be what is there."""
    return resealed(built("plan/xx.tomlAevil").replace(b"plan/xx.tomlAevil", b"plan/xx.toml\0evil"))


def encrypted() -> bytes:
    return with_bytes(built(), built().index(b"PK\x01\x02") + 8, b"\x01")


def with_members(change: Callable[[list[Any]], object]) -> Callable[[], bytes]:
    return partial(built, change=lambda content: change(content["members"]))


UNKNOWN = (
    "../out.toml", "plan/../../out.toml", "/etc/out.toml", "plan/a/b.toml", "plan\\x.toml", "C:\\x.toml", "plan/",
    "plan/.toml", "plan/.hidden.toml", "plan/x.txt", "run.sh", "", "plan/naïve.toml", "plan/" + "x" * 25 + ".toml",
    "plan/x.toml/", "plan/\u202egnp.toml", "./plan/x.toml", "plan//x.toml",
)  # fmt: skip
NEEDED = ("handover.json", "plan/day.toml", "plan/kit.toml", "journal.runlog", "sheet.html")
NO_MANIFEST = (b" ", b"[]", b"null", b"{", b"[" * 100_000, b'{"version": 1e999}')
KINDS = (stat.S_IFLNK, stat.S_IFDIR, stat.S_IFIFO, stat.S_IFCHR)
REFUSED: list[tuple[Callable[[], bytes], str]] = [
    *((partial(built, name), "which no handover does") for name in UNKNOWN),
    (with_nul, "which no handover does"),
    *((partial(built, "plan/x.toml", mode=kind | 0o777), "not a regular file") for kind in KINDS),
    *((partial(built, name), "twice") for name in ("plan/one.toml", "plan/ONE.toml", "plan/Day.toml")),
    (encrypted, "encrypted"),
    (partial(built, compression=zipfile.ZIP_BZIP2), "a compression that no handover has"),
    *((partial(built, without=name), f"it lacks {name}") for name in NEEDED),
    *((partial(built, manifest=text), "") for text in NO_MANIFEST),
    *(
        (partial(built, change=lambda content, more=more: content.update(more)), why)
        for more, why in (
            ({"version": 0}, "not a handover"), ({"version": "1"}, "not a handover"), ({"format": "zip"}, "not a"),
            ({"version": True}, "cannot be read"), ({"more": 1}, "cannot be read"), ({"giver": None}, "cannot be read"),
            ({"version": 2, "more": {"x": 1}}, "newer program"),
        )
    ),
    (with_members(lambda members: members.pop()), "not those"),
    (with_members(lambda members: members.append(members[0])), "not those"),
    (with_members(lambda members: members[0].update(size=3)), "not those"),
    (with_members(lambda members: members[0].update(sha256="0" * 64)), "not those"),
    (with_members(lambda members: members[0].update(name="plan/other.toml")), "not those"),
]  # fmt: skip


@pytest.mark.parametrize(("make", "why"), REFUSED)
@pytest.mark.filterwarnings("ignore:Duplicate name")
def test_what_no_handover_holds_is_refused_with_the_reason(make: Callable[[], bytes], why: str) -> None:
    assert why in refused(make())


def test_a_bomb_is_refused_before_it_is_unpacked(monkeypatch: pytest.MonkeyPatch) -> None:
    raw = built("plan/x.toml", b"\0" * (2 * 1024 * 1024))
    assert len(raw) < 20_000
    refused(with_bytes(raw, raw.rindex(b"PK\x01\x02") + 24, (10).to_bytes(4, "little")))  # listed as ten bytes
    monkeypatch.setattr(handover_file, "_read", lambda *_: pytest.fail("it was read"))
    assert "too big" in refused(raw)


@pytest.mark.parametrize(("limit", "value", "text"), [
    ("_TOTAL_MAX", 100, "too big once unpacked"),
    ("_MEMBERS_MAX", 3, "over 3 files"),
    ("FILE_MAX", 10, "no handover is that large"),
])  # fmt: skip
def test_too_many_and_too_much_are_refused(limit: str, value: int, text: str, monkeypatch: pytest.MonkeyPatch) -> None:
    raw = built()
    monkeypatch.setattr(handover_file, limit, value)
    assert text in refused(raw)


def test_another_file_is_refused() -> None:
    for raw in (b"", b"PK", b"PK\x03\x04", b"x" * 500, b"PK\x05\x06" + b"\0" * 18):
        refused(raw)
        refused(resealed(raw + b"0" * 64))


def test_files_that_would_be_refused_are_not_packed() -> None:
    for files in (FILES | {"plan/no id.toml": b""}, {}):
        with pytest.raises(BadArchive):
            pack(ABOUT, files)


def test_small_pictures_of_selects_go_along_and_no_other_picture() -> None:
    files = unpack(built()).files | {"select-keeper-window-12.jpg": b"a picture"}
    archive = unpack(pack(unpack(built()).manifest, files))
    assert archive.selects == {"select-keeper-window-12.jpg": b"a picture"}
    for name in ("frame.jpg", "select-x-1.exe", "select-../x-1.jpg", f"select-{'x' * 25}-1.jpg"):
        with pytest.raises(BadArchive, match="which no handover does"):
            pack(archive.manifest, files | {name: b"a picture"})
