"""One ``**kern`` token: how long it lasts, what sounds, and what else it says.

Source: the ``**kern`` representation (Humdrum reference, from memory). A duration is a number of which the whole note
holds so many (``4`` quarter, ``12`` triplet eighth, ``0`` breve, ``00`` long, ``3%2`` two thirds of a whole note),
with dots. A pitch is a letter: ``c`` is C4, ``cc`` C5, ``C`` C3, ``CC`` C2; ``#``, ``-`` and ``n`` follow. ``r`` is a
rest, ``R`` rhythm without pitch, ``[ _ ]`` a tie, ``q`` a grace note, ``yy`` hides what it stands on.
"""

import re
from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache
from typing import Final

from corpus.pitch import LETTERS, SpelledPitch
from corpus.read.musicxml_pitch import checked

_DURATION = re.compile(r"(\d{1,5})(?:%(\d{1,5}))?(\.{0,8})")
_PITCH = re.compile(r"([a-g])\1{0,6}|([A-G])\2{0,6}")
_LONGER_THAN_WHOLE: Final = {"0": Fraction(8), "00": Fraction(16), "000": Fraction(32)}


@dataclass(frozen=True, slots=True)
class KernNote:
    """A note of a token: sounding spelling, None for rhythm without pitch."""

    pitch: SpelledPitch | None
    is_tied: bool
    is_grace: bool


@dataclass(frozen=True, slots=True)
class KernToken:
    """A token: its length in quarter notes (None: a grace note or nothing that takes time) and its notes."""

    quarters: Fraction | None
    notes: tuple[KernNote, ...]
    is_hidden: bool


@lru_cache(maxsize=8192)
def duration_of(text: str) -> Fraction | None:
    """The length in quarter notes that a token names, or None. Raises ValueError for one that makes no sense."""
    match = _DURATION.search(text)
    if match is None:
        return None
    digits, parts, dots = match.groups()
    if digits in _LONGER_THAN_WHOLE:
        quarters = _LONGER_THAN_WHOLE[digits]
    elif int(digits) == 0:
        raise ValueError(f"a duration of {digits!r}")
    else:
        quarters = Fraction(4 * int(parts or 1), int(digits))
    if quarters == 0:
        raise ValueError(f"a duration of {match[0]!r}")
    return quarters * (2 - Fraction(1, 2 ** len(dots)))


@lru_cache(maxsize=8192)
def read_token(text: str) -> KernToken:
    """Read a token of a ``**kern`` spine; of a chord, every note.

    Raises ValueError for a duration of nothing, a pitch that cannot be played or more than two accidentals.
    """
    parts = text.split()
    is_grace = any("q" in part.lower() for part in parts)
    quarters = None if is_grace else next((found for part in parts if (found := duration_of(part))), None)
    is_hidden = bool(parts) and all("yy" in part for part in parts)
    notes = tuple(note for part in parts if (note := _note(part, is_grace)) is not None)
    return KernToken(quarters, notes, is_hidden)


def _note(text: str, is_grace: bool) -> KernNote | None:
    if "r" in text:
        return None
    is_tied = "[" in text or "_" in text
    if "R" in text:
        return KernNote(None, False, is_grace)
    match = _PITCH.search(text)
    if match is None:
        return None
    name = match[0]
    octave = 3 + len(name) if name.islower() else 4 - len(name)
    signs = re.match(r"#+|-+|n", text[match.end() :])
    accidentals = signs[0] if signs else ""
    alteration = accidentals.count("#") - accidentals.count("-")
    if abs(alteration) > 2:
        raise ValueError(f"a note with {abs(alteration)} accidentals ({text[:20]!r})")
    pitch = SpelledPitch(LETTERS.index(name[0].upper()), alteration, octave)
    return KernNote(checked(pitch), is_tied, is_grace)
