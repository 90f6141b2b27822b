"""Texts below the notes, centred under their heads in a type so small that none touches the next.

Verovio spaces a line by text widths of its own, and squeezes a line that has too little room; browsers and converters
draw with other fonts. So places are taken from its SVG, and widths from ``corpus.write.widths``.
"""

import re
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
_BELOW = re.compile(
    r'class="notehead">\s*<use [^>]*translate\((?P<head>-?\d+), -?\d+\)(?P<between>(?:(?!class="note(?:head)?").)*?)'
    r'(?P<text><g [^>]*class="syl"[^>]*>\s*<text) x="-?\d+" y="(?P<y>-?\d+)"(?P<inner>[^>]*>.*?)</text>',
    re.DOTALL,
)
_SIZE = re.compile(r'font-size="([1-9][\d.]*)px"')


def fit_of(svg: str) -> float:
    """By how much texts below the notes must shrink (1: not at all) so that none touches the next in its line."""
    fit = 1.0
    for system in svg.split(_SYSTEM)[1:]:
        before: tuple[int, float] | None = None
        for match in sorted(_BELOW.finditer(system), key=lambda match: int(match["head"])):
            size = _SIZE.search(match["inner"])
            if size is None:
                continue
            text = re.sub(r"<[^>]*>|\s", "", match["inner"].partition(">")[2])
            place, half = int(match["head"]), float(size[1]) * (width_of(text) + _GAP) / 2
            if before is not None:
                fit = min(fit, max(place - before[0], 1) / (before[1] + half))
            before = place, half
    return fit


def fitted(svg: str, fit: float) -> str:
    """The SVG with texts below the notes centred under their heads, shrunk by a factor."""

    def centred(match: re.Match[str]) -> str:
        inner = _SIZE.sub(lambda size: f'font-size="{float(size[1]) * fit:.0f}px"', match["inner"])
        start = match[0][: match.start("text") - match.start()]
        place = int(match["head"]) + HEAD_MIDDLE
        usual = _SIZE.search(match["inner"])
        smaller = 0.0 if usual is None else (1 - fit) * _HEIGHT * float(usual[1])
        height = round(int(match["y"]) + _LOWER - smaller)
        return f'{start}{match["text"]} text-anchor="middle" x="{place}" y="{height}"{inner}</text>'

    return _BELOW.sub(centred, svg)
