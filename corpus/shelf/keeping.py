"""From a passage, or from a figure typed as notes or intervals, to a figure that can be kept.

A passage brings its rhythm, its chords with their functions, and where it came from. A typed figure brings what was
typed; steps, contours, roles and degrees say which notes would do but name none, so they cannot be kept.
"""

from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction
from itertools import groupby
from typing import Final

from corpus.errors import QueryError
from corpus.match.figure import Figure, figure_from_notes_of
from corpus.model import TICKS_PER_QUARTER, Transcription
from corpus.pitch import default_spelling, parse_key, parse_spelling
from corpus.regions import passage_name
from corpus.shelf.kept import KeptChord, KeptFigure, KeptNote, KeptSource, clean_numeral, clean_word, short_key

_FIRST_PITCH: Final = 48
"""C3: where a figure typed without octaves or as intervals begins, in the middle of the bass and of the piano."""


def from_passage(name: str, line: Transcription, first: int, last: int, transcription: int | None) -> KeptFigure:
    """The figure of notes ``first`` to ``last`` (both included) of a line; ``transcription`` is the line's ID, if any.

    Raises QueryError when a dead note stands among them, or there are too few or too many.
    """
    figure = figure_from_notes_of(line, first, last)
    notes = line.notes[first : last + 1]
    begin = notes[0].onset_ticks
    chords = _chords(line, begin, max(notes[-1].end_ticks, begin + 1))
    return KeptFigure(
        name=name,
        notes=tuple(KeptNote(n.spelling, n.onset_ticks - begin, max(n.duration_ticks, 1)) for n in notes),
        chords=chords,
        key=next((chord.key for chord in chords if chord.key), _bar_key(line, first)),
        meter=figure.meter,
        beat=figure.beat,
        sources=(source_of(line, first, last, transcription),),
    )


def source_of(line: Transcription, first: int, last: int, transcription: int | None) -> KeptSource:
    """A passage as a source."""
    return KeptSource(
        title=clean_word(line.details.title),
        player=clean_word(line.details.player),
        passage=passage_name(line, first, last),
        notes=tuple(note.spelling for note in line.notes[first : last + 1]),
        transcription=transcription,
        first=None if transcription is None else first,
        last=None if transcription is None else last,
    )


def _bar_key(line: Transcription, first: int) -> str:
    key = line.bar_of(first).key
    return "" if key is None else short_key(key)


def _chords(line: Transcription, begin: int, end: int) -> tuple[KeptChord, ...]:
    """The chords that sound under a stretch of time; one that is only written again is told once."""
    if not line.chords:
        return ()
    from corpus.harmony.analysis import analyse

    under = [span for span in analyse(line).spans if span.onset_ticks < end and span.end_ticks > begin]
    chords = [
        KeptChord(
            symbol=clean_word(span.symbol_text),
            numeral="" if span.numeral is None else str(span.numeral),
            key="" if span.key is None else short_key(span.key),
            onset_ticks=max(span.onset_ticks - begin, 0),
        )
        for span in under
    ]
    return tuple(next(same) for _, same in groupby(chords, key=lambda c: (c.symbol, c.numeral, c.key)))


def from_typed(name: str, figure: Figure, lengths: Sequence[Fraction] = ()) -> KeptFigure:
    """The figure of typed notes or intervals.

    Without octaves each note lies as near as it can to the one before; intervals begin on C3. ``lengths`` are in
    quarters, one for each note. Raises QueryError for other ways of asking, and for lengths that do not fit.
    """
    if figure.pitches is None:
        raise QueryError(
            f"{figure.text!r} says which notes would do, but names none: find it, and keep a place with --like ID BARS"
        )
    return KeptFigure(name=name, notes=with_lengths(_spelled(figure), lengths))


def _spelled(figure: Figure) -> list[str]:
    assert figure.pitches is not None
    if figure.positions is None:
        return [default_spelling(_FIRST_PITCH + pitch) for pitch in figure.pitches]
    spelled: list[str] = []
    before = _FIRST_PITCH
    for text, is_known in zip(figure.text.split(), figure.octave_known, strict=True):
        note = parse_spelling(text)
        if not is_known:
            # The nearest of its octaves; of two a tritone away the upper one.
            octave = (before + 6 - (replace(note, octave=0).pitch or 0)) // 12
            note = replace(note, octave=octave)
        spelled.append(str(note))
        before = note.pitch or 0
    return spelled


def with_lengths(spellings: Sequence[str], lengths: Sequence[Fraction]) -> tuple[KeptNote, ...]:
    """Notes that follow each other without rests, as long as is said; without rhythm where nothing is said.

    Raises QueryError when there are more or fewer lengths than notes, or one is no whole number of ticks.
    """
    if not lengths:
        return tuple(map(KeptNote, spellings))
    if len(lengths) != len(spellings):
        raise QueryError(f"{len(spellings)} notes have {len(lengths)} lengths: give one for each note")
    notes, onset = [], 0
    for spelling, length in zip(spellings, lengths, strict=True):
        ticks = length * TICKS_PER_QUARTER
        if ticks.denominator != 1 or ticks <= 0:
            raise QueryError(f"length {length} is none that can be written: give quarters, as in 1, 1/2, 1/3, 0.25")
        notes.append(KeptNote(spelling, onset, int(ticks)))
        onset += int(ticks)
    return tuple(notes)


def parse_lengths(text: str) -> tuple[Fraction, ...]:
    """Lengths in quarters, such as ``1 1/2 0.5``. Raises QueryError for anything else."""
    lengths = []
    for word in text.replace(",", " ").split():
        try:
            length = Fraction(word[:20]).limit_denominator(96)
        except (ValueError, ZeroDivisionError) as error:
            raise QueryError(f"length {word[:20]!r} is no number of quarters: write 1, 1/2, 1/3, 0.25") from error
        if not 0 < length <= 1000:
            raise QueryError(f"length {word[:20]} is none that can be played: give quarters, as in 1, 1/2, 1/3")
        lengths.append(length)
    return tuple(lengths)


def typed_chords(symbols: str | None, functions: str | None, key: str) -> tuple[KeptChord, ...]:
    """Chords that were typed: symbols, functions, or both, one for one.

    Raises QueryError for an unreadable symbol or numeral, functions without key, or lists that do not pair.
    """
    from corpus.harmony.symbols import parse_symbol

    written = (symbols or "").split()
    numerals = [clean_numeral(word) for word in (functions or "").split()]
    for symbol in written:
        parse_symbol(symbol)
    if written and numerals and len(written) != len(numerals):
        raise QueryError(f"{len(written)} chords have {len(numerals)} functions: give one for each chord")
    if key:
        parse_key(key)
    count = max(len(written), len(numerals))
    return tuple(
        KeptChord(written[i] if written else "", numerals[i] if numerals else "", key if numerals else "")
        for i in range(count)
    )
