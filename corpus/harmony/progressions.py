"""Progressions that have a name in the trade, found in any chart.

The numerals of a chart are written as a line of words, a word a chord, with equal neighbours once and a bar ``|``
where the key changes, and the names are regular expressions over that line. All names and shapes are common practice.

==========================  ==========================================================================================
name                        chords
==========================  ==========================================================================================
I-vi-ii-V turnaround        I vi ii V, in at most four bars, as all turnarounds, from the I that lasts as long as the vi
I-VI-ii-V turnaround        I VI ii V (VI is ``V/ii``)
iii-VI-ii-V turnaround      iii VI ii V, or with vi
turnaround with             the same four places, at least one filled by a substitute: ``#io``, ``biiio``, ``subV/ii``,
substitutes                 ``bIII``, ``bIII7`` for the second, ``V/V``, ``subV/V``, ``bVI``, ``bVI7``, ``ii7b5`` for
                            the third, ``subV``, ``bII`` for the fourth
minor turnaround            i, then vi7b5, bVI or bIII, then ii7b5 or iv or subV/V, then V
ii-V-I, minor ii-V-i        also to another degree: ``ii/IV V/IV IV`` is a ii-V-I to IV
minor ii-V to major I       ii7b5 V I
backdoor                    iv bVII7 I (or iii), or bVII7 I
cycle of dominants          three or more dominant sevenths, each a fifth (or, for a substitute, a half-step) down;
                            each may have its ii before it
move to IV                  V/IV IV, with its ii
move to IV and back         the same, then ``iv``, ``#ivo``, ``bVII7`` or nothing, then I or iii
minor plagal                IV iv I
chromatic ii-V chain        two or more ii-Vs in a row, each a half-step below or above the one before
==========================  ==========================================================================================

Whole forms are found by ``recognise_form`` (in ``corpus.harmony.forms``).
"""

import re
from bisect import bisect_left
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from corpus.harmony.forms import RecognisedForm, recognise_form
from corpus.harmony.functions import Numeral, Quality
from corpus.harmony.levels import is_ii_between, is_ii_of
from corpus.harmony.spans import HarmonySpan
from corpus.model import TICKS_PER_QUARTER
from corpus.pitch import Key

__all__ = ["Progression", "RecognisedForm", "find_progressions", "recognise_form"]


@dataclass(frozen=True, slots=True)
class Progression:
    """A named progression and its place, in ticks; ``chords`` is the half-open range of written spans.

    ``target`` is the degree it leads to where that is not the tonic (``IV``), else empty.
    """

    name: str
    onset_ticks: int
    end_ticks: int
    chords: tuple[int, int]
    key: Key
    target: str = ""

    def __str__(self) -> str:
        return f"{self.name} to {self.target}" if self.target else self.name


_V = r"(?:Vsus )?V "
_TONIC = r"I7?"
_SECOND = r"vi|V/ii"
_SECOND_SUB = r"#io|biiio|subV/ii|V\+/ii|bIII7?"
_THIRD_SUB = r"V/V|subV/V|bVI7?|ii7b5"
_FOURTH = r"(?:Vsus )?V|Vsus|V\+"

_TURNAROUNDS: Final = (
    ("I-vi-ii-V turnaround", rf"(?<= ){_TONIC} vi ii (?:{_FOURTH}) "),
    ("I-VI-ii-V turnaround", rf"(?<= ){_TONIC} V/ii ii (?:{_FOURTH}) "),
    ("iii-VI-ii-V turnaround", rf"(?<= )iii (?:{_SECOND}) ii (?:{_FOURTH}) "),
    (
        "turnaround with substitutes",
        rf"(?<= )(?:{_TONIC}|iii) (?!(?:{_SECOND}) ii (?:{_FOURTH}) )(?:{_SECOND}|{_SECOND_SUB}) "
        rf"(?:ii|{_THIRD_SUB}) (?:{_FOURTH}|subV|bII) ",
    ),
    ("minor turnaround", rf"(?<= )i (?:vi7b5|bVI|bIII|vio) (?:ii7b5|iv|subV/V|V/V) (?:{_FOURTH}|subV) "),
)
_LONGEST_TURNAROUND_BARS: Final = 4
"""A turnaround usually takes two or four bars (common practice)."""

_OTHERS: Final = (
    ("ii-V-I", rf"(?<= )ii (?:{_V}|Vsus |V\+ |subV )I(?:7|\+)? "),
    ("minor ii-V-i", rf"(?<= )ii7b5 (?:{_V}|Vsus |V\+ |subV )i "),
    ("minor ii-V to major I", rf"(?<= )ii7b5 (?:{_V}|Vsus |V\+ |subV )I "),
    ("backdoor", r"(?<= )(?:iv )?bVII7 (?:I|iii) "),
    ("minor plagal", r"(?<= )IV7? iv I7? "),
    ("move to IV and back", r"(?<= )(?:ii/IV )?(?:V|subV)/IV IV7? (?:(?:iv|#ivo|bVII7) )*(?:I7?|iii) "),
    ("move to IV", r"(?<= )(?:ii/IV )?(?:V|subV)/IV IV7? (?!(?:(?:iv|#ivo|bVII7) )*(?:I7?|iii) )"),
)
_APPLIED: Final = re.compile(r"(?<= )(ii|ii7b5)/(\S+) (?:(?:Vsus|V|subV)/\2 )+(?=\2(?:7|7b5)? |V )")
_APPLIED_NAMES: Final = {True: "minor ii-V-i", False: "ii-V-I"}
_COMPILED: Final = tuple((name, re.compile(shape)) for name, shape in (*_TURNAROUNDS, *_OTHERS))
_TURNAROUND_NAMES: Final = frozenset(name for name, _ in _TURNAROUNDS)


class _Line:
    """The numerals as words, and the way back from a place in the line to the written chords."""

    def __init__(self, spans: Sequence[HarmonySpan]) -> None:
        self.spans = spans
        words = [" "]
        position = 1
        self.starts: dict[int, int] = {}
        self.ends: dict[int, int] = {}
        self.runs: list[tuple[int, int]] = []
        last: HarmonySpan | None = None
        names: dict[int, str] = {}
        for index, span in enumerate(spans):
            if span.numeral is None:
                if span.symbol is None:
                    last = None  # an unreadable symbol could have been anything: no progression runs across it
                    words.append("? ")
                    position += 2
                continue
            if last is not None and last.key == span.key and last.numeral == span.numeral:
                self.runs[-1] = (self.runs[-1][0], index + 1)
                self.ends[position] = index + 1
                continue
            if last is not None and last.key != span.key:
                words.append("| ")
                position += 2
            word = names.get(id(span.numeral))
            if word is None:
                word = names[id(span.numeral)] = f"{span.numeral} "
            self.starts[position] = index
            words.append(word)
            position += len(word)
            self.ends[position] = index + 1
            self.runs.append((index, index + 1))
            last = span
        self.text = "".join(words)

    def progression(self, name: str, start: int, end: int, target: str = "") -> Progression:
        """A stretch of the line as a progression."""
        return self.between(name, self.starts[start], self.ends[end], target)

    def evenly_from(self, start: int) -> int:
        """The written chord with which a turnaround begins at a place in the line, where its I is written repeatedly.

        It is the one from which the I lasts most nearly as long as the chord after it: the I that ends a chorus is not
        the I of the turnaround that begins the next one.
        """
        first = self.starts[start]
        run = bisect_left(self.runs, (first, 0))
        (_, end), (second, third) = self.runs[run : run + 2]
        goes_on = self.spans[second].onset_ticks
        usual = self.spans[third - 1].end_ticks - goes_on
        return min(range(first, end), key=lambda index: abs(goes_on - self.spans[index].onset_ticks - usual))

    def between(self, name: str, first: int, last: int, target: str = "") -> Progression:
        """Written chords from ``first`` up to ``last`` as a progression."""
        key = self.spans[first].key
        assert key is not None
        onset, end = self.spans[first].onset_ticks, self.spans[last - 1].end_ticks
        return Progression(name, onset, end, (first, last), key, target)


def find_progressions(spans: Sequence[HarmonySpan], bar_ticks: int = 4 * TICKS_PER_QUARTER) -> tuple[Progression, ...]:
    """All named progressions of a chart, in order of onset; they may overlap. ``bar_ticks`` is the usual bar."""
    line = _Line(spans)
    found: list[Progression] = []
    for name, shape in _COMPILED:
        for match in shape.finditer(line.text):
            if name not in _TURNAROUND_NAMES:
                found.append(line.progression(name, match.start(), match.end()))
                continue
            turnaround = line.between(name, line.evenly_from(match.start()), line.ends[match.end()])
            if turnaround.end_ticks - turnaround.onset_ticks <= _LONGEST_TURNAROUND_BARS * bar_ticks:
                found.append(turnaround)
    found += _applied(line)
    found += _cycles(line)
    found += _chains(line)
    return tuple(sorted(found, key=lambda one: (one.onset_ticks, -one.end_ticks, one.name)))


def _applied(line: _Line) -> list[Progression]:
    """ii-V-I to another degree than the tonic."""
    found = []
    for match in _APPLIED.finditer(line.text):
        end = line.text.index(" ", match.end()) + 1
        target = match[2]
        found.append(line.progression(_APPLIED_NAMES[target.islower()], match.start(), end, target))
    return found


def _is_seventh(numeral: Numeral) -> bool:
    return numeral.quality is Quality.DOMINANT


def _cycles(line: _Line) -> list[Progression]:
    """Three or more dominants in a row, each a fifth or a half-step down, alone or each after its ii."""
    numerals = [line.spans[first].numeral for first, _ in line.runs]
    keys = [line.spans[first].key for first, _ in line.runs]
    found = []
    begin = 0
    while begin < len(numerals):
        place, dominants = begin, int(_is_dominant(numerals[begin]))
        while dominants:
            step = next((n for n in (1, 2) if _continues_cycle(numerals, place, n)), None)
            if step is None or keys[place + step] != keys[begin]:
                break
            dominants += numerals[place + step] != numerals[place]
            place += step
        if dominants >= 3:
            has_ii = begin > 0 and keys[begin - 1] == keys[begin] and is_ii_of(numerals[begin - 1], numerals[begin])
            with_iis = has_ii and any(not _is_dominant(numeral) for numeral in numerals[begin:place])
            first = begin - 1 if with_iis else begin
            found.append(line.between("cycle of dominants", line.runs[first][0], line.runs[place][1]))
        begin = place + 1
    return found


def _is_dominant(numeral: Numeral | None) -> bool:
    """Whether a chord can stand in a cycle of dominants: a dominant seventh, not the I7 of a blues."""
    return numeral is not None and _is_seventh(numeral) and (numeral.root_semitones != 0 or numeral.of is not None)


def _continues_cycle(numerals: Sequence[Numeral | None], place: int, step: int) -> bool:
    """Whether the chord ``step`` places on is the next dominant of a cycle; with 2, its ii stands between."""
    if place + step >= len(numerals):
        return False
    before, here = numerals[place], numerals[place + step]
    if before is None or here is None or not _is_dominant(here):
        return False
    falls = (before.root_semitones - here.root_semitones) % 12
    if step == 1:
        return falls in (7, 1)
    return falls in (7, 1, 0) and is_ii_between(before, numerals[place + 1], here)


def _chains(line: _Line) -> list[Progression]:
    """Two or more ii-Vs in a row, a half-step apart, heard by their roots whatever their keys."""
    found = []
    place = 0
    while place + 3 < len(line.runs):
        root = _ii_v_root(line, place)
        length = 2
        while root is not None:
            following = _ii_v_root(line, place + length)
            if following is None or (following - root) % 12 not in (1, 11):
                break
            root = following
            length += 2
        if length >= 4:
            found.append(line.between("chromatic ii-V chain", line.runs[place][0], line.runs[place + length - 1][1]))
            place += length - 2
        else:
            place += 1
    return found


def _ii_v_root(line: _Line, place: int) -> int | None:
    """The root (pitch class) of the minor chord of a ii-V at a place, or None."""
    if place + 1 >= len(line.runs):
        return None
    first, second = line.spans[line.runs[place][0]], line.spans[line.runs[place + 1][0]]
    if first.numeral is None or second.numeral is None or first.symbol is None or second.symbol is None:
        return None
    if first.numeral.quality not in (Quality.MINOR, Quality.HALF_DIMINISHED) or not _is_seventh(second.numeral):
        return None
    root, next_root = first.symbol.root_pitch_class, second.symbol.root_pitch_class
    if root is None or next_root is None or (next_root - root) % 12 != 5:
        return None
    return root
