"""How chords are entered and left.

*Entered*: the note on a chord change, by the way it is reached: by an enclosure or a double approach (as the roles
tell it), else by the interval from the note before: a half-step below or above, a whole step, from the fifth above or
the fourth below (the dominant of the note that is reached), the same note, or any other leap.

*Left*: the last note over each chord, by what it is to that chord and by how it moves on.
"""

from typing import TYPE_CHECKING, Final

from corpus.profile.columns import MOVEMENTS, NO, OUTSIDE, Columns
from corpus.profile.samples import Sample, share

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Flags = NDArray[np.bool_]

_INTO: Final = (
    ("half_step_below", "from a half-step below", (1,)),
    ("half_step_above", "from a half-step above", (-1,)),
    ("step_below", "from a whole step below", (2,)),
    ("step_above", "from a whole step above", (-2,)),
    ("fifth", "from the fifth", (5, -7)),
    ("same", "on the same note", (0,)),
)
_OUT: Final = (
    ("half_step", "by half-step", (1,)),
    ("step", "by whole step", (2,)),
    ("third", "by a third", (3, 4)),
    ("fourth_fifth", "by a fourth or fifth", (5, 7)),
    ("same", "on the same note", (0,)),
)


def approach_samples(columns: Columns) -> list[Sample]:
    """How chord changes are reached, and how chords are left."""
    return [*_entered(columns), *_left(columns)]


def _entered(columns: Columns) -> list[Sample]:
    import numpy as np

    among = columns.inside & columns.begins_chord & columns.follows
    before = np.full(len(columns), NO)
    before[1:] = columns.movement[:-1]
    rest, ways = np.ones(len(columns), dtype=bool), []
    for name in ("enclosure", "double approach"):
        ways.append(
            (name.replace(" ", "_"), f"by {'an' if name[0] == 'e' else 'a'} {name}", before == MOVEMENTS.index(name))
        )
    ways += [(key, words, np.isin(columns.interval, sizes)) for key, words, sizes in _INTO]
    ways.append(("leap", "by another leap", np.ones(len(columns), dtype=bool)))
    found = []
    for key, words, is_so in ways:
        found.append(share(f"entered.{key}", "how chords are entered", f"chords entered {words}", among, is_so & rest))
        rest &= ~is_so
    return found


def _left(columns: Columns) -> list[Sample]:
    import numpy as np

    among = last_over_chord(columns)
    moves = np.zeros(len(columns), dtype=np.int64)
    moves[:-1] = np.abs(columns.interval[1:])
    found = [
        share(
            "left.outside",
            "how chords are left",
            "last notes over a chord: outside it",
            among,
            columns.kind == OUTSIDE,
        ),
        share(
            "left.root",
            "how chords are left",
            "last notes over a chord: its root",
            among,
            columns.semitones == 0,
        ),
    ]
    rest = np.ones(len(columns), dtype=bool)
    for key, words, sizes in _OUT:
        is_so = np.isin(moves, sizes)
        found.append(share(f"left.{key}", "how chords are left", f"chords left {words}", among, is_so))
        rest &= ~is_so
    found.append(share("left.leap", "how chords are left", "chords left by another leap", among, rest))
    return found


def last_over_chord(columns: Columns) -> "Flags":
    """The last note over each chord, where a note follows without a break over another chord."""
    import numpy as np

    found = np.zeros(len(columns), dtype=bool)
    if len(columns) < 2:
        return found
    here, there = columns.chord[:-1], columns.chord[1:]
    known = (here != NO) & (there != NO) & (here != there) & columns.follows[1:]
    known[known] &= columns.chord_is_new[there[known]]
    found[:-1] = known & columns.has_role[:-1]
    return found
