"""Passages: bars, beats, passes, and the notes that start in them."""

import pytest

from corpus.errors import QueryError, RangeError
from corpus.regions import notes_in, parse_region
from tests.generators.small import line_from

LINE = line_from("C3 D3 E3 F3 G3 A3 B3 C4 D4 E4 F4 G4")
EIGHTHS = line_from("C3 D3 E3 F3 G3 A3 B3 C4", "1/2")
TRIPLETS = line_from("C3 D3 E3 F3 G3 A3", "1/3")


@pytest.mark.parametrize(
    ("text", "first", "last"),
    [("1", 0, 3), ("1-2", 0, 7), ("2", 4, 7), ("1:3-2:2", 2, 5), ("1:4", 3, 3), ("2:2-3", 5, 11), (" 1 - 1 ", 0, 3)],
)
def test_passages_hold_the_notes_that_start_in_them(text: str, first: int, last: int) -> None:
    """Quarter notes, four to a bar."""
    assert notes_in(LINE, parse_region(text)) == (first, last)


def test_a_beat_may_be_divided() -> None:
    """2.5 is the second eighth of beat 2; thirds may be typed as rounded decimals or as fractions."""
    assert notes_in(EIGHTHS, parse_region("1:2.5-1:3")) == (3, 4)
    assert notes_in(TRIPLETS, parse_region("1:1.333-1:1.667")) == (1, 2)
    assert notes_in(TRIPLETS, parse_region("1:1+1/3-1:1+2/3")) == (1, 2)


@pytest.mark.parametrize("text", ["", "a", "1-2-3", "2-1", "1:0", "1:3-1:2", "-1", "1:1e9", "99999999"])
def test_what_is_no_passage_is_refused(text: str) -> None:
    """The error shows how a passage is written."""
    with pytest.raises(QueryError):
        parse_region(text)


@pytest.mark.parametrize(
    ("text", "words"), [("9", "no bar 9"), ("1:5", "no beat 5"), ("1~2", "played 1 time"), ("1:3.5-1:3.5", "no note")]
)
def test_places_that_do_not_exist_are_named(text: str, words: str) -> None:
    """Bars, beats and passes outside the line."""
    with pytest.raises(RangeError, match=words):
        notes_in(LINE, parse_region(text))
