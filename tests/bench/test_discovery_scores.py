"""The table says of made-up answers what must be said of them."""

from collections.abc import Sequence

import pytest

from corpus.model import Transcription
from tests.bench.discovery_scores import Row, is_fragment, is_stranger, row, survivors
from tests.generators.disguises import EASY
from tests.generators.pattern_scores import Families, PatternScores
from tests.generators.plants import planted
from tests.generators.small import line_from

CORPUS = planted(1, lines=4, figures=3, disguises=EASY)


def test_the_truth_is_found_whole() -> None:
    """All scores 1, as many families as figures, no stranger and no run."""
    assert row(lambda lines: CORPUS.families, [CORPUS]) == Row(PatternScores(1, 1, 1, 1), 1, 3, 0, 0)


def test_strangers_and_runs_are_counted() -> None:
    """One family more, of the first notes of two lines: nothing is planted on the first beats."""
    stranger = [(0, (0, 1)), (1, (0, 1))]
    assert is_stranger(CORPUS, stranger)
    assert not is_stranger(CORPUS, CORPUS.families[0])
    found = row(lambda lines: [*CORPUS.families, stranger], [CORPUS])
    assert (found.found, found.strangers) == (4, 1)
    assert found.scores.establishment < 1
    assert found.scores.three_layer < 1
    assert found.without_strangers == 1
    line = line_from("C3 D3 D3 E3 G3")
    assert is_fragment([line], [(0, (0, 1, 2, 3))])
    assert not is_fragment([line], [(0, (0, 1, 2, 3, 4))])


def test_means_are_over_corpora() -> None:
    """By hand: everything in one corpus and nothing in the other is half."""
    other = planted(2, lines=4, figures=3)
    found = row(lambda lines: CORPUS.families if lines is CORPUS.lines else [], [CORPUS, other])
    assert found.scores.three_layer == pytest.approx(0.5)
    assert found.found == pytest.approx(1.5)


def test_survivors_are_counted_in_other_lines() -> None:
    """A discovery that finds a family only in the lines as they are."""

    def discover(lines: Sequence[Transcription]) -> Families:
        return CORPUS.families if lines == CORPUS.lines else []

    assert survivors(discover, CORPUS.lines, 1) == (3, 0, 0)
