"""Engraved lines made fit for a web page: small, with shared glyphs, and without styles of their own.

Verovio draws a page with its glyphs, its style sheet and the font for accidentals in chord symbols. Many pictures on
one HTML page share all three: glyphs are taken out into one list, styles and font into one style sheet, colours of
marks become classes (``figure-3``), and only the ids of notes and marks stay.
"""

import re
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from corpus.write.engrave import Mark

STROKES: Final = (
    ".notation ellipse,.notation path,.notation polygon,.notation polyline,.notation rect{stroke:currentColor}"
    ".notation .ending,.notation .fing,.notation .reh,.notation .tempo{font-weight:bold}"
    ".notation .dir,.notation .dynam{font-style:italic}.notation .placeholder{visibility:hidden}"
)
"""What verovio's own style sheet says, once for all pictures of class ``notation``."""


@dataclass(frozen=True, slots=True)
class WebNotation:
    """Pictures, the glyphs they use (SVG ``<g>`` elements by id), and the ``@font-face`` rule their texts need."""

    pictures: tuple[str, ...]
    glyphs: dict[str, str]
    font: str


@dataclass(frozen=True, slots=True)
class Numbering:
    """How notes and marks of a piece are numbered on its page, beside other pieces: by so much more."""

    notes: int = 0
    marks: int = 0


ALONE: Final = Numbering()


def web_notation(
    pictures: Sequence[str], marks: Sequence[Mark], prefix: str, numbering: Numbering = ALONE
) -> WebNotation:
    """Verovio's pictures of one piece, as ``corpus.write.engrave`` gives them with these marks and id ``prefix``.

    Sizes are left to the page (the ``viewBox`` stays); they are hidden from screen readers, which the page serves.
    """
    glyphs: dict[str, str] = {}
    font = ""
    found = []
    for svg in pictures:
        font = font or "".join(_FONT.findall(svg)[:1])
        for identity, glyph in _GLYPH.findall(svg):
            glyphs[identity] = glyph
        found.append(_lean(svg, marks, prefix, numbering))
    return WebNotation(tuple(found), glyphs, re.sub(r"\s+", " ", font))


_FONT: Final = re.compile(r"@font-face\s*\{.*?\}", re.DOTALL)
_GLYPH: Final = re.compile(r'<g id="(E\w{3,4})-\w+">\s*(.*?)\s*</g>', re.DOTALL)
_DEFS: Final = re.compile(r"<defs>.*?</defs>|<style.*?</style>|<title>.*?</title>", re.DOTALL)
_USE: Final = re.compile(r'xlink:href="#(E\w{3,4})-\w+"')
_HEAD: Final = re.compile(r"<svg [^>]*?>")
_INNER: Final = re.compile(r'<svg class="definition-scale" color="black"[^>]*viewBox="0 0 (\d+) (\d+)"[^>]*>')
_MARK: Final = re.compile(
    r'<g (?:id="(?P<id>[^"]+)" class="bracketSpan"|class="bracketSpan id-(?P<more>\S+) spanning")'
    r' color="#\w+" fill="#\w+">'
)
_BETWEEN: Final = re.compile(r">\s+<")
_LETTER: Final = re.compile(r' fill="#\w+" class="markLabel"')


def _lean(svg: str, marks: Sequence[Mark], prefix: str, numbering: Numbering) -> str:
    svg = _DEFS.sub("", svg)
    svg, raised = with_chords_clear(svg)
    inner = _INNER.search(svg)
    assert inner is not None, "verovio wrote no inner picture"
    box = f"0 {-raised} {inner[1]} {int(inner[2]) + raised}"
    svg = _HEAD.sub(f'<svg class="notation" viewBox="{box}" aria-hidden="true" focusable="false">', svg, count=1)
    svg = _INNER.sub("<g>", svg).replace("</svg>", "</g>", 1)
    svg = _USE.sub(r'href="#g-\1"', svg)

    def marked(match: re.Match[str]) -> str:
        identity = match["id"] or match["more"]
        number = int(identity.removeprefix(f"{prefix}mark-"))
        return f'<g class="mark figure-{marks[number].kind % 8}" data-mark="{number + numbering.marks}">'

    svg = _MARK.sub(marked, svg)
    svg = _LETTER.sub(' class="markLabel"', svg)
    note = re.escape(f"{prefix}note-")
    svg = re.sub(rf'<g id="{note}(\d+)[^"]*"', lambda found: f'<g data-note="{int(found[1]) + numbering.notes}"', svg)
    svg = re.sub(r' id="[^"]*"| xml:lang="[^"]*"| text-anchor="start"', "", svg)
    svg = re.sub(r'<g class="(?:accid|dots|verse|pb placeholder|sb placeholder)"\s*/>', "", svg)
    return _BETWEEN.sub("><", svg).strip()


def glyph_sheet(glyphs: dict[str, str]) -> str:
    """One hidden SVG that holds glyphs for all pictures of a page."""
    inside = "".join(
        f'<g id="g-{identity}">{_BETWEEN.sub("><", glyph)}</g>' for identity, glyph in sorted(glyphs.items())
    )
    return f'<svg class="glyphs" width="0" height="0" aria-hidden="true" focusable="false"><defs>{inside}</defs></svg>'


_BRACKET: Final = re.compile(r'class="bracketSpan[^"]*".*?</g>', re.DOTALL)
_ACROSS: Final = re.compile(r'd="M(-?\d+) (-?\d+) L(-?\d+) ')
_CHORD: Final = re.compile(
    r'(<g [^>]*class="harm"[^>]*>\s*<text x="(-?\d+)" y=")(-?\d+)("[^>]*>(.*?)</text>)', re.DOTALL
)
_TAGS: Final = re.compile(r"<[^>]*>|\s+")
_TOP: Final = re.compile(r'class="page-margin" transform="translate\(-?\d+, (-?\d+)\)"')
_CHARACTER: Final = 210
_ABOVE: Final = 320
_BELOW: Final = 70
_LETTER_HEIGHT: Final = 130


def with_chords_clear(svg: str) -> tuple[str, int]:
    """The picture of one line of music, its chord symbols raised above the brackets where one crosses the other.

    Verovio takes no heed of symbols when it places a bracket that high notes push up. Returned with the units by which
    the picture grows at its top.
    """
    strokes = [stroke for group in _BRACKET.findall(svg) for stroke in _ACROSS.findall(group)]
    brackets = [(int(left) - 300, int(height), int(right)) for left, height, right in strokes]
    chords = [
        (int(chord[2]), int(chord[3]), int(chord[2]) + _CHARACTER * len(_TAGS.sub("", chord[5])))
        for chord in _CHORD.finditer(svg)
    ]
    if not any(_cross(chord, bracket) for chord in chords for bracket in brackets):
        return svg, 0
    height = min(height for _, height, _ in brackets) - _LETTER_HEIGHT - _BELOW
    svg = _CHORD.sub(lambda chord: f"{chord[1]}{min(height, int(chord[3]))}{chord[4]}", svg)
    top = _TOP.search(svg)
    return svg, max(_ABOVE - height - (int(top[1]) if top else 0), 0)


def _cross(chord: tuple[int, int, int], bracket: tuple[int, int, int]) -> bool:
    """Whether the box of a chord symbol (left, baseline, right) and that of a bracket with its letter meet."""
    beside = chord[2] < bracket[0] or bracket[2] < chord[0]
    apart = chord[1] + _BELOW < bracket[1] - _LETTER_HEIGHT or bracket[1] + 180 < chord[1] - _ABOVE
    return not beside and not apart


def in_frame(svg: str, left: float, width: float) -> str:
    """A picture of the page's with room at its sides: it begins ``left`` of a frame so many units wide."""
    return re.sub(
        r'viewBox="0 (-?\d+) \d+ (\d+)"',
        lambda box: f'viewBox="{-left:.0f} {box[1]} {width:.0f} {box[2]}"',
        svg,
        count=1,
    )
