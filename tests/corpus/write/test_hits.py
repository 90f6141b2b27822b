"""The page of places under each other."""

import re
from dataclasses import replace

from lxml import etree

from corpus.write.hits import hits_pages, shared_notes
from corpus.write.outlines import with_outlines
from corpus.write.rows import Place
from tests.corpus.write.boxes import boxes_of
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


def test_long_captions_stay_on_the_page_and_off_the_music() -> None:
    """Measured on outlines: within the margins; music begins below its caption, and the next place below the music."""
    words = "stretched to twice the time; third lowered (note 8); sixth note left out; "
    places = [replace(place, caption=words * 3 + "W" * 120) for place in _places() * 6]
    pages = hits_pages(places, "F4 G4 Ab4 " * 20)
    assert len(pages) > 1
    for page in pages:
        root = etree.fromstring(with_outlines(page).encode())
        boxes = list(boxes_of(root))
        texts = [box for group in root.findall("{*}g") for box in boxes_of(group)]
        assert len(texts) > 4
        assert all(box[0] >= 14.9 and box[2] <= 195.1 for box in texts)
        assert len(boxes) > len(texts)
        music = [(float(inner.get("y")), float(inner.get("height"))) for inner in root.findall("{*}svg")]
        for top, height in music:
            assert not [box for box in texts if top < box[3] and box[1] < top + height and box[1] > top + 1]
        ends = [top + height for top, height in music]
        assert ends == sorted(ends)
        assert max(ends) <= 297 - 14.9
        assert all(after[0] >= end for end, after in zip(ends, music[1:], strict=False))


def test_captions_are_told_to_their_end() -> None:
    """More than the 200 characters of a title."""
    (page,) = hits_pages([replace(_places()[0], caption="one two; " * 40 + "three")], "x")
    assert "three</text>" in page


def test_a_place_wider_than_the_page_is_made_smaller() -> None:
    """Six bars of sixteenths: within the margins."""
    dense = abc_line("|".join(["^C/_D/^C/_D/ ^C/_D/^C/_D/ ^C/_D/^C/_D/ ^C/_D/^C/_D/"] * 6) + "|]")
    (page,) = hits_pages([Place(dense, 0, 95, "dense"), *_places()], "dense")
    for inner in etree.fromstring(page.encode()).findall("{*}svg"):
        assert float(inner.get("x")) >= 14.9
        assert float(inner.get("x")) + float(inner.get("width")) <= 195.1


def test_a_long_place_goes_on_in_further_lines() -> None:
    """Fourteen bars: four lines of four, four, four and two bars; every note stands once, every line is bracketed."""
    line = abc_line("|".join(["C D E F"] * 16) + "|]")
    (page,) = hits_pages([Place(line, 4, 59, "long"), *_places()], "long")
    music = etree.fromstring(page.encode()).findall("{*}svg")[:4]
    texts = [etree.tostring(row, encoding="unicode") for row in music]
    assert [text.count('class="measure"') for text in texts] == [4, 4, 4, 2]
    assert re.findall(r'id="place0r?\d?-note-(\d+)"', "".join(texts)) == [str(number) for number in range(4, 60)]
    assert [re.findall(r'class="markLabel">([^<]+)<', text) for text in texts] == [["A"], ["(A)"], ["(A)"], ["(A)"]]
    tops = [float(row.get("y")) for row in music]
    assert tops == sorted(tops)


def test_a_note_struck_again_is_none_of_its_own() -> None:
    """C E E G G C: nothing is ringed, and the place is aligned by the first of two notes."""
    doubled = abc_line("C E E G | G c c2 |]")
    place = Place(doubled, 0, 6, "doubled", ((0, 0), (1, 2), (2, 4), (3, 6)))
    assert [place.run_start(note) for note in range(7)] == [0, 1, 1, 3, 3, 5, 5]
    (page,) = hits_pages([place], "doubled")
    assert 'class="ring"' not in page
