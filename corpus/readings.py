"""Readings: what a line looks like when transposition, octave, mode or rhythm no longer count.

A reading is a text with one symbol a note, lower-case ASCII letters and digits, so that a database can index it and a
person can read it in a SQL shell. The symbol of a note says how it follows the note before it (for the degree: where
it stands in the key), so a figure of *k* notes is *k* - 1 symbols long and begins at its second note.

========= ====================================================== ===================================
reading   symbol of a note                                       alphabet
========= ====================================================== ===================================
interval  semitones from the note before                         ``a`` = -12 … ``m`` = 0 … ``y`` = +12
folded    the same modulo 12                                     ``a`` = 0 … ``l`` = 11
step      letter names from the note before                      ``a`` = -12 … ``m`` = 0 … ``y`` = +12
letter    the same modulo 7                                      ``a`` = 0 … ``g`` = 6
contour   up, down or repeat (Parsons 1975)                      ``u`` ``d`` ``r``
rhythm    this inter-onset interval over the one before          ``RHYTHM_RATIOS``
degree    semitones above the tonic of the key in force          ``a`` = 0 … ``l`` = 11
role      semitones above the root, by kind of note              ``corpus.harmony.role_symbols``
movement  what the note does to the next strong one              ``corpus.harmony.role_symbols``
========= ====================================================== ===================================

``z`` stands for any wider leap or rarer ratio: who meets it compares the real pitches or onsets. ``0`` (``BREAK``)
means that nothing is before: the first note, a dead note and the note after it, a note after a rest longer than a bar,
and in the degree reading a note without key. Figures never contain it, so they never cross a break.

Each reading also exists with *doubles* collapsed: a run of immediate repeats of one pitch counts as one note. ``Runs``
maps its positions back to the notes of the line.
"""

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import cached_property, lru_cache
from itertools import pairwise
from operator import sub
from typing import Final, Literal

from corpus.model import Transcription
from corpus.pitch import parse_spelling

ReadingName = Literal["interval", "folded", "step", "letter", "contour", "rhythm", "degree", "role", "movement"]
READING_NAMES: Final[tuple[ReadingName, ...]] = (
    "interval",
    "folded",
    "step",
    "letter",
    "contour",
    "rhythm",
    "degree",
    "role",
    "movement",
)

BREAK: Final = "0"
OVERFLOW: Final = "z"
WIDEST: Final = 12
"""Widest leap with a symbol of its own, in semitones (interval) or letter names (step)."""

_ALPHABET: Final = "abcdefghijklmnopqrstuvwxyz"
SIGNED_SYMBOLS: Final[Mapping[int, str]] = {size: _ALPHABET[size + WIDEST] for size in range(-WIDEST, WIDEST + 1)}
_RATIOS: Final = "1/12 1/8 1/6 1/5 1/4 1/3 2/5 1/2 3/5 2/3 3/4 4/5 1 5/4 4/3 3/2 5/3 2 5/2 3 4 5 6 8 12"
RHYTHM_RATIOS: Final[Mapping[Fraction, str]] = {
    Fraction(ratio): symbol for symbol, ratio in zip(_ALPHABET, _RATIOS.split(), strict=False)
}
"""Ratios of neighbouring inter-onset intervals that have a symbol: ``m`` is 1, ``r`` is 2, ``h`` is 1/2."""


@dataclass(frozen=True, slots=True)
class HarmonicColumns:
    """What the readings take from harmony, one entry a note: roles, movements (as text) and tonics (pitch classes)."""

    roles: str
    movements: str
    tonics: Sequence[int | None]


class Line:
    """A line as columns, one entry a note, each made when it is first asked for.

    Without ``harmony`` no note has a role, and the tonic is that of the bar's key.
    """

    def __init__(self, transcription: Transcription, harmony: HarmonicColumns | None = None) -> None:
        self._notes = transcription.notes
        self._bars = transcription.bars
        self._harmony = harmony

    def __len__(self) -> int:
        return len(self._notes)

    @cached_property
    def pitches(self) -> Sequence[int | None]:
        """MIDI numbers, None for a dead note."""
        return [note.pitch for note in self._notes]

    @cached_property
    def positions(self) -> Sequence[int]:
        """Staff positions (letter names above C0), 0 for a dead note."""
        return [0 if note.pitch is None else parse_spelling(note.spelling).staff_position for note in self._notes]

    @cached_property
    def onsets(self) -> Sequence[int]:
        """Onsets in ticks."""
        return [note.onset_ticks for note in self._notes]

    @cached_property
    def tonics(self) -> Sequence[int | None]:
        """Pitch classes of the tonic of the key in force, None without key."""
        if self._harmony is not None:
            return self._harmony.tonics
        tonics = [None if bar.key is None else bar.key.tonic_pitch_class for bar in self._bars]
        return [tonics[note.bar_index] for note in self._notes]

    @cached_property
    def roles(self) -> str:
        """The role reading."""
        return BREAK * len(self) if self._harmony is None else self._harmony.roles

    @cached_property
    def movements(self) -> str:
        """The movement reading."""
        return BREAK * len(self) if self._harmony is None else self._harmony.movements

    @cached_property
    def starts(self) -> Sequence[bool]:
        """True where nothing is before a note: at the beginning, beside a dead note, after a rest longer than a bar."""
        longest = [bar.meter.bar_ticks for bar in self._bars]
        starts = [True]
        for before, note in pairwise(self._notes):
            rest = note.onset_ticks - before.onset_ticks - before.duration_ticks
            starts.append(note.pitch is None or before.pitch is None or rest > longest[before.bar_index])
        return starts[: len(self._notes)]

    @cached_property
    def runs(self) -> "Runs":
        """The runs of immediate repeats."""
        return Runs.of(self)

    @cached_property
    def collapsed(self) -> "Line":
        """The line with each run of immediate repeats as one note, at the onset of its first."""
        return _CollapsedLine(self)


class _CollapsedLine(Line):
    """A line of which only the first note of each run is left."""

    def __init__(self, line: Line) -> None:
        self._line = line
        self._firsts = line.runs.firsts

    def __len__(self) -> int:
        return len(self._firsts)

    @cached_property
    def pitches(self) -> Sequence[int | None]:
        return [self._line.pitches[i] for i in self._firsts]

    @cached_property
    def positions(self) -> Sequence[int]:
        return [self._line.positions[i] for i in self._firsts]

    @cached_property
    def onsets(self) -> Sequence[int]:
        return [self._line.onsets[i] for i in self._firsts]

    @cached_property
    def tonics(self) -> Sequence[int | None]:
        return [self._line.tonics[i] for i in self._firsts]

    @cached_property
    def roles(self) -> str:
        return "".join(self._line.roles[i] for i in self._firsts)

    @cached_property
    def movements(self) -> str:
        return "".join(self._line.movements[i] for i in self._firsts)

    @cached_property
    def starts(self) -> Sequence[bool]:
        return [self._line.starts[i] for i in self._firsts]


@dataclass(frozen=True)
class Runs:
    """Where each note of the collapsed line comes from: run *i* covers notes ``firsts[i]`` to ``lasts[i]``."""

    firsts: Sequence[int]
    lasts: Sequence[int]

    @classmethod
    def of(cls, line: Line) -> "Runs":
        """The runs of a line: neighbours of equal pitch without a break between them."""
        pitches, starts = line.pitches, line.starts
        firsts = [
            i for i in range(len(pitches)) if i == 0 or starts[i] or pitches[i] is None or pitches[i] != pitches[i - 1]
        ]
        return cls(firsts, [following - 1 for following in firsts[1:]] + [len(pitches) - 1] if firsts else [])


def line_of(transcription: Transcription, harmony: HarmonicColumns | None = None) -> Line:
    """The columns of a transcription's notes, with what harmony says of them."""
    return Line(transcription, harmony)


def _following(values: Sequence[int], starts: Sequence[bool], symbol_of: Callable[[int], str]) -> str:
    """The symbols of neighbour differences, with breaks put in."""
    symbols = list(map(symbol_of, map(sub, values[1:], values)))
    symbols.insert(0, BREAK)
    for index, starts_here in enumerate(starts):
        if starts_here:
            symbols[index] = BREAK
    return "".join(symbols)


def signed_symbol(size: int) -> str:
    """The symbol of a signed interval in semitones or letter names."""
    return SIGNED_SYMBOLS.get(size, OVERFLOW)


def folded_symbol(size: int) -> str:
    """The symbol of an interval in semitones when octaves do not count."""
    return _ALPHABET[size % 12]


def letter_symbol(size: int) -> str:
    """The symbol of an interval in letter names when octaves do not count."""
    return _ALPHABET[size % 7]


def contour_symbol(size: int) -> str:
    """The contour symbol of a signed interval."""
    return "r" if size == 0 else "u" if size > 0 else "d"


@lru_cache(maxsize=4096)
def rhythm_symbol(gap: int, before: int) -> str:
    """The symbol of an inter-onset interval over the one before it, both in ticks."""
    return OVERFLOW if before <= 0 else RHYTHM_RATIOS.get(Fraction(gap, before), OVERFLOW)


def _rhythm(onsets: Sequence[int]) -> str:
    gaps = list(map(sub, onsets[1:], onsets))
    symbols = list(map(rhythm_symbol, gaps[1:], gaps))
    return (BREAK * min(len(onsets), 2)) + "".join(symbols)


def _degree(line: Line) -> str:
    return "".join(
        BREAK if pitch is None or tonic is None else _ALPHABET[(pitch - tonic) % 12]
        for pitch, tonic in zip(line.pitches, line.tonics, strict=True)
    )


def read(line: Line, name: ReadingName) -> str:
    """One reading of a line: a text of ``len(line)`` symbols."""
    if not len(line):
        return ""
    if name == "rhythm":
        return _rhythm(line.onsets)
    if name == "degree":
        return _degree(line)
    if name in ("role", "movement"):
        return line.roles if name == "role" else line.movements
    if name in ("step", "letter"):
        return _following(line.positions, line.starts, signed_symbol if name == "step" else letter_symbol)
    pitches = [pitch or 0 for pitch in line.pitches]
    symbol_of = {"interval": signed_symbol, "folded": folded_symbol, "contour": contour_symbol}[name]
    return _following(pitches, line.starts, symbol_of)


@dataclass(frozen=True, slots=True)
class Readings:
    """All readings of a line, plain and with doubles collapsed, by name."""

    plain: Mapping[ReadingName, str]
    collapsed: Mapping[ReadingName, str]


def all_readings(line: Line) -> Readings:
    """Every reading of a line."""
    collapsed = line.collapsed
    plain = {name: read(line, name) for name in READING_NAMES}
    if len(collapsed) == len(line):
        return Readings(plain, plain)
    return Readings(plain, {name: read(collapsed, name) for name in READING_NAMES})


def parsons_code(line: Line) -> str:
    """The contour as Parsons prints it: ``*`` for a first note, then u, d and r."""
    return "".join("*" if symbol == BREAK else symbol for symbol in read(line, "contour"))


def gaps_of(onsets: Iterable[int]) -> list[int]:
    """Inter-onset intervals in ticks."""
    values = list(onsets)
    return list(map(sub, values[1:], values))
