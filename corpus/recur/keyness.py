"""Keyness: whether a figure is one player's own, or as common elsewhere.

Places of the figure among the notes of one side and of the other make a table of two by two. The log-likelihood ratio
G² = 2 Σ O ln(O / E) (Dunning, *Computational Linguistics* 19(1), 1993) says how sure a difference is, the ratio of the
rates how large it is. Where some expected count is below five the chance of a table at least as extreme is counted out
instead (Fisher's exact test), and of fewer than ``FEWEST`` places nothing is said. Both are two-sided: a figure that
the player avoids differs as surely as one favoured.

The probability of a table is that of one figure chosen beforehand. Where many are compared, some stand out by chance:
``corrected`` gives for each the share of false findings that taking it and all surer ones must reckon with (Benjamini
and Hochberg, *Journal of the Royal Statistical Society* B 57(1), 1995). That holds for figures that come and go
independently, or together; families share no notes, so they nearly do. What it cannot mend: families are looked for in
the player's own lines, so that the counts on that side are those of figures that were found there.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import erfc, exp, inf, lgamma, log, log2, sqrt
from typing import Final

FEWEST: Final = 4
SURE: Final = 0.05
"""What may be a false finding once in twenty times is told as found."""
_LEAST_EXPECTED: Final = 5.0
_ADDED: Final = 0.5
_NORMAL_95: Final = 1.959964
_EQUAL: Final = 1e-7
"""Logarithms of probabilities that differ by less are equal but for rounding."""


@dataclass(frozen=True, slots=True)
class Keyness:
    """A figure's places among one side's notes, and among the others'.

    Rates are places a thousand notes.
    """

    count: int
    notes: int
    other_count: int
    other_notes: int

    def __post_init__(self) -> None:
        if not (0 <= self.count <= self.notes and 0 <= self.other_count <= self.other_notes):
            raise ValueError(f"{self}: places are counted among the notes, so there are no more of them")

    @property
    def rates(self) -> tuple[float, float]:
        """Places a thousand notes, on this side and on the other."""
        return 1000 * self.count / max(self.notes, 1), 1000 * self.other_count / max(self.other_notes, 1)

    @property
    def _table(self) -> tuple[tuple[int, int], tuple[int, int]]:
        return (self.count, self.notes - self.count), (self.other_count, self.other_notes - self.other_count)

    @property
    def _expected(self) -> list[list[float]]:
        total = self.notes + self.other_notes
        columns = [self.count + self.other_count, total - self.count - self.other_count]
        return [[side * column / max(total, 1) for column in columns] for side in (self.notes, self.other_notes)]

    @property
    def log_likelihood(self) -> float:
        """G² of the table; 3.84 is exceeded by chance once in twenty times (chi-squared, one degree of freedom)."""
        return 2 * sum(
            seen * log(seen / expected)
            for row, expected_row in zip(self._table, self._expected, strict=True)
            for seen, expected in zip(row, expected_row, strict=True)
            if seen
        )

    @property
    def log_ratio(self) -> float:
        """How many times this side's rate doubles the other's; half a place is added to each for counts of 0."""
        return log2((self.count + _ADDED) / (self.notes + 1)) - log2(
            (self.other_count + _ADDED) / (self.other_notes + 1)
        )

    @property
    def log_ratio_interval(self) -> tuple[float, float]:
        """The 95 % interval of ``log_ratio``: the logarithm of a ratio of two Poisson rates, nearly normal."""
        width = _NORMAL_95 * sqrt(1 / (self.count + _ADDED) + 1 / (self.other_count + _ADDED)) / log(2)
        return self.log_ratio - width, self.log_ratio + width

    @property
    def is_exact(self) -> bool:
        """Whether some expected count is too small for G²."""
        return min(min(row) for row in self._expected) < _LEAST_EXPECTED

    @property
    def probability(self) -> float:
        """How probable a difference at least as large is by chance: from G², or counted out where that is too rough."""
        return self.exact_probability if self.is_exact else erfc(sqrt(self.log_likelihood / 2))

    @property
    def exact_probability(self) -> float:
        """Fisher's exact test, two-sided as G² is: the chance of tables no more probable than this one.

        Places are dealt to the two sides at random, so many as there are in all (hypergeometric distribution).
        """
        total, places = self.notes + self.other_notes, self.count + self.other_count
        possible = range(max(places - self.other_notes, 0), min(places, self.notes) + 1)
        logs = [
            _log_choose(self.notes, k) + _log_choose(self.other_notes, places - k) - _log_choose(total, places)
            for k in possible
        ]
        most = logs[self.count - possible.start] + _EQUAL
        return min(sum(exp(chance) for chance in logs if chance <= most), 1.0)

    @property
    def is_enough(self) -> bool:
        """Whether there are enough places to say anything, and notes on both sides."""
        return self.count + self.other_count >= FEWEST and self.notes > 0 and self.other_notes > 0

    def words(self, who: str, compared: "Comparison | None" = None) -> str:
        """What to say of it; ``compared`` tells of the other figures that were compared, if there were any."""
        own, other = self.rates
        rates = f"{own:.2g} places in 1,000 notes, {other:.2g} elsewhere"
        if not self.is_enough:
            return f"{rates}: too few places to tell whether it is {who}'s own"
        corrected = compared.corrected if compared else self.probability
        among = f"; q = {corrected:.2g} among {compared.figures} figures" if compared else ""
        if corrected > SURE:
            return f"{rates}: no sure difference (p = {self.probability:.2g}{among})"
        low, high = (2**bound for bound in self.log_ratio_interval)
        times = f"{2**self.log_ratio:.2g} times as often as others ({low:.2g} to {_upper(high)})"
        return f"{rates}: {who} plays it {times}, G² {self.log_likelihood:.1f}{among}"


@dataclass(frozen=True, slots=True)
class Comparison:
    """One of many figures compared: how many there were, and its probability corrected for their number (``q``)."""

    figures: int
    corrected: float


def corrected(probabilities: Sequence[float]) -> list[float]:
    """For each probability the false discovery rate of taking it and all smaller ones, by Benjamini and Hochberg:
    the smallest of p n / rank over it and all larger ones, in their order, 1 at most.
    """
    order = sorted(range(len(probabilities)), key=probabilities.__getitem__, reverse=True)
    found = [1.0] * len(order)
    least = 1.0
    for larger, index in enumerate(order):
        least = min(least, probabilities[index] * len(order) / (len(order) - larger))
        found[index] = least
    return found


def _upper(bound: float) -> str:
    return f"{bound:.2g}" if bound < 1000 else "any number"


def _log_choose(whole: int, part: int) -> float:
    if part < 0 or part > whole:
        return -inf
    return lgamma(whole + 1) - lgamma(part + 1) - lgamma(whole - part + 1)
