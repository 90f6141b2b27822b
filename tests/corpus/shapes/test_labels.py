"""Labels without names of notes, and those that the places of a figure share."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from corpus.shapes import Kind, label_of, shapes_in, shared_labels
from tests.corpus.shapes.helping import shapes
from tests.databases import examples


@pytest.mark.parametrize(
    ("kind", "notes", "chords", "label"),
    [
        ("arpeggio", "D3 F3 A3 G3 E3", "C7 F", "arpeggio: minor triad on the 9"),
        ("arpeggio", "C3 E3 G3 F3", "C7", "arpeggio of the chord"),
        ("arpeggio", "C3 E3 G3 B3", "", "arpeggio: major seventh chord"),
        ("enclosure", "G2 Bb2 Gb2 E2 F2", "Cm7 F7", "enclosure of the 1"),
        ("interval cycle", "A1 D2 G2 C3 F3", "C C", "run of fourths up"),
        ("interval cycle", "C2 Eb2 Gb2 A2 C3", "", "run of minor thirds up"),
        ("scale run", "D3 E3 F3 G3 A3", "Dm7 G7", "scale run up"),
        ("chromatic run", "F2 D2 Eb2 E2 F2", "", "chromatic run up"),
        ("doubled notes", "F2 F2 D2 D2 Eb2 Eb2", "", "doubled notes"),
        ("5-1 cadence", "D3 B2 A2 G2 C3", "G7 Cmaj7", "5-1 cadence"),
        ("sequence", "C3 E3 D3 F3 E3 G3", "", "sequence: 2 notes, 3 times, a step higher each time"),
    ],
)
def test_a_label_names_no_note(kind: Kind, notes: str, chords: str, label: str) -> None:
    """Only what is the same on any root is told."""
    assert [label_of(shape) for shape in shapes(notes, chords) if shape.kind == kind] == [label]


def test_a_triad_between_two_arpeggios_has_a_label_of_its_own() -> None:
    """Dm between two arpeggios of C7."""
    found = shapes("C3 E3 G3 D3 F3 A3 C4 E4 G4", "C7 C7", quarters="1/2")
    assert [label_of(shape) for shape in found] == ["arpeggio: a triad a step above between two of the chord"]


def test_places_share_the_labels_that_at_least_half_of_them_have() -> None:
    """A triad on the ninth over C7 and G7, the same notes over Dm7 once; nothing is shared by no places."""
    over = [
        shapes("D3 F3 A3 G3 E3", "C7 F"),
        shapes("A2 C3 E3 D3 B2", "G7 C"),
        shapes("D3 F3 A3 G3 E3", "Dm7 G7"),
    ]
    assert shared_labels(shapes_in(found, 0, 4) for found in over) == ["arpeggio: minor triad on the 9"]
    assert shared_labels([over[0], []]) == ["arpeggio: minor triad on the 9"]
    assert shared_labels([over[0], [], []]) == []
    assert shared_labels([]) == []


@settings(max_examples=examples(100), deadline=None)
@given(st.lists(st.sets(st.sampled_from(("C3 E3 G3", "D3 F3 A3", "F2 D2 Eb2 E2 F2")), max_size=3), max_size=9))
def test_places_are_looked_at_only_until_nothing_can_be_shared(parts: list[set[str]]) -> None:
    """The same is told with their number and without it; where nothing is told, nothing could be with the rest."""
    found = [[shape for words in sorted(part) for shape in shapes(words)] for part in parts]
    rest = iter(found)
    told = shared_labels(rest, len(found))
    assert told == shared_labels(found)
    unseen = len(list(rest))
    assert not unseen or shared_labels([*found[: len(found) - unseen], *[[]] * unseen]) == told == []


def test_a_wider_label_is_told_where_no_narrower_one_holds() -> None:
    """A minor triad on the 9, on the 5 and over two chords is a minor triad; with a major one, just an arpeggio."""
    ninth, fifth = shapes("D3 F3 A3 G3 E3", "C7 F"), shapes("D3 F3 A3 G3 E3", "G7 C")
    major, none = shapes("D3 F#3 A3 G3 E3", "C7 F"), shapes("D3 C3 A3 G3 E3", "C7 F")
    assert shared_labels([ninth, fifth, none]) == ["arpeggio: minor triad"]
    assert shared_labels([ninth, major, none, none]) == ["arpeggio"]
    own = [shapes("C3 E3 G3 F3", "C"), shapes("C3 E3 G3 F3", "C"), shapes("C3 Eb3 G3 F3", "Cm")]
    assert shared_labels(own) == ["arpeggio of the chord"]
