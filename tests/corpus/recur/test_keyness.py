"""Keyness beside scipy, and beside a published table."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from corpus.recur.keyness import Comparison, Keyness, corrected


@pytest.mark.parametrize(
    ("together", "first_alone", "second_alone", "neither", "ratio"),
    [
        # Dunning 1993, table 2: the two words together, each alone, neither; -2 log lambda. Recalled from memory.
        (110, 2442, 111, 29114, 270.72),
        (29, 13, 123, 31612, 263.90),
        (31, 23, 139, 31584, 256.84),
    ],
)
def test_the_log_likelihood_is_that_of_the_published_table(
    together: int, first_alone: int, second_alone: int, neither: int, ratio: float
) -> None:
    """Word pairs in place of figures: the second word after the first, and after others."""
    found = Keyness(together, together + first_alone, second_alone, second_alone + neither)
    assert found.log_likelihood == pytest.approx(ratio, abs=0.01)


def test_the_log_likelihood_is_that_of_a_textbook_example() -> None:
    """The pair "most powerful": 150 times, its words 12,593 and 932 times among 14,307,668. Manning and Schütze,
    *Foundations of Statistical Natural Language Processing*, 1999, chapter 5, as nltk quotes it in its own tests
    (``nltk/test/metrics.doctest``, looked up): 1291 and a fraction.
    """
    assert 1291 <= Keyness(150, 12593, 932 - 150, 14307668 - 12593).log_likelihood < 1292


def test_what_is_avoided_differs_as_surely() -> None:
    """By hand: none of six places among 2,000 of 2,500 notes, about (1/5) to the sixth, with no other table as rare."""
    none = Keyness(0, 2000, 6, 500)
    assert none.is_exact
    assert none.probability == pytest.approx(
        (500 * 499 * 498 * 497 * 496 * 495) / (2500 * 2499 * 2498 * 2497 * 2496 * 2495)
    )
    assert none.log_ratio < 0
    assert "times as often as others" in none.words("Quist")


def test_a_difference_is_the_same_from_both_sides() -> None:
    """Whoever is asked about: the same G², the same probability, the opposite ratio."""
    for counts in ((5, 500, 0, 2000), (40, 900, 10, 3000), (3, 100, 9, 150)):
        one, other = Keyness(*counts), Keyness(*counts[2:], *counts[:2])
        assert one.log_likelihood == pytest.approx(other.log_likelihood)
        assert one.probability == pytest.approx(other.probability)
        assert one.log_ratio == pytest.approx(-other.log_ratio)


COUNTS = st.tuples(st.integers(0, 60), st.integers(1, 5000), st.integers(0, 60), st.integers(1, 5000)).map(
    lambda counts: (min(counts[0], counts[1]), counts[1], min(counts[2], counts[3]), counts[3])
)


@settings(deadline=None)
@given(COUNTS)
def test_keyness_is_what_scipy_computes(counts: tuple[int, int, int, int]) -> None:
    """G² as scipy's power divergence, Fisher's test as scipy's hypergeometric distribution."""
    from scipy.stats import chi2, chi2_contingency, fisher_exact

    count, notes, other, other_notes = counts
    found = Keyness(*counts)
    table = [[count, notes - count], [other, other_notes - other]]
    assert found.exact_probability == pytest.approx(fisher_exact(table).pvalue, abs=1e-6)
    if count + other and count + other < notes + other_notes:
        statistic = chi2_contingency(table, correction=False, lambda_="log-likelihood").statistic
        assert found.log_likelihood == pytest.approx(statistic, abs=1e-6)
        if not found.is_exact:
            assert found.probability == pytest.approx(chi2.sf(max(statistic, 0), 1), abs=1e-6)


def test_the_interval_of_a_ratio_of_rates() -> None:
    """By hand: 20 places in 1,000 notes beside 5 in 1,000 are four times as many; 1.96 sqrt(1/20.5 + 1/5.5) nats."""
    found = Keyness(20, 1000, 5, 1000)
    assert 2**found.log_ratio == pytest.approx(20.5 / 5.5)
    low, high = found.log_ratio_interval
    assert 2 ** (high - found.log_ratio) == pytest.approx(2.5631, abs=0.001)
    assert 2 ** (found.log_ratio - low) == pytest.approx(2.5631, abs=0.001)


def test_small_samples_are_told_as_such() -> None:
    """Three places decide nothing; five against none are counted out; no notes elsewhere say nothing either."""
    assert "too few places" in Keyness(3, 500, 0, 2000).words("Quist")
    assert "too few places" in Keyness(30, 500, 0, 0).words("Quist")
    few = Keyness(5, 500, 0, 2000)
    assert few.is_exact
    # By hand: all five of five places among 500 of 2,500 notes, about (1/5) to the fifth.
    assert few.probability == pytest.approx((500 * 499 * 498 * 497 * 496) / (2500 * 2499 * 2498 * 2497 * 2496))
    assert "Quist plays it" in few.words("Quist")
    assert "no sure difference" in Keyness(5, 1000, 5, 1000).words("Quist")


def test_more_places_than_notes_are_refused() -> None:
    """Counts that cannot be are a mistake of the caller."""
    with pytest.raises(ValueError, match="no more of them"):
        Keyness(5, 4, 0, 10)


@settings(deadline=None)
@given(st.lists(st.floats(0, 1), max_size=40))
def test_probabilities_are_corrected_as_scipy_does(probabilities: list[float]) -> None:
    """The false discovery rate by Benjamini and Hochberg."""
    from scipy.stats import false_discovery_control

    expected = false_discovery_control(probabilities, method="bh") if probabilities else []
    assert corrected(probabilities) == pytest.approx(list(expected))


def test_probabilities_are_corrected_by_hand() -> None:
    """Of four, the smallest counts four times, the next twice; none may exceed what a larger one falls to."""
    assert corrected([0.03, 0.005, 0.9, 0.031]) == pytest.approx([0.031 * 4 / 3, 0.02, 0.9, 0.031 * 4 / 3])


def test_what_stands_out_among_many_is_told_with_their_number() -> None:
    """A chance of one in forty is a finding for one figure, and none for the best of thirty."""
    key = Keyness(10, 1000, 10, 2600)
    assert 0.02 < key.probability < 0.05
    assert "Quist plays it" in key.words("Quist")
    words = key.words("Quist", Comparison(30, 0.6))
    assert "no sure difference" in words
    assert "q = 0.6 among 30 figures" in words
    assert "q = 0.001 among 30 figures" in key.words("Quist", Comparison(30, 0.001))
