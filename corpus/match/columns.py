"""The notes of many lines as columns of numbers, made from their readings alone, for near search.

Lines follow each other; a *bar* stands before each and wherever a line breaks. Heights are exact up to a constant for
each unbroken stretch: a leap's letters tell how many octaves the folded interval lacks. Only leaps too wide for the
step reading must be told besides.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from types import MappingProxyType
from typing import TYPE_CHECKING, Any, Final, NamedTuple

from corpus.match.ornaments import CODES, NOTHING, ORNAMENTS, all_ornaments
from corpus.match.sought import CLASSES, SYMBOLS, Alphabet
from corpus.readings import BREAK, OVERFLOW, SIGNED_SYMBOLS

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Bytes = NDArray[np.uint8]
    Numbers = NDArray[np.int32]
    Places = NDArray[np.int64]


class LineTexts(NamedTuple):
    """The readings of one line that columns are made of, all plain or all with doubles collapsed.

    ``symbols`` is the reading of the alphabet (for pitch and letter empty).
    """

    folded: str
    interval: str
    step: str
    symbols: str = ""


@dataclass(frozen=True)
class Columns:
    """Columns with one entry a note or bar.

    ``classes`` are those of the alphabet, ``CLASSES[alphabet]`` where a note has none, one more for a bar.
    ``ornaments`` are places in ``ORNAMENTS``, ``heights`` semitones and ``positions`` letter names from no matter
    where. ``bars`` are the places of bars; ``line_starts`` counts the notes
    before each line.
    """

    alphabet: Alphabet
    classes: "Bytes"
    ornaments: "Bytes"
    heights: "Numbers"
    positions: "Numbers"
    bars: "Places"
    line_starts: "Places"

    def bars_before(self, places: "Places | int") -> Any:
        """The places of the bars before places of notes."""
        import numpy as np

        return self.bars[np.searchsorted(self.bars, places) - 1]

    def line_and_note(self, places: "Places") -> "tuple[Places, Places]":
        """The number of the line and the note in it, for places in the columns."""
        import numpy as np

        notes = places - np.searchsorted(self.bars, places)
        lines = np.searchsorted(self.line_starts, notes, side="right") - 1
        return lines, notes - self.line_starts[lines]


Leap = tuple[int, int]
"""A leap in semitones and letter names, both signed."""


def wide_leaps(texts: LineTexts) -> list[int]:
    """The notes of a line that are reached by a leap too wide for the step reading."""
    if OVERFLOW not in texts.step:
        return []
    return [note for note, symbol in enumerate(texts.step) if symbol == OVERFLOW]


def columns_of(
    alphabet: Alphabet, lines: Sequence[LineTexts], leaps: Mapping[tuple[int, int], Leap] = MappingProxyType({})
) -> Columns:
    """The columns of lines, none of them empty; ``leaps`` are their wide leaps by line and note.

    Cost: some 15 ms a million notes. Symbols become numbers by ``bytes.translate``, the quickest table there is.
    """
    import numpy as np

    texts = list(zip(*lines, strict=True)) or [()] * len(LineTexts._fields)
    lengths = np.fromiter(map(len, texts[0]), dtype=np.int64, count=len(lines))
    line_starts = np.concatenate(([0], np.cumsum(lengths)[:-1])).astype(np.int64)
    # The readings of intervals break at the same notes; a bar stands before each.
    folded, interval, step = ("".join(each).replace(BREAK, _BAR + BREAK).encode() for each in texts[:3])
    is_bar = np.frombuffer(folded, dtype=np.uint8) == ord(_BAR)
    steps = _numbers(step, _STEPS)
    sizes = _sizes(folded, steps)
    if leaps:
        notes = np.flatnonzero(~is_bar)
        for (number, note), (size, letters) in leaps.items():
            place = notes[line_starts[number] + note]
            sizes[place], steps[place] = size, letters
    heights, positions = np.cumsum(sizes, dtype=np.int32), np.cumsum(steps, dtype=np.int32)
    if alphabet in ("pitch", "letter"):
        classes = _modulo(heights if alphabet == "pitch" else positions, CLASSES[alphabet])
    else:
        classes = np.empty(len(is_bar), dtype=np.uint8)
        classes[~is_bar] = np.frombuffer("".join(texts[3]).encode().translate(_symbol_classes()), dtype=np.uint8)
    if alphabet == "contour":
        classes[np.frombuffer(folded, dtype=np.uint8) == ord(BREAK)] = CLASSES[alphabet]
    bars = np.flatnonzero(is_bar)
    classes[bars] = CLASSES[alphabet] + 1
    ornaments = _ornament_column(np.frombuffer(folded.translate(_INTERVAL_CODES), dtype=np.uint8), interval)
    return Columns(alphabet, classes, ornaments, heights, positions, bars, line_starts)


def _numbers(text: bytes, table: bytes) -> "NDArray[np.int16]":
    """Symbols as small signed numbers."""
    import numpy as np

    return np.frombuffer(text.translate(table), dtype=np.int8).astype(np.int16)


def _sizes(folded: bytes, steps: "NDArray[np.int16]") -> "NDArray[np.int16]":
    """Intervals in semitones from those modulo 12 and their letter names: the nearest to twelve for seven letters.

    Where there is no interval both are 0.
    """
    import numpy as np

    semitones = np.frombuffer(folded.translate(_SEMITONES), dtype=np.uint8).astype(np.int8)
    usual = np.frombuffer(steps.astype(np.int8).tobytes().translate(_USUAL_SIZES), dtype=np.int8)
    beside = np.frombuffer((semitones - usual).tobytes().translate(_NEAREST), dtype=np.int8)
    return usual.astype(np.int16) + beside


def _modulo(heights: "Numbers", octave: int) -> "Bytes":
    """Heights without octaves; numpy divides many times as fast as it finds remainders."""
    import numpy as np

    return (heights - heights // octave * octave).astype(np.uint8)


def _by_symbol(known: Mapping[str, int], other: int = 0) -> bytes:
    """A table for ``bytes.translate`` that turns symbols into numbers (negative ones as their lowest byte)."""
    return bytes(known.get(chr(code), other) % 256 for code in range(256))


def _by_number(value: Callable[[int], int]) -> bytes:
    """A table for ``bytes.translate`` over signed bytes."""
    return bytes(value(code - 256 if code > 127 else code) % 256 for code in range(256))


_BAR: Final = "|"
_REPEATED: Final = ord(SIGNED_SYMBOLS[0])
_FOLDED: Final = {symbol: size for size, symbol in enumerate("abcdefghijkl")}
_SEMITONES: Final = _by_symbol(_FOLDED)
_INTERVAL_CODES: Final = _by_symbol(_FOLDED, NOTHING)
_STEPS: Final = _by_symbol({symbol: size for size, symbol in SIGNED_SYMBOLS.items()})
_USUAL_SIZES: Final = _by_number(lambda letters: round(letters * 12 / 7))
_NEAREST: Final = _by_number(lambda beside: (beside + 6) % 12 - 6)


@cache
def _symbol_classes() -> bytes:
    known = {symbol: place for place, symbol in enumerate(SYMBOLS) if symbol != BREAK}
    return _by_symbol(known, len(SYMBOLS))


@cache
def _ornament_table() -> "Bytes":
    import numpy as np

    return np.array([ORNAMENTS.index(kind) for kind in all_ornaments()], dtype=np.uint8)


def _ornament_column(intervals: "Bytes", signed: bytes) -> "Bytes":
    """What each note is to those beside it, from its interval and the next two; a bar stands between breaks.

    Intervals are codes of ``corpus.match.ornaments``, those to the same pitch yet to be told from octaves by the signed
    reading. Repeats count once for the notes around them.
    """
    import numpy as np

    is_other = np.frombuffer(signed, dtype=np.uint8) != _REPEATED
    others = intervals[is_other].astype(np.uint16)
    following = np.append(others[1:], np.uint16(NOTHING))
    beyond = np.append(following[1:], np.uint16(NOTHING))
    beyond[following == NOTHING] = NOTHING
    found = np.full(len(intervals), ORNAMENTS.index("doubled"), dtype=np.uint8)
    found[is_other] = _ornament_table()[(others * CODES + following) * CODES + beyond]
    return found
