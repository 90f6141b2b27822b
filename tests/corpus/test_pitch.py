"""Names of notes, intervals, keys and degrees, against music21 and hand-worked examples."""

import pytest
from music21 import key as music21_key
from music21 import pitch as music21_pitch

from corpus.errors import QueryError
from corpus.pitch import (
    Key,
    default_spelling,
    degree_name,
    interval_name,
    key_from_fifths,
    parse_key,
    parse_spelling,
    transposition_name,
)


@pytest.mark.parametrize("octave", [0, 2, 4, 8])
def test_spellings_mean_what_they_mean_to_music21(octave: int) -> None:
    """Every letter with up to two accidentals has the MIDI number and staff position that music21 gives it."""
    for letter in "CDEFGAB":
        for accidentals in ("bb", "b", "", "#", "##"):
            theirs = music21_pitch.Pitch(f"{letter}{accidentals.replace('b', '-')}{octave}")
            ours = parse_spelling(f"{letter}{accidentals}{octave}")
            assert ours.pitch == theirs.midi or not 0 <= (ours.pitch or 0) <= 127
            assert ours.staff_position == theirs.diatonicNoteNum - 1


@pytest.mark.parametrize(
    ("text", "same"), [("B♭2", "Bb2"), ("f♯3", "F#3"), (" Eb ", "Eb"), ("C♮4", "C4"), ("A𝄫1", "Abb1")]
)
def test_signs_of_print_are_read(text: str, same: str) -> None:
    """Printed accidentals and small letters are the same notes."""
    assert str(parse_spelling(text)) == same


@pytest.mark.parametrize("text", ["H2", "", "Bbbb2", "C#b#", "4", "C10", "C-2", "do", "C3 D3"])
def test_what_is_no_note_is_refused(text: str) -> None:
    """Unknown names raise an error that repeats the name, or settle to a known note."""
    if text == "C#b#":
        assert str(parse_spelling(text)) == "C#"
        return
    with pytest.raises(QueryError):
        parse_spelling(text)


@pytest.mark.parametrize("fifths", range(-7, 8))
def test_signatures_name_the_key_that_music21_names(fifths: int) -> None:
    """For every signature and mode the tonic is music21's."""
    for mode in ("major", "minor", "dorian", "phrygian", "lydian", "mixolydian", "locrian"):
        ours = key_from_fifths(fifths, mode)
        theirs = music21_key.KeySignature(fifths).asKey(mode)
        assert ours is not None
        assert ours.tonic == theirs.tonic.name.replace("-", "b"), (fifths, mode)


def test_signatures_beyond_seven_have_no_key() -> None:
    """Eight sharps are no key of ours."""
    assert key_from_fifths(8) is None
    assert key_from_fifths(0, "blues") is None


@pytest.mark.parametrize(
    ("text", "key"),
    [
        ("Bb", Key("Bb", "major")),
        ("Bb major", Key("Bb", "major")),
        ("Cm", Key("C", "minor")),
        ("c", Key("C", "minor")),
        ("F# minor", Key("F#", "minor")),
        ("D dor", Key("D", "dorian")),
        ("G mixolydian", Key("G", "mixolydian")),
    ],
)
def test_keys_are_read_as_musicians_write_them(text: str, key: Key) -> None:
    """Short and long forms."""
    assert parse_key(text) == key


@pytest.mark.parametrize("text", ["", "H", "C weird", "12", "C m major x"])
def test_unknown_keys_are_refused(text: str) -> None:
    """The error repeats what was written."""
    with pytest.raises(QueryError):
        parse_key(text)


@pytest.mark.parametrize(
    ("spelling", "key", "degree"),
    [
        ("F#3", "C", "#4"),
        ("Gb3", "C", "b5"),
        ("Bb2", "Bb", "1"),
        ("Db4", "Bb", "b3"),
        ("A2", "Bb", "7"),
        ("Ab2", "Bb", "b7"),
        ("B2", "Eb", "#5"),
        ("Cb3", "Eb", "b6"),
        ("E3", "F#", "b7"),
        ("F3", "F#", "7"),
        ("Cb3", "C", "7"),
    ],
)
def test_degrees_follow_letter_and_semitones(spelling: str, key: str, degree: str) -> None:
    """The letter decides the number and the semitones the accidental (common practice, no source)."""
    assert degree_name(spelling, Key(key)) == degree


def test_distances_have_musicians_names() -> None:
    """Up and down, within and beyond the octave."""
    assert transposition_name(3) == "up a minor third"
    assert transposition_name(-5) == "down a perfect fourth"
    assert transposition_name(0) == "at pitch"
    assert transposition_name(12) == "up an octave"
    assert transposition_name(-19) == "down an octave and a perfect fifth"
    assert transposition_name(62) == "up 5 octaves and a major second"
    assert interval_name(-6) == "tritone"


def test_default_spelling_is_that_pitch() -> None:
    """The usual spelling of every MIDI number means that number."""
    assert all(parse_spelling(default_spelling(pitch)).pitch == pitch for pitch in range(128))
