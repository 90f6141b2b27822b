"""Seeded walking lines that look like music: for timing at scale, not for listening.

Quarter notes in 4/4 over a random walk of steps, thirds and fourths inside the double bass's range, with now and then
a repeated note, an eighth-note skip, or a wide leap. The mix of intervals is that of plausible walking lines, so that
an index meets the skewed frequencies it would meet in use.
"""

import random

from corpus.model import TICKS_PER_QUARTER, Bar, ChordSpan, Details, Meter, Note, Section, Transcription
from corpus.pitch import Key, default_spelling

_FOUR_FOUR = Meter(4, 4)
_LEAPS = (1, -1, 2, -2, 3, -3, 4, -4, 5, -5, 7, -7, 0, 9, -9, 12, -12)
_WEIGHTS = (18, 18, 16, 16, 8, 8, 5, 5, 4, 4, 2, 2, 5, 1, 1, 1, 1)
_SPELLINGS = [default_spelling(pitch) for pitch in range(128)]
_LOWEST, _HIGHEST = 28, 67
_CHORDS = ("Bb6", "G7", "Cm7", "F7", "Dm7", "Db7")


def walking_line(seed: int, bars: int = 25) -> Transcription:
    """A line of about ``4 * bars`` notes; the same seed gives the same line."""
    source = random.Random(seed)
    pitch = source.randint(35, 55)
    leaps = source.choices(_LEAPS, _WEIGHTS, k=6 * bars)
    notes: list[Note] = []
    for bar in range(bars):
        onset = bar * 4 * TICKS_PER_QUARTER
        for beat in range(4):
            halves = 2 if source.random() < 0.03 else 1
            for half in range(halves):
                leap = leaps[len(notes)]
                pitch += leap if _LOWEST <= pitch + leap <= _HIGHEST else -leap
                start = onset + beat * TICKS_PER_QUARTER + half * TICKS_PER_QUARTER // 2
                notes.append(Note(start, TICKS_PER_QUARTER // halves, pitch, _SPELLINGS[pitch], bar))
    bar_ticks = _FOUR_FOUR.bar_ticks
    key = Key("Bb", "major")
    return Transcription(
        details=Details(
            title=f"Study {seed}", player=f"Player {seed % 40}", instrument="Double bass", key=key, meter=_FOUR_FOUR
        ),
        notes=tuple(notes),
        bars=tuple(Bar(bar + 1, 1, bar * bar_ticks, bar_ticks, 0, _FOUR_FOUR, 1, key) for bar in range(bars)),
        chords=tuple(
            ChordSpan(_CHORDS[bar % len(_CHORDS)], bar * bar_ticks, (bar + 1) * bar_ticks) for bar in range(bars)
        ),
        sections=(Section("A", 0, bars * bar_ticks),),
    )
