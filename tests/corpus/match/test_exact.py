"""Exact search: worked examples, and the oracle on generated lines for every way of asking, fold and rhythm."""

from typing import Literal

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from corpus.errors import QueryError
from corpus.match.exact import check_rhythm, occurrences
from corpus.match.figure import (
    Figure,
    Folds,
    figure_from_contour,
    figure_from_intervals,
    figure_from_notes,
    figure_from_notes_of,
    figure_from_steps,
)
from corpus.match.pattern import pattern_of
from corpus.model import Transcription
from corpus.readings import line_of
from tests.databases import examples
from tests.generators.oracle import brute_force
from tests.generators.small import line_from, lines


def places(line: Transcription, figure: Figure, ignore: str = "", rhythm: str = "any") -> list[tuple[int, int]]:
    """First and last notes of all occurrences."""
    how: Literal["any", "stretched", "same"] = "any" if rhythm == "any" else "same" if rhythm == "same" else "stretched"
    pattern = pattern_of(figure, Folds.parse(ignore))
    return [(o.first, o.last) for o in occurrences(pattern, line_of(line), figure, how)]


def test_transposed_figure_is_found_and_named_by_its_distance() -> None:
    """A figure a minor third up is an occurrence 3 semitones away."""
    line = line_from("Bb2 D3 Eb3 E3 F3 Db3 F3 Gb3 G3")
    figure = figure_from_notes("Bb2 D3 Eb3 E3")
    found = list(occurrences(pattern_of(figure, Folds()), line_of(line), figure))
    assert [(o.first, o.last, o.transposed) for o in found] == [(0, 3, 0), (5, 8, 3)]


def test_overlapping_occurrences_are_all_found() -> None:
    """A figure may begin inside another occurrence of itself."""
    assert places(line_from("C3 D3 C3 D3 C3"), figure_from_notes("C4 D4 C4")) == [(0, 2), (2, 4)]


def test_leap_wider_than_an_octave_is_compared_by_pitch() -> None:
    """A fifteenth and a seventeenth share a symbol and are still told apart."""
    line = line_from("C2 C4 C2 E4")
    assert places(line, figure_from_intervals("+24")) == [(0, 1)]
    assert places(line, figure_from_intervals("+28")) == [(2, 3)]


def test_dead_notes_and_long_rests_break_a_figure() -> None:
    """Neither a dead note nor a rest longer than a bar may stand inside a figure."""
    figure = figure_from_notes("C3 D3")
    assert places(line_from("C3 x D3"), figure) == []
    assert places(line_from("C3 r5 D3"), figure) == []
    assert places(line_from("C3 r4 D3"), figure) == [(0, 1)]


def test_names_without_octave_fit_in_any_octave() -> None:
    """Bb D Eb matches with the D a tenth up, Bb2 D3 does not."""
    line = line_from("Bb2 D4 Eb3")
    assert places(line, figure_from_notes("Bb D Eb")) == [(0, 2)]
    assert places(line, figure_from_notes("Bb2 D3 Eb3")) == []
    assert places(line, figure_from_notes("Bb2 D Eb3")) == [(0, 2)]
    assert places(line, figure_from_notes("Bb2 D Eb4")) == []


def test_mode_fold_finds_the_minor_form() -> None:
    """The same letters with a lowered third match when the mode is ignored, and only then."""
    line = line_from("C3 Eb3 G3")
    assert places(line, figure_from_notes("F3 A3 C4")) == []
    assert places(line, figure_from_notes("F3 A3 C4"), "mode") == [(0, 2)]
    assert places(line, figure_from_intervals("+4 +3"), "mode") == [(0, 2)]


def test_doubled_notes_belong_to_the_occurrence_as_far_as_those_inside_do() -> None:
    """Every note doubled: both first notes count; a plain figure after a repeated note begins with its last."""
    figure = figure_from_notes("C3 D3 E3")
    assert places(line_from("C3 C3 D3 D3 E3 E3 F3"), figure, "doubles") == [(0, 5)]
    assert places(line_from("C3 C3 C3 D3 E3 E3 F3"), figure, "doubles") == [(2, 4)]


def test_stretched_rhythm_accepts_twice_the_length_and_no_other_proportion() -> None:
    """Quarters match halves when stretched, but not a dotted pair."""
    model = line_from("C3 D3 E3", "1")
    figure = figure_from_notes_of(model, 0, 2)
    assert places(line_from("G3 A3 B3", "2"), figure, rhythm="stretched") == [(0, 2)]
    assert places(line_from("G3 A3 B3", "2"), figure, rhythm="same") == []
    assert places(line_from("G3 A3 B3", "3/2 1/2 1"), figure, rhythm="stretched") == []


@pytest.mark.parametrize(
    ("make", "text", "words"),
    [
        (figure_from_notes, "Bb2 H3", "unknown note name 'H3'"),
        (figure_from_notes, "Bb2", "at least two notes"),
        (figure_from_notes, "", "at least two notes"),
        (figure_from_notes, "C99 D3", "octave"),
        (figure_from_intervals, "four", "'four' is no interval"),
        (figure_from_intervals, "+99", "wider than"),
        (figure_from_steps, "1.5", "no step"),
        (figure_from_contour, "*uxd", "'x'"),
        (figure_from_contour, "*", "at least two notes"),
        (figure_from_intervals, " ".join(["+1"] * 600), "too long"),
    ],
)
def test_figures_that_cannot_be_read_are_refused_in_words(make: "type[Figure]", text: str, words: str) -> None:
    """A bad figure names the bad word."""
    with pytest.raises(QueryError, match=words):
        make(text)


def test_folds_and_rhythm_that_make_no_sense_are_refused() -> None:
    """Unknown folds, octaves in a contour, nothing left without doubles, rhythm of a figure without rhythm."""
    with pytest.raises(QueryError, match="cannot ignore 'tempo'"):
        Folds.parse("octaves,tempo")
    with pytest.raises(QueryError, match="octaves cannot be ignored"):
        pattern_of(figure_from_contour("uud"), Folds(octaves=True))
    with pytest.raises(QueryError, match="one repeated note"):
        pattern_of(figure_from_notes("C3 C3 C3"), Folds(doubles=True))
    with pytest.raises(QueryError, match="needs a figure that has rhythm"):
        check_rhythm(figure_from_notes("C3 D3"), "same")


def test_dead_note_in_a_passage_is_refused_with_its_place() -> None:
    """A passage over a dead note cannot be a figure; the message tells bar and beat."""
    with pytest.raises(QueryError, match="bar 1 beat 2"):
        figure_from_notes_of(line_from("C3 x D3"), 0, 2)


@st.composite
def figures(draw: st.DrawFn, line: Transcription) -> Figure:
    """A figure cut from a line or made up, in every way of asking; some octaves left out."""
    way = draw(st.sampled_from(("passage", "notes", "intervals", "steps", "contour")))
    if way == "passage":
        first = draw(st.integers(0, len(line.notes) - 1))
        last = draw(st.integers(first, min(first + 6, len(line.notes) - 1)))
        assume(last > first and all(note.pitch is not None for note in line.notes[first : last + 1]))
        return figure_from_notes_of(line, first, last)
    size = draw(st.integers(1, 5))
    if way == "notes":
        names = [note.spelling for note in line.notes if note.pitch is not None] or ["C3"]
        chosen = draw(
            st.lists(st.sampled_from([*names, *(n.rstrip("0123456789") for n in names)]), min_size=2, max_size=5)
        )
        return figure_from_notes(" ".join(chosen))
    if way == "contour":
        return figure_from_contour("".join(draw(st.lists(st.sampled_from("udr"), min_size=size, max_size=size))))
    widest = 30 if way == "intervals" else 16
    sizes = draw(st.lists(st.integers(-4, 4) | st.integers(-widest, widest), min_size=size, max_size=size))
    text = " ".join(f"{n:+d}" for n in sizes)
    return figure_from_intervals(text) if way == "intervals" else figure_from_steps(text)


FOLDS = st.builds(Folds, st.booleans(), st.booleans(), st.booleans())


@settings(max_examples=examples(500), deadline=None)
@given(st.data(), lines(), FOLDS, st.sampled_from(("any", "stretched", "same")))
def test_exact_search_equals_brute_force(
    data: st.DataObject, line: Transcription, folds: Folds, rhythm: Literal["any", "stretched", "same"]
) -> None:
    """Every occurrence and no other, for every way of asking, fold and rhythm, as trying every stretch finds them."""
    figure = data.draw(figures(line))
    assume(figure.contour is None or not folds.octaves)
    rhythm = rhythm if figure.onsets is not None else "any"
    if folds.doubles:
        assume(len(figure.without_doubles()) >= 2)
    found = [(o.first, o.last) for o in occurrences(pattern_of(figure, folds), line_of(line), figure, rhythm)]
    assert found == sorted(brute_force(line, figure, folds, rhythm))
