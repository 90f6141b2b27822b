"""What a lesson says: chart, figures, map, signs."""

import pytest

from corpus.lesson.figures import FoundFamily
from corpus.lesson.lesson import lesson_of
from corpus.lesson.signs import numeral_with_signs, with_signs
from corpus.match.exact import Occurrence
from corpus.model import Transcription
from corpus.read.formats import pieces_of, read_piece
from corpus.read.written import ReadingWishes


@pytest.mark.parametrize(
    ("plain", "signed"),
    [
        ("Bb7b9", "B♭7♭9"),
        ("F#m7b5/Eb", "F♯m7♭5/E♭"),
        ("subV/V", "subV/V"),
        ("bVII7", "♭VII7"),
        ("bb7", "♭♭7"),
        ("Bbb3 A2", "B♭♭3 A2"),
        ("starts on the b3 in bar 4 of B", "starts on the ♭3 in bar 4 of B"),
        ("doubled by both", "doubled by both"),
    ],
)
def test_signs(plain: str, signed: str) -> None:
    """A b is a flat after a note's letter, before a number or numeral, and between the numbers of a chord."""
    assert with_signs(plain) == signed


def test_diminished_numeral() -> None:
    """The o of a diminished chord is a ring."""
    assert numeral_with_signs("#ivo7") == "♯iv°7"


@pytest.fixture(scope="module")
def line() -> Transcription:
    """Two choruses of four bars over ii V I V/ii in C, the first bar again in the fifth."""
    text = """%abc-2.1
X:1
T:Gravel Lane
%%wellworn-form A4
M:4/4
L:1/4
K:C
P:A
"Dm7"D F A c | "G7"E G B d | "Cmaj7"c B G E | "A7"^C E G B |
"Dm7"D F A c | "G7"B, D F G | "Cmaj7"E G c B | "A7"A G E ^C |]
"""
    (piece,) = pieces_of(text.encode(), "study.abc")
    return read_piece(piece, ReadingWishes())


def _families() -> list[FoundFamily]:
    places = [Occurrence(0, 3, 0), Occurrence(4, 8, 2), Occurrence(16, 19, 0)]
    later = FoundFamily(["E4", "G4"], [Occurrence(24, 26, 0)], 2, 1, 0)
    return [later, FoundFamily(["D4", "F4", "A4", "C5"], places, 9, 3, 2)]


def test_chart_is_told_once(line: Transcription) -> None:
    """Both choruses have the same chart: it is told once, with functions worked out by hand."""
    (chart,) = lesson_of(line, [], range(8)).charts
    assert (chart.chorus, chart.also) == (1, (2,))
    assert [(c.symbol, c.numeral) for bar in chart.bars for c in bar.chords] == [
        ("Dm7", "ii"),
        ("G7", "V"),
        ("Cmaj7", "I"),
        ("A7", "V/ii"),
    ]
    assert chart.bars[0].section == "A"


def test_letters_follow_the_page(line: Transcription) -> None:
    """The figure that stands first is A, whatever the order in the corpus; degrees are told against the chord."""
    figures = lesson_of(line, _families(), range(8)).figures
    assert [(figure.letter, figure.family, len(figure.places)) for figure in figures] == [("A", 1, 3), ("B", 0, 1)]
    first = figures[0].places[0]
    assert [(note.note, note.degree, note.kind) for note in first.notes] == [
        ("D4", "1", "chord tone"),
        ("F4", "♭3", "chord tone"),
        ("A4", "5", "chord tone"),
        ("C5", "♭7", "chord tone"),
    ]
    assert first.where == "bar 1, beat 1, section A"
    assert figures[0].spread == "9 places in 3 tunes by 2 players"


def test_only_figures_inside_the_bars(line: Transcription) -> None:
    """With bars 5 to 6 only the figure's place that stands wholly in them is marked."""
    figures = lesson_of(line, _families(), range(4, 6)).figures
    assert [(figure.letter, [p.first for p in figure.places]) for figure in figures] == [("A", [16])]


def test_map_follows_notes(line: Transcription) -> None:
    """A place over a bar line is drawn in both bars: to the end of the second, then the first quarter of the third."""
    (first, _) = lesson_of(line, _families(), range(8)).choruses
    told = [
        (bar.name, [(s.label, s.start, s.end, s.is_beginning, s.is_ending) for s in bar.segments]) for bar in first.bars
    ]
    assert told == [
        ("1", [("A", 0.0, 100.0, True, True)]),
        ("2", [("A", 0.0, 100.0, True, False)]),
        ("3", [("A", 0.0, 25.0, False, True)]),
        ("4", []),
    ]


def test_chords_that_the_line_itself_spells_stand_in_the_map_and_in_words() -> None:
    """A minor cliché over ii-V that resolves to the 5th of I stays on the ii (common practice, no source)."""
    from tests.corpus.profile.lines_help import line

    lesson = lesson_of(line("Dm7|G7|Cmaj7", "D3 F3 A3 F3 D3 A3 F3 A3 G3 E3 C3 G2", key="C major"), [], range(3))
    assert [bar.spelled for bar in lesson.choruses[0].bars] == ["", "Dm7", ""]
    assert lesson.spelled == ("Bar 2: ignores the G7 and stays on the ii: Dm7",)
