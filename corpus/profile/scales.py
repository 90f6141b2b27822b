"""Parent scales: to which scale do the notes over a chord belong?

For every chord its own tones and the notes played over it are taken together, without the outside notes that only
lead, pass or turn (the roles say which). The first scale of this list that holds them all is told: the major scale of
the local tonic, its natural minor, any other major scale (whose modes are the church modes), melodic minor, harmonic
minor, diminished, whole tone. A line that keeps to the chord's own tones tells no scale; one that fits none is called
chromatic. The shares count notes. A scale is told by what is played: with few notes the first that fits is a guess in
favour of the plainest.
"""

from collections.abc import Sequence
from functools import cache
from typing import TYPE_CHECKING, Final

from corpus.profile.columns import CHORD_TONE, MOVEMENTS, NO, OUTSIDE, Columns
from corpus.profile.samples import Sample, share

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

MAJOR: Final = (0, 2, 4, 5, 7, 9, 11)
NATURAL_MINOR: Final = (0, 2, 3, 5, 7, 8, 10)
_FAMILIES: Final = (
    ("other_major", "another major scale", MAJOR),
    ("melodic_minor", "melodic minor", (0, 2, 3, 5, 7, 9, 11)),
    ("harmonic_minor", "harmonic minor", (0, 2, 3, 5, 7, 8, 11)),
    ("diminished", "a diminished scale", (0, 2, 3, 5, 6, 8, 9, 11)),
    ("whole_tone", "a whole-tone scale", (0, 2, 4, 6, 8, 10)),
)
NAMES: Final = (
    ("arpeggio", "chord tones only"),
    ("key_major", "the major scale of the key"),
    ("key_minor", "the natural minor of the key"),
    *((key, words) for key, words, _ in _FAMILIES),
    ("chromatic", "no scale (chromatic)"),
)
_ARPEGGIO, _KEY_MAJOR, _KEY_MINOR, _FIRST_FAMILY = range(4)
_CHROMATIC: Final = len(NAMES) - 1
_PASSING: Final = tuple(place for place, name in enumerate(MOVEMENTS) if name not in ("repeated", "anticipation"))


def _mask(scale: Sequence[int], tonic: int) -> int:
    return sum(1 << (tonic + step) % 12 for step in scale)


@cache
def _table() -> "NDArray[np.int64]":
    """For each set of pitch classes the first family that holds it, whatever the key."""
    import numpy as np

    found = np.full(4096, _CHROMATIC, dtype=np.int64)
    for place in reversed(range(len(_FAMILIES))):
        for tonic in range(12):
            sets = np.arange(4096)
            found[sets & ~_mask(_FAMILIES[place][2], tonic) == 0] = _FIRST_FAMILY + place
    return found


def scale_samples(columns: Columns) -> list[Sample]:
    """The share of notes that stand over chords on which each scale is told."""
    import numpy as np

    among = columns.has_role
    scale = np.full(len(columns), NO, dtype=np.int64)
    notes = np.flatnonzero(among)
    if len(notes):
        # A chord that is only written again is one chord.
        group = (np.cumsum(columns.chord_is_new) - 1)[columns.chord[notes]]
        scale[notes] = _scales_of_chords(columns, notes, group)[group]
    return [
        share(f"scales.{key}", "scales", f"notes in {words}", among, scale == place)
        for place, (key, words) in enumerate(NAMES)
    ]


def _scales_of_chords(columns: Columns, notes: "NDArray[np.int64]", group: "NDArray[np.int64]") -> "NDArray[np.int64]":
    """For each chord the place of its scale in ``NAMES``; ``group`` is the chord of each of the ``notes``."""
    import numpy as np

    leads = (columns.kind[notes] == OUTSIDE) & np.isin(columns.movement[notes], _PASSING)
    told, over = notes[~leads], group[~leads]
    sets = columns.chord_tones[columns.chord_is_new]
    np.bitwise_or.at(sets, over, 1 << columns.pitch[told] % 12)
    beyond = np.zeros(len(sets), dtype=bool)
    beyond[over[columns.kind[told] != CHORD_TONE]] = True
    tonic = np.full(len(sets), NO, dtype=np.int64)
    is_keyed = columns.degree[notes] != NO
    keyed = notes[is_keyed]
    tonic[group[is_keyed]] = (columns.pitch[keyed] - columns.degree[keyed]) % 12
    found = _table()[sets]
    for place, steps in ((_KEY_MINOR, NATURAL_MINOR), (_KEY_MAJOR, MAJOR)):
        masks = np.array([_mask(steps, pitch) for pitch in range(12)])
        found[(tonic != NO) & (sets & ~masks[tonic] == 0)] = place
    found[~beyond] = _ARPEGGIO
    return found
