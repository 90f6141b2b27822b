"""Two profiles side by side: differences with effect sizes, which are more than chance, and which line is plainer.

- The difference of two shares has Newcombe's interval and Cohen's *h*; that of two means a bootstrap of bars on either
  side and Cohen's *d* (``corpus.profile.statistics``). Notes of shapes and recurring figures come in stretches: their
  shares are bootstrapped by bars too.
- About a hundred figures are compared at once: at 95 %, five of them would differ by chance. A difference is called
  *clear* only when its 99.9 % interval leaves out zero, its effect is at least small (0.2), and either side has
  ``FEWEST`` notes.
- *Plainer* is the line with more roots and fewer notes besides the chord's own, since a line with few roots is heard as
  more melodic (common practice, no source): the mean of *h* over the figures in ``PLAIN``.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from corpus.profile.profile import Profile
from corpus.profile.samples import Measure, Sample
from corpus.profile.statistics import (
    CONFIDENCE,
    SEED,
    SMALL_EFFECT,
    bootstrap_means,
    cohen_d,
    cohen_h,
    newcombe,
)

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

CLEAR_CONFIDENCE: Final = 0.999
FEWEST: Final = 10
"""Notes (where bars are drawn: bars) below which no difference is called clear: a bootstrap of few bars is too sure."""
PLAIN: Final = ("roots.all", "roots.first_beats", "roots.chord_changes", "kinds.all_notes.chord", "scales.arpeggio")


@dataclass(frozen=True, slots=True)
class Difference:
    """A figure in two selections: ``difference`` is the first minus the second, ``low`` to ``high`` its 95 % interval.

    ``effect`` is Cohen's h or d; ``is_clear`` says that it is more than chance and not tiny.
    """

    first: Measure
    second: Measure
    first_sample: Sample
    second_sample: Sample
    difference: float
    low: float
    high: float
    effect: float
    is_clear: bool

    @property
    def key(self) -> str:
        """The figure's name for scripts."""
        return self.first.key

    @property
    def method(self) -> str:
        """Where the interval comes from."""
        return "bootstrap of bars" if self.first_sample.by_bars else "Newcombe"

    @property
    def effect_name(self) -> str:
        """Which effect size it is."""
        return "Cohen's h" if self.first.unit == "share" else "Cohen's d"


@dataclass(frozen=True)
class Comparison:
    """All figures that both selections have, the clear differences first, the largest effects first.

    ``plainness`` is the mean effect over ``PLAIN``: above zero the first is plainer; None where there are no chords.
    """

    differences: tuple[Difference, ...]
    plainness: float | None

    @property
    def clear(self) -> tuple[Difference, ...]:
        """The differences that are more than chance."""
        return tuple(difference for difference in self.differences if difference.is_clear)


def compare(first: Profile, second: Profile) -> Comparison:
    """Compare two profiles figure by figure; figures that one of them cannot tell are left out."""
    theirs = {m.key: (m, s) for m, s in zip(second.measures, second.samples, strict=True)}
    found = []
    for measure, sample in zip(first.measures, first.samples, strict=True):
        other = theirs.get(measure.key)
        if other is not None and measure.n and other[0].n:
            found.append(_difference((first, measure, sample), (second, *other)))
    ordered = sorted(found, key=lambda d: (not d.is_clear, -abs(d.effect), d.key))
    return Comparison(tuple(ordered), _plainness(found))


def _plainness(differences: Sequence[Difference]) -> float | None:
    effects = [difference.effect for difference in differences if difference.key in PLAIN]
    return sum(effects) / len(effects) if effects else None


def _difference(one: tuple[Profile, Measure, Sample], two: tuple[Profile, Measure, Sample]) -> Difference:
    (_, first, sample), (_, second, other) = one, two
    is_share = first.unit == "share"
    effect = (
        cohen_h(sample.count / sample.n, other.count / other.n) if is_share else cohen_d(sample.values, other.values)
    )
    if not sample.by_bars:
        counts = (sample.count, sample.n), (other.count, other.n)
        interval, strict = newcombe(*counts), newcombe(*counts, CLEAR_CONFIDENCE)
    else:
        means = _bootstrapped(one, SEED), _bootstrapped(two, SEED + 1)
        size = min(map(len, means))
        drawn = means[0][:size] - means[1][:size]
        interval, strict = _quantiles(drawn, CONFIDENCE), _quantiles(drawn, CLEAR_CONFIDENCE)
    difference = float(sample.values.mean() - other.values.mean())
    is_clear = (strict[0] > 0 or strict[1] < 0) and abs(effect) >= SMALL_EFFECT and _is_enough(one) and _is_enough(two)
    return Difference(first, second, sample, other, difference, *interval, effect, is_clear)


def _is_enough(side: tuple[Profile, Measure, Sample]) -> bool:
    profile, measure, sample = side
    return measure.n >= FEWEST and (not sample.by_bars or len(set(profile.columns.bar[sample.notes])) >= FEWEST)


def _bootstrapped(side: tuple[Profile, Measure, Sample], seed: int) -> "NDArray[np.float64]":
    profile, _, sample = side
    return bootstrap_means(sample.values, profile.columns.bar[sample.notes], seed)


def _quantiles(drawn: "NDArray[np.float64]", confidence: float) -> tuple[float, float]:
    import numpy as np

    low, high = np.quantile(drawn, [(1 - confidence) / 2, (1 + confidence) / 2])
    return float(low), float(high)
