"""Discovery over stored lines finds what was planted; ``make bench`` has the full table."""

from tests.bench.discovery_scores import row, through_database
from tests.generators.disguises import EASY
from tests.generators.plants import planted

SEEDS = (301, 302)
"""On which nothing was chosen."""


def test_easy_disguises_are_found() -> None:
    """Occurrence F1 at .75 and three-layer F1 of ``mir_eval.pattern``, means of two corpora; no mere run."""
    found = row(through_database, [planted(seed, disguises=EASY) for seed in SEEDS])
    assert found.scores.occurrence_75 >= 0.9
    assert found.scores.three_layer >= 0.8
    assert found.fragments == 0


def test_ornamented_and_altered_figures_are_found() -> None:
    """Occurrence F1 at .75; of the families that are of plants at all, the three-layer F1 too."""
    found = row(through_database, [planted(seed, disguises=("ornamented", "altered")) for seed in SEEDS])
    assert found.scores.occurrence_75 >= 0.75
    assert found.without_strangers >= 0.8
    assert found.fragments == 0
