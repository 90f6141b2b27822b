"""What brackets mean, told below the music: a line and a letter for each figure, and its notes."""

import re
from collections.abc import Sequence
from typing import TYPE_CHECKING, Final
from xml.sax.saxutils import escape

from corpus.model import Transcription
from corpus.pitch import default_spelling, parse_spelling
from corpus.text import clean_text
from corpus.transposition import Transposition
from corpus.write.instruments import writing_of
from corpus.write.widths import wrapped

if TYPE_CHECKING:
    from corpus.write.engrave import Mark

_MM_PER_UNIT: Final = 0.25
_FINER: Final = 25.0
_SIZE: Final = 14.0
_LEADING: Final = 22.0
_MARGIN: Final = 60.0
_SAMPLE: Final = 44.0
_TEXT_FROM: Final = 100.0
_MOST_LINES: Final = 3
_DASHES: Final = {
    "solid": "",
    "dashed": ' stroke-dasharray="180 130"',
    "dotted": ' stroke-dasharray="1 108" stroke-linecap="round"',
}


def written_names(line: Transcription, first: int, last: int, *, concert: bool = False) -> str:
    """The names of notes (indexes, both included) as the page has them, without octaves: ``C E♭ G``, dead notes x."""
    writing = writing_of(line, concert=concert)
    to_page = Transposition(-writing.steps, -writing.semitones)
    names: list[str] = []
    for note in line.notes[first : last + 1]:
        if note.pitch is None:
            names.append("x")
            continue
        sounding = parse_spelling(note.spelling or default_spelling(note.pitch))
        name = str(to_page.sounding(sounding.letter, sounding.alteration, sounding.octave or 0)).rstrip("-0123456789")
        names.append(name[0] + name[1:].replace("b", "♭").replace("#", "♯"))
    return " ".join(names)


def with_legend(pages: Sequence[str], legend: Sequence[tuple["Mark | None", str]], *, is_paper: bool) -> list[str]:
    """Pages with the legend below the last line of music, on a page of its own where a sheet has no room."""
    if not legend or not pages:
        return list(pages)
    last = pages[-1]
    width, height = _size(last)
    lines = list(_lines(legend, width))
    needed = _LEADING * len(lines)
    if not is_paper:
        return [*pages[:-1], _higher(last, width, height, needed + _MARGIN / 2, _drawn(lines, height))]
    top = _bottom(last, height) + 1.6 * _LEADING
    if top + needed <= height - _MARGIN:
        return [*pages[:-1], _closed(last, _drawn(lines, top))]
    per_page = int((height - 2 * _MARGIN) // _LEADING)
    head = re.sub(r"<title>.*", "", last[: last.index("<title>")], flags=re.DOTALL)
    blank = f"{head}<title>Legend</title></svg>"
    own = [lines[i : i + per_page] for i in range(0, len(lines), per_page)]
    return [*pages, *(_closed(blank, _drawn(part, _MARGIN)) for part in own)]


def _lines(legend: Sequence[tuple["Mark | None", str]], width: float) -> "list[tuple[Mark | None, str]]":
    room = (width - 2 * _MARGIN - _TEXT_FROM) / _SIZE
    return [
        (mark if number == 0 else None, line)
        for mark, text in legend
        for number, line in enumerate(wrapped(clean_text(text), room, _MOST_LINES))
    ]


def _drawn(lines: "Sequence[tuple[Mark | None, str]]", top: float) -> str:
    """The legend from a height on, in the finer units of verovio's music: strokes of its style sheet are hairlines."""
    parts: list[str] = []
    for number, (mark, text) in enumerate(lines):
        y = round((top + _LEADING * number + _SIZE) * _FINER)
        if mark is not None:
            label = _text(_MARGIN + _SAMPLE + 10, y, mark.label, f'font-weight="bold" fill="{mark.ink}"')
            parts.append(
                f'<path d="M{_MARGIN * _FINER:g} {y - 110} h{_SAMPLE * _FINER:g}" stroke-width="45" fill="none" '
                f'style="stroke:{mark.colour}"{_DASHES[mark.line]}/>'
                f"{label}"
            )
        parts.append(_text(_MARGIN + _TEXT_FROM, y, text, ""))
    inside = "".join(parts)
    return f'<g class="legend" font-family="Times, serif" transform="scale({1 / _FINER:g})">{inside}</g>'


def _text(x: float, y: int, text: str, face: str) -> str:
    size = f'font-size="{_SIZE * _FINER:g}px" stroke="none"'
    return f'<text x="{x * _FINER:g}" y="{y}" {size} {face}>{escape(text)}</text>'


def _closed(svg: str, addition: str) -> str:
    end = svg.rindex("</svg>")
    return svg[:end] + addition + svg[end:]


def _size(svg: str) -> tuple[float, float]:
    match = re.search(r'viewBox="0 0 ([\d.]+) ([\d.]+)"', svg)
    assert match is not None, "verovio wrote no viewBox"
    return float(match[1]), float(match[2])


def _higher(svg: str, width: float, height: float, more: float, addition: str) -> str:
    """The page with more room below; the music keeps its size and place."""
    svg = re.sub(r'height="[\d.]+mm"', f'height="{(height + more) * _MM_PER_UNIT:.2f}mm"', svg, count=1)
    svg = re.sub(r'viewBox="0 0 [\d.]+ [\d.]+"', f'viewBox="0 0 {width:g} {height + more:g}"', svg, count=1)
    inner = f'<svg width="{width:g}" height="{height:g}" class="definition-scale"'
    return _closed(svg.replace('<svg class="definition-scale"', inner, 1), addition)


def _bottom(svg: str, height: float) -> float:
    """Where the music of a page ends, in units of the page."""
    inner = re.search(r'class="definition-scale"[^>]*viewBox="0 0 [\d.]+ ([\d.]+)"', svg)
    margin = re.search(r'class="page-margin" transform="translate\(-?[\d.]+, (-?[\d.]+)\)"', svg)
    assert inner is not None, "verovio wrote no inner viewBox"
    assert margin is not None, "verovio wrote no margin"
    music = svg[margin.end() :]
    places = re.findall(r'<path d="M-?\d+ (-?\d+) L|<text [^>]*?y="(-?\d+)"|translate\(-?\d+, (-?\d+)\)', music)
    lowest = max((int(number) for found in places for number in found if number), default=0)
    return (lowest + float(margin[1])) * height / float(inner[1])
