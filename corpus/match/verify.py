"""What occurrences really cost, for many endings at once: the recurrence of ``corpus.match.alignment`` in columns.

Every row is one ending under one transposition; a step works on all rows and notes in reach at once. Weights are the
same numbers as there, so both give the same order, and the slow one is the oracle of this one.
"""

from dataclasses import dataclass
from itertools import accumulate
from typing import TYPE_CHECKING, Any, Final

from corpus.match.alignment import (
    NEVER,
    PARTS_SHIFT,
    back_of,
    heaviest,
    letter_told,
    octaves_between,
    reach_of,
    weight_of,
)
from corpus.match.columns import Columns
from corpus.match.ornaments import ORNAMENTS
from corpus.match.sought import CLASSES, NO_LETTERS, Sought
from corpus.match.verify_kernel import WIDEST_REACH

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Weights = NDArray[np.int64]
    Places = NDArray[np.int64]

_ENDINGS_AT_ONCE: Final = 64
_FARTHEST: Final = WIDEST_REACH + 12
"""No two notes of an unbroken line are so far apart, octaves around a transposition included."""


@dataclass(frozen=True, slots=True)
class Verified:
    """The cheapest occurrence that ends on a place in the columns: its weight, and how far it is transposed.

    Heights of the columns begin no matter where, so ``away`` tells how far the last note is from where the
    transposition puts the last element.
    ``letter`` is the letter of the last note less the transposition of the letters: see ``alignment.letter_told``.
    """

    ending: int
    weight: int
    away: int
    letter: int

    @property
    def parts(self) -> int:
        """The price in thousandths."""
        return self.weight >> PARTS_SHIFT

    @property
    def back(self) -> int:
        """How many notes before its last the occurrence begins."""
        return back_of(self.weight)


class Verifier:
    """A figure's costs, ready for columns."""

    def __init__(self, columns: Columns, asked: Sought, most_parts: int) -> None:
        import numpy as np

        self.columns, self.asked, self.most_parts = columns, asked, most_parts
        prices = asked.prices
        added = [weight_of(asked.ornament_parts[kind]) for kind in ORNAMENTS]
        self.added = np.array(added, dtype=np.int64)
        edges = [weight_of(parts) for parts in asked.edge_parts]
        self.before = list(accumulate(edges, initial=0))
        self.after = list(accumulate(reversed(edges), initial=0))[::-1]
        self.octave = weight_of(prices.parts("octave")) if prices.octave else 0
        self.drops = [weight_of(parts) for parts in asked.drop_parts]
        # Heights above a transposition are looked up from here: they lie as far away as the figure reaches.
        self.middle = _FARTHEST + max(map(abs, asked.heights), default=0)
        # And so far they can be from where an element should stand.
        self.farthest = self.middle + max(map(abs, asked.heights), default=0)
        self._tables: dict[tuple[int, int, int], Weights] = {}
        self._by_distance: dict[tuple[bool, bool, int, int], Weights] = {}

    def on(self, index: int, looked_up: "Places", positions: "Places | None", letter: int) -> "Weights":
        """What an element weighs on notes.

        ``looked_up`` are heights above the transposition from ``middle``, or classes from 1, 0 for no class.
        ``positions`` are staff positions less the transposition of the letters. Where they are None, no letter counts
        (``letter`` is ``NO_LETTERS``) or every letter is right (0).
        """
        import numpy as np

        if positions is None:
            parts = self.asked.note_parts(False, True, letter), self.asked.note_parts(True, True, letter)
            return np.take(self._table(index, *parts), looked_up)
        fits = (positions - (self.asked.elements[index].position or 0)) % 7 == 0
        right, wrong = (
            np.take(self._table(index, *(self.asked.note_parts(near, fit, 0) for near in (False, True))), looked_up)
            for fit in (True, False)
        )
        return np.where(fits, right, wrong)

    def _table(self, index: int, exact: int, near: int) -> "Weights":
        """What an element weighs by what is looked up; ``exact`` and ``near`` are the prices of its own note and of
        one a half-step away.
        """
        key = (index, exact, near)
        if key not in self._tables:
            if self.asked.shifts == 1:
                self._tables[key] = self.by_class(index)
            else:
                begin = self.farthest - self.middle - self.asked.heights[index]
                table = self.by_distance(index, exact, near)[begin : begin + 2 * self.middle].copy()
                table[0] = NEVER
                self._tables[key] = table
        return self._tables[key]

    def by_class(self, index: int) -> "Weights":
        """What an element weighs on each class, counted from 1; where there is none it cannot stand."""
        import numpy as np

        weights = [weight_of(parts) if parts else 0 for parts in self.asked.least_costs(index)]
        return np.array([NEVER, *weights], dtype=np.int64)

    def by_distance(self, index: int, exact: int, near: int) -> "Weights":
        """What an element weighs by how far a note is from where it should stand, from ``-farthest`` on."""
        import numpy as np

        asked = self.asked
        octave_counts = asked.elements[index].octave_counts
        key = (octave_counts, index == len(asked) - 1, exact, near)
        if key in self._by_distance:
            return self._by_distance[key]
        whole, half = (7, 3) if asked.alphabet == "letter" else (12, 5)
        away = np.arange(-self.farthest, self.farthest) + half
        octaves, rest = away // whole, away % whole - half
        displaced = np.where((octaves != 0) & octave_counts, self.octave, 0)
        another, resolved = (weight_of(asked.other_parts(index, far)) for far in (asked.shifts, 0))
        other = np.where(np.abs(rest) <= asked.resolving, resolved, another)
        own = weight_of(exact) if exact else 0
        table = np.where(rest == 0, np.minimum(own + displaced, other), other)
        if asked.alphabet == "pitch":
            table = np.where(np.abs(rest) == 1, np.minimum(weight_of(near) + displaced, other), table)
        self._by_distance[key] = table.astype(np.int64)
        return self._by_distance[key]

    def verify(self, places: "Places", bounds: "NDArray[np.int64]") -> list[Verified]:
        """The cheapest occurrence ending on each place, where there is one that is cheap enough; in their order."""
        import numpy as np

        found: dict[int, Verified] = {}
        reaches = self._reaches(places)
        order = np.argsort(reaches, kind="stable")
        for begin in range(0, len(order), _ENDINGS_AT_ONCE):
            part = order[begin : begin + _ENDINGS_AT_ONCE]
            group = _Group(self, places[part], int(reaches[part[-1]]))
            for index, verified in group.best(bounds[part]).items():
                found[int(part[index])] = verified
        return [found[index] for index in sorted(found)]

    def pairs(self, _verified: Verified) -> None:
        """Nothing is kept here of where elements stand: ``alignment_at`` must find it on the notes."""

    def _reaches(self, places: "Places") -> "Places":
        """The most notes that an occurrence on each place can cover: those added are few, but for mere repeats."""
        import numpy as np

        asked = self.asked
        farthest = reach_of(asked, self.most_parts)
        others = [parts for kind, parts in asked.ornament_parts.items() if kind != "doubled"]
        if min(others) == 0:
            return np.full(len(places), farthest, dtype=np.int64)
        within = np.maximum(places[:, None] - np.arange(farthest), 0)
        repeats = np.count_nonzero(self.columns.ornaments[within] == ORNAMENTS.index("doubled"), axis=1)
        reaches: Places = np.minimum(farthest, len(asked) + self.most_parts // min(others) + repeats)
        return reaches


class _Group:
    """Some endings whose occurrences reach back about as far."""

    def __init__(self, verifier: Verifier, places: "Places", reach: int) -> None:
        self._verifier, self._asked, self._places, self._reach = verifier, verifier.asked, places, reach
        self._window = self._look(places)

    def best(self, bounds: "NDArray[np.int64]") -> dict[int, Verified]:
        """The cheapest occurrence of each ending that has one, by its number."""
        import numpy as np

        most = heaviest(self._verifier.most_parts)
        rows, shifts = np.nonzero(bounds <= self._verifier.most_parts)
        rows, bases = self._bases(rows, shifts)
        letters = np.arange(NO_LETTERS)
        kept: dict[int, tuple[tuple[int, int, int, int], Verified]] = {}
        # At first every letter is right: what is too dear even so need not be looked at letter by letter.
        least = self._weigh(rows, bases, None)
        fine = np.flatnonzero(least <= most)
        rows, bases, least = rows[fine], bases[fine], least[fine]
        if not self._asked.letters_matter:
            self._keep(rows, bases, np.zeros(len(rows), dtype=np.int64), least, kept)
            return {row: verified for row, (_, verified) in kept.items()}
        untold = np.full(len(rows), NO_LETTERS, dtype=np.int64)
        self._keep(rows, bases, untold, self._weigh(rows, bases, None, NO_LETTERS), kept)
        if not len(rows):
            return {row: verified for row, (_, verified) in kept.items()}
        for part in _cheapest_and_others(rows, least):
            limit = np.array([kept[row][0][0] if row in kept else most for row in rows[part].tolist()], dtype=np.int64)
            part = part[least[part] <= limit]
            chosen = np.tile(letters, len(part))
            spread = np.repeat(part, len(letters))
            weights = self._weigh(rows[spread], bases[spread], chosen)
            self._keep(rows[spread], bases[spread], chosen, weights, kept)
        return {row: verified for row, (_, verified) in kept.items()}

    def _keep(self, rows: "Places", bases: "Places", chosen: "Places", weights: "Weights", kept: Any) -> None:
        """Keep the best of each ending."""
        import numpy as np

        window = self._window
        for index in np.flatnonzero(weights <= heaviest(self._verifier.most_parts)).tolist():
            row, base, weight = int(rows[index]), int(bases[index]), int(weights[index])
            away = letter = 0
            if self._asked.shifts > 1:
                away = int(window.heights[row, -1]) - base - self._asked.heights[-1]
                letter = letter_told(self._asked, int(window.positions[row, -1]), int(chosen[index]))
            # As ``alignment.rank``.
            key = (weight, abs(away), -away, letter)
            if row not in kept or key < kept[row][0]:
                kept[row] = (key, Verified(int(self._places[row]), weight, away, letter))

    def _look(self, places: "Places") -> "_Window":
        import numpy as np

        columns = self._verifier.columns
        reach = places[:, None] - np.arange(self._reach - 1, -1, -1)
        bars = columns.bars_before(places)
        inside = reach > bars[:, None]
        reach = np.where(inside, reach, places[:, None])
        classes = np.where(inside, columns.classes[reach], 255).astype(np.int64)
        heights = columns.positions if columns.alphabet == "letter" else columns.heights
        added = self._verifier.added[columns.ornaments[reach]]
        has_class = classes < CLASSES[columns.alphabet]
        # The note after a bar follows nothing, and what has no class is nothing that can be added to a contour.
        added[:, 1:] = np.where(inside[:, :-1], added[:, 1:], NEVER)
        added[:, 0] = NEVER
        if columns.alphabet == "contour":
            added = np.where(has_class, added, NEVER)
        return _Window(
            inside,
            has_class,
            np.where(has_class, classes, 0),
            heights[reach].astype(np.int64),
            columns.positions[reach].astype(np.int64),
            np.where(inside, added, NEVER),
        )

    def _bases(self, rows: "Places", shifts: "Places") -> "tuple[Places, Places]":
        """Every transposition of each ending and shift that could meet the notes in reach."""
        import numpy as np

        if self._asked.shifts == 1:
            return rows, np.zeros(len(rows), dtype=np.int64)
        octave = 7 if self._asked.alphabet == "letter" else 12
        lowest = np.where(self._window.has_class, self._window.heights, np.iinfo(np.int64).max).min(axis=1)
        highest = np.where(self._window.has_class, self._window.heights, np.iinfo(np.int64).min).max(axis=1)
        found = [
            (row, shift + octave * octaves)
            for row, shift in zip(rows.tolist(), shifts.tolist(), strict=True)
            for octaves in octaves_between(self._asked, int(lowest[row]), int(highest[row]), shift)
        ]
        pairs = np.array(found, dtype=np.int64).reshape(-1, 2)
        return pairs[:, 0], pairs[:, 1]

    def _weigh(self, rows: "Places", bases: "Places", letters: Any, letter: int = 0) -> "Weights":
        """The least weight of ending on the last note, for each row.

        With ``letters`` None every letter is right, or none counts (``letter`` is ``NO_LETTERS``).
        """
        import numpy as np

        asked, verifier, size = self._asked, self._verifier, len(self._asked)
        window = self._window
        added = window.added[rows]
        if asked.shifts == 1:
            looked_up = np.where(window.has_class[rows], window.classes[rows] + 1, 0)
        else:
            looked_up = np.where(window.has_class[rows], window.heights[rows] - bases[:, None] + verifier.middle, 0)
        fits = None if letters is None else window.positions[rows] - letters[:, None]
        back = np.arange(self._reach - 1, -1, -1)
        before = np.full(added.shape, NEVER)
        final = np.full(len(rows), NEVER)
        for index in range(size):
            weights = verifier.on(index, looked_up, fits, letter)
            reached = before[:, :-1] + weights[:, 1:]
            final = np.minimum(final, reached[:, -1] + verifier.after[index + 1])
            if index == size - 1:
                break
            kept = weights + (verifier.before[index] + back)
            np.minimum(kept[:, 1:], reached, out=kept[:, 1:])
            before += verifier.drops[index]
            np.minimum(kept, before, out=kept)
            before, last = kept.copy(), kept
            for far in (1, 2, 3):
                # What was added last stands so many notes after the element.
                last = last[:, :-1] + added[:, far:]
                np.minimum(before[:, far:], last, out=before[:, far:])
            np.minimum(before, NEVER, out=before)
        return final


def _cheapest_and_others(rows: "Places", least: "Weights") -> "tuple[Places, Places]":
    """Indexes of the cheapest row of each ending, and of all others."""
    import numpy as np

    order = np.lexsort((least, rows))
    is_first = np.ones(len(order), dtype=bool)
    is_first[1:] = rows[order[1:]] != rows[order[:-1]]
    return order[is_first], order[~is_first]


@dataclass(frozen=True, slots=True)
class _Window:
    """The notes in reach of each ending, the ending last; rows of notes outside their line are not ``inside``."""

    inside: "NDArray[np.bool_]"
    has_class: "NDArray[np.bool_]"
    classes: "Places"
    heights: "Places"
    positions: "Places"
    added: "Weights"
