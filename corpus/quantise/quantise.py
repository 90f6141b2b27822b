"""Played onsets to written places: the most probable notation under prices for patterns and normal noise.

The method is maximum a posteriori quantisation with a prior on notated complexity (Cemgil, Desain and Kappen, "Rhythm
quantization for transcription", *Computer Music Journal* 24(2), 2000) over a hidden Markov model whose states hold the
amount of swing; the deviation and mean lag of the playing are learnt by alternating (Viterbi training, the hard form
of expectation maximisation: Dempster, Laird and Rubin 1977). Ratios of swung eighths lie between 1 : 1 and about
3.5 : 1, smaller at fast tempos (Friberg and Sundström, *Music Perception* 19(3), 2002). All three from memory.

The beats are given: how far they lie apart is the file's tempo, not ours to find.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import Final

import numpy as np

from corpus.quantise.evidence import Beat, Evidence, Notes, Timing, evidence_of, fits_of
from corpus.quantise.passages import SwingPassage, passages_of
from corpus.quantise.paths import Chosen, best_path, steps_of, surenesses
from corpus.quantise.patterns import LONG_PARTS, swung_place, table_of

_ROUNDS: Final = 4
_LEAST_DEVIATION_MS: Final = 6.0
"""Half the step between the amounts of swing that are told apart, at 100 quarters a minute."""
_MOST_DEVIATION_MS: Final = 60.0
_MOST_LAG_MS: Final = 80.0
_PRIOR_NOTES: Final = 6
_PRIOR_DEVIATION_MS: Final = 20.0
_FAR_DEVIATIONS: Final = 3.0


@dataclass(frozen=True, slots=True)
class Placed:
    """Where a note is written: the beat's index and the place in it; ``is_grace`` for one that has no place.

    ``long_part`` is the swing in force, ``is_swung`` whether it moves this note's place.
    """

    beat: int
    place: Fraction
    long_part: float
    is_swung: bool = False
    is_grace: bool = False


@dataclass(frozen=True, slots=True)
class Quantised:
    """The written places of all notes, the passages of equal swing, how sure each beat is, and how notes strayed."""

    notes: tuple[Placed, ...]
    passages: tuple[SwingPassage, ...]
    sureness: tuple[float, ...]
    timing: Timing


def quantise(notes: Notes, beats: Sequence[Beat], long_part: float | None = None) -> Quantised:
    """The written places of notes.

    ``notes`` are in order of time, none before the first beat by more than its half nor after the end of the last;
    ``long_part`` settles the swing (0.5 is straight) instead of estimating it.
    """
    long_parts = LONG_PARTS if long_part is None else (long_part,)
    timing = Timing()
    for _ in range(_ROUNDS):
        evidence = evidence_of(notes, beats, timing, long_parts)
        steps = steps_of(evidence, beats, len(long_parts))
        path = best_path(steps, evidence, beats, long_parts)
        placed = _placed(notes, beats, evidence, path, timing, long_parts)
        learnt = _learnt(notes, beats, placed, timing)
        is_settled = abs(learnt.deviation_ms - timing.deviation_ms) + abs(learnt.lag_ms - timing.lag_ms) < 0.5
        if is_settled:
            break
        timing = learnt
    passages = passages_of(beats, evidence, path, placed, long_parts)
    sure = surenesses(steps, evidence, beats, path, long_parts)
    return Quantised(tuple(placed), passages, tuple(sure), timing)


def _placed(
    notes: Notes,
    beats: Sequence[Beat],
    evidence: Evidence,
    path: Sequence[Chosen],
    timing: Timing,
    long_parts: tuple[float, ...],
) -> list[Placed]:
    placed: list[Placed | None] = [None] * len(notes.onsets)
    for beat, chosen in enumerate(path):
        group = evidence.groups[chosen.group]
        if group.first == group.last:
            continue
        fits, is_even = fits_of([group], notes, beats, timing, long_parts)
        which = int(fits[0, :, chosen.swing].argmax())
        pattern = table_of(beats[beat].kind, len(group.struck), long_parts).patterns[which]
        is_swung = pattern.is_swung and not is_even[0, which, chosen.swing]
        long_part = long_parts[chosen.swing]
        for index in range(group.first, group.last):
            placed[index] = Placed(beat, Fraction(0), long_part, is_grace=True)
        for index, place in zip(group.struck, pattern.places, strict=True):
            placed[index] = Placed(beat, place, long_part, is_swung)
    return [one for one in placed if one is not None]


def sounding_place(note: Placed) -> float:
    """Where in its beat a written place sounds under the swing in force."""
    place = float(note.place)
    return swung_place(place, note.long_part) if note.is_swung else place


def _learnt(notes: Notes, beats: Sequence[Beat], placed: Sequence[Placed], timing: Timing) -> Timing:
    """Deviation and lag as the placed notes show them, outliers left out; a few imagined notes steady them."""
    errors = np.array(
        [
            ((onset - beats[note.beat].start) / beats[note.beat].length - sounding_place(note)) * beats[note.beat].ms
            for onset, note in zip(notes.onsets, placed, strict=True)
            if not note.is_grace
        ]
    )
    near = np.abs(errors - timing.lag_ms) <= _FAR_DEVIATIONS * max(timing.deviation_ms, _LEAST_DEVIATION_MS)
    if not near.any():
        return timing
    errors = errors[near]
    lag = float(np.clip(errors.sum() / (len(errors) + _PRIOR_NOTES), -_MOST_LAG_MS, _MOST_LAG_MS))
    square = float(((errors - lag) ** 2).sum()) + _PRIOR_NOTES * _PRIOR_DEVIATION_MS**2
    deviation = float(np.clip(np.sqrt(square / (len(errors) + _PRIOR_NOTES)), _LEAST_DEVIATION_MS, _MOST_DEVIATION_MS))
    return Timing(deviation, lag)
