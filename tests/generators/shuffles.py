"""Lines that keep the statistics of given ones, and none of their figures: what discovery may find by chance.

Onsets, durations, bars, chords and sections stay; only the pitches change. Notes keep within an octave of the range
that the line had, unless no interval that is left allows it; they are spelled in the usual way.
"""

import random
from collections import Counter, defaultdict
from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from itertools import pairwise

from corpus.model import Transcription
from corpus.pitch import default_spelling

_BEYOND = 12


def intervals_of(line: Transcription) -> list[int]:
    """Semitones from each note that has a pitch to the next one."""
    return [after - before for before, after in pairwise(_pitches(line))]


def shuffled(lines: Sequence[Transcription], seed: int) -> list[Transcription]:
    """Lines with the intervals of each in another order: the same intervals, as often, from the same first note."""
    return [
        _with_intervals(line, _in_another_order(line, random.Random(f"{seed}:{i}"))) for i, line in enumerate(lines)
    ]


def rewalked(lines: Sequence[Transcription], seed: int) -> list[Transcription]:
    """Lines in which each interval is drawn by the one before it, as often as it follows that one in all the lines.

    A Markov chain of the first order: pairs of intervals are about as frequent as they were, longer figures are not.
    """
    followers: defaultdict[int, Counter[int]] = defaultdict(Counter)
    for line in lines:
        for before, after in pairwise(intervals_of(line)):
            followers[before][after] += 1
    return [
        _with_intervals(line, _rewalk(line, followers, random.Random(f"{seed}:{i}"))) for i, line in enumerate(lines)
    ]


def _pitches(line: Transcription) -> list[int]:
    return [note.pitch for note in line.notes if note.pitch is not None]


def _within(line: Transcription) -> Callable[[int], bool]:
    pitches = _pitches(line)
    low, high = max(min(pitches) - _BEYOND, 0), min(max(pitches) + _BEYOND, 127)
    return lambda pitch: low <= pitch <= high


def _in_another_order(line: Transcription, source: random.Random) -> Iterator[int]:
    pitches = _pitches(line)
    if not pitches:
        return
    pitch, left, fits = pitches[0], intervals_of(line), _within(line)
    middle = (min(pitches) + max(pitches)) / 2
    source.shuffle(left)
    while left:
        at = next((i for i, size in enumerate(left) if fits(pitch + size)), None)
        if at is None:
            # Nothing fits: the interval that leads back most.
            at = min(range(len(left)), key=lambda i: abs(pitch + left[i] - middle))
        pitch += left[at]
        yield left.pop(at)


def _rewalk(line: Transcription, followers: dict[int, Counter[int]], source: random.Random) -> Iterator[int]:
    own = intervals_of(line)
    if not own:
        return
    pitch, fits = _pitches(line)[0], _within(line)
    size = own[0]
    for _ in own:
        pitch += size
        yield size
        possible = Counter({after: count for after, count in followers[size].items() if fits(pitch + after)})
        if not possible:
            possible = Counter(after for after in own if fits(pitch + after)) or Counter([-size])
        size = source.choices(list(possible), list(possible.values()))[0]


def _with_intervals(line: Transcription, intervals: Iterator[int]) -> Transcription:
    notes = []
    pitch: int | None = None
    for note in line.notes:
        if note.pitch is None:
            notes.append(note)
            continue
        pitch = note.pitch if pitch is None else pitch + next(intervals)
        notes.append(note._replace(pitch=pitch, spelling=default_spelling(pitch)))
    return replace(line, notes=tuple(notes))
