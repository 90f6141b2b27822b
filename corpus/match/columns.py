"""The notes of many lines as columns of numbers, made from their readings alone, for near search.

Lines follow each other; a *bar* stands before each and wherever a line breaks. Heights are exact up to a constant for
each unbroken stretch: a leap's letters tell how many octaves the folded interval lacks. Only leaps too wide for the
step reading must be told besides.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from types import MappingProxyType
from typing import TYPE_CHECKING, Any

from corpus.match.ornaments import CODES, NOTHING, ORNAMENTS, REPEAT, all_ornaments
from corpus.match.sought import CLASSES, SYMBOLS, Alphabet
from corpus.readings import OVERFLOW, WIDEST

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Bytes = NDArray[np.uint8]
    Numbers = NDArray[np.int32]
    Places = NDArray[np.int64]


@dataclass(frozen=True)
class LineTexts:
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
    """The columns of lines, none of them empty; ``leaps`` are their wide leaps by line and note."""
    import numpy as np

    lengths = np.fromiter((len(line.folded) for line in lines), dtype=np.int64, count=len(lines))
    starts = np.concatenate(([0], np.cumsum(lengths)[:-1])).astype(np.int64)
    folded = _bytes("".join(line.folded for line in lines).replace("0", "|0"))
    is_bar = folded == ord("|")
    has_interval = (folded >= ord("a")) & (folded <= ord("l"))
    semitones = np.where(has_interval, folded - np.uint8(ord("a")), 0)
    letters = _spread([line.step for line in lines], is_bar)
    steps = np.where(has_interval & (letters != ord(OVERFLOW)), letters.astype(np.int32) - ord("a") - WIDEST, 0)
    sizes = _sizes(semitones, steps)
    if leaps:
        notes = np.flatnonzero(~is_bar)
        for (number, note), (size, step) in leaps.items():
            place = notes[starts[number] + note]
            sizes[place], steps[place] = size, step
    symbols = None if alphabet in ("pitch", "letter") else _spread([line.symbols for line in lines], is_bar)
    positions = np.cumsum(steps, dtype=np.int32)
    classes = _classes(alphabet, semitones, positions, symbols)
    if alphabet == "contour":
        classes[folded == ord("0")] = CLASSES[alphabet]
    classes[is_bar] = CLASSES[alphabet] + 1
    codes = np.where(has_interval, semitones, NOTHING).astype(np.uint16)
    codes[_spread([line.interval for line in lines], is_bar) == ord("a") + WIDEST] = REPEAT
    heights = np.cumsum(sizes, dtype=np.int32)
    return Columns(alphabet, classes, _ornament_column(codes), heights, positions, np.flatnonzero(is_bar), starts)


def _bytes(text: str) -> "Bytes":
    import numpy as np

    return np.frombuffer(text.encode(), dtype=np.uint8)


def _spread(texts: Sequence[str], is_bar: Any) -> "Bytes":
    """Texts joined, with room where bars stand."""
    import numpy as np

    spread = np.full(len(is_bar), ord("0"), dtype=np.uint8)
    spread[~is_bar] = _bytes("".join(texts))
    return spread


def _sizes(semitones: Any, steps: Any) -> "Numbers":
    """Intervals in semitones from those modulo 12 and their letter names: the nearest to twelve for seven letters."""
    import numpy as np

    usual = np.rint(steps * (12 / 7)).astype(np.int32)
    nearest: Numbers = usual + (semitones.astype(np.int32) - usual + 6) % 12 - 6
    return nearest


def _classes(alphabet: Alphabet, semitones: Any, positions: "Numbers", symbols: Any) -> "Bytes":
    import numpy as np

    if alphabet == "pitch":
        return (np.cumsum(semitones, dtype=np.int32) % 12).astype(np.uint8)
    if alphabet == "letter":
        return (positions % 7).astype(np.uint8)
    found: Bytes = _symbol_classes()[symbols]
    return found


@lru_cache(maxsize=1)
def _symbol_classes() -> "Bytes":
    import numpy as np

    table = np.full(256, len(SYMBOLS), dtype=np.uint8)
    for place, symbol in enumerate(SYMBOLS):
        table[ord(symbol)] = len(SYMBOLS) if symbol == "0" else place
    return table


def _ornament_column(intervals: Any) -> "Bytes":
    """What each note is to those beside it, from its interval and the next two; a bar stands between breaks."""
    import numpy as np

    table = np.array([ORNAMENTS.index(kind) for kind in all_ornaments()], dtype=np.uint8)
    following = np.concatenate((intervals[1:], [NOTHING])).astype(np.uint16)
    beyond = np.concatenate((intervals[2:], [NOTHING, NOTHING]))[: len(intervals)].astype(np.uint16)
    beyond[following == NOTHING] = NOTHING
    found: Bytes = table[(intervals * CODES + following) * CODES + beyond]
    return found
