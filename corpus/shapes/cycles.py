"""Interval cycles: runs of fourths, fifths, thirds, and of seconds with broken octaves."""

from collections.abc import Iterator, Sequence
from itertools import pairwise
from typing import Final

from corpus.shapes.shape import Shape
from corpus.shapes.strokes import Ready, Stroke

_SHORTEST: Final = {1: 5, 2: 5, 3: 4, 4: 4, 5: 4}
"""The fewest notes, by semitones of the interval; the tritone leads only back and forth."""

_FEWEST_LEAPS: Final = min(_SHORTEST.values()) - 1

_NAMES: Final = {1: "half-steps", 2: "whole steps", 3: "minor thirds", 4: "major thirds", 5: "fourths", 7: "fifths"}
_CHORDS: Final = {3: "dim7", 4: "aug"}


def interval_cycles(line: Ready) -> Iterator[Shape]:
    """Longest stretches that go on by one interval, octaves apart: a fourth up and a fifth down are one movement."""
    for phrase in line.phrases:
        leaps = [after.pitch - before.pitch for before, after in pairwise(phrase)]
        start = 0
        for index in range(1, len(leaps) + 1):
            if index == len(leaps) or leaps[index] % 12 != leaps[start] % 12:
                if index - start >= _FEWEST_LEAPS:
                    yield from _cycle(phrase[start : index + 1], leaps[start:index])
                start = index


def _cycle(strokes: Sequence[Stroke], leaps: Sequence[int]) -> Iterator[Shape]:
    size = min(leaps[0] % 12, -leaps[0] % 12)
    by_step = all(abs(leap) <= 2 for leap in leaps)
    if size not in _SHORTEST or len(strokes) < _SHORTEST[size] or by_step:
        return
    one_size = all(leap == leaps[0] for leap in leaps)
    # Fourths or fifths: what most of the leaps are.
    name = 7 if size == 5 and sum(abs(leap) % 12 == 7 for leap in leaps) * 2 > len(leaps) else size
    way = "up" if leaps[0] > 0 else "down"
    words = f"run of {_NAMES[name]}{f' {way}' if one_size else ', octaves broken'}"
    if size in _CHORDS:
        words += f" ({strokes[0].name}{_CHORDS[size]})"
    yield Shape(
        "interval cycle",
        strokes[0].first,
        strokes[-1].last,
        words,
        {"interval": name, "direction": way if one_size else "broken", "leaps": list(leaps)},
    )
