"""From passages and typed figures to kept ones."""

from dataclasses import replace
from fractions import Fraction

import pytest

from corpus.errors import QueryError
from corpus.harmony.numerals import Numeral, Quality
from corpus.match.figure import figure_from_notes
from corpus.model import TICKS_PER_QUARTER, Bar, ChordSpan, Details, Meter, Note, Transcription
from corpus.pitch import Key, parse_spelling
from corpus.regions import notes_in, parse_region, passage_name
from corpus.shelf.keeping import from_passage, from_typed, parse_lengths, typed_chords
from corpus.shelf.kept import KeptChord, KeptFigure, KeptNote, clean_key, clean_numeral, short_key
from tests.generators.lines import walking_line

BAR = 4 * TICKS_PER_QUARTER


def line_of(*bars: str, chords: tuple[tuple[str, int], ...]) -> Transcription:
    """Quarter notes in 4/4, with chords by the beat (from 0) on which they begin."""
    notes = [
        Note(bar * BAR + beat * TICKS_PER_QUARTER, TICKS_PER_QUARTER, parse_spelling(name).pitch, name, bar)
        for bar, names in enumerate(bars)
        for beat, name in enumerate(names.split())
    ]
    onsets = [beat * TICKS_PER_QUARTER for _, beat in chords] + [len(bars) * BAR]
    spans = tuple(ChordSpan(symbol, onsets[i], onsets[i + 1]) for i, (symbol, _) in enumerate(chords))
    played = tuple(Bar(b + 1, 1, b * BAR, BAR, 0, Meter(4, 4), 1, Key("Bb")) for b in range(len(bars)))
    return Transcription(Details("Tune\x1b", "Player", key=Key("Bb")), tuple(notes), played, spans)


def test_chords_under_a_passage_are_told_from_its_first_note_on() -> None:
    """The chord that sounds already begins with the figure; those after it are left out."""
    line = line_of("C3 Eb3 G3 F3", "A2 C3 Eb3 D3", "Bb2 D3 F3 D3", chords=(("Cm7", 0), ("F7", 4), ("Bb6", 8)))
    kept = from_passage("x", line, 2, 5, 3)
    assert kept.chords == (KeptChord("Cm7", "ii", "Bb", 0), KeptChord("F7", "V", "Bb", 2 * TICKS_PER_QUARTER))
    assert (kept.beat, kept.meter, kept.key) == (Fraction(3), Meter(4, 4), "Bb")
    (source,) = kept.sources
    assert (source.title, source.player, source.passage) == ("Tune", "Player", "1:3-2:2")
    assert (source.transcription, source.first, source.last) == (3, 2, 5)
    assert kept.figure.onsets == tuple(n * TICKS_PER_QUARTER for n in range(4))


def test_the_passage_of_a_source_is_typed_back_to_the_same_notes() -> None:
    """On all stretches of a generated line."""
    line = walking_line(5, 6)
    for first in range(len(line.notes) - 3):
        assert notes_in(line, parse_region(passage_name(line, first, first + 3))) == (first, first + 3)


def test_without_chords_the_key_of_the_bar_is_kept() -> None:
    """And none where nobody said."""
    line = replace(line_of("C3 D3 Eb3 F3", chords=(("Cm7", 0),)), chords=())
    assert (from_passage("x", line, 0, 1, None).key, from_passage("x", line, 0, 1, None).chords) == ("Bb", ())
    bare = replace(line, bars=tuple(replace(bar, key=None) for bar in line.bars))
    assert from_passage("x", bare, 0, 1, None).key == ""


def test_every_function_and_key_that_an_analysis_can_tell_is_read_back() -> None:
    """What is stored of a chord must not keep the shelf from being opened."""
    plain = [Numeral(d, sign, quality) for d in range(1, 8) for sign in (-1, 0, 1) for quality in Quality]
    applied = [replace(numeral, of=target) for numeral in plain for target in plain[::5]]
    for numeral in (*plain, *applied):
        assert clean_numeral(str(numeral)) == str(numeral)
    for tonic in (letter + sign for letter in "CDEFGAB" for sign in ("", "b", "#")):
        for mode in ("major", "minor", "dorian", "phrygian", "lydian", "mixolydian", "locrian", "aeolian"):
            assert clean_key(short_key(Key(tonic, mode))) == short_key(Key(tonic, mode))


def test_octaves_that_are_not_typed_lie_near() -> None:
    """The nearest octave, of two a tritone away the upper one; octaves that are typed stay."""
    spelled = from_typed("x", figure_from_notes("C F# C5 B Cb B#")).spellings
    assert spelled == ("C3", "F#3", "C5", "B4", "Cb5", "B#4")


def test_lengths_are_fractions_or_decimals_of_quarters() -> None:
    """Thirds may be rounded."""
    assert parse_lengths("1, 1/2 0.25 0.333") == (Fraction(1), Fraction(1, 2), Fraction(1, 4), Fraction(1, 3))
    with pytest.raises(QueryError, match="3 lengths: give one for each note"):
        from_typed("x", figure_from_notes("C3 D3"), parse_lengths("1 1 1"))


def test_typed_chords_pair_symbols_and_functions() -> None:
    """Either may be left out."""
    assert typed_chords("Cm7 F7", "ii V", "Bb") == (KeptChord("Cm7", "ii", "Bb"), KeptChord("F7", "V", "Bb"))
    assert typed_chords("Cm7", None, "Bb") == (KeptChord("Cm7"),)
    assert typed_chords(None, "V7/ii", "Bb") == (KeptChord("", "V/ii", "Bb"),)
    with pytest.raises(QueryError, match="Hm7"):
        typed_chords("Hm7", None, "")


@pytest.mark.parametrize(
    "notes",
    [
        (),
        (KeptNote("C3"),),
        (KeptNote("C3"), KeptNote("D")),
        (KeptNote("C3", 0, 1), KeptNote("D3")),
        (KeptNote("C3", 1, 1), KeptNote("D3", 2, 1)),
        (KeptNote("C3", 0, 1), KeptNote("D3", 0, 1)),
        (KeptNote("C3", 0, 0), KeptNote("D3", 1, 1)),
        (KeptNote("C3", 0, 1), KeptNote("D3", 1, 10**9)),
        (KeptNote("C3"),) * 501,
    ],
)
def test_notes_that_cannot_be_kept(notes: tuple[KeptNote, ...]) -> None:
    """Too few, without octave, with half a rhythm, not in order, too long."""
    with pytest.raises(QueryError):
        KeptFigure("x", notes)
