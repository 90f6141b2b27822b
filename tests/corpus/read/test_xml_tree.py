import io
import struct
import zipfile

import pytest

from corpus.errors import ReadingError
from corpus.read.xml_tree import LARGEST_BYTES, musicxml_root
from tests.corpus.read.musicxml_help import measure, note, score

GOOD = score(measure(note("C")))
CONTAINER = b'<container><rootfiles><rootfile full-path="inner/study.xml"/></rootfiles></container>'


def archive(members: dict[str, bytes]) -> bytes:
    """A zip of the members."""
    target = io.BytesIO()
    with zipfile.ZipFile(target, "w", zipfile.ZIP_DEFLATED) as file:
        for name, content in members.items():
            file.writestr(name, content)
    return target.getvalue()


def test_plain_file() -> None:
    """A plain file yields its root, with or without a DOCTYPE."""
    doctype = b'<!DOCTYPE score-partwise PUBLIC "-//Recordare//DTD MusicXML 4.0 Partwise//EN" "http://x.invalid/p.dtd">'
    with_doctype = GOOD.replace(b"?>", b"?>" + doctype, 1)
    assert musicxml_root(GOOD, "a.xml").tag == "score-partwise"
    assert musicxml_root(with_doctype, "a.xml").findtext("part/measure/note/pitch/step") == "C"


def test_utf_16() -> None:
    """A file in UTF-16 with a byte order mark is read."""
    data = GOOD.decode().replace("UTF-8", "UTF-16").encode("utf-16")
    assert musicxml_root(data, "a.xml").tag == "score-partwise"


def test_namespaces_are_dropped() -> None:
    """Tags lose a namespace, so that later stages need not know it."""
    data = GOOD.replace(b"<score-partwise", b'<score-partwise xmlns="urn:scores"')
    assert musicxml_root(data, "a.xml").find("part/measure/note") is not None


def test_timewise_becomes_partwise() -> None:
    """Measures that hold parts become parts that hold measures, in order."""
    data = b"""<score-timewise><part-list/>
    <measure number="1"><part id="A"><note/></part><part id="B"/></measure>
    <measure number="2"><part id="A"/><part id="B"><note/><note/></part></measure></score-timewise>"""
    root = musicxml_root(data, "a.xml")
    parts = {part.get("id"): part for part in root.findall("part")}
    assert [measure.get("number") for measure in parts["A"].findall("measure")] == ["1", "2"]
    assert [len(measure) for measure in parts["B"].findall("measure")] == [0, 2]


def test_zip_with_container() -> None:
    """A compressed file opens the member that its container names."""
    data = archive({"other.xml": b"<x/>", "META-INF/container.xml": CONTAINER, "inner/study.xml": GOOD})
    assert musicxml_root(data, "a.mxl").tag == "score-partwise"


def test_zip_without_container() -> None:
    """Without a container the first score by its ending counts."""
    assert musicxml_root(archive({"readme.txt": b"x", "s.musicxml": GOOD}), "a.mxl").tag == "score-partwise"


@pytest.mark.parametrize(
    ("data", "message"),
    [
        (b"", "empty"),
        (b" \n\0", "empty"),
        (b"%PDF-1.7 \xff\xfe", "PDF"),
        (b"MThd\0\0\0\6", "MIDI"),
        (b"\x1f\x8b\x08\0", "gzip"),
        (b"\x89PNG\r\n", "picture"),
        (b"<!DOCTYPE html><html><body><p>x<br></body></html>", "HTML"),
        (b"<html><body>x</body></html>", "root element <html>"),
        (b"<svg xmlns='http://www.w3.org/2000/svg'/>", r"root element <svg>"),
        (b"<score-partwise><part>", "damaged or cut off"),
        (b"X:1\nK:C\nCDEF|", "not XML at all"),
        (b'<?xml version="1.0" encoding="no-such-code"?><score-partwise/>', "damaged"),
        (GOOD[: len(GOOD) // 2], "damaged or cut off"),
    ],
)
def test_other_files_are_refused(data: bytes, message: str) -> None:
    """What is no MusicXML is refused by name of the file, and by name of what it is instead."""
    with pytest.raises(ReadingError, match=message) as caught:
        musicxml_root(data, "tune.xml")
    assert "tune.xml" in str(caught.value)
    assert len(str(caught.value)) < 300


def test_entity_bomb_is_refused() -> None:
    """Entities that multiply are refused before they grow."""
    entities = "".join(f'<!ENTITY e{n} "{f"&e{n - 1};" * 10}">' for n in range(1, 10))
    data = f'<!DOCTYPE score-partwise [<!ENTITY e0 "x">{entities}]><score-partwise>&e9;</score-partwise>'
    with pytest.raises(ReadingError, match="refused for safety"):
        musicxml_root(data.encode(), "a.xml")


def test_external_entity_is_refused() -> None:
    """A file that wants to read another one is refused."""
    data = b'<!DOCTYPE score-partwise [<!ENTITY x SYSTEM "file:///secret.txt">]><score-partwise>&x;</score-partwise>'
    with pytest.raises(ReadingError, match="refused for safety"):
        musicxml_root(data, "a.xml")


@pytest.mark.parametrize("path", ["../evil.xml", "/evil.xml", "a/../../evil.xml", "..\\evil.xml", "C:\\evil.xml"])
def test_members_that_leave_the_archive_are_refused(path: str) -> None:
    """A member with a path outside the archive spoils the whole file."""
    with pytest.raises(ReadingError, match="leaves the archive"):
        musicxml_root(archive({"s.xml": GOOD, path: b"x"}), "a.mxl")


def test_truncated_zip() -> None:
    """Every truncation of a zip is refused as damaged."""
    data = archive({"META-INF/container.xml": CONTAINER, "inner/study.xml": GOOD})
    for length in range(4, len(data) - 1, 37):
        with pytest.raises(ReadingError, match="damaged"):
            musicxml_root(data[:length], "a.mxl")


def test_damaged_member() -> None:
    """A member whose bytes do not match its checksum is refused as damaged."""
    data = bytearray(archive({"s.xml": GOOD}))
    data[60:80] = bytes(20)
    with pytest.raises(ReadingError, match="damaged"):
        musicxml_root(bytes(data), "a.mxl")


def test_encrypted_zip() -> None:
    """An encrypted member is refused with the cure."""
    data = bytearray(archive({"s.xml": GOOD}))
    for signature, place in ((b"PK\3\4", 6), (b"PK\1\2", 8)):
        at = data.index(signature) + place
        data[at : at + 2] = struct.pack("<H", 1)
    with pytest.raises(ReadingError, match="encrypted"):
        musicxml_root(bytes(data), "a.mxl")


def test_zip_bomb() -> None:
    """A member that unpacks to 200 MB is refused after 64."""
    target = io.BytesIO()
    with zipfile.ZipFile(target, "w", zipfile.ZIP_DEFLATED) as file, file.open("s.xml", "w") as member:
        for _ in range(200):
            member.write(bytes(1_000_000))
    with pytest.raises(ReadingError, match="more than 64 MiB"):
        musicxml_root(target.getvalue(), "a.mxl")


def test_too_many_members() -> None:
    """An archive of more than a thousand files is not one score."""
    with pytest.raises(ReadingError, match="1001 files"):
        musicxml_root(archive({f"{n}.xml": b"" for n in range(1001)}), "a.mxl")


@pytest.mark.parametrize(
    ("members", "message"),
    [
        ({"readme.txt": b"x"}, "without a MusicXML score"),
        ({"META-INF/container.xml": CONTAINER}, "does not hold"),
        ({"s.xml": b""}, "empty"),
        ({"s.xml": b"%PDF-1"}, "PDF"),
    ],
)
def test_zip_without_a_score(members: dict[str, bytes], message: str) -> None:
    """A zip without a usable score says what is missing."""
    with pytest.raises(ReadingError, match=message):
        musicxml_root(archive(members), "a.mxl")


def test_too_large() -> None:
    """A plain file beyond the limit is refused unread."""
    with pytest.raises(ReadingError, match="larger than 64 MiB"):
        musicxml_root(b"<" * (LARGEST_BYTES + 1), "a.xml")


def test_deep_nesting() -> None:
    """A hundred thousand levels neither crash nor hang."""
    depth = 100_000
    data = b"<score-partwise>" + b"<a>" * depth + b"</a>" * depth + b"</score-partwise>"
    assert musicxml_root(data, "a.xml").tag == "score-partwise"
