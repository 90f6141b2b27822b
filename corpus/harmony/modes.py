"""Church modes: their scales, the signatures they share with a major key, and their chords.

A key that is declared in a church mode (a vamp on one chord, or I and bVII) is read with the chords of its own scale:
I7 of a mixolydian tune is its tonic, not the V of another key (common practice, no source).
"""

from functools import cache
from typing import Final

from corpus.harmony.numerals import Numeral, parse_numeral
from corpus.pitch import Key

MODE_STEPS: Final = {
    "major": (0, 2, 4, 5, 7, 9, 11),
    "ionian": (0, 2, 4, 5, 7, 9, 11),
    "minor": (0, 2, 3, 5, 7, 8, 10),
    "aeolian": (0, 2, 3, 5, 7, 8, 10),
    "dorian": (0, 2, 3, 5, 7, 9, 10),
    "phrygian": (0, 1, 3, 5, 7, 8, 10),
    "lydian": (0, 2, 4, 6, 7, 9, 11),
    "mixolydian": (0, 2, 4, 5, 7, 9, 10),
    "locrian": (0, 1, 3, 5, 6, 8, 10),
}
"""Semitones of each mode's scale above its tonic."""

CHURCH_MODES: Final = frozenset(MODE_STEPS) - {"major", "ionian", "minor", "aeolian"}
_MINOR_MODES: Final = frozenset({"minor", "dorian", "phrygian", "aeolian", "locrian"})
_ROMANS: Final = ("I", "II", "III", "IV", "V", "VI", "VII")
_CHORDS: Final = {
    # Third, fifth and seventh above a degree: kinds of chord (``hearing.Heard``) and their suffixes.
    (4, 7, 11): {"T": "", "M": "maj7"},
    (4, 7, 10): {"T": "", "D": "7"},
    (3, 7, 10): {"m": ""},
    (3, 6, 10): {"h": "7b5", "d": "o"},
}
TONIC_COST: Final = 0.0
DEGREE_COST: Final = 0.3
"""What the tonic chord and the other chords of a mode cost, on the scale of ``function_costs``."""


def is_minor_mode(mode: str) -> bool:
    """Whether a mode's tonic chord is minor."""
    return mode in _MINOR_MODES


def signature_of(key: Key) -> int:
    """The signature that a key is written with, as its place on the circle of fifths: C major 0, G 1, F 11."""
    steps = MODE_STEPS.get(key.mode, MODE_STEPS["major"])
    major = MODE_STEPS["major"]
    offset = next(p for p in range(12) if {(p + step) % 12 for step in major} == set(steps))
    return 7 * (key.tonic_pitch_class + offset) % 12


@cache
def chords_of_mode(mode: str) -> dict[tuple[int, str], tuple[Numeral, float]]:
    """The chords of a church mode by semitones above the tonic and kind: numeral and cost. Empty for other modes."""
    if mode not in CHURCH_MODES:
        return {}
    steps, major = MODE_STEPS[mode], MODE_STEPS["major"]
    found: dict[tuple[int, str], tuple[Numeral, float]] = {}
    for place, step in enumerate(steps):
        third, fifth, seventh = ((steps[(place + above) % 7] - step) % 12 for above in (2, 4, 6))
        sign = {-1: "b", 0: "", 1: "#"}[step - major[place]]
        roman = _ROMANS[place] if third == 4 else _ROMANS[place].lower()
        for kind, suffix in _CHORDS[third, fifth, seventh].items():
            if suffix == "maj7" and place != 4:
                suffix = ""  # only a V shows it
            numeral = parse_numeral(f"{sign}{roman}{suffix}")
            found[step, kind] = (numeral, DEGREE_COST if place else TONIC_COST)
    return found
