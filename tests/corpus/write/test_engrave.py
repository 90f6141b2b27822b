"""Engraved pictures: what stands in the SVG, and what the pixels of a PNG show."""

import io
import re
from dataclasses import replace

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st
from lxml import etree
from pypdf import PdfReader

from corpus.errors import QueryError, SystemTroubleError
from corpus.write import outlines
from corpus.write.below import below_texts
from corpus.write.engrave import EngravingOptions, Mark, Paper, svg_pages
from corpus.write.musicxml import Page
from corpus.write.outlines import with_outlines
from corpus.write.paper import pdf_of, png_of
from tests.corpus.write.boxes import boxes_of
from tests.corpus.write.seed import abc_line, seed_lines

LINE = abc_line('"Bb7"B,2 D2 _A,2 C2 | "Ebmaj7"E8 | "F#m7b5"^F4 A4 | "C"G8 |]', key="Bb", instrument="Double bass")


def ids(svg: str) -> list[str]:
    """The ids of notes in an SVG, in order."""
    return re.findall(r'<g id="(note-\d+)" class="note', svg)


def test_every_note_is_found_by_its_number() -> None:
    """Of the whole line over all pages, each once."""
    line = seed_lines()[11]
    pages = svg_pages(line, EngravingOptions(paper="A4"))
    assert [note for page in pages for note in ids(page)] == [f"note-{i}" for i in range(len(line.notes))]


def test_a_prefix_keeps_ids_of_several_scores_apart() -> None:
    """Two scores on one page share no id of a note."""
    (svg,) = svg_pages(LINE, EngravingOptions(Page(prefix="x7-"), marks=[Mark("A", 0, 2)]))
    assert 'id="x7-note-0"' in svg
    assert 'id="x7-mark-0"' in svg


def test_marks_are_told_apart_without_colour() -> None:
    """A letter and a line style for each figure; places of one figure look alike."""
    marks = [Mark("A", 0, 1, 0), Mark("B", 2, 3, 1), Mark("A", 5, 6, 0)]
    root = etree.fromstring(svg_pages(LINE, EngravingOptions(marks=marks))[0].encode())
    spans = root.findall(".//{*}g[@class='bracketSpan']")
    letters = [span.findtext("{*}text") for span in spans]
    dashes = [span.find("{*}path").get("stroke-dasharray") for span in spans]
    assert letters == ["A", "B", "A"]
    assert dashes[0] == dashes[2] != dashes[1]


def test_a_mark_outside_the_shown_bars_is_refused() -> None:
    """Words, not a picture without it."""
    with pytest.raises(QueryError, match="outside the bars"):
        svg_pages(LINE, EngravingOptions(Page(0, 1), marks=[Mark("A", 0, 6)]))


@pytest.mark.parametrize("width", [10, 1e9])
def test_an_impossible_width_is_refused(width: float) -> None:
    """A page that holds no staff."""
    with pytest.raises(QueryError, match="holds no music"):
        svg_pages(LINE, EngravingOptions(width_mm=width))


def test_bar_numbers_of_an_excerpt_are_those_of_the_line() -> None:
    """Bars 3 and 4 say 3."""
    (svg,) = svg_pages(LINE, EngravingOptions(Page(2, 3)))
    assert re.findall(r'class="barNumber"><text[^>]*>(\d+)<', svg) == ["3"]


def test_a_title_of_script_is_text() -> None:
    """HTML in a title stays text in every picture."""
    line = replace(LINE, details=replace(LINE.details, title="<script>x</script>&", player='"><b>'))
    for options in (EngravingOptions(), EngravingOptions(paper="Letter")):
        for svg in svg_pages(line, options):
            root = etree.fromstring(svg.encode())
            assert not root.findall(".//{*}script")
            assert root.findtext("{*}title") == "<script>x</script>&"


def test_signs_in_chord_symbols_become_outlines() -> None:
    """No text is left for a font to get wrong, and the flat is the outline of the music font (SMuFL: figbassFlat)."""
    (svg,) = svg_pages(LINE, EngravingOptions(Page(below=below_texts(LINE, "roles"))))
    assert "\uea64" in svg
    root = etree.fromstring(with_outlines(svg).encode())
    assert not root.findall(".//{*}text")
    chords = root.findall(".//{*}g[@class='harm']")
    parts = [len(chord.findall(".//{*}path")) for chord in chords]
    assert parts == [3, 3, 5, 1], "B ♭ 7, E ♭ maj7, F ♯ m7 ♭ 5, C"


def test_outlines_keep_every_letter_of_a_long_text() -> None:
    """As many advances as characters: nothing is cut off (cairo leaves out the end of long texts)."""
    face = outlines._Face(size=1000)
    long, twice = outlines._outline("Il" * 40, face), outlines._outline("Il" * 80, face)
    assert twice[1] == pytest.approx(2 * long[1])
    assert twice[0].count("M") == 2 * long[0].count("M")


@settings(max_examples=25, deadline=None)
@given(st.text(max_size=40))
@example(r"\1 \A backslash")
def test_any_title_makes_a_picture(title: str) -> None:
    """Control characters, other scripts, signs of XML: an SVG that parses and has outlines."""
    line = replace(LINE, details=replace(LINE.details, title=title))
    for svg in svg_pages(line, EngravingOptions(Page(0, 0), paper="A4")):
        etree.fromstring(with_outlines(svg).encode())


def test_a_png_shows_ink_on_white_and_a_pdf_has_the_paper_it_was_made_for() -> None:
    """PNG signature and size; A4 is 210 by 297 mm, Letter 8.5 by 11 inches."""
    (svg,) = svg_pages(LINE)
    data = png_of(svg, 96)
    assert data.startswith(b"\x89PNG")
    sizes: dict[Paper, tuple[float, float]] = {"A4": (595.3, 841.9), "Letter": (612.0, 792.0)}
    for paper, size in sizes.items():
        (page,) = PdfReader(io.BytesIO(pdf_of(svg_pages(LINE, EngravingOptions(paper=paper))))).pages
        assert (float(page.mediabox.width), float(page.mediabox.height)) == pytest.approx(size, abs=0.6)


def test_a_system_without_fonts_is_told_in_words(monkeypatch: pytest.MonkeyPatch) -> None:
    """What to install, and what works without."""
    import cairocffi

    outlines._text_outline.cache_clear()
    monkeypatch.setattr(cairocffi.Context, "text_path", lambda self, text: None)
    with pytest.raises(SystemTroubleError, match="fonts-dejavu"):
        with_outlines(svg_pages(LINE)[0])


def test_degrees_and_roles_stand_below() -> None:
    """B♭ D A♭ C in B♭ under B♭7: 1 3 ♭7 and a ninth in brackets; degrees 1 3 ♭7 2 (worked out by hand)."""
    degrees, roles = below_texts(LINE, "degrees"), below_texts(LINE, "roles")
    assert [degrees[i] for i in range(4)] == ["1", "3", "♭7", "2"]
    assert [roles[i] for i in range(4)] == ["1", "3", "♭7", "(9)"]


def test_title_and_players_name_stand_apart() -> None:
    """At least half the height of the title between them, and as much between the name and the music."""
    line = replace(LINE, details=replace(LINE.details, title="Sixteen Hours", player="Odile Gray", tempo_bpm=120.0))
    (svg,) = svg_pages(line, EngravingOptions(paper="A4"))
    root = etree.fromstring(with_outlines(svg).encode())
    (head,) = (group for group in root.iter("{*}g") if group.get("class") == "pgHead")
    title, name = sorted(boxes_of(head), key=lambda box: box[1])[:2]
    music = min(box[1] for box in boxes_of(root) if box not in (title, name))
    assert name[1] - title[3] > (title[3] - title[1]) / 2
    assert music - name[3] > (title[3] - title[1]) / 2
