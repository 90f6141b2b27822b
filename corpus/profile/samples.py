"""A sample: one thing that is counted or measured, note by note; and the figure that comes of it.

Every figure of a profile is a sample of values at notes: true or false for a share, a number for a mean. So each has
its n, its interval, and the bars that it rests on.
"""

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

from corpus.profile.statistics import bootstrap, wilson

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from corpus.profile.columns import Columns

Unit = Literal["share", "semitones", "notes", "pitch"]
Method = Literal["Wilson", "Wilson, by bars", "bootstrap of bars"]
_IN_STRETCHES = frozenset({"repetition", "shapes"})
"""Groups whose notes come in stretches: one note of a figure brings the others with it."""


@dataclass(frozen=True)
class Sample:
    """``key`` names the figure for scripts, ``group`` and ``words`` for people.

    ``notes`` are the places in the columns at which something was counted, rising; ``values`` what was found there (0
    or 1 for a share).
    """

    key: str
    group: str
    words: str
    unit: Unit
    notes: "NDArray[np.int64]"
    values: "NDArray[np.float64]"

    @property
    def n(self) -> int:
        """How many values the figure rests on."""
        return len(self.values)

    @property
    def by_bars(self) -> bool:
        """Whether intervals are made by drawing whole bars: for means, and shares of notes that come in stretches."""
        return self.unit != "share" or self.group in _IN_STRETCHES

    @property
    def count(self) -> int:
        """For a share: how often it is true."""
        return int(self.values.sum())


@dataclass(frozen=True, slots=True)
class Measure:
    """A figure of a profile: ``value`` with the 95 % interval ``low`` to ``high``, resting on ``n`` notes.

    Shares lie between 0 and 1. ``value`` is None where there was nothing to count. ``method`` says where the interval
    comes from.
    """

    key: str
    group: str
    words: str
    unit: Unit
    n: int
    count: int | None
    value: float | None
    low: float | None
    high: float | None
    method: Method


def share(key: str, group: str, words: str, among: "NDArray[np.bool_]", is_true: "NDArray[np.bool_]") -> Sample:
    """The share of the notes ``among`` for which ``is_true``."""
    import numpy as np

    notes = np.flatnonzero(among)
    return Sample(key, group, words, "share", notes, is_true[notes].astype(np.float64))


def mean(
    key: str, group: str, words: str, unit: Unit, among: "NDArray[np.bool_]", values: "NDArray[np.int64]"
) -> Sample:
    """The mean of ``values`` (one for each note of the columns) over the notes ``among``."""
    import numpy as np

    notes = np.flatnonzero(among)
    return Sample(key, group, words, unit, notes, values[notes].astype(np.float64))


def measure(sample: Sample, columns: "Columns") -> Measure:
    """The figure of a sample."""
    names = (sample.key, sample.group, sample.words, sample.unit, sample.n)
    method: Method = "bootstrap of bars" if sample.by_bars else "Wilson"
    count = sample.count if sample.unit == "share" else None
    if not sample.n:
        return Measure(*names, count, None, None, None, method)
    value = float(sample.values.mean())
    if not sample.by_bars:
        return Measure(*names, count, value, *wilson(sample.count, sample.n), method)
    if count in (0, sample.n) and count is not None:
        bars = len(set(columns.bar[sample.notes].tolist()))
        return Measure(*names, count, value, *wilson(bars if count else 0, bars), "Wilson, by bars")
    return Measure(*names, count, value, *bootstrap(sample.values, columns.bar[sample.notes]), method)
