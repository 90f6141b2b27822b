"""The kernels of near search, compiled: made ready for a figure's costs, and called.

Both give what the same steps in numpy give, which stay as the way where nothing can be compiled, and as their measure:
``CompiledScan`` the blocks of ``corpus.match.scan``, ``CompiledVerifier`` the endings of ``corpus.match.verify``.
"""

from typing import TYPE_CHECKING, Any, Final

from corpus.match.alignment import NEVER, heaviest, letter_told, reach_of, weight_of
from corpus.match.columns import Columns
from corpus.match.ornaments import ORNAMENTS
from corpus.match.scan import BlockScan
from corpus.match.scan_kernel import CARRIED, scan_notes
from corpus.match.sought import CLASSES, NO_LETTERS, Sought
from corpus.match.trace_kernel import PAIR, trace, way_back
from corpus.match.verify import Verified, Verifier
from corpus.match.verify_kernel import (
    CELL,
    ELEMENT,
    FIGURE,
    FOUND,
    LOWS,
    NOTE,
    RIGHT,
    UNTOLD,
    WRONG,
    at_most,
    keep,
    look,
    verify_ending,
    verify_endings,
    verify_letters,
    weigh,
    weigh_letters,
)
from corpus.native.language import LANES

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from corpus.match.columns import Places
    from corpus.match.scan import Found, Units
    from corpus.native.machine import Keeper, Loaded

Pairs = tuple[tuple[int, int], ...]
"""Elements, and how many notes before the last of an occurrence each stands."""

_ALL: Final = (
    scan_notes, look, at_most, weigh, weigh_letters, keep, verify_letters, verify_ending, verify_endings,
    way_back, trace,
)  # fmt: skip
_CELLS_A_CALL: Final = 200_000
"""Elements times notes in reach, over all endings of a call: some tens of milliseconds, as each is weighed under up
to a hundred transpositions of pitches and letters."""
_BITS: Final = {"uint8": 8, "uint16": 16}


class Kernels:
    """Machine code that is made, or fetched from where it is kept, when it is first wanted."""

    def __init__(self, keeper: "Keeper | None" = None) -> None:
        self._keeper = keeper
        self._loaded: dict[int, Loaded] = {}

    def with_lanes(self, bits: int = 8) -> "Loaded":
        """All kernels, with lanes of 8 or 16 bits. Raises ImportError where llvmlite is missing."""
        if bits not in self._loaded:
            from corpus.native.machine import loaded

            self._loaded[bits] = loaded(_ALL, bits, self._keeper)
        return self._loaded[bits]

    def scanner(self, asked: Sought, most_parts: int) -> "CompiledScan":
        """What the blocks of ``corpus.match.scan`` are computed with."""
        return CompiledScan(asked, most_parts, self)

    def verifier(self, columns: Columns, asked: Sought, most_parts: int) -> "CompiledVerifier":
        """What endings are verified with."""
        return CompiledVerifier(columns, asked, most_parts, self)


class CompiledScan(BlockScan):
    """A figure's costs as lanes, one for each shift."""

    def __init__(self, asked: Sought, most_parts: int, kernels: Kernels) -> None:
        import numpy as np

        super().__init__(asked, most_parts)
        self._loaded = kernels.with_lanes(_BITS[np.dtype(self.kind).name])
        size, cap = len(asked), self.cap
        self._class_count = self.planes.shape[1]
        self._costs: Units = np.full((size, self._class_count, LANES), cap, dtype=self.kind)
        for index, plane in enumerate(self.plane_of):
            self._costs[index, :, : self.shifts] = self.planes[plane : plane + self.shifts].T
        self._starts = self._as_lanes([*self.before[:size], cap])
        self._left_out = self._as_lanes(self.drops)
        # One note alone is no occurrence.
        self._afters = self._as_lanes([cap, *self.after[2:]])
        self._adding = self._as_lanes([*self.added.tolist(), cap])

    def _as_lanes(self, values: list[int]) -> "Units":
        import numpy as np

        return np.repeat(np.minimum(np.array(values), self.cap).astype(self.kind), LANES)

    def block(self, columns: Columns, begin: int, end: int) -> "Found":
        """As ``BlockScan.block``."""
        import numpy as np

        size = len(self.asked)
        places = np.empty(end - begin, dtype=np.int64)
        bounds = np.empty((end - begin, LANES), dtype=self.kind)
        lowest = np.empty(end - begin + 1, dtype=np.int32)
        count = self._loaded.call(
            "scan_notes", columns.classes, columns.ornaments, begin, end, size, self._costs, self._class_count,
            self._adding, self.cannot_be_added, len(ORNAMENTS), self._starts, self._left_out, self._afters, self.cap,
            np.empty((CARRIED * size, LANES), dtype=self.kind), places, bounds, lowest,
        )  # fmt: skip
        return places[:count].copy(), bounds[:count, : self.shifts].copy(), lowest[:count]


class CompiledVerifier:
    """A figure's weights as the records of ``corpus.match.verify_kernel``."""

    def __init__(self, columns: Columns, asked: Sought, most_parts: int, kernels: Kernels) -> None:
        import numpy as np

        self._columns, self._asked = columns, asked
        self._loaded = kernels.with_lanes()
        plain = Verifier(columns, asked, most_parts)
        self._added = plain.added
        self._heights = columns.positions if asked.alphabet == "letter" else columns.heights
        self._table, rows = _tables(plain)
        letters = [(element.position or 0) % NO_LETTERS for element in asked.elements]
        self._elements = np.array(
            list(zip([*rows, 0], [*letters, 0], plain.before, [*plain.drops, 0], plain.after, strict=True)),
            dtype=np.int64,
        )
        assert self._elements.shape == (len(asked) + 1, ELEMENT)
        self._figure = _facts(asked, most_parts, len(self._table) // 3)
        farthest = reach_of(asked, most_parts)
        self._window = np.empty(NOTE * farthest, dtype=np.int64)
        self._cells = np.empty(CELL * farthest * (len(asked) + 1), dtype=np.int64)
        self._lows = np.empty(LOWS, dtype=np.int64)
        self._pairs = np.empty(PAIR * len(asked), dtype=np.int64)
        # A call of a kernel cannot be stopped: none may take long.
        self._at_once = max(1, _CELLS_A_CALL // (len(asked) * farthest))

    def verify(self, places: "Places", bounds: "NDArray[np.int64]") -> list[Verified]:
        """As ``Verifier.verify``."""
        starts = range(0, len(places), self._at_once)
        return [v for i in starts for v in self._some(places[i : i + self._at_once], bounds[i : i + self._at_once])]

    def _some(self, places: "Places", bounds: "NDArray[np.int64]") -> list[Verified]:
        """What ends on few places."""
        import numpy as np

        columns = self._columns
        found = np.empty((len(places), FOUND), dtype=np.int64)
        self._loaded.call(
            "verify_endings", columns.classes, columns.ornaments, self._heights, columns.positions,
            np.ascontiguousarray(places), columns.bars_before(places), np.ascontiguousarray(bounds, dtype=np.int64),
            len(places), self._figure, self._elements, self._added, self._table, self._window, self._cells,
            self._lows, found,
        )  # fmt: skip
        fine = np.flatnonzero(found[:, 0] < NEVER)
        return [Verified(place, *told) for place, told in zip(places[fine].tolist(), found[fine].tolist(), strict=True)]

    def pairs(self, verified: Verified) -> Pairs:
        """The elements of an occurrence and how many notes before its last each stands, as ``alignment_at`` chooses."""
        columns, asked, end = self._columns, self._asked, verified.ending
        base = int(self._heights[end]) - verified.away - asked.heights[-1] if asked.shifts > 1 else 0
        letter = letter_told(asked, int(columns.positions[end]), verified.letter)
        right, wrong = int(self._figure[RIGHT]), int(self._figure[WRONG if asked.letters_matter else RIGHT])
        if letter == NO_LETTERS:
            right = wrong = int(self._figure[UNTOLD])
        count = self._loaded.call(
            "trace", columns.classes, columns.ornaments, self._heights, columns.positions, end,
            int(columns.bars_before(end)), self._figure, self._elements, self._added, base, letter, self._table,
            right, wrong, verified.weight, self._window, self._cells, self._pairs,
        )  # fmt: skip
        return tuple((index, back) for index, back in self._pairs[: count * PAIR].reshape(count, PAIR)[::-1].tolist())


def _facts(asked: Sought, most_parts: int, part: int) -> "NDArray[np.int64]":
    """The record of a figure whose tables for right, wrong and untold letters are so long."""
    import numpy as np

    heights = asked.heights or (0,)
    whole, half = (7, 3) if asked.alphabet == "letter" else (12, 5)
    cheapest = min(parts for kind, parts in asked.ornament_parts.items() if kind != "doubled")
    farthest = reach_of(asked, most_parts)
    fresh = farthest if cheapest == 0 else len(asked) + most_parts // cheapest
    prices = zip(asked.element_ornaments, asked.drop_parts, asked.edge_parts, strict=True)
    missing = [min(drop, edge) for kind, drop, edge in prices if kind != "doubled"]
    facts = [
        len(asked), asked.shifts, whole, half, CLASSES[asked.alphabet], asked.alphabet == "contour", fresh, farthest,
        max(heights), min(heights), heights[-1], asked.letters_matter, 0, part, 2 * part, heaviest(most_parts),
        len(asked) - len(missing), weight_of(min(missing, default=0)), weight_of(cheapest),
    ]  # fmt: skip
    assert len(facts) == FIGURE
    return np.array(facts, dtype=np.int64)


def _tables(plain: Verifier) -> "tuple[Any, list[int]]":
    """Weights by what notes are looked up by, for right, wrong and untold letters, and where each element's begin."""
    import numpy as np

    asked = plain.asked
    if asked.shifts == 1:
        tables = [plain.by_class(index) for index in range(len(asked))]
        return np.concatenate(tables * 3), [index * len(tables[0]) for index in range(len(asked))]
    kinds: dict[tuple[bool, bool], int] = {}
    rows = []
    for index, element in enumerate(asked.elements):
        kind = kinds.setdefault((element.octave_counts, index == len(asked) - 1), index)
        rows.append(list(kinds.values()).index(kind) * (2 * plain.farthest) + plain.farthest - asked.heights[index])
    letters = ((True, 0), (False, 0), (True, NO_LETTERS))
    prices = [[asked.note_parts(near, fits, letter) for near in (False, True)] for fits, letter in letters]
    return np.concatenate([plain.by_distance(index, *parts) for parts in prices for index in kinds.values()]), rows
