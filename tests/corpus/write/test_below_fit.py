"""Texts below the notes stand free of each other, measured on the outlines that are printed."""

import re
from dataclasses import replace
from itertools import pairwise

import pytest

from corpus.model import Transcription
from corpus.write.below import below_texts
from corpus.write.below_fit import HEAD_MIDDLE, fit_of
from corpus.write.engrave import EngravingOptions, svg_pages
from corpus.write.musicxml import Page
from tests.corpus.write.boxes import system_boxes
from tests.corpus.write.seed import abc_line, seed_lines

DENSE = abc_line(
    '"C7"^G,_A,^F_D ^G_A_D^F | "C7"(3^F_A_D (3_A_D^F (3_A^F_D (3^G^F_D | "C7"^F/_A/_D/^G/ _A/^F/_D/_A/ ^F4 | "C"C8 |]'
)


@pytest.mark.parametrize(
    "options",
    [EngravingOptions(), EngravingOptions(paper="A4"), EngravingOptions(width_mm=190.0)],
    ids=["snippet", "paper", "screen"],
)
@pytest.mark.parametrize("line", [DENSE, seed_lines()[5]], ids=["dense", "seed"])
def test_no_two_texts_below_touch(line: Transcription, options: EngravingOptions) -> None:
    """Eighths, triplets and sixteenths, each with brackets and signs below: white between all neighbours."""
    last = 15 if options.paper or options.width_mm else 3
    page = Page(0, min(last, len(line.bars) - 1), below_texts(line, "roles"))
    for svg in svg_pages(line, replace(options, page=page)):
        systems = system_boxes(svg, "syl")
        assert sum(map(len, systems)) > 10
        for boxes in systems:
            gaps = [after[0] - before[2] for before, after in pairwise(boxes)]
            assert min(gaps, default=1.0) > 0


def test_texts_stand_under_the_middle_of_their_heads() -> None:
    """The middle of the box, to a tenth of a head (signs have white beside them)."""
    (svg,) = svg_pages(DENSE, EngravingOptions(Page(0, 0, below_texts(DENSE, "roles"))))
    heads = [int(x) for x in re.findall(r'class="notehead">\s*<use [^>]*translate\((-?\d+)', svg)]
    middles = [(box[0] + box[2]) / 2 for box in system_boxes(svg, "syl")[0]]
    assert len(heads) == 8
    assert middles == pytest.approx([head + HEAD_MIDDLE for head in heads], abs=25)


def test_crowded_bars_get_more_room() -> None:
    """The same bars without and with long texts: fewer bars a line, not a type that no one can read."""
    dense = abc_line("|".join(['"C7"(3^F_A_D (3_A_D^F (3_A^F_D (3^G^F_D'] * 4) + "|]")
    bare, texted = (
        svg_pages(dense, EngravingOptions(Page(below=below), width_mm=270.0))[0]
        for below in ({}, below_texts(dense, "roles"))
    )
    assert texted.count('class="system"') > bare.count('class="system"')
    sizes = [int(size) for size in re.findall(r'class="syl".*?font-size="([1-9]\d*)px"', texted, re.DOTALL)]
    assert min(sizes) > 200, "2 mm, about 6 points"


def test_music_without_texts_needs_no_smaller_type() -> None:
    """Factor 1."""
    assert fit_of(svg_pages(DENSE)[0]) == 1.0
