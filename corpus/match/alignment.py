"""The cheapest way to lay a figure over a stretch of a line: which element stands on which note.

Dynamic programming over elements and notes (the recurrence of Needleman and Wunsch, *Journal of Molecular Biology*
48(3), 1970, with free ends in the line as in Sellers, *Journal of Algorithms* 1(4), 1980; both from memory). An
element stands on a note, or is left out; a note between two others may be added, at most ``MOST_ADDED`` in a row.
Elements missing at the beginning or end pay the price of a cut. A note struck again is a note added, or an element left
out, of its own price; with doubles ignored there are none.

Octaves and letters are judged against one transposition of the whole figure, the one that is cheapest; of equally
cheap ones the one that leaves the last note nearest to its place.

Prices are summed as *weights*: thousandths of a price, then the number of changes, then the notes reached back from
the last, in one number. So of equally cheap ways the one with the fewest changes is taken, then the shortest.
``corpus.match.verify`` computes the same for many places at once.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import accumulate
from typing import Final

from corpus.match.ornaments import Ornament, Ornaments
from corpus.match.sought import MOST_ADDED, NO_LETTERS, SYMBOLS, Element, Sought
from corpus.readings import Line, read

PARTS_SHIFT: Final = 24
CHANGE: Final = 1 << 12
"""What a change weighs beside its price; below it, notes reached back from the last are counted."""
NEVER: Final = 1 << 56
assert MOST_ADDED == 3, "the recurrence below is written out for three"


def weight_of(parts: int) -> int:
    """What a change of a price weighs; a free change still counts as one."""
    return (parts << PARTS_SHIFT) + CHANGE


def back_of(weight: int) -> int:
    """How many notes before its last an occurrence of this weight begins."""
    return weight % CHANGE


def heaviest(most_parts: int) -> int:
    """The highest weight of at most a price."""
    return ((most_parts + 1) << PARTS_SHIFT) - 1


@dataclass(frozen=True)
class Notes:
    """The notes of a line as near search compares them, one entry a note (with its repeats, when collapsed).

    ``classes`` are those of the alphabet, -1 where there is none; ``starts`` says where nothing is before a note;
    ``firsts`` and ``counts`` tell which notes of the line an entry stands for.
    """

    classes: Sequence[int]
    ornaments: Sequence[Ornament]
    starts: Sequence[bool]
    pitches: Sequence[int | None]
    positions: Sequence[int]
    firsts: Sequence[int]
    counts: Sequence[int]

    def __len__(self) -> int:
        return len(self.classes)


def notes_of(line: Line, asked: Sought, symbols: str | None = None) -> Notes:
    """The notes of a line in a figure's alphabet.

    ``symbols`` is the plain role or degree reading of the line, where the line itself does not know its harmony.
    """
    searched = line.collapsed if asked.is_collapsed else line
    pitches, starts = searched.pitches, searched.starts
    if asked.alphabet == "pitch":
        classes = [-1 if pitch is None else pitch % 12 for pitch in pitches]
    elif asked.alphabet == "letter":
        classes = [-1 if pitch is None else place % 7 for pitch, place in zip(pitches, searched.positions, strict=True)]
    else:
        text = read(searched, asked.alphabet) if symbols is None else _at_firsts(symbols, line, asked)
        classes = [-1 if symbol == "0" or pitch is None else SYMBOLS.index(symbol)
                   for symbol, pitch in zip(text, pitches, strict=True)]  # fmt: skip
    firsts = line.runs.firsts if asked.is_collapsed else range(len(line))
    lasts = line.runs.lasts if asked.is_collapsed else firsts
    counts = [last - first + 1 for first, last in zip(firsts, lasts, strict=True)]
    return Notes(classes, Ornaments(pitches, starts), starts, pitches, searched.positions, firsts, counts)


def _at_firsts(symbols: str, line: Line, asked: Sought) -> str:
    return "".join(symbols[first] for first in line.runs.firsts) if asked.is_collapsed else symbols


@dataclass(frozen=True, slots=True)
class Alignment:
    """Elements on notes: ``pairs`` of element and note, both rising; ``parts`` is the price in thousandths.

    ``semitones`` and ``letters`` are the transposition of the whole figure, where the alphabet has one.
    """

    parts: int
    weight: int
    pairs: tuple[tuple[int, int], ...]
    semitones: int | None = None
    letters: int | None = None


Weigh = Callable[[int, int], int]
"""What an element weighs on a note."""


@dataclass(frozen=True, slots=True)
class _Row:
    """Weights of having used elements up to one, the last note used being each of some, the first of them ``first``.

    Lists by what was last: the element on the note, the note on it or element left out, one, two, three added; and the
    least of the last four.
    """

    first: int
    on: list[int]
    kept: list[int]
    one: list[int]
    two: list[int]
    three: list[int]
    least: list[int]

    def least_at(self, place: int) -> int:
        """The least weight at a place; ``NEVER`` where none is known."""
        return self.least[place - self.first] if 0 <= place - self.first < len(self.least) else NEVER


class _Table:
    """One pass of the dynamic programming over a window of notes, given what each pair weighs.

    What weighs more than ``most`` is left out: each row only knows the places that the row before, or a beginning
    among the places ``begins``, can reach.
    """

    def __init__(
        self, asked: Sought, notes: Notes, window: range, weigh: Weigh, most: int, begins: int = NEVER
    ) -> None:
        self._asked, self._notes, self._window, self._weigh = asked, notes, window, weigh
        edges = [weight_of(parts) for parts in asked.edge_parts]
        self._before = list(accumulate(edges, initial=0))
        self._after = list(accumulate(reversed(edges), initial=0))[::-1]
        self._drops = [weight_of(parts) for parts in asked.drop_parts]
        added = {kind: weight_of(parts) for kind, parts in asked.ornament_parts.items()}
        needs_class = asked.alphabet == "contour"
        cannot = [notes.starts[j] or notes.pitches[j] is None or (needs_class and notes.classes[j] < 0) for j in window]
        self._added = [NEVER if never else added[notes.ornaments[j]] for never, j in zip(cannot, window, strict=True)]
        self._starts = [notes.starts[j] for j in window]
        self._most = most
        self._begins = min(begins, len(window))
        self._rows: list[_Row] = []
        self.weight, self._ending = NEVER, -1
        self._run()

    def _begun(self, index: int, place: int) -> int:
        """What leaving out all elements before one weighs, when it stands on a place."""
        return self._before[index] + len(self._window) - 1 - place if place < self._begins else NEVER

    def _row(self, index: int, before: _Row, places: range) -> _Row:
        drop = self._drops[index]
        row = _Row(places.start, [], [], [], [], [], [])
        last_kept = last_one = last_two = NEVER
        last_before = before.least_at(places.start - 1)
        for place in places:
            if self._starts[place]:
                last_kept = last_one = last_two = last_before = NEVER
            added = self._added[place]
            here = min(last_before, self._begun(index, place)) + self._weigh(index, self._window[place])
            last_before = before.least_at(place)
            dropped = last_before + drop
            three, last_two = last_two + added, last_one + added
            last_one = last_kept + added
            last_kept = here if here <= dropped else dropped
            row.on.append(here)
            row.kept.append(last_kept)
            row.one.append(last_one)
            row.two.append(last_two)
            row.three.append(three)
            row.least.append(min(last_kept, last_one, last_two, three))
        return row

    def _run(self) -> None:
        size, end = len(self._asked.elements), len(self._window) - 1
        row = _Row(0, [], [], [], [], [], [])
        for index in range(size):
            final = self._final(index, row, end) + self._after[index + 1]
            if final < self.weight:
                self.weight, self._ending = final, index
            places = self._reachable(index, row)
            if not places:
                break
            row = self._row(index, row, places)
            self._rows.append(row)

    def _reachable(self, index: int, before: _Row) -> range:
        """The places on which the last note used can be, when elements up to ``index`` have been."""
        fine = [before.first + place for place, weight in enumerate(before.least) if weight <= self._most]
        if self._begins and self._begun(index, self._begins - 1) <= self._most:
            fine += [0, self._begins - 1]
        if not fine:
            return range(0)
        return range(min(fine), min(max(fine) + 2 + MOST_ADDED, len(self._window)))

    def _final(self, index: int, before: _Row, end: int) -> int:
        """The weight of ending with an element on the last note of the window; one note alone is no occurrence."""
        reached = before.least_at(end - 1) if end and not self._starts[end] else NEVER
        return reached + self._weigh(index, self._window[end]) if reached < NEVER else NEVER

    def pairs(self) -> tuple[tuple[int, int], ...]:
        """The pairs of the cheapest way that ends on the last note."""
        index, place = self._ending, len(self._window) - 1
        found = [(index, self._window[place])]
        is_last = True
        while True:
            may_go_on = index and place and not self._starts[place]
            reached = self._rows[index - 1].least_at(place - 1) if may_go_on else NEVER
            if (reached > self._begun(index, place) and not is_last) or reached >= NEVER:
                return tuple(reversed(found))
            index, place = self._back(index - 1, place - 1)
            found.append((index, self._window[place]))
            is_last = False

    def _back(self, index: int, place: int) -> tuple[int, int]:
        """The pair before: the last element that stands on a note, when elements up to ``index`` have been used."""
        while True:
            row = self._rows[index]
            at = place - row.first
            ways = (row.kept[at], row.one[at], row.two[at], row.three[at])
            back = ways.index(min(ways))
            place, at = place - back, at - back
            if row.on[at] <= row.kept[at]:
                return index, place
            index -= 1


def reach_of(asked: Sought, most_parts: int) -> int:
    """The most notes that an occurrence of a price can cover."""
    cheapest = min(asked.ornament_parts.values())
    added = MOST_ADDED * (len(asked) - 1)
    if cheapest:
        added = min(added, most_parts // cheapest)
    return len(asked) + added


def window_of(asked: Sought, notes: Notes, end: int, most_parts: int) -> range:
    """The notes that an occurrence that ends on note ``end`` can reach back to."""
    begin = max(0, end - reach_of(asked, most_parts) + 1)
    first = end
    while first > begin and not notes.starts[first]:
        first -= 1
    return range(first, end + 1)


def least_weights(asked: Sought, notes: Notes, shift: int) -> Weigh:
    """What elements weigh on notes when octaves and letters are left out."""
    costs = [[weight_of(parts) if parts else 0 for parts in parts_of_one] for parts_of_one in asked.all_least_costs]

    def weigh(index: int, place: int) -> int:
        found = notes.classes[place]
        return NEVER if found < 0 else costs[index][(found - shift) % len(costs[index])]

    return weigh


class Judge:
    """What pairs really weigh, octaves and letters included, under one transposition of the whole figure.

    ``base`` is the transposition in semitones (letter names in the letter alphabet), ``letter`` that of the letters
    modulo 7.
    """

    def __init__(self, asked: Sought, notes: Notes, base: int, letter: int) -> None:
        self._asked, self._notes, self._base, self._letter = asked, notes, base, letter
        prices = asked.prices
        self._octave = weight_of(prices.parts("octave")) if prices.octave else 0
        self._known: dict[tuple[int, int | None, int], int] = {}
        self._another, self._resolved = (weight_of(asked.other_parts(index)) for index in (-1, len(asked) - 1))
        # What a note in its place costs, and one a half-step off, by whether its letter fits.
        self._placed = {
            (is_near, fits): weight_of(parts) if parts or is_near else 0
            for is_near in (False, True)
            for fits in (False, True)
            for parts in (asked.note_parts(is_near, fits, letter),)
        }

    def weigh(self, index: int, place: int) -> int:
        """What an element weighs on a note."""
        if self._notes.classes[place] < 0:
            return NEVER
        key = (index, self._notes.pitches[place], self._notes.positions[place])
        if key not in self._known:
            self._known[key] = self._weight(index, place)
        return self._known[key]

    def _weight(self, index: int, place: int) -> int:
        asked, notes = self._asked, self._notes
        element = asked.elements[index]
        if asked.alphabet == "letter":
            octaves, rest = divmod(notes.positions[place] - (element.position or 0) - self._base + 3, 7)
            rest -= 3
        else:
            octaves, rest = divmod((notes.pitches[place] or 0) - (element.pitch or 0) - self._base + 5, 12)
            rest -= 5
        displaced = self._octave if octaves and element.octave_counts else 0
        is_resolved = index == len(asked) - 1 and abs(rest) <= asked.resolving
        other = self._resolved if is_resolved else self._another
        if rest == 0 or (asked.alphabet == "pitch" and abs(rest) == 1):
            return min(self._placed[rest != 0, self._fits_letter(element, place)] + displaced, other)
        return other

    def _fits_letter(self, element: Element, place: int) -> bool:
        """Whether an element has the letter of a note."""
        return (self._notes.positions[place] - (element.position or 0) - self._letter) % 7 == 0


def heights_of(asked: Sought, notes: Notes, window: range) -> list[int]:
    """Pitches (staff positions in the letter alphabet) of the notes of a window that have one."""
    if asked.alphabet == "letter":
        return [notes.positions[j] for j in window if notes.classes[j] >= 0]
    return [notes.pitches[j] or 0 for j in window if notes.classes[j] >= 0]


def octaves_between(asked: Sought, lowest: int, highest: int, shift: int) -> range:
    """Octaves that a figure may be moved by, at one shift, to meet notes between two heights."""
    own = asked.heights
    if asked.alphabet == "letter":
        return range((lowest - max(own) - shift + 3) // 7, (highest - min(own) - shift + 3) // 7 + 1)
    return range((lowest - max(own) - shift + 5) // 12, (highest - min(own) - shift + 5) // 12 + 1)


def _transposed(asked: Sought, notes: Notes, window: range, shift: int, most: int) -> Alignment | None:
    """The cheapest alignment at one shift, octaves and letters included."""
    least = _Table(asked, notes, window, least_weights(asked, notes, shift), most)
    if least.weight > most:
        return None
    if asked.shifts == 1:
        return Alignment(least.weight >> PARTS_SHIFT, least.weight, least.pairs())
    heights = heights_of(asked, notes, window)
    octave = 7 if asked.alphabet == "letter" else 12
    best: Alignment | None = None
    for octaves in octaves_between(asked, min(heights), max(heights), shift):
        base = shift + octave * octaves
        for letter in asked.letter_shifts:
            table = _Table(asked, notes, window, Judge(asked, notes, base, letter).weigh, most)
            if table.weight <= most:
                found = Alignment(table.weight >> PARTS_SHIFT, table.weight, table.pairs(), base, letter)
                best = found if best is None else min(best, found, key=lambda a: rank(asked, notes, window[-1], a))
    return best


def rank(asked: Sought, notes: Notes, end: int, found: Alignment) -> tuple[int, int, int, int]:
    """What decides between alignments that end on the same note: the lowest is taken.

    Of two transpositions that put the last note a tritone off, the one below it: that one is tried whatever other
    notes are in reach, see ``octaves_between``.
    """
    if found.semitones is None:
        return found.weight, 0, 0, 0
    height = notes.positions[end] if asked.alphabet == "letter" else notes.pitches[end] or 0
    away = height - found.semitones - asked.heights[-1]
    return found.weight, abs(away), -away, letter_told(asked, notes.positions[end], found.letters or 0)


def letter_told(asked: Sought, position: int, letter: int) -> int:
    """A transposition of the letters as the letter of the last note less it; the same the other way round."""
    if not asked.letters_matter or letter == NO_LETTERS:
        return letter
    return (position - letter) % 7


def best_ending_on(asked: Sought, notes: Notes, end: int, most_parts: int) -> Alignment | None:
    """The cheapest alignment whose last element stands on note ``end``, or None above ``most_parts``.

    Every transposition is tried. Cost: elements times the notes in reach, for each of them.
    """
    if notes.classes[end] < 0:
        return None
    window = window_of(asked, notes, end, most_parts)
    most = heaviest(most_parts)
    found = [_transposed(asked, notes, window, shift, most) for shift in range(asked.shifts)]
    return min(filter(None, found), key=lambda a: rank(asked, notes, end, a), default=None)


def alignment_at(
    asked: Sought,
    notes: Notes,
    stretch: tuple[int, int],
    most_parts: int,
    base: int | None,
    letter: int | None,
    weight: int | None = None,
) -> Alignment:
    """The alignment from the first to the last note of a stretch where the cheapest one is known to stand, and how it
    is transposed; ``weight`` is what it weighs, where that is known.
    """
    window = range(stretch[0], stretch[1] + 1)
    weigh = least_weights(asked, notes, 0) if base is None else Judge(asked, notes, base, letter or 0).weigh
    if weight is None:
        table = _Table(asked, notes, window, weigh, heaviest(most_parts))
    else:
        # Nothing that begins later or weighs more can be a part of it.
        table = _Table(asked, notes, window, weigh, weight, begins=1)
    return Alignment(table.weight >> PARTS_SHIFT, table.weight, table.pairs(), base, letter)


def alignment_between(
    asked: Sought, notes: Notes, stretch: tuple[int, int], most_parts: int, base: int | None, letter: int | None
) -> Alignment | None:
    """The same where only the stretch and the transposition are known; None above ``most_parts``."""
    window = range(stretch[0], stretch[1] + 1)
    weigh = least_weights(asked, notes, 0) if base is None else Judge(asked, notes, base, letter or 0).weigh
    if _is_unchanged(asked, notes, window, weigh):
        return Alignment(0, len(window) - 1, tuple(enumerate(window)), base, letter)
    most = heaviest(most_parts)
    table = _Table(asked, notes, window, weigh, most, begins=1)
    if table.weight > most:
        return None
    return Alignment(table.weight >> PARTS_SHIFT, table.weight, table.pairs(), base, letter)


def _is_unchanged(asked: Sought, notes: Notes, window: range, weigh: Weigh) -> bool:
    """Whether each element stands on the note in its place and costs nothing: any other way would be a change."""
    if not 1 < len(window) == len(asked.elements) or any(notes.starts[window.start + 1 : window.stop]):
        return False
    return not any(weigh(index, place) for index, place in enumerate(window))
