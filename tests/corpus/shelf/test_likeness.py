"""Near-duplicates among kept figures: against laying every pair side by side, and in a musician's words."""

from fractions import Fraction

from hypothesis import given, settings
from hypothesis import strategies as st

from corpus.match.figure import Folds, figure_from_notes
from corpus.match.prices import Prices
from corpus.match.side_by_side import side_by_side
from corpus.model import Meter
from corpus.shelf.keeping import from_typed, parse_lengths
from corpus.shelf.kept import KeptFigure, KeptNote
from corpus.shelf.likeness import LIKE_ENOUGH, ShelfLines, as_line

# Few notes in a narrow range, so that figures come near each other; a leap too wide for a symbol now and then.
_FIGURES = st.lists(
    st.sampled_from(("C3", "D3", "Eb3", "E3", "F3", "F#3", "G3", "Bb3", "C4", "E3", "D6")), min_size=2, max_size=6
)


def typed(name: str, notes: str, lengths: str = "") -> KeptFigure:
    """A figure of typed notes."""
    return from_typed(name, figure_from_notes(notes), parse_lengths(lengths))


@settings(max_examples=60, deadline=None)
@given(_FIGURES, st.lists(_FIGURES, max_size=8))
def test_what_is_found_is_what_every_pair_side_by_side_gives(notes: list[str], others: list[list[str]]) -> None:
    """The scan that spares most pairs loses none."""
    figure = KeptFigure("asked", tuple(map(KeptNote, notes)))
    shelf = [KeptFigure(f"kept {i}", tuple(map(KeptNote, other))) for i, other in enumerate(others)]
    found = {one.figure.name: one.likeness for one in ShelfLines(shelf).alike(figure, most=100)}
    expected = {}
    for other in shelf:
        one, two = as_line(figure), as_line(other)
        ends = (0, len(one.notes) - 1), (0, len(two.notes) - 1)
        likeness = side_by_side(one, ends[0], two, ends[1], Folds(), Prices()).likeness
        if likeness >= LIKE_ENOUGH:
            expected[other.name] = likeness
    assert found == expected


def test_the_most_like_come_first_and_the_figure_itself_is_left_out() -> None:
    """In another key, an octave away, with a passing note: from the figure asked for to the kept one."""
    asked = typed("Turn", "F2 D2 Eb2 E2 F2")
    shelf = [
        asked,
        typed("other", "C2 G4 Db3 A2 C3"),
        typed("passing", "F2 D2 Eb2 E2 F2 G2 A2"),
        typed("key", "C3 A2 Bb2 B2 C3"),
        typed("octave", "F2 D3 Eb2 E2 F2"),
    ]
    found = ShelfLines(shelf).alike(asked)
    assert [(one.figure.name, one.transposed) for one in found] == [("key", 7), ("octave", 0)]
    assert [one.likeness for one in found] == [1.0, 0.98]
    assert [one.changes for one in found] == [(), ("second note an octave higher",)]


def test_rhythm_is_told_only_where_both_have_it() -> None:
    """A figure typed without lengths has no rhythm that could differ."""
    timed, slow = typed("timed", "C3 D3 E3 G3", "1 1 1 1"), typed("slow", "C3 D3 E3 G3", "2 1 1 1")
    plain = typed("plain", "C3 D3 E3 G3")
    (found,) = ShelfLines([slow]).alike(timed)
    assert found.likeness == 1
    assert any("rhythm" in words for words in found.changes)
    assert [one.changes for one in ShelfLines([slow, timed]).alike(plain)] == [(), ()]


def test_a_figure_as_a_line_keeps_bar_beat_and_notes() -> None:
    """A figure that begins on beat 4 of 4/4 crosses into the second bar; one that begins on beat 7 of 4/4 wraps."""
    figure = KeptFigure("x", typed("x", "C3 D3 E3", "1 1 1").notes, meter=Meter(4, 4), beat=Fraction(4))
    line = as_line(figure)
    assert [float(line.beat_of(i)) for i in range(3)] == [4, 1, 2]
    assert [line.bar_of(i).number for i in range(3)] == [1, 2, 2]
    assert [(bar.onset_ticks, bar.length_ticks, bar.padding_ticks) for bar in line.bars] == [
        (0, 10080, 30240),
        (10080, 40320, 0),
    ]


def test_an_empty_shelf_is_like_nothing() -> None:
    """And costs nothing."""
    assert ShelfLines([]).alike(typed("x", "C3 D3")) == []
