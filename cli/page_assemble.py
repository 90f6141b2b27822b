"""The lesson page of a line: notation for wide and narrow screens, with what is told of it."""

from dataclasses import replace
from itertools import accumulate
from typing import TYPE_CHECKING, Final

from cli.page_parts import PageContents

if TYPE_CHECKING:
    from corpus.lesson.lesson import Lesson
    from corpus.model import Transcription
    from corpus.write.engrave import Mark
    from corpus.write.web import WebNotation

_WIDE_MM: Final = 190.0
_NARROW_MM: Final = 96.0
_BUSY: Final = 18
"""From so many notes in two bars on, a narrow line holds one bar."""


def page_html(line: "Transcription", told: PageContents, text: str = "", concert: bool = False) -> str:
    """The page; ``text`` is the teacher's own, in Markdown; ``concert`` writes transposing instruments at pitch.

    Texts are escaped wherever they come from.
    """
    from markupsafe import Markup

    from cli.page_shell import Heading, PlayedMark, Words, playback_data, shell_html

    lesson = told.lesson
    wide, narrow = _engraved(line, lesson, _marks(lesson), concert)
    places = [(figure.kind, place) for figure in lesson.figures for place in figure.places]
    marks = [PlayedMark(kind, place.label, place.where, place.first, place.last) for kind, place in places]
    contents = {
        "lesson": lesson,
        "told": told,
        "written": _written(line, concert),
        "starts": _starts(lesson),
        "wide": [Markup(svg) for svg in wide.pictures],
        "narrow": [Markup(svg) for svg in narrow.pictures],
    }
    return shell_html(
        "line.html",
        Heading(f"Lesson on {lesson.passage}", lesson.title, lesson.player, lesson.facts),
        Words("Line", "bar", "bars"),
        playback_data(lesson.schedule, marks),
        (wide, narrow),
        text,
        contents,
    )


def _starts(lesson: "Lesson") -> list[int]:
    """For each figure the number of its first mark: marks are counted over all figures."""
    return list(accumulate((len(figure.places) for figure in lesson.figures), initial=0))


def _marks(lesson: "Lesson") -> "list[Mark]":
    from corpus.write.engrave import Mark

    return [
        Mark(place.label, place.first, place.last, figure.kind) for figure in lesson.figures for place in figure.places
    ]


def _written(line: "Transcription", concert: bool) -> str:
    """How far the notation stands from what sounds, in words; empty where it does not."""
    from corpus.pitch import interval_name
    from corpus.write.instruments import writing_of

    writing = writing_of(line, concert=concert)
    away = -(writing.semitones + 12 * writing.octaves)
    if not away:
        return ""
    interval = interval_name(away) if abs(away) >= 12 else f"a {interval_name(away)}"
    where = "above" if away > 0 else "below"
    return (
        f"The notation stands {interval} {where} what sounds; chart, map and the names of notes are those that sound."
    )


def _engraved(
    line: "Transcription", lesson: "Lesson", marks: "list[Mark]", concert: bool
) -> "tuple[WebNotation, WebNotation]":
    """The line for wide and for narrow screens, from one score."""
    from corpus.write.engrave import EngravingOptions, score_of, svg_pages
    from corpus.write.musicxml import Page
    from corpus.write.web import web_notation

    bars = lesson.bars
    page = Page(bars.start, bars.stop - 1, lesson.texts_below(), concert)
    wide = EngravingOptions(page, marks, width_mm=_WIDE_MM, by_line=True)
    on_a_phone = replace(page, bars_per_line=_bars_on_a_phone(line, bars))
    narrow = replace(wide, page=on_a_phone, width_mm=_NARROW_MM)
    score = score_of(line, wide)
    shown = [web_notation(svg_pages(line, width, score), marks, page.prefix) for width in (wide, narrow)]
    return shown[0], shown[1]


def _bars_on_a_phone(line: "Transcription", bars: range) -> int:
    counts = [0] * len(line.bars)
    for note in line.notes:
        counts[note.bar_index] += 1
    return 2 if all(sum(counts[i : i + 2]) < _BUSY for i in bars) else 1
