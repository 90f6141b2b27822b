"""From a figure and its folds to a text that one reading must contain.

Every fold chooses a reading in which the ignored difference is invisible; what the reading cannot show (a leap wider
than an octave, notes of which only some have an octave) is left to verification on the notes.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import product
from operator import sub

from corpus.errors import QueryError
from corpus.match.figure import Figure, Folds
from corpus.readings import BREAK, OVERFLOW, ReadingName, folded_symbol, letter_symbol, signed_symbol

_LETTERS_OF_SEMITONES = ((0,), (1,), (1,), (2,), (2,), (3,), (3, 4), (4,), (5,), (5,), (6,), (6,))
"""Letter names that an interval of so many semitones usually spans; the tritone is a fourth or a fifth."""
_MOST_TEXTS = 32


@dataclass(frozen=True, slots=True)
class Pattern:
    """What a reading must contain: for each note after the figure's first the symbols that will do.

    Roles and degrees say what a note is, not how it follows the one before, so their symbols begin with the first
    note (``lead`` 0, else 1). ``figure`` is what remains of the figure under the folds, for verification;
    ``needs_notes`` says whether the text alone does not decide.
    """

    reading: ReadingName
    is_collapsed: bool
    symbols: tuple[str, ...]
    figure: Figure
    folds: Folds
    needs_notes: bool
    lead: int = 1

    def texts(self) -> list[str]:
        """Plain texts of which every match contains at least one, at most 32 of them, for an index to look up.

        They are those of the longest stretch of symbols with so few of them; none ([""]) where every stretch has more.
        """
        best: tuple[str, ...] = ()
        for start in range(len(self.symbols)):
            stretch = 1
            end = start
            while end < len(self.symbols) and stretch * len(self.symbols[end]) <= _MOST_TEXTS:
                stretch *= len(self.symbols[end])
                end += 1
            best = max(best, self.symbols[start:end], key=len)
        return ["".join(choice) for choice in product(*best)]

    def places(self, text: str) -> Iterator[int]:
        """Indexes of the first note of every match in a reading's text, overlapping ones included."""
        lead = self.symbols[0]
        plain = "".join(self.symbols) if all(len(choice) == 1 for choice in self.symbols) else None
        if plain is not None:
            start = text.find(plain)
            while start >= 0:
                yield start - self.lead
                start = text.find(plain, start + 1)
            return
        for start in range(len(text) - len(self.symbols) + 1):
            if text[start] in lead and all(
                symbol in choice for symbol, choice in zip(text[start:], self.symbols, strict=False)
            ):
                yield start - self.lead

    def is_whole(self, place: int, intervals: str, movements: str, roles: str) -> bool:
        """Whether a match of roles or degrees at a note crosses no break, and is of the classes asked for.

        ``intervals``, ``movements`` and ``roles`` are readings of the same line; the other readings show breaks
        themselves.
        """
        if self.lead == 1:
            return True
        from corpus.harmony.role_symbols import APPROACH_SYMBOLS

        if BREAK in intervals[place + 1 : place + len(self.symbols)]:
            return False
        if not all(movements[place + index] in APPROACH_SYMBOLS for index in self.figure.approaches):
            return False
        return all(roles[place + index] in wanted for index, wanted in enumerate(self.figure.roles) if wanted)


def _differences(values: Sequence[int]) -> list[int]:
    return list(map(sub, values[1:], values))


def letter_sizes(semitones: int) -> list[int]:
    """Letter names that an interval of so many semitones usually spans, signed; two for a tritone."""
    octaves, rest = divmod(abs(semitones), 12)
    sizes = [7 * octaves + letters for letters in _LETTERS_OF_SEMITONES[rest]]
    return sizes if semitones >= 0 else [-size for size in sizes]


def pattern_of(figure: Figure, folds: Folds) -> Pattern:
    """The pattern of a figure under folds.

    Raises QueryError when a fold makes no sense for the figure, or leaves a single note of it.
    """
    if folds.doubles:
        figure = figure.without_doubles()
        if len(figure) < 2:
            raise QueryError(f"nothing but one repeated note is left of {figure.text!r} when doubles are ignored")
    if figure.reading is not None:
        if folds.mode:
            raise QueryError(f"a figure of {figure.reading}s has no letters: --ignore mode makes no sense with it")
        return Pattern(figure.reading, folds.doubles, figure.choices, figure, folds, needs_notes=False, lead=0)
    if figure.contour is not None:
        if folds.octaves:
            raise QueryError("a contour says only up, down or repeat: octaves cannot be ignored in it")
        return Pattern("contour", folds.doubles, tuple(figure.contour), figure, folds, needs_notes=False)
    all_known = all(figure.octave_known)
    any_octave = folds.octaves or not all_known
    # With some octaves given and others not, the reading without octaves finds candidates and the notes decide.
    needs_notes = not folds.octaves and not all_known and sum(figure.octave_known) > 1
    if folds.mode or figure.pitches is None:
        name: ReadingName = "letter" if any_octave else "step"
        symbol_of = letter_symbol if any_octave else signed_symbol
        if figure.positions is not None:
            symbols = tuple(symbol_of(size) for size in _differences(figure.positions))
        else:
            assert figure.pitches is not None
            symbols = tuple("".join(map(symbol_of, letter_sizes(size))) for size in _differences(figure.pitches))
    else:
        name = "folded" if any_octave else "interval"
        symbol_of = folded_symbol if any_octave else signed_symbol
        symbols = tuple(symbol_of(size) for size in _differences(figure.pitches))
    needs_notes = needs_notes or any(OVERFLOW in choice for choice in symbols)
    return Pattern(name, folds.doubles, symbols, figure, folds, needs_notes)
