"""Runs of fourths, scale runs and chromatic runs, worked out by hand."""

import pytest

from tests.corpus.shapes.helping import of, shapes


@pytest.mark.parametrize(
    ("notes", "words"),
    [
        ("A1 D2 G2 C3 F3", "run of fourths up"),
        ("F3 C3 G2 D2", "run of fourths down"),
        ("C2 G2 D3 A3", "run of fifths up"),
        ("A1 D2 G1 C2 F2", "run of fourths, octaves broken"),
        ("C2 Eb2 Gb2 A2 C3", "run of minor thirds up (Cdim7)"),
        ("C2 E2 G#2 C3", "run of major thirds up (Caug)"),
        ("C3 D3 E3 F#2 G#2", "run of whole steps, octaves broken"),
        ("A1 A1 D2 D2 G2 G2 C3 C3", "run of fourths up"),
    ],
)
def test_a_run_by_one_interval_is_named(notes: str, words: str) -> None:
    """Doubled notes count once, and octaves may be broken."""
    assert of("interval cycle", shapes(notes)) == [(0, len(notes.split()) - 1, words)]


@pytest.mark.parametrize(
    "notes",
    [
        "A1 D2 G2",
        "A1 D2 G2 B2 E3",
        "C3 F#3 C4 F#3 C3",
        "C3 D3 E3 F#3 G#3",
        "C3 Db3 D3 Eb3 E3",
        "A1 D2 x G2 C3",
        "A1 D2 r2 G2 C3",
        "C3 C3 C3 C3 C3",
    ],
)
def test_what_is_no_interval_cycle(notes: str) -> None:
    """Too short, tritones, plain steps, broken by a dead note or a silence, one pitch."""
    assert of("interval cycle", shapes(notes)) == []


@pytest.mark.parametrize(
    ("notes", "chords", "key", "words"),
    [
        ("D3 E3 F3 G3 A3", "Dm7 G7", "C", "D dorian run up (C major)"),
        ("F3 E3 D3 C3 B2 A2", "G7 G7", "C", "G mixolydian run down (C major)"),
        ("C3 D3 E3 F3 G3", "Cmaj7 Cmaj7", "C", "C major run up"),
        ("C3 D3 Eb3 F3 G3", "Cm7 Cm7", "Bb", "C dorian run up (Bb major)"),
        ("G2 A2 B2 C3 D3 Eb3", "Cm(maj7) Cm(maj7)", "C minor", "C melodic minor run up"),
        ("Eb2 F#2 G2 A2 Bb2", "Gm6 Gm6", "G minor", "G harmonic minor run up"),
        ("C3 D3 E3 F#3 G#3", "C7 C7", "F", "whole-tone run up"),
        ("C3 D3 Eb3 F3 Gb3 Ab3", "Cdim7 Cdim7", "C", "diminished scale run up"),
        ("G3 F#3 F3 E3 D3 C3 B2", "G7 G7", "C", "G mixolydian run down with passing F# (C major)"),
        ("G3 G#3 A3 B3 C4", "Cmaj7 Cmaj7", "C", "C major run up with passing G#"),
        ("F3 E3 D3 C3 Bb2", "", "", "F major run down"),
    ],
)
def test_a_scale_run_is_named_by_its_mode_and_parent_scale(notes: str, chords: str, key: str, words: str) -> None:
    """From the root of the chord; without chord, by the major scale nearest to the first note's."""
    assert of("scale run", shapes(notes, chords, key)) == [(0, len(notes.split()) - 1, words)]


@pytest.mark.parametrize(
    "notes",
    [
        "D3 E3 F3 G3",
        "D3 E3 G3 A3 B3",
        "D3 E3 F3 E3 D3",
        "D3 E3 x F3 G3 A3",
        "D3 D#3 E3 F3 F#3 G3 G#3",
        "D3 D3 D3 D3 D3",
    ],
)
def test_what_is_no_scale_run(notes: str) -> None:
    """Four notes, a third in it, a turn, a dead note, half-steps only, one pitch."""
    assert of("scale run", shapes(notes, "Dm7 Dm7")) == []


def test_runs_share_the_note_on_which_they_turn() -> None:
    """Up to G and down again; and a chromatic end takes its notes from the scale."""
    both = of("scale run", shapes("C3 D3 E3 F3 G3 F3 E3 D3 C3", "C C C"))
    assert [(first, last) for first, last, _ in both] == [(0, 4), (4, 8)]
    found = shapes("C3 D3 E3 F3 G3 Ab3 A3 Bb3 B3", "C C C")
    assert of("scale run", found) == [(0, 4, "C major run up")]
    assert of("chromatic run", found) == [(4, 8, "chromatic run up to B")]


@pytest.mark.parametrize(
    ("notes", "expected"),
    [
        ("F2 D2 Eb2 E2 F2", [(1, 4, "chromatic run up to F")]),
        ("B2 Bb2 A2 Ab2 G2 F2", [(0, 4, "chromatic run down to G")]),
        ("B2 B2 Bb2 Bb2 A2 A2 Ab2 Ab2", [(0, 7, "chromatic run down to Ab")]),
        ("F2 D2 Eb2 E2 G2", []),
        ("E2 F2 E2 F2 E2", []),
        ("D2 Eb2 x E2 F2", []),
        ("D2 Eb2 E3 F3", []),
    ],
)
def test_a_chromatic_run_has_four_notes_by_half_step(notes: str, expected: list[tuple[int, int, str]]) -> None:
    """In one direction and one octave, doubled or not."""
    assert of("chromatic run", shapes(notes)) == expected


@pytest.mark.parametrize("tonic", ["C", "D", "Eb", "F", "G", "A", "Bb"])
def test_the_scale_of_a_whole_octave_is_the_one_that_music21_derives(tonic: str) -> None:
    """Major and harmonic and melodic minor scales, up an octave, against ``derive`` of music21's scales."""
    from typing import Any

    from music21 import pitch, scale

    minor = tonic if tonic in "CDFGA" else "E"
    for kind, name, told in (
        (scale.MajorScale, tonic, "major"),
        (scale.HarmonicMinorScale, minor, "harmonic minor"),
        (scale.MelodicMinorScale, minor, "melodic minor"),
    ):
        made: Any = kind(name.replace("b", "-"))
        low = pitch.Pitch(f"{name.replace('b', '-')}3")
        pitches: Any = made.getPitches(low, low.transpose(12), direction=scale.Direction.ASCENDING)
        blank: Any = kind()
        assert blank.derive(list(pitches)).tonic.name.replace("-", "b") == name
        notes = " ".join(note.nameWithOctave.replace("-", "b") for note in pitches)
        symbol = name if told == "major" else f"{name}m(maj7)"
        runs = of("scale run", shapes(notes, f"{symbol} {symbol}", name))
        assert [words for _, _, words in runs] == [f"{name} {told} run up"]
