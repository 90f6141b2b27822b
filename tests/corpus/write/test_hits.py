"""The page of places under each other."""

import re

from lxml import etree

from corpus.write.hits import Place, hits_pages, shared_notes
from corpus.write.outlines import with_outlines
from tests.corpus.write.seed import abc_line

SAME = abc_line('"C"C2 E2 G2 c2 | "F"F8 |]', instrument="Double bass")
MOVED = abc_line('"Bb7"z4 B,2 D2 | F2 =E2 B4 |]', key="Bb", instrument="Tenor saxophone")
HEIGHTS = (60, 64, 67, 72)


def test_what_is_shared_is_told_note_by_note() -> None:
    """C E G C in B flat with an added E: four notes are shared; an octave moved alone is not (by hand)."""
    assert shared_notes(HEIGHTS, SAME, 0, 3) == ((0, 0), (1, 1), (2, 2), (3, 3))
    assert shared_notes(HEIGHTS, MOVED, 0, 4) == ((0, 0), (1, 1), (2, 2), (3, 4))
    low = abc_line("C2 E2 G,2 c2 |]")
    assert shared_notes(HEIGHTS, low, 0, 3) == ((0, 0), (1, 1), (3, 3))
    assert shared_notes(None, SAME, 0, 3) == ()


def _places() -> list[Place]:
    return [
        Place(line, 0, last, f"<b>{number}</b>", shared_notes(HEIGHTS, line, 0, last))
        for number, (line, last) in enumerate([(SAME, 3), (MOVED, 4)])
    ]


def test_shared_notes_stand_under_each_other_and_changed_ones_are_ringed() -> None:
    """The first note of both places has one place on the page; the added E, and only it, has a ring."""
    (page,) = hits_pages(_places(), "C E G C")
    root = etree.fromstring(page.encode())
    at = []
    for number, snippet in enumerate(root.findall("{*}svg")):
        head = re.search(
            rf'id="place{number}-note-0" .*?translate\((\d+),', etree.tostring(snippet, encoding="unicode"), re.DOTALL
        )
        assert head is not None
        scale = float(snippet.get("width")) / float(snippet.get("viewBox").split()[2]) / 25
        at.append(float(snippet.get("x")) + (int(head[1]) + 500) * scale)
    assert abs(at[0] - at[1]) < 0.1
    rings = [ring.getparent().get("id") for ring in root.iter("{*}ellipse") if ring.get("class") == "ring"]
    assert rings == ["place1-note-3"]


def test_captions_are_text_and_pages_have_outlines() -> None:
    """HTML in a caption stays text."""
    (page,) = hits_pages(_places(), "<i>")
    root = etree.fromstring(page.encode())
    assert [text.text for text in root.findall("{*}text")] == ["<i>", "<b>0</b>", "<b>1</b>"]
    assert not etree.fromstring(with_outlines(page).encode()).findall(".//{*}text")


def test_many_places_take_more_pages() -> None:
    """No place is lost."""
    pages = hits_pages(_places() * 10, "many")
    assert len(pages) > 1
    assert sum(page.count("<svg ") - 1 for page in pages) > 20
    assert sum(len(etree.fromstring(page.encode()).findall("{*}svg")) for page in pages) == 20
