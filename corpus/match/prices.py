"""What a change costs: the one table that near search, alignment and likeness rest on.

A price says how much a change hurts the likeness of one note: 0 is nothing, 1 is as if the note were another one. The
default table, *figures*, follows what players do to a figure without making it another one (common practice, no
source). The other, *versions*, is for whole tunes that two people wrote down: a note more or less is as bad there as
another one, and lengths tell much. It was chosen on half of the versions of tunes among music21's, for openings of 12,
16 and 24 notes; ``make bench`` reports both on the other half.

============ ======= ======== =========================================================================================
price        figures versions what it is paid for
============ ======= ======== =========================================================================================
octave       0.1     0.5      each note that stands in another octave than the rest of the figure
doubled      0.05    1        each time that a note is struck again at once more or less often than in the figure
altered      0.3     0.4      each note a half-step higher or lower on the same letter
half_step    0.6     0.6      each note a half-step off on another letter
resolved     0.45    1        a last note that is up to a whole step away from its place
another      1       1        each other note that is another one
passing      0.25    0.7      each passing note added or left out
neighbour    0.25    0.7      each neighbour note added or left out
enclosure    0.25    0.7      each of the two notes added or left out around a note
approach     0.4     0.7      each other note added or left out that leads into the next one by a half-step or step
octave_skip  0.3     0.7      each note added or left out that strikes the note before again in another octave
added        0.8     1        each other note added or left out
left_out     0.7     0        the least that a note left out costs, but for a mere repeat: what is missing counts more
cut          0.5     1        each note missing at the beginning or the end (or, between two passages, one more there)
stretched    0.1     0        another pace, where rhythm counts as the same
rhythm       0.2     0.2      each note of another length, where rhythm counts
============ ======= ======== =========================================================================================

Folds make changes free: ``octaves`` the octave, ``doubles`` the doubled note; with ``mode`` only letters count.
"""

from collections.abc import Mapping
from dataclasses import dataclass, fields, replace
from typing import Any, Final

from corpus.errors import QueryError
from corpus.match.figure import Folds

PARTS: Final = 1000
"""Prices are summed as whole thousandths, so that sums are exact and equal prices are equal."""


@dataclass(frozen=True, slots=True)
class Prices:
    """The table above; every price lies between 0 and 1."""

    octave: float = 0.1
    doubled: float = 0.05
    altered: float = 0.3
    half_step: float = 0.6
    resolved: float = 0.45
    another: float = 1.0
    passing: float = 0.25
    neighbour: float = 0.25
    enclosure: float = 0.25
    approach: float = 0.4
    octave_skip: float = 0.3
    added: float = 0.8
    left_out: float = 0.7
    cut: float = 0.5
    stretched: float = 0.1
    rhythm: float = 0.2

    def __post_init__(self) -> None:
        for field in fields(self):
            value = getattr(self, field.name)
            # Written so that NaN fails too.
            if isinstance(value, bool) or not isinstance(value, (int, float)) or not 0 <= value <= 1:
                raise QueryError(f"price {field.name} = {value!r} must be a number from 0 to 1")

    def parts(self, name: str) -> int:
        """A price in whole thousandths."""
        return round(PARTS * float(getattr(self, name)))

    def under(self, folds: Folds) -> "Prices":
        """The prices with what the folds ignore made free."""
        changed = {name: 0.0 for name, is_free in (("octave", folds.octaves), ("doubled", folds.doubles)) if is_free}
        return replace(self, **changed)


FIGURES: Final = Prices()
VERSIONS: Final = Prices(
    octave=0.5,
    doubled=1.0,
    altered=0.4,
    half_step=0.6,
    resolved=1.0,
    another=1.0,
    passing=0.7,
    neighbour=0.7,
    enclosure=0.7,
    approach=0.7,
    octave_skip=0.7,
    added=1.0,
    left_out=0.0,
    cut=1.0,
    stretched=0.0,
    rhythm=0.2,
)
PAID_FOR: Final[Mapping[str, str]] = {
    "octave": "a note in another octave than the rest",
    "doubled": "a note struck again, or not struck again",
    "altered": "a note a half-step off on its letter",
    "half_step": "a note a half-step off on another letter",
    "resolved": "a last note up to a whole step off",
    "another": "any other note that is another one",
    "passing": "a passing note added or left out",
    "neighbour": "a neighbour note added or left out",
    "enclosure": "a note of an enclosure added or left out",
    "approach": "an approach note added or left out",
    "octave_skip": "an octave skip added or left out",
    "added": "any other note added or left out",
    "left_out": "the least for any note left out",
    "cut": "a note missing at either end",
    "stretched": "another pace, where rhythm is the same",
    "rhythm": "a note of another length, where rhythm counts",
}
"""What each price is paid for, in short."""
TABLES: Final[Mapping[str, Prices]] = {"figures": FIGURES, "versions": VERSIONS}
"""The two tables above, by name."""


def prices_from(table: Mapping[str, Any], where: str, base: Prices = FIGURES) -> Prices:
    """Prices from a table of some of them, the others as in ``base``; ``where`` names the table in messages.

    Raises QueryError for an unknown name or a price outside 0 to 1.
    """
    known = [field.name for field in fields(Prices)]
    for name in table:
        if name not in known:
            raise QueryError(f"{where}: there is no price {name!r}: choose from {', '.join(known)}")
    try:
        return replace(base, **table)
    except QueryError as error:
        raise QueryError(f"{where}: {error}") from error
