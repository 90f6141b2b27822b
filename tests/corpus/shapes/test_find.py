"""All shapes together: laws on generated lines, stretches, shares, figures of intervals alone, very long lines."""

import re
from dataclasses import replace
from itertools import groupby, pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from corpus.errors import QueryError
from corpus.harmony.symbols import parse_symbol
from corpus.model import TICKS_PER_QUARTER, ChordSpan, Transcription
from corpus.pitch import LETTER_SEMITONES, Key, SpelledPitch, parse_spelling
from corpus.shapes import KINDS, Shape, parse_kinds, shape_density, shapes_in, shapes_of, shapes_of_intervals
from tests.corpus.shapes.helping import Chord, shapes
from tests.generators.small import line_from, lines

_NAMES = ("C3", "D3", "E3", "F3", "G3", "A3", "B3", "C4", "Eb3", "F#3", "Bb2", "B2", "Ab3", "C#3", "G2", "E3", "G3")
_INTERVALS = ((2, 1), (3, 2), (5, 3), (-7, -4), (12, 7), (-2, -1))
_SUFFIXES = ("", "7", "m7", "maj7", "m7b5", "6", "dim7", "7b9", "m6")


def moved(name: str, semitones: int, steps: int) -> str:
    """A note name moved by an interval of semitones and letters; an octave in it is kept right."""
    spelled = parse_spelling(name)
    place = spelled.staff_position + steps
    octave, letter = divmod(place, 7)
    height = 12 * (spelled.octave or 0) + LETTER_SEMITONES[spelled.letter] + spelled.alteration + semitones
    alteration = height - 12 * octave - LETTER_SEMITONES[letter]
    return str(SpelledPitch(letter, alteration, None if spelled.octave is None else octave))


def nameless(words: str) -> str:
    """Words with every note name replaced."""
    return re.sub(r"\b[A-G](?:#|b)*", "*", words)


@given(
    st.lists(st.sampled_from((*_NAMES, "x", "r1")), min_size=1, max_size=40),
    st.lists(st.tuples(st.sampled_from("CDEFGAB"), st.sampled_from(_SUFFIXES)), max_size=10),
    st.sampled_from((Key("C"), Key("A", "minor"), Key("D", "dorian"))),
    st.sampled_from(("1", "1/2", "1 1/2 1/2")),
    st.sampled_from(_INTERVALS),
)
@settings(deadline=None, max_examples=150)
def test_transposing_a_line_changes_nothing_but_names(
    notes: list[str], chords: list[tuple[str, str]], key: Key, quarters: str, by: tuple[int, int]
) -> None:
    """The same shapes stand in the same places, in the same words."""
    ticks = 4 * TICKS_PER_QUARTER

    def found(semitones: int, steps: int) -> list[Shape]:
        words = [word if word[0] in "xr" else moved(word, semitones, steps) for word in notes]
        tonic = Key(moved(key.tonic, semitones, steps), key.mode)
        symbols = [parse_symbol(moved(root, semitones, steps) + suffix) for root, suffix in chords]
        harmony = [Chord(i * ticks, (i + 1) * ticks, symbol, tonic) for i, symbol in enumerate(symbols)]
        if all(word.startswith("r") for word in words):
            return []
        return shapes_of(replace(line_from(" ".join(words), quarters, key=tonic), chords=()), harmony)

    here, there = found(0, 0), found(*by)
    assert [(s.kind, s.first, s.last, nameless(s.words)) for s in here] == [
        (s.kind, s.first, s.last, nameless(s.words)) for s in there
    ]


@given(lines(most=60), st.lists(st.sampled_from(("C7", "F6", "G7", "Cm7", "N.C.", "nonsense")), max_size=8))
@settings(deadline=None, max_examples=150)
def test_shapes_lie_within_the_line_in_order_and_never_within_their_like(
    bare: Transcription, chords: list[str]
) -> None:
    """Whatever the line: indexes exist, none holds a dead note, and of one kind none lies inside another."""
    ticks = 4 * TICKS_PER_QUARTER
    spans = tuple(ChordSpan(chord, i * ticks, (i + 1) * ticks) for i, chord in enumerate(chords))
    line = replace(bare, chords=spans)
    found = shapes_of(line)
    assert [s.first for s in found] == sorted(s.first for s in found)
    for shape in found:
        assert 0 <= shape.first <= shape.last < len(line.notes)
        assert not any(note.is_dead for note in line.notes[shape.first : shape.last + 1])
    for kind in KINDS:
        of_kind = [shape for shape in found if shape.kind == kind]
        for one in of_kind:
            others = [other for other in of_kind if other is not one]
            assert not any(other.first <= one.first and one.last <= other.last for other in others)
    assert all(0 <= share <= 1 for share in shape_density(found, len(line.notes)).values())


@given(st.lists(st.sampled_from((0, 5, 5, 5, -7, 7, 2, -2, 1, 3, 4)), min_size=1, max_size=30))
@settings(deadline=None)
def test_interval_cycles_are_those_that_trying_every_stretch_gives(leaps: list[int]) -> None:
    """Fourths and fifths only: every longest stretch of four pitches and more that goes on by one class of interval."""
    pitches = [60]
    for leap in leaps:
        pitches.append(pitches[-1] + leap if 30 <= pitches[-1] + leap <= 100 else pitches[-1] - 12 + leap)
    strokes = [list(group) for _, group in groupby(range(len(pitches)), key=lambda index: pitches[index])]
    heights = [pitches[group[0]] for group in strokes]
    wanted = set()
    for start in range(len(heights)):
        for end in range(start + 4, len(heights) + 1):
            classes = {(after - before) % 12 for before, after in pairwise(heights[start:end])}
            if classes in ({5}, {7}):
                wanted.add((strokes[start][0], strokes[end - 1][-1]))
    outer = {w for w in wanted if not any(o != w and o[0] <= w[0] and w[1] <= o[1] for o in wanted)}
    found = {
        (shape.first, shape.last)
        for shape in shapes_of_intervals([after - before for before, after in pairwise(pitches)])
        if shape.kind == "interval cycle" and shape.details["interval"] in (5, 7)
    }
    assert found == outer


@given(st.lists(st.integers(0, 2), min_size=6, max_size=30), st.lists(st.booleans(), min_size=30, max_size=30))
@settings(deadline=None)
def test_a_call_is_found_wherever_trying_every_stretch_finds_one(steps: list[int], high: list[bool]) -> None:
    """What is found is a call; and every call has notes in one that is found."""
    pitches = [60 + step + 12 * up for step, up in zip(steps, high, strict=False)]
    strokes = [(pitch, list(group)) for pitch, group in groupby(range(len(pitches)), key=lambda i: pitches[i])]
    heights = [pitches[group[0]] for _, group in strokes]
    found = [
        shape
        for shape in shapes_of_intervals([after - before for before, after in pairwise(pitches)])
        if shape.kind == "call an octave higher"
    ]
    for shape in found:
        inside = [pitches[group[0]] for _, group in strokes if shape.first <= group[0] <= shape.last]
        half = len(inside) // 2
        assert [pitch + 12 for pitch in inside[:half]] == inside[half:]
    for size in range(3, 17):
        for start in range(len(heights) - 2 * size + 1):
            call, answer = heights[start : start + size], heights[start + size : start + 2 * size]
            if [pitch + 12 for pitch in call] == answer and len(set(call)) >= 3:
                first, last = strokes[start][1][0], strokes[start + 2 * size - 1][1][-1]
                assert [s for s in found if s.first <= last and first <= s.last]


def test_shapes_of_a_stretch_lie_in_it_or_hold_it() -> None:
    """The longest first; what only touches it is left out."""
    inside, around = Shape("arpeggio", 3, 5, "inside"), Shape("scale run", 0, 9, "around")
    touching, outside = Shape("enclosure", 5, 8, "touching"), Shape("pedal", 10, 14, "outside")
    assert shapes_in([inside, around, touching, outside], 2, 6) == [around, inside]
    assert shapes_in([inside, around], 3, 5) == [around, inside]
    assert shapes_in([], 0, 3) == []


def test_the_share_that_shapes_cover_counts_a_note_once() -> None:
    """Notes 0 to 2 and 2 to 5 are six of twelve; other kinds have shares of their own; nothing of nothing is 0."""
    found = [Shape("arpeggio", 0, 2, ""), Shape("arpeggio", 2, 5, ""), Shape("pedal", 6, 8, "")]
    density = shape_density(found, 12)
    assert density == {**dict.fromkeys(KINDS, 0.0), "arpeggio": 0.5, "pedal": 0.25}
    assert shape_density(reversed(found), 12) == density
    assert set(shape_density([], 0).values()) == {0.0}


@pytest.mark.parametrize(
    ("intervals", "expected"),
    [
        ([5, 5, 5, 5], [("interval cycle", 0, 4, "run of fourths up")]),
        ([3, 4, -2, -3], [("arpeggio", 0, 2, "arpeggio of Cm")]),
        ([-3, 1, 1, 1], [("chromatic run", 1, 4, "chromatic run up to C")]),
        ([3, -4, -2, 1], [("enclosure", 2, 4, "enclosure of Bb from above and below")]),
        ([-3, 2, -4, 2, -3, 1, -3], [("sequence", 0, 7, "sequence: 2 notes, 4 times, a step lower each time")]),
        ([0, 2, 0, 2, 0], [("doubled notes", 0, 5, "doubled notes: C D E")]),
        ([0, 0, 0, 0], [("pedal", 0, 4, "pedal on C")]),
        ([4, -2, 10, 4, -2], [("call an octave higher", 0, 5, "call of 3 notes repeated an octave higher")]),
        ([2, 2, 1, 2], [("scale run", 0, 4, "C major run up")]),
        ([12, -2, -3, 2], []),
        ([7], []),
        ([], []),
    ],
)
def test_a_figure_of_intervals_alone_is_named(intervals: list[int], expected: list[tuple[str, int, int, str]]) -> None:
    """As if it began on C; beats and chords are not asked for."""
    assert [(s.kind, s.first, s.last, s.words) for s in shapes_of_intervals(intervals)] == expected


def test_kinds_are_read_by_name_or_beginning() -> None:
    """A plural is read too; what could be several is not."""
    assert parse_kinds("arpeggio, Pedals") == {"arpeggio", "pedal"}
    assert parse_kinds("enc,5-1,root,fourths,call,doub,seq,scale,chrom") == set(KINDS) - {"arpeggio", "pedal"}
    for bad in ("", "arpeggio,", "lick", "c", "s"):
        with pytest.raises(QueryError, match="choose interval cycle"):
            parse_kinds(bad)


@pytest.mark.parametrize(
    ("notes", "kinds"),
    [
        (["E3"], {"pedal"}),
        (["C3", "E3", "G3"], {"arpeggio"}),
        (["C3", "D3"], set()),
        (["C3", "F#3"], set()),
        (["C3", "E3", "D3", "C4", "E4", "D4"], {"call an octave higher"}),
    ],
)
def test_a_very_long_line_of_the_same_is_few_shapes(notes: list[str], kinds: set[str]) -> None:
    """Ten thousand notes are told in a moment, and the whole line is one pedal or arpeggio."""
    text = " ".join((notes * 10_000)[:10_000])
    found = shapes(text, "C7 " * 2500)
    assert kinds <= {shape.kind for shape in found}
    if len(kinds) == 1 and "call an octave higher" not in kinds:
        assert [(s.first, s.last) for s in found if s.kind in kinds] == [(0, 9999)]


def test_a_line_without_notes_to_speak_of_has_no_shapes() -> None:
    """One note, dead notes."""
    assert shapes("C3") == []
    assert shapes("x x x x") == []
