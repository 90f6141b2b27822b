"""Notes spelled for the key at hand.

A figure is moved by an interval from tonic to tonic (or root to root), letter names and semitones both, so that every
note keeps its degree: a lowered third stays a third with a flat more than the key gives it, never a raised second. What
an interval would spell with three accidentals is respelled (no page has them).

Before that each note is read in the figure's own key: one that lies in the scale takes the letter that the scale gives
it; a chromatic one keeps its letter when that is the raised or the lowered neighbour, else it is lowered (raised, for
the fourth), as flats serve for blue notes and ``#4`` for what leads to the fifth (common practice, no source).
"""

from typing import Final

from corpus.harmony.modes import MODE_STEPS, is_minor_mode
from corpus.pitch import LETTER_SEMITONES, LOWEST_OCTAVE, Key, SpelledPitch
from corpus.read.musicxml_pitch import Transposition

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


def interval_between(one: SpelledPitch, other: SpelledPitch) -> Transposition:
    """The interval up from one name to another, less than an octave; octaves of the names do not count."""
    steps = (other.letter - one.letter) % 7
    semitones = other.pitch_class - one.pitch_class
    # Cb lies above Bb by a second, B below C: the letters say in which octave the semitones count.
    natural = (LETTER_SEMITONES[other.letter] - LETTER_SEMITONES[one.letter]) % 12
    return Transposition(steps, (semitones - natural + 6) % 12 - 6 + natural)


def moved(note: SpelledPitch, interval: Transposition, octaves: int = 0) -> SpelledPitch:
    """A note with octave moved by an interval and so many octaves."""
    assert note.octave is not None, "a note of a figure has an octave"
    return interval.sounding(note.letter, note.alteration, note.octave + octaves)
