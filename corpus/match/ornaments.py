"""What a note is to the notes beside it, when it was added to a figure or left out of it.

Octaves do not matter here: a step is one or two semitones up or down, wherever the octave. A note that is struck again,
however often, counts once for what it is to the notes around it. The first that fits:

=========== ===========================================================================================
doubled     the note before struck again
octave_skip the note before once more, in another octave
passing     reached and left in one direction, by step on one side at least and by a third at most on the other
neighbour   reached by step and left by the same step back
enclosure   one of two notes within a step of the note that follows them, one above and one below it
approach    left by step
added       anything else
=========== ===========================================================================================

Definitions: common practice, no source.
"""

from collections.abc import Sequence
from functools import cache
from itertools import groupby, islice, pairwise, product
from typing import Final, Literal, get_args, overload

Ornament = Literal["doubled", "octave_skip", "passing", "neighbour", "enclosure", "approach", "added"]
ORNAMENTS: Final[tuple[Ornament, ...]] = get_args(Ornament)

NOTHING: Final = 12
"""Stands for an interval where no note is."""
CODES: Final = 13


def _signed(interval: int) -> int:
    """An interval modulo 12 as the shorter way, -5 to 6 semitones."""
    return (interval + 5) % 12 - 5


def _is_step(size: int) -> bool:
    return 1 <= abs(size) <= 2


def _passes(reached: int, left: int) -> bool:
    """Whether two intervals go on in one direction, one a step and the other at most a third."""
    nearer, farther = sorted((abs(reached), abs(left)))
    return (reached > 0) == (left > 0) and _is_step(nearer) and farther <= 4


def _encloses(first: int, second: int) -> bool:
    """Whether two notes, so many semitones from a third, stand around it."""
    return _is_step(first) and _is_step(second) and (first > 0) != (second > 0)


@cache
def ornament(before: int, after: int, beyond: int) -> Ornament:
    """What a note is by the intervals (semitones modulo 12) from the note before it, to the next, and from that on.

    Notes struck again are left out before. ``NOTHING`` stands for an interval where no note is.
    """
    reached, left, further = _signed(before), _signed(after), _signed(beyond)
    if NOTHING not in (before, after):
        if reached == 0:
            return "octave_skip"
        if _passes(reached, left):
            return "passing"
        if _is_step(reached) and reached == -left:
            return "neighbour"
        if _encloses(-reached - left, -left):
            return "enclosure"
    if NOTHING not in (after, beyond) and _encloses(-left - further, -further):
        return "enclosure"
    if after != NOTHING and _is_step(left):
        return "approach"
    return "added"


def all_ornaments() -> list[Ornament]:
    """What a note is for every three intervals, at the place ``(before * 13 + after) * 13 + beyond``."""
    return [ornament(*intervals) for intervals in product(range(CODES), repeat=3)]


def ornaments_of(pitches: Sequence[int]) -> list[Ornament]:
    """What each note of an unbroken line is; pitches in semitones."""
    struck = [pitch for pitch, _ in groupby(pitches)]
    intervals = [NOTHING, *((after - before) % 12 for before, after in pairwise(struck)), NOTHING, NOTHING]
    kinds = list(map(ornament, intervals, intervals[1:], intervals[2:]))
    if len(kinds) == len(pitches):
        return kinds
    found: list[Ornament] = []
    for kind, (_, run) in zip(kinds, groupby(pitches), strict=True):
        found.append(kind)
        found.extend("doubled" for _ in islice(run, 1, None))
    return found


class Ornaments(Sequence[Ornament]):
    """What each note of a line is, found out when it is asked for: few notes of a line are.

    ``pitches`` are semitones, None for a dead note; ``starts`` says where nothing is before a note.
    """

    def __init__(self, pitches: Sequence[int | None], starts: Sequence[bool]) -> None:
        self._pitches, self._starts = pitches, starts
        self._known: dict[int, Ornament] = {}

    def __len__(self) -> int:
        return len(self._pitches)

    @overload
    def __getitem__(self, place: int) -> Ornament: ...
    @overload
    def __getitem__(self, place: slice) -> list[Ornament]: ...
    def __getitem__(self, place: int | slice) -> Ornament | list[Ornament]:
        if isinstance(place, slice):
            return [self[each] for each in range(*place.indices(len(self)))]
        if place not in self._known:
            self._known[place] = self._ornament(range(len(self))[place])
        return self._known[place]

    def _ornament(self, place: int) -> Ornament:
        if not self._starts[place] and self._pitches[place - 1] == self._pitches[place]:
            return "doubled"
        following = self._other_after(place)
        beyond = self._other_after(following)
        before = None if self._starts[place] else place - 1
        return ornament(
            self._interval(before, place), self._interval(place, following), self._interval(following, beyond)
        )

    def _other_after(self, place: int | None) -> int | None:
        """The next note of another pitch, None where the line ends or breaks before one."""
        if place is None:
            return None
        for other in range(place + 1, len(self)):
            if self._starts[other]:
                return None
            if self._pitches[other] != self._pitches[place]:
                return other
        return None

    def _interval(self, before: int | None, after: int | None) -> int:
        if before is None or after is None:
            return NOTHING
        return ((self._pitches[after] or 0) - (self._pitches[before] or 0)) % 12
