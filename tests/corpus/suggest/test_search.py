"""Dynamic programming beside trying every row."""

import itertools
import random
from collections.abc import Iterator, Sequence

import pytest
from hypothesis import given
from hypothesis import strategies as st

from corpus.errors import QueryError
from corpus.suggest.costs import FORBIDDEN, Wishes
from corpus.suggest.search import cheapest, joint_price
from corpus.suggest.units import PlacedNote, Unit

GROUPS = (0, 1, 1, 2)


def made_units(seed: int, bars: int, most: int) -> list[list[Unit]]:
    """A few units from each bar on, of one or two bars, with pitches that are often the same or too far away."""
    chance = random.Random(seed)

    def unit(bar: int) -> Unit:
        count = chance.randint(1, min(2, bars - bar))
        pitches = [chance.choice((40, 42, 43, 47, 55)) for _ in range(2)]
        notes = tuple(PlacedNote(100 * bar + 10 * i, 10, pitch) for i, pitch in enumerate(pitches))
        first, last = ((0, pitches[0]),), ((0, pitches[1]),)
        source = chance.choice((None, 0, 1, 2, 3))
        return Unit(bar, count, notes, chance.randint(0, 9), source, 0, first, last)

    return [[unit(bar) for _ in range(chance.randint(0, most))] for bar in range(bars)]


def every_row(units: Sequence[Sequence[Unit]], bar: int = 0) -> Iterator[list[Unit]]:
    """All rows that cover all bars."""
    if bar == len(units):
        yield []
        return
    for unit in units[bar]:
        for rest in every_row(units, unit.end_bar):
            yield [unit, *rest]


def price_of(row: Sequence[Unit], wishes: Wishes) -> int:
    """What a row costs."""
    joints = sum(joint_price(one, two, GROUPS, wishes) for one, two in itertools.pairwise(row))
    return joints + sum(unit.price for unit in row)


@given(st.integers(0, 10_000), st.integers(1, 5), st.integers(1, 4), st.integers(0, 3))
def test_the_row_found_is_the_cheapest_of_all(seed: int, bars: int, most: int, drawn: int) -> None:
    """Whatever the seed of the wishes; where no row is allowed that is said."""
    units, wishes = made_units(seed, bars, most), Wishes(seed=drawn)
    prices = [price_of(row, wishes) for row in every_row(units)]
    least = min(prices, default=FORBIDDEN)
    if least >= FORBIDDEN:
        with pytest.raises(QueryError, match="no line can be joined"):
            cheapest(units, GROUPS, wishes)
        return
    row, price = cheapest(units, GROUPS, wishes)
    assert price == least == price_of(row, wishes)


def test_seeds_choose_among_the_cheapest_rows() -> None:
    """All of several rows of one price are found by some seed, and each seed keeps to its own."""
    notes = (PlacedNote(0, 1, 40),)
    units = [[Unit(0, 1, notes, 3, None, 0, ((0, n),), ((0, n),)) for n in range(4)]]
    found = [cheapest(units, (), Wishes(seed=seed))[0][0].opening for seed in range(40)]
    assert len(set(found)) == 4
    assert found == [cheapest(units, (), Wishes(seed=seed))[0][0].opening for seed in range(40)]
