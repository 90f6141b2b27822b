"""Maximal repeats found part by part, so that workers on one machine or many share the work.

What repeats is decided among suffixes that begin alike; so the suffixes are dealt out by their first two symbols, in
alphabetical order, into parts of about equal size. A worker needs the text (a byte a note) and the bounds of its part,
and nothing from other workers. Parts laid end to end are ``corpus.recur.repeats`` of the whole text, repeat by repeat
in the same order; only suffixes of which nothing is asked (those that begin with a break) are missing.

Cost of a part: its suffixes are sorted by as many symbols as the longest repeat wanted, in words of eight symbols. On
one machine the suffix array of the whole is several times as fast; parts are for texts that it has no room for.
"""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING, Any, Final

from corpus.recur.corpus_text import BREAK
from corpus.recur.repeats import Repeats, repeats_by_length

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Symbols = NDArray[np.uint8]
    Places = NDArray[np.int64]

SUFFIXES_A_PART: Final = 500_000
"""About so many: sorting them takes about a hundred bytes each."""
_PREFIX: Final = 2
_KINDS: Final = 256
_WORD: Final = 8


@dataclass(frozen=True, slots=True)
class Part:
    """The suffixes whose first two symbols lie in a range of codes (the first times 256 plus the second), and which
    repeats of them are wanted: as ``corpus.recur.repeats.maximal_repeats`` has it.
    """

    low: int
    high: int
    least: int
    longest: int
    fewest: int


def parts_of(symbols: "Symbols", least: int, longest: int, fewest: int = 2, size: int = SUFFIXES_A_PART) -> list[Part]:
    """Parts of a text, alphabetically, of about so many suffixes each; one pair of symbols is never divided.

    Raises ValueError for repeats of fewer than two symbols.
    """
    import numpy as np

    if least < _PREFIX:
        raise ValueError(f"repeats of {least} symbols cannot be dealt out by their first {_PREFIX}")
    counts = np.bincount(_codes(symbols), minlength=_KINDS**_PREFIX)
    # Suffixes that begin with a break, or are one before it, hold no repeat.
    by_pair = counts.reshape(_KINDS, _KINDS)
    by_pair[BREAK], by_pair[:, BREAK] = 0, 0
    total = int(counts.sum())
    if not total:
        return []
    wanted = max(-(-total // size), 1)
    upto = np.searchsorted(np.cumsum(counts), [total * turn / wanted for turn in range(1, wanted)]) + 1
    bounds = sorted({0, *upto.tolist(), len(counts)})
    return [Part(low, high, least, longest, fewest) for low, high in pairwise(bounds)]


def repeats_in(symbols: "Symbols", part: Part) -> Repeats:
    """The maximal repeats of one part of a text; its suffixes alone, in alphabetical order."""
    import numpy as np

    codes = _codes(symbols)
    places = np.flatnonzero((codes >= part.low) & (codes < part.high))
    padded = np.concatenate((symbols, np.zeros(part.longest, dtype=np.uint8)))
    width = -(-part.longest // _WORD) * _WORD
    windows = np.zeros((len(places), width), dtype=np.uint8)
    windows[:, : part.longest] = padded[places[:, None] + np.arange(part.longest)]
    # What lies behind a break belongs to another line.
    windows[~np.logical_and.accumulate(windows != BREAK, axis=1)] = BREAK
    lengths = np.count_nonzero(windows, axis=1)
    kept = lengths >= part.least
    places, windows, lengths = places[kept], windows[kept], lengths[kept]
    words = windows.view(">u8").T
    order = np.lexsort(words[::-1])
    suffixes, windows, lengths = places[order], windows[order], lengths[order]
    shared = _shared(windows, lengths)
    before = np.where(suffixes > 0, symbols[suffixes - 1], BREAK)
    return repeats_by_length(suffixes, shared, before, part.least, part.longest, part.fewest)


def _shared(windows: "Symbols", lengths: "Places") -> "Places":
    """How many symbols each window shares with the next one."""
    import numpy as np

    differ = windows[:-1] != windows[1:]
    first = np.where(differ.any(axis=1), differ.argmax(axis=1), windows.shape[1])
    found: Places = np.minimum(first, lengths[:-1])
    return found


def _codes(symbols: "Symbols") -> "NDArray[np.uint16]":
    """The first two symbols of each suffix as one number."""
    import numpy as np

    codes = symbols.astype(np.uint16) << np.uint16(8)
    codes[:-1] |= symbols[1:]
    return codes


def joined(parts: Sequence[Repeats]) -> Repeats:
    """Parts in their order as one: by length, and alphabetically among those of one length."""
    import numpy as np

    none = np.empty(0, dtype=np.int64)
    if not parts:
        return Repeats(none, none, none, none)
    starts = np.cumsum([0, *(len(part.suffixes) for part in parts)])
    begins = np.concatenate([part.begins + start for part, start in zip(parts, starts[:-1], strict=True)])
    lengths = np.concatenate([part.lengths for part in parts])
    order = np.argsort(lengths, kind="stable")
    return Repeats(
        np.concatenate([part.suffixes for part in parts]),
        begins[order],
        np.concatenate([part.counts for part in parts])[order],
        lengths[order],
    )


Deal = Callable[["Symbols", Sequence[Part]], Iterable[Repeats]]
"""Has ``repeats_in`` done for every part of a text, by whatever workers; the answers in the order of the parts."""


class RepeatsInParts:
    """``maximal_repeats``, with the work dealt out."""

    def __init__(self, deal: Deal, size: int = SUFFIXES_A_PART) -> None:
        self._deal, self._size = deal, size

    def __call__(self, symbols: "Symbols", unbroken: Any, least: int, longest: int, fewest: int = 2) -> Repeats:
        """As ``corpus.recur.repeats.maximal_repeats``; breaks are looked for in the text itself."""
        return joined(list(self._deal(symbols, parts_of(symbols, least, longest, fewest, self._size))))
