"""A figure made ready to be used again: its notes, each with the function and the key that it stood over."""

from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise
from typing import Final, NamedTuple

from corpus.errors import QueryError
from corpus.harmony.analysis import analyse_chart
from corpus.harmony.spans import HarmonySpan
from corpus.harmony.symbols import parse_symbol
from corpus.model import TICKS_PER_QUARTER, Bar, ChordSpan, Meter, Note, Transcription
from corpus.pitch import Key, parse_key
from corpus.regions import passage_name
from corpus.shelf.kept import KeptChord, KeptFigure

_WIDEST: Final = 12
_APART: Final = 9


class SourceNote(NamedTuple):
    """A note of a figure: onset from the figure's first note and length in ticks, pitch, spelling, and its function.

    ``numeral`` counts in a key whose tonic is the pitch class ``tonic``.
    """

    onset_ticks: int
    duration_ticks: int
    pitch: int
    spelling: str
    numeral: str
    tonic: int


@dataclass(frozen=True, slots=True)
class Source:
    """A figure that can be used. Figures of one ``group`` count as the same; ``origin`` says where it was played.

    ``key`` is the one under the first note; ``beat`` and ``meter`` say where in the bar it began, if that is known.
    """

    group: str
    origin: str
    players: frozenset[str]
    notes: tuple[SourceNote, ...]
    key: Key
    meter: Meter | None = None
    beat: Fraction | None = None

    @property
    def end_ticks(self) -> int:
        """Ticks from the first note to the end of the last."""
        return self.notes[-1].onset_ticks + self.notes[-1].duration_ticks


class UnusableError(QueryError):
    """A figure that no line can be made of; the text says why."""


def source_of_kept(figure: KeptFigure) -> Source:
    """A kept figure over its own chords; without rhythm its notes are quarters.

    Chords that were typed without a place share the figure evenly; symbols without functions are analysed. Raises
    UnusableError where functions are not known, or the figure leaps more than an octave.
    """
    timed = [
        (
            note.onset_ticks if note.onset_ticks is not None else index * TICKS_PER_QUARTER,
            note.duration_ticks or TICKS_PER_QUARTER,
            note.pitch,
            note.spelling,
        )
        for index, note in enumerate(figure.notes)
    ]
    end = timed[-1][0] + timed[-1][1]
    chords = _placed(figure.chords, end)
    if any(not chord.numeral for chord, _ in chords):
        chords = _analysed(chords, end, figure)
    onsets = [onset for _, onset in chords]
    functions = []
    for onset, *_ in timed:
        index = bisect_right(onsets, onset) - 1
        chord = chords[index][0] if index >= 0 else KeptChord()
        if not chord.numeral or not chord.key:
            raise UnusableError("no chord function is known under some of its notes")
        functions.append((chord.numeral, parse_key(chord.key)))
    first = figure.sources[0] if figure.sources else None
    return _checked(
        Source(
            group=figure.name,
            origin=f"{first.title}, {first.passage}" if first is not None and first.title else "",
            players=frozenset(source.player.casefold() for source in figure.sources if source.player),
            notes=_notes(timed, functions),
            key=functions[0][1],
            meter=figure.meter,
            beat=figure.beat,
        )
    )


def source_of_passage(line: Transcription, spans: Sequence[HarmonySpan], first: int, last: int, group: str) -> Source:
    """Notes ``first`` to ``last`` of an analysed line. Raises UnusableError as above, and for dead notes."""
    notes = line.notes[first : last + 1]
    begin, onsets = notes[0].onset_ticks, [span.onset_ticks for span in spans]
    timed, functions = [], []
    for note in notes:
        span = _span_at(spans, onsets, note)
        if note.pitch is None:
            raise UnusableError("it has a dead note")
        if span is None or span.numeral is None or span.key is None:
            raise UnusableError("no chord function is known under some of its notes")
        timed.append((note.onset_ticks - begin, max(note.duration_ticks, 1), note.pitch, note.spelling))
        functions.append((str(span.numeral), span.key))
    return _checked(
        Source(
            group=group,
            origin=f"{line.details.title}, {passage_name(line, first, last)}",
            players=frozenset((line.details.player.casefold(),)) if line.details.player else frozenset(),
            notes=_notes(timed, functions),
            key=functions[0][1],
            meter=line.bar_of(first).meter,
            beat=line.beat_of(first),
        )
    )


def _span_at(spans: Sequence[HarmonySpan], onsets: Sequence[int], note: Note) -> HarmonySpan | None:
    index = bisect_right(onsets, note.onset_ticks) - 1
    return spans[index] if index >= 0 and note.onset_ticks < spans[index].end_ticks else None


def _placed(chords: Sequence[KeptChord], end: int) -> list[tuple[KeptChord, int]]:
    """Chords with their onsets; where none has one they share the time evenly."""
    if not chords:
        raise UnusableError("no chords are known under it")
    if all(chord.onset_ticks is not None for chord in chords):
        return [(chord, chord.onset_ticks or 0) for chord in chords]
    return [(chord, end * index // len(chords)) for index, chord in enumerate(chords)]


def _analysed(chords: Sequence[tuple[KeptChord, int]], end: int, figure: KeptFigure) -> list[tuple[KeptChord, int]]:
    """The functions of chords of which only symbols are known."""
    try:
        for chord, _ in chords:
            parse_symbol(chord.symbol)
    except QueryError as error:
        raise UnusableError("the functions of its chords are not known") from error
    ends = [onset for _, onset in chords[1:]] + [max(end, chords[-1][1] + 1)]
    spans = [ChordSpan(chord.symbol, onset, stop) for (chord, onset), stop in zip(chords, ends, strict=True)]
    bars = [Bar(1, 1, 0, ends[-1], 0, figure.meter or Meter(4, 4))]
    found = analyse_chart(spans, bars, parse_key(figure.key) if figure.key else None).spans
    return [
        (KeptChord(span.symbol_text, str(span.numeral or ""), f"{span.key}" if span.key else ""), span.onset_ticks)
        for span in found
    ]


def _notes(timed: Sequence[tuple[int, int, int, str]], functions: Sequence[tuple[str, Key]]) -> tuple[SourceNote, ...]:
    """Notes that end where the next one begins, at the latest."""
    following = [onset for onset, *_ in timed[1:]] + [timed[-1][0] + timed[-1][1]]
    return tuple(
        SourceNote(onset, min(length, after - onset), pitch, spelling, numeral, key.tonic_pitch_class)
        for (onset, length, pitch, spelling), after, (numeral, key) in zip(timed, following, functions, strict=True)
    )


def _checked(source: Source) -> Source:
    pitches = [note.pitch for note in source.notes]
    leaps = [after - before for before, after in pairwise(pitches)]
    if any(abs(leap) > _WIDEST for leap in leaps):
        raise UnusableError("it leaps more than an octave")
    if any(min(abs(a), abs(b)) >= _APART and a * b < 0 for a, b in pairwise(leaps)):
        raise UnusableError("one of its notes stands apart from both neighbours")
    return source
