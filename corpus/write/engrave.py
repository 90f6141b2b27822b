"""Engraved notation as SVG, through verovio.

``corpus.write.score`` hands the music to verovio, brackets included; their letters, and rings around single notes, are
drawn into its SVG here. Notes are found in the SVG by ``id="note-N"``, marks by ``id="mark-K"``.
"""

import re
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from typing import Final, Literal
from xml.sax.saxutils import escape, quoteattr

from corpus.errors import QueryError
from corpus.model import Transcription
from corpus.text import clean_text
from corpus.write.below_fit import HEAD_MIDDLE, LEGIBLE, fit_of, fitted
from corpus.write.legend import with_legend
from corpus.write.musicxml import Page
from corpus.write.score import Score

OKABE_ITO: Final = ("#0072B2", "#D55E00", "#009E73", "#CC79A7", "#56B4E9", "#E69F00", "#000000", "#F0E442")
"""Colours that colour-blind readers tell apart: Okabe and Ito, *Color Universal Design*, 2008; dark ones first."""

LINE_STYLES: Final = ("solid", "dashed", "dotted")
"""Lines of brackets; with the letters they tell marks apart where there is no colour."""

MM_PER_UNIT: Final = 0.25
"""Millimetres of one unit of an SVG's ``viewBox``: a staff is 7.2 mm high."""

_SCALE: Final = 40
_LABEL_SIZE: Final = 300
_NUMBER_SIZE: Final = 260
_RING: Final = (235, 190)
_MARGIN_MM: Final = 15

Paper = Literal["A4", "Letter"]
PAPERS: Final[dict[str, tuple[float, float]]] = {"A4": (210.0, 297.0), "Letter": (215.9, 279.4)}
"""Width and height in millimetres (ISO 216; ANSI Y14.1)."""


@dataclass(frozen=True, slots=True)
class Mark:
    """A bracket from one note to another (indexes, both included) under a letter.

    ``kind`` counts the figures that are marked: it chooses colour and line, the same for every place of a figure.
    """

    label: str
    first: int
    last: int
    kind: int = 0

    @property
    def colour(self) -> str:
        """The colour of its figure."""
        return OKABE_ITO[self.kind % len(OKABE_ITO)]

    @property
    def ink(self) -> str:
        """The colour of its letter: black where that of the bracket is too light to read."""
        return "#000000" if self.colour == OKABE_ITO[-1] else self.colour

    @property
    def line(self) -> str:
        """The line style of its figure."""
        return LINE_STYLES[self.kind % len(LINE_STYLES)]


@dataclass(frozen=True)
class EngravingOptions:
    """What is engraved, and on what.

    ``page`` says which bars, with what below the notes; ``marks`` are brackets, ``rings`` notes (indexes) that are
    ringed. With ``paper`` the music is broken into lines and pages of that size; with ``width_mm`` into lines of that
    width on one endless page, or with ``by_line`` on a page a line; with neither it is a snippet of one line, as long
    as it needs. ``legend`` says below the music what marks mean;
    ``words`` are lines of text under the title of the first page of paper. Without ``font`` the picture holds none:
    another on the same page has it.
    """

    page: Page = field(default_factory=Page)
    marks: Sequence[Mark] = ()
    rings: Sequence[int] = ()
    paper: Paper | None = None
    width_mm: float | None = None
    by_line: bool = False
    legend: Sequence[tuple[Mark | None, str]] = ()
    words: Sequence[str] = ()
    font: bool = True


def score_of(transcription: Transcription, options: EngravingOptions) -> Score:
    """The bars and marks of options made ready, for several calls of ``svg_pages`` that differ in their width."""
    return Score(transcription, replace(options.page, for_print=True, bars_per_line=None), options.marks)


def svg_pages(
    transcription: Transcription, options: EngravingOptions | None = None, score: Score | None = None
) -> list[str]:
    """The music as SVG texts, one a page; of pages by line only the first that needs verovio's font holds it.

    Raises QueryError for marks on notes that are not shown or a width that holds no music, WellwornError when verovio
    cannot draw it.
    """
    options = options or EngravingOptions()
    if options.width_mm is not None and not 60 <= options.width_mm <= 2_000:
        raise QueryError(f"a page {options.width_mm:g} mm wide holds no music: 60 to 2000")
    score = score or score_of(transcription, options)
    page, per_line = options.page, options.page.bars_per_line
    if per_line is None and (options.paper or options.width_mm):
        per_line = _bars_per_line(transcription, options.width_mm)
    words = options.words if options.paper else None
    while True:
        pages = score.pages(_settings(options), per_line, by_line=options.by_line, words=words, font=options.font)
        fit = min(map(fit_of, pages)) if page.below else 1.0
        if fit >= LEGIBLE or per_line in (None, 1):
            break
        per_line = (per_line or 1) // 2
    finished: list[str] = []
    bar_index = page.first_bar
    for verovios in pages:
        svg, bar_index = _numbered(fitted(verovios, fit), transcription, bar_index)
        finished.append(_finished(svg, transcription, options, page.prefix))
    return with_legend(finished, options.legend, is_paper=options.paper is not None)


def _settings(options: EngravingOptions) -> dict[str, object]:
    settings: dict[str, object] = {
        "scale": _SCALE,
        "svgViewBox": True,
        "footer": "none",
        "header": "none" if options.paper is None else "encoded",
        "mnumInterval": 100_000,  # numbers are drawn here: verovio leaves them out beside a rehearsal mark
        "lyricSize": 3.5,
        "lyricTopMinMargin": 3.0,
        "spacingLinear": 0.32,
        "spacingNonLinear": 0.6,
        "pageMarginLeft": 50,
        "pageMarginRight": 60,
        "pageMarginTop": 50,
        "pageMarginBottom": 50,
        "adjustPageHeight": True,
        "adjustPageWidth": False,
        "breaks": "none",
        "justifyVertically": False,
        "xmlIdSeed": 1,
        "pageWidth": 2_100,
        "pageHeight": 2_970,
        "spacingSystem": 8,
        "minLastJustification": 0.6,
        "harmDist": 1.2,
    }
    if options.paper is not None:
        width, height = PAPERS[options.paper]
        margin = round(_MARGIN_MM / MM_PER_UNIT * 100 / _SCALE)
        settings |= {
            "pageWidth": _units(width),
            "pageHeight": _units(height),
            "breaks": "line",
            "adjustPageHeight": False,
            **{f"pageMargin{side}": margin for side in ("Left", "Right", "Top", "Bottom")},
        }
    elif options.width_mm is not None:
        # A page that holds nothing gets one line all the same, and grows as high as that is.
        height = 100 if options.by_line else 60_000
        settings |= {"pageWidth": _units(options.width_mm), "pageHeight": height, "breaks": "encoded"}
        if options.by_line:
            settings |= {"pageMarginTop": 10, "pageMarginBottom": 10, "lyricSize": 3.0}
    else:
        settings["adjustPageWidth"] = True
    return settings


def _units(millimetres: float) -> int:
    return round(millimetres / MM_PER_UNIT * 100 / _SCALE)


def _bars_per_line(transcription: Transcription, width_mm: float | None) -> int:
    """Four bars, or two or one where notes are too many for a legible line of that width."""
    most = max(1, round((width_mm or 180.0) / 180.0 * 36))
    counts = [0] * len(transcription.bars)
    for note in transcription.notes:
        counts[note.bar_index] += 1
    busiest = max((sum(counts[i : i + 4]) for i in range(0, len(counts), 4)), default=0)
    return 4 if busiest <= most else 2 if busiest <= 2 * most else 1


# -- verovio's SVG, finished ---------------------------------------------------------------------------------------


def _finished(svg: str, transcription: Transcription, options: EngravingOptions, prefix: str) -> str:
    """Verovio's SVG with its size in millimetres, a title for screen readers, letters on brackets, and rings."""
    title = clean_text(transcription.details.title) or "Notation"
    width, height = _view_box(svg)
    size = f'width="{width * MM_PER_UNIT:.2f}mm" height="{height * MM_PER_UNIT:.2f}mm" role="img" '
    svg = _VEROVIOS_NUMBER.sub("", svg)
    svg = svg.replace("<svg ", f"<svg {size}aria-label={quoteattr(title)} ", 1)
    # A function as replacement: a backslash in a title is no escape.
    svg = re.sub(r"<desc>.*?</desc>", lambda _: f"<title>{escape(title)}</title>", svg, count=1, flags=re.DOTALL)
    svg = _lettered(svg, options.marks, f"{prefix}mark-")
    for note in options.rings:
        svg = _ringed(svg, f"{prefix}note-{note}")
    return svg


def _view_box(svg: str) -> tuple[float, float]:
    match = re.search(r'viewBox="0 0 ([\d.]+) ([\d.]+)"', svg)
    assert match is not None, "verovio wrote no viewBox"
    return float(match[1]), float(match[2])


_VEROVIOS_NUMBER = re.compile(r'<g [^>]*class="mNum[^"]*"[^>]*>.*?</g>', re.DOTALL)
_SYSTEM: Final = 'class="system"'
_STAFF_LINE = re.compile(r'<path d="M(-?\d+) (-?\d+) L')


def _numbered(svg: str, transcription: Transcription, bar_index: int) -> tuple[str, int]:
    """Bar numbers to the left of each line, where neither chords nor section marks stand.

    ``bar_index`` is the played bar that the page begins with; returned with that of the page after it.
    """
    head, *systems = svg.split(_SYSTEM)
    numbered = [head]
    for system in systems:
        lines = _STAFF_LINE.findall(system)[:5]
        number = transcription.bars[bar_index].number
        left, bottom = int(lines[0][0]), int(lines[-1][1])
        text = (
            f'<g class="barNumber"><text x="{left - 70}" y="{bottom}" font-size="{_NUMBER_SIZE}px" '
            f'font-style="italic" text-anchor="end" stroke="none">{number}</text></g>'
        )
        end = system.index(">") + 1
        numbered.append(system[:end] + (text if number > 1 else "") + system[end:])
        bar_index += system.count('class="measure"')
    return _SYSTEM.join(numbered), bar_index


_STROKE = re.compile(r'(<path d=")M(-?\d+) (-?\d+) L(-?\d+) (-?\d+)(")')


_BRACKET = re.compile(
    r'<g (?:id="(?P<begun>[^"]+)" class="bracketSpan"|class="bracketSpan id-(?P<goes_on>\S+) spanning").*?</g>',
    re.DOTALL,
)


def _lettered(svg: str, marks: Sequence[Mark], prefix: str) -> str:
    """Open the lines of brackets for their letters; where one goes on in another line of music, in parentheses."""

    def lettered(part: re.Match[str]) -> str:
        identity = part["begun"] or part["goes_on"]
        return _part_lettered(part[0], marks[int(identity.removeprefix(prefix))])

    return _BRACKET.sub(lettered, svg)


def _part_lettered(group: str, mark: Mark) -> str:
    stroke = _STROKE.search(group)
    if stroke is None:
        return group
    is_begun = group.startswith('<g class="bracketSpan id-')
    label = f"({mark.label})" if is_begun else mark.label
    before = 20 if is_begun else 110
    left, height, right = int(stroke[2]), int(stroke[3]), int(stroke[4])
    letters = max(len(mark.label.rstrip("′″‴")), 1)
    primes = sum("′″‴".find(sign) + 1 for sign in mark.label)
    room = round(_LABEL_SIZE * (0.84 * letters + 0.25 * primes + 0.9 * is_begun)) + 40
    opened = min(left + before - 20 + room, right)
    if is_begun and left + before + room > right:
        before, opened = right - left + 50, left  # beside a part too short for its letter
    line = f"{stroke[1]}M{opened} {height} L{right} {height}{stroke[6]}"
    text = (
        f'<text x="{left + before}" y="{height + 105}" font-size="{_LABEL_SIZE}px" font-weight="bold" stroke="none" '
        f'fill="{mark.ink}" class="markLabel">{escape(label)}</text>'
    )
    return group[: stroke.start()] + line + group[stroke.end() :].removesuffix("</g>") + text + "</g>"


def _ringed(svg: str, identity: str) -> str:
    """Draw a ring around the head of a note."""
    start = svg.find(f'<g id="{identity}"')
    place = (
        re.compile(r'class="notehead">\s*<use [^>]*translate\((-?\d+), (-?\d+)\)').search(svg, start)
        if start >= 0
        else None
    )
    if place is None:
        return svg
    ring = (
        f'<ellipse class="ring" cx="{int(place[1]) + HEAD_MIDDLE}" cy="{place[2]}" rx="{_RING[0]}" ry="{_RING[1]}" '
        f'fill="none" stroke="{OKABE_ITO[1]}" stroke-width="30"/>'
    )
    end = svg.index(">", start) + 1
    return svg[:end] + ring + svg[end:]
