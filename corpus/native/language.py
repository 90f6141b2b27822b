"""What a kernel is written in: a subset of Python with machine numbers, arrays and lanes.

A kernel is a function whose parameters are annotated with the types below and which returns an ``int``. It may contain

- assignments to names and to places in arrays, also augmented; a name keeps its first type;
- ``for … in range(…)`` with steps of one up, ``while``, ``if``, ``break``, ``continue``, ``return``;
- ``+ - * // % & | << >>`` (divisors must be positive), comparisons, ``and``, ``or``, ``not``;
- ``min`` and ``max`` of two numbers, ``lower`` and ``least`` for lanes; calls of earlier kernels;
- whole numbers that are global in its module.

Numbers are 64 bits wide and signed; what does not fit into the entries of an array is cut. Nothing checks that places
lie inside an array, and different parameters must be different arrays.
"""

from collections.abc import MutableSequence
from dataclasses import dataclass
from typing import Final, TypeAlias

LANES: Final = 16

Bytes: TypeAlias = MutableSequence[int]
"""An array of unsigned bytes."""
Int32s: TypeAlias = MutableSequence[int]
"""An array of signed numbers of 32 bits."""
Int64s: TypeAlias = MutableSequence[int]
"""An array of signed numbers of 64 bits."""


@dataclass(frozen=True, slots=True)
class Lanes:
    """Sixteen unsigned numbers that are worked on at once; sums stay at the highest one, ``most``.

    Kernels are compiled for lanes of 8 and of 16 bits.
    """

    values: tuple[int, ...]
    most: int = 255

    def __add__(self, other: "Lanes") -> "Lanes":
        return Lanes(tuple(min(a + b, self.most) for a, b in zip(self.values, other.values, strict=True)), self.most)


ManyLanes: TypeAlias = MutableSequence[Lanes]
"""An array of lanes."""


def lower(one: Lanes, other: Lanes) -> Lanes:
    """The lower number in each lane."""
    return Lanes(tuple(map(min, one.values, other.values)), one.most)


def least(lanes: Lanes) -> int:
    """The lowest number of all lanes."""
    return min(lanes.values)
