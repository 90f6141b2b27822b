"""How long quantised notes are written: to the next note, or to a rest.

A performer lets go early; a transcriber writes the full value all the same and puts a rest only where the silence is
heard as one (common practice, no source). The end is the place at which the prices of three things are least: silence
inside the written value, sound after its end, and the rest itself. How much silence is usual is taken from the line.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from corpus.quantise.patterns import Floats

_REST: Final = 2.5
_SHORT_REST: Final = 3.0
"""The price of a rest shorter than an eighth, beside that of a rest."""
_OFF_BEAT: Final = 0.6
"""What a rest costs more that begins between beats."""
_OVERHANG_QUARTERS: Final = 0.12
_LEAST_SILENCE, _MOST_SILENCE = 0.15, 0.5
"""Quarters of silence inside a note that are usual in a legato and in a detached line."""
_USUAL_SHARE: Final = 0.8
_HALF: Final = 0.5


@dataclass(frozen=True, slots=True)
class Ending:
    """What is known of a note's end, in quarters: its written onset, its played end, the written onset of the next.

    ``steps`` are the places at which it might end (written, played), in order, the next note's among them.
    ``is_soft`` says that it was struck as a ghost note, whose silence tells nothing.
    """

    onset: float
    played_end: float
    next_onset: float
    steps: tuple[tuple[float, float], ...]
    is_soft: bool = False
    beat: float = 1.0
    """The length of a beat in quarters, counted from the file's start."""


def usual_silence(silences: Floats) -> float:
    """The silence in quarters that most notes of a line keep below, within bounds."""
    short = silences[silences < 1]
    if not len(short):
        return _LEAST_SILENCE
    return float(np.clip(np.quantile(short, _USUAL_SHARE), _LEAST_SILENCE, _MOST_SILENCE))


def written_end(ending: Ending, silence: float) -> float:
    """The place, of ``ending.steps`` (never empty), at which the note is written to end."""
    usual = _MOST_SILENCE if ending.is_soft else silence

    def price(step: tuple[float, float]) -> float:
        written, played = step
        silent = max(played - ending.played_end, 0) / usual
        over = max(ending.played_end - played, 0) / _OVERHANG_QUARTERS
        left = ending.next_onset - written
        rest = 0.0 if left <= 1e-9 else _REST + (_SHORT_REST if left < _HALF - 1e-9 else 0)
        rest += _OFF_BEAT if left > 1e-9 and abs(written / ending.beat - round(written / ending.beat)) > 1e-6 else 0
        short = _SHORT_REST if written - ending.onset < _HALF - 1e-9 and left > 1e-9 else 0
        return silent**2 / 2 + over**2 / 2 + rest + short

    return min(ending.steps, key=price)[0]


def silences_of(endings: Sequence[Ending]) -> Floats:
    """The silence after each note until the place where the next one sounds, in quarters, not below 0."""
    return np.array([max(ending.steps[-1][1] - ending.played_end, 0) for ending in endings])
