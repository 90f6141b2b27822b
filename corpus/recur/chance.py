"""What chance explains: how much information a figure holds beside what its corpus would give by itself.

The corpus is modelled as a chain: each symbol follows the one before as often as it does in the corpus, leaning on how
often it stands anywhere (a Markov chain of first order, smoothed by ``_LEAN`` imagined symbols). A figure's
*information* is the negative logarithm of its probability, in nats.

The surprise of a figure that stands *k* times among *n* places is what is saved by naming it instead of playing it,
*k* - 1 times its information, less what it takes to say where it stands: ln C(n, k), at most k (ln(n / k) + 1). This is
the minimum description length principle (Rissanen, *Automatica* 14, 1978): what saves nothing is no finding.
"""

from dataclasses import dataclass
from math import log
from typing import TYPE_CHECKING, Final

from corpus.recur.corpus_text import BREAK, CorpusText

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Places = NDArray[np.int64]
    Nats = NDArray[np.float64]

_LEAN: Final = 8.0
_TURNS: Final = 4


@dataclass(frozen=True)
class Chance:
    """The chain of a text: how often each symbol stands, and how often each follows each, breaks left out.

    ``sums`` add up what each symbol costs after the one before it, from the start of the text.
    """

    symbols: "NDArray[np.int64]"
    alone: "NDArray[np.float64]"
    pairs: "NDArray[np.float64]"
    sources: "NDArray[np.float64]"
    sums: "Nats"

    @classmethod
    def of(cls, text: CorpusText) -> "Chance":
        """The counts of a text."""
        import numpy as np

        symbols = text.symbols.astype(np.int64)
        kinds = int(symbols.max(initial=0)) + 1
        alone = np.bincount(symbols, minlength=kinds).astype(float)
        alone[BREAK] = 0
        is_pair = (symbols[:-1] != BREAK) & (symbols[1:] != BREAK)
        counts = np.bincount((symbols[:-1] * kinds + symbols[1:])[is_pair], minlength=kinds * kinds)
        pairs = counts.reshape(kinds, kinds).astype(float)
        shares = (alone + 0.5) / (alone.sum() + 0.5 * kinds)
        table = -np.log((pairs + _LEAN * shares) / (pairs.sum(axis=1, keepdims=True) + _LEAN))
        follows = np.zeros(len(symbols))
        follows[1:] = np.where(is_pair, table[symbols[:-1], symbols[1:]], 0.0)
        return cls(symbols, alone, pairs, pairs.sum(axis=1), np.concatenate(([0.0], np.cumsum(follows))))

    def played(self, first: int, last: int) -> float:
        """Nats of what is played from one symbol to another, each given the one before, nothing taken out."""
        return float(self.sums[last + 1] - self.sums[first])

    def information(self, places: "Places", lengths: "Places", counts: "Places") -> "Nats":
        """Nats of stretches of so many symbols (at least one) from each place, none of which holds a break.

        ``counts`` tell how often each stands in the text. What it adds to the chain by standing there more often than
        chance would have it is taken out, or what recurs would be what explains it: the excess and the chain without
        it are found by turns.
        """
        import numpy as np

        found = np.empty(len(places))
        for length in np.unique(lengths).tolist():
            those = np.flatnonzero(lengths == length)
            stretches = self.symbols[places[those][:, None] + np.arange(length)]
            excess = np.zeros(len(those))
            for _ in range(_TURNS):
                nats = self._nats(stretches, excess[:, None])
                excess = np.maximum(counts[those] - 1 - self.alone.sum() * np.exp(-nats), 0)
            found[those] = self._nats(stretches, excess[:, None])
        return found

    def _nats(self, stretches: "Places", excess: "Nats") -> "Nats":
        """Nats of stretches, a row each, in a text in which each stood so many times less."""
        import numpy as np

        kinds, length = len(self.alone), stretches.shape[1]
        total = np.maximum(self.alone.sum() - excess * length, 0) + 0.5 * kinds
        alone = (np.maximum(self.alone[stretches] - excess, 0) + 0.5) / total
        before, after = stretches[:, :-1], stretches[:, 1:]
        seen = np.maximum(self.pairs[before, after] - excess, 0)
        sources = np.maximum(self.sources[before] - excess, 0)
        follows = (seen + _LEAN * alone[:, 1:]) / (sources + _LEAN)
        found: Nats = -np.log(alone[:, 0]) - np.log(follows).sum(axis=1)
        return found


def naming(places: float, count: float) -> float:
    """Nats to say where one of ``count`` occurrences stands among so many places."""
    return log(max(places / count, 1.0)) + 1


def surprise(information: float, count: int, places: int) -> float:
    """Nats saved by a figure of this information that stands so many times among so many places; may be negative."""
    return (count - 1) * information - count * naming(places, count)
