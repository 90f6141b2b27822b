"""Intervals and effect sizes: how sure a figure is, and how large a difference.

- Share: Wilson's score interval (E. B. Wilson, "Probable inference, the law of succession, and statistical
  inference", *Journal of the American Statistical Association* 22, 1927). It takes the notes as independent, which
  neighbours in a line are not quite: read it as the narrowest that is honest.
- Difference of two shares: the hybrid of two score intervals (R. G. Newcombe, "Interval estimation for the difference
  between independent proportions", *Statistics in Medicine* 17, 1998, method 10).
- Mean, and share of notes that come in stretches (shapes, recurring figures): percentile bootstrap (B. Efron,
  "Bootstrap methods", *Annals of Statistics* 7, 1979) over whole bars, so that neighbours stay together; always the
  same seed, so that the same line gives the same figures. A share of none or all cannot be drawn otherwise: it has
  Wilson's interval with bars counted in place of notes.
- Effect size: Cohen's *h* for shares, *d* for means (J. Cohen, *Statistical Power Analysis for the Behavioral
  Sciences*, 2nd edition, 1988: 0.2 small, 0.5 medium, 0.8 large).

All are two-sided 95 % intervals unless another ``confidence`` is given.
"""

from functools import lru_cache
from math import asin, sqrt
from statistics import NormalDist
from typing import TYPE_CHECKING, Final

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Values = NDArray[np.float64]
    Numbers = NDArray[np.int64]

CONFIDENCE: Final = 0.95
SMALL_EFFECT: Final = 0.2
RESAMPLES: Final = 1000
MOST_BLOCKS: Final = 500
"""Bars are resampled singly up to this number; beyond, neighbours are joined to blocks, which is no less careful."""
SEED: Final = 1927


def normal_quantile(confidence: float) -> float:
    """How many standard deviations a two-sided interval reaches on either side: 1.96 for 0.95."""
    return NormalDist().inv_cdf((1 + confidence) / 2)


def wilson(count: int, total: int, confidence: float = CONFIDENCE) -> tuple[float, float]:
    """The interval of a share ``count / total``, both ends within 0 to 1; (0, 1) when there is nothing to count."""
    if total == 0:
        return 0.0, 1.0
    z = normal_quantile(confidence)
    share = count / total
    middle = (share + z * z / (2 * total)) / (1 + z * z / total)
    half = z / (1 + z * z / total) * sqrt(share * (1 - share) / total + z * z / (4 * total * total))
    # At the ends the formula is exact, but floating point is not.
    low = 0.0 if count == 0 else middle - half
    high = 1.0 if count == total else middle + half
    return low, high


def newcombe(first: tuple[int, int], second: tuple[int, int], confidence: float = CONFIDENCE) -> tuple[float, float]:
    """The interval of the difference of two shares, first minus second, each as count and total."""
    shares = [count / total if total else 0.0 for count, total in (first, second)]
    (low1, high1), (low2, high2) = wilson(*first, confidence), wilson(*second, confidence)
    difference = shares[0] - shares[1]
    below = sqrt((shares[0] - low1) ** 2 + (high2 - shares[1]) ** 2)
    above = sqrt((high1 - shares[0]) ** 2 + (shares[1] - low2) ** 2)
    return difference - below, difference + above


def cohen_h(first: float, second: float) -> float:
    """Cohen's effect size of the difference of two shares, first minus second."""
    return 2 * asin(sqrt(min(max(first, 0.0), 1.0))) - 2 * asin(sqrt(min(max(second, 0.0), 1.0)))


def cohen_d(first: "Values", second: "Values") -> float:
    """Cohen's effect size of the difference of two means, first minus second, in pooled standard deviations.

    0 when neither varies and they are the same; infinite when neither varies and they differ.
    """
    freedom = len(first) + len(second) - 2
    difference = float(first.mean() - second.mean())
    squares = float(((first - first.mean()) ** 2).sum() + ((second - second.mean()) ** 2).sum())
    if freedom < 1 or squares <= 0:
        return 0.0 if difference == 0 else float("inf") if difference > 0 else float("-inf")
    return difference / sqrt(squares / freedom)


def bootstrap_means(values: "Values", bars: "Numbers", seed: int = SEED) -> "Values":
    """Means of ``RESAMPLES`` samples drawn bar by bar with replacement; ``bars`` is the bar of each value, rising.

    Two selections that are compared need two seeds, else they are drawn alike.
    """
    import numpy as np

    places = np.unique(bars, return_inverse=True)[1]
    sums, sizes = np.bincount(places, values), np.bincount(places)
    return means_of_bars(sums.astype(np.float64), sizes.astype(np.float64), seed)


def means_of_bars(sums: "Values", sizes: "Values", seed: int = SEED) -> "Values":
    """As ``bootstrap_means``, of the sum and the number of the values in each bar."""
    import numpy as np

    count = len(sums)
    if count > MOST_BLOCKS:
        blocks = np.arange(count) * MOST_BLOCKS // count
        sums = np.bincount(blocks, sums, MOST_BLOCKS).astype(np.float64)
        sizes = np.bincount(blocks, sizes, MOST_BLOCKS).astype(np.float64)
        count = MOST_BLOCKS
    weights = _weights(count, seed)
    totals = weights @ sizes
    kept = totals > 0
    found: Values = (weights @ sums)[kept] / totals[kept]
    return found


@lru_cache(maxsize=8)
def _weights(count: int, seed: int) -> "Values":
    """How often each of ``count`` blocks is drawn in each resample."""
    import numpy as np

    drawn = np.random.default_rng(seed).integers(0, count, (RESAMPLES, count))
    flat = (drawn + np.arange(RESAMPLES)[:, None] * count).ravel()
    return np.bincount(flat, minlength=RESAMPLES * count).reshape(RESAMPLES, count).astype(np.float64)


def bootstrap(values: "Values", bars: "Numbers", confidence: float = CONFIDENCE) -> tuple[float, float]:
    """The percentile interval of a mean. Raises ValueError for no values."""
    if not len(values):
        raise ValueError("an interval needs at least one value")
    return _percentiles(bootstrap_means(values, bars), confidence)


def bootstrap_sums(sums: "Values", sizes: "Values", confidence: float = CONFIDENCE) -> tuple[float, float]:
    """As ``bootstrap``, of the sum and the number of the values in each bar."""
    return _percentiles(means_of_bars(sums, sizes), confidence)


def _percentiles(means: "Values", confidence: float) -> tuple[float, float]:
    import numpy as np

    low, high = np.quantile(means, [(1 - confidence) / 2, (1 + confidence) / 2])
    return float(low), float(high)
