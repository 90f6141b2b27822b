"""A page of places where a figure stands: short scores under each other, aligned by what they share.

Every place is moved sideways until the note of the figure that most places share stands on one vertical line; a long
one goes on in further lines. All stand at sounding pitch (octaves as their players read them). Notes that the figure
does not have are ringed.
"""

import re
from collections import Counter
from collections.abc import Sequence
from difflib import SequenceMatcher
from typing import Final
from xml.sax.saxutils import escape

from corpus.model import Transcription
from corpus.text import clean_text
from corpus.write.engrave import PAPERS, Paper
from corpus.write.rows import Place, Row, most_shared, rows_of
from corpus.write.widths import wrapped

_MARGIN: Final = 15.0
_CAPTION: Final = 4.5
_CAPTION_SIZE: Final = 3.6
_CAPTION_LINES: Final = 6
_HEADING_SIZE: Final = 5.0
_HEADING_LINES: Final = 4
_BOLDER: Final = 1.12
"""Bold type by plain type of the same size."""

_SMALLEST: Final = 0.5


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


def hits_pages(places: Sequence[Place], heading: str, paper: Paper = "A4") -> list[str]:
    """SVG pages of places with captions; a place that needs several lines of music stays on one page if it can.

    A line too wide for its page at the common scale is made smaller, or moved left, and then stands out of line.
    """
    layout = _Layout(*PAPERS[paper])
    anchor_note = most_shared(places)
    engraved = [rows_of(place, number, anchor_note) for number, place in enumerate(places)]
    anchored = [(row.anchor, row.width) for rows in engraved for row in rows if row.anchor is not None]
    anchor = max((at for at, _ in anchored), default=0.0)
    widest = max((anchor - at + width for at, width in anchored), default=layout.room)
    layout.align(anchor, max(_SMALLEST, min(1.0, layout.room / widest)))
    for line in wrapped(heading, layout.room / _HEADING_SIZE / _BOLDER, _HEADING_LINES):
        layout.heading(line)
    for rows, place in zip(engraved, places, strict=True):
        layout.place(rows, wrapped(place.caption, layout.room / _CAPTION_SIZE, _CAPTION_LINES))
    return [_page(parts, layout.width, layout.height, heading) for parts in layout.pages]


class _Layout:
    """Pages that are filled from top to bottom; lengths in millimetres."""

    def __init__(self, width: float, height: float) -> None:
        self.width, self.height = width, height
        self.room = width - 2 * _MARGIN
        self.pages: list[list[str]] = [[]]
        self._top = _MARGIN
        self._is_empty = True
        self._anchor, self._scale = 0.0, 1.0

    def align(self, anchor: float, scale: float) -> None:
        """Where notes are aligned, measured at a scale of 1, and the scale that lines of music share."""
        self._anchor, self._scale = anchor, scale

    def heading(self, line: str) -> None:
        """A line of the heading."""
        self.pages[-1].append(_text(_MARGIN, self._top + 3, line, _HEADING_SIZE, is_bold=True))
        self._top += _HEADING_SIZE * 1.4

    def place(self, rows: Sequence[Row], captions: Sequence[str]) -> None:
        """A place with its caption, on a new page where this one has no room for it."""
        scales = [min(self._scale, self.room / row.width) for row in rows]
        heights = [row.height * scale for row, scale in zip(rows, scales, strict=True)]
        whole = _CAPTION * len(captions)
        together = whole + sum(heights)
        # What is longer than a page begins where its first line has room.
        needed = together if together <= self.height - 2 * _MARGIN else whole + heights[0]
        self._turn_unless(self._fits(needed))
        for line in captions:
            self.pages[-1].append(_text(_MARGIN, self._top + 4, line, _CAPTION_SIZE))
            self._top += _CAPTION
        for row, scale, height in zip(rows, scales, heights, strict=True):
            self._turn_unless(self._fits(height))
            self._row(row, scale, height)

    def _row(self, row: Row, scale: float, height: float) -> None:
        aligned = _MARGIN if row.anchor is None else _MARGIN + self._anchor * self._scale - row.anchor * scale
        left = min(aligned, _MARGIN + self.room - row.width * scale)
        if row.anchor is not None and left == aligned:
            self.pages[-1].append(_guide(_MARGIN + self._anchor * self._scale + 1, self._top + 1, height - 2))
        self.pages[-1].append(_nested(row, left, self._top, scale))
        self._top += height
        self._is_empty = False

    def _fits(self, height: float) -> bool:
        return self._top + height <= self.height - _MARGIN

    def _turn_unless(self, fits: bool) -> None:
        if not fits and not self._is_empty:
            self.pages.append([])
            self._top = _MARGIN


def _nested(row: Row, left: float, top: float, scale: float) -> str:
    """A line of music as an ``<svg>`` inside the page, in millimetres."""
    size = f'x="{left:.2f}" y="{top:.2f}" width="{row.width * scale:.2f}" height="{row.height * scale:.2f}"'
    body = row.svg[row.svg.index("<svg") :]
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
