"""Near search in one line against the slow oracle, and the laws of changes and likeness."""

from bisect import bisect_right
from dataclasses import fields
from itertools import pairwise

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from corpus.errors import QueryError
from corpus.match.alignment import alignment_between, best_ending_on
from corpus.match.changes import apply_heights, apply_onsets
from corpus.match.exact import occurrences
from corpus.match.figure import Figure, Folds, figure_from_notes_of
from corpus.match.near import NearLine, occurrences_near
from corpus.match.pattern import pattern_of
from corpus.match.prices import Prices
from corpus.match.sought import sought
from corpus.model import Transcription
from corpus.readings import line_of
from tests.databases import examples
from tests.generators.near_oracle import least_prices
from tests.generators.small import lines

FOLDS = st.builds(Folds, octaves=st.booleans(), doubles=st.booleans(), mode=st.booleans())
PRICE = st.sampled_from((0.0, 0.01, 0.05, 0.1, 0.2, 0.25, 0.3, 0.4, 0.5, 0.7, 0.9, 1.0))
PRICES = st.one_of(st.just(Prices()), st.builds(Prices, **{field.name: PRICE for field in fields(Prices)}))


@st.composite
def passages(draw: st.DrawFn, line: Transcription, most: int = 6) -> Figure | None:
    """A passage of a line as a figure, None where no two different notes stand side by side."""
    notes = line.notes
    first = draw(st.integers(0, len(notes) - 1))
    last = min(first + draw(st.integers(1, most)), len(notes) - 1)
    stretch = notes[first : last + 1]
    if any(note.pitch is None for note in stretch) or len({note.pitch for note in stretch}) < 2:
        return None
    return figure_from_notes_of(line, first, last)


@settings(max_examples=examples(40), deadline=None)
@given(st.data(), lines(most=10), lines(most=7), FOLDS, PRICES)
def test_prices_are_those_of_the_oracle_whatever_they_are_set_to(
    data: st.DataObject, line: Transcription, other: Transcription, folds: Folds, prices: Prices
) -> None:
    """The price of every ending is the least that trying every way finds."""
    figure = data.draw(passages(other))
    if figure is None:
        return
    asked = sought(figure, folds, prices)
    most = asked.most_parts(0.3)
    near = NearLine(asked, line)
    found = {
        end: place.parts for end in range(len(near.notes)) if (place := near.place_ending_on(end, most)) is not None
    }
    wanted = {end: round(1000 * price) for end, price in least_prices(line, figure, folds, prices).items()}
    assert found == {end: price for end, price in wanted.items() if price <= most}


@settings(max_examples=examples(150), deadline=None)
@given(st.data(), lines(), lines(most=12), FOLDS, PRICES)
def test_the_changes_applied_to_the_figure_give_the_occurrence_note_for_note(
    data: st.DataObject, line: Transcription, other: Transcription, folds: Folds, prices: Prices
) -> None:
    """Pitches and onsets of every occurrence follow from the figure, its transposition and the changes."""
    figure = data.draw(passages(other, most=8))
    if figure is None:
        return
    for found in occurrences_near(sought(figure, folds, prices), line, 0.2):
        assert found.transposed is not None
        notes = line.notes[found.first : found.last + 1]
        assert apply_heights(figure, found.transposed, found.changes) == [note.pitch for note in notes]
        onsets = [note.onset_ticks - notes[0].onset_ticks for note in notes]
        assert apply_onsets(figure, found.changes) == onsets


@settings(max_examples=examples(40), deadline=None)
@given(st.data(), lines(most=12), FOLDS, PRICES)
def test_a_place_whose_ends_are_known_is_aligned_as_the_search_did(
    data: st.DataObject, line: Transcription, folds: Folds, prices: Prices
) -> None:
    """Of each occurrence the ends and the transposition lead back to it, whatever limit is given, its price or none.

    So does what is told at once of notes that are unchanged.
    """
    figure = data.draw(passages(line))
    if figure is None:
        return
    asked = sought(figure, folds, prices)
    near = NearLine(asked, line)
    for end in range(len(near.notes)):
        found = best_ending_on(asked, near.notes, end, asked.most_parts(0.5))
        if found is None:
            continue
        stretch = found.pairs[0][1], end
        for most in (found.parts, asked.most_parts(0)):
            told = alignment_between(asked, near.notes, stretch, most, found.semitones, found.letters)
            assert told == found


@settings(max_examples=200, deadline=None)
@given(st.data(), lines(), FOLDS)
def test_a_likeness_of_1_is_what_exact_search_finds(data: st.DataObject, line: Transcription, folds: Folds) -> None:
    """Nothing else is found at likeness 1, and nothing that exact search finds is missing."""
    figure = data.draw(passages(line))
    if figure is None:
        return
    # A note and its octave, or two notes on one letter, are a repeat to exact search where octaves or the mode are
    # ignored, and two notes to near search, to which only one pitch is a repeat, however it is spelled.
    assume(not any(_is_repeat(a, b, folds) for a, b in pairwise(_struck(figure))))
    assume(not folds.mode or all(a.spelling == b.spelling for a, b in pairwise(line.notes) if a.pitch == b.pitch))
    near = {(o.first, o.last) for o in occurrences_near(sought(figure, folds, Prices()), line, 1.0)}
    exact = {(o.first, o.last) for o in occurrences(pattern_of(figure, folds), line_of(line), figure)}
    assert {_runs(line, *place) for place in near} == {_runs(line, *place) for place in exact}


def _struck(figure: Figure) -> list[tuple[int, int]]:
    """Pitches and staff positions of a passage."""
    assert figure.pitches is not None
    assert figure.positions is not None
    return list(zip(figure.pitches, figure.positions, strict=True))


def _is_repeat(before: tuple[int, int], after: tuple[int, int], folds: Folds) -> bool:
    """Whether two notes differ by nothing but what is ignored."""
    size, whole = (after[1] - before[1], 7) if folds.mode else (after[0] - before[0], 12)
    return after[0] != before[0] and (size % whole == 0 if folds.octaves else size == 0)


def _runs(line: Transcription, first: int, last: int) -> tuple[int, int]:
    """The runs of repeats in which an occurrence begins and ends: where in them is each search's own rule."""
    firsts = line_of(line).runs.firsts
    return bisect_right(firsts, first), bisect_right(firsts, last)


@pytest.mark.parametrize("name", [field.name for field in fields(Prices)])
@pytest.mark.parametrize("value", [-0.1, 1.01, float("nan"), float("inf"), "0.2", None, True])
def test_prices_outside_0_to_1_are_refused(name: str, value: object) -> None:
    """The message names the price."""
    with pytest.raises(QueryError, match=name):
        Prices(**{name: value})  # type: ignore[arg-type]
