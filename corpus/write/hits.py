"""A page of places where a figure stands: short scores under each other, aligned by what they share.

Every place is engraved from its first to its last bar and moved sideways until the note of the figure that most places
share stands on one vertical line. All stand at sounding pitch (octaves as their players read them). Notes that the
figure does not have are ringed.
"""

import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from difflib import SequenceMatcher
from typing import Final
from xml.sax.saxutils import escape

from corpus.model import Transcription
from corpus.text import clean_text
from corpus.write.engrave import PAPERS, EngravingOptions, Mark, Paper, svg_pages
from corpus.write.musicxml import Page
from corpus.write.widths import wrapped

_MARGIN: Final = 15.0
_CAPTION: Final = 4.5
_CAPTION_SIZE: Final = 3.6
_CAPTION_LINES: Final = 6
_HEADING_SIZE: Final = 5.0
_HEADING_LINES: Final = 4
_BOLDER: Final = 1.12
"""Bold type by plain type of the same size."""

_GAP: Final = 0.0
_MM_PER_INNER: Final = 0.01
_INNER_MARGIN: Final = 500
_MOST_BARS: Final = 6
_SMALLEST: Final = 0.5


@dataclass(frozen=True)
class Place:
    """A figure's place: notes ``first`` to ``last`` of a line, and what is said over it.

    ``shared`` pairs notes of the figure (from 0) with notes of the line that are the same; empty when unknown.
    """

    line: Transcription
    first: int
    last: int
    caption: str
    shared: tuple[tuple[int, int], ...] = ()


def shared_notes(
    heights: Sequence[int] | None, line: Transcription, first: int, last: int
) -> tuple[tuple[int, int], ...]:
    """Which notes of a figure stand in a place: pairs of note numbers, in order.

    Heights are compared at the transposition at which most notes agree; a note that stands in another octave than most
    is not shared. Empty for a figure without heights.
    """
    if not heights:
        return ()
    notes = [index for index in range(first, last + 1) if line.notes[index].pitch is not None]
    played = [(line.notes[index].pitch or 0) % 12 for index in notes]

    def at(semitones: int) -> list[tuple[int, int]]:
        asked = [(height + semitones) % 12 for height in heights]
        blocks = SequenceMatcher(None, asked, played, autojunk=False).get_matching_blocks()
        return [(block.a + i, notes[block.b + i]) for block in blocks for i in range(block.size)]

    pairs = max((at(semitones) for semitones in range(12)), key=lambda found: len(found))
    moved = [(line.notes[note].pitch or 0) - heights[number] for number, note in pairs]
    usual = Counter(moved).most_common(1)[0][0] if moved else 0
    return tuple(pair for pair, semitones in zip(pairs, moved, strict=True) if semitones == usual)


@dataclass(frozen=True, slots=True)
class _Snippet:
    svg: str
    width: float
    height: float
    anchor: float


def hits_pages(places: Sequence[Place], heading: str, paper: Paper = "A4") -> list[str]:
    """SVG pages of places with captions. A place of more than six bars is shown by its first six.

    A place too wide for its page at the common scale is made smaller, or moved left, and then stands out of line.
    """
    width, height = PAPERS[paper]
    anchor_note = _most_shared(places)
    snippets = [_snippet(place, number, anchor_note) for number, place in enumerate(places)]
    anchor = max((snippet.anchor for snippet in snippets), default=0.0)
    room = width - 2 * _MARGIN
    widest = max((anchor - snippet.anchor + snippet.width for snippet in snippets), default=room)
    scale = max(_SMALLEST, min(1.0, room / widest))
    pages: list[list[str]] = [[]]
    top = _MARGIN
    for line in wrapped(heading, room / _HEADING_SIZE / _BOLDER, _HEADING_LINES):
        pages[0].append(_text(_MARGIN, top + 3, line, _HEADING_SIZE, is_bold=True))
        top += _HEADING_SIZE * 1.4
    is_empty = True
    for snippet, place in zip(snippets, places, strict=True):
        captions = wrapped(place.caption, room / _CAPTION_SIZE, _CAPTION_LINES)
        own = min(scale, room / snippet.width)
        needed = _CAPTION * len(captions) + snippet.height * own
        if top + needed > height - _MARGIN and not is_empty:
            pages.append([])
            top = _MARGIN
        is_empty = False
        for number, line in enumerate(captions):
            pages[-1].append(_text(_MARGIN, top + 4 + number * _CAPTION, line, _CAPTION_SIZE))
        below = top + _CAPTION * len(captions)
        aligned = _MARGIN + anchor * scale - snippet.anchor * own
        left = min(aligned, _MARGIN + room - snippet.width * own)
        if left == aligned:
            pages[-1].append(_guide(_MARGIN + anchor * scale + 1, below + 1, snippet.height * own - 2))
        pages[-1].append(_nested(snippet, left, below, own))
        top += needed + _GAP
    return [_page(parts, width, height, heading) for parts in pages]


def _most_shared(places: Sequence[Place]) -> int:
    """The note of the figure that most places have, the earliest of them."""
    counts = Counter(number for place in places for number, _ in place.shared)
    return min(counts, key=lambda number: (-counts[number], number), default=0)


def _snippet(place: Place, number: int, anchor_note: int) -> _Snippet:
    line = place.line
    first_bar = line.notes[place.first].bar_index
    last_bar = min(_last_bar(place), first_bar + _MOST_BARS - 1)
    last = max(i for i in range(place.first, place.last + 1) if line.notes[i].bar_index <= last_bar)
    ours = {note for _, note in place.shared}
    rings = [i for i in range(place.first, last + 1) if ours and i not in ours]
    prefix = f"place{number}-"
    options = EngravingOptions(
        Page(first_bar, last_bar, concert=True, prefix=prefix), [Mark("A", place.first, last)], rings=[*rings]
    )
    (svg,) = svg_pages(line, options)
    note = dict(place.shared).get(anchor_note, place.first)
    head = re.search(
        rf'<g id="{prefix}note-{note}" .*?class="notehead">\s*<use [^>]*translate\((-?\d+), ', svg, re.DOTALL
    )
    anchor = (int(head[1]) + _INNER_MARGIN) * _MM_PER_INNER if head is not None else 0.0
    size = re.match(r'.*?width="([\d.]+)mm" height="([\d.]+)mm"', svg, re.DOTALL)
    assert size is not None, "a snippet says its size"
    return _Snippet(svg, float(size[1]), float(size[2]), anchor)


def _last_bar(place: Place) -> int:
    """The bar in which the last note of a place ends."""
    end = place.line.notes[place.last].end_ticks
    index = place.line.notes[place.last].bar_index
    while index + 1 < len(place.line.bars) and place.line.bars[index + 1].onset_ticks < end:
        index += 1
    return index


def _nested(snippet: _Snippet, left: float, top: float, scale: float) -> str:
    """A snippet as an ``<svg>`` inside the page, in millimetres."""
    size = f'x="{left:.2f}" y="{top:.2f}" width="{snippet.width * scale:.2f}" height="{snippet.height * scale:.2f}"'
    body = snippet.svg[snippet.svg.index("<svg") :]
    return re.sub(r'<svg width="[^"]*" height="[^"]*" role="img"', f"<svg {size}", body, count=1)


def _text(x: float, y: float, text: str, size: float, *, is_bold: bool = False) -> str:
    weight = ' font-weight="bold"' if is_bold else ""
    return f'<text x="{x:.2f}" y="{y:.2f}" font-size="{size}px"{weight}>{escape(clean_text(text))}</text>'


def _guide(x: float, top: float, height: float) -> str:
    return f'<path d="M{x:.2f} {top:.2f} v{height:.2f}" stroke="#999" stroke-width="0.15" stroke-dasharray="0.6 1.2"/>'


def _page(parts: Sequence[str], width: float, height: float, heading: str) -> str:
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink" width="{width}mm" '
        f'height="{height}mm" viewBox="0 0 {width} {height}" font-family="Times, serif">'
        f"<title>{escape(clean_text(heading))}</title>{''.join(parts)}</svg>"
    )
