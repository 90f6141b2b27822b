"""Asking for a progression: ``ii V I``, with alternatives and gaps, in any key and at any speed.

Grammar: numerals (``corpus.harmony.numerals``) with spaces between them; ``V|subV`` is either; ``*`` is any one chord.
A chord that is only written again counts once. All chords of a match lie in one local key; a progression with a
cadence (``ii V I``) may also aim at another degree of that key than its tonic, as ``ii/IV V/IV IV`` does.

For searching, the functions of a chart are kept as text, one symbol a chord: root above the tonic, quality and target
in one character. ``~`` stands where the key changes and for what is no chord, so that no match crosses it. Beside it
stand the indexes of the chords that each function begins with, so that a match finds its place in the line, and the
functions under which no note starts, so that places can be counted without their notes.
"""

import re
from bisect import bisect_left, bisect_right
from collections.abc import Container, Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise
from typing import Final

from corpus.errors import QueryError
from corpus.harmony.levels import LevelSpan
from corpus.harmony.numerals import Numeral, NumeralPattern, Quality, numeral_pattern
from corpus.harmony.symbols import read_symbol
from corpus.model import ChordSpan

BREAK: Final = "~"
SILENT: Final = "-"
_SOUNDING: Final = "."
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


def _symbols(choice: NumeralPattern, tonic: int) -> str:
    """The symbols that answer a numeral counted from a degree so many semitones above the local tonic.

    Counted from another degree than the tonic, a dominant must aim at it (``V/ii``), and the chord on it must not be a
    dominant itself; the chords before may be heard either way (``ii/IV``, or the vi that stands there).
    """
    ranges = []
    for quality in sorted(choice.qualities):
        first = _first_symbol((choice.root_semitones + tonic) % 12, quality)
        aimed = chr(first + 1 + tonic)
        if choice.target_semitones is not None:
            ranges.append(chr(first + 1 + choice.target_semitones))
        elif tonic == 0:
            ranges.append(f"{chr(first)}-{chr(first + _TARGETS - 1)}")
        elif _is_dominant(choice.root_semitones, quality):
            ranges.append(aimed)
        elif choice.root_semitones != 0 or quality is not Quality.DOMINANT:
            ranges.append(chr(first) + (aimed if choice.root_semitones else ""))
    return "".join(ranges)


def _is_dominant(root_semitones: int, quality: Quality) -> bool:
    """Whether a chord is a V or its tritone substitute."""
    if root_semitones == 7:
        return quality in (Quality.DOMINANT, Quality.SUSPENDED, Quality.AUGMENTED, Quality.MAJOR)
    return root_semitones == 1 and quality is Quality.DOMINANT


def _symbol_class(step: tuple[NumeralPattern, ...] | None, *tonics: int) -> str:
    """A regular expression for the symbols that answer a step, counted from any of the degrees given."""
    if step is None:
        return f"[^{BREAK}\n]"
    symbols = "".join(_symbols(choice, tonic) for tonic in tonics for choice in step)
    return f"[{symbols}]" if symbols else "[^\\s\\S]"


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

    def silences(self, chords: Sequence[ChordSpan], onsets: Sequence[int]) -> str:
        """``SILENT`` for each function under which no note starts, a dot for the others; empty when there are none.

        ``onsets`` are those of the line's notes in ticks, in order.
        """
        marks = []
        for index in range(len(self.text)):
            start, end, _ = self.stretch(index, 1, chords)
            marks.append(SILENT if bisect_left(onsets, start) == bisect_left(onsets, end) else _SOUNDING)
        return (
            "".join(marks)
            if any(mark == SILENT and s != BREAK for mark, s in zip(marks, self.text, strict=True))
            else ""
        )

    def stretch(self, start: int, steps: int, chords: Sequence[ChordSpan]) -> tuple[int, int, int]:
        """Ticks at which ``steps`` functions from ``start`` begin and end, and at which the last of them begins."""
        following = start + steps
        end = chords[-1].end_ticks
        if following < len(self.chord_indexes):
            end = chords[self.chord_indexes[following]].onset_ticks
        last_onset = chords[self.chord_indexes[following - 1]].onset_ticks
        return chords[self.chord_indexes[start]].onset_ticks, end, last_onset

    def begins_evenly(self, start: int, steps: int, chords: Sequence[ChordSpan]) -> int:
        """The tick at which so many functions begin where the first is written repeatedly, else as ``stretch`` tells.

        It is that of the written chord from which the first function lasts most nearly as long as the second: the I
        that ends a chorus is not the I of the turnaround that begins the next one.
        """
        first, second = self.chord_indexes[start], self.chord_indexes[min(start + 1, len(self.chord_indexes) - 1)]
        written = chords[first:second]
        if steps == 1 or len(written) < 2 or len({_root_of(chord.symbol) for chord in written}) > 1:
            return chords[first].onset_ticks
        goes_on = chords[second].onset_ticks
        _, usual_end, _ = self.stretch(start + 1, 1, chords)
        usual = usual_end - goes_on
        return min((abs(goes_on - chord.onset_ticks - usual), chord.onset_ticks) for chord in written)[1]


def _root_of(symbol: str) -> int | None:
    read = read_symbol(symbol)
    return None if read is None else read.root_pitch_class


@dataclass(frozen=True)
class Progression:
    """A progression asked for: for each chord its alternatives, or None for any chord."""

    text: str
    steps: tuple[tuple[NumeralPattern, ...] | None, ...]

    def __len__(self) -> int:
        return len(self.steps)

    @property
    def _has_cadence(self) -> bool:
        """Whether a dominant is followed by the chord that it aims at: then it can stand on any degree."""
        return any(
            one is not None
            and two is not None
            and any(_is_dominant(c.root_semitones, q) and c.target_semitones is None for c in one for q in c.qualities)
            and any(c.root_semitones == 0 for c in two)
            for one, two in pairwise(self.steps)
        )

    @cached_property
    def regex(self) -> re.Pattern[str]:
        """Matches where the progression stands in a function text, without consuming it.

        It stands in the local key or aims at one of its degrees; what any of these could be is looked for first, which
        spares twelve trials at every chord.
        """
        tonics = range(12) if self._has_cadence else (0,)
        each = ["".join(_symbol_class(step, tonic) for step in self.steps) for tonic in tonics]
        any_of_them = "".join(_symbol_class(step, *tonics) for step in self.steps)
        return re.compile(f"(?={any_of_them})(?={'|'.join(each)})")

    def at_level(self, level: int) -> "Progression":
        """The progression as it stands in a chart simplified to a level.

        From level 1 on a ii before its V is part of the V; from level 2 on so is a vi after I or iii before ii or V; at
        level 3 there are only key centres. Raises QueryError when nothing is left but what the level never has.
        """
        steps = list(self.steps)
        if level >= 2:
            steps = [step for i, step in enumerate(steps) if not _is_passing_vi(steps, i)]
        if level >= 1:
            steps = [step for i, step in enumerate(steps) if not _is_absorbed_ii(steps, i)]
        if level == 3 and any(step is not None and all(c.root_semitones for c in step) for step in steps):
            raise QueryError(f"level 3 has key centres only, no {self.text!r}: ask at a lower level")
        return self if len(steps) == len(self.steps) else Progression(self.text, tuple(steps))

    def places(self, text: str) -> Iterator[int]:
        """Indexes of the symbols at which the progression begins, overlapping places included."""
        return (match.start() for match in self.regex.finditer(text))


@dataclass(frozen=True)
class FunctionChoice:
    """One chord asked for, with its alternatives (``V|subV``)."""

    text: str
    step: tuple[NumeralPattern, ...]

    @cached_property
    def regex(self) -> re.Pattern[str]:
        """Matches one symbol that answers."""
        return re.compile(_symbol_class(self.step, 0))

    def matches(self, symbol: str) -> bool:
        """Whether a function's symbol answers."""
        return self.regex.fullmatch(symbol) is not None


_Steps = Sequence[tuple[NumeralPattern, ...] | None]


def _all(step: tuple[NumeralPattern, ...] | None, roots: Container[int]) -> bool:
    return step is not None and all(choice.root_semitones in roots for choice in step)


def _is_absorbed_ii(steps: _Steps, index: int) -> bool:
    """Whether a step is the ii of the V that follows it."""
    step, following = steps[index], steps[index + 1] if index + 1 < len(steps) else None
    if step is None or following is None:
        return False
    pairs = [(ii, v) for ii in step for v in following]
    return all(
        (v.root_semitones - ii.root_semitones) % 12 in (5, 11)
        and ii.qualities <= {Quality.MINOR, Quality.HALF_DIMINISHED}
        and bool(v.qualities & {Quality.DOMINANT})
        and (ii.root_semitones == 2 or v.target_semitones is not None)
        for ii, v in pairs
    )


def _is_passing_vi(steps: _Steps, index: int) -> bool:
    """Whether a step is the vi of a turnaround, in any form, between I or iii and ii or V."""
    if not 0 < index < len(steps) - 1:
        return False
    return _all(steps[index - 1], (0, 4)) and _all(steps[index], (9,)) and _all(steps[index + 1], (2, 7))


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
