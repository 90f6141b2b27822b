"""Two passages side by side: the cheapest way to turn the one into the other, from first note to last.

Global alignment by dynamic programming (Needleman and Wunsch, *Journal of Molecular Biology* 48(3), 1970; from
memory). The price is that of turning the first into the second. It is the same both ways where nothing costs more left
out than added (``left_out``) and a last note costs what others do (``resolved``). The likeness divides it by the notes
of the first passage.
Notes missing or more at the beginning or the end pay the price of a cut.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import accumulate, pairwise, product
from typing import TYPE_CHECKING

from corpus.match.alignment import (
    NEVER,
    PARTS_SHIFT,
    Alignment,
    Judge,
    Notes,
    Weigh,
    heights_of,
    least_weights,
    notes_of,
    octaves_between,
    weight_of,
)
from corpus.match.change_words import extended
from corpus.match.changes import Change
from corpus.match.explain import Explained
from corpus.match.figure import Folds, figure_from_notes_of
from corpus.match.near import transposition_told
from corpus.match.ornaments import ornaments_of
from corpus.match.prices import Prices
from corpus.match.sought import Sought, sought
from corpus.model import Transcription
from corpus.readings import line_of

if TYPE_CHECKING:
    from numpy.typing import NDArray


@dataclass(frozen=True, slots=True)
class SideBySide:
    """Two passages aligned: ``pairs`` of notes of the first and the second line, None where the other has none.

    ``likeness`` is that of the second to the first, ``transposed`` the semitones between them, ``price`` what the
    changes cost in notes.
    """

    pairs: tuple[tuple[int | None, int | None], ...]
    likeness: float
    price: float
    transposed: int | None
    changes: tuple[Change, ...]


def side_by_side(
    one: Transcription,
    first: tuple[int, int],
    other: Transcription,
    second: tuple[int, int],
    folds: Folds,
    prices: Prices,
) -> SideBySide:
    """Two passages, each from its first to its last note (both included), aligned.

    Raises QueryError for a passage with a dead note, of one note, or in which nothing is left under the folds. Cost:
    the notes of the one times those of the other, for each transposition.
    """
    found = side_by_side_within(one, first, other, second, folds, prices, 0.0)
    assert found is not None
    return found


def side_by_side_within(
    one: Transcription,
    first: tuple[int, int],
    other: Transcription,
    second: tuple[int, int],
    folds: Folds,
    prices: Prices,
    least: float,
) -> SideBySide | None:
    """The same, None as soon as it is known that the likeness is less than ``least``; 0 is anything."""
    asked = sought(figure_from_notes_of(one, *first), folds, prices)
    # The same must hold for the second passage.
    sought(figure_from_notes_of(other, *second), folds, prices)
    notes = _passage(notes_of(line_of(other), asked), second)
    found = _cheapest(asked, notes, weight_of(asked.most_parts(least) + 1) if least else NEVER)
    if found is None:
        return None
    explained = Explained(asked, notes, found, other)
    changes = (*explained.changes(), *_extensions(asked, notes, explained, other))
    pairs = _rows(asked, notes, found, first[0])
    price = found.parts / 1000
    transposed = transposition_told(asked, explained.transposed)
    return SideBySide(pairs, asked.likeness(found.parts), price, transposed, changes)


def _passage(notes: Notes, passage: tuple[int, int]) -> Notes:
    """The notes of a passage alone: what stands beside it does not count."""
    first, last = passage
    places = [
        place for place, begin in enumerate(notes.firsts) if begin + notes.counts[place] > first and begin <= last
    ]
    begins = [max(notes.firsts[place], first) for place in places]
    ends = [min(notes.firsts[place] + notes.counts[place] - 1, last) for place in places]
    return replace(
        notes,
        classes=[notes.classes[place] for place in places],
        ornaments=ornaments_of([notes.pitches[place] or 0 for place in places]),
        starts=[True, *(False for _ in places[1:])],
        pitches=[notes.pitches[place] for place in places],
        positions=[notes.positions[place] for place in places],
        firsts=begins,
        counts=[end - begin + 1 for begin, end in zip(begins, ends, strict=True)],
    )


def _cheapest(asked: Sought, notes: Notes, below: int) -> Alignment | None:
    """The cheapest alignment under any transposition; None where none weighs less than ``below``."""
    window = range(len(notes))
    heights = heights_of(asked, notes, window)
    octave = 7 if asked.alphabet == "letter" else 12
    best: tuple[tuple[int, int, int, int], list[list[int]]] | None = None
    shifts = [_all_weights(asked, window, least_weights(asked, notes, shift)) for shift in range(asked.shifts)]
    least = _whole_weights(asked, notes, shifts)
    # The most promising first, so that most of the others need not be tried.
    for shift in sorted(range(asked.shifts), key=least.__getitem__):
        if least[shift] >= below or (best is not None and least[shift] > best[0][0]):
            break
        ways = [
            (shift + octave * octaves, letter)
            for octaves, letter in product(
                octaves_between(asked, min(heights), max(heights), shift), asked.letter_shifts
            )
        ]
        tables = [_all_weights(asked, window, Judge(asked, notes, base, letter).weigh) for base, letter in ways]
        weights = _whole_weights(asked, notes, tables)
        for weight, (base, letter), table in zip(weights, ways, tables, strict=True):
            # Of equally cheap ones the transposition that leaves the last note nearest to its place.
            away = heights[-1] - base - asked.heights[-1]
            key = (weight, abs(away), -away, letter)
            if weight < below and (best is None or key < best[0]):
                best = key, table
    if best is None:
        return None
    (weight, _, back, letter), table = best
    pairs = _Grid(asked, notes, table).pairs()
    return Alignment(weight >> PARTS_SHIFT, weight, pairs, heights[-1] + back - asked.heights[-1], letter)


def _whole_weights(asked: Sought, notes: Notes, tables: Sequence[Sequence[Sequence[int]]]) -> list[int]:
    """What the cheapest way weighs under each of several tables of weights: ``_Grid`` over all of them at once."""
    import numpy as np

    if not tables:
        return []
    grid = _Grid.edges(asked, notes)
    stacked = np.array(tables, dtype=np.int64).transpose(1, 2, 0).copy()
    best = np.full(len(tables), NEVER, dtype=np.int64)
    above: list[NDArray[np.int64]] = []
    for index, row in enumerate(stacked):
        here: list[NDArray[np.int64]] = []
        for place, weights in enumerate(row):
            begun = grid.cuts[index] + grid.extends[place]
            on = weights + (np.minimum(above[place - 1], begun) if index and place else begun)
            np.minimum(best, on + grid.after(index, place), out=best)
            cell = on
            if index:
                cell = np.minimum(cell, above[place] + grid.drops[index])
            if place:
                cell = np.minimum(cell, here[place - 1] + grid.adds[place])
            here.append(cell)
        above = here
    found: list[int] = best.tolist()
    return found


def _all_weights(asked: Sought, window: range, weigh: Weigh) -> list[list[int]]:
    """What every element weighs on every note."""
    return [[weigh(index, place) for place in window] for index in range(len(asked))]


@dataclass(frozen=True, slots=True)
class _Edges:
    """What it weighs that elements are left out or cut, and notes added or extended; cuts and extensions summed up."""

    drops: list[int]
    adds: list[int]
    cuts: list[int]
    extends: list[int]

    def after(self, index: int, place: int) -> int:
        """What it weighs that nothing after an element and a note stands on each other."""
        return self.cuts[-1] - self.cuts[index + 1] + self.extends[-1] - self.extends[place + 1]


class _Grid:
    """Weights of turning the first elements into the first notes, once the first two stand on each other.

    What is before the first pair and after the last is cut or extended, whatever it is.
    """

    def __init__(self, asked: Sought, notes: Notes, weights: Sequence[Sequence[int]]) -> None:
        self._weights = weights
        edges = self.edges(asked, notes)
        self._drops, self._adds, self._cuts, self._extends = edges.drops, edges.adds, edges.cuts, edges.extends
        self._rows: list[list[int]] = []
        self.weight, self._last = NEVER, (0, 0)
        for index, place in product(range(len(asked)), range(len(notes))):
            if place == 0:
                self._rows.append([])
            on = self._on(index, place)
            self._rows[index].append(min(on, *self._others(index, place)))
            if on + edges.after(index, place) < self.weight:
                self.weight, self._last = on + edges.after(index, place), (index, place)

    @staticmethod
    def edges(asked: Sought, notes: Notes) -> _Edges:
        """What edges weigh for a figure and a passage."""
        adds = {kind: weight_of(asked.prices.parts(kind)) for kind in set(notes.ornaments)}
        doubled, cut = weight_of(asked.prices.parts("doubled")), weight_of(asked.prices.parts("cut"))
        cuts = [weight_of(parts) for parts in asked.edge_parts]
        extends = [doubled if kind == "doubled" else cut for kind in notes.ornaments]
        return _Edges(
            [weight_of(parts) for parts in asked.drop_parts],
            [adds[kind] for kind in notes.ornaments],
            list(accumulate(cuts, initial=0)),
            list(accumulate(extends, initial=0)),
        )

    def _begun(self, index: int, place: int) -> int:
        """What it weighs that nothing before an element and a note stands on each other."""
        return self._cuts[index] + self._extends[place]

    def _on(self, index: int, place: int) -> int:
        """The weight when an element stands on a note."""
        inside = self._rows[index - 1][place - 1] if index and place else NEVER
        return min(inside, self._begun(index, place)) + self._weights[index][place]

    def _others(self, index: int, place: int) -> tuple[int, int]:
        """The weights when the element is left out, or the note added, after some pair."""
        left_out = self._rows[index - 1][place] + self._drops[index] if index else NEVER
        added = self._rows[index][place - 1] + self._adds[place] if place else NEVER
        return left_out, added

    def pairs(self) -> tuple[tuple[int, int], ...]:
        """The pairs of the cheapest way."""
        index, place = self._last
        found = [(index, place)]
        while index and place and self._rows[index - 1][place - 1] <= self._begun(index, place):
            index, place = index - 1, place - 1
            while self._on(index, place) > self._rows[index][place]:
                left_out, _ = self._others(index, place)
                if left_out == self._rows[index][place]:
                    index -= 1
                else:
                    place -= 1
            found.append((index, place))
        return tuple(reversed(found))


def _extensions(asked: Sought, notes: Notes, explained: Explained, line: Transcription) -> list[Change]:
    """Notes that the second passage has more at its beginning and end."""
    first, last = notes.firsts[0], notes.firsts[-1] + notes.counts[-1] - 1
    changes = []
    for outward, number in (
        (range(explained.first - 1, first - 1, -1), 1),
        (range(explained.last + 1, last + 1), len(asked.figure)),
    ):
        if not outward:
            continue
        stretch = [explained.first if number == 1 else explained.last, *outward]
        heights = [line.notes[note].pitch or 0 for note in stretch]
        sizes = tuple(b - a for a, b in pairwise(heights))
        names = [line.notes[note].spelling for note in sorted(outward)]
        changes.append(Change("extended", (number,), sizes, words=extended(names, number == 1)))
    return changes


def _rows(asked: Sought, notes: Notes, found: Alignment, offset: int) -> tuple[tuple[int | None, int | None], ...]:
    """Notes of both lines in order, those that stand for each other beside each other."""
    rows: list[tuple[int | None, int | None]] = []
    index = place = 0
    for next_index, next_place in (*found.pairs, (len(asked), len(notes))):
        for element in asked.elements[index:next_index]:
            rows += [(offset + element.first + k, None) for k in range(element.count)]
        for j in range(place, next_place):
            rows += [(None, notes.firsts[j] + k) for k in range(notes.counts[j])]
        if next_index < len(asked):
            element, count = asked.elements[next_index], notes.counts[next_place]
            for k in range(max(element.count, count)):
                left = offset + element.first + k if k < element.count else None
                rows.append((left, notes.firsts[next_place] + k if k < count else None))
        index, place = next_index + 1, next_place + 1
    return tuple(rows)
