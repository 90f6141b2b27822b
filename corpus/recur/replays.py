"""What is merely played again: long stretches that were there before, note for note; and pieces of scales."""

from typing import TYPE_CHECKING, Any

from corpus.recur.corpus_text import CorpusText
from corpus.recur.repeats import suffixes_and_prefixes
from corpus.recur.settings import REPLAY_NOTES

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Flags = NDArray[np.bool_]


def is_run(heights: "Any") -> bool:
    """Whether heights are a piece of a scale: nothing but half and whole steps that turn round once at most."""
    import numpy as np

    steps = np.diff(heights)
    turns = int((np.sign(steps[1:]) != np.sign(steps[:-1])).sum())
    return bool(np.all((steps != 0) & (np.abs(steps) <= 2))) and turns <= 1


def replayed(text: CorpusText) -> "Flags":
    """The places that belong to a stretch of ``REPLAY_NOTES`` symbols that was there before, symbol for symbol."""
    import numpy as np

    found = np.zeros(len(text) + 1, dtype=np.int64)
    if len(text) > REPLAY_NOTES:
        suffixes, shared = suffixes_and_prefixes(text.symbols)
        long = np.minimum(shared, text.unbroken[suffixes[:-1]]) >= REPLAY_NOTES
        group = np.concatenate(([0], np.cumsum(~long)))
        earliest = np.full(int(group[-1]) + 1, len(text), dtype=np.int64)
        np.minimum.at(earliest, group, suffixes)
        again = suffixes[suffixes != earliest[group]]
        np.add.at(found, again, 1)
        np.add.at(found, again + REPLAY_NOTES, -1)
    return np.cumsum(found)[:-1] > 0
