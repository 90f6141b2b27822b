"""Brackets over line ends and in layers, and the legend below the music."""

import io
import re
from itertools import pairwise

from lxml import etree
from pypdf import PdfReader

from corpus.write.engrave import EngravingOptions, Mark, svg_pages
from corpus.write.legend import written_names
from corpus.write.musicxml import Page
from corpus.write.outlines import with_outlines
from corpus.write.paper import pdf_of
from tests.corpus.write.boxes import boxes_of
from tests.corpus.write.seed import abc_line

LINE = abc_line("|".join(["CDEF GABc"] * 8) + "|]", instrument="Trumpet")
LONG = Mark("A′", 2, 60, 0)
INNER = Mark("B", 4, 10, 1)
LAST = Mark("C", 50, 58, 2)


def labels(svg: str) -> list[str]:
    """Letters on brackets, from top to bottom."""
    return re.findall(r'class="markLabel">([^<]+)<', svg)


def test_a_bracket_broken_over_lines_repeats_its_letter_in_parentheses() -> None:
    """Eight bars in lines of two: the bracket from bar 1 to bar 8 goes on in three lines."""
    (svg,) = svg_pages(LINE, EngravingOptions(Page(bars_per_line=2), [LONG], width_mm=190.0))
    assert labels(svg) == ["A′", "(A′)", "(A′)", "(A′)"]


def test_a_part_too_short_for_its_letter_has_it_beside() -> None:
    """One note in the next line: the letter begins right of the bracket's end."""
    (svg,) = svg_pages(LINE, EngravingOptions(Page(bars_per_line=2), [Mark("A", 9, 16)], width_mm=190.0))
    part = re.search(r'class="bracketSpan id-mark-0 spanning".*?</g>', svg, re.DOTALL)
    assert part is not None
    end = re.search(r'<path d="M-?\d+ -?\d+ L(\d+)', part[0])
    letter = re.search(r'<text x="(\d+)"', part[0])
    assert end is not None
    assert letter is not None
    assert int(letter[1]) > int(end[1])


def test_brackets_that_overlap_stand_in_layers() -> None:
    """Three figures over the same notes: no two letters or lines at one height."""
    marks = [Mark("A", 0, 12, 0), Mark("B", 4, 10, 1), Mark("C", 6, 14, 2)]
    (svg,) = svg_pages(LINE, EngravingOptions(Page(0, 1), marks))
    heights = [int(y) for y in re.findall(r'class="bracketSpan".*?<path d="M\d+ (\d+) L', svg, re.DOTALL)]
    assert len(set(heights)) == 3
    steps = sorted(heights)
    assert min(after - before for before, after in pairwise(steps)) > 200


def test_the_legend_stands_below_the_music_on_the_page() -> None:
    """Measured on outlines: below all other texts, on screen and on paper; strokes have the colours of the brackets."""
    marks = [LONG, INNER, LAST]
    legend = [(mark, "C E♭ G") for mark in marks]
    for options in (
        EngravingOptions(marks=marks, legend=legend, width_mm=190.0),
        EngravingOptions(marks=marks, legend=legend, paper="A4"),
    ):
        svg = svg_pages(LINE, options)[-1]
        root = etree.fromstring(with_outlines(svg).encode())
        (found,) = (group for group in root.iter("{*}g") if group.get("class") == "legend")
        boxes = [[number / 25 for number in box] for box in boxes_of(found)]
        height = float(root.get("viewBox").split()[3])
        staves = [int(y) for y in re.findall(r'<path d="M-?\d+ (\d+) L', svg)]
        assert len(boxes) == 6
        assert min(box[1] for box in boxes) > max(staves) / 25
        assert max(box[3] for box in boxes) < height
        colours = [path.get("style") for path in found.iter("{*}path") if path.get("style")]
        assert colours == [f"stroke:{mark.colour}" for mark in marks]


def test_a_legend_without_room_gets_pages_of_its_own() -> None:
    """A hundred lines: all are there, on more pages, each as large as the first."""
    legend = [(LONG, f"line {number}") for number in range(100)]
    pages = svg_pages(LINE, EngravingOptions(marks=[LONG], legend=legend, paper="A4"))
    assert len(pages) == 4, "music, and 48 lines a page"
    assert sum(page.count(">line ") for page in pages) == 100
    sizes = {tuple(map(float, page.mediabox[2:])) for page in PdfReader(io.BytesIO(pdf_of(pages))).pages}
    assert len(sizes) == 1


def test_names_in_the_legend_are_those_on_the_page() -> None:
    """C D E sounding is D E F sharp for a trumpet in B flat (common practice; at concert pitch C D E)."""
    assert written_names(LINE, 0, 2) == "D E F♯"
    assert written_names(LINE, 0, 2, concert=True) == "C D E"
