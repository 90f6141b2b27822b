"""Two passages side by side: the laws of the price, and the changes that lead from the one to the other."""

from dataclasses import replace

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from corpus.errors import QueryError
from corpus.match.changes import apply_heights
from corpus.match.figure import Folds, figure_from_notes_of
from corpus.match.prices import Prices
from corpus.match.side_by_side import SideBySide, side_by_side
from corpus.model import Note, Transcription
from tests.generators.small import line_from

NAMES = ("C3", "C#3", "Db3", "D3", "Eb3", "E3", "F3", "G3", "C4", "B2", "A5", "G1", "C3", "D3", "E3")
EVEN = Prices(resolved=1.0, left_out=0.0)
"""Nothing costs more left out than added, and a last note costs what the others do."""
FOLDS = st.builds(Folds, octaves=st.booleans(), doubles=st.booleans(), mode=st.booleans())


@st.composite
def passages(draw: st.DrawFn, most: int = 6) -> Transcription:
    """Short lines without dead notes, of more than one pitch."""
    words = draw(st.lists(st.sampled_from(NAMES), min_size=2, max_size=most))
    quarters = draw(st.sampled_from(("1", "1/2 1", "2 1 1")))
    line = line_from(" ".join(words), quarters)
    assume(len({note.pitch for note in line.notes}) > 1)
    return line


def whole(one: Transcription, other: Transcription, folds: Folds | None = None, prices: Prices = EVEN) -> SideBySide:
    """Two whole lines side by side."""
    ends = [(0, len(line.notes) - 1) for line in (one, other)]
    return side_by_side(one, ends[0], other, ends[1], folds or Folds(), prices)


@settings(max_examples=50, deadline=None)
@given(passages(), passages(), FOLDS)
def test_the_price_is_the_same_both_ways(one: Transcription, other: Transcription, folds: Folds) -> None:
    """Where leaving out costs what adding does; the likeness divides it by the notes of the first."""
    there, back = whole(one, other, folds), whole(other, one, folds)
    assert there.price == back.price


@settings(max_examples=40, deadline=None)
@given(passages(), FOLDS)
def test_a_passage_is_itself(line: Transcription, folds: Folds) -> None:
    """Nothing was changed, and every note stands beside itself."""
    found = whole(line, line, folds, Prices())
    assert (found.price, found.likeness, found.transposed, found.changes) == (0, 1, 0, ())
    assert found.pairs == tuple((index, index) for index in range(len(line.notes)))


@settings(max_examples=40, deadline=None)
@given(passages(), st.integers(-1, 2))
def test_a_passage_an_octave_or_two_away_is_the_same(line: Transcription, octaves: int) -> None:
    """Only the transposition is told."""
    notes = tuple(_moved(note, octaves) for note in line.notes)
    found = whole(line, replace(line, notes=notes), prices=Prices())
    assert (found.price, found.transposed, found.changes) == (0, 12 * octaves, ())


def _moved(note: Note, octaves: int) -> Note:
    assert note.pitch is not None
    octave = int(note.spelling[-1]) + octaves
    return note._replace(pitch=note.pitch + 12 * octaves, spelling=f"{note.spelling[:-1]}{octave}")


@pytest.mark.parametrize(
    ("other", "semitones"),
    [
        ("D3 F#3 A3 C#4 B3 A3", 2),
        ("Bb2 D3 F3 A3 G3 F3", -2),
        ("F#3 A#3 C#4 E#4 D#4 C#4", 6),
        ("G3 B3 D4 F#4 E4 D4", 7),
    ],
)
def test_a_transposition_costs_nothing(other: str, semitones: int) -> None:
    """Written out by hand in four keys."""
    found = whole(line_from("C3 E3 G3 B3 A3 G3"), line_from(other), prices=Prices())
    assert (found.price, found.likeness, found.transposed, found.changes) == (0, 1, semitones, ())


@settings(max_examples=60, deadline=None)
@given(passages(8), passages(8), FOLDS, st.sampled_from((Prices(), EVEN, Prices(cut=0.1), Prices(another=0.2))))
def test_the_changes_applied_to_the_first_give_the_second_note_for_note(
    one: Transcription, other: Transcription, folds: Folds, prices: Prices
) -> None:
    """Whatever is cut, added, displaced, or more at either end."""
    found = whole(one, other, folds, prices)
    assert found.transposed is not None
    figure = figure_from_notes_of(one, 0, len(one.notes) - 1)
    assert apply_heights(figure, found.transposed, found.changes) == [note.pitch for note in other.notes]


@settings(max_examples=40, deadline=None)
@given(passages(), passages(), FOLDS)
def test_every_note_of_both_stands_in_one_row(one: Transcription, other: Transcription, folds: Folds) -> None:
    """In the order played, and no row is empty."""
    pairs = whole(one, other, folds).pairs
    assert [left for left, _ in pairs if left is not None] == list(range(len(one.notes)))
    assert [right for _, right in pairs if right is not None] == list(range(len(other.notes)))
    assert (None, None) not in pairs


def test_a_worked_example() -> None:
    """The first note missing, one a half-step lower, two more at the end: by hand 0.5 + 0.3 + 2 times 0.5 of five."""
    prices = Prices(cut=0.5, altered=0.3)
    found = whole(line_from("C3 E3 G3 D4 A3"), line_from("E3 Gb3 D4 A3 F4 Bb3"), prices=prices)
    assert found.pairs == ((0, None), (1, 0), (2, 1), (3, 2), (4, 3), (None, 4), (None, 5))
    assert found.price == 1.8
    assert found.likeness == pytest.approx(1 - 1.8 / 5)
    assert [(change.kind, change.notes, change.amounts) for change in found.changes if change.kind != "shifted"] == [
        ("altered", (3,), (-1,)),
        ("cut", (1,), ()),
        ("extended", (5,), (8, -7)),
    ]


def test_passages_inside_lines_count_from_their_own_lines() -> None:
    """What stands beside a passage does not count: the notes before and after it stay out."""
    one, other = line_from("D3 F3 A3 C3 E3 G3"), line_from("B3 C3 E3 G3 F3")
    found = side_by_side(one, (3, 5), other, (1, 3), Folds(), Prices())
    assert found.pairs == ((3, 1), (4, 2), (5, 3))
    assert found.price == 0


def test_a_repeat_that_is_partly_outside_a_passage_counts_as_far_as_it_is_inside() -> None:
    """With doubles ignored, C three times of which two are inside."""
    one, other = line_from("C3 E3 G3"), line_from("C3 C3 C3 E3 G3")
    found = side_by_side(one, (0, 2), other, (1, 4), Folds(doubles=True), Prices())
    assert found.pairs == ((0, 1), (None, 2), (1, 3), (2, 4))
    assert (found.price, found.likeness) == (0, 1)


@pytest.mark.parametrize(
    ("one", "other"),
    [
        ("F3 B3 G3", "A#3 B3 G3"),
        ("A#3 B3 G3", "F3 B3 G3"),
        ("B3 G3 F3", "B3 G3 C4"),
    ],
)
def test_cuts_are_cuts_even_where_the_other_passage_has_more_there(one: str, other: str) -> None:
    """Another note at an end is one note missing and one more, 0.5 each, though A# inside leads cheaply into B."""
    prices = Prices(cut=0.5, approach=0.1, left_out=0.0)
    assert whole(line_from(one), line_from(other), prices=prices).price == 1.0


@pytest.mark.parametrize(
    ("one", "other", "folds", "told"),
    [
        ("C3 x G3", "C3 E3 G3", "", "dead note"),
        ("C3 E3 G3", "C3 x G3", "", "dead note"),
        ("C3", "C3 E3", "", "at least two notes"),
        ("C3 E3", "C3", "", "at least two notes"),
        ("C3 C3", "C3 E3", "doubles", "nothing but one repeated note"),
        ("C3 E3", "C3 C3", "doubles", "nothing but one repeated note"),
    ],
)
def test_passages_that_cannot_be_compared(one: str, other: str, folds: str, told: str) -> None:
    """Whichever of the two it is."""
    with pytest.raises(QueryError, match=told):
        whole(line_from(one), line_from(other), Folds.parse(folds))
