"""A handover file is complete or refused, whatever somebody makes of it."""

import io
import json
import stat
import zipfile
from collections.abc import Callable
from dataclasses import asdict, replace
from hashlib import sha256
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from runbook.day import handover_file
from runbook.day.handover_file import BadArchive, Manifest, pack, unpack

ABOUT = Manifest("0.1", "A day", "a-day", "photo", "Kim", "2026-12-04T15:00:00+01:00")
FILES = {
    "plan/day.toml": b"name = 'A day'\n" * 20,
    "plan/kit.toml": b"",
    "plan/one.toml": b"title = 'x'",
    "journal.runlog": bytes(range(256)) * 30,
    "sheet.html": b"<p>",
}


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
    archive = unpack(pack(ABOUT, FILES))
    assert archive.files == FILES
    assert replace(archive.manifest, members=()) == ABOUT
    assert archive.plan_files.keys() == {"day.toml", "kit.toml", "one.toml"}

    raw = pack(ABOUT, FILES)
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


@pytest.mark.parametrize(
    "name",
    [
        "../out.toml", "plan/../../out.toml", "/etc/out.toml", "plan/a/b.toml", "plan\\x.toml",
        "C:\\x.toml", "plan/", "plan/.toml", "plan/.hidden.toml", "plan/x.txt", "run.sh", "",
        "plan/naïve.toml", "plan/" + "x" * 25 + ".toml", "plan/x.toml/",
        "plan/\u202egnp.toml", "./plan/x.toml", "plan//x.toml",
    ],
)  # fmt: skip
def test_an_unknown_name_is_refused(name: str) -> None:
    assert "which no handover does" in refused(built(name))


def test_a_name_with_a_nul_in_it_is_refused() -> None:
    """zipfile cuts a name at its NUL: what is seen would not be what is there."""
    raw = built("plan/xxAevil.toml")
    refused(resealed(raw.replace(b"plan/xxAevil.toml", b"plan/xx\0evil.toml")))


@pytest.mark.parametrize("kind", [stat.S_IFLNK, stat.S_IFDIR, stat.S_IFIFO, stat.S_IFCHR])
def test_what_is_not_a_regular_file_is_refused(kind: int) -> None:
    assert "not a regular file" in refused(built("plan/x.toml", b"/etc/passwd", mode=kind | 0o777))


@pytest.mark.parametrize("name", ["plan/one.toml", "plan/ONE.toml", "plan/Day.toml"])
@pytest.mark.filterwarnings("ignore:Duplicate name")
def test_a_name_twice_is_refused_whatever_its_case(name: str) -> None:
    assert "twice" in refused(built(name))


def with_bytes(raw: bytes, at: int, new: bytes) -> bytes:
    return resealed(raw[:at] + new + raw[at + len(new) :])


def test_members_packed_in_other_ways_are_refused() -> None:
    raw = built()
    assert "encrypted" in refused(with_bytes(raw, raw.index(b"PK\x01\x02") + 8, b"\x01"))
    assert "a compression that no handover has" in refused(built(compression=zipfile.ZIP_BZIP2))


def test_a_bomb_is_refused_before_it_is_unpacked(monkeypatch: pytest.MonkeyPatch) -> None:
    raw = built("plan/x.toml", b"\0" * (2 * 1024 * 1024))
    assert len(raw) < 20_000
    refused(with_bytes(raw, raw.rindex(b"PK\x01\x02") + 24, (10).to_bytes(4, "little")))  # listed as ten bytes
    monkeypatch.setattr(handover_file, "_read", lambda *_: pytest.fail("it was read"))
    assert "too big" in refused(raw)


@pytest.mark.parametrize(
    ("limit", "value", "text"),
    [
        ("_TOTAL_MAX", 100, "too big once unpacked"),
        ("_MEMBERS_MAX", 3, "over 3 files"),
        ("FILE_MAX", 10, "no handover is so large"),
    ],
)
def test_too_many_and_too_much_are_refused(limit: str, value: int, text: str, monkeypatch: pytest.MonkeyPatch) -> None:
    raw = built()
    monkeypatch.setattr(handover_file, limit, value)
    assert text in refused(raw)


@pytest.mark.parametrize("name", ["handover.json", "plan/day.toml", "plan/kit.toml", "journal.runlog"])
def test_a_missing_file_is_named(name: str) -> None:
    assert f"it lacks {name}" in refused(built(without=name))


@pytest.mark.parametrize(
    "change",
    [
        lambda content: content.update(version=0),
        lambda content: content.update(version="1"),
        lambda content: content.update(version=True),
        lambda content: content.update(format="zip"),
        lambda content: content.update(more=1),
        lambda content: content.pop("giver"),
        lambda content: content["members"].pop(),
        lambda content: content["members"].append(content["members"][0]),
        lambda content: content["members"][0].update(size=3),
        lambda content: content["members"][0].update(sha256="0" * 64),
        lambda content: content["members"][0].update(name="plan/other.toml"),
    ],
)
def test_a_false_manifest_is_refused(change: Callable[[dict[str, object]], object]) -> None:
    refused(built(change=change))


def test_a_newer_format_is_named() -> None:
    assert "newer program" in refused(built(change=lambda content: content.update(version=2, more={"x": 1})))


@pytest.mark.parametrize("text", [b" ", b"[]", b"null", b"{", b"[" * 100_000, b'{"version": 1e999}'])
def test_an_unreadable_manifest_is_refused(text: bytes) -> None:
    refused(built(manifest=text))


@pytest.mark.parametrize("raw", [b"", b"PK", b"PK\x03\x04", b"x" * 500, b"PK\x05\x06" + b"\0" * 18])
def test_another_file_is_refused(raw: bytes) -> None:
    refused(raw)
    refused(resealed(raw + b"0" * 64))


def test_files_that_would_be_refused_are_not_packed() -> None:
    for files in (FILES | {"plan/no id.toml": b""}, {}):
        with pytest.raises(BadArchive):
            pack(ABOUT, files)
