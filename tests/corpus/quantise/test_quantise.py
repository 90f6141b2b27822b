"""The quantiser: its law against trying every reading, and how much of played lines comes back."""

from itertools import product
from math import isclose

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from corpus.quantise.evidence import Beat, Evidence, Notes, Timing, evidence_of
from corpus.quantise.lengths import Ending, written_end
from corpus.quantise.paths import best_path, steps_of, surenesses, swing_prior
from corpus.quantise.patterns import LONG_PARTS, BeatKind, Pattern, patterns_of, swung_place, table_of
from tests.bench.quantiser import Share, ours, seed_lines, share, shares, written
from tests.generators.performed import performed

_FEW = (0.5, 2 / 3, 0.75)
_CHANGE = 0.02


def _every_path(evidence: Evidence, beats: list[Beat]) -> list[tuple[float, tuple[int, ...]]]:
    """Price and groups of every reading of a short line, swing and all, by trying them."""
    by_beat = [[i for i, group in enumerate(evidence.groups) if group.beat == b] for b in range(len(beats))]
    found: list[tuple[float, tuple[int, ...]]] = []
    last_note = evidence.opening[-1][0]
    for chosen in product(*by_beat):
        groups = [evidence.groups[i] for i in chosen]
        joints = [0, *(group.last for group in groups)]
        if any(group.first != at for group, at in zip(groups, joints, strict=False)) or joints[-1] != last_note:
            continue
        for swings in product(range(len(_FEW)), repeat=len(beats)):
            price = float(swing_prior(_FEW)[swings[0]])
            for b in range(len(beats)):
                price += float(evidence.best[chosen[b], swings[b]])
                if b and beats[b].starts_bar:
                    stay = np.log1p(-_CHANGE) if swings[b] == swings[b - 1] else -np.inf
                    price += max(float(stay), float(np.log(_CHANGE) + swing_prior(_FEW)[swings[b]]))
                elif b and swings[b] != swings[b - 1]:
                    price = -np.inf
            found.append((price, chosen))
    return found


@settings(max_examples=25, deadline=None)
@given(st.lists(st.floats(0.0, 2.9), min_size=1, max_size=5))
def test_the_path_is_the_best_of_all(onsets: list[float]) -> None:
    """Dynamic programming finds what trying every reading of three beats (two bars) finds; shares of beats are such."""
    notes = Notes(np.sort(np.array(onsets)), np.ones(len(onsets)))
    beats = [Beat(0, 1, "swung", True, 400), Beat(1, 1, "swung", False, 400), Beat(2, 1, "swung", True, 400)]
    evidence = evidence_of(notes, beats, Timing(30.0), _FEW)
    steps = steps_of(evidence, beats, len(_FEW))
    path = best_path(steps, evidence, beats, _FEW)
    # One beat may hold notes at one place twice only as grace notes, so each reading differs by its groups alone.
    price = max(price for price, _ in _every_path(evidence, beats))
    own = max(
        price for price, groups in _every_path(evidence, beats) if groups == tuple(chosen.group for chosen in path)
    )
    assert isclose(own, price, abs_tol=1e-9)
    assert all(0 <= sure <= 1 + 1e-9 for sure in surenesses(steps, evidence, beats, path, _FEW))


def test_patterns_are_each_written_once_and_cost_a_share() -> None:
    """No two patterns of a beat have the same places, and all prices of a kind of beat together are at most 1."""
    kinds: tuple[BeatKind, ...] = ("swung", "compound", "plain")
    for kind in kinds:
        found = [pattern for count in range(9) for pattern in patterns_of(kind, count) if pattern.log_price > -12]
        assert len({pattern.places for pattern in found}) == len(found)
        assert sum(np.exp(pattern.log_price) * (2 if _is_doubled(pattern) else 1) for pattern in found) <= 1.001
    assert patterns_of("swung", 40)[0].places[1] * 40 == 1
    assert table_of("swung", 2).places.shape[1:] == (len(LONG_PARTS), 2)


def _is_doubled(pattern: Pattern) -> bool:
    """Whether a pattern is played evenly as often as with the swing: its price is told for each way."""
    return pattern.is_swung and any((2 * place).denominator != 1 for place in pattern.places)


def test_where_swing_puts_eighths_and_sixteenths() -> None:
    """By hand: at 2 : 1 the off-beat sounds at 2/3, the sixteenths before and after it at 1/3 and 5/6."""
    assert [round(swung_place(place, 2 / 3), 6) for place in (0, 0.25, 0.5, 0.75)] == [0, 0.333333, 0.666667, 0.833333]


@pytest.mark.parametrize(
    ("played_end", "silence", "expected"),
    [(0.9, 0.15, 1.0), (0.5, 0.15, 0.5), (0.5, 0.5, 1.0), (1.9, 0.15, 2.0), (0.13, 0.5, 1.0), (0.8, 0.4, 1.0)],
)
def test_how_long_notes_are_written(played_end: float, silence: float, expected: float) -> None:
    """The next note begins at 2: a quarter and a rest, or an eighth, as the line is legato or detached; or a half."""
    steps = tuple((end / 2, end / 2) for end in range(1, 5))
    next_onset = 2.0 if played_end != 0.13 else 1.0
    steps = tuple(step for step in steps if step[0] <= next_onset)
    assert written_end(Ending(0, played_end, next_onset, steps), silence) == expected


@pytest.mark.parametrize("ratio", [1.0, 2.0, 3.0])
def test_played_lines_come_back(ratio: float) -> None:
    """At 20 ms of straying 98 % of notes (onset, duration, pitch) of three lines; ``make bench`` asks all of them."""
    lines = [seed_lines()[index] for index in (2, 4, 16)]
    found = [share(written(line), ours(performed(line, ratio, 20, 40 + i))) for i, line in enumerate(lines)]
    total = sum(found, Share())
    assert total.whole >= 0.98 * total.notes


def test_music21_quantises_less() -> None:
    """The same swung line through music21's own quantiser: less than half of its notes come back."""
    mine, theirs = shares(2.0, 20, seed_lines()[4:5], seed=1)
    assert theirs.onsets < mine.onsets
    assert theirs.whole <= mine.whole / 2


@settings(max_examples=25, deadline=None)
@given(
    st.lists(st.lists(st.sampled_from(range(12)), max_size=8, unique=True), min_size=1, max_size=6), st.floats(5, 60)
)
def test_what_anybody_plays_may_open_a_beat_as_far_as_it_strays(struck: list[list[int]], deviation: float) -> None:
    """With at most eight notes a beat, every note within the window of a beat line may open that beat."""
    onsets = np.array([beat + place / 12 for beat, places in enumerate(struck) for place in sorted(places)])
    beats = [Beat(beat, 1, "swung", beat % 4 == 0, 1000) for beat in range(len(struck))]
    evidence = evidence_of(Notes(onsets, np.ones(len(onsets))), beats, Timing(deviation), _FEW)
    half = min(max(3.5 * deviation / 1000, 0.1), 0.45)
    for beat in range(1, len(beats)):
        wanted = {index for index, onset in enumerate(onsets) if beat - half <= onset < beat + half}
        low, high = evidence.opening[beat]
        # Grace notes may widen the window at its beginning.
        assert low <= min(wanted, default=low)
        assert high >= max(wanted, default=high - 1) + 1


def test_a_crowd_of_notes_does_not_grow_with_its_square() -> None:
    """Four times as many notes in two beats: as many groups, not sixteen times."""
    counts = []
    for count in (50, 200):
        onsets = np.arange(count) * 2 / count
        beats = [Beat(0, 1, "swung", True, 60_000), Beat(1, 1, "swung", False, 60_000)]
        counts.append(len(evidence_of(Notes(onsets, np.ones(count)), beats, Timing(20_000), _FEW).groups))
    assert counts[1] == counts[0]
