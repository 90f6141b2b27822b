"""A lesson: all that a page says about a line, or some of its bars."""

from collections.abc import Sequence
from dataclasses import dataclass

from corpus.harmony.analysis import Analysis, analyse
from corpus.harmony.implied import implied_harmony
from corpus.harmony.roles import roles_of
from corpus.lesson.chart import Chart, charts_of
from corpus.lesson.chorus_map import MapChorus, map_of
from corpus.lesson.figures import FoundFamily, LessonFigure, degrees_below, figures_of
from corpus.lesson.schedule import Schedule, bar_name, schedule_of
from corpus.lesson.signs import with_signs
from corpus.model import Transcription
from corpus.reading.rules import implied_remarks
from corpus.text import clean_text


@dataclass(frozen=True)
class Lesson:
    """What a page says. ``bars`` are indexes of played bars; ``facts`` short texts for the heading.

    ``spelled`` says in which bars the line spells another chord than the written one, and which.
    """

    title: str
    player: str
    facts: tuple[str, ...]
    bars: range
    passage: str
    charts: tuple[Chart, ...]
    figures: tuple[LessonFigure, ...]
    choruses: tuple[MapChorus, ...]
    schedule: Schedule
    spelled: tuple[str, ...] = ()

    def texts_below(self) -> dict[int, str]:
        """Degrees to stand below the notes of figures, by note index."""
        texts: dict[int, str] = {}
        for place in (place for figure in self.figures for place in figure.places):
            texts |= degrees_below(place.first, place.notes)
        return texts


def lesson_of(line: Transcription, families: Sequence[FoundFamily], bars: range) -> Lesson:
    """The lesson on a line's played bars (indexes). Raises RangeError for bars that do not exist."""
    analysis = analyse(line)
    roles = roles_of(line, analysis.spans)
    schedule = schedule_of(line, bars.start, bars.stop - 1)
    figures = figures_of(line, analysis, roles, families, bars)
    spelled = _spelled(line, analysis, bars)
    details = line.details
    tempo = "" if details.tempo_bpm is None else f"{details.tempo_bpm:g} quarters a minute"
    facts = (
        clean_text(details.instrument),
        clean_text(details.recording),
        "" if details.year is None else str(details.year),
        tempo,
        with_signs(str(details.key or "")),
        str(details.meter or ""),
        f"form {details.form}" if details.form else "",
    )
    return Lesson(
        clean_text(details.title) or "Untitled line",
        clean_text(details.player),
        tuple(fact for fact in facts if fact),
        bars,
        _passage(line, bars),
        tuple(charts_of(line, analysis, bars)),
        tuple(figures),
        tuple(map_of(line, figures, bars, {index: with_signs(symbol) for index, symbol, _ in spelled})),
        schedule,
        tuple(f"Bar {bar_name(line.bars[index])}: {with_signs(text)}" for index, _, text in spelled),
    )


def _spelled(line: Transcription, analysis: Analysis, bars: range) -> list[tuple[int, str, str]]:
    """Index of the bar, chord and sentence for each chord that the line spells and that is not written there."""
    first, last = line.bars[bars.start], line.bars[bars.stop - 1]
    implied = implied_harmony(line, analysis.spans, (first.onset_ticks, last.onset_ticks + last.length_ticks))
    symbols = {stretch.first: stretch.symbol for stretch in implied}
    return [
        (remark.bar_index, symbols[remark.first] or "", remark.text)
        for remark in implied_remarks(line, implied)
        if remark.kind == "implied"
    ]


def _passage(line: Transcription, bars: range) -> str:
    first, last = line.bars[bars.start], line.bars[bars.stop - 1]
    if bars.start == bars.stop - 1:
        return f"bar {bar_name(first)}"
    return f"bars {bar_name(first)} to {bar_name(last)}"
