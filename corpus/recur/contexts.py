"""What a figure keeps to: the beat it begins on, the role of its first note over the chord.

Chance puts a repeat anywhere; a figure that is used stands in its place. What is compared is the probability of the
contexts of its occurrences under shares of their own, unknown beforehand (a Dirichlet prior round the corpus's shares,
as strong as ``_PRIOR`` occurrences), with that under the corpus's. Saying that contexts matter at all, and which, costs
the logarithm of the number of ways.
"""

from collections import Counter
from collections.abc import Sequence
from math import exp, lgamma, log
from typing import TYPE_CHECKING, Any, Final

from corpus.recur.repeats import Repeats

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Places = NDArray[np.int64]

_PRIOR: Final = 2.0
_LEAST_SHARE: Final = 1e-9


class Contexts:
    """What figures may keep to: a beat, a role, and, where there are two such things, both at once.

    Both count as one context, since one tells of the other: in lines that begin each bar on the root it is no news that
    a figure which begins the bar begins on the root. Which way of looking at it matters is not known beforehand: all
    have one probability, and so has none, which costs the logarithm of their number.
    """

    def __init__(self, contexts: "Sequence[NDArray[np.uint8]]", looked_at: "NDArray[np.bool_]") -> None:
        """``contexts`` are classes by place, 0 for none; ``looked_at`` the places that tell how common each is."""
        import numpy as np

        every: list[NDArray[Any]] = list(contexts)
        if len(every) == 2:
            one, other = (classes.astype(np.int64) for classes in every)
            every.append(np.where((one > 0) & (other > 0), one * 256 + other, 0))
        self._every = [(classes, shares_of(classes[looked_at])) for classes in every]

    def __bool__(self) -> bool:
        return bool(self._every)

    def attachment(self, firsts: "Places") -> float:
        """Nats saved by knowing what figures that begin on some places keep to; never negative."""
        gains = [attachment(classes[firsts].tolist(), shares) for classes, shares in self._every]
        most = max(gains, default=0.0)
        # The probabilities of all ways add up.
        total = most + log(sum(exp(gain - most) for gain in gains)) if gains else 0.0
        return max(total - log(len(gains) + 1), 0.0)

    def attachments(self, repeats: Repeats, numbers: "Places", before: int) -> "NDArray[np.float64]":
        """The same of many repeats at once, whose first symbols stand so many places after their first notes."""
        import numpy as np

        if not self._every:
            return np.zeros(len(numbers))
        gains = [attachments(repeats, numbers, np.roll(classes, before), shares) for classes, shares in self._every]
        found: NDArray[np.float64] = np.maximum(np.logaddexp.reduce(gains) - log(len(gains) + 1), 0)
        return found


def attachment(classes: "Sequence[int]", shares: "Sequence[float]") -> float:
    """Nats by which contexts are likelier when a figure keeps to some of them; negative where it does not.

    ``classes`` are the contexts of its occurrences, 0 for none; ``shares`` how common each is in the corpus. What is
    compared is the probability of the contexts under shares of their own, unknown beforehand (a Dirichlet prior round
    the corpus's, ``_PRIOR`` strong), with that under the corpus's.
    """
    counts = Counter(context for context in classes if context)
    total = counts.total()
    own = lgamma(_PRIOR) - lgamma(total + _PRIOR)
    usual = 0.0
    for context, count in counts.items():
        share = max(shares[context], _LEAST_SHARE)
        own += lgamma(count + _PRIOR * share) - lgamma(_PRIOR * share)
        usual += count * log(share)
    return own - usual


def attachments(repeats: Repeats, numbers: "Places", classes: "Any", shares: list[float]) -> "NDArray[np.float64]":
    """``attachment`` of many repeats at once: ``classes`` are the contexts by the place of a repeat's first symbol."""
    import numpy as np

    if not len(numbers):
        return np.zeros(0)
    counts = repeats.counts[numbers]
    ends = np.cumsum(counts)
    owner = np.repeat(np.arange(len(numbers)), counts)
    within = np.arange(int(ends[-1]) if len(ends) else 0) - np.repeat(ends - counts, counts)
    context = classes[repeats.suffixes[repeats.begins[numbers][owner] + within]].astype(np.int64)
    keys, together = np.unique((owner * len(shares) + context)[context > 0], return_counts=True)
    owners, contexts = keys // len(shares), keys % len(shares)
    common = np.maximum(np.array(shares)[contexts], _LEAST_SHARE)
    # Few counts and contexts come up, each many times.
    kinds, kind = np.unique(together * len(shares) + contexts, return_inverse=True)
    ours = _PRIOR * np.maximum(np.array(shares)[kinds % len(shares)], _LEAST_SHARE)
    gains = (_log_gamma(kinds // len(shares) + ours) - _log_gamma(ours))[kind] - together * np.log(common)
    totals = np.bincount(owners, weights=together, minlength=len(numbers))
    # Without entries bincount would give whole numbers.
    saved: NDArray[np.float64] = np.bincount(owners, weights=gains, minlength=len(numbers)).astype(float)
    saved += _log_gamma(np.array([_PRIOR]))[0] - _log_gamma(totals + _PRIOR)
    return saved


def _log_gamma(values: "NDArray[Any]") -> "NDArray[np.float64]":
    import numpy as np

    return np.fromiter(map(lgamma, values.tolist()), dtype=np.float64, count=len(values))


def shares_of(context: "Any") -> list[float]:
    """How common each class of a context is among the places that have one."""
    import numpy as np

    counts = np.bincount(context, minlength=256).astype(float)
    counts[0] = 0
    found: list[float] = (counts / max(counts.sum(), 1)).tolist()
    return found
