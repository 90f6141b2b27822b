"""The table of prices, and the law that one more change never makes a place more like the figure."""

from collections.abc import Sequence
from dataclasses import fields
from itertools import accumulate, pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from corpus.errors import QueryError
from corpus.match.figure import Folds, figure_from_intervals
from corpus.match.near import NearLine
from corpus.match.prices import FIGURES, PAID_FOR, TABLES, VERSIONS, Prices, prices_from
from corpus.match.sought import Sought, sought
from corpus.pitch import default_spelling
from tests.generators.small import line_from

NAMES = [field.name for field in fields(Prices)]


def test_every_price_is_explained_and_both_tables_are_complete() -> None:
    """Names, words and tables belong together."""
    assert list(PAID_FOR) == NAMES
    assert dict(TABLES) == {"figures": FIGURES, "versions": VERSIONS}
    assert Prices() == FIGURES


@pytest.mark.parametrize(("price", "parts"), [(0, 0), (1, 1000), (0.05, 50), (0.3, 300), (0.0004, 0), (0.9996, 1000)])
def test_prices_in_thousandths(price: float, parts: int) -> None:
    """Rounded to the nearest; whole numbers are prices too."""
    assert Prices(passing=price).parts("passing") == parts


def test_folds_make_changes_free() -> None:
    """Octaves the octave, doubles the doubled note; the mode leaves the table as it is."""
    everything = FIGURES.under(Folds(octaves=True, doubles=True, mode=True))
    assert (everything.octave, everything.doubled) == (0, 0)
    assert everything == prices_from({"octave": 0, "doubled": 0}, "here")
    assert FIGURES.under(Folds(mode=True)) == FIGURES
    assert FIGURES.under(Folds()) == FIGURES


def test_some_prices_from_a_table_the_others_as_before() -> None:
    """Over either base."""
    changed = prices_from({"passing": 0.2, "cut": 1}, "here", VERSIONS)
    assert (changed.passing, changed.cut, changed.added) == (0.2, 1, VERSIONS.added)
    assert prices_from({}, "here") == FIGURES


@pytest.mark.parametrize(
    ("table", "told"),
    [
        ({"pasing": 0.2}, "here: there is no price 'pasing': choose from octave, doubled"),
        ({"passing": -1}, "here: price passing = -1 must be a number from 0 to 1"),
        ({"passing": 1.5}, "here: price passing = 1.5 must be a number from 0 to 1"),
        ({"passing": float("nan")}, "here: price passing = nan must be a number from 0 to 1"),
        ({"passing": float("inf")}, "here: price passing = inf must be a number from 0 to 1"),
        ({"passing": "0.2"}, "here: price passing = '0.2' must be a number from 0 to 1"),
        ({"passing": [0.2]}, r"here: price passing = \[0.2\] must be a number from 0 to 1"),
        ({"passing": True}, "here: price passing = True must be a number from 0 to 1"),
        ({"passing": {"a": 1}}, "here: price passing = {'a': 1} must be a number from 0 to 1"),
    ],
)
def test_bad_tables_are_refused_in_words(table: dict[str, object], told: str) -> None:
    """Place, name and value are told, and what is possible."""
    with pytest.raises(QueryError, match=told):
        prices_from(table, "here")


SIZES = st.lists(st.sampled_from((3, 4, -3, -4, 5, -5, 7, -7)), min_size=6, max_size=8)
"""Leaps with room for a passing note in the thirds: no note of the figure is an ornament of its own."""


def pitches_of(sizes: Sequence[int]) -> list[int]:
    """A line of these leaps."""
    return list(accumulate(sizes, initial=60))


def asked_for(pitches: Sequence[int]) -> Sought:
    """The intervals of a line as a figure made ready, under the prices that are shipped."""
    sizes = " ".join(f"{after - before:+d}" for before, after in pairwise(pitches))
    return sought(figure_from_intervals(sizes), Folds(), Prices())


def price(asked: Sought, played: Sequence[int]) -> int:
    """The least price, in thousandths, of the figure ending on the last note of a line."""
    line = line_from(" ".join(map(default_spelling, played)))
    place = NearLine(asked, line).place_ending_on(len(played) - 1, asked.most_parts(0.4))
    assert place is not None
    return place.parts


def prices_rise(asked: Sought, lines: Sequence[Sequence[int]]) -> None:
    """Lines of which each was changed once more than the one before."""
    found = [price(asked, line) for line in lines]
    assert found[0] == 0
    assert all(before <= after for before, after in pairwise(found)), found
    likenesses = [asked.likeness(parts) for parts in found]
    assert likenesses == sorted(likenesses, reverse=True)


@settings(max_examples=12, deadline=None)
@given(st.data(), SIZES)
def test_one_more_altered_note_never_raises_the_likeness(data: st.DataObject, sizes: list[int]) -> None:
    """Fewer than half of the notes, each a half-step up or down: were most altered, the figure would be transposed."""
    pitches = pitches_of(sizes)
    # The last note stays: the place is known by it.
    chosen = data.draw(st.permutations(range(len(pitches) - 1)))[: (len(pitches) - 1) // 2]
    lines = [pitches]
    for index in chosen:
        changed = list(lines[-1])
        changed[index] += data.draw(st.sampled_from((1, -1)))
        lines.append(changed)
    prices_rise(asked_for(pitches), lines)


@settings(max_examples=12, deadline=None)
@given(st.data(), SIZES)
def test_one_more_octave_displacement_never_raises_the_likeness(data: st.DataObject, sizes: list[int]) -> None:
    """Fewer than half of the notes, all of them upward: each costs an octave more."""
    pitches = pitches_of(sizes)
    chosen = data.draw(st.permutations(range(len(pitches))))[: (len(pitches) - 1) // 2]
    asked = asked_for(pitches)
    changed = list(pitches)
    for count, index in enumerate(chosen, start=1):
        changed[index] += 12
        assert price(asked, changed) == count * asked.prices.parts("octave")


@settings(max_examples=12, deadline=None)
@given(st.data(), SIZES)
def test_one_more_passing_note_never_raises_the_likeness(data: st.DataObject, sizes: list[int]) -> None:
    """Put into the thirds of the figure, one after the other in any order."""
    pitches = pitches_of(sizes)
    thirds = [index for index, size in enumerate(sizes) if abs(size) in (3, 4)]
    chosen = data.draw(st.permutations(thirds))
    lines = []
    for count in range(len(chosen) + 1):
        line = []
        for index, pitch in enumerate(pitches):
            line.append(pitch)
            if index in chosen[:count]:
                line.append(pitch + (2 if sizes[index] > 0 else -2))
        lines.append(line)
    prices_rise(asked_for(pitches), lines)


@settings(max_examples=12, deadline=None)
@given(st.data(), SIZES)
def test_one_more_repeat_never_raises_the_likeness(data: st.DataObject, sizes: list[int]) -> None:
    """Notes inside the figure struck again, any of them any number of times up to three."""
    pitches = pitches_of(sizes)
    struck = data.draw(st.lists(st.integers(1, len(pitches) - 2), max_size=5).filter(lambda c: _most(c) <= 3))
    asked = asked_for(pitches)
    for count in range(len(struck) + 1):
        line = [p for i, p in enumerate(pitches) for _ in range(1 + struck[:count].count(i))]
        assert price(asked, line) == count * asked.prices.parts("doubled")


def _most(chosen: Sequence[int]) -> int:
    return max(map(chosen.count, chosen), default=0)


@settings(max_examples=12, deadline=None)
@given(SIZES, st.integers(0, 3))
def test_one_more_note_cut_never_raises_the_likeness(sizes: list[int], most: int) -> None:
    """From the front, one after the other."""
    pitches = pitches_of(sizes)
    prices_rise(asked_for(pitches), [pitches[count:] for count in range(most + 1)])
