"""Doubled notes, sequences and calls, worked out by hand."""

import pytest

from tests.corpus.shapes.helping import of, shapes


@pytest.mark.parametrize(
    ("notes", "expected"),
    [
        ("F2 F2 D2 D2 Eb2 Eb2", [(0, 5, "doubled notes: F D Eb")]),
        ("C2 F2 F2 D2 D2 Eb2 Eb2 G2", [(1, 6, "doubled notes: F D Eb")]),
        ("F2 F2 D2 D2 D2 D2 Eb2 Eb2 E2 E2", [(0, 9, "doubled notes: F D Eb E")]),
        ("C2 C2 C2 F2 F2 D2 D2 Eb2 Eb2", [(1, 8, "doubled notes: C F D Eb")]),
        ("F2 F2 D2 D2 Eb2 Eb2 C2 C2 C2", [(0, 7, "doubled notes: F D Eb C")]),
        ("F2 F2 D2 D2 Eb2", []),
        ("F2 F2 F2 D2 D2 Eb2 Eb2", []),
        ("F2 F3 D2 D3 Eb2 Eb3", []),
        ("F2 F2 D2 D2 x Eb2 Eb2", []),
        ("F2 F2 F2 F2 F2 F2", []),
    ],
)
def test_doubled_notes_are_three_pitches_struck_twice(notes: str, expected: list[tuple[int, int, str]]) -> None:
    """Two pitches, three strikes, octaves, one pitch are not enough; a dead note parts."""
    assert of("doubled notes", shapes(notes)) == expected


@pytest.mark.parametrize(
    ("notes", "quarters", "expected"),
    [
        ("Bb3 G3 A3 F3 G3 E3 F3 D3", "1", [(0, 7, "sequence: 2 notes, 4 times, a step lower each time")]),
        ("C3 D3 E3 C3 D3 E3 F3 D3", "1", [(0, 7, "sequence: 4 notes, 2 times, a step higher")]),
        ("C3 E3 D3 F3 E3 G3", "1", [(0, 5, "sequence: 2 notes, 3 times, a step higher each time")]),
        ("C3 G3 E3 C#3 G#3 F3 D3 A3 F#3", "1", [(0, 8, "sequence: 3 notes, 3 times, a half-step higher each time")]),
        ("C3 D3 E3 G3 F3 G3 A3 C4", "1 1/2 1/2 2", [(0, 7, "sequence: 4 notes, 2 times, a fourth higher")]),
        ("C3 D3 E3 G3 F3 G3 A3 C4", "1 1/2 1/2 2 1", []),
        ("A2 C3 D3 E3 C3 D3 E3 F3 D3", "1", []),
        ("C3 E3 D3 F3", "1", []),
        ("C3 D3 E3 F3 G3 A3 B3 C4", "1", []),
        ("C3 D3 E3 C3 C3 D3 E3 C3", "1", []),
        ("C3 D3 E3 G3 C4 D4 E4 G4", "1", []),
        ("C3 F3 Bb3 Eb4 Ab4 Db5", "1", []),
        ("C3 E3 D3 F3 x E3 G3", "1", []),
        ("C3 C3 C3 C3 D3 D3 D3 D3", "1", []),
    ],
)
def test_a_sequence_says_a_cell_again_on_other_degrees(
    notes: str, quarters: str, expected: list[tuple[int, int, str]]
) -> None:
    """Not: new rhythm, twice off the beat, too seldom, runs, same degree or octave, cycles, breaks, repeated notes."""
    assert of("sequence", shapes(notes, quarters=quarters)) == expected


@pytest.mark.parametrize(
    ("notes", "expected"),
    [
        ("C2 E2 D2 C3 E3 D3", [(0, 5, "call of 3 notes repeated an octave higher")]),
        ("F2 C2 E2 D2 G2 C3 E3 D3 G3 A3", [(1, 8, "call of 4 notes repeated an octave higher")]),
        ("C2 E2 D2 r2 C3 E3 D3", [(0, 5, "call of 3 notes repeated an octave higher")]),
        ("C2 C2 E2 E2 D2 D2 C3 C3 E3 E3 D3 D3", [(0, 11, "call of 3 notes repeated an octave higher")]),
        ("C3 E3 D3 C2 E2 D2", []),
        ("C2 E2 D2 C3 E3 F3", []),
        ("C2 C3 C2 C3", []),
        ("C2 E2 C3 E3", []),
        ("C2 E2 D2 r5 C3 E3 D3", []),
        ("C2 E2 D2 x C3 E3 D3", []),
        ("C2 E2 D2 F2 C3 E3 D3", []),
    ],
)
def test_a_call_comes_again_an_octave_higher(notes: str, expected: list[tuple[int, int, str]]) -> None:
    """Not: lower, with another note, octave skips, two notes, after a bar's silence or a dead note, not at once."""
    assert of("call an octave higher", shapes(notes)) == expected
