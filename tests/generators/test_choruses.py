"""The big corpus is what it says: reproducible, playable, varied, and its players can be told apart."""

from collections import Counter
from functools import lru_cache
from itertools import pairwise
from statistics import fmean

from corpus.check import check
from corpus.model import TICKS_PER_QUARTER, Transcription
from tests.generators.choruses import chorus
from tests.generators.players import PLAYERS, player
from tests.generators.tunes import TUNES, tune
from tests.generators.walking import chords_in


@lru_cache(maxsize=1)
def choruses() -> list[Transcription]:
    """Some of them."""
    return [chorus(number) for number in range(400)]


def test_a_number_gives_the_same_chorus_and_another_number_another() -> None:
    """Whatever was made before."""
    assert chorus(7) == choruses()[7]
    assert len({line.notes for line in choruses()}) == len(choruses())


def test_a_hundred_thousand_are_about_ten_million_notes() -> None:
    """A hundred notes each, within a tenth."""
    assert 95 < fmean(len(line.notes) for line in choruses()) < 115


def test_notes_follow_each_other_within_bars_and_range() -> None:
    """No two sound at once, all lie in the bars they claim, and none is out of reach of a double bass."""
    for line in choruses():
        assert all(before.end_ticks <= after.onset_ticks for before, after in pairwise(line.notes))
        assert line.notes[-1].end_ticks <= line.bars[-1].onset_ticks + line.bars[-1].length_ticks
        for note in line.notes:
            assert note.onset_ticks // (4 * TICKS_PER_QUARTER) == note.bar_index
        assert not [finding for finding in check(line) if finding.kind in ("range", "meter", "form", "chord")]


def test_rhythm_and_intervals_vary_as_in_walking_lines() -> None:
    """Mostly quarters and steps, with eighths, triplets, dotted quarters, halves and rests (common practice)."""
    lengths = Counter(note.duration_ticks for line in choruses() for note in line.notes)
    total = lengths.total()
    assert 0.6 < lengths[TICKS_PER_QUARTER] / total < 0.9
    halves, thirds = TICKS_PER_QUARTER // 2, TICKS_PER_QUARTER // 3
    assert {halves, thirds, 3 * halves, 4 * halves} < set(lengths)
    pairs = [(a, b) for line in choruses() for a, b in pairwise(line.notes)]
    assert any(a.end_ticks < b.onset_ticks for a, b in pairs)
    assert any(note.is_ghost for line in choruses() for note in line.notes)
    sizes = [abs((b.pitch or 0) - (a.pitch or 0)) for a, b in pairs]
    assert sum(1 <= size <= 2 for size in sizes) > len(sizes) / 3
    assert sum(size > 12 for size in sizes) < len(sizes) / 25


def test_figures_come_back_and_come_from_few_players() -> None:
    """A figure of six notes stands in many choruses, far more often than in a walk over the same intervals."""
    counts: Counter[tuple[int, ...]] = Counter()
    for line in choruses():
        heights = [note.pitch or 0 for note in line.notes]
        sizes = [b - a for a, b in pairwise(heights)]
        counts.update({tuple(sizes[i : i + 6]) for i in range(len(sizes) - 5) if any(sizes[i : i + 6])})
    # Seven notes over some twenty intervals: by chance hardly one stands in three lines of forty thousand notes.
    assert sum(count >= 3 for count in counts.values()) > 40


def test_players_differ_in_what_they_do_and_how_often_they_play() -> None:
    """The busiest has several times the choruses of the rarest, and habits are drawn for each."""
    by_player = Counter(line.details.player for line in choruses())
    assert by_player["Player 1"] > 3 * by_player[f"Player {PLAYERS}"]
    assert len({player(number).landings for number in range(PLAYERS)}) == PLAYERS
    assert len({figure.intervals for number in range(PLAYERS) for figure in player(number).figures}) > 2 * PLAYERS


def test_tunes_fill_their_forms() -> None:
    """Every chart has the bars of its form, whatever was exchanged, and all forms occur."""
    tunes = [tune(number) for number in range(TUNES)]
    assert len({of.progression.name for of in tunes}) == 8
    assert {of.mode for of in tunes} == {"major", "minor"}
    bars = {"A8 B8": 16, "Blues12": 12, "A8 A8 B8 A8": 32, "A8 B8 A8 C8": 32}
    assert all(len(chords_in(of.progression, of.tonic)) == bars[of.progression.form] for of in tunes)
