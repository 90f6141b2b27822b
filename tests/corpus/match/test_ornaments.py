"""What notes are to those beside them, and the columns that near search reads it from."""

from itertools import accumulate, pairwise, product

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from corpus.match.alignment import notes_of
from corpus.match.columns import Columns, LineTexts, columns_of, wide_leaps
from corpus.match.figure import Folds, figure_from_notes, figure_from_steps
from corpus.match.ornaments import (
    CODES,
    NOTHING,
    ORNAMENTS,
    Ornaments,
    all_ornaments,
    ornament,
    ornaments_of,
)
from corpus.match.prices import Prices
from corpus.match.sought import Alphabet, sought
from corpus.model import Transcription
from corpus.readings import Line, line_of, read
from tests.generators.small import line_from, lines


def pitches(names: str) -> list[int]:
    """Pitches of a line of note names."""
    return [note.pitch or 0 for note in line_from(names).notes]


@pytest.mark.parametrize(
    ("names", "kinds"),
    [
        # The note struck again is a double whatever follows; its first stroke is judged by what follows the last.
        ("C3 C3 D3", "approach doubled added"),
        ("C3 D3 D3 E3", "approach passing doubled added"),
        ("C3 D3 D3 D3 E3", "approach passing doubled doubled added"),
        ("C3 C3 C3 C3 D3 D3 D3 C3", "approach doubled doubled doubled neighbour doubled doubled added"),
        ("F3 C3 C3 C3 B2 B2 B2 D3", "added approach doubled doubled added doubled doubled added"),
        # A and F# lie around G, whichever of the three is struck again.
        ("C3 A3 A3 F#3 G3", "added enclosure doubled enclosure added"),
        ("C3 A3 F#3 F#3 F#3 G3 G3", "added enclosure enclosure doubled doubled added doubled"),
        ("C3 C4 G3", "added octave_skip added"),
        ("C3 C2 G3", "added octave_skip added"),
        ("G3 A3 B3", "approach passing added"),
        ("B3 Bb3 A3", "approach passing added"),
        ("G3 A4 B3", "approach passing added"),
        ("E3 F3 E3", "approach neighbour added"),
        ("E3 D3 E3", "approach neighbour added"),
        ("E3 D4 E3", "approach neighbour added"),
        # Up a whole step and back a half-step: not the note it came from, so no neighbour. E and F# lie around F.
        ("E3 F#3 F3", "enclosure enclosure added"),
        ("C3 A3 F#3 G3", "added enclosure enclosure added"),
        ("C3 F#3 A3 G3", "added enclosure enclosure added"),
        # Both from above: the first leads by step into the second, which passes.
        ("D3 A3 Ab3 G3", "added approach passing added"),
        ("C3 F#3 F3", "added approach added"),
        ("C3 Bb3 F3", "approach added added"),
        ("C3 F3 B3", "added added added"),
        ("C3", "added"),
        ("B2 C3", "approach added"),
    ],
)
def test_definitions(names: str, kinds: str) -> None:
    """Worked out by hand from the intervals, octaves aside."""
    assert ornaments_of(pitches(names)) == kinds.split()


def test_a_leap_on_either_side_is_no_passing_note() -> None:
    """Neither a fourth into a step nor two thirds pass; a fourth down into a half-step up leads."""
    for names in ("C3 F3 F#3", "C3 E3 G3", "C3 G3 Ab3"):
        assert ornaments_of(pitches(names))[1] != "passing"
    assert ornaments_of(pitches("F3 C3 C#3"))[1] == "approach"


def test_a_third_and_a_step_in_one_direction_pass() -> None:
    """Whichever of the two comes first; in two directions the note leads or is nothing."""
    assert ornaments_of(pitches("C3 E3 F3"))[1] == "passing"
    assert ornaments_of(pitches("C3 D3 F3"))[1] == "passing"
    assert ornaments_of(pitches("C3 E3 Eb3"))[1] == "approach"
    assert ornaments_of(pitches("C3 D3 B2"))[1] == "added"


def test_the_table_holds_every_code() -> None:
    """13 intervals three times over, each at its place."""
    table = all_ornaments()
    assert (len(table), CODES) == (13**3, 13)
    for before, after, beyond in product(range(CODES), repeat=3):
        assert table[(before * 13 + after) * 13 + beyond] == ornament(before, after, beyond)
    assert set(table) == set(ORNAMENTS) - {"doubled"}


def test_octaves_are_no_repeats() -> None:
    """A note once more in another octave is something between two others, and nothing at the ends."""
    assert [ornament(0, 5, 2), ornament(0, 5, NOTHING), ornament(0, NOTHING, NOTHING)] == [
        "octave_skip", "octave_skip", "added",
    ]  # fmt: skip
    assert ornament(NOTHING, NOTHING, NOTHING) == "added"


def kind_of(line: list[int], index: int) -> str:
    """What a note of a line without repeats is: each definition in its own words, in the order of the table."""

    def up(a: int, b: int) -> int | None:
        """Semitones the shorter way, None where a note is missing."""
        if not (0 <= a < len(line) and 0 <= b < len(line)):
            return None
        size = (line[b] - line[a]) % 12
        return size - 12 if size > 6 else size

    def steps(size: int | None) -> bool:
        return size in (-2, -1, 1, 2)

    def around(first: int) -> bool:
        """Whether a note and the next lie within a step of the one after them, on either side of it."""
        one, two = up(first + 2, first), up(first + 2, first + 1)
        return steps(one) and steps(two) and one is not None and two is not None and one * two < 0

    reached, left = up(index - 1, index), up(index, index + 1)
    if reached is not None and left is not None:
        if reached == 0:
            return "octave_skip"
        if reached * left > 0 and (steps(reached) or steps(left)) and max(abs(reached), abs(left)) <= 4:
            return "passing"
        if steps(reached) and left == -reached:
            return "neighbour"
    if around(index) or around(index - 1):
        return "enclosure"
    return "approach" if steps(left) else "added"


@settings(max_examples=200, deadline=None)
@given(st.lists(st.tuples(st.integers(-14, 14).filter(bool), st.integers(1, 4)), min_size=1, max_size=8))
def test_kinds_are_those_of_a_slow_definition(moves: list[tuple[int, int]]) -> None:
    """With leaps of more than an octave, and notes struck up to four times, which stay what they are once."""
    once = list(accumulate((size for size, _ in moves), initial=60))[1:]
    times = [count for _, count in moves]
    line = [pitch for pitch, count in zip(once, times, strict=True) for _ in range(count)]
    kinds = [kind_of(once, index) for index in range(len(once))]
    wanted = [each for kind, count in zip(kinds, times, strict=True) for each in (kind, *["doubled"] * (count - 1))]
    assert ornaments_of(line) == wanted


def texts_of(line: Line) -> LineTexts:
    """The readings that columns of pitches and letters are made of."""
    return LineTexts(read(line, "folded"), read(line, "interval"), read(line, "step"))


def columns_from(searched: list[Line], alphabet: Alphabet) -> Columns:
    """Columns of several lines, with their wide leaps told from the notes."""
    texts = [texts_of(line) for line in searched]
    leaps = {
        (number, note): (
            (line.pitches[note] or 0) - (line.pitches[note - 1] or 0),
            line.positions[note] - line.positions[note - 1],
        )
        for number, line in enumerate(searched)
        for note in wide_leaps(texts[number])
    }
    return columns_of(alphabet, texts, leaps)


def unbroken(line: Line) -> list[range]:
    """Stretches of notes between breaks, dead notes left out."""
    begins = [note for note, starts in enumerate(line.starts) if starts]
    found = [range(a, b) for a, b in zip(begins, [*begins[1:], len(line)], strict=True)]
    return [stretch for stretch in found if line.pitches[stretch[0]] is not None]


@pytest.mark.parametrize("is_collapsed", [False, True])
@settings(max_examples=75, deadline=None)
@given(first=lines(), second=lines())
def test_columns_are_the_lines_up_to_a_constant_in_each_unbroken_stretch(
    first: Transcription, second: Transcription, is_collapsed: bool
) -> None:
    """Heights and letters from two readings, for leaps of any width, beside dead notes and long rests."""
    searched = [line_of(line).collapsed if is_collapsed else line_of(line) for line in (first, second)]
    columns = columns_from(searched, "pitch")
    letters = columns_from(searched, "letter")
    notes = np.setdiff1d(np.arange(len(columns.classes)), columns.bars)
    numbers, places = columns.line_and_note(notes)
    wanted = [(number, note) for number, line in enumerate(searched) for note in range(len(line))]
    assert list(zip(numbers.tolist(), places.tolist(), strict=True)) == wanted
    at = dict(zip(wanted, notes.tolist(), strict=True))
    for number, line in enumerate(searched):
        for stretch in unbroken(line):
            there = [at[number, note] for note in stretch]
            own = [line.pitches[note] or 0 for note in stretch]
            own_letters = [line.positions[note] for note in stretch]
            assert len({int(columns.heights[p]) - own[i] for i, p in enumerate(there)}) == 1
            assert len({int(columns.positions[p]) - own_letters[i] for i, p in enumerate(there)}) == 1
            assert len({(int(columns.classes[p]) - own[i]) % 12 for i, p in enumerate(there)}) == 1
            assert len({(int(letters.classes[p]) - own_letters[i]) % 7 for i, p in enumerate(there)}) == 1


@pytest.mark.parametrize("is_collapsed", [False, True])
@settings(max_examples=75, deadline=None)
@given(lines())
def test_ornaments_from_readings_are_those_of_the_notes(is_collapsed: bool, line: Transcription) -> None:
    """For every note with a pitch, plain and with repeats gathered."""
    whole = line_of(line)
    searched = whole.collapsed if is_collapsed else whole
    columns = columns_from([searched], "pitch")
    notes = np.setdiff1d(np.arange(len(columns.classes)), columns.bars).tolist()
    found = [ORNAMENTS[columns.ornaments[place]] for place in notes]
    wanted = notes_of(whole, sought(figure_from_notes("C D E"), Folds(doubles=is_collapsed), Prices())).ornaments
    played = [note for note, pitch in enumerate(searched.pitches) if pitch is not None]
    assert [found[note] for note in played] == [wanted[note] for note in played]
    for stretch in unbroken(searched):
        own = ornaments_of([searched.pitches[note] or 0 for note in stretch])
        assert [found[note] for note in stretch] == own


def test_dead_notes_and_long_rests_break_the_line() -> None:
    """A step across a break is no step: D is left by nothing and reached by nothing."""
    line = line_of(line_from("C3 D3 x E3 F3 r5 G3"))
    columns = columns_from([line], "pitch")
    # Bars stand before the first note, the dead one, the one after it, and the one after the rest.
    assert columns.bars.tolist() == [0, 3, 5, 8]
    assert sought(figure_from_steps("+1 +1"), Folds(), Prices()).alphabet == "letter"
    kinds = [ORNAMENTS[kind] for kind in columns.ornaments]
    assert [kinds[place] for place in (1, 2, 6, 7, 9)] == ["approach", "added", "approach", "added", "added"]


@settings(max_examples=150, deadline=None)
@given(line=lines(), is_collapsed=st.booleans())
def test_ornaments_asked_for_one_by_one_are_those_of_the_unbroken_stretch(
    line: Transcription, is_collapsed: bool
) -> None:
    """Dead notes and breaks included; slices give the same."""
    notes = line_of(line).collapsed if is_collapsed else line_of(line)
    edges = [*(place for place, starts in enumerate(notes.starts) if starts), len(notes)]
    expected = [
        kind
        for begin, end in pairwise(edges)
        for kind in ornaments_of([pitch or 0 for pitch in notes.pitches[begin:end]])
    ]
    found = Ornaments(notes.pitches, notes.starts)
    assert [found[place] for place in reversed(range(len(notes)))] == expected[::-1]
    assert found[1:4] == expected[1:4]
    assert len(found) == len(expected)
