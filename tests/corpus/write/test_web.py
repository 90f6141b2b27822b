"""Pictures for web pages: lean, with shared glyphs, chord symbols clear of brackets."""

import re

import pytest
from lxml import etree

from corpus.read.formats import pieces_of, read_piece
from corpus.read.written import ReadingWishes
from corpus.write.engrave import EngravingOptions, Mark, svg_pages
from corpus.write.musicxml import Page
from corpus.write.web import glyph_sheet, web_notation, with_chords_clear

_STUDY = """%abc-2.1
X:1
T:Ladder & Rope
M:4/4
L:1/4
K:Bb
"Bb7"B, D F c' | "Eb7"b g e d | "Bb7"B D F A | "F7"c A F E |
"Bb7"B D F A | "F7"c A F E | "Bb6"B4 | "F7"z4 |]
"""

_PICTURE = """<g class="page-margin" transform="translate(500, 100)">
<g id="h1" class="harm"><text x="1000" y="{symbol}" font-size="0px"><tspan font-size="360px">Gm7</tspan></text></g>
<g id="mark-0" class="bracketSpan" color="#0072B2" fill="#0072B2"><path d="M{left} 500 L4000 500" /></g></g>"""


@pytest.mark.parametrize(("symbol", "left", "raised"), [(560, 900, True), (100, 900, False), (560, 3000, False)])
def test_chords_are_raised_above_brackets_they_cross(symbol: int, left: int, raised: bool) -> None:
    """A symbol on a bracket's height and beside its letter is raised above it; one above or beside it stays."""
    svg, _ = with_chords_clear(_PICTURE.format(symbol=symbol, left=left))
    place = re.search(r'x="1000" y="(-?\d+)"', svg)
    assert place is not None
    # The bracket lies at 500 with a letter of 130 units over it; the symbol's baseline must be above both.
    assert (int(place[1]) <= 370) == (raised or symbol == 100)
    assert (int(place[1]) != symbol) == raised


def test_pictures_are_lean() -> None:
    """A picture a line, well-formed, without styles, fonts and foreign ids; every glyph used is in the one list."""
    (piece,) = pieces_of(_STUDY.encode(), "study.abc")
    line = read_piece(piece, ReadingWishes())
    marks = [Mark("A", 0, 3, 0), Mark("A", 16, 19, 0), Mark("B", 4, 8, 1)]
    pages = svg_pages(line, EngravingOptions(Page(bars_per_line=4), marks, width_mm=190, by_line=True))
    found = web_notation(pages, marks, "")
    assert len(found.pictures) == 2
    assert "font-woff2" in found.font
    assert sum(map(len, found.pictures)) < sum(map(len, pages)) / 3
    sheet = glyph_sheet(found.glyphs)
    used, notes, shown = set(), set(), set()
    for picture in found.pictures:
        root = etree.fromstring(picture)
        assert not root.xpath("//@style | //@id | //*[local-name()='style' or local-name()='defs']")
        used |= set(root.xpath("//*[local-name()='use']/@href"))
        notes |= {int(note) for note in root.xpath("//@data-note")}
        shown |= {int(mark) for mark in root.xpath("//@data-mark")}
        assert root.get("viewBox").split()[2] == "19000"
    assert used <= {f"#{identity}" for identity in etree.fromstring(sheet).xpath("//@id")}
    assert notes == set(range(len(line.notes)))
    assert shown == {0, 1, 2}
