"""A handover file is whole or refused: nothing it can be made to say is believed unchecked."""

import io
import json
import stat
import zipfile
from collections.abc import Callable
from hashlib import sha256

import pytest
from hypothesis import given
from hypothesis import strategies as st

from runbook.day import handover_file
from runbook.day.handover_file import About, BadArchive, pack, plan_files, unpack

ABOUT = About("0.1", "A day", "a-day", "photo", "Kim", "2026-12-04T15:00:00+01:00")
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
    said = json.loads(members[0][1])
    said["members"].append({"name": name, "size": len(data), "sha256": sha256(data).hexdigest()})
    members[0] = (members[0][0], json.dumps(said).encode())
    info = zipfile.ZipInfo(name)
    info.external_attr, info.compress_type = mode << 16, zipfile.ZIP_DEFLATED
    return rezipped([*members, (info, data)])


def with_manifest(change: Callable[[dict[str, object]], object]) -> bytes:
    members = opened(pack(ABOUT, FILES))
    said = json.loads(members[0][1])
    change(said)
    return rezipped([(members[0][0], json.dumps(said).encode()), *members[1:]])


def refused(raw: bytes) -> str:
    with pytest.raises(BadArchive) as caught:
        unpack(raw)
    said = str(caught.value)
    assert "\n" not in said
    assert said.isprintable()
    return said


def test_what_is_packed_comes_out_again() -> None:
    found = unpack(pack(ABOUT, FILES))
    assert found.files == FILES
    assert found.manifest[2:8] == ABOUT
    assert dict(plan_files(found.files)).keys() == {"day.toml", "kit.toml", "one.toml"}


def test_it_is_a_plain_zip_that_says_its_own_checksum() -> None:
    raw = pack(ABOUT, FILES)
    with zipfile.ZipFile(io.BytesIO(raw)) as made:
        assert made.testzip() is None
        assert made.comment == sha256(raw[:-64]).hexdigest().encode()


@given(st.data())
def test_a_byte_changed_anywhere_is_found(data: st.DataObject) -> None:
    raw = bytearray(pack(ABOUT, FILES))
    at = data.draw(st.integers(0, len(raw) - 1))
    raw[at] ^= data.draw(st.integers(1, 255))
    refused(bytes(raw))


@given(st.data())
def test_cut_short_or_added_to_it_is_refused(data: st.DataObject) -> None:
    raw = pack(ABOUT, FILES)
    cut = data.draw(st.integers(0, len(raw) - 1))
    refused(raw[:cut])
    refused(raw + data.draw(st.binary(min_size=1, max_size=70)))


@given(st.data())
def test_changed_and_sealed_again_it_is_whole_or_refused(data: st.DataObject) -> None:
    """Whatever a byte changed inside does, only the same files ever come out."""
    raw = bytearray(pack(ABOUT, FILES))
    for _ in range(data.draw(st.integers(1, 4))):
        raw[data.draw(st.integers(0, len(raw) - 65))] ^= data.draw(st.integers(1, 255))
    try:
        found = unpack(resealed(bytes(raw)))
    except BadArchive as why:
        assert "\n" not in str(why)
    else:
        assert found.files == FILES


@pytest.mark.parametrize(
    "name",
    [
        "../out.toml", "plan/../../out.toml", "/etc/out.toml", "plan/a/b.toml", "plan\\x.toml",
        "C:\\x.toml", "plan/", "plan/.toml", "plan/.hidden.toml", "plan/x.txt", "run.sh", "",
        "plan/naïve.toml", "plan/" + "x" * 25 + ".toml", "plan/x.toml/", "journal.runlog-journal",
        "plan/\u202egnp.toml", "./plan/x.toml", "plan//x.toml",
    ],
)  # fmt: skip
def test_a_name_that_is_not_one_of_ours_is_refused(name: str) -> None:
    assert "which no handover does" in refused(with_member(name))


def test_a_name_with_a_nul_in_it_is_refused() -> None:
    """zipfile cuts a name at its NUL: what is seen would not be what is there."""
    raw = with_member("plan/xxAevil.toml")
    refused(resealed(raw.replace(b"plan/xxAevil.toml", b"plan/xx\0evil.toml")))


@pytest.mark.parametrize("kind", [stat.S_IFLNK, stat.S_IFDIR, stat.S_IFIFO, stat.S_IFCHR])
def test_what_is_no_plain_file_is_refused(kind: int) -> None:
    assert "not a regular file" in refused(with_member("plan/x.toml", b"/etc/passwd", kind | 0o777))


@pytest.mark.parametrize("name", ["plan/one.toml", "plan/ONE.toml", "plan/Day.toml"])
@pytest.mark.filterwarnings("ignore:Duplicate name")
def test_a_name_twice_is_refused_also_where_case_makes_none(name: str) -> None:
    assert "twice" in refused(with_member(name))


def test_an_encrypted_member_is_refused() -> None:
    members = opened(pack(ABOUT, FILES))
    raw = bytearray(rezipped(members))
    central = raw.index(b"PK\x01\x02")
    raw[central + 8] |= 1
    assert "encrypted" in refused(resealed(bytes(raw)))


def test_another_packing_is_refused() -> None:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_BZIP2) as made:
        made.comment = b"0" * 64
        for info, data in opened(pack(ABOUT, FILES)):
            made.writestr(info.filename, data)
    assert "has a compression" in refused(resealed(out.getvalue()))


def test_a_bomb_is_refused_before_it_is_unpacked(monkeypatch: pytest.MonkeyPatch) -> None:
    raw = with_member("plan/x.toml", b"\0" * (2 * 1024 * 1024))
    assert len(raw) < 20_000
    monkeypatch.setattr(handover_file, "_read", lambda *_: pytest.fail("it was read"))
    assert "too big" in refused(raw)


def test_a_member_that_lies_about_its_size_gives_no_more_than_it_says() -> None:
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
def test_what_must_be_there_is_missed(name: str) -> None:
    members = opened(pack(ABOUT, FILES))
    kept = [(info, data) for info, data in members if info.filename != name]
    assert f"it lacks {name}" in refused(rezipped(kept))


def test_a_newer_format_is_told_as_that() -> None:
    said = refused(with_manifest(lambda said: said.update(version=2, more={"x": 1})))
    assert "newer program" in said


@pytest.mark.parametrize(
    "change",
    [
        lambda said: said.update(version=0),
        lambda said: said.update(version="1"),
        lambda said: said.update(version=True),
        lambda said: said.update(format="zip"),
        lambda said: said.update(more=1),
        lambda said: said.pop("giver"),
        lambda said: said["members"].pop(),
        lambda said: said["members"].append(said["members"][0]),
        lambda said: said["members"][0].update(size=3),
        lambda said: said["members"][0].update(size=-1),
        lambda said: said["members"][0].update(sha256="0" * 64),
        lambda said: said["members"][0].update(name="plan/other.toml"),
    ],
)
def test_a_manifest_that_is_not_right_is_refused(change: Callable[[dict[str, object]], object]) -> None:
    refused(with_manifest(change))


@pytest.mark.parametrize("text", [b"", b"[]", b"null", b"{", b"[" * 100_000, b'{"version": 1e999}'])
def test_a_manifest_that_is_no_manifest_is_refused(text: bytes) -> None:
    members = opened(pack(ABOUT, FILES))
    refused(rezipped([(members[0][0], text), *members[1:]]))


@pytest.mark.parametrize("raw", [b"", b"PK", b"PK\x03\x04", b"x" * 500, b"PK\x05\x06" + b"\0" * 18])
def test_what_is_no_handover_at_all_is_refused(raw: bytes) -> None:
    refused(raw)
    refused(resealed(raw + b"0" * 64))


def test_what_would_be_refused_is_not_packed() -> None:
    with pytest.raises(BadArchive):
        pack(ABOUT, FILES | {"plan/no id.toml": b""})
    with pytest.raises(BadArchive):
        pack(ABOUT, {})
