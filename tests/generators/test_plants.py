"""What is said to be planted stands there, and nothing else of it does."""

from itertools import pairwise

import pytest

from corpus.match.figure import Folds, figure_from_intervals, figure_from_notes_of
from corpus.match.prices import Prices
from corpus.match.side_by_side import side_by_side
from corpus.model import TICKS_PER_QUARTER, Transcription
from tests.generators.disguises import DISGUISES, EASY, HARD
from tests.generators.oracle import brute_force
from tests.generators.pattern_scores import PatternScores, is_scale_fragment, pattern_scores
from tests.generators.plants import PlantedCorpus, PlantedFigure, _accidents, make_figures, planted
from tests.generators.small import line_from
from tests.generators.tones import HIGHEST, LOWEST, intervals

NOTE_FOR_NOTE = ((), ("exact",), ("transposed",), ("stretched",), ("accident",))


def pitches(line: Transcription, notes: tuple[int, ...]) -> list[int]:
    """Those of an occurrence."""
    return [line.notes[note].pitch or 0 for note in notes]


def sizes(line: Transcription, notes: tuple[int, ...]) -> tuple[int, ...]:
    """Semitones between the notes of an occurrence."""
    return tuple(after - before for before, after in pairwise(pitches(line, notes)))


def share_planted(corpus: PlantedCorpus) -> float:
    """The share of the time that planted figures fill."""
    ticks = sum(
        corpus.lines[line].notes[notes[-1]].end_ticks - corpus.lines[line].notes[notes[0]].onset_ticks
        for family, dresses in zip(corpus.families, corpus.dresses, strict=True)
        for (line, notes), dress in zip(family, dresses, strict=True)
        if dress != ("accident",)
    )
    return ticks / sum(line.end_ticks for line in corpus.lines)


def test_the_same_seed_gives_the_same_corpus() -> None:
    """Twice the same; another seed gives another."""
    everything = (*EASY, *HARD)
    assert planted(3, lines=4, figures=3, noise=0.1, disguises=everything) == planted(
        3, lines=4, figures=3, noise=0.1, disguises=everything
    )
    assert planted(3, lines=4, figures=3) != planted(4, lines=4, figures=3)


@pytest.mark.parametrize("disguises", [*((name,) for name in DISGUISES), EASY, HARD])
def test_what_is_note_for_note_stands_where_it_is_said_and_nowhere_else(disguises: tuple[str, ...]) -> None:
    """Every stretch of every line is tried: what has a figure's intervals is an occurrence, and the other way round."""
    corpus = planted(5, lines=6, figures=4, disguises=disguises)
    for figure, family, dresses in zip(corpus.figures, corpus.families, corpus.dresses, strict=True):
        asked = figure_from_intervals(" ".join(f"{size:+d}" for size in figure.intervals))
        tried = {
            (number, first)
            for number, line in enumerate(corpus.lines)
            for first, _ in brute_force(line, asked, Folds())
        }
        told = {
            (line, notes[0]) for (line, notes), dress in zip(family, dresses, strict=True) if dress in NOTE_FOR_NOTE
        }
        assert tried == told


@pytest.mark.parametrize("name", DISGUISES)
def test_each_occurrence_is_the_figure_in_the_dress_that_is_told(name: str) -> None:
    """Beside the first plain one each is as like as one change allows, by the prices of near search."""
    corpus = planted(6, lines=6, figures=4, disguises=(name,))
    seen = set()
    for family, dresses in zip(corpus.families, corpus.dresses, strict=True):
        line, notes = family[0]
        assert dresses[0] == ()
        for (other, other_notes), dress in zip(family[1:], dresses[1:], strict=True):
            seen.add(dress)
            beside = side_by_side(
                corpus.lines[line],
                (notes[0], notes[-1]),
                corpus.lines[other],
                (other_notes[0], other_notes[-1]),
                Folds.parse("mode" if dress == ("mode",) else ""),
                Prices(stretched=0, rhythm=0),
            )
            if name == "exact" or dress == ("exact",):
                assert pitches(corpus.lines[other], other_notes) == pitches(corpus.lines[line], notes)
            if dress == ("transposed",):
                assert beside.transposed != 0
            if dress in NOTE_FOR_NOTE or dress == ("mode",):
                assert beside.likeness == 1
            else:
                assert 0.75 <= beside.likeness < 1
    assert (name,) in seen


def test_the_first_occurrence_is_the_figure_as_it_was_made() -> None:
    """Note for note, at its pitch, whatever the others wear."""
    corpus = planted(2, disguises=HARD, changes=2, plain=0)
    for figure, family in zip(corpus.figures, corpus.families, strict=True):
        line, notes = family[0]
        assert pitches(corpus.lines[line], notes) == [tone.pitch for tone in figure.tones]
    assert {len(dress) for dresses in corpus.dresses for dress in dresses if dress != ("accident",)} == {0, 2}


@pytest.mark.parametrize("density", [0.1, 0.25, 0.4])
def test_density_is_the_share_of_time_that_figures_fill(density: float) -> None:
    """Within a fortieth, for part of a beat may be left over; and each figure stands about as often."""
    for disguises in (EASY, HARD):
        corpus = planted(7, density=density, disguises=disguises)
        assert share_planted(corpus) == pytest.approx(density, abs=0.025)
        counts = [sum(dress != ("accident",) for dress in dresses) for dresses in corpus.dresses]
        assert max(counts) - min(counts) <= 1


def test_occurrences_stand_at_least_a_note_apart() -> None:
    """No note belongs to two of them, nor does one begin where another has just ended."""
    corpus = planted(8, density=0.4, disguises=(*EASY, *HARD))
    places = sorted(
        (line, notes[0], notes[-1])
        for family, dresses in zip(corpus.families, corpus.dresses, strict=True)
        for (line, notes), dress in zip(family, dresses, strict=True)
        if dress != ("accident",)
    )
    for (line, _, last), (other_line, first, _) in pairwise(places):
        assert line != other_line or first > last + 1


def test_noise_moves_that_share_of_the_notes() -> None:
    """By a half-step or step, planted or not; everything else stays."""
    plain, noisy = planted(9), planted(9, noise=0.05)
    moved = [
        after.pitch - before.pitch
        for one, other in zip(plain.lines, noisy.lines, strict=True)
        for before, after in zip(one.notes, other.notes, strict=True)
        if before.pitch is not None and after.pitch is not None
    ]
    assert {abs(size) for size in moved} == {0, 1, 2}
    assert sum(size != 0 for size in moved) / len(moved) == pytest.approx(0.05, abs=0.02)
    planted_places = [
        [place for place, dress in zip(family, dresses, strict=True) if dress != ("accident",)]
        for corpus in (plain, noisy)
        for family, dresses in zip(corpus.families, corpus.dresses, strict=True)
    ]
    assert planted_places[:6] == planted_places[6:]


def test_figures_have_nothing_in_common_and_are_no_runs() -> None:
    """Three intervals in a row, octaves aside, occur once among all of them."""
    import random

    figures = make_figures(12, random.Random(10))
    pieces = [
        tuple(size % 12 for size in figure.intervals[i : i + 3])
        for figure in figures
        for i in range(len(figure.intervals) - 2)
    ]
    assert len(pieces) == len(set(pieces))
    for figure in figures:
        assert 5 <= len(figure.tones) <= 8
        assert not is_scale_fragment(figure.intervals)
        assert all(LOWEST <= tone.pitch <= HIGHEST for tone in figure.tones)
        assert figure.tones[-1].end_ticks % (TICKS_PER_QUARTER) == 0


def test_accidents_are_told() -> None:
    """By hand: the figure stands twice in the second line, a fourth higher and at pitch; what is known is not told."""
    import random

    figure = make_figures(1, random.Random(1))[0]
    names = " ".join(tone.spelling for tone in figure.tones)
    higher = " ".join(tone.moved(5, 3).spelling for tone in figure.tones)
    lines = [line_from(f"C2 {names} C2"), line_from(f"E3 E2 {higher} C2 {names}")]
    count = len(figure.tones)
    places = [tuple(range(first, first + count)) for first in (1, 2, 3 + count)]
    first, second, third = places
    assert intervals(figure.tones) == figure.intervals
    assert list(_accidents(figure, lines, [(0, first)])) == [(1, second), (1, third)]
    assert list(_accidents(figure, lines, [(0, first), (1, third)])) == [(1, second)]


def test_accidents_are_few() -> None:
    """In ten corpora of about 2,000 notes the walking lines make at most two planted figures of their own."""
    corpora = [planted(seed) for seed in range(10)]
    assert sum(dress == ("accident",) for corpus in corpora for dresses in corpus.dresses for dress in dresses) <= 2


def test_the_truth_scores_one_and_the_plain_ones_alone_less() -> None:
    """What is told can be given to the measures."""
    corpus = planted(11, lines=4, figures=3, disguises=EASY)
    assert pattern_scores(corpus.lines, corpus.families, corpus.families) == PatternScores(1.0, 1.0, 1.0, 1.0)
    plain = [
        [place for place, dress in zip(family, dresses, strict=True) if dress == ()]
        for family, dresses in zip(corpus.families, corpus.dresses, strict=True)
    ]
    scores = pattern_scores(corpus.lines, corpus.families, plain)
    assert scores.establishment == 1.0
    assert 0.3 < scores.occurrence_75 < 0.95


def test_what_cannot_be_planted_is_said() -> None:
    """Unknown disguises, more changes than disguises, too little room, too much, too many figures."""
    with pytest.raises(ValueError, match="unknown disguises"):
        planted(1, disguises=("upside down",))
    with pytest.raises(ValueError, match="2 changes at once"):
        planted(1, changes=2, disguises=("octave",))
    with pytest.raises(ValueError, match="too few"):
        planted(1, lines=1, choruses=1, density=0.1)
    with pytest.raises(ValueError, match="no room left"):
        planted(1, lines=3, density=0.95)
    with pytest.raises(ValueError, match="too many"):
        planted(1, figures=400)


def test_nothing_is_planted_without_figures() -> None:
    """Walking lines alone, of the same make."""
    corpus = planted(1, figures=0)
    assert (corpus.figures, corpus.families) == ([], [])
    assert len(corpus.lines) == 12


def test_a_planted_passage_can_be_asked_for() -> None:
    """The notes have names that can be read, bars and beats."""
    corpus = planted(12, disguises=(*EASY, *HARD), changes=2)
    for family in corpus.families:
        for line, notes in family:
            figure = figure_from_notes_of(corpus.lines[line], notes[0], notes[-1])
            assert list(figure.pitches or ()) == pitches(corpus.lines[line], notes)
            assert isinstance(corpus.figures[0], PlantedFigure)
