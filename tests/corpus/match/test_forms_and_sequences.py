"""Figures turned round, and figures repeated at once on other degrees."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from corpus.errors import QueryError
from corpus.match.exact import Occurrence
from corpus.match.figure import (
    Figure,
    Folds,
    figure_from_contour,
    figure_from_degrees,
    figure_from_intervals,
    figure_from_notes,
    figure_from_notes_of,
    figure_from_roles,
    figure_from_steps,
)
from corpus.match.forms import FORMS, Form, parse_forms, turned
from corpus.match.near import occurrences_near
from corpus.match.prices import Prices
from corpus.match.sequences import sequences
from corpus.match.sought import sought
from corpus.model import TICKS_PER_QUARTER, Transcription
from tests.generators.small import line_from


@pytest.mark.parametrize(
    ("text", "forms"),
    [
        ("", ("",)),
        (" , ", ("",)),
        ("retrograde", ("", "retrograde")),
        ("Inversion, RETROGRADE", ("", "inversion", "retrograde")),
        ("retrograde   inversion,retrograde inversion", ("", "retrograde inversion")),
    ],
)
def test_forms_are_read_from_a_list(text: str, forms: tuple[Form, ...]) -> None:
    """The figure itself is always among them, and none is there twice."""
    assert parse_forms(text) == forms


@pytest.mark.parametrize("text", ["backwards", "retrograde,mirror", "inversion retrograde"])
def test_unknown_forms_are_refused_by_name(text: str) -> None:
    """The message names the word and the cure."""
    with pytest.raises(QueryError, match=r"unknown form '.*': choose from retrograde, inversion, retrograde inversion"):
        parse_forms(text)


@pytest.mark.parametrize(
    ("form", "pitches", "letters"),
    [
        ("", (48, 52, 55, 53), (0, 2, 4, 3)),
        ("retrograde", (53, 55, 52, 48), (3, 4, 2, 0)),
        # C up to E becomes C down to A flat: a third down on the third letter below.
        ("inversion", (48, 44, 41, 43), (0, -2, -4, -3)),
        ("retrograde inversion", (43, 41, 44, 48), (-3, -4, -2, 0)),
    ],
)
def test_notes_turned_round(form: Form, pitches: tuple[int, ...], letters: tuple[int, ...]) -> None:
    """C E G F backwards, upside down about its first note, and both."""
    figure = turned(figure_from_notes("C3 E3 G3 F3"), form)
    assert figure.pitches == pitches
    assert figure.positions is not None
    c3 = 21
    assert tuple(position - c3 for position in figure.positions) == letters


def test_intervals_steps_and_contours_turned_round() -> None:
    """Each way of asking keeps to what it tells."""
    intervals, steps = figure_from_intervals("+4 +3 -2"), figure_from_steps("+2 +2 -1")
    assert turned(intervals, "inversion").pitches == (0, -4, -7, -5)
    assert turned(intervals, "retrograde").pitches == (5, 7, 4, 0)
    assert turned(steps, "inversion").positions == (0, -2, -4, -3)
    assert turned(steps, "retrograde").positions == (3, 4, 2, 0)
    contour = figure_from_contour("*uudr")
    assert turned(contour, "inversion").contour == "ddur"
    assert turned(contour, "retrograde").contour == "rudd"
    assert turned(contour, "retrograde inversion").contour == "rduu"


def test_the_retrograde_of_degrees_and_roles_is_their_list_backwards() -> None:
    """They cannot be turned upside down."""
    for figure in (figure_from_degrees("5 6 7 1"), figure_from_roles("1 3 5")):
        assert turned(figure, "retrograde").choices == figure.choices[::-1]
        for form in ("inversion", "retrograde inversion"):
            with pytest.raises(QueryError, match="cannot be turned upside down: ask with --notes or --intervals"):
                turned(figure, form)


def test_rhythm_runs_backwards_with_the_notes() -> None:
    """A half, a quarter, an eighth to the next become an eighth, a quarter, a half; the beat is no longer told."""
    line = line_from("C3 D3 E3 F3", "2 1 1/2 1")
    figure = turned(figure_from_notes_of(line, 0, 3), "retrograde")
    assert figure.onsets is not None
    assert [onset / TICKS_PER_QUARTER for onset in figure.onsets] == [0, 0.5, 1.5, 3.5]
    assert figure.beat is None


def test_octaves_that_are_not_known_go_backwards_too() -> None:
    """Only the first of three has an octave: in the retrograde it is the last."""
    assert turned(figure_from_notes("C3 E G"), "retrograde").octave_known == (False, False, True)


@given(
    st.lists(st.integers(-12, 12), min_size=1, max_size=8),
    st.sampled_from([form for form in FORMS if form]),
)
def test_turning_twice_gives_the_same_intervals_back(sizes: list[int], form: Form) -> None:
    """Whichever form it is."""
    figure = figure_from_intervals(" ".join(f"{size:+d}" for size in sizes))
    twice = turned(turned(figure, form), form)
    assert figure.pitches is not None
    assert twice.pitches is not None
    assert [p - twice.pitches[0] for p in twice.pitches] == [p - figure.pitches[0] for p in figure.pitches]


def found_in(line: Transcription, figure: Figure, threshold: float = 0.85) -> list[Occurrence]:
    """Sequences of a figure in a line."""
    return list(sequences(line, occurrences_near(sought(figure, Folds(), Prices()), line, threshold)))


def told(found: list[Occurrence]) -> list[tuple[int, int, str]]:
    """First and last note of each sequence, and its words."""
    return [(o.first, o.last, o.changes[0].words) for o in found]


@pytest.mark.parametrize(
    ("played", "words"),
    [
        ("C3 E3 G3 D3 F#3 A3 E3 G#3 B3", "sequence: 3 times, each a whole step higher"),
        ("E3 G#3 B3 Eb3 G3 Bb3 D3 F#3 A3", "sequence: 3 times, each a half-step lower"),
        ("C3 E3 G3 F3 A3 C4", "sequence: 2 times, each a perfect fourth higher"),
        ("C3 E3 G3 C4 E4 G4", "sequence: 2 times, each an octave higher"),
        ("C3 E3 G3 D3 F#3 A3 Db3 F3 Ab3", "sequence: 3 times: a whole step higher, then a half-step lower"),
    ],
)
def test_the_words_of_sequences(played: str, words: str) -> None:
    """How often, and by which interval: once where it is always the same."""
    line = line_from(played)
    found = found_in(line, figure_from_notes("C3 E3 G3"))
    assert told(found) == [(0, len(line.notes) - 1, words)]
    assert found[0].likeness == 1


def test_a_repetition_at_pitch_is_no_sequence_nor_is_one_after_a_bar_of_rest() -> None:
    """It must stand elsewhere, and at once; a rest shorter than a bar is no break."""
    figure = figure_from_notes("C3 E3 G3")
    assert found_in(line_from("C3 E3 G3 C3 E3 G3"), figure) == []
    assert found_in(line_from("C3 E3 G3 r4 D3 F#3 A3"), figure) == []
    assert found_in(line_from("C3 E3 G3 F3 D3 F#3 A3"), figure) == []
    assert told(found_in(line_from("C3 E3 G3 r3 D3 F#3 A3"), figure))[0][:2] == (0, 5)


def test_a_sequence_may_go_on_from_the_last_note() -> None:
    """G is the last note of the first and the first of the second."""
    found = found_in(line_from("C3 E3 G3 B3 D4"), figure_from_notes("C3 E3 G3"))
    assert told(found) == [(0, 4, "sequence: 2 times, each a perfect fifth higher")]


def test_a_sequence_with_a_changed_repetition_is_as_like_as_its_least_like() -> None:
    """The minor third of the second costs 0.3 of three notes, and is told after the sequence."""
    prices = Prices(altered=0.3)
    line = line_from("C3 E3 G3 F#3 D3 F3 A3 G#3")
    occurrences = occurrences_near(sought(figure_from_notes("C3 E3 G3 F#3"), Folds(), prices), line, 0.85)
    (found,) = sequences(line, occurrences)
    assert found.likeness == pytest.approx(1 - 0.3 / 4)
    assert [change.words for change in found.changes if change.words][:1] == [
        "sequence: 2 times, each a whole step higher"
    ]
    assert [(change.kind, change.amounts) for change in found.changes] == [("sequence", (2,)), ("altered", (-1,))]


def test_sequences_part_where_the_line_does() -> None:
    """Two of them with a long rest between, each told by itself."""
    played = "C3 E3 G3 D3 F#3 A3 r8 C3 E3 G3 Bb2 D3 F3"
    assert told(found_in(line_from(played), figure_from_notes("C3 E3 G3"))) == [
        (0, 5, "sequence: 2 times, each a whole step higher"),
        (6, 11, "sequence: 2 times, each a whole step lower"),
    ]


def test_a_sequence_goes_where_the_figure_goes_though_its_first_note_is_missing() -> None:
    """C E G B, then F# A C# without its D: a whole step higher, whether notes or intervals were asked for."""
    line = line_from("C3 E3 G3 B3 F#3 A3 C#4 A3")
    for figure in (figure_from_notes("C3 E3 G3 B3"), figure_from_intervals("+4 +3 +4")):
        found = found_in(line, figure, 0.8)
        assert told(found) == [(0, 6, "sequence: 2 times, each a whole step higher")]
