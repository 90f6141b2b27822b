"""Forms as text, and the choruses and sections they lay over bars."""

from dataclasses import replace

import pytest

from corpus.errors import QueryError
from corpus.form import chorus_numbers, parse_form, sections_from_form
from corpus.model import Bar, Meter

FOUR_FOUR = Meter(4, 4)
BAR = FOUR_FOUR.bar_ticks


def bars(*numbers: int) -> list[Bar]:
    """Full bars with the given numbers, a 0 being a pickup of one beat."""
    made: list[Bar] = []
    onset = 0
    for number in numbers:
        length = BAR if number else BAR // 4
        made.append(Bar(number, 1, onset, length, BAR - length, FOUR_FOUR))
        onset += length
    return made


@pytest.mark.parametrize(
    ("text", "total", "shown"),
    [
        ("32", 32, "32"),
        ("A8 A8 B8 A8", 32, "A8 A8 B8 A8"),
        ("A12", 12, "A12"),
        ("Intro4, A16", 20, "Intro4 A16"),
        ("A 8 B 8", 16, "A8 B8"),
    ],
)
def test_forms_are_read(text: str, total: int, shown: str) -> None:
    """A number of bars, or sections with theirs."""
    form = parse_form(text)
    assert (form.bars, str(form)) == (total, shown)


@pytest.mark.parametrize("text", ["", "AABA", "A0", "0", "A8 ?", "9999", "A8 8"])
def test_what_is_no_form_is_refused(text: str) -> None:
    """The message shows how a form is written."""
    with pytest.raises(QueryError):
        parse_form(text)


def test_choruses_follow_the_form_and_a_pickup_belongs_to_the_first() -> None:
    """Four bars to a chorus after a pickup."""
    assert chorus_numbers(bars(0, 1, 2, 3, 4, 5, 6), parse_form("A2 B2")) == [1, 1, 1, 1, 1, 2, 2]
    assert chorus_numbers(bars(1, 2, 3), None) == [1, 1, 1]


def test_sections_follow_the_form_in_every_chorus() -> None:
    """The first section begins with the pickup; a broken last chorus ends where the line does."""
    line = bars(0, 1, 2, 3, 4, 5)
    sections = sections_from_form(line, parse_form("A2 B2"))
    assert [section.label for section in sections] == ["A", "B", "A"]
    assert [section.onset_ticks for section in sections] == [0, line[3].onset_ticks, line[5].onset_ticks]
    assert sections[-1].end_ticks == line[-1].onset_ticks + BAR
    assert sections_from_form(line, parse_form("4")) == ()


def test_the_second_half_of_a_divided_bar_is_no_bar_of_its_own() -> None:
    """Bar 2 divided by a repeat sign counts once."""
    line = bars(1, 2, 2, 3, 4)
    half = BAR // 2
    line[1] = replace(line[1], length_ticks=half)
    line[2] = replace(line[2], length_ticks=half, padding_ticks=half)
    assert chorus_numbers(line, parse_form("2")) == [1, 1, 1, 2, 2]
