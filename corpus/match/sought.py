"""A figure made ready for near search: its elements, what each costs against each note, what leaving it out costs.

An *element* is a note of the figure; where doubles are ignored it is a note with its immediate repeats, as a note of
the collapsed line is a note with its own. Elements and notes are compared by *class*:

======== =========================================================== ======= =====================================
alphabet class of a note                                             shifts  for figures of
======== =========================================================== ======= =====================================
pitch    pitch class, 0 to 11                                        12      notes, intervals, passages
letter   letter name, 0 to 6                                         7       steps; all others with mode ignored
degree   symbol of the degree reading                                1       degrees
role     symbol of the role reading                                  1       roles
contour  symbol of the contour reading                               1       contours
======== =========================================================== ======= =====================================

A shift is a transposition modulo the alphabet. The costs by class and shift never exceed the real ones, which know
octaves and letters too: they find candidates, ``corpus.match.alignment`` decides.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache, cached_property
from itertools import pairwise
from typing import Final, Literal

from corpus.errors import QueryError
from corpus.match.figure import Figure, Folds
from corpus.match.ornaments import ORNAMENTS, Ornament, ornaments_of
from corpus.match.pattern import letter_sizes
from corpus.match.prices import PARTS, Prices
from corpus.readings import BREAK

Alphabet = Literal["pitch", "letter", "degree", "role", "contour"]

MOST_ADDED: Final = 3
"""Most notes in a row that may be added between two notes of a figure."""
WIDEST_FIGURE: Final = 1000
"""Most semitones or letter names from the lowest to the highest note: about eight times what can be played."""
NO_LETTERS: Final = 7
"""Stands for a transposition of the letters that is not to be told."""
SYMBOLS: Final = "abcdefghijklmnopqrstuvwxyz0123456789"
"""Classes of the degree, role and contour alphabets: the place of their symbol here."""
CLASSES: Final = {"pitch": 12, "letter": 7, "degree": len(SYMBOLS), "role": len(SYMBOLS), "contour": len(SYMBOLS)}


@dataclass(frozen=True, slots=True)
class Element:
    """Notes ``first`` to ``first + count - 1`` of the figure, from 0: one, or one with its repeats.

    ``pitch`` and ``position`` are those of the note where the figure has them; ``octave_counts`` says whether its
    octave does; ``choices`` are the symbols that will do in the degree, role and contour alphabets.
    """

    first: int
    count: int
    pitch: int | None = None
    position: int | None = None
    octave_counts: bool = True
    choices: str = ""


@dataclass(frozen=True)
class Sought:
    """A figure with folds and prices. Costs are in thousandths of the price of another note."""

    figure: Figure
    folds: Folds
    prices: Prices
    alphabet: Alphabet
    elements: tuple[Element, ...]

    def __len__(self) -> int:
        return len(self.elements)

    @property
    def shifts(self) -> int:
        """How many transpositions the alphabet knows."""
        return {"pitch": 12, "letter": 7}.get(self.alphabet, 1)

    @property
    def is_collapsed(self) -> bool:
        """Whether notes are compared with their repeats as one."""
        return self.folds.doubles

    def most_parts(self, threshold: float) -> int:
        """The highest price, in thousandths, that a likeness of at least ``threshold`` allows."""
        return int((1 - threshold) * PARTS * len(self) + 1e-6)

    def likeness(self, parts: int) -> float:
        """The likeness of an occurrence with changes of this price: 1 - price / elements, at least 0."""
        return max(0.0, round(1 - parts / (PARTS * len(self)), 4))

    @cached_property
    def drop_parts(self) -> tuple[int, ...]:
        """What leaving out each element costs when it stands inside the figure."""
        least = self.prices.parts("left_out")
        parts = [(kind, self.prices.parts(kind)) for kind in self.element_ornaments]
        return tuple(price if kind == "doubled" else max(price, least) for kind, price in parts)

    @cached_property
    def edge_parts(self) -> tuple[int, ...]:
        """What each element costs when it is missing at the beginning or the end: a cut, but for a mere repeat."""
        return tuple(self.prices.parts("doubled" if k == "doubled" else "cut") for k in self.element_ornaments)

    @cached_property
    def element_ornaments(self) -> tuple[Ornament, ...]:
        """What each element is to those beside it; a figure without pitches knows nothing but repeats."""
        if self.alphabet == "contour":
            return tuple("doubled" if element.choices == "r" else "added" for element in self.elements)
        pitches = [element.pitch for element in self.elements if element.pitch is not None]
        if len(pitches) == len(self.elements):
            return tuple(ornaments_of(pitches))
        positions = [element.position for element in self.elements]
        is_repeat = [False, *(a is not None and a == b for a, b in pairwise(positions))]
        return tuple("doubled" if repeats else "added" for repeats in is_repeat)

    @cached_property
    def ornament_parts(self) -> dict[Ornament, int]:
        """What an added note costs by what it is."""
        return {kind: self.prices.parts(kind) for kind in ORNAMENTS}

    @cached_property
    def heights(self) -> tuple[int, ...]:
        """Pitches of the elements; staff positions in the letter alphabet."""
        found = [e.position if self.alphabet == "letter" else e.pitch for e in self.elements]
        return tuple(height for height in found if height is not None)

    @cached_property
    def letter_shifts(self) -> range:
        """How the letters may be transposed: by 0 to 6, or not to be told (``NO_LETTERS``); 0 where none matter.

        Where letters are told a note on another letter than the rest costs the difference between ``altered`` and
        ``half_step``, also one that is exact: so those that are exact decide how letters are transposed. Where they
        are not told every note a half-step off costs ``half_step``.
        """
        return range(NO_LETTERS + 1 if self.letters_matter else 1)

    @cached_property
    def letters_matter(self) -> bool:
        """Whether notes on another letter cost more."""
        prices = self.prices
        return self.alphabet == "pitch" and self.knows_letters and prices.altered < prices.half_step

    def note_parts(self, is_near: bool, fits: bool, letter: int) -> int:
        """What a note in its place, or a half-step off, costs, by whether its letter fits; octaves aside."""
        altered, half_step = self.prices.parts("altered"), self.prices.parts("half_step")
        if not self.letters_matter:
            return self.near_parts if is_near else 0
        if letter == NO_LETTERS:
            return half_step if is_near else 0
        return (altered if is_near else 0) + (0 if fits else half_step - altered)

    def other_parts(self, index: int, rest: int | None = None) -> int:
        """What another note in the place of an element costs.

        ``rest`` is how far it is, octaves aside, in semitones (letter names in the letter alphabet): a last note that
        is a step off is a figure resolved differently, one farther off is another note. Roles and degrees are all near.
        """
        another = self.prices.parts("another")
        is_last = index == len(self.elements) - 1
        if is_last and (rest is None or abs(rest) <= self.resolving):
            return min(another, self.prices.parts("resolved"))
        return another

    @property
    def resolving(self) -> int:
        """How far from its place a last note may be to be another resolution: a whole step."""
        return 1 if self.alphabet == "letter" else 2

    @cached_property
    def near_parts(self) -> int:
        """The least that a note a half-step away costs: one on the same letter, where letters are known."""
        altered, half_step = self.prices.parts("altered"), self.prices.parts("half_step")
        return min(altered, half_step) if self.knows_letters else altered

    @cached_property
    def knows_letters(self) -> bool:
        """Whether the elements of a figure of pitches have letters too."""
        return self.figure.positions is not None

    @cached_property
    def all_least_costs(self) -> tuple[tuple[int, ...], ...]:
        """The least that each class costs at shift 0, for every element."""
        return tuple(map(self.least_costs, range(len(self.elements))))

    def least_costs(self, index: int) -> tuple[int, ...]:
        """The least that each class costs for an element at shift 0, by class."""
        element = self.elements[index]
        if self.shifts == 1:
            return tuple(self._symbol_cost(element, symbol, self.other_parts(index)) for symbol in SYMBOLS)
        height = self.heights[index]
        half = self.shifts // 2
        rests = [(height_class - height + half) % self.shifts - half for height_class in range(self.shifts)]
        near = self.near_parts if self.alphabet == "pitch" else PARTS
        return tuple(
            0 if rest == 0 else min(near if abs(rest) == 1 else PARTS, self.other_parts(index, rest)) for rest in rests
        )

    def _symbol_cost(self, element: Element, symbol: str, other: int) -> int:
        if symbol in element.choices:
            return 0
        if self.alphabet == "contour":
            return other
        beside = {(semitones_of(self.alphabet, choice) + way) % 12 for choice in element.choices for way in (1, -1)}
        is_beside = symbol != BREAK and semitones_of(self.alphabet, symbol) in beside
        return min(self.prices.parts("altered"), other) if is_beside else other


def semitones_of(alphabet: Alphabet, symbol: str) -> int:
    """Semitones above the root or tonic of a symbol of the role or degree reading."""
    return SYMBOLS.index(symbol) % 12 if alphabet == "degree" else _role_semitones()[symbol]


@cache
def _role_semitones() -> dict[str, int]:
    from corpus.harmony.role_symbols import parse_role

    names = ("1", "b9", "9", "#9", "3", "11", "#11", "5", "b13", "13", "b7", "7")
    return {symbol: semitones for semitones, name in enumerate(names) for symbol in parse_role(name).symbols}


def _usual_positions(pitches: Sequence[int]) -> tuple[int, ...]:
    positions = [0]
    for before, pitch in pairwise(pitches):
        sizes = letter_sizes(pitch - before)
        if len(sizes) > 1:
            raise QueryError(
                "a tritone may span a fourth or a fifth of letters: to ignore mode in a near search, ask with --notes"
            )
        positions.append(positions[-1] + sizes[0])
    return tuple(positions)


def _elements_of_choices(figure: Figure, is_collapsed: bool) -> tuple[Element, ...]:
    if figure.contour is None:
        return tuple(Element(index, 1, choices=symbols) for index, symbols in enumerate(figure.choices))
    contour = figure.contour
    starts = [index for index in range(len(contour)) if not (is_collapsed and contour[index] == "r")]
    # Repeats before the first move belong to it.
    ends = [*starts[1:], len(contour)]
    return tuple(Element(i, end - i, choices=contour[i]) for i, end in zip(starts, ends, strict=False))


def sought(figure: Figure, folds: Folds, prices: Prices) -> Sought:
    """A figure made ready.

    Raises QueryError where a near search makes no sense for the figure or the folds.
    """
    if figure.approaches:
        raise QueryError("an approach is something that a note does: --near needs degrees or kinds of notes")
    if any(figure.roles):
        raise QueryError("--near compares either degrees of the key or kinds of notes: leave chord, scale, outside out")
    if figure.contour is not None or figure.reading is not None:
        if folds.octaves and figure.contour is not None:
            raise QueryError("a contour says only up, down or repeat: octaves cannot be ignored in it")
        if folds.mode:
            raise QueryError(f"{figure.text!r} has no letters: --ignore mode makes no sense with it")
        alphabet: Alphabet = "contour" if figure.contour is not None else figure.reading or "role"
        elements = _elements_of_choices(figure, folds.doubles)
        if not elements:
            raise QueryError(f"nothing but one repeated note is left of {figure.text!r} when doubles are ignored")
        if len(elements) < 2:
            raise QueryError(f"{figure.text!r} is too short to be found in disguise: leave --near out, or say more")
        return Sought(figure, folds, prices.under(folds), alphabet, elements)
    by_letter = folds.mode or figure.pitches is None
    positions = figure.positions
    if by_letter and positions is None:
        assert figure.pitches is not None
        positions = _usual_positions(figure.pitches)
    starts = figure.run_starts() if folds.doubles else list(range(len(figure)))
    elements = tuple(
        Element(
            first,
            end - first,
            None if figure.pitches is None else figure.pitches[first],
            None if positions is None else positions[first],
            figure.octave_known[first] and not folds.octaves,
        )
        for first, end in zip(starts, [*starts[1:], len(figure)], strict=True)
    )
    if len(elements) < 2:
        raise QueryError(f"nothing but one repeated note is left of {figure.text!r} when doubles are ignored")
    found = Sought(figure, folds, prices.under(folds), "letter" if by_letter else "pitch", elements)
    width = max(found.heights) - min(found.heights)
    if width > WIDEST_FIGURE:
        unit = "letter names" if by_letter else "semitones"
        raise QueryError(
            f"the figure spans {width:,} {unit}, which no line does: near search takes up to {WIDEST_FIGURE:,}"
        )
    return found
