"""Where a figure may end, in a whole corpus at once: lower bounds of the price by dynamic programming over all notes.

The recurrence is that of ``corpus.match.alignment`` with what a class alone costs (octaves, letters and repeats left
out), computed for all notes and all shifts of a block at a time, one element after the other, in bytes (in two for
figures of many notes). Prices are scaled so that the highest that is let through still fits, and rounded down, so a
bound never exceeds the price: what is not found here cannot be like the figure. Blocks end between lines and are small
enough for the processor's cache.
"""

from collections.abc import Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from itertools import accumulate
from typing import TYPE_CHECKING, Any, Final

from corpus.match.columns import Columns
from corpus.match.ornaments import ORNAMENTS
from corpus.match.prices import PARTS
from corpus.match.sought import CLASSES, MOST_ADDED, Sought

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from corpus.match.kernels import Kernels

    Units = NDArray[np.unsignedinteger[Any]]
    Found = tuple[NDArray[np.int64], Units, NDArray[np.integer[Any]]]

_BLOCK_CELLS: Final = 200_000
"""Bytes of one row of a block, all shifts together."""
_MOST_UNITS: Final = 60
"""Units that the highest price let through is counted in at most; four sums of them fit into a byte."""
_FINE_UNITS: Final = 16_000
"""The same in two bytes, for long figures, whose units would else be coarser than most prices."""
_COARSEST_PARTS: Final = 80
"""Thousandths of a price that a unit may stand for."""


@dataclass(frozen=True)
class Endings:
    """Places in the columns on which an occurrence may end, the most promising first, and its least price by shift.

    Columns of pitches and letters begin at no matter which: shifts count from there. Prices are kept in ``units``,
    bytes, of which so many stand for at least so many thousandths as ``parts`` tells; ``rows`` says where those of each
    place stand, since there may be as many places as notes, and few of their bounds are wanted.
    """

    places: "NDArray[np.int64]"
    units: "Units"
    rows: "NDArray[np.int64]"
    parts: "NDArray[np.int64]"

    def bounds(self, part: slice) -> "NDArray[np.int64]":
        """The least price of some endings, in thousandths, by shift."""
        found: NDArray[np.int64] = self.parts[self.units[self.rows[part]]]
        return found

    def __len__(self) -> int:
        return len(self.places)


class BlockScan:
    """A figure's costs as bytes, and the recurrence over one block."""

    def __init__(self, asked: Sought, most_parts: int) -> None:
        import numpy as np

        self.asked = asked
        is_coarse = most_parts > _COARSEST_PARTS * _MOST_UNITS
        self.kind: Any = np.uint16 if is_coarse else np.uint8
        self.scale = min((_FINE_UNITS if is_coarse else _MOST_UNITS) / max(most_parts, 1), 1.0)
        self.cap = int(most_parts * self.scale) + 1
        self.shifts = asked.shifts
        self.drops = [self._units(parts) for parts in asked.drop_parts]
        edges = [self._units(parts) for parts in asked.edge_parts]
        self.before = list(accumulate(edges, initial=0))
        self.after = list(accumulate(reversed(edges), initial=0))[::-1]
        added = [self._units(asked.ornament_parts[kind]) for kind in ORNAMENTS]
        self.added = np.array(added, dtype=self.kind)
        cheapest = min(added)
        most = MOST_ADDED if cheapest == 0 else min(MOST_ADDED, (self.cap - 1) // cheapest)
        self.added_rounds = min(most, 2)
        self.planes, self.plane_of = self._planes()
        # A bar, or in a contour a note without class.
        self.cannot_be_added = CLASSES[asked.alphabet] + (asked.alphabet != "contour")
        self._rows: dict[int, Units] = {}

    def _units(self, parts: int) -> int:
        return min(int(parts * self.scale), self.cap)

    def _planes(self) -> "tuple[Units, list[int]]":
        """Costs by class as rows, and the row at which each element's first shift stands; shifts follow each other."""
        import numpy as np

        asked, shifts = self.asked, self.shifts
        rows: list[list[int]] = []
        seen: dict[tuple[int, ...], int] = {}
        plane_of = []
        for index in range(len(asked)):
            costs = tuple(self._units(parts) for parts in asked.least_costs(index))
            # Elements whose costs are another's, transposed, share its rows.
            turn, least = min(((t, costs[t:] + costs[:t]) for t in range(shifts)), key=lambda item: item[1])
            if least not in seen:
                seen[least] = len(rows)
                for shift in range(2 * shifts - 1 if shifts > 1 else 1):
                    turned = least[-shift % len(least) :] + least[: -shift % len(least)] if shifts > 1 else least
                    rows.append([*turned, self.cap, self.cap])
            plane_of.append(seen[least] + turn)
        return np.array(rows, dtype=self.kind), plane_of

    def block(self, columns: Columns, begin: int, end: int) -> "Found":
        """Ends inside a block of the columns with a bound that is not too high, their bounds by shift, and the least
        of each.
        """
        import numpy as np

        # Shifts lie one after the other in one long row: what would run over from one into the next meets the bar
        # that every block begins with, and stops there.
        classes, shifts = columns.classes[begin:end], self.shifts
        width = len(classes)
        costs = np.take(self.planes, classes, axis=1).reshape(-1)
        one, two = self._added(columns, begin, end)
        level = self._levels(width * shifts)
        best = np.full(width * shifts, self.cap, dtype=self.kind)
        before, row, spare = best.copy(), best.copy(), np.empty_like(best)
        size = len(self.asked)
        for index in range(size):
            start, ending, drop = self.before[index], self.after[index + 1], self.drops[index]
            plane = self.plane_of[index] * width
            reached = before[:-1]
            if start < self.cap:
                reached = np.minimum(reached, level[start][1:], out=spare[1:])
            np.add(reached, costs[plane + 1 : plane + width * shifts], out=row[1:])
            if index and ending < self.cap:
                np.add(row, level[ending], out=spare)
                np.minimum(best, spare, out=best)
            if index == size - 1:
                break
            if index and drop < self.cap:
                np.add(before, level[drop], out=spare)
                np.minimum(row, spare, out=row)
            if index % 2:
                np.minimum(row, level[self.cap], out=row)
            # One added note, then two at once after none or one: up to three.
            for added, far in ((one, 1), (two, 2))[: self.added_rounds]:
                np.add(row[:-far], added[far:], out=spare[far:])
                np.minimum(row[far:], spare[far:], out=row[far:])
            before, row = row, before
        bounds = best.reshape(shifts, width)
        least = bounds.min(axis=0)
        ends = np.flatnonzero(least < self.cap)
        return ends + begin, bounds[:, ends].T, least[ends]

    def _levels(self, width: int) -> "dict[int, Units]":
        """Rows of equal bytes: many times as fast as a single number, for which numpy has no vector loop here."""
        import numpy as np

        rows = self._rows
        if not rows or len(rows[self.cap]) < width:
            # Workers may both do this; each goes on with rows of its own.
            used = {min(value, self.cap) for value in (*self.before, *self.after, *self.drops, self.cap)}
            rows = {value: np.full(width, value, dtype=self.kind) for value in used}
            self._rows = rows
        return {value: row[:width] for value, row in rows.items()}

    def _added(self, columns: Columns, begin: int, end: int) -> "tuple[Units, Units]":
        """What it costs to add each note of a block, alone and with the one before, once for every shift."""
        import numpy as np

        classes = columns.classes[begin:end]
        cap = self.kind(self.cap)
        one = np.where(classes >= self.cannot_be_added, cap, self.added[columns.ornaments[begin:end]])
        two = one.copy()
        two[1:] = np.minimum(one[1:] + one[:-1], cap)
        return np.tile(one, self.shifts), np.tile(two, self.shifts)


def _blocks(columns: Columns, size: int, shortest: int) -> Iterator[tuple[int, int]]:
    """Stretches of whole unbroken lines of about ``size`` notes, without those too short to hold the figure."""
    import numpy as np

    edges = np.concatenate((columns.bars, [len(columns.classes)]))
    long_enough = np.flatnonzero(np.diff(edges) > shortest)
    firsts, ends = edges[long_enough], edges[long_enough + 1]
    gaps = np.flatnonzero(firsts[1:] != ends[:-1]) + 1
    index = 0
    while index < len(firsts):
        within = int(np.searchsorted(ends, firsts[index] + size, side="right"))
        following = np.searchsorted(gaps, index, side="right")
        unbroken = int(gaps[following]) if following < len(gaps) else len(firsts)
        stop = min(max(within, index + 1), unbroken)
        yield int(firsts[index]), int(ends[stop - 1])
        index = stop


def shortest_line(asked: Sought, most_parts: int) -> int:
    """The fewest notes (without repeats) that a line must have to hold the figure at a price."""
    cheapest = min(*asked.edge_parts, *asked.drop_parts)
    if cheapest == 0:
        return 2
    return max(2, len(asked) - most_parts // cheapest)


def scan(
    columns: Columns, asked: Sought, most_parts: int, workers: int = 1, kernels: "Kernels | None" = None
) -> Endings:
    """Every place where an occurrence of at most this price may end.

    Cost: notes times elements, about two nanoseconds with kernels; without, times shifts, a nanosecond for ten.
    """
    import numpy as np

    scanner = BlockScan(asked, most_parts) if kernels is None else kernels.scanner(asked, most_parts)
    stretches = list(_blocks(columns, max(_BLOCK_CELLS // scanner.shifts, 64), shortest_line(asked, most_parts)))

    def one(stretch: tuple[int, int]) -> "Found":
        return scanner.block(columns, *stretch)

    found: Sequence[Found]
    if workers > 1 and len(stretches) > workers:
        with ThreadPoolExecutor(workers) as pool:
            try:
                found = list(pool.map(one, stretches))
            except KeyboardInterrupt:
                pool.shutdown(cancel_futures=True)
                raise
    else:
        found = [one(stretch) for stretch in stretches]
    # Rounded down: a bound never exceeds the price.
    parts = np.floor(np.arange(scanner.cap + 1) / scanner.scale).astype(np.int64)
    if not found:
        found = [scanner.block(columns, 0, 0)]
    places, units, least = map(np.concatenate, zip(*found, strict=True))
    # Numbers of two bytes are sorted by counting.
    order = np.argsort(least.astype(np.uint16), kind="stable")
    return Endings(places[order], units, order, parts)


assert PARTS == 1000, "prices are scaled from thousandths"
