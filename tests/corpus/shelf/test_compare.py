"""Two shelves beside each other, and two figures made one."""

from dataclasses import replace
from datetime import date

import pytest
from hypothesis import given, settings

from corpus.errors import QueryError
from corpus.shelf.compare import added_to, chord_words, compare, free_name, merged, taken_over
from corpus.shelf.kept import (
    LONGEST_NAME,
    KeptChord,
    KeptFigure,
    KeptNote,
    KeptSource,
    Practice,
    clean_tags,
    folded_name,
    named,
)
from tests.generators.shelves import SHELVES

FIGURE = KeptFigure("Turn", (KeptNote("C3", 0, 5040), KeptNote("D3", 5040, 5040)), tags=("x",), rating=3)
SOURCE = KeptSource("Tune", "Player", "1:1-1:2", ("C3", "D3"))


@settings(max_examples=40, deadline=None)
@given(SHELVES, SHELVES)
def test_taking_nothing_over_loses_nothing_and_taking_twice_is_taking_once(
    mine: list[KeptFigure], theirs: list[KeptFigure]
) -> None:
    """Keep mine: every figure of mine is as it was; keep both: all of theirs are there under some name."""
    compared = compare(mine, theirs)
    kept = taken_over(mine, compared, {one.theirs.id_name: "keep-mine" for one in compared})
    by_name = {figure.id_name: figure for figure in kept.shelf}
    for figure in mine:
        assert replace(by_name[figure.id_name], sources=figure.sources, practice=figure.practice) == figure
    again = compare(kept.shelf, [one.theirs for one in compared if one.state == "new"])
    assert all(one.state == "there" and not one.adds for one in again)
    both = taken_over(mine, compared, {one.theirs.id_name: "keep-both" for one in compared})
    assert len(both.shelf) == len(mine) + sum(one.state != "there" for one in compared)
    assert len({figure.id_name for figure in both.shelf}) == len(both.shelf)


@pytest.mark.parametrize(
    ("values", "words"),
    [
        ({"rating": None}, "rating: 3 here, none in the file"),
        ({"tags": ("x", "y")}, "tags: x here, x, y in the file"),
        ({"comment": "a\nb"}, "comment: none here, a b in the file"),
        ({"family": "F"}, "family: none here, F in the file"),
        ({"notes": (KeptNote("C3", 0, 5040), KeptNote("Eb3", 5040, 5040))}, "notes: C3 D3 here, C3 Eb3 in the file"),
        ({"notes": (KeptNote("C3"), KeptNote("D3"))}, "the rhythm differs"),
        ({"chords": (KeptChord("C7", "V", "F"),)}, "chords: none here, C7 (V in F) in the file"),
        ({"comment": "x" * 200}, "comment: none here, " + "x" * 59 + "… in the file"),
    ],
)
def test_differences_are_told_in_words(values: dict[str, object], words: str) -> None:
    """Each field that would be overwritten, and no others."""
    (one,) = compare([FIGURE], [replace(FIGURE, **values)])  # type: ignore[arg-type]
    assert (one.state, one.differences) == ("conflict", (words,))


def test_the_day_it_was_kept_sources_and_practice_are_no_conflict() -> None:
    """What can be added without overwriting is counted."""
    theirs = replace(
        FIGURE, name="TURN", kept_on=date(2024, 1, 1), sources=(SOURCE,), practice=(Practice(date(2024, 1, 1), 90),) * 2
    )
    mine = replace(FIGURE, practice=(Practice(date(2024, 1, 1), 90),))
    (one,) = compare([mine], [theirs])
    assert (one.state, one.new_sources, one.new_practice) == ("there", 1, 1)
    assert added_to(mine, theirs).practice == theirs.practice


def test_uniting_keeps_live_links_and_every_entry_once() -> None:
    """The same words with and without link are one source."""
    live = replace(SOURCE, transcription=7, first=0, last=1)
    entry = Practice(date(2024, 1, 2), 90, ("C",), 4)
    one = replace(FIGURE, sources=(SOURCE,), practice=(entry,), comment="a", kept_on=date(2024, 2, 1))
    two = replace(
        FIGURE,
        name="Other",
        sources=(live,),
        practice=(Practice(date(2024, 1, 1), 80), entry),
        comment="b",
        tags=("X", "y"),
        rating=None,
        chords=(KeptChord("C7"),),
        key="F",
        kept_on=date(2024, 1, 1),
    )
    both = merged(one, two)
    assert both.sources == (live,)
    assert [entry.bpm for entry in both.practice] == [80, 90]
    assert (both.name, both.tags, both.rating, both.comment) == ("Turn", ("x", "y"), 3, "a\n\nb")
    assert (both.chords, both.key, both.kept_on) == ((KeptChord("C7"),), "F", date(2024, 1, 1))


def test_chords_are_told_with_functions_and_the_key_once() -> None:
    """Symbols alone, functions alone, both."""
    chords = (KeptChord("Cm7", "ii", "Bb"), KeptChord("F7", "V", "Bb"), KeptChord("", "ii", "Ab"), KeptChord("N.C."))
    assert chord_words(replace(FIGURE, chords=chords)) == "Cm7 (ii in Bb) F7 (V) ii in Ab N.C."


def test_a_free_name_is_numbered_and_not_too_long() -> None:
    """The first number that is free."""
    assert free_name("Turn", {"turn", "turn (2)"}) == "Turn (3)"
    assert len(free_name("x" * LONGEST_NAME, set())) <= LONGEST_NAME


def test_names_are_told_apart_without_regard_to_case_and_form() -> None:
    """An accent may be a character of its own."""
    figure = replace(FIGURE, name="Übung")
    assert named([figure], "u\u0308BUNG") is figure
    assert folded_name("Straße") == folded_name("STRASSE")
    assert clean_tags(["b, A", "a"]) == ("A", "b")
    with pytest.raises(QueryError, match="too many for a figure"):
        replace(FIGURE, tags=tuple(map(str, range(51))))
