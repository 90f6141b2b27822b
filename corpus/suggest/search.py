"""The cheapest row of units over all bars, by dynamic programming.

A row is allowed where no joint is wider than ``corpus.suggest.costs.WIDEST_JOINT``, no figure stands in two
neighbouring bars, and no bar has the notes of its neighbour. All of that concerns two neighbouring units only, so the
cheapest row up to each unit is known from the cheapest rows up to those before it, and the result is exact.

Prices are whole numbers. Each unit also gets a part of one, drawn with the seed, so small that all parts of a row
together stay below one: the seed decides between rows of one price, and never for a dearer one.
"""

import random
from collections.abc import Sequence
from typing import TYPE_CHECKING

from corpus.errors import QueryError
from corpus.suggest.costs import FORBIDDEN, Wishes
from corpus.suggest.units import Unit

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

_SILENT = 10_000


def joint_price(before: Unit, after: Unit, groups: Sequence[int], wishes: Wishes) -> int:
    """The price of one unit after another; ``FORBIDDEN`` or more where they must not be neighbours.

    ``groups`` tells for each source which figure it is.
    """
    price = 0
    if before.notes and after.notes:
        price += wishes.motion(after.notes[0].pitch - before.notes[-1].pitch)
    if before.source is not None and after.source is not None and groups[before.source] == groups[after.source]:
        price += FORBIDDEN
    if before.closing and before.closing == after.opening:
        price += FORBIDDEN
    return price


def cheapest(
    units: Sequence[Sequence[Unit]], groups: Sequence[int], wishes: Wishes, extra: Sequence[int] = ()
) -> tuple[list[Unit], int]:
    """The cheapest row of units that covers all bars, and its price; ``units[bar]`` begin in that bar.

    ``extra`` is what each figure costs besides. Raises QueryError where no row is allowed. Cost: units that end at
    a bar line times units that begin there.
    """
    import numpy as np

    bar_count = len(units)
    chance = random.Random(wishes.seed)
    ends: list[list[tuple[Unit, float, int]]] = [[] for _ in range(bar_count + 1)]
    for bar in range(bar_count):
        starting = units[bar]
        if not starting or (bar and not ends[bar]):
            continue
        own = np.array([unit.price + _extra(unit, groups, extra) for unit in starting], dtype=float)
        own += np.array([chance.random() for _ in starting]) / (bar_count + 1)
        before = np.zeros(len(starting), dtype=int)
        if bar:
            totals = np.array([total for _, total, _ in ends[bar]])
            joints = totals[:, None] + _joints([unit for unit, _, _ in ends[bar]], starting, groups, wishes)
            before = joints.argmin(axis=0)
            own += joints[before, np.arange(len(starting))]
        for unit, total, place in zip(starting, own.tolist(), before.tolist(), strict=True):
            ends[unit.end_bar].append((unit, total, place))
    return _row(ends, bar_count)


def _extra(unit: Unit, groups: Sequence[int], extra: Sequence[int]) -> int:
    return 0 if unit.source is None or not extra else extra[groups[unit.source]]


def _row(ends: Sequence[Sequence[tuple[Unit, float, int]]], bar_count: int) -> tuple[list[Unit], int]:
    if not ends[bar_count]:
        raise QueryError("no line can be joined over this chart")
    place = min(range(len(ends[bar_count])), key=lambda index: ends[bar_count][index][1])
    total = ends[bar_count][place][1]
    if total >= FORBIDDEN:
        raise QueryError("no line can be joined over this chart without repeating a bar or leaping too far")
    row: list[Unit] = []
    end = bar_count
    while end:
        unit, _, place = ends[end][place]
        row.append(unit)
        end = unit.first_bar
    return row[::-1], int(total)


def _joints(
    before: Sequence[Unit], after: Sequence[Unit], groups: Sequence[int], wishes: Wishes
) -> "NDArray[np.float64]":
    """``joint_price`` of every pair, as a table."""
    import numpy as np

    motion = np.array([wishes.motion(size) for size in range(128)], dtype=float)
    signatures: dict[object, int] = {}

    def number(signature: object) -> int:
        return signatures.setdefault(signature, len(signatures))

    last = np.array([unit.notes[-1].pitch if unit.notes else _SILENT for unit in before])
    first = np.array([unit.notes[0].pitch if unit.notes else _SILENT for unit in after])
    sounding = (last != _SILENT)[:, None] & (first != _SILENT)[None, :]
    size = np.where(sounding, np.abs(last[:, None] - first[None, :]), 0)
    prices = np.where(sounding, motion[size], 0.0)
    one = np.array([-1 if unit.source is None else groups[unit.source] for unit in before])
    two = np.array([-2 if unit.source is None else groups[unit.source] for unit in after])
    prices += FORBIDDEN * (one[:, None] == two[None, :])
    closing = np.array([number(unit.closing) if unit.closing else -1 for unit in before])
    opening = np.array([number(unit.opening) if unit.opening else -2 for unit in after])
    prices += FORBIDDEN * (closing[:, None] == opening[None, :])
    return prices
