"""Pitches of MusicXML: what ``<pitch>`` names, what ``<transpose>`` asks for, and what can be stored of it."""

import re
from functools import lru_cache
from typing import Final
from xml.etree.ElementTree import Element

from corpus.pitch import HIGHEST_OCTAVE, LETTERS, LOWEST_OCTAVE, SpelledPitch
from corpus.transposition import Transposition

_STEPS_OF_SEMITONES: Final = (0, 1, 1, 2, 2, 3, 4, 4, 5, 5, 6, 6)
"""Letter names of a distance where only semitones are given: the diatonic intervals, and the diminished fifth."""


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
    if number is None or not 0 <= number <= 127 or not LOWEST_OCTAVE <= (pitch.octave or 0) <= HIGHEST_OCTAVE:
        raise ValueError(f"note {pitch} lies outside what can be played")
    return pitch
