"""Names of notes, intervals and keys.

Pitch is the sounding MIDI number (60 = C4, middle C). A spelling is a letter, its accidentals as ``b`` or ``#`` and
the octave of scientific pitch notation (``Bb2``). The staff position of a spelling counts letter names: C0 is 0, D0
is 1, C1 is 7; differences of staff positions are the steps of the step reading.
"""

import re
from dataclasses import dataclass
from functools import lru_cache
from typing import Final

from corpus.errors import QueryError

LETTERS: Final = "CDEFGAB"
LETTER_SEMITONES: Final = (0, 2, 4, 5, 7, 9, 11)
LOWEST_OCTAVE: Final = -1
HIGHEST_OCTAVE: Final = 9
"""The octaves of MIDI's numbers; the lowest C has no name as B sharp."""
"""Semitones of the natural letters above C, in the order of ``LETTERS``: the major scale of C."""

_SPELLING = re.compile(r"([A-Ga-g])([#b♯♭♮𝄪𝄫x]*)(-?[0-9]{1,4})?")
_ACCIDENTAL_SEMITONES: Final = {"#": 1, "♯": 1, "b": -1, "♭": -1, "♮": 0, "𝄪": 2, "𝄫": -2, "x": 2}

_DEFAULT_SPELLINGS: Final = ("C", "C#", "D", "Eb", "E", "F", "F#", "G", "Ab", "A", "Bb", "B")


@dataclass(frozen=True, slots=True)
class SpelledPitch:
    """A note name taken apart.

    ``letter`` is an index into ``LETTERS``, ``alteration`` is in semitones (-1 = flat), ``octave`` is None for a name
    without one.
    """

    letter: int
    alteration: int
    octave: int | None

    @property
    def pitch_class(self) -> int:
        """Semitones above C, 0 to 11."""
        return (LETTER_SEMITONES[self.letter] + self.alteration) % 12

    @property
    def pitch(self) -> int | None:
        """The MIDI number, or None without an octave. Cb4 is 59 and B#3 is 60: the octave belongs to the letter."""
        if self.octave is None:
            return None
        return 12 * (self.octave + 1) + LETTER_SEMITONES[self.letter] + self.alteration

    @property
    def staff_position(self) -> int:
        """Letter names above C0; without an octave, above C."""
        return 7 * (self.octave or 0) + self.letter

    def __str__(self) -> str:
        accidentals = "#" * self.alteration if self.alteration > 0 else "b" * -self.alteration
        return f"{LETTERS[self.letter]}{accidentals}{'' if self.octave is None else self.octave}"


@lru_cache(maxsize=4096)
def parse_spelling(text: str) -> SpelledPitch:
    """Read a note name such as ``Bb2``, ``f#``, ``E♭3``.

    Raises QueryError for anything else, and for more than two accidentals or an octave outside -1 to 9.
    """
    match = _SPELLING.fullmatch(text.strip())
    if match is None:
        raise QueryError(f"unknown note name {text!r}: write a letter A to G, b or # if altered, and an octave (Bb2)")
    letter, accidentals, octave = match.groups()
    alteration = sum(_ACCIDENTAL_SEMITONES[sign] for sign in accidentals)
    if abs(alteration) > 2:
        raise QueryError(f"note name {text!r} is altered by more than two semitones")
    if octave is not None and not LOWEST_OCTAVE <= int(octave) <= HIGHEST_OCTAVE:
        raise QueryError(f"octave {octave} of note {text!r} lies outside {LOWEST_OCTAVE} to {HIGHEST_OCTAVE}")
    return SpelledPitch(LETTERS.index(letter.upper()), alteration, None if octave is None else int(octave))


def default_spelling(pitch: int) -> str:
    """The usual spelling of a MIDI number when nothing says otherwise (C# Eb F# Ab Bb)."""
    return f"{_DEFAULT_SPELLINGS[pitch % 12]}{pitch // 12 - 1}"


_INTERVAL_NAMES: Final = (
    "unison",
    "minor second",
    "major second",
    "minor third",
    "major third",
    "perfect fourth",
    "tritone",
    "perfect fifth",
    "minor sixth",
    "major sixth",
    "minor seventh",
    "major seventh",
)
_OCTAVE_WORDS: Final = ("", "an octave", "two octaves", "three octaves", "four octaves")


def interval_name(semitones: int) -> str:
    """The name of a distance without its direction: ``minor third``, ``an octave and a perfect fifth``."""
    octaves, rest = divmod(abs(semitones), 12)
    if octaves == 0:
        return _INTERVAL_NAMES[rest]
    octave_words = _OCTAVE_WORDS[octaves] if octaves < len(_OCTAVE_WORDS) else f"{octaves} octaves"
    return octave_words if rest == 0 else f"{octave_words} and a {_INTERVAL_NAMES[rest]}"


def transposition_name(semitones: int) -> str:
    """How far a figure is transposed, in words: ``at pitch``, ``up a minor third``, ``down an octave``."""
    if semitones == 0:
        return "at pitch"
    name = interval_name(semitones)
    if abs(semitones) < 12:
        name = f"a {name}"
    return f"{'up' if semitones > 0 else 'down'} {name}"


_MODES: Final = ("major", "minor", "dorian", "phrygian", "lydian", "mixolydian", "locrian", "aeolian", "ionian")
_MODE_FIFTHS: Final = {
    "major": 0,
    "ionian": 0,
    "mixolydian": 1,
    "dorian": 2,
    "minor": 3,
    "aeolian": 3,
    "phrygian": 4,
    "locrian": 5,
    "lydian": -1,
}
"""Fifths that a mode's signature lies on the flat side of the major key on the same tonic."""


@dataclass(frozen=True, slots=True)
class Key:
    """A key: the tonic's name without octave (``Bb``) and a mode (``major``, ``minor``, ``dorian`` …)."""

    tonic: str
    mode: str = "major"

    @property
    def tonic_spelling(self) -> SpelledPitch:
        """The tonic taken apart."""
        return parse_spelling(self.tonic)

    @property
    def tonic_pitch_class(self) -> int:
        """Semitones of the tonic above C."""
        return self.tonic_spelling.pitch_class

    def __str__(self) -> str:
        return f"{self.tonic} {self.mode}"


def parse_key(text: str) -> Key:
    """Read a key such as ``Bb``, ``Bb major``, ``Cm``, ``c minor``, ``D dorian``.

    Raises QueryError when the tonic or the mode is unknown.
    """
    match = re.fullmatch(r"\s*([A-Ga-g][#b♯♭]?)\s*-?\s*([A-Za-z]*)\s*", text)
    if match is None:
        raise QueryError(f"unknown key {text!r}: write a tonic and a mode, as in 'Bb major' or 'C minor'")
    spelled = parse_spelling(match[1])
    word = match[2]
    if word in ("", "M") or word.lower().startswith("maj"):
        mode = "major"
    elif word == "m" or word.lower().startswith("min"):
        mode = "minor"
    else:
        modes = [mode for mode in _MODES if len(word) >= 3 and mode.startswith(word.lower())]
        if len(modes) != 1:
            raise QueryError(f"unknown mode {word!r} in key {text!r}: one of {', '.join(_MODES)}")
        mode = modes[0]
    if match[1][0].islower() and not word:
        mode = "minor"
    return Key(str(spelled), mode)


def key_from_fifths(fifths: int, mode: str = "major") -> Key | None:
    """The key of a signature with ``fifths`` sharps (negative: flats), or None beyond seven or for an unknown mode."""
    if abs(fifths) > 7 or mode not in _MODE_FIFTHS:
        return None
    steps = fifths + _MODE_FIFTHS[mode]
    letter = (4 * steps) % 7
    alteration = (steps + 1) // 7
    return Key(str(SpelledPitch(letter, alteration, None)), mode)


def fifths_of(key: Key) -> int:
    """Sharps of a key's signature (negative: flats); beyond seven for keys that no signature writes (G# major: 8)."""
    tonic = key.tonic_spelling
    natural = (2 * tonic.letter + 1) % 7 - 1  # F is -1, C 0, G 1 ... B 5
    return natural + 7 * tonic.alteration - _MODE_FIFTHS[key.mode]


def degree_name(spelling: str, key: Key) -> str:
    """The scale degree of a spelled note in a key, counted on the tonic's major scale: ``1``, ``b3``, ``#4``.

    The letter decides the number, the semitones decide the accidental, as musicians name degrees; only the tonic is
    never lowered: a half-step below it is ``7``, whatever its letter.
    """
    note = parse_spelling(spelling)
    tonic = key.tonic_spelling
    number = (note.letter - tonic.letter) % 7
    semitones = (note.pitch_class - tonic.pitch_class - LETTER_SEMITONES[number] + 6) % 12 - 6
    if number == 0 and semitones < 0:
        return "7" if semitones == -1 else "b7"
    return f"{'#' * semitones if semitones > 0 else 'b' * -semitones}{number + 1}"
