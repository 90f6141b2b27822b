"""Intervals, contour, and what is done after leaps.

A *leap* is a fourth or more (five semitones); it is *recovered* when the next note goes back by step. A *turn* is a
note at which the line changes its direction; repeated notes are looked through. Handbooks of line writing ask that
leaps be followed by steps the other way (common practice, no source).
"""

from typing import TYPE_CHECKING, Final

from corpus.profile.columns import Columns
from corpus.profile.samples import Sample, mean, share

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Flags = NDArray[np.bool_]

LEAP: Final = 5
_SIZES: Final = (
    ("repeated", "repeated notes", (0,)),
    ("half_step", "half-steps", (1,)),
    ("step", "whole steps", (2,)),
    ("third", "thirds", (3, 4)),
    ("fourth", "fourths", (5,)),
    ("tritone", "tritones", (6,)),
    ("fifth", "fifths", (7,)),
    ("sixth", "sixths", (8, 9)),
    ("seventh", "sevenths", (10, 11)),
    ("octave", "octaves", (12,)),
)


def motion_samples(columns: Columns) -> list[Sample]:
    """Intervals and contour."""
    import numpy as np

    among, moves = columns.inside & columns.follows, columns.interval
    size = np.abs(moves)
    found = [
        share(f"intervals.{key}", "intervals", f"{words} among intervals", among, np.isin(size, sizes))
        for key, words, sizes in _SIZES
    ]
    found += [
        share("intervals.wider", "intervals", "intervals wider than an octave", among, size > 12),
        mean("intervals.size", "intervals", "mean interval, in semitones", "semitones", among, size),
        share("contour.up", "contour", "intervals upwards", among, moves > 0),
        share("contour.down", "contour", "intervals downwards", among, moves < 0),
    ]
    turning, turns = _turns(columns)
    found.append(share("contour.turns", "contour", "moves that change direction", turning, turns))
    return [*found, *_after_leaps(columns)]


def _turns(columns: Columns) -> "tuple[Flags, Flags]":
    """Notes that move on after an earlier move of the same stretch, and those that turn."""
    import numpy as np

    sign = np.sign(columns.interval)
    stretch = np.cumsum(~columns.follows)
    moving = np.flatnonzero(sign != 0)
    among, turns = np.zeros(len(columns), dtype=bool), np.zeros(len(columns), dtype=bool)
    if len(moving) > 1:
        before, here = moving[:-1], moving[1:]
        joined = stretch[before] == stretch[here]
        among[here[joined]] = True
        turns[here[joined]] = sign[here[joined]] != sign[before[joined]]
    return among & columns.inside, turns


def _after_leaps(columns: Columns) -> list[Sample]:
    import numpy as np

    before = np.zeros(len(columns), dtype=np.int64)
    before[1:] = columns.interval[:-1]
    moves, size = columns.interval, np.abs(columns.interval)
    among = columns.inside & columns.follows & (np.abs(before) >= LEAP)
    back = np.sign(moves) == -np.sign(before)
    return [
        share(
            "leaps.recovered", "after leaps", "leaps followed by a step back", among, back & (size <= 2) & (size > 0)
        ),
        share("leaps.turned", "after leaps", "leaps followed by any move back", among, back),
        share("leaps.again", "after leaps", "leaps followed by another leap", among, size >= LEAP),
    ]
