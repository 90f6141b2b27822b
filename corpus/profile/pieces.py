"""A profile of more notes than there is room for: made of pieces, each of whole lines, and summed up.

The figures are those that ``corpus.profile.profile`` makes of all lines at once, digit for digit: counts are added up,
and for means the sums of every bar are kept, from which whole bars are drawn. What needs the notes themselves (bars
as evidence, coverages, comparisons) is not to be had.
"""

from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from corpus.profile.columns import NO, Columns
from corpus.profile.profile import NoteCounts, note_counts, remarks_from, samples_of
from corpus.profile.register import Register, register_of_pitches
from corpus.profile.samples import Measure, Sample
from corpus.profile.statistics import bootstrap_sums, wilson

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

_PITCHES = 128


@dataclass(frozen=True)
class PiecedProfile:
    """The figures of a selection that was looked at in pieces; as ``corpus.profile.profile.Profile``."""

    measures: tuple[Measure, ...]
    register: Register
    remarks: tuple[str, ...]
    note_count: int
    line_count: int
    bar_count: int


@dataclass
class _Total:
    """One figure so far: of a share the counts, of a mean the sum and the number of values in each bar."""

    first: Sample
    n: int = 0
    count: int = 0
    sums: "list[NDArray[np.int64]]" = field(default_factory=list)
    sizes: "list[NDArray[np.int32]]" = field(default_factory=list)

    def add(self, sample: Sample, columns: Columns) -> None:
        """One more piece."""
        import numpy as np

        self.n += sample.n
        if sample.unit == "share":
            self.count += sample.count
        elif sample.n:
            bars = np.unique(columns.bar[sample.notes], return_inverse=True)[1]
            self.sums.append(np.bincount(bars, sample.values).astype(np.int64))
            self.sizes.append(np.bincount(bars).astype(np.int32))

    def measure(self) -> Measure:
        """The figure of all pieces."""
        import numpy as np

        of = self.first
        names = (of.key, of.group, of.words, of.unit, self.n)
        if of.unit == "share":
            value = self.count / self.n if self.n else None
            low, high = wilson(self.count, self.n) if self.n else (None, None)
            return Measure(*names, self.count, value, low, high, "Wilson")
        if not self.n:
            return Measure(*names, None, None, None, None, "bootstrap of bars")
        sums, sizes = np.concatenate(self.sums), np.concatenate(self.sizes)
        low, high = bootstrap_sums(sums.astype(np.float64), sizes.astype(np.float64))
        return Measure(*names, None, int(sums.sum()) / self.n, low, high, "bootstrap of bars")


def profile_in_pieces(pieces: Iterable[Columns], remarks: Iterable[str] = ()) -> PiecedProfile:
    """The profile of the notes ``inside`` the columns of all pieces; ``remarks`` are added to its own."""
    import numpy as np

    totals: dict[str, _Total] = {}
    pitches = np.zeros(_PITCHES, dtype=np.int64)
    counts = NoteCounts()
    lines = bars = 0
    for columns in pieces:
        for sample in samples_of(columns):
            totals.setdefault(sample.key, _Total(_without_values(sample))).add(sample, columns)
        inside = columns.inside
        pitches += np.bincount(columns.pitch[inside & (columns.pitch != NO)], minlength=_PITCHES)
        counts = counts.plus(note_counts(columns))
        lines += len(np.unique(columns.line[inside]))
        bars += len(np.unique(columns.bar[inside]))
    return PiecedProfile(
        tuple(total.measure() for total in totals.values()),
        register_of_pitches(np.repeat(np.arange(_PITCHES, dtype=np.int16), pitches)),
        (*remarks_from(counts), *remarks),
        counts.notes,
        lines,
        bars,
    )


def _without_values(sample: Sample) -> Sample:
    import numpy as np

    none = np.empty(0)
    return Sample(sample.key, sample.group, sample.words, sample.unit, none.astype(np.int64), none)
