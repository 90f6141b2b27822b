"""What may be set for discovery, and what it finds."""

import re
from dataclasses import dataclass, field
from typing import Final

from corpus.errors import QueryError
from corpus.match.figure import Figure, Folds
from corpus.match.prices import Prices
from corpus.recur.corpus_text import TEXT_READINGS, TextReading

REPLAY_NOTES: Final = 24
SHORTEST_NOTES: Final = 4
LONGEST_NOTES: Final = 200


@dataclass(frozen=True, slots=True)
class DiscoverySettings:
    """What may be set, nothing of which must be.

    ``readings`` are compared; empty, those that the folds ask for. Figures have ``least_notes`` to ``most_notes``
    notes (repeats aside where doubles are ignored) and stand at least ``least_count`` times. ``tolerance`` is the
    lowest likeness of a disguise. ``with_runs`` lets scale runs through.
    """

    folds: Folds = field(default_factory=lambda: Folds(octaves=True, doubles=True))
    readings: tuple[TextReading, ...] = ()
    least_notes: int = SHORTEST_NOTES
    most_notes: int = REPLAY_NOTES
    least_count: int = 2
    tolerance: float = 0.75
    limit: int = 20
    with_runs: bool = False
    prices: Prices = field(default_factory=Prices)

    def __post_init__(self) -> None:
        if not 3 <= self.least_notes <= self.most_notes <= LONGEST_NOTES:
            raise QueryError(
                f"figures of {self.least_notes} to {self.most_notes} notes cannot be looked for: "
                f"from 3 to {LONGEST_NOTES}, the smaller number first"
            )
        if self.least_count < 2:
            raise QueryError(f"a figure that stands {self.least_count} times does not recur: at least 2")
        if not 0 < self.tolerance <= 1:
            raise QueryError(f"tolerance {self.tolerance:g} must lie above 0, and 1 means no change at all")

    @property
    def readings_in_force(self) -> tuple[TextReading, ...]:
        """The readings that are compared: those named, else what is left when the folds are ignored, and letters."""
        if self.readings:
            return self.readings
        exact: TextReading = "folded" if self.folds.octaves else "interval"
        letters: TextReading = "letter" if self.folds.octaves else "step"
        return (letters,) if self.folds.mode else (exact, letters)


@dataclass(frozen=True, slots=True, order=True)
class Member:
    """An occurrence: its first and last place in the columns and its price in thousandths; a replay does not count.

    ``away`` and ``letter`` are its transposition as ``corpus.match.verify.Verified`` tells it.
    """

    first: int
    last: int
    parts: int = 0
    is_replay: bool = False
    away: int = 0
    letter: int = 0


@dataclass(frozen=True)
class Found:
    """A family as found: its typical form (a stretch of the columns), its members by place, and what it saves.

    ``information`` is what one plain occurrence holds, ``surprise`` what the family saves, both in nats; ``expected``
    is how often chance would put the typical form into the places looked at. ``reading`` is the one in which it was
    found; ``figure`` is None where that is not one of pitches.
    """

    typical: tuple[int, int]
    members: tuple[Member, ...]
    information: float
    surprise: float
    expected: float
    reading: TextReading
    figure: Figure | None

    @property
    def count(self) -> int:
        """How many members count as evidence."""
        return sum(not member.is_replay for member in self.members)


def parse_readings(text: str) -> tuple[TextReading, ...]:
    """Readings such as ``folded, letter``. Raises QueryError for an unknown one, or for ``degree`` or ``role`` beside
    others: those are compared alone.
    """
    words = [word for word in re.split(r"[,\s]+", text.strip().lower()) if word]
    for word in words:
        if word not in TEXT_READINGS:
            raise QueryError(f"there is no reading {word!r} to compare: choose from {', '.join(TEXT_READINGS)}")
    found = tuple(reading for reading in TEXT_READINGS if reading in words)
    if len(found) > 1 and ("degree" in found or "role" in found):
        raise QueryError("degrees and roles are compared alone: name one of them, or readings of intervals")
    return found
