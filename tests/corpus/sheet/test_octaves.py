"""Octave choice against trying every combination."""

from itertools import pairwise, product

from hypothesis import given, settings
from hypothesis import strategies as st

from corpus.sheet.octaves import octaves_within, smallest_jumps

Statements = list[list[int]]
LOW, HIGH = 28, 62


def cost(statements: Statements, shifts: tuple[int, ...]) -> tuple[int, int]:
    """The sum of jumps, and of octaves moved, said anew."""
    placed = [[pitch + 12 * shift for pitch in one] for one, shift in zip(statements, shifts, strict=True)]
    return sum(abs(after[0] - before[-1]) for before, after in pairwise(placed)), sum(map(abs, shifts))


def oracle(statements: Statements, low: int, high: int) -> tuple[int, int] | None:
    """The least cost of all combinations of octaves that stay in the range; None where there is none."""
    combinations = product(range(-9, 10), repeat=len(statements))
    costs = [
        cost(statements, shifts)
        for shifts in combinations
        if all(
            low <= pitch + 12 * shift <= high for one, shift in zip(statements, shifts, strict=True) for pitch in one
        )
    ]
    return min(costs, default=None)


@given(st.lists(st.lists(st.integers(20, 90), min_size=1, max_size=4), min_size=1, max_size=3), st.integers(0, 40))
@settings(deadline=None, max_examples=60)
def test_the_choice_costs_what_the_best_of_all_combinations_costs(statements: Statements, width: int) -> None:
    """Also when a statement is wider than the range: then there is no choice."""
    found = smallest_jumps(statements, LOW, LOW + width)
    best = oracle(statements, LOW, LOW + width)
    assert (found is None) == (best is None)
    if found is not None:
        assert cost(statements, tuple(found)) == best
        assert all(
            LOW <= pitch + 12 * shift <= LOW + width
            for one, shift in zip(statements, found, strict=True)
            for pitch in one
        )


@given(st.lists(st.integers(0, 127), min_size=1, max_size=5), st.integers(0, 127), st.integers(0, 60))
def test_octaves_within_a_range_are_all_that_stay_in_it(pitches: list[int], low: int, width: int) -> None:
    """Counted by trying; no range begins more than 16 octaves away."""
    tried = [s for s in range(-16, 17) if all(low <= pitch + 12 * s <= low + width for pitch in pitches)]
    assert list(octaves_within(pitches, low, low + width)) == tried


def test_many_statements_are_no_matter_of_combinations() -> None:
    """A hundred statements in a range of seven octaves: 7**100 combinations, done at once; by hand, no jump over 6."""
    statements = [[60 + (7 * i) % 12, 60 + (7 * i) % 12] for i in range(100)]
    found = smallest_jumps(statements, 21, 108)
    assert found is not None
    placed = [one[0] + 12 * shift for one, shift in zip(statements, found, strict=True)]
    assert max(abs(b - a) for a, b in pairwise(placed)) <= 7
    assert smallest_jumps([], LOW, HIGH) == []
