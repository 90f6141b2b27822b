"""Intervals and effect sizes against scipy and statsmodels."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats
from statsmodels.stats import proportion

from corpus.profile.statistics import bootstrap, cohen_d, cohen_h, newcombe, wilson

COUNTS = st.integers(1, 5000).flatmap(lambda total: st.tuples(st.integers(0, total), st.just(total)))


@given(COUNTS, st.sampled_from([0.9, 0.95, 0.999]))
def test_wilson_is_that_of_scipy(counts: tuple[int, int], confidence: float) -> None:
    """Wilson 1927, as ``scipy.stats.binomtest(...).proportion_ci`` computes it."""
    expected = stats.binomtest(*counts).proportion_ci(confidence, method="wilson")
    assert wilson(*counts, confidence) == pytest.approx((expected.low, expected.high), abs=1e-9)


@given(COUNTS, COUNTS)
def test_newcombe_is_that_of_statsmodels(first: tuple[int, int], second: tuple[int, int]) -> None:
    """Newcombe 1998, method 10, as ``confint_proportions_2indep(method='newcomb')`` computes it."""
    expected = proportion.confint_proportions_2indep(*first, *second, method="newcomb", compare="diff")
    assert newcombe(first, second) == pytest.approx(tuple(map(float, expected)), abs=1e-9)


def test_newcombe_is_the_published_example() -> None:
    """56 of 70 against 48 of 80: 0.0524 to 0.3339 (Newcombe 1998, table II, contrast a; from memory)."""
    assert newcombe((56, 70), (48, 80)) == pytest.approx((0.0524, 0.3339), abs=5e-5)


@given(COUNTS, COUNTS)
def test_cohen_h_is_that_of_statsmodels(first: tuple[int, int], second: tuple[int, int]) -> None:
    """Cohen 1988, as ``proportion_effectsize`` computes it."""
    shares = first[0] / first[1], second[0] / second[1]
    assert cohen_h(*shares) == pytest.approx(float(proportion.proportion_effectsize(*shares)), abs=1e-9)


def test_cohen_d_is_worked_out_by_hand() -> None:
    """1 3 against 2 6: means 2 and 4, squares 2 and 8 over two degrees of freedom, so -2 over the root of 5."""
    assert cohen_d(np.array([1.0, 3.0]), np.array([2.0, 6.0])) == pytest.approx(-2 / 5**0.5)
    assert cohen_d(np.array([1.0, 1.0]), np.array([1.0, 1.0])) == 0


def test_bootstrap_with_one_note_a_bar_is_close_to_that_of_scipy() -> None:
    """The percentile interval of a mean; both draw at random, so they agree to a twentieth of its width."""
    values = np.random.default_rng(7).normal(5, 2, 200)
    low, high = bootstrap(values, np.arange(200))
    expected = stats.bootstrap(
        (values,), np.mean, method="percentile", n_resamples=9999, random_state=np.random.default_rng(8)
    ).confidence_interval
    assert low == pytest.approx(expected.low, abs=0.05 * (high - low) + 0.02)
    assert high == pytest.approx(expected.high, abs=0.05 * (high - low) + 0.02)


def test_bootstrap_is_wider_where_bars_hold_equal_notes() -> None:
    """Four equal notes in each bar are one piece of evidence, not four: the interval is about twice as wide."""
    bar_values = np.random.default_rng(3).normal(0, 1, 100)
    values = np.repeat(bar_values, 4)
    low, high = bootstrap(values, np.repeat(np.arange(100), 4))
    naive_low, naive_high = bootstrap(values, np.arange(400))
    assert 1.7 < (high - low) / (naive_high - naive_low) < 2.3


def test_wilson_covers_the_truth_as_often_as_it_says_on_average() -> None:
    """Over shares from 0.05 to 0.95, counted exactly by the binomial distribution of 40 notes: 95 in a hundred."""
    held = []
    for share in np.linspace(0.05, 0.95, 91):
        chances = stats.binom.pmf(np.arange(41), 40, share)
        inside = [low <= share <= high for low, high in (wilson(count, 40) for count in range(41))]
        held.append(float(chances[inside].sum()))
    assert 0.945 <= sum(held) / len(held) <= 0.957
