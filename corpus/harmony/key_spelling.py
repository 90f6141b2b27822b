"""Notes spelled for the key at hand.

A note that lies in the scale takes the letter that the scale gives it; a chromatic one keeps its letter when that is
the raised or the lowered neighbour, else it is lowered (raised, for the fourth), as flats serve for blue notes and
``#4`` for what leads to the fifth (common practice, no source).
"""

from typing import Final

from corpus.harmony.modes import MODE_STEPS, is_minor_mode
from corpus.pitch import LETTER_SEMITONES, LOWEST_OCTAVE, Key, SpelledPitch

_CHROMATIC: Final = {1: (1, 0), 3: (2, 1), 6: (3, 4), 8: (5, 4), 10: (6, 5)}
"""Letters above the tonic for each chromatic semitone, the usual one first."""
_MINOR: Final = {1: (1, 0), 4: (2,), 6: (3, 4), 9: (5,), 11: (6,)}


def _letters(semitones: int, mode: str) -> tuple[int, ...]:
    steps = MODE_STEPS[mode]
    if semitones in steps:
        return (steps.index(semitones),)
    if is_minor_mode(mode) and semitones in _MINOR:
        return _MINOR[semitones]
    fitting = _CHROMATIC.get(semitones)
    if fitting is not None:
        return fitting
    return (LETTER_SEMITONES.index(semitones),)


def respelled(note: SpelledPitch, key: Key) -> SpelledPitch:
    """A note with octave, its letter checked against a key. The sound stays, and a name without an octave is none."""
    tonic = key.tonic_spelling
    letters = _letters((note.pitch_class - tonic.pitch_class) % 12, key.mode)
    above = (note.letter - tonic.letter) % 7
    if above in letters:
        return note
    letter = (tonic.letter + letters[0]) % 7
    pitch = note.pitch
    assert pitch is not None, "a note of a figure has an octave"
    alteration = (pitch - LETTER_SEMITONES[letter] + 6) % 12 - 6
    octave = (pitch - alteration) // 12 - 1
    if abs(alteration) > 2 or octave < LOWEST_OCTAVE:
        return note
    return SpelledPitch(letter, alteration, octave)
