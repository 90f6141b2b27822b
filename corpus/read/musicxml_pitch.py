"""From written to sounding pitch, spelled: what ``<transpose>`` asks for, kept readable by the key in force.

A transposition has steps (letter names) and semitones. On the line of fifths it moves a key signature by
``7 * semitones - 12 * steps``; where that would lead beyond seven sharps or flats, the enharmonic key is meant and
the notes are spelled in it.
"""

import re
from dataclasses import dataclass
from functools import lru_cache
from typing import Final
from xml.etree.ElementTree import Element

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
            usual = parse_spelling(default_spelling(60 + pitch % 12))
            return SpelledPitch(usual.letter, usual.alteration, pitch // 12 - 1)
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


@lru_cache(maxsize=4096)
def written_pitch(step: str, alter: str, octave: str) -> tuple[int, float, int]:
    """Letter, alteration in semitones and octave of a ``<pitch>`` by its texts. Raises ValueError for anything else."""
    step = step.upper()
    if len(step) != 1 or step not in LETTERS:
        raise ValueError(f"unknown note name {step[:20]!r}")
    if not re.fullmatch(r"-?[0-9]{1,5}", octave):
        raise ValueError(f"note {step} with octave {octave[:20]!r}")
    alteration = float(alter[:12] or 0)
    if not (-1 <= int(octave) <= 10 and abs(alteration) <= 4):
        raise ValueError(f"note {step} with octave {octave} and alteration {alteration:g}")
    return LETTERS.index(step), alteration, int(octave)


def nearest_semitone(alteration: float) -> int:
    """A microtonal alteration in whole semitones; a quarter tone goes to the side of the plain letter."""
    return int(abs(alteration) + 0.49) * (1 if alteration >= 0 else -1)


def checked(pitch: SpelledPitch) -> SpelledPitch:
    """The pitch when it can be stored. Raises ValueError outside MIDI 0 to 127 or the octaves -1 to 9."""
    number = pitch.pitch
    if number is None or not 0 <= number <= 127 or not -1 <= (pitch.octave or 0) <= 9:
        raise ValueError(f"note {pitch} lies outside what can be played")
    return pitch
