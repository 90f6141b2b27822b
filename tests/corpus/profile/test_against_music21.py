"""Shares of roots and chord tones against independent computations: music21 on scores, a second reader on seed lines.

Bass lines: the 20 chorales of which music21 ships both the score and a RomanText analysis by human analysts, and the
31 shortest analyses of Monteverdi madrigals of books 3 to 5, to make more than fifty pieces (all 48 were equal once,
which takes two minutes).
"""

import warnings
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path
from typing import Any

import pytest

from corpus.model import TICKS_PER_QUARTER, Bar, ChordSpan, Details, Meter, Note, Transcription
from corpus.pitch import default_spelling
from corpus.profile.columns import columns_of
from corpus.profile.profile import profile_of
from corpus.profile.samples import Measure
from corpus.read.formats import pieces_of, read_piece
from corpus.read.written import ReadingWishes
from tests.bench.analyses import _SYMBOLS, files
from tests.seed import independent

SEED = Path(__file__).parents[3] / "seed_data"


def measures_of(line: Transcription) -> dict[str, Measure]:
    """The figures of a line by key."""
    return {measure.key: measure for measure in profile_of(columns_of(line)).measures}


def figures(line: Transcription) -> tuple[tuple[int | None, int], ...]:
    """Roots, chord tones and roots on first beats of a line, each as count and n."""
    found = measures_of(line)
    keys = ("roots.all", "kinds.all_notes.chord", "roots.first_beats")
    return tuple((found[key].count, found[key].n) for key in keys)


def seed_lines() -> dict[tuple[str, str], Transcription]:
    """Every seed line by title and player, as the program reads it."""
    lines = {}
    for file in sorted([*SEED.glob("*.abc"), *SEED.glob("*.musicxml")]):
        for piece in pieces_of(file.read_bytes(), file.name):
            line = read_piece(piece, ReadingWishes())
            lines[line.details.title, line.details.player] = line
    return lines


def test_seed_figures_are_those_of_the_second_reader() -> None:
    """Roots, chord tones and first beats of all seed lines without repeats, which the second reader does not play."""
    ours = seed_lines()
    compared = 0
    for theirs in independent.read_all():
        line = ours[theirs.title, theirs.player]
        sounding = [note for note in theirs.notes if not note.dead and note.chord]
        if len(sounding) != sum(1 for n in line.notes if n.pitch is not None and line.chord_at(n.onset_ticks)):
            continue  # a repeat is played out
        against = [(note, independent.chord_tones(note.chord)) for note in sounding]
        first = [(note, tones[0]) for note, tones in against if note.beat == 1]
        assert figures(line) == (
            (sum(note.midi % 12 == tones[0] for note, tones in against), len(sounding)),
            (sum(note.midi % 12 in tones for note, tones in against), len(sounding)),
            (sum(note.midi % 12 == root for note, root in first), len(first)),
        ), theirs.title
        compared += 1
    assert compared >= 14


@pytest.mark.parametrize("file", sorted(SEED.glob("*.musicxml")), ids=lambda file: file.stem)
def test_seed_figures_are_those_of_music21(file: Path) -> None:
    """music21's own reading of the file: notes at sounding pitch against the pitches of its chord symbols."""
    from music21 import converter, harmony

    score: Any = converter.parse(str(file), forceSource=True)
    part = score.parts[0].toSoundingPitch().stripTies().flatten()
    chords = list(part.getElementsByClass(harmony.ChordSymbol))
    pairs = []
    for note in part.notes:
        if isinstance(note, harmony.ChordSymbol) or note.duration.isGrace or not hasattr(note, "pitch"):
            continue
        chord = max((c for c in chords if c.offset <= note.offset), key=lambda c: float(c.offset), default=None)
        if chord is not None and note.notehead != "x":
            pairs.append((note, chord))
    first = [(note, chord) for note, chord in pairs if note.beat == 1]

    def roots(some: Sequence[tuple[Any, Any]]) -> tuple[int, int]:
        return sum(note.pitch.pitchClass == chord.root().pitchClass for note, chord in some), len(some)

    tones = sum(note.pitch.pitchClass in {p.pitchClass for p in chord.pitches} for note, chord in pairs)
    line = read_piece(pieces_of(file.read_bytes(), file.name)[0], ReadingWishes())
    assert figures(line) == (roots(pairs), (tones, len(pairs)), roots(first))


@dataclass(frozen=True)
class BassLine:
    """A bass line over analysed chords: our transcription of it, and music21's answer."""

    name: str
    line: Transcription
    expected: tuple[tuple[int, int], ...]


def bass_lines() -> Iterator[BassLine]:
    """The bass of every piece that has a score and an analysis."""
    for group in ("Bach chorales", "Monteverdi madrigals"):
        shortest = sorted(files(group), key=lambda file: file.stat().st_size)[:31]
        for file in shortest:
            with warnings.catch_warnings():
                warnings.simplefilter("ignore")
                found = _bass_line(file)
            if found is not None:
                yield found


def _score_of(file: Path) -> Any:
    from music21 import corpus as scores

    if file.stem.startswith("riemenschneider"):
        number = int(file.stem.removeprefix("riemenschneider"))
        return next(scores.chorales.Iterator(number, number, numberingSystem="riemenschneider"))
    return scores.parse(f"monteverdi/{file.stem}")


def _bass_line(file: Path) -> BassLine | None:
    from music21 import converter, roman

    analysis = converter.parse(str(file), format="romantext").flatten()
    chords = list(analysis.getElementsByClass(roman.RomanNumeral))
    score = _score_of(file)
    bass = score.parts[-1].stripTies().flatten()
    end = float(bass.highestTime)
    spans, answers = [], []
    for index, chord in enumerate(chords):
        start = float(chord.offset)
        stop = min(float(chords[index + 1].offset) if index + 1 < len(chords) else end, end)
        symbol = _symbol(chord)
        if stop <= start:
            continue
        spans.append(ChordSpan(symbol[0] if symbol else "N.C.", _ticks(start), _ticks(stop)))
        answers.append((start, stop, symbol))
    notes = [(float(note.offset), float(note.quarterLength), note.pitch) for note in bass.notes if note.isNote]
    length = 4 * TICKS_PER_QUARTER
    bars = tuple(
        Bar(number + 1, 1, number * length, length, 0, Meter(4, 4)) for number in range(1 + _ticks(end) // length)
    )
    line = Transcription(
        Details(title=file.stem),
        tuple(
            Note(_ticks(at), _ticks(long), pitch.midi, default_spelling(pitch.midi), _ticks(at) // length)
            for at, long, pitch in notes
        ),
        bars,
        tuple(spans),
    )
    return BassLine(file.stem, line, _expected(notes, answers)) if spans and notes else None


def _symbol(chord: Any) -> tuple[str, int, frozenset[int]] | None:
    """Symbol, root and pitch classes of an analyst's chord, None for one that our symbols do not write."""
    root, classes = chord.root(), frozenset(pitch.pitchClass for pitch in chord.pitches)
    suffix = _SYMBOLS.get(tuple(sorted((pitch - root.pitchClass) % 12 for pitch in classes)))
    if suffix is None or suffix == "5" or len(classes) < 3:
        return None
    return root.name.replace("-", "b") + suffix, root.pitchClass, classes


def _expected(notes: Sequence[Any], answers: Sequence[Any]) -> tuple[tuple[int, int], ...]:
    pairs = []
    for at, _, pitch in notes:
        for start, stop, symbol in answers:
            if start <= at < stop and symbol is not None:
                pairs.append((at, pitch.pitchClass, symbol))
                break
    first = [(pitch, symbol) for at, pitch, symbol in pairs if at % 4 == 0]
    return (
        (sum(pitch == symbol[1] for _, pitch, symbol in pairs), len(pairs)),
        (sum(pitch in symbol[2] for _, pitch, symbol in pairs), len(pairs)),
        (sum(pitch == symbol[1] for pitch, symbol in first), len(first)),
    )


def _ticks(quarters: float) -> int:
    return round(Fraction(quarters).limit_denominator(96) * TICKS_PER_QUARTER)


def test_bass_lines_have_the_roots_and_chord_tones_that_music21_counts() -> None:
    """More than fifty bass lines against the analysts' chords; all counts are equal."""
    compared = notes = 0
    for bass in bass_lines():
        assert figures(bass.line) == bass.expected, bass.name
        compared += 1
        notes += bass.expected[0][1]
    assert compared >= 50
    assert notes > 3000
