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
    method: Literal["Wilson", "bootstrap of bars"]


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
    if sample.unit == "share":
        value = sample.count / sample.n if sample.n else None
        low, high = wilson(sample.count, sample.n) if sample.n else (None, None)
        return Measure(*names, sample.count, value, low, high, "Wilson")
    if not sample.n:
        return Measure(*names, None, None, None, None, "bootstrap of bars")
    low, high = bootstrap(sample.values, columns.bar[sample.notes])
    return Measure(*names, None, float(sample.values.mean()), low, high, "bootstrap of bars")
