"""Suggested lines: what a bassist would want of them, whatever the wishes."""

from functools import cache
from itertools import pairwise

import pytest

from corpus.check import check
from corpus.errors import QueryError
from corpus.harmony.analysis import analyse
from corpus.model import Transcription
from corpus.shelf.kept import KeptChord, KeptFigure, KeptNote
from corpus.suggest.costs import Wishes, habits_of
from corpus.suggest.line import Suggestion, suggest
from corpus.suggest.source import UnusableError, source_of_kept
from tests.corpus.suggest.material import BLUES, RHYTHM, chart, double_bass, figures, kept, sources

WISHES = [
    Wishes(),
    Wishes(seed=7),
    Wishes(roots="few"),
    Wishes(roots="many"),
    Wishes(variety="high"),
    Wishes(habits=habits_of("quist", [5, 60, 70, 40, 20, 25, 2, 12, 1, 0, 0, 0, 2], 30, 64)),
]
WALTZ = "key: C\nmeter: 3/4\n| Dm7 | G7 | Cmaj7 | A7 | Dm7 | G7 | C6 | % |"
SUITES = [RHYTHM, BLUES, WALTZ, "| C7 |" * 9, "| C |", "meter: 6/8\n| Am7 D7 | Gmaj7 |", "meter: 5/4\n| Dm7 | G7 |"]


@cache
def suggested(text: str, wishes: Wishes | None = None) -> Suggestion:
    """A line over a chart from the small shelf."""
    return suggest(chart(text), sources(), double_bass(), wishes)


def bars_of(line: Transcription) -> list[list[tuple[int, int | None]]]:
    """For each bar its notes: onset in the bar and pitch."""
    return [
        [(n.onset_ticks - bar.onset_ticks, n.pitch) for n in line.notes if n.bar_index == index]
        for index, bar in enumerate(line.bars)
    ]


@pytest.mark.parametrize("wishes", WISHES, ids=lambda w: f"{w.roots}-{w.variety}-{w.seed}")
@pytest.mark.parametrize("text", SUITES, ids=lambda text: text[:12])
def test_a_line_can_be_played(text: str, wishes: Wishes) -> None:
    """The checks of transcriptions find nothing in its notes; no bar repeats its neighbour; no figure stands beside
    itself; bars are full.
    """
    found = suggested(text, wishes)
    line = found.line
    assert [f for f in check(line) if "stands alone for" not in f.text] == []
    assert all(one != two for one, two in pairwise(bars_of(line)))
    assert all(after.onset_ticks == before.end_ticks for before, after in pairwise(line.notes))
    assert (line.notes[0].onset_ticks, line.notes[-1].end_ticks) == (0, line.end_ticks)
    assert [bar.bar_index for bar in found.bars] == list(range(len(line.bars)))


@pytest.mark.parametrize("text", [RHYTHM, BLUES, "key: C\n| Dm7 | G7 | Cmaj7 | C6 | Dm7 G7 | C6 |"])
def test_figures_stand_only_over_functions_that_they_are_known_to_fit(text: str) -> None:
    """Each figure, followed through the line by its notes, meets the numerals of its own chords, in its own order."""
    found = suggested(text)
    own = {figure.name: figure for figure in figures()}
    analysis = analyse(found.line)
    checked = 0
    for index, bar in enumerate(found.bars):
        is_start = bar.source is not None and (index == 0 or found.bars[index - 1].source is not bar.source)
        if bar.source is None or not is_start:
            continue
        figure = own[bar.source.group]
        first = next(
            i for i, note in enumerate(found.line.notes) if note.bar_index == index and i not in set(bar.filled)
        )
        notes = found.line.notes[first : first + len(figure.notes)]
        assert [n.pitch for n in notes] == [n.pitch + bar.transposed for n in figure.notes]
        for note, of_figure in zip(notes, figure.notes, strict=True):
            (numeral,) = [c.numeral for c in figure.chords if (c.onset_ticks or 0) <= (of_figure.onset_ticks or 0)][-1:]
            span = analysis.span_at(note.onset_ticks)
            assert span is not None
            assert str(span.numeral) == numeral
            checked += 1
    assert checked >= 8


def test_places_are_those_of_the_figures_notes() -> None:
    """Each place holds the intervals of its figure, and no note that was filled in; places and filled notes are all."""
    found = suggested(RHYTHM)
    filled = {index for bar in found.bars for index in bar.filled}
    covered = [index for _, first, last in found.places for index in range(first, last + 1)]
    assert sorted([*covered, *filled]) == list(range(len(found.line.notes)))
    for source, first, last in found.places:
        pitches = [note.pitch or 0 for note in found.line.notes[first : last + 1]]
        assert [p - pitches[0] for p in pitches] == [n.pitch - source.notes[0].pitch for n in source.notes]


def test_figures_stand_in_neighbouring_bars_only_as_one() -> None:
    """Two bars in a row name the same figure only where it goes on from one into the other."""
    for wishes in WISHES:
        found = suggested(RHYTHM, wishes)
        for one, two in pairwise(found.bars):
            if one.source is not None and two.source is not None and one.source.group == two.source.group:
                assert len(one.source.notes) > one.note_count - len(one.filled)


def test_few_and_many_roots_are_heard() -> None:
    """Few wants fewer roots on first beats than nothing said, many more."""
    few, usual, many = (suggested(RHYTHM, Wishes(roots=roots)).roots for roots in ("few", "", "many"))
    assert few < usual <= many
    assert many >= 28


def test_high_variety_brings_no_figure_more_often() -> None:
    """The figure that comes most often comes at most as often as usual."""
    usual, high = (suggested(RHYTHM, Wishes(variety=v)).figures for v in ("usual", "high"))
    assert max(high.values()) <= max(usual.values())


def test_the_same_seed_gives_the_same_line_and_others_may_not() -> None:
    """Six seeds, several lines, all of one price."""
    found = [suggested(RHYTHM, Wishes(seed=seed)) for seed in range(6)]
    again = suggest(chart(RHYTHM), sources(), double_bass(), Wishes(seed=3))
    assert again == found[3]
    assert len({tuple(one.line.notes) for one in found}) > 1
    assert len({one.price for one in found}) == 1


def test_habits_are_prices_by_rarity() -> None:
    """The commonest move is free, one a quarter as frequent costs 2, one that never comes the most; by hand."""
    habits = habits_of("x", [0, 79, 39, 19, 0, 0, 0, 0, 0, 0, 0, 0, 0], 10, 50)
    assert habits.intervals[:4] == (4, 0, 1, 2)
    assert (habits.root, habits.other) == (2, 0)


def test_without_a_chord_there_are_rests() -> None:
    """A bar of N.C. stays silent, and that is told."""
    found = suggested("key: C\n| Dm7 | N.C. | Cmaj7 |")
    assert [bar.note_count > 0 for bar in found.bars] == [True, False, True]
    assert any("rests in bar 2" in remark for remark in found.remarks)
    assert check(found.line) == ()
    with pytest.raises(QueryError, match="no chord of the chart"):
        suggested("| N.C. |")


def test_without_figures_all_is_filled_in() -> None:
    """Chord tones on strong beats, every bar told as such."""
    found = suggest(chart(RHYTHM), [], double_bass())
    assert {bar.source for bar in found.bars} == {None}
    assert sum(len(bar.filled) for bar in found.bars) == len(found.line.notes)
    assert found.strong == found.strong_tones


def test_figures_without_a_place_are_told() -> None:
    """Nothing of the shelf stands over IV I iii vi, two beats each; that is said."""
    found = suggested("key: C\n| Fmaj7 Cmaj7 | Em7 Am7 |")
    assert found.figures == {}
    assert any("none of the 7 figures" in remark for remark in found.remarks)


def test_filled_notes_are_spelled_as_musicians_do() -> None:
    """Chord tones by their chord, approaches by the letter beside what follows, and never Cb or E# for those."""
    names = [note.spelling[:-1] for note in suggest(chart(RHYTHM), [], double_bass()).line.notes]
    assert not {"E#", "B#", "Fb"} & set(names)
    line = suggest(chart("key: Ab\n| Abm7 | Db7 |"), [], double_bass()).line
    tones = [note for note in line.notes if note.bar_index == 0 and (note.pitch or 0) % 12 in (8, 11, 3, 6)]
    assert tones
    assert {note.spelling[:-1] for note in tones} <= {"Ab", "Cb", "Eb", "Gb"}


def test_symbols_without_functions_are_analysed() -> None:
    """Dm7 G7 Cmaj7 are ii V I of C; notes are quarters where nothing is known."""
    figure = KeptFigure(
        "typed",
        tuple(map(KeptNote, ("D2", "F2", "G2", "B2", "C3", "G2"))),
        (KeptChord("Dm7"), KeptChord("G7"), KeptChord("Cmaj7")),
    )
    source = source_of_kept(figure)
    assert [note.numeral for note in source.notes] == ["ii", "ii", "V", "V", "I", "I"]
    assert str(source.key) == "C major"


@pytest.mark.parametrize(
    ("figure", "why"),
    [
        (KeptFigure("bare", (KeptNote("C2"), KeptNote("D2"))), "no chords"),
        (KeptFigure("odd", (KeptNote("C2"), KeptNote("D2")), (KeptChord("hm"),)), "not known"),
        (kept("wide", "C2 D3 C3 D3", "I", "C", 4), "more than an octave"),
        (kept("apart", "C2 B2 C2 D2", "I", "C", 4), "stands apart"),
    ],
)
def test_figures_that_cannot_be_used_say_why(figure: KeptFigure, why: str) -> None:
    """No functions, or a leap that no check would pass."""
    with pytest.raises(UnusableError, match=why):
        source_of_kept(figure)
