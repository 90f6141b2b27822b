"""Passages of one swing: how it was played, and how sure that is."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from corpus.quantise.evidence import Beat, Evidence
from corpus.quantise.paths import Chosen, swing_prior
from corpus.quantise.patterns import Floats

if TYPE_CHECKING:
    from corpus.quantise.quantise import Placed

_SURE, _FAIRLY_SURE = 0.05, 0.1


@dataclass(frozen=True, slots=True)
class SwingPassage:
    """Beats ``first`` to ``last`` (an index, included) of one swing.

    ``ratio`` is the length of the first of two eighths to that of the second: the mean under the likelihood of all
    ratios; ``low`` and ``high`` hold 90 % of it. ``off_beats`` are the notes that tell: those between the beats whose
    place swing moves. All three are 1 for a passage where swing was settled or says nothing (then ``off_beats`` is 0).
    """

    first: int
    last: int
    ratio: float
    low: float
    high: float
    off_beats: int

    @property
    def sureness(self) -> str:
        """``sure``, ``fairly sure``, ``unsure`` by the width of the 90 % as shares of a beat, or ``unknown``."""
        if not self.off_beats:
            return "unknown"
        width = self.high / (1 + self.high) - self.low / (1 + self.low)
        return "sure" if width <= _SURE else "fairly sure" if width <= _FAIRLY_SURE else "unsure"


def passages_of(
    beats: Sequence[Beat],
    evidence: Evidence,
    path: Sequence[Chosen],
    placed: Sequence["Placed"],
    long_parts: Sequence[float],
) -> tuple[SwingPassage, ...]:
    """The stretches of equal swing on the best path, each with the likelihood of all ratios over it."""
    moved = [0] * len(beats)
    for note in placed:
        moved[note.beat] += note.is_swung and note.place > 0
    found: list[SwingPassage] = []
    start = 0
    for index in range(1, len(beats) + 1):
        if index < len(beats) and path[index].swing == path[start].swing:
            continue
        curve = swing_prior(long_parts) + sum(evidence.summed[path[beat].group] for beat in range(start, index))
        found.append(_passage(start, index - 1, np.exp(curve - curve.max()), long_parts, sum(moved[start:index])))
        start = index
    return tuple(found)


def _passage(first: int, last: int, curve: Floats, long_parts: Sequence[float], off_beats: int) -> SwingPassage:
    shares = curve / curve.sum()
    cumulative = shares.cumsum()
    mean = float(shares @ np.array(long_parts))
    low = long_parts[int(np.searchsorted(cumulative, 0.05))]
    high = long_parts[min(int(np.searchsorted(cumulative, 0.95)), len(long_parts) - 1)]
    return SwingPassage(first, last, _ratio(mean), _ratio(low), _ratio(high), off_beats)


def _ratio(long_part: float) -> float:
    return long_part / (1 - long_part)
