"""What a suggested line costs, in small whole numbers: the cheapest line is the one suggested.

All prices are common practice put into figures, no source: a walking line moves by step or half-step into strong
beats, leaps seldom and never far at a joint, and lies low.

==========================================================  =====================================================
what                                                        price
==========================================================  =====================================================
a beat that no figure takes (filled in)                     ``FILLED_BEAT``
a joint, or a step of the fill, by its interval             ``motion``: steps 0, a note repeated 5, a sixth 6;
                                                            wider than a minor sixth is not allowed
a note of a figure on a strong beat that is no chord tone   ``STRONG_OUTSIDE``
a note above the comfortable part of the range              1, from a tenth higher on 3
few roots                                                   ``ROOTS`` for a root on a first beat or a new chord
many roots                                                  ``ROOTS`` for any other note there
a player's habits                                           0 to ``MOST_HABIT`` by how rare an interval of a joint
                                                            is with the player, and a root on a first beat;
                                                            ``STRANGER`` for a figure that is not the player's
==========================================================  =====================================================
"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import log2
from typing import Final, Literal

Roots = Literal["", "few", "many"]
Variety = Literal["usual", "high"]

FILLED_BEAT: Final = 4
STRONG_OUTSIDE: Final = 2
ROOTS: Final = 5
STRANGER: Final = 6
MOST_HABIT: Final = 4
WIDEST_JOINT: Final = 8
"""Semitones: so that no joint leaps a major sixth or more, let alone an octave."""
FORBIDDEN: Final = 1_000_000
_MOTION: Final = (5, 0, 0, 2, 2, 3, 5, 3, 6)
_COMFORTABLE: Final = 28
_HIGH: Final = 33


@dataclass(frozen=True, slots=True)
class Habits:
    """A player's habits as prices: of each interval in semitones (0 to 12, either way), of a first beat with and
    without the chord's root.
    """

    player: str
    intervals: tuple[int, ...]
    root: int
    other: int
    notes: int


def habits_of(player: str, intervals: Sequence[int], roots: int, first_beats: int) -> Habits:
    """Prices from counts: ``intervals[n]`` moves of n semitones (0 to 12, either way), roots among first beats.

    A price is how many times the commonest event is as frequent, in powers of two, half an event added to each.
    """

    def prices(counts: Sequence[float]) -> tuple[int, ...]:
        most = max(counts) + 0.5
        return tuple(min(MOST_HABIT, round(log2(most / (count + 0.5)))) for count in counts)

    root, other = prices((roots, first_beats - roots))
    return Habits(player, prices(intervals), root, other, sum(intervals))


@dataclass(frozen=True, slots=True)
class Wishes:
    """What is wanted: few or many roots, variety, a player's habits; ``seed`` chooses among lines of one price."""

    roots: Roots = ""
    variety: Variety = "usual"
    habits: Habits | None = None
    seed: int = 1

    def motion(self, semitones: int) -> int:
        """The price of a move between two neighbours where at least one is no figure's own choice."""
        size = abs(semitones)
        if size > WIDEST_JOINT:
            return FORBIDDEN
        return _MOTION[size] + (self.habits.intervals[size] if self.habits else 0)

    def root_price(self, is_root: bool, is_first_beat: bool) -> int:
        """The price of a root, or of another note, on a first beat or where the chord changes."""
        price = ROOTS if (self.roots, is_root) in (("few", True), ("many", False)) else 0
        if self.habits is not None and is_first_beat:
            price += self.habits.root if is_root else self.habits.other
        return price


def register_price(pitch: int, lowest: int) -> int:
    """The price of a note by how far it lies above the lowest one of the instrument."""
    above = pitch - lowest
    return 0 if above <= _COMFORTABLE else 1 if above <= _HIGH else 3
