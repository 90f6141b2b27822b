"""Lines in other keys, beside music21's transposition by interval."""

from typing import Any

import pytest

from corpus.errors import RangeError
from corpus.harmony.symbols import parse_symbol
from corpus.model import Transcription
from corpus.pitch import Key, fifths_of
from corpus.rework import transposed_line
from tests.corpus.write.seed import abc_line, seed_lines

LINES = pytest.mark.parametrize("line", seed_lines(), ids=lambda t: f"{t.details.title}-{t.details.player.split()[0]}")


def outside_pitch(spelling: str) -> Any:
    """A note of ours as music21's."""
    from music21 import pitch

    return pitch.Pitch(spelling.replace("b", "-"))


@LINES
def test_music21_spells_alike_but_for_double_accidentals(line: Transcription) -> None:
    """All twelve keys: music21 moves each note by the interval between the two tonics.

    Explained difference: music21 keeps double accidentals, ours are respelled to the same pitch.
    """
    from music21 import interval

    assert line.details.key is not None
    for semitones in range(-5, 7):
        moved = transposed_line(line, semitones)
        assert moved.details.key is not None
        assert abs(fifths_of(moved.details.key)) <= 6
        steps = (moved.details.key.tonic_spelling.letter - line.details.key.tonic_spelling.letter) % 7
        steps -= 7 if semitones < 0 and steps else 0
        theirs = interval.intervalFromGenericAndChromatic(
            interval.GenericInterval(steps + 1 if steps >= 0 else steps - 1), interval.ChromaticInterval(semitones)
        )
        for before, after in zip(line.notes[:120], moved.notes, strict=False):
            if before.pitch is None:
                assert after == before
                continue
            assert after.pitch == before.pitch + semitones
            outside = theirs.transposePitch(outside_pitch(before.spelling))
            if abs(outside.alter) <= 1:
                assert after.spelling == outside.nameWithOctave.replace("-", "b")
            else:
                ours = outside_pitch(after.spelling)
                assert (ours.ps, abs(ours.alter) <= 1) == (outside.ps, True)


@LINES
def test_chords_move_with_the_notes(line: Transcription) -> None:
    """Every root moves by the same semitones, tones stay; up and down again gives the same symbols' tones."""
    for semitones in (1, 6, -3):
        for before, after in zip(line.chords, transposed_line(line, semitones).chords, strict=True):
            old, new = parse_symbol(before.symbol), parse_symbol(after.symbol)
            assert old.tones == new.tones
            if old.root is not None and new.root is not None:
                assert (new.root.pitch_class - old.root.pitch_class) % 12 == semitones % 12


@pytest.mark.parametrize(
    ("semitones", "notes", "key"),
    [
        (-1, "B3 D#4 F#4", "B"),
        (1, "Db4 F4 Ab4", "Db"),
        (6, "Gb4 Bb4 Db5", "Gb"),
        (-6, "Gb3 Bb3 Db4", "Gb"),
        (3, "Eb4 G4 Bb4", "Eb"),
        (12, "C5 E5 G5", "C"),
    ],
)
def test_a_triad_is_spelled_for_its_key(semitones: int, notes: str, key: str) -> None:
    """C E G in other keys, by hand."""
    moved = transposed_line(abc_line("C2 E2 G4 |]"), semitones)
    assert (" ".join(note.spelling for note in moved.notes), moved.details.key) == (notes, Key(key, "major"))


def test_an_interval_may_be_given() -> None:
    """An augmented unison up from C is C#, seven sharps; C flat major is written with C E G flat, never with B."""
    assert [n.spelling for n in transposed_line(abc_line("C2 E2 G4 |]"), 1, 0).notes] == ["C#4", "E#4", "G#4"]
    assert [n.spelling for n in transposed_line(abc_line("C2 E2 G4 |]"), -1, 0).notes] == ["Cb4", "Eb4", "Gb4"]


def test_double_accidentals_are_respelled() -> None:
    """D flat minor third of B flat, in D flat: F flat stays; B double flat becomes A."""
    moved = transposed_line(abc_line("_E2 _A2 _B4 |]", key="Bb"), 3)
    assert [note.spelling for note in moved.notes] == ["Gb4", "Cb5", "Db5"]
    assert [n.spelling for n in transposed_line(abc_line("_G2 ^F2 z4 |]"), 1).notes] == ["G4", "G4"]


def test_what_nobody_can_play_is_refused() -> None:
    """Words with the note."""
    with pytest.raises(RangeError, match="C4 moved by 120 semitones"):
        transposed_line(abc_line("C8 |]"), 120)
