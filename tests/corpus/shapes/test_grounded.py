"""Enclosures, pedals, roots and cadences, worked out by hand."""

import pytest

from tests.corpus.shapes.helping import of, shapes


@pytest.mark.parametrize(
    ("notes", "chords", "expected"),
    [
        ("G2 Bb2 Gb2 E2 F2", "Cm7 F7", [(2, 4, "enclosure of F from above and below (the 1 of F7)")]),
        ("C3 E3 F#3 Ab3 G3", "C7 G7", [(2, 4, "enclosure of G from below and above (the 1 of G7)")]),
        ("C3 E3 F3 F#3 Ab3 G3", "C7 G7", [(2, 5, "enclosure of G from below and above (the 1 of G7)")]),
        ("Gb2 Gb2 E2 E2 F2 F2", "Cm7 F7", [(0, 4, "enclosure of F from above and below (the 1 of F7)")]),
        ("G3 E3 C4 A3 B3", "C G7", [(2, 4, "enclosure of B from above and below (the 3 of G7)")]),
        ("C3 E3 G#3 Bb3 A3", "", [(2, 4, "enclosure of A from below and above")]),
        ("C3 E3 Eb3 C#3 D3", "F7 Em7", [(1, 4, "enclosure of D from above and below (the b7 of Em7)")]),
    ],
)
def test_an_enclosure_closes_in_on_a_strong_chord_tone(
    notes: str, chords: str, expected: list[tuple[int, int, str]]
) -> None:
    """Over the bar line, from either side first, with two notes on one side, doubled, without chords."""
    quarters = {"C3 E3 F3 F#3 Ab3 G3": "1 1 1/2 1/2 1", "Gb2 Gb2 E2 E2 F2 F2": "1"}.get(notes, "1")
    assert of("enclosure", shapes(notes, chords, quarters=quarters)) == expected


@pytest.mark.parametrize(
    ("notes", "chords"),
    [
        ("Gb2 E2 F2 G2", "F7"),
        ("C3 E3 A2 E2 F2", "C7 F7"),
        ("C3 E3 G2 Gb2 F2", "C7 F7"),
        ("C3 E3 Gb2 E2 F2", "C7 G#m7"),
        ("C3 E3 x Gb2 E2 x F2", "C7 F7"),
        ("C3 E3 A3 F3 G3", "C7 C7"),
        ("C3 E3 C3 A2 B2", "F C7"),
        ("C3 E3 A3 F#3 G3", "Gmaj7 C"),
    ],
)
def test_what_is_no_enclosure(notes: str, chords: str) -> None:
    """A weak target, a leap, one side only, no chord tone, dead notes, whole steps on both sides, all in the scale.

    A3 and F#3 are notes of Gmaj7, and G is the fifth of C.
    """
    assert of("enclosure", shapes(notes, chords)) == []


@pytest.mark.parametrize(
    ("notes", "chords", "quarters", "expected"),
    [
        ("G2 G2 G2 G2 G2 G2 G2 G2", "C F C F", "1", [(0, 7, "dominant pedal on G under C F")]),
        ("G2 G3 G2 G3", "C7 F7", "2", [(0, 3, "dominant pedal on G under C7 F7")]),
        ("C2 C2 C2 C2", "C F7 G7 C", "2", [(0, 3, "tonic pedal on C under C F7")]),
        ("G2", "C F", "8", [(0, 0, "dominant pedal on G under C F")]),
        ("E2 E2 E2 E2 E2 E2 E2 E2", "C C", "1", [(0, 7, "pedal on E under C")]),
        ("E2 E2 E2 E2 E2 E2 E2 E2", "", "1", [(0, 7, "pedal on E")]),
    ],
)
def test_a_pedal_holds_one_note_while_chords_change(
    notes: str, chords: str, quarters: str, expected: list[tuple[int, int, str]]
) -> None:
    """Struck, in two octaves, held, or for two bars over one chord."""
    assert of("pedal", shapes(notes, chords, quarters=quarters)) == expected


def test_a_bar_is_enough_for_a_pedal_when_the_chord_changes_twice() -> None:
    """G four times under C, F and C, two beats each."""
    found = shapes("A2 G2 G2 G2 G2 A2", "C F C", each=2)
    assert of("pedal", found) == [(1, 4, "dominant pedal on G under C F")]


@pytest.mark.parametrize(
    ("notes", "chords", "quarters"),
    [
        ("G2 G2 G2 A2", "C F", "1"),
        ("A2 A2 G2 G2 G2 G2 A2 A2", "C F", "1"),
        ("G2 G2 G2 G2 A2", "C", "1"),
        ("C2 C2 C2 C2 C2 C2 C2 C2", "C C7", "1"),
        ("G2 A2 G2 A2 G2 A2 G2 A2", "C F", "1"),
        ("G2 G2 G2 x G2 G2 G2 G2", "C F", "1"),
    ],
)
def test_what_is_no_pedal(notes: str, chords: str, quarters: str) -> None:
    """Too few, a bar over one change of chord, too short over one chord, roots, other notes between."""
    assert of("pedal", shapes(notes, chords, quarters=quarters)) == []


@pytest.mark.parametrize(
    ("notes", "chords", "quarters", "expected"),
    [
        ("C2 C2 F2 F2", "C F", "2", [(0, 3, "roots only: C F")]),
        ("C2 C3 C2 C3 F2 F2 F1 F1", "C C7", "1", []),
        ("C2 C3 C2 C3 F2 F2 F1 F1 G2", "C F7 C", "1", [(0, 7, "roots only: C F7")]),
        ("C2 C2 E2 E2", "C C/E", "2", [(0, 3, "roots only: C C/E")]),
        ("C2 C2 F2 G2", "C F", "2", []),
        ("C2 C2 F2 F2", "C F", "1", []),
        ("C2 F2", "C F", "4", []),
        ("C2 C2 F2 F2", "", "2", []),
        ("C2 C2 F2 F2", "N.C. F", "2", []),
    ],
)
def test_a_root_only_stretch_has_two_bars_of_roots(
    notes: str, chords: str, quarters: str, expected: list[tuple[int, int, str]]
) -> None:
    """Octaves and written basses count; any other note, less than two bars or four notes, or no chord, do not."""
    assert of("root-only stretch", shapes(notes, chords, quarters=quarters)) == expected


@pytest.mark.parametrize(
    ("notes", "chords", "key", "expected"),
    [
        ("D3 B2 A2 G2 C3", "G7 Cmaj7", "C", [(3, 4, "5-1 cadence in C major: G C")]),
        ("D3 B2 G2 G2 C2 C2", "G7sus4 Cm6", "C minor", [(2, 4, "5-1 cadence in C minor: G C")]),
        ("E3 C#3 B2 A2 D3", "A7 Dm7", "C", [(3, 4, "5-1 cadence to Dm7: A D")]),
        ("D3 B2 A2 G2 C3", "G7 G7", "C", []),
        ("D3 B2 G2 A2 C3", "G7 Cmaj7", "C", []),
        ("D3 B2 A2 G2 E2", "G7 Cmaj7", "C", []),
        ("D3 B2 A2 G2 C3", "Gm7 C7", "F", []),
        ("D3 B2 A2 G2 C3", "", "", []),
        ("D3 B2 A2 G2 x C3", "G7 Cmaj7", "C", []),
        ("E3 F3 E3 C3 F3", "C F", "C", []),
    ],
)
def test_a_cadence_steps_from_five_to_one(
    notes: str, chords: str, key: str, expected: list[tuple[int, int, str]]
) -> None:
    """The last note over the dominant and the first over its goal are both roots."""
    assert of("5-1 cadence", shapes(notes, chords, key)) == expected


def test_a_note_pushed_over_the_bar_line_belongs_to_the_chord_ahead() -> None:
    """C comes an eighth early and lasts into the bar of C."""
    found = shapes("D3 B2 G2 C3", "G7 Cmaj7", quarters="1 1 3/2 2")
    assert of("5-1 cadence", found) == [(2, 3, "5-1 cadence in C major: G C")]
