"""Arpeggios worked out by hand, and against music21's names of chords."""

from typing import Any

import pytest

from tests.corpus.shapes.helping import of, shapes


@pytest.mark.parametrize(
    ("notes", "chords", "expected"),
    [
        ("D3 F3 A3 G3 E3", "C7 F", [(0, 2, "arpeggio of Dm over C7: 9 11 13")]),
        ("C3 E3 G3 F3", "C7", [(0, 2, "arpeggio of C7: 1 3 5")]),
        ("E3 G3 Bb3 A3", "C7", [(0, 2, "arpeggio of C7: 3 5 b7")]),
        ("C3 E3 G3 Bb3 C4", "C7 C7", [(0, 4, "arpeggio of C7: 1 3 5 b7 1")]),
        ("C3 G2 E3 C3", "C", [(0, 3, "arpeggio of C: 1 5 3 1")]),
        ("E3 G3 Bb3 D4", "C7", [(0, 3, "arpeggio of Em7b5 over C7: 3 5 b7 9")]),
        ("C3 E3 G3 A3", "C6", [(0, 3, "arpeggio of C6: 1 3 5 6")]),
        ("C3 E3 G3 A3", "C7", [(0, 2, "arpeggio of C7: 1 3 5")]),
        ("C3 E3 G3 B3", "", [(0, 3, "arpeggio of Cmaj7")]),
        ("F2 Bb2 D3 F3", "Bb6 G7", [(0, 3, "arpeggio of Bb over Bb6 G7")]),
        ("C3 C3 E3 E3 G3 G3", "C C", [(0, 5, "arpeggio of C: 1 3 5")]),
    ],
)
def test_an_arpeggio_is_told_with_its_chord(notes: str, chords: str, expected: list[tuple[int, int, str]]) -> None:
    """The written chord, whole or without root, or another one over it."""
    each = 2 if " " in chords and "Bb6" in chords else 4
    assert of("arpeggio", shapes(notes, chords, each=each)) == expected


@pytest.mark.parametrize(
    ("notes", "chords"),
    [
        ("C3 G3 C4 G3", "C"),
        ("C3 E3 C3 E3", "C"),
        ("C3 E3 G2 A2", "C7"),
        ("C3 D3 E3 G3", "C"),
        ("G3 E3 x C3 D3", "C"),
        ("C3 E3 r3 G3 A3", "C C"),
        ("C3 Bb2 G3 C3", "C7"),
        ("C3 E3 C3 G3 C3 F3", "C Dm7"),
    ],
)
def test_what_is_no_arpeggio(notes: str, chords: str) -> None:
    """Root and fifth, two tones, three in a wide turn, steps, breaks, no third, in turns over a change of chord."""
    assert of("arpeggio", shapes(notes, chords, each=3 if "Dm7" in chords else 4)) == []


def test_a_chord_that_is_written_again_is_one_chord() -> None:
    """Three notes over the bar line between two bars of C7 are an arpeggio, between C7 and Gm7 not."""
    notes, quarters = "F3 F3 C3 E3 G3 A3", "1"
    assert of("arpeggio", shapes(notes, "C7 C7", quarters=quarters)) == [(2, 4, "arpeggio of C7: 1 3 5")]
    assert of("arpeggio", shapes(notes, "C7 Gm7", each=3)) != [(2, 4, "arpeggio of C7: 1 3 5")]


@pytest.mark.parametrize(
    ("notes", "chord", "words"),
    [
        ("C3 E3 G3 D3 F3 A3 C4 E4 G4", "C7", "Dm triad, a step above the root, between two arpeggios of C7"),
        ("C3 E3 G3 D3 F3 A3 C4 E4 G4", "C6", "Dm triad, a step above the root, between two arpeggios of C6"),
        ("G2 B2 D3 Ab2 C3 Eb3 G3 B3 D4", "G7", "Ab triad, a half-step above the root, between two arpeggios of G7"),
    ],
)
def test_a_triad_a_step_above_the_root_between_two_arpeggios(notes: str, chord: str, words: str) -> None:
    """One shape, which tells where its three parts lie."""
    found = [s for s in shapes(notes, f"{chord} {chord}", quarters="1/2") if s.kind == "arpeggio"]
    assert [(s.first, s.last, s.words) for s in found] == [(0, 8, words)]
    assert found[0].details["parts"] == [[0, 2], [3, 5], [6, 8]]


def test_a_triad_elsewhere_or_not_in_between_is_a_shape_of_its_own() -> None:
    """F over C7 stands a fourth above; Dm after C7 alone has nothing after it."""
    fourth = of("arpeggio", shapes("C3 E3 G3 F3 A3 C4 C3 E3 G3", "C7 C7", quarters="1/2"))
    assert all("between" not in words for _, _, words in fourth)
    after = of("arpeggio", shapes("C3 E3 G3 D3 F3 A3", "C7", quarters="1/2"))
    assert [words for _, _, words in after] == ["arpeggio of C7: 1 3 5", "arpeggio of Dm over C7: 9 11 13"]


SPELLED = {
    "C3 E3 G3 B3": ("C", "major seventh chord"),
    "D3 F3 A3 C4": ("D", "minor seventh chord"),
    "B2 D3 F3 A3": ("B", "half-diminished seventh chord"),
    "G2 B2 D3 F3": ("G", "dominant seventh chord"),
    "A2 C3 E3 A3": ("A", "minor triad"),
    "G2 D3 B3 G3": ("G", "major triad"),
    "B2 F3 D3 B2": ("B", "diminished triad"),
}
SUFFIXES = {
    "major seventh chord": "maj7",
    "minor seventh chord": "m7",
    "half-diminished seventh chord": "m7b5",
    "dominant seventh chord": "7",
    "minor triad": "m",
    "major triad": "",
    "diminished triad": "dim",
}


@pytest.mark.parametrize("notes", SPELLED)
def test_chords_are_those_that_music21_names(notes: str) -> None:
    """music21's root and common name of the same notes, transposed to all twelve roots."""
    from music21 import chord, interval

    untransposed: Any = chord.Chord([note.replace("b", "-") for note in notes.split()])
    checked = 0
    for name in ("P1", "m2", "M2", "m3", "M3", "P4", "A4", "P5", "m6", "M6", "m7", "M7"):
        moved = untransposed.transpose(interval.Interval(name))
        names = [pitch.nameWithOctave.replace("-", "b") for pitch in moved.pitches]
        if all(len(note) <= 3 for note in names):  # no double accidentals
            root, suffix = moved.root().name.replace("-", "b"), SUFFIXES[moved.commonName]
            assert of("arpeggio", shapes(" ".join(names))) == [(0, 3, f"arpeggio of {root}{suffix}")]
            checked += 1
    assert checked >= 9
