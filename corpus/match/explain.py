"""From an alignment to its changes: what was done to the figure, note by note, and in words."""

from collections import Counter
from collections.abc import Iterator
from dataclasses import replace
from fractions import Fraction
from functools import cached_property
from itertools import groupby, pairwise
from math import gcd

from corpus.match import change_words as words
from corpus.match.alignment import Alignment, Notes
from corpus.match.changes import Change, groups_of, shares
from corpus.match.links import Link, links_of, spans
from corpus.match.sought import NO_LETTERS, Sought
from corpus.model import Transcription
from corpus.pitch import parse_spelling


class Explained:
    """An alignment in a transcription: the notes it covers, its transposition and its changes."""

    def __init__(self, asked: Sought, notes: Notes, alignment: Alignment, transcription: Transcription) -> None:
        self._asked, self._notes, self._line = asked, notes, transcription
        self._used = [index for index, _ in alignment.pairs]
        self._links = links_of(asked, notes, alignment)
        # A symbol of the contour says how a note follows the one before.
        self.first = self._links[0].notes[0] - (asked.alphabet == "contour")
        self.last = self._links[-1].notes[-1]
        self.transposed = self._transposition(alignment)
        self._letters = alignment.semitones if asked.alphabet == "letter" else self._letters_of_exact_notes(alignment)

    @property
    def _by_position(self) -> bool:
        """Whether heights are letter names, since the figure has no pitches."""
        return self._asked.figure.pitches is None

    def _height(self, note: int) -> int:
        """The pitch of a note of the line, or its staff position."""
        found = self._line.notes[note]
        return parse_spelling(found.spelling).staff_position if self._by_position else found.pitch or 0

    def _away(self, link: Link) -> int:
        """How far a note of the line is from its element, in semitones (letter names)."""
        height = link.element.position if self._by_position else link.element.pitch
        assert height is not None
        return self._height(link.notes[0]) - height

    def _transposition(self, alignment: Alignment) -> int | None:
        """Semitones (letter names) of the whole; in the letter alphabet those of most notes on their letters."""
        if self._asked.alphabet != "letter" or self._by_position:
            return alignment.semitones
        away: Counter[int] = Counter()
        for link in self._links:
            letters = self._notes.positions[link.place] - (link.element.position or 0) - (alignment.semitones or 0)
            if letters % 7 == 0:
                away[self._away(link) - 12 * (letters // 7)] += 1
        return min(away, key=lambda semitones: (-away[semitones], abs(semitones), semitones)) if away else 0

    def _letters_of_exact_notes(self, alignment: Alignment) -> int:
        """How most notes in their places transpose the letters; as the price was counted where they do not tell."""
        if self._asked.alphabet != "pitch" or not self._asked.knows_letters:
            return 0
        counts: Counter[int] = Counter()
        for link in self._links:
            if (self._away(link) - (self.transposed or 0)) % 12 == 0:
                counts[(self._notes.positions[link.place] - (link.element.position or 0)) % 7] += 1
        told = alignment.letters if alignment.letters != NO_LETTERS else None
        return max(counts, key=lambda letter: (counts[letter], letter == told, -letter), default=told or 0)

    def changes(self) -> tuple[Change, ...]:
        """All changes, in the order in which a musician would name them."""
        if self._asked.alphabet not in ("pitch", "letter"):
            return (*self._other_symbols(), *self._repeats(), *self._added(), *self._missing())
        heights = (*self._octaves_and_notes(), *self._repeats(), *self._added(), *self._missing())
        return (*self._rhythm_changes(heights), *heights)

    def _missing(self) -> Iterator[Change]:
        """Elements cut at the ends, then those left out inside."""
        elements, kinds = self._asked.elements, self._asked.element_ornaments
        if len(self._used) == len(elements):
            return
        offset = 2 if self._asked.alphabet == "contour" else 1
        there = {number for link in self._links for number in link.numbers}
        missing = {
            index: numbers
            for index, element in enumerate(elements)
            if not there & set(numbers := tuple(range(element.first + offset, element.first + element.count + offset)))
        }
        for is_start in (True, False):
            cut = [index for index in missing if (index < self._used[0] if is_start else index > self._used[-1])]
            notes = tuple(number for index in cut for number in missing[index])
            if notes:
                yield Change("cut", notes, words=words.cut(len(notes), is_start))
        inside = [index for index in missing if self._used[0] < index < self._used[-1]]
        # A note that is left out with its repeats is one thing left out.
        begins = [index for index in inside if kinds[index] != "doubled" or index - 1 not in inside]
        for begin, end in pairwise([*begins, len(elements)]):
            numbers = tuple(number for index in inside if begin <= index < end for number in missing[index])
            yield Change("left out", numbers, how=kinds[begin], words=words.left_out(numbers, kinds[begin]))

    def _other_symbols(self) -> Iterator[Change]:
        for index, link in zip(self._used, self._links, strict=True):
            if self._asked.least_costs(index)[self._notes.classes[link.place]]:
                note = self._line.notes[link.notes[0]]
                yield Change(
                    "replaced", link.numbers, words=words.other_symbol(self._asked.alphabet, link.numbers, note)
                )

    def _octaves_and_notes(self) -> Iterator[Change]:
        octaves, changes = [], []
        for index, link in zip(self._used, self._links, strict=True):
            displaced, change = self._one_note(link, index == len(self._asked.elements) - 1)
            octaves.append(displaced)
            if change is not None:
                changes.append(change)
        size = len(self._links)
        for amount, run in groupby(range(size), key=octaves.__getitem__):
            places = list(run)
            if amount:
                links = [self._links[place] for place in places]
                numbers = tuple(number for link in links for number in link.numbers)
                counts = any(link.element.octave_counts for link in links) or self._asked.folds.octaves
                says = words.octave(numbers, amount, numbers[0] == 1, places[-1] == size - 1) if counts else ""
                yield Change("octave", numbers, (amount,), words=says)
        yield from words.with_mode(changes)

    def _one_note(self, link: Link, is_last: bool) -> tuple[int, Change | None]:
        """Octaves that one note is displaced, and what else was done to it."""
        away = self._away(link) - (self.transposed or 0)
        numbers, note = link.numbers, self._line.notes[link.notes[0]]
        octave, half, unit = (7, 3, "letters") if self._by_position else (12, 5, "semitones")
        octaves, rest = divmod(away + half, octave)
        rest -= half
        if rest == 0:
            return octaves, None
        if not self._by_position and self._is_altered(link, rest):
            degree = words.degree_of(self._line, link.notes[0])
            return octaves, Change("altered", numbers, (rest,), words=words.altered(numbers, rest, degree))
        return 0, Change("replaced", numbers, (away,), words=words.replaced(numbers, away, is_last, unit, note))

    def _is_altered(self, link: Link, rest: int) -> bool:
        if self._asked.alphabet == "pitch" and abs(rest) != 1:
            return False
        position = link.element.position
        if position is None:
            return True
        return (self._notes.positions[link.place] - position - (self._letters or 0)) % 7 == 0

    def _repeats(self) -> Iterator[Change]:
        changed = [link for link in self._links if link.more]
        says = words.repeats([(link.numbers, len(link.notes)) for link in changed], len(self._links))
        for link, text in zip(changed, says, strict=True):
            yield Change("repeats", link.numbers, (len(link.notes),), words=text)

    def _added(self) -> Iterator[Change]:
        has_heights = self._asked.alphabet in ("pitch", "letter")
        for link, after, between in zip(self._links, self._links[1:], spans(self._links), strict=False):
            if not between:
                continue
            kinds = [
                self._notes.ornaments[place]
                for place in range(link.place, after.place)
                if self._notes.firsts[place] in between
            ]
            heights = [self._height(note) for note in (between[0] - 1, *between)] if has_heights else []
            sizes = tuple(b - a for a, b in pairwise(heights))
            names = [self._line.notes[note].spelling for note in between]
            number = link.numbers[-1]
            yield Change("added", (number,), sizes, " ".join(kinds), words.added(kinds, names, number))

    @cached_property
    def _gaps(self) -> tuple[list[int], list[int]]:
        """Ticks from each link to the next, in the figure and in the line."""
        onsets = self._asked.figure.onsets
        assert onsets is not None
        wanted = [onsets[b.numbers[0] - 1] - onsets[a.numbers[0] - 1] for a, b in pairwise(self._links)]
        found = [self._onset(b.notes[0]) - self._onset(a.notes[0]) for a, b in pairwise(self._links)]
        return wanted, found

    def _onset(self, note: int) -> int:
        return self._line.notes[note].onset_ticks

    def pace(self) -> Fraction:
        """The factor by which most of the figure is stretched; 1 where no factor holds for more than half."""
        return self._pace

    @cached_property
    def _pace(self) -> Fraction:
        # Counted as pairs without common factor: to make a fraction of each takes many times as long.
        paces = Counter((found // (common := gcd(found, wanted)), wanted // common)
                        for wanted, found in zip(*self._gaps, strict=True))  # fmt: skip
        pace, count = paces.most_common(1)[0] if paces else ((1, 1), 0)
        return Fraction(*pace) if 2 * count > paces.total() else Fraction(1)

    def uneven(self) -> list[int]:
        """Notes of the figure that do not last as long as the pace tells."""
        pace = self.pace()
        gaps = zip(self._links, *self._gaps, strict=False)
        return [link.numbers[0] for link, wanted, found in gaps if found * pace.denominator != wanted * pace.numerator]

    def _rhythm_changes(self, others: tuple[Change, ...]) -> Iterator[Change]:
        if self._asked.figure.onsets is None:
            return
        pace = self.pace()
        if pace != 1:
            yield Change("stretched", amounts=(pace.numerator, pace.denominator), words=words.stretched(pace))
        yield from self._shift()
        rhythm = list(self._other_lengths(pace, others))
        if rhythm:
            yield replace(rhythm[0], words=words.rhythm(self.uneven()))
        yield from rhythm[1:]

    def _other_lengths(self, pace: Fraction, others: tuple[Change, ...]) -> Iterator[Change]:
        """Notes whose time is not shared as the pace and the other changes tell."""
        onsets = [self._onset(note) for note in range(self.first, self.last + 1)]
        gaps = [*(b - a for a, b in pairwise(onsets)), 0]
        begin = 0
        for group in groups_of(self._asked.figure, 0, others):
            found = gaps[begin : begin + len(group.heights)]
            begin += len(group.heights)
            try:
                expected = shares(group.gap, pace, len(found))
            except ValueError:
                expected = []
            if found != expected:
                yield Change("rhythm", group.notes[:1], tuple(found))

    def _shift(self) -> Iterator[Change]:
        figure, bar = self._asked.figure, self._line.bar_of(self.first)
        if figure.beat is None or figure.meter != bar.meter or self._used[0] > 0:
            return
        beats = bar.meter.numerator
        later = (self._line.beat_of(self.first) - figure.beat) % beats
        later = later - beats if 2 * later > beats else later
        if later:
            yield Change("shifted", amounts=(later.numerator, later.denominator), words=words.shifted(later))
