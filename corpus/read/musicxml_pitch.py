"""From written to sounding pitch, spelled: what ``<transpose>`` asks for, kept readable by the key in force.

A transposition has steps (letter names) and semitones. On the line of fifths it moves a key signature by
``7 * semitones - 12 * steps``; where that would lead beyond seven sharps or flats, the enharmonic key is meant and
the notes are spelled in it.
"""

from dataclasses import dataclass
from typing import Final
from xml.etree.ElementTree import Element

from corpus.errors import QueryError
from corpus.pitch import LETTER_SEMITONES, LETTERS, SpelledPitch, default_spelling, parse_spelling

_STEPS_OF_SEMITONES: Final = (0, 1, 1, 2, 2, 3, 4, 4, 5, 5, 6, 6)
"""Letter names of a distance where only semitones are given: the diatonic intervals, and the diminished fifth."""


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
            return parse_spelling(default_spelling(pitch))
        return SpelledPitch(new_letter, new_alteration, new_octave)

    def sounding_name(self, letter: str, alteration: int) -> tuple[str, int]:
        """The same for a name without octave, such as the root of a chord: letter and alteration."""
        pitch = self.sounding(LETTERS.index(letter), alteration, 4)
        return LETTERS[pitch.letter], pitch.alteration


def transposition_of(element: Element) -> Transposition:
    """Read a ``<transpose>``. Raises ValueError when a number in it is none or lies beyond five octaves."""
    semitones = _integer(element, "chromatic") or 0
    steps = _integer(element, "diatonic")
    octaves = _integer(element, "octave-change") or 0
    if steps is None or (steps == 0 and abs(semitones) > 2):
        whole, rest = divmod(abs(semitones), 12)
        steps = (7 * whole + _STEPS_OF_SEMITONES[rest]) * (1 if semitones >= 0 else -1)
    if abs(semitones + 12 * octaves) > 60 or abs(steps + 7 * octaves) > 40:
        raise ValueError(f"a transposition by {semitones + 12 * octaves} semitones")
    return Transposition(steps + 7 * octaves, semitones + 12 * octaves)


def _integer(element: Element, tag: str) -> int | None:
    text = (element.findtext(tag) or "").strip()
    return round(float(text[:12])) if text else None


def written_pitch(element: Element) -> tuple[int, float, int]:
    """Letter, alteration in semitones and octave of a ``<pitch>``. Raises ValueError for anything else."""
    step = (element.findtext("step") or "").strip().upper()
    if len(step) != 1 or step not in LETTERS:
        raise ValueError(f"unknown note name {step[:20]!r}")
    octave = int((element.findtext("octave") or "").strip()[:6])
    alteration = float((element.findtext("alter") or "").strip()[:12] or 0)
    if not (-1 <= octave <= 10 and abs(alteration) <= 4):
        raise ValueError(f"note {step} with octave {octave} and alteration {alteration:g}")
    return LETTERS.index(step), alteration, octave


def nearest_semitone(alteration: float) -> int:
    """A microtonal alteration in whole semitones; a quarter tone goes to the side of the plain letter."""
    return int(abs(alteration) + 0.49) * (1 if alteration >= 0 else -1)


def checked(pitch: SpelledPitch) -> SpelledPitch:
    """The pitch when it can be stored. Raises ValueError outside MIDI 0 to 127 or the octaves -1 to 9."""
    number = pitch.pitch
    try:
        parse_spelling(str(pitch))
    except QueryError as error:
        raise ValueError(str(error)) from error
    if number is None or not 0 <= number <= 127:
        raise ValueError(f"note {pitch} lies outside what can be played")
    return pitch
