"""Each disguise is what it says, proved by what is said of it side by side with the figure."""

import random
from collections.abc import Sequence
from itertools import pairwise

import pytest

from corpus.match.changes import Change, ChangeKind
from corpus.match.figure import Folds
from corpus.match.prices import Prices
from corpus.match.side_by_side import SideBySide, side_by_side
from corpus.model import TICKS_PER_QUARTER, Transcription
from corpus.pitch import parse_spelling
from tests.generators.disguises import DISGUISES, EASY, HARD, disguised
from tests.generators.plants import PlantedFigure, make_figures
from tests.generators.small import transcription_of
from tests.generators.tones import HIGHEST, LOWEST, ImpossibleError, Tone, Tones, intervals, notes_of, respelled

FIGURES = make_figures(6, random.Random(1))
BAR = 4 * TICKS_PER_QUARTER


def tones_from(names: str) -> Tones:
    """Quarter notes."""
    found = []
    for i, name in enumerate(names.split()):
        spelled = parse_spelling(name)
        assert spelled.pitch is not None
        found.append(Tone(spelled.pitch, spelled.staff_position, i * TICKS_PER_QUARTER, TICKS_PER_QUARTER))
    return tuple(found)


def names(tones: Tones) -> str:
    """The notes by name."""
    return " ".join(tone.spelling for tone in tones)


def line_of_tones(tones: Tones) -> Transcription:
    """A line of nothing but these tones."""
    return transcription_of(notes_of(tones, BAR), tones[-1].end_ticks)


def seen_as(before: Tones, after: Tones, folds: str = "") -> SideBySide:
    """The one beside the other."""
    whole, other_whole = (0, len(before) - 1), (0, len(after) - 1)
    return side_by_side(line_of_tones(before), whole, line_of_tones(after), other_whole, Folds.parse(folds), Prices())


def kinds(changes: Sequence[Change]) -> set[ChangeKind]:
    """The kinds of changes, but for those of time."""
    return {change.kind for change in changes} - {"rhythm", "stretched", "shifted"}


def every(name: str) -> list[tuple[PlantedFigure, Tones]]:
    """A disguise put on all figures, four times each."""
    source = random.Random(name)
    return [(figure, disguised(figure.tones, figure.root, [name], source)) for figure in FIGURES for _ in range(4)]


@pytest.mark.parametrize("name", DISGUISES)
def test_the_same_seed_puts_on_the_same(name: str) -> None:
    """Twice the same; and all notes lie within the range."""
    assert every(name) == every(name)
    for _, tones in every(name):
        assert all(LOWEST <= tone.pitch <= HIGHEST for tone in tones)
        assert all(before.end_ticks <= after.onset_ticks for before, after in pairwise(tones))
        assert names(tones)


def test_easy_and_hard_ones_are_all() -> None:
    """Each disguise is one or the other."""
    assert sorted((*EASY, *HARD)) == sorted(DISGUISES)


def test_an_octave_is_displaced_and_nothing_is_fitted_back() -> None:
    """Some notes stay where they were, the others are just an octave away; the intervals are others, but modulo 12."""
    for figure, tones in every("octave"):
        away = [after.pitch - before.pitch for before, after in zip(figure.tones, tones, strict=True)]
        assert 0 in away
        assert set(away) in ({0, 12}, {0, -12})
        assert intervals(tones) != figure.intervals
        assert kinds(seen_as(figure.tones, tones).changes) == {"octave"}
        assert seen_as(figure.tones, tones, "octaves").likeness == 1


def test_doubled_is_each_note_twice() -> None:
    """By hand, and without doubles the figure itself."""
    assert names(DISGUISES["doubled"](tones_from("C3 E3"), tones_from("C3")[0], random.Random(1))) == "C3 C3 E3 E3"
    for figure, tones in every("doubled"):
        assert len(tones) == 2 * len(figure.tones)
        assert seen_as(figure.tones, tones, "doubles").likeness == 1
        assert kinds(seen_as(figure.tones, tones).changes) == {"repeats"}


def test_stretched_is_twice_as_long() -> None:
    """The same notes; stretched and nothing else."""
    for figure, tones in every("stretched"):
        assert [tone.pitch for tone in tones] == [tone.pitch for tone in figure.tones]
        assert [(change.kind, change.amounts) for change in seen_as(figure.tones, tones).changes] == [
            ("stretched", (2, 1))
        ]


def test_ornaments_are_put_in() -> None:
    """The figure is left when what was put in is taken out; it is called added, and what it was meant to be."""
    told: set[str] = set()
    for figure, tones in every("ornamented"):
        assert len(tones) - len(figure.tones) in (1, 2)
        rest = iter(tone.pitch for tone in tones)
        assert all(tone.pitch in rest for tone in figure.tones)
        assert tones[-1].end_ticks == figure.tones[-1].end_ticks
        occurrence = seen_as(figure.tones, tones)
        assert kinds(occurrence.changes) == {"added"}
        assert occurrence.likeness >= 0.75
        told.update(word for change in occurrence.changes for word in change.how.split())
    assert {"passing", "neighbour", "enclosure", "approach"} <= told


def test_each_ornament_by_hand() -> None:
    """Between C and F there are three passing notes; a neighbour goes back; enclosures and approaches lead to F."""
    from tests.generators import disguises

    low, high = tones_from("C3 F3")
    assert disguises._passing(low, high) == [[49], [50], [51], [52]]
    assert disguises._passing(*tones_from("C3 G3")) == []
    assert disguises._passing(*tones_from("C3 C#3")) == []
    assert disguises._neighbour(low, high) == [[46, 48], [47, 48], [49, 48], [50, 48]]
    assert disguises._enclosure(low, high)[:2] == [[54, 52], [54, 51]]
    assert len(disguises._enclosure(low, high)) == 8
    assert disguises._approach(low, high) == [[54], [55]]
    assert disguises._approach(high, low) == [[47], [46]]


def test_altered_is_one_note_on_its_letter() -> None:
    """One note a half-step away, its letter kept."""
    for figure, tones in every("altered"):
        pairs = [(a, b) for a, b in zip(figure.tones, tones, strict=True) if a != b]
        assert [(b.position - a.position, abs(b.pitch - a.pitch)) for a, b in pairs] == [(0, 1)]
        assert kinds(seen_as(figure.tones, tones).changes) == {"altered"}


def test_cut_is_what_is_missing_at_an_end() -> None:
    """A piece of the figure, one note or two shorter."""
    for figure, tones in every("cut"):
        missing = 2 if len(figure.tones) >= 8 else 1
        assert tones in (figure.tones[missing:], figure.tones[:-missing])
        assert kinds(seen_as(figure.tones, tones).changes) == {"cut"}


def test_mode_is_the_same_by_letters() -> None:
    """By hand over C; and under the mode fold nothing has changed."""
    root = tones_from("C3")[0]
    other = DISGUISES["mode"](tones_from("C3 E3 D3 A2 B2 G2 F#2"), root, random.Random(1))
    assert names(other) == "C3 Eb3 D3 Ab2 Bb2 G2 F#2"
    back = DISGUISES["mode"](tones_from("C3 Eb3 D3 Bb2"), root, random.Random(1))
    assert names(back) == "C3 E3 D3 B2"
    for figure, tones in every("mode"):
        assert [tone.position for tone in tones] == [tone.position for tone in figure.tones]
        assert tones != figure.tones
        assert seen_as(figure.tones, tones, "mode").likeness == 1


def test_what_cannot_be_done_is_said() -> None:
    """No third, sixth or seventh: no other mode. Four notes: too short to be cut. One note: nothing to ornament."""
    root = tones_from("C3")[0]
    for name, notes in (("mode", "C3 G3 D3"), ("cut", "C3 E3 D3 G3"), ("ornamented", "C3")):
        with pytest.raises(ImpossibleError):
            DISGUISES[name](tones_from(notes), root, random.Random(1))


def test_several_at_once() -> None:
    """Altered, displaced and doubled: all three are told."""
    source = random.Random(4)
    for figure in FIGURES:
        tones = disguised(figure.tones, figure.root, ("doubled", "octave", "altered"), source)
        assert {"repeats", "octave"} <= kinds(seen_as(figure.tones, tones).changes)
        assert "altered" in kinds(seen_as(figure.tones, tones, "octaves,doubles").changes)


def test_tones_are_respelled_with_fewer_accidentals() -> None:
    """By hand: Fbb is on its way to Ebb's sound; one letter lower all need one flat less."""
    assert names(respelled(tones_from("Abb2 Bbb2 Cb3"))) == "G2 A2 B2"
    assert names(respelled(tones_from("C3 F#3"))) == "C3 F#3"
    with pytest.raises(ImpossibleError):
        respelled([Tone(60, 33, 0, 1)])
