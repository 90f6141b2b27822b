"""The lines of a corpus as one text a reading, a symbol a note, made from the columns of near search.

A figure of *n* notes that begins on place *p* is the *n* - 1 symbols from *p* + 1: how each note follows the one
before it. ``BREAK`` stands where nothing is before, and for bars; no figure contains it.
"""

from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, Any, Final, Literal

from corpus.match.columns import Columns
from corpus.match.sought import CLASSES

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Symbols = NDArray[np.uint8]
    Places = NDArray[np.int64]

TextReading = Literal["interval", "folded", "step", "letter", "degree", "role"]
TEXT_READINGS: Final[tuple[TextReading, ...]] = ("interval", "folded", "step", "letter", "degree", "role")
BREAK: Final = 0
_WIDEST: Final = 60
"""Intervals and steps wider than this are told as this wide: five octaves."""


@dataclass(frozen=True)
class CorpusText:
    """One reading of all lines: ``symbols`` are 0 (``BREAK``) or from 1, one a place of the columns.

    ``first_counts`` says whether the first note of a figure has a symbol of its own (degrees and roles do).
    """

    reading: TextReading
    symbols: "Symbols"
    first_counts: bool = False

    def __len__(self) -> int:
        return len(self.symbols)

    @cached_property
    def unbroken(self) -> "Places":
        """For each place, how many symbols follow (itself included) before the next break."""
        import numpy as np

        breaks = np.flatnonzero(self.symbols == BREAK)
        ends = np.append(breaks, len(self.symbols))
        places = np.arange(len(self.symbols))
        found: Places = ends[np.searchsorted(breaks, places)] - places
        return found


def corpus_text(columns: Columns, reading: TextReading) -> CorpusText:
    """One reading of the columns. The columns' alphabet must be ``degree`` or ``role`` for those, else ``pitch``."""
    import numpy as np

    if reading in ("degree", "role"):
        if columns.alphabet != reading:
            raise ValueError(f"columns of {columns.alphabet} have no {reading}s")
        limit = CLASSES[columns.alphabet]
        symbols = np.where(columns.classes < limit, columns.classes + 1, BREAK).astype(np.uint8)
        return CorpusText(reading, symbols, first_counts=True)
    heights = columns.heights if reading in ("interval", "folded") else columns.positions
    sizes = np.diff(heights, prepend=heights[:1])
    told = _told(reading)(sizes)
    starts = np.zeros(len(heights), dtype=bool)
    starts[columns.bars] = True
    # The note after a bar follows nothing.
    starts[np.minimum(columns.bars + 1, len(starts) - 1)] = True
    return CorpusText(reading, np.where(starts, BREAK, told + 1).astype(np.uint8))


def _told(reading: TextReading) -> "Callable[[Any], Any]":
    import numpy as np

    if reading in ("folded", "letter"):
        modulus = 12 if reading == "folded" else 7
        return lambda sizes: sizes % modulus
    return lambda sizes: np.clip(sizes, -_WIDEST, _WIDEST) + _WIDEST
