"""Shuffled lines keep what they must and nothing else."""

from collections import Counter
from itertools import pairwise

from hypothesis import given, settings
from hypothesis import strategies as st

from corpus.model import Transcription
from tests.generators.lines import walking_line
from tests.generators.shuffles import intervals_of, rewalked, shuffled
from tests.generators.small import line_from, lines


def rest_of(line: Transcription) -> object:
    """All but the pitches."""
    return [note._replace(pitch=0 if note.pitch is not None else None, spelling="") for note in line.notes], line.bars


@settings(deadline=None)
@given(lines(), st.integers(0, 5))
def test_shuffling_keeps_intervals_rhythm_and_the_first_and_last_note(line: Transcription, seed: int) -> None:
    """The same intervals as often, so the last note is the same too; everything beside pitch as it was."""
    (found,) = shuffled([line], seed)
    assert sorted(intervals_of(found)) == sorted(intervals_of(line))
    assert rest_of(found) == rest_of(line)
    before, after = ([note.pitch for note in x.notes if note.pitch is not None] for x in (line, found))
    assert before[:1] == after[:1]
    assert before[-1:] == after[-1:]
    assert rest_of(rewalked([line], seed)[0]) == rest_of(line)


def test_the_same_seed_gives_the_same_lines() -> None:
    """Another seed gives others, and each line is shuffled in its own way."""
    line = walking_line(3)
    for shuffle in (shuffled, rewalked):
        found = shuffle([line, line], 1)
        assert found == shuffle([line, line], 1)
        assert found != shuffle([line, line], 2)
        assert found[0] != found[1]
        assert found[0] != line


def test_shuffled_notes_stay_near_the_range() -> None:
    """A line of a thousand notes drifts no further than an octave beyond the notes it had."""
    line = walking_line(8, bars=250)
    had = [note.pitch or 0 for note in line.notes]
    for found in (*shuffled([line], 4), *rewalked([line], 4)):
        assert all(min(had) - 12 <= (note.pitch or 0) <= max(had) + 12 for note in found.notes)


def test_a_line_that_only_rises_and_then_falls_is_shuffled() -> None:
    """Eight fourths up and eight down: each order keeps within the keyboard."""
    names = "E1 A1 D2 G2 C3 F3 Bb3 Eb4 Ab4"
    line = line_from(f"{names} {' '.join(names.split()[-2::-1])}")
    (found,) = shuffled([line], 1)
    assert Counter(intervals_of(found)) == {5: 8, -5: 8}
    assert intervals_of(found) != intervals_of(line)


def test_a_rewalked_line_goes_only_where_the_lines_went() -> None:
    """By hand: up a third is always followed by down a whole step there and back, so it is here."""
    line = line_from("C3 E3 D3 F#3 E3 G#3 F#3 Bb3 G#3 C4 Bb3")
    (found,) = rewalked([line], 1)
    assert intervals_of(found) == [4, -2] * 5


def test_pairs_of_intervals_are_about_as_frequent() -> None:
    """Over 8,000 notes the shares of pairs differ by less than a tenth in sum of absolute differences over two."""
    before = [walking_line(seed, 100) for seed in range(20)]
    shares = []
    for group in (before, rewalked(before, 1)):
        pairs = Counter(pair for line in group for pair in pairwise(intervals_of(line)))
        shares.append({pair: count / pairs.total() for pair, count in pairs.items()})
    own, other = shares
    assert sum(abs(own.get(pair, 0) - other.get(pair, 0)) for pair in own.keys() | other.keys()) / 2 < 0.1
