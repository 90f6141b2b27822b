"""What may be written in one beat, how likely that is, and where it sounds when eighths are swung.

A *pattern* is the set of places in a beat at which notes begin. Its price (natural logarithm of a probability) says
how readily a transcriber would write it: plain beats and eighths are cheap, triplets and sixteenths cost more, five or
seven in a beat are a last resort. Prices are our own choice (no source), tried on seeded lines by ``make bench``.

*Swing* is told by ``long_part``, the share of a beat that the first of two eighths takes: 1/2 is straight, 2/3 a ratio
of 2 : 1, 3/4 one of 3 : 1. It moves eighths and what is written inside them; triplets stay where they are.
"""

from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache
from itertools import combinations
from math import log
from typing import Any, Final, Literal

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]
BeatKind = Literal["swung", "compound", "plain"]
"""A quarter that may swing; a dotted beat of three eighths (6/8, 12/8); a beat of an uneven meter (5/8, 7/8)."""

LONG_PARTS: Final = (
    0.5,
    0.52,
    0.54,
    0.56,
    0.58,
    0.6,
    0.62,
    0.64,
    2 / 3,
    0.69,
    0.71,
    0.73,
    0.75,
    0.77,
)
"""The amounts of swing that are told apart, straight to 3.3 : 1."""
MOST_IN_PATTERN: Final = 8

_HALVES: Final = frozenset((Fraction(0), Fraction(1, 2)))
_EACH_MISSING: Final = 0.25
_NO_BEAT: Final = 0.4


@dataclass(frozen=True, slots=True)
class Pattern:
    """Places in a beat (0 is its start, 1 the next), the price, and whether swing moves them."""

    places: tuple[Fraction, ...]
    log_price: float
    is_swung: bool = False


@dataclass(frozen=True, slots=True)
class _Division:
    """A beat in equal parts: how often that is written in all, and how many parts may be missing."""

    parts: int
    weight: float
    most_missing: int
    coarser: tuple[int, ...]
    is_swung: bool = False
    each_missing: float = _EACH_MISSING


_PLAIN: Final = {
    "swung": {(): 0.06, (0,): 0.44, (0, 1): 0.34, (1,): 0.06},
    "compound": {(): 0.05, (0,): 0.3},
    "plain": {(): 0.1, (0,): 0.6, (0, 1): 0.2, (1,): 0.05},
}
"""The commonest patterns, by the halves of the beat that they strike."""

_DIVISIONS: Final[dict[BeatKind, tuple[_Division, ...]]] = {
    "swung": (
        _Division(3, 0.05, 2, ()),
        _Division(4, 0.035, 3, (2,), is_swung=True),
        _Division(6, 0.008, 3, (2, 3), is_swung=True),
        _Division(8, 0.002, 4, (4,), is_swung=True),
        _Division(5, 0.0008, 1, ()),
        _Division(7, 0.0003, 1, ()),
    ),
    "compound": (
        _Division(3, 0.5, 2, (), each_missing=0.6),
        _Division(6, 0.1, 4, (2, 3)),
        _Division(2, 0.02, 1, ()),
        _Division(4, 0.01, 2, (2,)),
    ),
    "plain": (_Division(4, 0.03, 2, (2,)), _Division(3, 0.02, 2, ())),
}


@lru_cache(maxsize=64)
def patterns_of(kind: BeatKind, count: int) -> tuple[Pattern, ...]:
    """The patterns of a kind of beat with so many notes; never empty.

    More notes than any division holds are spread evenly, at a price that anything else undercuts.
    """
    found: list[Pattern] = []
    for halves, weight in _PLAIN[kind].items():
        if len(halves) == count:
            places = tuple(Fraction(half, 2) for half in halves)
            found.append(Pattern(places, log(weight), is_swung=kind == "swung"))
    for division in _DIVISIONS[kind]:
        found += _of_division(division, count)
    if not found:
        spread = tuple(Fraction(index, count) for index in range(count))
        found = [Pattern(spread, -12.0 - 2.0 * count)]
    return tuple(found)


def _of_division(division: _Division, count: int) -> list[Pattern]:
    """Patterns of one division that no coarser one could write; their prices share the division's weight."""
    parts = division.parts
    weights: dict[tuple[int, ...], float] = {}
    for size in range(max(parts - division.most_missing, 1), parts + 1):
        for chosen in combinations(range(parts), size):
            places = [Fraction(part, parts) for part in chosen]
            is_coarse = any(
                all((place * other).denominator == 1 for place in places) for other in (1, *division.coarser)
            )
            if not is_coarse:
                missing = division.each_missing ** (parts - size)
                weights[chosen] = missing * (1 if chosen[0] == 0 else _NO_BEAT)
    total = sum(weights.values())
    found: list[Pattern] = []
    for chosen, weight in weights.items():
        if len(chosen) != count:
            continue
        fractions = tuple(Fraction(part, parts) for part in chosen)
        price = log(division.weight * weight / total)
        found.append(Pattern(fractions, price + (log(0.5) if division.is_swung else 0), division.is_swung))
    return found


def swung_place(place: float, long_part: float) -> float:
    """Where in the beat a written place sounds."""
    return 2 * place * long_part if place <= 0.5 else long_part + (2 * place - 1) * (1 - long_part)


@dataclass(frozen=True, slots=True)
class Table:
    """The patterns of a kind and number of notes as arrays.

    ``prices`` has a value a row, ``places`` axes row, amount of swing, note. The first rows are the patterns; then come
    again those of ``evenly`` (indexes), played evenly over the beat: short values are, as often as they follow its
    swing.
    """

    patterns: tuple[Pattern, ...]
    prices: Floats
    places: Floats
    evenly: npt.NDArray[np.intp]


@lru_cache(maxsize=256)
def table_of(kind: BeatKind, count: int, long_parts: tuple[float, ...] = LONG_PARTS) -> Table:
    """The table of the patterns with so many notes."""
    patterns = patterns_of(kind, count)
    evenly = [
        index for index, pattern in enumerate(patterns) if pattern.is_swung and not set(pattern.places) <= _HALVES
    ]
    even = [Pattern(patterns[index].places, patterns[index].log_price) for index in evenly]
    rows: list[Any] = [
        [
            [swung_place(float(place), long_part) if pattern.is_swung else float(place) for place in pattern.places]
            for long_part in long_parts
        ]
        for pattern in (*patterns, *even)
    ]
    places = np.array(rows, dtype=float).reshape(len(rows), len(long_parts), count)
    prices = np.array([pattern.log_price for pattern in (*patterns, *even)])
    return Table(patterns, prices, places, np.array(evenly, dtype=np.intp))
