"""Recurring figures in a reading: letters, what comes back where, how it is varied, who else plays it."""

from corpus.reading.figures import Recurrence, Statement, figures_told
from tests.corpus.profile.lines_help import line

STUDY = line(
    "C|C|F|C|G7|C",
    "C3 E3 G3 E3 D3 D3 D3 D3 F3 A3 C4 A3 C3 E3 F3 G3 E3 D3 B2 D3 C3 C3 E3/2 E3/2 G3",
    key="C major",
)


def told(*recurrences: Recurrence) -> list[str]:
    """The sentences about figures."""
    return [remark.text for remark in figures_told(STUDY, recurrences).remarks]


def figure(*places: tuple[int, int], elsewhere: tuple[tuple[str, str], ...] = (), code: str = "aaaaaa") -> Recurrence:
    """A figure with places in the study."""
    return Recurrence(code, tuple(Statement(*place) for place in places), elsewhere, "Orlo Quist", 9, 0.02)


def test_each_place_says_how_it_differs_from_the_first() -> None:
    """Moved up a fourth, as it was, and with a note added: worked out by hand from the notes."""
    found = told(figure((0, 2), (8, 10), (12, 15)))
    assert found[0] == "figure A (C3 E3 G3) comes back in bars 3 and 4"
    assert found[1] == "figure A again up a perfect fourth, otherwise as in bar 1"
    assert found[2].startswith("figure A again (first in bar 1): ")
    assert "F3" in found[2]


def test_letters_follow_the_order_in_which_figures_first_stand() -> None:
    """The second one handed in stands first."""
    found = figures_told(STUDY, [figure((8, 11), (12, 15), code="late"), figure((0, 3), (16, 19), code="early")])
    assert [(named.letter, named.code) for named in found.figures] == [("A", "early"), ("B", "late")]


def test_a_figure_that_stands_once_says_who_else_plays_it() -> None:
    """Other players before other tunes of the same player; where nobody is known, nothing is said."""
    others = (("Paper Boats", "Tamsin Vey"), ("Low Tide", "Orlo Quist"), ("Fog", ""))
    assert told(figure((0, 3), elsewhere=others)) == ["figure A (C3 E3 G3 E3) is common stock: Tamsin Vey plays it too"]
    assert told(figure((0, 3), elsewhere=others[1:])) == ["figure A (C3 E3 G3 E3) stands in Low Tide too"]
    assert told(figure((0, 3), elsewhere=others[2:])) == []


def test_every_sentence_gives_the_family_and_its_likeness() -> None:
    """The finding behind it: code, counts, chance, and likeness to the first place."""
    first, again = figures_told(STUDY, [figure((0, 3), (8, 11))]).remarks
    assert first.why == "family aaaaaa: 2 places in this line, 9 in all, chance would give 0.02"
    assert again.why.endswith("; likeness 1.00 to bar 1")
    assert (again.bar_index, again.first, again.last) == (2, 8, 11)


def test_repeats_at_the_edges_belong_to_a_figure_only_where_all_places_have_them() -> None:
    """G closes bar 1 and opens bar 2: the second place begins with the last G, as the first does with its only one."""
    song = line("C|C|C", "G3 A3 B3 G3 G3 A3 B3 G3 E3 E3 D3 C3", key="C major")
    found = figures_told(song, [Recurrence("aaaaaa", (Statement(0, 3), Statement(3, 7)), (), "", 2, 0.02)])
    assert [tuple(place[:2]) for place in found.figures[0].places] == [(0, 3), (4, 7)]
    assert [remark.text for remark in found.remarks][1] == "figure A again as in bar 1"


def test_a_long_figure_is_told_by_its_beginning() -> None:
    """Of sixteen notes the first eight stand there, and how many there are."""
    first, *_ = told(figure((0, 15), (16, 23)))
    assert first.startswith("figure A (C3 E3 G3 E3 D3 D3 D3 D3 … 16 notes) comes back")
