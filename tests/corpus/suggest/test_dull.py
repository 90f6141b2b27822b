"""Dull bars and what could stand there."""

from itertools import pairwise

import pytest

from corpus.check import check
from corpus.harmony.analysis import analyse
from corpus.harmony.roles import roles_of
from corpus.model import Transcription
from corpus.suggest.costs import WIDEST_JOINT
from corpus.suggest.dull import dull_bars
from corpus.suggest.replace import Alternative, Replaced, Replacing, put_in
from tests.corpus.profile.lines_help import line
from tests.corpus.suggest.material import double_bass, sources

DULL = line(
    "Dm7|G7|Cmaj7|Cmaj7|Dm7|G7|Cmaj7",
    "D2 F2 A2 F2 G2 G2 G2 G2 C3 B2 G2 E2 C2 G2 C2 G2 D2 D3 D2 D3 G2 D3 G2 D3 C3 B2 A2 G2",
    key="C major",
)


def replacing(of: Transcription = DULL, model: str = "") -> Replacing:
    """The search over a line, with the small shelf."""
    return Replacing(of, analyse(of), sources(), double_bass(), model)


def reasons(chords: str, notes: str) -> dict[int, tuple[str, ...]]:
    """Why bars are dull, by their number."""
    found = line(chords, notes, key="C major")
    return {bar.bar_index + 1: bar.reasons for bar in dull_bars(found, roles_of(found, analyse(found).spans))}


def test_bars_are_dull_for_reasons_that_can_be_heard() -> None:
    """One note, roots, roots and fifths, the bar before again; a walking bar is not, nor one of two notes."""
    found = reasons(
        "G7|C6 F6|C6|Dm7|Dm7|G7|G7",
        "G2 G2 G3 G2 C2 C3 F2 F2 C2 G2 C2 E2 D2 F2 A2 C3 D2 F2 A2 C3 G2 D3 G2 B2 G2*2 G2*2",
    )
    assert found == {
        1: ("nothing but G", "the root on beat 1"),
        2: ("nothing but roots", "the root on beat 1"),
        5: ("the notes of bar 4 again", "the root on beat 1"),
    }


def test_a_bar_without_chords_or_with_dead_notes_is_left_alone() -> None:
    """Nothing can be said of roots there."""
    assert reasons("-|C6", "G2 G2 G2 G2 C2 x C2 C2") == {}


def all_found() -> list[Replaced]:
    """What could stand in each dull bar of the study."""
    search = replacing()
    return [search.replaced(dull) for dull in search.dull]


def test_the_dullest_bar_comes_first() -> None:
    """One note four times is duller than roots and fifths."""
    assert [bar.bar_index + 1 for bar in replacing().dull] == [2, 5, 4, 6]


def alternatives() -> list[tuple[Replaced, Alternative]]:
    """Every alternative with its dull bar."""
    return [(replaced, found) for replaced in all_found() for found in replaced.alternatives]


def test_figures_fit_the_functions_and_join_the_notes_beside_them() -> None:
    """Each note has the function it had in the figure; joints are no wider than a minor sixth, and told as they are."""
    spans = analyse(DULL).spans
    assert len(alternatives()) >= 3
    for _, found in alternatives():
        notes = found.line.notes[found.figure[0] : found.figure[1] + 1]
        assert [n.pitch for n in notes] == [n.pitch + found.transposed for n in found.source.notes]
        for note, own in zip(notes, found.source.notes, strict=True):
            (span,) = (s for s in spans if s.onset_ticks <= note.onset_ticks < s.end_ticks)
            assert str(span.numeral) == own.numeral
        for joint, (one, two) in (
            (found.before, (found.first - 1, found.first)),
            (found.after, (found.last, found.last + 1)),
        ):
            if one >= 0 and two < len(found.line.notes):
                before, after = found.line.notes[one], found.line.notes[two]
                assert joint is not None
                assert joint.semitones == (after.pitch or 0) - (before.pitch or 0)
                assert abs(joint.semitones) <= WIDEST_JOINT


def test_only_the_dull_bar_is_changed_and_the_line_is_sound() -> None:
    """Notes before and after are as they were, nothing overlaps or gapes, the bar is no longer dull."""
    for replaced, found in alternatives():
        line_after, dull = found.line, replaced.dull
        assert line_after.notes[: found.first] == DULL.notes[: dull.first]
        assert (
            line_after.notes[found.last + 1 :]
            == DULL.notes[len(DULL.notes) - (len(line_after.notes) - found.last - 1) :]
        )
        assert all(one.end_ticks == two.onset_ticks for one, two in pairwise(line_after.notes))
        assert set(check(line_after)) <= set(check(DULL))
        still = {bar.bar_index for bar in dull_bars(line_after, roles_of(line_after, analyse(line_after).spans))}
        assert dull.bar_index not in still


def test_the_same_line_gets_the_same_figures_each_of_another_group() -> None:
    """Two looks, one answer; no figure twice for a bar."""
    assert all_found() == all_found()
    for replaced in all_found():
        groups = [found.source.group for found in replaced.alternatives]
        assert len(groups) == len(set(groups))


def test_several_are_put_in_at_once() -> None:
    """The first of each bar: the line grows and shrinks where it must, the figures are where they are said to be."""
    chosen = [replaced.alternatives[0] for replaced in all_found() if replaced.alternatives]
    made, figures = put_in(DULL, chosen)
    assert len(figures) >= 2
    assert all(one.end_ticks == two.onset_ticks for one, two in pairwise(made.notes))
    by_group = {found.source.group: found for found in chosen}
    for group, first, last in figures:
        own = [note.pitch - by_group[group].source.notes[0].pitch for note in by_group[group].source.notes]
        assert [(n.pitch or 0) - (made.notes[first].pitch or 0) for n in made.notes[first : last + 1]] == own


@pytest.mark.parametrize("chords", ["-|-", "C6|C6"])
def test_where_nothing_fits_nothing_is_suggested(chords: str) -> None:
    """No chords: no bar is called dull. An empty shelf: the bar is dull, and no figure is at hand."""
    of = line(chords, "C2 C2 C2 C2 G2 G2 G2 G2", key="C major")
    search = Replacing(of, analyse(of), [], double_bass())
    assert [search.replaced(dull).alternatives for dull in search.dull] == ([] if chords == "-|-" else [(), ()])
