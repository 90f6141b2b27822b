"""Moving spelled notes by so many letter names and so many semitones.

Moved by the interval from tonic to tonic (or root to root) every note keeps its degree: a lowered third stays a third
with a flat more than the key gives it, never a raised second. What an interval would spell with three accidentals is
respelled (no page has them).

A transposition has steps (letter names) and semitones. On the line of fifths it moves a key signature by
``7 * semitones - 12 * steps``; where that would lead beyond seven sharps or flats, the enharmonic key is meant and
the notes are spelled in it.
"""

from dataclasses import dataclass

from corpus.pitch import LETTER_SEMITONES, LETTERS, SpelledPitch, default_spelling, parse_spelling


@dataclass(frozen=True, slots=True)
class Transposition:
    """How far notes sound from where they are written: letter names and semitones, octaves included."""

    steps: int = 0
    semitones: int = 0

    @property
    def fifths(self) -> int:
        """Sharps that the sounding key signature has more than the written one."""
        return 7 * self.semitones - 12 * self.steps

    def spelled_for(self, written_fifths: int | None) -> "Transposition":
        """The same distance with the letter names that the sounding key is read in."""
        if written_fifths is None or abs(written_fifths) > 7:
            return self
        sounding = written_fifths + self.fifths
        if sounding > 7:
            return Transposition(self.steps + 1, self.semitones)
        if sounding < -7:
            return Transposition(self.steps - 1, self.semitones)
        return self

    def sounding(self, letter: int, alteration: int, octave: int) -> SpelledPitch:
        """The sounding pitch of a written one; more than two accidentals are respelled."""
        position = 7 * octave + letter + self.steps
        pitch = 12 * (octave + 1) + LETTER_SEMITONES[letter] + alteration + self.semitones
        new_octave, new_letter = divmod(position, 7)
        new_alteration = pitch - 12 * (new_octave + 1) - LETTER_SEMITONES[new_letter]
        if abs(new_alteration) > 2:
            usual = parse_spelling(default_spelling(60 + pitch % 12))
            return SpelledPitch(usual.letter, usual.alteration, pitch // 12 - 1)
        return SpelledPitch(new_letter, new_alteration, new_octave)

    def sounding_name(self, letter: str, alteration: int) -> tuple[str, int]:
        """The same for a name without octave, such as the root of a chord: letter and alteration."""
        pitch = self.sounding(LETTERS.index(letter), alteration, 4)
        return LETTERS[pitch.letter], pitch.alteration


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
