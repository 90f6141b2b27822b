"""Places of figures as lines of music that are made to stand under each other.

A place is engraved from its first to its last bar, in as many lines as it needs: up to four bars a line, fewer where
notes are many. Its first line knows where the note stands by which places are aligned.
"""

import re
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Final

from corpus.model import Transcription
from corpus.write.engrave import EngravingOptions, Mark, svg_pages
from corpus.write.musicxml import Page

MM_PER_INNER: Final = 0.01
"""Millimetres of one unit of the music inside an SVG."""

_INNER_MARGIN: Final = 500
_MOST_BARS: Final = 4
_MOST_NOTES: Final = 36


@dataclass(frozen=True)
class Place:
    """A figure's place: notes ``first`` to ``last`` of a line, and what is said over it.

    ``shared`` pairs notes of the figure (from 0) with notes of the line that are the same; empty when unknown. A
    bracket bears ``label``, in colour and line of ``kind``; ``below`` gives texts to stand below notes.
    """

    line: Transcription
    first: int
    last: int
    caption: str = ""
    shared: tuple[tuple[int, int], ...] = ()
    label: str = "A"
    kind: int = 0
    below: Mapping[int, str] = field(default_factory=dict)

    @property
    def bars(self) -> range:
        """The played bars (indexes) from that of its first note to that in which its last one ends."""
        notes, bars = self.line.notes, self.line.bars
        end = notes[self.last].end_ticks
        index = notes[self.last].bar_index
        while index + 1 < len(bars) and bars[index + 1].onset_ticks < end:
            index += 1
        return range(notes[self.first].bar_index, index + 1)

    def run_start(self, note: int) -> int:
        """The first of the notes of the place that strike the same pitch up to this one: a note struck again is none
        of its own.
        """
        notes = self.line.notes
        while note > self.first and notes[note - 1].pitch == notes[note].pitch:
            note -= 1
        return note


@dataclass(frozen=True, slots=True)
class Row:
    """A line of music with its size in millimetres.

    ``anchor`` is how far the note by which places are aligned stands from its left edge, None where it is elsewhere.
    """

    svg: str
    mark: Mark | None
    prefix: str
    width: float
    height: float
    anchor: float | None


def most_shared(places: Sequence[Place]) -> int:
    """The note of the figure that most places have, the earliest of them."""
    counts = Counter(number for place in places for number, _ in place.shared)
    return min(counts, key=lambda number: (-counts[number], number), default=0)


def rows_of(place: Place, number: int, anchor_note: int, *, font: bool = True) -> list[Row]:
    """The lines of music of a place; ``number`` tells it from others on the page.

    ``anchor_note`` is the note of the figure by which places are aligned; one without it is aligned by its first note.
    """
    aligned = place.run_start(dict(place.shared).get(anchor_note, place.first))
    return [
        _row(place, bars, f"place{number}-" if index == 0 else f"place{number}r{index}-", aligned, font=font)
        for index, bars in enumerate(_lines(place))
    ]


def _lines(place: Place) -> list[range]:
    """The bars of each line of music."""
    counts = Counter(note.bar_index for note in place.line.notes)
    lines: list[range] = []
    start = place.bars.start
    for bar in place.bars:
        notes = sum(counts[index] for index in range(start, bar + 1))
        if bar > start and (bar - start >= _MOST_BARS or notes > _MOST_NOTES):
            lines.append(range(start, bar))
            start = bar
    return [*lines, range(start, place.bars.stop)]


def _row(place: Place, bars: range, prefix: str, aligned: int, *, font: bool) -> Row:
    line = place.line
    here = [i for i in range(place.first, place.last + 1) if line.notes[i].bar_index in bars]
    ours = {place.run_start(note) for _, note in place.shared}
    is_begun = bool(here) and here[0] != place.first
    label = f"({place.label})" if is_begun else place.label
    mark = Mark(label, here[0], here[-1], place.kind) if here else None
    (svg,) = svg_pages(
        line,
        EngravingOptions(
            Page(bars.start, bars.stop - 1, place.below, concert=True, prefix=prefix),
            [mark] if mark else [],
            rings=[index for index in here if ours and place.run_start(index) not in ours],
            font=font,
        ),
    )
    size = re.match(r'.*?width="([\d.]+)mm" height="([\d.]+)mm"', svg, re.DOTALL)
    assert size is not None, "a snippet says its size"
    anchor = _anchor(svg, f"{prefix}note-{aligned}") if aligned in here else None
    return Row(svg, mark, prefix, float(size[1]), float(size[2]), anchor)


def _anchor(svg: str, identity: str) -> float:
    head = re.search(rf'<g id="{identity}" .*?class="notehead">\s*<use [^>]*translate\((-?\d+), ', svg, re.DOTALL)
    return 0.0 if head is None else (int(head[1]) + _INNER_MARGIN) * MM_PER_INNER
