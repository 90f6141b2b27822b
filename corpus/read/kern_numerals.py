"""Roman numerals of a ``**harm`` spine as chord symbols in the key in force.

Source: Humdrum's ``**harm`` representation (reference manual, from memory). A token may begin with a duration and be
bracketed (implied). Upper case is major, lower case minor, ``o`` diminished, ``+`` augmented; a seventh is the one
that the key has, unless ``M``, ``m`` or ``D`` (diminished) stands before it; ``b``, ``c``, ``d`` at the end are the
inversions; ``-`` and ``#`` before the numeral alter its root; ``/`` leads to the degree that is tonicised. Minor keys
are harmonic: ``vii`` stands on the raised seventh, ``VII`` on the natural one. ``N`` is bII; the augmented sixths
``Lt``, ``Fr``, ``Gn`` are written as the dominant seventh on bVI that sounds.
"""

import re
from dataclasses import dataclass
from typing import Final

from corpus.pitch import LETTER_SEMITONES, Key, SpelledPitch

_TOKEN = re.compile(
    r"[\d%.]*\(?(?P<sign>[#-]?)(?P<roman>VII|VI|IV|V|III|II|I|vii|vi|iv|v|iii|ii|i)(?P<quality>[o+]?)"
    r"(?P<seventh>[MmD]?7)?(?P<more>(?:[MmDA]?(?:9|11|13|6|4|2))*)(?P<inversion>[bcd]?)"
    r"(?:/(?P<target>[#-]?[IViv]{1,3}[o+]?))?\)?[;:~]?.{0,20}"
)
_SPECIAL = re.compile(r"[\d%.]*\(?(?P<name>N|Lt|Fr|Gn)(?P<inversion>[bcd]?)\)?[;:~]?")
_ROMANS: Final = ("i", "ii", "iii", "iv", "v", "vi", "vii")
_SUFFIXES: Final = {
    ("major", None): "",
    ("minor", None): "m",
    ("dim", None): "dim",
    ("aug", None): "+",
    ("major", 11): "maj7",
    ("major", 10): "7",
    ("minor", 10): "m7",
    ("minor", 11): "m(maj7)",
    ("dim", 9): "dim7",
    ("dim", 10): "m7b5",
    ("dim", 11): "dim(maj7)",
    ("aug", 10): "+7",
    ("aug", 11): "+maj7",
    ("major", 9): "6",
    ("minor", 9): "m6",
    ("aug", 9): "+",
}
_SEVENTHS: Final = {"M": 11, "m": 10, "D": 9}
_THIRD_FIFTH: Final = {"major": (4, 7), "minor": (3, 7), "dim": (3, 6), "aug": (4, 8)}


@dataclass(frozen=True, slots=True)
class _Scale:
    """Seven degrees as semitones above a tonic that is spelled."""

    tonic: SpelledPitch
    degrees: tuple[int, ...]


def _scale_of(key: Key) -> _Scale:
    minor = key.mode in ("minor", "aeolian", "dorian", "phrygian", "locrian")
    return _Scale(key.tonic_spelling, (0, 2, 3, 5, 7, 8, 10) if minor else LETTER_SEMITONES)


def numeral_chord(text: str, key: Key | None) -> str | None:
    """The chord symbol of a ``**harm`` token in ``key``, or None without a key or for what is no numeral."""
    if key is None:
        return None
    special = _SPECIAL.fullmatch(text)
    if special is not None:
        return _special(special["name"], special["inversion"], key.tonic_spelling)
    match = _TOKEN.fullmatch(text)
    if match is None:
        return None
    scale = _scale_of(key)
    if match["target"]:
        target = re.fullmatch(r"([#-]?)([IViv]+)([o+]?)", match["target"])
        if target is None or target[2].lower() not in _ROMANS:
            return None
        tonic = _root(scale, target[1], target[2], target[3] == "o")
        scale = _scale_of(Key(str(tonic), "minor" if target[2].islower() else "major"))
    root = _root(scale, match["sign"], match["roman"], match["quality"] == "o")
    triad = {"o": "dim", "+": "aug"}.get(match["quality"], "minor" if match["roman"].islower() else "major")
    seventh = _seventh(scale, root, match["seventh"], triad)
    return f"{root}{_SUFFIXES[triad, seventh]}{_bass(root, triad, seventh or 10, match['inversion'])}"


def _special(name: str, inversion: str, tonic: SpelledPitch) -> str:
    """The Neapolitan, or an augmented sixth: counted from its #4 (the French one from its 2), heard on its b6."""
    if name == "N":
        root = _on_degree(tonic, 1, 1)
        return f"{root}{_bass(root, 'major', 10, inversion)}"
    root = _on_degree(tonic, 5, 8)
    fourth, second, third = _on_degree(tonic, 3, 6), _on_degree(tonic, 1, 2), _on_degree(tonic, 2, 3)
    if name == "Fr":
        return f"{root}7b5{ {'': f'/{second}', 'b': f'/{fourth}', 'c': '', 'd': f'/{tonic}'}[inversion] }"
    return f"{root}7{ {'': f'/{fourth}', 'b': '', 'c': f'/{tonic}', 'd': f'/{third}'}[inversion] }"


def _on_degree(tonic: SpelledPitch, step: int, semitones: int) -> SpelledPitch:
    letter = (tonic.letter + step) % 7
    alteration = (tonic.pitch_class + semitones - LETTER_SEMITONES[letter] + 6) % 12 - 6
    return SpelledPitch(letter, alteration, None)


def _root(scale: _Scale, sign: str, roman: str, is_diminished: bool) -> SpelledPitch:
    step = _ROMANS.index(roman.lower())
    semitones = scale.degrees[step]
    if step == 6 and not sign and (roman.islower() or is_diminished):
        semitones = 11  # the leading note of a minor key
    return _on_degree(scale.tonic, step, semitones + {"#": 1, "-": -1}.get(sign, 0))


def _seventh(scale: _Scale, root: SpelledPitch, said: str | None, triad: str) -> int | None:
    """Semitones of the seventh above the root, as said or as the key has it; None without one."""
    if said is None:
        return None
    if said[0] in _SEVENTHS:
        chosen = _SEVENTHS[said[0]]
    else:
        step = (root.letter + 6 - scale.tonic.letter) % 7
        chosen = (scale.tonic.pitch_class + scale.degrees[step] - root.pitch_class) % 12
    return chosen if (triad, chosen) in _SUFFIXES else 10


def _bass(root: SpelledPitch, triad: str, seventh: int, inversion: str) -> str:
    if not inversion:
        return ""
    third, fifth = _THIRD_FIFTH[triad]
    step, semitones = {"b": (2, third), "c": (4, fifth), "d": (6, seventh)}[inversion]
    return f"/{_on_degree(root, step, semitones)}"
