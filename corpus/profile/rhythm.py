"""Rhythm: quarters, doubled notes, skips, triplets, pushes.

The length of a note is the time to the next one (of the same line); the last note of a line has none. A *skip* is a
note between two beats that stands alone there: the two notes before and the two after start on beats, those beside it
on the beat and the next one, and the skip in the second half of that beat (what walking players put in to lift the
time; common practice, no source). A *triplet* note starts on a third of a beat. A *doubled* note strikes the pitch
before again.
"""

from typing import TYPE_CHECKING

from corpus.model import TICKS_PER_QUARTER
from corpus.profile.columns import MOVEMENTS, NO, Columns
from corpus.profile.samples import Sample, mean, share

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Flags = NDArray[np.bool_]

_LENGTHS = (
    ("quarters", "quarters", TICKS_PER_QUARTER),
    ("eighths", "eighths", TICKS_PER_QUARTER // 2),
    ("halves", "halves", 2 * TICKS_PER_QUARTER),
)


def rhythm_samples(columns: Columns) -> list[Sample]:
    """Shares of lengths and of the events above, and notes a bar."""
    import numpy as np

    inside = columns.inside
    gap = np.zeros(len(columns), dtype=np.int64)
    if len(columns):
        same_line = columns.line[1:] == columns.line[:-1]
        gap[:-1][same_line] = (columns.onset[1:] - columns.onset[:-1])[same_line]
    timed = inside & (gap > 0)
    found = [
        share(f"rhythm.{key}", "rhythm", f"{words} among notes", timed, gap == ticks) for key, words, ticks in _LENGTHS
    ]
    found.append(share("rhythm.long", "rhythm", "notes longer than a half", timed, gap > 2 * TICKS_PER_QUARTER))
    beat_ticks = columns.beat_ticks[columns.bar] if len(columns) else gap
    in_beat = columns.in_bar % np.maximum(beat_ticks, 1) if len(columns) else gap
    doubled = columns.follows & (columns.interval == 0)
    found += [
        share("rhythm.off_beat", "rhythm", "notes off the beat", inside, in_beat > 0),
        share("rhythm.skips", "rhythm", "skips among notes", inside, _skips(columns, in_beat, beat_ticks)),
        share(
            "rhythm.triplets",
            "rhythm",
            "triplet notes",
            inside,
            (in_beat > 0) & (3 * in_beat % np.maximum(beat_ticks, 1) == 0),
        ),
        share("rhythm.doubled", "rhythm", "doubled notes", inside & columns.follows, doubled),
        share(
            "rhythm.pushes",
            "rhythm",
            "notes that anticipate the next chord",
            columns.has_role,
            columns.movement == MOVEMENTS.index("anticipation"),
        ),
        share("rhythm.dead", "rhythm", "dead notes", inside, columns.pitch == NO),
        _notes_a_bar(columns),
    ]
    return found


def _skips(columns: Columns, in_beat: "NDArray[np.int64]", beat_ticks: "NDArray[np.int64]") -> "Flags":
    import numpy as np

    found = np.zeros(len(columns), dtype=bool)
    if len(columns) < 3:
        return found
    before, here, after = slice(0, -2), slice(1, -1), slice(2, None)
    start = columns.onset - in_beat
    found[here] = (
        (columns.line[before] == columns.line[after])
        & (in_beat[before] == 0)
        & (2 * in_beat[here] >= beat_ticks[here])
        & (in_beat[after] == 0)
        & (columns.onset[before] == start[here])
        & (columns.onset[after] - start[here] == beat_ticks[here])
    )
    # Where the beats around are divided too, the line runs in eighths or doubles its notes: that is no skip.
    off, same_line = in_beat > 0, columns.line[2:] == columns.line[:-2]
    found[2:] &= ~(off[:-2] & same_line)
    found[:-2] &= ~(off[2:] & same_line)
    return found


def _notes_a_bar(columns: Columns) -> Sample:
    """Notes that start in each bar that holds one, counted at its first note."""
    import numpy as np

    counts = np.bincount(columns.bar[columns.inside], minlength=len(columns.bar_number))
    first = np.zeros(len(columns), dtype=bool)
    first[np.unique(columns.bar, return_index=True)[1]] = True
    per_note = counts[columns.bar] if len(columns) else columns.bar
    # A section that begins inside a bar has no first note there: the bar is left out.
    return mean(
        "rhythm.notes_a_bar", "rhythm", "notes in a bar that has any", "notes", first & columns.inside, per_note
    )
