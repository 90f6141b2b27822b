"""Texts below the notes, centred under their heads in a type so small that none touches the next.

Verovio spaces a line by text widths of its own, and squeezes a line that has too little room; browsers and converters
draw with other fonts. So places are taken from its SVG, and widths from ``corpus.write.widths``.
"""

import re
from itertools import pairwise
from typing import Final

from corpus.write.widths import width_of

_GAP: Final = 0.14
"""White between two texts, by the size of type."""

HEAD_MIDDLE: Final = 105
"""From the left edge of a note head to its middle, in units of verovio's SVG."""

LEGIBLE: Final = 0.68
"""The smallest type, by the usual one, that is read without effort: about 6.7 points."""

_LOWER: Final = 50
"""Verovio sets the tops of texts against ledger lines and beams: so much lower they stand free."""

_HEIGHT: Final = 0.72
"""Of a figure, by the size of type."""

_SYSTEM: Final = 'class="system"'
_TEXT = re.compile(
    r'(?P<text><g (?:id="[^"]*" )?class="syl"[^>]*>\s*<text) x="-?\d+" y="(?P<y>-?\d+)"(?P<inner>[^>]*>.*?)</text>',
    re.DOTALL,
)
_NOTE_HEAD: Final = 'class="notehead"'
_PLACE = re.compile(r"translate\((-?\d+), ")
_SIZE = re.compile(r'font-size="([1-9][\d.]*)px"')


def _head_before(svg: str, text: int) -> int | None:
    """The left edge of the head whose text begins there: a note's texts follow its head."""
    head = svg.rfind(_NOTE_HEAD, 0, text)
    place = None if head < 0 else _PLACE.search(svg, head, text)
    return None if place is None else int(place[1])


def fit_of(svg: str) -> float:
    """By how much texts below the notes must shrink (1: not at all) so that none touches the next in its line."""
    fit = 1.0
    for system in svg.split(_SYSTEM)[1:]:
        texts: list[tuple[int, float]] = []
        for match in _TEXT.finditer(system):
            size, place = _SIZE.search(match["inner"]), _head_before(system, match.start())
            if size is None or place is None:
                continue
            text = re.sub(r"<[^>]*>|\s", "", match["inner"].partition(">")[2])
            texts.append((place, float(size[1]) * (width_of(text) + _GAP) / 2))
        texts.sort(key=lambda text: text[0])
        for (before, half_before), (place, half) in pairwise(texts):
            fit = min(fit, max(place - before, 1) / (half_before + half))
    return fit


def fitted(svg: str, fit: float) -> str:
    """The SVG with texts below the notes centred under their heads, shrunk by a factor."""

    def centred(match: re.Match[str]) -> str:
        head = _head_before(svg, match.start())
        if head is None:
            return match[0]
        inner = _SIZE.sub(lambda size: f'font-size="{float(size[1]) * fit:.0f}px"', match["inner"])
        usual = _SIZE.search(match["inner"])
        smaller = 0.0 if usual is None else (1 - fit) * _HEIGHT * float(usual[1])
        height = round(int(match["y"]) + _LOWER - smaller)
        return f'{match["text"]} text-anchor="middle" x="{head + HEAD_MIDDLE}" y="{height}"{inner}</text>'

    return _TEXT.sub(centred, svg)
