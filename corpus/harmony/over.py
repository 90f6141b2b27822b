"""Asking for a progression: ``ii V I``, with alternatives and gaps, in any key and at any speed.

Grammar: numerals (``corpus.harmony.numerals``) with spaces between them; ``V|subV`` is either; ``*`` is any one chord.
A chord that is only written again counts once. All chords of a match lie in one local key.

For searching, the functions of a chart are kept as text, one symbol a chord: root above the tonic, quality and target
in one character. ``~`` stands where the key changes and for what is no chord, so that no match crosses it. Beside it
stand the indexes of the chords that each function begins with, so that a match finds its place in the line.
"""

import re
from bisect import bisect_right
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Final

from corpus.errors import QueryError
from corpus.harmony.levels import LevelSpan
from corpus.harmony.numerals import Numeral, NumeralPattern, Quality, numeral_pattern
from corpus.model import ChordSpan

BREAK: Final = "~"
ANYTHING: Final = "*"
LONGEST_PROGRESSION: Final = 32
# 12 roots, 8 qualities, 12 targets or none: 1,248 symbols, one character each in a range of letters beyond ASCII.
_FIRST_SYMBOL: Final = 0x100
_QUALITIES: Final = tuple(Quality)
_TARGETS: Final = 13


def _first_symbol(root_semitones: int, quality: Quality) -> int:
    """The code of a function without target; those with the targets 0 to 11 follow it."""
    return _FIRST_SYMBOL + (8 * root_semitones + _QUALITIES.index(quality)) * _TARGETS


def function_symbol(numeral: Numeral | None) -> str:
    """The symbol of a function."""
    if numeral is None:
        return BREAK
    target = 0 if numeral.of is None else 1 + numeral.of.root_semitones
    return chr(_first_symbol(numeral.root_semitones, numeral.quality) + target)


def _symbol_class(step: tuple[NumeralPattern, ...] | None) -> str:
    """A regular expression for the symbols that answer a step."""
    if step is None:
        return f"[^{BREAK}\n]"
    ranges = []
    for choice in step:
        for quality in sorted(choice.qualities):
            first = _first_symbol(choice.root_semitones, quality)
            if choice.target_semitones is None:
                ranges.append(f"{chr(first)}-{chr(first + _TARGETS - 1)}")
            else:
                ranges.append(chr(first + 1 + choice.target_semitones))
    return f"[{''.join(ranges)}]"


@dataclass(frozen=True, slots=True)
class FunctionText:
    """The functions of a line as text, and for each symbol the index of the chord symbol that it begins with."""

    text: str
    chord_indexes: tuple[int, ...]

    @classmethod
    def of(cls, spans: Sequence[LevelSpan]) -> "FunctionText":
        """The text of a chart at some level; a chord that is only written again is joined to the one before."""
        symbols: list[str] = []
        indexes: list[int] = []
        before: LevelSpan | None = None
        for span in spans:
            if before is not None and before.end_ticks == span.onset_ticks and before.key == span.key:
                if before.numeral == span.numeral:
                    before = span
                    continue
            elif before is not None:
                symbols.append(BREAK)
                indexes.append(span.chords[0])
            symbols.append(function_symbol(span.numeral))
            indexes.append(span.chords[0])
            before = span
        return cls("".join(symbols), tuple(indexes))

    def symbol_at(self, chord_index: int) -> str:
        """The function in force at a chord symbol, a break before the first."""
        place = bisect_right(self.chord_indexes, chord_index) - 1
        return self.text[place] if place >= 0 else BREAK

    def stretch(self, start: int, steps: int, chords: Sequence[ChordSpan]) -> tuple[int, int, int]:
        """Ticks at which ``steps`` functions from ``start`` begin and end, and at which the last of them begins."""
        following = start + steps
        last_onset = chords[self.chord_indexes[following - 1]].onset_ticks
        if following < len(self.chord_indexes):
            return (
                chords[self.chord_indexes[start]].onset_ticks,
                chords[self.chord_indexes[following]].onset_ticks,
                last_onset,
            )
        return chords[self.chord_indexes[start]].onset_ticks, chords[-1].end_ticks, last_onset


@dataclass(frozen=True)
class Progression:
    """A progression asked for: for each chord its alternatives, or None for any chord."""

    text: str
    steps: tuple[tuple[NumeralPattern, ...] | None, ...]

    def __len__(self) -> int:
        return len(self.steps)

    @cached_property
    def regex(self) -> re.Pattern[str]:
        """Matches where the progression stands in a function text."""
        return re.compile("".join(map(_symbol_class, self.steps)))

    def places(self, text: str) -> Iterator[int]:
        """Indexes of the symbols at which the progression begins, overlapping places included."""
        match = self.regex.search(text)
        while match is not None:
            yield match.start()
            match = self.regex.search(text, match.start() + 1)


@dataclass(frozen=True)
class FunctionChoice:
    """One chord asked for, with its alternatives (``V|subV``)."""

    text: str
    step: tuple[NumeralPattern, ...]

    @cached_property
    def regex(self) -> re.Pattern[str]:
        """Matches one symbol that answers."""
        return re.compile(_symbol_class(self.step))

    def matches(self, symbol: str) -> bool:
        """Whether a function's symbol answers."""
        return self.regex.fullmatch(symbol) is not None


def parse_function(text: str) -> FunctionChoice:
    """Read one function with its alternatives. Raises QueryError."""
    progression = parse_progression(text)
    if len(progression) != 1 or progression.steps[0] is None:
        raise QueryError(f"{text!r} is not one function: write a numeral, or alternatives such as V|subV")
    return FunctionChoice(progression.text, progression.steps[0])


def parse_progression(text: str) -> Progression:
    """Read a progression. Raises QueryError for an unknown numeral, or none or more than 32 chords."""
    steps: list[tuple[NumeralPattern, ...] | None] = []
    for word in re.split(r"[\s,–—]+|(?<=\w)-(?=[IViv#b])", text.strip()):
        if not word:
            continue
        if word == ANYTHING:
            steps.append(None)
            continue
        choices = word.split("|")
        if "" in choices or ANYTHING in choices:
            raise QueryError(f"progression {text!r}: {word!r} is no choice of numerals: write V|subV, or * alone")
        steps.append(tuple(numeral_pattern(choice) for choice in choices))
    if not steps or all(step is None for step in steps):
        raise QueryError(f"progression {text!r} names no chord: write numerals, as in 'ii V I'")
    if len(steps) > LONGEST_PROGRESSION:
        raise QueryError(f"a progression of {len(steps)} chords is too long: at most {LONGEST_PROGRESSION}")
    return Progression(text.strip(), tuple(steps))
