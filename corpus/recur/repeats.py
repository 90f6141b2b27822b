"""Maximal repeats of a text, by suffix array.

A repeat is *maximal* when no longer repeat has the same occurrences: its occurrences are followed by different symbols
(or a break), and preceded by different symbols (Gusfield, *Algorithms on Strings, Trees and Sequences*, 1997, 7.12).
In the suffix array the occurrences of a repeat are neighbours: a run of common prefixes at least as long as it. It can
not be prolonged when the shortest of them is just as long, and not be begun earlier when the symbols before differ.
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from corpus.recur.corpus_text import BREAK

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Symbols = NDArray[np.uint8]
    Places = NDArray[np.int64]

LONGEST: Final = 64
"""Repeats are told up to so many symbols; what is longer is found by its windows."""


@dataclass(frozen=True)
class Repeats:
    """Repeats of a text: number *i* is ``lengths[i]`` symbols long and stands ``counts[i]`` times, on the places
    ``suffixes[begins[i] : begins[i] + counts[i]]``, in no order.
    """

    suffixes: "Places"
    begins: "Places"
    counts: "Places"
    lengths: "Places"

    def __len__(self) -> int:
        return len(self.begins)

    def places(self, number: int) -> "Places":
        """Where a repeat stands (its first symbol), in rising order."""
        import numpy as np

        begin = int(self.begins[number])
        found: Places = np.sort(self.suffixes[begin : begin + int(self.counts[number])])
        return found


FindRepeats = Callable[["Symbols", "Places", int, int, int], Repeats]
"""What ``maximal_repeats`` does: symbols, ``unbroken``, least, longest and fewest."""


def suffixes_and_prefixes(symbols: "Symbols") -> "tuple[Places, Places]":
    """The suffix array, and how many symbols each suffix shares with the next one. Text must not be empty."""
    import numpy as np
    import pydivsufsort

    suffixes = pydivsufsort.divsufsort(np.ascontiguousarray(symbols))
    shared = pydivsufsort.kasai(symbols, suffixes)
    return suffixes.astype(np.int64), shared[:-1].astype(np.int64)


def maximal_repeats(
    symbols: "Symbols", unbroken: "Places", least: int, longest: int = LONGEST, fewest: int = 2
) -> Repeats:
    """Maximal repeats of ``least`` to ``longest`` symbols that stand at least ``fewest`` times and hold no break.

    ``unbroken`` tells how many symbols follow each place before a break. Cost: n log n, once, and then a pass for each
    length through what is still repeated at that length.
    """
    import numpy as np

    if len(symbols) < 2:
        none = np.empty(0, dtype=np.int64)
        return Repeats(none, none, none, none)
    suffixes, shared = suffixes_and_prefixes(symbols)
    shared = np.minimum(np.minimum(shared, unbroken[suffixes[:-1]]), longest)
    before = np.where(suffixes > 0, symbols[suffixes - 1], BREAK)
    return repeats_by_length(suffixes, shared, before, least, longest, fewest)


def repeats_by_length(
    suffixes: "Places", shared: "Places", before: "Symbols", least: int, longest: int, fewest: int
) -> Repeats:
    """The maximal repeats of suffixes in alphabetical order; ``shared`` are the symbols that each has in common with
    the next one, ``longest`` at most, and ``before`` the symbol that stands before each.
    """
    import numpy as np

    # Two breaks are two different things.
    differs = (before[:-1] != before[1:]) | (before[:-1] == BREAK)
    found = list(_by_length(shared, differs, least, longest, fewest))
    begins, counts, lengths = (
        np.concatenate([part[column] for part in found]) if found else np.empty(0, dtype=np.int64)
        for column in range(3)
    )
    return Repeats(suffixes, begins, counts, lengths)


def _by_length(
    shared: "Places", differs: "NDArray[np.bool_]", least: int, longest: int, fewest: int
) -> "Iterator[tuple[Places, Places, Places]]":
    """For each length: where in the suffix array its maximal repeats begin, how often they stand, and the length."""
    import numpy as np

    pairs = np.flatnonzero(shared >= least)
    for length in range(least, longest + 1):
        pairs = pairs[shared[pairs] >= length]
        if not len(pairs):
            return
        runs = np.flatnonzero(np.diff(pairs, prepend=-2) > 1)
        is_maximal = (np.minimum.reduceat(shared[pairs], runs) == length) & np.logical_or.reduceat(differs[pairs], runs)
        counts = np.diff(np.append(runs, len(pairs))) + 1
        wanted = is_maximal & (counts >= fewest)
        begins = pairs[runs[wanted]]
        yield begins, counts[wanted], np.full(len(begins), length, dtype=np.int64)
