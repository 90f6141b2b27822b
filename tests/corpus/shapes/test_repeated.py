"""Doubled notes, sequences and calls, worked out by hand."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from corpus.shapes.repeated import Movement, stretches_alike
from tests.corpus.shapes.helping import of, shapes
from tests.databases import examples


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


MOVEMENTS = st.lists(
    st.sampled_from([(1, 2, 1), (1, 1, 1), (1, -1, -1), (1, 2, 2), (2, 2, 1), (1, 12, 7)]), max_size=12
)


def _is_same(one: Movement, other: Movement) -> bool:
    """Whether two movements are the same: in time, and by semitones, or by letters and nearly so in one direction."""
    by_letter = one[2] == other[2] and one[1] * other[1] > 0 and abs(one[1] - other[1]) <= 1
    return one[0] == other[0] and (one[1] == other[1] or by_letter)


@settings(max_examples=examples(200), deadline=None)
@given(MOVEMENTS, st.integers(2, 4))
def test_stretches_alike_are_those_of_every_stretch_tried(moves: list[Movement], cell: int) -> None:
    """All stretches of two cells and more in which every movement but the last cell's comes back; none is longer."""
    size = len(moves) + 1

    def holds(start: int, end: int) -> bool:
        return start >= 0 and end <= size and all(
            _is_same(moves[k], moves[k + cell]) for k in range(start, end - cell - 1)
        )  # fmt: skip

    wanted = [
        (start, end)
        for start in range(size)
        for end in range(start + 2 * cell, size + 1)
        if holds(start, end) and not holds(start - 1, end) and not holds(start, end + 1)
    ]
    assert list(stretches_alike(moves, cell)) == wanted


CALLS = st.lists(
    st.tuples(st.lists(st.sampled_from(("C", "D", "E", "G", "B")), min_size=1, max_size=5), st.booleans()), max_size=5
)


@settings(max_examples=examples(100), deadline=None)
@given(CALLS)
def test_every_call_that_begins_somewhere_is_told(parts: list[tuple[list[str], bool]]) -> None:
    """What is told comes again an octave higher; each but the rest of one that began earlier is in what is told.

    Notes struck twice in a row are left out, since they count once.
    """
    words = [f"{name}{octave}" for names, comes_again in parts for octave in ((2, 3) if comes_again else (2,))
             for name in names]  # fmt: skip
    words = [word for index, word in enumerate(words) if index == 0 or words[index - 1] != word]
    heights = [12 * int(word[1]) + " C D EF G A B".index(word[0]) for word in words]
    told = [(first, last) for first, last, _ in of("call an octave higher", shapes(" ".join(words)))] if words else []
    for first, last in told:
        half = (last + 1 - first) // 2
        assert [height + 12 for height in heights[first : first + half]] == heights[first + half : last + 1]

    def is_call(first: int, call: int) -> bool:
        here, there = heights[first : first + call], heights[first + call : first + 2 * call]
        return [height + 12 for height in here] == there and len(set(here)) >= 3

    for call in range(3, min(16, len(words) // 2) + 1):
        for first in range(len(words) - 2 * call + 1):
            begins = first == 0 or heights[first - 1] + 12 != heights[first - 1 + call]
            if begins and is_call(first, call):
                assert any(low <= first and first + 2 * call - 1 <= high for low, high in told)
