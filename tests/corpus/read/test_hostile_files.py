"""Files that want to reach outside themselves, or to fill the memory: refused in words, quickly, with nothing opened.

What is checked of XML follows the list of attacks in the documentation of the package defusedxml (names as there).
"""

import io
import stat
import sys
import zipfile
from collections.abc import Iterator

import pytest

from corpus.errors import ReadingError
from corpus.model import Details, Meter
from corpus.read.assemble import assemble
from corpus.read.formats import pieces_of, read_piece
from corpus.read.kern import read_kern, split_pieces
from corpus.read.repeats import MOST_PLAYED_BARS
from corpus.read.written import ReadingWishes, WrittenBar, WrittenLine, WrittenNote
from corpus.read.xml_tree import MOST_TAGS, musicxml_root
from tests.corpus.read.kern_help import kern
from tests.corpus.read.musicxml_help import measure, note, read, score
from tests.corpus.read.test_xml_tree import CONTAINER, archive

GOOD = score(measure(note("C")))
_opened: list[str] = []
_watching: list[bool] = []


def _hear(event: str, arguments: tuple[object, ...]) -> None:
    if _watching and event == "open" and not str(arguments[0]).endswith((".py", ".pyc")):
        _opened.append(str(arguments[0]))


@pytest.fixture(scope="module", autouse=True)
def _hook() -> None:
    # An audit hook hears every open of the interpreter, whoever calls it; it cannot be taken away again.
    sys.addaudithook(_hear)


@pytest.fixture
def opened() -> Iterator[list[str]]:
    """The files that are opened while a test runs, modules of Python left out."""
    musicxml_root(GOOD, "first.xml")  # what is imported late is imported now
    _opened.clear()
    _watching.append(True)
    yield _opened
    _watching.clear()


def _with_doctype(inside: str, body: str = "<part-list/>", opening: str = "score-partwise") -> bytes:
    return f"<!DOCTYPE {opening} {inside}><score-partwise>{body}</score-partwise>".encode()


@pytest.mark.parametrize(
    "data",
    [
        pytest.param(
            _with_doctype('[<!ENTITY a "x"><!ENTITY b "&a;&a;&a;&a;&a;&a;&a;&a;"><!ENTITY c "&b;&b;&b;&b;">]', "&c;"),
            id="billion laughs",
        ),
        pytest.param(_with_doctype(f'[<!ENTITY a "{"x" * 50_000}">]', "&a;" * 50_000), id="quadratic blowup"),
        pytest.param(_with_doctype('[<!ENTITY a SYSTEM "file:///etc/hostname">]', "&a;"), id="external entity"),
        pytest.param(_with_doctype('[<!ENTITY a SYSTEM "http://192.0.2.1/">]', "&a;"), id="external entity, remote"),
        pytest.param(_with_doctype('[<!ENTITY % a SYSTEM "file:///etc/hostname"> %a;]'), id="parameter entity"),
        pytest.param(_with_doctype('[<!ENTITY a PUBLIC "x" "file:///dev/zero">]'), id="entity never used"),
        pytest.param(
            _with_doctype('[<!ENTITY a SYSTEM "x" NDATA gif><!NOTATION gif SYSTEM "x">]'), id="unparsed entity"
        ),
        pytest.param(
            _with_doctype('[<!ENTITY a "x">]', "&a;").decode().encode("utf-16"),
            id="in two bytes a letter",
        ),
    ],
)
def test_entities_are_refused(data: bytes, opened: list[str]) -> None:
    """No declaration of an entity is accepted, of whatever kind; nothing is opened for it."""
    with pytest.raises(ReadingError, match="refused for safety"):
        musicxml_root(data, "a.xml")
    assert opened == []


@pytest.mark.parametrize("place", ["file:///etc/hostname", "/dev/zero", "http://192.0.2.1/score.dtd", "\\\\host\\x"])
def test_external_dtds_are_never_looked_at(place: str, opened: list[str]) -> None:
    """A DOCTYPE may name a DTD, as scores do; it is never fetched (the tests' guard would hear a connection)."""
    for kind in (f'SYSTEM "{place}"', f'PUBLIC "-//Recordare//DTD MusicXML 4.0 Partwise//EN" "{place}"'):
        assert musicxml_root(_with_doctype(kind), "a.xml").tag == "score-partwise"
    assert opened == []


def test_inclusions_and_style_sheets_are_text(opened: list[str]) -> None:
    """XInclude elements and style sheet instructions do nothing."""
    body = '<x:include xmlns:x="http://www.w3.org/2001/XInclude" href="file:///etc/hostname" parse="text"/>'
    data = b'<?xml-stylesheet href="file:///etc/hostname"?>' + f"<score-partwise>{body}</score-partwise>".encode()
    assert "".join(musicxml_root(data, "a.xml").itertext()) == ""
    assert opened == []


def test_entities_in_the_container_of_an_archive(opened: list[str]) -> None:
    """The table of contents of a compressed score is held to the same rules."""
    container = b'<!DOCTYPE c [<!ENTITY a SYSTEM "file:///etc/hostname">]><container>&a;</container>'
    with pytest.raises(ReadingError, match="refused for safety"):
        musicxml_root(archive({"META-INF/container.xml": container, "s.xml": GOOD}), "a.mxl")
    assert opened == []


@pytest.mark.parametrize("path", ["../../etc/hostname", "/etc/hostname", "..\\secret.xml", "file:///etc/hostname", ""])
def test_the_container_names_only_members(path: str, opened: list[str]) -> None:
    """What the table of contents names must lie in the archive."""
    container = CONTAINER.replace(b"inner/study.xml", path.encode())
    data = archive({"META-INF/container.xml": container, "s.xml": GOOD})
    if path:
        with pytest.raises(ReadingError, match="does not hold"):
            musicxml_root(data, "a.mxl")
    else:
        assert musicxml_root(data, "a.mxl").tag == "score-partwise"  # names nothing: the first score counts
    assert opened == []


def test_a_link_in_an_archive_is_not_followed(opened: list[str]) -> None:
    """A member that is a symbolic link is the text of its target's path, and no score."""
    target = io.BytesIO()
    with zipfile.ZipFile(target, "w") as file:
        link = zipfile.ZipInfo("s.xml")
        link.create_system = 3
        link.external_attr = (stat.S_IFLNK | 0o777) << 16
        file.writestr(link, "/etc/hostname")
    with pytest.raises(ReadingError, match="not XML at all"):
        musicxml_root(target.getvalue(), "a.mxl")
    assert opened == []


def test_an_archive_in_an_archive_is_no_score() -> None:
    """Archives are unpacked once: what lies in one is a score or nothing."""
    inner = archive({"s.xml": GOOD})
    with pytest.raises(ReadingError, match=r"s\.xml|not XML|a\.mxl"):
        musicxml_root(archive({"s.xml": inner}), "a.mxl")


def test_more_tags_than_a_score_has() -> None:
    """Twenty kilobytes that unpack to five million empty elements make no tree."""
    data = archive({"s.xml": b"<score-partwise>" + b"<a/>" * MOST_TAGS + b"</score-partwise>"})
    assert len(data) < 100_000
    with pytest.raises(ReadingError, match="5,000,000 tags"):
        musicxml_root(data, "a.mxl")


@pytest.mark.parametrize("encoding", ["cp037", "cp500", "utf-7x", "rot13", "zlib"])
def test_odd_encodings_are_refused(encoding: str) -> None:
    """Encodings that write < otherwise, or that are none, would hide tags from the count."""
    data = f'<?xml version="1.0" encoding="{encoding}"?><score-partwise/>'.encode()
    with pytest.raises(ReadingError, match="damaged"):
        musicxml_root(data, "a.xml")


def _line(bars: list[WrittenBar]) -> WrittenLine:
    return WrittenLine(Details(title="Endless"), tuple(bars))


def test_repeats_upon_repeats_are_refused() -> None:
    """A page that plays for days is refused before its notes are made, by bars and by notes."""
    notes = tuple(WrittenNote(10 * i, 10, 60, "C4") for i in range(100))
    bar = WrittenBar(1, Meter(4, 4), 40_320, notes, times=32)
    with pytest.raises(ReadingError, match="204,800 notes"):
        assemble(_line([bar] * 64))
    empty = WrittenBar(1, Meter(4, 4), 40_320, notes[:1], times=32)
    with pytest.raises(ReadingError, match="32,000 bars"):
        assemble(_line([empty] * 1_000))


def test_orders_without_end_are_broken_off() -> None:
    """A thousand names in an expansion list, or in the order of an ABC tune, of a thousand bars each."""
    order = ",".join(["A"] * 1_000)
    bars = "\n".join(f"1c\n={n}" for n in range(2, 100))
    (piece,) = split_pieces(kern(f"**kern\n*>[{order}]\n*>A\n{bars}\n*-"), "a.krn")
    assert len(read_kern(piece, ReadingWishes()).bars) <= MOST_PLAYED_BARS + 100
    tune = f"X:1\nP:{'(' * 3}A10){'10)' * 2}\nL:1/1\nM:4/4\nK:C\nP:A\n{'C|' * 100}\n"
    (piece_of_abc,) = pieces_of(tune.encode(), "a.abc")
    with pytest.raises(ReadingError, match="at most"):
        read_piece(piece_of_abc, ReadingWishes())


def test_endless_texts_are_cut() -> None:
    """A megabyte of title, part name, chord or section is two hundred characters."""
    long = "x" * 1_000_000
    head = f"<work><work-title>{long}</work-title></work>"
    harmony = f'<harmony><root><root-step>C</root-step></root><kind text="{long}">major</kind></harmony>'
    mark = f"<direction><direction-type><rehearsal>{long}</rehearsal></direction-type></direction>"
    line = read(score(measure(mark + harmony + note("C", 4, 4)), head=head))
    assert len(line.details.title) == 200
    assert [len(chord.symbol) for chord in line.bars[0].chords] == [200]
    assert len(line.bars[0].section or "") == 200
    (piece,) = split_pieces(kern(f"!!!OTL: {long}\n**kern  **chord\n*>{long}  *\n1c  C{long}\n*-  *-"), "a.krn")
    line = read_kern(piece, ReadingWishes())
    assert len(line.details.title) == 200
    assert all(len(chord.symbol) <= 200 for bar in line.bars for chord in bar.chords)
    assert len(line.bars[0].section or "") <= 200
