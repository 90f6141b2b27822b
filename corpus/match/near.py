"""Places in a line that are like a figure: the cheapest ways to lay the figure over the line, as occurrences.

Each note on which an occurrence may end has one cheapest alignment. Of places that share more than half of the notes
of either only the best is kept; occurrences that are exact under the folds are always kept.

The likeness is 1 - price / elements: every change lowers it by its price, whatever else was changed, so more changes
never score higher; it is 1 exactly when nothing that has a price was changed. It is not symmetric: what the figure
lacks costs more than what was added to it, and the price is divided by the figure that was asked for.
"""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

from corpus.match.alignment import (
    CHANGE,
    PARTS_SHIFT,
    Alignment,
    Notes,
    alignment_at,
    alignment_between,
    best_ending_on,
    letter_told,
    notes_of,
)
from corpus.match.exact import Occurrence, Rhythm
from corpus.match.explain import Explained
from corpus.match.sought import Sought
from corpus.model import Transcription
from corpus.readings import line_of


@dataclass(frozen=True, slots=True)
class Place:
    """A place in a line: its price in thousandths, rhythm included, and the notes (with repeats) it covers."""

    parts: int
    weight: int
    first: int
    last: int
    alignment: Alignment


def shares_most(one: tuple[int, int], other: tuple[int, int]) -> bool:
    """Whether two stretches, from first to last note, share more than half of the notes of either."""
    shared = min(one[1], other[1]) - max(one[0], other[0]) + 1
    return 2 * shared > min(one[1] - one[0], other[1] - other[0]) + 1


class NearLine:
    """A transcription looked through for one figure.

    For a figure of roles or degrees ``symbols`` is the line's reading of them, without repeats taken out;
    ``notes`` is what ``notes_of`` gives, where that has been asked already.
    """

    def __init__(
        self,
        asked: Sought,
        transcription: Transcription,
        rhythm: Rhythm = "any",
        symbols: str | None = None,
        notes: Notes | None = None,
    ) -> None:
        self._asked, self._transcription, self._rhythm = asked, transcription, rhythm
        self.notes: Notes = notes or notes_of(line_of(transcription), asked, symbols)

    def place_ending_on(self, end: int, most_parts: int) -> Place | None:
        """The cheapest place whose last element stands on note ``end`` (with its repeats), None above ``most_parts``.

        The alignment is that of the notes alone; where rhythm counts, its price is added.
        """
        alignment = best_ending_on(self._asked, self.notes, end, most_parts)
        return None if alignment is None else self._place(alignment, most_parts)

    def place_verified(
        self,
        stretch: tuple[int, int],
        most_parts: int,
        away: int,
        letter: int,
        pairs: Sequence[tuple[int, int]] | None = None,
        weight: int | None = None,
    ) -> Place | None:
        """The same where the first and the last note are known, and the transposition by how far it leaves the last
        note: see ``verify.Verified``.

        ``weight`` is what the occurrence weighs, ``pairs`` are its elements and how many notes before the last each
        stands, where they are known.
        """
        asked, notes, end = self._asked, self.notes, stretch[1]
        height = notes.positions[end] if asked.alphabet == "letter" else notes.pitches[end] or 0
        base = height - away - asked.heights[-1] if asked.shifts > 1 else None
        letters = letter_told(asked, notes.positions[end], letter)
        if pairs is None or weight is None:
            found = alignment_at(asked, notes, stretch, most_parts, base, letters, weight)
        else:
            placed = tuple((index, end - back) for index, back in pairs)
            found = Alignment(weight >> PARTS_SHIFT, weight, placed, base, letters)
        return self._place(found, most_parts)

    def place_between(self, stretch: tuple[int, int], most_parts: int, away: int, letter: int) -> Place | None:
        """The same where the first and the last note are known, and the transposition as ``Verified`` tells it."""
        asked, notes, end = self._asked, self.notes, stretch[1]
        height = notes.positions[end] if asked.alphabet == "letter" else notes.pitches[end] or 0
        base = height - away - asked.heights[-1] if asked.shifts > 1 else None
        letters = letter_told(asked, notes.positions[end], letter)
        found = alignment_between(asked, notes, stretch, most_parts, base, letters)
        return None if found is None else self._place(found, most_parts)

    def _place(self, alignment: Alignment, most_parts: int) -> Place | None:
        rhythm = self._rhythm_parts(alignment)
        if alignment.parts + rhythm > most_parts:
            return None
        first, last = alignment.pairs[0][1], alignment.pairs[-1][1]
        weight = alignment.weight + (rhythm << PARTS_SHIFT)
        return Place(alignment.parts + rhythm, weight, first, last, alignment)

    def _rhythm_parts(self, alignment: Alignment) -> int:
        if self._rhythm == "any" or self._asked.figure.onsets is None:
            return 0
        explained = Explained(self._asked, self.notes, alignment, self._transcription)
        prices = self._asked.prices
        is_stretched = self._rhythm == "same" and explained.pace() != 1
        return len(explained.uneven()) * prices.parts("rhythm") + is_stretched * prices.parts("stretched")

    def occurrence(self, place: Place) -> Occurrence:
        """A place as an occurrence, its changes told."""
        explained = Explained(self._asked, self.notes, place.alignment, self._transcription)
        return Occurrence(
            explained.first,
            explained.last,
            transposition_told(self._asked, explained.transposed),
            self._asked.likeness(place.parts),
            explained.changes(),
            explained.transposed,
        )


def transposition_told(asked: Sought, semitones: int | None) -> int | None:
    """Semitones from a figure that has a place of its own; the nearest where none of its octaves are known."""
    if not asked.figure.is_absolute or asked.figure.pitches is None or semitones is None:
        return None
    return semitones if any(asked.figure.octave_known) else (semitones + 5) % 12 - 5


def best_places(places: Iterable[Place]) -> Iterator[Place]:
    """Of places in one line, in rising order of price, those that no better one stands in the way of."""
    kept: list[Place] = []
    for place in places:
        if place.weight < CHANGE or not any(
            shares_most((place.first, place.last), (better.first, better.last)) for better in kept
        ):
            kept.append(place)
            yield place


def order_of(place: Place) -> tuple[int, int, int]:
    """What places are ranked by: price, then where they stand."""
    return place.weight, place.first, place.last


def occurrences_near(
    asked: Sought,
    transcription: Transcription,
    threshold: float,
    rhythm: Rhythm = "any",
    symbols: str | None = None,
) -> list[Occurrence]:
    """Every occurrence in one line with at least a likeness, best first. Slow and plain: each note is tried as the end.

    Cost: notes times elements times the notes in reach, for every shift.
    """
    near = NearLine(asked, transcription, rhythm, symbols)
    most = asked.most_parts(threshold)
    found = [place for end in range(len(near.notes)) if (place := near.place_ending_on(end, most)) is not None]
    return [near.occurrence(place) for place in best_places(sorted(found, key=order_of))]
