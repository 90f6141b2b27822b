"""The measures on families small enough to work out by hand."""

import pytest

from tests.generators.pattern_scores import (
    Families,
    PatternScores,
    Place,
    is_scale_fragment,
    on_one_axis,
    pattern_scores,
)
from tests.generators.small import line_from

LINES = [line_from("C3 D3 E3 F3 G3 A3 B3 C4"), line_from("C3 D3 E3 F3 r2 G3 A3 B3 C4 x", "1/2")]
FIRST: Place = (0, (0, 1, 2, 3))
SECOND: Place = (1, (0, 1, 2, 3))


def test_lines_stand_one_after_the_other_with_a_gap() -> None:
    """Two bars of four quarters and a gap of 64: the second line begins at 72; its fifth note four quarters later."""
    assert on_one_axis(LINES, [[(0, (0, 7)), (1, (0, 4, 8))]]) == [
        [[(0.0, 48.0), (7.0, 60.0)], [(72.0, 48.0), (76.0, 55.0)]]
    ]


def test_notes_without_pitch_do_not_count() -> None:
    """An occurrence of one dead note is none, and a family of it neither."""
    assert on_one_axis(LINES, [[(1, (8,))]]) == []


def test_what_was_planted_scores_one() -> None:
    """The truth itself, in another order."""
    truth: Families = [[FIRST, SECOND], [(0, (4, 5, 6)), (1, (4, 5, 6))]]
    assert pattern_scores(LINES, truth, truth[::-1]) == PatternScores(1.0, 1.0, 1.0, 1.0)


def test_half_of_the_occurrences() -> None:
    """By hand: one of two occurrences found, whole. It establishes the figure; of its occurrences half were found, all
    that were found are right: 2 x 1 x 0.5 / 1.5 = 2/3, and the three-layer measure says the same.
    """
    scores = pattern_scores(LINES, [[FIRST, SECOND]], [[FIRST]])
    assert scores.establishment == 1.0
    assert scores.occurrence_75 == pytest.approx(2 / 3)
    assert scores.three_layer == pytest.approx(2 / 3)


def test_a_threshold_is_what_must_be_shared() -> None:
    """By hand: three of four notes are 0.75 of the longer: enough for both; two of four for the lower one only."""
    three = pattern_scores(LINES, [[FIRST, SECOND]], [[(0, (0, 1, 2)), (1, (0, 1, 2))]])
    assert (three.establishment, three.occurrence_75, three.occurrence_50) == (0.75, 0.75, 0.75)
    # Precision of the notes 1, recall 3/4.
    assert three.three_layer == pytest.approx(6 / 7)
    two = pattern_scores(LINES, [[FIRST, SECOND]], [[(0, (0, 1)), (1, (0, 1))]])
    assert (two.establishment, two.occurrence_75, two.occurrence_50) == (0.5, 0.0, 0.5)


def test_a_family_too_many_costs_precision() -> None:
    """By hand: of two families found one shares nothing: precision 1/2, recall 1."""
    scores = pattern_scores(LINES, [[FIRST, SECOND]], [[FIRST, SECOND], [(0, (4, 5, 6)), (1, (4, 5, 6))]])
    assert scores.establishment == pytest.approx(2 / 3)
    assert scores.three_layer == pytest.approx(2 / 3)
    # Occurrences are judged among figures that were noticed only.
    assert scores.occurrence_75 == 1.0


def test_nothing_found_scores_nothing() -> None:
    """No family, and families where none were planted."""
    nothing = PatternScores(0.0, 0.0, 0.0, 0.0)
    assert pattern_scores(LINES, [[FIRST, SECOND]], []) == nothing
    assert pattern_scores(LINES, [], [[FIRST, SECOND]]) == nothing


@pytest.mark.parametrize(
    ("intervals", "is_fragment"),
    [
        ((2, 2, 1, 2), True),
        ((-1, -1, -2), True),
        ((1,), True),
        ((2, 2, -1), False),
        ((2, 0, 2), False),
        ((2, 3, 2), False),
        ((), False),
    ],
)
def test_scale_fragments(intervals: tuple[int, ...], is_fragment: bool) -> None:
    """Steps in one direction: a turn, a repeat, a third are none."""
    assert is_scale_fragment(intervals) is is_fragment
