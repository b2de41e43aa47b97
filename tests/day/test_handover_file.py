"""A handover file is complete or refused, whatever somebody makes of it."""

import io
import json
import stat
import zipfile
from collections.abc import Callable
from dataclasses import replace
from hashlib import sha256

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


def rezipped(members: list[tuple[zipfile.ZipInfo, bytes]]) -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as made:
        made.comment = b"0" * 64
        for info, data in members:
            made.writestr(info, data)
    return resealed(out.getvalue())


def opened(raw: bytes) -> list[tuple[zipfile.ZipInfo, bytes]]:
    with zipfile.ZipFile(io.BytesIO(raw)) as made:
        return [(info, made.read(info)) for info in made.infolist()]


def with_member(name: str, data: bytes = b"x", mode: int = 0) -> bytes:
    """A whole archive with one more member, named in the manifest like the others."""
    members = opened(pack(ABOUT, FILES))
    content = json.loads(members[0][1])
    content["members"].append({"name": name, "size": len(data), "sha256": sha256(data).hexdigest()})
    members[0] = (members[0][0], json.dumps(content).encode())
    info = zipfile.ZipInfo(name)
    info.external_attr, info.compress_type = mode << 16, zipfile.ZIP_DEFLATED
    return rezipped([*members, (info, data)])


def with_manifest(change: Callable[[dict[str, object]], object]) -> bytes:
    members = opened(pack(ABOUT, FILES))
    content = json.loads(members[0][1])
    change(content)
    return rezipped([(members[0][0], json.dumps(content).encode()), *members[1:]])


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
    assert "which no handover does" in refused(with_member(name))


def test_a_name_with_a_nul_in_it_is_refused() -> None:
    """zipfile cuts a name at its NUL: what is seen would not be what is there."""
    raw = with_member("plan/xxAevil.toml")
    refused(resealed(raw.replace(b"plan/xxAevil.toml", b"plan/xx\0evil.toml")))


@pytest.mark.parametrize("kind", [stat.S_IFLNK, stat.S_IFDIR, stat.S_IFIFO, stat.S_IFCHR])
def test_what_is_not_a_regular_file_is_refused(kind: int) -> None:
    assert "not a regular file" in refused(with_member("plan/x.toml", b"/etc/passwd", kind | 0o777))


@pytest.mark.parametrize("name", ["plan/one.toml", "plan/ONE.toml", "plan/Day.toml"])
@pytest.mark.filterwarnings("ignore:Duplicate name")
def test_a_name_twice_is_refused_whatever_its_case(name: str) -> None:
    assert "twice" in refused(with_member(name))


def test_an_encrypted_member_is_refused() -> None:
    members = opened(pack(ABOUT, FILES))
    raw = bytearray(rezipped(members))
    central = raw.index(b"PK\x01\x02")
    raw[central + 8] |= 1
    assert "encrypted" in refused(resealed(bytes(raw)))


def test_another_compression_is_refused() -> None:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_BZIP2) as made:
        made.comment = b"0" * 64
        for info, data in opened(pack(ABOUT, FILES)):
            made.writestr(info.filename, data)
    assert "a compression that no handover has" in refused(resealed(out.getvalue()))


def test_a_bomb_is_refused_before_it_is_unpacked(monkeypatch: pytest.MonkeyPatch) -> None:
    raw = with_member("plan/x.toml", b"\0" * (2 * 1024 * 1024))
    assert len(raw) < 20_000
    monkeypatch.setattr(handover_file, "_read", lambda *_: pytest.fail("it was read"))
    assert "too big" in refused(raw)


def test_a_member_with_a_false_size_is_refused() -> None:
    """The list says ten bytes; two megabytes of zeros are packed."""
    raw = bytearray(with_member("plan/x.toml", b"\0" * (2 * 1024 * 1024)))
    central = raw.rindex(b"PK\x01\x02")
    raw[central + 24 : central + 28] = (10).to_bytes(4, "little")
    refused(resealed(bytes(raw)))


def test_too_many_and_too_much_are_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    raw = pack(ABOUT, FILES)
    monkeypatch.setattr(handover_file, "_TOTAL_MAX", 100)
    assert "too big once unpacked" in refused(raw)
    monkeypatch.setattr(handover_file, "_MEMBERS_MAX", 3)
    assert "over 3 files" in refused(raw)
    monkeypatch.setattr(handover_file, "FILE_MAX", 10)
    assert "no handover is so large" in refused(raw)


@pytest.mark.parametrize("name", ["handover.json", "plan/day.toml", "plan/kit.toml", "journal.runlog"])
def test_a_missing_file_is_named(name: str) -> None:
    members = opened(pack(ABOUT, FILES))
    kept = [(info, data) for info, data in members if info.filename != name]
    assert f"it lacks {name}" in refused(rezipped(kept))


def test_a_newer_format_is_named() -> None:
    assert "newer program" in refused(with_manifest(lambda content: content.update(version=2, more={"x": 1})))


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
        lambda content: content["members"][0].update(size=-1),
        lambda content: content["members"][0].update(sha256="0" * 64),
        lambda content: content["members"][0].update(name="plan/other.toml"),
    ],
)
def test_a_false_manifest_is_refused(change: Callable[[dict[str, object]], object]) -> None:
    refused(with_manifest(change))


@pytest.mark.parametrize("text", [b"", b"[]", b"null", b"{", b"[" * 100_000, b'{"version": 1e999}'])
def test_an_unreadable_manifest_is_refused(text: bytes) -> None:
    members = opened(pack(ABOUT, FILES))
    refused(rezipped([(members[0][0], text), *members[1:]]))


@pytest.mark.parametrize("raw", [b"", b"PK", b"PK\x03\x04", b"x" * 500, b"PK\x05\x06" + b"\0" * 18])
def test_another_file_is_refused(raw: bytes) -> None:
    refused(raw)
    refused(resealed(raw + b"0" * 64))


def test_files_that_would_be_refused_are_not_packed() -> None:
    with pytest.raises(BadArchive):
        pack(ABOUT, FILES | {"plan/no id.toml": b""})
    with pytest.raises(BadArchive):
        pack(ABOUT, {})
