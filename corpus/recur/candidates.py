"""Repeats that may become families, in the order in which they are tried."""

from collections.abc import Sequence
from heapq import heappop, heappush
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

Candidate = tuple[int, float, int, int]
"""Whether context is needed, what seems to be saved (negative), layer, number of the repeat: smallest first."""
Hopeful = tuple["NDArray[np.int64]", "NDArray[np.bool_]", "NDArray[np.float64]"]
"""Numbers of repeats, whether each needs context, and what each seems to save (negative)."""


class CandidateQueue:
    """Candidates, the best first. Most are never looked at: they wait as columns in order, and only what is put back
    as an entry of a heap.
    """

    def __init__(self, layers: Sequence[Hopeful]) -> None:
        import numpy as np

        numbers, needs, gains = (np.concatenate(columns) for columns in zip(*layers, strict=True))
        indexes = np.repeat(np.arange(len(layers)), [len(layer[0]) for layer in layers])
        order = np.lexsort((numbers, indexes, gains, needs))
        self._columns = tuple(column[order] for column in (needs, gains, indexes, numbers))
        self._next = 0
        self._heap: list[Candidate] = []
        self._waiting = self._candidate()

    def _candidate(self) -> Candidate | None:
        if self._next >= len(self._columns[0]):
            return None
        need, gain, index, number = (column[self._next].item() for column in self._columns)
        self._next += 1
        return int(need), gain, index, number

    def has_better(self, candidate: Candidate) -> bool:
        """Whether any candidate comes before this one."""
        return (self._waiting is not None and self._waiting < candidate) or bool(
            self._heap and self._heap[0] < candidate
        )

    def push(self, candidate: Candidate) -> None:
        """Put a candidate back."""
        heappush(self._heap, candidate)

    def pop(self) -> Candidate | None:
        """The best candidate, None when there are none."""
        if self._heap and (self._waiting is None or self._heap[0] < self._waiting):
            return heappop(self._heap)
        found, self._waiting = self._waiting, self._candidate()
        return found
