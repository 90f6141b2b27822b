"""The profile of a line, a player or any selection: all its figures.

``profile_of`` gathers the samples of all modules and makes figures of them. What other parts of the program know about
notes is handed in as *coverage*: a name and, for every note, whether it belongs to such a thing (a named shape, a
recurring figure, a figure of the player's own). Each becomes a share of the line with n and interval, so that density
and repetition stand beside everything else and are compared with it.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from corpus.profile.approaches import approach_samples
from corpus.profile.columns import NO, OUTSIDE, Columns
from corpus.profile.harmony import harmony_samples
from corpus.profile.motion import motion_samples
from corpus.profile.register import Register, register_of, register_samples
from corpus.profile.rhythm import rhythm_samples
from corpus.profile.samples import Measure, Sample, measure, share
from corpus.profile.scales import scale_samples

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

Coverage = Mapping[str, "NDArray[np.bool_]"]


@dataclass(frozen=True)
class Profile:
    """The figures of a selection, what they rest on, and what cannot be said."""

    columns: Columns
    samples: tuple[Sample, ...]
    measures: tuple[Measure, ...]
    register: Register
    remarks: tuple[str, ...]

    @property
    def note_count(self) -> int:
        """Notes that were asked about."""
        return int(self.columns.inside.sum())

    @property
    def line_count(self) -> int:
        """Lines with at least one of these notes."""
        return len(set(self.columns.line[self.columns.inside].tolist()))

    @property
    def bar_count(self) -> int:
        """Played bars with at least one of these notes."""
        return len(set(self.columns.bar[self.columns.inside].tolist()))


def samples_of(columns: Columns, shapes: Coverage | None = None, repeats: Coverage | None = None) -> tuple[Sample, ...]:
    """Every sample of a selection; ``shapes`` and ``repeats`` are coverages by the words that name them."""
    found = [
        *harmony_samples(columns),
        *approach_samples(columns),
        *motion_samples(columns),
        *register_samples(columns),
        *rhythm_samples(columns),
        *scale_samples(columns),
    ]
    for group, coverage in (("repetition", repeats), ("shapes", shapes)):
        for name, covered in (coverage or {}).items():
            key = f"{group}.{name.replace(' ', '_').replace('é', 'e')}"
            found.append(share(key, group, f"notes in {name}", columns.inside, covered))
    return tuple(found)


def profile_of(
    columns: Columns, shapes: Coverage | None = None, repeats: Coverage | None = None, remarks: Sequence[str] = ()
) -> Profile:
    """The profile of the notes ``inside`` the columns. Never raises; what cannot be said is a remark.

    ``remarks`` are those of whoever made the coverages.
    """
    samples = samples_of(columns, shapes, repeats)
    measures = tuple(measure(sample, columns) for sample in samples)
    return Profile(columns, samples, measures, register_of(columns), (*remarks_on(columns), *remarks))


FEW_NOTES = 30
"""Below this no share is worth much: its interval is wider than a third even at one half."""


@dataclass(frozen=True, slots=True)
class NoteCounts:
    """What remarks rest on: notes asked about, those with a known chord, with a pitch, those outside the chord and its
    scale, and chord changes under a note that follows another.
    """

    notes: int = 0
    over: int = 0
    sounding: int = 0
    outside: int = 0
    changes: int = 0

    def plus(self, other: "NoteCounts") -> "NoteCounts":
        """The counts of both."""
        return NoteCounts(*(getattr(self, name) + getattr(other, name) for name in NoteCounts.__slots__))


def note_counts(columns: Columns) -> NoteCounts:
    """The counts of the notes ``inside`` the columns."""
    return NoteCounts(
        int(columns.inside.sum()),
        int(columns.has_role.sum()),
        int((columns.inside & (columns.pitch != NO)).sum()),
        int((columns.kind[columns.has_role] == OUTSIDE).sum()),
        int((columns.begins_chord & columns.inside & columns.follows).sum()),
    )


def remarks_on(columns: Columns) -> Sequence[str]:
    """What cannot be said of the notes ``inside`` the columns, or only with care."""
    return remarks_from(note_counts(columns))


def remarks_from(counts: NoteCounts) -> Sequence[str]:
    """What cannot be said of so many notes, or only with care."""
    count, over, sounding = counts.notes, counts.over, counts.sounding
    remarks = []
    if not count:
        return ["there is no note here: nothing can be said"]
    if count < FEW_NOTES:
        remarks.append(f"only {count} note{'' if count == 1 else 's'}: the intervals are wide, read no habit into them")
    if not over:
        remarks.append("no chords: nothing is said about roots, chord tones, functions, approaches and scales")
    elif over < sounding:
        remarks.append(f"{sounding - over} of {sounding} notes have no chord: figures about harmony leave them out")
    if over and counts.outside * 2 > over:
        remarks.append("most notes lie outside the chords and their scales: check the chart, or the key it stands in")
    if over and not counts.changes:
        remarks.append("no chord changes under a note: nothing is said about how chords are entered")
    return remarks
